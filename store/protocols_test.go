package store_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// judgeBy has a store judge by a protocol of another version, which the engine
// of the test answers with a tier.
func judgeBy(t *testing.T, s *store.Store, version string, tier func(wear.Input) wear.Tier) {
	t.Helper()
	p := wear.DefaultProtocol()
	p.Version = version
	must(t, s.JudgeBy(store.Judging{Protocol: p, Zone: time.UTC, Engine: func(in wear.Input) *wear.Report {
		r := storetest.Report(in.Readings, tier(in), 1)
		r.Protocol = version
		return r
	}}))
}

// judgeAll judges anew whatever is to be, and gives the wears on which the
// engine failed.
func judgeAll(t *testing.T, s *store.Store) (failed []int64) {
	t.Helper()
	for after := int64(0); ; {
		last, bad, err := s.JudgeAnew(ctx, after)
		must(t, err)
		if failed = append(failed, bad...); last == 0 {
			return failed
		}
		after = last
	}
}

// A new protocol judges all wears anew. A closed one comes back only where it
// would have to be seen today or this week now.
func TestJudgeAnew(t *testing.T) {
	w := newWard(t)
	var ids []int64
	for n := range 60 {
		p := storetest.AddPatient(t, w.Store, 100+n)
		ids = append(ids, storetest.File(t, w.Store, storetest.Filing(100+n, p.ID, w.clock.Now(), 1, wear.Routine, 1)))
	}
	for _, id := range ids[:3] {
		w.wear = id
		w.claim(t, w.clinician, id)
		_, err := w.RecordOutcome(ctx, w.clinician, w.outcome(store.ToldWell))
		must(t, err)
	}
	before, err := w.DataVersion(ctx)
	must(t, err)
	tier := func(in wear.Input) wear.Tier {
		readings, _, err := w.FileTrace(ctx, ids[1])
		if must(t, err); readings[0] == in.Readings[0] {
			return wear.ThisWeek
		}
		if readings, _, err = w.FileTrace(ctx, ids[5]); err == nil && readings[0] == in.Readings[0] {
			panic("poison")
		}
		return wear.ThisMonth
	}
	w.clock.Advance(day)
	judgeBy(t, w.Store, "7", tier)
	d, err := w.Daily(ctx, w.clock.Now())
	if must(t, err); d.Stale != 61 {
		t.Errorf("%d to be judged anew, want all 61", d.Stale)
	}
	if failed := judgeAll(t, w.Store); len(failed) != 1 || failed[0] != ids[5] {
		t.Errorf("failed on %v, want %d alone", failed, ids[5])
	}
	open, err := w.OpenByProtocol(ctx)
	must(t, err)
	if diff := cmp.Diff(map[string]int{"7": 58, wear.DefaultProtocol().Version: 1}, open); diff != "" {
		t.Error(diff)
	}
	for i, want := range []bool{false, true, false, true} {
		w.wear = ids[i]
		if got := w.review(t).Open; got != want {
			t.Errorf("wear %d on the round: %t", i, got)
		}
	}
	if now, err := w.DataVersion(ctx); err != nil || now <= before {
		t.Errorf("open screens do not learn of it: version %d, before %d, %v", now, before, err)
	}
	// Nothing is written where all is as it was.
	judgeBy(t, w.Store, "7", func(wear.Input) wear.Tier { return wear.ThisMonth })
	judgeAll(t, w.Store)
	head, err := w.LogHead(ctx)
	must(t, err)
	judgeAll(t, w.Store)
	if now, err := w.LogHead(ctx); err != nil || now != head {
		t.Errorf("the log grew although nothing was to be judged: %v", err)
	}
}
