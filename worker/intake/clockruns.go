package intake

import (
	"fmt"
	"slices"
	"time"

	"wearround/worker/wear"
)

// A clock that lost its setting cuts a file into runs, each right in itself.
const (
	backStep    = 120        // seconds against the order of the file that a clock does not go by itself
	forwardStep = 86400      // seconds ahead that count as a jump where the clock also went back
	maxRuns     = 12         // more are no clock resets but disorder
	oldestClock = 1325376000 // 2012-01-01 00:00 UTC; real wears of 2014 are known (PLoS Biol 2018;16:e2005143)
	farAway     = 30 * 86400
	agreement   = 0.9 // share of equal values on which an overlap counts as the same readings twice
)

// stated is the answer that times are right as the file has them.
const stated = "stated"

// run is a stretch of rows on one setting of the clock: rows from to to-1 of
// the region, in the order of time.
type run struct {
	from, to    int
	first, last int64
	readings    int
	inLine      bool
	copies      []run // later runs that only say the same again
}

// clockRuns finds runs of readings whose clock was reset and asks for the true
// start of each. Times are in UTC, and are moved once a person has answered.
func (h *harvest) clockRuns() *wear.Refusal {
	if len(h.questions) > 0 {
		return nil // an answer may move all times
	}
	up, down, last := 0, 0, int64(0)
	seen := false
	for i, t := range h.times {
		if !h.onClock(i) {
			continue
		}
		if seen && t.secs > last {
			up++
		} else if seen && t.secs < last {
			down++
		}
		last, seen = t.secs, true
	}
	if min(up, down)*20 > max(up, down) {
		return h.farClusters()
	}
	newestFirst := down > up
	runs := h.cutRuns(newestFirst)
	if len(runs) < 2 || h.tiles(runs) {
		return nil
	}
	if runs = h.dropCopies(runs); len(runs) < 2 {
		return nil
	}
	if len(runs) > maxRuns {
		return h.hold("clock_reset", fmt.Sprintf("The clock goes back %d times. Are all dates right?", len(runs)-1))
	}
	h.inLine(runs, newestFirst)
	cadence := h.usualStep(runs)
	for k := range runs {
		if !runs[k].inLine {
			h.trueStart(runs, k, cadence, newestFirst)
		}
	}
	return nil
}

// farClusters asks about a few readings far from all others in a file whose
// rows are in no order: a clock without its setting leaves such.
func (h *harvest) farClusters() *wear.Refusal {
	var at []int64
	for i, t := range h.times {
		if h.onClock(i) {
			at = append(at, t.secs)
		}
	}
	slices.Sort(at)
	type cluster struct{ first, last int64 }
	var far []cluster
	rows := 0
	for i := 0; i < len(at); {
		from := i
		for i++; i < len(at) && at[i]-at[i-1] <= forwardStep; i++ {
		}
		alone := (from == 0 || at[from]-at[from-1] > farAway) && (i == len(at) || at[i]-at[i-1] > farAway)
		if i-from < len(at)/2 && alone && at[i-1]-at[from] < forwardStep {
			far = append(far, cluster{at[from], at[i-1]})
			rows += i - from
		}
	}
	if len(far) == 0 {
		return nil
	}
	answer := h.ask("clock_reset", fmt.Sprintf("%d readings from %s on lie more than a month from all others. Was the clock right then?", rows, h.minute(far[0].first)),
		wear.Choice{Value: stated, Text: "Yes", Effect: "they would be filed as they stand"},
		wear.Choice{Value: "leave_out", Text: "No: leave them out", Effect: fmt.Sprintf("%d readings would be left out", rows)},
		wear.Choice{Value: "stop", Text: "Not known", Effect: "the file stays out"})
	if answer == "stop" {
		return refuse("clock_reset", "Some readings lie far from all others and it is not known when they were taken.", "Check the clock of the sensor's reader, and export the readings again.")
	}
	for i := range h.times {
		for _, c := range far {
			if t := &h.times[i]; answer != stated && t.secs >= c.first && t.secs <= c.last {
				t.dropped = true
			}
		}
	}
	return nil
}

// onClock reports whether a row may hold an automatic reading: a number, or a
// word in its place.
func (h *harvest) onClock(i int) bool {
	r := h.lay.g.from + i
	if !h.times[i].ok || h.times[i].dropped || !h.lay.mayRead(h.t, r) {
		return false
	}
	k := h.t.kind(r, h.lay.auto)
	return k.number() || k == limit || k == word
}

// cutRuns cuts the rows where the clock goes against the order of the file and,
// if it does so anywhere or was not set, also where it leaps ahead.
func (h *harvest) cutRuns(newestFirst bool) []run {
	cut := func(ahead int64) (runs []run) {
		for i, t := range h.times {
			if !h.onClock(i) {
				continue
			}
			if n := len(runs) - 1; n >= 0 {
				step := t.secs - runs[n].last
				if newestFirst {
					step = -step
				}
				if step >= -backStep && step <= ahead {
					runs[n].to, runs[n].last = i+1, t.secs
					runs[n].readings++
					continue
				}
			}
			runs = append(runs, run{from: i, to: i + 1, first: t.secs, last: t.secs, readings: 1})
		}
		return runs
	}
	runs := cut(1 << 62)
	if len(runs) > 1 || len(runs) == 1 && (h.unset(&runs[0]) || h.neverSet(min(runs[0].first, runs[0].last))) {
		runs = cut(forwardStep)
	}
	for k := range runs {
		h.widen(runs, k)
	}
	return runs
}

// unset reports whether a run has times that no clock with its setting shows,
// beside others.
func (h *harvest) unset(r *run) bool {
	lo, hi := r.bounds()
	return lo < oldestClock && hi > oldestClock || !h.timely(hi) && h.timely(lo)
}

// widen takes rows without a reading, such as events, into the run beside them whose clock they show.
func (h *harvest) widen(runs []run, k int) {
	least, most := 0, len(h.times)
	if k > 0 {
		least = runs[k-1].to
	}
	if k+1 < len(runs) {
		most = runs[k+1].from
	}
	r := &runs[k]
	near := func(i int, at int64) bool { return h.times[i].ok && abs(h.times[i].secs-at) <= forwardStep }
	for r.from > least && near(r.from-1, r.first) {
		r.from--
	}
	for r.to < most && near(r.to, r.last) {
		r.to++
	}
}

// bounds gives the earliest and the latest moment of a run.
func (r *run) bounds() (lo, hi int64) { return min(r.first, r.last), max(r.first, r.last) }

// tiles reports whether the runs, put in order of time, join without overlap
// and gap: the file only has its days or parts in another order.
func (h *harvest) tiles(runs []run) bool {
	for i := range runs {
		lo, hi := runs[i].bounds()
		if lo < oldestClock && h.latest(runs) > oldestClock {
			return false
		}
		joined := false
		for j := range runs {
			if i == j {
				continue
			}
			l, u := runs[j].bounds()
			if lo <= u && l <= hi {
				return false
			}
			joined = joined || l > hi && l-hi <= joinGap || lo > u && lo-u <= joinGap
		}
		if !joined {
			return false
		}
	}
	return true
}

func (h *harvest) latest(runs []run) (at int64) {
	for i := range runs {
		_, hi := runs[i].bounds()
		at = max(at, hi)
	}
	return at
}

// dropCopies puts runs that only say again what earlier ones said, as when two
// exports were joined, with the run that said it first.
func (h *harvest) dropCopies(runs []run) (kept []run) {
	type said struct {
		value string
		by    int // index into kept
	}
	seen := make(map[int64]said)
	for _, r := range runs {
		same, differ, by := 0, 0, len(kept)
		for i := r.from; i < r.to; i++ {
			if was, known := seen[h.times[i].secs]; known && h.onClock(i) {
				if was.value == h.value(i) {
					same++
					by = was.by
				} else {
					differ++
				}
			}
		}
		if same < 3 || same*10 < r.readings || float64(same) < agreement*float64(same+differ) {
			by = len(kept)
			kept = append(kept, r)
		} else {
			kept[by].copies = append(kept[by].copies, r)
		}
		for i := r.from; i < r.to; i++ {
			if h.onClock(i) {
				seen[h.times[i].secs] = said{h.value(i), by}
			}
		}
	}
	return kept
}

// value is the glucose cell of a row.
func (h *harvest) value(i int) string { return h.t.cell(h.lay.g.from+i, h.lay.auto) }

// inLine marks the runs that agree with the order of the file: of all sets that
// do, the one with the most readings, where a run that lies a month off its
// neighbour adds nothing. Runs from before sensors kept time and in the future
// never belong to it.
func (h *harvest) inLine(runs []run, newestFirst bool) {
	best := make([]int, len(runs)) // readings of the best set that ends with this run
	from := make([]int, len(runs))
	top := -1
	for i := range runs {
		if lo, hi := runs[i].bounds(); lo < oldestClock || !h.timely(hi) {
			best[i] = -1
			continue
		}
		best[i], from[i] = runs[i].readings, -1
		for j := range i {
			if best[j] < 0 || !follows(&runs[j], &runs[i], newestFirst) {
				continue
			}
			sum := best[j] + runs[i].readings
			if abs(runs[i].first-runs[j].last) > farAway {
				sum = max(best[j], runs[i].readings) - 1
			}
			if sum > best[i] {
				best[i], from[i] = sum, j
			}
		}
		if top < 0 || best[i] > best[top] {
			top = i
		}
	}
	for ; top >= 0; top = from[top] {
		runs[top].inLine = true
	}
}

// follows reports whether b, later in the file, is also on the right side of a
// in time.
func follows(a, b *run, newestFirst bool) bool {
	if newestFirst {
		return b.first <= a.last+backStep
	}
	return b.first >= a.last-backStep
}

// usualStep is the cadence within the runs.
func (h *harvest) usualStep(runs []run) int64 {
	var steps stepCount
	n := 0
	for _, r := range runs {
		last := int64(-1)
		for i := r.from; i < r.to; i++ {
			if !h.onClock(i) {
				continue
			}
			if d := abs(h.times[i].secs - last); last >= 0 && d > 0 {
				steps.add(d)
				n++
			}
			last = h.times[i].secs
		}
	}
	if n == 0 {
		return 0
	}
	return steps.quantile(n / 2)
}

// trueStart asks when a run really began, and moves its rows by the answer.
func (h *harvest) trueStart(runs []run, k int, cadence int64, newestFirst bool) {
	r := &runs[k]
	lo, hi := r.bounds()
	code := fmt.Sprintf("clock_reset:%d", k+1)
	line := h.t.line[h.lay.g.from+r.from]
	before, after := k-1, k+1 // in time
	if newestFirst {
		before, after = after, before
	}
	shifts := map[string]int64{stated: 0}
	var choices []wear.Choice
	offer := func(value, text string, shift int64) {
		for v, s := range shifts {
			if s == shift && v != stated {
				return
			}
		}
		shifts[value] = shift
		choices = append(choices, wear.Choice{Value: value, Text: text, Effect: "they would begin on " + h.minute(lo+shift), Rows: h.moved(r, shift)})
	}
	if before >= 0 && before < len(runs) && runs[before].inLine {
		_, end := runs[before].bounds()
		offer("after", "Right after the readings before them", end+cadence-lo)
	}
	if after >= 0 && after < len(runs) && runs[after].inLine {
		start, _ := runs[after].bounds()
		offer("before", "So that they end right before the readings after them", start-cadence-hi)
	}
	choices = append(choices,
		wear.Choice{Value: stated, Text: "When the file says", Effect: "they would begin on " + h.minute(lo), Rows: h.moved(r, 0)},
		wear.Choice{Value: "leave_out", Text: "Not known: leave them out", Effect: fmt.Sprintf("%d readings would be left out", r.readings)})
	answer := h.ask(code, fmt.Sprintf("From line %d on the clock stands on %s, and %d readings later it is right again. When did these readings really begin?", line, h.minute(lo), r.readings), choices...)
	for _, part := range append(r.copies, *r) {
		for i := part.from; i < part.to; i++ {
			h.times[i].secs += shifts[answer]
			h.times[i].dropped = answer == "leave_out" || answer == "" // while it is open nothing is filed
		}
	}
}

// moved shows the first rows of a run as they would be with a shift.
func (h *harvest) moved(r *run, shift int64) (rows []string) {
	for i := r.from; i < r.to && len(rows) < maxSamples; i++ {
		if h.onClock(i) {
			rows = append(rows, h.minute(h.times[i].secs+shift)+" ¦ "+h.value(i))
		}
	}
	return rows
}

// minute writes a moment by the clinic's clock, as "3 April 2026 09:05".
func (l *ledger) minute(secs int64) string {
	return time.Unix(secs, 0).In(l.zone).Format("2 January 2006 15:04")
}
