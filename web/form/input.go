package form

import (
	"slices"
	"strconv"
	"strings"
)

// For is the form of one task among the several of a page. It is empty unless
// that form was the one sent.
func (f Form) For(task string) Form {
	if f.Task == task {
		return f
	}
	return Form{Task: task}
}

// ID is the id of a field on the page.
func (f Form) ID(name string) string {
	if f.Task == "" || name == "" {
		return name
	}
	return f.Task + "-" + name
}

// Input is one field of a form with its label, its hint and what is wrong with
// it, so that every field on every page is put together in one way.
type Input struct {
	Kind         string // of the <input>, or "textarea"
	Name         string
	ID           string
	Label        string
	Hint         string
	Value        string
	Error        string
	Autocomplete string
	Mode         string // of an on-screen keyboard
	Most         int    // characters, 0 for none
	Rows         int    // of a textarea
	Required     bool
	Mono         bool // codes and keys
}

// Input puts a field together. more holds "required", "mono" and settings such
// as "hint=…", "autocomplete=…", "mode=…", "most=…", "rows=…" and "value=…",
// the last of which stands where nothing was typed yet. A password is never
// given back.
func (f Form) Input(kind, name, label string, more ...string) Input {
	in := Input{Kind: kind, Name: name, ID: f.ID(name), Label: label, Error: f.Error(name), Autocomplete: "off"}
	if kind != "password" {
		in.Value = f.Value(name)
	}
	for _, m := range more {
		key, value, _ := strings.Cut(m, "=")
		switch key {
		case "required":
			in.Required = true
		case "mono":
			in.Mono = true
		case "hint":
			in.Hint = value
		case "autocomplete":
			in.Autocomplete = value
		case "mode":
			in.Mode = value
		case "most":
			in.Most, _ = strconv.Atoi(value)
		case "rows":
			in.Rows, _ = strconv.Atoi(value)
		case "value":
			if _, typed := f.Values[name]; !typed {
				in.Value = value
			}
		default:
			panic("web: a field has no setting " + strconv.Quote(m)) // a template names it; tests execute every template
		}
	}
	return in
}

// Option is one answer that can be chosen.
type Option struct {
	Value, Words, Hint string
	Chosen             bool
	ID                 string
}

// Pick is a field whose answer is chosen.
type Pick struct {
	Kind    string // "radio", "checkbox" or "select"
	Name    string
	ID      string
	Legend  string
	Hint    string
	Error   string
	Options []Option
}

// Pick puts a choice together. chosen is what stands chosen where nothing was
// chosen yet.
func (f Form) Pick(kind, name, legend string, options []Option, chosen ...string) Pick {
	p := Pick{Kind: kind, Name: name, ID: f.ID(name), Legend: legend, Error: f.Error(name), Options: slices.Clone(options)}
	for i := range p.Options {
		o := &p.Options[i]
		o.ID = p.ID
		if i > 0 { // the first carries the id that an error points to
			o.ID += "-" + strconv.Itoa(i+1)
		}
		if _, typed := f.Values[name]; typed {
			o.Chosen = f.Has(name, o.Value)
		} else {
			o.Chosen = slices.Contains(chosen, o.Value)
		}
	}
	return p
}

// Options lists answers in their order with their words.
func Options(order []string, words map[string]string) []Option {
	out := make([]Option, len(order))
	for i, v := range order {
		out[i] = Option{Value: v, Words: words[v]}
		if words[v] == "" {
			out[i].Words = v
		}
	}
	return out
}

// OptionsOf are the choices that several pages offer, by name.
func OptionsOf(name string) []Option {
	switch name {
	case "means":
		return Options(meansOrder, MeansWords)
	case "ways to send":
		return Options([]string{"post", "mail", "message", "in_person"}, MeansWords)
	case "tests":
		return Options(testOrder, TestWords)
	case "units":
		return Options(unitOrder, nil)
	case "recalls":
		return Options(recallOrder, RecallWords)
	case "glucose units":
		return Options([]string{"mmol/L", "mg/dL"}, nil)
	case "yes or no":
		return Options([]string{"yes", "no"}, map[string]string{"yes": "yes", "no": "no"})
	case "yes, no or unsure":
		return Options([]string{"yes", "no", "unsure"}, map[string]string{"yes": "yes", "no": "no", "unsure": "does not know"})
	case "handovers":
		return Options(handoverOrder, RoleWords)
	case "roles":
		out := Options(RoleOrder, RoleWords)
		for i := range out {
			out[i].Words, out[i].Hint = SentenceCase(out[i].Words), roleMeans[out[i].Value]
		}
		return out
	case "sexes":
		return Options([]string{"", "female", "male"}, map[string]string{"": "not recorded", "female": "female", "male": "male"})
	case "date orders":
		return Options([]string{"", DayFirst, MonthFirst}, map[string]string{
			"": "as 1961-03-24, or the list itself settles it", DayFirst: "day first: 24/03/1961", MonthFirst: "month first: 03/24/1961",
		})
	case "low alarms":
		return Options([]string{"", "the lowest that it allows", "3.0 mmol/L"}, map[string]string{"": "as shipped"})
	case "high alarms":
		return Options([]string{"", "7.8 mmol/L", "10.0 mmol/L", "13.9 mmol/L"}, map[string]string{"": "as shipped"})
	case "asked":
		var out []Option
		for _, c := range ContextFields {
			if slices.Contains(askedNames, c.name) {
				out = append(out, Option{Value: c.name, Words: c.Words})
			}
		}
		return out
	case "contexts":
		var out []Option
		for _, c := range ContextFields {
			out = append(out, Option{Value: c.name, Words: c.Words})
		}
		return out
	}
	panic("web: no choice named " + strconv.Quote(name)) // a template names it; tests execute every template
}
