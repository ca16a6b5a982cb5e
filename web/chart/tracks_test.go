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

var zone = time.FixedZone("", 10*3600)

// sample is a fortnight at five minutes with a gap, a suspect stretch,
// episodes and records, the same at every call.
func sample(days int) *Tracks {
	first := time.Date(2026, 3, 3, 0, 0, 0, 0, zone)
	t := &Tracks{ID: "t", Width: 1240, First: first, Days: days, MaxStep: 600}
	start := first.Unix() + 9*3600
	for at := start; at < first.AddDate(0, 0, days).Unix()-7*3600; at += 300 {
		m := float64(at-start) / 60
		if m > 2000 && m < 2480 {
			continue
		}
		v := 5.6 + 0.5*math.Sin(m/97) + max(0, 5.2*math.Sin(m/230)-1.6)
		if m > 6000 && m < 6100 {
			v = 3.1
		}
		p := Point{At: at, Mmol: math.Round(v*10) / 10, Suspect: m > 4000 && m < 4200}
		if p.Mmol > 7.8 {
			p.Past |= Above78
		}
		if p.Mmol > 10 {
			p.Past |= Above10
		}
		if p.Mmol < 3.9 {
			p.Past |= Below39
		}
		t.Points = append(t.Points, p)
	}
	t.Gaps = []Stretch{{start + 2000*60, start + 2480*60, "no data 8 h", ""}}
	t.Suspect = []Stretch{{start + 4005*60, start + 4195*60, "not believed: pressure dip", "pressure dip"}}
	for i := range 3 * days {
		from := start + int64(i)*28800
		t.Bars = append(t.Bars, Bar{Number: 2*i + 1, From: from, To: from + 5400, Past: Above78, Length: "1 h 30"})
		if i%3 == 0 {
			t.Bars = append(t.Bars, Bar{Number: 2*i + 2, From: from + 1200, To: from + 3600, Past: Above10, Length: "40 min"})
		}
	}
	for i, words := range []string{"rice & dal <hot>", "shaky", "5.9", "walk", "slept badly", "nap", "tablet", "dinner"} {
		signs := []Sign{SignMeal, SignSymptom, SignFinger, SignExercise, SignNote, SignSleep, SignMedicine, SignMeal}
		t.Marks = append(t.Marks, Mark{At: start + int64(i)*7200, Sign: signs[i], Text: words})
	}
	return t
}

func TestTracksGolden(t *testing.T) {
	for name, c := range map[string]struct{ days, width int }{
		"tracks_fortnight": {14, 1240}, "tracks_3_days": {3, 1240}, "tracks_slim": {3, 310},
	} {
		s := sample(c.days)
		s.Width = c.width
		got := s.Draw()
		parseSVG(t, got.SVG)
		golden(t, name, got.SVG)
		if got.Readings != len(s.Points) || got.Hidden != 0 {
			t.Errorf("%s: %d drawn and %d hidden of %d readings", name, got.Readings, got.Hidden, len(s.Points))
		}
	}
}

func TestOverviewGolden(t *testing.T) {
	for name, width := range map[string]int{"overview_wide": 1240, "overview_slim": 310} {
		s := sample(14)
		s.Width = width
		got := s.Overview(s.First.AddDate(0, 0, 4), 3)
		sound(t, got.SVG)
		golden(t, name, got.SVG)
	}
}

// A second sensor is dashed on the same scale, and named; what is not believed
// of it is counted in words.
func TestTwoSensors(t *testing.T) {
	s := sample(4)
	b := Beside{Name: "sensor kind B", MaxStep: 600}
	for _, q := range s.Points {
		q.Mmol += 0.9
		b.Points = append(b.Points, q)
	}
	s.Beside = []Beside{b}
	got := s.Draw()
	p := sound(t, got.SVG)
	golden(t, "tracks_two_sensors", got.SVG)
	if p.path("line-beside") == "" || !slices.Contains(p.words, "dashed: sensor kind B") {
		t.Errorf("no second line, or no name for it: %q", p.words)
	}
	if got.Beside+got.BesideHidden != len(b.Points) || got.BesideHidden == 0 || !strings.Contains(p.desc, count(got.BesideHidden, "reading")+" of another sensor not drawn") {
		t.Errorf("%d drawn and %d hidden of %d: %s", got.Beside, got.BesideHidden, len(b.Points), p.desc)
	}
}

// The text that stands for tracks opens with the engine's sentence.
func TestTracksSayTheFinding(t *testing.T) {
	s := sample(1)
	s.Finding = "Above 7.8 on 1 of 1 usable day."
	if said := parseSVG(t, s.Draw().SVG).desc; !strings.HasPrefix(said, s.Finding+" ") {
		t.Error(said)
	}
}

func TestTracksOfNothing(t *testing.T) {
	got := (&Tracks{}).Draw()
	parseSVG(t, got.SVG)
	if got.Readings != 0 || got.Hidden != 0 {
		t.Errorf("%+v", got)
	}
}

// A line joins two readings only where nothing is missing between them.
func TestLineIsBroken(t *testing.T) {
	first := time.Date(2026, 3, 3, 0, 0, 0, 0, zone)
	at := func(minute int64) int64 { return first.Unix() + minute*60 }
	base := Tracks{ID: "t", Width: 1240, First: first, Days: 1, MaxStep: 600}
	for name, c := range map[string]struct {
		points []Point
		gaps   []Stretch
		lines  int // pieces of the believed line
	}{
		"whole":            {[]Point{{At: at(60), Mmol: 5}, {At: at(65), Mmol: 6}, {At: at(70), Mmol: 5}}, nil, 1},
		"missing readings": {[]Point{{At: at(60), Mmol: 5}, {At: at(65), Mmol: 6}, {At: at(80), Mmol: 5}, {At: at(85), Mmol: 5}}, nil, 2},
		"declared gap":     {[]Point{{At: at(60), Mmol: 5}, {At: at(68), Mmol: 6}}, []Stretch{{From: at(60), To: at(68)}}, 2},
		"not believed":     {[]Point{{At: at(60), Mmol: 5}, {At: at(65), Mmol: 6, Suspect: true}, {At: at(70), Mmol: 5}}, nil, 2},
		"not a number":     {[]Point{{At: at(60), Mmol: 5}, {At: at(70), Mmol: math.NaN()}, {At: at(80), Mmol: 5}}, nil, 2},
	} {
		s := base
		s.Points, s.Gaps = c.points, c.gaps
		got := parseSVG(t, s.Draw().SVG).path("line-value")
		if n := len(strings.FieldsFunc(got, func(r rune) bool { return r == 'm' || r == 'M' })); n != c.lines {
			t.Errorf("%s: %d pieces, want %d: %s", name, n, c.lines, got)
		}
	}
}

// The line is thick where a reading is past 10 or 3.9 by the comparison it came
// with, nowhere else, and no space between a limit and the trace is filled.
func TestThickLineFollowsTheComparison(t *testing.T) {
	first := time.Date(2026, 3, 3, 0, 0, 0, 0, zone)
	s := Tracks{ID: "t", Width: 1240, First: first, Days: 1, MaxStep: 600}
	for past, want := range map[Past]bool{0: false, Above78: false, Above78 | Above10: true, Below39: true} {
		// 10.01 may be not above 10 in the file's own unit: the drawing does not compare.
		s.Points = []Point{{At: first.Unix() + 3600, Mmol: 10.01, Past: past}}
		got := parseSVG(t, s.Draw().SVG)
		if (got.path("line-far") != "") != want {
			t.Errorf("past %b: %q", past, got.path("line-far"))
		}
		for _, class := range []string{"fill-high", "fill-peak", "fill-low", "stroke-high", "stroke-peak", "stroke-low"} {
			if d := got.path(class); d != "" {
				t.Errorf("past %b: %s is drawn without an episode: %q", past, class, d)
			}
		}
	}
}

func anyTracks(t *rapid.T) *Tracks {
	first := time.Date(2026, time.Month(rapid.IntRange(1, 12).Draw(t, "month")), rapid.IntRange(1, 28).Draw(t, "day"), 0, 0, 0, 0, zone)
	days := rapid.IntRange(1, 20).Draw(t, "days")
	step := int64(rapid.SampledFrom([]int{60, 300, 900}).Draw(t, "step"))
	s := &Tracks{ID: "x", First: first, Days: days, MaxStep: 2 * step}
	seconds := days * 86400
	when := func(name string) int64 {
		return first.Unix() + int64(rapid.IntRange(-3600, seconds+3600).Draw(t, name))
	}
	v := rapid.Float64Range(2, 25).Draw(t, "level")
	at := first.Unix() - 3600
	for range rapid.IntRange(0, 400).Draw(t, "readings") {
		v += rapid.Float64Range(-1, 1).Draw(t, "move")
		at += step * int64(rapid.SampledFrom([]int{1, 1, 1, 1, 1, 7, 40}).Draw(t, "steps"))
		p := Point{At: at, Mmol: v, Suspect: rapid.IntRange(0, 9).Draw(t, "suspect") == 0, Past: Past(rapid.IntRange(0, 7).Draw(t, "past"))}
		switch rapid.IntRange(0, 60).Draw(t, "odd") {
		case 0:
			p.Mmol = math.NaN()
		case 1:
			p.Mmol = math.Inf(1)
		case 2:
			p.Mmol, p.Edge = math.NaN(), LowEdge
		}
		s.Points = append(s.Points, p)
	}
	for range rapid.IntRange(0, 2).Draw(t, "others") {
		b := Beside{Name: rapid.String().Draw(t, "name"), MaxStep: 600}
		from := when("from")
		for i := range rapid.IntRange(0, 60).Draw(t, "theirs") {
			b.Points = append(b.Points, Point{At: from + 300*int64(i), Mmol: anyValue(t, "other"), Suspect: i%7 == 3})
		}
		s.Beside = append(s.Beside, b)
	}
	for range rapid.IntRange(0, 12).Draw(t, "gaps") {
		from := when("gap")
		s.Gaps = append(s.Gaps, Stretch{from, from + int64(rapid.IntRange(0, 200000).Draw(t, "long")), "no data " + strconv.Itoa(rapid.IntRange(1, 99).Draw(t, "h")) + " h", ""})
	}
	for i := range rapid.IntRange(0, 90).Draw(t, "bars") {
		from := when("bar")
		s.Bars = append(s.Bars, Bar{Number: i + 1, From: from, To: from + int64(rapid.IntRange(900, 20000).Draw(t, "long")), Length: "12 h 45", Past: rapid.SampledFrom([]Past{Above78, Above10, Below39}).Draw(t, "kind")})
	}
	for range rapid.IntRange(0, 90).Draw(t, "marks") {
		s.Marks = append(s.Marks, Mark{At: when("mark"), Sign: Sign(rapid.IntRange(0, 6).Draw(t, "sign")), Text: rapid.String().Draw(t, "text")})
	}
	return s
}

// Whatever a wear holds: the picture is sound XML, no number is none, no label
// lies on another or outside, and each reading is drawn or declared hidden.
func TestTracksProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyTracks(t)
		within := func(points []Point) (n int) {
			for _, q := range points {
				n += one(q.At >= s.First.Unix() && q.At < s.First.AddDate(0, 0, s.Days).Unix())
			}
			return n
		}
		beside := 0
		for _, b := range s.Beside {
			beside += within(b.Points)
		}
		for _, s.Width = range widths {
			got := s.Draw()
			sound(t, got.SVG)
			if all := within(s.Points); got.Readings+got.Hidden != all {
				t.Fatalf("%d drawn and %d hidden of %d readings", got.Readings, got.Hidden, all)
			}
			if got.Beside+got.BesideHidden != beside {
				t.Fatalf("%d drawn and %d hidden of %d readings of other sensors", got.Beside, got.BesideHidden, beside)
			}
			if again := s.Draw(); again.SVG != got.SVG {
				t.Fatalf("two pictures of the same wear differ")
			}
			over := s.Overview(s.First.AddDate(0, 0, s.Days/3), 3)
			sound(t, over.SVG)
			if over.Readings+over.Hidden != within(s.Points) {
				t.Fatalf("overview: %d drawn and %d hidden", over.Readings, over.Hidden)
			}
		}
	})
}

// However many readings share a column of pixels, the line covers each.
func TestLineCoversEveryReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var line trace
		type reading struct{ x, y float64 }
		var all []reading
		x := 0.0
		for range rapid.IntRange(1, 200).Draw(t, "n") {
			x += rapid.Float64Range(0.01, 1.5).Draw(t, "step")
			r := reading{x, rapid.Float64Range(0, 100).Draw(t, "y")}
			all = append(all, r)
			line.add(r.x, r.y, len(all) == 1)
		}
		line.finish()
		lowest, highest := map[int]float64{}, map[int]float64{}
		for _, p := range places(t, line.String()) {
			c := int(math.Floor(p.x + 0.051)) // drawn to a tenth of a pixel
			for _, c := range []int{c, int(math.Floor(p.x - 0.051))} {
				if v, ok := lowest[c]; !ok || p.y > v {
					lowest[c] = p.y
				}
				if v, ok := highest[c]; !ok || p.y < v {
					highest[c] = p.y
				}
			}
		}
		for _, r := range all {
			c := int(math.Floor(r.x))
			if low, ok := lowest[c]; !ok || r.y > low+0.06 || r.y < highest[c]-0.06 {
				t.Fatalf("the reading at %+v is not covered (%v to %v)", r, highest[c], low)
			}
		}
	})
}

// places reads the ends of the steps of a path that pen wrote.
func places(t fataler, d string) []point {
	var out []point
	var x, y float64
	for _, step := range strings.FieldsFunc(strings.ReplaceAll(d, "h0", ""), func(r rune) bool { return r == 'M' || r == 'm' || r == 'l' }) {
		cut := strings.IndexAny(step[1:], " -") + 1
		x += float(t, step[:cut])
		y += float(t, strings.TrimSpace(step[cut:]))
		out = append(out, point{x, y})
	}
	return out
}

func BenchmarkTracksFortnightOneMinute(b *testing.B) {
	s := sample(14)
	var dense []Point
	for _, p := range s.Points {
		for k := range int64(5) {
			q := p
			q.At += 60 * k
			dense = append(dense, q)
		}
	}
	s.Points = dense
	b.ReportAllocs()
	for b.Loop() {
		b.SetBytes(int64(len(s.Draw().SVG)))
	}
}
