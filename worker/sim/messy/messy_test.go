package messy_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/worker/sim/messy"
)

// The same seed gives the same messy file, and each class has its number.
func TestNew(t *testing.T) {
	for i, k := range messy.Classes() {
		if k.Number != i+1 || k.Name == "" {
			t.Errorf("class %d is %v", i+1, k)
		}
		a, b := messy.New(11, k.Number), messy.New(11, k.Number)
		if d := cmp.Diff(a.Data, b.Data) + cmp.Diff(a.People, b.People); d != "" {
			t.Errorf("%v differs from itself: %.300s", k, d)
		}
		if a.Decidable && len(a.People) == 0 {
			t.Errorf("%v can be decided but holds nobody", k)
		}
	}
	if a, b := messy.New(1, 1), messy.New(2, 1); cmp.Equal(a.Data, b.Data) {
		t.Error("two seeds give the same file")
	}
}
