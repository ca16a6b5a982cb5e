package web

import (
	"slices"

	"wearround/web/chart"
	"wearround/web/form"
	"wearround/worker/wear"
)

// tierMarks are the tiers as marks show them.
var tierMarks = map[wear.Tier]chart.Tier{
	wear.Routine: chart.TierRoutine, wear.ThisMonth: chart.TierThisMonth, wear.ThisWeek: chart.TierThisWeek, wear.Today: chart.TierToday,
}

// Years are the patient's wears on one ruler of years. The finding is that of
// the newest.
func (p PatientPage) Years() Drawing {
	if len(p.Wears) == 0 {
		return Drawing{Says: []string{"No wear has come yet."}}
	}
	newest := p.Wears[0]
	d := Drawing{Says: []string{p.Span(newest.Start, newest.End) + ": " + form.Sentence(newest.Headline)}}
	if len(p.Wears) == 1 {
		return d // the table beneath says as much
	}
	d.Key = chart.YearKey
	y := chart.Years{Finding: finding(d.Says)}
	for _, w := range slices.Backward(p.Wears) {
		if w.Start.IsZero() {
			continue // without readings it has no place in time; the table has it
		}
		tier, ok := tierMarks[w.Tier]
		if !ok {
			tier = chart.TierCannotTell
		}
		y.Wears = append(y.Wears, chart.YearWear{From: p.in(w.Start), Tier: tier, Text: w.Tier.Words()})
	}
	d.Pictures = draw("years", whole, func(id string, width int) string {
		y.ID, y.Width = id, width
		return y.Draw().SVG
	})
	return d
}
