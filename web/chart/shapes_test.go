package chart

import (
	"encoding/xml"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// filled are the classes that fill a shape with a colour; their colours differ,
// but no meaning may rest on that.
var filled = regexp.MustCompile(`^(fill-high|fill-peak|fill-low|fill-ink)$`)

// strokes that differ in colour alone are one kind of line in black and white.
var lined = regexp.MustCompile(`^(line-value|line-mark|line-high|line-stone|line-faint)$`)

// inBlack is a picture as a black and white print has it: its shapes with their
// places, each filled, open or a line, without words and colours.
func inBlack(t *testing.T, svg string) string {
	t.Helper()
	var out []string
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := d.Token()
		if err == io.EOF {
			slices.Sort(out)
			return strings.Join(out, "\n")
		}
		if err != nil {
			t.Fatal(err)
		}
		e, ok := token.(xml.StartElement)
		if !ok || e.Name.Local != "path" && e.Name.Local != "rect" {
			continue
		}
		a := map[string]string{}
		for _, attr := range e.Attr {
			a[attr.Name.Local] = attr.Value
		}
		class := filled.ReplaceAllString(lined.ReplaceAllString(a["class"], "line"), "fill")
		if e.Name.Local == "rect" {
			out = append(out, strings.Join([]string{"rect", class, a["fill"], a["x"], a["y"], a["width"], a["height"]}, " "))
		}
		for _, shape := range pieces(t, a["d"]) {
			out = append(out, class+" "+shape)
		}
	}
}

// pieces are the shapes and lines of a path that pen wrote, each with the place
// where it begins.
func pieces(t *testing.T, d string) []string {
	t.Helper()
	var out []string
	x, y := 0.0, 0.0
	for _, piece := range regexp.MustCompile(`[Mm][^Mm]+`).FindAllString(d, -1) {
		steps := regexp.MustCompile(`([Mml])(-?[\d.]+) ?(-?[\d.]+)`).FindAllStringSubmatch(piece, -1)
		x, y = x+float(t, steps[0][2]), y+float(t, steps[0][3])
		out = append(out, oneDecimal(x)+" "+oneDecimal(y)+" "+piece[len(steps[0][0]):])
		if strings.HasSuffix(piece, "z") {
			continue // back where it began
		}
		for _, s := range steps[1:] {
			x, y = x+float(t, s[2]), y+float(t, s[3])
		}
	}
	return out
}

// distinct fails where two meanings come to the same drawing in black and white.
func distinct(t *testing.T, pictures map[string]string) {
	t.Helper()
	seen := map[string]string{}
	for name, svg := range pictures {
		shape := inBlack(t, svg)
		if other, ok := seen[shape]; ok {
			t.Errorf("%s and %s look alike in black and white", name, other)
		}
		seen[shape] = name
	}
}

// Whatever a mark means, it differs from every other of its picture by shape,
// not by colour alone.
func TestMarksDifferWithoutColour(t *testing.T) {
	first := time.Date(2026, 3, 3, 0, 0, 0, 0, zone)
	at := first.Unix() + 12*3600
	tracks := func(change func(*Tracks)) string {
		s := &Tracks{ID: "t", Width: 720, First: first, Days: 1, MaxStep: 600}
		change(s)
		return s.Draw().SVG
	}
	groups := map[string]map[string]string{"context": {}, "evidence": {}, "trace": {}, "hatch": {}, "ledger": {}, "tape": {}, "low point": {}, "morning": {}, "meal": {}, "compare": {}}
	for sign, name := range signNouns {
		groups["context"][name] = tracks(func(s *Tracks) { s.Marks = []Mark{{At: at, Sign: sign, Text: "w"}} })
	}
	for name, b := range map[string]Bar{
		"above 7.8": {Past: Above78}, "above 10": {Past: Above10}, "above 13.9": {Past: Above10, Far: true},
		"below 3.9": {Past: Below39}, "below 3.0": {Past: Below39, Far: true},
	} {
		b.Number, b.From, b.To = 3, at, at+3600
		groups["evidence"][name] = tracks(func(s *Tracks) { // the others give every picture the same height
			s.Bars = []Bar{{Number: 1, From: at - 36000, To: at - 32400, Past: Above10}, {Number: 2, From: at - 18000, To: at - 14400, Past: Below39}, b}
		})
	}
	stretch := []Stretch{{From: at, To: at + 7200, Caption: "x"}}
	groups["hatch"]["gap"] = tracks(func(s *Tracks) { s.Gaps = stretch })
	groups["hatch"]["doubt"] = tracks(func(s *Tracks) { s.Suspect = stretch })
	points := []Point{{At: at, Mmol: 6}, {At: at + 300, Mmol: 7}}
	groups["trace"]["this sensor"] = tracks(func(s *Tracks) { s.Points = points })
	groups["trace"]["another sensor"] = tracks(func(s *Tracks) { s.Beside = []Beside{{Name: "B", MaxStep: 600, Points: points}} })
	groups["trace"]["not believed"] = tracks(func(s *Tracks) {
		s.Points, s.Suspect = []Point{{At: at, Mmol: 6, Suspect: true}, {At: at + 300, Mmol: 7, Suspect: true}}, stretch
	})

	for name, d := range map[string]Pip{
		"neither": {Usable: true}, "above 7.8": {Usable: true, Above78: true}, "above 10": {Usable: true, Above10: true},
		"dip": {Usable: true, Dip: true}, "no data": {},
	} {
		groups["ledger"][name] = LedgerRow("x", []Pip{d}, 256)
	}
	for name, q := range map[string]Quarter{"nothing": 0, "above 7.8": QuarterAbove78, "above 10": QuarterAbove10, "below 3.9": QuarterBelow39, "no data": QuarterNoData} {
		var strip Strip
		strip.Quarters[40] = q
		groups["tape"][name] = Tape("x", "", []Strip{strip}, 310)
	}
	nan := math.NaN()
	night := func(n Night) string {
		n.Date = first
		return (&Nights{ID: "x", Width: 310, Nights: []Night{n}}).Draw().SVG
	}
	for name, past := range map[string]Past{"within": 0, "above 7.8": Above78, "above 10": Above78 | Above10, "below 3.9": Below39} {
		groups["morning"][name] = night(Night{Low: nan, Morning: 6, MorningPast: past})
	}
	groups["low point"]["within"] = night(Night{Low: 6, Morning: nan})
	groups["low point"]["below 3.9"] = night(Night{Low: 6, Morning: nan, LowPast: Below39})
	groups["low point"]["a morning"] = night(Night{Low: nan, Morning: 6})
	meal := func(change func(*Meal)) string {
		m := Meal{At: first, Before: 5, Peak: 8, TwoHours: 6, Judged: true}
		change(&m)
		return (&MealLines{ID: "x", Width: 310, Meals: []Meal{m}}).Draw().SVG
	}
	for name, past := range map[string]Past{"within": 0, "above 7.8": Above78, "above 10": Above78 | Above10} {
		groups["meal"][name] = meal(func(m *Meal) { m.Past = past })
	}
	groups["meal"]["not judged"] = meal(func(m *Meal) { m.Judged = false })
	for name, beyond := range map[string]bool{"within variation": false, "beyond it": true} {
		groups["compare"][name] = (&Compare{ID: "x", Width: 310, Pairs: []Pair{{Before: 5, After: 7, Low: 4, High: 11, Beyond: beyond}}}).Draw().SVG
	}
	for group, pictures := range groups {
		t.Run(group, func(t *testing.T) { distinct(t, pictures) })
	}
}
