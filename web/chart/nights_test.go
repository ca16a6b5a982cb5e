package chart

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func sampleNights() *Nights {
	n := &Nights{ID: "nights", Width: 596, Finding: "On most mornings glucose is about 5.6 mmol/L."}
	for i := range 14 {
		night := Night{Date: time.Date(2026, 3, 3+i, 0, 0, 0, 0, zone), Low: 4.4 + 0.1*float64(i%4), Morning: 5.4 + 0.2*float64(i%5), Note: "fasting"}
		switch i {
		case 4:
			night.Low, night.Morning, night.Note = math.NaN(), math.NaN(), ""
		case 6:
			night.Low, night.LowPast, night.Note = 3.4, Below39, "a low in the night"
		case 8:
			night.Morning, night.MorningPast = 8.1, Above78
		case 10:
			night.Morning, night.Note = math.NaN(), "too few readings in the morning"
		case 12:
			night.Low, night.Morning, night.MorningPast = 8.6, 10.4, Above78|Above10
		}
		n.Nights = append(n.Nights, night)
	}
	return n
}

func TestNightsGolden(t *testing.T) {
	for name, width := range map[string]int{"nights_wide": 720, "nights_slim": 310} {
		n := sampleNights()
		n.Width = width
		got := n.Draw()
		sound(t, got.SVG)
		golden(t, name, got.SVG)
	}
	golden(t, "nights_none", (&Nights{ID: "nights", Width: 310}).Draw().SVG)
}

func TestNightsSayTheFinding(t *testing.T) {
	want := "On most mornings glucose is about 5.6 mmol/L. 14 nights. Lowest point 3.4 mmol/L. Median morning 5.8 mmol/L. Median rise +1.3 mmol/L over 12 nights. 3 of 28 values are missing."
	if said := parseSVG(t, sampleNights().Draw().SVG).desc; said != want {
		t.Errorf("got %s\nwant %s", said, want)
	}
}

// Each value is a mark of the shape that its limit has everywhere, or counted
// as missing; a night without readings is hatched.
func TestNightsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := &Nights{ID: "x", Finding: rapid.String().Draw(t, "finding")}
		first := anyDate(t)
		drawable, empty, low, high, peak := 0, 0, 0, 0, 0
		for i := range rapid.IntRange(0, 20).Draw(t, "nights") {
			night := Night{Date: first.AddDate(0, 0, i), Low: anyValue(t, "low"), Morning: anyValue(t, "morning"), LowPast: anyPast(t), MorningPast: anyPast(t), Note: rapid.String().Draw(t, "note")}
			if rapid.IntRange(0, 6).Draw(t, "empty") == 0 {
				night.Low, night.Morning = math.NaN(), math.NaN()
			}
			n.Nights = append(n.Nights, night)
			values := countFinite(night.Low, night.Morning)
			drawable += values
			empty += one(values == 0)
			low += one(finite(night.Low) && night.LowPast&Below39 != 0)
			if finite(night.Morning) {
				switch past := night.MorningPast; {
				case past&Above10 != 0:
					peak++
				case past&Above78 != 0:
					high++
				case past&Below39 != 0:
					low++
				}
			}
		}
		for _, n.Width = range widths {
			got := n.Draw()
			p := sound(t, got.SVG)
			account(t, got, 2*len(n.Nights), drawable)
			marks := [3]int{shapes(p.path("fill-low")), shapes(p.path("fill-high")), shapes(p.path("fill-peak"))}
			if marks != [3]int{low, high, peak} {
				t.Fatalf("shapes %v, want %d, %d, %d", marks, low, high, peak)
			}
			said := 0
			for _, w := range p.words {
				said += one(w == "no data")
			}
			if said < empty {
				t.Fatalf("%d of %d empty nights are called so", said, empty)
			}
			if hidden := got.Hidden; hidden > 0 && !slices.Contains(p.words, missing(hidden, 2*len(n.Nights))) {
				t.Fatalf("%d values hidden without a word", hidden)
			}
			if again := n.Draw(); again.SVG != got.SVG {
				t.Fatalf("two pictures of the same nights differ")
			}
		}
	})
}
