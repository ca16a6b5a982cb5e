package wear

import "math"

// markTail marks the end of a wear that does not fit the rest: for its last
// day or days the mean lies far below that of the days when the sensor worked,
// or readings jump far more from one to the next, or most of them are missing.
// A rise of the mean is not marked, because illness and steroids raise glucose
// too and doubt must not hide that. Nor is a fall to a level where healthy
// people live: someone who ate differently or left off a steroid gets there.
func (t *trace) markTail(b *BelieveRules, w *WearRules) {
	blocks := t.blocksFromEnd(seconds(b.TailHours * 3600))
	// A usual day needs a majority of good ones to be taken from.
	if len(blocks) < 4 {
		return
	}
	usual := func(q float64, of func(block) float64) float64 {
		v := t.scratch[:0]
		for _, x := range blocks {
			v = append(v, of(x))
		}
		return quantile(v, q)
	}
	mean := usual(0.5, func(x block) float64 { return x.mean })
	// A sensor may fail for more than half of a wear, so the days of a working
	// one are also looked for among the higher ones.
	upper := usual(0.75, func(x block) float64 { return x.mean })
	noise := usual(0.5, func(x block) float64 { return x.noise })
	captured := usual(0.5, func(x block) float64 { return x.captured })
	least := 1 - b.TailFallPct/100
	tail := 0
	for tail < 3*len(blocks)/4 {
		x := blocks[tail]
		fails := x.mean < upper*least && !atLeast(x.mean, b.TailMeanMmol)
		if 2*tail < len(blocks) {
			jumps := x.noise > noise*b.TailNoiseRatio && noise > 0
			missing := x.captured < b.TailCapturePct && captured >= w.DayUsablePct
			fails = fails || x.mean < mean*least || jumps || missing
		}
		if !fails {
			break
		}
		tail++
	}
	if tail > 0 {
		t.mark(blocks[tail-1].lo, len(t.r), causeTail)
	}
}

// block is a stretch of fixed length.
type block struct {
	lo, hi   int
	mean     float64 // mmol/L
	noise    float64 // mean size of the second difference, mmol/L
	captured float64 // per cent of expected
}

// blocksFromEnd cuts the trace into whole stretches of a length, the last
// first. A stretch without a reading that is still believed is left out.
func (t *trace) blocksFromEnd(length int64) []block {
	if len(t.r) == 0 || length < t.step {
		return nil
	}
	var blocks []block
	for hi := len(t.r); hi > 0; {
		end := t.r[hi-1].At + t.step
		lo := t.from(end - length)
		if end-length < t.r[0].At {
			break
		}
		if x, ok := t.blockOf(lo, hi, length); ok {
			blocks = append(blocks, x)
		}
		hi = lo
	}
	return blocks
}

// blockOf sums up the believed readings from lo to hi.
func (t *trace) blockOf(lo, hi int, length int64) (x block, ok bool) {
	x.lo, x.hi = lo, hi
	sum, jumps := 0.0, 0.0
	n, m := 0, 0
	for i := lo; i < hi; i++ {
		if t.why[i] != 0 {
			continue
		}
		sum += t.mmol[i]
		n++
		if i > lo+1 && t.joined(i) && t.joined(i-1) && t.why[i-1]|t.why[i-2] == 0 {
			jumps += math.Abs(t.mmol[i] - 2*t.mmol[i-1] + t.mmol[i-2])
			m++
		}
	}
	if n == 0 {
		return x, false
	}
	x.mean = sum / float64(n)
	if m > 0 {
		x.noise = jumps / float64(m)
	}
	x.captured = 100 * float64(hi-lo) * float64(t.step) / float64(length)
	return x, true
}
