package wear

// markFlat marks runs of one identical value, and longer stretches of next to
// no spread. Quiet nights are truly flat to within 0.1 or 0.2 mmol/L, so
// nothing looser will do; and where values come in steps of 0.1 mmol/L
// (coarser than 1 mg/dL) a run of one value must last longer to mean anything,
// and the spread, being that of the steps, means nothing.
func (t *trace) markFlat(b *BelieveRules) {
	for i := 0; i < len(t.r); {
		j := i + 1
		for j < len(t.r) && t.joined(j) && t.mmol[i] == t.mmol[j] && sameValue(t.r[i], t.r[j]) {
			j++
		}
		minutes := b.FlatMinutes
		if coarse(t.r[i]) {
			minutes = b.FlatCoarseMinutes
		}
		if t.r[i].Bound == Exact && float64(j-i) >= b.FlatReadings &&
			float64(t.r[j-1].At-t.r[i].At) >= minutes*60 {
			t.mark(i, j, causeFlat)
		}
		i = j
	}
	t.markStill(b)
}

// coarse reports whether a reading was written in steps of 0.1 mmol/L or more.
func coarse(r Reading) bool { return r.Unit == MmolL && r.Scale < 2 }

// markStill marks stretches whose standard deviation stays under the least
// that living glucose shows. A window slides over each run without gaps; its
// sums are kept about the run's first value, so that they stay exact.
func (t *trace) markStill(b *BelieveRules) {
	length := seconds(b.FlatSDMinutes * 60)
	if length < t.step || b.FlatSDMmol <= 0 {
		return
	}
	limit := b.FlatSDMmol * b.FlatSDMmol
	lo, marked, origin := 0, 0, 0.0
	sum, squares := 0.0, 0.0
	for i, r := range t.r {
		if coarse(r) || r.Bound != Exact {
			lo, sum, squares = i+1, 0, 0
			continue
		}
		if !t.joined(i) || lo >= i {
			lo, sum, squares, origin = i, 0, 0, t.mmol[i]
		}
		x := t.mmol[i] - origin
		sum += x
		squares += x * x
		for lo < i && r.At-t.r[lo+1].At >= length {
			y := t.mmol[lo] - origin
			sum -= y
			squares -= y * y
			lo++
		}
		if n := float64(i - lo + 1); r.At-t.r[lo].At >= length && (squares-sum*sum/n)/(n-1) < limit {
			t.mark(max(lo, marked), i+1, causeFlat)
			marked = i + 1
		}
	}
}
