package chart

import (
	"math"
	"strconv"
	"strings"
)

// Shown is a picture and the account of what it shows.
type Shown struct {
	SVG    string
	Values int // values drawn
	Hidden int // values that could not be drawn; the picture says so in words
}

// ruler is a level scale on which values are compared by their place.
type ruler struct{ left, right, low, high float64 }

// x is the place of a value; what lies past an end is drawn at it.
func (r ruler) x(v float64) float64 {
	return r.left + (max(r.low, min(r.high, v))-r.low)/(r.high-r.low)*(r.right-r.left)
}

// step is the least of 1, 2, 5, 10, ... units that leaves so many pixels
// between two marks.
func (r ruler) step(pixels float64) float64 {
	unit := (r.right - r.left) / (r.high - r.low)
	for power := 1.0; ; power *= 10 {
		for _, n := range [3]float64{1, 2, 5} {
			if n*power*unit >= pixels {
				return n * power
			}
		}
	}
}

// marks draws a fine line at every step from top to bottom, with its number
// beneath.
func (r ruler) marks(s *svg, top, bottom float64) {
	var lines pen
	step := r.step(24)
	for v := math.Ceil(r.low/step) * step; v <= r.high; v += step {
		lines.move(r.x(v), top)
		lines.line(r.x(v), bottom)
		s.text("small", "middle", r.x(v), bottom+12, 10, strconv.Itoa(int(v)))
	}
	s.path("line-hour", lines.String())
}

// limits draws the dotted limits that lie on the ruler, with their values
// above it.
func (r ruler) limits(s *svg, top, bottom float64, limits ...float64) {
	var dots pen
	var at []float64
	var names []string
	for _, v := range limits {
		if v < r.low || v > r.high {
			continue
		}
		dots.move(r.x(v), top)
		dots.line(r.x(v), bottom)
		at = append(at, r.x(v))
		names = append(names, strconv.FormatFloat(v, 'f', -1, 64))
	}
	for i, x := range spread(at, textWidth("10.0", fontSize), r.left, r.right) {
		s.text("limit", "middle", x, top-4, fontSize, names[i])
	}
	s.path("line-limit", dots.String())
}

// mmolRuler spans the values, and from 4 to 11 mmol/L at the least, so that
// ordinary pictures can be compared with each other.
func mmolRuler(left, right float64, values ...float64) ruler {
	r := ruler{left, right, 4, 11}
	for _, v := range values {
		if finite(v) {
			r.low = max(0, min(r.low, math.Floor(v)))
			r.high = min(60, max(r.high, math.Ceil(v)))
		}
	}
	return r
}

// spread moves places, given in rising order, by as little as it can (least
// sum of squares) so that neighbours stand a gap apart and all lie between low
// and high; high gives way where there is no room for that. It pools
// neighbours that push each other into blocks that move as one.
func spread(at []float64, gap, low, high float64) []float64 {
	type block struct {
		sum float64
		n   int
	}
	mean := func(b block) float64 { return b.sum / float64(b.n) }
	var blocks []block
	for i, v := range at {
		b := block{v - gap*float64(i), 1}
		for len(blocks) > 0 && mean(blocks[len(blocks)-1]) >= mean(b) {
			last := blocks[len(blocks)-1]
			blocks = blocks[:len(blocks)-1]
			b = block{last.sum + b.sum, last.n + b.n}
		}
		blocks = append(blocks, b)
	}
	out := make([]float64, 0, len(at))
	top := max(low, high-gap*float64(len(at)-1))
	for _, b := range blocks {
		first := max(low, min(top, mean(b)))
		for range b.n {
			out = append(out, first+gap*float64(len(out)))
		}
	}
	return out
}

// oneDecimal writes a value as the tables do, rounded half away from nought.
func oneDecimal(v float64) string {
	r := math.Round(v*10+math.Copysign(1e-9, v)) / 10
	if r == 0 {
		r = 0 // no minus sign on nought
	}
	return strconv.FormatFloat(r, 'f', 1, 64)
}

// shortest writes the end of a ruler with one decimal at most: "11", "0.5".
func shortest(v float64) string { return strings.TrimSuffix(oneDecimal(v), ".0") }

// signed is oneDecimal with the sign that a change has.
func signed(v float64) string {
	s := oneDecimal(v)
	if s[0] == '-' || s == "0.0" {
		return s
	}
	return "+" + s
}

// fitted shortens a text to the room it has, in pixels.
func fitted(s string, room, size float64) string {
	for n := 60; n > 1; n-- {
		if short := shorten(s, n); textWidth(short, size) <= room {
			return short
		}
	}
	return ""
}

// wrapped breaks a text between words into so many lines at most, each of
// which fits the room; what is longer is shortened.
func wrapped(s string, room, size float64, lines int) []string {
	var out []string
	line := ""
	words := strings.Fields(clean(s))
	for i, word := range words {
		longer := strings.TrimSpace(line + " " + word)
		if line == "" || textWidth(longer, size) <= room {
			line = longer
			continue
		}
		if len(out)+1 == lines {
			line = strings.Join(append([]string{line}, words[i:]...), " ")
			break
		}
		out = append(out, fitted(line, room, size))
		line = word
	}
	if line == "" {
		return out
	}
	return append(out, fitted(line, room, size))
}

// told joins the engine's finding and the account of the drawing to the
// description that stands for a picture.
func told(finding, account string) string {
	if finding == "" {
		return account
	}
	return finding + " " + account
}
