package web

import (
	"cmp"
	"math"
	"slices"

	"wearround/web/chart"
	"wearround/worker/wear"
)

// drawn is a figure as charts take it: what cannot be given is not a number.
func drawn(f wear.Figure) float64 {
	if !f.OK {
		return math.NaN()
	}
	return f.V
}

// Meals are a line a meal, like meals together.
func (p WearPage) Meals() Drawing {
	if len(p.Report.Meals) == 0 {
		return Drawing{Says: []string{"No meal was logged, so nothing can be said about meals."}}
	}
	d := Drawing{Says: remarks(p.Report.Explained, "like_meals", "meals")}
	if !slices.ContainsFunc(p.Report.Meals, func(m wear.MealFig) bool { return m.Judged }) {
		return d
	}
	points := p.points()
	m := chart.MealLines{Comparable: p.LikeMeals, Finding: finding(d.Says)}
	for _, f := range p.Report.Meals {
		m.Meals = append(m.Meals, chart.Meal{
			At: f.At.In(p.zone()), Label: cmp.Or(f.Like, f.Label), Before: drawn(f.BaselineMmol), Peak: drawn(f.PeakMmol), TwoHours: drawn(f.At2hMmol),
			Past: peakPast(points, f), Judged: f.Judged,
		})
	}
	d.Key = chart.MealKey
	d.Pictures = draw("meals", whole, func(id string, width int) string {
		m.ID, m.Width = id, width
		return m.Draw().SVG
	})
	return d
}

// peakPast says which limits a meal's peak is past: those that the reading at
// the peak is past in its own unit.
func peakPast(points []chart.Point, m wear.MealFig) chart.Past {
	if !m.PeakMmol.OK {
		return 0
	}
	at := m.At.Unix() + int64(math.Round(m.PeakAfterMin.V*60))
	i, found := slices.BinarySearchFunc(points, at, func(q chart.Point, at int64) int { return cmp.Compare(q.At, at) })
	if !found {
		return 0
	}
	return points[i].Past
}
