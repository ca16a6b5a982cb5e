package kept

import (
	"errors"
	"testing"

	"pgregory.net/rapid"
)

// TestKept asks at random, with errors and weights, and holds what is given to
// what the work gives, what is kept to the bound, and what was used last to
// being kept.
func TestKept(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		const most = 10
		b := New[int](most, func(v int) int { return v % 7 })
		var last int
		r.Repeat(map[string]func(*rapid.T){
			"ask": func(r *rapid.T) {
				last = rapid.IntRange(0, 20).Draw(r, "key")
				v, err := b.Get(last, func() (int, error) { return last * 3, nil })
				if err != nil || v != last*3 {
					r.Fatalf("%d gives %d, %v", last, v, err)
				}
				again, err := b.Get(last, func() (int, error) { return 0, errors.New("worked out again") })
				if err != nil || again != v {
					r.Fatalf("%d, which was just asked for, gives %d, %v", last, again, err)
				}
			},
			"fail": func(r *rapid.T) {
				if _, err := b.Get(-1, func() (int, error) { return 1, errors.New("no") }); err == nil {
					r.Fatal("a failure was kept")
				}
			},
			"": func(r *rapid.T) {
				heavy := 0
				for e := b.order.Front(); e != nil; e = e.Next() {
					heavy += e.Value.(*entry[int, int]).heavy
				}
				if heavy != b.heavy || heavy > most || len(b.at) != b.order.Len() {
					r.Fatalf("%d kept, %d in order, weighing %d (said to be %d) of %d", len(b.at), b.order.Len(), heavy, b.heavy, most)
				}
			},
		})
	})
}
