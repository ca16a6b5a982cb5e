package wear

import "math"

// markRates marks readings across which glucose would have had to change
// faster than it can for 10 to 15 minutes on end. At intervals longer than
// that a single step is judged. "Low" and "high" in words have no rate: a
// "high" here is urgent and must not be argued away.
func (t *trace) markRates(b *BelieveRules) {
	shortest := seconds(b.RateFromMinutes * 60)
	longest := max(seconds(b.RateToMinutes*60), t.step) + t.step/2
	var fast [][2]int
	j := 0
	for i := range t.r {
		if t.why[i] != 0 || t.r[i].Bound != Exact {
			continue
		}
		for t.r[i].At-t.r[j].At > longest || j < i && t.why[j] != 0 {
			j++
		}
		for k := j; k < i; k++ {
			apart := t.r[i].At - t.r[k].At
			if apart < shortest {
				break
			}
			if t.why[k] != 0 || t.r[k].Bound != Exact || math.Abs(t.mmol[i]-t.mmol[k]) <= b.RateMmolPerMin*float64(apart)/60 {
				continue
			}
			fast = append(fast, [2]int{k + 1, i + 1})
		}
	}
	// Marked afterwards, so that one mark cannot hide the next change.
	for _, m := range fast {
		t.mark(m[0], m[1], causeRate)
	}
}
