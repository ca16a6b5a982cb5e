package worker

import (
	"slices"
	"time"

	"wearround/worker/wear"
)

// Two exports hold the same readings where every instant that both have in 24
// hours or more has the same value, and there are enough of them that chance
// cannot do it. Proposal.
const (
	alikeFor     = int64(24 * time.Hour / time.Second)
	alikeAtLeast = 24 // readings
)

// alike reports whether the readings of a, set back by shift seconds, and
// those of b hold the same readings somewhere. Both are in time order. Limits
// ("low", "high") do not count: two failed sensors would be alike.
func alike(a, b []wear.Reading, shift int64) bool {
	from, n := int64(0), 0
	for i, k := 0, 0; i < len(a) && k < len(b); {
		switch at := a[i].At - shift; {
		case a[i].Bound != wear.Exact || at < b[k].At:
			i++
		case b[k].Bound != wear.Exact || at > b[k].At:
			k++
		case valueOf(a[i]) != valueOf(b[k]):
			i, k, n = i+1, k+1, 0
		default:
			if n == 0 {
				from = at
			}
			i, k, n = i+1, k+1, n+1
			if n >= alikeAtLeast && at-from >= alikeFor {
				return true
			}
		}
	}
	return false
}

// value is what a reading says, however many decimals were written.
type value struct {
	num   int64
	scale uint8
	unit  wear.Unit
	bound wear.Bound
}

func valueOf(r wear.Reading) value {
	for r.Scale > 0 && r.Num%10 == 0 {
		r.Num, r.Scale = r.Num/10, r.Scale-1
	}
	return value{r.Num, r.Scale, r.Unit, r.Bound}
}

// gramLength is how many readings in a row are looked up together.
const gramLength = 8

// shiftOf finds the constant number of seconds by which a is later than b
// where both hold the same readings at other times. ok is false where they do
// not, or where they stand at the same times.
func shiftOf(a, b []wear.Reading) (seconds int64, ok bool) {
	first := map[uint64]int64{} // instant in b at which a run of values begins
	grams(b, func(gram uint64, at int64) { first[gram] = at })
	votes := map[int64]int{}
	most := 0
	grams(a, func(gram uint64, at int64) {
		if was, known := first[gram]; known {
			d := at - was
			if votes[d]++; votes[d] > most {
				seconds, most = d, votes[d]
			}
		}
	})
	return seconds, seconds != 0 && alike(a, b, seconds)
}

// grams calls f with a hash of the values and steps of each run of gramLength
// readings and the instant at which it begins.
func grams(readings []wear.Reading, f func(gram uint64, at int64)) {
	for i := 0; i+gramLength <= len(readings); i++ {
		h := uint64(14695981039346656037)
		for k := i; k < i+gramLength; k++ {
			v := valueOf(readings[k])
			step := uint64(readings[k].At - readings[i].At)
			for _, x := range [...]uint64{step, uint64(v.num), uint64(v.scale)<<16 | uint64(v.unit)<<8 | uint64(v.bound)} {
				h = (h ^ x) * 1099511628211 // FNV-1a over words
			}
		}
		f(h, readings[i].At)
	}
}

// later gives the readings and events moved by some seconds.
func (p part) later(seconds int64) part {
	p.readings, p.events = slices.Clone(p.readings), slices.Clone(p.events)
	for i := range p.readings {
		p.readings[i].At += seconds
	}
	for i := range p.events {
		e := &p.events[i]
		e.At += seconds
		if e.Value.At != 0 {
			e.Value.At += seconds
		}
	}
	return p
}

// sample writes the first three readings as a person would compare them, moved
// by some seconds.
func (w *Worker) sample(readings []wear.Reading, seconds int64) []string {
	var rows []string
	for _, r := range readings[:min(3, len(readings))] {
		rows = append(rows, w.moment(r.At+seconds)+"  "+r.Text()+" "+r.Unit.String())
	}
	return rows
}

// moment writes an instant on the clinic's clock.
func (w *Worker) moment(at int64) string {
	return time.Unix(at, 0).In(w.Zone).Format("Mon 2 Jan 2006 15:04")
}
