package form

import (
	"errors"
	"flag"
	"fmt"
	"net/url"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/web/letter"
	"wearround/worker/wear"
)

var update = flag.Bool("update", false, "write the golden file anew")

// parsers are all forms, as a page posts them on 18 March at 10:42 about a wear
// of 3 to 17 March.
var parsers = map[string]func(url.Values) (any, []FieldError){
	"call": func(v url.Values) (any, []FieldError) { return both(ParseCall(v, zone, wearStart, wearEnd)) },
	"outcome": func(v url.Values) (any, []FieldError) {
		return both(ParseOutcome(v, zone, today, []OutcomeChoice{
			{Code: "told_well", Refused: "a clinician must decide"}, {Code: "tests_ordered", Recall: "result", Asks: "Which tests?"},
			{Code: "advice", Recall: "review", Optional: true}, {Code: "off_pathway"},
		}))
	},
	"overrule":    func(v url.Values) (any, []FieldError) { return both(ParseOverrule(v, zone, wearStart, wearEnd)) },
	"fingerstick": func(v url.Values) (any, []FieldError) { return both(ParseFingerstick(v, zone, wearStart, wearEnd)) },
	"result":      func(v url.Values) (any, []FieldError) { return both(ParseResult(v, zone, today)) },
	"attempt":     func(v url.Values) (any, []FieldError) { return both(ParseAttempt(v, zone, today, true)) },
	"handover":    func(v url.Values) (any, []FieldError) { return both(ParseHandover(v, zone)) },
	"take back":   func(v url.Values) (any, []FieldError) { return both(ParseTakeBack(v)) },
	"words":       func(v url.Values) (any, []FieldError) { return both(ParseRead(v)) },
	"reason":      func(v url.Values) (any, []FieldError) { return both(ParseReason(v)) },
	"move":        func(v url.Values) (any, []FieldError) { return both(ParseMove(v)) },
	"note":        func(v url.Values) (any, []FieldError) { return both(ParseNote(v)) },
	"zone":        func(v url.Values) (any, []FieldError) { return both(ParseZone(v)) },
	"recall":      func(v url.Values) (any, []FieldError) { return both(ParseNewRecall(v, zone, today)) },
	"recall day": func(v url.Values) (any, []FieldError) {
		by, reason, wrong := ParseRecallDay(v, zone, today)
		return []any{by, reason}, wrong
	},
	"patient":  func(v url.Values) (any, []FieldError) { return both(ParsePatient(v, today)) },
	"person":   func(v url.Values) (any, []FieldError) { return both(ParsePerson(v)) },
	"hand out": func(v url.Values) (any, []FieldError) { return both(ParseHandOut(v, today)) },
	"practice": func(v url.Values) (any, []FieldError) { return both(ParsePractice(v)) },
	"letter":   func(v url.Values) (any, []FieldError) { return both(ParseLetter(v, zone, today)) },
	"sending": func(v url.Values) (any, []FieldError) {
		text, how, wrong := ParseSending(v, letter.Tests)
		return []string{text, how}, wrong
	},
	"template": func(v url.Values) (any, []FieldError) { return both(ParseTemplate(v, letter.Tests)) },
}

var today = clock(18, 10, 42)

func both[T any](v T, wrong []FieldError) (any, []FieldError) { return v, wrong }

// What each form makes of what is posted, and each sentence that it answers
// with: what is taken, then what is not.
func TestFormsGolden(t *testing.T) {
	const file = "testdata/forms.golden"
	var b strings.Builder
	for _, c := range []struct{ form, query string }{
		{"call", ""},
		{"call", "asked-1=1772600400&felt-1=yes&what-1=shaky&when-1=2026-03-04T15:10&food-1=unsure&asked-12=1772700400&felt-12=no&food-12=yes&asked-13=1772800400&felt-13=no&version=7&note=rang"},
		{"call", "asked-1=x&felt-1=yes&asked-2=1772600400&felt-2=yes&asked-3=1772600400&felt-3=unsure&words-3=cold&asked-4=1772600400&food-4=no&asked-5=1772600400&words-5=cold&asked-6=1772600400&felt-6=yes&words-6=cold"},
		{"call", "event-1-what=rice&event-4-what=walk&event-4-kind=exercise&event-4-when=2026-03-04+13:00&event-4-minutes=1440&event-5-what=not+read"},
		{"call", "event-1-when=2026-03-04&event-2-kind=meal&event-2-when=2026-02-04+12:00&event-3-what=a&event-3-minutes=1441"},
		{"outcome", ""}, {"outcome", "outcome=told_well"}, {"outcome", "outcome=tests_ordered"},
		{"outcome", "outcome=tests_ordered&tests_ordered-reason=HbA1c&tests_ordered-by=2026-03-17"},
		{"outcome", "outcome=tests_ordered&tests_ordered-reason=HbA1c&tests_ordered-by=2026-03-18&version=x"},
		{"outcome", "outcome=advice&version=3"}, {"outcome", "outcome=advice&advice-by=18.3.2026"}, {"outcome", "outcome=off_pathway&off_pathway-by=2026-03-28"},
		{"overrule", "from=2026-03-05T01:00&to=2026-03-05T01:00&believe=no&reason=awake&version=4"},
		{"overrule", "from=2026-03-05T01:00&to=2026-03-05T00:59&believe=maybe"}, {"overrule", ""}, {"overrule", "to=2026-03-05T00:59"}, {"overrule", "from=2026-03-05T00:59"},
		{"fingerstick", "at=2026-03-04T15:00&value=5,9&unit=mmol/L"}, {"fingerstick", "at=2026-03-04T15:00&value=<5&unit=mmol/L"}, {"fingerstick", "value=about+5"}, {"fingerstick", ""},
		{"fingerstick", "at=2026-03-04T15:00&value=5.9&unit=mg/dL"}, {"fingerstick", "at=2026-03-04T15:00&value=59&unit=mmol/L"}, {"fingerstick", "at=2026-03-04T15:00&value=61&unit=mmol/L"},
		{"result", "test=hba1c&value=43&unit=mmol/mol&taken=2026-03-17&note=by+post"}, {"result", "test=hba1c&value=43&unit=mmol/L&taken=2026-03-17"}, {"result", "test=hba1c&value=43&unit=%25&taken=2026-03-19"},
		{"result", "test=hba1c&value=2&unit=%25&taken=2026-03-17"}, {"result", "test=hba1c&value=8&unit=mmol/mol&taken=2026-03-17"}, {"result", "test=insulin&value=2001&unit=mU/L&taken=2026-03-17"},
		{"result", "test=insulin&value=14001&unit=pmol/L&taken=2026-03-17"}, {"result", "test=ogtt_2h&value=<0.4&unit=mmol/L&taken=2026-03-17"}, {"result", "test=random_glucose&value=>33&unit=mg/dL&taken=2026-03-17"}, {"result", ""},
		{"attempt", "means=telephone&reached=no&next_try=2026-03-18&note=engaged"}, {"attempt", "means=telephone&reached=yes&at=2026-03-18T10:40"}, {"attempt", "reached=no&at=2026-03-18T10:43"}, {"attempt", "means=x&next_try=2026-03-17&reached=no"},
		{"handover", "to=clinician&reason=a+high&by=2026-03-20"}, {"handover", "to=lead&by=x"}, {"handover", ""},
		{"take back", "what=read&item=12&reason=mistaken"}, {"take back", "what=overrule&item=9223372036854775807&reason=m"}, {"take back", "what=x&item=x"}, {"take back", ""},
		{"words", "as..a=symptom&as..b=&as..=symptom&as.severe.c=severe&as.severe.d=nothing&label=e&label=f&as-labels=meal"}, {"words", "as..a=dance"}, {"words", "as.dance.a=meal"}, {"words", "as.severe.a=severe"}, {"words", ""},
		{"move", "code=P-1&reason=mixed+up&results=no&sure=P-1"}, {"move", "results=maybe"},
		{"reason", ""}, {"note", ""}, {"note", "note=a%00"}, {"zone", "zone=+Australia/Perth"},
		{"recall", "kind=new_wear&by=2026-03-18&note=x"}, {"recall", "kind=urgent&by=2026-03-17"}, {"recall", ""}, {"recall day", "by=2026-03-18&reason=away"}, {"recall day", ""},
		{"patient", "code=P-1&name=Velo+Tarim&birth=1896-04-09&sex=male&prefers=mail&email=a@b&asked=2026-03-18&context=insulin"},
		{"patient", "code=a%0Ab&birth=1895-12-31&email=ab&asked=2026-03-19&sex=x&prefers=x"}, {"patient", "birth=2026-03-19"}, {"patient", "code=a&birth=2026-03-18"},
		{"person", "name=Oru+Belvane&login=Oru.B&role=lead&role=nurse"}, {"person", "login=oru+b"}, {"person", ""},
		{"hand out", "patient=12&code=P-1&name=Velo+Tarim&birth=1896-01-01&phone=5550&address=1+Street&given=2026-03-18&kind=A&serial=S1&note=n&asked=yes&context=insulin&context=steroid"},
		{"hand out", "patient=x&code=P-1&given=2026-03-10&due=2026-03-10&asked=no&asked_on=2026-03-12"}, {"hand out", "code=P-1&given=2026-03-10&due=2026-03-09&asked=no&context=insulin"},
		{"hand out", "given=2026-03-19&birth=1895-12-31&asked_on=2026-03-19"}, {"hand out", "code=P-1&given=2026-03-18&context=insulin&asked=yes"}, {"hand out", "due=2026-03-18&context=insulin"},
		{"practice", "name=The+practice&address=1+Street&telephone=5550&emergency=000&alarm_low=3.0+mmol/L&alarm_high=10.0+mmol/L"}, {"practice", "alarm_low=2.0+mmol/L&alarm_high=x"},
		{"letter", "kind=patient_tests&patient_tests-tests=hba1c&patient_tests-by=2026-03-18"}, {"letter", "kind=patient_tests"}, {"letter", "kind=clinician"}, {"letter", "kind=clinician&clinician-to=Dr+Oru&clinician-by=2026-03-17"}, {"letter", "kind=sensor_failed"}, {"letter", ""},
		{"letter", "kind=sensor_failed&sensor_failed-to=Oru&sensor_failed-serial=S1&sensor_failed-fault=fell+off&sensor_failed-by=2026-03-18"}, {"letter", "kind=patient_wear_again&patient_wear_again-by=2026-03-19"},
		{"sending", "text=Dear+A,&how=post&read=yes"}, {"sending", ""}, {"sending", "text=You+have+diabetes.&how=x&read=no"}, {"template", ""}, {"template", "text=Dear+{nobody}"}, {"template", "text=Dear+{name}"},
	} {
		got, wrong := parsers[c.form](posted(t, c.query))
		fmt.Fprintf(&b, "%s: %s\n", c.form, c.query)
		if len(wrong) == 0 {
			fmt.Fprintf(&b, "\t= %+v\n", got)
		}
		for _, e := range wrong {
			fmt.Fprintf(&b, "\t%s: %s\n", e.Field, e.Text)
		}
	}
	for _, name := range []string{
		"means", "ways to send", "tests", "units", "recalls", "glucose units", "yes or no", "yes, no or unsure", "handovers", "roles", "sexes", "date orders", "low alarms", "high alarms", "asked", "contexts",
	} {
		fmt.Fprintf(&b, "%s\n", name)
		for _, o := range OptionsOf(name) {
			fmt.Fprintf(&b, "\t%q %s / %s\n", o.Value, o.Words, o.Hint)
		}
	}
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(b.String(), "\n")); d != "" {
		t.Errorf("the forms differ from %s (-update writes it anew):\n%s", file, d)
	}
}

// Each text that can be typed has its length: the longest is taken, one more
// character is not.
func TestLengths(t *testing.T) {
	for _, c := range []struct {
		form, field, rest string
		most              int
	}{
		{"call", "note", "", 2000}, {"call", "words-1", "asked-1=1&felt-1=yes&when-1=2026-03-04T15:10", 200},
		{"outcome", "off_pathway-reason", "outcome=off_pathway", 2000}, {"overrule", "reason", "from=2026-03-05T01:00&to=2026-03-05T01:00&believe=no", 2000},
		{"result", "note", "test=hba1c&value=43&unit=mmol/mol&taken=2026-03-17", 2000}, {"attempt", "note", "means=post&reached=yes", 2000},
		{"handover", "reason", "to=nurse", 2000}, {"take back", "reason", "what=read&item=1", 2000}, {"recall", "note", "kind=review&by=2026-03-18", 2000}, {"recall day", "reason", "by=2026-03-18", 2000},
		{"patient", "code", "", 80}, {"patient", "name", "code=a", 200}, {"patient", "phone", "code=a", 80}, {"patient", "note", "code=a", 200}, {"patient", "address", "code=a", 400},
		{"hand out", "code", "given=2026-03-18&asked=no", 80}, {"hand out", "name", "code=a&given=2026-03-18&asked=no", 200}, {"hand out", "phone", "code=a&given=2026-03-18&asked=no", 80},
		{"hand out", "address", "code=a&given=2026-03-18&asked=no", 400}, {"hand out", "kind", "code=a&given=2026-03-18&asked=no", 20}, {"hand out", "serial", "code=a&given=2026-03-18&asked=no", 80},
		{"hand out", "note", "code=a&given=2026-03-18&asked=no", 2000},
		{"practice", "name", "telephone=1&emergency=1", 200}, {"practice", "address", "name=a&telephone=1&emergency=1", 400}, {"practice", "telephone", "name=a&emergency=1", 80}, {"practice", "emergency", "name=a&telephone=1", 40},
		{"letter", "clinician-to", "kind=clinician&clinician-by=2026-03-18", 200}, {"letter", "sensor_failed-serial", "kind=sensor_failed&sensor_failed-to=a&sensor_failed-fault=b&sensor_failed-by=2026-03-18", 80},
		{"letter", "sensor_failed-fault", "kind=sensor_failed&sensor_failed-to=a&sensor_failed-serial=b&sensor_failed-by=2026-03-18", 200}, {"template", "text", "", 8000},
	} {
		for n, want := range map[int]bool{c.most: true, c.most + 1: false} {
			v := posted(t, c.rest)
			v.Set(c.field, strings.Repeat("é", n))
			_, wrong := parsers[c.form](v)
			if taken := len(wrong) == 0; taken != want || !want && wrong[0].Field != c.field {
				t.Errorf("%s, %s of %d characters: %v", c.form, c.field, n, wrong)
			}
		}
	}
	for n, want := range map[int]int{2000: 2000, 2001: 2000} {
		v := url.Values{"as-labels": {string(wear.ReadSymptom)}}
		for i := range n {
			v.Add("label", fmt.Sprint(i))
		}
		if said, _ := ParseRead(v); len(said) != want {
			t.Errorf("%d of %d labels are read", len(said), n)
		}
	}
}

// A field carries what it was given, and what was typed stands before what
// was proposed; a password never comes back.
func TestFields(t *testing.T) {
	f := Form{Task: "t", Values: posted(t, "a=typed&b=2&b=3&c="), Errors: []FieldError{{"x", "Not this."}, {"a", "Wrong."}, {"a", "Again."}}}
	for _, c := range []struct{ got, want any }{
		{f.Input("text", "a", "A", "required", "mono", "hint=h=h", "autocomplete=name", "mode=tel", "most=80", "rows=3", "value=proposed"),
			Input{Kind: "text", Name: "a", ID: "t-a", Label: "A", Hint: "h=h", Value: "typed", Error: "Wrong.", Autocomplete: "name", Mode: "tel", Most: 80, Rows: 3, Required: true, Mono: true}},
		{f.Input("text", "c", "C", "value=proposed"), Input{Kind: "text", Name: "c", ID: "t-c", Label: "C", Autocomplete: "off"}},
		{f.Input("text", "d", "D", "value=proposed"), Input{Kind: "text", Name: "d", ID: "t-d", Label: "D", Value: "proposed", Autocomplete: "off"}},
		{f.Input("password", "a", "A"), Input{Kind: "password", Name: "a", ID: "t-a", Label: "A", Error: "Wrong.", Autocomplete: "off"}},
		{f.Pick("checkbox", "b", "B", []Option{{Value: "1"}, {Value: "2"}, {Value: "3"}}, "1"), Pick{Kind: "checkbox", Name: "b", ID: "t-b", Legend: "B",
			Options: []Option{{Value: "1", ID: "t-b"}, {Value: "2", ID: "t-b-2", Chosen: true}, {Value: "3", ID: "t-b-3", Chosen: true}}}},
		{f.Pick("radio", "d", "D", []Option{{Value: "1"}, {Value: "2"}}, "1"), Pick{Kind: "radio", Name: "d", ID: "t-d", Legend: "D", Options: []Option{{Value: "1", ID: "t-d", Chosen: true}, {Value: "2", ID: "t-d-2"}}}},
		{f.For("t"), f}, {f.For("u"), Form{Task: "u"}}, {f.ID(""), ""}, {Form{}.ID("a"), "a"}, {f.Error("a"), "Wrong."}, {f.Error("z"), ""},
	} {
		if d := cmp.Diff(c.want, c.got); d != "" {
			t.Errorf("(-want +got):\n%s", d)
		}
	}
}

func TestCalledAndSaid(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Patient{Name: "Velo", Code: "P-1"}.Called(), "Velo"}, {Patient{Code: "P-1"}.Called(), "Patient P-1"}, {Patient{}.Called(), "Patient not known"},
		{Contact{}.Words(), "No telephone number is on the register."}, {Contact{Phone: "5550"}.Words(), "Telephone 5550"},
		{Contact{Phone: "5550", Email: "a@b", Prefers: "mail", Note: "deaf"}.Words(), "Telephone 5550 · a@b · prefers email · deaf"}, {Contact{Email: "a@b", Prefers: "x"}.Words(), "a@b"},
		{string(Contact{Phone: "+09 (5/5):5"}.Dial()), "tel:+09555"},
		{Taken{What: TakeRead, ID: 7}.Task(), "read-7"},
		{WordsOf(MeansWords, "mail"), "email"}, {WordsOf(MeansWords, "owl"), "owl"},
		{SentenceCase("a b"), "A b"}, {SentenceCase("zoo"), "Zoo"}, {SentenceCase("éa"), "éa"}, {SentenceCase("{a"), "{a"}, {SentenceCase("`a"), "`a"}, {SentenceCase(""), ""},
		{Sentence("say"), "Say."}, {Sentence("say?"), "Say?"}, {Sentence("Say."), "Say."}, {Sentence(""), ""},
		{ProblemWords(&letter.Problem{Text: "No."}), "No."}, {ProblemWords(errors.New("x")), "This letter cannot be written."},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

// What was asked at a hand-out is all that it changes on record.
func TestAskedAtHandOut(t *testing.T) {
	on := wear.Context{Insulin: true, ShiftWork: true, AskedOn: "2025-01-01"}
	h := HandOut{AskedOn: "2026-03-18", Context: wear.Context{Steroid: true, Overweight: true}}
	was := on
	if h.SetAsked(&on); on != was {
		t.Errorf("nobody asked, and %+v", on)
	}
	h.Asked = true
	h.SetAsked(&on)
	if want := (wear.Context{Steroid: true, ShiftWork: true, AskedOn: "2026-03-18"}); on != want {
		t.Errorf("%+v, want %+v", on, want)
	}
	if d := cmp.Diff([]string{"steroid"}, AskedValues(&on)); d != "" {
		t.Error(d)
	}
	p := Practice{Name: "a", Address: "b", Telephone: "c", Emergency: "d", AlarmLow: "3.0 mmol/L", AlarmHigh: "7.8 mmol/L"}
	if back, wrong := ParsePractice(PracticeValues(p)); back != p || len(wrong) > 0 {
		t.Errorf("%+v came back as %+v: %v", p, back, wrong)
	}
}
