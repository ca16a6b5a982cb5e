package intake

import (
	"fmt"
	"slices"
	"sort"
	"time"

	"wearround/worker/wear"
)

// period is a stretch of time in which a zone keeps one offset from UTC.
type period struct {
	from, to int64 // UTC seconds
	offset   int64
}

// periods lists the zone's offsets between two wall-clock moments. The first
// and the last reach on without end.
func periods(zone *time.Location, from, to int64) (list []period) {
	const margin = 2 * 86400
	at := time.Unix(from-margin, 0).In(zone)
	for {
		_, offset := at.Zone()
		_, end := at.ZoneBounds()
		p := period{at.Unix(), end.Unix(), int64(offset)}
		switch {
		case end.IsZero():
			p.to = 1 << 62
		case !end.After(at): // on the last day of a leap year after 2037 it may not be
			end = at.Add(24 * time.Hour)
			p.to = end.Unix()
		}
		if n := len(list); n > 0 && list[n-1].offset == p.offset {
			list[n-1].to = p.to
		} else {
			list = append(list, p)
		}
		if p.to > to+margin {
			list[0].from, list[len(list)-1].to = -1<<62, 1<<62
			return list
		}
		at = end
	}
}

// lastTime is beyond any reading: 2100-01-01 00:00 UTC.
const lastTime = 4102444800

// sameWear is the longest pause across which a clock that missed a change of
// the hour is taken to go on wrong, in seconds.
const sameWear = 3 * 86400

// localise turns wall-clock times into UTC in place. The standard library does
// not tell a repeated or skipped hour, so both are found here: a clock that
// steps back by an hour was changed; one that runs through the hour without a
// step was not.
func (l *ledger) localise(times []rowTime, zone *time.Location) {
	idx := make([]int32, 0, len(times))
	from, to := int64(1<<62), int64(-1<<62)
	up, down, last := 0, 0, int64(0)
	for i, t := range times {
		if !t.ok || t.absolute {
			continue
		}
		if len(idx) > 0 && t.secs > last {
			up++
		} else if len(idx) > 0 && t.secs < last {
			down++
		}
		last = t.secs
		idx = append(idx, int32(i))
		from, to = min(from, t.secs), max(to, t.secs)
	}
	if len(idx) == 0 {
		return
	}
	// Moments outside are left out later; they must not cost a walk through
	// thousands of years.
	from, to = min(max(from, firstTime), lastTime), min(max(to, firstTime), lastTime)
	c := converter{l: l, times: times, idx: idx, periods: periods(zone, from, to)}
	if len(c.periods) == 1 {
		for _, i := range idx {
			times[i].secs -= c.periods[0].offset
		}
		return
	}
	if down > up {
		slices.Reverse(idx)
		up, down = down, up
	}
	c.sorted = down*50 <= up
	if !c.sorted {
		slices.SortStableFunc(idx, func(a, b int32) int { return int(times[a].secs - times[b].secs) })
	}
	c.findCadence()
	c.convert()
}

// converter turns wall-clock times into UTC across changes of the hour.
type converter struct {
	l       *ledger
	times   []rowTime
	idx     []int32 // rows in order of time
	sorted  bool    // the file itself is in order of time
	periods []period
	cadence int64
}

func (c *converter) wall(i int) int64 { return c.times[c.idx[i]].secs }

func (c *converter) findCadence() {
	steps := make([]int64, 0, 1000)
	for i := 1; i < len(c.idx) && len(steps) < cap(steps); i++ {
		if d := c.wall(i) - c.wall(i-1); d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) > 0 {
		slices.Sort(steps)
		c.cadence = steps[len(steps)/2]
	}
}

// near reports whether two neighbouring rows follow each other in the cadence.
func (c *converter) near(i, j int) bool {
	if i < 0 || j >= len(c.idx) {
		return false
	}
	d := c.wall(j) - c.wall(i)
	return d >= 0 && d*10 <= c.cadence*16
}

// in reports how many offsets a wall-clock moment can have, and the first
// period that gives one: for a repeated hour that is the earlier, and for a
// skipped hour the one before the skip.
func (c *converter) in(wall int64) (n, first int) {
	k := sort.Search(len(c.periods), func(k int) bool { return wall < c.periods[k].to+c.periods[k].offset })
	k = min(k, len(c.periods)-1)
	switch {
	case wall < c.periods[k].from+c.periods[k].offset:
		return 0, k - 1
	case k+1 < len(c.periods) && wall >= c.periods[k+1].from+c.periods[k+1].offset:
		return 2, k
	}
	return 1, k
}

func (c *converter) convert() {
	var p period // the current period, narrowed to moments that can only lie in it
	lo, hi := int64(1), int64(0)
	stuck := false
	out := make([]int64, len(c.idx))
	for i := 0; i < len(c.idx); {
		wall := c.wall(i)
		if stuck && i > 0 && abs(wall-c.wall(i-1)) > sameWear {
			stuck, lo, hi = false, 1, 0
		}
		if stuck || wall >= lo && wall < hi {
			out[i] = wall - p.offset
			i++
			continue
		}
		n, k := c.in(wall)
		switch n {
		case 1:
			p = c.periods[k]
			lo, hi = p.from+p.offset, p.to+p.offset
			if k > 0 {
				lo = p.from + max(p.offset, c.periods[k-1].offset)
			}
			if k+1 < len(c.periods) {
				hi = p.to + min(p.offset, c.periods[k+1].offset)
			}
			out[i] = wall - p.offset
			i++
		case 0:
			p, stuck = c.periods[k], true
			c.l.note("clock_change", "not changed", "readings stand in the hour that the change to summer time skips, so the clock was not changed", "values")
		default:
			end := i
			for end < len(c.idx) {
				if n, kk := c.in(c.wall(end)); n < 2 || kk != k {
					break
				}
				end++
			}
			p = c.periods[k]
			stuck = c.fold(i, end, k, out)
			if !stuck {
				lo, hi = 1, 0
			}
			i = end
		}
	}
	for i, row := range c.idx {
		c.times[row].secs = out[i]
	}
}

// fold places rows i to end-1, whose wall-clock time comes twice, before or
// after the clocks went back. It reports that the clock was never changed.
func (c *converter) fold(i, end, k int, out []int64) (unchanged bool) {
	before, after := c.periods[k].offset, c.periods[k+1].offset
	place := func(from, to int, offset int64) {
		for j := from; j < to; j++ {
			out[j] = c.wall(j) - offset
		}
	}
	if c.sorted {
		for j := i + 1; j <= end && j < len(c.idx); j++ {
			if c.wall(j-1)-c.wall(j) > (before-after)/3 {
				place(i, j, before)
				place(j, end, after)
				c.l.note("clock_change", "changed", "the clock steps back when the hour repeats", "values")
				return false
			}
		}
		left, right := i, end // rows before left follow on from before, rows from right run on into what comes after
		if c.near(i-1, i) {
			for left++; left < end && c.near(left-1, left); left++ {
			}
		}
		if c.near(end-1, end) {
			for right--; right > i && c.near(right-1, right); right-- {
			}
		}
		switch {
		case left == end && right == i:
			place(i, end, before)
			c.l.note("clock_change", "not changed", "the readings run through the repeated hour once and without a gap, so the clock was not changed", "values")
			return true
		case left >= right:
			place(i, left, before)
			place(left, end, after)
			c.l.note("clock_change", "changed", "the readings of the repeated hour follow on from their neighbours", "values")
			return false
		}
	}
	word := func(n int) string {
		return fmt.Sprintf("%d row(s) from %s on would be placed there", n, longDate(c.wall(i)))
	}
	answer := c.l.ask("repeated_hour", "Some times fall in the hour that comes twice when the clocks go back. Which of the two is meant?",
		wear.Choice{Value: "first", Text: "the first, in summer time", Effect: word(end - i)},
		wear.Choice{Value: "second", Text: "the second, in standard time", Effect: word(end - i)})
	if answer == "second" {
		place(i, end, after)
	} else {
		place(i, end, before)
	}
	return false
}

func abs(x int64) int64 { return max(x, -x) }
