package chart

import (
	"html"
	"math"
	"slices"
	"time"
)

// Night is the low point of one night and the morning after it.
type Night struct {
	Date time.Time // any moment of the morning's date, in the wearer's zone
	// Low is the low point of the night, Morning the value before breakfast,
	// both in mmol/L. What is not a finite number is not drawn, and counted.
	Low, Morning         float64
	LowPast, MorningPast Past
	Note                 string // a word or two: "fasting", or why the rise is not judged; or ""
}

// Nights draws a line a night on one scale, from its low point to the morning.
type Nights struct {
	ID      string
	Width   int     // pixels, at least 300
	Nights  []Night // one a date in order; a night without readings has no number, and is drawn as a gap
	Finding string  // the report's sentence about it, or ""
}

// NightKey says how the nights are read.
const NightKey = "Cup: the low point of the night, a triangle where it is below 3.9. Upright bar: the morning, before breakfast; a circle above 7.8, a square above 10. At the end: the rise in mmol/L. Slanted lines: no data."

// Draw makes the picture. Its values are two a night.
func (n *Nights) Draw() Shown {
	var shown Shown
	width := float64(max(n.Width, 300))
	narrow := width < 600
	left, right, layout := 100.0, width*0.6, "Mon 2 Jan"
	if narrow {
		left, right, layout = 54, width-90, "2 Jan"
	}
	values := make([]float64, 0, 2*len(n.Nights))
	for _, night := range n.Nights {
		values = append(values, night.Low, night.Morning)
	}
	r := mmolRuler(left, right, values...)
	const top = 20.0
	bottom := top + linePitch*float64(len(n.Nights))
	for _, v := range values {
		shown.Values += one(finite(v))
	}
	shown.Hidden = len(values) - shown.Values

	var s svg
	s.open("plot nights", n.ID, width, bottom+18+labelLine*float64(one(shown.Hidden > 0)), "Nights: low point and morning", told(n.Finding, n.account(shown.Hidden)))
	id := html.EscapeString(clean(n.ID))
	s.raw(`<defs><pattern id="`, id, `-torn" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(35)"><path class="hatch-gap" d="M3 0V6"/></pattern></defs>`)
	r.marks(&s, top, bottom)
	r.limits(&s, top, bottom, 3.9, 7.8, 10)
	var line, cups, bars, high, peak, low pen
	for i, night := range n.Nights {
		y := top + linePitch*(float64(i)+0.5)
		s.text("small", "start", 0, y+4, fontSize, night.Date.Format(layout))
		noLow, noMorning := !finite(night.Low), !finite(night.Morning)
		words, class := "", "small"
		switch {
		case noLow && noMorning:
			s.rect("torn", left, y-5, right-left, 10, ` fill="url(#`, id, `-torn)"`)
			words = "no data"
		case noLow:
			words = "no low point"
		case noMorning:
			words = "no morning"
		default:
			line.move(r.x(night.Low), y)
			line.line(r.x(night.Morning), y)
			words, class = signed(night.Morning-night.Low), "label"
		}
		if !noLow {
			if night.LowPast&Below39 != 0 {
				low.triangle(r.x(night.Low), y, 9)
			} else {
				cups.cup(r.x(night.Low), y, 8)
			}
		}
		if !noMorning {
			x := r.x(night.Morning)
			switch {
			case night.MorningPast&Above10 != 0:
				peak.box(x, y, 9, 9)
			case night.MorningPast&Above78 != 0:
				high.circle(x, y, 4.5)
			case night.MorningPast&Below39 != 0:
				low.triangle(x, y, 9)
			default:
				bars.box(x, y, 2.6, 12)
			}
		}
		s.text(class, "start", right+10, y+4, fontSize, words)
		aside := right + 10 + textWidth("no low point", fontSize) + labelSpace
		if note := fitted(night.Note, width-aside, fontSize); note != "" && !narrow {
			s.text("small", "start", aside, y+4, fontSize, note)
		}
	}
	s.path("line-value", line.String())
	s.path("line-mark", cups.String())
	s.path("fill-ink", bars.String())
	s.path("fill-high", high.String())
	s.path("fill-peak", peak.String())
	s.path("fill-low", low.String())
	if shown.Hidden > 0 {
		s.text("small", "start", 0, bottom+28, fontSize, missing(shown.Hidden, len(values)))
	}
	shown.SVG = s.close()
	return shown
}

// account says what the nights show.
func (n *Nights) account(hidden int) string {
	if len(n.Nights) == 0 {
		return "No night has any data."
	}
	var rises, mornings []float64
	lowest := math.Inf(1)
	for _, night := range n.Nights {
		if finite(night.Low) {
			lowest = min(lowest, night.Low)
		}
		if finite(night.Morning) {
			mornings = append(mornings, night.Morning)
			if finite(night.Low) {
				rises = append(rises, night.Morning-night.Low)
			}
		}
	}
	s := count(len(n.Nights), "night") + "."
	if finite(lowest) {
		s += " Lowest point " + oneDecimal(lowest) + " mmol/L."
	}
	if len(mornings) > 0 {
		s += " Median morning " + oneDecimal(median(mornings)) + " mmol/L."
	}
	if len(rises) > 0 {
		s += " Median rise " + signed(median(rises)) + " mmol/L over " + count(len(rises), "night") + "."
	}
	if hidden > 0 {
		s += " " + missing(hidden, 2*len(n.Nights)) + "."
	}
	return s
}

// median of values, or not a number where there is none.
func median(values []float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	slices.Sort(values)
	n := len(values)
	return (values[(n-1)/2] + values[n/2]) / 2
}
