package wear_test

import (
	"encoding/json"
	"math"
	"reflect"
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
	plain, wide := wear.MValue([]float64{100, 140, 200}, 120, false), wear.MValue([]float64{100, 140, 200}, 120, true)
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
