package store_test

import (
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// BenchmarkWriterHeld measures how long everybody else's changes wait for one: a
// wear of 14 days at five minutes being filed, an outcome, and a batch of wears
// judged anew because the protocol is another. A change asks for the time once,
// when its transaction has begun.
func BenchmarkWriterHeld(b *testing.B) {
	var began atomic.Int64 // nanoseconds
	clock := storetest.NewClock()
	s, err := store.Open(ctx, filepath.Join(b.TempDir(), "wearround.db"), func() time.Time {
		began.Store(time.Now().UnixNano())
		return clock.Now()
	})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	p := wear.DefaultProtocol()
	for _, err := range []error{s.SetLogKey(storetest.AuditKey()), s.JudgeBy(store.Judging{Protocol: p, Zone: time.UTC})} {
		if err != nil {
			b.Fatal(err)
		}
	}
	nurse := storetest.AddUser(b, s, "Rilo", store.RoleNurse)
	n, wears := 0, []int64{}
	next := func() store.Filing {
		n++
		f := storetest.Filing(n, storetest.AddPatient(b, s, n).ID, clock.Now(), 14, wear.Routine, 1)
		storetest.Unsay(&f.Wears[0])
		return f
	}
	file := func(f store.Filing) error {
		_, ids, err := s.File(ctx, f)
		wears = append(wears, ids...)
		return err
	}
	for range 48 {
		if err := file(next()); err != nil {
			b.Fatal(err)
		}
	}
	measure := func(name string, ready func() func() error) {
		b.Run(name, func(b *testing.B) {
			var held []time.Duration
			for b.Loop() {
				act := ready()
				if err := act(); err != nil {
					b.Fatal(err)
				}
				held = append(held, time.Duration(time.Now().UnixNano()-began.Load()))
			}
			slices.Sort(held)
			b.ReportMetric(float64(held[len(held)/2].Microseconds())/1000, "held-ms")
			b.ReportMetric(float64(held[len(held)*95/100].Microseconds())/1000, "held-ms-of-95-%")
		})
	}
	measure("file", func() func() error {
		f := next()
		return func() error { return file(f) }
	})
	measure("outcome", func() func() error {
		if err := file(next()); err != nil {
			b.Fatal(err)
		}
		id := wears[len(wears)-1]
		w, err := s.Wear(ctx, id)
		if err == nil {
			_, err = s.Claim(ctx, nurse, id)
		}
		if err != nil {
			b.Fatal(err)
		}
		return func() error {
			_, err := s.RecordOutcome(ctx, nurse, store.NewOutcome{WearID: id, Kind: store.AdviceGiven, Reason: "as agreed", Seen: w.Evidence})
			return err
		}
	})
	limit := p.Flag.Above7_8Pct
	measure("judge-24-anew", func() func() error {
		other := *p
		limit += 0.001
		other.Flag.Above7_8Pct = limit
		if err := s.JudgeBy(store.Judging{Protocol: &other, Zone: time.UTC}); err != nil {
			b.Fatal(err)
		}
		return func() error {
			_, _, err := s.JudgeAnew(ctx, 0)
			return err
		}
	})
}
