package web

import (
	"html/template"
	"time"

	"wearround/web/chart"
	"wearround/worker/wear"
)

// Tapes are the wear as a punched strip a day, once a width.
func (p WearPage) Tapes() []Picture {
	strips := p.strips()
	return []Picture{
		{Class: "tape-wide", SVG: template.HTML(chart.Tape("tape-wide", strips, 596))},
		{Class: "tape-slim", SVG: template.HTML(chart.Tape("tape-slim", strips, 310))},
	}
}

// tally counts the believed readings of one quarter hour.
type tally struct{ all, high, peak, low int }

// strips sorts the believed readings into quarter hours of the wall clock. A
// reading stands for the time up to the next, so that a quarter between two
// readings on time is not called empty.
func (p WearPage) strips() []chart.Strip {
	first, n := p.days()
	strips, tallies := make([]chart.Strip, n), make([][96]tally, n)
	reach := int64(max(p.Report.IntervalS, 60)) - 1
	points := p.points()
	for i, r := range p.Readings {
		if points[i].Suspect {
			continue
		}
		for _, at := range [2]int64{r.At, r.At + reach} {
			clock := time.Unix(at, 0).In(p.zone())
			day := dayNumber(clock) - dayNumber(first)
			if day < 0 || day >= n {
				continue
			}
			t := &tallies[day][(clock.Hour()*60+clock.Minute())/15]
			t.all++
			t.high += bit(points[i].Past&chart.Above78 != 0)
			t.peak += bit(points[i].Past&chart.Above10 != 0)
			t.low += bit(points[i].Past&chart.Below39 != 0)
		}
	}
	totals := map[string]wear.Figure{}
	for _, d := range p.Report.Days {
		totals[d.Date] = d.Above7_8Min
	}
	for i := range strips {
		date := first.AddDate(0, 0, i)
		strips[i].Name, strips[i].Total = date.Format("Mon 2 Jan"), "–"
		if f := totals[date.Format(time.DateOnly)]; f.OK {
			strips[i].Total = length(int(f.V + 0.5))
		}
		for k, t := range tallies[i] {
			strips[i].Quarters[k] = t.quarter()
		}
	}
	return strips
}

// quarter is above 7.8 where half or more of its readings are; above 10 or
// below 3.9 where any is.
func (t tally) quarter() chart.Quarter {
	if t.all == 0 {
		return chart.QuarterNoData
	}
	var q chart.Quarter
	if 2*t.high >= t.all {
		q |= chart.QuarterAbove78
	}
	if t.peak > 0 {
		q |= chart.QuarterAbove10
	}
	if t.low > 0 {
		q |= chart.QuarterBelow39
	}
	return q
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}
