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
		if ref := c.hold("conflicts", fmt.Sprintf("%d moments have two different values. Is this one sensor on one person?", conflicts), twice...); ref != nil {
			return ref
		}
	}
	if stepped < 2 {
		return nil
	}
	return c.cadence(auto, &steps, stepped)
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
	case usual > 3600 || irregular && paired*10 < 7*n:
		return c.hold("cadence", "The readings do not come at steady intervals. Are they a sensor's readings, not fingersticks?", c.firstOf(auto)...)
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
