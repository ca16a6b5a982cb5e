package form

import (
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"
)

// Each bound on what may be typed: the last that is taken and the first that is
// not.
func TestBounds(t *testing.T) {
	now := clock(18, 10, 42)
	result := func(test, unit string) func(string) []FieldError {
		return func(v string) []FieldError {
			_, wrong := ParseResult(url.Values{"test": {test}, "unit": {unit}, "taken": {"2026-03-18"}, "value": {v}}, zone, now)
			return wrong
		}
	}
	fingerstick := func(unit string) func(string) []FieldError {
		return func(v string) []FieldError {
			_, wrong := ParseFingerstick(url.Values{"at": {"2026-03-04T15:00"}, "unit": {unit}, "value": {v}}, zone, wearStart, wearEnd)
			return wrong
		}
	}
	event := func(field string) func(string) []FieldError {
		return func(v string) []FieldError {
			f := url.Values{"event-4-kind": {"meal"}, "event-4-what": {"rice"}, "event-4-when": {"2026-03-04T12:00"}}
			f.Set("event-4-"+field, v)
			_, wrong := ParseCall(f, zone, wearStart, wearEnd)
			return wrong
		}
	}
	one := func(parse func(url.Values) []FieldError, field string) func(string) []FieldError {
		return func(v string) []FieldError { return parse(url.Values{field: {v}}) }
	}
	choices := []OutcomeChoice{{Code: "advice", Recall: "review", Asks: "What was agreed?"}}
	for _, c := range []struct {
		name   string
		try    func(string) []FieldError
		taken  []string
		not    []string
		beside string // the field that the refusal stands beside
	}{
		{"HbA1c in %", result("hba1c", "%"), []string{"3", "3.0", "20"}, []string{"2.9", "20.1", "", "x", "5.6 %"}, "value"},
		{"HbA1c in mmol/mol", result("hba1c", "mmol/mol"), []string{"9", "195"}, []string{"8", "196"}, "value"},
		{"glucose in mmol/L", result("fasting_glucose", "mmol/L"), []string{"0.5", "60", "5,6", "<0.6", ">30"}, []string{"0.4", "60.1", "5.6.1", "-5"}, "value"},
		{"glucose in mg/dL", result("random_glucose", "mg/dL"), []string{"10", "1080"}, []string{"9", "1081"}, "value"},
		{"insulin in mU/L", result("insulin", "mU/L"), []string{"0", "2000"}, []string{"2001"}, "value"},
		{"insulin in pmol/L", result("insulin", "pmol/L"), []string{"0", "14000"}, []string{"14001"}, "value"},
		{"a test in the unit of another", result("hba1c", "mmol/L"), nil, []string{"5.6"}, "unit"},
		{"fingerstick in mmol/L", fingerstick("mmol/L"), []string{"0.5", "60"}, []string{"0.4", "60.1", "<2", ">20"}, "value"},
		{"fingerstick in mg/dL", fingerstick("mg/dL"), []string{"10", "1080"}, []string{"9", "1081"}, "value"},
		{"minutes", event("minutes"), []string{"", "0", "1440"}, []string{"1441", "-1", "1.5", "long"}, "event-4-minutes"},
		{"time in the wear", event("when"), []string{"2026-03-03T09:15", "2026-03-17T09:10"}, []string{"2026-03-03T09:14", "2026-03-17T09:11", "", "2026-03-04"}, "event-4-when"},
		{"words of an event", event("what"), []string{strings.Repeat("é", 200)}, []string{strings.Repeat("é", 201), "\x00", "a\x7fb", "\xff"}, "event-4-what"},
		{"note", one(func(v url.Values) []FieldError { _, wrong := ParseNote(v); return wrong }, "note"),
			[]string{"x", strings.Repeat("x", 2000), "two\r\nlines\tand a tab"}, []string{"", "  ", strings.Repeat("x", 2001)}, "note"},
		{"reason", one(func(v url.Values) []FieldError { _, wrong := ParseReason(v); return wrong }, "reason"),
			[]string{"as", strings.Repeat("x", 2000)}, []string{"", "\n", "x", strings.Repeat("x", 2001)}, "reason"},
		{"zone", one(func(v url.Values) []FieldError { _, wrong := ParseZone(v); return wrong }, "zone"), []string{"", strings.Repeat("x", 200)}, []string{strings.Repeat("x", 201)}, "zone"},
		{"login", one(func(v url.Values) []FieldError {
			v.Set("name", "Oru")
			v.Set("role", "nurse")
			_, wrong := ParsePerson(v)
			return wrong
		}, "login"), []string{"Oru.b-2_x", strings.Repeat("a", 64)}, []string{"", "o ru", "é", strings.Repeat("a", 65)}, "login"},
		{"name of a person", one(func(v url.Values) []FieldError {
			v.Set("login", "oru")
			v.Set("role", "nurse")
			_, wrong := ParsePerson(v)
			return wrong
		}, "name"), []string{strings.Repeat("é", 80)}, []string{"", strings.Repeat("é", 81)}, "name"},
		{"recall of an outcome", func(v string) []FieldError {
			_, wrong := ParseOutcome(url.Values{"outcome": {"advice"}, "advice-reason": {"agreed"}, "advice-by": {v}}, zone, now, choices)
			return wrong
		}, []string{"2026-03-18", "2026-03-19"}, []string{"2026-03-17", "", "18.3.2026"}, "advice-by"},
		{"day of a recall", func(v string) []FieldError {
			_, _, wrong := ParseRecallDay(url.Values{"by": {v}, "reason": {"away"}}, zone, now)
			return wrong
		}, []string{"2026-03-18"}, []string{"2026-03-17", ""}, "by"},
		{"day of a sample", func(v string) []FieldError {
			_, wrong := ParseResult(url.Values{"test": {"hba1c"}, "unit": {"%"}, "value": {"5.6"}, "taken": {v}}, zone, now)
			return wrong
		}, []string{"2026-03-18", "1999-01-01"}, []string{"2026-03-19", ""}, "taken"},
		{"time of a try", func(v string) []FieldError {
			_, wrong := ParseAttempt(url.Values{"means": {"post"}, "reached": {"yes"}, "at": {v}}, zone, now, true)
			return wrong
		}, []string{"", "2026-03-18T10:42", "2026-03-18 10:42"}, []string{"2026-03-18T10:43"}, "at"},
	} {
		for _, v := range c.taken {
			if wrong := c.try(v); len(wrong) > 0 {
				t.Errorf("%s: %.60q is refused: %v", c.name, v, wrong)
			}
		}
		for _, v := range c.not {
			wrong := c.try(v)
			if !slices.ContainsFunc(wrong, func(e FieldError) bool { return e.Field == c.beside && len(e.Text) > 10 }) {
				t.Errorf("%s: %.60q gives %v, want a sentence beside %s", c.name, v, wrong, c.beside)
			}
		}
	}
}

// Each choice that a form offers is taken by the form that reads it, and has
// words of its own.
func TestEveryChoiceIsTaken(t *testing.T) {
	now := clock(18, 10, 42)
	try := map[string]func(string) []FieldError{
		"means": func(v string) []FieldError {
			_, wrong := ParseAttempt(url.Values{"means": {v}, "reached": {"yes"}}, zone, now, true)
			return wrong
		},
		"recalls": func(v string) []FieldError {
			_, wrong := ParseNewRecall(url.Values{"kind": {v}, "by": {"2026-03-19"}}, zone, now)
			return wrong
		},
		"roles": func(v string) []FieldError { _, wrong := ParseRoles(url.Values{"role": {v}}); return wrong },
		"tests": func(v string) []FieldError {
			unit := slices.Concat(resultUnits[v], []string{"mmol/L"})[0]
			_, wrong := ParseResult(url.Values{"test": {v}, "unit": {unit}, "value": {"12"}, "taken": {"2026-03-18"}}, zone, now)
			return wrong
		},
		"glucose units": func(v string) []FieldError {
			_, wrong := ParseFingerstick(url.Values{"at": {"2026-03-04T15:00"}, "unit": {v}, "value": {"30"}}, zone, wearStart, wearEnd)
			return wrong
		},
		"yes or no": func(v string) []FieldError {
			_, wrong := ParseOverrule(url.Values{"from": {"2026-03-05T01:00"}, "to": {"2026-03-05T02:00"}, "believe": {v}, "reason": {"awake"}}, zone, wearStart, wearEnd)
			return wrong
		},
	}
	for name, parse := range try {
		seen := map[string]bool{}
		for _, o := range OptionsOf(name) {
			if wrong := parse(o.Value); len(wrong) > 0 {
				t.Errorf("%s: %q is offered and refused: %v", name, o.Value, wrong)
			}
			if o.Words == "" || seen[o.Words] {
				t.Errorf("%s: %q has the words %q, of none or of another", name, o.Value, o.Words)
			}
			seen[o.Words] = true
		}
		if wrong := parse("something else"); len(wrong) == 0 {
			t.Errorf("%s takes what is not offered", name)
		}
		if len(seen) < 2 {
			t.Errorf("%s offers %d", name, len(seen))
		}
	}
}

// Every box about a patient goes into the field of its own name.
func TestEachBoxAlone(t *testing.T) {
	for _, c := range ContextFields {
		r, wrong := ParsePatient(url.Values{"code": {"P-1"}, "context": {c.name}}, time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC))
		if len(wrong) > 0 || !*c.Of(&r.Context) {
			t.Errorf("%s: %v, %+v", c.name, wrong, r.Context)
		}
		*c.Of(&r.Context) = false
		for _, other := range ContextFields {
			if *other.Of(&r.Context) {
				t.Errorf("%s sets %s", c.name, other.name)
			}
		}
	}
}
