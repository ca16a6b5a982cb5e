package intake

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// onTheClock gives the readings that a sensor took by itself, in order of time:
// the list itself where it is that already.
func onTheClock(all []wear.Reading) []wear.Reading {
	asTheyStand, last := true, int64(-1<<63)
	for i := range all {
		if all[i].Mark&wear.MarkOnDemand != 0 || all[i].At < last {
			asTheyStand = false
			break
		}
		last = all[i].At
	}
	if asTheyStand {
		return all
	}
	auto := make([]wear.Reading, 0, len(all))
	for i := range all {
		if all[i].Mark&wear.MarkOnDemand == 0 {
			auto = append(auto, all[i])
		}
	}
	if n := len(auto); n > 1 && auto[0].At > auto[n-1].At {
		slices.Reverse(auto) // newest first
	}
	byTime := func(a, b wear.Reading) int { return cmp.Compare(a.At, b.At) }
	if !slices.IsSortedFunc(auto, byTime) {
		slices.SortStableFunc(auto, byTime)
	}
	return auto
}

// believable holds a file whose readings together do not make a wear: two
// values at one moment, two sensors in one series, or no cadence at all.
func (c *tally) believable() *wear.Refusal {
	if len(c.questions) > 0 {
		return nil // an answer may change which readings there are
	}
	auto := onTheClock(c.res.Readings)
	if len(auto) == 0 {
		return refuseNoReadings()
	}
	if c.neverSet(auto[0].At) && c.ask("clock_reset",
		fmt.Sprintf("The first reading is dated %s, where a clock begins that was never set. Are the dates right?", c.minute(auto[0].At)),
		wear.Choice{Value: stated, Text: "Yes", Effect: "they would be filed as they stand", Rows: c.firstOf(auto)},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; set the clock and export again"}) == "stop" {
		return refuse("clock_reset", "The clock was not set, and it is not known when the readings were taken.", "Set the clock of the sensor's reader, and export the readings again if it corrects them.")
	}
	if c.loose {
		return nil
	}
	if ref, again := c.extras(auto); ref != nil {
		return ref
	} else if again {
		if auto = onTheClock(c.res.Readings); len(auto) == 0 {
			return refuseNoReadings()
		}
	}
	if len(c.questions) > 0 {
		return nil
	}
	if ref := c.averages(auto); ref != nil {
		return ref
	}
	conflicts, stepped := 0, 0
	var twice []string
	var steps stepCount
	for k := 1; k < len(auto); k++ {
		a, b := &auto[k-1], &auto[k]
		if d := b.At - a.At; d > 0 {
			stepped++
			steps.add(d)
		} else if a.Num != b.Num || a.Scale != b.Scale || a.Bound != b.Bound {
			if conflicts++; len(twice) < maxSamples {
				twice = append(twice, c.minute(a.At)+" ¦ "+a.Text()+" ¦ "+b.Text())
			}
		}
	}
	if conflicts*100 > len(auto) {
		if ref := c.conflicting(conflicts, twice); ref != nil || len(c.res.People) > 0 {
			return ref
		}
	}
	if stepped < 2 {
		return nil
	}
	return c.cadence(auto, &steps, stepped)
}

// conflicting asks about moments that have two values: two sensors, or two people.
func (c *tally) conflicting(n int, rows []string) *wear.Refusal {
	choices := []wear.Choice{{Value: "file", Text: "Yes, file it", Effect: fmt.Sprintf("%d readings would be filed", len(c.res.Readings)), Rows: rows}}
	one, two := c.twoWearers()
	if c.res == c.top && len(two) > 0 {
		choices = append(choices, wear.Choice{Value: holdsPeople, Text: "No, two persons wore a sensor each", Rows: rows,
			Effect: fmt.Sprintf("two wears of %d and %d readings, each to be linked to its patient by a person", len(one), len(two))})
	}
	choices = append(choices, wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; export each sensor of each person alone"})
	switch c.ask("conflicts", fmt.Sprintf("%d moments have two different values. Is this one sensor on one person?", n), choices...) {
	case "stop":
		return refuse("conflicts", "The readings do not look like one sensor worn by one person.", "Export each person's sensor alone and drop those files.")
	case holdsPeople:
		events := c.res.Events // nothing tells whose they are
		c.res.People = []Person{{Hint: "the first of two values", Readings: one, Events: events}, {Hint: "the second of two values", Readings: two, Events: slices.Clone(events)}}
		c.res.Readings, c.res.Events = nil, nil
	}
	return nil
}

// twoWearers takes readings apart that have two values at most of their moments: at
// the place where their times begin anew, or by turns. two is empty where neither
// gives two wears.
func (c *tally) twoWearers() (one, two []wear.Reading) {
	all, restart, back := c.res.Readings, 0, 0
	for i := 1; i < len(all); i++ {
		if all[i].At < all[i-1].At {
			restart = i
			back++
		}
	}
	if back == 1 {
		return all[:restart:restart], all[restart:]
	}
	turn := make(map[int64]int, len(all)/2)
	for _, r := range all {
		switch turn[r.At]++; turn[r.At] {
		case 1:
			one = append(one, r)
		case 2:
			two = append(two, r)
		default:
			return nil, nil
		}
	}
	if len(two)*10 < 9*len(one) {
		return nil, nil
	}
	return one, two
}

// neverSet reports whether a wear begins as on a clock without its setting: on
// the first day of a year that is long over.
func (c *tally) neverSet(first int64) bool {
	const longOver = 400 * 86400
	for code, answer := range c.used {
		if answer == stated && strings.HasPrefix(code, "clock_reset:") { // a person has said that it is right
			return false
		}
	}
	return time.Unix(first, 0).In(c.zone).YearDay() == 1 && c.now-first > longOver
}

// cadence holds readings that are not on one clock.
func (c *tally) cadence(auto []wear.Reading, steps *stepCount, n int) *wear.Refusal {
	usual, upper := steps.quantile(n/2), steps.quantile(n*3/4)
	within, crowded, paired := 0, 0, 0
	var last, lastButOne int64
	for k := 1; k < len(auto); k++ {
		d := auto[k].At - auto[k-1].At
		if d == 0 {
			continue
		}
		if d*5 < upper*2 {
			crowded++
		}
		if d*4 >= usual*3 && d*4 <= usual*5 {
			within++
		}
		if lastButOne > 0 && abs(d-lastButOne) <= cadenceGrain {
			paired++
		}
		last, lastButOne = d, last
	}
	irregular := within*2 < n && n > 8
	switch {
	case usual > longestCadence || irregular && paired*10 < 7*n:
		return c.hold("cadence", "The readings do not come at the steady, short intervals of a sensor. Are they a sensor's own readings, and no fingersticks or averages?", c.firstOf(auto)...)
	case irregular || crowded*50 > n && crowded > 2 || zigzag(auto):
		return c.hold("two_series", "Two runs of readings seem to lie on top of each other. Is this one sensor on one person?", c.firstOf(auto)...)
	}
	return nil
}

// zigzag reports values that agree with the next but one much better than with
// the next: two sensors taking turns. In one sensor's values, noise included,
// the next but one is never the nearer on average.
func zigzag(auto []wear.Reading) bool {
	var next, nextButOne, last, lastButOne float64
	n, run, scale := 0, 0, wear.Reading{Num: 1, Scale: auto[0].Scale}.Native()
	for k := range auto {
		r := &auto[k]
		if r.Bound != wear.Exact {
			run = 0
			continue
		}
		v := float64(r.Num) // only ratios matter, and nearly all readings of a file are alike
		switch first := &auto[0]; {
		case r.Unit == first.Unit && r.Scale == first.Scale:
		case first.Unit == wear.MmolL:
			v = r.Mmol() / scale
		default:
			v = r.Mgdl() / scale
		}
		if run++; run > 2 {
			n++
			next += math.Abs(v - last)
			nextButOne += math.Abs(v - lastButOne)
		}
		last, lastButOne = v, last
	}
	return n > 20 && nextButOne < 0.6*next
}

// firstOf shows the first readings of a list.
func (c *tally) firstOf(auto []wear.Reading) (rows []string) {
	for k := range min(len(auto), maxSamples) {
		rows = append(rows, c.minute(auto[k].At)+" ¦ "+auto[k].Text())
	}
	return rows
}

// hold asks whether to file a file that does not look like one wear.
func (c *tally) hold(code, text string, rows ...string) *wear.Refusal {
	if c.ask(code, text,
		wear.Choice{Value: "file", Text: "Yes, file it", Effect: fmt.Sprintf("%d readings would be filed", len(c.res.Readings)), Rows: rows},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; export each sensor of each person alone"}) == "stop" {
		return refuse(code, "The readings do not look like one sensor worn by one person.", "Export each person's sensor alone and drop those files.")
	}
	return nil
}

// longestCadence is the longest interval at which sensors are taken to record,
// in seconds. Hourly figures are averages. Common practice.
const longestCadence = 1800

// extras asks about readings that stand between the regular ones: taking them
// away leaves a steady rhythm. They may be fingersticks, whatever the row says
// of itself. again tells that the readings have changed.
func (c *tally) extras(auto []wear.Reading) (ref *wear.Refusal, again bool) {
	n := len(auto)
	if n < 12 {
		return nil, false
	}
	var steps stepCount
	for k := 1; k < n; k++ {
		if d := auto[k].At - auto[k-1].At; d > 0 {
			steps.add(d)
		} else {
			n--
		}
	}
	if n < 12 {
		return nil, false
	}
	usual := steps.quantile((n - 1) / 2)
	if usual < 120 {
		return nil, false
	}
	var list []int
	lonely := 0
	for k := 1; k < len(auto)-1; k++ {
		a, b := auto[k].At-auto[k-1].At, auto[k+1].At-auto[k].At
		if auto[k].Num == auto[k-1].Num && a <= 90 || auto[k].Num == auto[k+1].Num && b <= 90 {
			continue // the same reading again
		}
		between := a > 0 && b > 0 && 4*(a+b) <= 5*usual
		alone := 4*a > 5*usual && 4*b > 5*usual && offBeat(a, usual) && offBeat(b, usual) && !offBeat(a+b, usual)
		if between || alone {
			list = append(list, k)
			k++ // the next is measured from the one before
		}
		if alone {
			lonely++
		}
	}
	if lonely == 1 && len(list) == 1 {
		return nil, false // in a stretch of bad reception a sensor does so too
	}
	if len(list) == 0 || len(list)*10 > len(auto) {
		return nil, false // so many are a series of their own, which is asked about
	}
	var rows []string
	for _, k := range list[:min(maxSamples, len(list))] {
		rows = append(rows, c.minute(auto[k].At)+" ¦ "+auto[k].Text())
	}
	switch c.askOnce("extras", fmt.Sprintf("%d values stand between the sensor's regular readings. What are they?", len(list)),
		wear.Choice{Value: "sensor", Text: "the sensor's own readings too", Effect: fmt.Sprintf("all %d readings would be filed", len(auto)), Rows: rows},
		wear.Choice{Value: holdsDemand, Text: "sensor readings taken when the wearer asked", Effect: fmt.Sprintf("%d readings kept out of measures over time", len(list)), Rows: rows},
		wear.Choice{Value: holdsFinger, Text: "fingerstick blood glucose", Effect: fmt.Sprintf("%d fingersticks to compare the sensor with", len(list)), Rows: rows},
		wear.Choice{Value: "stop", Text: "none of these, or not known", Effect: "the file is set aside; nothing of it is filed"}) {
	case "stop":
		return setAside(), false
	case holdsDemand:
		c.moveOut(auto, list, func(r *wear.Reading) bool { r.Mark |= wear.MarkOnDemand; return true })
		return nil, true
	case holdsFinger:
		c.moveOut(auto, list, func(r *wear.Reading) bool {
			c.res.Events = append(c.res.Events, wear.Event{At: r.At, Kind: wear.Fingerstick, Value: *r})
			return false
		})
		c.account.turn(len(list))
		return nil, true
	}
	return nil, false
}

// offBeat reports whether a step is no multiple of the usual one.
func offBeat(step, usual int64) bool {
	rest := step % usual
	return rest*10 > usual && rest*10 < 9*usual && min(rest, usual-rest) > 45
}

// moveOut calls f with each reading of the file that is on a list of indices
// into auto, and takes those out for which it gives false.
func (c *tally) moveOut(auto []wear.Reading, list []int, f func(r *wear.Reading) bool) {
	want := make(map[wear.Reading]bool, len(list))
	for _, k := range list {
		want[auto[k]] = true
	}
	kept := make([]wear.Reading, 0, len(c.res.Readings))
	for _, r := range c.res.Readings {
		if !want[r] || f(&r) {
			kept = append(kept, r)
		}
	}
	c.res.Readings = kept
}

// averages asks about values with more digits than any sensor reports: most of
// them lie neither on a tenth of a mmol/L nor on a whole mg/dL.
func (c *tally) averages(auto []wear.Reading) *wear.Refusal {
	long, off := 0, 0
	for i := range auto {
		r := &auto[i]
		digits := uint8(1)
		if r.Unit == wear.MgdL {
			digits = 0
		}
		if r.Scale <= digits || r.Bound != wear.Exact {
			continue
		}
		long++
		if math.Abs(r.Mgdl()-math.Round(r.Mgdl())) > onLattice && math.Abs(10*r.Mmol()-math.Round(10*r.Mmol())) > onLattice {
			off++
		}
	}
	if long*2 <= len(auto) || off*4 <= long {
		return nil
	}
	return c.hold("averages", "The values have more digits than a sensor reports. Are they its own readings, and no averages or smoothed values?", c.firstOf(auto)...)
}

// onLattice is how far a converted value may lie off its whole number: the
// factors in use for mmol/L to mg/dL run from 18 to 18.0182.
const onLattice = 0.15
