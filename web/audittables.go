package web

import (
	"cmp"
	"strconv"
	"strings"

	"wearround/web/chart"
	"wearround/web/form"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// AuditTable is one table of the audit, on the page and in its list alike.
type AuditTable struct {
	ID, Title string
	Heads     []string // of the columns; that of the rows first
	Rows      []AuditLine
	Notes     []string // how it is counted
	Wide      bool     // needs the whole width
	Drawing   Drawing  // or none
}

// AuditLine is one row.
type AuditLine struct {
	Head  string
	Cells []AuditCell
	Sum   bool // of the rows above
}

// AuditCell is a count, a count among others, words, or counts by name.
type AuditCell struct {
	N, Of   int    // Of 0: a plain count
	Share   string // of N in Of, with its interval, or ""
	Words   string // in place of a count
	After   string // words that follow the count, or ""
	Basis   int    // how many the words were worked out from
	List    []AuditNamed
	Address string // of the list behind it, or ""
}

// AuditNamed is a count with its name.
type AuditNamed struct {
	Words string
	N     int
}

// Counts reports whether the cell is a count.
func (c AuditCell) Counts() bool { return c.Words == "" && !c.Named() }

// Named reports whether the cell is counts by name.
func (c AuditCell) Named() bool { return c.List != nil }

func counts(n ...int) []AuditCell {
	out := make([]AuditCell, len(n))
	for i, v := range n {
		out[i].N = v
	}
	return out
}

// linked adds the list behind a cell for those who may see it.
func (c AuditCell) linked(may bool, address string) AuditCell {
	if may && c.N > 0 {
		c.Address = address
	}
	return c
}

// shared adds the share to a count among others.
func (c AuditCell) shared() AuditCell {
	c.Share = share(c.N, c.Of)
	return c
}

// Tables are the tables of the page in their order; those without a row are
// left out.
func (p AuditPage) Tables() []AuditTable {
	var out []AuditTable
	for _, t := range []AuditTable{
		p.chain(), p.yield(), p.compared(), p.tiers(), p.flags(), p.outcomes(), p.after(), p.months(), p.tests(), p.work(), p.waits(),
		p.again(), p.shifts(), p.groups(), p.recalls(), p.kinds(), p.letters(), p.changes(), p.files(),
	} {
		if len(t.Rows) > 0 {
			out = append(out, t)
		}
	}
	return out
}

// criterion is one line of the audit cycle: what is measured in a period, and
// the standard that the practice holds itself to, in per cent, or 0 for none. No
// published standard for such wears was found: they are proposals.
type criterion struct {
	words    string
	standard int
	measure  func(*wear.Audit) AuditCell
}

var criteria = []criterion{
	{"Wears read", 0, func(a *wear.Audit) AuditCell { return AuditCell{N: a.All().Read} }},
	{"Needed follow-up", 0, func(a *wear.Audit) AuditCell { return AuditCell{N: a.FollowUp().Read, Of: a.All().Read} }},
	{"Followed up in time", 90, func(a *wear.Audit) AuditCell { return inTime(a.FollowUp()) }},
	{"Of tier Today, followed up in time", 100, func(a *wear.Audit) AuditCell { return inTime(a.Of(wear.Today)) }},
	{"Tests ordered, result back", 90, func(a *wear.Audit) AuditCell { return AuditCell{N: a.Tests.Back(), Of: a.Tests.Ordered} }},
	{"Results in the diabetes range", 0, func(a *wear.Audit) AuditCell { return AuditCell{N: a.Tests.Diabetes(), Of: a.Tests.Back()} }},
	{"Recalls kept in time", 80, func(a *wear.Audit) (c AuditCell) {
		for _, r := range a.Recalls {
			c.N, c.Of = c.N+r.InTime, c.Of+r.Due
		}
		return c
	}},
	{"Could not reach", 0, func(a *wear.Audit) AuditCell {
		return AuditCell{N: countOf(a.Outcomes, "could_not_reach"), Of: a.All().Done()}
	}},
	{"Sensor in doubt", 0, func(a *wear.Audit) (c AuditCell) {
		for _, k := range a.Kinds {
			c.N, c.Of = c.N+k.SensorDoubt, c.Of+k.Wears
		}
		return c
	}},
}

// inTime is how many were done in time, out of those whose day has come.
func inTime(t wear.AuditTier) AuditCell {
	in, of := t.Come()
	return AuditCell{N: in, Of: of}
}

// compared is the audit cycle: criterion, standard, first measurement, and the
// second where there is one. A first year has no earlier days to stand beside.
func (p AuditPage) compared() AuditTable {
	t := AuditTable{
		ID: "compared", Title: "The audit cycle", Heads: []string{"Criterion", "Standard"},
		Notes: []string{
			"Standards are proposals that the practice may set otherwise: none was found published for wears of people without diabetes.",
			"A share comes with the range in which it could lie by chance alone (95 %, method of J Am Stat Assoc 1927;22:209): where two ranges overlap much, do not make anything of a difference.",
			"In time: the first outcome came by the day on which the wear was due, out of those whose day has come.",
		},
	}
	periods := []*wear.Audit{&p.Found}
	if first := p.Before; first.All().Read > 0 {
		periods = []*wear.Audit{&first, &p.Found}
		t.Notes = append(t.Notes, "Both measurements are as of the same moment, so the first has had longer for its results to come back.")
	}
	for i, a := range periods {
		t.Heads = append(t.Heads, []string{"First measurement: ", "Second measurement: "}[i]+p.period(*a))
	}
	for i, c := range criteria {
		line := AuditLine{Head: c.words, Cells: []AuditCell{{Words: "–"}}}
		if c.standard > 0 {
			line.Cells[0].Words = strconv.Itoa(c.standard) + "\u202f%"
		}
		for _, a := range periods {
			cell := c.measure(a)
			switch {
			case i == 0:
			case cell.Of == 0:
				cell.Words = "none to count"
			default:
				cell = cell.shared()
			}
			line.Cells = append(line.Cells, cell)
		}
		t.Rows = append(t.Rows, line)
	}
	return t
}

func (p AuditPage) tiers() AuditTable {
	t := AuditTable{
		ID: "tiers", Wide: true, Title: "What was read, and where it stands", Heads: []string{"Tier when first read", "Wears", "Outcome in time", "Outcome late", "On the round", "of those, overdue", "of those, again", "longest"},
		Notes: []string{
			"A wear counts in the period in which its first file came, under the tier of its first report. What came of it is as of now.",
			"Again: on the round after an outcome, because somebody opened it again or more of the wear came.",
		},
	}
	line := func(head string, n wear.AuditTier, sum bool, address string) {
		cells := counts(n.Read, n.InTime, n.Late, n.Open(), n.Overdue, n.Again)
		cells[3] = cells[3].linked(p.User.Staff(), address)
		longest := AuditCell{Words: "–"}
		if n.Open() > 0 {
			longest = AuditCell{Words: count(n.OldestDays, "day"), Basis: n.Open()}
		}
		t.Rows = append(t.Rows, AuditLine{Head: head, Cells: append(cells, longest), Sum: sum})
	}
	for _, n := range p.Found.Tiers {
		line(n.Tier.Words(), n, false, RoundFilter{Tier: n.Tier}.Address())
	}
	all := p.Found.All()
	line("All", all, true, "/")
	if all.Lost > 0 {
		t.Notes = append(t.Notes, "Off the round without an outcome: "+number(all.Lost)+". This should not be possible: have the log checked.")
	}
	return t
}

func (p AuditPage) months() AuditTable {
	t := AuditTable{
		ID: "months", Title: "Month by month", Heads: []string{"Read in", "Wears", "Needed follow-up", "of those, with an outcome", "Routine", "of those, with an outcome"},
		Notes: []string{"Needed follow-up: any tier before Routine when first read."},
	}
	if len(p.Found.Months) < 2 {
		return t
	}
	t.Drawing = p.monthPiles()
	for _, m := range p.Found.Months {
		t.Rows = append(t.Rows, AuditLine{Head: monthWords(m.Month), Cells: counts(m.Read, m.FollowUp, m.FollowUpDone, m.Read-m.FollowUp, m.Done-m.FollowUpDone)})
	}
	return t
}

// monthPiles draws the wears that needed follow-up.
func (p AuditPage) monthPiles() Drawing {
	follow := p.Found.FollowUp()
	q := chart.Months{Finding: number(follow.Open()) + " of " + count(follow.Read, "wear") + " that needed follow-up " + verb(follow.Open(), "is", "are") + " on the round."}
	for _, m := range p.Found.Months {
		q.Months = append(q.Months, chart.Month{Name: monthWords(m.Month), Done: m.FollowUpDone, Open: m.FollowUp - m.FollowUpDone})
	}
	return Drawing{Key: chart.MonthKey, Pictures: draw("months", half, func(id string, width int) string {
		q.ID, q.Width = id, width
		return q.Draw().SVG
	})}
}

func (p AuditPage) flags() AuditTable {
	t := AuditTable{
		ID: "flags", Wide: true, Title: "What was flagged, and what came of it", Heads: []string{"Flag", "Wears", "With an outcome", "On the round", "Outcomes"},
		Notes: []string{"Flags are those that a wear was closed with, or that stand now on one that is on the round. A wear with several flags stands under each, so the rows make more than the wears."},
	}
	line := func(head string, f wear.AuditFlag, address string) {
		cells := counts(f.Wears, f.Wears-f.Open, f.Open)
		cells[2] = cells[2].linked(p.User.Staff(), address)
		t.Rows = append(t.Rows, AuditLine{Head: head, Cells: append(cells, AuditCell{List: named(f.Outcomes)})})
	}
	for _, f := range p.Found.Flags {
		line(form.SentenceCase(cmp.Or(flagWords(f.Code), f.Code)), f, RoundFilter{Flag: f.Code}.Address())
	}
	if f := p.Found.Unflagged; f.Wears > 0 {
		line("No flag", f, "/")
	}
	return t
}

func named(list []wear.AuditCount) []AuditNamed {
	out := []AuditNamed{}
	for _, c := range list {
		out = append(out, AuditNamed{form.WordsOf(form.OutcomeWords, c.Code), c.N})
	}
	return out
}

func (p AuditPage) outcomes() AuditTable {
	t := AuditTable{
		ID: "outcomes", Title: "How the work on them ended", Heads: []string{"Outcome", "Wears"},
		Notes: []string{"The outcome in force of each wear that is off the round. An outcome names the work that followed, never a disease."},
	}
	for _, c := range p.Found.Outcomes {
		t.Rows = append(t.Rows, AuditLine{Head: form.SentenceCase(form.WordsOf(form.OutcomeWords, c.Code)), Cells: []AuditCell{{N: c.N, Of: p.Found.All().Done()}}})
	}
	return t
}

// waitWords name the waits.
var waitWords = map[string]string{
	wear.WaitToClaim:        "From read to first claimed",
	wear.WaitClaimToOutcome: "From first claimed to first outcome",
	wear.WaitToOutcome:      "From read to first outcome",
	wear.WaitHeld:           "From held to answered",
}

func (p AuditPage) waits() AuditTable {
	t := AuditTable{
		ID: "waits", Title: "How long it took", Heads: []string{"", "Wears", "Half took at most", "Nine in ten at most", "The longest"},
		Notes: []string{"Counted around the clock, weekends included, over the wears for which it has happened: those that still wait are not in it, so a long wait shows only once it is over. The table of tiers has those that wait."},
	}
	if p.Found.All().Read == 0 {
		return t
	}
	for _, w := range p.Found.Waits {
		head := form.WordsOf(waitWords, w.Code)
		switch {
		case w.Tier != "":
			head += ": " + w.Tier.Words()
		default:
			head += ", all that needed follow-up"
		}
		t.Rows = append(t.Rows, waitLine(head, w))
	}
	return t
}

func waitLine(head string, w wear.AuditWait) AuditLine {
	cells := []AuditCell{{N: w.N, Of: w.Of}}
	for _, s := range []int64{w.MedianS, w.NinetyS, w.LongestS} {
		c := AuditCell{Words: "–"}
		if w.N > 0 {
			c = AuditCell{Words: took(s), Basis: w.N}
		}
		cells = append(cells, c)
	}
	return AuditLine{Head: head, Cells: cells}
}

func (p AuditPage) tests() AuditTable {
	t := AuditTable{
		ID: "tests", Title: "What it turned out to be", Heads: []string{"Tests ordered", "After wears that needed follow-up", "After routine wears"},
		Notes: []string{
			"By the practice’s criteria in force when the result was recorded, compared in the unit that the laboratory reported. A wear counts once, under the most serious of its results. These are ranges, not diagnoses.",
			"A result answers the tests ordered if it was recorded for the wear or its recall, or for no wear, of a sample taken after the order and before the patient’s next wear.",
		},
	}
	a, b := p.Found.Tests, p.Found.Routine
	if a.Ordered+b.Ordered == 0 {
		return t
	}
	line := func(head string, f func(wear.AuditTests) (n, of int), sum bool) {
		var cells []AuditCell
		for _, x := range []wear.AuditTests{a, b} {
			n, of := f(x)
			cells = append(cells, AuditCell{N: n, Of: of})
		}
		t.Rows = append(t.Rows, AuditLine{Head: head, Cells: cells, Sum: sum})
	}
	type tests = wear.AuditTests
	found := func(head string, f func(tests) int) {
		line(head, func(x tests) (int, int) { return f(x), x.Back() }, false)
		cells := t.Rows[len(t.Rows)-1].Cells
		for i := range cells {
			if cells[i].N > 0 {
				cells[i] = cells[i].shared()
			}
		}
	}
	open := func(head string, f func(tests) int) {
		line(head, func(x tests) (int, int) { return f(x), x.Ordered }, false)
	}
	found("In the diabetes range, confirmed by a sample of another day", func(x tests) int { return x.Confirmed })
	found("In the diabetes range, not confirmed", func(x tests) int { return x.InRange })
	found("Past a limit of the criteria for pregnancy", func(x tests) int { return x.Pregnancy })
	found("Between normal and the diabetes range", func(x tests) int { return x.Intermediate })
	found("Above the printed band, to be looked at again", func(x tests) int { return x.LookAgain })
	found("Below every range that asks for more", func(x tests) int { return x.Below })
	found("A result that no criteria judge", func(x tests) int { return x.NotCompared })
	open("No result yet, not due", func(x tests) int { return x.Waiting })
	open("No result, overdue", func(x tests) int { return x.Overdue })
	open("No result, and no longer waited for", func(x tests) int { return x.GivenUp })
	line("All", func(x tests) (int, int) { return x.Ordered, 0 }, true)
	return t
}

func (p AuditPage) again() AuditTable {
	a := p.Found.Again
	t := AuditTable{
		ID: "again", Title: "Second wears: before and after", Heads: []string{"Before, and after"},
		Notes: []string{
			"Each wear of the period whose patient had one before, by the tiers that the two had when first read. " + number(a.Less) + " of " + number(a.Wears) + " became less pressing, " + number(a.Same) + " stayed, " + number(a.More) + " became more pressing; for " + number(a.Unclear) + " one of the two could not tell.",
			"Whoever is worn again was chosen for it, and an unusual wear tends to be followed by a more usual one whatever is done: less pressing is no proof that anything helped.",
		},
	}
	if a.Wears == 0 {
		return t
	}
	if a.Other > 0 {
		t.Notes = append(t.Notes, number(a.Other)+" of "+number(a.Wears)+" were worn with another sensor kind than before, or with one not recorded: two kinds on the same arm can differ by more than two patients do.")
	}
	for _, tier := range wear.Tiers() {
		t.Heads = append(t.Heads, tier.Words())
	}
	t.Heads = append(t.Heads, "All")
	n := map[[2]wear.Tier]int{}
	for _, x := range a.Pairs {
		n[[2]wear.Tier{x.Before, x.After}] += x.N
	}
	sums := make([]int, len(wear.Tiers())+1)
	for _, before := range wear.Tiers() {
		var row []int
		all := 0
		for i, after := range wear.Tiers() {
			x := n[[2]wear.Tier{before, after}]
			row, all = append(row, x), all+x
			sums[i] += x
		}
		sums[len(row)] += all
		if all > 0 {
			t.Rows = append(t.Rows, AuditLine{Head: before.Words(), Cells: counts(append(row, all)...)})
		}
	}
	t.Rows = append(t.Rows, AuditLine{Head: "All", Cells: counts(sums...), Sum: true})
	return t
}

func (p AuditPage) kinds() AuditTable {
	t := AuditTable{
		ID: "kinds", Title: "Sensors, by kind", Heads: []string{"Sensor kind", "Wears", "Sensor in doubt", "Too little data", "To be replaced", "Readings not believed"},
		Notes: []string{"Kinds are this practice’s own codes. Who wears which kind is not left to chance, so a difference between two kinds need not be the sensor’s."},
	}
	for _, k := range p.Found.Kinds {
		of := k.Wears
		doubted := AuditCell{Words: "not known"}
		if k.Readings > 0 {
			doubted = AuditCell{Words: wear.FormatHalfUp(100*float64(k.Doubted)/float64(k.Readings), 1) + " % of " + number(k.Readings), Basis: k.Wears}
		}
		t.Rows = append(t.Rows, AuditLine{Head: cmp.Or(k.Kind, "not recorded"), Cells: []AuditCell{{N: k.Wears}, {N: k.SensorDoubt, Of: of}, {N: k.TooLittle, Of: of}, {N: k.Replaced, Of: of}, doubted}})
	}
	return t
}

func (p AuditPage) recalls() AuditTable {
	t := AuditTable{
		ID: "recalls", Title: "Recalls that were due", Heads: []string{"Waits for", "Due", "Came in time", "Came late", "Cancelled", "Missed", "of those, nobody tried"},
		Notes: []string{"Recalls whose day lay in the period and is over. Missed: open to this day. One that was given another date counts by that; one that followed an outcome taken back or corrected is left out, unless it was kept."},
	}
	var all wear.AuditRecall
	for _, r := range p.Found.Recalls {
		t.Rows = append(t.Rows, p.recallLine(form.SentenceCase(form.WordsOf(form.RecallWords, r.Kind)), r, false))
		all.Due += r.Due
		all.InTime += r.InTime
		all.Late += r.Late
		all.Cancelled += r.Cancelled
		all.Missed += r.Missed
		all.Untried += r.Untried
	}
	if len(t.Rows) > 1 {
		t.Rows = append(t.Rows, p.recallLine("All", all, true))
	}
	return t
}

func (p AuditPage) recallLine(head string, r wear.AuditRecall, sum bool) AuditLine {
	cells := counts(r.Due, r.InTime, r.Late, r.Cancelled, r.Missed, r.Untried)
	cells[4] = cells[4].linked(p.User.Staff(), RecallsFilter{State: "overdue"}.Address())
	cells[5] = cells[5].linked(p.User.Staff(), RecallsFilter{State: "untried"}.Address())
	return AuditLine{Head: head, Cells: cells, Sum: sum}
}

func (p AuditPage) letters() AuditTable {
	t := AuditTable{
		ID: "letters", Title: "Letters", Heads: []string{"Kind", "Written", "Sent", "Thrown away", "Open and unsent"},
		Notes: []string{"Letters opened in the period, and what became of them by now."},
	}
	for _, l := range p.Found.Letters {
		cells := counts(l.Written, l.Sent, l.Discarded, l.Unsent)
		cells[3] = cells[3].linked(p.User.Staff(), "/letters")
		t.Rows = append(t.Rows, AuditLine{Head: letter.Kind(l.Kind).Title(), Cells: cells})
	}
	return t
}

func (p AuditPage) changes() AuditTable {
	t := AuditTable{
		ID: "changes", Title: "Outcomes that were changed", Heads: []string{"Recorded in the period", "Outcomes"},
		Notes: []string{"Taken back: within half a minute, by whoever recorded it. Corrected: another was put in its place later, and both are on record."},
	}
	c := p.Found.Changes
	if c.Outcomes == 0 {
		return t
	}
	log := func(n int, action string) AuditCell {
		return AuditCell{N: n, Of: c.Outcomes}.linked(p.User.Is(form.RoleLead, form.RoleAuditor), LogFilter{Action: action, From: p.Filter.From, To: p.Filter.To}.Address())
	}
	t.Rows = []AuditLine{
		{Head: "Stand as recorded", Cells: []AuditCell{{N: c.Standing, Of: c.Outcomes}}},
		{Head: "Corrected", Cells: []AuditCell{log(c.Corrected, "correct an outcome")}},
		{Head: "Taken back", Cells: []AuditCell{log(c.Undone, "undo an outcome")}},
		{Head: "All", Cells: counts(c.Outcomes), Sum: true},
	}
	return t
}

func (p AuditPage) files() AuditTable {
	f := p.Found.Files
	t := AuditTable{
		ID: "files", Title: "Files that came", Heads: []string{"Now", "Files"},
		Notes: []string{"Distinct contents: the same bytes twice are one file."},
	}
	if f.Received == 0 {
		return t
	}
	held := AuditCell{N: f.Held, Of: f.Received}
	t.Rows = []AuditLine{
		{Head: "Filed", Cells: []AuditCell{{N: f.Filed, Of: f.Received}}},
		{Head: "Held for an answer", Cells: []AuditCell{held.linked(p.User.Staff(), FilesFilter{Fate: "held"}.Address())}},
		{Head: "Cannot be read", Cells: []AuditCell{{N: f.Refused, Of: f.Received}}},
		{Head: "All", Cells: counts(f.Received), Sum: true},
	}
	if w := f.Wait; w.Of > 0 {
		s := number(w.Of) + " were held for an answer at some time; " + number(w.N) + " of those were answered"
		if w.N > 0 {
			s += ", half of them within " + took(w.MedianS) + ", nine in ten within " + took(w.NinetyS) + ", the last after " + took(w.LongestS)
		}
		t.Notes = append(t.Notes, s+".")
	}
	return t
}

// Text is a cell as plain words.
func (c AuditCell) Text() string {
	if c.Words != "" {
		return c.Words
	}
	if c.Named() {
		var parts []string
		for _, x := range c.List {
			parts = append(parts, x.Words+" "+number(x.N))
		}
		return strings.Join(parts, ", ")
	}
	s := number(c.N)
	if c.Of > 0 {
		s += " of " + number(c.Of)
	}
	for _, more := range []string{c.Share, c.After} {
		if more != "" {
			s += " " + more
		}
	}
	return s
}
