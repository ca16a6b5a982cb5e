package chart

import (
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func sampleMonths() *Months {
	q := &Months{ID: "months", Width: 596, Finding: "11 of 86 are still on the round."}
	for i, done := range []int{6, 7, 13, 8, 0, 8, 9, 6, 6, 2, 3} {
		q.Months = append(q.Months, Month{Name: []string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov"}[i] + " 2026", Done: done, Open: i * i / 25})
	}
	return q
}

func TestMonthsGolden(t *testing.T) {
	for name, width := range map[string]int{"months_wide": 596, "months_slim": 310} {
		q := sampleMonths()
		q.Width = width
		got := q.Draw()
		sound(t, got.SVG)
		golden(t, name, got.SVG)
	}
	golden(t, "months_none", (&Months{ID: "months", Width: 310}).Draw().SVG)
}

func TestMonthsSayTheFinding(t *testing.T) {
	q := &Months{Finding: "1 of 3 is still on the round.", Months: []Month{{"Jan 2026", 1, 1}, {"Feb 2026", 1, 0}}}
	want := "1 of 3 is still on the round. Jan 2026: 2 wears, 1 on the round; Feb 2026: 1 wear."
	if said := parseSVG(t, q.Draw().SVG).desc; said != want {
		t.Errorf("got %s\nwant %s", said, want)
	}
}

// Every wear stands in a brick of its kind, and a month with any has one.
func TestMonthsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := &Months{ID: "x", Finding: rapid.String().Draw(t, "finding")}
		most := rapid.SampledFrom([]int{3, 20, 5000}).Draw(t, "most")
		for range rapid.IntRange(0, 60).Draw(t, "months") {
			q.Months = append(q.Months, Month{
				Name: rapid.OneOf(rapid.Just("Jan 2026"), rapid.String()).Draw(t, "name"),
				Done: rapid.IntRange(0, most).Draw(t, "done"), Open: rapid.IntRange(0, most).Draw(t, "open"),
			})
		}
		each, tallest := q.brick()
		if tallest > mostBricks {
			t.Fatalf("a pile of %d", tallest)
		}
		done, open := 0, 0
		for _, m := range q.Months {
			done += (m.Done + each - 1) / each
			open += (m.Open + each - 1) / each
		}
		for _, q.Width = range widths {
			got := q.Draw()
			p := sound(t, got.SVG)
			account(t, got, len(q.Months), len(q.Months))
			if a, b := shapes(p.path("fill-ink")), shapes(p.path("open")); a != done || b != open {
				t.Fatalf("%d filled and %d hollow bricks, want %d and %d", a, b, done, open)
			}
			if said := "Each brick stands for up to " + strconv.Itoa(each) + " wears"; (each > 1) != slices.Contains(p.words, said) {
				t.Fatalf("%d wears a brick: %q", each, p.words)
			}
			if again := q.Draw(); again.SVG != got.SVG {
				t.Fatal("two pictures of the same months differ")
			}
		}
	})
}
