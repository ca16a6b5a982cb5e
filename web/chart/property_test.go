package chart

import (
	"flag"
	"math"
	"os"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// widths are those at which a page draws its pictures, in pixels.
var widths = []int{310, 720, 1240}

// TestMain tries each property on 500 invented wears, fewer with -short, unless
// the command line asks for another number.
func TestMain(m *testing.M) {
	flag.Parse()
	asked := false
	flag.Visit(func(f *flag.Flag) { asked = asked || f.Name == "rapid.checks" })
	if !asked {
		wears := "500"
		if testing.Short() {
			wears = "50"
		}
		if err := flag.Set("rapid.checks", wears); err != nil {
			panic(err)
		}
	}
	os.Exit(m.Run())
}

// sound fails where a label lies on another or outside the picture.
func sound(t fataler, svg string) picture {
	p := parseSVG(t, svg)
	for i, a := range p.texts {
		if a.left < -0.6 || a.right > p.width+0.6 || a.top < -0.1 || a.bottom > p.height+0.1 {
			t.Fatalf("%q lies outside: %+v of %v by %v", p.words[i], a, p.width, p.height)
		}
		for j, b := range p.texts[:i] {
			if a.overlaps(b) {
				t.Fatalf("%q lies on %q: %+v %+v", p.words[i], p.words[j], a, b)
			}
		}
	}
	return p
}

// anyValue is a value that a file can hold, now and then none at all.
func anyValue(t *rapid.T, name string) float64 {
	switch rapid.IntRange(0, 12).Draw(t, name+" odd") {
	case 0:
		return math.NaN()
	case 1:
		return math.Inf(1)
	case 2:
		return rapid.Float64Range(-2, 80).Draw(t, name)
	}
	return rapid.Float64Range(3, 14).Draw(t, name)
}

func anyDate(t *rapid.T) time.Time {
	return time.Date(2026, 1, rapid.IntRange(1, 365).Draw(t, "day"), 9, 0, 0, 0, zone)
}

func anyPast(t *rapid.T) Past { return Past(rapid.IntRange(0, 7).Draw(t, "past")) }

func countFinite(values ...float64) (n int) {
	for _, v := range values {
		n += one(finite(v))
	}
	return n
}

// account fails where a picture of n values does not say of each whether it is
// drawn.
func account(t fataler, got Shown, n, drawn int) {
	if got.Values != drawn || got.Values+got.Hidden != n {
		t.Fatalf("%d drawn and %d hidden of %d, of which %d can be drawn", got.Values, got.Hidden, n, drawn)
	}
}
