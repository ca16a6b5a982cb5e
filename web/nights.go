package web

import (
	"time"

	"wearround/web/chart"
	"wearround/worker/wear"
)

// Nights are a line a night, from its low point to the morning.
func (p WearPage) Nights() Drawing {
	if len(p.Report.Nights) == 0 {
		return Drawing{Says: []string{"No night has readings that are believed."}}
	}
	d := Drawing{Says: remarks(p.Report.Explained, "dawn", "fasting"), Key: chart.NightKey}
	n := chart.Nights{Nights: p.nights(), Finding: finding(d.Says)}
	if len(d.Says) == 0 {
		d.Says = []string{"Too few nights count for a sentence about mornings."}
	}
	d.Pictures = draw("nights", whole, func(id string, width int) string {
		n.ID, n.Width = id, width
		return n.Draw().SVG
	})
	return d
}

// nights are every date from the first night of the report to its last. The
// low point is a running median and the morning a mean: neither has a recorded
// unit, so they are held against the limits in mmol/L, as the engine does.
func (p WearPage) nights() []chart.Night {
	byDate := map[string]wear.Night{}
	for _, n := range p.Report.Nights {
		byDate[n.Date] = n
	}
	first, ok := isoDay(p.Report.Nights[0].Date)
	last, ends := isoDay(p.Report.Nights[len(p.Report.Nights)-1].Date)
	if !ok || !ends {
		return nil
	}
	var out []chart.Night
	for date := first; !date.After(last); date = date.AddDate(0, 0, 1) {
		n := byDate[date.Format(time.DateOnly)]
		night := chart.Night{Date: date, Low: drawn(n.NadirMmol), Morning: drawn(n.MorningMmol), Note: n.WhyNot}
		if n.FastingMmol.OK && n.WhyNot == "" {
			night.Note = "fasting"
		}
		if n.NadirMmol.OK && n.NadirMmol.V < wear.Limit3_9.Mmol() {
			night.LowPast = chart.Below39
		}
		switch v := n.MorningMmol.V; {
		case !n.MorningMmol.OK:
		case v > wear.Limit10_0.Mmol():
			night.MorningPast = chart.Above78 | chart.Above10
		case v > wear.Limit7_8.Mmol():
			night.MorningPast = chart.Above78
		case v < wear.Limit3_9.Mmol():
			night.MorningPast = chart.Below39
		}
		out = append(out, night)
	}
	return out
}
