package chart

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"time"
)

// RiserDay is one day of a [Riser].
type RiserDay struct {
	Date time.Time // any moment of the day, in the wearer's zone
	// Above holds the minutes above 7.8 mmol/L in each quarter of an hour by
	// the clock on the wall, from midnight. What is not a finite number is a
	// quarter of which nothing is believed.
	Above [96]float64
	Total string // "4 h 15": the report's figure for the day
}

// Riser draws the minutes above 7.8 so far that day, a line a day: a steep
// stretch shows when in the day they came, the end how many they were. It has
// no scale of glucose.
type Riser struct {
	ID      string
	Width   int // pixels, at least 300
	Days    []RiserDay
	Chosen  int    // index of the day drawn thick, or -1
	Finding string // the report's sentence about it, or ""
}

// RiserKey says how a riser is read.
const RiserKey = "A line a day, rising by the minutes above 7.8; the thick line is the day whose name is bold. Broken where nothing is believed; such a day is dashed, and its total is at least what is shown."

// Measures of a riser in pixels.
const (
	riserHeight = 250.0
	riserLabel  = 14.0 // between two end labels
	riserMost   = 40   // end labels; of a longer wear the highest are named
)

// climb is the drawn line of one day.
type climb struct {
	*RiserDay
	index   int
	solid   bool    // nothing is missing
	end     float64 // quarter of the day at which the line ends
	minutes float64 // its height there
}

// Draw makes the picture. Its values are the days.
func (r *Riser) Draw() Shown {
	var shown Shown
	climbs := make([]climb, 0, len(r.Days))
	for i := range r.Days {
		c := climb{RiserDay: &r.Days[i], index: i, solid: true}
		for k, m := range c.Above {
			if !finite(m) {
				c.solid = false
				continue
			}
			c.end = float64(k + 1)
			c.minutes += max(m, 0)
		}
		if c.end == 0 {
			shown.Hidden++
			continue
		}
		climbs = append(climbs, c)
	}
	shown.Values = len(climbs)
	slices.SortStableFunc(climbs, func(a, b climb) int { return cmp.Compare(b.minutes, a.minutes) })

	width := float64(max(r.Width, 300))
	named := r.named(climbs)
	labels, labelRoom := riserLabels(named, width)
	height := max(riserHeight, riserLabel*float64(len(named)))
	p := riserPlan{left: 46, right: width - labelRoom - 18, top: 22, bottom: 22 + height}
	p.most, p.step = 60, 15
	if len(climbs) > 0 {
		p.most = max(p.most, climbs[0].minutes)
	}
	for _, step := range []float64{30, 60, 120, 180, 240, 360} {
		if p.most/p.step > 6 {
			p.step = step
		}
	}
	p.most = math.Ceil(p.most/p.step) * p.step

	bottom := p.bottom + 20
	notes := r.notes(shown.Hidden, len(climbs)-len(named))
	p.open("plot riser", r.ID, width, bottom+labelLine*float64(len(notes)), "Minutes above 7.8 so far that day", told(r.Finding, r.account(climbs, shown.Hidden)))
	p.text("small", "start", 0, 11, fontSize, "minutes above 7.8 so far that day")
	p.axes()
	p.lines(climbs, r.Chosen)
	p.ends(named, labels, r.Chosen)
	for i, note := range notes {
		p.text("small", "start", p.left, bottom+labelLine*float64(i)+8, fontSize, note)
	}
	shown.SVG = p.close()
	return shown
}

// named are the days whose ends are labelled: the highest, and the chosen one.
func (r *Riser) named(climbs []climb) []climb {
	if len(climbs) <= riserMost {
		return climbs
	}
	named := slices.Clone(climbs[:riserMost])
	for _, c := range climbs[riserMost:] {
		if c.index == r.Chosen {
			named[riserMost-1] = c
		}
	}
	return named
}

// notes are the lines that say what is not drawn or not named.
func (r *Riser) notes(hidden, unnamed int) []string {
	var out []string
	if hidden > 0 {
		out = append(out, count(hidden, "day")+" without data not drawn")
	}
	if unnamed > 0 {
		out = append(out, count(unnamed, "day")+" drawn without a name")
	}
	return out
}

// riserLabels words the end of each day as fully as leaves half the width, or
// 150 pixels, to the lines. Room is that of the longest.
func riserLabels(days []climb, width float64) (labels []string, room float64) {
	for _, form := range []func(climb) string{
		func(c climb) string { return c.Date.Format("Mon 2 Jan") + " · " + c.atLeast() + shorten(c.Total, 12) },
		func(c climb) string { return c.Date.Format("2 Jan") + " · " + c.atLeast() + shorten(c.Total, 12) },
		func(c climb) string { return c.Date.Format("2 Jan") + " " + c.atLeast() },
	} {
		labels, room = labels[:0], 0
		for _, c := range days {
			label := form(c)
			labels = append(labels, label)
			room = max(room, textWidth(label, fontSize))
		}
		if room <= width-max(width/2, 150)-64 {
			break
		}
	}
	return labels, room
}

func (c climb) atLeast() string {
	if c.solid {
		return ""
	}
	return "at least "
}

// account says what the riser shows.
func (r *Riser) account(climbs []climb, hidden int) string {
	if len(climbs) == 0 {
		return "No day has any data."
	}
	say := func(c climb) string {
		return c.Date.Format("Mon 2 Jan") + ", " + c.atLeast() + clean(c.Total) + " above 7.8"
	}
	s := count(len(climbs), "day") + " drawn. The highest: " + say(climbs[0]) + "."
	partial := 0
	for _, c := range climbs {
		partial += one(!c.solid)
		if c.index == r.Chosen {
			s += " The chosen day: " + say(c) + "."
		}
	}
	if partial > 0 {
		s += " On " + count(partial, "day") + " data is missing, so the total is at least what is shown."
	}
	if hidden > 0 {
		s += " " + count(hidden, "day") + " without data not drawn."
	}
	return s
}

// riserPlan is the plot of one riser.
type riserPlan struct {
	svg
	left, right, top, bottom float64
	most, step               float64 // minutes: the highest, and from line to line
}

func (p *riserPlan) x(quarter float64) float64 { return p.left + quarter/96*(p.right-p.left) }
func (p *riserPlan) y(minutes float64) float64 {
	return p.bottom - minutes/p.most*(p.bottom-p.top)
}

func (p *riserPlan) axes() {
	var lines, base pen
	for m := p.step; m <= p.most; m += p.step {
		lines.move(p.left, p.y(m))
		lines.line(p.right, p.y(m))
		p.text("small", "end", p.left-6, p.y(m)+4, 10, minutesName(int(m)))
	}
	base.move(p.left, p.bottom)
	base.line(p.right, p.bottom)
	step := 6
	if p.x(24)-p.x(0) < 40 {
		step = 12
	}
	for hour := 0; hour <= 24; hour += step {
		x := p.x(4 * float64(hour))
		base.move(x, p.bottom)
		base.line(x, p.bottom+3)
		p.text("small", "middle", x, p.bottom+14, 10, clockHour(hour))
	}
	p.path("line-hour", lines.String())
	p.path("line-day", base.String())
}

// minutesName is "45 min", "2 h" or "1 h 30".
func minutesName(m int) string {
	switch {
	case m < 60:
		return strconv.Itoa(m) + " min"
	case m%60 == 0:
		return strconv.Itoa(m/60) + " h"
	}
	return strconv.Itoa(m/60) + " h " + strconv.Itoa(m%60)
}

func clockHour(hour int) string {
	if hour < 10 {
		return "0" + strconv.Itoa(hour) + ":00"
	}
	return strconv.Itoa(hour) + ":00"
}

// lines draws the days, the chosen one last and over the others.
func (p *riserPlan) lines(climbs []climb, chosen int) {
	var solid, dashed pen
	for _, c := range climbs {
		switch {
		case c.index == chosen:
		case c.solid:
			p.climb(&solid, c)
		default:
			p.climb(&dashed, c)
		}
	}
	p.path("line-stone", solid.String())
	p.path("line-stone dashed", dashed.String())
	for _, c := range climbs {
		if c.index == chosen {
			var thick pen
			p.climb(&thick, c)
			class := "line-chosen"
			if !c.solid {
				class += " dashed"
			}
			p.path(class, thick.String())
		}
	}
}

// climb writes one day: a place wherever the slope changes, and no line
// through quarters of which nothing is believed.
func (p *riserPlan) climb(d *pen, c climb) {
	sum := 0.0
	for k := 0; k < 96; {
		if !finite(c.Above[k]) {
			k++
			continue
		}
		d.move(p.x(float64(k)), p.y(sum))
		for k < 96 && finite(c.Above[k]) {
			slope := max(c.Above[k], 0)
			for k < 96 && finite(c.Above[k]) && max(c.Above[k], 0) == slope {
				sum += slope
				k++
			}
			d.line(p.x(float64(k)), p.y(sum))
		}
	}
}

// ends writes the labels, pushed apart, each with a fine line from the end of
// its day. Days come highest first.
func (p *riserPlan) ends(days []climb, labels []string, chosen int) {
	at := make([]float64, len(days))
	for i, c := range days {
		at[i] = p.y(c.minutes)
	}
	var leaders pen
	for i, y := range spread(at, riserLabel, p.top, p.bottom) {
		leaders.move(p.x(days[i].end), at[i])
		leaders.line(p.right, at[i])
		leaders.line(p.right+14, y)
		class := "label"
		if days[i].index == chosen {
			class = "label-chosen"
		}
		p.text(class, "start", p.right+16, y+4, fontSize, labels[i])
	}
	p.path("line-hour", leaders.String())
}
