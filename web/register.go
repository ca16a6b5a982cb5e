package web

import (
	"cmp"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// PatientPage is all that the practice holds of one person. Posts to
// /patients/ID/results as on a wear, /note (note), /recalls (kind, by, note) and
// /take-back (what, item, reason), each with its last part as the Task, and to
// /merges/ID/undo.
type PatientPage struct {
	Layout
	form.Form
	ID      int64
	Patient form.Patient
	Contact form.Contact
	Context wear.Context
	Wears   []PatientWear // newest first
	Results []Result      // newest first
	Recalls []Recall
	Letters []LetterLine
	Merges  []Merge // of other records into this one
	Trail   []Entry // everything ever decided, newest first
}

// PatientWear is one wear in the list of a patient's.
type PatientWear struct {
	WearID     int64
	SensorKind string
	Start, End time.Time
	Headline   string
	Tier       wear.Tier
	Confidence string
	Days       []wear.Day
	Above7_8   wear.Figure // % of believed readings
	Above10    wear.Figure // % of believed readings
	Outcome    string      // code, or "" while on the round
	OutcomeAt  time.Time
}

// PatientFormPage edits or adds a patient. Posts to /patients (new) or
// /patients/ID; [form.ParsePatient] reads it, [form.PatientRecord.Values] fills it.
type PatientFormPage struct {
	Layout
	form.Form
	ID int64 // 0: new
}

// RegisterPage lists the practice's patients.
type RegisterPage struct {
	Layout
	Filter   RegisterFilter
	Rows     []RegisterRow
	Matching int
	Total    int
	PageSize int
}

// RegisterRow is one patient on the register.
type RegisterRow struct {
	ID       int64
	Patient  form.Patient
	Wears    int
	LastWear time.Time // end of the newest wear, zero without one
	Open     int       // wears on the round
	RecallAt time.Time // earliest recall that is not done, or zero
}

// ImportPage reads a delimited list onto the register. Posts to
// /patients/import (list, a file; or text) for a preview and to
// /patients/import/confirm (text) to carry it out.
type ImportPage struct {
	Layout
	form.Form
	Text    string // the list as read; given back with the confirmation
	Dates   string // how its dates are written, as the sender said; likewise
	Rows    []ImportRow
	Ignored []string // headings that nothing was done with
	Done    string   // what was imported, a plain sentence, or ""
}

// ImportRow is one line of a list and what would become of it.
type ImportRow struct {
	Line    int
	Code    string
	Name    string
	Result  string   // "new", "changed", "same" or "problem"
	Changes []string // "birth date: 3 Mar 1961 → 4 Mar 1961"
	Problem string   // plain sentence
}

// MergePage joins two records of one person. Posts code to
// /patients/ID/merge/preview, then other and reason to /patients/ID/merge.
type MergePage struct {
	Layout
	form.Form
	ID     int64
	Keep   form.Patient
	Other  *MergeOther // nil: not chosen yet
	Fields []MergeField
}

// MergeOther is the record that would be taken in.
type MergeOther struct {
	ID                               int64
	Patient                          form.Patient
	Wears, Results, Recalls, Letters int
}

// MergeField is one thing on which two records differ.
type MergeField struct {
	Name  string
	Keep  string // what stands afterwards
	Other string
}

func (PatientPage) view() (set, block string) { return "patient", "page" }

func (PatientFormPage) view() (set, block string) { return "patientform", "page" }

func (RegisterPage) view() (set, block string) { return "register", "page" }

func (ImportPage) view() (set, block string) { return "import", "page" }

func (MergePage) view() (set, block string) { return "merge", "page" }

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
func (p PatientPage) ReachWords() string { return p.Contact.Words() }

// ContextWords are what is on record and changes which rules apply.
func (p PatientPage) ContextWords() []string {
	var out []string
	for _, c := range form.ContextFields {
		if *c.Of(&p.Context) {
			out = append(out, form.Sentence(c.Words))
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
	return wear.MixedKinds
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
func (p PatientFormPage) Preferred() form.Pick {
	return p.Pick("select", "prefers", "Prefers", append([]form.Option{{Words: "not said"}}, form.OptionsOf("means")...), "")
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
func (r ImportRow) Words() string { return cmp.Or(importWords[r.Result], form.SentenceCase(r.Result)) }

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

// Merge is another record of the same person, joined with this one.
type Merge struct {
	ID       int64
	Code     string // of the record that was taken in
	Name     string
	By       string
	At       time.Time
	Undone   bool
	Moved    string // "2 wears, 1 result", or ""
	CanUndo  bool
	UndoNote string // why it cannot be undone, or ""
}
