package wear

import (
	"slices"
	"strconv"
	"strings"
)

// The flags about the record and about the data.

// child reports whether the limits for adults do not fit for age.
func (j *judge) child() bool {
	return j.r.Age >= 0 && float64(j.r.Age) < j.in.Protocol.Flag.AdultAge
}

// pregnantMornings says in pregnancy what mornings by the sensor came to where a
// laboratory test is due (Med J Aust 2025;223:161), "" where none is.
func (j *judge) pregnantMornings() string {
	for _, m := range []Figure{j.earlyMorning(), j.r.Mornings.FastingMmol} {
		if j.in.Context.Pregnant && m.OK && m.V >= j.in.Protocol.Flag.PregnantFastingNote {
			return "In pregnancy, mornings of about " + m.Fixed(1) + " mmol/L by the sensor, and the laboratory's limit for gestational diabetes is 5.3: a laboratory test is due"
		}
	}
	return ""
}

// earlyMorning is the median of the early mornings.
func (j *judge) earlyMorning() Figure { return Of(quantile(slices.Clone(j.early), 0.5)) }

func (j *judge) offPathway() (Flag, bool) {
	c, p := j.in.Context, j.in.Protocol
	f := Flag{Tier: p.Tier.OffPathwaySteroid, Evidence: "What is on record or written down, not the trace."}
	var why []string
	written := ""
	press := func(tier Tier) {
		if tier.Rank() < f.Tier.Rank() {
			f.Tier = tier
		}
	}
	if c.Pregnant || j.child() {
		press(p.Tier.OffPathwayLimits)
	}
	if early := j.earlyMorning(); j.lowers || c.Pregnant && early.OK && early.V >= p.Flag.PregnantFastingNote {
		press(p.Tier.OffPathway)
	}
	thirst, open := j.thirst()
	if j.child() && thirst != "" {
		press(p.Tier.HighSymptom)
		f.Evidence += " “" + thirst + "” goes with high glucose: diabetes can begin fast at this age, whatever the sensor says. A fingerstick now tells."
	} else if j.child() && open {
		press(p.Tier.OffPathway)
		f.Evidence += " There are words that nobody has read: thirst, a wet bed or losing weight would be pressing at this age, whatever the sensor says."
	}
	if c.Pregnant {
		why = append(why, "pregnancy")
	}
	if j.child() {
		why = append(why, "age "+strconv.Itoa(j.r.Age))
	}
	if c.HypoglycaemiaRisk() {
		why = append(why, lowering(c)...)
	} else if j.lowers {
		for _, x := range j.said {
			if x.lowers {
				written = "Written down, and not on record: a medicine that can cause lows (“" + x.text + "”)."
				break
			}
		}
	}
	if c.Steroid {
		why = append(why, "a steroid")
	}
	if len(why) > 0 {
		f.Text = "On record: " + listed(why) + "."
	}
	f.Text = strings.TrimSpace(f.Text+" "+written) + " The limits for adults without diabetes do not fit."
	if early := j.pregnantMornings(); early != "" {
		f.Text += " " + early + "."
	}
	return f, len(why) > 0 || written != ""
}

func (j *judge) sensorDoubt() (Flag, bool) {
	p, f := j.in.Protocol, Flag{}
	f.Tier = p.Tier.SensorDoubt
	switch low := j.r.MetricsAll.Below3_9Pct; {
	case j.r.Readings > 0 && j.suspectPct >= p.Flag.DoubtPct:
		f.Text = "The sensor is in doubt: " + fixed(j.suspectPct, 0) + " % of readings are not believed."
		f.Evidence = strconv.Itoa(j.r.Readings-j.r.Believed) + " of " + plural(j.r.Readings, "reading") + " against a limit of " + fixed(p.Flag.DoubtPct, 0) + " %."
	case low.OK && low.V >= p.Flag.DoubtLowPct:
		f.Text = "The sensor is in doubt: " + percent(low) + " of readings are below 3.9."
		f.Evidence = "The limit is " + fixed(p.Flag.DoubtLowPct, 0) + " %. A sensor that reads low and true lows that are not felt look alike: a fingerstick beside it, or the laboratory's glucose, tells."
	case j.r.Metrics.MedianMmol.OK && !atLeast(j.r.Metrics.MedianMmol.V, p.Flag.DoubtMedianMmol):
		f.Text = "The sensor is in doubt: half of its readings are below " + j.r.Metrics.MedianMmol.Fixed(1) + " mmol/L."
		f.Evidence = "The limit is " + fixed(p.Flag.DoubtMedianMmol, 1) + ". Few people live so low: a sensor that reads low and true lows that are not felt look alike, and a fingerstick beside it tells."
	case j.t.noise > p.Flag.DoubtJitterMmol:
		f.Text = "The sensor is in doubt: its readings jump about, by " + fixed(j.t.noise, 1) + " mmol/L against the line of their neighbours even at night."
		f.Evidence = "The limit is " + fixed(p.Flag.DoubtJitterMmol, 1) + ". A true low or high cannot be told in it: another wear tells."
	case float64(j.failed) >= p.Flag.DoubtFailedHours*3600 && float64(j.usable) < p.Wear.FullUsableDays:
		f.Text = "The sensor failed for " + duration(j.failed) + "; " + plural(j.usable, "usable day") + " of the wear " + areOrIs(j.usable) + " left."
		f.Evidence = "A failed stretch of " + fixed(p.Flag.DoubtFailedHours, 0) + " h or more with fewer than " + fixed(p.Wear.FullUsableDays, 0) + " usable days left."
	case float64(len(j.disagree)) >= p.Flag.DoubtFingersticks && 2*len(j.disagree) > j.fingerstick:
		f.Text = "The sensor is in doubt: " + strconv.Itoa(len(j.disagree)) + " of " + plural(j.fingerstick, "fingerstick") + " disagree with it."
		f.Evidence = "Differences of more than " + fixed(p.Believe.FingerstickPct, 0) + " % (" + fixed(p.Believe.FingerstickLowMmol, 2) +
			" mmol/L where low) after allowing for the delay."
	}
	return f, f.Text != ""
}

func (j *judge) tooLittle() (Flag, bool) {
	p := j.in.Protocol
	return Flag{
		Tier: p.Tier.TooLittle,
		Text: "Too little data to judge: " + plural(j.usable, "usable day") + ".",
		Evidence: plural(j.usable, "usable day") + " against a least of " + fixed(p.Wear.MinUsableDays, 0) + "; a day is usable from " +
			fixed(p.Wear.DayUsablePct, 0) + " % of its readings.",
	}, float64(j.usable) < p.Wear.MinUsableDays
}
