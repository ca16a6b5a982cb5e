package wear_test

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"wearround/worker/wear"
)

// drawWear draws a wear that looks like one, in one unit.
func drawWear(t *rapid.T, unit wear.Unit) wear.Input {
	minutes := rapid.SampledFrom([]int{1, 5, 15}).Draw(t, "minutes")
	n := rapid.IntRange(0, 2500).Draw(t, "readings")
	level := rapid.Float64Range(3.5, 9).Draw(t, "level")
	size := rapid.Float64Range(0, 6).Draw(t, "size")
	return inventWear(unit, minutes, n, level, size, rapid.Uint64().Draw(t, "seed"))
}

// inventWear invents a wear with meals, nights, gaps, odd values, duplicates,
// conflicts, marks and bounds.
func inventWear(unit wear.Unit, minutes, n int, level, size float64, seed uint64) wear.Input {
	rng := rand.New(rand.NewPCG(seed, 1))
	in := wear.Input{Zone: time.UTC}
	wander := 0.0
	for i := range n {
		if rng.IntN(200) == 0 {
			i += rng.IntN(50)
		}
		since := time.Duration(i*minutes) * time.Minute
		wander = 0.95*wander + 0.1*rng.NormFloat64()
		g := level + wander + bump(time.Duration(float64(time.Hour)*clock(since)), 13*time.Hour, 1.2, size)
		if rng.IntN(300) == 0 {
			g = 1 + 20*rng.Float64()
		}
		r := wear.Reading{At: monday.Add(since).Unix(), Num: int64(math.Round(max(g, 0) * wear.MgdlPerMmol)), Unit: wear.MgdL}
		if unit == wear.MmolL {
			r = wear.Reading{At: r.At, Num: int64(math.Round(max(g, 0) * 10)), Scale: 1, Unit: wear.MmolL}
		}
		switch rng.IntN(400) {
		case 0:
			r.Bound = wear.Below
		case 1:
			r.Bound, r.Num, r.Scale = wear.Above, 0, 0
		case 2:
			r.Mark = wear.MarkError
		case 3:
			r.Mark = wear.MarkOnDemand
		case 4:
			r.Mark = wear.MarkWarmUp
		case 5:
			other := r
			other.Num++
			in.Readings = append(in.Readings, other)
		}
		in.Readings = append(in.Readings, r)
	}
	kinds := []wear.EventKind{wear.Meal, wear.Symptom, wear.Exercise, wear.Sleep, wear.Fingerstick, wear.Note}
	for range rng.IntN(20) {
		e := wear.Event{
			At: monday.Unix() + rng.Int64N(int64(n*minutes*60)+3600), Minutes: rng.IntN(600),
			Kind: kinds[rng.IntN(len(kinds))], Label: []string{"", "shaky", "rice", "confused", "thirsty"}[rng.IntN(5)],
		}
		e.Value = wear.Reading{At: e.At, Num: int64(30 + rng.IntN(100)), Scale: 1, Unit: wear.MmolL}
		in.Events = append(in.Events, e)
	}
	in.Context.GlucoseLowering = rng.IntN(4) == 0
	in.Context.Pregnant = rng.IntN(8) == 0
	return in
}

func encode(t interface{ Fatal(...any) }, r *wear.Report) []byte {
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestOrderOfRowsChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawWear(t, rapid.SampledFrom([]wear.Unit{wear.MmolL, wear.MgdL}).Draw(t, "unit"))
		want := encode(t, wear.Analyse(in))
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 2))
		in.Readings, in.Events = slices.Clone(in.Readings), slices.Clone(in.Events)
		rng.Shuffle(len(in.Readings), func(i, j int) { in.Readings[i], in.Readings[j] = in.Readings[j], in.Readings[i] })
		rng.Shuffle(len(in.Events), func(i, j int) { in.Events[i], in.Events[j] = in.Events[j], in.Events[i] })
		if got := encode(t, wear.Analyse(in)); !bytes.Equal(got, want) {
			t.Fatal(cmp.Diff(string(want), string(got)))
		}
	})
}

func TestRepeatedRowsChangeNothingButTheirCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawWear(t, wear.MgdL)
		in.Readings = slices.DeleteFunc(in.Readings, func(r wear.Reading) bool { return r.Mark == wear.MarkOnDemand })
		want := wear.Analyse(in)
		if len(in.Readings) == 0 {
			return
		}
		repeats := rapid.IntRange(1, 50).Draw(t, "repeats")
		for range repeats {
			i := rapid.IntRange(0, len(in.Readings)-1).Draw(t, "row")
			in.Readings = append(slices.Clone(in.Readings), in.Readings[i])
		}
		got := wear.Analyse(in)
		if got.Duplicates < want.Duplicates || got.Duplicates > want.Duplicates+repeats {
			t.Fatalf("%d duplicates after %d, with %d more rows", got.Duplicates, want.Duplicates, repeats)
		}
		got.Duplicates = want.Duplicates
		// A row repeated in a conflict is one more row of that stretch.
		for i := range got.Suspect {
			if got.Suspect[i].Kind == wear.SuspectConflict {
				got.Suspect[i].Readings = want.Suspect[i].Readings
			}
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatal(d)
		}
	})
}

func TestInputIsLeftAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawWear(t, wear.MmolL)
		readings, events := slices.Clone(in.Readings), slices.Clone(in.Events)
		wear.Analyse(in)
		wear.Split(in.Readings, nil)
		if !slices.Equal(readings, in.Readings) || !slices.Equal(events, in.Events) {
			t.Fatal("the caller's readings or events were changed")
		}
	})
}

// inBothUnits gives a wear in whole mg/dL and in mmol/L with some decimals. The
// pairs of limits are not conversions: 50, 54 and 70 mg/dL are not below themselves,
// but 2.7754, 2.9974 and 3.8855 mmol/L are below 2.8, 3.0 and 3.9. Readings at those values
// are moved up by one; every other whole number lies on the same side of both.
// A bare "high" stands for other glucose in each unit, so it gets its number.
func inBothUnits(in wear.Input, decimals uint8) (mgdl, mmol wear.Input) {
	p := wear.DefaultProtocol()
	p.Believe.FlatCoarseMinutes = p.Believe.FlatMinutes
	in.Protocol, in.Readings = p, slices.Clone(in.Readings)
	mgdl, mmol = in, in
	mmol.Readings = make([]wear.Reading, 0, len(in.Readings))
	for i := range in.Readings {
		r := &in.Readings[i]
		switch {
		case r.Num == 50 || r.Num == 54 || r.Num == 70 || r.Num == 20:
			r.Num++
		case r.Bound == wear.Above && r.Num == 0:
			r.Num = 400
		}
		other := *r
		other.Num, other.Scale, other.Unit = int64(math.Round(float64(r.Num)*math.Pow10(int(decimals))/wear.MgdlPerMmol)), decimals, wear.MmolL
		mmol.Readings = append(mmol.Readings, other)
	}
	return mgdl, mmol
}

// The same glucose in either unit: with so many decimals that means differ by no
// more than sums do. With few, a mean next to its limit may truly change sides.
// Text and score may differ by one unit of their last printed digit.
func TestUnitChangesNoFlag(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mgdl, mmol := inBothUnits(drawWear(t, wear.MgdL), 12)
		a, b := wear.Analyse(mgdl), wear.Analyse(mmol)
		if d := cmp.Diff(codes(a), codes(b)); d != "" {
			t.Fatal(d)
		}
		if a.Priority.Tier != b.Priority.Tier || math.Abs(a.Priority.Score-b.Priority.Score) > 0.1*float64(len(a.Priority.Parts))+1e-9 {
			t.Fatalf("%v %v and %v %v", a.Priority.Tier, a.Priority.Score, b.Priority.Tier, b.Priority.Score)
		}
		if len(a.Episodes) != len(b.Episodes) || a.Believed != b.Believed {
			t.Fatalf("%d episodes of %d believed and %d of %d", len(a.Episodes), a.Believed, len(b.Episodes), b.Believed)
		}
		if d := math.Abs(a.Metrics.MeanMmol.V - b.Metrics.MeanMmol.V); d > 1e-9 {
			t.Fatalf("means differ by %v", d)
		}
	})
}

// One of three long night lows has a mean of 3.499997 mmol/L in mg/dL and of
// 3.500004 in mmol/L with four decimals: 3.5 in both, and the limit is at most 3.5.
func TestMeanAtItsLimitInEitherUnit(t *testing.T) {
	mgdl, mmol := inBothUnits(inventWear(wear.MgdL, 15, 1537, 3.60986328125, 0.474609375, 0xd52), 4)
	a, b := wear.Analyse(mgdl), wear.Analyse(mmol)
	if d := cmp.Diff(codes(a), codes(b)); d != "" || !slices.Contains(codes(a), wear.FlagDoubted) {
		t.Errorf("flags %v in one unit, %v in the other", codes(a), codes(b))
	}
}

// A different zone moves only what hangs on the clock.
func TestZoneMovesOnlyTheClock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawWear(t, wear.MgdL)
		// Pressure dips hang on the clock and would change every measure.
		p := wear.DefaultProtocol()
		p.Believe.PressureFromHour, p.Believe.PressureToHour = 0, 24
		p.Believe.PressureNoiseRatio = 0 // the jitter is that of the nights
		in.Protocol = p
		a := wear.Analyse(in)
		in.Zone = time.FixedZone("", 3600*rapid.IntRange(-12, 14).Draw(t, "offset"))
		b := wear.Analyse(in)
		onTheClock := func(m *wear.Metrics) {
			for _, f := range []*wear.Figure{&m.NightMeanMmol, &m.DayMeanMmol, &m.NightAbove7_8, &m.DayAbove7_8, &m.ADRR} {
				*f = wear.Figure{}
			}
		}
		onTheClock(&a.Metrics)
		onTheClock(&b.Metrics)
		if d := cmp.Diff(a.Metrics, b.Metrics, cmpopts.EquateApprox(1e-12, 0)); d != "" {
			t.Fatal(d)
		}
		sameInstant := cmp.Comparer(func(a, b time.Time) bool { return a.Equal(b) })
		for _, pair := range [][2]any{{a.Episodes, b.Episodes}, {a.Meals, b.Meals}, {a.Exercise, b.Exercise}, {a.Swings, b.Swings}, {a.Gaps, b.Gaps}, {a.Start, b.Start}} {
			if d := cmp.Diff(pair[0], pair[1], sameInstant); d != "" {
				t.Fatal(d)
			}
		}
	})
}

func checkReport(t interface {
	Fatal(...any)
	Fatalf(string, ...any)
}, r *wear.Report) {
	b := encode(t, r)
	if bytes.Contains(b, []byte(":null")) && (bytes.Contains(b, []byte(`"flags":null`)) || bytes.Contains(b, []byte(`"days":null`))) {
		t.Fatal("a list is null")
	}
	var back wear.Report
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	if again := encode(t, &back); !bytes.Equal(again, b) {
		t.Fatal(cmp.Diff(string(b), string(again)))
	}
	if r.Believed > r.Readings || r.Metrics.Readings != r.Believed || r.MetricsAll.Readings != r.Readings {
		t.Fatalf("%d believed of %d, measured %d and %d", r.Believed, r.Readings, r.Metrics.Readings, r.MetricsAll.Readings)
	}
	sum := 0.0
	for _, p := range r.Priority.Parts {
		sum += p.Points
	}
	if math.Abs(sum-r.Priority.Score) > 1e-6 {
		t.Fatalf("score %v, parts add to %v", r.Priority.Score, sum)
	}
	if r.Priority.Tier != wear.Routine && len(r.Flags) == 0 {
		t.Fatalf("%s without a flag", r.Priority.Tier)
	}
	if r.Headline == "" || !strings.HasSuffix(r.Headline, ".") || strings.Contains(r.Headline, "NaN") {
		t.Fatalf("headline %q", r.Headline)
	}
	for i := 1; i < len(r.Episodes); i++ {
		if r.Episodes[i].From.Before(r.Episodes[i-1].From) || r.Episodes[i].Number != i+1 {
			t.Fatal("episodes are not in order")
		}
	}
	for _, s := range []any{r.Suspect, r.Gaps, r.Days, r.Episodes, r.Meals, r.Nights, r.Matches, r.Flags, r.NotFlagged, r.Quality, r.Priority.Parts,
		r.Overrides, r.MealGroups, r.Exercise, r.Swings, r.Labs, r.Explained, r.Context, r.Priority.Lower} {
		if text, _ := json.Marshal(s); string(text) == "null" {
			t.Fatalf("%T is nil", s)
		}
	}
}

func TestEveryReportHoldsTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]wear.Unit{wear.MmolL, wear.MgdL}).Draw(t, "unit")
		checkReport(t, wear.Analyse(drawWear(t, unit)))
	})
}

// readingsFrom makes readings of bytes: every field can take any value.
func readingsFrom(data []byte) (readings []wear.Reading, events []wear.Event) {
	const size = 14
	kinds := []wear.EventKind{wear.Meal, wear.Symptom, wear.Exercise, wear.Sleep, wear.Fingerstick, wear.Medicine, wear.Note, ""}
	at := monday.Unix()
	for ; len(data) >= size; data = data[size:] {
		step := int64(int32(binary.LittleEndian.Uint32(data)))
		if data[12]&0x80 == 0 {
			step = step % 4000 // mostly a plausible step, sometimes any at all
		}
		at += step
		if data[12] == 0xff {
			at = int64(binary.LittleEndian.Uint64(data))
		}
		num := int64(binary.LittleEndian.Uint32(data[4:]))
		if data[12]&0x40 == 0 {
			num %= 400
		}
		r := wear.Reading{
			At: at, Num: num << (data[11] % 32), Scale: data[8] % 20,
			Unit: wear.Unit(data[9] % 4), Bound: wear.Bound(data[10] % 4), Mark: wear.Mark(data[11] >> 5),
		}
		if data[13] < 16 {
			events = append(events, wear.Event{At: at, Minutes: int(int16(binary.LittleEndian.Uint16(data))), Kind: kinds[data[13]%8], Label: string(data[:4]), Value: r})
			continue
		}
		readings = append(readings, r)
	}
	return readings, events
}

func FuzzAnalyse(f *testing.F) {
	f.Add([]byte{}, false)
	seed := make([]byte, 0, 14*300)
	for i := range 300 {
		seed = append(seed, 44, 1, 0, 0, byte(90+i%60), 0, 0, 0, 0, 2, 0, 0, 0, 200)
	}
	f.Add(seed, true)
	f.Add(bytes.Repeat([]byte{0xff}, 14*5), false)
	zones := []*time.Location{nil, time.FixedZone("", 34200)}
	if z, err := time.LoadLocation("America/Santiago"); err == nil {
		zones = append(zones, z)
	}
	f.Fuzz(func(t *testing.T, data []byte, risk bool) {
		readings, events := readingsFrom(data)
		in := wear.Input{
			Readings: readings, Events: events, Zone: zones[len(data)%len(zones)], SensorKind: string(data[:min(2, len(data))]),
			Context: wear.Context{Insulin: risk, BirthYear: len(data) * 7, ShiftWork: len(data)%3 == 0, PolycysticOvary: len(data)%5 == 0},
		}
		labs := []string{wear.LabHbA1c, wear.LabFastingGlucose, wear.LabFastingInsulin, wear.LabTwoHourGlucose, "?"}
		units := []string{"mmol/mol", "%", "mmol/L", "mg/dL", "mU/L", "pmol/L", "\xff"}
		for i, r := range readings[:min(8, len(readings))] {
			in.Labs = append(in.Labs, wear.Lab{At: r.At, Timed: i%2 == 0, Kind: labs[i%len(labs)], Value: math.Float64frombits(uint64(r.Num) << (i * 8)), Unit: units[i%len(units)], Source: string(data[:i])})
			in.Overrides = append(in.Overrides, wear.Override{From: r.At, To: r.At + r.Num, Believe: i%2 == 0})
		}
		first := wear.Analyse(in)
		checkReport(t, first)
		if k := wear.NewNorms("A", slices.Repeat([]wear.Metrics{first.Metrics}, 50), nil).Standing("A", &first.Metrics); k != nil && k.MeanPct.V != 50 {
			t.Fatalf("a wear among its equals: %+v", k)
		}
		n := 0
		for _, w := range wear.Split(readings, nil) {
			n += len(w)
			later := wear.Analyse(wear.Input{Readings: w, Protocol: in.Protocol, Zone: in.Zone})
			checkReport(t, later)
			if len(wear.Compare(first, later, nil)) == 0 {
				t.Fatal("nothing is said about two wears")
			}
		}
		if n != len(readings) {
			t.Fatalf("%d readings in wears, %d given", n, len(readings))
		}
		merged, fresh, same, conflicts := wear.Merge(readings[:len(readings)/2], readings[len(readings)/2:])
		if len(merged) != len(readings)/2+fresh || fresh+same+conflicts != len(readings)-len(readings)/2 {
			t.Fatalf("merged %d: %d fresh, %d same, %d conflicts", len(merged), fresh, same, conflicts)
		}
	})
}

// pastOf gives the share of a measure past each limit as a count of readings.
func pastOf(m wear.Metrics) map[string]float64 {
	counts := map[string]float64{}
	for name, f := range map[string]wear.Figure{
		"above 7.8": m.Above7_8Pct, "above 10": m.Above10Pct, "above 13.9": m.Above13_9Pct, "below 3.9": m.Below3_9Pct, "below 3.0": m.Below3_0Pct,
	} {
		counts[name] = f.V * float64(m.Readings) / 100
	}
	return counts
}

// Leaving out a stretch never adds a reading past any limit: it takes off
// exactly those that lie in it. A share can move where none do, but only
// because fewer readings are left to take it of.
func TestLeavingOutAStretchRaisesNoShareItWasNoPartOf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawWear(t, wear.MgdL)
		plain := wear.Analyse(in)
		if plain.Readings == 0 || plain.IntervalS == 60 {
			return // a gap can make a 1-minute file look mixed, and weights are not counts
		}
		length := plain.End.Unix() - plain.Start.Unix() + 1
		from := plain.Start.Unix() + rapid.Int64Range(0, length).Draw(t, "from")
		o := wear.Override{From: from, To: from + rapid.Int64Range(0, length/4).Draw(t, "length")}
		in.Overrides = []wear.Override{o}
		got := wear.Analyse(in)
		if got.Believed != plain.Believed-got.Overrides[0].Readings {
			t.Fatalf("%d of %d believed after leaving out %d", got.Believed, plain.Believed, got.Overrides[0].Readings)
		}
		before, after := pastOf(plain.Metrics), pastOf(got.Metrics)
		for name := range before {
			if after[name] > before[name]+1e-6 {
				t.Fatalf("%s: %v readings, %v with the stretch", name, after[name], before[name])
			}
		}
		if got.MetricsAll != plain.MetricsAll {
			t.Fatal("the measures over all readings changed")
		}
	})
}

// Believing everything by decision gives the measures over all readings.
func TestBelievingAllGivesAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawWear(t, wear.MmolL)
		in.Overrides = believeAll
		r := wear.Analyse(in)
		if r.Believed != r.Readings || r.Metrics != r.MetricsAll {
			t.Fatalf("%d of %d believed", r.Believed, r.Readings)
		}
	})
}

// One more day moves each part of the score by no more than that day's own
// distance from the rest, weighed as one day among them. Readings are smooth
// here, so that everything is believed and a day is only a day.
func TestOneMoreDayMovesTheScoreSmoothly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(7, 20).Draw(t, "days")
		level := rapid.Float64Range(4.5, 8).Draw(t, "level")
		sizes := make([]float64, n+1)
		for i := range sizes {
			sizes[i] = rapid.Float64Range(0, 4).Draw(t, "size")
		}
		all := days(n+1, 5, func(s time.Duration) float64 {
			day := min(int(s.Hours()/24), n)
			return level + bump(s, at(day, 13, 0), 1.5, sizes[day])
		})
		before := wear.Analyse(wear.Input{Readings: all[:n*288]})
		after := wear.Analyse(wear.Input{Readings: all})
		if before.Believed != before.Readings || after.Believed != after.Readings {
			t.Skip("a reading is not believed")
		}
		p, last := wear.DefaultProtocol(), wear.Analyse(wear.Input{Readings: all[n*288:]})
		bound := 0.0
		for _, x := range []struct {
			norm wear.ScoreNorm
			of   func(*wear.Report) float64
		}{
			{p.Score.Above7_8, func(r *wear.Report) float64 { return r.Metrics.Above7_8Pct.V }},
			{p.Score.Above10, func(r *wear.Report) float64 { return r.Metrics.Above10Pct.V }},
			{p.Score.Mean, func(r *wear.Report) float64 { return r.Metrics.MeanMmol.V }},
		} {
			bound += p.Score.PointsAtUpper * math.Abs(x.of(last)-x.of(before)) / float64(n+1) / (x.norm.Upper - x.norm.Usual)
		}
		if d := math.Abs(smooth(after) - smooth(before)); d > bound+0.3+1e-9 { // each part is rounded to 0.1 twice
			t.Fatalf("the score moves by %.1f, from %.1f to %.1f; one day carries %.2f", d, before.Priority.Score, after.Priority.Score, bound)
		}
	})
}

// smooth is the score without the part that is there or not.
func smooth(r *wear.Report) float64 {
	score := r.Priority.Score
	for _, p := range r.Priority.Parts {
		if p.Code == "severe_symptom" {
			score -= p.Points
		}
	}
	return score
}
