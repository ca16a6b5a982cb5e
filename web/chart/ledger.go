package chart

import (
	"strconv"
	"strings"
)

// Pip is one day of a wear as the ledger row counts it.
type Pip struct {
	Usable  bool // enough believed readings to judge the day
	Above78 bool // the day met the rule for 7.8 mmol/L
	Above10 bool // the day met the rule for 10 mmol/L
	Dip     bool // a dip with a symptom
}

// The ledger row's measures in pixels.
const (
	ledgerPitch  = 16.0 // from day to day, while there is room
	ledgerHeight = 36.0
	ledgerLine   = 30 // days to a line; a longer wear takes a second
)

// LedgerRow draws a wear as a pip a day on two lines: above, a circle, filled
// where the day met the 7.8 rule; below, a square, filled where it met the 10
// rule, or a downward triangle for a dip with a symptom. A struck tall box is
// a day without enough data. A wider space parts the weeks. The row fits in
// width pixels, up to 30 days to a line.
func LedgerRow(id string, days []Pip, width int) string {
	lines := max(1, (len(days)+ledgerLine-1)/ledgerLine)
	perLine := min(max(len(days), 1), ledgerLine)
	weeks := float64((perLine - 1) / 7)
	pitch := min(ledgerPitch, float64(width)/(float64(perLine)+weeks*0.4))
	var circles, circlesOpen, squares, squaresOpen, dips, boxes pen
	size := pitch * 0.66
	for i, d := range days {
		col := i % ledgerLine
		x := pitch * (float64(col) + 0.4*float64(col/7) + 0.5)
		top := ledgerHeight * float64(i/ledgerLine)
		upper, lower := top+10, top+27
		if !d.Usable {
			h := 28.0
			if d.Above10 || d.Dip {
				h = 14 // leaves the lower line to what was seen in spite of the missing data
			}
			if !d.Above78 {
				boxes.box(x, top+4.5+h/2, size, h)
				boxes.move(x-size/2, top+4.5+h)
				boxes.line(x+size/2, top+4.5)
			}
		}
		switch {
		case d.Above78:
			circles.circle(x, upper, size/2)
		case d.Usable:
			circlesOpen.circle(x, upper, size/2-0.5)
		}
		switch {
		case d.Above10 && d.Dip: // both, side by side
			squares.box(x-size*0.26, lower, size*0.44, size)
			dips.triangle(x+size*0.36, lower, size*0.6)
		case d.Above10:
			squares.box(x, lower, size, size)
		case d.Dip:
			dips.triangle(x, lower, size*1.15)
		case d.Usable || d.Above78:
			squaresOpen.box(x, lower, size-1, size-1)
		}
	}
	var s svg
	s.open("ledger", id, pitch*(float64(perLine)+0.4*weeks), ledgerHeight*float64(lines), "Days of this wear", LedgerSentence(days))
	s.path("line-high", circlesOpen.String())
	s.path("fill-high", circles.String())
	s.path("line-stone", squaresOpen.String())
	s.path("fill-peak", squares.String())
	s.path("fill-low", dips.String())
	s.path("line-stone", boxes.String())
	return s.close()
}

// LedgerKey draws one pip column by itself, for a key beneath the rows. Its
// meaning stands beside it in words, so it is hidden from screen readers.
func LedgerKey(d Pip) string {
	row := LedgerRow("key", []Pip{d}, int(ledgerPitch))
	_, marks, _ := strings.Cut(row, "</desc>")
	return `<svg class="ledger" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 36" width="16" height="36" aria-hidden="true">` + marks
}

// LedgerSentence says a ledger row in words, for those who cannot see it.
func LedgerSentence(days []Pip) string {
	var usable, high, peak, dip int
	for _, d := range days {
		usable += one(d.Usable)
		high += one(d.Above78 && d.Usable)
		peak += one(d.Above10)
		dip += one(d.Dip)
	}
	if len(days) == 0 {
		return "No day has any data."
	}
	s := "Above 7.8 on " + strconv.Itoa(high) + " of " + count(usable, "usable day")
	if peak > 0 {
		s += "; above 10 on " + count(peak, "day")
	}
	if dip > 0 {
		s += "; a dip with a symptom on " + count(dip, "day")
	}
	if missing := len(days) - usable; missing > 0 {
		s += "; " + count(missing, "day") + " without enough data"
	}
	return s + "."
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}
