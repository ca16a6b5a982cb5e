package chart

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func sampleMeals() *MealLines {
	nan := math.NaN()
	at := func(day, hour int) time.Time { return time.Date(2026, 3, day, hour, 5, 0, 0, zone) }
	return &MealLines{
		ID: "meals", Width: 1240, Comparable: 3, Finding: "After rice and dal glucose rises by 4.3 mmol/L (mean of 3).",
		Meals: []Meal{
			{At: at(3, 8), Label: "toast", Before: 5.3, Peak: 8.8, TwoHours: 6, Past: Above78, Judged: true},
			{At: at(3, 19), Label: "rice and dal", Before: 5.6, Peak: 10.6, TwoHours: 8.3, Past: Above78 | Above10, Judged: true},
			{At: at(5, 19), Label: "rice and dal", Before: 5.9, Peak: 10.1, TwoHours: 7.9, Past: Above78 | Above10, Judged: true},
			{At: at(6, 13), Label: "roti & vegetables <small>", Before: 5.7, Peak: 7.2, TwoHours: 5.1, Judged: true},
			{At: at(7, 19), Label: "rice and dal", Before: 5.4, Peak: 9.2, TwoHours: 7.2, Past: Above78, Judged: true},
			{At: at(8, 19), Label: "rice and dal", Before: 5.5, Peak: 8.6, TwoHours: nan, Past: Above78},
			{At: at(9, 11), Label: "", Before: 6.1, Peak: 5.8, TwoHours: 5.2, Judged: true},
			{At: at(9, 21), Label: "toast", Before: nan, Peak: nan, TwoHours: nan},
		},
	}
}

func TestMealLinesGolden(t *testing.T) {
	for name, width := range map[string]int{"meals_wide": 1240, "meals_slim": 310} {
		m := sampleMeals()
		m.Width = width
		got := m.Draw()
		sound(t, got.SVG)
		golden(t, name, got.SVG)
	}
	golden(t, "meals_none", (&MealLines{ID: "meals", Width: 310}).Draw().SVG)
}

func TestMealLinesSayTheFinding(t *testing.T) {
	want := "After rice and dal glucose rises by 4.3 mmol/L (mean of 3). 8 meals drawn, 2 of them dashed because they are not judged. rice and dal, mean rise of 3: +4.3 mmol/L. 4 of 24 values are missing."
	if said := parseSVG(t, sampleMeals().Draw().SVG).desc; said != want {
		t.Errorf("got %s\nwant %s", said, want)
	}
}

// Comparable groups come first, the greatest mean rise before the others;
// too few judged meals make no mean.
func TestMealGroups(t *testing.T) {
	meal := func(label string, rise float64, judged bool) Meal {
		return Meal{Label: label, Before: 5, Peak: 5 + rise, TwoHours: 5, Judged: judged}
	}
	m := MealLines{Comparable: 3, Meals: []Meal{
		meal("two", 9, true), meal("low", 1, true), meal("two", 9, true), meal("high", 3, true), meal("low", 2, true),
		meal("high", 5, true), meal("low", 3, true), meal("high", 4, true), meal("two", 9, false),
	}}
	var got []string
	for _, g := range m.groups() {
		s := g.label + ":" + strconv.Itoa(len(g.meals))
		if g.mean != nil {
			s += " " + oneDecimal(g.mean.rise())
		}
		got = append(got, s)
	}
	if want := []string{"high:3 4.0", "low:3 2.0", "two:3"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

// The arrow's shape, not only its colour, says which limit the peak is past.
func TestArrowShapes(t *testing.T) {
	for past, want := range map[Past][3]int{0: {2, 0, 0}, Above78: {1, 1, 0}, Above78 | Above10: {1, 0, 2}} {
		m := MealLines{ID: "x", Width: 720, Meals: []Meal{{Before: 5, Peak: 9, TwoHours: 6, Past: past, Judged: true}}}
		p := parseSVG(t, m.Draw().SVG)
		got := [3]int{shapes(p.path("open")), shapes(p.path("fill-high")), shapes(p.path("fill-peak"))}
		if got != want { // the ring is open too
			t.Errorf("%d: %v shapes, want %v", past, got, want)
		}
	}
}

// shapes counts the closed shapes of a path.
func shapes(d string) int { return strings.Count(d, "z") }

// Each value is a mark or counted as missing, each meal has its row of words,
// and no label lies on another.
func TestMealLinesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := &MealLines{ID: "x", Comparable: rapid.IntRange(0, 4).Draw(t, "comparable"), Finding: rapid.String().Draw(t, "finding")}
		labels := []string{"rice", "Wrolmi\u202e", "<b>", "", rapid.String().Draw(t, "label"), "a very long label that the wearer wrote about breakfast and the walk after it"}
		at := anyDate(t)
		drawable, means, unjudged, two := 0, map[string]int{}, 0, 0
		for range rapid.IntRange(0, 40).Draw(t, "meals") {
			at = at.Add(time.Duration(rapid.IntRange(1, 20).Draw(t, "hours")) * time.Hour)
			meal := Meal{
				At: at, Label: rapid.SampledFrom(labels).Draw(t, "which"), Before: anyValue(t, "before"), Peak: anyValue(t, "peak"),
				TwoHours: anyValue(t, "two"), Past: anyPast(t), Judged: rapid.IntRange(0, 3).Draw(t, "judged") > 0,
			}
			m.Meals = append(m.Meals, meal)
			drawable += countFinite(meal.Before, meal.Peak, meal.TwoHours)
			two += one(finite(meal.TwoHours))
			unjudged += one(!meal.Judged)
			means[meal.Label] += one(meal.Judged)
		}
		for _, m.Width = range widths {
			got := m.Draw()
			p := sound(t, got.SVG)
			account(t, got, 3*len(m.Meals), drawable)
			said, thick := 0, 0
			for _, w := range p.words {
				said += one(w == "not judged")
				thick += one(strings.HasPrefix(w, "mean of "))
			}
			if said != unjudged {
				t.Fatalf("%d of %d meals are called not judged", said, unjudged)
			}
			comparable := 0
			for _, n := range means {
				comparable += one(n >= max(m.Comparable, 2))
			}
			if thick > comparable {
				t.Fatalf("%d means of %d comparable groups", thick, comparable)
			}
			if bars := shapes(p.path("fill-ink")); bars < two+thick || bars > two+2*thick {
				t.Fatalf("%d bars for %d values two hours after", bars, two)
			}
			if again := m.Draw(); again.SVG != got.SVG {
				t.Fatalf("two pictures of the same meals differ")
			}
		}
	})
}
