package web

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
	"pgregory.net/rapid"

	"wearround/web/form"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// fullAudit has something in every table; its sums are right. Each count of
// wears is five or more, but for those that are nought and one that is small.
func fullAudit(s string) wear.Audit {
	wait := wear.AuditWait{Code: wear.WaitToClaim, N: 50, Of: 60, MedianS: 40, NinetyS: 26 * 3600, LongestS: 60 * 86400}
	counts := func(n ...int) []wear.AuditCount {
		codes := []string{"told_well", "tests_ordered", "could_not_reach", "new" + s}
		var out []wear.AuditCount
		for i, v := range n {
			out = append(out, wear.AuditCount{Code: codes[i], N: v})
		}
		return out
	}
	return wear.Audit{
		From: clock(1, 0, 0), To: clock(18, 0, 0), At: clock(18, 10, 42),
		Worth: fullWorth(s),
		Files: wear.AuditFiles{Received: 130, Filed: 110, Held: 10, Refused: 10, Wait: wear.AuditWait{Code: wear.WaitHeld, N: 7, Of: 17, MedianS: 7200, NinetyS: 9000, LongestS: 86400 * 9}},
		Tiers: []wear.AuditTier{
			{Tier: wear.Today, Read: 10, InTime: 10}, {Tier: wear.ThisWeek, Read: 20, InTime: 9, Late: 6, NotDue: 5, OldestDays: 12},
			{Tier: wear.ThisMonth, Read: 30, InTime: 20, Overdue: 10, Again: 6, OldestDays: 31}, {Tier: wear.CannotTell}, {Tier: wear.Routine, Read: 63, InTime: 50, Late: 6, NotDue: 7, OldestDays: 1},
		},
		Months:    []wear.AuditMonth{{Month: "2026-02", Read: 60, FollowUp: 20, FollowUpDone: 20, Done: 40}, {Month: "2026-03" + s, Read: 63, FollowUp: 40, FollowUpDone: 25, Done: 61}},
		Flags:     []wear.AuditFlag{{Code: wear.FlagAbove7_8, Wears: 40, Open: 10, Outcomes: counts(6, 8, 7, 9)}, {Code: "new" + s, Wears: 3, Open: 3, Outcomes: counts()}},
		Unflagged: wear.AuditFlag{Wears: 80, Open: 12, Outcomes: counts(60, 8)},
		Outcomes:  counts(60, 20, 10, 11),
		Waits:     []wear.AuditWait{wait, {Code: wear.WaitToOutcome, Tier: wear.Today, Of: 10}, {Code: "new" + s, N: 3, Of: 5, MedianS: 5}},
		Tests:     wear.AuditTests{Ordered: 67, Confirmed: 5, InRange: 6, Pregnancy: 7, Intermediate: 8, LookAgain: 9, Below: 10, NotCompared: 5, Waiting: 5, Overdue: 6, GivenUp: 6},
		Routine:   wear.AuditTests{Ordered: 12, Below: 12},
		Kinds:     []wear.AuditKind{{Kind: "", Wears: 20}, {Kind: "=A" + s, Wears: 103, SensorDoubt: 10, TooLittle: 6, Replaced: 5, Readings: 400_000, Doubted: 8_000}},
		Again: wear.AuditAgain{Wears: 20, Less: 7, Same: 5, More: 0, Unclear: 8, Other: 6, Pairs: []wear.AuditPair{
			{Before: wear.Today, After: wear.Routine, N: 7}, {Before: wear.Today, After: wear.CannotTell, N: 8}, {Before: wear.Routine, After: wear.Routine, N: 5},
		}},
		Recalls: []wear.AuditRecall{{Kind: "result", Due: 40, InTime: 20, Late: 5, Cancelled: 5, Missed: 10, Untried: 6}, {Kind: "new" + s, Due: 5, InTime: 5}},
		Letters: []wear.AuditLetters{{Kind: string(letter.Tests), Written: 30, Sent: 15, Discarded: 7, Unsent: 8}, {Kind: "new" + s, Written: 5, Sent: 5}},
		Changes: wear.AuditChanges{Outcomes: 100, Standing: 80, Corrected: 12, Undone: 8},
	}
}

func fullWorth(s string) wear.Worth {
	return wear.Worth{
		Chain: []wear.AuditStep{
			{Code: wear.StepHandedOut, Of: 20, On: 12, Lost: 3, Unknown: 5}, {Code: wear.StepRead, Of: 123, On: 12, Ended: 90, Lost: 6, Unknown: 15},
			{Code: wear.StepTested, Of: 12, On: 5, Ended: 5, Lost: 1, Unknown: 1}, {Code: "new" + s, Of: 5, On: 5},
		},
		Yield:  []wear.AuditYield{{Code: wear.FlagAbove7_8, Wears: 40, Confirmed: 4, NotConfirmed: 5, InRange: 2, Unknown: 31}, {Code: "new" + s, Wears: 3, Unknown: 3}},
		After:  []wear.AuditYield{{Code: "urgent_contact", Wears: 9, Confirmed: 4, NotConfirmed: 1, Unknown: 4}, {Code: "new" + s, Wears: 3, Unknown: 3}},
		Missed: wear.AuditYield{Wears: 80, Confirmed: 1, InRange: 2, NotConfirmed: 8, Unknown: 71},
		Groups: []wear.AuditGroup{{By: wear.GroupDay, FollowUp: 4, AuditYield: wear.AuditYield{Code: "3", Wears: 9, Unknown: 9}}, {By: "new" + s, AuditYield: wear.AuditYield{Code: s, Wears: 3, Unknown: 3}}},
		Work:   []wear.AuditWork{{Tier: wear.Today, Outcomes: 9, Claimed: 7, Minutes: 90, MedianS: 700, Attempts: 5, Reached: 3}, {Tier: wear.Routine}},
		Shifts: []wear.AuditShift{{Code: "mean", Least: 0.7, Of: 9, Fall: 4, Within: 3, Rise: 1, Unknown: 1}, {Code: "new" + s, Of: 1, Within: 1}},
	}
}

func auditPages(s string) map[string]Page {
	l := fullLayout(s)
	f := AuditFilter{"2026-03-01", "2026-03-17"}
	return map[string]Page{
		"audit":       AuditPage{Layout: l, Filter: f, Problem: "the last day lies before the first" + s, Found: fullAudit(s), Before: fullAudit(s)},
		"audit as of": AuditPage{Layout: l, Filter: f, AsOf: "2026-03-17", Found: fullAudit(s), KeptAudits: []KeptAudit{{ID: 4, From: clock(1, 0, 0), To: clock(18, 0, 0), AsOf: clock(18, 0, 0), By: "Sel" + s, At: clock(19, 9, 0)}}},
		"audit kept": AuditPage{Layout: l, Filter: f, AsOf: "2026-03-17", Found: fullAudit(s), Kept: &KeptAudit{ID: 4, Engine: "1", Protocol: "2026.1" + s, Change: "ring sooner" + s, By: "Sel" + s, At: clock(19, 9, 0)},
			Differences: []AuditDifference{{"tiers today: in_time" + s, "3", "4"}, {"files: held", "", "1"}}},
		"audit first":  AuditPage{Layout: l, Filter: f, Found: fullAudit(s)},
		"audit empty":  AuditPage{Layout: l, Filter: f, Found: wear.Audit{From: clock(1, 0, 0), To: clock(2, 0, 0)}},
		"audit little": AuditPage{Layout: l, Found: wear.Audit{Recalls: []wear.AuditRecall{{}}, Letters: []wear.AuditLetters{{}}, Tiers: []wear.AuditTier{{}}}},
	}
}

func TestAuditPagesAreSound(t *testing.T) {
	for _, s := range []string{"", hostile} {
		pages := auditPages(s)
		pages["audit zero"] = AuditPage{}
		for name, page := range pages {
			var b bytes.Buffer
			if err := Render(&b, page); err != nil {
				t.Fatal(name, err)
			}
			for _, bad := range []string{"NaN", "%!", "<nil>", "ZgotmplZ"} {
				if strings.Contains(b.String(), bad) {
					t.Errorf("%s: %q on the page", name, bad)
				}
			}
			check(t, b.String(), true)
			checkForms(t, b.String())
		}
	}
}

func TestAuditWords(t *testing.T) {
	pages := auditPages("")
	page := pages["audit"].(AuditPage)
	with := func(edit func(*wear.Audit)) AuditPage {
		p := pages["audit"].(AuditPage)
		p.Found = fullAudit("")
		edit(&p.Found)
		return p
	}
	auditor := page
	auditor.User.Roles = []string{form.RoleAuditor}
	for _, c := range []struct {
		name      string
		page      AuditPage
		want, not []string
	}{
		{"full", page, []string{
			"Audit 1 – 17 Mar 2026",
			"Of 123 wears read, 60 needed follow-up; 45 of those have an outcome and 15 are still on the round, the longest for 31 days. Of 63 routine wears, 56 have an outcome.",
			"Tests were ordered after 67 of the wears that needed follow-up; results are back for 50, and 11 of these lay in the diabetes range, 5 confirmed by a sample of another day.",
			"What came of 22 of 123 wears: they have no outcome",
			"What the tests found after 17 of 79 orders: no result is on record.",
			"Whether the patient ever heard, in 10 of 101 wears with an outcome: nobody could reach them.",
			"for 10 of 45 recalls: they are past due and open.",
			"What lies in 20 of 130 files",
			"for 8 of 20 second wears: one of the two could not tell.",
			"What was missed: tests were ordered after 12 of 63 routine wears.",
			// 39 of 55: 60 less 5 whose day has not come.
			"Followed up in time 90 % 39 of 55 71 % (58 to 81)",
			"Second measurement: 1 – 17 Mar 2026",
			"Wears followed up 12 5 a result is on record",
			"Above 7.8 on most days 40 4 of 9",
			"No flag, and later in the diabetes range: 3 of 9",
			"Read on a: Wednesday",
			"Sensor in doubt – 10 of 123 8 % (4 to 14)",
			"told all is well 6 , tests ordered 8",
			"50 of 60 at once 26 h 60 days",
			"=A 103 10 of 103 6 of 103 5 of 103 2.0 % of 400 000",
			"not recorded 20 0 of 20 0 of 20 0 of 20 not known",
			"17 were held for an answer at some time; 7 of those were answered, half of them within 2 h, nine in ten within 2 h 30, the last after 9 days.",
			"under 10",
		}, []string{"none to count", "This should not be possible"}},
		{"first year", pages["audit first"].(AuditPage), []string{"First measurement: 1 – 17 Mar 2026", "Wears read – 123 Needed"}, []string{"Second measurement", "none to count"}},
		{"empty", pages["audit empty"].(AuditPage), []string{"Nothing came in this period"}, []string{"What nobody knows", "Download"}},
		{"all open", with(func(a *wear.Audit) {
			a.Tiers = []wear.AuditTier{{Tier: wear.ThisWeek, Read: 1, NotDue: 1, OldestDays: 1}}
			a.Tests = wear.AuditTests{Ordered: 1, Waiting: 1}
		}), []string{"Of 1 wear read, 1 needed follow-up; none of those has an outcome yet, and the longest has waited for 1 day.", "; no result is back."}, []string{"routine wear,"}},
		{"all done", with(func(a *wear.Audit) { a.Tiers = []wear.AuditTier{{Tier: wear.ThisWeek, Read: 2, Late: 2}} }), []string{"2 needed follow-up; each of those has an outcome."}, nil},
		{"nothing told at first", with(func(a *wear.Audit) {
			a.Tiers = []wear.AuditTier{{Tier: wear.ThisWeek, Read: 2, Late: 2}, {Tier: wear.CannotTell, Read: 3, Late: 3}}
		}), []string{"Of 5 wears read, 5 needed follow-up: 2 for what was found and 3 because nothing could be told at first (words that nobody had read, nothing asked, or a sensor in doubt); each of those has an outcome."}, nil},
		{"none flagged", with(func(a *wear.Audit) { a.Tiers = []wear.AuditTier{{Tier: wear.Routine, Read: 2, InTime: 1, NotDue: 1}} }), []string{"2 wears read, and none needed follow-up. Of 2 routine wears, 1 has an outcome."}, nil},
		{"lost", with(func(a *wear.Audit) { a.Tiers[0].Lost = 2 }), []string{"Off the round without an outcome: 2. This should not be possible"}, nil},
	} {
		text := shown(t, c.page)
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q:\n%s", c.name, want, text)
			}
		}
		for _, not := range c.not {
			if strings.Contains(text, not) {
				t.Errorf("%s says %q", c.name, not)
			}
		}
	}
	for _, c := range []struct {
		who  string
		page AuditPage
		want []string
		not  []string
	}{
		{"lead", page, []string{`href="/?tier=this_week"`, `href="/?flag=above_7_8_persistent"`, `href="/recalls?state=overdue"`, `href="/files?outcome=held"`, `href="/log?action=undo`}, nil},
		{"auditor", auditor, []string{`href="/log?action=undo`}, []string{`href="/?tier`, `href="/?flag`, `href="/recalls`, `href="/files`}},
	} {
		var b bytes.Buffer
		if err := Render(&b, c.page); err != nil {
			t.Fatal(err)
		}
		for _, want := range c.want {
			if !strings.Contains(b.String(), want) {
				t.Errorf("the page of a %s has no %s", c.who, want)
			}
		}
		for _, not := range c.not {
			if strings.Contains(b.String(), not) {
				t.Errorf("the page of a %s has %s", c.who, not)
			}
		}
	}
}

// Where a table has a sum, it is that of its columns.
func TestAuditTablesAddUp(t *testing.T) {
	summed := 0
	for _, table := range auditPages("")["audit"].(AuditPage).Tables() {
		var sums []int
		for _, line := range table.Rows {
			if len(line.Cells) != len(table.Heads)-1 {
				t.Errorf("%s: %q has %d cells under %d heads", table.ID, line.Head, len(line.Cells), len(table.Heads)-1)
			}
			sums = append(sums, make([]int, len(line.Cells)-min(len(sums), len(line.Cells)))...)
			for i, c := range line.Cells {
				if !c.Counts() {
					continue
				}
				if line.Sum {
					summed++
					if c.N != sums[i] {
						t.Errorf("%s, column %q: the sum is %d, the rows make %d", table.ID, table.Heads[i+1], c.N, sums[i])
					}
					continue
				}
				sums[i] += c.N
				if c.Of > 0 && c.N > c.Of {
					t.Errorf("%s: %q has %d of %d", table.ID, line.Head, c.N, c.Of)
				}
			}
		}
	}
	if summed < 20 {
		t.Errorf("only %d sums were looked at", summed)
	}
}

// The list that is passed on has no exact count and no text that a spreadsheet
// takes for a formula.
func TestAuditList(t *testing.T) {
	p := auditPages("")["audit"].(AuditPage)
	rows, err := csv.NewReader(bytes.NewReader(p.List())).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(rows[0], []string{"table", "row", "column", "value"}) || len(rows) < 60 {
		t.Errorf("%d lines, the first %q", len(rows), rows[0])
	}
	for _, row := range rows[1:] {
		if v, err := strconv.Atoi(row[3]); err == nil && (v%5 != 0 || v < 10) {
			t.Errorf("%q gives an exact count", row)
		}
		for _, field := range row {
			if field != "" && strings.ContainsAny(field[:1], "=+-@") {
				t.Errorf("%q is taken for a formula", field)
			}
		}
	}
	for _, want := range [][]string{
		{"What was read", "By tier when first read", "Today", "10"},
		{"What was read", "By age", "Age: 40-49", "under 10"},
		{"What each flag turned out to be", "Above 7.8 on most days", "Confirmed", "under 10"},
		{"How long it took", "From read to first claimed", "Half took at most", "at once"},
	} {
		if !slices.ContainsFunc(rows, func(row []string) bool { return slices.Equal(row, want) }) {
			t.Errorf("no line %q", want)
		}
	}
	if !bytes.Contains(p.List(), []byte(",value\r\n")) {
		t.Error("lines do not end as RFC 4180 has them")
	}
}

// Whoever knows how every number of the list was made, and that its parts are
// cut out of the same wears, cannot tell any count of one to four people: the
// linear system of all that is printed leaves each at least one other value.
func TestNoSmallCountCanBeWorkedOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawAudit(t)
		s := newSystem(Parts(&a))
		wears := s.part("What was read", "By tier when first read")
		for _, row := range []string{"By month", "By age", "By sex", "By read on a"} {
			s.equal(wears, s.part("What was read", row))
		}
		s.equal(wears[:len(wears)-1], s.part("Followed up", "Wears that needed it"))
		hidden := 0
		for i, n := range s.truth {
			if n < 1 || n > 4 {
				continue
			}
			if hidden++; hidden > 6 {
				break // enough of one audit
			}
			low, high := s.bound(t, i, 1), -s.bound(t, i, -1)
			if low > float64(n)+1e-6 || high < float64(n)-1e-6 {
				t.Fatalf("%s is %d, outside %g to %g: the system is wrong", s.names[i], n, low, high)
			}
			if high-low < 1-1e-6 {
				t.Fatalf("%s can only be %g to %g, and is %d", s.names[i], low, high, n)
			}
		}
	})
}

// drawAudit makes the audit of a practice of any size out of single wears.
func drawAudit(t *rapid.T) wear.Audit {
	a := wear.Audit{Tiers: []wear.AuditTier{{Tier: wear.Today}, {Tier: wear.ThisWeek}, {Tier: wear.ThisMonth}, {Tier: wear.CannotTell}, {Tier: wear.Routine}}}
	months := rapid.IntRange(1, 12).Draw(t, "months")
	for m := range months {
		a.Months = append(a.Months, wear.AuditMonth{Month: fmt.Sprintf("2026-%02d", m+1)})
	}
	for _, by := range []string{wear.GroupAge, wear.GroupSex, wear.GroupDay} {
		for _, code := range wear.GroupCodes(by) {
			a.Worth.Groups = append(a.Worth.Groups, wear.AuditGroup{By: by, AuditYield: wear.AuditYield{Code: code}})
		}
	}
	a.Worth.Yield = []wear.AuditYield{{Code: wear.FlagAbove7_8}, {Code: wear.FlagAbove10}}
	ends := map[string]int{}
	codes := slices.Sorted(maps.Keys(form.OutcomeWords))
	for range rapid.SampledFrom([]int{0, 1, 2, 4, 8, 9, 10, 12, 20, 37, 60, 150}).Draw(t, "wears") {
		pick := func(what string, n int) int { return rapid.IntRange(0, n-1).Draw(t, what) }
		tier := &a.Tiers[pick("tier", 5)]
		tier.Read++
		switch pick("place", 3) {
		case 0:
			tier.InTime++
			ends[codes[pick("outcome", len(codes))]]++
		case 1:
			tier.Late++
			ends[codes[pick("outcome", len(codes))]]++
		default:
			tier.NotDue++
		}
		a.Months[pick("month", months)].Read++
		first := 0
		for _, by := range []string{wear.GroupAge, wear.GroupSex, wear.GroupDay} {
			n := len(wear.GroupCodes(by))
			a.Worth.Groups[first+pick(by, n)].Wears++
			first += n
		}
		y := &a.Worth.Yield[pick("flag", 2)]
		y.Wears++
		*[]*int{&y.Confirmed, &y.NotConfirmed, &y.Unknown}[pick("found", 3)]++
	}
	for code, n := range ends {
		a.Outcomes = append(a.Outcomes, wear.AuditCount{Code: code, N: n})
	}
	return a
}

// system is what is known of the counts of a list: within which bounds each lies
// by what is printed, and which sums are equal.
type system struct {
	names     []string
	truth     []int
	low, high []float64
	parts     map[string][]int // by table and row
	equals    [][2][]int
}

func newSystem(parts []Part) *system {
	s := &system{parts: map[string][]int{}}
	for _, p := range parts {
		for _, x := range p.Pieces {
			low, high := 0.0, 9.0
			if v, err := strconv.Atoi(Veiled(x.N)); err == nil {
				low, high = max(10, float64(v)-2), float64(v)+2
			}
			s.parts[p.Table+p.Row] = append(s.parts[p.Table+p.Row], len(s.truth))
			s.names, s.truth = append(s.names, p.Row+": "+x.Words), append(s.truth, x.N)
			s.low, s.high = append(s.low, low), append(s.high, high)
		}
	}
	return s
}

func (s *system) part(table, row string) []int { return s.parts[table+row] }

// equal says that two sums are of the same wears, where both are printed.
func (s *system) equal(a, b []int) {
	if len(a) > 0 && len(b) > 0 {
		s.equals = append(s.equals, [2][]int{a, b})
	}
}

// bound is the least of sign times a count that all of it allows: a linear
// program over the counts above their lower bounds and their slack below the
// upper ones.
func (s *system) bound(t *rapid.T, i int, sign float64) float64 {
	n := len(s.truth)
	m := mat.NewDense(n+len(s.equals), 2*n, nil)
	b, c := make([]float64, n+len(s.equals)), make([]float64, 2*n)
	for j := range n {
		m.Set(j, j, 1)
		m.Set(j, n+j, 1)
		b[j] = s.high[j] - s.low[j]
	}
	for k, e := range s.equals {
		for side, list := range e {
			for _, j := range list {
				m.Set(n+k, j, float64(1-2*side))
				b[n+k] -= float64(1-2*side) * s.low[j]
			}
		}
	}
	c[i] = sign
	v, _, err := lp.Simplex(c, m, b, 1e-9, nil)
	if err != nil {
		t.Fatal(err)
	}
	return v + sign*s.low[i]
}

func TestAuditFilter(t *testing.T) {
	today := clock(18, 10, 42)
	year := AuditFilter{"2026-01-01", "2026-03-18"}
	for _, c := range []struct {
		from, to string
		want     AuditFilter
		wrong    string
		before   AuditFilter
	}{
		{"", "", year, "", AuditFilter{"2025-01-01", "2025-03-18"}},
		{"2025-01-01", "2025-12-31", AuditFilter{"2025-01-01", "2025-12-31"}, "", AuditFilter{"2024-01-01", "2024-12-31"}},
		{"2024-07-01", "2026-06-30", AuditFilter{"2024-07-01", "2026-06-30"}, "", AuditFilter{"2022-07-01", "2024-06-30"}},
		{"2026-02-03", "2026-02-03", AuditFilter{"2026-02-03", "2026-02-03"}, "", AuditFilter{"2025-02-03", "2025-02-03"}},
		{"2021-01-01", "2025-12-31", AuditFilter{"2021-01-01", "2025-12-31"}, "", AuditFilter{"2016-01-01", "2020-12-31"}},
		{"2021-01-01", "2026-01-01", year, "five years at most", AuditFilter{"2025-01-01", "2025-03-18"}},
		{"2026-02-03", "2026-02-02", year, "before the first", AuditFilter{"2025-01-01", "2025-03-18"}},
		{"2026-02-03", "", year, "both the first and the last day", AuditFilter{"2025-01-01", "2025-03-18"}},
		{"yesterday", "2026-02-02", year, "both the first and the last day", AuditFilter{"2025-01-01", "2025-03-18"}},
	} {
		got, wrong := ParseAuditFilter(c.from, c.to, today)
		if got != c.want || (wrong == "") != (c.wrong == "") || !strings.Contains(wrong, c.wrong) || got.Before() != c.before {
			t.Errorf("%q to %q: %v, %q, before it %v", c.from, c.to, got, wrong, got.Before())
		}
	}
	from, to := year.Days(zone)
	if !from.Equal(clock(1, 0, 0).AddDate(0, -2, 0)) || !to.Equal(clock(19, 0, 0)) {
		t.Errorf("the days are %v to %v", from, to)
	}
	if a := year.Address(); a != "/audit?from=2026-01-01&to=2026-03-18" {
		t.Errorf("the address is %s", a)
	}
}
