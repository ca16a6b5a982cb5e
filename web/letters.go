package web

import (
	"errors"
	"net/url"
	"slices"
	"strconv"
	"time"

	"wearround/web/letter"
	"wearround/worker/wear"
)

// LetterForm says which letter is to be written and what it needs to be told.
type LetterForm struct {
	Kind   letter.Kind
	Tests  []string  // codes of [letter.TestCodes]
	By     time.Time // midnight of the day, or zero
	To     string
	Serial string
	Fault  string
}

// asked are the fields that a kind of letter asks for beside the findings.
var asked = map[letter.Kind][]string{
	letter.Tests: {"tests", "by"}, letter.WearAgain: {"by"}, letter.Clinician: {"to", "by"}, letter.SensorFailed: {"to", "serial", "fault", "by"},
}

// ParseLetter reads kind, and for the KIND chosen KIND-tests (several),
// KIND-by, KIND-to, KIND-serial and KIND-fault as that kind asks.
func ParseLetter(v url.Values, zone *time.Location, now time.Time) (LetterForm, []FieldError) {
	f := &fields{Values: v, zone: zone}
	l := LetterForm{Kind: letter.Kind(v.Get("kind"))}
	if !l.Kind.Known() || l.Kind.Sheet() {
		f.refuse("kind", "Choose what kind of letter it is.")
		return l, f.errors
	}
	name := func(field string) string { return string(l.Kind) + "-" + field }
	for _, field := range asked[l.Kind] {
		switch field {
		case "tests":
			for _, code := range letter.TestCodes() {
				if slices.Contains(v[name(field)], code) {
					l.Tests = append(l.Tests, code)
				}
			}
			if len(l.Tests) == 0 {
				f.refuse(name(field), "Choose what is wanted.")
			}
		case "by":
			l.By = f.notBefore(name(field), "Say by what day it is asked.", midnight(now.In(zone)))
		case "to":
			l.To = f.needed(name(field), "Say to whom the letter goes.", mostLine)
		case "serial":
			l.Serial = f.needed(name(field), "Write the sensor’s serial number.", 80)
		case "fault":
			l.Fault = f.needed(name(field), "Write what failed.", mostLine)
		}
	}
	return l, f.errors
}

// ParseSending reads text, how and read of a letter that goes.
func ParseSending(v url.Values, kind letter.Kind) (text, how string, wrong []FieldError) {
	f := &fields{Values: v}
	text = f.text("text", mostLetter)
	how = f.one("how", "Say how it goes.", meansOrder...)
	f.one("read", "Read the letter, then tick that you have.", "yes")
	for _, problem := range letter.Check(kind, text) {
		f.refuse("text", problem)
	}
	return text, how, f.errors
}

// ParseTemplate reads text of a template, or of a letter to be looked at.
func ParseTemplate(v url.Values, kind letter.Kind) (string, []FieldError) {
	f := &fields{Values: v}
	text := f.needed("text", "Write the text first.", mostLetter)
	for _, problem := range letter.CheckTemplate(kind, text) {
		f.refuse("text", problem)
	}
	return text, f.errors
}

// mostLetter is the length of a letter in characters: three pages are more than
// anybody reads.
const mostLetter = 8000

// LetterWay is a kind of letter as the form offers it.
type LetterWay struct {
	Kind    letter.Kind
	ID      string
	Chosen  bool
	Refused string // why the findings do not allow it, or ""
	Tests   *Pick
	Fields  []Input
}

// testsWanted are the tests as a sender chooses them.
func testsWanted() []Option {
	words := map[string]string{"talk": "a talk about symptoms"}
	for code, w := range testWords {
		words[code] = w
	}
	return options(letter.TestCodes(), words)
}

// Ways are the kinds of letter with what each asks for. Those that the findings
// do not allow are shown with the reason.
func (p NewLetterPage) Ways() []LetterWay {
	chosen := p.Value("kind")
	var out []LetterWay
	for _, kind := range letter.Kinds() {
		if kind.Sheet() {
			continue
		}
		w := LetterWay{Kind: kind, ID: "kind"}
		if len(out) > 0 { // the first carries the id that an error points to
			w.ID += "-" + strconv.Itoa(len(out)+1)
		}
		if err := letter.Allowed(kind, p.Report); err != nil {
			w.Refused = problemWords(err)
		} else if chosen == "" {
			chosen = string(kind)
		}
		w.Chosen = w.Refused == "" && chosen == string(kind)
		for _, field := range asked[kind] {
			name := string(kind) + "-" + field
			switch field {
			case "tests":
				pick := p.Pick("checkbox", name, "What is wanted", testsWanted(), "hba1c")
				w.Tests = &pick
			case "by":
				w.Fields = append(w.Fields, p.Input("date", name, "By what day", "value="+p.in(p.Now).AddDate(0, 0, askedWithin).Format(time.DateOnly)))
			case "to":
				w.Fields = append(w.Fields, p.Input("text", name, "To whom", "most=200", "hint=As the letter addresses them"))
			case "serial":
				w.Fields = append(w.Fields, p.Input("text", name, "Serial number of the sensor", "mono", "most=80"))
			case "fault":
				w.Fields = append(w.Fields, p.Input("text", name, "What failed", "most=200"))
			}
		}
		out = append(out, w)
	}
	return out
}

// askedWithin is how many days a letter gives where its sender says nothing
// else. Proposal.
const askedWithin = 14

// problemWords are the words of an error of package letter.
func problemWords(err error) string {
	var p *letter.Problem
	if errors.As(err, &p) {
		return p.Text
	}
	return "This letter cannot be written."
}

// WearAddress is the page of the wear.
func (p NewLetterPage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// Address is where the choice is sent.
func (p NewLetterPage) Address() string { return taskAddress(p.WearID, "letters") }

// WearAddress is the page of the wear.
func (p LetterPage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// Address is the page of the letter.
func (p LetterPage) Address() string { return "/letters/" + strconv.FormatInt(p.ID, 10) }

// Blocks are the letter's parts.
func (p LetterPage) Blocks() []letter.Block { return letter.Blocks(p.Text) }

// Warnings are what the letter may not say.
func (p LetterPage) Warnings() []string {
	if len(p.Errors) > 0 { // the same, said above
		return nil
	}
	return letter.Check(p.Kind, p.Text)
}

// Grade is the school grade of the letter, with one decimal.
func (p LetterPage) Grade() string { return grade(p.Text) }

func grade(text string) string { return wear.FormatHalfUp(letter.Grade(text), 1) }

// TextField is the text to be changed.
func (p LetterPage) TextField() Input {
	return p.Input("textarea", "text", "Text of the letter", "rows=24", "most="+strconv.Itoa(mostLetter), "value="+p.Text, "hint="+markHint)
}

const markHint = "An empty line parts paragraphs; # begins a heading, - an item of a list"

// ReadPick is the sender's word that the letter was read.
func (p LetterPage) ReadPick() Pick {
	return p.Pick("checkbox", "read", "Before it goes", []Option{{Value: "yes", Words: "I have read it, and it is for " + p.Patient.Called()}})
}

// Blocks are the letter's parts.
func (p SentPage) Blocks() []letter.Block { return letter.Blocks(p.Text) }

// WearAddress is the page of the wear.
func (p SentPage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// RunningHead stands on every page of the paper: whose letter it is. A letter to
// a supplier and a sheet name nobody.
func (p SentPage) RunningHead() string {
	if p.Kind.Sheet() || p.Kind == letter.SensorFailed || p.Patient == (Patient{}) {
		return ""
	}
	s := p.Patient.Called()
	if p.Patient.Name != "" && p.Patient.Code != "" {
		s += " · " + p.Patient.Code
	}
	if p.Patient.BirthDate != "" {
		s += " · born " + birthWords(p.Patient.BirthDate)
	}
	return s
}

// FootWords stands at the end of the paper: what it was made by, and when.
func (p SentPage) FootWords() string {
	s := "Written with wearround, which orders work and does not diagnose."
	if p.Protocol != "" {
		s += " Protocol " + p.Protocol + "."
	}
	if !p.At.IsZero() {
		s += " " + p.in(p.At).Format("2 January 2006") + "."
	}
	return s
}

// Sheets are the kinds that go to everyone.
func (p LettersPage) Sheets() []letter.Kind {
	return []letter.Kind{letter.StartSheet, letter.SendSheet}
}

// Lines are the texts of every kind, those that the practice wrote and those as
// shipped.
func (p LettersPage) Lines() []TemplateLine {
	out := make([]TemplateLine, 0, len(letter.Kinds()))
	for _, kind := range letter.Kinds() {
		line := TemplateLine{Kind: kind}
		for _, t := range p.Templates {
			if t.Kind == kind {
				line = t
			}
		}
		out = append(out, line)
	}
	return out
}

// Grade is the school grade of the shipped text.
func (t TemplateLine) Grade() string { return grade(letter.Shipped(t.Kind)) }

// Address is where the text is sent.
func (p TemplatePage) Address() string { return "/letters/templates/" + string(p.Kind) }

// TextField is the text to be changed.
func (p TemplatePage) TextField() Input {
	return p.Input("textarea", "text", "Text", "rows=28", "most="+strconv.Itoa(mostLetter), "value="+p.Text, "hint="+markHint)
}

// Places are the fields that a text may name.
func (p TemplatePage) Places() []letter.Field { return letter.Fields() }

// Warnings are what the text may not say.
func (p TemplatePage) Warnings() []string {
	if len(p.Errors) > 0 { // the same, said above
		return nil
	}
	return letter.CheckTemplate(p.Kind, p.Text)
}

// Blocks are the parts of the letter for an invented patient.
func (p TemplatePage) Blocks() []letter.Block {
	l, _ := p.example()
	return letter.Blocks(l.Text)
}

// PreviewProblem is why there is no such letter, or "".
func (p TemplatePage) PreviewProblem() string {
	if _, err := p.example(); err != nil {
		return problemWords(err)
	}
	return ""
}

// Grade is the school grade of that letter, or of the bare text.
func (p TemplatePage) Grade() string {
	if l, err := p.example(); err == nil {
		return grade(l.Text)
	}
	return grade(p.Text)
}

func (p TemplatePage) example() (letter.Letter, error) {
	return letter.ComposeFrom(p.Kind, p.Text, letter.Example(p.Kind))
}
