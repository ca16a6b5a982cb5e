package wear

import (
	"math"
	"slices"
)

// hair is less than any two recorded values differ by and more than rounding
// to four decimals moves one: a tie is a tie in either unit.
const hair = 1e-4

// markPressure marks the dips that come from lying on the sensor: at night, a
// sudden fall, a sudden return to the level before, 15 to
// 150 minutes long, and no low fingerstick beside it. How
// common they are: J Diabetes Sci Technol 2014;8:1091
// (doi:10.1177/1932296814553267); no settings are published, so all here are
// proposals.
func (t *trace) markPressure(b *BelieveRules, events []Event) {
	t.noise = t.jitter()
	fallWindow := seconds(b.PressureFallMinutes*60) + t.step
	least := max(b.PressureFallMmol, b.PressureNoiseRatio*t.noise)
	for d := range t.cal.days {
		day := &t.cal.days[d]
		for i := day.lo; i < day.hi; i++ {
			if t.why[i] != 0 || !t.falls(i, fallWindow, least) || !t.atNight(day, i, b) {
				continue
			}
			if start, end, ok := t.pressureDip(i, fallWindow, least, b); ok && !lowInBlood(t.r[i].At, t.r[end].At, events) {
				t.mark(start, end, causePressure)
				i = max(i, min(end, day.hi)-1)
			}
		}
	}
}

// jitter is how much readings of this sensor move against the line of their
// neighbours at night, in mmol/L: the median size of the second difference. A
// fall has to stand out from it.
func (t *trace) jitter() float64 {
	v := t.scratch[:0]
	for _, d := range t.cal.days {
		for i := d.lo + 2; i < d.six; i++ {
			if t.why[i]|t.why[i-1]|t.why[i-2] == 0 && t.joined(i) && t.joined(i-1) {
				v = append(v, math.Abs(t.mmol[i]-2*t.mmol[i-1]+t.mmol[i-2]))
			}
		}
	}
	if len(v) == 0 {
		return 0
	}
	return quickselect(v, len(v)/2)
}

// falls reports whether glucose drops by the least fall soon after i, the
// next reading already being on the way down: the cheap question asked first.
func (t *trace) falls(i int, window int64, least float64) bool {
	if i+1 == len(t.r) || t.mmol[i]-t.mmol[i+1] < least/8 {
		return false
	}
	for k := i + 1; k < len(t.r) && t.r[k].At-t.r[i].At <= window; k++ {
		if t.why[k] == 0 && t.mmol[i]-t.mmol[k] >= least {
			return true
		}
	}
	return false
}

// atNight reports whether reading i lies in the hours of the night. Sleep that
// was written down makes no hour of the day one of them: see [trace.believe].
func (t *trace) atNight(day *calDay, i int, b *BelieveRules) bool {
	minute := float64(t.cal.minuteOf(day, t.r[i].At))
	return minute >= b.PressureFromHour*60 || minute < b.PressureToHour*60
}

// pressureDip looks for the whole shape after the last reading before the
// fall: deep enough at once, and soon back at the level before, for good. It
// gives the first reading inside and the first one back. A sensor that is lain
// on can fall silent too, so a short gap inside is allowed; readings already
// marked, such as a spike, are passed over.
func (t *trace) pressureDip(i int, window int64, least float64, b *BelieveRules) (start, end int, ok bool) {
	around := seconds(b.PressureMedianMinutes * 60)
	level := t.medianBetween(t.from(t.r[i].At-around), i+1)
	near := t.medianBetween(t.from(t.r[i].At-around/2), i+1)
	longest, widest := seconds(b.PressureMaxMinutes*60), max(t.widest, seconds(b.PressureGapMinutes*60))
	shortest := seconds(b.PressureMinMinutes * 60)
	deep, low, inside := false, level, 0
	for end = i + 1; ; end++ {
		if end == len(t.r) || t.r[end].At-t.r[end-1].At > widest || t.r[end].At-t.r[i+1].At > longest {
			return 0, 0, false
		}
		if t.why[end] != 0 {
			continue
		}
		g := t.mmol[end]
		if deep && g >= min(level, near)-b.PressureLevelMmol && g-low >= least/2 {
			if inside < 2 { // one value on its own is a spike, or nothing
				return 0, 0, false
			}
			if t.r[end].At-t.r[i+1].At >= shortest && t.returned(i+1, end, level, near, least, b) {
				break
			}
		}
		low = min(low, g)
		if g <= min(level, near)-least/4 {
			inside++
		}
		sudden := t.r[end].At-t.r[i].At <= window
		if sudden && t.mmol[i]-g >= least &&
			(t.past[end]&pastBelow3_9 != 0 || g <= max(level, near)*(1-b.PressureFallPct/100)+hair) {
			deep = true
		}
		if !deep && !sudden {
			return 0, 0, false
		}
	}
	// What leads up to the fall without leaving the level is still believed, and
	// so is what has come back.
	for start = i + 1; start < end-1 && t.mmol[start] > min(level, near)-least/4; start++ {
	}
	for end-1 > start+1 && t.mmol[end-1] > min(level, near)-least/4 {
		end--
	}
	return start, end, true
}

// returned reports whether from end on glucose is back at the level before a
// dip, by the half hour on each side or by the quarter hour, and came back by
// the least fall within the time of recovery.
func (t *trace) returned(start, end int, level, near, least float64, b *BelieveRules) bool {
	around := seconds(b.PressureMedianMinutes * 60)
	after := t.from(t.r[end].At + around + 1)
	back, soon := t.medianBetween(end, after), t.medianBetween(end, t.from(t.r[end].At+around/2+1))
	if math.Abs(back-level) > b.PressureLevelMmol && math.Abs(soon-near) > b.PressureLevelMmol {
		return false
	}
	window := seconds(b.PressureRecoveryMinutes*60) + t.step
	for k := start; k < end; k++ {
		if t.why[k] != 0 {
			continue
		}
		for q := max(k+1, end-1); q < after && t.r[q].At-t.r[k].At <= window; q++ {
			if t.why[q] == 0 && t.mmol[q]-t.mmol[k] >= least {
				return true
			}
		}
	}
	return false
}

// deepFall is a fall below 3.0 that looks like lying on the sensor, which alone
// does not explain it.
type deepFall struct {
	lo, hi int
	why    string // in the middle of a sentence
}

// deepFalls are the falls below 3.0 that a person settles although they look like
// lying on the sensor: a low that is not felt has the same shape. Only one steep
// and brief one, in one night and while most people sleep, may pass for the
// sensor's.
func (t *trace) deepFalls(p *Protocol) []deepFall {
	var out []deepFall
	nights := map[int]bool{}
	for i := 0; i < len(t.r); i++ {
		if t.why[i] != causePressure {
			continue
		}
		f := deepFall{lo: i, hi: i + 1}
		for k := i + 1; k < len(t.r) && t.why[k] != 0 && t.joined(k); k++ {
			if t.why[k] == causePressure {
				f.hi = k + 1
			}
		}
		i = f.hi - 1
		if some, _, _ := t.below(f, Limit3_0.Below); some {
			f.why = t.notLainOn(f, p)
			out = append(out, f)
			nights[t.cal.dayOf(t.r[f.lo].At+dayLength/2)] = true
		}
	}
	for i := range out {
		if out[i].why == "" && len(nights) > 1 {
			out[i].why = "on more than one night"
		}
	}
	return slices.DeleteFunc(out, func(f deepFall) bool { return f.why == "" })
}

// below gives from the first to the last reading of a fall past a limit how long
// it lasts in seconds, a silence between them included, and how many they are.
func (t *trace) below(f deepFall, limit func(Reading) bool) (some bool, length int64, n int) {
	first, last := -1, -1
	for i := f.lo; i < f.hi; i++ {
		if limit(t.r[i]) {
			if first < 0 {
				first = i
			}
			last = i
			n++
		}
	}
	if n == 0 {
		return false, 0, 0
	}
	return true, t.r[last].At - t.r[first].At + t.step, n
}

// notLainOn says why lying on the sensor alone does not explain a fall below 3.0,
// "" where it may.
func (t *trace) notLainOn(f deepFall, p *Protocol) string {
	b, e := &p.Believe, &p.Episode
	_, deep, n := t.below(f, b.PressureDeepest.Below)
	_, low, _ := t.below(f, Limit3_9.Below)
	switch {
	case slices.ContainsFunc(t.r[f.lo:f.hi], func(r Reading) bool { return r.Bound == Below }):
		return "too low for the sensor to say how low"
	case float64(deep) >= e.Minutes*60 && float64(n) >= e.MinReadings:
		return "below " + b.PressureDeepest.String() + " for " + duration(deep)
	case float64(low) > b.PressureDeepMinutes*60:
		return "below 3.9 for " + duration(low)
	case t.awake(f.lo, p) || t.awake(f.hi-1, p):
		return "at an hour when many are awake"
	}
	return ""
}

// awake reports whether a reading lies in the hours in which most people are awake.
func (t *trace) awake(i int, p *Protocol) bool {
	k := t.cal.dayOf(t.r[i].At)
	minute := float64(t.cal.minuteOf(&t.cal.days[k], t.r[i].At))
	return minute >= p.Believe.PressureAsleepToHour*60 && minute < p.Believe.PressureAsleepFromHour*60
}

// unsettledAt is the fall that a reading lies in and that a person settles.
func (t *trace) unsettledAt(i int) (deepFall, bool) {
	for _, f := range t.unsettled {
		if i >= f.lo && i < f.hi {
			return f, true
		}
	}
	return deepFall{}, false
}

// lowInBlood reports whether a low fingerstick, from an hour before the fall to
// shortly after the return, says that a dip was a low. Nothing else does: see
// [trace.believe].
func lowInBlood(from, to int64, events []Event) bool {
	return slices.ContainsFunc(events, func(e Event) bool {
		return e.Kind == Fingerstick && e.At >= from-3600 && e.At <= to+1200 && usable(e.blood()) && Limit3_9.Below(e.Value)
	})
}
