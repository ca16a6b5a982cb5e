package wear

// markClock marks stretches in which two series of readings lie over each
// other: every step is shorter than the interval, and every two steps make one.
// That is what a clock leaves that was set back, and nobody can say which of
// the two series has the right time. Where the two fall on the same moments
// they are conflicts instead.
func (t *trace) markClock(b *BelieveRules) {
	need := max(2, int(b.ClockReadings))
	tight := func(i int) bool { // reading i lies inside the interval between its neighbours
		apart := t.r[i+1].At - t.r[i-1].At
		return 100*max(apart-t.step, t.step-apart) <= 15*t.step
	}
	for i := 1; i+1 < len(t.r); i++ {
		if t.r[i].At-t.r[i-1].At == t.step || !tight(i) {
			continue
		}
		lo := i - 1
		for i+1 < len(t.r) && tight(i) {
			i++
		}
		if i-lo+1 >= need {
			t.mark(lo, i+1, causeClock)
		}
	}
}

// conflictsOnEnd reports whether moments with two values follow each other at
// the interval of the readings.
func (t *trace) conflictsOnEnd() bool {
	const several = 3
	run := 1
	for i := 1; i < len(t.conflicts); i++ {
		if t.conflicts[i].at-t.conflicts[i-1].at > t.widest {
			run = 0
		}
		if run++; run >= several {
			return true
		}
	}
	return false
}
