package wear

// matches finds the believed dips below 3.9 with a symptom logged from
// 20 minutes before the episode to 20 minutes after it: sensor delay of 5 to 12
// minutes plus slack in writing it down (a proposal). A match is one fact of
// three: a low value in blood and relief by sugar are never taken from a sensor.
func (t *trace) matches(in *Input, spans []span) []Match {
	s := &in.Protocol.Symptom
	matches := make([]Match, 0, 4)
	for i, dip := range spans {
		if dip.kind != EpisodeBelow3_9 {
			continue
		}
		for _, e := range in.Events {
			if e.Kind == Symptom && e.At >= dip.from-seconds(s.BeforeMinutes*60) && e.At <= dip.to+seconds(s.AfterMinutes*60) {
				matches = append(matches, Match{Episode: i + 1, SymptomAt: t.cal.time(e.At), Symptom: e.Label})
			}
		}
	}
	return matches
}
