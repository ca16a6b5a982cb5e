package wear

import "time"

// matches finds the dips below 3.9 with a symptom, or with unread words that may
// be one, from 20 minutes before the episode to 20 minutes after it: sensor
// delay of some 4 to 12 minutes plus slack in writing it down (a proposal). A
// match is one fact of three. The second, a low value in blood, comes from a
// fingerstick only; the third, relief, only from what was written down.
func (t *trace) matches(in *Input, said []saying, spans []span) []Match {
	s := &in.Protocol.Symptom
	matches := make([]Match, 0, 4)
	for i, dip := range spans {
		if dip.kind != EpisodeBelow3_9 {
			continue
		}
		from, to := s.window(dip)
		for _, x := range nearBy(said, from, to) {
			var when *time.Time
			if x.momentary() {
				when = new(t.cal.time(x.at))
			}
			matches = append(matches, Match{
				Episode: i + 1, SymptomAt: when, Symptom: x.text, Unread: x.unread,
				BloodMmol: bloodBetween(in.Events, from, to), Relief: relief(said, x.at, s), Timing: t.timing(in, dip),
			})
		}
	}
	return matches
}

// bloodBetween is the lowest fingerstick in [from, to].
func bloodBetween(events []Event, from, to int64) (f Figure) {
	for _, e := range events {
		if e.Kind == Fingerstick && e.At >= from && e.At <= to && usable(e.blood()) && e.Value.Bound == Exact {
			if g := e.Value.Mmol(); !f.OK || g < f.V {
				f = Of(g)
			}
		}
	}
	return f
}

// blood is the value of a fingerstick at the time of its event.
func (e Event) blood() Reading {
	r := e.Value
	r.At = e.At
	return r
}

// relief says whether something written down after a symptom says it passed.
func relief(said []saying, at int64, s *SymptomRules) string {
	for _, x := range said {
		if x.relief && x.momentary() && x.at >= at && x.at <= at+seconds(s.ReliefMinutes*60) {
			return "written down"
		}
	}
	return "not written down"
}

// timing says where the lowest value of a dip lies after the last logged meal.
// It is fasting only where the meal before and others of that day are known:
// a missing log is not a fast.
func (t *trace) timing(in *Input, dip span) string {
	s := &in.Protocol.Symptom
	lowest := dip.lo
	for i := dip.lo; i < dip.hi; i++ {
		if t.why[i] == 0 && t.mmol[i] < t.mmol[lowest] {
			lowest = i
		}
	}
	at := t.r[lowest].At
	intake := intakes(in.Events)
	last := lastBefore(intake, at+1)
	soonest := s.SoonMinutes
	if in.Context.BariatricSurgery {
		soonest = s.SoonSurgery
	}
	logged := 0
	for _, x := range intake {
		if x > at-dayLength && x <= at {
			logged++
		}
	}
	const wholeDay = 3 // meals of a day that make its log complete (a proposal)
	switch since := float64(at - last); {
	case last == 0:
		return "unknown"
	case since >= soonest*60 && since <= s.LaterHours*3600:
		return "after a meal"
	case since > s.LaterHours*3600 && logged >= wholeDay:
		return "fasting"
	}
	return "unknown"
}
