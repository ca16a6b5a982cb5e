package worker

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// snapshot is a wear as it is stored.
type snapshot struct {
	zone     string
	readings []wear.Reading
	report   *wear.Report
	text     string // all of it, to be compared
}

func (b *bench) snapshot(id int64) snapshot {
	b.t.Helper()
	w, err := b.store.Wear(context.Background(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	readings, events, err := b.store.Trace(context.Background(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	text, err := json.Marshal([]any{w.Zone, w.Report, readings, events})
	if err != nil {
		b.t.Fatal(err)
	}
	return snapshot{w.Zone, readings, w.Report, string(text)}
}

// setZone says in which zone a wearer's clock was, and nothing more.
func (b *bench) setZone(a store.Actor, wearID int64, name string) {
	b.t.Helper()
	if _, err := b.store.SetZone(context.Background(), a, wearID, name); err != nil {
		b.t.Fatal(err)
	}
}

// behind gives how much earlier the readings of a wear are than they were.
func (now snapshot) behind(was snapshot) time.Duration {
	return time.Duration(was.readings[0].At-now.readings[0].At) * time.Second
}

// TestZoneOfWear moves the wear of somebody who travelled, told by one file, by
// two, or by times that no zone moves, and takes it back again.
func TestZoneOfWear(t *testing.T) {
	lines := strings.SplitAfter(export(1, 10, 0), "\n")
	days := func(from, to int) string { return lines[0] + strings.Join(lines[1+from*288:1+to*288], "") }
	utc := strings.ReplaceAll(strings.ReplaceAll(days(0, 10), ",", "Z,"), " 0", "T0")
	utc = strings.NewReplacer(" 1", "T1", " 2", "T2").Replace(utc)
	for _, test := range []struct {
		name   string
		files  []string
		behind time.Duration
		days   int // by the clock of Perth, 8 hours ahead
	}{
		{"one file", []string{days(0, 10)}, 8 * time.Hour, 10},
		{"two exports", []string{days(0, 8), days(6, 10)}, 8 * time.Hour, 10},
		{"times with an offset", []string{utc}, 0, 11},
	} {
		t.Run(test.name, func(t *testing.T) {
			b := newBench(t, "P-1", "P-2")
			ctx := context.Background()
			nurse := storetest.AddUser(t, b.store, "nurse", store.RoleNurse)
			for i, text := range test.files {
				write(t, b.Drop, "P-1_"+string(rune('a'+i))+".csv", text)
				b.settleAndLook()
			}
			id := b.wearOf(b.want("P-1_a.csv", store.Filed, "")).ID
			before := b.snapshot(id)

			b.setZone(nurse, id, "Australia/Perth")
			b.look(ctx)
			for path := range b.drops() {
				b.want(path, store.Filed, "")
			}
			there := b.snapshot(id)
			if there.zone != "Australia/Perth" || there.behind(before) != test.behind || len(there.readings) != len(before.readings) {
				t.Errorf("in zone %q, %d readings %s behind; want %d readings %s behind", there.zone, len(there.readings), there.behind(before), len(before.readings), test.behind)
			}
			first := there.report.Start.Format(time.DateOnly)
			if n := len(there.report.Days); n != test.days || there.report.Days[0].Date != first || !strings.HasSuffix(there.report.Start.Format(time.RFC3339), "+08:00") {
				t.Errorf("%d days from %s, the first reading at %s; want %d by the clock of Perth", n, there.report.Days[0].Date, there.report.Start, test.days)
			}

			// Nobody else who has the same layout travelled.
			write(t, b.Drop, "P-2_other.csv", export(1, 8, 3))
			b.settleAndLook()
			other := b.wearOf(b.want("P-2_other.csv", store.Filed, ""))
			if other.Zone != "" || !other.Report.Start.Equal(before.report.Start) {
				t.Errorf("another wear of the layout is in zone %q and begins %s", other.Zone, other.Report.Start)
			}
			for _, r := range b.recipeList() {
				if text, _ := json.Marshal(r); strings.Contains(string(text), "Perth") {
					t.Errorf("the recipe remembers where somebody was: %s", text)
				}
			}

			// Reports made anew for another reason keep the zone.
			if err := b.store.AddEvents(ctx, nurse, id, []wear.Event{{At: there.readings[40].At, Kind: wear.Symptom, Label: "shaky"}}); err != nil {
				t.Fatal(err)
			}
			b.look(ctx)
			if got := b.snapshot(id); !got.report.Start.Equal(there.report.Start) || len(got.report.Days) != test.days {
				t.Errorf("made anew it begins %s with %d days", got.report.Start, len(got.report.Days))
			}
			v, err := b.store.Review(ctx, id)
			if err != nil {
				t.Fatal(err)
			}
			if err := b.store.WithdrawEvent(ctx, nurse, v.Events[0].ID, "it was somebody else"); err != nil {
				t.Fatal(err)
			}

			b.setZone(nurse, id, "")
			b.look(ctx)
			if got := b.snapshot(id); got.text != before.text {
				t.Errorf("taken back it is not what it was: zone %q, %d readings %s behind, %d days", got.zone, len(got.readings), got.behind(before), len(got.report.Days))
			}
		})
	}
}

// TestZoneWhereverItStops comes to the same wear when the program was stopped
// with the zone said and the files not yet read, or between two files.
func TestZoneWhereverItStops(t *testing.T) {
	lines := strings.SplitAfter(export(1, 10, 0), "\n")
	var want string
	for i, stop := range []func(b *bench){
		func(*bench) {},
		func(b *bench) {
			files, err := b.store.AnsweredFiles(context.Background())
			if err != nil || len(files) != 2 || !b.reread(context.Background(), files[0]) {
				b.t.Fatal(len(files), err)
			}
		},
	} {
		b := newBench(t, "P-1")
		nurse := storetest.AddUser(t, b.store, "nurse", store.RoleNurse)
		write(t, b.Drop, "P-1_a.csv", lines[0]+strings.Join(lines[1:1+8*288], ""))
		b.settleAndLook()
		write(t, b.Drop, "P-1_b.csv", lines[0]+strings.Join(lines[1+6*288:], ""))
		b.settleAndLook()
		id := b.wearOf(b.want("P-1_b.csv", store.Filed, "")).ID
		b.setZone(nurse, id, "Australia/Perth")
		stop(b)
		b.look(context.Background())
		got := b.snapshot(id)
		if i == 0 {
			want = got.text
		}
		if got.text != want {
			t.Errorf("stopped at %d it is another wear: zone %q, %d readings, %d days", i, got.zone, len(got.readings), len(got.report.Days))
		}
	}
}

// TestZoneThatTheFileNames reads a file that names the practice's own zone: for
// the wear of somebody who travelled that is not asked about.
func TestZoneThatTheFileNames(t *testing.T) {
	b := newBench(t, "P-1")
	b.Zone = time.FixedZone("Australia/Sydney", 11*3600)
	nurse := storetest.AddUser(t, b.store, "nurse", store.RoleNurse)
	write(t, b.Drop, "P-1_a.csv", strings.Replace(export(1, 8, 0), "time,", "time Australia/Sydney,", 1))
	b.settleAndLook()
	id := b.wearOf(b.want("P-1_a.csv", store.Filed, "")).ID
	before := b.snapshot(id)
	b.setZone(nurse, id, "Australia/Perth")
	b.look(context.Background())
	f, err := b.store.FileByID(context.Background(), b.want("P-1_a.csv", store.Filed, "").FileID)
	if err != nil {
		t.Fatal(err)
	}
	if got := b.snapshot(id); before.behind(got) != 3*time.Hour {
		t.Errorf("the readings are %s later, want 3 h", before.behind(got))
	}
	if !slices.Contains(codes(f.Decisions), store.ZoneOfWear) {
		t.Errorf("how it was read does not say by whose word: %v", codes(f.Decisions))
	}
}

func codes(list []wear.Decision) (out []string) {
	for _, d := range list {
		out = append(out, d.Code)
	}
	return out
}
