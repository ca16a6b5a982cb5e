package worker_test

import (
	"testing"

	"pgregory.net/rapid"

	"wearround/worker"
	"wearround/worker/wear"
)

// TestNoEventIsLeftOut shares random events among random wears: each goes to
// exactly one of them, and to none that is farther away than another.
func TestNoEventIsLeftOut(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		var wears [][]wear.Reading
		at := rapid.Int64Range(0, 1e6).Draw(r, "first")
		for range rapid.IntRange(1, 4).Draw(r, "wears") {
			last := at + rapid.Int64Range(0, 14*24*3600).Draw(r, "length")
			wears = append(wears, []wear.Reading{{At: at}, {At: last}})
			at = last + rapid.Int64Range(72*3600, 90*24*3600).Draw(r, "gap")
		}
		var events []wear.Event
		for range rapid.IntRange(0, 20).Draw(r, "events") {
			events = append(events, wear.Event{At: rapid.Int64Range(-1e7, at+1e7).Draw(r, "at")})
		}
		n := 0
		away := func(w []wear.Reading, at int64) int64 { return max(0, w[0].At-at, at-w[1].At) }
		for i, own := range worker.EventsOf(wears, events) {
			for _, e := range own {
				n++
				for _, other := range wears {
					if away(other, e.At) < away(wears[i], e.At) {
						r.Fatalf("the event at %d went to wear %d, which is not the nearest", e.At, i)
					}
				}
			}
		}
		if n != len(events) {
			r.Fatalf("%d of %d events went to a wear", n, len(events))
		}
	})
}
