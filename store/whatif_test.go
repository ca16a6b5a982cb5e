package store_test

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// draft is the shipped protocol with stricter limits.
func draft(version string) *wear.Protocol {
	p := wear.DefaultProtocol()
	p.Version = version
	p.Flag.Above7_8Pct, p.Flag.Above7_8NotePct, p.Flag.Above7_8DaysPct = 8, 4, 30
	return p
}

// practiceOf files wears for the real engine, each a little higher than the one
// before.
func practiceOf(t testing.TB, n, days int) (*store.Store, *storetest.Clock) {
	t.Helper()
	s, clock := storetest.Open(t)
	must(t, s.JudgeBy(store.Judging{Protocol: wear.DefaultProtocol(), Zone: time.UTC}))
	people := make([]store.Patient, min(n, 500))
	for i := range people {
		people[i] = storetest.Patient(i)
	}
	must(t, s.AddPatients(ctx, people))
	people, err := s.Patients(ctx)
	must(t, err)
	for i := range n {
		f := storetest.Filing(i, people[i%len(people)].ID, clock.Now(), days, wear.Routine, 1)
		storetest.Unsay(&f.Wears[0])
		for k := range f.Wears[0].Readings {
			f.Wears[0].Readings[k].Num += int64(i % 30)
		}
		clock.Advance(time.Duration(days) * day / 400)
		must(t, second2(s.File(ctx, f)))
		if i%len(people) == len(people)-1 {
			clock.Advance(30 * day) // the next wears of the same people
		}
	}
	return s, clock
}

func second2[A, B any](_ A, _ B, err error) error { return err }

// Signing a protocol moves the wears that were listed before, and no other.
func TestSigningMovesWhatWasListed(t *testing.T) {
	s, clock := practiceOf(t, 60, 12)
	clinician, nurse := storetest.AddUser(t, s, "Dosu", store.RoleClinician), storetest.AddUser(t, s, "Tavi", store.RoleNurse)
	page, err := s.Round(ctx, store.RoundQuery{Limit: 200, Now: clock.Now()})
	must(t, err)
	for i, r := range page.Rows {
		if i%3 == 0 { // some are known to be more than a trace
			must(t, second(s.AddNote(ctx, clinician, r.WearID, "rang")))
		}
		if i%4 == 0 {
			must(t, second(s.AddResult(ctx, clinician, store.NewResult{PatientID: r.Patient.ID, Kind: store.HbA1c, Value: []string{"36", "52"}[i/4%2], Unit: "mmol/mol", TakenAt: clock.Now()})))
		}
	}
	clock.Advance(day)
	p := draft("practice-1")
	id, err := s.DraftProtocol(ctx, clinician, p)
	must(t, err)

	tiers := func() map[int64]wear.Tier {
		page, err := s.Round(ctx, store.RoundQuery{Limit: 200, Now: clock.Now()})
		must(t, err)
		out := map[int64]wear.Tier{}
		for _, r := range page.Rows {
			out[r.WearID] = r.Priority.Tier
		}
		return out
	}
	was := tiers()
	var trial store.Trial
	steps := 0
	must(t, s.TryAll(ctx, p, &trial, func(int) { steps++ }))
	sum, err := s.SumUp(ctx, p, &trial, time.UTC)
	must(t, err)
	if sum.Wears != 60 || len(sum.Moved) == 0 || len(sum.Moved) == 60 || sum.Failed != 0 || steps == 0 {
		t.Fatalf("%d wears, %d would move", sum.Wears, len(sum.Moved))
	}
	if now := tiers(); !mapsEqual(was, now) {
		t.Error("trying a protocol changed something")
	}
	made, err := s.KeptProtocol(ctx, id)
	must(t, err)
	if err := s.SignProtocol(ctx, clinician, id, made.At.Add(-time.Second), clock.Now()); store.CodeOf(err) != store.Conflict {
		t.Errorf("a draft is signed that nobody read: %v", err)
	}
	if err := s.SignProtocol(ctx, nurse, id, made.At, clock.Now()); store.CodeOf(err) != store.Forbidden {
		t.Errorf("a nurse signs a protocol: %v", err)
	}
	if err := s.SignProtocol(ctx, clinician, id, made.At, clock.Now().Add(-3*day)); store.CodeOf(err) != store.Invalid {
		t.Errorf("a protocol holds from a day that is over: %v", err)
	}
	if k, err := s.SignedProtocol(ctx, clock.Now()); err != nil || k != nil {
		t.Errorf("a draft is in force: %v, %v", k, err)
	}
	must(t, s.SignProtocol(ctx, clinician, id, made.At, clock.Now()))
	if err := s.SignProtocol(ctx, clinician, id, made.At, clock.Now()); store.CodeOf(err) != store.Conflict {
		t.Errorf("signed twice: %v", err)
	}
	if _, err := s.DraftProtocol(ctx, clinician, p); store.CodeOf(err) != store.Conflict {
		t.Errorf("a signed version drafted anew: %v", err)
	}
	k, err := s.SignedProtocol(ctx, clock.Now())
	must(t, err)
	if k == nil || k.Protocol.Status == "unsigned proposal" || k.SignedBy.Name != "Dosu" {
		t.Fatalf("in force: %+v", k)
	}
	must(t, s.JudgeBy(store.Judging{Protocol: k.Protocol, Zone: time.UTC}))
	for last := int64(0); ; {
		next, failed, err := s.JudgeAnew(ctx, last)
		must(t, err)
		if len(failed) > 0 {
			t.Errorf("failed: %v", failed)
		}
		if last = next; last == 0 {
			break
		}
	}
	var moved []string
	for id, tier := range tiers() {
		if was[id] != tier {
			moved = append(moved, fmt.Sprintf("%d from %s to %s", id, was[id], tier))
		}
	}
	var listed []string
	for _, m := range sum.Moved {
		listed = append(listed, fmt.Sprintf("%d from %s to %s", m.WearID, m.Was, m.Now))
	}
	slices.Sort(moved)
	slices.Sort(listed)
	if !slices.Equal(moved, listed) {
		t.Errorf("listed: %v\nmoved: %v", listed, moved)
	}
	if sum.Yield[0].FollowedUp+sum.Yield[0].Routine == 0 || sum.Yield[0].Confirmed+sum.Yield[0].Missed != sum.Yield[1].Confirmed+sum.Yield[1].Missed {
		t.Errorf("yield: %+v", sum.Yield)
	}
}

func mapsEqual[K comparable](a, b map[K]wear.Tier) bool {
	for k, v := range a {
		if b[k] != v {
			return false
		}
	}
	return len(a) == len(b)
}

// A trial that stopped goes on where it was.
func TestTrialGoesOn(t *testing.T) {
	s, _ := practiceOf(t, 7, 5)
	p := draft("practice-1")
	var whole, parts []store.Tried
	whole, _, err := s.TryProtocol(ctx, p, 0, 100)
	must(t, err)
	for last := int64(0); ; {
		list, next, err := s.TryProtocol(ctx, p, last, 3)
		must(t, err)
		if next == 0 {
			break
		}
		parts, last = append(parts, list...), next
	}
	if len(whole) != 7 || fmt.Sprint(whole) != fmt.Sprint(parts) {
		t.Errorf("%v\n%v", whole, parts)
	}
}

// BenchmarkWhatIf tries a protocol over the stored wears of a practice, two weeks
// at five minutes each. WHATIF_WEARS=20000 makes as many.
func BenchmarkWhatIf(b *testing.B) {
	n := 200
	if v, err := strconv.Atoi(os.Getenv("WHATIF_WEARS")); err == nil {
		n = v
	}
	s, _ := practiceOf(b, n, 14)
	p := draft("practice-1")
	for b.Loop() {
		var trial store.Trial
		if err := s.TryAll(ctx, p, &trial, func(int) {}); err != nil || len(trial.List) != n {
			b.Fatal(len(trial.List), err)
		}
		if _, err := s.SumUp(ctx, p, &trial, time.UTC); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n*b.N)/b.Elapsed().Seconds(), "wears/s")
}
