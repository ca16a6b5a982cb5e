package chart

import "strconv"

// LikeMeals is what glucose did after meals of one name, on average.
type LikeMeals struct {
	Name         string // the wearer's own words
	Times        int
	Before, Rise float64 // means, in mmol/L; a row without both is not drawn
}

// MealArrows draws a row a name for the wearer: a ring before the meal, an arrow
// at the highest point after it, the rise in figures. The rows stand as given.
type MealArrows struct {
	ID    string
	Width int // pixels, at least 300
	Rows  []LikeMeals
}

const arrowPitch = 26.0

// Draw makes the picture. Its values are two a row.
func (m *MealArrows) Draw() Shown {
	width := float64(max(m.Width, 300))
	narrow := width < 500
	var s, rows svg
	var out Shown
	left, pitch := width*0.42, arrowPitch
	if narrow {
		left, pitch = 12, 2*arrowPitch-8
	}
	values := []float64{7.8}
	for _, r := range m.Rows {
		values = append(values, r.Before, r.Before+r.Rise)
	}
	scale := mmolRuler(left, width-44, values...)
	var lines, rings, arrows pen
	y := 4.0
	told := ""
	for _, r := range m.Rows {
		name := mealLabel(r.Name) + " · " + times(r.Times)
		room := left - 14
		if narrow {
			room = width
		}
		rows.text("label", "start", 0, y+14, fontSize, fitted(name, room, fontSize))
		at := y + pitch - arrowPitch/2
		y += pitch
		if !finite(r.Before) || !finite(r.Rise) {
			out.Hidden += 2
			rows.text("small", "end", width, at+4, fontSize, "–")
			continue
		}
		out.Values += 2
		from, to := scale.x(r.Before), scale.x(r.Before+r.Rise)
		way := 1.0
		if r.Rise < 0 {
			way = -1
		}
		lines.move(from, at)
		lines.line(to, at)
		rings.circle(from, at, 4.2)
		arrows.arrow(to, at, way)
		rows.text("label", "end", width, at+4, fontSize, signed(r.Rise))
		told += " " + name + ": " + signed(r.Rise) + "."
	}
	if told == "" {
		told = " None."
	}
	s.open("plot arrows", m.ID, width, y+18, "Meals: before, and the highest point after", "Mean rise in mmol/L."+told)
	scale.marks(&s, 0, y)
	s.path("line-strong", lines.String())
	s.path("open", rings.String())
	s.path("fill-ink", arrows.String())
	s.raw(rows.b.String())
	out.SVG = s.close()
	return out
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return strconv.Itoa(n) + " times"
}
