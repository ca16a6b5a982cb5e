package wear_test

import (
	"slices"
	"testing"
	"time"

	"wearround/worker/wear"
)

func TestSplit(t *testing.T) {
	base := series(5, 5, 5.1, 5.2)
	after := func(gap time.Duration) []wear.Reading {
		r := mmol(time.Unix(base[2].At, 0).Add(gap), 6)
		return append(slices.Clone(base), r)
	}
	for _, c := range []struct {
		name string
		in   []wear.Reading
		want []int
	}{
		{"none", nil, nil},
		{"one wear", base, []int{3}},
		{"a gap of exactly the limit stays", after(72 * time.Hour), []int{4}},
		{"one second more parts", after(72*time.Hour + time.Second), []int{3, 1}},
		{"any order", func() []wear.Reading { r := after(100 * time.Hour); slices.Reverse(r); return r }(), []int{3, 1}},
		{"extreme instants", []wear.Reading{{At: -1 << 63}, {At: 1<<63 - 1}}, []int{1, 1}},
	} {
		var got []int
		for _, w := range wear.Split(c.in, wear.DefaultProtocol()) {
			got = append(got, len(w))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: wears of %v, want %v", c.name, got, c.want)
		}
	}
}

func TestMerge(t *testing.T) {
	old := series(5, 5.0, 5.1, 5.2)
	add := series(5, 5.0, 6.1, 5.2, 5.3)
	add[2].Num, add[2].Scale = 520, 2 // 5.20 is 5.2
	slices.Reverse(add)
	merged, fresh, same, conflicts := wear.Merge(old, add)
	if fresh != 1 || same != 2 || conflicts != 1 || len(merged) != 4 {
		t.Fatalf("%d merged: %d fresh, %d same, %d conflicts", len(merged), fresh, same, conflicts)
	}
	for i, want := range []string{"5.0", "6.1", "5.2", "5.3"} {
		if got := merged[i].Text(); got != want {
			t.Errorf("reading %d is %s, want %s: the greater is kept, whichever came first", i, got, want)
		}
	}
	if again, fresh, same, conflicts := wear.Merge(merged, merged); len(again) != 4 || fresh != 0 || same != 4 || conflicts != 0 {
		t.Errorf("joining with itself: %d, %d fresh, %d same, %d conflicts", len(again), fresh, same, conflicts)
	}
}
