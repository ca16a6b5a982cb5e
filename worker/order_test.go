package worker

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wearround/store"
	"wearround/worker/wear"
)

// low is an export in which 17 readings are 2.4.
func low(export string) string {
	lines := strings.Split(export, "\n")
	for i := 400; i < 417; i++ {
		lines[i] = lines[i][:strings.LastIndex(lines[i], ",")] + ",2.4"
	}
	return strings.Join(lines, "\n")
}

// A low that only one of two exports has is asked about, whichever came first,
// and the answer decides.
func TestExportsThatDifferInALow(t *testing.T) {
	plain := export(1, 14, 0)
	with := low(plain)
	for _, order := range [][2]string{{plain, with}, {with, plain}} {
		for _, answer := range []string{"these", "those"} {
			b := newBench(t, "P-1")
			write(t, b.Drop, "P-1_a.csv", order[0])
			b.settleAndLook()
			write(t, b.Drop, "P-1_b.csv", order[1])
			b.settleAndLook()
			d := b.want("P-1_b.csv", store.Held, valuesCode)
			if err := b.store.Answer(context.Background(), d.FileID, map[string]string{valuesCode: answer}); err != nil {
				t.Fatal(err)
			}
			b.look(context.Background())
			id := b.wearOf(b.want("P-1_b.csv", store.Filed, "")).ID
			readings, _, err := b.store.Trace(context.Background(), id)
			if err != nil {
				t.Fatal(err)
			}
			lows := 0
			for _, r := range readings {
				if r.Text() == "2.4" {
					lows++
				}
			}
			kept := map[string]string{"these": order[1], "those": order[0]}[answer] == with
			if (lows == 17) != kept || lows != 0 && lows != 17 {
				t.Errorf("answered %s: %d lows, kept %t", answer, lows, kept)
			}
		}
	}
}

// Two exports that differ in single readings are the same wear in either order.
func TestOrderOfExportsThatDifferALittle(t *testing.T) {
	plain := export(1, 14, 0)
	lines := strings.Split(plain, "\n")
	for i := 100; i < 4000; i += 500 {
		lines[i] = lines[i][:strings.LastIndex(lines[i], ",")] + fmt.Sprintf(",%d.%d", 5, i/500)
	}
	other := strings.Join(lines, "\n")
	var texts []string
	for _, order := range [][2]string{{plain, other}, {other, plain}} {
		b := newBench(t, "P-1")
		for i, text := range order {
			write(t, b.Drop, fmt.Sprintf("P-1_%d.csv", i), text)
			b.settleAndLook()
		}
		readings, _, err := b.store.Trace(context.Background(), b.wearOf(b.want("P-1_1.csv", store.Filed, "")).ID)
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for _, r := range readings {
			text += r.Text() + " "
		}
		texts = append(texts, text)
	}
	if texts[0] != texts[1] {
		t.Error("the order of two exports decided what the wear holds")
	}
}

// Exports of one sensor are the wears that one file with all of their rows would
// be, in any order: whether they touch, or hours or a day are missing between or
// inside them.
func TestExportsAreTheWearsOfOneFile(t *testing.T) {
	lines := strings.SplitAfter(export(1, 14, 0), "\n")
	const hour, day = 12, 288
	type rows struct{ from, to int }
	for name, tt := range map[string]struct {
		parts [][]rows
		wears int
	}{
		"touching":           {[][]rows{{{0, 5 * day}}, {{5 * day, 10 * day}}, {{10 * day, 14 * day}}}, 1},
		"five hours missing": {[][]rows{{{0, 5 * day}}, {{5*day + 5*hour, 10 * day}}, {{10*day + hour, 14 * day}}}, 1},
		"two days missing":   {[][]rows{{{0, 5 * day}}, {{7 * day, 10 * day}}, {{10 * day, 14 * day}}}, 1},
		"in a hole":          {[][]rows{{{0, 5 * day}, {7 * day, 10 * day}}, {{5*day + hour, 7*day - hour}}, {{10*day + hour, 14 * day}}}, 1},
		"four days missing":  {[][]rows{{{0, 5 * day}}, {{9*day + hour, 10 * day}}, {{10*day + 2*hour, 14 * day}}}, 2},
	} {
		for _, order := range [][]int{{0, 1, 2}, {2, 0, 1}, {2, 1, 0}} {
			b := newBench(t, "P-1")
			n := 0
			for _, i := range order {
				text := lines[0]
				for _, r := range tt.parts[i] {
					text += strings.Join(lines[1+r.from:1+r.to], "")
					n += r.to - r.from
				}
				write(t, b.Drop, fmt.Sprintf("P-1_%d.csv", i), text)
				b.settleAndLook()
				b.want(fmt.Sprintf("P-1_%d.csv", i), store.Filed, "")
			}
			for _, w := range b.wearsOf("P-1") {
				n -= w.Readings
			}
			if wears := b.wearsOf("P-1"); len(wears) != tt.wears || n != 0 {
				t.Errorf("%s, in the order %v: %d wears, %d readings lost", name, order, len(wears), n)
			}
		}
	}
}

// Two sensors in turn are not taken for one that lasts for weeks: that is asked.
func TestExportsLongerThanASensorAreAskedAbout(t *testing.T) {
	for answer, wears := range map[string]int{"one_sensor": 1, "two_sensors": 2} {
		b := newBench(t, "P-1")
		lines := strings.SplitAfter(export(1, 18, 0), "\n")
		write(t, b.Drop, "P-1_0.csv", strings.Join(lines[:1+9*288], ""))
		b.settleAndLook()
		write(t, b.Drop, "P-1_1.csv", lines[0]+strings.Join(lines[1+9*288+36:], ""))
		b.settleAndLook()
		d := b.want("P-1_1.csv", store.Held, overlapCode)
		if err := b.store.Answer(context.Background(), d.FileID, map[string]string{overlapCode: answer}); err != nil {
			t.Fatal(err)
		}
		b.look(context.Background())
		if got := len(b.wearsOf("P-1")); got != wears {
			t.Errorf("answered %s: %d wears", answer, got)
		}
	}
}

func (b *bench) wearsOf(code string) []store.WearSummary {
	b.t.Helper()
	who, err := b.store.PatientByCode(context.Background(), code)
	if err != nil {
		b.t.Fatal(err)
	}
	list, err := b.store.WearsOf(context.Background(), who.ID)
	if err != nil {
		b.t.Fatal(err)
	}
	return list
}

// Whatever is missing and wherever a file is cut, two parts of it are near if
// and only if one file of both would be one wear; two sensors that are worn at
// once never are.
func TestNearIsWhatSplitSays(t *testing.T) {
	p := wear.DefaultProtocol()
	most := int64(p.Wear.SplitGapHours * 3600)
	rapid.Check(t, func(t *rapid.T) {
		var all, twin []wear.Reading
		var parts [2][]wear.Reading
		at, part := int64(1_700_000_000), 0
		for range rapid.IntRange(2, 6).Draw(t, "blocks") {
			for range rapid.IntRange(4, 30).Draw(t, "readings") {
				r := wear.Reading{At: at, Num: 55, Scale: 1, Unit: wear.MmolL}
				all, parts[part] = append(all, r), append(parts[part], r)
				r.At += 130
				twin = append(twin, r)
				at += 300
			}
			part = rapid.IntRange(0, 1).Draw(t, "part")
			at += rapid.SampledFrom([]int64{600, 3600, 5 * 3600, most - 300, most - 299, most + 3600}).Draw(t, "missing")
		}
		if near(all, twin, most) || near(twin, all, most) {
			t.Fatal("two sensors worn at once are near")
		}
		if len(parts[1]) == 0 {
			return
		}
		one := false
		for _, w := range wear.Split(all, p) {
			has := func(part []wear.Reading) bool {
				return slices.ContainsFunc(w, func(r wear.Reading) bool { return slices.Contains(part, r) })
			}
			one = one || has(parts[0]) && has(parts[1])
		}
		if near(parts[0], parts[1], most) != one || near(parts[1], parts[0], most) != one {
			t.Fatalf("one wear in one file: %v", one)
		}
	})
}
