package wear

import "math"

// Risk gives the risk transform f of a value in mg/dL and its risk r = 10 f²:
// f = 1.509 × (ln(g)^1.084 - 5.381), 0 near 112.5 mg/dL and ±√10 at the ends of
// 20 to 600. A value of 1 mg/dL or less counts as 1. Source: Diabetes Care
// 1997;20:1655 (doi:10.2337/diacare.20.11.1655); the constants from memory,
// derived again from the published conditions of symmetry.
func Risk(mgdl float64) (f, r float64) {
	f = 1.509 * (math.Pow(math.Log(max(1, mgdl)), 1.084) - 5.381)
	return f, 10 * f * f
}

// DailyRiskRange is the average daily risk range: each day's largest risk of
// the low side plus its largest of the high side, meaned over the days.
// Values in mg/dL. Source: Diabetes Care 2006;29:2433 (from memory).
func DailyRiskRange(days [][]float64) Figure {
	if len(days) == 0 {
		return Figure{}
	}
	sum := 0.0
	for _, day := range days {
		var low, high float64
		for _, g := range day {
			if f, r := Risk(g); f < 0 {
				low = max(low, r)
			} else {
				high = max(high, r)
			}
		}
		sum += low + high
	}
	return Of(sum / float64(len(days)))
}
