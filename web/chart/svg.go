package chart

import (
	"html"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"wearround/web/face"
)

// svg collects the text of one picture.
type svg struct{ b strings.Builder }

// open starts the picture: its size in pixels, and the two texts that stand
// for it where it cannot be seen. id must be unique on the page.
func (s *svg) open(class, id string, width, height float64, title, desc string) {
	id = html.EscapeString(clean(id))
	s.raw(`<svg class="`, class, `" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 `, num(width), ` `, num(height),
		`" width="`, num(width), `" height="`, num(height), `" role="img" aria-labelledby="`, id, `-t `, id, `-d">`,
		`<title id="`, id, `-t">`, html.EscapeString(clean(title)), `</title><desc id="`, id, `-d">`, html.EscapeString(clean(desc)), `</desc>`)
}

func (s *svg) close() string {
	s.raw(`</svg>`)
	return s.b.String()
}

func (s *svg) raw(parts ...string) {
	for _, p := range parts {
		s.b.WriteString(p)
	}
}

// path draws d, where there is anything to draw.
func (s *svg) path(class, d string) {
	if d != "" {
		s.raw(`<path class="`, class, `" d="`, d, `"/>`)
	}
}

func (s *svg) rect(class string, x, y, w, h float64, more ...string) {
	s.raw(`<rect class="`, class, `" x="`, num(x), `" y="`, num(y), `" width="`, num(w), `" height="`, num(h), `"`)
	s.raw(more...)
	s.raw(`/>`)
}

// text writes one label with its base line at y. anchor is "start", "middle"
// or "end".
func (s *svg) text(class, anchor string, x, y, size float64, label string) {
	s.raw(`<text class="`, class, `" x="`, num(x), `" y="`, num(y), `" font-size="`, num(size), `"`)
	if anchor != "start" {
		s.raw(` text-anchor="`, anchor, `"`)
	}
	s.raw(`>`, html.EscapeString(label), `</text>`)
}

// num writes a coordinate with at most one decimal.
func num(v float64) string { return tenths(toTenths(v)) }

// toTenths rounds a coordinate to whole tenths of a pixel. What is not a
// finite number becomes 0, so that no picture can ever carry "NaN".
func toTenths(v float64) int {
	if math.IsNaN(v) || math.Abs(v) > 1e8 {
		return 0
	}
	return int(math.Round(v * 10))
}

func tenths(t int) string {
	if t%10 == 0 {
		return strconv.Itoa(t / 10)
	}
	sign := ""
	if t < 0 {
		sign, t = "-", -t
	}
	whole := ""
	if t >= 10 {
		whole = strconv.Itoa(t / 10)
	}
	return sign + whole + "." + strconv.Itoa(t%10)
}

// pen writes path data in relative moves of whole tenths of a pixel. Rounding
// each place before taking differences keeps a long line from drifting.
type pen struct {
	b    strings.Builder
	x, y int
}

func (p *pen) move(x, y float64) { p.step("m", toTenths(x), toTenths(y)) }
func (p *pen) line(x, y float64) { p.step("l", toTenths(x), toTenths(y)) }

func (p *pen) step(op string, x, y int) {
	if p.b.Len() == 0 {
		op = "M"
	}
	dy := tenths(y - p.y)
	p.b.WriteString(op)
	p.b.WriteString(tenths(x - p.x))
	if dy[0] != '-' {
		p.b.WriteByte(' ')
	}
	p.b.WriteString(dy)
	p.x, p.y = x, y
}

// dot marks a single place: a line of no length with round ends.
func (p *pen) dot(x, y float64) {
	p.move(x, y)
	p.b.WriteString("h0")
}

// raw adds drawing that returns to where it began.
func (p *pen) raw(d string) { p.b.WriteString(d) }

func (p *pen) String() string { return p.b.String() }

// The shapes, each drawn around its centre. A shape is one meaning wherever
// it stands: circle and short bar above 7.8, square and tall bar above 10,
// downward triangle a low or a symptom, struck box no data.

func (p *pen) circle(cx, cy, r float64) {
	p.move(cx-r, cy)
	rr, d := num(r), num(2*r)
	p.raw("a" + rr + " " + rr + " 0 1 0 " + d + " 0a" + rr + " " + rr + " 0 1 0-" + d + " 0z")
}

func (p *pen) box(cx, cy, w, h float64) {
	p.move(cx-w/2, cy-h/2)
	p.raw("h" + num(w) + "v" + num(h) + "h-" + num(w) + "z")
}

func (p *pen) triangle(cx, cy, w float64) {
	h := w * 0.92
	p.move(cx-w/2, cy-h/2)
	p.raw("h" + num(w) + "l-" + num(w/2) + " " + num(h) + "z")
}

// cup is three sides of a square, open above.
func (p *pen) cup(cx, cy, w float64) {
	p.move(cx-w/2, cy-w/2)
	p.line(cx-w/2, cy+w/2)
	p.line(cx+w/2, cy+w/2)
	p.line(cx+w/2, cy-w/2)
}

// arrow points to x from the left, way 1, or from the right, way -1.
func (p *pen) arrow(x, y, way float64) {
	p.move(x-8*way, y-4.5)
	p.raw("l" + num(8*way) + " 4.5l" + num(-8*way) + " 4.5z")
}

func (p *pen) diamond(cx, cy, r float64) {
	d := num(r)
	p.move(cx-r, cy)
	p.raw("l" + d + "-" + d + "l" + d + " " + d + "l-" + d + " " + d + "z")
}

// clean makes one line of printable text of s: control and direction-changing
// characters are dropped, line breaks become spaces.
func clean(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case r < 0x20, r >= 0x7F && r < 0xA0, r >= 0x200B && r <= 0x200F, r >= 0x2028 && r <= 0x202E,
			r >= 0x2060 && r <= 0x206F, r == 0xFEFF, r == 0xFFFE, r == 0xFFFF:
			return -1
		}
		return r
	}, s)
}

// shorten cuts s to at most n characters, the last an ellipsis.
func shorten(s string, n int) string {
	s = strings.TrimSpace(clean(s))
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	return strings.TrimSpace(string([]rune(s)[:n-1])) + "…"
}

// textWidth is the room that s needs at a font size in pixels.
func textWidth(s string, size float64) float64 { return face.Width(s) * size }
