package wear

import "math"

// measure gives the measures of the believed readings, or of all.
func (t *trace) measure(p *Protocol, all bool) Metrics {
	var m Metrics
	values := t.scratch[:0]
	var counts [8]int // by bit of past
	censored, run, longestRun := 0, 0, 0
	first, last := -1, -1
	for i, r := range t.r {
		if t.why[i] != 0 && !all {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
		values = append(values, t.mmol[i])
		for b, k := t.past[i], 0; b != 0; b, k = b>>1, k+1 {
			counts[k] += int(b & 1)
		}
		if r.Bound == Exact {
			run = 0
			continue
		}
		censored++
		run++
		longestRun = max(longestRun, run)
	}
	n := len(values)
	m.Readings = n
	if n == 0 {
		return m
	}
	share := func(k int) Figure { return Of(100 * float64(k) / float64(n)) }
	above7_8, above10, below3_9 := counts[bit(pastAbove7_8)], counts[bit(pastAbove10)], counts[bit(pastBelow3_9)]
	m.Above7_8Pct, m.Above10Pct = share(above7_8), share(above10)
	m.Above13_9Pct = share(counts[bit(pastAbove13_9)])
	m.Below3_9Pct, m.Below3_0Pct = share(below3_9), share(counts[bit(pastBelow3_0)])
	m.Within3_9To7_8, m.Within3_9To10 = share(n-above7_8-below3_9), share(n-above10-below3_9)

	m.MeanMmol = Mean(values)
	lowest, highest := values[0], values[0]
	for _, g := range values {
		lowest, highest = min(lowest, g), max(highest, g)
	}
	m.MinMmol, m.MaxMmol = Of(lowest), Of(highest)
	m.NightMeanMmol, m.DayMeanMmol = t.clockMeans(all)

	// A spread of values that are partly only limits would be too small.
	c := p.Censored
	if 100*float64(censored) <= c.MaxPct*float64(n) && float64(longestRun) <= c.MaxRun {
		m.SDMmol = sd(values, m.MeanMmol.V)
		m.CVPct = cv(m.MeanMmol, m.SDMmol)
		if float64(t.r[last].At-t.r[first].At) >= p.Wear.MinVariabilityHour*3600 {
			m.MAGEMmol = mage(values, m.SDMmol)
			m.MAGMmolH = t.mag(all)
			m.MODDMmol = t.modd(all)
			m.LBGI, m.HBGI = t.riskIndices(all)
		}
	}
	m.MedianMmol = Of(quantile(values, 0.5)) // last: it reorders the values
	return m
}

// bit is the place of a single limit in a set.
func bit(b past) int {
	k := 0
	for ; b > 1; b >>= 1 {
		k++
	}
	return k
}

// clockMeans are the means of 00:00-06:00 and of 06:00-24:00 local time, the
// blocks of Diabetes Care 2017;40:1631.
func (t *trace) clockMeans(all bool) (night, day Figure) {
	var sum [2]float64
	var n [2]int
	for _, d := range t.cal.days {
		for i := d.lo; i < d.hi; i++ {
			if t.why[i] != 0 && !all {
				continue
			}
			k := 0
			if i >= d.six {
				k = 1
			}
			sum[k] += t.mmol[i]
			n[k]++
		}
	}
	return ratio(sum[0], n[0]), ratio(sum[1], n[1])
}

// ratio is sum ÷ n, not available for none.
func ratio(sum float64, n int) Figure {
	if n == 0 {
		return Figure{}
	}
	return Of(sum / float64(n))
}

// mag is [MAG] over the steps that cross no gap.
func (t *trace) mag(all bool) Figure {
	sum, covered, before := 0.0, int64(0), -1
	for i := range t.r {
		if t.why[i] != 0 && !all {
			continue
		}
		if before >= 0 && t.r[i].At-t.r[before].At <= t.widest {
			sum += math.Abs(t.mmol[i] - t.mmol[before])
			covered += t.r[i].At - t.r[before].At
		}
		before = i
	}
	if covered == 0 {
		return Figure{}
	}
	return Of(sum / (float64(covered) / 3600))
}

// modd is [MODD] over the pairs of readings 24 h apart, within half an interval.
func (t *trace) modd(all bool) Figure {
	sum, pairs, j := 0.0, 0, 0
	for i, r := range t.r {
		if t.why[i] != 0 && !all {
			continue
		}
		target := r.At - dayLength
		for j+1 < i && 2*(target-t.r[j].At) > t.step {
			j++
		}
		if d := target - t.r[j].At; 2*max(d, -d) <= t.step && (t.why[j] == 0 || all) {
			sum += math.Abs(t.mmol[i] - t.mmol[j])
			pairs++
		}
	}
	return ratio(sum, pairs)
}

// riskIndices is [RiskIndices] over the trace. Sensors report few distinct
// values, so the transform of each is kept.
func (t *trace) riskIndices(all bool) (lbgi, hbgi Figure) {
	if t.risks == nil {
		t.risks = make([]float64, 640)
	}
	var low, high float64
	n := 0
	for i, r := range t.r {
		if t.why[i] != 0 && !all {
			continue
		}
		n++
		var f float64
		plain := r.Bound == Exact && r.Num < int64(len(t.risks)) &&
			(r.Unit == MgdL && r.Scale == 0 || r.Unit == MmolL && r.Scale == 1)
		if plain && t.risks[r.Num] != 0 && r.Unit == t.r[0].Unit {
			f = t.risks[r.Num]
		} else {
			f, _ = Risk(t.mmol[i] * MgdlPerMmol)
			if plain && r.Unit == t.r[0].Unit {
				t.risks[r.Num] = f
			}
		}
		if f < 0 {
			low += 10 * f * f
		} else {
			high += 10 * f * f
		}
	}
	return ratio(low, n), ratio(high, n)
}
