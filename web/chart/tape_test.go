package chart

import (
	"testing"

	"pgregory.net/rapid"
)

func sampleStrips() []Strip {
	strips := make([]Strip, 14)
	for i := range strips {
		strips[i] = Strip{Name: "Tue 3 Mar", Total: "12 h 45"}
		for k := range strips[i].Quarters {
			switch {
			case i == 6 && k > 30 && k < 60:
				strips[i].Quarters[k] = QuarterNoData
			case (k+i)%17 == 0:
				strips[i].Quarters[k] = QuarterAbove78
			case k > 76 && k < 80+i%3:
				strips[i].Quarters[k] = QuarterAbove78 | QuarterAbove10
			case i == 4 && k == 41:
				strips[i].Quarters[k] = QuarterBelow39
			}
		}
	}
	return strips
}

func TestTapeGolden(t *testing.T) {
	golden(t, "tape_fortnight", Tape("tape", "", sampleStrips(), 596))
	golden(t, "tape_no_day", Tape("tape", "", nil, 310))
}

func TestTapeSaysTheFinding(t *testing.T) {
	want := "Above 7.8 mostly in the evening. No quarter hour on 1 day was above 7.8."
	if said := parseSVG(t, Tape("x", "Above 7.8 mostly in the evening.", []Strip{{}}, 310)).desc; said != want {
		t.Errorf("got %s\nwant %s", said, want)
	}
}

func TestTapeSentence(t *testing.T) {
	var evening Strip
	evening.Quarters[80], evening.Quarters[81], evening.Quarters[3] = QuarterAbove10, QuarterAbove78, QuarterAbove78
	for want, strips := range map[string][]Strip{
		"No quarter hour on 2 days was above 7.8.":                      {{}, {}},
		"3 quarter hours above 7.8 on 1 day; 2 of them in the evening.": {evening},
	} {
		if got := tapeSentence(strips); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}

// Each quarter past a limit is one punch, and no label lies on another.
func TestTapeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		strips := make([]Strip, rapid.IntRange(0, 16).Draw(t, "days"))
		punched, low := 0, 0
		for i := range strips {
			strips[i].Name, strips[i].Total = rapid.String().Draw(t, "name"), "23 h 45"
			for range rapid.IntRange(0, 9).Draw(t, "runs") {
				q := Quarter(rapid.IntRange(0, 15).Draw(t, "quarter"))
				strips[i].Quarters[rapid.IntRange(0, 95).Draw(t, "at")] = q
			}
			for _, q := range strips[i].Quarters {
				punched += one(q&(QuarterAbove78|QuarterAbove10) != 0)
				low += one(q&QuarterBelow39 != 0)
			}
		}
		finding := rapid.String().Draw(t, "finding")
		for _, width := range append([]int{596}, widths...) {
			p := sound(t, Tape("x", finding, strips, width))
			if got := shapes(p.path("fill-high") + p.path("fill-peak")); got != punched {
				t.Fatalf("%d punches for %d quarters", got, punched)
			}
			if got := shapes(p.path("fill-low")); got != low {
				t.Fatalf("%d notches for %d quarters", got, low)
			}
		}
	})
}
