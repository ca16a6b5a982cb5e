package form

import (
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/web/letter"
	"wearround/worker/wear"
)

var zone = time.FixedZone("", 10*3600)

func clock(day, hour, minute int) time.Time {
	return time.Date(2026, 3, day, hour, minute, 0, 0, zone)
}

func posted(t *testing.T, query string) url.Values {
	t.Helper()
	v, err := url.ParseQuery(query)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// fieldsOf lists the fields that are wrong.
func fieldsOf(errs []FieldError) []string {
	var out []string
	for _, e := range errs {
		out = append(out, e.Field)
	}
	return out
}

var (
	wearStart = clock(3, 9, 15)
	wearEnd   = clock(17, 9, 10)
)

func TestParseCall(t *testing.T) {
	dip := "asked-1=1772600400" // 4 March 15:00 in the zone of the tests
	for _, c := range []struct {
		name, query string
		want        Call
		wrong       []string
	}{
		{"empty", "", Call{}, []string{""}},
		{"only asked", dip, Call{}, []string{""}},
		{"felt", dip + "&felt-1=yes&what-1=sweaty&what-1=shaky&what-1=new&words-1=cold+hands&when-1=2026-03-04T15:10&food-1=yes&version=7",
			Call{Version: 7, Answers: []Answer{{Asked: 1772600400, Felt: "yes", At: clock(4, 15, 10).Unix(), Words: "shaky, sweaty, cold hands", Relieved: "yes"}}}, nil},
		{"not felt", dip + "&felt-1=no&when-1=2026-03-04T15:10&food-1=yes", Call{Answers: []Answer{{Asked: 1772600400, Felt: "no"}}}, nil},
		{"not felt and yet felt", dip + "&felt-1=no&words-1=shaky", Call{}, []string{"felt-1"}},
		{"felt but not what", dip + "&felt-1=yes&when-1=2026-03-04T15:10", Call{}, []string{"what-1"}},
		{"felt but not when", dip + "&felt-1=yes&what-1=shaky&when-1=", Call{}, []string{"when-1"}},
		{"felt outside the wear", dip + "&felt-1=yes&what-1=shaky&when-1=2026-04-04T15:10", Call{}, []string{"when-1"}},
		{"words but no answer", dip + "&words-1=shaky", Call{}, []string{"felt-1"}},
		{"answer that is not offered", dip + "&felt-1=maybe", Call{}, []string{"felt-1"}},
		{"nothing was asked", "felt-1=yes&what-1=shaky&note=rang+twice", Call{Note: "rang twice"}, nil},
		{"none at all", "none=yes&version=7", Call{Version: 7, None: true}, nil},
		{"a meal", "event-2-kind=meal&event-2-what=rice&event-2-when=2026-03-04T12:00&event-4-kind=exercise&event-4-what=walk&event-4-when=2026-03-04+13:00&event-4-minutes=40",
			Call{Events: []wear.Event{{At: clock(4, 12, 0).Unix(), Kind: wear.Meal, Label: "rice"}, {At: clock(4, 13, 0).Unix(), Kind: wear.Exercise, Label: "walk", Minutes: 40}}}, nil},
		{"half a meal", "event-1-kind=meal&event-1-when=2026-03-04T12:00&event-2-kind=dance&event-2-what=x&event-2-minutes=-1", Call{}, []string{"event-1-what", "event-2-minutes", "event-2-kind", "event-2-when"}},
	} {
		got, errs := ParseCall(posted(t, c.query), zone, wearStart, wearEnd)
		if d := cmp.Diff(c.wrong, fieldsOf(errs)); d != "" {
			t.Errorf("%s: wrong fields (-want +got):\n%s", c.name, d)
		} else if len(errs) == 0 {
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("%s (-want +got):\n%s", c.name, d)
			}
		}
	}
}

func TestParseOutcome(t *testing.T) {
	choices := []OutcomeChoice{
		{Code: "told_well", Refused: "a clinician must decide"}, {Code: "tests_ordered", Recall: "result", Asks: "Which tests"},
		{Code: "advice", Recall: "review", Optional: true, Asks: "What was advised"}, {Code: "off_pathway", Asks: "Where"},
	}
	for _, c := range []struct {
		query string
		want  Decision
		wrong []string
	}{
		{"", Decision{}, []string{"outcome"}},
		{"outcome=dance", Decision{}, []string{"outcome"}},
		{"outcome=told_well", Decision{}, []string{"outcome"}},
		{"outcome=tests_ordered", Decision{}, []string{"tests_ordered-reason", "tests_ordered-by"}},
		{"outcome=tests_ordered&tests_ordered-reason=HbA1c&tests_ordered-by=2026-03-17", Decision{}, []string{"tests_ordered-by"}},
		{"outcome=tests_ordered&tests_ordered-reason=HbA1c&tests_ordered-by=28.3.2026", Decision{}, []string{"tests_ordered-by"}},
		{"outcome=tests_ordered&tests_ordered-reason=HbA1c&tests_ordered-by=2026-03-18&version=3", Decision{Version: 3, Code: "tests_ordered", Reason: "HbA1c", RecallBy: clock(18, 0, 0)}, nil},
		{"outcome=advice&advice-reason=walk&tests_ordered-by=2026-03-28", Decision{Code: "advice", Reason: "walk"}, nil},
		{"outcome=off_pathway&off_pathway-reason=clinic&off_pathway-by=2026-03-28", Decision{Code: "off_pathway", Reason: "clinic"}, nil},
	} {
		got, errs := ParseOutcome(posted(t, c.query), zone, clock(18, 10, 42), choices)
		if d := cmp.Diff(c.wrong, fieldsOf(errs)); d != "" {
			t.Errorf("%s: wrong fields (-want +got):\n%s", c.query, d)
		} else if len(errs) == 0 {
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("%s (-want +got):\n%s", c.query, d)
			}
		}
	}
}

func TestParseResult(t *testing.T) {
	now := clock(18, 10, 42)
	for _, c := range []struct {
		query string
		wrong []string
		value string
		bound wear.Bound
	}{
		{"test=hba1c&value=43&unit=mmol/mol&taken=2026-03-17", nil, "43", wear.Exact},
		{"test=hba1c&value=6,1&unit=%25&taken=2026-03-17", nil, "6.1", wear.Exact},
		{"test=insulin&value=<+2&unit=mU/L&taken=2026-03-17", nil, "<2", wear.Below},
		{"test=random_glucose&value=>33.3&unit=mmol/L&taken=2026-03-18", nil, ">33.3", wear.Above},
		{"test=fasting_glucose&value=104&unit=mg/dL&taken=2026-03-17", nil, "104", wear.Exact},
		{"test=hba1c&value=6.1&unit=mmol/mol&taken=2026-03-17", []string{"value"}, "", 0},
		{"test=hba1c&value=43&unit=%25&taken=2026-03-17", []string{"value"}, "", 0},
		{"test=fasting_glucose&value=104&unit=mmol/L&taken=2026-03-17", []string{"value"}, "", 0},
		{"test=fasting_glucose&value=5.8&unit=mg/dL&taken=2026-03-17", []string{"value"}, "", 0},
		{"test=insulin&value=5.8&unit=%25&taken=2026-03-17", []string{"unit"}, "", 0},
		{"test=hba1c&value=43&unit=mmol/mol&taken=2026-03-19", []string{"taken"}, "", 0},
		{"test=hba1c&value=about+43&unit=mmol/mol&taken=yesterday", []string{"value", "taken"}, "", 0},
		{"", []string{"test", "value", "unit", "taken"}, "", 0},
	} {
		got, errs := ParseResult(posted(t, c.query), zone, now)
		if d := cmp.Diff(c.wrong, fieldsOf(errs)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.query, d)
		}
		if len(errs) == 0 && (got.Value != c.value || got.Bound != c.bound) {
			t.Errorf("%s: %q, bound %v", c.query, got.Value, got.Bound)
		}
	}
}

func TestParseWorkForms(t *testing.T) {
	if e, errs := ParseFingerstick(posted(t, "at=2026-03-04T15:00&value=5,9&unit=mmol/L"), zone, wearStart, wearEnd); len(errs) > 0 || e.Value.Mmol() != 5.9 || e.Value.At != e.At || e.At != clock(4, 15, 0).Unix() {
		t.Errorf("fingerstick: %+v, %v", e, errs)
	}
	for query, want := range map[string][]string{
		"at=2026-03-04T15:00&value=5.9&unit=mg/dL":  {"value"},
		"at=2026-03-04T15:00&value=<2&unit=mmol/L":  {"value"},
		"at=2026-02-04T15:00&value=5.9&unit=mmol/L": {"at"},
		"": {"at", "value", "unit"},
	} {
		if _, errs := ParseFingerstick(posted(t, query), zone, wearStart, wearEnd); !slices.Equal(fieldsOf(errs), want) {
			t.Errorf("fingerstick %q: %v", query, errs)
		}
	}

	want := Overrule{From: clock(5, 1, 0), To: clock(5, 2, 0), Believe: true, Reason: "awake"}
	if o, errs := ParseOverrule(posted(t, "from=2026-03-05T01:00&to=2026-03-05T02:00&believe=yes&reason=awake"), zone, wearStart, wearEnd); len(errs) > 0 || o != want {
		t.Errorf("overrule: %+v, %v", o, errs)
	}
	for query, want := range map[string][]string{
		"from=2026-03-05T02:00&to=2026-03-05T01:00&believe=no&reason=awake": {"to"},
		"from=2026-03-05T02:00&to=2026-03-05T02:00&believe=no":              {"reason"},
		"": {"from", "to", "believe", "reason"},
	} {
		if _, errs := ParseOverrule(posted(t, query), zone, wearStart, wearEnd); !slices.Equal(fieldsOf(errs), want) {
			t.Errorf("overrule %q: %v", query, errs)
		}
	}

	for query, want := range map[string]string{"zone=+Australia/Perth+": "Australia/Perth", "zone=": "", "": ""} {
		if name, errs := ParseZone(posted(t, query)); len(errs) > 0 || name != want {
			t.Errorf("zone %q: %q, %v", query, name, errs)
		}
	}
	if _, errs := ParseZone(posted(t, "zone=Perth%00")); !slices.Equal(fieldsOf(errs), []string{"zone"}) {
		t.Errorf("a zone with a character that cannot be printed: %v", errs)
	}

	now := clock(18, 10, 42)
	if a, errs := ParseAttempt(posted(t, "means=telephone&reached=no&next_try=2026-03-19&note=engaged"), zone, now, true); len(errs) > 0 || a.Reached || !a.NextTry.Equal(clock(19, 0, 0)) || !a.At.Equal(now) {
		t.Errorf("attempt: %+v, %v", a, errs)
	}
	for query, want := range map[string][]string{
		"means=telephone&reached=no":                      {"next_try"},
		"means=pigeon&reached=yes":                        {"means"},
		"means=telephone&reached=yes&at=2026-03-18T11:00": {"at"},
		"": {"means", "reached"},
	} {
		if _, errs := ParseAttempt(posted(t, query), zone, now, true); !slices.Equal(fieldsOf(errs), want) {
			t.Errorf("attempt %q: %v", query, errs)
		}
	}
	if a, errs := ParseAttempt(posted(t, "means=post&reached=no"), zone, now, false); len(errs) > 0 || !a.NextTry.IsZero() {
		t.Errorf("attempt for a recall: %+v, %v", a, errs)
	}

	if _, errs := ParseReason(posted(t, "reason=+")); !slices.Equal(fieldsOf(errs), []string{"reason"}) {
		t.Error(errs)
	}
	if s, errs := ParseNote(posted(t, "note=one%0D%0Atwo")); s != "one\ntwo" || len(errs) > 0 {
		t.Errorf("%q, %v", s, errs)
	}
	for _, bad := range []string{"note=a%00b", "note=%ff", "note=" + strings.Repeat("x", MostNote+1)} {
		if _, errs := ParseNote(posted(t, bad)); len(errs) == 0 {
			t.Errorf("%.20s passed", bad)
		}
	}
}

// An hour that a clock change left out is refused, not moved.
func TestMomentsThatNeverWere(t *testing.T) {
	spring, err := time.LoadLocation("Australia/Sydney") // put forward on 4 October 2026 at 2:00
	if err != nil {
		t.Skip("no zone files: ", err)
	}
	for at, want := range map[string]int{"2026-10-04T01:30": 0, "2026-10-04T02:30": 1, "2026-10-04T03:30": 0} {
		f := &fields{Values: url.Values{"at": {at}}, zone: spring}
		f.moment("at", "say when")
		if len(f.errors) != want {
			t.Errorf("%s: %v", at, f.errors)
		}
	}
}

func TestParsePatient(t *testing.T) {
	now := clock(18, 10, 42)
	r, errs := ParsePatient(posted(t, "code=P-1&name=Velo+Tarim&birth=1961-04-09&sex=female&phone=5550&email=v@example.test&address=1+Street%0ATown&prefers=post&note=deaf&context=insulin&context=shift_work"), now)
	if len(errs) > 0 {
		t.Fatal(errs)
	}
	want := PatientRecord{
		Patient: Patient{Code: "P-1", Name: "Velo Tarim", BirthDate: "1961-04-09"},
		Contact: Contact{Phone: "5550", Email: "v@example.test", Address: "1 Street\nTown", Prefers: "post", Note: "deaf"},
		Context: wear.Context{BirthYear: 1961, Sex: "female", Insulin: true, ShiftWork: true},
	}
	if d := cmp.Diff(want, r); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if again, errs := ParsePatient(r.Values(), now); len(errs) > 0 || again != r {
		t.Errorf("the form does not give back what it was filled with: %+v, %v", again, errs)
	}
	for query, want := range map[string][]string{
		"": {"code"}, "code=a%0Ab": {"code"}, "code=a&birth=2026-03-19": {"birth"}, "code=a&birth=1860-01-01": {"birth"}, "code=a&email=x": {"email"}, "code=a&sex=new&prefers=new": {"prefers", "sex"},
	} {
		if _, errs := ParsePatient(posted(t, query), now); !slices.Equal(fieldsOf(errs), want) {
			t.Errorf("%q: %v", query, errs)
		}
	}
}

func TestParsePeople(t *testing.T) {
	p, errs := ParsePerson(posted(t, "name=Oru+Belvane&login=Oru.B&role=lead&role=nurse&role=king"))
	if d := cmp.Diff(Person{Name: "Oru Belvane", Login: "oru.b", Roles: []string{RoleNurse, RoleLead}}, p); d != "" || len(errs) > 0 {
		t.Errorf("%v\n%s", errs, d)
	}
	if _, errs := ParsePerson(posted(t, "login=oru+b&role=king")); !slices.Equal(fieldsOf(errs), []string{"name", "login", "role"}) {
		t.Error(errs)
	}
}

func TestParseLetters(t *testing.T) {
	now := clock(18, 10, 42)
	l, errs := ParseLetter(posted(t, "kind=patient_tests&patient_tests-tests=fasting_glucose&patient_tests-tests=hba1c&patient_tests-by=2026-04-10&clinician-to=x"), zone, now)
	want := Letter{Kind: letter.Tests, Tests: []string{"hba1c", "fasting_glucose"}, By: time.Date(2026, 4, 10, 0, 0, 0, 0, zone)}
	if d := cmp.Diff(want, l); d != "" || len(errs) > 0 {
		t.Errorf("%v\n%s", errs, d)
	}
	for query, want := range map[string][]string{
		"": {"kind"}, "kind=wear_start": {"kind"}, "kind=patient_tests": {"patient_tests-tests", "patient_tests-by"}, "kind=patient_unremarkable": nil,
		"kind=sensor_failed": {"sensor_failed-to", "sensor_failed-serial", "sensor_failed-fault", "sensor_failed-by"},
	} {
		if _, errs := ParseLetter(posted(t, query), zone, now); !slices.Equal(fieldsOf(errs), want) {
			t.Errorf("%q: %v", query, errs)
		}
	}
	if _, _, errs := ParseSending(posted(t, "text=Dear+A,&how=post&read=yes"), letter.Tests); len(errs) > 0 {
		t.Error(errs)
	}
	if _, _, errs := ParseSending(posted(t, "text=You+have+diabetes."), letter.Tests); !slices.Equal(fieldsOf(errs), []string{"how", "read", "text"}) {
		t.Error(errs)
	}
	if _, errs := ParseTemplate(posted(t, "text=Dear+{nobody}"), letter.Tests); !slices.Equal(fieldsOf(errs), []string{"text"}) {
		t.Error(errs)
	}
}

// Whatever is sent, a parser says what is wrong in a sentence and goes on.
func FuzzForms(f *testing.F) {
	f.Add("asked-1=1&felt-1=yes&what-1=shaky&when-1=2026-03-04T15:10&outcome=advice&test=hba1c&value=43&unit=%25&taken=2026-03-17&kind=clinician")
	f.Add("event-1-what=x&event-1-minutes=99999999999999999999&at=0000-00-00T00:00&value=<&code=%00&name=%ff&role=lead&text=%7Bname%7D")
	f.Fuzz(func(t *testing.T, body string) {
		v, err := url.ParseQuery(body)
		if err != nil {
			return
		}
		now := clock(18, 10, 42)
		var all []FieldError
		gather := func(errs []FieldError) { all = append(all, errs...) }
		_, errs := ParseCall(v, zone, wearStart, wearEnd)
		gather(errs)
		_, errs = ParseOutcome(v, zone, now, []OutcomeChoice{{Code: "advice", Recall: "review", Asks: "What"}})
		gather(errs)
		_, errs = ParseOverrule(v, zone, wearStart, wearEnd)
		gather(errs)
		_, errs = ParseFingerstick(v, zone, wearStart, wearEnd)
		gather(errs)
		_, errs = ParseResult(v, zone, now)
		gather(errs)
		_, errs = ParseAttempt(v, zone, now, true)
		gather(errs)
		_, errs = ParsePatient(v, now)
		gather(errs)
		_, errs = ParsePerson(v)
		gather(errs)
		_, errs = ParseLetter(v, zone, now)
		gather(errs)
		_, _, errs = ParseSending(v, letter.Tests)
		gather(errs)
		_, errs = ParseTemplate(v, letter.Tests)
		gather(errs)
		for _, e := range all {
			if !strings.HasSuffix(e.Text, ".") {
				t.Errorf("%s: %q is no sentence", e.Field, e.Text)
			}
		}
	})
}

func TestSentenceIsSetInType(t *testing.T) {
	for in, want := range map[string]string{
		"asked on 2026-11-02, the wearer's words":           "Asked on 2 November 2026, the wearer’s words.",
		"it says “don't know, 2026-11-02” of two days' use": "It says “don't know, 2026-11-02” of two days’ use.",
		"code 2026-13-02": "Code 2026-13-02.",
	} {
		if got := Sentence(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}
