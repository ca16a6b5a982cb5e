package chart

import "math"

// Pair is one measure of two wears.
type Pair struct {
	Name string // "Mean"
	// Before and After are the measure in the earlier and the later wear. What
	// is not a finite number is not drawn, and counted.
	Before, After float64
	// Low and High are the ends of the measure's own ruler, in its unit; they
	// give way where a value lies outside.
	Low, High float64
	Margin    float64 // a smaller change is expected variation; 0 = no margin is known
	Beyond    bool    // the change is more than that, by the engine's comparison
	Figures   string  // "6.1 to 5.7 mmol/L"
	Words     string  // "within expected variation"
}

// Compare draws two wears of one patient on paired rulers, one a measure: a
// ring for the earlier, an arrow for the later, a bracket as wide as the
// variation to be expected without any change.
type Compare struct {
	ID            string
	Width         int    // pixels, at least 300
	Before, After string // names of the wears: "Mar 2025", "Mar 2026"
	Pairs         []Pair
	Finding       string // the report's sentence about it, or ""
}

// CompareKey says how the pairs are read.
const CompareKey = "Ring: the earlier wear. Arrow: the later one; filled where the change is more than expected variation. Bracket: the expected variation around the earlier wear. Each ruler has its own unit."

// Measures of a comparison in pixels.
const (
	sameMark   = 3.0   // two marks nearer than this leave an arrow no direction
	figureRoom = 170.0 // for the figures, where they stand beside the ruler
	wordRoom   = 350.0 // for the words, likewise
)

// comparePlan is one comparison.
type comparePlan struct {
	svg
	narrow              bool // figures and words stand above and below the ruler
	width               float64
	rulerLeft, rulerEnd float64
	y                   float64 // top of the next measure
	rulers, brackets    pen
	line, open, ink     pen
	shown               Shown
}

// Draw makes the picture. Its values are two a measure.
func (c *Compare) Draw() Shown {
	width := float64(max(c.Width, 300))
	p := &comparePlan{narrow: width < 900, width: width, rulerLeft: 16, rulerEnd: width - 16}
	if !p.narrow {
		p.rulerLeft, p.rulerEnd = 160, width-figureRoom-wordRoom
	}
	p.names(c)
	for i := range c.Pairs {
		p.pair(&c.Pairs[i])
	}
	if p.shown.Hidden > 0 {
		p.text("small", "start", 0, p.y+11, fontSize, missing(p.shown.Hidden, 2*len(c.Pairs)))
		p.y += labelLine
	}
	var s svg
	s.open("plot compare", c.ID, width, p.y, "Two wears side by side: "+clean(c.Before)+" and "+clean(c.After), told(c.Finding, c.account(p.shown.Hidden)))
	s.path("line-day", p.rulers.String())
	s.path("line-stone", p.brackets.String())
	s.path("line-value", p.line.String())
	s.path("open", p.open.String())
	s.path("fill-ink", p.ink.String())
	s.raw(p.b.String())
	p.shown.SVG = s.close()
	return p.shown
}

// names writes whose mark is whose, each mark beside its name.
func (p *comparePlan) names(c *Compare) {
	p.open.circle(6, 8, 4.2)
	p.text("label", "start", 16, 12, fontSize, fitted(c.Before, p.width-16, fontSize))
	p.open.arrow(10, 24, 1)
	p.text("label", "start", 16, 28, fontSize, fitted(c.After, p.width-16, fontSize))
	p.y = 40
}

// pair draws one measure and moves on to the next.
func (p *comparePlan) pair(m *Pair) {
	y := p.y + 15
	if p.narrow {
		y += 13
		figures := fitted(m.Figures, p.width*0.6, fontSize)
		p.text("label", "end", p.width, p.y+13, fontSize, figures)
		p.text("label", "start", 0, p.y+13, fontSize, fitted(m.Name, p.width-textWidth(figures, fontSize)-labelSpace, fontSize))
		p.y += 58
		for _, line := range wrapped(m.Words, p.width, fontSize, 2) {
			p.text("small", "start", 0, p.y, fontSize, line)
			p.y += labelLine
		}
	} else {
		p.text("label", "start", 0, y+4, fontSize, fitted(m.Name, p.rulerLeft-16, fontSize))
		p.text("label", "start", p.rulerEnd+16, y+4, fontSize, fitted(m.Figures, figureRoom-16-labelSpace, fontSize))
		p.text("small", "start", p.width-wordRoom, y+4, fontSize, fitted(m.Words, wordRoom, fontSize))
		p.y += 36
	}
	values := one(finite(m.Before)) + one(finite(m.After))
	p.shown.Values += values
	p.shown.Hidden += 2 - values
	r := pairRuler(m, p.rulerLeft, p.rulerEnd)
	p.rulers.move(r.left, y)
	p.rulers.line(r.right, y)
	for _, end := range [2]float64{r.low, r.high} {
		p.rulers.move(r.x(end), y-3)
		p.rulers.line(r.x(end), y+3)
		p.text("small", "middle", r.x(end), y+15, 10, shortest(end))
	}
	if finite(m.Before) && m.Margin > 0 && finite(m.Margin) {
		from, to := r.x(m.Before-m.Margin), r.x(m.Before+m.Margin)
		p.brackets.move(from, y-4)
		p.brackets.line(from, y-8)
		p.brackets.line(to, y-8)
		p.brackets.line(to, y-4)
	}
	if finite(m.Before) && finite(m.After) {
		p.line.move(r.x(m.Before), y)
		p.line.line(r.x(m.After), y)
	}
	if finite(m.Before) {
		p.open.circle(r.x(m.Before), y, 4.2)
	}
	if finite(m.After) {
		p.after(m, r.x(m.After), r.x(m.Before), y)
	}
}

// after draws the later wear: an arrow, or an upright bar where there is no
// way to point.
func (p *comparePlan) after(m *Pair, x, from, y float64) {
	way := 1.0
	if m.After < m.Before {
		way = -1
	}
	switch {
	case !finite(m.Before) || math.Abs(x-from) < sameMark:
		p.ink.box(x, y, 2.6, 12)
	case m.Beyond:
		p.ink.arrow(x, y, way)
	default:
		p.open.arrow(x, y, way)
	}
}

// pairRuler is the measure's own ruler, wide enough for both values.
func pairRuler(m *Pair, left, right float64) ruler {
	r := ruler{left, right, m.Low, m.High}
	if !finite(m.Low) || !finite(m.High) || m.High <= m.Low {
		r.low, r.high = 0, 1
	}
	for _, v := range [2]float64{m.Before, m.After} {
		if finite(v) {
			r.low, r.high = min(r.low, math.Floor(v)), max(r.high, math.Ceil(v))
		}
	}
	return r
}

// account says each pair in words.
func (c *Compare) account(hidden int) string {
	if len(c.Pairs) == 0 {
		return "Nothing can be compared."
	}
	s := ""
	for _, p := range c.Pairs {
		s += clean(p.Name) + " " + clean(p.Figures)
		if p.Words != "" {
			s += ", " + clean(p.Words)
		}
		s += ". "
	}
	if hidden > 0 {
		return s + missing(hidden, 2*len(c.Pairs)) + "."
	}
	return s[:len(s)-1]
}
