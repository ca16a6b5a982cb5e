package store_test

import (
	"errors"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// state is what must be the same before and after something that failed.
func state(t *testing.T, s *store.Store) map[string]int {
	t.Helper()
	_, reader := s.Pools()
	got := map[string]int{}
	for _, table := range []string{"files", "drops", "wears", "wear_days", "wear_flags", "reports", "file_wears", "answers", "data_version"} {
		query := "SELECT count(*) FROM " + table
		if table == "data_version" {
			query = "SELECT n FROM data_version"
		}
		var n int
		if err := reader.QueryRow(query).Scan(&n); err != nil {
			t.Fatal(err)
		}
		got[table] = n
	}
	return got
}

func TestFileRoundTrip(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	f := storetest.Filing(1, p.ID, clock.Now(), 14, wear.ThisWeek, 21.4, wear.FlagAbove7_8, wear.FlagDipSymptom)
	f.Wears[0].Readings[7] = wear.Reading{At: f.Wears[0].Readings[7].At, Num: 670, Scale: 2, Unit: wear.MgdL, Bound: wear.Below, Mark: wear.MarkOnDemand}
	f.Wears[0].Events = append(f.Wears[0].Events,
		wear.Event{At: f.Wears[0].Readings[9].At, Minutes: 30, Kind: wear.Exercise, Label: "brisk walk – uphill"},
		wear.Event{At: f.Wears[0].Readings[9].At, Kind: wear.Fingerstick, Value: wear.Reading{At: f.Wears[0].Readings[9].At, Num: 61, Scale: 1, Unit: wear.MmolL}})
	storetest.Says(&f.Wears[0], storetest.Said(&f.Wears[0]))
	if n, err := s.Counts(ctx); err != nil || n != (store.Counts{Patients: 1}) {
		t.Errorf("counts before: %+v, %v", n, err)
	}
	fileID, wears, err := s.File(ctx, f)
	if err != nil {
		t.Fatal(err)
	}
	if len(wears) != 1 {
		t.Fatalf("%d wears", len(wears))
	}

	readings, events, err := s.Trace(ctx, wears[0])
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(readings, f.Wears[0].Readings) {
		t.Error("the readings did not come back as they went in")
	}
	if diff := cmp.Diff(f.Wears[0].Events, events); diff != "" {
		t.Errorf("events (-want +got):\n%s", diff)
	}
	if got := readings[7].Text(); got != "<6.70" {
		t.Errorf("recorded text %q", got)
	}

	w, err := s.Wear(ctx, wears[0])
	if err != nil {
		t.Fatal(err)
	}
	file := store.File{
		ID: fileID, SHA256: f.SHA256, Path: f.Drop.Path, Size: f.Drop.Size, ReceivedAt: clock.Now(), State: store.Filed,
		Layout: f.Layout, Decisions: f.Decisions, Answers: map[string]string{}, PatientID: p.ID, Rows: f.Rows,
	}
	want := store.Wear{
		ID: wears[0], Patient: p, SensorKind: "A", ReceivedAt: clock.Now(), DueAt: clock.Now().AddDate(0, 0, 7),
		Report: storetest.Said(&f.Wears[0]), Evidence: w.Evidence, Files: []store.WearFile{{File: file, New: len(f.Wears[0].Readings)}}, Waiting: []int64{},
	}
	if diff := cmp.Diff(want, w); diff != "" {
		t.Errorf("wear (-want +got):\n%s", diff)
	}
	if known, ok, err := s.KnownFile(ctx, f.SHA256); err != nil || !ok || known.ID != fileID {
		t.Errorf("known: %d, %t, %v", known.ID, ok, err)
	}

	list, err := s.WearsOf(ctx, p.ID)
	if err != nil {
		t.Fatal(err)
	}
	r := w.Report
	if diff := cmp.Diff([]store.WearSummary{{
		ID: w.ID, SensorKind: "A", Start: r.Start, End: r.End, Readings: r.Readings, ReceivedAt: w.ReceivedAt,
		DueAt: w.DueAt, Open: true, Tier: wear.ThisWeek, Headline: r.Headline,
	}}, list); diff != "" {
		t.Errorf("summary (-want +got):\n%s", diff)
	}
	n, err := s.Counts(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(store.Counts{Patients: 1, Drops: 1, FiledFiles: 1, Wears: 1, OpenWears: 1, Readings: 14 * 288}, n); diff != "" {
		t.Errorf("counts (-want +got):\n%s", diff)
	}
}

func TestFileIsAllOrNothing(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	seen := clock.Now()
	storetest.File(t, s, storetest.Filing(1, p.ID, seen, 2, wear.Routine, 1))
	tests := []struct {
		name  string
		spoil func(*store.Filing)
		want  store.Code
	}{
		{"no such patient", func(f *store.Filing) { f.PatientID = 99 }, store.Invalid},
		{"no patient", func(f *store.Filing) { f.PatientID = 0 }, store.Invalid},
		{"no wear", func(f *store.Filing) { f.Wears = nil }, store.Invalid},
		{"no readings", func(f *store.Filing) { f.Wears[0].Readings = nil }, store.Invalid},
		{"readings out of order", func(f *store.Filing) { slices.Reverse(f.Wears[0].Readings) }, store.Invalid},
		{"a bad hash", func(f *store.Filing) { f.SHA256 = "ABC" }, store.Invalid},
		{"no path", func(f *store.Filing) { f.Drop.Path = "" }, store.Invalid},
		{"a reading that cannot be stored", func(f *store.Filing) { f.Wears[0].Readings[3].Num = -5 }, store.Invalid},
		{"a second wear that is not there", func(f *store.Filing) {
			second := f.Wears[0]
			second.WearID = 99
			f.Wears = append(f.Wears, second)
		}, store.Conflict},
		{"one wear replaced twice", func(f *store.Filing) {
			f.Wears[0].WearID = 1
			f.Wears = append(f.Wears, f.Wears[0])
		}, store.Invalid},
		{"the same bytes", func(f *store.Filing) { f.SHA256 = storetest.Hash(1) }, store.Conflict},
	}
	before := state(t, s)
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			f := storetest.Filing(2, p.ID, seen, 2, wear.Routine, 1)
			test.spoil(&f)
			_, wears, err := s.File(ctx, f)
			if store.CodeOf(err) != test.want || err == nil || wears != nil {
				t.Errorf("wears %v, %v; want code %s", wears, err, test.want)
			}
			if diff := cmp.Diff(before, state(t, s)); diff != "" {
				t.Errorf("something is left (-before +after):\n%s", diff)
			}
		})
	}
}

func TestSameBytesAreFiledOnce(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	var wg sync.WaitGroup
	results := make([]error, 8)
	for i := range results {
		f := storetest.Filing(1, p.ID, clock.Now(), 3, wear.Routine, 1)
		f.Drop.Path = string(rune('a'+i)) + ".csv"
		wg.Go(func() { _, _, results[i] = s.File(ctx, f) })
	}
	wg.Wait()
	filed := 0
	for _, err := range results {
		switch {
		case err == nil:
			filed++
		case !errors.Is(err, store.ErrKnown):
			t.Errorf("got %v, want ErrKnown", err)
		}
	}
	if got := state(t, s); filed != 1 || got["files"] != 1 || got["wears"] != 1 || got["drops"] != 1 {
		t.Errorf("%d callers filed it; %v", filed, got)
	}
}

func TestJoin(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	received := clock.Now()
	f := storetest.Filing(1, p.ID, received, 14, wear.Routine, 1)
	all := f.Wears[0].Readings
	part := func(n int, from, to int, tier wear.Tier, flags ...string) store.Filing {
		g := storetest.Filing(n, p.ID, clock.Now(), 14, tier, 5, flags...)
		g.Wears[0].Readings = all[from:to]
		storetest.Says(&g.Wears[0], storetest.Report(all[from:to], tier, 5, flags...))
		g.Wears[0].New = to - from
		return g
	}
	one := storetest.File(t, s, part(1, 0, 1000, wear.Routine))
	two := storetest.File(t, s, part(2, 3000, 4000, wear.ThisMonth, wear.FlagAbove10))

	at := func(i int) time.Time { return time.Unix(all[i].At, 0) }
	for _, test := range []struct {
		from, to int
		want     []int64
	}{{0, 4000, []int64{one, two}}, {999, 999, []int64{one}}, {1000, 2999, nil}, {2000, 3000, []int64{two}}, {3500, 3600, []int64{two}}} {
		list, err := s.OverlappingWears(ctx, p.ID, at(test.from), at(test.to))
		var got []int64
		for _, w := range list {
			got = append(got, w.ID)
		}
		if err != nil || !slices.Equal(got, test.want) {
			t.Errorf("overlapping %d to %d: %v, %v; want %v", test.from, test.to, got, err, test.want)
		}
	}

	clock.Advance(20 * 24 * time.Hour)
	g := part(3, 0, 4032, wear.Today, wear.FlagVeryHigh)
	g.Wears[0].WearID, g.Wears[0].Absorbs = one, []int64{two}
	g.Wears[0].New, g.Wears[0].Same, g.Wears[0].Conflicts = 2030, 2000, 2
	if got := storetest.File(t, s, g); got != one {
		t.Fatalf("joined into %d, want %d", got, one)
	}

	w, err := s.Wear(ctx, two) // an old address leads on
	if err != nil {
		t.Fatal(err)
	}
	var files []string
	for _, f := range w.Files {
		files = append(files, f.SHA256)
	}
	if want := []string{storetest.Hash(1), storetest.Hash(2), storetest.Hash(3)}; w.ID != one || !slices.Equal(files, want) {
		t.Errorf("wear %d from %d files, want %d from 3", w.ID, len(files), one)
	}
	if !w.ReceivedAt.Equal(received) {
		t.Errorf("received %v, want the first, %v", w.ReceivedAt, received)
	}
	// Both were due after 28 days; the joined one was for today from the first.
	if want := received; !w.DueAt.Equal(want) {
		t.Errorf("due %v, want %v", w.DueAt, want)
	}
	readings, _, err := s.Trace(ctx, two)
	if err != nil || !slices.Equal(readings, all) {
		t.Errorf("%d readings, %v; want %d", len(readings), err, len(all))
	}
	page, err := s.Round(ctx, store.RoundQuery{Limit: 10, Now: clock.Now()})
	if err != nil || page.Total != 1 || page.Rows[0].WearID != one || page.PerFlag[wear.FlagAbove10] != 0 || page.PerFlag[wear.FlagVeryHigh] != 1 {
		t.Errorf("round: %+v, %v", page, err)
	}
	if n, err := s.Counts(ctx); err != nil || n.Wears != 1 || n.Readings != 4032 {
		t.Errorf("counts: %+v, %v", n, err)
	}
	g = part(4, 0, 10, wear.Today)
	g.Wears[0].WearID = two
	if _, _, err := s.File(ctx, g); !errors.Is(err, store.ErrStale) {
		t.Errorf("joining with a wear that is gone: %v, want ErrStale", err)
	}

	// The due day is that of the judgement in force, whatever was said before.
	clock.Advance(time.Hour)
	g = part(5, 0, 4032, wear.Routine)
	g.Wears[0].WearID = one
	storetest.File(t, s, g)
	if later, err := s.Wear(ctx, one); err != nil || !later.DueAt.Equal(received.AddDate(0, 0, 28)) {
		t.Errorf("due %v, %v; want 28 days from %v", later.DueAt, err, received)
	}
}

func BenchmarkFile(b *testing.B) {
	s, clock := storetest.Open(b)
	p := storetest.AddPatient(b, s, 1)
	f := storetest.Filing(0, p.ID, clock.Now(), 14, wear.ThisMonth, 12, wear.FlagAbove7_8)
	n := 0
	for b.Loop() {
		n++
		f.SHA256, f.Drop.Path = storetest.Hash(n), storetest.Hash(n)
		storetest.File(b, s, f)
	}
}

func benchmarkTrace(b *testing.B, every time.Duration) {
	s, clock := storetest.Open(b)
	p := storetest.AddPatient(b, s, 1)
	f := storetest.Filing(0, p.ID, clock.Now(), 14, wear.ThisMonth, 12, wear.FlagAbove7_8)
	f.Wears[0].Readings = storetest.Readings(clock.Now(), 14, every)
	id := storetest.File(b, s, f)
	for b.Loop() {
		if readings, _, err := s.Trace(ctx, id); err != nil || len(readings) == 0 {
			b.Fatal(err)
		}
	}
}

func BenchmarkTrace5Min(b *testing.B) { benchmarkTrace(b, 5*time.Minute) }
func BenchmarkTrace1Min(b *testing.B) { benchmarkTrace(b, time.Minute) }

func BenchmarkWear(b *testing.B) {
	s, clock := storetest.Open(b)
	p := storetest.AddPatient(b, s, 1)
	id := storetest.File(b, s, storetest.Filing(0, p.ID, clock.Now(), 14, wear.ThisMonth, 12, wear.FlagAbove7_8))
	for b.Loop() {
		if _, err := s.Wear(ctx, id); err != nil {
			b.Fatal(err)
		}
	}
}
