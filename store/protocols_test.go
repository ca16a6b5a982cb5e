package store_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// TestOutdate judges anew what stands on the round, and nothing else, when the
// engine or the protocol is another one.
func TestOutdate(t *testing.T) {
	s, clock := storetest.Open(t)
	ctx := t.Context()
	file := func(n int, protocol string) int64 {
		t.Helper()
		f := storetest.Filing(n, storetest.AddPatient(t, s, n).ID, clock.Now(), 14, wear.ThisMonth, 1)
		f.Wears[0].Report.Protocol = protocol
		return storetest.File(t, s, f)
	}
	old, now := file(1, "6"), file(2, "7")
	open, err := s.OpenByProtocol(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(map[string]int{"6": 1, "7": 1}, open); d != "" {
		t.Error(d)
	}
	stale := func() []int64 {
		t.Helper()
		list, err := s.StaleWears(ctx)
		if err != nil {
			t.Fatal(err)
		}
		var out []int64
		for _, w := range list {
			out = append(out, w.ID)
		}
		return out
	}
	before, err := s.DataVersion(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		why              string
		engine, protocol string
		marked           int64
		stale            []int64
	}{
		{"the other protocol", wear.EngineVersion, "7", 1, []int64{old}},
		{"another engine", "another", "7", 2, []int64{old, now}},
	} {
		n, err := s.Outdate(ctx, c.engine, c.protocol)
		if err != nil || n != c.marked {
			t.Errorf("%s: %d marked, %v; want %d", c.why, n, err, c.marked)
		}
		if d := cmp.Diff(c.stale, stale()); d != "" {
			t.Errorf("%s: %s", c.why, d)
		}
	}
	if after, err := s.DataVersion(ctx); err != nil || after <= before {
		t.Errorf("open screens do not learn of it: version %d, before %d, %v", after, before, err)
	}
}

// Nothing is written, and nothing logged, where all is as it was.
func TestOutdateNothing(t *testing.T) {
	s, _ := storetest.Open(t)
	ctx := t.Context()
	head := func() store.Anchor {
		a, err := s.AuditHead(ctx)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	before := head()
	if n, err := s.Outdate(ctx, wear.EngineVersion, "7"); err != nil || n != 0 || head() != before {
		t.Errorf("%d marked, %v", n, err)
	}
}
