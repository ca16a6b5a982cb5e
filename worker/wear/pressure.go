package wear

import (
	"slices"
	"strings"
)

// hair is less than any two recorded values differ by and more than rounding
// to four decimals moves one: a tie is a tie in either unit.
const hair = 1e-4

// markPressure marks the dips that come from lying on the sensor: at night or
// in logged sleep, a sudden fall, a sudden return to the level before, 15 to
// 150 minutes long, and nothing logged that could explain a real low. How
// common they are: J Diabetes Sci Technol 2014;8:1091
// (doi:10.1177/1932296814553267); no settings are published, so all here are
// proposals.
func (t *trace) markPressure(b *BelieveRules, events []Event) {
	fallWindow := seconds(b.PressureFallMinutes*60) + t.step
	for d := range t.cal.days {
		day := &t.cal.days[d]
		for i := day.lo; i < day.hi; i++ {
			if t.why[i] != 0 || !t.falls(i, fallWindow, b) || !t.asleep(day, i, b, events) {
				continue
			}
			if end, ok := t.pressureDip(i, fallWindow, b); ok && !explained(t.r[i].At, t.r[end].At, events) {
				t.mark(i+1, end, causePressure)
				i = max(i, min(end, day.hi)-1)
			}
		}
	}
}

// falls reports whether glucose drops by the least fall soon after i, the
// next reading already being on the way down: the cheap question asked first.
func (t *trace) falls(i int, window int64, b *BelieveRules) bool {
	if i+1 == len(t.r) || t.mmol[i]-t.mmol[i+1] < b.PressureFallMmol/8 {
		return false
	}
	for k := i + 1; k < len(t.r) && t.joined(k) && t.r[k].At-t.r[i].At <= window; k++ {
		if t.mmol[i]-t.mmol[k] >= b.PressureFallMmol {
			return true
		}
	}
	return false
}

// asleep reports whether reading i lies in the hours of the night or in sleep
// that was logged.
func (t *trace) asleep(day *calDay, i int, b *BelieveRules, events []Event) bool {
	at := t.r[i].At
	if minute := float64(t.cal.minuteOf(day, at)); minute >= b.PressureFromHour*60 || minute < b.PressureToHour*60 {
		return true
	}
	return slices.ContainsFunc(events, func(e Event) bool {
		return e.Kind == Sleep && e.At <= at && at < e.At+int64(e.Minutes)*60
	})
}

// pressureDip looks for the whole shape after the last reading before the
// fall. It gives the index of the first reading back at the level.
func (t *trace) pressureDip(i int, window int64, b *BelieveRules) (end int, ok bool) {
	around := seconds(b.PressureMedianMinutes * 60)
	start := t.from(t.r[i].At - around)
	level := t.medianBetween(start, i+1)
	deep := false
	longest := seconds(b.PressureMaxMinutes * 60)
	low := level
	for end = i + 1; end < len(t.r); end++ {
		if !t.joined(end) || t.r[end].At-t.r[i+1].At > longest {
			return 0, false
		}
		g := t.mmol[end]
		low = min(low, g)
		if t.r[end].At-t.r[i].At <= window && t.mmol[i]-g >= b.PressureFallMmol &&
			(t.past[end]&pastBelow3_9 != 0 || g <= level*(1-b.PressureFallPct/100)+hair) {
			deep = true
		}
		if deep && g >= level-b.PressureLevelMmol && g-low >= b.PressureFallMmol/2 {
			break
		}
		if !deep && t.r[end].At-t.r[i].At > window {
			return 0, false
		}
	}
	if end == len(t.r) || float64(t.r[end].At-t.r[i+1].At) < b.PressureMinMinutes*60 {
		return 0, false
	}
	after := t.from(t.r[end].At + around + 1)
	back := t.medianBetween(end, after)
	if back < level-b.PressureLevelMmol || back > level+b.PressureLevelMmol {
		return 0, false
	}
	return end, t.recovers(i+1, end, after, b)
}

// recovers reports whether glucose came back by the least fall within the time
// of recovery, somewhere from inside the dip to shortly after its end.
func (t *trace) recovers(start, end, after int, b *BelieveRules) bool {
	window := seconds(b.PressureRecoveryMinutes*60) + t.step
	for k := start; k < end; k++ {
		for q := max(k+1, end-1); q < after && t.r[q].At-t.r[k].At <= window; q++ {
			if t.mmol[q]-t.mmol[k] >= b.PressureFallMmol {
				return true
			}
		}
	}
	return false
}

// explained reports whether something was logged that makes a real low
// likely, or that confirms it, from an hour before the fall to the return.
func explained(from, to int64, events []Event) bool {
	return slices.ContainsFunc(events, func(e Event) bool {
		switch e.Kind {
		case Symptom, Exercise, Fingerstick:
			if e.Kind == Fingerstick && !Limit3_9.Below(e.Value) {
				return false
			}
			return e.At >= from-3600 && e.At <= to+1200
		case Note, Meal:
			// Alcohol lowers glucose for many hours.
			return strings.Contains(strings.ToLower(e.Label), "alcohol") && e.At >= from-12*3600 && e.At <= to
		}
		return false
	})
}
