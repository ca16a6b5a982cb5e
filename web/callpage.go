package web

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"
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
	Answered  map[int64]Answered // what was said in calls before, by the start of the episode
	Raised    []Raised           // boxes ticked before
}

// Answered is an answer that is on record.
type Answered struct {
	form.Answer
	By string
	On time.Time
}

// Raised is a box that was ticked on a call.
type Raised struct {
	ID   int64
	Code string
	By   string
	At   time.Time
}

// Words are those of the box.
func (r Raised) Words() string { return wear.RedFlagWords(r.Code) }

// Do is what to do this minute.
func (r Raised) Do() string {
	for _, k := range wear.RedFlagKinds() {
		if k.Code == r.Code {
			return k.Do
		}
	}
	return ""
}

// RedFlags are the boxes that are asked first on every call.
func (p CallPage) RedFlags() []wear.RedFlagKind { return wear.RedFlagKinds() }

// RedFlagAddress is where the boxes are sent.
func (p CallPage) RedFlagAddress() string { return taskAddress(p.WearID, "red-flags") }

// RenewAddress is where a sheet that is in use keeps the wear its caller's.
func (p CallPage) RenewAddress() string { return taskAddress(p.WearID, "renew") }

// RaisedBack is the form that takes a box back.
func (p CallPage) RaisedBack(r Raised) TakeBack {
	return takeBack(p.Layout, p.Form, p.WearAddress(), form.Taken{What: form.TakeRedFlag, ID: r.ID}, r.Words())
}

// answeredWords is an answer in a few words: "nothing felt", "felt: shaky, better
// after food".
func answeredWords(a form.Answer) string {
	switch a.Felt {
	case "no":
		return "nothing felt"
	case "yes":
		s := "felt: " + a.Words
		if a.Relieved == "yes" {
			s += ", better after food"
		}
		return s
	}
	return "not sure"
}

// Contradicts refuses that nothing was felt where a symptom is written down for
// then: one of the two is wrong, and a person says which.
func (p CallPage) Contradicts(answers []form.Answer) []form.FieldError {
	var out []form.FieldError
	for _, ask := range p.Asks() {
		for _, a := range answers {
			if a.Asked == ask.Asked && a.Felt == "no" && ask.written != "" {
				out = append(out, form.FieldError{Field: "felt-" + strconv.Itoa(ask.N), Text: "Written down for then is “" + ask.written + "”. Choose yes or not sure; if the entry is wrong, take it back on the page of the wear first."})
			}
		}
	}
	return out
}

// NewAnswers leaves out what is on record already just so, since the sheet opens
// with what was said.
func (p CallPage) NewAnswers(answers []form.Answer) []form.Answer {
	return slices.DeleteFunc(slices.Clone(answers), func(a form.Answer) bool { return p.Answered[a.Asked].Answer == a })
}

// Others answers, for dips at which nothing is written down and which have no
// answer of their own, on this sheet or before, that nothing was felt: for all
// of them, those too that a call cannot go through one by one.
func (p CallPage) Others(answers []form.Answer) []form.Answer {
	var out []form.Answer
	for _, e := range p.open() {
		at := e.From.Unix()
		if !slices.ContainsFunc(answers, func(a form.Answer) bool { return a.Asked == at }) {
			out = append(out, form.Answer{Asked: at, Felt: "no"})
		}
	}
	return out
}

// open are the dips that nobody has answered for and at which nothing is written down.
func (p CallPage) open() []wear.Episode {
	if p.Report == nil {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(p.Report.Episodes), func(e wear.Episode) bool {
		return e.Kind != wear.EpisodeBelow3_9 || p.Answered[e.From.Unix()].Felt != "" || len(p.writtenDown(e)) > 0
	})
}

// NoneLabel is what one tick says of all dips that are open; "" where there are
// fewer than two.
func (p CallPage) NoneLabel() string {
	n := len(p.open())
	if n < 2 {
		return ""
	}
	return "Nothing was felt at any of the " + number(n) + " dips below 3.9 in these days, but for what is answered below"
}

// said gives the value that a field of the sheet opens with: what was typed, or
// what was said in a call before.
func (p CallPage) said(a Answered, name string) form.Form {
	if len(p.Values) > 0 || a.Felt == "" {
		return p.Form
	}
	f := p.Form
	f.Values = url.Values{}
	set := func(field, value string) {
		if value != "" {
			f.Values.Set(field+name, value)
		}
	}
	set("felt-", a.Felt)
	set("food-", a.Relieved)
	own := a.Words
	for _, w := range slices.Concat(form.FeltWords, form.ThirstWords) {
		if rest, ok := strings.CutPrefix(own, w); ok && (rest == "" || strings.HasPrefix(rest, ", ")) {
			f.Values.Add("what-"+name, w)
			own = strings.TrimPrefix(rest, ", ")
		}
	}
	set("words-", own)
	if a.At != 0 {
		set("when-", p.moment(time.Unix(a.At, 0)))
	}
	return f
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
	written  string // symptom on record for then, or ""
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
		a.written = cmp.Or(e.Label, "a symptom, without words")
		a.Evidence += " Written down for then: " + cmp.Or(e.Label, "a symptom, without words") + ", " + p.Clock(time.Unix(e.At, 0)) + "."
	}
	before := p.Answered[a.Asked]
	if before.Felt != "" {
		a.Evidence += " Asked on " + p.AtHome().Day(before.On) + " by " + before.By + ": " + answeredWords(before.Answer) + "."
	}
	f := p.said(before, id)
	a.Felt = f.Pick("radio", "felt-"+id, "Felt anything?", form.OptionsOf("yes, no or unsure"))
	a.What = f.Pick("checkbox", "what-"+id, "What?", form.Options(symptoms, nil))
	a.Words = f.Input("text", "words-"+id, "In the patient’s own words", "most="+strconv.Itoa(form.MostLine))
	a.When = f.Input("datetime-local", "when-"+id, "When", "value="+p.moment(e.From))
	a.Food = f.Pick("radio", "food-"+id, "Better after food or a sweet drink?", form.OptionsOf("yes, no or unsure"))
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
