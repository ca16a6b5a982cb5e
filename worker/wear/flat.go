package wear

// markFlat marks runs of one identical value. Quiet nights are truly flat to
// within 0.1 or 0.2 mmol/L, so nothing looser than identity will do, and where
// values come in steps of 0.1 mmol/L (coarser than 1 mg/dL) a run must last
// longer to mean anything.
func (t *trace) markFlat(b *BelieveRules) {
	for i := 0; i < len(t.r); {
		j := i + 1
		for j < len(t.r) && t.joined(j) && sameValue(t.r[i], t.r[j]) {
			j++
		}
		minutes := b.FlatMinutes
		if t.r[i].Unit == MmolL && t.r[i].Scale < 2 {
			minutes = b.FlatCoarseMinutes
		}
		if t.r[i].Bound == Exact && float64(j-i) >= b.FlatReadings &&
			float64(t.r[j-1].At-t.r[i].At) >= minutes*60 {
			t.mark(i, j, causeFlat)
		}
		i = j
	}
}
