package wear

// riskOnRecord flags a believable trace in which nothing else was found, where
// the record gives reason to look further: a sensor does not measure insulin.
func (j *judge) riskOnRecord(found []Flag) (Flag, bool) {
	p := j.in.Protocol
	if len(found) > 0 || j.r.Believed == 0 {
		return Flag{}, false
	}
	f := Flag{Code: FlagRisk, Tier: p.Tier.RiskOnRecord}
	why := j.in.Context.RiskFactors()
	if h := j.r.HomaIR; h.OK && h.V >= p.Risk.HomaIR {
		why = append(why, "HOMA-IR "+h.Fixed(1))
	}
	for _, l := range j.r.Labs {
		switch l.Class {
		case ClassDiabetes, ClassOvert, ClassGestational:
			f.Tier = p.Tier.RiskLaboratory
			fallthrough
		case ClassIntermediate, ClassReview:
			why = append(why, labNames[l.Kind]+" of "+trimmed(l.Value.V)+" "+l.Unit+" ("+string(l.Class)+")")
		}
	}
	f.Text = "Nothing in the trace passed a limit, but metabolic risk is on record: " + listed(why) + "."
	f.Evidence = "Insulin is not measured by a sensor, and a laboratory result stands whatever the trace shows. Follow the recall that the record calls for."
	return f, len(why) > 0
}

// labNames are laboratory results in the middle of a sentence.
var labNames = map[string]string{
	LabHbA1c: "HbA1c", LabFastingGlucose: "fasting glucose", LabTwoHourGlucose: "two-hour glucose",
	LabRandomGlucose: "glucose", LabFastingInsulin: "fasting insulin",
}
