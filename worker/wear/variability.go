package wear

import "math"

// Mean is the arithmetic mean. Not available for no values.
func Mean(g []float64) Figure {
	total, n := sum(g)
	return ratio(total, n)
}

// sum adds up values and counts them.
func sum(g []float64) (total float64, n int) {
	for _, x := range g {
		total += x
	}
	return total, len(g)
}

// SD is the standard deviation with divisor n-1. Not available for fewer than
// two values.
func SD(g []float64) Figure {
	return sd(g, Mean(g).V)
}

// sd is [SD] about a mean that is known already.
func sd(g []float64, m float64) Figure {
	if len(g) < 2 {
		return Figure{}
	}
	sum := 0.0
	for _, x := range g {
		sum += (x - m) * (x - m)
	}
	return Of(math.Sqrt(sum / float64(len(g)-1)))
}

// cv is the coefficient of variation in per cent, 100 × SD ÷ mean. Source:
// Diabetes Care 2017;40:1631.
func cv(mean, sd Figure) Figure {
	if !mean.OK || !sd.OK || mean.V == 0 {
		return Figure{}
	}
	return Of(100 * sd.V / mean.V)
}

// mage is the mean amplitude of glycaemic excursions, in the unit of g: the
// mean of the moves between turning points that exceed one SD (n-1) of all of
// g, counted only in the direction, up or down, of the first that does.
// A reversal of one SD or less belongs to the move around it, and a plateau
// counts once. Source: Diabetes 1970;19:644 (the rule of direction from
// memory); methods differ, so values of another method are not comparable.
func mage(g []float64, sd Figure) Figure {
	if !sd.OK {
		return Figure{}
	}
	m := excursions{limit: sd.V}
	for _, x := range g {
		m.add(x)
	}
	return m.mean()
}

// excursions finds moves larger than limit one value at a time.
type excursions struct {
	limit    float64
	begun    bool
	up, down bool    // direction of the move under way; neither before the first
	low      float64 // extremes since the last turning point
	high     float64
	turn     float64 // where the move under way began
	first    int     // direction that counts: +1 up, -1 down
	sum      float64
	n        int
}

func (m *excursions) add(x float64) {
	switch {
	case !m.begun:
		m.begun, m.low, m.high = true, x, x
	case m.up:
		if x > m.high {
			m.high = x
		} else if m.high-x > m.limit {
			m.count(+1, m.high-m.turn)
			m.up, m.down, m.turn, m.low = false, true, m.high, x
		}
	case m.down:
		if x < m.low {
			m.low = x
		} else if x-m.low > m.limit {
			m.count(-1, m.turn-m.low)
			m.up, m.down, m.turn, m.high = true, false, m.low, x
		}
	default:
		m.low, m.high = min(m.low, x), max(m.high, x)
		if x-m.low > m.limit {
			m.up, m.turn, m.high, m.first = true, m.low, x, +1
		} else if m.high-x > m.limit {
			m.down, m.turn, m.low, m.first = true, m.high, x, -1
		}
	}
}

func (m *excursions) count(direction int, size float64) {
	if direction == m.first {
		m.sum += size
		m.n++
	}
}

// mean closes the move under way and gives the mean; it may be asked once.
func (m *excursions) mean() Figure {
	if m.up {
		m.count(+1, m.high-m.turn)
	} else if m.down {
		m.count(-1, m.turn-m.low)
	}
	if m.n == 0 {
		return Figure{}
	}
	return Of(m.sum / float64(m.n))
}

// JIndex is 0.324 × (mean + SD)² with both in mmol/L. The constant is
// 0.001 × 18², so the rounded factor 18 belongs to the definition.
// Source: Horm Metab Res 1995;27:41 (from memory).
func JIndex(meanMmol, sdMmol float64) float64 {
	return 0.324 * (meanMmol + sdMmol) * (meanMmol + sdMmol)
}

// idealMgdl is the value that the M value is taken about, in mg/dL.
const idealMgdl = 120

// mCube is the part of one value in an M value, |10 log10(g/ideal)|³. Source: Acta
// Med Scand 1965;177:95 (from memory).
func mCube(mgdl float64) float64 {
	x := math.Abs(10 * math.Log10(mgdl/idealMgdl))
	return x * x * x
}

// GRADE is the score 425 × (log10 log10 g + 0.16)² of one value in mmol/L, at
// most 50. Not available at 1 mmol/L or less. Source: Diabet Med 2007;24:753;
// formula as in Diabetes Technol Ther 2011;13:921; the cap from memory.
func GRADE(mmol float64) Figure {
	if !(mmol > 1) {
		return Figure{}
	}
	x := math.Log10(math.Log10(mmol)) + 0.16
	return Of(min(50, 425*x*x))
}

// GMI is the glucose management indicator in per cent from a mean in mg/dL:
// 3.31 + 0.02392 × mean. It comes from people with diabetes, is not an HbA1c
// and must not be read against HbA1c cut-offs. Source: Diabetes Care
// 2018;41:2275 (doi:10.2337/dc18-1581).
func GMI(meanMgdl float64) float64 { return 3.31 + 0.02392*meanMgdl }
