package chart

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestMealArrowsGolden(t *testing.T) {
	for name, width := range map[string]int{"arrows_wide": 596, "arrows_slim": 310} {
		m := MealArrows{ID: "arrows", Width: width, Rows: []LikeMeals{
			{"toast and jam", 5, 5.2, 3.4}, {"rice & curry <small>", 3, 5.4, 2.7}, {"toast after yoghurt", 3, 5, 1.9}, {"a walk", 1, 5.6, -0.6}, {"soup", 2, math.NaN(), 1},
		}}
		got := m.Draw()
		sound(t, got.SVG)
		golden(t, name, got.SVG)
	}
}

func TestMealArrowsSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := MealArrows{ID: "arrows", Width: rapid.SampledFrom([]int{310, 596, 1240}).Draw(t, "width")}
		var values []float64
		drawn := 0
		for range rapid.IntRange(0, 9).Draw(t, "rows") {
			r := LikeMeals{rapid.String().Draw(t, "name"), rapid.IntRange(1, 40).Draw(t, "times"), anyValue(t, "before"), anyValue(t, "rise")}
			m.Rows = append(m.Rows, r)
			values = append(values, r.Before, r.Rise)
			if countFinite(r.Before, r.Rise) == 2 {
				drawn += 2
			}
		}
		got := m.Draw()
		sound(t, got.SVG)
		account(t, got, len(values), drawn)
	})
}

// Nothing in the wearer's picture is a limit, a zone or a grade.
func TestMealArrowsHaveNoLimit(t *testing.T) {
	m := MealArrows{ID: "arrows", Width: 596, Rows: []LikeMeals{{"toast", 5, 5.2, 6}}}
	for _, class := range []string{"limit", "fill-high", "fill-peak", "<rect"} {
		if strings.Contains(m.Draw().SVG, class) {
			t.Errorf("the picture holds %s", class)
		}
	}
}
