package wear

import "math"

// priority is the wear's place on the round: the most pressing tier of its
// flags, and a score that is the sum of its parts and nothing else. Every part
// moves smoothly with the data. The scale comes from published values of
// healthy people: no points at the usual value, ten at the upper limit of
// normal. No part is fitted to any cohort.
func (j *judge) priority() Priority {
	p := j.in.Protocol
	pr := Priority{Tier: Routine, Parts: make([]Part, 0, 8)}
	for _, f := range j.r.Flags {
		if f.Tier.Rank() < pr.Tier.Rank() {
			pr.Tier = f.Tier
		}
	}
	pr.DueDays = p.Due.Days(pr.Tier)

	tenths := 0
	add := func(code, name string, points float64, how string) {
		points = math.Round(min(points, p.Score.MostPoints) * 10)
		if !(points > 0) {
			return
		}
		tenths += int(points)
		pr.Parts = append(pr.Parts, Part{Code: code, Name: name, Points: points / 10, How: how})
	}
	m, s := &j.r.Metrics, &p.Score
	byNorm := func(code, name string, f Figure, n ScoreNorm, decimals int, unit, what string) {
		if !f.OK {
			return
		}
		how := f.Fixed(decimals) + unit + what + "; " + trimmed(s.PointsAtUpper) + " points at " + trimmed(n.Upper) + unit
		if n.Usual != 0 {
			how += ", none at " + trimmed(n.Usual) + unit + " or less"
		}
		add(code, name, s.PointsAtUpper*(f.V-n.Usual)/(n.Upper-n.Usual), how)
	}
	byNorm("above_7_8", "time above 7.8", m.Above7_8Pct, s.Above7_8, 1, " %", " of readings")
	byNorm("above_10", "time above 10", m.Above10Pct, s.Above10, 1, " %", " of readings")
	byNorm("mean", "mean glucose", m.MeanMmol, s.Mean, 2, " mmol/L", "")
	if n := len(j.matched); n > 0 {
		add("dip_with_symptom", "dips with a symptom", s.PerMatch*float64(n), plural(n, "dip")+" × "+trimmed(s.PerMatch)+" points")
	}
	if j.in.Context.HypoglycaemiaRisk() && m.Below3_9Pct.OK {
		add("low_on_medicine", "time below 3.9 on glucose-lowering medicine", s.PerLowPct*m.Below3_9Pct.V,
			percent(m.Below3_9Pct)+" of readings × "+trimmed(s.PerLowPct)+" points")
	}
	pr.Score = float64(tenths) / 10
	pr.Lower = j.lower(pr)
	return pr
}

// lower says what would give the wear a lower place: for each flag of its tier
// what would have to be otherwise, and for the score its largest part.
func (j *judge) lower(pr Priority) []string {
	out := make([]string, 0, 4)
	for _, f := range j.r.Flags {
		if text := j.undoing(f.Code); f.Tier == pr.Tier && text != "" {
			out = append(out, text)
		}
	}
	largest := Part{}
	for _, part := range pr.Parts {
		if part.Points > largest.Points {
			largest = part
		}
	}
	if largest.Points > 0 {
		out = append(out, "Of the "+fixed(pr.Score, 1)+" points, "+fixed(largest.Points, 1)+" come from "+largest.Name+": the less of that, the fewer points.")
	}
	return out
}

// undoing says what would take a flag away.
func (j *judge) undoing(code string) string {
	p := j.in.Protocol
	f := &p.Flag
	switch code {
	case FlagAbove7_8:
		return "Not flagged for time above 7.8 if it were under " + fixed(f.Above7_8Pct, 0) + " % of readings, or if fewer than " +
			fixed(f.Above7_8DaysPct, 0) + " % of usable days reached that."
	case FlagAbove10:
		return "Not flagged for time above 10 if it were under " + fixed(f.Above10Pct, 0) + " % of readings with episodes on fewer than " + fixed(j.mostDays10(), 0) + " days."
	case FlagVeryLow:
		return "Not flagged as very low without values below 3.0 beside a symptom or by fingerstick, or if they were found to be wrong."
	case FlagDipSymptom:
		return "Not flagged for dips if no symptom lay beside one, or if a person found that the sensor and not the glucose was low."
	case FlagVeryHigh:
		return "Not flagged as very high without values at that height, or if they were found to be wrong."
	case FlagLowMedicine:
		return "Not flagged for lows if there were no dip below 3.9, or if the medicine were no longer on record."
	case FlagSwingSymptom:
		return "Not flagged for swings if there were fewer than " + fixed(f.SwingCount, 0) + ", or once the patient was asked about them."
	case FlagHighNights:
		return "Not flagged for nights if fewer than " + fixed(p.Night.HighNights, 0) + " averaged " + fixed(p.Night.HighMmol, 1) + " or more."
	case FlagTooLittle:
		return "A wear with at least " + fixed(p.Wear.MinUsableDays, 0) + " usable days would settle it."
	case FlagSensorDoubt:
		return "A wear with a sensor that holds would settle it."
	case FlagOffPathway:
		return "Not flagged for the record if what is on it no longer holds."
	case FlagRisk:
		return "Not flagged for the record once what is on it is settled."
	}
	return ""
}
