package worker

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// moved is an export with every time later by some minutes.
func moved(t *testing.T, text string, minutes int) string {
	t.Helper()
	const form = "2006-01-02 15:04"
	head, rows, _ := strings.Cut(text, "\n")
	var b strings.Builder
	b.WriteString(head + "\n")
	for row := range strings.Lines(rows) {
		at, rest, _ := strings.Cut(row, ",")
		when, err := time.Parse(form, at)
		if err != nil {
			t.Fatal(err)
		}
		b.WriteString(when.Add(time.Duration(minutes)*time.Minute).Format(form) + "," + rest)
	}
	return b.String()
}

// uneven is an export whose wave does not repeat from day to day.
func uneven(firstDay, days, shift int) string {
	var b strings.Builder
	b.WriteString("time,glucose mmol/L\n")
	at := time.Date(2026, 3, firstDay, 0, 0, 0, 0, time.UTC)
	for i, r := range storetest.Readings(at, days, 5*time.Minute) {
		tenths := int(r.Num) + shift
		fmt.Fprintf(&b, "%s,%d.%d\n", at.Add(time.Duration(i)*5*time.Minute).Format("2006-01-02 15:04"), tenths/10, tenths%10)
	}
	return b.String()
}

func TestSameReadingsUnderAnotherPatient(t *testing.T) {
	for _, tt := range []struct {
		whose string
		first string // under whom the wear is found in the end
	}{{"P-1", "P-1"}, {"P-2", "P-2"}} {
		t.Run(tt.whose, func(t *testing.T) {
			b := newBench(t, "P-1", "P-2")
			ctx := context.Background()
			text := uneven(1, 8, 0)
			write(t, b.Drop, "P-1_a.csv", text)
			write(t, b.Drop, "X-9_b.csv", uneven(1, 8, 4)) // held, and waiting for longer
			b.settleAndLook()
			earlier := b.wearOf(b.want("P-1_a.csv", store.Filed, ""))
			write(t, b.Drop, "P-2_a.csv", strings.Join(strings.SplitAfter(text, "\n")[:1+5*288], ""))
			b.settleAndLook()
			d := b.want("P-2_a.csv", store.Held, store.WrongPerson)
			if !strings.Contains(d.Reason, "P-1") || !strings.Contains(d.Reason, "P-2") {
				t.Errorf("the question does not name both: %s", d.Reason)
			}
			page, err := b.store.Drops(ctx, store.DropQuery{Fate: store.Held, Limit: 10})
			if err != nil || len(page.Rows) != 2 || page.Rows[0].Path != "P-2_a.csv" {
				t.Errorf("the held file that may lie under the wrong patient is not the first: %v", err)
			}
			b.answer("P-2_a.csv", store.WrongPerson, tt.whose)
			w := b.wearOf(b.want("P-2_a.csv", store.Filed, ""))
			if w.ID != earlier.ID || w.Patient.Code != tt.first || len(w.Files) != 2 || w.Report.Readings != 8*288 {
				t.Errorf("wear %d of %s with %d readings from %d files", w.ID, w.Patient.Code, w.Report.Readings, len(w.Files))
			}
			if f := w.Files[1]; f.New != 0 || f.Same != 5*288 {
				t.Errorf("%d new and %d the same", f.New, f.Same)
			}
			if got := w.Files[0].PatientID; got != w.Patient.ID {
				t.Errorf("the earlier file is patient %d's, the wear %d's", got, w.Patient.ID)
			}
			if n, _ := b.store.Counts(ctx); n.OpenWears != 1 {
				t.Errorf("%d wears, want 1", n.OpenWears)
			}
		})
	}
}

// TestSameReadingsDroppedTogether drops the same readings for several patients
// at once: only one is filed, whichever comes first.
func TestSameReadingsDroppedTogether(t *testing.T) {
	codes := []string{"P-1", "P-2", "P-3", "P-4"}
	b := newBench(t, codes...)
	for i, code := range codes {
		write(t, b.Drop, code+"_a.csv", uneven(1, 8, 0)+strings.Repeat("\n", i)) // other bytes, same readings
	}
	b.settleAndLook()
	filed, held := 0, 0
	for _, d := range b.drops() {
		switch {
		case d.Fate == store.Filed:
			filed++
		case d.Fate == store.Held && d.Code == store.WrongPerson:
			held++
		}
	}
	if filed != 1 || held != 3 {
		t.Errorf("%d filed and %d held, want 1 and 3: %v", filed, held, b.drops())
	}
}

func TestShiftedClock(t *testing.T) {
	for _, tt := range []struct {
		answer  string
		minutes int
		says    string
		wears   int
		start   string // of the first wear
	}{
		{"earlier", 60, "exactly 1 h earlier", 1, "2026-03-01 00:00"},
		{"these", 60, "exactly 1 h earlier", 1, "2026-03-01 01:00"},
		{"two_sensors", 60, "exactly 1 h earlier", 2, "2026-03-01 00:00"},
		{"earlier", -24*60 - 90, "exactly 1 day 1 h 30 min later", 1, "2026-03-01 00:00"},
	} {
		t.Run(fmt.Sprint(tt.answer, tt.minutes), func(t *testing.T) {
			b := newBench(t, "P-1")
			ctx := context.Background()
			text := uneven(1, 10, 0)
			write(t, b.Drop, "P-1_a.csv", strings.Join(strings.SplitAfter(text, "\n")[:1+8*288], ""))
			b.settleAndLook()
			first := b.wearOf(b.want("P-1_a.csv", store.Filed, ""))
			write(t, b.Drop, "P-1_b.csv", moved(t, text, tt.minutes))
			b.settleAndLook()
			d := b.want("P-1_b.csv", store.Held, shiftCode)
			q := d.File.Questions[0]
			if !strings.Contains(q.Text, tt.says) || len(q.Choices[0].Rows) != 3 || !strings.Contains(q.Choices[0].Rows[0], "Sun 1 Mar 2026 00:00") {
				t.Errorf("asked: %+v", q)
			}
			b.answer("P-1_b.csv", shiftCode, tt.answer)
			b.want("P-1_b.csv", store.Filed, "")
			n, err := b.store.Counts(ctx)
			if err != nil || n.OpenWears != tt.wears {
				t.Errorf("%d wears, want %d (%v)", n.OpenWears, tt.wears, err)
			}
			w, err := b.store.Wear(ctx, first.ID)
			if err != nil {
				t.Fatal(err)
			}
			if got := w.Report.Start.Format("2006-01-02 15:04"); got != tt.start || tt.wears == 1 && w.Report.Readings != 10*288 {
				t.Errorf("begins %s with %d readings, want %s", got, w.Report.Readings, tt.start)
			}
		})
	}
}

// TestShiftOfFindsEveryShift moves readings by any time and cuts any part out.
func TestShiftOfFindsEveryShift(t *testing.T) {
	whole := storetest.Readings(time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), 6, 5*time.Minute)
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.IntRange(0, 3*288).Draw(t, "from")
		n := rapid.IntRange(290, 2*288).Draw(t, "readings")
		by := rapid.Int64Range(-400*86400, 400*86400).Draw(t, "shift")
		part := part{readings: whole[from : from+n]}.later(by)
		d, ok := shiftOf(part.readings, whole)
		if ok != (by != 0) || ok && d != by {
			t.Fatalf("found %d, %t; want %d", d, ok, by)
		}
		if by == 0 && !alike(part.readings, whole, 0) {
			t.Fatal("a part is not found alike to its whole")
		}
	})
}

func TestNotAlike(t *testing.T) {
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	whole := storetest.Readings(at, 3, 5*time.Minute)
	edit := func(f func(i int, r *wear.Reading)) []wear.Reading {
		out := append([]wear.Reading(nil), whole...)
		for i := range out {
			f(i, &out[i])
		}
		return out
	}
	for name, other := range map[string][]wear.Reading{
		"23 hours only":           whole[:23*12],
		"every 20 hours another":  edit(func(i int, r *wear.Reading) { r.Num += int64(i % 240 / 239) }),
		"limits are no readings":  edit(func(_ int, r *wear.Reading) { r.Bound = wear.Below }),
		"the other unit":          edit(func(_ int, r *wear.Reading) { r.Unit = wear.MgdL }),
		"a minute later":          edit(func(_ int, r *wear.Reading) { r.At += 60 }),
		"too few to be no chance": whole[:1],
	} {
		if alike(other, whole, 0) {
			t.Errorf("%s: counts as the same readings", name)
		}
	}
	if other := edit(func(_ int, r *wear.Reading) { r.Num, r.Scale = r.Num*100, r.Scale+2 }); !alike(other, whole, 0) {
		t.Error("6.70 is not the same as 6.7")
	}
}
