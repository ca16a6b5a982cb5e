package wear

import (
	"cmp"
	"slices"
)

// Split cuts readings into wears where a gap is longer than the protocol
// allows (72 h as shipped: in the open cohort hall2018 no gap inside a wear is
// longer than 67 h and none between wears shorter than 123 h). The wears come
// in time order, each sorted; the input is left as it was. No readings give no
// wear. A nil protocol stands for [DefaultProtocol].
func Split(readings []Reading, p *Protocol) [][]Reading {
	if len(readings) == 0 {
		return nil
	}
	if p == nil {
		p = DefaultProtocol()
	}
	readings = sorted(readings)
	longest := seconds(p.Wear.SplitGapHours * 3600)
	var wears [][]Reading
	start := 0
	for i := 1; i < len(readings); i++ {
		// Unsigned, so that the distance between extreme instants cannot overflow.
		if uint64(readings[i].At)-uint64(readings[i-1].At) > uint64(longest) {
			wears = append(wears, slices.Clip(readings[start:i]))
			start = i
		}
	}
	return append(wears, slices.Clip(readings[start:]))
}

// Merge joins an overlapping export with the readings already there: the union
// by instant, in time order. Where both have one reading of an instant and they
// differ, the greater is kept, so that it never matters which export came
// first; of several the one already there. fresh counts readings whose instant was new, same those that were
// there already with the same value, conflicts those that differ. Rows that
// share an instant within one export all stay: the engine counts them.
func Merge(old, add []Reading) (merged []Reading, fresh, same, conflicts int) {
	old, add = sorted(old), sorted(add)
	merged = make([]Reading, 0, len(old)+len(add))
	i := 0
	for j := 0; j < len(add); {
		at := add[j].At
		for i < len(old) && old[i].At < at {
			merged = append(merged, old[i])
			i++
		}
		end := j + 1
		for end < len(add) && add[end].At == at {
			end++
		}
		known := i
		for known < len(old) && old[known].At == at {
			known++
		}
		switch {
		case known == i:
			merged = append(merged, add[j:end]...)
			fresh += end - j
		default:
			if one := known-i == 1 && end-j == 1; one && !sameValue(old[i], add[j]) && compareReadings(add[j], old[i]) > 0 {
				merged = append(merged, add[j])
				conflicts++
				i = known
				break
			}
			for _, r := range add[j:end] {
				if slices.ContainsFunc(old[i:known], func(o Reading) bool { return sameValue(o, r) }) {
					same++
				} else {
					conflicts++
				}
			}
		}
		j = end
	}
	return append(merged, old[i:]...), fresh, same, conflicts
}

// sorted gives the readings in [compareReadings] order without touching the input.
func sorted(readings []Reading) []Reading {
	if slices.IsSortedFunc(readings, compareReadings) {
		return readings
	}
	s := slices.Clone(readings)
	slices.SortFunc(s, compareReadings)
	return s
}

// compareReadings orders by instant and then by everything else, so that the
// order of rows in a file can never show in a report.
func compareReadings(a, b Reading) int {
	if c := cmp.Compare(a.At, b.At); c != 0 {
		return c
	}
	return cmp.Or(
		cmp.Compare(a.Unit, b.Unit),
		cmp.Compare(a.Bound, b.Bound),
		cmp.Compare(a.Scale, b.Scale),
		cmp.Compare(a.Num, b.Num),
		cmp.Compare(a.Mark, b.Mark),
	)
}

// sameValue reports whether two readings state the same value in the same
// unit, however many decimals were written: 6.7 and 6.70 are the same.
func sameValue(a, b Reading) bool {
	if a.Unit != b.Unit || a.Bound != b.Bound {
		return false
	}
	for a.Scale > b.Scale && a.Num%10 == 0 {
		a.Num, a.Scale = a.Num/10, a.Scale-1
	}
	for b.Scale > a.Scale && b.Num%10 == 0 {
		b.Num, b.Scale = b.Num/10, b.Scale-1
	}
	return a.Num == b.Num && a.Scale == b.Scale
}

// seconds turns a setting into whole seconds.
func seconds(s float64) int64 { return int64(s + 0.5) }
