package form

import (
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"wearround/worker/wear"
)

// ParseZone reads zone: the name of a time zone, or nothing for the practice's.
// Whether there is such a zone is for the store to say.
func ParseZone(v url.Values) (string, []FieldError) {
	f := &fields{Values: v}
	return f.text("zone", MostLine), f.errors
}

// Patient is who a wear belongs to, as far as a page shows it.
type Patient struct {
	Code      string // the practice's own code
	Name      string // may be empty
	BirthDate string // 2006-01-02, or ""
}

// Called is what the patient is called at work: the name, or the code.
func (p Patient) Called() string {
	switch {
	case p.Name != "":
		return p.Name
	case p.Code != "":
		return "Patient " + p.Code
	}
	return "Patient not known"
}

// Attempt is one try to reach a patient.
type Attempt struct {
	At      time.Time
	By      string
	Means   string // "telephone", "message", "mail", "post" or "in_person"
	Reached bool
	Note    string
	NextTry time.Time // midnight of the day to try again, or zero
}

// OutcomeChoice is one outcome that may be recorded, and what must follow it.
type OutcomeChoice struct {
	// Code is "told_well", "advice", "tests_ordered", "appointment",
	// "urgent_contact", "sensor_replaced", "wear_again", "could_not_reach" or
	// "off_pathway".
	Code     string
	Words    string    // as the button says it
	Follows  string    // what must follow, one plain sentence
	Recall   string    // kind of the recall that follows, or ""
	RecallBy time.Time // proposed; zero where there is no sensible guess
	Optional bool      // the recall may be left out
	Asks     string    // what the reason is to say; "" where no reason is needed
	Refused  string    // why this person cannot record it now, a plain sentence, or ""
}

// Contact is how a patient can be reached.
type Contact struct {
	Phone   string
	Email   string
	Address string // several lines
	Prefers string // a means as in [Attempt], or ""
	Note    string // "rings back after six"
}

// What a person entered and may take back.
const (
	TakeOverrule = "overrule"
	TakeEvent    = "event"
	TakeAnswer   = "answer" // of a call
	TakeResult   = "result"
	TakeRead     = "read"    // what somebody said that words are
	TakeRedFlag  = "redflag" // a box ticked on a call
)

// Taken is what a form asks to take back.
type Taken struct {
	What   string
	ID     int64
	Asked  int64 // of an answer: the moment that it is about
	Reason string
}

// Task names the form among those of its page.
func (t Taken) Task() string {
	task := t.What + "-" + strconv.FormatInt(t.ID, 10)
	if t.Asked != 0 {
		task += "-" + strconv.FormatInt(t.Asked, 10)
	}
	return task
}

// ParseTakeBack reads what, item, asked and reason.
func ParseTakeBack(v url.Values) (Taken, []FieldError) {
	f := &fields{Values: v}
	t := Taken{What: f.one("what", "Say what is to be taken back.", TakeOverrule, TakeEvent, TakeAnswer, TakeResult, TakeRead, TakeRedFlag)}
	var err error
	if t.ID, err = strconv.ParseInt(v.Get("item"), 10, 64); err != nil {
		f.refuse("", "Look at the page again: what is to be taken back is not there.")
	}
	if t.What == TakeAnswer {
		if t.Asked, err = strconv.ParseInt(v.Get("asked"), 10, 64); err != nil {
			f.refuse("", "Look at the page again: the answer is not there.")
		}
	}
	t.Reason = f.reason("Say why it is taken back.")
	return t, f.errors
}

// Words say how to reach the patient.
func (c Contact) Words() string {
	if c.Phone == "" {
		return c.Rest()
	}
	return strings.TrimSpace("Telephone " + c.Phone + " " + c.Rest())
}

// Dial is the telephone number as a link that rings it (RFC 3966): its digits,
// and a plus sign before them.
func (c Contact) Dial() template.URL {
	return template.URL("tel:" + strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' || r == '+' {
			return r
		}
		return -1
	}, c.Phone))
}

// Rest is the same without the telephone number: "· prefers email".
func (c Contact) Rest() string {
	var parts []string
	if c.Email != "" {
		parts = append(parts, c.Email)
	}
	if w := MeansWords[c.Prefers]; w != "" {
		parts = append(parts, "prefers "+w)
	}
	if c.Note != "" {
		parts = append(parts, c.Note)
	}
	switch s := strings.Join(parts, " · "); {
	case c.Phone == "" && s == "":
		return "No telephone number is on the register."
	case c.Phone == "" || s == "":
		return s
	default:
		return "· " + s
	}
}

// Lengths of what may be typed, in characters.
const (
	MostLine = 200
	MostNote = 2000
)

// FeltWords are the symptoms as a call asks for them: plain words of our own,
// with the free text kept beside them.
var FeltWords = []string{
	"shaky", "sweaty", "racing heart", "dizzy", "confused", "hungry", "headache", "very tired", "fainted",
}

// ThirstWords are asked about beside a very high episode.
var ThirstWords = []string{"very thirsty", "passing a lot of urine", "losing weight", "blurred vision"}

// Call is what a patient said on the telephone.
type Call struct {
	Version int64
	Answers []Answer     // one for each episode asked about and answered
	None    bool         // nothing was felt at any dip that has no answer of its own
	Events  []wear.Event // further things that were not written down before
	Note    string
}

// Answer is what was said about one episode.
type Answer struct {
	Asked    int64  // start of the episode, in seconds since 1970-01-01 UTC
	Felt     string // "yes", "no" or "unsure"
	At       int64  // when it was felt, in the same seconds; 0 unless felt
	Words    string // what was felt, or ""
	Relieved string // by food: "yes", "no", "unsure" or ""
}

// MostAsked is how many episodes a call sheet asks about.
const MostAsked = 12

// ParseCall reads the call sheet of a wear that lasted from start to end. For
// the Nth episode asked about: asked-N (its start), felt-N, what-N (several),
// words-N, when-N and food-N; none for the dips without an answer; for further
// things event-N-kind, event-N-what, event-N-when and event-N-minutes; and note.
func ParseCall(v url.Values, zone *time.Location, start, end time.Time) (Call, []FieldError) {
	f := &fields{Values: v, zone: zone}
	c := Call{Version: version(v), Note: f.text("note", MostNote)}
	for i := 1; i <= MostAsked; i++ {
		if a, ok := answer(f, strconv.Itoa(i), start, end); ok {
			c.Answers = append(c.Answers, a)
		}
	}
	for i := 1; i <= CallRows; i++ {
		if e, ok := addedEvent(f, "event-"+strconv.Itoa(i), start, end); ok {
			c.Events = append(c.Events, e)
		}
	}
	c.None = f.Get("none") == "yes"
	if len(f.errors) == 0 && len(c.Events) == 0 && len(c.Answers) == 0 && c.Note == "" && !c.None {
		f.refuse("", "Nothing is written on the sheet yet. Answer at least one question, or go back to the wear.")
	}
	return c, f.errors
}

func answer(f *fields, n string, start, end time.Time) (Answer, bool) {
	asked, err := strconv.ParseInt(f.Get("asked-"+n), 10, 64)
	if err != nil {
		return Answer{}, false
	}
	a := Answer{
		Asked: asked, Felt: f.one("felt-"+n, "", "yes", "no", "unsure"), Words: felt(f, n),
		Relieved: f.one("food-"+n, "", "yes", "no", "unsure"),
	}
	switch {
	case a.Felt == "" && a.Words == "" && a.Relieved == "":
		return Answer{}, false
	case a.Felt == "":
		f.refuse("felt-"+n, "Say whether anything was felt, because something is written beside it.")
	case a.Felt != "yes":
		if a.Words != "" {
			f.refuse("felt-"+n, "What was felt is written down: choose yes, or take it out.")
		}
		a.Relieved = ""
	case a.Words == "":
		f.refuse("what-"+n, "Say what was felt: tick a word or write it.")
	default:
		a.At = f.within("when-"+n, "Say when it was felt; the time of the episode is a fair answer.", start, end).Unix()
	}
	return a, true
}

// CallRows is how many things a sheet can add that no episode asks about.
const CallRows = 4

// felt joins the ticked words and the patient's own.
func felt(f *fields, id string) string {
	var words []string
	for _, w := range slices.Concat(FeltWords, ThirstWords) {
		if slices.Contains(f.Values["what-"+id], w) {
			words = append(words, w)
		}
	}
	if own := f.text("words-"+id, MostLine); own != "" {
		words = append(words, own)
	}
	return strings.Join(words, ", ")
}

func addedEvent(f *fields, name string, start, end time.Time) (wear.Event, bool) {
	what := f.text(name+"-what", MostLine)
	if what == "" && f.Get(name+"-when") == "" {
		return wear.Event{}, false
	}
	e := wear.Event{Label: what, Minutes: f.minutes(name + "-minutes")}
	e.Kind = wear.EventKind(f.one(name+"-kind", "Say what sort of thing it was.", string(wear.Symptom), string(wear.Meal), string(wear.Exercise), string(wear.Medicine), string(wear.Sleep), string(wear.Note)))
	if what == "" {
		f.refuse(name+"-what", "Write what it was.")
	}
	e.At = f.within(name+"-when", "Say when it was.", start, end).Unix()
	return e, true
}

// Decision is an outcome about to be recorded.
type Decision struct {
	Version  int64
	Code     string
	Reason   string
	RecallBy time.Time // midnight of the day, or zero
}

// ParseOutcome reads outcome, and for the outcome CODE chosen CODE-by and
// CODE-reason.
func ParseOutcome(v url.Values, zone *time.Location, now time.Time, choices []OutcomeChoice) (Decision, []FieldError) {
	f := &fields{Values: v, zone: zone}
	d := Decision{Version: version(v)}
	i := slices.IndexFunc(choices, func(c OutcomeChoice) bool { return c.Code == v.Get("outcome") })
	if i < 0 {
		f.refuse("outcome", "Choose the outcome.")
		return d, f.errors
	}
	c := choices[i]
	d.Code = c.Code
	if c.Refused != "" {
		f.refuse("outcome", Sentence(c.Refused))
		return d, f.errors
	}
	d.Reason = f.text(c.Code+"-reason", MostNote)
	if d.Reason == "" && c.Asks != "" {
		f.refuse(c.Code+"-reason", Sentence(c.Asks)+" Write it, so that a colleague understands it next year.")
	}
	if c.Recall != "" {
		say := "Say by what day it is to be back."
		if c.Optional {
			say = ""
		}
		d.RecallBy = f.notBefore(c.Code+"-by", say, midnight(now.In(zone)))
	}
	return d, f.errors
}

func (f *fields) notBefore(name, say string, first time.Time) time.Time {
	t := f.day(name, say)
	if !t.IsZero() && t.Before(first) {
		f.refuse(name, "This day has passed: choose today or later.")
		return time.Time{}
	}
	return t
}

func midnight(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, t.Location())
}

// Overrule is a person's word on a stretch of readings.
type Overrule struct {
	Version  int64
	From, To time.Time
	Believe  bool
	Reason   string
}

// ParseOverrule reads from, to, believe ("yes" or "no") and reason.
func ParseOverrule(v url.Values, zone *time.Location, start, end time.Time) (Overrule, []FieldError) {
	f := &fields{Values: v, zone: zone}
	o := Overrule{
		Version: version(v),
		From:    f.within("from", "Say from when.", start, end),
		To:      f.within("to", "Say to when.", start, end.Add(time.Minute)),
		Believe: f.one("believe", "Say whether these readings are to be believed.", "yes", "no") == "yes",
		Reason:  f.reason("Say why, so that a colleague understands it next year."),
	}
	if !o.From.IsZero() && !o.To.IsZero() && o.To.Before(o.From) {
		f.refuse("to", "This is before the beginning.")
	}
	return o, f.errors
}

// ParseFingerstick reads at, value and unit.
func ParseFingerstick(v url.Values, zone *time.Location, start, end time.Time) (wear.Event, []FieldError) {
	f := &fields{Values: v, zone: zone}
	at := f.within("at", "Say when the finger was pricked.", start, end).Unix()
	bound, _, num, scale := f.number("value", "Write the value that the meter showed.")
	if bound != wear.Exact {
		f.refuse("value", "Write the number alone: a value off the meter’s scale cannot be compared with the sensor.")
	}
	unit := wear.ParseUnit(f.one("unit", "Say in which unit.", wear.MmolL.String(), wear.MgdL.String()))
	if len(f.errors) == 0 {
		f.glucose("value", num, scale, unit.String())
	}
	return wear.Event{At: at, Kind: wear.Fingerstick, Value: wear.Reading{At: at, Num: num, Scale: scale, Unit: unit}}, f.errors
}

// glucose refuses what no meter or laboratory reports for a living person, or
// what is the other unit.
func (f *fields) glucose(name string, num int64, scale uint8, unit string) {
	least, most := 0.5, 60.0
	if unit == wear.MgdL.String() {
		least, most = 10, 1080
	}
	f.between(name, num, scale, least, most, "This cannot be a glucose in "+unit+": check the number and the unit.")
}

// Result is a laboratory result as it was typed.
type Result struct {
	Test    string     // as [Result.Test]
	Value   string     // as reported, "<" or ">" before it where the report has one
	Bound   wear.Bound // of that sign
	Num     int64      // of Value: digits
	Scale   uint8      // of Value: digits after the point
	Unit    string
	TakenAt time.Time // midnight of the day of the sample
	Note    string
}

// resultUnits are the units in which a test may be reported, the commoner here
// first.
var resultUnits = map[string][]string{
	"hba1c": {"mmol/mol", "%"}, "fasting_glucose": {"mmol/L", "mg/dL"}, "ogtt_2h": {"mmol/L", "mg/dL"}, "random_glucose": {"mmol/L", "mg/dL"}, "insulin": {"mU/L", "pmol/L"},
	"insulin_untimed": {"mU/L", "pmol/L"}, "c_peptide": {"nmol/L", "pmol/L", "ng/mL", "ug/L"}, "cholesterol": {"mmol/L", "mg/dL"}, "hdl": {"mmol/L", "mg/dL"},
	"ldl": {"mmol/L", "mg/dL"}, "non_hdl": {"mmol/L", "mg/dL"}, "triglycerides": {"mmol/L", "mg/dL"},
}

// ParseResult reads test, value, unit, taken and note.
func ParseResult(v url.Values, zone *time.Location, now time.Time) (Result, []FieldError) {
	f := &fields{Values: v, zone: zone}
	r := Result{Test: f.one("test", "Say which test it is.", testOrder...), Note: f.text("note", MostNote)}
	r.Bound, r.Value, r.Num, r.Scale = f.number("value", "Write the value as the laboratory reported it.")
	r.Unit = f.one("unit", "Say in which unit.", unitOrder...)
	r.TakenAt = f.day("taken", "Say on what day the blood was taken.")
	if r.TakenAt.After(now) {
		f.refuse("taken", "This day has not come yet.")
	}
	if len(f.errors) > 0 {
		return r, f.errors
	}
	if !slices.Contains(resultUnits[r.Test], r.Unit) {
		f.refuse("unit", "This test is reported in "+strings.Join(resultUnits[r.Test], " or ")+".")
		return r, f.errors
	}
	// What is possible at all, so that a slip or the other unit is noticed.
	switch r.Unit {
	case "%":
		f.between("value", r.Num, r.Scale, 3, 20, "This cannot be an HbA1c in %: check the number and the unit.")
	case "mmol/mol":
		f.between("value", r.Num, r.Scale, 9, 195, "This cannot be an HbA1c in mmol/mol: check the number and the unit.")
	case "mU/L":
		f.between("value", r.Num, r.Scale, 0, 2000, "This cannot be an insulin in mU/L: check the number and the unit.")
	case "pmol/L":
		f.between("value", r.Num, r.Scale, 0, 14000, "This cannot be an insulin in pmol/L: check the number and the unit.")
	default:
		f.glucose("value", r.Num, r.Scale, r.Unit)
	}
	return r, f.errors
}

// ParseAttempt reads means, reached, at, next_try and note. A moment left out
// is now. again says that one who was not reached must be tried again on a day.
func ParseAttempt(v url.Values, zone *time.Location, now time.Time, again bool) (Attempt, []FieldError) {
	f := &fields{Values: v, zone: zone}
	a := Attempt{
		Means: f.one("means", "Say by what means.", meansOrder...), At: f.moment("at", ""), Note: f.text("note", MostNote),
	}
	reached := f.one("reached", "Say whether the patient was reached.", "yes", "no")
	a.Reached = reached == "yes"
	if reached == "no" && again {
		a.NextTry = f.notBefore("next_try", "Say on what day to try again.", midnight(now.In(zone)))
	}
	if a.At.IsZero() {
		a.At = now
	}
	if a.At.After(now) {
		f.refuse("at", "This time has not come yet.")
	}
	return a, f.errors
}

// ParseReason reads a reason that must be given.
func ParseReason(v url.Values) (string, []FieldError) {
	f := &fields{Values: v}
	return f.reason("Say why, so that a colleague understands it next year."), f.errors
}

// Move is a wear to be given to the patient whose it is.
type Move struct {
	Code    string // of the patient
	Sure    string // the code that the person has confirmed, or ""
	Reason  string
	Results bool // with the laboratory results that were recorded with it
}

// ParseMove reads code, sure, reason and results ("yes" or "no").
func ParseMove(v url.Values) (Move, []FieldError) {
	f := &fields{Values: v}
	return Move{
		Code: f.needed("code", "Write the code of the patient whose wear it is.", 80), Sure: v.Get("sure"),
		Reason:  f.reason("Say how you know, so that a colleague understands it next year."),
		Results: f.one("results", "Say whose the laboratory results are that were recorded with it.", "yes", "no") == "yes",
	}, f.errors
}

// Handover is a wear to be given to people of another role.
type Handover struct {
	To     string // "clinician" or "nurse"
	Reason string
	By     time.Time // zero where no day was given
}

// ParseHandover reads to, reason and by.
func ParseHandover(v url.Values, zone *time.Location) (Handover, []FieldError) {
	f := &fields{Values: v, zone: zone}
	return Handover{
		To:     f.one("to", "Say whom the wear is handed over to.", handoverOrder...),
		Reason: f.reason("Say why, so that whoever takes it knows what is asked."), By: f.day("by", ""),
	}, f.errors
}

var handoverOrder = []string{"clinician", "nurse"}

// ParseNote reads note.
func ParseNote(v url.Values) (string, []FieldError) {
	f := &fields{Values: v}
	return f.needed("note", "Write the note first.", MostNote), f.errors
}

// version is the version of the wear that a form was made for.
func version(v url.Values) int64 {
	n, err := strconv.ParseInt(v.Get("version"), 10, 64)
	if err != nil {
		return 0
	}
	return n
}
