package wear

// dayFigures gives every calendar day of the wear, by believed readings.
func (t *trace) dayFigures(p *Protocol, spans []span, matches []Match) []Day {
	days := make([]Day, 0, len(t.cal.days))
	t.counts = make([]dayCounts, 0, len(t.cal.days))
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

// day sums up one calendar day, and keeps its counts for [Uncertainty].
func (t *trace) day(c *calDay, p *Protocol) Day {
	d := Day{Date: t.cal.date(c), Expected: int((c.end - c.start) / t.step)}
	x := dayCounts{}
	lowest, highest := 0.0, 0.0
	for i := c.lo; i < c.hi; i++ {
		if t.why[i] != 0 {
			continue
		}
		g, w := t.mmol[i], t.weight(i)
		if d.Readings == 0 {
			lowest, highest = g, g
		}
		lowest, highest = min(lowest, g), max(highest, g)
		x.add(g, w, t.past[i])
		d.Readings++
	}
	t.counts = append(t.counts, x)
	if d.Expected > 0 {
		d.CapturedPct = Of(min(100, 100*x.n/float64(d.Expected)))
	}
	if d.Readings == 0 {
		return d
	}
	minutes := float64(t.step) / 60
	d.MeanMmol, d.MinMmol, d.MaxMmol = Of(x.sum/x.n), Of(lowest), Of(highest)
	d.Above7_8Pct = Of(100 * x.above7_8 / x.n)
	d.Above7_8Min, d.Above10Min = Of(x.above7_8*minutes), Of(x.above10*minutes)
	d.Below3_9Min = Of(x.below3_9 * minutes)
	d.Usable = d.CapturedPct.V >= p.Wear.DayUsablePct
	d.Met7_8 = d.Usable && d.Above7_8Pct.V >= p.Flag.Above7_8Pct
	return d
}
