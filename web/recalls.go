package web

import (
	"cmp"
	"strconv"
	"time"
)

// States are the links of the recalls' filter.
func (p RecallsPage) States() []Choice {
	out := []Choice{{Words: "Open", Address: RecallsFilter{}.Address(), Count: p.Counts[""], Current: p.Filter.State == ""}}
	for _, s := range recallStateOrder {
		out = append(out, Choice{Words: sentenceCase(recallStates[s]), Value: s, Address: RecallsFilter{State: s}.Address(), Count: p.Counts[s], Current: p.Filter.State == s})
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
		s += "of the " + number(p.Matching) + " " + recallStates[p.Filter.State]
	}
	return s + "."
}

// EmptyWords says why the list is empty.
func (p RecallsPage) EmptyWords() string {
	if p.Filter.State == "" {
		return "No recall is open."
	}
	return "No recall is " + recallStates[p.Filter.State] + "."
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
func (r Recall) KindWords() string { return cmp.Or(recallWords[r.Kind], r.Kind, "something") }

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
func (r Recall) ReachWords() string { return r.Contact.words() }

// LastTry is when somebody last tried.
func (r Recall) LastTry() time.Time {
	if len(r.Attempts) == 0 {
		return time.Time{}
	}
	return r.Attempts[0].At
}
