// Package lab turns the bytes of laboratory messages into results, with an
// account of every filled field and open questions. It opens no file, knows no
// patient and never guesses: whose a result is, the caller finds out.
//
// It reads HL7 v2.3 to 2.5.1 ORU^R01, alone or in batches (hl7.go, oru.go), and
// FHIR R4 Observation, DiagnosticReport and Bundle in JSON (fhir.go). Which
// tests are kept is one table (tests.go). Values, comparators and units stay as
// they were sent; a unit written in another way is told by its meaning and never
// converted.
package lab

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// Options is what reading depends on besides the bytes.
type Options struct {
	Zone    *time.Location // of the practice: times without an offset are of it
	Now     time.Time      // no sample can be taken more than a day later
	Answers map[string]string
}

// Result is what a file of messages says. Where Refusal is set there is nothing
// else. Statements are those about which nothing is open; what is asked about
// others stands in Questions.
type Result struct {
	Refusal    *wear.Refusal
	Questions  []wear.Question
	Layout     string // "HL7 v2" or "FHIR R4"
	People     []Person
	Statements []Statement
	Account    wear.Account
	Rows       int // single observations
	Skipped    int // of those, not kept
}

// Person is somebody whom the messages name.
type Person struct {
	Key    string // the same for the same facts; says nothing of the person
	IDs    []string
	Family string
	Given  string
	Born   string // 2006-01-02, or ""
}

// Name is the name as a person reads it.
func (p *Person) Name() string { return strings.TrimSpace(p.Given + " " + p.Family) }

// Status is how firm a statement is.
type Status string

// The statuses of a statement.
const (
	Final       Status = "final"
	Corrected   Status = "corrected"
	Cancelled   Status = "cancelled"   // taken back: by the laboratory it does not hold
	Preliminary Status = "preliminary" // may still change
)

// Statement is what one message says of one test of one sample.
type Statement struct {
	Person int    // in Result.People
	Key    string // what the laboratory knows the result by: the same in a repeat and in a correction
	Kind   string // as the table of tests names it
	Value  string // "<" or ">" before it where the message has one
	Unit   string // as this program writes it
	Taken  time.Time
	Issued time.Time // when the laboratory said so: of two statements the later holds
	Status Status
	Note   string // every word that the message has of it
	Words  bool   // there are words, which somebody must read
	Marked bool   // the laboratory calls it abnormal
	Urgent bool   // or critical
}

// Is reports whether some bytes look like laboratory messages.
func Is(data []byte) bool {
	return isHL7(data) || isFHIR(data)
}

// Read reads a whole file. It never panics, and takes time and memory in
// proportion to the file.
func Read(data []byte, o Options) *Result {
	l := &ledger{Options: o}
	if isHL7(data) {
		l.res.Layout = "HL7 v2"
		l.res.Refusal = l.readHL7(data)
	} else {
		l.res.Layout = "FHIR R4"
		l.res.Refusal = l.readFHIR(data)
	}
	if l.res.Refusal != nil {
		return &Result{Refusal: l.res.Refusal, Layout: l.res.Layout}
	}
	if len(l.res.People) == 0 && l.res.Rows == 0 {
		return &Result{Layout: l.res.Layout, Refusal: refuse("no_results", "The file is a laboratory message without a result.", "Nothing, if none was expected; otherwise ask the laboratory.")}
	}
	l.res.Skipped = l.res.Rows - len(l.res.Statements)
	if !l.res.Account.Balanced() {
		return &Result{Layout: l.res.Layout, Refusal: refuse("account", "The fields of the message do not add up.", "Report this file: it shows a fault in how messages are read.")}
	}
	return &l.res
}

// ledger keeps what has been decided and asked while a file is read.
type ledger struct {
	Options
	res Result
}

func refuse(code, text, todo string) *wear.Refusal {
	return &wear.Refusal{Code: code, Text: text, ToDo: todo}
}

// aside is the answer that leaves something out.
const aside = "aside"

// ask gives the answer to a question, or "" and keeps it open. The same is asked
// once.
func (l *ledger) ask(code, text string, choices ...wear.Choice) string {
	if a := l.Answers[code]; slices.ContainsFunc(choices, func(c wear.Choice) bool { return c.Value == a }) {
		return a
	}
	if !slices.ContainsFunc(l.res.Questions, func(q wear.Question) bool { return q.Code == code }) {
		l.res.Questions = append(l.res.Questions, wear.Question{Code: code, Text: text, Choices: choices})
	}
	return ""
}

// seenAside asks somebody to see to what cannot be kept, and reports whether
// they did.
func (l *ledger) seenAside(what, code, text string) bool {
	return l.ask(code, text, wear.Choice{Value: aside, Text: "I have seen to it: leave it out", Effect: what + " is not kept"}) == aside
}

// account counts fields with the same fate.
func (l *ledger) account(where string, fate wear.Fate, why string, n int) {
	if n == 0 {
		return
	}
	a := &l.res.Account
	a.Cells += n
	i := slices.IndexFunc(a.Lines, func(x wear.AccountLine) bool { return x.Where == where && x.Fate == fate && x.Why == why })
	if i < 0 {
		a.Lines = append(a.Lines, wear.AccountLine{Where: where, Fate: fate, Why: why})
		i = len(a.Lines) - 1
	}
	a.Lines[i].Cells += n
}

// person gives the number of a person, each once.
func (l *ledger) person(p Person) int {
	p.Key = mark(append([]string{p.Family, p.Given, p.Born}, p.IDs...)...)
	if i := slices.IndexFunc(l.res.People, func(x Person) bool { return x.Key == p.Key }); i >= 0 {
		return i
	}
	l.res.People = append(l.res.People, p)
	return len(l.res.People) - 1
}

// mark is a short key made of some texts.
func mark(parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:%s", len(p), p)
	}
	return hex.EncodeToString(h.Sum(nil)[:10])
}

// found is one observation as either format gives it, still as sent.
type found struct {
	person  int
	loinc   string // or ""
	local   string // another code, or ""
	text    string // the laboratory's name of the test
	context string // what else is said of the order: whether it was fasting
	value   string // a number with its comparator, or what stands in its place
	number  bool   // value is a plain number, with or without a comparator
	unit    string
	taken   time.Time
	issued  time.Time
	status  Status
	key     []string // what the laboratory knows it by; empty where it does not say
	words   []string
	flag    string // of the laboratory's own: "H", "LL"
	ranged  string // its range
}

// settle makes a statement of an observation, or asks, or sets it aside; it
// says which and why.
func (l *ledger) settle(f *found) (wear.Fate, string) {
	l.res.Rows++
	code := mark(append([]string{f.loinc, f.local, f.text, f.value, f.unit, f.taken.String()}, f.key...)...)
	name := cmp.Or(f.text, f.local, f.loinc)
	kind, why := l.kindOf(f, name)
	if kind == "" {
		return wear.FateAside, why
	}
	s := Statement{Person: f.person, Kind: kind, Value: f.value, Taken: f.taken, Issued: f.issued, Status: f.status}
	sender := f.key
	if len(sender) == 0 {
		sender = []string{"by sample", l.res.People[f.person].Key, f.taken.UTC().Format(time.RFC3339)}
	}
	s.Key = mark(append(slices.Clone(sender), cmp.Or(f.loinc, f.local))...)
	if s.Status == Cancelled {
		l.res.Statements = append(l.res.Statements, s)
		return wear.FateFact, "the laboratory took the result back"
	}
	shown := strings.TrimSpace(f.value + " " + f.unit)
	switch {
	case !f.number:
		if l.seenAside("this", "value:"+code, fmt.Sprintf("The laboratory gives no number for %s: “%s”. Has somebody seen to it?", name, clip(f.value))) {
			return wear.FateAside, "no number, as somebody has seen"
		}
		return wear.FateAside, "asked about: it has no number"
	case f.taken.IsZero() || f.taken.After(l.Now.Add(24*time.Hour)):
		if l.seenAside("this", "taken:"+code, fmt.Sprintf("The message does not say on which day in the past the sample for %s %s was taken. Enter it by hand on the patient’s page if it is known.", name, shown)) {
			return wear.FateAside, "no day of the sample, as somebody has seen"
		}
		return wear.FateAside, "asked about: the day of the sample is not known"
	}
	if s.Unit = unitOf(f.unit); s.Unit == "" || !slices.Contains(unitsOf[kind], s.Unit) || contradicts(f.loinc, s.Unit) {
		var choices []wear.Choice
		for _, u := range unitsOf[kind] {
			choices = append(choices, wear.Choice{Value: u, Text: u + ", as the laboratory says when asked", Effect: fmt.Sprintf("%s %s would be kept", f.value, u)})
		}
		choices = append(choices, wear.Choice{Value: aside, Text: "Not known: leave it out", Effect: "this is not kept"})
		said := "no unit"
		if f.unit != "" {
			said = "the unit “" + clip(f.unit) + "”, which does not go with its code (" + cmp.Or(f.loinc, f.local) + ")"
		}
		switch a := l.ask("unit:"+code, fmt.Sprintf("%s %s comes with %s. Which unit is it?", name, f.value, said), choices...); a {
		case "":
			return wear.FateAside, "asked about: its unit"
		case aside:
			return wear.FateAside, "its unit is not known, as somebody said"
		default:
			s.Unit = a
			f.words = append(f.words, "unit as the laboratory said when asked")
		}
	} else if !strings.EqualFold(s.Unit, f.unit) {
		f.words = append(f.words, "")
		f.ranged = strings.TrimSpace("unit as sent " + f.unit + "; " + f.ranged)
	}
	s.note(f)
	l.res.Statements = append(l.res.Statements, s)
	return wear.FateReading, "kept as a result"
}

// note puts every word about a result together.
func (s *Statement) note(f *found) {
	var parts []string
	flag := strings.ToUpper(strings.TrimSpace(f.flag))
	if flag != "" && flag != "N" && flag != "NORMAL" {
		s.Marked = true
		s.Urgent = flag == "HH" || flag == "LL" || flag == "AA" || flag == "<" || flag == ">"
		parts = append(parts, "the laboratory marks it "+flag)
	}
	if r := strings.Trim(f.ranged, " ;"); r != "" {
		parts = append(parts, "range and unit as sent: "+r)
	}
	for _, w := range f.words {
		if w = strings.TrimSpace(w); w != "" {
			parts, s.Words = append(parts, "“"+w+"”"), true
		}
	}
	s.Note = strings.Join(parts, "; ")
	if r := []rune(s.Note); len(r) > maxNote {
		s.Note = string(r[:maxNote]) + " … (the rest stands in the message)"
	}
}

// maxNote is the most letters of a note: of four bytes each they fit what is
// kept with a result.
const maxNote = 900

func clip(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "…"
	}
	return strings.ToValidUTF8(s, "\uFFFD")
}

// comparators are what may stand before a number; the two that are written with
// two characters come first.
var comparators = []string{"<=", ">=", "<", ">"}

// number reads a value as laboratories write it: digits with a point, perhaps a
// comparator before them. It gives the text that is kept.
func number(text string) (string, bool) {
	rest, sign := strings.TrimSpace(text), ""
	for _, c := range comparators {
		if after, ok := strings.CutPrefix(rest, c); ok {
			rest, sign = strings.TrimSpace(after), c
			break
		}
	}
	if _, _, ok := wear.ParseValue(rest); !ok {
		return text, false
	}
	return sign + rest, true
}

// trimBOM takes away what may stand before the first character: a mark of the
// encoding, white space, and the block characters of the HL7 transport.
func trimBOM(data []byte) []byte {
	return bytes.TrimLeft(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), "\x0b \t\r\n")
}
