package backup

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestKept holds the promise of the thinning: whatever moment of the last
// thirteen months is asked for, there is a backup near it, and their number is
// bounded.
func TestKept(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
		every := time.Duration(rapid.IntRange(1, 180).Draw(t, "minutes between")) * time.Minute
		var list []Entry
		for i, at := 0, now; i < 3000; i++ {
			list = append(list, Entry{fmt.Sprintf("%07d", 100_000-i), 100_000 - i, at})
			at = at.Add(-every)
		}
		keep := kept(list, now)
		n := 0
		for _, e := range list {
			if keep[e.ID] {
				n++
			}
		}
		if most := 49 + 36 + 15 + newest; n > most {
			t.Fatalf("%d are kept, at most %d are meant", n, most)
		}
		for i, e := range list { // each moment has a kept backup within its hour, day or month
			if i%17 != 0 {
				continue
			}
			near := 32 * 24 * time.Hour
			if age := now.Sub(e.MadeAt); age <= hourly {
				near = time.Hour
			} else if age <= daily {
				near = 24 * time.Hour
			} else if age > monthly {
				continue
			}
			found := false
			for _, k := range list {
				if d := k.MadeAt.Sub(e.MadeAt).Abs(); keep[k.ID] && d <= near {
					found = true
					break
				}
			}
			if !found {
				t.Fatalf("no kept backup is near %v", e.MadeAt)
			}
		}
		if !keep[list[0].ID] {
			t.Fatal("the newest is not kept")
		}
	})
}

// A clock that was a year ahead, and one that was set back, cost no backup.
func TestKeptWithWrongClocks(t *testing.T) {
	now := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	list := []Entry{{"5", 5, now}, {"4", 4, now.AddDate(1, 0, 0)}, {"3", 3, now.AddDate(-20, 0, 0)}, {"2", 2, now.AddDate(1, 0, 0)}, {"1", 1, now.Add(-3 * time.Hour)}}
	keep := kept(list, now)
	for _, e := range list {
		if !keep[e.ID] {
			t.Errorf("backup %s of %v is not kept", e.ID, e.MadeAt)
		}
	}
}
