package pack

import (
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"wearround/worker/wear"
)

// roundTrip packs a day and unpacks it again.
func roundTrip(t interface {
	Helper()
	Fatalf(string, ...any)
}, day int64, readings []wear.Reading) []byte {
	t.Helper()
	blob, err := Day(day, readings)
	if err != nil {
		t.Fatalf("pack: %v", err)
	}
	small, err := Squeeze(blob)
	if err != nil || len(small) > len(blob) {
		t.Fatalf("squeezed from %d to %d bytes: %v", len(blob), len(small), err)
	}
	for _, form := range [][]byte{blob, small} {
		got, err := Unpack(nil, day, form)
		if err != nil {
			t.Fatalf("unpack: %v", err)
		}
		if !slices.Equal(got, readings) {
			t.Fatalf("got %v\nwant %v", got, readings)
		}
	}
	return small
}

func TestPack(t *testing.T) {
	at := int64(20_000 * daySeconds)
	tests := map[string][]wear.Reading{
		"none":            {},
		"first second":    {{At: at, Num: 55, Scale: 1, Unit: wear.MmolL}},
		"last second":     {{At: at + daySeconds - 1, Num: 99, Unit: wear.MgdL}},
		"same instant":    {{At: at + 60, Num: 55, Scale: 1, Unit: wear.MmolL}, {At: at + 60, Num: 56, Scale: 1, Unit: wear.MmolL}},
		"largest":         {{At: at, Num: maxNum - 1, Scale: wear.MaxScale, Unit: wear.MgdL, Bound: wear.Above, Mark: 0xff}, {At: at, Num: 0}, {At: at, Num: maxNum - 1, Scale: wear.MaxScale}},
		"words":           {{At: at, Unit: wear.MmolL, Bound: wear.Below}, {At: at + 300, Num: 222, Scale: 1, Unit: wear.MmolL, Bound: wear.Above, Mark: wear.MarkOnDemand}},
		"trailing zeroes": {{At: at, Num: 555, Scale: 2}, {At: at + 300, Num: 56, Scale: 1}, {At: at + 600, Num: 5600, Scale: 3}, {At: at + 900, Num: 6}},
		"gap":             {{At: at, Num: 55, Scale: 1}, {At: at + 300, Num: 56, Scale: 1}, {At: at + 80_000, Num: 57, Scale: 1}, {At: at + 80_300, Num: 58, Scale: 1}},
	}
	for name, readings := range tests {
		t.Run(name, func(t *testing.T) { roundTrip(t, 20_000, readings) })
	}
	t.Run("before 1970", func(t *testing.T) {
		roundTrip(t, DayOf(-1), []wear.Reading{{At: -daySeconds}, {At: -1}})
	})
}

func TestPackProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := rapid.Int64Range(-100_000, 100_000).Draw(t, "day")
		reading := rapid.Custom(func(t *rapid.T) wear.Reading {
			return wear.Reading{
				At:    day*daySeconds + rapid.Int64Range(0, daySeconds-1).Draw(t, "second"),
				Num:   rapid.OneOf(rapid.Int64Range(0, 600), rapid.Int64Range(0, maxNum-1)).Draw(t, "num"),
				Scale: rapid.Uint8Range(0, wear.MaxScale).Draw(t, "scale"),
				Unit:  wear.Unit(rapid.Uint8Range(0, 2).Draw(t, "unit")),
				Bound: wear.Bound(rapid.Uint8Range(0, 2).Draw(t, "bound")),
				Mark:  wear.Mark(rapid.Uint8().Draw(t, "mark")),
			}
		})
		roundTrip(t, day, rapid.SliceOfN(reading, 0, 50).Draw(t, "readings"))
	})
}

func TestPackRefuses(t *testing.T) {
	for name, r := range map[string]wear.Reading{
		"another day": {At: daySeconds},
		"negative":    {Num: -1},
		"too many":    {Num: maxNum},
		"scale":       {Scale: wear.MaxScale + 1},
		"unit":        {Unit: 4},
		"bound":       {Bound: 4},
	} {
		if _, err := Day(0, []wear.Reading{r}); err != ErrReading {
			t.Errorf("%s: %v, want it refused", name, err)
		}
	}
}

func TestUnpackRefuses(t *testing.T) {
	good, err := Day(0, []wear.Reading{{At: 300, Num: 55, Scale: 1}, {At: 600, Num: 57, Scale: 1}})
	if err != nil {
		t.Fatal(err)
	}
	for n := range good {
		if _, err := Unpack(nil, 0, good[:n]); err == nil {
			t.Errorf("the first %d bytes of %d were read as a day", n, len(good))
		}
	}
	long, err := Day(0, ordinary(60, 0, wear.MmolL))
	if err != nil {
		t.Fatal(err)
	}
	small, err := Squeeze(long)
	if err != nil || small[0] != deflated {
		t.Fatal("a day at one minute is not deflated:", err)
	}
	for _, n := range []int{1, 2, len(small) / 2, len(small) - 1} {
		if _, err := Unpack(nil, 0, small[:n]); err == nil {
			t.Errorf("the first %d bytes of %d were read as a day", n, len(small))
		}
	}
	for name, blob := range map[string][]byte{
		"other version": append([]byte{3}, good[1:]...),
		"not deflated":  append([]byte{deflated}, good[1:]...),
		"more behind":   append(slices.Clone(small), 0),
		"one too many":  append(slices.Clone(good), 0),
		"huge count":    {version, 0xff, 0xff, 0xff, 0xff, 0x7f, 0},
	} {
		if _, err := Unpack(nil, 0, blob); err == nil {
			t.Errorf("%s: read as a day", name)
		}
	}
}

// ordinary makes one day of a restless trace: the walk of a sensor's values
// with a clock that is off by up to the given seconds.
func ordinary(every, jitter int64, unit wear.Unit) []wear.Reading {
	random := rand.New(rand.NewPCG(1, 2))
	v, most, scale := 60.0, 12.0, uint8(1)
	if unit == wear.MgdL {
		v, most, scale = 110, 20, 0
	}
	var list []wear.Reading
	for s := jitter; s+jitter < daySeconds; s += every {
		v = max(30, v+(random.Float64()-0.5)*most*float64(every)/300)
		at := s
		if jitter > 0 {
			at += random.Int64N(2*jitter+1) - jitter
		}
		list = append(list, wear.Reading{At: at, Num: int64(v), Scale: scale, Unit: unit})
	}
	return list
}

func TestPackSize(t *testing.T) {
	for _, test := range []struct {
		name          string
		every, jitter int64
		unit          wear.Unit
		most          float64 // bytes a reading
	}{
		{"5 min", 300, 0, wear.MmolL, 1.1},
		{"5 min, mg/dL", 300, 0, wear.MgdL, 1.1},
		{"5 min, clock jitters", 300, 2, wear.MmolL, 2.1},
		{"15 min", 900, 0, wear.MgdL, 1.8},
		{"1 min", 60, 0, wear.MmolL, 0.6},
	} {
		t.Run(test.name, func(t *testing.T) {
			readings := ordinary(test.every, test.jitter, test.unit)
			blob := roundTrip(t, 0, readings)
			if per := float64(len(blob)) / float64(len(readings)); per > test.most {
				t.Errorf("%.2f bytes a reading, more than %.2f", per, test.most)
			}
		})
	}
}

func FuzzUnpack(f *testing.F) {
	for _, jitter := range []int64{0, 2} {
		blob, err := Day(0, ordinary(3600, jitter, wear.MmolL))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(blob)
	}
	if blob, err := Day(0, ordinary(60, 0, wear.MmolL)); err == nil {
		if small, err := Squeeze(blob); err == nil {
			f.Add(small)
		}
	}
	f.Add([]byte{version, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 1})
	f.Fuzz(func(t *testing.T, blob []byte) {
		readings, err := Unpack(nil, 0, blob)
		if err != nil {
			return
		}
		if len(readings) > max(len(blob), maxPlain) {
			t.Fatalf("%d readings from %d bytes", len(readings), len(blob))
		}
		for i := range readings { // whatever was read can be kept again
			if readings[i].Scale > wear.MaxScale {
				t.Fatalf("scale %d", readings[i].Scale)
			}
		}
		roundTrip(t, 0, readings)
	})
}

func BenchmarkPack(b *testing.B) {
	days := ordinary(300, 0, wear.MmolL)
	for b.Loop() {
		for range 14 {
			if _, err := Day(0, days); err != nil {
				b.Fatal(err)
			}
		}
	}
}

func BenchmarkUnpack(b *testing.B) {
	blob, err := Day(0, ordinary(300, 0, wear.MmolL))
	if err != nil {
		b.Fatal(err)
	}
	var readings []wear.Reading
	for b.Loop() {
		readings = readings[:0]
		for range 14 {
			readings, _ = Unpack(readings, 0, blob)
		}
	}
}
