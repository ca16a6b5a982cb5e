package wear_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// Two swings raise the question. An answer takes it back either way, and is
// said; an answer about one of two leaves it open.
func TestSwingsAsked(t *testing.T) {
	level := func(s time.Duration) float64 {
		g := usual(s)
		for _, d := range []int{2, 4, 6} {
			g += bump(s, at(d, 16, 30), 0.7, 5.5) - bump(s, at(d, 18, 40), 0.6, 2.4)
		}
		return g
	}
	in := wear.Input{Readings: days(10, 5, level)}
	swings := wear.Analyse(in).Swings
	if len(swings) != 3 {
		t.Fatalf("%+v", swings)
	}
	on := in.Readings[0].At + 20*86400
	nothing := func(n int) []wear.Asked {
		var list []wear.Asked
		for _, s := range swings[:n] {
			list = append(list, wear.Asked{From: s.DipAt.Unix(), On: on})
		}
		return list
	}
	day := time.Unix(on, 0).UTC().Format("2 Jan 2006")
	felt := []wear.Event{{At: swings[0].DipAt.Unix(), Kind: wear.Symptom, Label: "shaky"}}
	for _, c := range []struct {
		name       string
		asked      []wear.Asked
		events     []wear.Event
		flag, said string // of the flag, and of what is no reason
	}{
		{"nobody asked", nil, nil, "3 times", ""},
		{"asked of another time", []wear.Asked{{From: on, On: on}}, nil, "3 times", ""},
		{"one answer of three", nothing(1), nil, "twice", ""},
		{"nothing felt at two", nothing(2), nil, "", "twice: asked on " + day + ", nothing was felt."},
		{"nothing felt at all", nothing(3), nil, "", "3 times: asked on " + day + ", nothing was felt."},
		{"something felt at one of three", nil, felt, "twice", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := in
			in.Asked, in.Events = c.asked, c.events
			r := wear.Analyse(read(in))
			i := slices.IndexFunc(r.Flags, func(f wear.Flag) bool { return f.Code == wear.FlagSwingSymptom })
			if (i >= 0) != (c.flag != "") || i >= 0 && !strings.Contains(r.Flags[i].Text, c.flag) {
				t.Errorf("flags %+v, want %q", r.Flags, c.flag)
			}
			if got := text(r.NotFlagged, "swing_asked"); (got != "") != (c.said != "") || !strings.HasSuffix(got, c.said) {
				t.Errorf("said %q, want %q", got, c.said)
			}
			quiet := text(r.NotFlagged, "dip_without_symptom")
			if strings.Contains(quiet, "Asked") != (len(c.asked) > 1 && c.asked[0].From != on) { // the flag silences it

				t.Errorf("of the dips: %q", quiet)
			}
		})
	}
}

// TestAskedLongAgoIsNotAsked: what somebody said a year before the wear began
// says nothing of it.
func TestAskedLongAgoIsNotAsked(t *testing.T) {
	in := asked(wear.Input{Readings: days(14, 5, func(time.Duration) float64 { return 5.4 })})
	start := time.Unix(in.Readings[0].At, 0).UTC()
	for on, want := range map[string]bool{
		start.AddDate(-1, 0, 2).Format(time.DateOnly): true, start.AddDate(-1, 0, -2).Format(time.DateOnly): false, "2011-06-01": false,
	} {
		in.Context.AskedOn = on
		r := wear.Analyse(in)
		_, why := wear.MayReassure(r)
		if unasked := slices.ContainsFunc(why, func(x wear.Reason) bool { return x.Code == wear.ReasonUnasked }); unasked == want || (r.AskedOn != "") != want {
			t.Errorf("asked on %s for a wear from %s: counts %v, want %v", on, start.Format(time.DateOnly), !unasked, want)
		}
	}
}

// TestOnlyAPregnancyIsCalledOne: fingersticks before breakfast in somebody who
// is not pregnant.
func TestOnlyAPregnancyIsCalledOne(t *testing.T) {
	in := asked(wear.Input{Readings: days(14, 5, func(time.Duration) float64 { return 6.2 })})
	for day := range 5 {
		e := event(at(day+1, 6, 30), wear.Fingerstick, "")
		e.Value = wear.Reading{At: e.At, Num: 74, Scale: 1, Unit: wear.MmolL}
		in.Events = append(in.Events, e)
	}
	r := wear.Analyse(in)
	if strings.Contains(r.Headline, "pregnan") || !strings.Contains(r.Headline, "fingerstick") {
		t.Errorf("the headline is %q", r.Headline)
	}
}

// TestAgeUnknownIsAReason: the limits are those of adults, and a wearer whose
// age nobody knows may be none. A child of no full year has a known age.
func TestAgeUnknownIsAReason(t *testing.T) {
	in := asked(wear.Input{Readings: days(14, 5, usual)})
	for _, c := range []struct {
		born    string
		year    int
		unknown bool
	}{
		{"", 0, true}, {"at home", 0, true}, {"", 1985, false}, {"1985-06-01", 0, false}, {"2026-03-01", 0, false}, {"", 2026, false},
	} {
		in.Context.BirthDate, in.Context.BirthYear = c.born, c.year
		r := wear.Analyse(in)
		ok, why := wear.MayReassure(r)
		if unknown := slices.ContainsFunc(why, func(x wear.Reason) bool { return x.Code == wear.ReasonAge }); unknown != c.unknown || unknown && (ok || len(why) != 1) {
			t.Errorf("born %q, %d: may be called well %v, against it %+v; want the age as a reason: %v", c.born, c.year, ok, why, c.unknown)
		}
	}
}

// One part of a risk score says nothing by itself; two parts, or what calls for a
// laboratory test alone, are on somebody's list.
func TestRiskFactorsThatCount(t *testing.T) {
	quiet := days(14, 15, usual)
	for _, c := range []struct {
		context wear.Context
		well    bool
	}{
		{wear.Context{FamilyHistory: true}, true},
		{wear.Context{Overweight: true}, true},
		{wear.Context{FamilyHistory: true, Hypertension: true}, false},
		{wear.Context{PolycysticOvary: true}, false},
	} {
		r := wear.Analyse(asked(wear.Input{Readings: quiet, Context: c.context}))
		if ok, why := wear.MayReassure(r); ok != c.well || text(r.Context, "risk_factors") == "" {
			t.Errorf("%+v: well %v, %v; %v", c.context, ok, why, r.Context)
		}
	}
}

// TestALogIsNoFast: a morning fingerstick is called fasting nowhere, and what was
// eaten before it is said; until a person has read it as food it takes none away.
func TestALogIsNoFast(t *testing.T) {
	in := asked(wear.Input{Readings: days(14, 5, usual)})
	for _, d := range []int{4, 6} {
		in.Events = append(in.Events, stick(at(d, 9, 0), 72, 1, wear.MmolL))
	}
	bare := wear.Analyse(in)
	in.Events = append(in.Events, event(at(4, 7, 20), wear.Meal, "bread"))
	fed := wear.Analyse(in)
	ate := wear.Analyse(read(in))
	for r, want := range map[*wear.Report]string{bare: "no meal in the log is no fast", fed: "food is written down before 1 of the 2"} {
		if r.Flags[0].Code != wear.FlagVeryHigh || !strings.Contains(r.Flags[0].Text, want) || strings.Contains(r.Flags[0].Text, "or more before breakfast") {
			t.Errorf("%+v, want %q", r.Flags[0], want)
		}
	}
	if fed.Priority.Tier != bare.Priority.Tier || slices.Contains(codes(ate), wear.FlagVeryHigh) {
		t.Errorf("%s, %s with a meal, %v once it is read", bare.Priority.Tier, fed.Priority.Tier, codes(ate))
	}
}

// TestTheFirstDayIsNoMeal: what was high on the first day alone is put down to the
// sensor and not to a meal.
func TestTheFirstDayIsNoMeal(t *testing.T) {
	for day, meal := range map[int]bool{0: false, 5: true} {
		r := wear.Analyse(asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
			if within(s, at(day, 13, 0), at(day, 16, 30)) {
				return 10.4
			}
			return usual(s)
		})}))
		got := text(r.NotFlagged, "above_10_seldom")
		if strings.Contains(got, "meal") != meal || strings.Contains(got, "first day") == meal {
			t.Errorf("day %d: %q", day+1, got)
		}
	}
}

// TestWordsWithoutATimeMayBeOfAnyDip: they have no moment and no glucose beside
// them, and count where they could be of a dip.
func TestWordsWithoutATimeMayBeOfAnyDip(t *testing.T) {
	in := asked(fallen(fall{from: at(5, 16, 0), minutes: 40, to: 3.3, ramp: 25}))
	in.Events = []wear.Event{event(at(0, 8, 0), wear.Undated, "shaky on Tuesday")}
	r := wear.Analyse(in)
	if len(r.Matches) != 1 || r.Matches[0].SymptomAt != nil || !slices.Contains(codes(r), wear.FlagDipSymptom) || !strings.Contains(r.Headline, "state no time") {
		t.Errorf("%+v; %s", r.Matches, r.Headline)
	}
	if w := r.Words[0]; w.At != "" || w.GlucoseMmol.OK {
		t.Errorf("%+v", w)
	}
}
