package chart

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func sampleCompare() *Compare {
	nan := math.NaN()
	return &Compare{
		ID: "compare", Width: 1240, Before: "Mar 2025, sensor kind A", After: "Mar 2026, sensor kind A", Finding: "Time above 7.8 is lower than a year ago.",
		Pairs: []Pair{
			{Name: "Mean", Before: 6.6, After: 6.2, Low: 4, High: 11, Margin: 0.7, Figures: "6.6 to 6.2 mmol/L", Words: "within expected variation"},
			{Name: "Time above 7.8", Before: 24.1, After: 9.8, High: 50, Margin: 8, Beyond: true, Figures: "24.1 to 9.8 %", Words: "lower by 14.3 points: more than expected variation"},
			{Name: "Time above 10", Before: 3, After: 3, High: 10, Margin: 2, Figures: "3.0 to 3.0 %", Words: "within expected variation"},
			{Name: "Time below 3.9", Before: 0, After: 72, High: 10, Margin: 2, Beyond: true, Figures: "0.0 to 72.0 %", Words: "higher by 72.0 points: more than expected variation"},
			{Name: "Dawn rise", Before: 0.8, After: nan, High: 3, Figures: "0.8 to – mmol/L", Words: "not enough data in the later wear"},
		},
	}
}

func TestCompareGolden(t *testing.T) {
	for name, width := range map[string]int{"compare_wide": 1240, "compare_slim": 310} {
		c := sampleCompare()
		c.Width = width
		got := c.Draw()
		sound(t, got.SVG)
		golden(t, name, got.SVG)
	}
	golden(t, "compare_none", (&Compare{ID: "compare", Width: 310}).Draw().SVG)
}

func TestCompareSaysTheFinding(t *testing.T) {
	c := sampleCompare()
	c.Pairs = c.Pairs[:2]
	want := "Time above 7.8 is lower than a year ago. Mean 6.6 to 6.2 mmol/L, within expected variation. Time above 7.8 24.1 to 9.8 %, lower by 14.3 points: more than expected variation."
	if said := parseSVG(t, c.Draw().SVG).desc; said != want {
		t.Errorf("got %s\nwant %s", said, want)
	}
}

// Only a change beyond expected variation gets a filled arrow.
func TestCompareArrows(t *testing.T) {
	for name, c := range map[string]struct {
		pair Pair
		ink  int // filled arrows and bars
		open int // rings and open arrows, the two of the names among them
	}{
		"beyond":     {Pair{Before: 6, After: 9, Low: 4, High: 11, Beyond: true}, 1, 3},
		"within":     {Pair{Before: 6, After: 6.5, Low: 4, High: 11}, 0, 4},
		"the same":   {Pair{Before: 6, After: 6, Low: 4, High: 11}, 1, 3},
		"no earlier": {Pair{Before: math.NaN(), After: 6, Low: 4, High: 11}, 1, 2},
		"no later":   {Pair{Before: 6, After: math.NaN(), Low: 4, High: 11}, 0, 3},
	} {
		p := parseSVG(t, (&Compare{ID: "x", Width: 720, Pairs: []Pair{c.pair}}).Draw().SVG)
		if ink, open := shapes(p.path("fill-ink")), shapes(p.path("open")); ink != c.ink || open != c.open {
			t.Errorf("%s: %d filled and %d open, want %d and %d", name, ink, open, c.ink, c.open)
		}
	}
}

func TestCompareProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := &Compare{ID: "x", Before: rapid.String().Draw(t, "earlier"), After: rapid.String().Draw(t, "later")}
		drawable := 0
		for range rapid.IntRange(0, 9).Draw(t, "pairs") {
			p := Pair{
				Name:   rapid.SampledFrom([]string{"Mean", "Time above 7.8", "A measure with a name that is much too long for its place"}).Draw(t, "name"),
				Before: anyValue(t, "before"), After: anyValue(t, "after"), Low: anyValue(t, "low"), High: anyValue(t, "high"), Margin: anyValue(t, "margin"),
				Beyond: rapid.Bool().Draw(t, "beyond"), Figures: rapid.SampledFrom([]string{"6.6 to 6.2 mmol/L", "", "– to –", rapid.String().Draw(t, "figures")}).Draw(t, "which"),
				Words: rapid.SampledFrom([]string{"within expected variation", "higher by 72.0 points: more than expected variation", rapid.String().Draw(t, "words")}).Draw(t, "says"),
			}
			c.Pairs = append(c.Pairs, p)
			drawable += countFinite(p.Before, p.After)
		}
		for _, c.Width = range widths {
			got := c.Draw()
			p := sound(t, got.SVG)
			account(t, got, 2*len(c.Pairs), drawable)
			for _, pair := range c.Pairs {
				if pair.Words == "within expected variation" && !strings.Contains(strings.Join(p.words, "|"), pair.Words) {
					t.Fatalf("at %d the words are cut: %q", c.Width, p.words)
				}
			}
			if again := c.Draw(); again.SVG != got.SVG {
				t.Fatalf("two pictures of the same wears differ")
			}
		}
	})
}
