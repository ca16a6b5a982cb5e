package wear

// swings finds each steep rise above 10 that a dip below 3.9 follows: from the
// lowest believed value in the two hours before the peak, and with the dip
// beginning within four hours of the end of the episode above 10 (both
// proposals; dips come 2 to 5 h after a meal, J Pers Med 2021;11:276).
func (t *trace) swings(in *Input, spans []span) []Swing {
	f := &in.Protocol.Flag
	swings := make([]Swing, 0, 4)
	for _, high := range spans {
		if high.kind != EpisodeAbove10 {
			continue
		}
		peak := high.lo
		for i := high.lo; i < high.hi; i++ {
			if t.why[i] == 0 && t.mmol[i] > t.mmol[peak] {
				peak = i
			}
		}
		start := peak
		for i := t.from(t.r[peak].At - seconds(f.SwingRiseMinutes*60)); i < peak; i++ {
			if t.why[i] == 0 && t.mmol[i] < t.mmol[start] {
				start = i
			}
		}
		if !atLeast(t.mmol[peak]-t.mmol[start], f.SwingRiseMmol) {
			continue
		}
		for _, dip := range spans {
			if dip.kind != EpisodeBelow3_9 || dip.from < high.to || dip.from > high.to+seconds(f.SwingHours*3600) {
				continue
			}
			swings = append(swings, Swing{
				From: t.cal.time(t.r[start].At), FromMmol: Of(t.mmol[start]),
				PeakAt: t.cal.time(t.r[peak].At), PeakMmol: Of(t.mmol[peak]),
				DipAt: t.cal.time(dip.from), DipMmol: t.extreme(dip),
				After: after(in.Events, high.from, in.Protocol.Episode.AfterHours),
			})
			break
		}
	}
	return swings
}
