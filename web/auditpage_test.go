package web

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strconv"
	"strings"
	"testing"

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

func auditPages(s string) map[string]Page {
	l := fullLayout(s)
	f := AuditFilter{"2026-03-01", "2026-03-17"}
	return map[string]Page{
		"audit":        AuditPage{Layout: l, Filter: f, Problem: "the last day lies before the first" + s, Found: fullAudit(s), Before: fullAudit(s)},
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
			"Followed up in time 39 of 55 71 % (58 to 81)",
			"Sensor in doubt 10 of 123 8 % (4 to 14)",
			"told all is well 6 , tests ordered 8",
			"50 of 60 at once 26 h 60 days",
			"=A 103 10 of 103 6 of 103 5 of 103 2.0 % of 400 000",
			"not recorded 20 0 of 20 0 of 20 0 of 20 not known",
			"17 were held for an answer at some time; 7 of those were answered, half of them within 2 h, nine in ten within 2 h 30, the last after 9 days.",
			"under 5",
		}, []string{"none to count", "This should not be possible"}},
		{"first year", pages["audit first"].(AuditPage), []string{"Wears read 123 0", "none to count"}, nil},
		{"empty", pages["audit empty"].(AuditPage), []string{"Nothing came in this period"}, []string{"What nobody knows", "Download"}},
		{"all open", with(func(a *wear.Audit) {
			a.Tiers = []wear.AuditTier{{Tier: wear.ThisWeek, Read: 1, NotDue: 1, OldestDays: 1}}
			a.Tests = wear.AuditTests{Ordered: 1, Waiting: 1}
		}), []string{"Of 1 wear read, 1 needed follow-up; none of those has an outcome yet, and the longest has waited for 1 day.", "; no result is back."}, []string{"routine wear,"}},
		{"all done", with(func(a *wear.Audit) { a.Tiers = []wear.AuditTier{{Tier: wear.ThisWeek, Read: 2, Late: 2}} }), []string{"2 needed follow-up; each of those has an outcome."}, nil},
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

// The list that is passed on has no count of few people, nor any from which one
// could be had, and no text that a spreadsheet takes for a formula.
func TestAuditListHidesFew(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 10_000).Draw(t, "n")
		switch got := veiled(n); {
		case n == 0 && got != "0", n > 0 && n < 5 && got != "under 5":
			t.Fatalf("%d reads %q", n, got)
		case n >= 5:
			if v, err := strconv.Atoi(got); err != nil || v%5 != 0 || v < n-2 || v > n+2 {
				t.Fatalf("%d reads %q", n, got)
			}
		}
	})
	p := auditPages("")["audit"].(AuditPage)
	rows, err := csv.NewReader(bytes.NewReader(p.List())).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(rows[0], []string{"table", "row", "column", "value", "of"}) || len(rows) < 150 {
		t.Errorf("%d lines, the first %q", len(rows), rows[0])
	}
	for _, row := range rows[1:] {
		for _, field := range row[3:] {
			if v, err := strconv.Atoi(field); err == nil && v%5 != 0 {
				t.Errorf("%q gives an exact count", row)
			}
		}
		for _, field := range row {
			if field != "" && strings.ContainsAny(field[:1], "=+-@") {
				t.Errorf("%q is taken for a formula", field)
			}
		}
	}
	for _, want := range [][]string{
		{"What was flagged, and what came of it", "New", "Wears", "under 5", ""},
		{"What was flagged, and what came of it", "Above 7.8 on most days", "Outcomes: tests ordered", "10", ""},
		{"How long it took", "new, all that needed follow-up", "Half took at most", "of too few to say", ""},
		{"What it turned out to be", "In the diabetes range, not confirmed", "After wears that needed follow-up", "5", "50"},
	} {
		if !slices.ContainsFunc(rows, func(row []string) bool { return slices.Equal(row, want) }) {
			t.Errorf("no line %q", want)
		}
	}
	if !bytes.Contains(p.List(), []byte(",of\r\n")) {
		t.Error("lines do not end as RFC 4180 has them")
	}
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
