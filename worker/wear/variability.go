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

// CV is the coefficient of variation in per cent, 100 × SD ÷ mean, all values
// pooled. Source: Diabetes Care 2017;40:1631.
func CV(g []float64) Figure {
	return cv(Mean(g), SD(g))
}

// cv is [CV] of a mean and an SD.
func cv(mean, sd Figure) Figure {
	if !mean.OK || !sd.OK || mean.V == 0 {
		return Figure{}
	}
	return Of(100 * sd.V / mean.V)
}

// Quantile is the q-quantile (0 to 1) by Hyndman and Fan's definition 7, as in
// The American Statistician 1996;50:361. The values may lie in any order and
// are left so. Not available for no values or a q outside 0 to 1.
func Quantile(g []float64, q float64) Figure {
	if !(q >= 0 && q <= 1) {
		return Figure{}
	}
	return Of(quantile(append([]float64(nil), g...), q))
}

// MAGE is the mean amplitude of glycaemic excursions, in the unit of g: the
// mean of the moves between turning points that exceed one SD (n-1) of all of
// g, counted only in the direction, up or down, of the first that does.
// A reversal of one SD or less belongs to the move around it, and a plateau
// counts once. Source: Diabetes 1970;19:644 (the rule of direction from
// memory); methods differ, so values of another method are not comparable.
func MAGE(g []float64) Figure {
	return mage(g, SD(g))
}

// mage is [MAGE] where the SD is known already.
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

// MODD is the mean of daily differences in the unit of g: the mean absolute
// difference between values one day apart, for evenly spaced values with perDay
// of them a day. Source: Diabetologia 1972;8:342.
func MODD(g []float64, perDay int) Figure {
	if perDay < 1 || len(g) <= perDay {
		return Figure{}
	}
	sum := 0.0
	for i := perDay; i < len(g); i++ {
		sum += math.Abs(g[i] - g[i-perDay])
	}
	return Of(sum / float64(len(g)-perDay))
}

// CONGA is the SD (n-1) of the differences between values lag places apart, in
// the unit of g. Source: Diabetes Technol Ther 2005;7:253
// (doi:10.1089/dia.2005.7.253).
func CONGA(g []float64, lag int) Figure {
	if lag < 1 || len(g) <= lag {
		return Figure{}
	}
	d := make([]float64, 0, len(g)-lag)
	for i := lag; i < len(g); i++ {
		d = append(d, g[i]-g[i-lag])
	}
	return SD(d)
}

// MAG is the mean absolute glucose change, in the unit of g per hour, for
// values minutes apart. Source: Crit Care Med 2010;38:838 (from memory).
func MAG(g []float64, minutes float64) Figure {
	if len(g) < 2 || minutes <= 0 {
		return Figure{}
	}
	sum := 0.0
	for i := 1; i < len(g); i++ {
		sum += math.Abs(g[i] - g[i-1])
	}
	return Of(sum / (float64(len(g)-1) * minutes / 60))
}

// JIndex is 0.324 × (mean + SD)² with both in mmol/L. The constant is
// 0.001 × 18², so the rounded factor 18 belongs to the definition.
// Source: Horm Metab Res 1995;27:41 (from memory).
func JIndex(meanMmol, sdMmol float64) float64 {
	return 0.324 * (meanMmol + sdMmol) * (meanMmol + sdMmol)
}

// GVP is the glycaemic variability percentage: how much longer the trace is
// than a flat one, with time in minutes and glucose in mg/dL. The units belong
// to the definition. Source: Diabetes Technol Ther 2018;20:6
// (doi:10.1089/dia.2017.0187); units from memory.
func GVP(mgdl []float64, minutes float64) Figure {
	if len(mgdl) < 2 || minutes <= 0 {
		return Figure{}
	}
	length := 0.0
	for i := 1; i < len(mgdl); i++ {
		length += math.Hypot(minutes, mgdl[i]-mgdl[i-1])
	}
	return Of(100 * (length/(minutes*float64(len(mgdl)-1)) - 1))
}

// idealMgdl is the value that [MValue] is taken about in reports, in mg/dL.
const idealMgdl = 120

// MValue is the mean of |10 log10(g/ideal)|³ in mg/dL, ideal usually 120. With
// width the term (highest - lowest)/20 is added, as used for fewer than 24
// values a day. Source: Acta Med Scand 1965;177:95 (from memory).
func MValue(mgdl []float64, ideal float64, width bool) Figure {
	if len(mgdl) == 0 || ideal <= 0 {
		return Figure{}
	}
	sum, lowest, highest := 0.0, mgdl[0], mgdl[0]
	for _, g := range mgdl {
		sum += mCube(g, ideal)
		lowest, highest = min(lowest, g), max(highest, g)
	}
	m := sum / float64(len(mgdl))
	if width {
		m += (highest - lowest) / 20
	}
	return Of(m)
}

// mCube is the part of one value in an [MValue].
func mCube(mgdl, ideal float64) float64 {
	x := math.Abs(10 * math.Log10(mgdl/ideal))
	return x * x * x
}

// Lability is the lability index: the sum of the squared changes, each divided
// by its time in hours, a week; in (mmol/L)² per hour and week, for values in
// mmol/L minutes apart: hours, for at the steps of a sensor it comes out many
// times larger. Source: Diabetes 2004;53:955 (from memory).
func Lability(mmol []float64, minutes float64) Figure {
	if len(mmol) < 2 || minutes <= 0 {
		return Figure{}
	}
	sum := 0.0
	for i := 1; i < len(mmol); i++ {
		sum += (mmol[i] - mmol[i-1]) * (mmol[i] - mmol[i-1]) / (minutes / 60)
	}
	return Of(sum / (minutes * float64(len(mmol)-1) / (7 * 24 * 60)))
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
