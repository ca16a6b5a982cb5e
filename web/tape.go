package web

import (
	"math"
	"time"

	"wearround/web/chart"
	"wearround/web/form"
	"wearround/worker/wear"
)

// Tape is the wear as a punched strip a day.
func (p WearPage) Tape() Drawing {
	strips := p.strips()
	says := []string{form.Sentence(p.Report.Headline)}
	return Drawing{Says: says, Key: chart.TapeKey, Pictures: draw("tape", half, func(id string, width int) string {
		return chart.Tape(id, finding(says), strips, width)
	})}
}

// Riser is the minutes above 7.8 so far, a line a day. The day is chosen that
// the tracks show alone, or else the one with the most.
func (p WearPage) Riser() Drawing {
	totals := p.dayTotals()
	r := chart.Riser{Days: p.riserDays(), Finding: form.Sentence(p.Report.Headline)}
	for i, d := range totals {
		if d.above.V > totals[r.Chosen].above.V {
			r.Chosen = i
		}
	}
	first, _ := p.days()
	if shown, n := p.window(); n == 1 {
		r.Chosen = wear.DayNumber(shown) - wear.DayNumber(first)
	}
	return Drawing{Key: chart.RiserKey, Pictures: draw("riser", half, func(id string, width int) string {
		r.ID, r.Width = id, width
		return r.Draw().SVG
	})}
}

// tally counts the believed readings of one quarter hour; above are those above
// 7.8 that were taken in it.
type tally struct{ all, high, peak, low, above int }

// tallies sorts the believed readings into quarter hours of the wall clock, a
// row a day. A reading stands for the time up to the next, so that a quarter
// between two readings on time is not called empty.
func (p WearPage) tallies() [][96]tally {
	first, n := p.days()
	tallies := make([][96]tally, n)
	reach := int64(max(p.Report.IntervalS, 60)) - 1
	points := p.points()
	for i, r := range p.Readings {
		if points[i].Suspect {
			continue
		}
		for k, at := range [2]int64{r.At, r.At + reach} {
			clock := time.Unix(at, 0).In(p.zone())
			day := wear.DayNumber(clock) - wear.DayNumber(first)
			if day < 0 || day >= n {
				continue
			}
			t := &tallies[day][(clock.Hour()*60+clock.Minute())/15]
			t.all++
			t.high += bit(points[i].Past&chart.Above78 != 0)
			t.peak += bit(points[i].Past&chart.Above10 != 0)
			t.low += bit(points[i].Past&chart.Below39 != 0)
			t.above += bit(k == 0 && points[i].Past&chart.Above78 != 0)
		}
	}
	return tallies
}

// dayTotal is a day of the pictures with the report's minutes above 7.8.
type dayTotal struct {
	date  time.Time
	above wear.Figure
}

func (p WearPage) dayTotals() []dayTotal {
	minutes := map[string]wear.Figure{}
	for _, d := range p.Report.Days {
		minutes[d.Date] = d.Above7_8Min
	}
	first, n := p.days()
	out := make([]dayTotal, n)
	for i := range out {
		date := first.AddDate(0, 0, i)
		out[i] = dayTotal{date, minutes[date.Format(time.DateOnly)]}
	}
	return out
}

// words is the total as the end of a strip or line says it.
func (d dayTotal) words() string {
	if !d.above.OK {
		return "–"
	}
	return length(int(d.above.V + 0.5))
}

func (p WearPage) strips() []chart.Strip {
	tallies := p.tallies()
	strips := make([]chart.Strip, len(tallies))
	for i, d := range p.dayTotals() {
		strips[i].Name, strips[i].Total = d.date.Format("Mon 2 Jan"), d.words()
		for k, t := range tallies[i] {
			strips[i].Quarters[k] = t.quarter()
		}
	}
	return strips
}

// riserDays share out the report's minutes of each day over the quarters in
// which its readings above 7.8 were taken.
func (p WearPage) riserDays() []chart.RiserDay {
	tallies := p.tallies()
	days := make([]chart.RiserDay, len(tallies))
	for i, d := range p.dayTotals() {
		days[i].Date, days[i].Total = d.date, d.words()
		readings := 0
		for _, t := range tallies[i] {
			readings += t.above
		}
		for k, t := range tallies[i] {
			switch {
			case t.all == 0:
				days[i].Above[k] = math.NaN()
			case readings > 0 && d.above.OK:
				days[i].Above[k] = d.above.V * float64(t.above) / float64(readings)
			}
		}
	}
	return days
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
