package wear

import (
	"slices"
	"strings"
	"time"
)

// past is a set of limits that a reading is past. Each is compared once, in
// the recorded unit, when the trace is made.
type past uint8

const (
	pastAbove7_8 past = 1 << iota
	pastAbove10
	pastHighEpisode // at or above the protocol's limit for high episodes
	pastAbove13_9
	pastVeryHigh
	pastBelow3_9
	pastBelow3_0
	pastPlausible // no sensor can measure that
)

// trace is the clocked readings of one wear made ready: in time order, one
// value an instant, with everything the later steps ask for again and again.
type trace struct {
	r    []Reading
	mmol []float64
	past []past
	seen past    // limits that any reading is past
	why  []cause // 0 for a believed reading

	believedAs []cause // why of the trace that this one is told from; nil for none

	unsettled []deepFall // falls like those of a sensor that is lain on, which that alone does not explain

	noise    float64   // see [trace.jitter]
	doubted  uint      // causes of doubt that any reading has, as bits
	step     int64     // nominal interval in seconds, never 0
	interval int       // the same, or 0 where one reading or none leaves it unknown
	widest   int64     // the longest step that is not a gap
	cover    []float64 // intervals that each reading stands for; nil where every reading stands for one
	cal      *calendar

	duplicates int
	conflicts  []conflict
	onDemand   int
	unusable   int
	brief      bool // measures are for flags and what is near alone
	scratch    []float64
	eaten      [2][]float64 // minutes and values of the meal in hand
	counts     []dayCounts  // of each calendar day
	common     common
}

// conflict is an instant for which different values were recorded.
type conflict struct {
	at   int64
	rows int
	text string // the values, in words
}

// The instants a reading can have. Outside them the calendar arithmetic and
// RFC 3339 would fail, and no glucose sensor existed or will be worn.
var (
	earliest = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	latest   = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
)

// absurd is no glucose in any unit: a number that large is something else.
const absurd = 1e5

// usable reports whether the engine can work with a reading at all.
func usable(r Reading) bool {
	return r.At >= earliest && r.At < latest &&
		r.Scale <= MaxScale && r.Num >= 0 && (r.Num < absurd || r.Native() < absurd) &&
		r.Bound <= Above && (r.Unit == MmolL || r.Unit == MgdL)
}

// newTrace sorts and cleans the readings. It borrows the caller's slice when
// nothing has to change and never writes to it.
func newTrace(in *Input) *trace {
	p := in.Protocol
	t := &trace{r: in.Readings}
	if !tidy(t.r) {
		t.r = sorted(t.r)
		t.clean()
	}

	n := len(t.r)
	floats := make([]float64, 2*n)
	t.mmol, t.scratch = floats[:n:n], floats[n:]
	t.past, t.why = make([]past, n), make([]cause, n)
	t.findInterval(&p.Wear)
	t.widest = seconds(p.Wear.GapIntervals * float64(t.step))
	t.classify(p)
	t.cal = newCalendar(t.r, in.Zone, seconds(p.Wear.SplitGapHours*3600))
	return t
}

// assumed is the value in mmol/L that stands for a bare "low" or "high".
func (c CensoredRules) assumed(r Reading) float64 {
	l := c.AssumedLow
	if r.Bound == Above {
		l = c.AssumedHigh
	}
	if r.Unit == MgdL {
		return float64(l.Mgdl) / MgdlPerMmol
	}
	return l.Mmol()
}

// tidy reports whether the readings are what clean would leave of them: usable,
// on the clock, in order and one an instant. Most files are.
func tidy(r []Reading) bool {
	for i := range r {
		if !usable(r[i]) || r[i].Mark&MarkOnDemand != 0 || i > 0 && r[i].At <= r[i-1].At {
			return false
		}
	}
	return true
}

// clean takes out what is not on the clock, what cannot be used, repeated rows
// and instants in conflict. The readings are sorted already.
func (t *trace) clean() {
	all := t.r
	t.r = make([]Reading, 0, len(all))
	for _, r := range all {
		switch {
		case !usable(r):
			t.unusable++
		case r.Mark&MarkOnDemand != 0:
			t.onDemand++
		default:
			t.r = append(t.r, r)
		}
	}
	clocked := t.r
	t.r = t.r[:0] // never overtakes what is still to be read
	for i := 0; i < len(clocked); {
		j, first := i+1, clocked[i]
		agree := true
		for ; j < len(clocked) && clocked[j].At == first.At; j++ {
			agree = agree && sameValue(first, clocked[j])
			first.Mark |= clocked[j].Mark
		}
		if agree {
			t.duplicates += j - i - 1
			t.r = append(t.r, first)
		} else {
			t.conflicts = append(t.conflicts, newConflict(clocked[i:j]))
		}
		i = j
	}
}

func newConflict(rows []Reading) conflict {
	var texts []string
	for _, r := range rows {
		if s := r.Text() + " " + r.Unit.String(); !slices.Contains(texts, s) {
			texts = append(texts, s)
		}
	}
	return conflict{at: rows[0].At, rows: len(rows), text: strings.Join(texts, " and ")}
}

// believed counts the readings that are not suspect.
func (t *trace) believed() int {
	n := 0
	for _, w := range t.why {
		if w == 0 {
			n++
		}
	}
	return n
}

// joined reports whether no gap lies between reading i and the one before.
func (t *trace) joined(i int) bool { return i > 0 && t.r[i].At-t.r[i-1].At <= t.widest }

// count is how many readings of one interval each a time covers.
func (t *trace) count(minutes float64) int { return int(minutes*60/float64(t.step) + 0.5) }

// anyPast reports whether a believed reading from lo to hi is past a limit.
func (t *trace) anyPast(lo, hi int, limit past) bool {
	for i := lo; i < hi; i++ {
		if t.why[i] == 0 && t.past[i]&limit != 0 {
			return true
		}
	}
	return false
}

// beyond reports whether a believed reading from lo to hi is only a bound.
func (t *trace) beyond(lo, hi int, b Bound) bool {
	for i := lo; i < hi; i++ {
		if t.why[i] == 0 && t.r[i].Bound == b {
			return true
		}
	}
	return false
}

// from gives the index of the first reading at or after an instant.
func (t *trace) from(at int64) int {
	lo, hi := 0, len(t.r)
	for lo < hi {
		if mid := (lo + hi) / 2; t.r[mid].At < at {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// medianBetween is the median of mmol[i:j]; 0 for none.
func (t *trace) medianBetween(i, j int) float64 {
	if i >= j {
		return 0
	}
	s := append(t.scratch[:0], t.mmol[i:j]...)
	return quantile(s, 0.5)
}
