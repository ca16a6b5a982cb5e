package wear

import "slices"

// Doubt never lowers: what would be flagged were the doubted readings believed
// is looked at by a person all the same, and what the wear would be near it is
// near. A sensor that fails in a low and a low that is doubted look alike. Only one
// brief fall in the night that looks like lying on the sensor may pass for that.

// tooFast is the doubt about a rise or a fall: it speaks of the flanks and not of
// what lies between them. wholeSensor are the doubts about what a sensor reads
// at all. A mark of the file, warm-up and a fall that looks like lying on the sensor
// set readings aside, and what they set aside is near; see [judge.near]. Only a
// person's decision leaves nothing.
const (
	tooFast     = 1 << causeRate
	setAside    = 1<<causeMarked | 1<<causeWarmUp
	wholeSensor = 1<<causeRange | 1<<causeClock | 1<<causeFlat | 1<<causeSpike | 1<<causeTail | 1<<causeLowStart
	anyDoubt    = tooFast | setAside | wholeSensor | 1<<causePressure
)

// wouldFlag flags what readings would be flagged for that are not believed.
func (j *judge) wouldFlag() (Flag, bool) {
	var texts []string
	f := Flag{Tier: Routine}
	take := func(g Flag, tier Tier) {
		if g.Tier.Rank() > tier.Rank() {
			tier = g.Tier
		}
		if tier.Rank() < f.Tier.Rank() {
			f.Tier = tier
		}
		if !slices.Contains(texts, g.Text) {
			texts = append(texts, g.Text)
		}
	}
	for _, w := range []world{{with: tooFast}, {with: tooFast | wholeSensor}, {with: tooFast | wholeSensor, others: true}} {
		other := j.asIf(w)
		if other == nil {
			continue
		}
		for _, g := range other.r.Flags {
			if !j.lacks(g) {
				continue
			}
			tier := j.in.Protocol.Tier.Doubted
			if w.with == tooFast && other.lasts() {
				tier = g.Tier
			}
			take(g, tier)
		}
	}
	if len(texts) == 0 && j.manyUnsettled() && !j.anyFlagged(FlagLongLow, FlagVeryLow, FlagLowMedicine) {
		f.Tier, f.Text = j.in.Protocol.Tier.Doubted, j.unsettledFalls()
		f.Evidence = "True lows that are not felt have the shape of lying on the sensor too."
		return f, true
	}
	if len(texts) == 0 {
		return f, false
	}
	f.Text = "Were the doubted readings believed: " + lowerFirst(texts[0])
	if n := len(texts) - 1; n > 0 {
		f.Text += " And " + plural(n, "more finding") + "."
	}
	f.Evidence = "A reading that is doubted may be true all the same. A fingerstick at such a time, what the wearer remembers of it, or another wear tells."
	return f, true
}

// manyUnsettled reports whether falls that lying on the sensor does not explain
// come on so many days as make lows a flag, or one is beyond the sensor for as long
// as an episode lasts.
func (j *judge) manyUnsettled() bool {
	t := j.t
	var days dayCount
	for _, f := range t.unsettled {
		days.on(t.cal.dayOf(t.r[f.lo].At+dayLength/2), true)
		if some, length, _ := t.below(f, func(r Reading) bool { return r.Bound == Below }); some && float64(length) >= j.in.Protocol.Episode.Minutes*60 {
			return true
		}
	}
	return j.low(days.n)
}

// lacks reports whether a flag about glucose, raised with more readings, is not
// raised here, or is less pressing here.
func (j *judge) lacks(f Flag) bool {
	k, _ := FlagOf(f.Code)
	if k.Turn != High && k.Turn != Low {
		return false
	}
	return !slices.ContainsFunc(j.r.Flags, func(g Flag) bool { return g.Code == f.Code && g.Tier.Rank() <= f.Tier.Rank() })
}

// world is what is believed in place of what is.
type world struct {
	with    uint // causes for which a doubted reading is believed all the same
	settled bool // not so in a fall that lying on the sensor may explain
	others  bool // where every second reading is a spike, the readings between are not believed
}

// asIf judges the wear as it is in another world; nil where nothing past a limit
// is believed there that is not here.
func (j *judge) asIf(w world) *judge {
	with := w.with
	const matter = pastAbove7_8 | pastAbove10 | pastHighEpisode | pastAbove13_9 | pastVeryHigh | pastBelow3_9 | pastBelow3_0
	if j.inner || j.t.doubted&with == 0 || j.t.seen&matter == 0 {
		return nil
	}
	why, changed := slices.Clone(j.t.why), false
	for i, c := range j.t.why {
		if with>>c&1 == 0 {
			continue
		}
		if _, unsettled := j.t.unsettledAt(i); w.settled && c == causePressure && !unsettled {
			continue
		}
		why[i] = 0
		changed = changed || j.t.past[i]&matter != 0
	}
	if w.others && !j.t.swap(why) {
		return nil
	}
	if !changed {
		return nil
	}
	t, r := *j.t, *j.r
	t.why, t.doubted, t.believedAs, t.brief = why, 0, j.t.why, true
	r.Flags = nil
	r.Believed = t.believed()
	other := t.find(j.in, &r, j.said)
	other.inner = true
	r.Flags = other.flags()
	return other
}

// swap takes away belief in the readings between spikes that come with every
// second reading: which of the two series is the true one nobody knows. It
// reports whether there are any.
func (t *trace) swap(why []cause) (swapped bool) {
	for i := 3; i < len(t.r); i++ {
		if t.why[i] == causeSpike && t.why[i-2] == causeSpike && t.joined(i) && t.joined(i-1) {
			why[i-1], why[i-3], swapped = causeSpike, causeSpike, true
			if i+1 < len(t.r) {
				why[i+1] = causeSpike
			}
		}
	}
	return swapped
}

// lasts reports whether an episode with readings that are believed only here is
// at least twice as long as the least that makes one: more than a jump of the
// sensor there and back.
func (j *judge) lasts() bool {
	t, least := j.t, seconds(2*j.in.Protocol.Episode.Minutes*60)
	for _, s := range slices.Concat(j.spans, j.high) {
		if s.kind != EpisodeAbove7_8 && s.to-s.from >= least && slices.ContainsFunc(t.believedAs[s.lo:s.hi], func(c cause) bool { return c == causeRate }) {
			return true
		}
	}
	return false
}
