package chart

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func sampleYears() *Years {
	q := &Years{ID: "years", Width: 1240, Finding: "Four wears since 2023."}
	for i, w := range []struct {
		year, month int
		text        string
	}{{2023, 11, "Routine"}, {2024, 2, "This month"}, {2024, 3, "This week"}, {2025, 3, "Today"}, {2026, 11, "Cannot tell"}} {
		q.Wears = append(q.Wears, YearWear{From: time.Date(w.year, time.Month(w.month), 3, 9, 15, 0, 0, zone), Tier: Tier(i), Text: w.text})
	}
	return q
}

func TestYearsGolden(t *testing.T) {
	for name, width := range map[string]int{"years_wide": 1240, "years_slim": 310} {
		q := sampleYears()
		q.Width = width
		got := q.Draw()
		sound(t, got.SVG)
		golden(t, name, got.SVG)
	}
	golden(t, "years_none", (&Years{ID: "years", Width: 310}).Draw().SVG)
}

func TestYearsSayTheFinding(t *testing.T) {
	want := "Four wears since 2023. 5 wears; the newest began on 3 Nov 2026: Cannot tell."
	if said := parseSVG(t, sampleYears().Draw().SVG).desc; said != want {
		t.Errorf("got %s\nwant %s", said, want)
	}
}

// No two tiers have the same drawing: their marks differ without colour.
func TestTierMarksDiffer(t *testing.T) {
	seen := map[string]Tier{}
	for tier := TierRoutine; tier <= TierCannotTell; tier++ {
		var lines, bars pen
		drawTier(&lines, &bars, tier, 7, 8)
		key := lines.String() + "|" + bars.String()
		if other, ok := seen[key]; ok {
			t.Errorf("tiers %d and %d are drawn alike", tier, other)
		}
		seen[key] = tier
	}
}

// Each wear is a mark or counted in words, whatever their number and times.
func TestYearsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := &Years{ID: "x", Finding: rapid.String().Draw(t, "finding")}
		at := time.Date(rapid.IntRange(1999, 2040).Draw(t, "year"), 1, rapid.IntRange(1, 365).Draw(t, "day"), 9, 0, 0, 0, zone)
		posts, bars := 0, 0
		for range rapid.IntRange(0, 30).Draw(t, "wears") {
			at = at.AddDate(0, 0, rapid.SampledFrom([]int{0, 1, 14, 90, 180, 365, 900}).Draw(t, "days"))
			w := YearWear{From: at, Tier: Tier(rapid.IntRange(0, 6).Draw(t, "tier")), Text: rapid.String().Draw(t, "text")}
			q.Wears = append(q.Wears, w)
			if w.Tier < TierCannotTell {
				posts++
				bars += int(w.Tier)
			}
		}
		for _, q.Width = range widths {
			got := q.Draw()
			p := sound(t, got.SVG)
			if got.Values+got.Hidden != len(q.Wears) {
				t.Fatalf("%d drawn and %d hidden of %d", got.Values, got.Hidden, len(q.Wears))
			}
			if got.Hidden > 0 && !slices.Contains(p.words, count(got.Hidden, "earlier wear")+" not drawn") {
				t.Fatalf("%d wears hidden without a word: %q", got.Hidden, p.words)
			}
			if n := shapes(p.path("fill-ink")); got.Hidden == 0 && n != bars {
				t.Fatalf("%d bars, want %d", n, bars)
			}
			if again := q.Draw(); again.SVG != got.SVG {
				t.Fatalf("two pictures of the same wears differ")
			}
		}
	})
}
