package wear

import (
	"math"
	"slices"
)

// nights gives 00:00-06:00 of every date that has a believed reading then, and
// the morning after it.
func (t *trace) nights(in *Input) []Night {
	nights := make([]Night, 0, len(t.cal.days))
	intake := intakes(in.Events)
	for k := range t.cal.days {
		c := &t.cal.days[k]
		sum, lowest, total := 0.0, 0.0, 0.0
		n := Night{}
		for i := c.lo; i < c.six; i++ {
			if t.why[i] != 0 {
				continue
			}
			if n.Readings == 0 || t.mmol[i] < lowest {
				lowest = t.mmol[i]
			}
			sum += t.weight(i) * t.mmol[i]
			total += t.weight(i)
			n.Readings++
		}
		if n.Readings == 0 {
			continue
		}
		n.Date, n.MeanMmol, n.LowMmol = t.cal.date(c), Of(sum/total), Of(lowest)
		t.morning(&n, c, intake, in, total)
		nights = append(nights, n)
	}
	return nights
}

// intakes are the times at which food is logged, in order.
func intakes(events []Event) []int64 {
	var at []int64
	for _, e := range events {
		if e.Kind == Meal || e.Carbs > 0 {
			at = append(at, e.At)
		}
	}
	return at
}

// morning fills in the nadir of a night, the value before breakfast and the
// rise between them, by Diabetes Care 2013;36:4057 (doi:10.2337/dc12-2127), or
// says why the night does not count. Without a logged breakfast the hour from
// six to seven stands for the time before it (a proposal).
func (t *trace) morning(n *Night, c *calDay, intake []int64, in *Input, covered float64) {
	p := &in.Protocol.Night
	hour := func(h float64) int64 { return t.cal.atHour(c, h) }
	first, _ := slices.BinarySearch(intake, hour(p.BreakfastHour))
	logged := first < len(intake) && intake[first] < hour(p.BreakfastToHour)
	from, to := hour(p.NoLogFromHour), hour(p.NoLogToHour)
	if logged {
		to = intake[first]
		from = to - seconds(p.BeforeMinutes*60)
	}
	n.MorningMmol = t.meanBetween(from, to)
	nightEnd := min(hour(6), to)
	n.NadirMmol = t.nadir(c.start, nightEnd, p)
	if last := lastBefore(intake, to); logged && last > 0 && float64(to-last) >= p.FastingHours*3600 {
		n.FastingMmol = n.MorningMmol
	}
	expected := float64(hour(6)-c.start) / float64(t.step)
	eaten, _ := slices.BinarySearch(intake, c.start)
	switch {
	case in.Context.ShiftWork:
		n.WhyNot = "Shift work: this need not be the person's night."
	case expected-covered > p.MaxMissingPct/100*expected:
		n.WhyNot = "Too many readings are missing or not believed."
	case eaten < len(intake) && intake[eaten] < hour(p.BreakfastHour):
		n.WhyNot = "Something was eaten in the night."
	case !n.NadirMmol.OK || !n.MorningMmol.OK:
		n.WhyNot = "No readings before breakfast."
	case t.under(n.NadirMmol, Limit3_9):
		n.WhyNot = "A rise from below 3.9 can be the body's answer to the low."
	case t.pressed(c.lo, t.from(to)):
		n.WhyNot = "The sensor was lain on."
	default:
		rise, _ := DawnRise(n.NadirMmol.V, n.MorningMmol.V)
		n.RiseMmol = Of(rise)
	}
}

// lastBefore is the last of rising times before at, or 0.
func lastBefore(times []int64, at int64) int64 {
	k, _ := slices.BinarySearch(times, at)
	if k == 0 {
		return 0
	}
	return times[k-1]
}

// meanBetween is the mean of the believed readings in [from, to).
func (t *trace) meanBetween(from, to int64) Figure {
	sum, n := 0.0, 0.0
	for i := t.from(from); i < len(t.r) && t.r[i].At < to; i++ {
		if t.why[i] == 0 {
			sum += t.weight(i) * t.mmol[i]
			n += t.weight(i)
		}
	}
	return Of(sum / n)
}

// nadir is the least running median of the believed readings in [from, to), so
// that a single low value makes no nadir.
func (t *trace) nadir(from, to int64, p *NightRules) Figure {
	width := seconds(p.MedianMinutes * 60)
	var f Figure
	lo, taken := t.from(from), int64(math.MinInt64/2)
	for i := lo; i < len(t.r) && t.r[i].At < to; i++ {
		if t.why[i] != 0 || t.r[i].At-taken < 60 { // once a minute is often enough
			continue
		}
		taken = t.r[i].At
		for t.r[i].At-t.r[lo].At >= width {
			lo++
		}
		v, under := t.scratch[:0], 0
		for k := lo; k <= i; k++ {
			if t.why[k] == 0 {
				v = append(v, t.mmol[k])
				if t.mmol[k] < f.V {
					under++
				}
			}
		}
		// A lower median has half of its values under the one that holds.
		if float64(len(v))*float64(t.step) < p.MedianMinutes*60 || f.OK && 2*under < len(v) {
			continue
		}
		if m := quantile(v, 0.5); !f.OK || m < f.V {
			f = Of(m)
		}
	}
	return f
}

// pressed reports whether a dip from lying on the sensor lies among the
// readings from lo to hi.
func (t *trace) pressed(lo, hi int) bool {
	return slices.Contains(t.why[lo:max(lo, hi)], causePressure)
}

// mornings sums up the nights.
func (t *trace) mornings(nights []Night, p *NightRules) (m Mornings) {
	var rises, mornings, fasting []float64
	dawn := 0
	for _, n := range nights {
		if n.RiseMmol.OK {
			rises = append(rises, n.RiseMmol.V)
			if atLeast(n.RiseMmol.V, p.DawnMmol) {
				dawn++
			}
		}
		if n.MorningMmol.OK {
			mornings = append(mornings, n.MorningMmol.V)
		}
		if n.FastingMmol.OK {
			fasting = append(fasting, n.FastingMmol.V)
		}
	}
	m.Nights, m.Fasting = len(rises), len(fasting)
	if float64(m.Nights) >= p.DawnMinNights {
		m.MedianRiseMmol, m.RisePct = Of(quantile(rises, 0.5)), Of(100*float64(dawn)/float64(m.Nights))
	}
	m.MedianMmol, m.FastingMmol = Of(quantile(mornings, 0.5)), Of(quantile(fasting, 0.5))
	return m
}

// DawnRise is the dawn phenomenon of one night: glucose before breakfast less
// the lowest of 00:00-06:00, both in mmol/L, and whether the rise reaches
// 1.11 mmol/L (20 mg/dL). Source: Diabetes Care 2013;36:4057
// (doi:10.2337/dc12-2127); there is no consensus on it.
func DawnRise(nadirMmol, beforeBreakfastMmol float64) (rise float64, present bool) {
	rise = beforeBreakfastMmol - nadirMmol
	return rise, rise >= 1.11
}
