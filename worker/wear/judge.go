package wear

import (
	"slices"
	"time"
)

// judge holds what flags, remarks, headline and score all ask for.
type judge struct {
	in    *Input
	t     *trace
	r     *Report
	spans []span

	usable      int       // usable days
	days7_8     int       // usable days that met the 7.8 rule
	days10      int       // days with an episode above 10
	dips        []span    // believed episodes below 3.9
	deep        []span    // believed episodes below 3.0
	matched     []span    // dips with a symptom
	high        []span    // episodes at or above the high-episode limit
	highDays    int       // days with one
	suspectPct  float64   // share of readings that are suspect
	pressure    int       // pressure dips
	disagree    []pair    // fingersticks that differ from the sensor
	fingerstick int       // fingersticks that could be compared
	said        []saying  // words as the rules take them
	lowers      bool      // a medicine that can cause a low is on record or written down
	longs       longs     // long lows without a word beside them
	early       []float64 // mmol/L; means of early mornings, before food as far as is known
	raised      []string  // codes of the flags raised so far
	riskWords   string    // why the record asks for a further look
	may         bool      // whether anything reassuring may be said
	bias        []pair    // laboratory values that differ from the sensor
	highNights  int       // nights whose mean is high
	failed      int64     // seconds of stretches in which the sensor failed
	would       func() (Flag, bool)
	inner       bool // judges what would be were doubted readings believed
}

// tally counts once what is needed several times.
func (j *judge) tally() {
	for _, d := range j.r.Days {
		if d.Usable {
			j.usable++
		}
		if d.Met7_8 {
			j.days7_8++
		}
		if d.Met10 {
			j.days10++
		}
	}
	for _, s := range j.spans {
		switch s.kind {
		case EpisodeBelow3_9:
			j.dips = append(j.dips, s)
		case EpisodeBelow3_0:
			j.deep = append(j.deep, s)
		}
	}
	for i, m := range j.r.Matches {
		if i == 0 || m.Episode != j.r.Matches[i-1].Episode {
			j.matched = append(j.matched, j.spans[m.Episode-1])
		}
	}
	p := j.in.Protocol
	j.high = j.t.spans(pastHighEpisode, &p.Episode, "", 0, nil)
	day := -1
	for _, s := range j.high {
		if k := j.t.cal.dayOf(s.from); k != day {
			j.highDays++
			day = k
		}
	}
	if j.r.Readings > 0 {
		j.suspectPct = 100 * float64(j.r.Readings-j.r.Believed) / float64(j.r.Readings)
	}
	for _, s := range j.r.Suspect {
		switch s.Kind {
		case SuspectPressure:
			j.pressure++
		case SuspectTail, SuspectLowStart:
			j.failed += s.To.Unix() - s.From.Unix() + j.t.step
		}
	}
	j.disagree, j.fingerstick = j.t.fingersticks(j.in)
	j.bias = j.t.biasClues(j.in)
	for _, n := range j.r.Nights {
		if atLeast(n.MeanMmol.V, p.Night.HighMmol) {
			j.highNights++
		}
	}
	j.lowers = lowers(j.in.Context, j.said)
	j.longs = j.measureLongs()
	j.early = j.earlyMornings()
}

// nameDoubtedLows takes the words of lying on the sensor from stretches that
// count as lows because of what stands beside them.
func (j *judge) nameDoubtedLows() {
	for i := range j.r.Suspect {
		s := &j.r.Suspect[i]
		if s.Kind != SuspectPressure || !slices.ContainsFunc(j.dips, func(d span) bool { return d.doubted && d.from <= s.To.Unix() && d.to >= s.From.Unix() }) {
			continue
		}
		j.pressure--
		j.t.unsettled = slices.DeleteFunc(j.t.unsettled, func(f deepFall) bool { return j.t.r[f.lo].At <= s.To.Unix() && j.t.r[f.hi-1].At >= s.From.Unix() })
		s.Reason = "A sudden fall and an equally sudden return in the night: left out of the measures, and counted as a low because of what stands beside it."
	}
}

// covers reports whether an instant lies in the wear.
func (t *trace) covers(at int64) bool {
	return len(t.r) > 0 && at >= t.r[0].At-t.step && at <= t.r[len(t.r)-1].At+t.step
}

// asked gives the last day on which the patient said that nothing was felt at
// an episode that began in [from, to]: "25 Nov 2026", or "" where they did not.
func (j *judge) asked(from, to int64) string {
	last := int64(0)
	for _, a := range j.in.Asked {
		if a.From >= from && a.From <= to {
			last = max(last, a.On)
		}
	}
	if last == 0 {
		return ""
	}
	return j.t.cal.time(last).Format("2 Jan 2006")
}

// askedSwings counts the swings at whose dip the patient felt nothing, and gives
// the day of the last answer.
func (j *judge) askedSwings() (n int, on string) {
	for _, s := range j.r.Swings {
		if day := j.asked(s.DipAt.Unix(), s.DipAt.Unix()); day != "" {
			n, on = n+1, day
		}
	}
	return n, on
}

// when says when words were written: " on 2 January at 15:04".
func (j *judge) when(x saying) string {
	if x.kind == Undated {
		return " (no time given)"
	}
	return " on " + j.moment(x.at)
}

// moment writes an instant on the wearer's clock.
func (j *judge) moment(at int64) string {
	if at < earliest || at >= latest {
		return "a day that is not known"
	}
	return time.Unix(at, 0).In(j.in.Zone).Format("2 January at 15:04")
}
