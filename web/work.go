package web

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"time"

	"wearround/worker/wear"
)

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
	Rows []Attempt
}

// Tries puts attempts on the page's clock.
func (l Layout) Tries(rows []Attempt) Tried { return Tried{l, rows} }

// Lab are a patient's results on a page's clock.
type Lab struct {
	Layout
	Form
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
	return l.in(t).Format(momentLayout)
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
func (p WearPage) Beliefs() []Option {
	return []Option{{Value: "yes", Words: "to be believed"}, {Value: "no", Words: "not to be believed"}}
}

// TestWords is the test in words.
func (r Result) TestWords() string { return sentenceCase(cmp.Or(testWords[r.Test], r.Test)) }

// Address is the page of the letter.
func (l LetterLine) Address() string { return "/letters/" + strconv.FormatInt(l.ID, 10) }

// WearAddress is the page of the wear that the call is about.
func (p CallPage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// Address is where the sheet is sent.
func (p CallPage) Address() string { return taskAddress(p.WearID, "call") }

// AttemptAddress is the wear's page with the form for a try that failed.
func (p CallPage) AttemptAddress() string { return p.WearAddress() + "?open=attempt#attempt" }

// ReachWords says how to reach the patient.
func (p CallPage) ReachWords() string { return p.Contact.words() }

func (c Contact) words() string {
	s := ""
	add := func(t string) {
		if s != "" {
			s += " · "
		}
		s += t
	}
	if c.Phone != "" {
		add("Telephone " + c.Phone)
	}
	if c.Email != "" {
		add(c.Email)
	}
	if w := meansWords[c.Prefers]; w != "" {
		add("prefers " + w)
	}
	if c.Note != "" {
		add(c.Note)
	}
	if s == "" {
		return "No telephone number is on the register."
	}
	return s
}

// Symptoms are those written down already, as sentences.
func (p CallPage) Symptoms() []string {
	var out []string
	for _, e := range p.Events {
		if e.Kind == wear.Symptom {
			out = append(out, p.When(time.Unix(e.At, 0))+": "+cmp.Or(e.Label, "a symptom, without words"))
		}
	}
	return out
}

// Ask is one question of the call sheet: did the patient feel anything in an
// episode?
type Ask struct {
	N        int // place on the sheet, 1 first
	Asked    int64
	Title    string
	Evidence string
	Felt     Pick
	What     Pick
	Words    Input
	When     Input
	Food     Pick
}

// Asks are the questions about the episodes found, in the order of time: the
// dips, and of the very high episodes the highest, because they are felt alike.
// Where a wear has more dips than a call can go through, the lowest are kept.
func (p CallPage) Asks() []Ask {
	if p.Report == nil {
		return nil
	}
	var chosen, highs []wear.Episode
	for _, e := range p.Report.Episodes {
		switch e.Kind {
		case wear.EpisodeBelow3_9:
			chosen = append(chosen, e)
		case wear.EpisodeAbove13_9:
			highs = append(highs, e)
		}
	}
	byExtreme := func(a, b wear.Episode) int { return cmp.Compare(a.ExtremeMmol.V, b.ExtremeMmol.V) }
	if len(highs) > 0 {
		chosen = slices.Insert(chosen, 0, slices.MaxFunc(highs, byExtreme))
	}
	if len(chosen) > mostAsked {
		dips := chosen[min(len(highs), 1):]
		slices.SortStableFunc(dips, byExtreme)
		chosen = chosen[:mostAsked]
	}
	slices.SortStableFunc(chosen, func(a, b wear.Episode) int { return a.From.Compare(b.From) })
	out := make([]Ask, len(chosen))
	for i, e := range chosen {
		out[i] = p.ask(i+1, e, len(highs))
	}
	return out
}

// swingHours is how long after a rise above 10 a dip is called a swing here;
// the engine flags by the protocol's own number.
const swingHours = 4

func (p CallPage) ask(n int, e wear.Episode, highs int) Ask {
	id := strconv.Itoa(n)
	a := Ask{N: n, Asked: e.From.Unix(), Title: p.ShortDay(e.From) + ", " + p.Clock(e.From) + ": did you feel anything?"}
	what, extreme, symptoms := "Below 3.9", "lowest ", feltWords
	if e.Kind == wear.EpisodeAbove13_9 {
		what, extreme, symptoms = "Above 13.9", "highest ", thirstWords
	}
	a.Evidence = what + " for " + length(e.Minutes) + ", " + extreme + e.ExtremeMmol.Fixed(1)
	if e.After != "" {
		a.Evidence += ", after " + e.After
	}
	if e.Kind == wear.EpisodeAbove13_9 && highs > 1 {
		a.Evidence += "; the highest of " + number(highs) + " such times"
	}
	if rise, ok := p.riseBefore(e); ok {
		a.Evidence += ", after a rise to " + rise.ExtremeMmol.Fixed(1)
	}
	a.Evidence += "."
	for _, e := range p.writtenDown(e) {
		a.Evidence += " Written down for then: " + cmp.Or(e.Label, "a symptom, without words") + ", " + p.Clock(time.Unix(e.At, 0)) + "."
	}
	a.Felt = p.Pick("radio", "felt-"+id, "Felt anything?", optionsOf("yes, no or unsure"))
	a.What = p.Pick("checkbox", "what-"+id, "What?", options(symptoms, nil))
	a.Words = p.Input("text", "words-"+id, "In the patient’s own words", "most="+strconv.Itoa(mostLine))
	a.When = p.Input("datetime-local", "when-"+id, "When", "value="+p.moment(e.From))
	a.Food = p.Pick("radio", "food-"+id, "Better after food or a sweet drink?", optionsOf("yes, no or unsure"))
	return a
}

// nearMinutes is how far from an episode a symptom is shown beside it here; the
// engine matches by the protocol's own numbers.
const nearMinutes = 20

// writtenDown are the symptoms that are on record for an episode already, so
// that nobody writes them down twice.
func (p CallPage) writtenDown(e wear.Episode) []wear.Event {
	from, to := e.From.Add(-nearMinutes*time.Minute), e.To.Add(nearMinutes*time.Minute)
	var out []wear.Event
	for _, x := range p.Events {
		if at := time.Unix(x.At, 0); x.Kind == wear.Symptom && !at.Before(from) && !at.After(to) {
			out = append(out, x)
		}
	}
	return out
}

// riseBefore is the episode above 10 that a dip follows within a few hours.
func (p CallPage) riseBefore(dip wear.Episode) (wear.Episode, bool) {
	if dip.Kind != wear.EpisodeBelow3_9 {
		return wear.Episode{}, false
	}
	for _, e := range slices.Backward(p.Report.Episodes) {
		since := dip.From.Sub(e.To)
		if e.Kind == wear.EpisodeAbove10 && since >= 0 && since <= swingHours*time.Hour {
			return e, true
		}
	}
	return wear.Episode{}, false
}

// EventLine is one line of the sheet for something no episode asks about.
type EventLine struct {
	Kind                Pick
	What, When, Minutes Input
}

// Extra are the lines for what else is to be written down.
func (p CallPage) Extra() []EventLine {
	kinds := []Option{
		{Value: "symptom", Words: "symptom"}, {Value: "meal", Words: "meal"}, {Value: "exercise", Words: "exercise"},
		{Value: "medicine", Words: "medicine"}, {Value: "sleep", Words: "sleep"}, {Value: "note", Words: "other"},
	}
	out := make([]EventLine, callRows)
	for i := range out {
		name := "event-" + strconv.Itoa(i+1)
		out[i] = EventLine{
			Kind:    p.Pick("select", name+"-kind", "Sort", kinds, "symptom"),
			What:    p.Input("text", name+"-what", "What", "most="+strconv.Itoa(mostLine)),
			When:    p.Input("datetime-local", name+"-when", "When"),
			Minutes: p.Input("text", name+"-minutes", "Minutes", "mode=numeric", "most=4"),
		}
	}
	return out
}

// WearAddress is the page of the wear that the outcome is about.
func (p OutcomePage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// Address is where the outcome is sent.
func (p OutcomePage) Address() string { return taskAddress(p.WearID, "outcome") }

// Way is one outcome as the form offers it.
type Way struct {
	OutcomeChoice
	ID     string
	Chosen bool
	By     *Input // by what day something is to be back, or nil
	Reason *Input // nil where none can be given
}

// byWords ask for the day of a recall, by its kind.
var byWords = map[string]string{
	"result": "Result to be back by", "new_wear": "New wear to be in by", "review": "Look at it again on",
	"appointment": "Day of the appointment", "urgent": "Make sure by then that the patient was seen",
}

// Barred reports whether some outcome is not for this person to record.
func (p OutcomePage) Barred() bool {
	return slices.ContainsFunc(p.Choices, func(c OutcomeChoice) bool { return c.Refused != "" })
}

// Ways are the outcomes with the fields that each needs.
func (p OutcomePage) Ways() []Way {
	out := make([]Way, len(p.Choices))
	for i, c := range p.Choices {
		w := Way{OutcomeChoice: c, ID: "outcome", Chosen: p.Value("outcome") == c.Code}
		if i > 0 { // the first carries the id that an error points to
			w.ID += "-" + strconv.Itoa(i+1)
		}
		if c.Recall != "" {
			proposed := "value="
			if !c.RecallBy.IsZero() && !c.Optional {
				proposed += p.in(c.RecallBy).Format(time.DateOnly)
			}
			hint := ""
			if c.Optional {
				hint = "hint=May be left out"
				if !c.RecallBy.IsZero() {
					hint += "; " + p.in(c.RecallBy).Format("2 January 2006") + " is usual"
				}
			} else {
				hint = "hint=Proposed; change it where another day is right"
				if c.RecallBy.IsZero() {
					hint = "hint="
				}
			}
			by := p.Input("date", c.Code+"-by", cmp.Or(byWords[c.Recall], "To be back by"), proposed, hint)
			w.By = &by
		}
		label := "Note"
		if c.Asks != "" {
			label = c.Asks
		}
		reason := p.Input("textarea", c.Code+"-reason", label, "most="+strconv.Itoa(mostNote), "rows=2")
		w.Reason = &reason
		out[i] = w
	}
	return out
}
