// Package form is what people type and choose: the words of every choice, how a
// field is drawn, and how what was posted is read.
package form

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"wearround/worker/wear"
)

// Value is what was typed into a field.
func (f Form) Value(name string) string { return f.Values.Get(name) }

// Has reports whether a box or button of a field was chosen.
func (f Form) Has(name, value string) bool { return slices.Contains(f.Values[name], value) }

// Error is what is wrong with a field, or "".
func (f Form) Error(name string) string {
	for _, e := range f.Errors {
		if e.Field == name {
			return e.Text
		}
	}
	return ""
}

// momentLayout is how a browser writes a date with a time of day, and dayWords
// and momentWords how the example in a message reads.
const (
	MomentLayout = "2006-01-02T15:04"
	dayExample   = "2026-03-04"
	whenExample  = "2026-03-04 14:30"
)

// fields reads a posted form and gathers what is wrong with it. After an error
// it goes on, so that a person learns of everything at once.
type fields struct {
	url.Values
	zone   *time.Location
	errors []FieldError
}

func (f *fields) refuse(name, text string) {
	f.errors = append(f.errors, FieldError{Field: name, Text: text})
}

// text is one line or more of at most most characters.
func (f *fields) text(name string, most int) string {
	s := strings.TrimSpace(strings.ReplaceAll(f.Get(name), "\r\n", "\n"))
	switch {
	case !utf8.ValidString(s) || strings.ContainsFunc(s, control):
		f.refuse(name, "Take out the characters that cannot be printed.")
		return ""
	case utf8.RuneCountInString(s) > most:
		f.refuse(name, "Write at most "+strconv.Itoa(most)+" characters.")
		return ""
	}
	return s
}

func control(r rune) bool { return r < ' ' && r != '\n' && r != '\t' || r == 0x7f }

// needed is text that may not be left out; say asks for it.
func (f *fields) needed(name, say string, most int) string {
	before := len(f.errors)
	s := f.text(name, most)
	if s == "" && len(f.errors) == before {
		f.refuse(name, say)
	}
	return s
}

// reason is words that say why something is done; say asks for them.
func (f *fields) reason(say string) string {
	s := f.needed("reason", say, MostNote)
	if s != "" && !wear.HasWords(s) {
		f.refuse("reason", say)
	}
	return s
}

// one is a choice among some; say asks for it. An empty say lets it be left out.
func (f *fields) one(name, say string, among ...string) string {
	s := f.Get(name)
	switch {
	case slices.Contains(among, s):
		return s
	case s != "":
		f.refuse(name, "Choose one of the answers offered.")
	case say != "":
		f.refuse(name, say)
	}
	return ""
}

// moment is a date with a time of day on the practice's clock. An empty say
// lets it be left out.
func (f *fields) moment(name, say string) time.Time {
	s := strings.Replace(strings.TrimSpace(f.Get(name)), " ", "T", 1)
	if s == "" {
		if say != "" {
			f.refuse(name, say)
		}
		return time.Time{}
	}
	t, err := time.ParseInLocation(MomentLayout, s, f.zone)
	switch {
	case err != nil:
		f.refuse(name, "Write the date and the time as "+whenExample+".")
		return time.Time{}
	case t.Format(MomentLayout) != s: // the hour that a clock change leaves out
		f.refuse(name, "The clock was put forward over this time: it never was. Write the time an hour later.")
		return time.Time{}
	}
	return t
}

// within is a moment from first to last.
func (f *fields) within(name, say string, first, last time.Time) time.Time {
	t := f.moment(name, say)
	if !t.IsZero() && (t.Before(first.Truncate(time.Minute)) || t.After(last)) {
		f.refuse(name, "The wear is from "+first.In(f.zone).Format("2 Jan 2006 15:04")+" to "+last.In(f.zone).Format("2 Jan 2006 15:04")+": choose a time in it.")
		return time.Time{}
	}
	return t
}

// day is a date on the practice's calendar, at its midnight. An empty say lets
// it be left out.
func (f *fields) day(name, say string) time.Time {
	s := strings.TrimSpace(f.Get(name))
	if s == "" {
		if say != "" {
			f.refuse(name, say)
		}
		return time.Time{}
	}
	t, err := time.ParseInLocation(time.DateOnly, s, f.zone)
	if err != nil {
		f.refuse(name, "Write the date as "+dayExample+".")
		return time.Time{}
	}
	return t
}

// minutes is a whole number of minutes up to a day, 0 where left out.
func (f *fields) minutes(name string) int {
	s := strings.TrimSpace(f.Get(name))
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > 24*60 {
		f.refuse(name, "Write the minutes as a whole number up to 1440, or leave them out.")
		return 0
	}
	return n
}

// number is a decimal number as it was reported: digits, with a point or a
// comma as the decimal mark, and "<" or ">" before it where it is only a bound.
// The text is given back with a point and without spaces.
func (f *fields) number(name, say string) (bound wear.Bound, text string, num int64, scale uint8) {
	text = strings.Replace(strings.Join(strings.Fields(f.Get(name)), ""), ",", ".", 1)
	if text == "" {
		f.refuse(name, say)
		return wear.Exact, "", 0, 0
	}
	digits := text
	switch text[0] {
	case '<':
		bound, digits = wear.Below, text[1:]
	case '>':
		bound, digits = wear.Above, text[1:]
	}
	num, scale, ok := wear.ParseValue(digits)
	if !ok {
		f.refuse(name, "Write the number alone, for example 5.8.")
		return wear.Exact, "", 0, 0
	}
	return bound, text, num, scale
}

// between refuses a number outside what is possible; say tells what to look at.
func (f *fields) between(name string, num int64, scale uint8, least, most float64, say string) {
	v := float64(num)
	for range scale {
		v /= 10
	}
	if v < least || v > most {
		f.refuse(name, say)
	}
}

// FieldError is one thing wrong with a form, beside the field it concerns.
type FieldError struct {
	Field string // name of the form field, which is also its id on the page; "" concerns the form as a whole
	Text  string // plain sentence that says what to do
}

// Form is what was typed, so that a form refused comes back as it was, and
// what is wrong with it. The zero Form is an empty one.
type Form struct {
	Task   string // which of a page's several forms it is; "" where there is one
	Values url.Values
	Errors []FieldError
}
