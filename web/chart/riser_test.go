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

// sampleRiser is a fortnight with a day that has a gap and one without data.
func sampleRiser() *Riser {
	r := &Riser{ID: "riser", Width: 596, Chosen: 1, Finding: "Above 7.8 mostly in the evening."}
	for i := range 14 {
		d := RiserDay{Date: time.Date(2026, 3, 3+i, 0, 0, 0, 0, zone)}
		sum := 0.0
		for k := range d.Above {
			switch {
			case i == 6 || i == 9 && k > 30 && k < 50:
				d.Above[k] = math.NaN()
			case k > 76 && k < 80+i%5, (k+i)%31 == 0:
				d.Above[k] = 15
			case k == 50+i%3:
				d.Above[k] = 5
			}
			if finite(d.Above[k]) {
				sum += d.Above[k]
			}
		}
		d.Total = strconv.Itoa(int(sum)/60) + " h " + strconv.Itoa(int(sum)%60)
		r.Days = append(r.Days, d)
	}
	return r
}

func TestRiserGolden(t *testing.T) {
	for name, width := range map[string]int{"riser_fortnight": 596, "riser_slim": 310} {
		r := sampleRiser()
		r.Width = width
		got := r.Draw()
		sound(t, got.SVG)
		golden(t, name, got.SVG)
	}
	golden(t, "riser_no_day", (&Riser{ID: "riser", Width: 310, Chosen: -1}).Draw().SVG)
}

// The text that stands for a riser opens with the engine's sentence.
func TestRiserSaysTheFinding(t *testing.T) {
	r := sampleRiser()
	got := r.Draw()
	want := "Above 7.8 mostly in the evening. 13 days drawn. The highest: Sat 7 Mar, 2 h 35 above 7.8. The chosen day: Wed 4 Mar, 1 h 50 above 7.8. On 1 day data is missing, so the total is at least what is shown. 1 day without data not drawn."
	if said := parseSVG(t, got.SVG).desc; said != want {
		t.Errorf("got %s\nwant %s", said, want)
	}
}

func anyRiser(t *rapid.T) *Riser {
	r := &Riser{ID: "x", Finding: rapid.String().Draw(t, "finding")}
	first := anyDate(t)
	for i := range rapid.SampledFrom([]int{0, 1, 7, 14, 14, 15, 20, 45}).Draw(t, "days") {
		d := RiserDay{Date: first.AddDate(0, 0, i), Total: rapid.SampledFrom([]string{"23 h 45", "0 min", "–", "<b>"}).Draw(t, "total")}
		kind := rapid.IntRange(0, 9).Draw(t, "kind")
		for range rapid.IntRange(0, 8).Draw(t, "runs") {
			v := rapid.Float64Range(0, 15).Draw(t, "minutes")
			from := rapid.IntRange(0, 95).Draw(t, "from")
			for k := from; k < min(96, from+10); k++ {
				d.Above[k] = v
			}
		}
		for k := range d.Above {
			if kind == 0 || kind == 1 && k > 40 && k < 60 || kind == 2 && k > 30 {
				d.Above[k] = math.NaN()
			}
		}
		r.Days = append(r.Days, d)
	}
	r.Chosen = rapid.IntRange(-1, len(r.Days)).Draw(t, "chosen")
	return r
}

// Each day's line ends at the height of its minutes; a day with a gap is
// broken and dashed; a day without data is declared; no label lies on another.
func TestRiserProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyRiser(t)
		for _, r.Width = range widths {
			got := r.Draw()
			p := sound(t, got.SVG)
			drawable, dashed := 0, 0
			for _, d := range r.Days {
				n := countFinite(d.Above[:]...)
				drawable += one(n > 0)
				dashed += one(n > 0 && n < 96)
			}
			account(t, got, len(r.Days), drawable)
			if (p.path("line-stone dashed")+p.path("line-chosen dashed") != "") != (dashed > 0) {
				t.Fatalf("%d days with gaps, dashed: %q", dashed, p.path("line-stone dashed"))
			}
			if words := strings.Join(p.words, "|"); drawable <= riserMost && strings.Count(words, "at least") != dashed {
				t.Fatalf("%d days with gaps: %s", dashed, words)
			}
			if hidden := len(r.Days) - drawable; hidden > 0 && !slices.Contains(p.words, count(hidden, "day")+" without data not drawn") {
				t.Fatalf("%d days hidden without a word: %q", hidden, p.words)
			}
			if again := r.Draw(); again.SVG != got.SVG {
				t.Fatalf("two pictures of the same days differ")
			}
		}
	})
}

// A line rises by the minutes and by nothing else.
func TestRiserRisesByTheMinutes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := RiserDay{Date: anyDate(t)}
		sum := 0.0
		for k := range d.Above {
			if rapid.IntRange(0, 5).Draw(t, "rises") == 0 {
				d.Above[k] = rapid.Float64Range(0, 15).Draw(t, "minutes")
				sum += d.Above[k]
			}
		}
		r := Riser{ID: "x", Width: 720, Days: []RiserDay{d}, Chosen: 0}
		p := parseSVG(t, r.Draw().SVG)
		line := places(t, p.path("line-chosen"))
		most, step := 60.0, 15.0
		for _, s := range []float64{30, 60, 120, 180, 240, 360} {
			if max(most, sum)/step > 6 {
				step = s
			}
		}
		most = math.Ceil(max(most, sum)/step) * step
		rise := line[0].y - line[len(line)-1].y
		if want := sum / most * riserHeight; math.Abs(rise-want) > 0.11 {
			t.Fatalf("rises by %v pixels for %v minutes of %v, want %v", rise, sum, most, want)
		}
		for i := 1; i < len(line); i++ {
			if line[i].y > line[i-1].y || line[i].x <= line[i-1].x {
				t.Fatalf("falls or goes back at %+v", line[i])
			}
		}
	})
}

func TestSpread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.SliceOfN(rapid.Float64Range(0, 300), 0, 30).Draw(t, "at")
		slices.Sort(at)
		const gap, low, high = 14.0, 0.0, 500.0
		out := spread(at, gap, low, high)
		if len(out) != len(at) {
			t.Fatalf("%d of %d", len(out), len(at))
		}
		free := true
		for i, v := range out {
			if v < low-1e-6 || v > high+1e-6 || i > 0 && v-out[i-1] < gap-1e-6 {
				t.Fatalf("%v", out)
			}
			free = free && (i == 0 || at[i]-at[i-1] >= gap)
		}
		for i := range out {
			if free && math.Abs(out[i]-at[i]) > 1e-9 {
				t.Fatalf("moved without need: %v to %v", at, out)
			}
		}
	})
}
