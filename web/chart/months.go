package chart

import "strconv"

// Month counts the wears read in one month that needed follow-up.
type Month struct {
	Name string // "Jan 2026"
	Done int    // off the round, with an outcome
	Open int    // on the round
}

// Months draws what became of the wears of each month: a pile of bricks a
// month, so that a month left behind shows by its hollow ones.
type Months struct {
	ID      string
	Width   int // pixels, at least 300
	Months  []Month
	Finding string // a sentence about it, or ""
}

// MonthKey says how the bricks are read.
const MonthKey = "A pile a month, of the wears that needed follow-up. Filled brick: with an outcome. Hollow brick: still on the round."

// Measures of a pile in pixels.
const (
	brickHeight = 5.0
	brickStep   = 7.0
	mostBricks  = 24
)

// Draw makes the picture. Its values are the months.
func (q *Months) Draw() Shown {
	width := float64(max(q.Width, 300))
	each, tallest := q.brick()
	bricks := func(n int) int { return (n + each - 1) / each }
	base := 16 + brickStep*float64(tallest)
	note := 15 * float64(one(each > 1))
	var s svg
	s.open("plot months", q.ID, width, base+20+note, "Month by month", told(q.Finding, q.account()))
	var full, hollow, line pen
	line.move(0, base)
	line.line(width, base)
	step := width / float64(max(1, len(q.Months)))
	wide := min(18, step*0.7)
	named := -1.0 // where the last name ends
	for i, m := range q.Months {
		x := step * (float64(i) + 0.5)
		y := base - brickStep/2
		for range bricks(m.Done) {
			full.box(x, y, wide, brickHeight)
			y -= brickStep
		}
		for range bricks(m.Open) {
			hollow.box(x, y, wide-1, brickHeight-1)
			y -= brickStep
		}
		if n := strconv.Itoa(m.Done + m.Open); textWidth(n, 10)+3 < step {
			s.text("small", "middle", x, y+brickStep/2-1, 10, n)
		}
		name := shorten(m.Name, 12)
		room := textWidth(name, 10)
		if left := max(0, min(x-room/2, width-room)); left > named {
			s.text("small", "start", left, base+14, 10, name)
			named = left + room + 6
		}
	}
	s.path("line-day", line.String())
	s.path("fill-ink", full.String())
	s.path("open", hollow.String())
	if each > 1 {
		s.text("small", "start", 0, base+31, fontSize, "Each brick stands for up to "+strconv.Itoa(each)+" wears")
	}
	return Shown{SVG: s.close(), Values: len(q.Months)}
}

// brick is how many wears one brick stands for, so that no pile is too high,
// and how many bricks the highest has.
func (q *Months) brick() (each, tallest int) {
	for each = 1; ; each *= 2 {
		tallest = 0
		for _, m := range q.Months {
			tallest = max(tallest, (m.Done+each-1)/each+(m.Open+each-1)/each)
		}
		if tallest <= mostBricks {
			return each, tallest
		}
	}
}

// account says what the piles show.
func (q *Months) account() string {
	if len(q.Months) == 0 {
		return "No month to show."
	}
	s := ""
	for i, m := range q.Months {
		if i > 0 {
			s += "; "
		}
		s += clean(m.Name) + ": " + count(m.Done+m.Open, "wear")
		if m.Open > 0 {
			s += ", " + strconv.Itoa(m.Open) + " on the round"
		}
	}
	return s + "."
}
