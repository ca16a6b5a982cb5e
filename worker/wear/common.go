package wear

import (
	"cmp"
	"slices"
)

// common counts the readings that are a small plain number in the unit and
// with the decimals of the first, which are nearly all: sensors report few
// distinct values, so what is costly to work out is worked out once a value.
type common struct {
	unit   Unit
	scale  uint8
	counts [640]float64 // intervals, by recorded number
	n      float64
	others int // readings that are not common
	grades []graded
}

// reset forgets the counts.
func (c *common) reset(t *trace) {
	c.counts, c.n, c.others = [640]float64{}, 0, 0
	if len(t.r) > 0 {
		c.unit, c.scale = t.r[0].Unit, t.r[0].Scale
	}
}

// has reports whether a reading is counted here.
func (c *common) has(r Reading) bool {
	return r.Num < int64(len(c.counts)) && r.Bound == Exact && r.Unit == c.unit && r.Scale == c.scale
}

// add counts a reading that stands for w intervals.
func (c *common) add(r Reading, w float64) {
	if !c.has(r) {
		c.others++
		return
	}
	c.counts[r.Num] += w
	c.n += w
}

// each calls f with each value in mmol/L that was met and its weight.
func (c *common) each(f func(mmol, w float64)) {
	for num, w := range c.counts {
		if w > 0 {
			f(Reading{Num: int64(num), Scale: c.scale, Unit: c.unit}.Mmol(), w)
		}
	}
}

// median is the middle of the values in mmol/L where all were counted here:
// by definition 7, as [quantile], where each stands for one interval, and else
// the value at which half of the time is reached.
func (c *common) median() Figure {
	if c.others > 0 || c.n == 0 {
		return Figure{}
	}
	var at, lower Figure
	seen := 0.0
	c.each(func(mmol, w float64) {
		seen += w
		switch {
		case at.OK:
		case 2*seen > c.n && lower.OK:
			at = Of((lower.V + mmol) / 2)
		case 2*seen > c.n:
			at = Of(mmol)
		case 2*seen == c.n:
			lower = Of(mmol)
		}
	})
	return at
}

// graded is a value of [GRADE] and its weight.
type graded struct{ grade, w float64 }

// medianGrade is the weighted median of grades; it sorts them.
func medianGrade(grades []graded, total float64) Figure {
	slices.SortFunc(grades, func(a, b graded) int { return cmp.Compare(a.grade, b.grade) })
	seen := 0.0
	for i, g := range grades {
		seen += g.w
		switch {
		case 2*seen > total:
			return Of(g.grade)
		case 2*seen == total && i+1 < len(grades):
			return Of((g.grade + grades[i+1].grade) / 2)
		}
	}
	return Figure{}
}
