package wear

// nights gives 00:00-06:00 of every date that has a believed reading then.
func (t *trace) nights() []Night {
	nights := make([]Night, 0, len(t.cal.days))
	for k := range t.cal.days {
		c := &t.cal.days[k]
		sum, lowest, n := 0.0, 0.0, 0
		for i := c.lo; i < c.six; i++ {
			if t.why[i] != 0 {
				continue
			}
			if n == 0 || t.mmol[i] < lowest {
				lowest = t.mmol[i]
			}
			sum += t.mmol[i]
			n++
		}
		if n > 0 {
			nights = append(nights, Night{Date: t.cal.date(c), Readings: n, MeanMmol: ratio(sum, n), LowMmol: Of(lowest)})
		}
	}
	return nights
}

// DawnRise is the dawn phenomenon of one night: glucose before breakfast less
// the lowest of 00:00-06:00, both in mmol/L, and whether the rise reaches
// 1.11 mmol/L (20 mg/dL). Source: Diabetes Care 2013;36:4057
// (doi:10.2337/dc12-2127); there is no consensus on it.
func DawnRise(nadirMmol, beforeBreakfastMmol float64) (rise float64, present bool) {
	rise = beforeBreakfastMmol - nadirMmol
	return rise, rise >= 1.11
}
