package intake_test

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// trueWear is what a file must say when it is read.
type trueWear struct {
	zone     *time.Location
	unit     wear.Unit
	readings []wear.Reading
	events   []wear.Event
	cadence  int64
}

var zones = []string{"UTC", "Australia/Sydney", "Australia/Brisbane", "Europe/Berlin", "America/New_York"}

func drawWear(t *rapid.T) trueWear {
	zone, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
	if err != nil {
		t.Fatal(err)
	}
	w := trueWear{zone: zone, unit: rapid.SampledFrom([]wear.Unit{wear.MmolL, wear.MgdL}).Draw(t, "unit")}
	w.cadence = rapid.SampledFrom([]int64{300, 900}).Draw(t, "cadence")
	start := time.Date(2024, 1, 9, 0, 0, 0, 0, time.UTC).Unix() + rapid.Int64Range(0, 900*1440).Draw(t, "start")*60
	n := rapid.IntRange(60, 1400).Draw(t, "readings")
	level := int64(rapid.IntRange(47, 72).Draw(t, "level"))
	value, drift := level, int64(0)
	seed := rapid.Int64Range(1, 1<<30).Draw(t, "walk")
	next := func(n int64) int64 { // a small generator of our own, so that a wear is few draws
		seed = (seed*1103515245 + 12345) % (1 << 31)
		return seed >> 8 % n
	}
	skip := int64(0)
	for i := range n {
		if next(150) == 0 {
			skip += w.cadence * (1 + next(20))
		}
		drift = max(-4, min(4, drift+next(3)-1+(level-value)/16))
		value = max(24, min(190, value+drift))
		if value == 24 || value == 190 {
			drift = 0
		}
		r := wear.Reading{At: start + int64(i)*w.cadence + skip, Num: value, Scale: 1, Unit: w.unit}
		if w.unit == wear.MgdL {
			r.Num, r.Scale = value*18/10, 0
		}
		if value < 26 {
			r.Num, r.Scale, r.Bound = 0, 0, wear.Below
		}
		w.readings = append(w.readings, r)
		if next(60) == 0 {
			kind := []wear.EventKind{wear.Meal, wear.Symptom, wear.Exercise}[next(3)]
			w.events = append(w.events, wear.Event{At: r.At, Kind: kind, Label: "thing " + fmt.Sprint(i)})
		}
	}
	return w
}

var headings = map[string][3]string{ // time, date, glucose
	"en": {"Time", "Date", "Glucose"}, "de": {"Uhrzeit", "Datum", "Glukosewert"}, "fr": {"Heure", "Jour", "Glycémie"},
	"es": {"Hora", "Fecha", "Glucosa"}, "it": {"Ora", "Data", "Glicemia"}, "pt": {"Hora", "Data", "Glicose"}, "nl": {"Tijd", "Datum", "Suikerwaarde"},
	"xx": {"Ypsu", "Ypda", "Ququ"},
}

var clocks = []struct {
	name, date, clock string
	ambiguous         bool
}{
	{"iso", "2006-01-02", "15:04:05", false},
	{"day first", "02/01/2006", "15:04", true},
	{"month first", "01/02/2006", "15:04:05", true},
	{"dots", "2.1.06", "15:04", true},
	{"named", "02-Jan-2006", "15:04", false},
	{"12 hours", "2006/01/02", "3:04 PM", false},
	{"American", "1/2/2006", "03:04:05 PM", true},
	{"epoch", "", "", false},
	{"milliseconds", "", "", false},
	{"offset", "2006-01-02T15:04:05Z07:00", "", false},
}

// render writes the wear in a random layout. decidable is false if the file
// does not hold enough to be read without a person.
func render(t *rapid.T, w trueWear) (data string, decidable bool, described string) {
	pick := func(label string, oneIn int) bool { return rapid.IntRange(1, oneIn).Draw(t, label) == 1 }
	delim := rapid.SampledFrom([]string{",", ";", "\t", "|"}).Draw(t, "delimiter")
	comma := delim != "," && pick("decimal comma", 2)
	quote := pick("quoted", 4)
	language := rapid.SampledFrom([]string{"", "en", "de", "fr", "es", "it", "pt", "nl", "xx"}).Draw(t, "language")
	form := rapid.SampledFrom(clocks).Draw(t, "clock")
	split := form.clock != "" && pick("split", 3)
	dateOnce := split && pick("date once", 2)
	lost := w.unit == wear.MmolL && pick("decimal mark lost", 15)
	// A file in mg/dL by its own words and by its values holds nothing that
	// could tell that its decimal mark was lost.
	wrongUnit := !lost && pick("wrong unit", 15)
	stated := pick("unit in heading", 2) || wrongUnit
	heart := pick("heart rate", 4)
	newest := !dateOnce && pick("newest first", 4)
	decidable = !lost && !mayBeLost(w) && !(wrongUnit && language != "") && language != "" && language != "xx"

	names := headings[cmp.Or(language, "en")]
	unitText := w.unit.String()
	if wrongUnit {
		unitText = map[wear.Unit]string{wear.MmolL: "mg/dL", wear.MgdL: "mmol/L"}[w.unit]
	}
	glucoseName := names[2]
	if stated {
		glucoseName += " " + unitText
	}
	type col struct {
		name string
		cell func(i int, r wear.Reading) string
	}
	local := func(r wear.Reading) time.Time { return time.Unix(r.At, 0).In(w.zone) }
	lastDay := ""
	date := func(_ int, r wear.Reading) string {
		d := local(r).Format(form.date)
		if dateOnce && d == lastDay {
			return ""
		}
		lastDay = d
		return d
	}
	var cols []col
	switch {
	case form.name == "epoch":
		cols = append(cols, col{names[0], func(_ int, r wear.Reading) string { return fmt.Sprint(r.At) }})
	case form.name == "milliseconds":
		cols = append(cols, col{names[0], func(_ int, r wear.Reading) string { return fmt.Sprint(r.At * 1000) }})
	case split:
		cols = append(cols, col{names[1], date}, col{names[0], func(_ int, r wear.Reading) string { return local(r).Format(form.clock) }})
	default:
		cols = append(cols, col{names[0], func(_ int, r wear.Reading) string {
			return strings.TrimSpace(local(r).Format(form.date + " " + form.clock))
		}})
	}
	cols = append(cols, col{glucoseName, func(_ int, r wear.Reading) string {
		s := r.Text()
		switch {
		case lost:
			return strings.ReplaceAll(s, ".", "")
		case comma:
			return strings.ReplaceAll(s, ".", ",")
		}
		return s
	}})
	eventAt := make(map[int64]wear.Event)
	for _, e := range w.events {
		eventAt[e.At] = e
	}
	withEvents := pick("events", 2)
	if withEvents {
		cols = append(cols, col{"event", func(_ int, r wear.Reading) string {
			if e, ok := eventAt[r.At]; ok {
				return string(e.Kind) + ": " + e.Label
			}
			return ""
		}})
	}
	if heart {
		cols = append(cols, col{"heart rate", func(i int, _ wear.Reading) string { return fmt.Sprint(60 + i*i%37) }})
	}
	if pick("row number", 3) {
		cols = append(cols, col{"nr", func(i int, _ wear.Reading) string { return fmt.Sprint(i + 1) }})
	}
	if pick("serial", 3) {
		cols = append(cols, col{"serial", func(int, wear.Reading) string { return "4410029987" }})
	}
	if pick("unit column", 4) && !wrongUnit {
		cols = append(cols, col{"unit", func(int, wear.Reading) string { return unitText }})
	}
	cols = rapid.Permutation(cols).Draw(t, "columns")

	var b strings.Builder
	row := func(cells ...string) {
		for i, c := range cells {
			if i > 0 {
				b.WriteString(delim)
			}
			if quote && c != "" {
				c = `"` + c + `"`
			}
			b.WriteString(c)
		}
		b.WriteString("\n")
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "preamble") {
		row([]string{"Report", "Clinic", "Made"}[i], []string{"sensor wear", "Vostrel", "2026-11-20 10:00"}[i])
	}
	if language != "" {
		var cells []string
		for _, c := range cols {
			cells = append(cells, c.name)
		}
		row(cells...)
	}
	readings := slices.Clone(w.readings)
	if newest {
		slices.Reverse(readings)
	}
	for i, r := range readings {
		var cells []string
		for _, c := range cols {
			cells = append(cells, c.cell(i, r))
		}
		row(cells...)
	}
	if pick("total", 4) {
		row("Average", "", "6.1")
	}
	if form.ambiguous { // both orders may fit a file of one day
		days := make(map[string]bool)
		for _, r := range w.readings {
			days[local(r).Format("02")] = true
		}
		decidable = decidable && len(days) > 1
	}
	if !withEvents {
		w.events = nil
	}
	data = b.String()
	if pick("UTF-16", 8) {
		data = "\xff\xfe" + utf16le(data)
	}
	return data, decidable, form.name
}

// mayBeLost reports whole numbers that could as well be mmol/L without their
// decimal mark.
func mayBeLost(w trueWear) bool {
	if w.unit == wear.MmolL {
		return false
	}
	var v []int64
	for _, r := range w.readings {
		if r.Bound == wear.Exact {
			v = append(v, r.Num)
		}
	}
	slices.Sort(v)
	return v[len(v)/2] <= 83 || v[len(v)/20] <= 61
}

// A file is read to the digit or held; it is never filed and wrong. At least
// 85 % of the files that hold enough to be decided are filed without a person.
func TestReadRoundTrip(t *testing.T) {
	decidableFiles, filedRight := 0, 0
	open := make(map[string]int)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWear(t)
		data, decidable, form := render(t, w)
		res := intake.Read([]byte(data), intake.Options{Zone: w.zone, Now: now})
		if decidable {
			decidableFiles++
		}
		if res.Refusal != nil || len(res.Questions) > 0 {
			if decidable {
				code := form
				if res.Refusal != nil {
					code += " " + res.Refusal.Code
				}
				for _, q := range res.Questions {
					code += " " + q.Code
				}
				open[code]++
			}
			return
		}
		byTime := func(a, b wear.Reading) int { return cmp.Compare(a.At, b.At) }
		want, got := slices.Clone(w.readings), slices.Clone(res.Readings)
		if form != "iso" && form != "month first" && form != "American" && form != "epoch" && form != "milliseconds" && form != "offset" {
			for i := range want {
				want[i].At -= want[i].At % 60
			}
		}
		slices.SortStableFunc(want, byTime)
		slices.SortStableFunc(got, byTime)
		if !slices.Equal(want, got) {
			for i := range min(len(want), len(got)) {
				if want[i] != got[i] {
					t.Fatalf("filed and wrong: reading %d is %v %+v, want %v %+v\n%+v\n%s", i, time.Unix(got[i].At, 0).UTC(), got[i], time.Unix(want[i].At, 0).UTC(), want[i], res.Decisions, data[:min(len(data), 600)])
				}
			}
			t.Fatalf("filed and wrong: %d readings, want %d; %v\n%s", len(got), len(want), res.Ignored, data[:min(len(data), 600)])
		}
		for _, e := range res.Events {
			if !besideReadings(e, res.Readings) && !otherQuantity.MatchString(e.Label) && !slices.ContainsFunc(w.events, func(v wear.Event) bool { return v.Kind == e.Kind && v.Label == e.Label }) {
				t.Fatalf("event %+v was never there", e)
			}
		}
		if decidable {
			filedRight++
		}
	})
	t.Logf("%d of %d decidable files filed right; left open: %v", filedRight, decidableFiles, open)
	if decidableFiles == 0 || decidableFiles >= 20 && filedRight*100 < 85*decidableFiles {
		t.Errorf("%d of %d decidable files filed right, want 85 %%", filedRight, decidableFiles)
	}
}
