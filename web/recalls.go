package web

import (
	"cmp"
	"strconv"
	"time"

	"wearround/web/form"
)

// RecallsPage lists recalls, overdue first. Posts to /recalls/ID/attempt
// (means, reached, at, note), /recalls/ID/done (reason), /recalls/ID/move (by,
// reason), /recalls/ID/cancel (reason) and /recalls/ID/results (as /wears/ID/results). Task is the last part
// of that address.
type RecallsPage struct {
	Layout
	form.Form
	Filter   RecallsFilter
	Open     int64 // the recall whose forms are shown open, or 0
	Rows     []Recall
	Counts   map[string]int // recalls in each list of [RecallsFilter]
	Matching int
	PageSize int
	Answered *Result // a result just entered, with what it says
	StillDue bool    // that result did not answer all that its recall names
}

// Recall is something promised: a person comes back, or a result does.
type Recall struct {
	ID        int64
	WearID    int64 // 0: of no wear
	PatientID int64
	Patient   form.Patient
	Contact   form.Contact
	Kind      string // "result", "new_wear", "review", "appointment", "urgent", "out" or "decide"
	Due       time.Time
	State     string // "due", "contacted", "done" or "cancelled"
	Version   int64  // of the recall: the forms that end or move it carry it as "version"
	Outcome   string // code of the wear's outcome that asked for it, or ""
	Note      string
	Attempts  []form.Attempt // newest first
	ClosedBy  string         // what closed it, a plain sentence, or ""
	ClosedAt  time.Time
	// Of a sensor that is out:
	Given      time.Time
	SensorKind string
	Serial     string
}

// RecallWork is one recall with the forms of what may be done about it.
type RecallWork struct {
	Layout
	form.Form
	Recall Recall
}

// Work is a recall of the list with its forms.
func (p RecallsPage) Work(r Recall) RecallWork { return RecallWork{p.Layout, p.Form, r} }

// Work is a row of the list with its forms.
func (p OutPage) Work(r Recall) RecallWork { return RecallWork{p.Layout, p.Form, r} }

func (RecallsPage) view() (set, block string) { return "recalls", "page" }

// States are the links of the recalls' filter.
func (p RecallsPage) States() []Choice {
	out := []Choice{{Words: "Open", Address: RecallsFilter{}.Address(), Count: p.Counts[""], Current: p.Filter.State == ""}}
	for _, s := range form.RecallStateOrder {
		out = append(out, Choice{Words: form.SentenceCase(form.RecallStates[s]), Value: s, Address: RecallsFilter{State: s}.Address(), Count: p.Counts[s], Current: p.Filter.State == s})
	}
	return out
}

// Sentence says how much of the list is shown.
func (p RecallsPage) Sentence() string {
	s := number(len(p.Rows)) + " of " + count(max(p.Counts["all"], p.Matching), "recall") + " shown: "
	switch p.Filter.State {
	case "":
		s += "of the " + number(p.Matching) + " that are open, the most overdue first"
	case "all":
		s += "open and closed, the most overdue first"
	default:
		s += "of the " + number(p.Matching) + " " + form.RecallStates[p.Filter.State]
	}
	return s + "."
}

// EmptyWords says why the list is empty.
func (p RecallsPage) EmptyWords() string {
	if p.Filter.State == "" {
		return "No recall is open."
	}
	return "No recall is " + form.RecallStates[p.Filter.State] + "."
}

// Paging is the way through the list's pages.
func (p RecallsPage) Paging() Paging {
	return paging(p.Filter.Page, p.PageSize, p.Matching, func(n int) string {
		return RecallsFilter{State: p.Filter.State, Page: n}.Address()
	})
}

// OpenAddress is this list with the forms of one recall.
func (p RecallsPage) OpenAddress(id int64) string {
	n := strconv.FormatInt(id, 10)
	a := p.Filter.Address()
	if a == "/recalls" {
		return a + "?open=" + n + "#recall-" + n
	}
	return a + "&open=" + n + "#recall-" + n
}

// Open reports whether the recall is still waited for.
func (r Recall) Open() bool { return r.State != "done" && r.State != "cancelled" }

// KindWords says what is to come.
func (r Recall) KindWords() string { return cmp.Or(form.RecallWords[r.Kind], r.Kind, "something") }

// Address is the recall's place on the list.
func (r Recall) Address() string {
	n := strconv.FormatInt(r.ID, 10)
	if !r.Open() {
		return "/recalls?state=all#recall-" + n
	}
	return "/recalls?open=" + n + "#recall-" + n
}

// Task is where a task of the recall is done.
func (r Recall) Task(task string) string {
	return "/recalls/" + strconv.FormatInt(r.ID, 10) + "/" + task
}

// PatientAddress is the page of the patient.
func (r Recall) PatientAddress() string { return patientAddress(r.PatientID) }

// WearAddress is the page of the wear that it began with.
func (r Recall) WearAddress() string { return wearAddress(r.WearID, Window{}) }

// ReachWords says how to reach the patient.
func (r Recall) ReachWords() string { return r.Contact.Words() }

// LastTry is when somebody last tried.
func (r Recall) LastTry() time.Time {
	if len(r.Attempts) == 0 {
		return time.Time{}
	}
	return r.Attempts[0].At
}
