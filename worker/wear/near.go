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
	if j.adultLimits() && !j.flagged(FlagAbove7_8) && j.enoughForShares() && m.Above7_8Pct.OK {
		limit := fixed(f.Above7_8Pct, 0) + " %"
		text := "Above 7.8 for " + percent(m.Above7_8Pct) + " of the time, near the limit of " + limit
		if j.much7_8() {
			add(true, "above_7_8", text+": it is over it, but on "+of(j.days7_8, j.usable, "usable day")+" and not on most.")
		} else {
			add(u.Above7_8Pct.High.OK && u.Above7_8Pct.High.V >= f.Above7_8Pct, "above_7_8", text+": without one of the days it would be "+u.Above7_8Pct.High.Fixed(1)+" %.")
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
	add(j.highDays > 0 && !j.flagged(FlagVeryHigh) && float64(j.highDays+1) >= f.HighEpisodeDays, "high_episodes",
		"At or above "+f.HighEpisode.String()+" for 15 minutes or more on "+plural(j.highDays, "day")+", one fewer than the limit.")
	n := &p.Night
	nights := float64(j.highNights + 1)
	add(j.adultLimits() && j.highNights > 0 && !j.flagged(FlagHighNights) && nights >= n.HighNights && 100*nights >= n.HighNightsPct*float64(len(j.r.Nights)),
		"high_nights", "High nights, near the limit: "+of(j.highNights, len(j.r.Nights), "night")+" average "+fixed(n.HighMmol, 1)+" or more.")
	morning := j.r.Mornings.MedianMmol
	add(morning.OK && morning.V >= n.HighMmol && !j.flagged(FlagHighNights), "high_mornings",
		"Mornings are about "+morning.Fixed(1)+" mmol/L by the sensor: only the laboratory's fasting glucose tells.")
	c := m.CVPct
	add(len(j.r.Swings) > 0 && !j.flagged(FlagSwingSymptom) && !j.flagged(FlagDipSymptom) && !j.flagged(FlagVeryLow) && c.OK && c.V > f.HighCVPct, "swing",
		"A rise above 10 followed by a dip below 3.9, "+Times(len(j.r.Swings))+", in a wear that varies more than the healthy reference (CV "+c.Fixed(0)+" %): ask what was felt.")
	low := j.r.MetricsAll.Below3_9Pct
	add(low.OK && low.V >= f.LowNotePct && !j.flagged(FlagSensorDoubt), "below_3_9",
		"Below 3.9 for "+percent(low)+" of the time, more than in most healthy people. A sensor that reads low and true lows that are not felt look alike: a fingerstick beside it would tell.")
	return out
}
