package wear

import (
	"math"
	"slices"
	"strconv"
)

// The flags about high glucose.

const meansHigh = "This may be a sign that your body handles sugar less well than before. It may also come from an illness, stress, poor sleep, a medicine or the sensor itself. It is not a diagnosis. Blood tests tell us more."

// veryHigh takes the most pressing of all that makes a wear very high.
func (j *judge) veryHigh() (Flag, bool) {
	var best Flag
	for _, f := range slices.Concat(j.highInBlood(), j.highBySensor()) {
		if best.Text == "" || f.Tier.Rank() < best.Tier.Rank() {
			best = f
		}
	}
	return best, best.Text != ""
}

// highBySensor lists what makes the trace very high.
func (j *judge) highBySensor() (out []Flag) {
	p := j.in.Protocol
	limit, highest := p.Flag.HighEpisode.String(), "The highest believed value is "+j.highest()+" mmol/L"
	add := func(on bool, tier Tier, text, evidence string) {
		if on {
			out = append(out, Flag{Tier: tier, Text: text, Evidence: highest + "; " + evidence})
		}
	}
	readings := j.t.countPast(pastVeryHigh)
	add(readings > 0, p.Tier.VeryHigh, "Very high: "+plural(readings, "reading")+" above "+p.Flag.VeryHighReading.String()+" or beyond what the sensor can report.",
		"one reading above "+p.Flag.VeryHighReading.String()+" is enough.")
	sustained := 0
	for _, s := range j.spans {
		if s.kind == EpisodeAbove13_9 {
			sustained++
		}
	}
	add(sustained > 0, p.Tier.VeryHigh, "Very high: above 13.9 for 15 minutes or more, "+Times(sustained)+".", "one such episode is enough.")
	n := len(j.high)
	times := "At or above " + limit + " for 15 minutes or more, " + Times(n)
	add(n > 0 && j.in.Context.Pregnant, p.Tier.HighPregnant, "In pregnancy, at or above "+limit+" for 15 minutes or more, "+Times(n)+".", "in pregnancy one such episode is enough.")
	add(n > 0 && j.child(), p.Tier.HighChild, times+", at age "+strconv.Itoa(j.r.Age)+".", "under "+fixed(p.Flag.AdultAge, 0)+" one such episode is enough: diabetes can begin fast at this age. A fingerstick now tells.")
	text, unread := j.thirst()
	add(n > 0 && text != "", p.Tier.HighSymptom, times+", with a symptom written down that goes with high glucose: “"+text+"”.", "one such episode with such a symptom is enough.")
	add(n > 0 && unread, p.Tier.HighSymptom, times+", with words that nobody has read: thirst, passing much water or losing weight would make it pressing.", "until the words are read, one such episode is enough.")
	early := 0
	for _, m := range j.early {
		if j.in.Context.Pregnant && m >= p.Flag.PregnantFasting {
			early++
		}
	}
	add(early > 0, p.Tier.HighPregnant, "In pregnancy, "+fixed(p.Flag.PregnantFasting, 1)+" or more by the sensor on "+plural(early, "early morning")+".",
		"in pregnancy one such morning is enough, unless a person has read that something was eaten before it. Only the laboratory's fasting value counts.")
	add(j.highDays > 1 && float64(j.highDays+1) == p.Flag.HighEpisodeDays, p.Tier.HighTwice, "At or above "+limit+" for 15 minutes or more on "+plural(j.highDays, "day")+".",
		"one day more would be more pressing.")
	add(float64(j.highDays) >= p.Flag.HighEpisodeDays, p.Tier.HighRepeated, "At or above "+limit+" for 15 minutes or more on "+plural(j.highDays, "day")+".",
		"the limit is "+fixed(p.Flag.HighEpisodeDays, 0)+" days.")
	return out
}

// highInBlood lists what makes fingersticks very high.
func (j *judge) highInBlood() (out []Flag) {
	p := j.in.Protocol
	add := func(sticks []Event, limit string, tier Tier, more, evidence string) {
		if len(sticks) > 0 {
			out = append(out, Flag{Tier: tier, Text: j.stickWords(sticks, limit) + more, Evidence: evidence})
		}
	}
	add(j.sticks(p.Flag.VeryHighReading.Above), "above "+p.Flag.VeryHighReading.String(), p.Tier.VeryHigh, "", "One above "+p.Flag.VeryHighReading.String()+" is enough.")
	add(j.sticks(Limit13_9.Above), "above 13.9", p.Tier.VeryHigh, "", "One above 13.9 is enough.")
	at, limit := j.sticks(p.Flag.HighEpisode.AtLeast), "at or above "+p.Flag.HighEpisode.String()
	text, unread := j.thirst()
	switch {
	case text != "":
		add(at, limit, p.Tier.HighSymptom, " With it a symptom that goes with high glucose: “"+text+"”.", "One with such a symptom is enough: plasma glucose the same day.")
	case unread:
		add(at, limit, p.Tier.HighSymptom, " There are words that nobody has read.", "Until the words are read, one is enough.")
	}
	if j.child() {
		add(at, limit, p.Tier.HighChild, "", "Under "+fixed(p.Flag.AdultAge, 0)+" one is enough: diabetes can begin fast at this age.")
	}
	if j.in.Context.Pregnant {
		add(at, limit, p.Tier.HighPregnant, "", "In pregnancy one is enough.")
	}
	add(at, limit, p.Tier.HighBlood, "", "A meter does not diagnose: the laboratory's glucose or HbA1c does.")
	if fasting := j.fastingSticks(); len(fasting) > 1 {
		add(fasting, "of "+fixed(p.Night.HighMmol, 1)+" or more in the morning", p.Tier.FastingBlood, j.fedBefore(fasting), "A meter does not diagnose: the laboratory's fasting glucose does.")
	}
	return out
}

// thirst gives the first words of a symptom that goes with high glucose, and
// whether there are unread words that may be one.
func (j *judge) thirst() (text string, unread bool) {
	for _, x := range j.said {
		if x.thirst && text == "" {
			text = x.text
		}
		unread = unread || x.open && x.kind != Medicine
	}
	return text, unread
}

// earlyMornings are the means of 06:00 to 07:00 of each day before which no
// person has read that something was eaten that day. Meals that nobody has read
// take no morning away.
func (j *judge) earlyMornings() (out []float64) {
	n, t := &j.in.Protocol.Night, j.t
	for k := range t.cal.days {
		d := &t.cal.days[k]
		from, to := t.cal.atHour(d, n.NoLogFromHour), t.cal.atHour(d, n.NoLogToHour)
		if mean := t.meanBetween(from, to); mean.OK && !j.ate(d.start, to) {
			out = append(out, mean.V)
		}
	}
	return out
}

// ate reports whether a person has read that something was eaten in [from, to).
func (j *judge) ate(from, to int64) bool {
	return slices.ContainsFunc(j.said, func(x saying) bool { return x.kind == Meal && !x.unread && x.at >= from && x.at < to })
}

// fastingSticks are the morning fingersticks at or above the fasting limit
// before which no person has read that something was eaten that day.
func (j *judge) fastingSticks() (out []Event) {
	n, t := &j.in.Protocol.Night, j.t
	limit := n.HighMmol
	for _, e := range j.sticks(func(r Reading) bool { return r.Bound != Below && atLeast(r.Mmol(), limit) }) {
		k := t.cal.dayOf(e.At)
		if k < 0 {
			continue
		}
		d := &t.cal.days[k]
		minute := float64(t.cal.minuteOf(d, e.At))
		if minute >= n.BreakfastHour*60 && minute < n.BreakfastToHour*60 && !j.ate(d.start, e.At) {
			out = append(out, e)
		}
	}
	return out
}

// fedBefore says before how many morning fingersticks food is written down, and
// that no log is no fast. Until a person has read it as food it takes none away.
func (j *judge) fedBefore(sticks []Event) string {
	fed := 0
	food := intakes(j.in.Events)
	for _, e := range sticks {
		if k := j.t.cal.dayOf(e.At); k >= 0 && lastBefore(food, e.At) >= j.t.cal.days[k].start {
			fed++
		}
	}
	if fed == 0 {
		return " Whether before breakfast is to be asked: no meal in the log is no fast."
	}
	return " Not fasting where food was eaten: food is written down before " + strconv.Itoa(fed) + " of the " + strconv.Itoa(len(sticks)) + ", and nobody has read it."
}

// countPast counts the believed readings past a limit.
func (t *trace) countPast(limit past) int {
	n := 0
	if t.seen&limit == 0 {
		return n
	}
	for i, b := range t.past {
		if b&limit != 0 && t.why[i] == 0 {
			n++
		}
	}
	return n
}

// enoughForShares reports whether percentages can raise a flag at all.
func (j *judge) enoughForShares() bool {
	return float64(j.usable) >= j.in.Protocol.Wear.MinDaysForShares
}

// adultLimits reports whether the limits for adults who are not pregnant hold.
func (j *judge) adultLimits() bool { return !j.in.Context.Pregnant && !j.child() }

func (j *judge) above7_8() (Flag, bool) {
	p := j.in.Protocol
	share := j.r.Metrics.Above7_8Pct
	return Flag{
		Tier: p.Tier.Above7_8,
		Text: "Above 7.8 for " + percent(share) + " of the time, and for " + fixed(p.Flag.Above7_8Pct, 0) + " % of the day or more on " + of(j.days7_8, j.usable, "usable day") + ".",
		Evidence: percent(share) + " of believed readings against a limit of " + fixed(p.Flag.Above7_8Pct, 0) + " %, met on at least " +
			fixed(p.Flag.Above7_8DaysPct, 0) + " % of usable days. Published: median 2.1 % of 153 healthy volunteers, average 12.1 % of 560 people of a town at mean age 58, 95th centile 17.1 % of 434 adults in China over three days. Sensors can overstate this time.",
	}, j.adultLimits() && j.much7_8() && j.persistent7_8()
}

// much7_8 reports whether the share above 7.8 reaches its limit.
func (j *judge) much7_8() bool {
	share := j.r.Metrics.Above7_8Pct
	return j.enoughForShares() && share.OK && share.V >= j.in.Protocol.Flag.Above7_8Pct
}

// persistent7_8 reports whether enough days do.
func (j *judge) persistent7_8() bool {
	return 100*float64(j.days7_8) >= j.in.Protocol.Flag.Above7_8DaysPct*float64(j.usable)
}

func (j *judge) above10() (Flag, bool) {
	p := j.in.Protocol
	share := j.r.Metrics.Above10Pct
	return Flag{
		Tier: p.Tier.Above10,
		Text: "Above 10 for " + percent(share) + " of the time, with episodes on " + plural(j.days10, "day") + ".",
		Evidence: percent(share) + " of believed readings against a limit of " + fixed(p.Flag.Above10Pct, 0) + " %, or episodes on " +
			fixed(j.mostDays10(), 0) + " days. Published: average 1.2 % of 560 people of a town at mean age 58.",
	}, j.adultLimits() && (j.often10() || j.much10() && j.withoutFirstDay(pastAbove10).V >= p.Flag.Above10Pct)
}

// often10 reports whether episodes above 10 come on enough days.
func (j *judge) often10() bool { return float64(j.days10) >= j.mostDays10() }

// much10 reports whether the share above 10 reaches its limit.
func (j *judge) much10() bool {
	share := j.r.Metrics.Above10Pct
	return j.enoughForShares() && share.OK && share.V >= j.in.Protocol.Flag.Above10Pct
}

// mostDays10 is how many days with an episode above 10 make a flag: more in a
// wear of more days than the protocol counts them over.
func (j *judge) mostDays10() float64 {
	f := &j.in.Protocol.Flag
	return math.Ceil(f.Above10Days * max(1, float64(j.usable)/max(1, f.Above10OfDays)))
}

func (j *judge) swing() (Flag, bool) {
	p, open := j.in.Protocol, 0
	for _, s := range j.r.Swings {
		if at := s.DipAt.Unix(); j.asked(at, at) == "" && !j.symptomAt(at) {
			open++
		}
	}
	return Flag{
		Tier: p.Tier.Swing,
		Text: "Rises above 10 followed by dips below 3.9, " + Times(open) + ", and nobody has asked what was felt.",
		Evidence: plural(open, "swing") + ", each with its dip within " + fixed(p.Flag.SwingHours, 0) + " h, against a limit of " + fixed(p.Flag.SwingCount, 0) +
			"; no words lie beside these dips.",
	}, float64(open) >= p.Flag.SwingCount
}

// symptomAt reports whether a dip that began at an instant has a symptom.
func (j *judge) symptomAt(from int64) bool {
	return slices.ContainsFunc(j.matched, func(s span) bool { return s.from <= from && from < s.to })
}

// nights flags nights that are high as such, not for a late meal: their means.
func (j *judge) nights() (Flag, bool) {
	p, all := &j.in.Protocol.Night, len(j.r.Nights)
	shift := ""
	if j.in.Context.ShiftWork {
		shift = " Shift work is on record, so these hours need not be this person's night: high all the same."
	}
	return Flag{
		Tier: j.in.Protocol.Tier.HighNights,
		Text: "High nights: " + strconv.Itoa(j.highNights) + " of " + strconv.Itoa(all) + " average " + fixed(p.HighMmol, 1) + " or more.",
		Evidence: "The limit is " + fixed(p.HighNights, 0) + " such nights and " + fixed(p.HighNightsPct, 0) +
			" % of all. Published: nights of 74 healthy people average 5.3 mmol/L (Diabetes Care 2010;33:1297)." + shift,
	}, j.adultLimits() && float64(j.highNights) >= p.HighNights && 100*float64(j.highNights) >= p.HighNightsPct*float64(all)
}

// highest is the highest believed value in mmol/L, with one decimal.
func (j *judge) highest() string {
	if j.t.beyond(0, len(j.t.r), Above) {
		return "at least " + j.r.Metrics.MaxMmol.Fixed(1)
	}
	return j.r.Metrics.MaxMmol.Fixed(1)
}

func sawVeryHigh(r *Report, usable int, glucose string) string {
	if n := r.daysAbove10(); n > 0 {
		return "On " + of(n, usable, "day") + " " + glucose + " was above 10 mmol/L, at times far above."
	}
	return sentenceCase(glucose) + " was far above 10 mmol/L at least once."
}

func sawAbove10(r *Report, usable int, glucose string) string {
	if n := r.daysAbove10(); n > 0 {
		return "On " + of(n, usable, "day") + " " + glucose + " was above 10 mmol/L for a time."
	}
	return sentenceCase(glucose) + " was above 10 mmol/L more than our limit allows."
}

func sawAbove7_8(r *Report, usable int, glucose string) string {
	n := 0
	for _, d := range r.Days {
		if d.Usable && d.Met7_8 {
			n++
		}
	}
	return "On " + of(n, usable, "day") + " " + glucose + " was above 7.8 mmol/L for a good part of the day."
}

// daysAbove10 counts the usable days with an episode above 10.
func (r *Report) daysAbove10() int {
	n := 0
	for _, d := range r.Days {
		if d.Usable && d.Met10 {
			n++
		}
	}
	return n
}
