package store_test

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// filed is what a test remembers of a wear that it filed.
type filed struct {
	id, patient  int64
	who          string // code and name
	kind         string
	tier         wear.Tier
	score        float64
	received     time.Time
	due          time.Time
	flags        []string
	start        time.Time
	overdue, num int
}

// sorted ranks wears by a plain sort of the same facts.
func sorted(list []filed, now time.Time) []filed {
	list = slices.Clone(list)
	for i := range list {
		list[i].overdue = 0
		for due := list[i].due.Truncate(24 * time.Hour).Add(24 * time.Hour); !due.After(now); due = due.Add(24 * time.Hour) {
			list[i].overdue++
		}
	}
	slices.SortFunc(list, func(a, b filed) int {
		return cmp.Or(
			cmp.Compare(slices.Index(wear.Tiers(), a.tier), slices.Index(wear.Tiers(), b.tier)),
			-cmp.Compare(a.overdue, b.overdue),
			-cmp.Compare(a.score, b.score),
			a.received.Compare(b.received),
			cmp.Compare(a.id, b.id),
		)
	})
	for i := range list {
		list[i].num = i + 1
	}
	return list
}

// The order, the numbers and the counts are those of a plain sort, whatever
// happens between two looks: wears come and go, patients change their name,
// time goes on or back.
func TestRoundIsAPlainSort(t *testing.T) {
	s, clock := storetest.Open(t)
	clock.Tampered() // shut closes wears by itself
	var people []store.Patient
	for n := range 4 {
		people = append(people, storetest.AddPatient(t, s, n))
	}
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		shut(t, s, 0)
		var all []filed
		now := clock.Now()
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			n++
			switch rapid.IntRange(0, 9).Draw(rt, "step") {
			case 0:
				now = now.Add(time.Duration(rapid.IntRange(-3*86400, 20*86400).Draw(rt, "seconds")) * time.Second)
			case 1:
				i := rapid.IntRange(0, len(people)-1).Draw(rt, "who")
				people[i].Name = rapid.SampledFrom([]string{"Ülo 100%", "Mena_Rosu", "Äda Besk", ""}).Draw(rt, "name")
				must(t, s.AddPatients(ctx, people[i:i+1]))
			case 2:
				if len(all) > 0 {
					i := rapid.IntRange(0, len(all)-1).Draw(rt, "shut")
					shut(t, s, all[i].id)
					all = slices.Delete(all, i, i+1)
				}
			default:
				p := rapid.SampledFrom(people).Draw(rt, "patient")
				flags := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"a", "b", "c"}), 0, 3, rapid.ID).Draw(rt, "flags")
				f := storetest.Filing(n, p.ID, now.Add(-time.Duration(rapid.IntRange(0, 90).Draw(rt, "days"))*24*time.Hour), 1,
					rapid.SampledFrom(wear.Tiers()).Draw(rt, "tier"), float64(rapid.IntRange(0, 30).Draw(rt, "score"))/10, flags...)
				f.Wears[0].SensorKind = rapid.SampledFrom([]string{"", "A", "B"}).Draw(rt, "kind")
				storetest.Change(&f.Wears[0], func(r *wear.Report) { r.Priority.DueDays = rapid.IntRange(0, 28).Draw(rt, "due") })
				r := storetest.Said(&f.Wears[0])
				id := storetest.File(t, s, f)
				all = append(all, filed{
					id: id, patient: p.ID, kind: f.Wears[0].SensorKind, tier: r.Priority.Tier, score: r.Priority.Score,
					received: f.Drop.SeenAt, due: f.Drop.SeenAt.AddDate(0, 0, r.Priority.DueDays), flags: flags, start: r.Start,
				})
			}
			if rapid.Bool().Draw(rt, "look") {
				checkRound(rt, s, all, people, now)
			}
		}
		checkRound(rt, s, all, people, now)
	})
}

// shut takes a wear off the round, or all of them for 0.
func shut(t *testing.T, s *store.Store, id int64) {
	t.Helper()
	writer, _ := s.Pools()
	_, err := writer.Exec(`UPDATE data_version SET n = n + 1;
		UPDATE wears SET open = 0, joined_into = id, changed = (SELECT n FROM data_version) WHERE ?1 IN (0, id)`, id)
	must(t, err)
}

func checkRound(t *rapid.T, s *store.Store, all []filed, people []store.Patient, now time.Time) {
	q := store.RoundQuery{
		Now: now, Limit: rapid.IntRange(1, 10).Draw(t, "limit"), Offset: rapid.IntRange(0, 12).Draw(t, "offset"),
		Tiers: rapid.SliceOfN(rapid.SampledFrom(wear.Tiers()), 0, 2).Draw(t, "tiers"),
		Flag:  rapid.SampledFrom([]string{"", "", "a", "c", "none"}).Draw(t, "flag"),
		Text:  rapid.SampledFrom([]string{"", "", "p0", "ü", "%", "_", "ÄDA", "00002"}).Draw(t, "text"),
	}
	page, err := s.Round(ctx, q)
	if err != nil {
		t.Fatal(err)
	}
	perTier, perFlag, kinds := map[wear.Tier]int{}, map[string]int{}, map[string]bool{}
	var want []filed
	for _, w := range sorted(all, now) {
		perTier[w.tier]++
		for _, f := range w.flags {
			perFlag[f]++
		}
		who := people[slices.IndexFunc(people, func(p store.Patient) bool { return p.ID == w.patient })]
		w.who = who.Code + "|" + who.Name
		if (len(q.Tiers) == 0 || slices.Contains(q.Tiers, w.tier)) && (q.Flag == "" || slices.Contains(w.flags, q.Flag)) &&
			strings.Contains(strings.ToLower(w.who), strings.ToLower(q.Text)) {
			want = append(want, w)
			kinds[w.kind] = true
		}
	}
	if page.Matching != len(want) || page.Total != len(all) || page.Kinds != len(kinds) {
		t.Fatalf("matching %d, total %d, kinds %d; want %d, %d, %d", page.Matching, page.Total, page.Kinds, len(want), len(all), len(kinds))
	}
	if diff := gocmp.Diff(perTier, page.PerTier) + gocmp.Diff(perFlag, page.PerFlag); diff != "" {
		t.Fatalf("counts (-want +got):\n%s", diff)
	}
	want = want[min(q.Offset, len(want)):]
	want = want[:min(q.Limit, len(want))]
	line := func(id int64, who string, num, overdue int, tier wear.Tier, score float64, received, due, start time.Time, kind string, flags []string) string {
		return fmt.Sprint(id, who, num, overdue, tier, score, received.Unix(), due.Unix(), start.Unix(), kind, flags)
	}
	var wantLines, gotLines []string
	for _, w := range want {
		wantLines = append(wantLines, line(w.id, w.who, w.num, w.overdue, w.tier, w.score, w.received, w.due, w.start, w.kind, w.flags))
	}
	for _, r := range page.Rows {
		gotLines = append(gotLines, line(r.WearID, r.Patient.Code+"|"+r.Patient.Name, r.Rank, r.OverdueDays, r.Priority.Tier, r.Priority.Score, r.ReceivedAt, r.DueAt, r.Start, r.SensorKind, r.Flags))
	}
	if diff := gocmp.Diff(wantLines, gotLines); diff != "" {
		t.Fatalf("rows (-want +got):\n%s", diff)
	}
}

func TestRoundRow(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	f := storetest.Filing(1, p.ID, clock.Now(), 14, wear.ThisWeek, 21.4, wear.FlagAbove7_8)
	zone := time.FixedZone("", 9*3600+1800)
	r := storetest.Said(&f.Wears[0])
	r.Start, r.End = r.Start.In(zone), r.End.In(zone)
	storetest.Says(&f.Wears[0], r)
	id := storetest.File(t, s, f)
	var days []wear.Day
	for _, d := range r.Days {
		days = append(days, wear.Day{
			Date: d.Date, Readings: d.Readings, CapturedPct: d.CapturedPct, Usable: d.Usable,
			Met7_8: d.Met7_8, Met10: d.Met10, DipWithSymptom: d.DipWithSymptom,
		})
	}
	page, err := s.Round(ctx, store.RoundQuery{Limit: 200, Now: clock.Now().AddDate(0, 0, 10)})
	must(t, err)
	want := store.RoundPage{
		Rows: []store.RoundRow{{
			Rank: 1, Version: 3, WearID: id, Patient: p, SensorKind: "A", Start: r.Start, End: r.End, ReceivedAt: clock.Now(),
			DueAt: clock.Now().AddDate(0, 0, 7), OverdueDays: 3, Headline: r.Headline, Confidence: "high",
			Priority: r.Priority, Flags: []string{wear.FlagAbove7_8}, Days: days,
		}},
		Matching: 1, Total: 1, PerTier: map[wear.Tier]int{wear.ThisWeek: 1}, PerFlag: map[string]int{wear.FlagAbove7_8: 1},
		PerView: map[store.RoundView]int{store.Mine: 0, store.Handed: 0, store.Unclaimed: 1}, Kinds: 1, Version: version(t, s),
	}
	if diff := gocmp.Diff(want, page); diff != "" {
		t.Errorf("page (-want +got):\n%s", diff)
	}
	if _, offset := page.Rows[0].Start.Zone(); offset != 9*3600+1800 {
		t.Errorf("the start lost its offset: %v", page.Rows[0].Start)
	}
	if _, err := s.Round(ctx, store.RoundQuery{Now: clock.Now()}); store.CodeOf(err) != store.Invalid {
		t.Errorf("a page without rows: %v", err)
	}
}

// Days past due are calendar days on the clock that asks, and follow it forwards
// and backwards; the daily line counts by the same days.
func TestDaysPastDue(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	early := storetest.File(t, s, storetest.Filing(1, p.ID, clock.Now(), 1, wear.ThisWeek, 1))
	worse := storetest.File(t, s, storetest.Filing(2, p.ID, clock.Now().Add(day), 1, wear.ThisWeek, 2))
	due := clock.Now().AddDate(0, 0, 7) // at nine in the morning
	for _, test := range []struct {
		past    time.Duration
		east    int // hours, of the clock that asks
		days    int // of the one received first
		first   int64
		overdue int // wears in the daily line
	}{
		{-7 * day, 0, 0, worse, 0}, {0, 0, 0, worse, 0}, {15*time.Hour - time.Second, 0, 0, worse, 0}, {15 * time.Hour, 0, 1, early, 1},
		{39 * time.Hour, 0, 2, early, 2}, {15*time.Hour - time.Second, 0, 0, worse, 0},
		{5 * time.Hour, 0, 0, worse, 0}, {5 * time.Hour, 10, 1, early, 1}, {5*time.Hour - time.Second, 10, 0, worse, 0},
	} {
		now := due.Add(test.past).In(time.FixedZone("", test.east*3600))
		page, err := s.Round(ctx, store.RoundQuery{Limit: 2, Now: now})
		must(t, err)
		if page.Rows[0].WearID != test.first {
			t.Errorf("%v past due: wear %d is first, want %d", test.past, page.Rows[0].WearID, test.first)
		}
		for _, r := range page.Rows {
			if r.WearID == early && r.OverdueDays != test.days {
				t.Errorf("%v past due: %d days, want %d", test.past, r.OverdueDays, test.days)
			}
		}
		if d, err := s.Daily(ctx, now); err != nil || d.UnclaimedOverdue != test.overdue {
			t.Errorf("%v past due: %d wears overdue, want %d; %v", test.past, d.UnclaimedOverdue, test.overdue, err)
		}
	}
}

// A page is of one version of the data however many are filing.
func TestRoundWhileFiling(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	const wears = 30
	var readers, writers sync.WaitGroup
	done := make(chan struct{})
	for range 3 {
		readers.Go(func() {
			for {
				page, err := s.Round(ctx, store.RoundQuery{Limit: 200, Now: clock.Now()})
				if err != nil {
					t.Error(err)
					return
				}
				if len(page.Rows) != page.Total {
					t.Errorf("%d rows of %d", len(page.Rows), page.Total)
				}
				for i, r := range page.Rows {
					if r.Rank != i+1 || r.WearID == 0 || r.Headline == "" {
						t.Errorf("row %d: rank %d of wear %d", i, r.Rank, r.WearID)
					}
				}
				select {
				case <-done:
					return
				default:
				}
			}
		})
	}
	for w := range 2 {
		writers.Go(func() {
			for n := w; n < wears; n += 2 {
				f := storetest.Filing(n, p.ID, clock.Now(), 1, wear.Tiers()[n%5], float64(n))
				if _, _, err := s.File(ctx, f); err != nil {
					t.Error(err)
				}
			}
		})
	}
	writers.Wait()
	close(done)
	readers.Wait()
	if page, err := s.Round(ctx, store.RoundQuery{Limit: 200, Now: clock.Now()}); err != nil || page.Total != wears {
		t.Errorf("%d wears, %v; want %d", page.Total, err, wears)
	}
}

func TestEmptyRound(t *testing.T) {
	s, clock := storetest.Open(t)
	page, err := s.Round(ctx, store.RoundQuery{Limit: 50, Now: clock.Now()})
	if err != nil || page.Total != 0 || len(page.Rows) != 0 || page.Version == 0 {
		t.Errorf("%+v, %v", page, err)
	}
}

// fill files n short wears, so that their number is what is measured.
func fill(b *testing.B, n int) (*store.Store, *storetest.Clock) {
	s, clock := storetest.Open(b)
	writer, _ := s.Pools()
	if _, err := writer.Exec("PRAGMA synchronous = OFF"); err != nil {
		b.Fatal(err)
	}
	var people []store.Patient
	for i := range n / 2 {
		people = append(people, storetest.Patient(i))
	}
	if err := s.AddPatients(ctx, people); err != nil {
		b.Fatal(err)
	}
	f := storetest.Filing(0, 1, clock.Now(), 14, wear.Routine, 1)
	whole := storetest.Said(&f.Wears[0]).Days
	f.Wears[0].Readings = f.Wears[0].Readings[:288]
	for i := range n {
		tier := wear.Tiers()[i%5]
		seen := clock.Now().Add(-time.Duration(i) * 40 * time.Minute)
		f.SHA256, f.PatientID, f.Drop.Path, f.Drop.SeenAt = storetest.Hash(i), int64(1+i%(n/2)), storetest.Hash(i), seen
		for j := range f.Wears[0].Readings { // no two patients have the same readings
			f.Wears[0].Readings[j].At++
		}
		r := storetest.Report(f.Wears[0].Readings, tier, float64(i%97), []string{"a", "b", "c"}[i%3])
		r.Days = whole
		storetest.Says(&f.Wears[0], r)
		storetest.File(b, s, f)
	}
	return s, clock
}

// BenchmarkRound reads the third page of 50 while the clock goes on, beside
// one row by its key as the reference.
func BenchmarkRound(b *testing.B) {
	const n = 10_000
	s, clock := fill(b, n)
	page := func(b *testing.B, q store.RoundQuery) {
		q.Limit, q.Offset = 50, 100
		for b.Loop() {
			clock.Advance(time.Second)
			q.Now = clock.Now()
			if p, err := s.Round(ctx, q); err != nil || len(p.Rows) != 50 {
				b.Fatal(len(p.Rows), err)
			}
		}
	}
	b.Run("reference", func(b *testing.B) {
		for b.Loop() {
			if _, err := s.Patient(ctx, 7); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("all", func(b *testing.B) { page(b, store.RoundQuery{}) })
	b.Run("flag", func(b *testing.B) { page(b, store.RoundQuery{Flag: "b"}) })
	b.Run("text", func(b *testing.B) { page(b, store.RoundQuery{Text: "rin"}) })
	b.Run("after a filing", func(b *testing.B) {
		f := storetest.Filing(0, 1, clock.Now(), 1, wear.Routine, 1)
		for i := n; b.Loop(); i++ {
			b.StopTimer()
			f.SHA256, f.Drop.Path = storetest.Hash(i), storetest.Hash(i)
			storetest.File(b, s, f)
			b.StartTimer()
			if _, err := s.Round(ctx, store.RoundQuery{Limit: 50, Now: clock.Now()}); err != nil {
				b.Fatal(err)
			}
		}
	})
}
