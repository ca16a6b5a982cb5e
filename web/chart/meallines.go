package chart

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"time"
)

// Meal is what glucose did after one logged meal.
type Meal struct {
	At    time.Time // in the wearer's zone
	Label string    // the wearer's own words; meals of one label are compared
	// Before is the value before the meal, Peak the highest after it, TwoHours
	// the value two hours after it, all in mmol/L. What is not a finite number
	// is not drawn, and counted.
	Before, Peak, TwoHours float64
	Past                   Past // limits that the peak is past
	Judged                 bool // else drawn dashed, and in no mean
}

// rise is from before to the peak, in mmol/L.
func (m *Meal) rise() float64 { return m.Peak - m.Before }

// MealLines draws a line a meal on one scale: a ring before it, an arrow at
// its peak, an upright bar two hours after. Meals of one label stand together;
// where enough of them are judged, a thick line gives their means.
type MealLines struct {
	ID         string
	Width      int    // pixels, at least 300
	Meals      []Meal // in time order
	Comparable int    // judged meals of one label that make a mean, by the protocol; at least 2
	Finding    string // the report's sentence about it, or ""
}

// MealKey says how meal lines are read.
const MealKey = "Ring: before the meal. Arrow: its peak; open where it stays at 7.8 or below, filled above 7.8, with a square above 10. Upright bar: two hours after. At the end: the rise in mmol/L. Dashed: not judged. Thick, with an arrow in ink: the mean of like meals."

// Measures of rows of values in pixels.
const (
	linePitch = 19.0
	groupGap  = 8.0
)

// mealGroup are the meals of one label.
type mealGroup struct {
	label  string
	meals  []*Meal
	judged int
	mean   *Meal // nil where too few are judged
}

// groups sorts the meals by label: first those that can be compared, the
// greatest mean rise first, then the others as they came.
func (m *MealLines) groups() []*mealGroup {
	var out []*mealGroup
	byLabel := map[string]*mealGroup{}
	for i := range m.Meals {
		meal := &m.Meals[i]
		g := byLabel[meal.Label]
		if g == nil {
			g = &mealGroup{label: meal.Label}
			byLabel[meal.Label] = g
			out = append(out, g)
		}
		g.meals = append(g.meals, meal)
		g.judged += one(meal.Judged)
	}
	for _, g := range out {
		if g.judged >= max(m.Comparable, 2) {
			g.mean = meanMeal(g.meals)
		}
	}
	slices.SortStableFunc(out, func(a, b *mealGroup) int {
		switch {
		case a.mean != nil && b.mean != nil:
			return cmp.Compare(b.mean.rise(), a.mean.rise())
		case a.mean != nil:
			return -1
		case b.mean != nil:
			return 1
		}
		return 0
	})
	return out
}

// meanMeal is the mean of each value over the judged meals, or nil where none
// has both a value before and a peak.
func meanMeal(meals []*Meal) *Meal {
	var before, rise, two []float64
	for _, m := range meals {
		if !m.Judged {
			continue
		}
		if finite(m.Before) && finite(m.Peak) {
			before = append(before, m.Before)
			rise = append(rise, m.rise())
		}
		if finite(m.TwoHours) {
			two = append(two, m.TwoHours)
		}
	}
	if len(before) == 0 {
		return nil
	}
	b := mean(before)
	return &Meal{Before: b, Peak: b + mean(rise), TwoHours: mean(two), Judged: true}
}

// mean of values, or not a number where there is none.
func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}

// mealPlan is one picture of meal lines.
type mealPlan struct {
	svg
	ruler
	narrow bool
	width  float64
	when   float64 // left edge of the meals' times
	y      float64 // top of the next row
	shown  Shown

	dashed, solid, thick, open, ink, high, peak pen
}

// Draw makes the picture. Its values are three a meal.
func (m *MealLines) Draw() Shown {
	width := float64(max(m.Width, 300))
	p := &mealPlan{width: width, narrow: width < 600, y: 20}
	left := 96.0
	if !p.narrow {
		p.when = min(220, width/4)
		left = p.when + 122
	}
	values := make([]float64, 0, 3*len(m.Meals))
	for _, meal := range m.Meals {
		values = append(values, meal.Before, meal.Peak, meal.TwoHours)
	}
	p.ruler = mmolRuler(left, width-80, values...)
	groups := m.groups()
	var rows svg // the rows' texts; their length is known only afterwards
	for _, g := range groups {
		p.group(&rows, g)
	}
	bottom := p.y
	p.svg.open("plot meals", m.ID, width, bottom+18+labelLine*float64(one(p.shown.Hidden > 0)), "Meals: before, peak and two hours", told(m.Finding, m.account(groups, p.shown.Hidden)))
	p.ruler.marks(&p.svg, 20, bottom)
	p.limits(&p.svg, 20, bottom, 7.8, 10)
	p.path("line-stone dashed", p.dashed.String())
	p.path("line-value", p.solid.String())
	p.path("line-strong", p.thick.String())
	p.path("fill-ink", p.ink.String())
	p.path("open", p.open.String())
	p.path("fill-high", p.high.String())
	p.path("fill-peak", p.peak.String())
	p.raw(rows.b.String())
	if p.shown.Hidden > 0 {
		p.text("small", "start", 0, bottom+28, fontSize, missing(p.shown.Hidden, 3*len(m.Meals)))
	}
	p.shown.SVG = p.close()
	return p.shown
}

// missing says how many of the values are not drawn.
func missing(hidden, all int) string {
	verb := " are"
	if hidden == 1 {
		verb = " is"
	}
	return strconv.Itoa(hidden) + " of " + count(all, "value") + verb + " missing"
}

// account says what the meal lines show.
func (m *MealLines) account(groups []*mealGroup, hidden int) string {
	if len(m.Meals) == 0 {
		return "No meal was logged."
	}
	judged := 0
	for _, g := range groups {
		judged += g.judged
	}
	s := count(len(m.Meals), "meal") + " drawn"
	if dashed := len(m.Meals) - judged; dashed > 0 {
		s += ", " + strconv.Itoa(dashed) + " of them dashed because they are not judged"
	}
	s += "."
	for _, g := range groups {
		if g.mean != nil {
			s += " " + mealLabel(g.label) + ", mean rise of " + strconv.Itoa(g.judged) + ": " + signed(g.mean.rise()) + " mmol/L."
		}
	}
	if hidden > 0 {
		s += " " + missing(hidden, 3*len(m.Meals)) + "."
	}
	return s
}

func mealLabel(label string) string {
	if label = shorten(label, 60); label == "" {
		return "no label"
	}
	return label
}

// group draws the meals of one label.
func (p *mealPlan) group(rows *svg, g *mealGroup) {
	name := mealLabel(g.label)
	if p.narrow {
		rows.text("label", "start", 0, p.y+13, fontSize, fitted(name, p.width, fontSize))
		p.y += linePitch
	} else {
		rows.text("label", "start", 0, p.y+13, fontSize, fitted(name, p.when-10, fontSize))
	}
	layout := "Mon 2 Jan 15:04"
	if p.narrow {
		layout = "2 Jan 15:04"
	}
	for _, m := range g.meals {
		rows.text("small", "start", p.when, p.y+13, fontSize, m.At.Format(layout))
		switch {
		case !m.Judged:
			rows.text("small", "end", p.width, p.y+13, fontSize, "not judged")
		case finite(m.rise()):
			rows.text("label", "end", p.width, p.y+13, fontSize, signed(m.rise()))
		default:
			rows.text("small", "end", p.width, p.y+13, fontSize, "–")
		}
		p.line(m, false)
	}
	if g.mean != nil {
		rows.text("label", "start", p.when, p.y+13, fontSize, "mean of "+strconv.Itoa(g.judged))
		rows.text("label", "end", p.width, p.y+13, fontSize, signed(g.mean.rise()))
		p.line(g.mean, true)
	}
	p.y += groupGap
}

// line draws one meal and moves on to the next row.
func (p *mealPlan) line(m *Meal, thick bool) {
	y := p.y + linePitch/2
	p.y += linePitch
	least, most := math.Inf(1), math.Inf(-1)
	for _, v := range [3]float64{m.Before, m.Peak, m.TwoHours} {
		if !thick {
			p.shown.Hidden += one(!finite(v))
			p.shown.Values += one(finite(v))
		}
		if finite(v) {
			least, most = min(least, v), max(most, v)
		}
	}
	if least > most {
		return
	}
	line := &p.solid
	switch {
	case thick:
		line = &p.thick
	case !m.Judged:
		line = &p.dashed
	}
	line.move(p.x(least), y)
	line.line(p.x(most), y)
	if finite(m.TwoHours) {
		p.ink.box(p.x(m.TwoHours), y, 2.6, 12)
	}
	if finite(m.Before) {
		p.open.circle(p.x(m.Before), y, 4.2)
	}
	switch way := m.way(); {
	case !finite(m.Peak):
	case thick: // a mean was compared with no limit
		p.ink.arrow(p.x(m.Peak), y, way)
	case m.Past&Above10 != 0: // carries the square that stands for that limit everywhere
		p.peak.arrow(p.x(m.Peak), y, way)
		p.peak.box(p.x(m.Peak)-way*12, y, 7, 9)
	case m.Past&Above78 != 0:
		p.high.arrow(p.x(m.Peak), y, way)
	default:
		p.open.arrow(p.x(m.Peak), y, way)
	}
}

// way is 1 where glucose rose to the peak, -1 where it fell to it.
func (m *Meal) way() float64 {
	if m.Peak < m.Before {
		return -1
	}
	return 1
}
