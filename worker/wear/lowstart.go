package wear

// markLowStart marks a wear that reads implausibly low from its first day:
// whole days on end, beginning with the first, of which most readings lie
// below 3.9. A sensor that reads low and true lows that are not felt look alike:
// autonomic symptoms begin about 3.2 and those of the brain about 2.8 (Am J
// Physiol 1991;260:E67, 10 healthy people), and repeated lows blunt them (N Engl
// J Med 1993;329:834). So the doubt is said, and a symptom beside such a low
// counts. Healthy volunteers spend one reading in eight below 3.9 on some
// sensors, and more on the first day; the rule stays clear of them.
func (t *trace) markLowStart(b *BelieveRules) {
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
		if !enough || 100*float64(below) < b.LowStartPct*float64(n) || n == 0 {
			return
		}
		t.mark(lo, hi, causeLowStart)
		lo = hi
	}
}
