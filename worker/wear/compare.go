package wear

// Compare says in words what changed from a patient's first wear to a later
// one beyond expected variation. One wear is a noisy measure: days of
// normoglycaemic adults agree with a functional ICC of 0.30 (Sci Rep
// 2023;13:13987), and two sensors worn together differ by 0.7 mmol/L in the
// mean and 8 points in a share (doi:10.1093/clinchem/hvac192), so smaller
// changes are said to be within it. A nil protocol stands for
// [DefaultProtocol]; a nil report gives nothing.
func Compare(first, second *Report, p *Protocol) []Remark {
	remarks := make([]Remark, 0, 8)
	if first == nil || second == nil {
		return remarks
	}
	if p == nil {
		p = DefaultProtocol()
	}
	add := func(code, text string) { remarks = append(remarks, Remark{code, text}) }
	// A change between kinds is a change of ruler, so this comes first.
	switch {
	case first.SensorKind == "" || second.SensorKind == "":
		add("kind_unknown", "The sensor kind of "+whichWear(first.SensorKind == "", second.SensorKind == "")+" is not set: "+kindCaution)
	case first.SensorKind != second.SensorKind:
		add("kinds_differ", "The wears are of different sensor kinds, "+first.SensorKind+" and "+second.SensorKind+": "+kindCaution)
	}
	if first.Protocol != second.Protocol {
		add("protocols_differ", "The wears were judged by different protocols, "+first.Protocol+" and "+second.Protocol+": flags are not comparable.")
	}
	if first.Confidence == "low" || second.Confidence == "low" {
		add("low_confidence", "Confidence in "+whichWear(first.Confidence == "low", second.Confidence == "low")+" is low: no change is read from it.")
		return remarks
	}
	c := &p.Compare
	for _, m := range []struct {
		code, name, unit string
		decimals         int
		of               func(*Metrics) Figure
		least            float64
	}{
		{"mean", "Mean glucose", " mmol/L", 1, func(m *Metrics) Figure { return m.MeanMmol }, c.MeanMmol},
		{"above_7_8", "Time above 7.8", " %", 1, func(m *Metrics) Figure { return m.Above7_8Pct }, c.Points},
		{"within_3_9_7_8", "Time from 3.9 to 7.8", " %", 1, func(m *Metrics) Figure { return m.Within3_9To7_8 }, c.Points},
		{"above_10", "Time above 10", " %", 1, func(m *Metrics) Figure { return m.Above10Pct }, c.LowPoints},
		{"below_3_9", "Time below 3.9", " %", 1, func(m *Metrics) Figure { return m.Below3_9Pct }, c.LowPoints},
	} {
		a, b := m.of(&first.Metrics), m.of(&second.Metrics)
		if !a.OK || !b.OK {
			add(m.code, m.name+" cannot be compared: not enough data.")
			continue
		}
		text := m.name + ": " + a.Fixed(m.decimals) + m.unit + " then, " + b.Fixed(m.decimals) + m.unit + " now, "
		switch change := b.V - a.V; {
		case change >= m.least-hair:
			text += "a rise beyond expected variation (" + trimmed(m.least) + ")."
		case change <= -m.least+hair:
			text += "a fall beyond expected variation (" + trimmed(m.least) + ")."
		default:
			text += "within expected variation (" + trimmed(m.least) + ")."
		}
		add(m.code, text)
	}
	if gone := flagsOnlyIn(first, second); len(gone) > 0 {
		add("flags_gone", "Flagged then and not now: "+listed(gone)+".")
	}
	if come := flagsOnlyIn(second, first); len(come) > 0 {
		add("flags_new", "Flagged now and not then: "+listed(come)+".")
	}
	return remarks
}

// kindCaution follows every comparison that is not within one sensor kind.
const kindCaution = "two kinds on the same arm have differed by up to 1.8 mmol/L on average, so a change may be the sensor's."

// whichWear names the wear or wears that something is true of.
func whichWear(first, second bool) string {
	switch {
	case first && second:
		return "both wears"
	case first:
		return "the first wear"
	}
	return "the later wear"
}

// flagsOnlyIn names the flags of one report that the other does not have.
func flagsOnlyIn(a, b *Report) []string {
	var out []string
	for _, f := range a.Flags {
		if !b.flagged(f.Code) {
			out = append(out, flagNames[f.Code])
		}
	}
	return out
}

// flagNames are the flags in the middle of a sentence.
var flagNames = map[string]string{
	FlagAbove7_8: "above 7.8 on most days", FlagAbove10: "above 10 often", FlagDipSymptom: "dips with a symptom",
	FlagVeryHigh: "very high", FlagLowMedicine: "lows on a glucose-lowering medicine", FlagTooLittle: "too little data",
	FlagSensorDoubt: "sensor in doubt", FlagVeryLow: "very low with a symptom", FlagOffPathway: "off the pathway",
	FlagSwingSymptom: "big swings", FlagHighNights: "high nights", FlagRisk: "risk on record",
}
