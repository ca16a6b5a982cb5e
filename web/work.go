package web

import (
	"cmp"
	"math"
	"strconv"
	"time"

	"wearround/web/form"
	"wearround/web/letter"
)

// Claim says who is working on a wear. The zero Claim is nobody.
type Claim struct {
	By    string // display name, or ""
	Mine  bool
	Until time.Time // end of the lease
}

// Entry is one line of what was done, in plain sentences.
type Entry struct {
	At   time.Time
	By   string // display name, or "the program"
	Text string
}

// Work is what a person may do with a wear and what was done. A WearPage
// without one shows the evidence alone. It posts to /wears/ID/claim, /release,
// /take-over (reason), /hand-over (to, reason, by), /attempt (means, reached, at, next_try, note), /overrule
// (from, to, believe, reason), /fingerstick (at, value, unit), /results (test,
// value, unit, taken, note), /note (note), /zone (zone), /reopen (reason) and /take-back (what,
// item, reason), and to /outcomes/ID/undo. The file form/work.go reads each.
type Work struct {
	form.Form       // Task is the last part of the address it posts to: "take-over", "hand-over", "attempt", "overrule", "fingerstick", "results", "note", "zone", "move" or "reopen", or as [form.Taken.Task]
	Version   int64 // of the wear: each form carries it as "version"
	Claim     Claim
	Attempts  []form.Attempt // to reach the patient, newest first
	NextTry   time.Time
	Handed    string // to whom it was handed over, who have not taken it yet, by when and why: a sentence, or ""
	Overrules []Overrule
	Added     []Added
	Results   []Result
	Letters   []LetterLine
	Outcome   *Recorded   // nil while the wear is on the round
	Before    string      // what the place was before the last answers: "This month, 30.4 points", or ""
	Next      string      // address of the next wear of Round after an outcome, or ""
	Round     RoundFilter // by which the reader looked at the round last
	PatientID int64
	Trail     []Entry            // newest first
	Answered  map[int64]Answered // of calls, by the start of the episode asked about
}

// Overrule is a person's word on a stretch of readings.
type Overrule struct {
	ID       int64
	From, To time.Time
	Believe  bool
	Reason   string
	By       string
	At       time.Time
}

// Recorded is the outcome of a wear.
type Recorded struct {
	ID        int64
	Code      string // see [form.OutcomeChoice]
	Words     string // as the button said it
	By        string
	At        time.Time
	Note      string
	Follows   string    // what must follow, a plain sentence, or ""
	UndoUntil time.Time // zero where it can no longer be undone
	Corrected bool      // a later one stands in its place
}

// Result is one laboratory result, or several values of one.
type Result struct {
	ID       int64
	WearID   int64  // 0: of no wear
	Test     string // as [form.TestWords] has it
	Value    string // as reported, "<" or ">" before it where the report has one
	Unit     string // as reported
	TakenAt  time.Time
	Class    string // in words: "in the diabetes range"
	Criteria string // name of the criteria set
	Confirm  string // the confirmatory rule in words, or ""
	Note     string
	By       string
	At       time.Time
	From     string // name of the message that it came with, or ""
}

// LetterLine is one letter in a list.
type LetterLine struct {
	ID   int64
	Kind letter.Kind
	At   time.Time
	By   string
	How  string
}

// Added is an event that a person added to a wear, or an answer of a call.
type Added struct {
	ID    int64 // of the event or the call
	Asked int64 // moment that the answer is about; 0 for an event
	Words string
	By    string
	At    time.Time
}

// Told is a trail on a page's clock.
type Told struct {
	Layout
	Trail []Entry
}

// Tell puts a trail on the page's clock.
func (l Layout) Tell(trail []Entry) Told { return Told{l, trail} }

// Tried are attempts on a page's clock.
type Tried struct {
	Layout
	Rows []form.Attempt
}

// Tries puts attempts on the page's clock.
func (l Layout) Tries(rows []form.Attempt) Tried { return Tried{l, rows} }

// Lab are a patient's results on a page's clock.
type Lab struct {
	Layout
	form.Form
	Address string // of the patient
	Rows    []Result
}

// Lab puts the wear's results on the page's clock.
func (p WearPage) Lab() Lab {
	return Lab{p.AtHome(), p.Work.Form, p.Work.PatientAddress(), p.Work.Results}
}

// Lab puts the patient's results on the page's clock.
func (p PatientPage) Lab() Lab { return Lab{p.Layout, p.Form, p.Address(), p.Results} }

// ClockSeconds writes the time of day with its seconds: "18:15:30".
func (l Layout) ClockSeconds(t time.Time) string { return l.in(t).Format("15:04:05") }

// moment writes a time as a browser's field takes it.
func (l Layout) moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return l.in(t).Format(form.MomentLayout)
}

// TaskAddress is where a task of the wear is done.
func (p WearPage) TaskAddress(task string) string { return taskAddress(p.WearID, task) }

func taskAddress(wearID int64, task string) string {
	return wearAddress(wearID, Window{}) + "/" + task
}

// PlaceNow is the wear's place in a few words.
func (p WearPage) PlaceNow() string {
	if p.Report == nil {
		return "not worked out yet"
	}
	return p.Report.Priority.Tier.Words() + ", " + points(p.Report.Priority.Score) + " points"
}

// CanUndo reports whether the outcome can still be taken back.
func (p WearPage) CanUndo() bool {
	o := p.Work.Outcome
	return o != nil && o.UndoUntil.After(p.Now)
}

// UndoSeconds is how long the outcome can still be taken back: counted from when
// the page was made, for the clock of the desk it is read at may be wrong.
func (p WearPage) UndoSeconds() int {
	return int(math.Ceil(p.Work.Outcome.UndoUntil.Sub(p.Now).Seconds()))
}

// UndoAddress is where the outcome is taken back.
func (r Recorded) UndoAddress() string { return "/outcomes/" + strconv.FormatInt(r.ID, 10) + "/undo" }

// PatientAddress is the page of the wear's patient.
func (w Work) PatientAddress() string { return patientAddress(w.PatientID) }

// FirstSuspect and LastSuspect fill the form that overrules with the first
// stretch that the engine doubts: the likeliest one to be meant.
func (p WearPage) FirstSuspect() string {
	if p.Report == nil || len(p.Report.Suspect) == 0 {
		return "value="
	}
	return "value=" + p.moment(p.Report.Suspect[0].From)
}

// LastSuspect is the end of that stretch.
func (p WearPage) LastSuspect() string {
	if p.Report == nil || len(p.Report.Suspect) == 0 {
		return "value="
	}
	return "value=" + p.moment(p.Report.Suspect[0].To)
}

// Beliefs are what can be said of a stretch.
func (p WearPage) Beliefs() []form.Option {
	return []form.Option{{Value: "yes", Words: "to be believed"}, {Value: "no", Words: "not to be believed"}}
}

// TestWords is the test in words.
func (r Result) TestWords() string { return form.SentenceCase(cmp.Or(form.TestWords[r.Test], r.Test)) }

// Address is the page of the letter.
func (l LetterLine) Address() string { return "/letters/" + strconv.FormatInt(l.ID, 10) }
