package wear_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// What is said of wears that were once reassured wrongly, one of each class, is
// read out loud in testdata/aloud.golden before it changes.
func TestReadOutLoud(t *testing.T) {
	with := func(in wear.Input, events ...wear.Event) wear.Input {
		in.Events = append(slices.Clone(in.Events), events...)
		return in
	}
	note := func(in wear.Input, text string) wear.Input {
		in.Notes = []wear.NoteText{{At: monday.AddDate(0, 0, 15).Unix(), Kind: wear.WordsCall, Text: text}}
		return in
	}
	as := func(in wear.Input, c wear.Context) wear.Input {
		c.AskedOn = in.Context.AskedOn
		if c.BirthYear == 0 && c.BirthDate == "" {
			c.BirthYear = in.Context.BirthYear
		}
		in.Context = c
		return in
	}
	lab := func(kind string, value float64, unit string, day int) wear.Lab {
		return wear.Lab{At: monday.AddDate(0, 0, day).Unix(), Kind: kind, Value: value, Unit: unit}
	}
	results := func(in wear.Input, labs ...wear.Lab) wear.Input {
		in.Labs = labs
		return in
	}
	up := func(hours, top float64, on ...int) wear.Input { // an hour or more at a height
		return asked(wear.Input{Readings: days(14, 15, func(s time.Duration) float64 {
			g := usual(s)
			for _, d := range on {
				if m := s - at(d, 13, 0); m >= 0 && m.Hours() < hours {
					g = top
				}
			}
			return g
		})})
	}
	plain := up(0, 0)
	dip := fallen(fall{from: at(5, 16, 0), minutes: 40, to: 3.3, ramp: 25})
	quietly := fallen(fall{from: at(5, 16, 0), minutes: 40, to: 2.8, ramp: 25})
	sleepless := as(fallen(fall{from: at(4, 1, 0), minutes: 120, to: 2.6, ramp: 45}), wear.Context{})
	most := wear.Analyse(up(9, 8.4, 2, 4, 6, 8, 10))
	if most.Metrics.Above7_8Pct.V < 11 {
		t.Fatal(most.Metrics.Above7_8Pct)
	}
	cases := []struct {
		name string
		in   wear.Input
		tier wear.Tier
	}{
		{"severe, in words of a list", with(plain, event(at(5, 11, 0), wear.Note, "my wife could not wake me")), wear.Today},
		{"severe, in words of no list", with(plain, event(at(5, 11, 0), wear.Note, "had me sat against the wall like a doll")), wear.CannotTell},
		{"collapsed, on a call", note(plain, "he collapsed and an ambulance came"), wear.Today},
		{"losing weight beside 11.6", with(up(0.75, 11.6, 5), event(at(5, 14, 0), wear.Note, "always thirsty, trousers too loose")), wear.Today},
		{"shaky in a note beside a dip", with(dip, event(at(5, 16, 20), wear.Note, "shaky")), wear.ThisMonth},
		{"a symptom half an hour after a dip", with(dip, event(at(5, 17, 30), wear.Symptom, "shaky")), wear.CannotTell},
		{"a symptom with a no in it", with(dip, event(at(5, 16, 20), wear.Symptom, "shaky, had not eaten")), wear.ThisMonth},
		{"fingerstick 14.2 with thirst", with(plain, stick(at(5, 11, 0), 142, 1, wear.MmolL), event(at(5, 11, 5), wear.Symptom, "thirsty, losing weight")), wear.Today},
		{"fingerstick 3.2 with shaking", with(plain, stick(at(5, 11, 0), 32, 1, wear.MmolL), event(at(5, 11, 5), wear.Symptom, "shaking")), wear.ThisWeek},
		{"random glucose 28", results(plain, lab(wear.LabRandomGlucose, 28, "mmol/L", 10)), wear.Today},
		{"fasting glucose 2.4", results(plain, lab(wear.LabFastingGlucose, 2.4, "mmol/L", 10)), wear.Today},
		{"HbA1c 36 after 48", results(plain, lab(wear.LabHbA1c, 48, "mmol/mol", -300), lab(wear.LabHbA1c, 36, "mmol/mol", 10)), wear.Routine},
		{"insulin in the file, night low", with(sleepless, event(at(3, 21, 0), wear.Medicine, "insulin 12 units")), wear.Today},
		{"a child of 8, an hour at 11.6", as(up(1, 11.6, 4, 8), wear.Context{BirthDate: "2018-01-15"}), wear.Today},
		{"a healthy child of 8", as(plain, wear.Context{BirthDate: "2018-01-15"}), wear.ThisMonth},
		{"six nights of two hours at 2.5", fallen(nightly(6, 1, 0, 120, 2.5, 45)...), wear.ThisWeek},
		{"pregnant, dip with a symptom", as(with(dip, event(at(5, 16, 20), wear.Symptom, "shaky")), wear.Context{Pregnant: true}), wear.ThisMonth},
		{"a few readings above 7.8", up(0.5, 7.9, 5), wear.Routine},
		{"2.4 while walking", with(fallen(fall{from: at(5, 16, 0), minutes: 20, to: 2.4, ramp: 25}), event(at(5, 15, 50), wear.Exercise, "")), wear.ThisWeek},
		{"about 3 for a fortnight, tired once", with(asked(wear.Input{Readings: days(14, 15, func(time.Duration) float64 { return 3 })}), event(at(0, 11, 0), wear.Symptom, "tired")), wear.ThisWeek},
		{"never passed out", with(plain, event(at(5, 11, 0), wear.Note, "never passed out")), wear.CannotTell},
		{"still not better", with(dip, event(at(5, 16, 20), wear.Symptom, "shaky"), event(at(5, 16, 40), wear.Note, "still not better")), wear.ThisWeek},
		{"18 % above 7.8 on a third of the days", up(9, 8.4, 2, 4, 6, 8, 10), wear.Routine},
		{"one brief steep fall in a night", fallen(nightly(1, 2, 30, 25, 3.3, 10)...), wear.Routine},
		{"a fall of an hour to 2.4 in a night", fallen(nightly(1, 2, 30, 50, 2.4, 10)...), wear.Routine},
		{"beyond the sensor for 20 minutes in a night", fallen(nightly(1, 2, 30, 20, 1.9, 10)...), wear.CannotTell},
		{"three hours at 3.4 in one night", fallen(nightly(1, 1, 0, 180, 3.4, 45)...), wear.Routine},
		{"half an hour at 2.8 by day", quietly, wear.ThisMonth},
		{"diabetes in the family", as(plain, wear.Context{FamilyHistory: true}), wear.Routine},
	}
	var b strings.Builder
	for _, c := range cases {
		r := wear.Analyse(c.in)
		if r.Priority.Tier != c.tier {
			t.Errorf("%s: %s, want %s; %v; near %v", c.name, r.Priority.Tier, c.tier, codes(r), r.Near)
		}
		fmt.Fprintf(&b, "%s: %s\n  %s\n", c.name, r.Priority.Tier, r.Headline)
		for _, f := range r.Flags {
			fmt.Fprintf(&b, "  ! %s %s\n", f.Text, f.Evidence)
		}
		for _, x := range r.Near {
			k, _ := wear.NearOf(x.Code)
			fmt.Fprintf(&b, "  ~ %s\n    to the patient: %s\n", x.Text, k.Letter)
		}
		for _, x := range slices.Concat(r.NotFlagged, r.Context) {
			fmt.Fprintf(&b, "  - %s\n", x.Text)
		}
		for _, s := range r.Suspect {
			fmt.Fprintf(&b, "  ? %s\n", s.Reason)
		}
		ok, why := wear.MayReassure(r)
		if ok {
			b.WriteString("  may be called well\n")
		}
		for _, w := range why {
			fmt.Fprintf(&b, "  not well: %s %s\n", w.Text, w.ToDo)
		}
		b.WriteString("\n")
	}
	golden(t, "aloud.golden", b.String())
}
