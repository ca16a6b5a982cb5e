package web

import (
	"cmp"
	"strconv"

	"wearround/web/form"
	"wearround/worker/wear"
)

// stepWords name the steps of the chain, and what goes on, ends there, is lost
// and is not known at each; "" where that cannot be.
var stepWords = map[string]struct{ head, on, ended, lost, unknown string }{
	wear.StepHandedOut: {"Sensors handed out", "file came", "", "cancelled", "still out"},
	wear.StepFiles:     {"Files that came", "filed", "", "cannot be read", "wait for an answer"},
	wear.StepRead:      {"Wears read", "needed follow-up and had it", "told all is well", "could not be reached", "no outcome, or on the round again"},
	wear.StepTested:    {"Wears followed up", "a result is on record", "no test was ordered", "test ordered, given up", "test ordered, no result yet"},
	wear.StepConfirmed: {"Wears with a result", "in the diabetes range, confirmed", "never in the diabetes range", "", "in the diabetes range, not confirmed"},
}

// chain is the way from a sensor handed out to a confirmed result.
func (p AuditPage) chain() AuditTable {
	t := AuditTable{
		ID: "chain", Wide: true, Title: "From a sensor handed out to a confirmed result", Heads: []string{"Step", "All", "Went on", "Ended there", "Lost", "Not known"},
		Notes: []string{
			"Each step counts what the period brought: sensors handed out, files and wears that came in it. A file can come without a sensor on record, and a wear of several files is one, so one step’s “went on” need not be the next one’s “all”; from the wears on it is.",
		},
	}
	for _, c := range p.Found.Worth.Chain {
		if c.Of == 0 {
			continue
		}
		w := stepWords[c.Code]
		cell := func(n int, words string) AuditCell {
			if words == "" {
				return AuditCell{Words: "–"}
			}
			return AuditCell{N: n, After: words}
		}
		t.Rows = append(t.Rows, AuditLine{Head: cmp.Or(w.head, c.Code), Cells: []AuditCell{
			{N: c.Of}, cell(c.On, w.on), cell(c.Ended, w.ended), cell(c.Lost, w.lost), cell(c.Unknown, w.unknown),
		}})
	}
	return t
}

// yieldHeads are the columns of every table that says what wears turned out to be.
var yieldHeads = []string{"Wears", "Confirmed", "Not confirmed", "Not known"}

const yieldNote = "Confirmed: a result in the diabetes range and another that confirms it by the practice’s criteria, out of the wears with a result; the rest of the wears nobody knows about. Results count that were recorded for the wear or its tests, or for no wear, of a sample from the day on which it was read until the patient’s next wear. The range is where the share could lie by chance alone (95 %, J Am Stat Assoc 1927;22:209)."

func yieldCells(y wear.AuditYield) []AuditCell {
	not := AuditCell{N: y.NotConfirmed, Of: y.Known()}
	if y.InRange > 0 {
		not.After = "(" + number(y.InRange) + " in the range once)"
	}
	confirmed := AuditCell{N: y.Confirmed, Of: y.Known()}
	if y.Known() > 0 {
		confirmed = confirmed.shared()
	}
	return []AuditCell{{N: y.Wears}, confirmed, not, {N: y.Unknown}}
}

// yield is what each flag turned out to be worth.
func (p AuditPage) yield() AuditTable {
	t := AuditTable{
		ID: "yield", Wide: true, Title: "What each flag turned out to be", Heads: append([]string{"Flag"}, yieldHeads...),
		Notes: []string{yieldNote, "Those tested were chosen, not drawn by lot: where a flag is tested more often, more is found under it. A wear with several flags stands under each."},
	}
	for _, y := range p.Found.Worth.Yield {
		t.Rows = append(t.Rows, AuditLine{Head: form.SentenceCase(cmp.Or(flagWords(y.Code), y.Code)), Cells: yieldCells(y)})
	}
	if m := p.Found.Worth.Missed; m.Wears > 0 {
		t.Rows = append(t.Rows, AuditLine{Head: "No flag", Cells: yieldCells(m)})
		t.Notes = append(t.Notes, "No flag, and later in the diabetes range: "+number(m.Confirmed+m.InRange)+" of "+number(m.Known())+" whose patient had a result. These are the ones that the limits missed.")
	}
	return t
}

// after is what was found after each outcome.
func (p AuditPage) after() AuditTable {
	t := AuditTable{
		ID: "after", Wide: true, Title: "What was found after each outcome", Heads: append([]string{"Outcome"}, yieldHeads...),
		Notes: []string{"By the outcome in force of each wear that is off the round; results counted as under the flags."},
	}
	for _, y := range p.Found.Worth.After {
		t.Rows = append(t.Rows, AuditLine{Head: form.SentenceCase(form.WordsOf(form.OutcomeWords, y.Code)), Cells: yieldCells(y)})
	}
	return t
}

// groupWords name the groups.
var groupWords = map[string]string{wear.GroupAge: "Age", wear.GroupSex: "Sex", wear.GroupKind: "Sensor kind", wear.GroupDay: "Read on a"}

var weekdays = [...]string{"Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"}

func groupName(g wear.AuditGroup) string {
	name := g.Code
	if n, err := strconv.Atoi(g.Code); err == nil && g.By == wear.GroupDay && n >= 1 && n <= len(weekdays) {
		name = weekdays[n-1]
	}
	return cmp.Or(groupWords[g.By], g.By) + ": " + cmp.Or(name, "not recorded")
}

// groups are the wears by age band, sex, sensor kind and day of the week.
func (p AuditPage) groups() AuditTable {
	t := AuditTable{
		ID: "groups", Wide: true, Title: "By age, sex, sensor kind and day", Heads: append([]string{"Group", "Needed follow-up"}, yieldHeads...),
		Notes: []string{"Age on the day on which the wear was read; the day is that of the practice’s clock. The groups were not chosen by lot, and many are small: a difference between two of them is a question, not an answer."},
	}
	for _, g := range p.Found.Worth.Groups {
		t.Rows = append(t.Rows, AuditLine{Head: groupName(g), Cells: append([]AuditCell{{N: g.FollowUp, Of: g.Wears}}, yieldCells(g.AuditYield)...)})
	}
	return t
}

// work is what the wears took.
func (p AuditPage) work() AuditTable {
	t := AuditTable{
		ID: "work", Wide: true, Title: "The work", Heads: []string{"Tier when first read", "With an outcome", "Minutes from claim to outcome", "half took at most", "Attempts to reach", "Call sheets", "Letters sent"},
		Notes: []string{"Minutes: from the first claim of the day to the first outcome, where both were on one day; who claims a wear may do something else meanwhile. A routine sheet claims nothing."},
	}
	if p.Found.All().Read == 0 {
		return t
	}
	for _, w := range p.Found.Worth.Work {
		median := AuditCell{Words: "–"}
		if w.Claimed > 0 {
			median = AuditCell{Words: took(int64(w.MedianS)), Basis: w.Claimed}
		}
		t.Rows = append(t.Rows, AuditLine{Head: w.Tier.Words(), Cells: []AuditCell{
			{N: w.Outcomes}, {N: w.Minutes, After: "for " + count(w.Claimed, "wear")}, median, {N: w.Attempts, After: "(" + number(w.Reached) + " reached)"}, {N: w.Calls}, {N: w.Letters},
		}})
	}
	return t
}

// shiftWords name what two wears are compared by, with the unit of the least
// change.
var shiftWords = map[string][2]string{"mean": {"Mean glucose", "mmol/L"}, "above_7_8": {"Time above 7.8", "points"}, "above_10": {"Time above 10", "points"}}

// shifts are second wears against the one before.
func (p AuditPage) shifts() AuditTable {
	t := AuditTable{
		ID: "shifts", Title: "Second wears: beyond expected variation", Heads: []string{"Measure", "Second wears", "Fell", "Within", "Rose", "Not known"},
		Notes: []string{"Only where both were worn with the same sensor kind. A change smaller than that of the protocol is expected variation. Whoever is worn again was chosen for it: an unusual wear tends to be followed by a more usual one whatever is done."},
	}
	for _, s := range p.Found.Worth.Shifts {
		if s.Of == 0 {
			continue
		}
		w := shiftWords[s.Code]
		head := cmp.Or(w[0], s.Code) + ", by " + strconv.FormatFloat(s.Least, 'f', -1, 64) + " " + w[1] + " or more"
		t.Rows = append(t.Rows, AuditLine{Head: head, Cells: counts(s.Of, s.Fall, s.Within, s.Rise, s.Unknown)})
	}
	return t
}

// Worth is the finding of the chain in a sentence, or "".
func (p AuditPage) Worth() string {
	var tested, confirmed wear.AuditStep
	for _, c := range p.Found.Worth.Chain {
		switch c.Code {
		case wear.StepTested:
			tested = c
		case wear.StepConfirmed:
			confirmed = c
		}
	}
	if tested.Of == 0 {
		return ""
	}
	s := "Of " + count(tested.Of, "wear") + " followed up to an outcome, " + number(tested.On) + " " + verb(tested.On, "has", "have") + " a result on record"
	if tested.On > 0 {
		s += "; " + number(confirmed.On) + " of those " + verb(confirmed.On, "is", "are") + " confirmed in the diabetes range, " + number(confirmed.Ended) + " never lay in it"
	}
	return s + "."
}
