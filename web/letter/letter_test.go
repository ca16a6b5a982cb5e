package letter

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/worker/wear"
)

var update = flag.Bool("update", false, "write the golden files anew")

var zone = time.FixedZone("", 10*3600)

// wearOf is a wear of 14 days, the last of them too short to judge, with the
// flags and remarks given.
func wearOf(flags []string, remarks ...string) *wear.Report {
	r := &wear.Report{
		Protocol: "2026.1", Start: time.Date(2026, 3, 3, 9, 15, 0, 0, zone), End: time.Date(2026, 3, 16, 9, 10, 0, 0, zone),
		Readings: 4000, Believed: 3900, Confidence: "high", AskedOn: "2026-03-01", Age: 64,
	}
	for i := range 14 {
		r.Days = append(r.Days, wear.Day{Usable: i < 13})
	}
	met := func(n int, set func(*wear.Day)) {
		for i := range min(n, len(r.Days)) {
			set(&r.Days[i])
		}
	}
	for _, code := range flags {
		r.Flags = append(r.Flags, wear.Flag{Code: code, Tier: wear.ThisMonth})
		switch code {
		case wear.FlagAbove7_8:
			met(11, func(d *wear.Day) { d.Met7_8 = true })
		case wear.FlagAbove10, wear.FlagVeryHigh, wear.FlagSwingSymptom:
			met(6, func(d *wear.Day) { d.Met10 = true })
		case wear.FlagDipSymptom, wear.FlagVeryLow:
			r.Matches = []wear.Match{{Episode: 3, SymptomAt: new(r.Start), Symptom: "shaky"}, {Episode: 3, SymptomAt: new(r.Start), Symptom: "sweaty"}, {Episode: 7, SymptomAt: new(r.Start), Symptom: "dizzy"}}
		case wear.FlagLowMedicine:
			r.Episodes = []wear.Episode{{Kind: wear.EpisodeBelow3_9}, {Kind: wear.EpisodeBelow3_0}, {Kind: wear.EpisodeBelow3_9}, {Kind: wear.EpisodeBelow3_9}}
		case wear.FlagTooLittle:
			r.Days, r.Confidence = r.Days[9:], "low"
		case wear.FlagSensorDoubt:
			r.Confidence = "low"
		}
	}
	for _, code := range remarks {
		r.NotFlagged = append(r.NotFlagged, wear.Remark{Code: code, Reassures: len(flags) == 0})
	}
	return r
}

func factsOf(r *wear.Report) Facts {
	return Facts{
		Practice: Practice{Name: "Tarrow Street Practice", Phone: "5550 0142", Emergency: "000"},
		Patient:  Patient{Name: "Velo Tarim", BirthDate: "1961-04-09"},
		Sender:   "Oru Belvane, practice nurse", To: "Dr Sel Maruun", Today: time.Date(2026, 3, 18, 0, 0, 0, 0, zone), By: time.Date(2026, 4, 10, 0, 0, 0, 0, zone),
		Tests: []string{"hba1c", "fasting_glucose"}, Serial: "7F3-0291", Fault: "stopped on the sixth day", Report: r, Zone: zone,
	}
}

// examples are one letter of each kind, and of the kinds that differ by their
// finding one a finding.
var examples = []struct {
	name  string
	kind  Kind
	facts Facts
}{
	{"patient_unremarkable", Unremarkable, factsOf(wearOf(nil, "rise_under_10", "pressure_dip"))},
	{"patient_unremarkable_seldom_above_10", Unremarkable, factsOf(seldomAbove10())},
	{"patient_near_above_7_8", Near, factsOf(nearOf("above_7_8"))},
	{"patient_near_long_dips", Near, factsOf(nearOf("long_dips"))},
	{"patient_tests_above_7_8", Tests, factsOf(wearOf([]string{wear.FlagAbove7_8}))},
	{"patient_tests_above_10_and_dip", Tests, factsOf(wearOf([]string{wear.FlagDipSymptom, wear.FlagAbove10}, "pressure_dip"))},
	{"patient_tests_very_high", Tests, factsOf(wearOf([]string{wear.FlagVeryHigh}))},
	{"patient_tests_low_on_medicine", Tests, factsOf(wearOf([]string{wear.FlagLowMedicine}))},
	{"patient_tests_high_nights", Tests, factsOf(wearOf([]string{wear.FlagHighNights}, "morning_slightly_high"))},
	{"patient_tests_risk_on_record", Tests, factsOf(wearOf([]string{wear.FlagRisk}))},
	{"patient_tests_severe_symptom", Tests, factsOf(wearOf([]string{wear.FlagSevere}))},
	{"patient_tests_off_pathway", Tests, factsOf(wearOf([]string{wear.FlagOffPathway}))},
	{"patient_wear_again_too_little", WearAgain, factsOf(wearOf([]string{wear.FlagTooLittle}))},
	{"patient_wear_again_sensor", WearAgain, factsOf(wearOf([]string{wear.FlagSensorDoubt}))},
	{"clinician", Clinician, factsOf(wearOf([]string{wear.FlagAbove7_8, wear.FlagDipSymptom}))},
	{"sensor_failed", SensorFailed, factsOf(wearOf([]string{wear.FlagSensorDoubt}))},
	{"wear_start", StartSheet, Facts{Practice: Practice{Name: "Tarrow Street Practice", Phone: "5550 0142", Emergency: "000"}}},
	{"how_to_send", SendSheet, Facts{Practice: Practice{Name: "Tarrow Street Practice", Phone: "5550 0142", Emergency: "000"}}},
}

func nearOf(code string) *wear.Report {
	r := wearOf(nil)
	r.Near = []wear.Remark{{Code: code, Text: "Near a limit."}}
	return r
}

func seldomAbove10() *wear.Report {
	r := wearOf(nil, "above_10_seldom")
	r.Days[2].Met10 = true
	return r
}

func TestGolden(t *testing.T) {
	for _, x := range examples {
		t.Run(x.name, func(t *testing.T) {
			l, err := Compose(x.kind, x.facts)
			if err != nil {
				t.Fatal(err)
			}
			name := filepath.Join("testdata", x.name+".txt")
			if *update {
				if err := os.WriteFile(name, []byte(l.Text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(string(want), l.Text); d != "" {
				t.Errorf("the letter changed (-want +got); run with -update if that is meant:\n%s", d)
			}
		})
	}
}

// The words of each kind stay at or under school grade 8.
func TestReadability(t *testing.T) {
	for _, x := range examples {
		l, err := Compose(x.kind, x.facts)
		if err != nil {
			t.Fatal(err)
		}
		if g := Grade(l.Text); g > 8 || g < 1 {
			t.Errorf("%s reads at grade %.1f", x.name, g)
		} else {
			t.Logf("%s: grade %.1f", x.name, g)
		}
	}
}

var (
	allFlags   = flagCodes()
	allRemarks = []string{"dip_without_symptom", "pressure_dip", "rise_under_10", "exercise", "low_carbohydrate", "above_10_seldom", "morning_slightly_high", "high_cv"}
)

// flagCodes are the codes of every flag there is.
func flagCodes() []string {
	var codes []string
	for _, k := range wear.Flags() {
		codes = append(codes, k.Code)
	}
	return codes
}

func subset(of []string, bits int) []string {
	var out []string
	for i, s := range of {
		if bits>>i&1 == 1 {
			out = append(out, s)
		}
	}
	return out
}

// Over every combination of findings, and for each of every remark beside it,
// no letter says what it may not, gives two measurements, leaves a field open
// or reads harder than it should.
func TestNoForbiddenClaim(t *testing.T) {
	written, seen := map[Kind]int{}, map[string]bool{}
	for bits := range 1 << len(allFlags) {
		if n := len(subset(allFlags, bits)); n > 3 && n < len(allFlags)-1 {
			continue // each flag meets each pair of others, and nearly all at once
		}
		for rest := range 1 << len(allRemarks) {
			if rest != bits%(1<<len(allRemarks)) && rest != 1<<len(allRemarks)-1 { // each remark meets each flag; not each pair meets each pair
				continue
			}
			f := factsOf(wearOf(subset(allFlags, bits), subset(allRemarks, rest)...))
			f.Tests = TestCodes()
			for _, kind := range Kinds() {
				text, err := fill(kind, Shipped(kind), f)
				if errors.Is(err, ErrNotFor) {
					continue
				}
				if err != nil {
					t.Fatalf("%s with %v and %v: %v", kind, subset(allFlags, bits), subset(allRemarks, rest), err)
				}
				written[kind]++
				if seen[text] { // many findings make one letter
					continue
				}
				seen[text] = true
				if problems := Check(kind, text); len(problems) > 0 {
					t.Fatalf("%s with %v and %v: %v", kind, subset(allFlags, bits), subset(allRemarks, rest), problems)
				}
				claims(t, kind, text)
			}
		}
	}
	for _, k := range wear.NearKinds() {
		code := k.Code
		text, err := fill(Near, Shipped(Near), factsOf(nearOf(code)))
		if err != nil || len(Check(Near, text)) > 0 {
			t.Fatalf("near %s: %v %v", code, err, Check(Near, text))
		}
		written[Near]++
		claims(t, Near, text)
	}
	for _, kind := range Kinds() {
		if written[kind] == 0 {
			t.Errorf("no %s was ever written", kind)
		}
	}
}

// Each kind has facts of an invented patient to be looked at with.
func TestExamples(t *testing.T) {
	for _, kind := range Kinds() {
		if _, err := Compose(kind, Example(kind)); err != nil {
			t.Errorf("%s: %v", kind, err)
		}
	}
}

// claims looks at a letter by other means than Check, which has passed it.
func claims(t *testing.T, kind Kind, text string) {
	t.Helper()
	low := strings.ToLower(text)
	for _, bad := range []string{"{", "you have diabetes", "prediabetes", "hypoglyc", "all is well", "nothing to worry", "is normal", "healthy glucose", "your tablets", " units", " mg ", "0 of 0"} {
		if strings.Contains(low, bad) {
			t.Fatalf("a %s says %q:\n%s", kind, bad, text)
		}
	}
	if n := strings.Count(low, "mmol/l") + strings.Count(low, "%"); n > 1 && !kind.Sheet() {
		t.Fatalf("a %s gives %d measurements:\n%s", kind, n, text)
	}
	if g := Grade(text); g > 8 {
		t.Fatalf("a %s reads at grade %.1f:\n%s", kind, g, text)
	}
	if kind.ToPatient() && !strings.Contains(low, "if you feel unwell") {
		t.Fatalf("a %s does not say what to do if unwell:\n%s", kind, text)
	}
	if !strings.Contains(low, "diagnose") && (kind == Unremarkable || kind == Near || kind == Clinician) {
		t.Fatalf("a %s does not say that a sensor does not diagnose:\n%s", kind, text)
	}
}

// Every flag of the engine is either a finding that a letter can be about or a
// doubt about the data.
func TestEveryFlagHasWords(t *testing.T) {
	for _, code := range allFlags {
		if code == wear.FlagUnread {
			continue // nobody is written to about words that nobody has read
		}
		r := wearOf([]string{code})
		if Allowed(Tests, r) != nil && Allowed(WearAgain, r) != nil {
			t.Errorf("no letter to the patient can be about %s", code)
		}
	}
}

// A wear with anything to follow up is never called unremarkable, and one
// without data never anything but unjudged.
func TestAllowed(t *testing.T) {
	for _, c := range []struct {
		kind  Kind
		flags []string
		want  bool
	}{
		{Unremarkable, nil, true},
		{Unremarkable, []string{wear.FlagAbove7_8}, false},
		{Unremarkable, []string{wear.FlagTooLittle}, false},
		{Unremarkable, []string{wear.FlagSwingSymptom}, false},
		{Unremarkable, []string{wear.FlagRisk}, false},
		{Tests, nil, false},
		{Tests, []string{wear.FlagTooLittle}, false},
		{Tests, []string{wear.FlagTooLittle, wear.FlagDipSymptom}, true},
		{WearAgain, nil, false},
		{WearAgain, []string{wear.FlagSensorDoubt}, true},
		{Clinician, []string{wear.FlagTooLittle}, false},
		{Clinician, nil, true},
		{SensorFailed, nil, true},
		{StartSheet, nil, true},
	} {
		if err := Allowed(c.kind, wearOf(c.flags)); (err == nil) != c.want || err != nil && !errors.Is(err, ErrNotFor) {
			t.Errorf("%s with %v: %v", c.kind, c.flags, err)
		}
	}
	for name, change := range map[string]func(*wear.Report){
		"words unread": func(r *wear.Report) { r.Unread = 1 }, "nobody asked": func(r *wear.Report) { r.AskedOn = "" },
		"age unknown": func(r *wear.Report) { r.Age = -1 }, "near a limit": func(r *wear.Report) { r.Near = nearOf("above_10").Near },
		"low confidence": func(r *wear.Report) { r.Confidence = "low" },
	} {
		r := wearOf(nil)
		change(r)
		var p *Problem
		if err := Allowed(Unremarkable, r); !errors.As(err, &p) || strings.Count(p.Text, ".") < 2 {
			t.Errorf("%s: %v", name, err)
		}
		if err := Allowed(Near, r); (err == nil) != (len(r.Near) > 0) {
			t.Errorf("near, %s: %v", name, err)
		}
	}
	if err := Allowed(Unremarkable, &wear.Report{Confidence: "high"}); err == nil {
		t.Error("a wear without a usable day was called unremarkable")
	}
	if err := Allowed(Unremarkable, nil); err == nil {
		t.Error("a wear without a report was called unremarkable")
	}
}

func TestMissingFieldIsAProblem(t *testing.T) {
	for name, take := range map[string]func(*Facts){
		"name": func(f *Facts) { f.Patient.Name = " " }, "phone": func(f *Facts) { f.Practice.Phone = "" }, "by": func(f *Facts) { f.By = time.Time{} },
		"tests": func(f *Facts) { f.Tests = []string{"unknown"} }, "sender": func(f *Facts) { f.Sender = "" }, "date": func(f *Facts) { f.Today = time.Time{} },
	} {
		f := factsOf(wearOf([]string{wear.FlagAbove10}))
		take(&f)
		_, err := Compose(Tests, f)
		var p *Problem
		if !errors.As(err, &p) || p.Field != name || !strings.HasSuffix(p.Text, ".") {
			t.Errorf("without %s: %v", name, err)
		}
	}
}

// What comes from outside is text in the letter and nothing more.
func TestOutsideTextStaysText(t *testing.T) {
	f := factsOf(wearOf([]string{wear.FlagAbove10}))
	f.Patient.Name = "Velo {phone}\n\n# Tarim\n- x"
	l, err := Compose(Tests, f)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(l.Text, "Dear Velo (phone) # Tarim - x,") {
		t.Errorf("the name is %q", strings.SplitN(l.Text, "\n", 5))
	}
	if _, err := Compose("unknown", f); err == nil {
		t.Error("an unknown kind was written")
	}
}

func TestCheck(t *testing.T) {
	for _, text := range []string{
		"You have diabetes.", "You may have early diabetes.", "You are prediabetic.", "This shows prediabetes.", "We diagnosed it.", "This was hypoglycaemia.",
		"Take 500 mg in the morning.", "Please stop your tablets.", "Reduce the insulin.", "Your dose is too high.", "Eat 15 g of sugar.",
		"All is well.", "There is nothing to worry about.", "Your glucose is normal.", "This rules out diabetes.", "You are healthy.", "It is perfectly fine.", "You do not have diabetes.",
		"It was 7.9 mmol/L and then 10 mmol/L.", "Dear {nobody},", "", " \n",
	} {
		if len(Check(Tests, text)) == 0 {
			t.Errorf("%q passed", text)
		}
	}
	for _, text := range []string{
		"A sensor does not diagnose.", "This does not rule out diabetes.", "Please do not change your medicine on your own.", "There is no agreed normal range.",
		"We have no record of diabetes here.", "It was above 10 mmol/L.", "It was 180 mg/dL.",
	} {
		if bad := Check(Tests, text); len(bad) > 0 {
			t.Errorf("%q was refused: %v", text, bad)
		}
	}
	for _, kind := range Kinds() {
		if bad := CheckTemplate(kind, Shipped(kind)); len(bad) > 0 {
			t.Errorf("the shipped %s: %v", kind, bad)
		}
	}
	if bad := CheckTemplate(Tests, "Dear {name}, {nobody}"); len(bad) != 1 || !strings.Contains(bad[0], "{nobody}") {
		t.Errorf("an unknown field: %v", bad)
	}
}

// Every field stands in some template, and every template names only fields.
func TestFieldsAreUsed(t *testing.T) {
	all := ""
	for _, kind := range Kinds() {
		all += Shipped(kind)
	}
	for _, f := range Fields() {
		if !strings.Contains(all, "{"+f.Name+"}") || f.What == "" {
			t.Errorf("no template has {%s}, or it is not explained", f.Name)
		}
	}
}

func TestGrade(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
	}{
		{"The cat sat on the mat.", 0.39*6 + 11.8*6/6 - 15.59},
		{"The cat sat. The dog ran.", 0.39*3 + 11.8*6/6 - 15.59},
		{"# Why\n\nWe write. It is 7.8 now.", 0.39*6/2 + 11.8*7/6 - 15.59}, // 7.8 is two syllables and one word
		{"", 0}, {"…", 0},
	} {
		if got := Grade(c.text); got < c.want-1e-9 || got > c.want+1e-9 {
			t.Errorf("grade of %q is %v, want %v", c.text, got, c.want)
		}
	}
	for word, want := range map[string]int{"glucose": 2, "sensor": 2, "table": 2, "the": 1, "moved": 1, "wanted": 2, "insulin": 3, "rhythm": 1, "12": 2, "diabetes": 4, "station": 2, "period": 3, "usual": 3, "quality": 3} {
		if got := syllables(word); got != want {
			t.Errorf("%s has %d syllables, want %d", word, got, want)
		}
	}
}

func TestBlocks(t *testing.T) {
	got := Blocks("Dear A,\r\n\r\n# Head\nText of\ntwo lines\n- one\n- two\n\n\n\nEnd")
	want := []Block{{Lines: []string{"Dear A,"}}, {Heading: "Head"}, {Lines: []string{"Text of", "two lines"}}, {Items: []string{"one", "two"}}, {Lines: []string{"End"}}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func FuzzBlocksKeepsText(f *testing.F) {
	f.Add("Dear A,\n\n# Head\n- one\ntext")
	f.Fuzz(func(t *testing.T, text string) {
		n := 0
		for _, b := range Blocks(text) {
			n += len(b.Heading)
			for _, s := range append(b.Lines, b.Items...) {
				n += len(s)
			}
		}
		if n > len(text)+1 {
			t.Errorf("%d bytes came out of %d", n, len(text))
		}
		if g := Grade(text); g != g {
			t.Error("the grade is no number")
		}
		Check(Tests, text)
	})
}

func ExampleGrade() {
	fmt.Printf("%.1f", Grade(Shipped(Unremarkable)))
	// Output: 3.4
}
