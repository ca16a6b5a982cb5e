package web

import (
	"cmp"
	"html/template"
	"slices"
	"strconv"
	"strings"
)

func patientAddress(id int64) string { return "/patients/" + strconv.FormatInt(id, 10) }

// Sentence says how much of the register is shown.
func (p RegisterPage) Sentence() string {
	s := number(len(p.Rows)) + " of " + count(p.Total, "patient") + " shown"
	if p.Filter.Text == "" {
		return s + ", by code."
	}
	return s + ": name or code containing “" + p.Filter.Text + "”."
}

// Paging is the way through the register's pages.
func (p RegisterPage) Paging() Paging {
	return paging(p.Filter.Page, p.PageSize, p.Matching, func(n int) string {
		return RegisterFilter{Veiled: p.Filter.Veiled, Page: n}.Address()
	})
}

// Address is the patient's page.
func (r RegisterRow) Address() string { return patientAddress(r.ID) }

// Address is the patient's page.
func (p PatientPage) Address() string { return patientAddress(p.ID) }

// ReachWords says how to reach the patient.
func (p PatientPage) ReachWords() string { return p.Contact.words() }

// ContextWords are what is on record and changes which rules apply.
func (p PatientPage) ContextWords() []string {
	var out []string
	for _, c := range contextFields {
		if *c.of(&p.Context) {
			out = append(out, sentence(c.words))
		}
	}
	return out
}

// Mixed is the caution for wears of several sensor kinds, or "".
func (p PatientPage) Mixed() string {
	kinds := map[string]bool{}
	for _, w := range p.Wears {
		kinds[w.SensorKind] = true
	}
	if len(kinds) < 2 {
		return ""
	}
	return "These wears mix " + strconv.Itoa(len(kinds)) + " sensor kinds. Two kinds on the same arm can differ by more than a year does: compare numbers within a kind only."
}

// Address is the page of the wear.
func (w PatientWear) Address() string { return wearAddress(w.WearID, Window{}) }

// Ledger is the wear as a pip a day.
func (w PatientWear) Ledger() template.HTML {
	return ledger("ledger-"+strconv.FormatInt(w.WearID, 10), w.Days)
}

// UndoAddress is where a record is taken out again.
func (m Merge) UndoAddress() string { return "/merges/" + strconv.FormatInt(m.ID, 10) + "/undo" }

// Address is where the form is sent.
func (p PatientFormPage) Address() string {
	if p.ID == 0 {
		return "/patients"
	}
	return patientAddress(p.ID)
}

// Preferred is the choice of how the patient likes to be reached.
func (p PatientFormPage) Preferred() Pick {
	return p.Pick("select", "prefers", "Prefers", append([]Option{{Words: "not said"}}, optionsOf("means")...), "")
}

// importWords are what becomes of a line, problems first.
var importOrder = []string{"problem", "changed", "new", "same"}

var importWords = map[string]string{"problem": "Left out", "changed": "Changes", "new": "New", "same": "Already so"}

// Summary says what the list would do.
func (p ImportPage) Summary() string {
	n := map[string]int{}
	for _, r := range p.Rows {
		n[r.Result]++
	}
	return count(len(p.Rows), "line") + ": " + number(n["new"]) + " new, " + number(n["changed"]) + " changed, " + number(n["same"]) + " already so, " + number(n["problem"]) + " left out. Nothing is kept yet."
}

// Imports is how many patients the list would bring or change.
func (p ImportPage) Imports() int {
	n := 0
	for _, r := range p.Rows {
		if r.Result == "new" || r.Result == "changed" {
			n++
		}
	}
	return n
}

// Sorted are the lines with those first that a person should look at.
func (p ImportPage) Sorted() []ImportRow {
	rows := slices.Clone(p.Rows)
	slices.SortStableFunc(rows, func(a, b ImportRow) int {
		return cmp.Compare(slices.Index(importOrder, a.Result), slices.Index(importOrder, b.Result))
	})
	return rows
}

// Words is what becomes of the line.
func (r ImportRow) Words() string { return cmp.Or(importWords[r.Result], sentenceCase(r.Result)) }

// Address is the page of the patient whose record is kept.
func (p MergePage) Address() string { return patientAddress(p.ID) }

// Moves says what would move.
func (p MergePage) Moves() string {
	o := p.Other
	var parts []string
	for _, x := range []struct {
		n    int
		noun string
	}{{o.Wears, "wear"}, {o.Results, "result"}, {o.Recalls, "recall"}, {o.Letters, "letter"}} {
		if x.n > 0 {
			parts = append(parts, count(x.n, x.noun))
		}
	}
	if len(parts) == 0 {
		return "Nothing hangs on the record taken in, so nothing moves."
	}
	return "These move to the record kept: " + strings.Join(parts, ", ") + "."
}
