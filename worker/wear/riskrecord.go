package wear

// riskOnRecord flags what the record gives reason to look further for: a
// laboratory result past its limit whatever the trace shows, and anything less
// where nothing else was found, because a sensor does not measure insulin.
func (j *judge) riskOnRecord(found []Flag) (Flag, bool) {
	p := j.in.Protocol
	f := Flag{
		Code: FlagRisk, Tier: p.Tier.RiskOnRecord,
		Evidence: "Insulin is not measured by a sensor, and a laboratory result stands whatever the trace shows. Follow the recall that the record calls for.",
	}
	why := j.in.Context.RiskFactors()
	if h := j.r.HomaIR; h.OK && h.V >= p.Risk.HomaIR {
		why = append(why, "HOMA-IR "+h.Fixed(1))
	}
	var past []string
	for _, l := range j.r.Labs {
		if l.Class == "" || l.Class == ClassNormal {
			continue
		}
		text := labNames[l.Kind] + " of " + trimmed(l.Value.V) + " " + l.Unit + " (" + string(l.Class) + ")"
		why = append(why, text)
		switch {
		case l.Class == ClassIntermediate || l.Class == ClassReview:
			continue
		case l.Class != ClassGestational && j.in.Context.Pregnant:
			f.Tier = p.Tier.HighPregnant
		case f.Tier.Rank() > p.Tier.RiskLaboratory.Rank():
			f.Tier = p.Tier.RiskLaboratory
		}
		past = append(past, text)
	}
	if len(found) > 0 || j.r.Believed == 0 {
		f.Text = "A laboratory result past its limit is on record: " + listed(past) + "."
		return f, len(past) > 0
	}
	f.Text = "Nothing in the trace passed a limit, but metabolic risk is on record: " + listed(why) + "."
	return f, len(why) > 0
}

// labNames are laboratory results in the middle of a sentence.
var labNames = map[string]string{
	LabHbA1c: "HbA1c", LabFastingGlucose: "fasting glucose", LabTwoHourGlucose: "two-hour glucose",
	LabRandomGlucose: "glucose", LabFastingInsulin: "fasting insulin",
}
