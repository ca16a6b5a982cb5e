package wear

// riskOnRecord flags what the record gives reason to look further for: the
// newest result of a kind past its limit whatever the trace shows, and anything
// less where nothing else was found, because a sensor does not measure insulin.
func (j *judge) riskOnRecord() (Flag, bool) {
	p := j.in.Protocol
	f := Flag{
		Tier:     p.Tier.RiskOnRecord,
		Evidence: "Insulin is not measured by a sensor, and a laboratory result stands whatever the trace shows. Follow the recall that the record calls for.",
	}
	why, enough := j.in.Context.RiskFactors()
	factors := len(why)
	if h := j.r.HomaIR; h.OK && h.V >= p.Risk.HomaIR {
		why = append(why, "HOMA-IR "+h.Fixed(1))
	}
	var past []string
	for _, l := range j.r.Labs {
		if !l.Newest || l.Class == "" || l.Class == ClassNormal {
			continue
		}
		text := labText(l) + " (" + string(l.Class) + ")"
		if l.Kind == LabHbA1c && l.Class == ClassLow {
			text += ", lower than red cells of the usual life carry: a haemoglobin variant, bleeding or haemolysis can hide a raised glucose, and a fasting glucose tells"
		}
		why = append(why, text)
		if l.Class == ClassIntermediate || l.Class == ClassReview && !j.in.Context.Pregnant {
			continue
		}
		if tier := j.labTier(l); tier.Rank() < f.Tier.Rank() {
			f.Tier = tier
		}
		past = append(past, text)
	}
	j.riskWords = "metabolic risk on record: " + listed(why)
	if len(past) > 0 {
		j.riskWords = "past its limit on record: " + listed(past)
	}
	if len(past) > 0 && (len(j.raised) > 0 || j.r.Believed == 0 || f.Tier != p.Tier.RiskOnRecord) {
		f.Text = "A laboratory result past its limit is on record: " + listed(past) + "."
		return f, true
	}
	f.Text = "Nothing in the trace passed a limit, but metabolic risk is on record: " + listed(why) + "."
	return f, (enough || len(why) > factors) && len(j.raised) == 0 && j.r.Believed > 0
}

// labTier is how pressing a result past its limit is: by its value, and only
// while it is of the time of the wear.
func (j *judge) labTier(l LabFig) Tier {
	p := j.in.Protocol
	least := func(tiers ...Tier) Tier {
		best := p.Tier.RiskLaboratory
		for _, t := range tiers {
			if t.Rank() < best.Rank() {
				best = t
			}
		}
		return best
	}
	switch {
	case !j.in.Context.Pregnant || l.Class == ClassLow:
	case l.Class == ClassGestational || l.Class == ClassReview:
		return least(p.Tier.LaboratorySoon)
	default:
		return least(p.Tier.HighPregnant)
	}
	if j.r.End.Sub(l.At).Hours() > p.Risk.CurrentDays*24 {
		return least()
	}
	text, unread := j.thirst()
	switch {
	case l.Kind == LabHbA1c && l.Class == ClassLow:
		return least()
	case p.Risk.urgent(l.Kind, l.value(), l.Unit):
		return least(p.Tier.LaboratoryUrgent)
	case j.child() && l.Class == ClassDiabetes && l.Kind != LabHbA1c:
		return least(p.Tier.HighChild) // diabetes can begin fast at this age
	case j.child() && l.Class == ClassDiabetes:
		return least(p.Tier.LaboratorySoon)
	case l.Class == ClassLow:
		return least(p.Tier.LaboratorySoon)
	case (l.Kind == LabRandomGlucose || l.Kind == LabFastingGlucose && random.class(l.value(), l.Unit) == ClassDiabetes) && text == "" && !unread:
		return least(p.Tier.LaboratorySoon)
	case l.Kind != LabHbA1c && (text != "" || unread):
		// A symptom and one such result make a diagnosis (ADA, WHO).
		return least(p.Tier.LaboratoryUrgent)
	}
	return least()
}

// urgent reports whether a result lies so far past its limit that the same day
// counts: a glucose below 3.0 or far in the range, an HbA1c far in it, each in
// the unit it was reported in.
func (r *RiskRules) urgent(kind string, value float64, unit string) bool {
	switch {
	case !(value > 0):
		return false
	case kind == LabHbA1c && unit == "mmol/mol":
		return value >= r.UrgentHbA1cMmolMol
	case kind == LabHbA1c && unit == "%":
		return value >= r.UrgentHbA1cPct
	case unit == MmolL.String():
		return value >= r.UrgentGlucose.Mmol() || value < Limit3_0.Mmol()
	case unit == MgdL.String():
		return value >= float64(r.UrgentGlucose.Mgdl) || value < float64(Limit3_0.Mgdl)
	}
	return false
}

// labNames are laboratory results in the middle of a sentence.
var labNames = map[string]string{
	LabHbA1c: "HbA1c", LabFastingGlucose: "fasting glucose", LabTwoHourGlucose: "two-hour glucose",
	LabRandomGlucose: "glucose", LabFastingInsulin: "fasting insulin",
}
