package wear

// near lists the limits that are not met and that the wear cannot be told from:
// where leaving out a single day would reach one, where one day more would, or
// where one half of a rule of two is met. Near is a state of its own between met
// and far: the wear stays Routine, stands before the others there, and is not
// called well.
func (j *judge) near() []Remark {
	out := make([]Remark, 0, 2)
	add := func(on bool, code, text string) {
		if on {
			out = append(out, Remark{Code: code, Text: text})
		}
	}
	p, m, u := j.in.Protocol, &j.r.Metrics, &j.r.Uncertainty
	f := &p.Flag
	if j.r.Believed == 0 {
		return out
	}
	if j.adultLimits() && !j.flagged(FlagAbove7_8) && m.Above7_8Pct.OK {
		text := "Above 7.8 for " + percent(m.Above7_8Pct) + " of the time, "
		high := max(m.Above7_8Pct.V, u.Above7_8Pct.High.V) // without one of the days
		switch {
		case j.much7_8():
			add(true, "above_7_8", text+"over the limit of "+fixed(f.Above7_8Pct, 0)+" %, but on "+of(j.days7_8, j.usable, "usable day")+" and not on most.")
		case high >= f.Above7_8Pct:
			add(true, "above_7_8", text+"and "+Of(high).Fixed(1)+" % without one of the days: near the limit of "+fixed(f.Above7_8Pct, 0)+" %.")
		default:
			add(high >= f.Above7_8NotePct, "above_7_8", text+j.above7_8Words()+", and under the limit of "+fixed(f.Above7_8Pct, 0)+" %. Sensors can overstate this time.")
		}
	}
	if j.adultLimits() && !j.flagged(FlagAbove10) && !j.flagged(FlagVeryHigh) {
		limit := fixed(f.Above10Pct, 0) + " %"
		text := "Above 10 for " + percent(m.Above10Pct) + " of the time, near the limit of " + limit
		switch {
		case j.much10():
			add(true, "above_10", text+": it is over it, but not without the first day, when sensors are least accurate.")
		case j.enoughForShares() && u.Above10Pct.High.OK && u.Above10Pct.High.V >= f.Above10Pct:
			add(true, "above_10", text+": without one of the days it would be "+u.Above10Pct.High.Fixed(1)+" %.")
		default:
			add(j.days10 > 0 && float64(j.days10+1) >= j.mostDays10(), "above_10_days", "Above 10 on "+plural(j.days10, "day")+", one fewer than the limit.")
		}
	}
	add(j.highDays > 0 && !j.flagged(FlagVeryHigh), "high_episodes",
		"At or above "+f.HighEpisode.String()+" for 15 minutes or more on "+plural(j.highDays, "day")+": one more is over the limit, and thirst or losing weight beside it would be pressing.")
	add(j.atLimit10(), "at_limit_10", "At about 10.0 for 15 minutes or more, on the limit and not above it.")
	sticks := j.sticks(Limit3_9.Below)
	add(len(sticks) > 0 && !j.flagged(FlagDipSymptom) && !j.flagged(FlagVeryLow) && !j.flagged(FlagLowMedicine) && !j.flagged(FlagLongLow), "low_fingerstick", j.stickText(sticks, "below 3.9")+" Ask what was felt.")
	long := 0
	for _, d := range j.dips {
		if float64(d.to-d.from) > p.Episode.ExtendedMinutes*60 {
			long++
		}
	}
	add(long > 1 && !j.flagged(FlagLongLow), "long_dips", countWords(long, "dip")+" below 3.9 longer than "+duration(seconds(p.Episode.ExtendedMinutes*60))+": a fingerstick at such a time would tell what they are.")
	add(j.pressure > 0 && j.alcohol(), "night_fall_alcohol", countWords(j.pressure, "sudden fall")+" in the night, and alcohol is written down: it lowers glucose for many hours.")
	n := &p.Night
	nights := float64(j.highNights + 1)
	add(j.adultLimits() && j.highNights > 0 && !j.flagged(FlagHighNights) && nights >= n.HighNights && 100*nights >= n.HighNightsPct*float64(len(j.r.Nights)),
		"high_nights", "High nights, near the limit: "+of(j.highNights, len(j.r.Nights), "night")+" average "+fixed(n.HighMmol, 1)+" or more.")
	morning := j.r.Mornings.MedianMmol
	add(morning.OK && morning.V >= n.HighMmol && !j.flagged(FlagHighNights), "high_mornings",
		"Mornings are about "+morning.Fixed(1)+" mmol/L by the sensor: only the laboratory's fasting glucose tells.")
	add(j.r.MetricsAll.Above13_9Pct.V > 0 && !j.flagged(FlagVeryHigh), "very_high_brief",
		"Above 13.9 in readings that are doubted, or for less than 15 minutes: a fingerstick at such a time would tell what they are.")
	high := j.sticks(Limit10_0.Above)
	add(len(high) > 0 && !j.flagged(FlagVeryHigh), "high_fingerstick", j.stickText(high, "above "+Limit10_0.String()))
	add(len(j.deep) > 0 && !j.flagged(FlagVeryLow) && !j.flagged(FlagLowMedicine) && !j.flagged(FlagLongLow) && !j.flagged(FlagDipSymptom) && !j.flagged(FlagSensorDoubt), "below_3",
		countWords(len(j.deep), "dip")+" below 3.0 for 15 minutes or more: ask what was felt; a fingerstick at such a time would tell what they are.")
	add(j.pressure >= oftenPressure, "pressure_often", countWords(j.pressure, "fall")+" in the night that "+areOrIs(j.pressure)+
		" more like lying on the sensor than like low glucose: so often, ask how the nights were; a fingerstick at such a time would tell.")
	out = append(out, j.nearLabs()...)
	c := m.CVPct
	add(len(j.r.Swings) > 0 && !j.flagged(FlagSwingSymptom) && !j.flagged(FlagDipSymptom) && !j.flagged(FlagVeryLow) && c.OK && c.V > f.HighCVPct, "swing",
		"A rise above 10 followed by a dip below 3.9, "+Times(len(j.r.Swings))+", in a wear that varies more than the healthy reference (CV "+c.Fixed(0)+" %): ask what was felt.")
	return out
}

// oftenPressure is how many falls taken for pressure on the sensor make a wear
// near: every third night of a fortnight, a proposal.
const oftenPressure = 5

// labVariation is by how much the same blood may be told apart on another day
// or in another laboratory: 3 %, a proposal (common practice: a few per cent).
const labVariation = 1.03

// nearLabs lists the newest results of a kind that are normal and would not be
// with the variation of a laboratory.
func (j *judge) nearLabs() (out []Remark) {
	for _, l := range j.r.Labs {
		with := Lab{Kind: l.Kind, Value: l.Value.V * labVariation, Unit: l.Unit}
		if l.Newest && l.Class == ClassNormal && with.Class(j.in.Protocol.Risk.Criteria, j.in.Context.Pregnant) != ClassNormal {
			out = append(out, Remark{Code: "laboratory", Text: labNames[l.Kind] + " of " + trimmed(l.Value.V) + " " + l.Unit + " on " +
				l.At.Format("2 January 2006") + ": normal, and just under the limit."})
		}
	}
	return out
}

// alcohol reports whether a person read words as alcohol, or unread ones name it.
func (j *judge) alcohol() bool {
	for _, w := range j.r.Words {
		_, sure := plainText(w.Text).find(alcoholWords)
		if w.ReadAs == ReadAlcohol || w.ReadAs == Unread && sure {
			return true
		}
	}
	return false
}

// onLimit is how near to a limit a reading lies on it: within 1 %, less than any
// sensor can tell apart (a proposal).
const onLimit = 0.99

// atLimit10 reports whether an episode lies on the limit of 10 and does not pass
// it: the sensor cannot tell the two apart.
func (j *judge) atLimit10() bool {
	if highest := j.r.MetricsAll.MaxMmol; j.days10 > 0 || !highest.OK || highest.V < Limit10_0.Mmol()*onLimit {
		return false
	}
	run := 0
	need := max(2, j.t.count(j.in.Protocol.Episode.Minutes))
	for i, r := range j.t.r {
		if j.t.why[i] == 0 && (Limit10_0.AtLeast(r) || j.t.mmol[i] >= Limit10_0.Mmol()*onLimit) {
			if run++; run >= need {
				return true
			}
			continue
		}
		run = 0
	}
	return false
}

// stickText names fingersticks past a limit, "" for none.
func (j *judge) stickText(sticks []Event, limit string) string {
	if len(sticks) == 0 {
		return ""
	}
	return j.stickWords(sticks, limit)
}
