package wear

// snaps are the intervals that sensors keep: 1, 5 and 15 minutes.
var snaps = [...]int64{60, 300, 900}

// snapped is a step as the usual interval it is meant to be, within 15 %, or
// as it is.
func snapped(step int64) int64 {
	for _, s := range snaps {
		if 100*max(step-s, s-step) <= 15*s {
			return s
		}
	}
	return step
}

// findInterval takes the median step, which a few gaps do not move, and looks
// for a second interval unless the first fills too much of the time for one.
func (t *trace) findInterval(w *WearRules) {
	t.step = 300
	if len(t.r) < 2 {
		return
	}
	step, filled := t.medianStep()
	t.step = max(1, snapped(step))
	t.interval = int(t.step)
	if span := t.r[len(t.r)-1].At - t.r[0].At; 100*float64(filled) <= (100-w.MixedPct)*float64(span) {
		t.findCover(w)
	}
}

// medianStep is the middle of the steps between readings, and the seconds that
// steps of just that length fill. Nearly always one step has a majority, and
// one from the middle is it.
func (t *trace) medianStep() (step, filled int64) {
	middle := len(t.r) / 2
	step = t.r[middle].At - t.r[middle-1].At
	times := 0
	for i := 1; i < len(t.r); i++ {
		if t.r[i].At-t.r[i-1].At == step {
			times++
		}
	}
	if 2*times > len(t.r)-1 {
		return step, step * int64(times)
	}
	steps := t.scratch[:0]
	for i := 1; i < len(t.r); i++ {
		steps = append(steps, float64(t.r[i].At-t.r[i-1].At))
	}
	return int64(quickselect(steps, len(steps)/2)), 0
}

// mixedRun is how many steps of one length on end are an interval and not a
// few readings missed.
const mixedRun = 6

// findCover notices a file in which the interval changes, as from 1 to 5
// minutes. The nominal interval is then the longest that fills a share of the
// time, and each reading stands for the time to the next one, at most one and
// a half nominal intervals (a proposal): else the minutes of the finer part
// would count several times.
func (t *trace) findCover(w *WearRules) {
	var filled [len(snaps)]int64
	total, run, before := int64(0), 0, int64(0)
	for i := 1; i < len(t.r); i++ {
		step := t.r[i].At - t.r[i-1].At
		if step != before {
			step = snapped(step)
		}
		if step != before {
			run, before = 0, step
		}
		run++
		for k, s := range snaps {
			if step != s {
				continue
			}
			switch {
			case run == mixedRun:
				filled[k] += mixedRun * s
				total += mixedRun * s
			case run > mixedRun:
				filled[k] += s
				total += s
			}
		}
	}
	kinds, longest := 0, int64(0)
	for k, s := range snaps {
		if filled[k] > 0 && 100*float64(filled[k]) >= w.MixedPct*float64(total) {
			kinds++
			longest = s
		}
	}
	if kinds < 2 {
		return
	}
	t.step, t.interval = longest, int(longest)
	t.cover = make([]float64, len(t.r))
	for i := range t.r {
		next := t.step
		if i+1 < len(t.r) {
			next = t.r[i+1].At - t.r[i].At
		}
		t.cover[i] = min(float64(next)/float64(t.step), 1.5)
	}
}

// weight is how many intervals a reading stands for: 1 unless the file mixes
// intervals.
func (t *trace) weight(i int) float64 {
	if t.cover == nil {
		return 1
	}
	return t.cover[i]
}
