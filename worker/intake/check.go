package intake

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"wearround/worker/wear"
)

// believable holds a file whose readings together do not make a wear: two
// clocks in one series, a clock that was reset, or no cadence at all.
func (h *harvest) believable() *wear.Refusal {
	auto := make([]int32, 0, len(h.res.Readings))
	for i, r := range h.res.Readings {
		if r.Mark&wear.MarkOnDemand == 0 {
			auto = append(auto, int32(i))
		}
	}
	if len(auto) == 0 {
		if len(h.questions) > 0 {
			return nil // an answer may give some
		}
		return refuseNoReadings()
	}
	rd := h.res.Readings
	if ref := h.clockReset(auto); ref != nil {
		return ref
	}
	byTime := func(a, b int32) int {
		return cmp.Or(cmp.Compare(rd[a].At, rd[b].At), cmp.Compare(a, b))
	}
	if !slices.IsSortedFunc(auto, byTime) {
		slices.SortFunc(auto, byTime)
	}
	steps := make([]int64, 0, len(auto))
	conflicts := 0
	for k := 1; k < len(auto); k++ {
		a, b := rd[auto[k-1]], rd[auto[k]]
		if d := b.At - a.At; d > 0 {
			steps = append(steps, d)
		} else if a.Num != b.Num || a.Scale != b.Scale || a.Bound != b.Bound {
			conflicts++
		}
	}
	if conflicts*100 > len(auto) {
		if ref := h.hold("conflicts", fmt.Sprintf("%d moments have two different values. Is this one sensor on one person?", conflicts)); ref != nil {
			return ref
		}
	}
	if len(steps) < 2 {
		return nil
	}
	return h.cadence(auto, steps)
}

// cadence holds readings that are not on one clock. auto is in order of time.
func (h *harvest) cadence(auto []int32, steps []int64) *wear.Refusal {
	sorted := slices.Clone(steps)
	slices.Sort(sorted)
	usual, upper := sorted[len(sorted)/2], sorted[len(sorted)*3/4]
	within, crowded, paired := 0, 0, 0
	for k, d := range steps {
		if d*5 < upper*2 {
			crowded++
		}
		if d*4 >= usual*3 && d*4 <= usual*5 {
			within++
		}
		if k >= 2 && abs(d-steps[k-2]) <= cadenceGrain {
			paired++
		}
	}
	irregular := within*2 < len(steps) && len(steps) > 8
	switch {
	case usual > 3600 || irregular && paired*10 < 7*len(steps):
		return h.hold("cadence", "The readings do not come at steady intervals. Are they a sensor's readings, not fingersticks?")
	case irregular || crowded*50 > len(steps) && crowded > 2 || h.zigzag(auto):
		return h.hold("two_series", "Two runs of readings seem to lie on top of each other. Is this one sensor on one person?")
	}
	return nil
}

// zigzag reports values that agree with the next but one much better than with
// the next: two sensors taking turns. In one sensor's values, noise included,
// the next but one is never the nearer on average.
func (h *harvest) zigzag(auto []int32) bool {
	var next, nextButOne float64
	n := 0
	for k := 2; k < len(auto); k++ {
		a, b, c := h.res.Readings[auto[k-2]], h.res.Readings[auto[k-1]], h.res.Readings[auto[k]]
		if a.Bound != wear.Exact || b.Bound != wear.Exact || c.Bound != wear.Exact {
			continue
		}
		n++
		next += math.Abs(c.Mmol() - b.Mmol())
		nextButOne += math.Abs(c.Mmol() - a.Mmol())
	}
	return n > 20 && nextButOne < 0.6*next
}

// hold asks whether to file a file that does not look like one wear.
func (h *harvest) hold(code, text string) *wear.Refusal {
	if h.ask(code, text,
		wear.Choice{Value: "file", Text: "Yes, file it", Effect: fmt.Sprintf("%d readings would be filed", len(h.res.Readings))},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; export each sensor of each person alone"}) == "stop" {
		return refuse(code, "The readings do not look like one sensor worn by one person.", "Export each person's sensor alone and drop those files.")
	}
	return nil
}

// clockReset asks about a run of readings that lies far from the others and
// out of order: a clock that lost its setting.
func (h *harvest) clockReset(auto []int32) *wear.Refusal {
	const far = 30 * 86400
	up, down, farUp, farDown := 0, 0, 0, 0
	for k := 1; k < len(auto); k++ {
		switch d := h.res.Readings[auto[k]].At - h.res.Readings[auto[k-1]].At; {
		case d > 0:
			up++
			if d > far {
				farUp++
			}
		case d < 0:
			down++
			if d < -far {
				farDown++
			}
		}
	}
	back := farDown // jumps against the order of the file
	if down > up {
		back = farUp
	}
	if back == 0 || min(up, down)*20 > max(up, down) {
		return nil
	}
	return h.hold("clock_reset", fmt.Sprintf("The clock jumps by more than a month and back (%d jumps). Are all dates right?", farUp+farDown))
}
