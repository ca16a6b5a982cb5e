package wear

import "math"

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
	add := func(code, text string) { remarks = append(remarks, Remark{Code: code, Text: text}) }
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
	for _, c := range Changes(first, second, p) {
		if !c.known() {
			add(c.Code, c.Name+" cannot be compared: "+c.Words()+".")
			continue
		}
		add(c.Code, c.Name+": "+c.Before.Fixed(1)+" "+c.Unit+" then, "+c.After.Fixed(1)+" "+c.Unit+" now, "+c.Words()+" ("+trimmed(c.Least)+").")
	}
	if gone := flagsOnlyIn(first, second); len(gone) > 0 {
		add("flags_gone", "Flagged then and not now: "+listed(gone)+".")
	}
	if come := flagsOnlyIn(second, first); len(come) > 0 {
		add("flags_new", "Flagged now and not then: "+listed(come)+".")
	}
	return remarks
}

// Change is one measure of two wears of one patient.
type Change struct {
	Code, Name, Unit string
	Before, After    Figure  // either may be missing
	Least            float64 // in Unit: a smaller change is expected variation, by the protocol
}

func (c Change) known() bool { return c.Before.OK && c.After.OK }

// Beyond reports whether both are known and the change is more than expected
// variation.
func (c Change) Beyond() bool {
	return c.known() && atLeast(math.Abs(c.After.V-c.Before.V), c.Least)
}

// Words says which way the measure went.
func (c Change) Words() string {
	switch {
	case !c.known():
		return "not enough data"
	case !c.Beyond():
		return "within expected variation"
	case c.After.V > c.Before.V:
		return "a rise beyond expected variation"
	}
	return "a fall beyond expected variation"
}

// Changes are the measures that [Compare] compares, over believed readings. A
// nil protocol stands for [DefaultProtocol].
func Changes(first, second *Report, p *Protocol) []Change {
	if p == nil {
		p = DefaultProtocol()
	}
	c := &p.Compare
	a, b := &first.Metrics, &second.Metrics
	return []Change{
		{"mean", "Mean glucose", "mmol/L", a.MeanMmol, b.MeanMmol, c.MeanMmol},
		{"above_7_8", "Time above 7.8", "%", a.Above7_8Pct, b.Above7_8Pct, c.Points},
		{"within_3_9_7_8", "Time from 3.9 to 7.8", "%", a.Within3_9To7_8, b.Within3_9To7_8, c.Points},
		{"above_10", "Time above 10", "%", a.Above10Pct, b.Above10Pct, c.LowPoints},
		{"below_3_9", "Time below 3.9", "%", a.Below3_9Pct, b.Below3_9Pct, c.LowPoints},
	}
}

// kindCaution follows every comparison that is not within one sensor kind.
const kindCaution = kindsDiffer + ", so a change may be the sensor's."

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
			if k, known := FlagOf(f.Code); known {
				out = append(out, k.Short)
			}
		}
	}
	return out
}
