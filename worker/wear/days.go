package wear

// dayFigures gives every calendar day of the wear, by believed readings.
func (t *trace) dayFigures(p *Protocol, spans []span, matches []Match) []Day {
	days := make([]Day, 0, len(t.cal.days))
	for k := range t.cal.days {
		days = append(days, t.day(&t.cal.days[k], p))
	}
	for _, s := range spans {
		if s.kind == EpisodeAbove10 {
			if k := t.cal.dayOf(s.from); k >= 0 {
				days[k].Met10 = true
			}
		}
	}
	for _, m := range matches {
		if k := t.cal.dayOf(spans[m.Episode-1].from); k >= 0 {
			days[k].DipWithSymptom = true
		}
	}
	return days
}

// day sums up one calendar day.
func (t *trace) day(c *calDay, p *Protocol) Day {
	d := Day{Date: t.cal.date(c), Expected: int((c.end - c.start) / t.step)}
	above7_8, above10, below3_9 := 0, 0, 0
	sum, lowest, highest := 0.0, 0.0, 0.0
	for i := c.lo; i < c.hi; i++ {
		if t.why[i] != 0 {
			continue
		}
		g := t.mmol[i]
		if d.Readings == 0 {
			lowest, highest = g, g
		}
		lowest, highest = min(lowest, g), max(highest, g)
		sum += g
		d.Readings++
		switch b := t.past[i]; {
		case b&pastAbove10 != 0:
			above10++
			fallthrough
		case b&pastAbove7_8 != 0:
			above7_8++
		case b&pastBelow3_9 != 0:
			below3_9++
		}
	}
	if d.Expected > 0 {
		d.CapturedPct = Of(min(100, 100*float64(d.Readings)/float64(d.Expected)))
	}
	if d.Readings == 0 {
		return d
	}
	minutes := float64(t.step) / 60
	d.MeanMmol, d.MinMmol, d.MaxMmol = ratio(sum, d.Readings), Of(lowest), Of(highest)
	d.Above7_8Pct = Of(100 * float64(above7_8) / float64(d.Readings))
	d.Above7_8Min, d.Above10Min = Of(float64(above7_8)*minutes), Of(float64(above10)*minutes)
	d.Below3_9Min = Of(float64(below3_9) * minutes)
	d.Usable = d.CapturedPct.V >= p.Wear.DayUsablePct
	d.Met7_8 = d.Usable && d.Above7_8Pct.V >= p.Flag.Above7_8Pct
	return d
}
