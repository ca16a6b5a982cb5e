package letter

import (
	"cmp"
	"embed"
	"errors"
	"fmt"
	"strings"

	"wearround/worker/wear"
)

//go:embed templates
var shipped embed.FS

// Letter is one letter ready to be read before it is sent.
type Letter struct {
	Kind Kind
	Text string // paragraphs, headings and lists; see [Blocks]
}

// Field is a place in a template that is filled from the facts.
type Field struct {
	Name string // written {name} in the template
	What string // what stands there
}

// fields are all that a template may name, with the words for one that is
// needed and not known.
var fields = []struct {
	Field
	of      func(Facts) string
	missing string
}{
	{Field{"name", "the patient’s name"}, func(f Facts) string { return f.Patient.Name }, "The patient’s name is not on the register: add it there first."},
	{Field{"born", "the patient’s date of birth"}, born, "The patient’s date of birth is not on the register: add it there first."},
	{Field{"practice", "the practice’s name"}, func(f Facts) string { return f.Practice.Name }, "The practice’s name is not set: ask the lead to set it."},
	{Field{"phone", "the practice’s telephone number"}, func(f Facts) string { return f.Practice.Phone }, "The practice’s telephone number is not set: ask the lead to set it."},
	{Field{"emergency", "the number for emergency care"}, func(f Facts) string { return f.Practice.Emergency }, "The number for emergency care is not set: ask the lead to set it."},
	{Field{"sender", "who signs"}, func(f Facts) string { return f.Sender }, "Say who signs the letter."},
	{Field{"to", "whom the letter addresses"}, func(f Facts) string { return f.To }, "Say to whom the letter goes."},
	{Field{"date", "today’s date"}, today, "The date is not known."},
	{Field{"wear_dates", "first and last day of the wear"}, Facts.wearDates, "The wear has no dates: it holds no readings."},
	{Field{"saw", "what was seen, in counts, with one measurement"}, sawFor("your glucose"), "The wear has not been analysed yet."},
	{Field{"saw_plainly", "the same for a colleague"}, sawFor("glucose"), "The wear has not been analysed yet."},
	{Field{"means", "what it may mean"}, means, "Nothing in this wear asks for tests."},
	{Field{"ignore", "what needs no attention"}, ofReport(Facts.ignore), "The wear has not been analysed yet."},
	{Field{"near", "which limit the wear is near"}, ofReport(Facts.near), "The wear is near no limit."},
	{Field{"doubt", "why the wear cannot be judged"}, ofReport(Facts.doubt), "The wear has not been analysed yet."},
	{Field{"confidence", "how far the record can be trusted"}, ofReport(func(f Facts) string { return f.Report.Confidence }), "The wear has not been analysed yet."},
	{Field{"protocol", "the version of the protocol"}, ofReport(func(f Facts) string { return f.Report.Protocol }), "The wear has not been analysed yet."},
	{Field{"tests", "the tests wanted, as a list"}, Facts.tests, "Choose the tests that are wanted."},
	{Field{"by", "the day by which it is asked"}, byDay, "Say by what day it is asked."},
	{Field{"serial", "the sensor’s serial number"}, func(f Facts) string { return f.Serial }, "Write the sensor’s serial number."},
	{Field{"fault", "what failed"}, func(f Facts) string { return f.Fault }, "Write what failed."},
	{Field{"alarm_low", "the low alarm of the start sheet"}, func(f Facts) string { return cmp.Or(f.Practice.AlarmLow, wear.Limit3_0.String()+" mmol/L") }, ""},
	{Field{"alarm_high", "the high alarm of the start sheet"}, func(f Facts) string { return cmp.Or(f.Practice.AlarmHigh, wear.Limit13_9.String()+" mmol/L") }, ""},
}

func born(f Facts) string {
	if t, ok := isoDay(f.Patient.BirthDate); ok {
		return day(t)
	}
	return ""
}

func today(f Facts) string {
	if f.Today.IsZero() {
		return ""
	}
	return day(f.Today)
}

func byDay(f Facts) string {
	if f.By.IsZero() {
		return ""
	}
	return day(f.By)
}

func ofReport(of func(Facts) string) func(Facts) string {
	return func(f Facts) string {
		if f.Report == nil {
			return ""
		}
		return of(f)
	}
}

func sawFor(glucose string) func(Facts) string {
	return ofReport(func(f Facts) string { return f.saw(glucose) })
}

func means(f Facts) string {
	if f.Report == nil {
		return ""
	}
	x, _ := f.lead()
	return x.Means
}

// Fields lists what a template may name.
func Fields() []Field {
	out := make([]Field, len(fields))
	for i, f := range fields {
		out[i] = f.Field
	}
	return out
}

// Shipped is the text of a kind of letter as it ships, or "" for no such kind.
func Shipped(kind Kind) string {
	b, err := shipped.ReadFile("templates/" + string(kind) + ".txt")
	if err != nil {
		return ""
	}
	return string(b)
}

// ErrNotFor is given where the findings of a wear forbid a kind of letter. Its
// wrapper says which and why in a plain sentence.
var ErrNotFor = errors.New("this letter does not fit the findings")

// Problem is a reason why a letter cannot be written, fit to be shown.
type Problem struct {
	Text  string // one plain sentence
	Field string // the template's field, or ""
	err   error
}

func (p *Problem) Error() string { return p.Text }

func (p *Problem) Unwrap() error { return p.err }

// Allowed says why the findings do not allow a kind of letter, or nil. What a
// letter says is tied to its kind here, so that no wear with an open finding is
// ever called unremarkable.
func Allowed(kind Kind, r *wear.Report) error {
	refuse := func(text string) error { return &Problem{Text: text, err: ErrNotFor} }
	if kind.Sheet() {
		return nil
	}
	if r == nil {
		return refuse("The wear has not been analysed yet.")
	}
	f := Facts{Report: r}
	doubt := f.has(wear.FlagTooLittle) || f.has(wear.FlagSensorDoubt) || f.has(wear.FlagDoubted) || r.Believed == 0
	_, found := f.lead()
	switch kind {
	case Unremarkable:
		if ok, why := wear.MayReassure(r); !ok {
			return refuse("The patient cannot be told that nothing needs follow-up. " + why[0].Text + " " + why[0].ToDo)
		}
	case Near:
		ok, why := wear.MayReassure(r)
		if ok || len(r.Near) == 0 {
			return refuse("This wear is near no limit.")
		}
		for _, w := range why {
			if w.Code != wear.ReasonNear {
				return refuse("More than a near limit stands against telling the patient that no test is asked for. " + w.Text + " " + w.ToDo)
			}
		}
	case Tests:
		if !found {
			return refuse("Nothing in this wear asks for tests.")
		}
	case WearAgain:
		if !doubt {
			return refuse("This wear can be judged, so there is no reason to ask for another because of it.")
		}
	case Clinician:
		if !found && doubt {
			return refuse("This wear cannot be judged, so there is nothing to report from it.")
		}
	}
	return nil
}

// Compose writes a letter with the shipped text.
func Compose(kind Kind, f Facts) (Letter, error) { return ComposeFrom(kind, Shipped(kind), f) }

// ComposeFrom writes a letter with the practice's own text. It gives a
// [*Problem] where the findings forbid the letter, where a field is not known,
// and where the text says what [Check] refuses.
func ComposeFrom(kind Kind, template string, f Facts) (Letter, error) {
	text, err := fill(kind, template, f)
	if err != nil {
		return Letter{}, err
	}
	if problems := Check(kind, text); len(problems) > 0 {
		return Letter{}, &Problem{Text: problems[0]}
	}
	return Letter{Kind: kind, Text: text}, nil
}

// fill is ComposeFrom before the text is checked.
func fill(kind Kind, template string, f Facts) (string, error) {
	if !kind.Known() {
		return "", fmt.Errorf("letter: no kind %q", kind)
	}
	if err := Allowed(kind, f.Report); err != nil {
		return "", err
	}
	text := clean(template)
	for _, x := range fields {
		place := "{" + x.Name + "}"
		if !strings.Contains(text, place) {
			continue
		}
		value := strings.TrimSpace(x.of(f))
		if value == "" {
			return "", &Problem{Text: x.missing, Field: x.Name}
		}
		if x.Name != "tests" { // the one field of several lines: no other may bring a heading or list of its own
			value = strings.Join(strings.Fields(value), " ")
		}
		text = strings.ReplaceAll(text, place, strings.NewReplacer("{", "(", "}", ")").Replace(value))
	}
	return text, nil
}

// clean makes line ends and the end of the text uniform.
func clean(text string) string {
	text = strings.ReplaceAll(text, "\r\n", "\n")
	var out []string
	for line := range strings.SplitSeq(text, "\n") {
		out = append(out, strings.TrimRight(line, " \t"))
	}
	return strings.TrimSpace(strings.Join(out, "\n")) + "\n"
}
