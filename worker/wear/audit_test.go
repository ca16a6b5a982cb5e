package wear_test

import (
	"testing"

	"pgregory.net/rapid"

	"wearround/worker/wear"
)

// The first three are worked examples of Stat Med 1998;17:857
// (doi:10.1002/(SICI)1097-0258(19980430)17:8<857::AID-SIM777>3.0.CO;2-E),
// score method without correction: 81/263, 15/148 and 0/20; the last is their
// mirror.
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		n, of     int
		low, high string
	}{
		{81, 263, "25.53", "36.62"}, {15, 148, "6.24", "16.05"}, {0, 20, "0.00", "16.11"}, {20, 20, "83.89", "100.00"},
	} {
		got := wear.Wilson(c.n, c.of)
		if got.Low.Fixed(2) != c.low || got.High.Fixed(2) != c.high {
			t.Errorf("%d of %d: %s to %s, want %s to %s", c.n, c.of, got.Low.Fixed(2), got.High.Fixed(2), c.low, c.high)
		}
	}
	if got := wear.Wilson(0, 0); got.Low.OK || got.High.OK {
		t.Errorf("of none: %+v", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		of := rapid.IntRange(1, 5000).Draw(t, "of")
		n := rapid.IntRange(0, of).Draw(t, "n")
		r, share := wear.Wilson(n, of), 100*float64(n)/float64(of)
		if !r.Low.OK || r.Low.V < 0 || r.High.V > 100 || r.Low.V > share+1e-9 || r.High.V < share-1e-9 {
			t.Fatalf("%d of %d: %+v", n, of, r)
		}
	})
}

func TestAuditWait(t *testing.T) {
	if got := wear.NewAuditWait(wear.WaitToClaim, "", 3, nil); got != (wear.AuditWait{Code: wear.WaitToClaim, Of: 3}) {
		t.Errorf("of none: %+v", got)
	}
	got := wear.NewAuditWait(wear.WaitToClaim, wear.Today, 12, []float64{30, 10, 20, 40, 100})
	if want := (wear.AuditWait{Code: wear.WaitToClaim, Tier: wear.Today, N: 5, Of: 12, MedianS: 30, NinetyS: 76, LongestS: 100}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}
