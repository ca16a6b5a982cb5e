package wear

import (
	"math"
	"slices"
	"strings"
)

// meals measures what glucose did after each logged meal. Items logged close
// together are one meal, timed at the first.
func (t *trace) meals(in *Input) []MealFig {
	m := &in.Protocol.Meal
	var eaten []Event
	for _, e := range in.Events {
		if e.Kind != Meal || len(t.r) == 0 || e.At < t.r[0].At || e.At > t.r[len(t.r)-1].At {
			continue
		}
		if n := len(eaten); n > 0 && float64(e.At-eaten[n-1].At) <= m.MergeMinutes*60 {
			if l := strings.TrimSpace(e.Label); l != "" && !slices.Contains(strings.Split(eaten[n-1].Label, ", "), l) {
				eaten[n-1].Label = strings.TrimPrefix(eaten[n-1].Label+", "+l, ", ")
			}
			continue
		}
		e.Label = strings.TrimSpace(e.Label)
		eaten = append(eaten, e)
	}
	figures := make([]MealFig, 0, len(eaten))
	for i, e := range eaten {
		next := int64(math.MaxInt64)
		if i+1 < len(eaten) {
			next = eaten[i+1].At
		}
		figures = append(figures, t.meal(e, next, m))
	}
	return figures
}

// meal measures one meal up to the next.
func (t *trace) meal(e Event, next int64, m *MealRules) MealFig {
	f := MealFig{At: t.cal.time(e.At), Label: e.Label}
	window := seconds(m.WindowMinutes * 60)

	sum, n := 0.0, 0
	for i := t.from(e.At - seconds(m.BaselineMinutes*60)); i < len(t.r) && t.r[i].At <= e.At; i++ {
		if t.why[i] == 0 {
			sum += t.mmol[i]
			n++
		}
	}
	// At 15-minute intervals 30 minutes hold two readings, not three.
	needed := max(1, min(int(m.BaselineReadings), t.count(m.BaselineMinutes)))
	if n >= needed {
		f.BaselineMmol = ratio(sum, n)
	}

	minutes := make([]float64, 0, 32)
	values := make([]float64, 0, 32)
	lastAt, widest := e.At, int64(0)
	for i := t.from(e.At); i < len(t.r) && t.r[i].At <= e.At+window; i++ {
		if t.why[i] != 0 {
			continue
		}
		widest = max(widest, t.r[i].At-lastAt)
		lastAt = t.r[i].At
		minutes = append(minutes, float64(t.r[i].At-e.At)/60)
		values = append(values, t.mmol[i])
	}
	widest = max(widest, e.At+window-lastAt)

	switch {
	case next <= e.At+window:
		f.WhyNot = "Something else was eaten within " + duration(window) + "."
	case !f.BaselineMmol.OK:
		f.WhyNot = "Too few readings in the " + duration(seconds(m.BaselineMinutes*60)) + " before."
	case float64(len(values)) < m.MinCapturedPct/100*float64(t.count(m.WindowMinutes)):
		f.WhyNot = "Too few readings in the " + duration(window) + " after."
	case float64(widest) > m.MaxGapMinutes*60:
		f.WhyNot = "A gap lies in the " + duration(window) + " after."
	default:
		f.Judged = true
	}
	if len(values) == 0 || !f.BaselineMmol.OK {
		return f
	}
	peak := 0
	for i, g := range values {
		if g > values[peak] {
			peak = i
		}
	}
	f.PeakMmol, f.PeakAfterMin = Of(values[peak]), Of(minutes[peak])
	f.RiseMmol = Of(values[peak] - f.BaselineMmol.V)
	f.At2hMmol = t.near(e.At + window)
	if f.Judged {
		f.IAUC2h = IAUC(append([]float64{0}, minutes...), append([]float64{f.BaselineMmol.V}, values...), f.BaselineMmol.V)
		f.Nadir5hMmol = t.leastBetween(e.At+window, min(e.At+seconds(m.NadirToMinutes*60), next))
	}
	return f
}

// near is the believed value closest to an instant, at most one interval away.
func (t *trace) near(at int64) Figure {
	best, distance := -1, t.step+1
	for i := t.from(at - t.step); i < len(t.r) && t.r[i].At <= at+t.step; i++ {
		if d := max(t.r[i].At-at, at-t.r[i].At); t.why[i] == 0 && d < distance {
			best, distance = i, d
		}
	}
	if best < 0 {
		return Figure{}
	}
	return Of(t.mmol[best])
}

// leastBetween is the least believed value in [from, to].
func (t *trace) leastBetween(from, to int64) Figure {
	var f Figure
	for i := t.from(from); i < len(t.r) && t.r[i].At <= to; i++ {
		if t.why[i] == 0 && (!f.OK || t.mmol[i] < f.V) {
			f = Of(t.mmol[i])
		}
	}
	return f
}

// IAUC is the incremental area under the curve above a baseline by
// trapezoids, in the unit of g times minutes. Area below the baseline is left
// out; where the trace crosses it, only the triangle above counts.
// Source: Br J Nutr 2004;91:295 (doi:10.1079/bjn20031054). Not available for
// fewer than two points or times that do not rise.
func IAUC(minutes, g []float64, baseline float64) Figure {
	if len(g) < 2 || len(minutes) != len(g) {
		return Figure{}
	}
	area := 0.0
	for i := 1; i < len(g); i++ {
		dt := minutes[i] - minutes[i-1]
		if dt < 0 {
			return Figure{}
		}
		a, b := g[i-1]-baseline, g[i]-baseline
		switch {
		case a >= 0 && b >= 0:
			area += dt * (a + b) / 2
		case a > 0:
			area += dt * a / (a - b) * a / 2
		case b > 0:
			area += dt * b / (b - a) * b / 2
		}
	}
	return Of(area)
}

// NetArea is the area under the curve above a baseline with area below it
// subtracted, in the unit of g times minutes. With baseline 0 it is the total.
func NetArea(minutes, g []float64, baseline float64) Figure {
	if len(g) < 2 || len(minutes) != len(g) {
		return Figure{}
	}
	area := 0.0
	for i := 1; i < len(g); i++ {
		area += (minutes[i] - minutes[i-1]) * ((g[i-1]+g[i])/2 - baseline)
	}
	return Of(area)
}
