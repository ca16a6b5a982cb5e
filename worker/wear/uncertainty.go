package wear

// dayCounts are the sums over the believed readings of one day that shares and
// the mean are made of, in intervals.
type dayCounts struct {
	n, sum                       float64
	above7_8, above10, above13_9 float64
	below3_9, below3_0           float64
}

// add counts a reading that stands for w intervals.
func (c *dayCounts) add(mmol, w float64, p past) {
	c.n += w
	c.sum += w * mmol
	if p == 0 {
		return
	}
	if p&pastAbove7_8 != 0 {
		c.above7_8 += w
	}
	if p&pastAbove10 != 0 {
		c.above10 += w
	}
	if p&pastAbove13_9 != 0 {
		c.above13_9 += w
	}
	if p&pastBelow3_9 != 0 {
		c.below3_9 += w
	}
	if p&pastBelow3_0 != 0 {
		c.below3_0 += w
	}
}

// plus adds the counts of another day, times sign.
func (c dayCounts) plus(d dayCounts, sign float64) dayCounts {
	c.n += sign * d.n
	c.sum += sign * d.sum
	c.above7_8 += sign * d.above7_8
	c.above10 += sign * d.above10
	c.above13_9 += sign * d.above13_9
	c.below3_9 += sign * d.below3_9
	c.below3_0 += sign * d.below3_0
	return c
}

// uncertainty leaves out every day in turn. A share that one day carries shows
// it; a share that every day bears out keeps a narrow range.
func (t *trace) uncertainty() (u Uncertainty) {
	total, days := dayCounts{}, 0
	for _, d := range t.counts {
		total = total.plus(d, 1)
		if d.n > 0 {
			days++
		}
	}
	if days < 2 {
		return u
	}
	for _, d := range t.counts {
		if d.n == 0 {
			continue
		}
		c := total.plus(d, -1)
		u.MeanMmol.widen(c.sum / c.n)
		for _, s := range []struct {
			r *Range
			k float64
		}{
			{&u.Above7_8Pct, c.above7_8}, {&u.Above10Pct, c.above10}, {&u.Above13_9Pct, c.above13_9},
			{&u.Below3_9Pct, c.below3_9}, {&u.Below3_0Pct, c.below3_0},
			{&u.Within3_9To7_8, c.n - c.above7_8 - c.below3_9}, {&u.Within3_9To10, c.n - c.above10 - c.below3_9},
		} {
			s.r.widen(100 * s.k / c.n)
		}
	}
	return u
}

// widen takes a value into the range.
func (r *Range) widen(v float64) {
	f := Of(v)
	if !r.Low.OK || f.V < r.Low.V {
		r.Low = f
	}
	if !r.High.OK || f.V > r.High.V {
		r.High = f
	}
}
