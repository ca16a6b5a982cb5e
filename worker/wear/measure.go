package wear

import "math"

// measure gives the measures of the believed readings, or of all.
func (t *trace) measure(p *Protocol, all bool) Metrics {
	var m Metrics
	values := t.scratch[:0]
	var counts [8]float64 // intervals past each limit, by bit of past
	total := 0.0
	censored, run, longestRun := 0, 0, 0
	first, last := -1, -1
	lowest, highest := math.Inf(1), math.Inf(-1)
	t.common.reset(t)
	for i, r := range t.r {
		if t.why[i] != 0 && !all {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
		g, w := t.mmol[i], t.weight(i)
		values = append(values, g)
		if g < lowest {
			lowest = g
		}
		if g > highest {
			highest = g
		}
		total += w
		for b, k := t.past[i], 0; b != 0; b, k = b>>1, k+1 {
			if b&1 != 0 {
				counts[k] += w
			}
		}
		t.common.add(r, w)
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
	share := func(k float64) Figure { return Of(100 * k / total) }
	above7_8, above10, below3_9 := counts[bit(pastAbove7_8)], counts[bit(pastAbove10)], counts[bit(pastBelow3_9)]
	m.Above7_8Pct, m.Above10Pct = share(above7_8), share(above10)
	m.Above13_9Pct = share(counts[bit(pastAbove13_9)])
	m.Below3_9Pct, m.Below3_0Pct = share(below3_9), share(counts[bit(pastBelow3_0)])
	m.Within3_9To7_8, m.Within3_9To10 = share(total-above7_8-below3_9), share(total-above10-below3_9)

	var spread Figure
	if t.cover == nil {
		m.MeanMmol = Mean(values)
		spread = sd(values, m.MeanMmol.V)
	} else {
		m.MeanMmol, spread = t.weightedMeanSD(all)
	}
	m.MinMmol, m.MaxMmol = Of(lowest), Of(highest)
	if m.MedianMmol = t.common.median(); !m.MedianMmol.OK && t.brief {
		m.MedianMmol = Of(quantile(values, 0.5)) // reorders the values
	}
	if t.brief {
		return m
	}
	t.byClock(&m, all)
	if p.Measure.GMI == 1 && m.MeanMmol.OK {
		m.GMIPct = Of(GMI(MgdlFromMmol(m.MeanMmol.V)))
	}

	// A spread of values that are partly only limits would be too small.
	c := p.Censored
	known := 100*float64(censored) <= c.MaxPct*float64(n) && float64(longestRun) <= c.MaxRun
	lasting := float64(t.r[last].At-t.r[first].At) >= p.Wear.MinVariabilityHour*3600
	if known {
		m.SDMmol = spread
		m.CVPct = cv(m.MeanMmol, m.SDMmol)
		if lasting {
			m.MAGEMmol = mage(values, m.SDMmol)
			t.movement(&m, all)
			m.MODDMmol = t.lagged(dayLength, all).meanAbs()
			hourly := t.lagged(3600, all)
			m.CONGA1Mmol, m.Lability = hourly.sd(), hourly.lability()
			if m.SDMmol.OK {
				m.JIndex = Of(JIndex(m.MeanMmol.V, m.SDMmol.V))
			}
		}
	}
	if known && lasting {
		t.indices(&m, all)
	}
	if !m.MedianMmol.OK {
		m.MedianMmol = Of(quantile(values, 0.5)) // reorders the values
	}
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

// weightedMeanSD is the mean and the SD where readings stand for different
// times. The SD keeps the divisor n-1, of n readings of average weight.
func (t *trace) weightedMeanSD(all bool) (mean, spread Figure) {
	sum, total, n := 0.0, 0.0, 0
	for i, g := range t.mmol {
		if t.why[i] == 0 || all {
			sum += t.cover[i] * g
			total += t.cover[i]
			n++
		}
	}
	mean = Of(sum / total)
	squares := 0.0
	for i, g := range t.mmol {
		if t.why[i] == 0 || all {
			squares += t.cover[i] * (g - mean.V) * (g - mean.V)
		}
	}
	return mean, Of(math.Sqrt(squares / total * float64(n) / float64(n-1)))
}

// byClock gives mean and time above 7.8 of 00:00-06:00 and of 06:00-24:00
// local time, the blocks of Diabetes Care 2017;40:1631.
func (t *trace) byClock(m *Metrics, all bool) {
	block := func(lo, hi int, sum, above, n *float64) {
		for i := lo; i < hi; i++ {
			if t.why[i] != 0 && !all {
				continue
			}
			w := t.weight(i)
			*sum += w * t.mmol[i]
			*n += w
			if t.past[i]&pastAbove7_8 != 0 {
				*above += w
			}
		}
	}
	var sum, above, n [2]float64
	for _, d := range t.cal.days {
		block(d.lo, d.six, &sum[0], &above[0], &n[0])
		block(d.six, d.hi, &sum[1], &above[1], &n[1])
	}
	m.NightMeanMmol, m.DayMeanMmol = Of(sum[0]/n[0]), Of(sum[1]/n[1])
	m.NightAbove7_8, m.DayAbove7_8 = Of(100*above[0]/n[0]), Of(100*above[1]/n[1])
}

// ratio is sum ÷ n, not available for none.
func ratio(sum float64, n int) Figure {
	if n == 0 {
		return Figure{}
	}
	return Of(sum / float64(n))
}

// movement gives the measures of how glucose moves from reading to reading,
// over the steps that cross no gap: MAG, GVP and the area above 7.8 mmol/L in
// mmol/L × h a day.
func (t *trace) movement(m *Metrics, all bool) {
	change, length, area := 0.0, 0.0, 0.0
	covered, before := int64(0), -1
	for i, g := range t.mmol {
		if t.why[i] != 0 && !all {
			continue
		}
		if before >= 0 && t.r[i].At-t.r[before].At <= t.widest {
			apart := t.r[i].At - t.r[before].At
			dt, dg := float64(apart), g-t.mmol[before]
			change += math.Abs(dg)
			mg, minutes := dg*MgdlPerMmol, dt/60
			length += math.Sqrt(minutes*minutes + mg*mg)
			if (t.past[i]|t.past[before])&pastAbove7_8 != 0 {
				area += positive(t.mmol[before]-Limit7_8.Mmol(), g-Limit7_8.Mmol()) * dt
			}
			covered += apart
		}
		before = i
	}
	if covered == 0 {
		return
	}
	hours := float64(covered) / 3600
	m.MAGMmolH = Of(change / hours)
	m.GVPPct = Of(100 * (length/(hours*60) - 1))
	m.AUCAbove7_8 = Of(area / 3600 / (hours / 24))
}

// differences sums up the differences of readings a lag apart.
type differences struct {
	n                 int
	abs, sum, squares float64
}

// meanAbs is the mean size of the differences.
func (d differences) meanAbs() Figure { return ratio(d.abs, d.n) }

// sd is the standard deviation of the differences, divisor n-1.
func (d differences) sd() Figure {
	if d.n < 2 {
		return Figure{}
	}
	n := float64(d.n)
	return Of(math.Sqrt(max(0, d.squares-d.sum*d.sum/n) / (n - 1)))
}

// lagged is the differences of readings a lag in seconds apart, within half an
// interval, for MODD and CONGA.
func (t *trace) lagged(lag int64, all bool) (d differences) {
	j := 0
	for i, g := range t.mmol {
		if t.why[i] != 0 && !all {
			continue
		}
		target := t.r[i].At - lag
		for j+1 < i && 2*(target-t.r[j].At) > t.step {
			j++
		}
		if off := target - t.r[j].At; 2*max(off, -off) <= t.step && (t.why[j] == 0 || all) {
			x := g - t.mmol[j]
			d.n++
			d.sum += x
			d.squares += x * x
			d.abs += math.Abs(x)
		}
	}
	return d
}

// lability is the lability index of the readings an hour apart, the mean over every
// minute at which the hours can begin.
func (d differences) lability() Figure { return ratio(d.squares*7*24, d.n) }

// indices are the risk indices, [DailyRiskRange], the M value and the median of
// [GRADE] over the trace. A risk grows towards both ends, so the largest of a
// day are those of its lowest and its highest value.
func (t *trace) indices(m *Metrics, all bool) {
	var low, high, cubes, n float64
	grades := t.common.grades[:0]
	add := func(mmol, w float64) {
		mgdl := mmol * MgdlPerMmol
		if f, r := Risk(mgdl); f < 0 {
			low += w * r
		} else {
			high += w * r
		}
		cubes += w * mCube(mgdl)
		n += w
		grades = append(grades, graded{GRADE(mmol).V, w})
	}
	t.common.each(add)
	var daily float64
	days := 0
	for _, d := range t.cal.days {
		lowest, highest, kept := math.Inf(1), math.Inf(-1), 0
		for i := d.lo; i < d.hi; i++ {
			if t.why[i] == 0 || all {
				lowest, highest = min(lowest, t.mmol[i]), max(highest, t.mmol[i])
				kept++
				if !t.common.has(t.r[i]) {
					add(t.mmol[i], t.weight(i))
				}
			}
		}
		if kept >= 3 { // fewer make no day, by the definition
			daily += DailyRiskRange([][]float64{{lowest * MgdlPerMmol, highest * MgdlPerMmol}}).V
			days++
		}
	}
	t.common.grades = grades
	m.LBGI, m.HBGI, m.MValue = Of(low/n), Of(high/n), Of(cubes/n)
	m.ADRR = ratio(daily, days)
	m.GRADE = medianGrade(grades, n)
}
