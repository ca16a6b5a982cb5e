package wear_test

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// Every count of a tier is part of the sum over tiers, and of its own tier's.
func TestAuditSumsLoseNothing(t *testing.T) {
	var a wear.Audit
	want := wear.AuditTier{}
	for k, tier := range wear.Tiers() {
		row := wear.AuditTier{Tier: tier}
		v, sum := reflect.ValueOf(&row).Elem(), reflect.ValueOf(&want).Elem()
		for i := range v.NumField() {
			if v.Field(i).Kind() != reflect.Int {
				continue
			}
			n := int64(100*k + i)
			v.Field(i).SetInt(n)
			if v.Type().Field(i).Name == "OldestDays" {
				sum.Field(i).SetInt(max(sum.Field(i).Int(), n))
			} else {
				sum.Field(i).SetInt(sum.Field(i).Int() + n)
			}
		}
		a.Tiers = append(a.Tiers, row)
		if got := a.Of(tier); got != row {
			t.Errorf("of %s: %+v, want %+v", tier, got, row)
		}
	}
	if got := a.All(); got != want {
		t.Errorf("all: %+v, want %+v", got, want)
	}
	routine := a.Of(wear.Routine)
	if got := a.FollowUp(); got.Read != want.Read-routine.Read || got.Again != want.Again-routine.Again {
		t.Errorf("to follow up: %+v of %+v", got, want)
	}
}

// What is no figure is refused with a sentence, and a figure comes back as it was.
func TestFigureIsANumberOrNull(t *testing.T) {
	for text, want := range map[string]wear.Figure{"null": {}, "5.5": wear.Of(5.5), "0": wear.Of(0)} {
		var f wear.Figure
		if err := json.Unmarshal([]byte(text), &f); err != nil || f != want {
			t.Errorf("%s: %+v, %v", text, f, err)
		}
	}
	for _, text := range []string{`"5.5"`, `[]`, `true`, `{}`} {
		var f wear.Figure
		if err := json.Unmarshal([]byte(text), &f); err == nil || !strings.Contains(err.Error(), "a number or null") {
			t.Errorf("%s: %+v, %v", text, f, err)
		}
	}
}

// Both directions of the master equation (ngsp.org/ifcc.asp) at its printed
// points, and the M-value with and without its part for the width of a day.
func TestPublishedEquations(t *testing.T) {
	for percent, ifcc := range map[float64]float64{5: 31, 6: 42, 6.5: 48, 7: 53, 8: 64, 9: 75, 10: 86} {
		if got := math.Round(wear.IFCCFromNGSP(percent)); got != ifcc {
			t.Errorf("%v %%: %v mmol/mol, want %v", percent, got, ifcc)
		}
		if got := wear.NGSPFromIFCC(wear.IFCCFromNGSP(percent)); math.Abs(got-percent) > 0.02 {
			t.Errorf("%v %% comes back as %v", percent, got)
		}
	}
	plain, wide := wear.MValue([]float64{100, 140, 200}, false), wear.MValue([]float64{100, 140, 200}, true)
	near(t, "the width", wide.V-plain.V, (200-100)/20.0, 1e-9)
}

// Why a meal is not judged, each reason: what was eaten soon after, too little
// before, too little after, a gap after.
func TestWhyAMealIsNotJudged(t *testing.T) {
	gone := func(from, to time.Duration) []wear.Reading {
		var out []wear.Reading
		for _, r := range days(2, 5, usual) {
			if since := time.Duration(r.At-monday.Unix()) * time.Second; !within(since, from, to) {
				out = append(out, r)
			}
		}
		return out
	}
	meal := []wear.Event{event(at(1, 8, 0), wear.Meal, "toast")}
	for _, c := range []struct {
		readings []wear.Reading
		events   []wear.Event
		want     string
	}{
		{gone(0, 0), meal, ""},
		{gone(0, 0), append(meal, event(at(1, 10, 0), wear.Meal, "apple")), "Something else was eaten within 2 h."},
		{gone(0, 0), append(meal, event(at(1, 10, 1), wear.Meal, "apple")), ""},
		{gone(at(1, 6, 0), at(1, 8, 0)), meal, "before."},
		{gone(at(1, 8, 30), at(1, 12, 0)), meal, "Too few readings in the 2 h after."},
		{gone(at(1, 8, 30), at(1, 8, 45)), meal, "A gap lies in the 2 h after."},
	} {
		p := wear.DefaultProtocol()
		p.Meal.MaxGapMinutes = 15
		r := wear.Analyse(wear.Input{Readings: c.readings, Events: c.events, Protocol: p})
		if m := r.Meals[0]; m.Judged != (c.want == "") || !strings.HasSuffix(m.WhyNot, c.want) {
			t.Errorf("judged %v, %q, want %q", m.Judged, m.WhyNot, c.want)
		}
	}
}

// A laboratory's glucose counts in either unit: for insulin resistance, and
// beside the sensor, of which it says on which side it reads.
func TestLaboratoryGlucoseInEitherUnit(t *testing.T) {
	lab := func(kind string, value float64, unit string, timed bool) wear.Lab {
		return wear.Lab{At: monday.Add(at(2, 6, 0)).Unix(), Kind: kind, Value: value, Unit: unit, Timed: timed, Source: "letter"}
	}
	r := wear.Analyse(wear.Input{Readings: days(8, 5, usual), Labs: []wear.Lab{lab(wear.LabFastingInsulin, 9, "mU/L", false), lab(wear.LabFastingGlucose, 90, "mg/dL", false)}})
	near(t, "HOMA-IR", r.HomaIR.V, 2, 0.01)
	if got := text(r.Explained, "homa_ir"); got != "HOMA-IR 2.0 from the laboratory's fasting glucose and insulin. No cut-off is agreed and it is no diagnosis." {
		t.Errorf("HOMA-IR is told as %q", got)
	}
	for _, c := range []struct {
		lab  wear.Lab
		want string
	}{
		{lab(wear.LabFastingGlucose, 4.2, "mmol/L", true), "high"}, {lab(wear.LabFastingGlucose, 76, "mg/dL", true), "high"},
		{lab(wear.LabRandomGlucose, 10, "mmol/L", true), "low"}, {lab(wear.LabRandomGlucose, 180, "mg/dL", true), "low"},
		{lab(wear.LabRandomGlucose, 5.3, "mmol/L", true), ""}, {lab(wear.LabFastingGlucose, 76, "mg/dL", false), ""},
	} {
		got := text(wear.Analyse(wear.Input{Readings: days(8, 5, usual), Labs: []wear.Lab{c.lab}}).Quality, "laboratory")
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) || c.want != "" && !strings.Contains(got, "may be reading "+c.want) {
			t.Errorf("%+v: %q, want %q", c.lab, got, c.want)
		}
	}
}

// Most of what is above 7.8 is told by the part of the day, and by the meal
// where meals were written down before it.
func TestMostlyWhen(t *testing.T) {
	for _, c := range []struct {
		hour              int
		clock, afterMeals string
	}{{3, "at night", "at night"}, {6, "in the morning", "after breakfast"}, {9, "in the morning", "after breakfast"}, {15, "in the evening", "after dinner"}} {
		in := wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
			return usual(s) + bump(time.Duration(clock(s)*float64(time.Hour)), time.Duration(c.hour)*time.Hour+90*time.Minute, 2.6, 5)
		})}
		for _, want := range []string{c.clock, c.afterMeals} {
			if got := wear.Analyse(in).Headline; !strings.Contains(got, ", mostly "+want+";") {
				t.Errorf("a peak from %d:00: %q, want mostly %s", c.hour, got, want)
			}
			for d := range 14 {
				in.Events = append(in.Events, event(at(d, c.hour, 0), wear.Meal, "rice"))
			}
		}
	}
}

// A high fingerstick leads the headline, by how high it is.
func TestHighFingerstickLeads(t *testing.T) {
	when := monday.Add(at(4, 15, 0)).Unix()
	for num, want := range map[int64]string{205: "above 20.0: 20.5", 200: "above 13.9: 20.0", 111: "at or above 11.1: 11.1"} {
		in := wear.Input{Readings: days(14, 5, usual), Events: []wear.Event{{At: when, Kind: wear.Fingerstick, Value: wear.Reading{At: when, Num: num, Scale: 1, Unit: wear.MmolL}}}}
		want = "One fingerstick " + want + " mmol/L on 6 March at 15:00; up to 7.2 by the sensor."
		if got := wear.Analyse(in).Headline; got != want {
			t.Errorf("%d tenths: %q, want %q", num, got, want)
		}
	}
}

// The share of nights that are high counts at its limit, and not below it.
func TestHalfOfTheNights(t *testing.T) {
	for high, want := range map[int]bool{7: true, 6: false} {
		in := wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
			if clock(s) < 6 && int(s/(24*time.Hour)) < high {
				return 7.4
			}
			return 5.4
		})}
		r := wear.Analyse(in)
		got := false
		for _, f := range r.Flags {
			got = got || f.Code == wear.FlagHighNights
		}
		if got != want {
			t.Errorf("%d of %d nights: flagged %v", high, len(r.Nights), got)
		}
	}
}

// TestUrgentResultInItsOwnUnit takes results on each side of what is for the
// same day, and some in units that are not theirs.
func TestUrgentResultInItsOwnUnit(t *testing.T) {
	in := asked(wear.Input{Readings: days(8, 5, usual)})
	for _, c := range []struct {
		kind   string
		value  float64
		unit   string
		urgent bool
	}{
		{wear.LabFastingGlucose, 16.7, "mmol/L", true}, {wear.LabFastingGlucose, 16.6, "mmol/L", false},
		{wear.LabFastingGlucose, 300, "mg/dL", true}, {wear.LabFastingGlucose, 299, "mg/dL", false},
		{wear.LabTwoHourGlucose, 16.7, "mmol/L", true}, {wear.LabRandomGlucose, 16.6, "mmol/L", false},
		{wear.LabFastingGlucose, 2.9, "mmol/L", true}, {wear.LabFastingGlucose, 3.0, "mmol/L", false},
		{wear.LabFastingGlucose, 53, "mg/dL", true}, {wear.LabFastingGlucose, 54, "mg/dL", false},
		{wear.LabHbA1c, 86, "mmol/mol", true}, {wear.LabHbA1c, 85, "mmol/mol", false},
		{wear.LabHbA1c, 10, "%", true}, {wear.LabHbA1c, 9.9, "%", false},
		{wear.LabHbA1c, 2.9, "%", false}, {wear.LabHbA1c, 19, "mmol/mol", false},
		{wear.LabHbA1c, 20, "mmol/L", false}, {wear.LabFastingInsulin, 2.9, "mmol/L", false}, {wear.LabFastingInsulin, 400, "pmol/L", false},
	} {
		in.Labs = []wear.Lab{{At: in.Readings[0].At, Kind: c.kind, Value: c.value, Unit: c.unit}}
		r := wear.Analyse(in)
		i := slices.IndexFunc(r.Flags, func(f wear.Flag) bool { return f.Code == wear.FlagRisk })
		if urgent := i >= 0 && r.Flags[i].Tier == wear.DefaultProtocol().Tier.LaboratoryUrgent; urgent != c.urgent {
			t.Errorf("%s of %v %s: urgent %v, want %v; flags %+v", c.kind, c.value, c.unit, urgent, c.urgent, r.Flags)
		}
	}
}
