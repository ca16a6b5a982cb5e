package wear_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/worker/wear"
)

// stick is a fingerstick at a time of the wear.
func stick(since time.Duration, num int64, scale uint8, unit wear.Unit) wear.Event {
	e := event(since, wear.Fingerstick, "")
	e.Value = wear.Reading{At: e.At, Num: num, Scale: scale, Unit: unit}
	return e
}

// What is written down or measured in blood counts whatever the sensor shows.
func TestBloodAndSymptomsOverrideTheTrace(t *testing.T) {
	low := event(at(3, 11, 0), wear.Fingerstick, "")
	low.Value = wear.Reading{At: low.At, Unit: wear.MmolL, Bound: wear.Below}
	for _, c := range []struct {
		name  string
		event wear.Event
		flags []string
		tier  wear.Tier
		says  string
	}{
		{"a fit", event(at(3, 11, 0), wear.Symptom, "Seizure, ambulance came"), []string{wear.FlagSevere}, wear.Today, "“Seizure, ambulance came” on 5 March at 11:00"},
		{"in a note", event(at(3, 11, 0), wear.Note, "passed out on the stairs"), []string{wear.FlagSevere}, wear.Today, "passed out"},
		{"faint is not fainted", event(at(3, 11, 0), wear.Symptom, "a bit faint"), nil, wear.Routine, ""},
		{"in a meal's name", event(at(3, 11, 0), wear.Meal, "collapsed after cake"), []string{wear.FlagSevere}, wear.Today, ""},
		{"as the sensor came off", event(at(10, 1, 0), wear.Symptom, "seizure"), []string{wear.FlagSevere}, wear.Today, "12 March at 01:00"},
		{"after the wear", event(at(12, 11, 0), wear.Symptom, "seizure"), []string{wear.FlagSevere}, wear.Today, "14 March at 11:00"},
		{"blood 2.9", stick(at(3, 11, 0), 29, 1, wear.MmolL), []string{wear.FlagVeryLow}, wear.Today, "One fingerstick below 3.0: 2.9 mmol/L on 5 March at 11:00."},
		{"blood 3.0", stick(at(3, 11, 0), 30, 1, wear.MmolL), nil, wear.Routine, ""},
		{"blood 53 mg/dL", stick(at(3, 11, 0), 53, 0, wear.MgdL), []string{wear.FlagVeryLow}, wear.Today, "53 mg/dL"},
		{"blood 54 mg/dL", stick(at(3, 11, 0), 54, 0, wear.MgdL), nil, wear.Routine, ""}, // converts to 2.997
		{"blood low in words", low, []string{wear.FlagVeryLow}, wear.Today, "below 3.0: low on"},
		{"blood 11.0", stick(at(3, 11, 0), 110, 1, wear.MmolL), nil, wear.Routine, ""},
		{"blood 11.1", stick(at(3, 11, 0), 111, 1, wear.MmolL), []string{wear.FlagVeryHigh}, wear.ThisWeek, "at or above 11.1: 11.1 mmol/L"},
		{"blood 13.9", stick(at(3, 11, 0), 139, 1, wear.MmolL), []string{wear.FlagVeryHigh}, wear.ThisWeek, ""},
		{"blood 14.0", stick(at(3, 11, 0), 140, 1, wear.MmolL), []string{wear.FlagVeryHigh}, wear.Today, "above 13.9: 14.0 mmol/L"},
		{"blood 20.1", stick(at(3, 11, 0), 201, 1, wear.MmolL), []string{wear.FlagVeryHigh}, wear.Today, "One fingerstick above 20.0: 20.1 mmol/L"},
		{"blood after the wear", stick(at(12, 11, 0), 29, 1, wear.MmolL), []string{wear.FlagVeryLow}, wear.Today, "below 3.0: 2.9 mmol/L"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := wear.Analyse(read(wear.Input{Readings: days(10, 5, usual), Events: []wear.Event{c.event}}))
			if d := cmp.Diff(append([]string{}, c.flags...), codes(r)); d != "" {
				t.Fatalf("flags (-want +got):\n%s", d)
			}
			if r.Priority.Tier != c.tier || c.says != "" && !strings.Contains(r.Flags[0].Text, c.says) {
				t.Errorf("%s: %+v", r.Priority.Tier, r.Flags)
			}
			checkReport(t, r)
		})
	}
}

// A low that no meal explains is more pressing than one after a meal.
func TestDipsFastingAndInTheNight(t *testing.T) {
	meals := func(last time.Duration) []wear.Event {
		return []wear.Event{event(at(3, 7, 30), wear.Meal, "toast"), event(at(3, 12, 30), wear.Meal, "soup"), event(last, wear.Meal, "pasta")}
	}
	for _, c := range []struct {
		name string
		dip  time.Duration
		log  []wear.Event
		in   wear.Context
		tier wear.Tier
	}{
		{"fasting", at(4, 7, 0), meals(at(3, 19, 0)), wear.Context{}, wear.ThisWeek},
		{"in the night", at(4, 3, 0), nil, wear.Context{}, wear.ThisWeek},
		{"in the night of a shift worker", at(4, 3, 0), nil, wear.Context{ShiftWork: true}, wear.ThisWeek},
		{"in the night after a meal", at(4, 0, 30), meals(at(3, 21, 30)), wear.Context{}, wear.ThisMonth},
		{"by day, no log", at(4, 16, 0), nil, wear.Context{}, wear.ThisMonth},
		{"after a meal after surgery", at(4, 0, 30), meals(at(3, 21, 30)), wear.Context{BariatricSurgery: true}, wear.ThisWeek},
	} {
		t.Run(c.name, func(t *testing.T) {
			readings := days(10, 5, func(s time.Duration) float64 { return usual(s) - bump(s, c.dip, 0.8, 2) })
			events := append(c.log, event(c.dip, wear.Symptom, "shaky"))
			r := wear.Analyse(read(wear.Input{Readings: readings, Events: events, Context: c.in}))
			if !slices.Equal(codes(r), []string{wear.FlagDipSymptom}) || r.Priority.Tier != c.tier {
				t.Errorf("%s: %+v; %+v", r.Priority.Tier, r.Flags, r.Matches)
			}
		})
	}
}

// Four days of two weeks are eight of four.
func TestDaysAbove10GrowWithTheWear(t *testing.T) {
	for _, c := range []struct {
		days, high int
		flagged    bool
	}{{14, 3, false}, {14, 4, true}, {28, 7, false}, {28, 8, true}} {
		t.Run(fmt.Sprintf("%d of %d", c.high, c.days), func(t *testing.T) {
			r := wear.Analyse(wear.Input{Readings: days(c.days, 5, func(s time.Duration) float64 {
				g := usual(s)
				for k := range c.high {
					g += bump(s, at(3*k+1, 16, 30), 0.6, 5.3)
				}
				return g
			})})
			if got := slices.Contains(codes(r), wear.FlagAbove10); got != c.flagged {
				t.Errorf("flags %+v, %+v", r.Flags, r.NotFlagged)
			}
		})
	}
}

// In pregnancy the limits of other adults neither flag nor reassure.
func TestPregnancy(t *testing.T) {
	mornings := func(level float64) wear.Input {
		in := wear.Input{Context: wear.Context{Pregnant: true}}
		in.Readings = days(10, 5, func(s time.Duration) float64 {
			if c := clock(s); c > 5 && c < 8 {
				return level
			}
			return usual(s)
		})
		for d := range 10 {
			in.Events = append(in.Events, event(at(d, 7, 30), wear.Meal, "toast"), event(at(d, 19, 0), wear.Meal, "soup"))
		}
		return in
	}
	for level, tier := range map[float64]wear.Tier{6.8: wear.ThisWeek, 7.2: wear.Today} {
		r := wear.Analyse(mornings(level))
		if r.Priority.Tier != tier || !strings.HasPrefix(r.Headline, "In pregnancy") && !strings.Contains(r.Headline, "for a pregnancy") {
			t.Errorf("fasting mornings of %v: %s, %q, %+v", level, r.Priority.Tier, r.Headline, r.Flags)
		}
		for _, code := range []string{"rise_under_10", "morning_slightly_high", "above_7_8_under_limit", "above_10_seldom", "dip_without_symptom"} {
			if got := text(r.NotFlagged, code); got != "" {
				t.Errorf("said by limits that do not hold here: %s", got)
			}
		}
	}
	in := wear.Input{Readings: days(10, 5, usual), Context: wear.Context{Pregnant: true}}
	for _, c := range []struct {
		lab  wear.Lab
		tier wear.Tier
	}{
		{wear.Lab{Kind: wear.LabFastingGlucose, Value: 5.3, Unit: "mmol/L"}, wear.ThisWeek},
		{wear.Lab{Kind: wear.LabFastingGlucose, Value: 7.0, Unit: "mmol/L"}, wear.Today},
		{wear.Lab{Kind: wear.LabTwoHourGlucose, Value: 200, Unit: "mg/dL"}, wear.Today},
		{wear.Lab{Kind: wear.LabRandomGlucose, Value: 11.1, Unit: "mmol/L"}, wear.Today},
		{wear.Lab{Kind: wear.LabHbA1c, Value: 47, Unit: "mmol/mol"}, wear.ThisWeek},
		{wear.Lab{Kind: wear.LabHbA1c, Value: 48, Unit: "mmol/mol"}, wear.Today},
	} {
		in.Labs = []wear.Lab{c.lab}
		if r := wear.Analyse(in); r.Priority.Tier != c.tier {
			t.Errorf("%+v: %s, %+v", c.lab, r.Priority.Tier, r.Flags)
		}
	}
}

// A result past its limit is flagged whatever else was found; so much time
// below 3.9 that nobody would miss it is the sensor's.
func TestDoubtfulTraceDoesNotHideTheLaboratory(t *testing.T) {
	past := []wear.Lab{{At: monday.Unix(), Kind: wear.LabHbA1c, Value: 52, Unit: "mmol/mol"}}
	r := wear.Analyse(wear.Input{Readings: days(3, 5, usual), Labs: past})
	if !slices.Equal(codes(r), []string{wear.FlagRisk, wear.FlagTooLittle}) || r.Priority.Tier != wear.ThisMonth || !strings.Contains(r.Flags[0].Text, "HbA1c of 52 mmol/mol") {
		t.Errorf("%s: %+v", r.Priority.Tier, r.Flags)
	}
	low := func(s time.Duration) float64 { return usual(s) - 1.5 }
	r = wear.Analyse(wear.Input{Readings: days(10, 5, low)})
	if share := r.Metrics.Below3_9Pct.V; share < 35 || share > 75 {
		t.Fatalf("%v %% below 3.9 tests nothing", share)
	}
	if !slices.Equal(codes(r), []string{wear.FlagSensorDoubt}) || r.Confidence != "low" || strings.Contains(text(r.NotFlagged, "dip_without_symptom"), "common") {
		t.Errorf("%+v, %v", r.Flags, r.NotFlagged)
	}
	r = wear.Analyse(wear.Input{Readings: days(10, 5, low), Context: wear.Context{Sulfonylurea: true}})
	if !slices.Contains(codes(r), wear.FlagSensorDoubt) || r.Priority.Tier != wear.Today {
		t.Errorf("on a sulfonylurea: %+v", r.Flags)
	}
}

// A reading of 70 mg/dL is not below 3.9 although it converts to 3.886, nor one
// of 54 below 3.0.
func TestWordsCompareInTheUnitOfTheFile(t *testing.T) {
	readings := days(10, 5, func(s time.Duration) float64 { return usual(s) - bump(s, at(4, 16, 0), 0.8, 2.2) })
	for i := range readings {
		r := &readings[i]
		r.Num, r.Scale, r.Unit = max(54, int64(r.Mgdl()+0.5)), 0, wear.MgdL
		if within(time.Duration(r.At-monday.Unix())*time.Second, at(4, 15, 50), at(4, 16, 10)) {
			r.Num = 54 + int64(i%2)
		}
	}
	r := wear.Analyse(onCall(asked(wear.Input{Readings: readings})))
	if got := text(r.NotFlagged, "dip_without_symptom"); !strings.Contains(got, "common in healthy people") {
		t.Errorf("down to exactly 54 mg/dL: %q", got)
	}
	blood := stick(at(4, 16, 0), 70, 0, wear.MgdL)
	r = wear.Analyse(read(wear.Input{Readings: readings, Events: []wear.Event{blood, event(at(4, 16, 5), wear.Symptom, "shaky")}}))
	if len(r.Matches) != 1 || !strings.Contains(r.Flags[0].Evidence, "are still to be asked") {
		t.Errorf("a fingerstick of 70 mg/dL is no low one: %+v", r.Flags)
	}
}

// Two weeks and 70 % of their readings are recommended: less is said.
func TestShareOfTwoWeeks(t *testing.T) {
	for n, want := range map[int]string{8: "57 % of two weeks", 10: ""} {
		r := wear.Analyse(wear.Input{Readings: days(n, 5, usual)})
		if got := text(r.Quality, "provisional"); !strings.Contains(got, want) || (got == "") != (want == "") {
			t.Errorf("%d days: %q", n, got)
		}
	}
}

// Who passed out did not feel better.
func TestPassingOutIsNoRelief(t *testing.T) {
	r := wear.Analyse(wear.Input{
		Readings: days(10, 5, func(s time.Duration) float64 { return usual(s) - bump(s, at(4, 16, 0), 0.8, 2.2) }),
		Events:   []wear.Event{event(at(4, 16, 0), wear.Symptom, "passed out")},
	})
	if len(r.Matches) != 1 || r.Matches[0].Relief != "not written down" {
		t.Errorf("%+v", r.Matches)
	}
}
