package wear

import "math"

// markSpikes marks a single reading that leaves its neighbours in both
// directions faster than glucose can and further than they differ from each
// other. "Low" and "high" in words are never called a spike.
func (t *trace) markSpikes(b *BelieveRules) {
	for i := 1; i+1 < len(t.r); i++ {
		if t.why[i-1]|t.why[i]|t.why[i+1] != 0 || t.r[i].Bound != Exact || !t.joined(i) || !t.joined(i+1) {
			continue
		}
		before, after := t.mmol[i]-t.mmol[i-1], t.mmol[i]-t.mmol[i+1]
		if before*after <= 0 {
			continue
		}
		// What turns back within two steps was faster than its steps show.
		minutes := min(float64(t.r[i+1].At-t.r[i-1].At)/120, b.RateFromMinutes)
		least := min(math.Abs(before), math.Abs(after))
		if least <= b.RateMmolPerMin*minutes {
			continue
		}
		if least > b.StepMmolPerMin*minutes || math.Abs(t.mmol[i]-t.neighbours(i)) > b.SpikeMmol {
			t.why[i] = causeSpike
		}
	}
}

// neighbours is the median of the two readings on each side of i that no gap
// parts from it.
func (t *trace) neighbours(i int) float64 {
	v := t.scratch[:0]
	if t.joined(i - 1) {
		v = append(v, t.mmol[i-2])
	}
	v = append(v, t.mmol[i-1], t.mmol[i+1])
	if i+2 < len(t.r) && t.joined(i+2) {
		v = append(v, t.mmol[i+2])
	}
	return quantile(v, 0.5)
}
