package wear

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// flags are the findings that the protocol says need review, the most pressing
// first. Two things are never a flag: a low without a symptom in someone on no
// glucose-lowering medicine, and a high that the sensor alone is the cause of.
func (j *judge) flags() []Flag {
	flags := make([]Flag, 0, 4)
	add := func(f Flag, ok bool) {
		if ok {
			flags = append(flags, f)
		}
	}
	add(j.severe())
	add(j.veryHigh())
	add(j.lowOnMedicine())
	add(j.veryLow())
	// Pregnancy has limits of its own: the adult ones say nothing there.
	if !j.in.Context.Pregnant {
		add(j.dipWithSymptom())
		add(j.above7_8())
		add(j.above10())
		add(j.swing())
		add(j.nights())
	}
	add(j.offPathway())
	add(j.sensorDoubt())
	add(j.tooLittle())
	add(j.riskOnRecord(flags))
	slices.SortStableFunc(flags, func(a, b Flag) int { return a.Tier.Rank() - b.Tier.Rank() })
	return flags
}

func (j *judge) veryHigh() (Flag, bool) {
	p, f := j.in.Protocol, Flag{Code: FlagVeryHigh}
	readings := 0
	for i, b := range j.t.past {
		if b&pastVeryHigh != 0 && j.t.why[i] == 0 {
			readings++
		}
	}
	sustained := 0
	for _, s := range j.spans {
		if s.kind == EpisodeAbove13_9 {
			sustained++
		}
	}
	withSymptom := false
	if len(j.high) > 0 {
		from, to := j.t.r[0].At, j.t.r[len(j.t.r)-1].At
		withSymptom = j.symptomText(from, to, p.Symptom.HighWords)
	}
	fasting := 0
	for _, n := range j.r.Nights {
		if j.in.Context.Pregnant && n.FastingMmol.OK && n.FastingMmol.V >= p.Flag.PregnantFasting {
			fasting++
		}
	}
	limit := p.Flag.HighEpisode.String()
	highest := "The highest believed value is " + j.highest() + " mmol/L"
	sticks := j.sticks(p.Flag.VeryHighReading.Above)
	switch {
	case len(sticks) > 0:
		f.Tier = p.Tier.VeryHigh
		f.Text = j.stickWords(sticks, "above "+p.Flag.VeryHighReading.String())
		f.Evidence = "One above " + p.Flag.VeryHighReading.String() + " is enough. " + highest + " by the sensor."
	case readings > 0:
		f.Tier = p.Tier.VeryHigh
		f.Text = "Very high: " + plural(readings, "reading") + " above " + p.Flag.VeryHighReading.String() + " or beyond what the sensor can report."
		f.Evidence = highest + "; one reading above " + p.Flag.VeryHighReading.String() + " is enough."
	case sustained > 0:
		f.Tier = p.Tier.VeryHigh
		f.Text = "Very high: above 13.9 for 15 minutes or more, " + Times(sustained) + "."
		f.Evidence = highest + "; one such episode is enough."
	case len(j.high) > 0 && j.in.Context.Pregnant:
		f.Tier = p.Tier.HighPregnant
		f.Text = "In pregnancy, at or above " + limit + " for 15 minutes or more, " + Times(len(j.high)) + "."
		f.Evidence = highest + "; in pregnancy one such episode is enough."
	case fasting > 0:
		f.Tier = p.Tier.HighPregnant
		f.Text = "In pregnancy, " + fixed(p.Flag.PregnantFasting, 1) + " or more by the sensor on " + plural(fasting, "fasting morning") + "."
		f.Evidence = "In pregnancy one such morning is enough. Only the laboratory's fasting value counts."
	case withSymptom:
		f.Tier = p.Tier.HighSymptom
		f.Text = "At or above " + limit + " " + Times(len(j.high)) + ", with a symptom written down that goes with high glucose."
		f.Evidence = highest + "; one such episode with such a symptom is enough."
	case float64(j.highDays) >= p.Flag.HighEpisodeDays:
		f.Tier = p.Tier.HighRepeated
		f.Text = "At or above " + limit + " for 15 minutes or more on " + plural(j.highDays, "day") + "."
		f.Evidence = highest + "; the limit is " + fixed(p.Flag.HighEpisodeDays, 0) + " days."
	default:
		return f, false
	}
	return f, true
}

func (j *judge) lowOnMedicine() (Flag, bool) {
	if !j.in.Context.HypoglycaemiaRisk() || len(j.dips) == 0 {
		return Flag{}, false
	}
	return Flag{
		Code: FlagLowMedicine, Tier: j.in.Protocol.Tier.LowMedicine,
		Text:     countWords(len(j.dips), "dip") + " below 3.9 in someone on glucose-lowering medicine.",
		Evidence: "The lowest is " + j.least(j.dips) + " mmol/L; on such medicine one dip of 15 minutes or more is enough.",
	}, true
}

// veryLow is about fingersticks below 3.0, and believed episodes below 3.0 with
// a symptom. Without one, and without a medicine that explains it, a sensor low
// is not a finding.
func (j *judge) veryLow() (Flag, bool) {
	p := j.in.Protocol
	f := Flag{Code: FlagVeryLow, Tier: p.Tier.VeryLow}
	n, what := 0, "a symptom"
	for _, s := range j.deep {
		from, to := j.around(s)
		if !logged(j.in.Events, Symptom, from, to+1) {
			continue
		}
		n++
		if j.symptomText(from, to, p.Symptom.BrainWords) {
			f.Tier, what = p.Tier.VeryLowBrain, "a symptom of the brain being short of glucose"
		}
	}
	if n > 0 {
		f.Text = countWords(n, "dip") + " below 3.0 with " + what + "."
		f.Evidence = "The lowest is " + j.least(j.deep) + " mmol/L; one dip below 3.0 of 15 minutes or more with a symptom is enough."
	}
	if sticks := j.sticks(Limit3_0.Below); len(sticks) > 0 {
		if n == 0 || p.Tier.VeryLowBlood.Rank() < f.Tier.Rank() {
			f.Tier = p.Tier.VeryLowBlood
		}
		f.Text = strings.TrimSpace(j.stickWords(sticks, "below 3.0") + " " + f.Text)
		f.Evidence = strings.TrimSpace("One fingerstick below 3.0 is enough, with or without a symptom. " + f.Evidence)
	}
	return f, f.Text != ""
}

func (j *judge) dipWithSymptom() (Flag, bool) {
	if len(j.matched) == 0 {
		return Flag{}, false
	}
	p := j.in.Protocol
	tier, unfed := p.Tier.DipSymptom, ""
	if j.in.Context.BariatricSurgery && p.Tier.DipSymptomSurgery.Rank() < tier.Rank() {
		tier = p.Tier.DipSymptomSurgery
	}
	if slices.ContainsFunc(j.r.Matches, j.unfed) {
		unfed = " Fasting or in the night, so no meal explains it."
		if p.Tier.DipSymptomFasting.Rank() < tier.Rank() {
			tier = p.Tier.DipSymptomFasting
		}
	}
	return Flag{
		Code: FlagDipSymptom, Tier: tier,
		Text: countWords(len(j.matched), "dip") + " below 3.9" + j.extended(j.matched) + " with a matching symptom.",
		Evidence: "The lowest is " + j.least(j.matched) + " mmol/L; a symptom counts from " + fixed(p.Symptom.BeforeMinutes, 0) +
			" min before to " + fixed(p.Symptom.AfterMinutes, 0) + " min after. " + j.triad() + unfed + j.unlabelled(),
	}, true
}

// unfed reports whether a dip with a symptom came fasting, or in the night and
// not after a meal: such a low is not a meal's doing.
func (j *judge) unfed(m Match) bool {
	if m.Timing != "unknown" || j.in.Context.ShiftWork {
		return m.Timing == "fasting"
	}
	from := j.spans[m.Episode-1].from
	k := j.t.cal.dayOf(from)
	return k >= 0 && j.t.cal.minuteOf(&j.t.cal.days[k], from) < 6*60
}

// enoughForShares reports whether percentages can raise a flag at all.
func (j *judge) enoughForShares() bool {
	return float64(j.usable) >= j.in.Protocol.Wear.MinDaysForShares
}

func (j *judge) above7_8() (Flag, bool) {
	p := j.in.Protocol
	share := j.r.Metrics.Above7_8Pct
	persistent := j.enoughForShares() && share.OK && share.V >= p.Flag.Above7_8Pct &&
		100*float64(j.days7_8) >= p.Flag.Above7_8DaysPct*float64(j.usable)
	return Flag{
		Code: FlagAbove7_8, Tier: p.Tier.Above7_8,
		Text: "Above 7.8 for " + percent(share) + " of the time, and for " + fixed(p.Flag.Above7_8Pct, 0) + " % of the day or more on " + strconv.Itoa(j.days7_8) + " of " + plural(j.usable, "usable day") + ".",
		Evidence: percent(share) + " of believed readings against a limit of " + fixed(p.Flag.Above7_8Pct, 0) + " %, met on at least " +
			fixed(p.Flag.Above7_8DaysPct, 0) + " % of usable days. Published: healthy median 2.1 %, community average 12.1 %, upper limit of normal 17.1 %.",
	}, persistent
}

func (j *judge) above10() (Flag, bool) {
	p := j.in.Protocol
	share := j.r.Metrics.Above10Pct
	often := float64(j.days10) >= j.mostDays10()
	much := j.enoughForShares() && share.OK && share.V >= p.Flag.Above10Pct
	return Flag{
		Code: FlagAbove10, Tier: p.Tier.Above10,
		Text: "Above 10 for " + percent(share) + " of the time, with episodes on " + plural(j.days10, "day") + ".",
		Evidence: percent(share) + " of believed readings against a limit of " + fixed(p.Flag.Above10Pct, 0) + " %, or episodes on " +
			fixed(j.mostDays10(), 0) + " days. Published: community average 1.2 %.",
	}, often || much
}

// mostDays10 is how many days with an episode above 10 make a flag: more in a
// wear of more days than the protocol counts them over.
func (j *judge) mostDays10() float64 {
	f := &j.in.Protocol.Flag
	return math.Ceil(f.Above10Days * max(1, float64(j.usable)/max(1, f.Above10OfDays)))
}

func (j *judge) swing() (Flag, bool) {
	p := j.in.Protocol
	asked, _ := j.askedSwings()
	open := len(j.r.Swings) - asked
	return Flag{
		Code: FlagSwingSymptom, Tier: p.Tier.Swing,
		Text: "Rises above 10 followed by dips below 3.9, " + Times(open) + ", and no symptom diary: ask about symptoms.",
		Evidence: plural(open, "swing") + ", each with its dip within " + fixed(p.Flag.SwingHours, 0) + " h, against a limit of " + fixed(p.Flag.SwingCount, 0) +
			"; no symptom was written down in the whole wear.",
	}, j.symptoms == 0 && float64(open) >= p.Flag.SwingCount
}

func (j *judge) offPathway() (Flag, bool) {
	c, p := j.in.Context, j.in.Protocol
	f := Flag{Code: FlagOffPathway, Tier: p.Tier.OffPathway}
	var why []string
	if c.Pregnant {
		why = append(why, "pregnancy")
	}
	if c.HypoglycaemiaRisk() {
		why = append(why, lowering(c)...)
	}
	if c.Steroid {
		if len(why) == 0 {
			f.Tier = p.Tier.OffPathwaySteroid
		}
		why = append(why, "a steroid")
	}
	f.Text = "On record: " + listed(why) + ". The limits for people without diabetes do not fit."
	f.Evidence = "Context on the patient's record, not the trace."
	return f, len(why) > 0
}

func (j *judge) sensorDoubt() (Flag, bool) {
	p := j.in.Protocol
	f := Flag{Code: FlagSensorDoubt, Tier: p.Tier.SensorDoubt}
	switch {
	case j.r.Readings > 0 && j.suspectPct >= p.Flag.DoubtPct:
		f.Text = "The sensor is in doubt: " + fixed(j.suspectPct, 0) + " % of readings are not believed."
		f.Evidence = strconv.Itoa(j.r.Readings-j.r.Believed) + " of " + plural(j.r.Readings, "reading") + " against a limit of " + fixed(p.Flag.DoubtPct, 0) + " %."
	case float64(j.failed) >= p.Flag.DoubtFailedHours*3600 && float64(j.usable) < p.Wear.FullUsableDays:
		f.Text = "The sensor failed for " + duration(j.failed) + "; " + plural(j.usable, "usable day") + " of the wear " + areOrIs(j.usable) + " left."
		f.Evidence = "A failed stretch of " + fixed(p.Flag.DoubtFailedHours, 0) + " h or more with fewer than " + fixed(p.Wear.FullUsableDays, 0) + " usable days left."
	case j.readsLow():
		f.Text = "The sensor is in doubt: " + percent(j.r.Metrics.Below3_9Pct) + " of readings are below 3.9, with no symptom written down."
		f.Evidence = "The limit is " + fixed(p.Flag.DoubtLowPct, 0) + " %: people do not live there unaware, sensors read low. Compare it with a fingerstick."
	case float64(len(j.disagree)) >= p.Flag.DoubtFingersticks && 2*len(j.disagree) > j.fingerstick:
		f.Text = "The sensor is in doubt: " + strconv.Itoa(len(j.disagree)) + " of " + plural(j.fingerstick, "fingerstick") + " disagree with it."
		f.Evidence = "Differences of more than " + fixed(p.Believe.FingerstickPct, 0) + " % (" + fixed(p.Believe.FingerstickLowMmol, 2) +
			" mmol/L where low) after allowing for the delay."
	default:
		return f, false
	}
	return f, true
}

// readsLow reports whether the wearer would have lived below 3.9 for too much
// of the time without feeling anything.
func (j *judge) readsLow() bool {
	share := j.r.Metrics.Below3_9Pct
	return share.OK && share.V >= j.in.Protocol.Flag.DoubtLowPct && j.symptoms == 0 && !j.in.Context.HypoglycaemiaRisk()
}

func (j *judge) tooLittle() (Flag, bool) {
	p := j.in.Protocol
	return Flag{
		Code: FlagTooLittle, Tier: p.Tier.TooLittle,
		Text: "Too little data to judge: " + plural(j.usable, "usable day") + ".",
		Evidence: plural(j.usable, "usable day") + " against a least of " + fixed(p.Wear.MinUsableDays, 0) + "; a day is usable from " +
			fixed(p.Wear.DayUsablePct, 0) + " % of its readings.",
	}, float64(j.usable) < p.Wear.MinUsableDays
}

// least is the lowest believed value of some episodes, with one decimal.
func (j *judge) least(spans []span) string {
	var f Figure
	bound := ""
	for _, s := range spans {
		if x := j.t.extreme(s); !f.OK || x.V < f.V {
			f = x
		}
		if j.t.beyond(s.lo, s.hi, Below) {
			bound = "at most "
		}
	}
	return bound + f.Fixed(1)
}

// highest is the highest believed value in mmol/L, with one decimal.
func (j *judge) highest() string {
	if j.t.beyond(0, len(j.t.r), Above) {
		return "at least " + j.r.Metrics.MaxMmol.Fixed(1)
	}
	return j.r.Metrics.MaxMmol.Fixed(1)
}

// nights flags nights that are high as such, not for a late meal: their means.
func (j *judge) nights() (Flag, bool) {
	p, all := &j.in.Protocol.Night, len(j.r.Nights)
	return Flag{
		Code: FlagHighNights, Tier: j.in.Protocol.Tier.HighNights,
		Text: "High nights: " + strconv.Itoa(j.highNights) + " of " + strconv.Itoa(all) + " average " + fixed(p.HighMmol, 1) + " or more.",
		Evidence: "The limit is " + fixed(p.HighNights, 0) + " such nights and " + fixed(p.HighNightsPct, 0) +
			" % of all. Published: healthy nights average 5.3 mmol/L (Diabetes Care 2010;33:1297).",
	}, !j.in.Context.ShiftWork && float64(j.highNights) >= p.HighNights && 100*float64(j.highNights) >= p.HighNightsPct*float64(all)
}
