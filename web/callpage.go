package web

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// CallPage is the sheet for a call: it asks about the episodes found. Posts to
// /wears/ID/call; [form.ParseCall] reads the answers.
type CallPage struct {
	Layout
	form.Form
	WearID    int64
	PatientID int64
	Patient   form.Patient
	Contact   form.Contact
	Report    *wear.Report
	Events    []wear.Event // what is written down already
	Version   int64
	Claim     Claim
}

func (CallPage) view() (set, block string) { return "call", "page" }

// WearAddress is the page of the wear that the call is about.
func (p CallPage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// Address is where the sheet is sent.
func (p CallPage) Address() string { return taskAddress(p.WearID, "call") }

// AttemptAddress is the wear's page with the form for a try that failed.
func (p CallPage) AttemptAddress() string { return p.WearAddress() + "?open=attempt#attempt" }

// ReachWords says how to reach the patient.
func (p CallPage) ReachWords() string { return p.Contact.Words() }

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
	Felt     form.Pick
	What     form.Pick
	Words    form.Input
	When     form.Input
	Food     form.Pick
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
	if len(chosen) > form.MostAsked {
		dips := chosen[min(len(highs), 1):]
		slices.SortStableFunc(dips, byExtreme)
		chosen = chosen[:form.MostAsked]
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
	what, extreme, symptoms := "Below 3.9", "lowest ", form.FeltWords
	if e.Kind == wear.EpisodeAbove13_9 {
		what, extreme, symptoms = "Above 13.9", "highest ", form.ThirstWords
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
	a.Felt = p.Pick("radio", "felt-"+id, "Felt anything?", form.OptionsOf("yes, no or unsure"))
	a.What = p.Pick("checkbox", "what-"+id, "What?", form.Options(symptoms, nil))
	a.Words = p.Input("text", "words-"+id, "In the patient’s own words", "most="+strconv.Itoa(form.MostLine))
	a.When = p.Input("datetime-local", "when-"+id, "When", "value="+p.moment(e.From))
	a.Food = p.Pick("radio", "food-"+id, "Better after food or a sweet drink?", form.OptionsOf("yes, no or unsure"))
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
	Kind                form.Pick
	What, When, Minutes form.Input
}

// Extra are the lines for what else is to be written down.
func (p CallPage) Extra() []EventLine {
	kinds := []form.Option{
		{Value: "symptom", Words: "symptom"}, {Value: "meal", Words: "meal"}, {Value: "exercise", Words: "exercise"},
		{Value: "medicine", Words: "medicine"}, {Value: "sleep", Words: "sleep"}, {Value: "note", Words: "other"},
	}
	out := make([]EventLine, form.CallRows)
	for i := range out {
		name := "event-" + strconv.Itoa(i+1)
		out[i] = EventLine{
			Kind:    p.Pick("select", name+"-kind", "Sort", kinds, "symptom"),
			What:    p.Input("text", name+"-what", "What", "most="+strconv.Itoa(form.MostLine)),
			When:    p.Input("datetime-local", name+"-when", "When"),
			Minutes: p.Input("text", name+"-minutes", "Minutes", "mode=numeric", "most=4"),
		}
	}
	return out
}
