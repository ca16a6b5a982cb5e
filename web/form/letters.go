package form

import (
	"errors"
	"net/url"
	"slices"
	"time"

	"wearround/web/letter"
)

// Letter says which letter is to be written and what it needs to be told.
type Letter struct {
	Kind   letter.Kind
	Tests  []string  // codes of [letter.TestCodes]
	By     time.Time // midnight of the day, or zero
	To     string
	Serial string
	Fault  string
}

// Asked are the fields that a kind of letter asks for beside the findings.
var Asked = map[letter.Kind][]string{
	letter.Tests: {"tests", "by"}, letter.WearAgain: {"by"}, letter.Clinician: {"to", "by"}, letter.SensorFailed: {"to", "serial", "fault", "by"},
}

// ParseLetter reads kind, and for the KIND chosen KIND-tests (several),
// KIND-by, KIND-to, KIND-serial and KIND-fault as that kind asks.
func ParseLetter(v url.Values, zone *time.Location, now time.Time) (Letter, []FieldError) {
	f := &fields{Values: v, zone: zone}
	l := Letter{Kind: letter.Kind(v.Get("kind"))}
	if !l.Kind.Known() || l.Kind.Sheet() {
		f.refuse("kind", "Choose what kind of letter it is.")
		return l, f.errors
	}
	name := func(field string) string { return string(l.Kind) + "-" + field }
	for _, field := range Asked[l.Kind] {
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
			l.To = f.needed(name(field), "Say to whom the letter goes.", MostLine)
		case "serial":
			l.Serial = f.needed(name(field), "Write the sensor’s serial number.", 80)
		case "fault":
			l.Fault = f.needed(name(field), "Write what failed.", MostLine)
		}
	}
	return l, f.errors
}

// ParseSending reads text, how and read of a letter that goes.
func ParseSending(v url.Values, kind letter.Kind) (text, how string, wrong []FieldError) {
	f := &fields{Values: v}
	text = f.text("text", MostLetter)
	how = f.one("how", "Say how it goes.", meansOrder...)
	f.one("read", "Read the letter, then tick that you have.", "yes")
	f.check("text", letter.Check(kind, text))
	return text, how, f.errors
}

// ParseTemplate reads text of a template, or of a letter to be looked at.
func ParseTemplate(v url.Values, kind letter.Kind) (string, []FieldError) {
	f := &fields{Values: v}
	text := f.needed("text", "Write the text first.", MostLetter)
	f.check("text", letter.CheckTemplate(kind, text))
	return text, f.errors
}

// check says what is wrong with a text, unless it could not be taken at all.
func (f *fields) check(name string, problems []string) {
	if slices.ContainsFunc(f.errors, func(e FieldError) bool { return e.Field == name }) {
		return
	}
	for _, p := range problems {
		f.refuse(name, p)
	}
}

// MostLetter is the length of a letter in characters: three pages are more than
// anybody reads.
const MostLetter = 8000

// ProblemWords are the words of an error of package letter.
func ProblemWords(err error) string {
	var p *letter.Problem
	if errors.As(err, &p) {
		return p.Text
	}
	return "This letter cannot be written."
}
