package wear

import "math"

// priority is the wear's place on the round: the most pressing tier of its
// flags, and a score that is the sum of its parts and nothing else. Every part
// but that of a severe symptom moves smoothly with the data. The scale comes from published values of
// healthy people: no points at the usual value, ten at the upper limit of
// normal. No part is fitted to any cohort.
func (j *judge) priority() Priority {
	p := j.in.Protocol
	pr := Priority{Tier: tierOf(j.r.Flags), Parts: make([]Part, 0, 8)}
	pr.DueDays = p.Due.Days(pr.Tier)
	for _, f := range j.r.Flags { // what cannot be told may be due before what is for this month
		pr.DueDays = min(pr.DueDays, p.Due.Days(f.Tier))
		if f.Code == FlagUnread {
			pr.DueDays = min(pr.DueDays, p.Due.Words)
		}
	}
	if pr.Near = pr.Tier == Routine && len(j.r.Near) > 0; pr.Near {
		pr.DueDays = p.Due.Near
	}

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
	if low := j.r.MetricsAll.Below3_9Pct; j.lowers && low.OK {
		add("low_on_medicine", "time below 3.9 on glucose-lowering medicine", s.PerLowPct*low.V,
			percent(low)+" of readings × "+trimmed(s.PerLowPct)+" points")
	}
	if j.flagged(FlagSevere) {
		add("severe_symptom", "a severe symptom", s.Severe, trimmed(s.Severe)+" points, whatever the glucose")
	}
	pr.Score = float64(tenths) / 10
	pr.Lower = j.lower(pr)
	return pr
}

// lower says what would give the wear a lower place: for each flag of its tier
// what would have to be otherwise. Points are no advice to have less of anything.
func (j *judge) lower(pr Priority) []string {
	out := make([]string, 0, 4)
	for _, f := range j.r.Flags {
		if k, known := FlagOf(f.Code); f.Tier == pr.Tier && known {
			out = append(out, k.undo(j))
		}
	}
	return out
}

// tierOf is that of the most pressing flag.
func tierOf(flags []Flag) Tier {
	tier := Routine
	for _, f := range flags {
		if f.Tier.Rank() < tier.Rank() {
			tier = f.Tier
		}
	}
	return tier
}
