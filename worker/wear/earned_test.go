package wear_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// fall is a stretch at a level with a way there and back.
type fall struct {
	from          time.Duration
	minutes, to   float64
	ramp          float64 // minutes down, and again up
	still, silent bool    // one value on end; no readings at all
}

// level gives what the fall makes of a glucose.
func (f fall) level(s time.Duration, g float64) float64 {
	m := (s - f.from).Minutes()
	switch {
	case m <= -f.ramp || m >= f.minutes+f.ramp:
		return g
	case m < 0:
		return min(g, g-(g-f.to)*(m+f.ramp)/f.ramp)
	case m >= f.minutes:
		return min(g, f.to+(g-f.to)*(m-f.minutes)/f.ramp)
	case f.still:
		return f.to
	}
	return f.to + 0.06*float64(int(m)/5%3-1)
}

// fallen is a fortnight of somebody who was asked after it, with falls. Below
// 2.2 the sensor only says that it is low.
func fallen(falls ...fall) wear.Input {
	in := asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
		g := usual(s) + 0.1*float64(int(s.Minutes())/5%3)
		for _, f := range falls {
			g = f.level(s, g)
		}
		return g
	})})
	start := in.Readings[0].At
	in.Readings = slices.DeleteFunc(in.Readings, func(r wear.Reading) bool {
		return slices.ContainsFunc(falls, func(f fall) bool {
			return f.silent && within(time.Duration(r.At-start)*time.Second, f.from, f.from+time.Duration(f.minutes)*time.Minute)
		})
	})
	for i := range in.Readings {
		if r := &in.Readings[i]; r.Native() < 2.2 {
			r.Bound, r.Num, r.Scale = wear.Below, 0, 0
		}
	}
	return in
}

// nightly is one fall on each of some nights.
func nightly(n, hour, minute int, minutes, to, ramp float64) (falls []fall) {
	for d := range n {
		falls = append(falls, fall{from: at(3+2*d, hour, minute), minutes: minutes, to: to, ramp: ramp})
	}
	return falls
}

// What is long, deep, often, at a time awake or beyond the sensor is not put down
// to lying on it: a person settles it. One short and steep fall in a night may be.
func TestLyingOnTheSensor(t *testing.T) {
	for _, c := range []struct {
		name  string
		falls []fall
		well  bool
		says  string
	}{
		{"one steep fall to 2.6 and straight back", nightly(1, 2, 30, 5, 2.6, 10), true, ""},
		{"one fall to 3.3 for 40 minutes", nightly(1, 2, 30, 40, 3.3, 10), true, ""},
		{"one fall to 3.3 for an hour", nightly(1, 1, 15, 60, 3.3, 10), true, ""},
		{"three nights at 3.6", nightly(3, 3, 20, 25, 3.6, 10), true, ""},
		{"LOW for 20 minutes", nightly(1, 2, 30, 20, 1.9, 10), false, "fingerstick"},
		{"one reading that says LOW", nightly(1, 2, 30, 5, 1.9, 10), false, "fingerstick"},
		{"2.3 for 55 minutes", nightly(1, 2, 30, 55, 2.3, 10), false, "fingerstick"},
		{"2.2 for 20 minutes", nightly(1, 3, 0, 20, 2.3, 10), false, "fingerstick"},
		{"2.8 for 30 minutes", nightly(1, 2, 30, 30, 2.8, 10), false, "fingerstick"},
		{"at half past seven", nightly(1, 7, 20, 5, 2.6, 10), false, "fingerstick"},
		{"2.6 and straight back on two nights", nightly(2, 2, 30, 5, 2.6, 10), false, "fingerstick"},
		{"the same fall in the afternoon", nightly(1, 15, 0, 20, 2.3, 10), false, "fingerstick"},
		{"five afternoons of 20 minutes at 2.3 with steep edges", nightly(5, 15, 0, 20, 2.3, 5), false, "fingerstick"},
	} {
		r := wear.Analyse(fallen(c.falls...))
		ok, _ := wear.MayReassure(r)
		if ok != c.well || !c.well && r.Priority.Tier == wear.Routine && len(r.Near) == 0 {
			t.Errorf("%s: well %v; %s; %v; near %v; %v; %v", c.name, ok, r.Priority.Tier, codes(r), r.Near, r.Suspect, r.NotFlagged)
		}
		if c.says != "" && !strings.Contains(shown(r), c.says) {
			t.Errorf("%s: %q is not said: %v", c.name, c.says, r.Near)
		}
	}
}

// Below 3.9 for about two hours in one night, whatever parts it, is near.
func TestLongNight(t *testing.T) {
	for _, c := range []struct {
		name  string
		falls []fall
		least wear.Tier
	}{
		{"240 minutes at 3.2, noisy", nightly(1, 1, 0, 240, 3.2, 45), wear.Routine},
		{"130 minutes at 3.5", nightly(1, 1, 0, 130, 3.5, 45), wear.Routine},
		{"130 minutes at 3.5, as when lain on", nightly(1, 1, 0, 130, 3.5, 10), wear.Routine},
		{"240 minutes at 3.6 with a return of 12", []fall{{from: at(4, 1, 0), minutes: 114, to: 3.6, ramp: 6}, {from: at(4, 3, 6), minutes: 114, to: 3.6, ramp: 6}}, wear.Routine},
		{"240 minutes at 3.3 with a gap of 40", []fall{{from: at(4, 1, 0), minutes: 240, to: 3.3, ramp: 45}, {from: at(4, 2, 40), minutes: 40, to: 3.3, silent: true}}, wear.Routine},
		{"twice 110 minutes in a night", []fall{{from: at(4, 0, 20), minutes: 100, to: 3.5, ramp: 30}, {from: at(4, 4, 0), minutes: 100, to: 3.5, ramp: 30}}, wear.Routine},
		{"two nights of 110 minutes at 3.2", nightly(2, 2, 0, 110, 3.2, 20), wear.Routine},
		{"three nights of 110 minutes at 3.6", nightly(3, 2, 0, 110, 3.6, 20), wear.Routine},
		{"125 minutes at 2.8", nightly(1, 2, 0, 125, 2.8, 45), wear.ThisMonth},
		{"125 minutes at 2.8, as when lain on", nightly(1, 2, 0, 125, 2.8, 10), wear.ThisMonth},
		{"two nights of 240 minutes at exactly 3.2", []fall{{from: at(4, 1, 0), minutes: 240, to: 3.2, ramp: 45, still: true}, {from: at(7, 1, 0), minutes: 240, to: 3.2, ramp: 45, still: true}}, wear.Routine},
		{"three nights of 240 minutes at 3.3 with gaps of 40", slices.Concat(nightly(3, 1, 0, 240, 3.25, 45), silences(3, 2, 40, 40)), wear.ThisMonth},
	} {
		r := wear.Analyse(fallen(c.falls...))
		if ok, _ := wear.MayReassure(r); ok || r.Priority.Tier.Rank() > c.least.Rank() || r.Priority.Tier == wear.Routine && len(r.Near) == 0 {
			t.Errorf("%s: well %v; %s; %v; near %v; %v", c.name, ok, r.Priority.Tier, codes(r), r.Near, r.Suspect)
		}
	}
	if r := wear.Analyse(fallen(nightly(1, 2, 0, 60, 3.6, 30)...)); len(r.Near) > 0 {
		t.Errorf("one hour at 3.6: near %v", r.Near)
	}
}

func silences(n, hour, minute int, minutes float64) []fall {
	falls := nightly(n, hour, minute, minutes, 4, 0)
	for i := range falls {
		falls[i].silent = true
	}
	return falls
}

// Peaks of which every second reading is far lower are peaks, or readings that
// jump: nobody knows which of the two series is true.
func TestEverySecondReading(t *testing.T) {
	for _, by := range []float64{-4, 4} {
		in := asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
			for d := 3; d < 7; d++ {
				if within(s, at(d, 13, 0), at(d, 14, 0)) {
					g := 9.9 - by/2 + 0.1*float64(int(s.Minutes())/5%3)
					if int(s.Minutes())/5%2 == 0 {
						g += by
					}
					return g
				}
			}
			return usual(s)
		})})
		r := wear.Analyse(in)
		if ok, _ := wear.MayReassure(r); ok || r.Priority.Tier == wear.Routine && len(r.Near) == 0 {
			t.Errorf("by %g: well %v; %s; near %v; %v", by, ok, r.Priority.Tier, r.Near, r.Suspect)
		}
	}
}

// Words beside a low count until they are read: a low in exercise with a symptom
// is no meal's doing, and a wear whose readings jump about tells nothing.
func TestNoLessPressingThanItMayBe(t *testing.T) {
	low := fallen(fall{from: at(5, 16, 0), minutes: 30, to: 3.3, ramp: 25})
	words := low
	words.Events = []wear.Event{event(at(5, 16, 10), wear.Note, "zzz")}
	sport := low
	sport.Events = []wear.Event{event(at(5, 15, 40), wear.Exercise, ""), event(at(5, 16, 10), wear.Symptom, "shaky")}
	deep := fallen(fall{from: at(5, 16, 0), minutes: 40, to: 2.5, ramp: 25})
	refuted := deep
	refuted.Events = []wear.Event{stick(at(5, 16, 20), 51, 1, wear.MmolL)}
	for _, c := range []struct {
		name string
		in   wear.Input
		tier wear.Tier
	}{
		{"words that nobody knows beside a low", words, wear.ThisMonth},
		{"a symptom in exercise", read(sport), wear.ThisWeek},
		{"40 minutes at 2.5 by day", deep, wear.ThisMonth},
		{"the same with a fingerstick of 5.1", refuted, wear.Routine},
		{"low beyond the sensor on three nights", fallen(nightly(3, 2, 30, 20, 1.9, 10)...), wear.CannotTell},
		{"low beyond the sensor for 20 minutes in a night", fallen(nightly(1, 2, 30, 20, 1.9, 10)...), wear.CannotTell},
		{"five nights of 50 minutes at 2.7", fallen(nightly(5, 2, 30, 50, 2.7, 10)...), wear.CannotTell},
		{"readings that jump about", asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
			return usual(s) + 0.9*float64(int(s.Minutes())/5*7%5-2)/1.4
		})}), wear.CannotTell},
	} {
		if r := wear.Analyse(c.in); r.Priority.Tier != c.tier {
			t.Errorf("%s: %s; %v; near %v; %v", c.name, r.Priority.Tier, codes(r), r.Near, r.NotFlagged)
		}
	}
}
