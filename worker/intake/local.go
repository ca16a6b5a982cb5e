package intake

import (
	"cmp"
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
	}
	if down > up {
		slices.Reverse(idx)
		up, down = down, up
	}
	sorted := down*50 <= up
	if !sorted {
		slices.SortStableFunc(idx, func(a, b int32) int { return cmp.Compare(times[a].secs, times[b].secs) })
	}
	walls := make([]int64, len(idx))
	for k, i := range idx {
		walls[k] = times[i].secs
	}
	for _, s := range l.stretches(walls, sorted, zone) {
		for _, i := range idx[s.from:s.to] {
			times[i].secs -= s.offset
			times[i].dropped = s.offset == leaveOut
		}
	}
}

// stretch is a run of rows with one offset from UTC in seconds.
type stretch struct {
	from, to int
	offset   int64
}

// leaveOut is the offset of rows that a person left out.
const leaveOut = 1 << 40

// stretches finds the offset of each wall-clock time. walls are in order of
// time; sorted tells that the file itself is, small steps back aside.
func (l *ledger) stretches(walls []int64, sorted bool, zone *time.Location) []stretch {
	if len(walls) == 0 {
		return nil
	}
	// Moments outside are left out later; they must not cost a walk through
	// thousands of years.
	from, to := min(max(slices.Min(walls), firstTime), lastTime), min(max(slices.Max(walls), firstTime), lastTime)
	c := converter{l: l, walls: walls, sorted: sorted, periods: periods(zone, from, to)}
	if len(c.periods) == 1 {
		return []stretch{{0, len(walls), c.periods[0].offset}}
	}
	c.findCadence()
	c.convert()
	return c.out
}

// converter finds offsets from UTC across changes of the hour.
type converter struct {
	l       *ledger
	walls   []int64 // in order of time
	sorted  bool    // the file itself is in order of time
	periods []period
	cadence int64
	out     []stretch
}

func (c *converter) wall(i int) int64 { return c.walls[i] }

// place gives rows from to to-1 an offset. Rows are placed in order.
func (c *converter) place(from, to int, offset int64) {
	if from == to {
		return
	}
	if n := len(c.out) - 1; n >= 0 && c.out[n].offset == offset {
		c.out[n].to = to
		return
	}
	c.out = append(c.out, stretch{from, to, offset})
}

func (c *converter) findCadence() {
	steps := make([]int64, 0, 1000)
	for i := 1; i < len(c.walls) && len(steps) < cap(steps); i++ {
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
	if i < 0 || j >= len(c.walls) {
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
	stuck := false // the clock was not changed with the zone
	var stuckAt, stuckOffset int64
	for i := 0; i < len(c.walls); {
		wall := c.wall(i)
		if stuck && abs(wall-stuckAt) <= sameWear {
			c.place(i, i+1, stuckOffset)
			stuckAt = wall
			i++
			continue
		}
		if wall >= lo && wall < hi {
			from := i
			for i++; i < len(c.walls) && c.walls[i] >= lo && c.walls[i] < hi && !stuck; i++ {
			}
			c.place(from, i, p.offset)
			continue
		}
		n, k := c.in(wall)
		p = c.periods[k]
		switch n {
		case 1:
			lo, hi = p.from+p.offset, p.to+p.offset
			if k > 0 {
				lo = p.from + max(p.offset, c.periods[k-1].offset)
			}
			if k+1 < len(c.periods) {
				hi = p.to + min(p.offset, c.periods[k+1].offset)
			}
			c.place(i, i+1, p.offset)
			i++
		case 0:
			stuck, stuckAt, stuckOffset = true, wall, p.offset
			c.l.note("clock_change", "not changed", "readings stand in the hour that the change to summer time skips, so the clock was not changed", "values")
		default:
			end := i
			for end < len(c.walls) {
				if n, kk := c.in(c.wall(end)); n < 2 || kk != k {
					break
				}
				end++
			}
			lo, hi = 1, 0
			if c.fold(i, end, k) {
				stuck, stuckAt, stuckOffset = true, c.wall(end-1), p.offset
			}
			i = end
		}
	}
}

// repeatedHour is the question about rows in the hour that comes twice.
const repeatedHour = "repeated_hour"

// fold places rows i to end-1, whose wall-clock time comes twice, before or
// after the clocks went back. It reports that the clock was never changed.
func (c *converter) fold(i, end, k int) (unchanged bool) {
	before, after := c.periods[k].offset, c.periods[k+1].offset
	if c.sorted || !c.doubled(i, end) {
		for j := i + 1; j <= end && j < len(c.walls); j++ {
			if c.wall(j-1)-c.wall(j) > (before-after)/3 {
				c.place(i, j, before)
				c.place(j, end, after)
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
			c.place(i, end, before)
			c.l.note("clock_change", "not changed", "the readings run through the repeated hour once and without a gap, so the clock was not changed", "values")
			return true
		case left >= right:
			c.place(i, left, before)
			c.place(left, end, after)
			c.l.note("clock_change", "changed", "the readings of the repeated hour follow on from their neighbours", "values")
			return false
		}
	}
	if len(c.l.questions) > 0 && c.l.questions[0].Code != repeatedHour { // an answer may move all times
		c.place(i, end, before)
		return false
	}
	effect := fmt.Sprintf("%d row(s) from %s on would be placed there", end-i, longDate(c.wall(i)))
	show := func(offset int64) (rows []string) {
		for j := i; j < end && len(rows) < maxSamples; j++ {
			rows = append(rows, longClock(c.wall(j))+" is "+longClock(c.wall(j)-offset)+" UTC")
		}
		return rows
	}
	answer := c.l.ask(repeatedHour, "Some times fall in the hour that comes twice when the clocks go back. Which of the two is meant?",
		wear.Choice{Value: "first", Text: "the first, in summer time", Effect: effect, Rows: show(before)},
		wear.Choice{Value: "second", Text: "the second, in standard time", Effect: effect, Rows: show(after)},
		wear.Choice{Value: "unchanged", Text: "neither: the clock was not set back", Effect: "these and all later times would be in summer time too", Rows: show(before)},
		wear.Choice{Value: "leave_out", Text: "not known: leave them out", Effect: fmt.Sprintf("%d row(s) would be left out", end-i)})
	switch answer {
	case "", "leave_out": // while it is open nothing is filed
		c.place(i, end, leaveOut)
	case "second":
		c.place(i, end, after)
	default:
		c.place(i, end, before)
	}
	return answer == "unchanged"
}

// doubled reports whether times come twice among rows that were put in order:
// those of both hours.
func (c *converter) doubled(i, end int) bool {
	for j := i + 1; j < end; j++ {
		if c.wall(j) == c.wall(j-1) {
			return true
		}
	}
	return false
}

func abs(x int64) int64 { return max(x, -x) }
