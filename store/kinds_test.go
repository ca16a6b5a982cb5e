package store_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store/storetest"
	"wearround/worker/wear"
)

func TestKindMeasures(t *testing.T) {
	s, clock := storetest.Open(t)
	for i, c := range []struct {
		kind string
		tier wear.Tier
		m    wear.Metrics
	}{
		{"A", wear.Routine, wear.Metrics{MeanMmol: wear.Of(5.4), Above7_8Pct: wear.Of(0), Above10Pct: wear.Of(0), CVPct: wear.Of(17.25)}},
		{"A", wear.Today, wear.Metrics{MeanMmol: wear.Of(8.1), Above7_8Pct: wear.Of(44), Above10Pct: wear.Of(9)}},
		{"A", wear.CannotTell, wear.Metrics{MeanMmol: wear.Of(3.1)}},
		{"B", wear.Routine, wear.Metrics{MeanMmol: wear.Of(6.6)}},
	} {
		p := storetest.AddPatient(t, s, i+1)
		f := storetest.Filing(i+1, p.ID, clock.Now(), 14, c.tier, 1)
		f.Wears[0].SensorKind = c.kind
		storetest.Change(&f.Wears[0], func(r *wear.Report) { r.Metrics = c.m })
		if _, _, err := s.File(ctx, f); err != nil {
			t.Fatal(err)
		}
	}
	for kind, want := range map[string][]wear.Metrics{
		"A": {
			{MeanMmol: wear.Of(5.4), Above7_8Pct: wear.Of(0), Above10Pct: wear.Of(0), CVPct: wear.Of(17.25)},
			{MeanMmol: wear.Of(8.1), Above7_8Pct: wear.Of(44), Above10Pct: wear.Of(9)},
		},
		"B": {{MeanMmol: wear.Of(6.6)}},
		"C": nil,
	} {
		got, err := s.KindMeasures(ctx, kind)
		if diff := cmp.Diff(want, got); err != nil || diff != "" {
			t.Errorf("kind %s: %v\n%s", kind, err, diff)
		}
	}
}

func BenchmarkKindMeasures(b *testing.B) {
	s, clock := storetest.Open(b)
	for i := range 2000 {
		f := storetest.Filing(i+1, storetest.AddPatient(b, s, i+1).ID, clock.Now().Add(time.Duration(i)*time.Hour), 14, wear.Routine, 1)
		f.Wears[0].SensorKind = "A"
		if _, _, err := s.File(ctx, f); err != nil {
			b.Fatal(err)
		}
	}
	b.ResetTimer()
	for b.Loop() {
		if _, err := s.KindMeasures(ctx, "A"); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/2000, "ns/wear")
}
