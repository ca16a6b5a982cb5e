package web

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"

	"wearround/web/delimited"
	"wearround/web/form"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// A list to pass on must let nobody be recognised: no count of one to four
// people may be had from it, be it by adding and subtracting all that it holds.
//
// So a count below ten reads "under 10", whatever it is, and others are rounded
// to the nearest five. And nothing is given that is the sum of other lines: each
// part below is a whole cut into pieces once, and the whole is not told. Then a
// count of one to four always has room on both sides, and whatever it may gain a
// piece beside it may lose: every such count could as well be another. Pieces
// with nobody in them are listed too: that a piece is there says nothing. The
// sizes are proposals; hiding fewer than five or ten is common practice.
const (
	fewPeople = 10 // counts below are not passed on
	roundedTo = 5
)

// Part is a whole cut into pieces, to be passed on.
type Part struct {
	Table, Row string
	Pieces     []AuditNamed
}

// List is the audit for a spreadsheet, to pass on: one line a number.
func (p AuditPage) List() []byte {
	list := delimited.New("table", "row", "column", "value")
	for _, part := range Parts(&p.Found) {
		for _, x := range part.Pieces {
			list.Row(part.Table, part.Row, x.Words, Veiled(x.N))
		}
	}
	for _, x := range p.Found.Waits {
		if x.N >= fewPeople {
			head := form.WordsOf(waitWords, x.Code)
			if x.Tier != "" {
				head += ": " + x.Tier.Words()
			}
			list.Row("How long it took", head, "Half took at most", strings.ReplaceAll(took(x.MedianS), "\u202f", ""))
		}
	}
	return list.Bytes()
}

// Parts are the wholes of an audit that are passed on, each with two pieces or
// more. Sensor kinds are not among them: there may be one alone.
func Parts(a *wear.Audit) []Part {
	var out []Part
	add := func(table, row string, pieces ...AuditNamed) {
		if len(pieces) > 1 {
			out = append(out, Part{table, row, pieces})
		}
	}
	var tiers, months []AuditNamed
	for _, t := range a.Tiers {
		tiers = append(tiers, AuditNamed{t.Tier.Words(), t.Read})
	}
	for _, m := range a.Months {
		months = append(months, AuditNamed{monthWords(m.Month), m.Read})
	}
	follow := a.FollowUp()
	add("What was read", "By tier when first read", tiers...)
	add("What was read", "By month", months...)
	for _, by := range []string{wear.GroupAge, wear.GroupSex, wear.GroupDay} {
		var pieces []AuditNamed
		for _, code := range wear.GroupCodes(by) {
			g := wear.AuditGroup{By: by, AuditYield: wear.AuditYield{Code: code}}
			if i := slices.IndexFunc(a.Worth.Groups, func(x wear.AuditGroup) bool { return x.By == by && x.Code == code }); i >= 0 {
				g = a.Worth.Groups[i]
			}
			pieces = append(pieces, AuditNamed{groupName(g), g.Wears})
		}
		add("What was read", "By "+strings.ToLower(groupWords[by]), pieces...)
	}
	var ends []AuditNamed
	for _, code := range slices.Sorted(maps.Keys(form.OutcomeWords)) {
		ends = append(ends, AuditNamed{form.OutcomeWords[code], countOf(a.Outcomes, code)})
	}
	add("Followed up", "Wears that needed it", AuditNamed{"In time", follow.InTime}, AuditNamed{"Late", follow.Late}, AuditNamed{"On the round", follow.Open()})
	for _, y := range a.Worth.Yield {
		add("What each flag turned out to be", form.SentenceCase(cmp.Or(flagWords(y.Code), y.Code)), AuditNamed{"Confirmed", y.Confirmed}, AuditNamed{"Not confirmed", y.NotConfirmed}, AuditNamed{"Not known", y.Unknown})
	}
	add("How the work on them ended", "Outcome", ends...)
	t := a.Tests
	add("What it turned out to be", "Tests after wears that needed follow-up", AuditNamed{"In the diabetes range, confirmed", t.Confirmed},
		AuditNamed{"Not confirmed", t.Back() - t.Confirmed}, AuditNamed{"No result", t.Missing()})
	for _, r := range a.Recalls {
		add("Recalls that were due", form.SentenceCase(form.WordsOf(form.RecallWords, r.Kind)), AuditNamed{"In time", r.InTime}, AuditNamed{"Late", r.Late}, AuditNamed{"Cancelled", r.Cancelled}, AuditNamed{"Missed", r.Missed})
	}
	for _, l := range a.Letters {
		add("Letters", letter.Kind(l.Kind).Title(), AuditNamed{"Sent", l.Sent}, AuditNamed{"Thrown away", l.Discarded}, AuditNamed{"Unsent", l.Unsent})
	}
	f := a.Files
	add("Files that came", "Now", AuditNamed{"Filed", f.Filed}, AuditNamed{"Held for an answer", f.Held}, AuditNamed{"Cannot be read", f.Refused})
	return out
}

// Veiled is a count that points at nobody.
func Veiled(n int) string {
	if n < fewPeople {
		return "under " + strconv.Itoa(fewPeople)
	}
	return strconv.Itoa((n + roundedTo/2) / roundedTo * roundedTo)
}
