package wear

// markLowStart marks a wear that reads implausibly low from its first day:
// whole days on end, beginning with the first, of which most readings lie
// below 3.9 with no symptom logged. People do not live there unaware, sensors
// do. Healthy volunteers spend one reading in eight below 3.9 on some sensors,
// and more on the first day; the rule stays clear of them.
func (t *trace) markLowStart(b *BelieveRules, events []Event) {
	length := seconds(b.LowStartHours * 3600)
	if length < t.step {
		return
	}
	for lo := 0; lo < len(t.r); {
		start := t.r[lo].At
		hi := t.from(start + length)
		below, n := 0, 0
		for i := lo; i < hi; i++ {
			if t.why[i] == 0 {
				n++
				if t.past[i]&pastBelow3_9 != 0 {
					below++
				}
			}
		}
		enough := 2*int64(hi-lo)*t.step >= length
		if !enough || 100*float64(below) < b.LowStartPct*float64(n) || n == 0 || logged(events, Symptom, start, start+length) {
			return
		}
		t.mark(lo, hi, causeLowStart)
		lo = hi
	}
}

// logged reports whether an event of a kind lies in [from, to).
func logged(events []Event, kind EventKind, from, to int64) bool {
	for _, e := range events {
		if e.Kind == kind && e.At >= from && e.At < to {
			return true
		}
	}
	return false
}
