package wear

import "math"

// The definitions in their plain form, as they were published: over values, one
// after the other, without weights, gaps or doubt. The published vectors are held
// against them, and what the engine works out in one pass over a trace is held
// against them too.

// CV is [cv] of all values pooled.
func CV(g []float64) Figure {
	return cv(Mean(g), SD(g))
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

// MAGE is [mage] about the SD of the values themselves.
func MAGE(g []float64) Figure {
	return mage(g, SD(g))
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

// MValue is the mean of |10 log10(g/120)|³ in mg/dL. With width the term (highest - lowest)/20 is added, as used for fewer than 24
// values a day. Source: Acta Med Scand 1965;177:95 (from memory).
func MValue(mgdl []float64, width bool) Figure {
	if len(mgdl) == 0 {
		return Figure{}
	}
	sum, lowest, highest := 0.0, mgdl[0], mgdl[0]
	for _, g := range mgdl {
		sum += mCube(g)
		lowest, highest = min(lowest, g), max(highest, g)
	}
	m := sum / float64(len(mgdl))
	if width {
		m += (highest - lowest) / 20
	}
	return Of(m)
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

// RiskMmol is [Risk] with the constants published for mmol/L. The two differ
// by up to 0.9 %, so reports use the mg/dL form only.
func RiskMmol(mmol float64) (f, r float64) {
	f = 1.794 * (math.Pow(math.Log(max(1, mmol)), 1.026) - 1.861)
	return f, 10 * f * f
}

// RiskIndices gives the low and the high blood glucose index of values in
// mg/dL: the risks of the low side and of the high side, each divided by the
// number of all values. Source: as [Risk].
func RiskIndices(mgdl []float64) (lbgi, hbgi Figure) {
	var low, high float64
	for _, g := range mgdl {
		if f, r := Risk(g); f < 0 {
			low += r
		} else {
			high += r
		}
	}
	if len(mgdl) == 0 {
		return Figure{}, Figure{}
	}
	n := float64(len(mgdl))
	return Of(low / n), Of(high / n)
}

// GMIMmolMol is [GMI] in mmol/mol from a mean in mmol/L: 12.71 + 4.70587 × mean.
func GMIMmolMol(meanMmol float64) float64 { return 12.71 + 4.70587*meanMmol }

// NGSPFromIFCC converts HbA1c from mmol/mol to per cent:
// 0.09148 × x + 2.152. Source: master equation, ngsp.org/ifcc.asp. Never
// convert before comparing with a cut-off: 47 mmol/mol prints as 6.5 %.
func NGSPFromIFCC(mmolMol float64) float64 { return 0.09148*mmolMol + 2.152 }

// IFCCFromNGSP converts HbA1c from per cent to mmol/mol: 10.93 × x - 23.5.
// Source: IFCC master equations.
func IFCCFromNGSP(percent float64) float64 { return 10.93*percent - 23.5 }

// EstimatedAverage is the estimated average glucose of an HbA1c in per cent,
// in mg/dL (28.7 × x - 46.7) and in mmol/L. The published mmol/L column divides
// by 18, so this does too. Source: Diabetes Care 2008;31:1473
// (doi:10.2337/dc08-0545).
func EstimatedAverage(percent float64) (mgdl, mmol float64) {
	mgdl = 28.7*percent - 46.7
	return mgdl, mgdl / 18
}

// MinutesPerDay turns a share in per cent into minutes a day.
func MinutesPerDay(percent float64) float64 { return percent / 100 * 1440 }

// PercentOfDay turns minutes a day into a share in per cent.
func PercentOfDay(minutes float64) float64 { return minutes / 1440 * 100 }

// ExpectedReadings is how many readings a window of days holds at an interval
// in minutes; 0 for an interval that is not positive.
func ExpectedReadings(days, intervalMinutes float64) int {
	if !(intervalMinutes > 0) {
		return 0
	}
	return int(math.Floor(days*1440/intervalMinutes + 1e-9))
}

// FastingADA classifies fasting plasma glucose in mmol/L: intermediate from
// 5.6, diabetes range from 7.0. Source: ADA Standards of Care 2025 section 2
// (doi:10.2337/dc25-S002).
func FastingADA(mmol float64) Class { return fastingADA.class(mmol, "mmol/L") }

// FastingWHO classifies fasting plasma glucose in mmol/L: intermediate from
// 6.1, diabetes range from 7.0. Source: WHO/IDF 2006 (ISBN 92 4 159493 4);
// used in Australia.
func FastingWHO(mmol float64) Class { return fastingWHO.class(mmol, "mmol/L") }

// TwoHour classifies plasma glucose in mmol/L two hours after 75 g of glucose:
// intermediate from 7.8, diabetes range from 11.1. Source: ADA and WHO.
func TwoHour(mmol float64) Class { return twoHour.class(mmol, "mmol/L") }

// PregnancyFasting, PregnancyOneHour and PregnancyTwoHour classify plasma
// glucose in mmol/L in a 75 g test in pregnancy. Source: ADIPS 2025, Med J Aust
// 2025;223:161 (doi:10.5694/mja2.52696): gestational from 5.3, 10.6 and 9.0,
// overt from 7.0 fasting and 11.1 at two hours.
func PregnancyFasting(mmol float64) Class { return pregnancyFasting.class(mmol, "mmol/L") }

// PregnancyOneHour classifies the one-hour value; see [PregnancyFasting].
func PregnancyOneHour(mmol float64) Class { return pregnancyOneHour.class(mmol, "mmol/L") }

// PregnancyTwoHour classifies the two-hour value; see [PregnancyFasting].
func PregnancyTwoHour(mmol float64) Class { return pregnancyTwoHour.class(mmol, "mmol/L") }

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
