package wear_test

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"wearround/worker/wear"
)

// The short way to flags and tier comes to the same as the whole: for a wear
// that raises each flag, and for generated ones with doubt and facts beside them.
func TestVerdictIsThatOfTheReport(t *testing.T) {
	raised := map[string]bool{}
	same := func(name any, in wear.Input) {
		t.Helper()
		whole, short := wear.Analyse(in), wear.Verdict(in)
		if !reflect.DeepEqual(whole.Flags, short.Flags) || whole.Priority.Tier != short.Priority.Tier {
			t.Errorf("%v: %s %v, in short %s %v", name, whole.Priority.Tier, whole.Flags, short.Priority.Tier, short.Flags)
		}
		for _, f := range whole.Flags {
			raised[f.Code] = true
		}
	}
	for code, in := range raising() {
		same(code, in)
	}
	n := 2000
	if testing.Short() {
		n = 200
	}
	for i := range n {
		rng := rand.New(rand.NewPCG(uint64(i), 77))
		in := lawWear(rng)
		if i%2 == 0 {
			in = artefacts(rng, in)
		}
		same(i, in)
	}
	if len(raised) < len(raising()) {
		t.Errorf("only %d flags were raised", len(raised))
	}
}
