package intake

import (
	"fmt"

	"wearround/worker/wear"
)

// Plausible glucose values by unit: wider than any sensor reports (about 1 to
// 35 mmol/L), so that nothing real is shut out. Common practice.
const (
	lowestMmol, highestMmol = 0.5, 45
	lowestMgdl, highestMgdl = 9, 1000
)

// plausible reports whether a value can be glucose in a unit, or in either
// while the unit is not known.
func plausible(v float64, u wear.Unit) bool {
	mmol := v >= lowestMmol && v <= highestMmol
	mgdl := v >= lowestMgdl && v <= highestMgdl
	return mmol && u != wear.MgdL || mgdl && u != wear.MmolL
}

// series is what the numbers of one column look like together.
type series struct {
	col               int
	rows              int // rows with a number
	decimals          int // of these, with digits after the decimal mark
	other             int // rows with something else in the cell
	long              int // rows with two or more digits after the decimal mark
	low, median, high float64
	twentieth         float64 // one value in twenty is at or below this
	regular           float64 // share of steps of the usual length
	counter           bool    // every value is the one before plus a constant
}

// tenths counts values in steps of 0.1, for a median without sorting.
type tenths [10 * highestMgdl]int32

// seriesOf describes a column over the rows that keep accepts.
func (lay *layout) seriesOf(t *table, times []rowTime, col int, keep func(row int) bool) series {
	s := series{col: col, low: 1e18, counter: true}
	var counts tenths
	steps := stepCount{counts: make(map[int64]int, 8)}
	var last, step float64
	var lastAt int64
	outside := 0
	for r := lay.g.from; r < lay.g.to; r++ {
		k := t.kind(r, col)
		if k == blank || !keep(r) {
			continue
		}
		if !k.number() {
			s.other++
			continue
		}
		num, scale, ok := parseNumber(t.cell(r, col))
		if !ok {
			s.other++
			continue
		}
		v := wear.Reading{Num: num, Scale: scale}.Native()
		if s.rows++; s.rows > 1 {
			if s.rows > 2 && v-last != step {
				s.counter = false
			}
			step = v - last
			steps.add(abs(times[r-lay.g.from].secs-lastAt) / cadenceGrain)
		}
		last, lastAt = v, times[r-lay.g.from].secs
		if scale > 0 {
			s.decimals++
		}
		if scale > 1 {
			s.long++
		}
		s.low, s.high = min(s.low, v), max(s.high, v)
		if i := int(v*10 + 0.5); i < len(counts) {
			counts[i]++
		} else {
			outside++
		}
	}
	s.counter = s.counter && s.rows > 3 && step != 0
	seen := int32(0)
	for i, n := range counts {
		if seen += n; int(seen)*20 <= s.rows {
			s.twentieth = float64(i) / 10
		}
		if int(seen)*2 >= s.rows {
			s.median = float64(i) / 10
			break
		}
	}
	if outside*2 > s.rows {
		s.median = s.high
	}
	if s.rows > 1 {
		s.regular = float64(steps.usual()) / float64(s.rows-1)
	}
	return s
}

// stepCount counts steps in time by their length.
type stepCount struct {
	counts map[int64]int
	length int64 // the step of the present run of equal steps
	run    int
}

// maxSteps bounds the different lengths kept; a sensor has a handful.
const maxSteps = 1000

func (c *stepCount) add(length int64) {
	if length != c.length {
		c.flush()
		c.length = length
	}
	c.run++
}

func (c *stepCount) flush() {
	if _, known := c.counts[c.length]; c.run > 0 && (known || len(c.counts) < maxSteps) {
		c.counts[c.length] += c.run
	}
	c.run = 0
}

// usual is how many steps are of the most frequent length, give or take one
// grain.
func (c *stepCount) usual() (n int) {
	c.flush()
	for length, own := range c.counts {
		if own > 0 {
			n = max(n, own+c.counts[length-1]+c.counts[length+1])
		}
	}
	return n
}

// cadenceGrain is the fineness with which steps in time are compared, in seconds.
const cadenceGrain = 30

// Bounds for telling the unit by values alone. In mmol/L a wear has decimals
// and its median lies between 2 and 33. In mg/dL it has a median above 82, and
// one value in twenty at most lies at or below 60. Below that it may as well be
// in mmol/L with the decimal mark lost: simulated wears in mg/dL had medians of
// 95 to 134, and those with the mark lost 53 to 74. Proposal.
const (
	sureMedianMgdl    = 82
	sureTwentiethMgdl = 60
)

// byValues tells the unit from range and decimals. lost means that the decimal
// mark may have been lost.
func (s *series) byValues() (u wear.Unit, sure, lost bool) {
	switch {
	case s.rows == 0:
		return wear.UnitUnknown, false, false
	case s.low >= lowestMmol && s.high <= highestMmol && s.median >= 2 && s.median <= 33 && s.decimals*2 >= s.rows:
		return wear.MmolL, true, false
	case s.low < lowestMgdl || s.high > highestMgdl || s.median < 36:
		return wear.UnitUnknown, false, false
	case s.median <= sureMedianMgdl || s.twentieth < sureTwentiethMgdl:
		return wear.MgdL, s.decimals*2 >= s.rows, s.decimals*2 < s.rows
	}
	return wear.MgdL, true, false
}

// unitOf decides the unit of the automatic column: values first, what heading,
// unit column or preamble state second. If they disagree, or only one of them
// speaks, a person is asked.
func (l *ledger) unitOf(s *series, stated wear.Unit) (wear.Unit, *wear.Refusal) {
	u, certain, lost := s.byValues()
	evidence := fmt.Sprintf("values %s to %s, median %s, %d of %d with decimals", short1(s.low), short1(s.high), short1(s.median), s.decimals, s.rows)
	d := wear.Decision{Code: "unit", Answer: u.String(), Evidence: evidence, RunnerUp: other(u).String(), Margin: 1, By: "values"}
	switch {
	case certain && stated == u:
		d.Evidence += "; the file states the same unit"
		l.decisions = append(l.decisions, d)
		return u, nil
	case certain && stated == wear.UnitUnknown:
		l.decisions = append(l.decisions, d)
		return u, nil
	case u == wear.MgdL && stated == wear.MgdL:
		d.Evidence += "; the file states the same unit, so no decimal mark was lost"
		d.By, d.Margin = "heading", 0.5
		l.decisions = append(l.decisions, d)
		return u, nil
	}
	text := "Which unit are the glucose values in?"
	switch {
	case lost || u == wear.MgdL && stated == wear.MmolL && s.decimals == 0:
		text = "The values could be mg/dL, or mmol/L whose decimal mark was lost on the way. Which is it?"
	case certain:
		text = "The file states " + stated.String() + " but the values look like " + u.String() + ". Which is it?"
	}
	choices := []wear.Choice{
		{Value: "mmol/L", Text: "mmol/L", Effect: "median would be " + median(s, wear.MmolL)},
		{Value: "mg/dL", Text: "mg/dL", Effect: "median would be " + median(s, wear.MgdL)},
	}
	if u == wear.MgdL {
		choices = append(choices, wear.Choice{Value: "decimal_lost", Text: "mmol/L with the decimal mark lost", Effect: "the file stays out; export it again without opening it in a spreadsheet"})
	}
	switch l.ask("unit", text, choices...) {
	case "mmol/L":
		u = wear.MmolL
	case "mg/dL":
		u = wear.MgdL
	case "decimal_lost":
		return u, refuse("decimal_lost", "The decimal mark of the glucose values was lost on the way.", "Export again and drop the file without opening or saving it in a spreadsheet.")
	default:
		if u == wear.UnitUnknown {
			u = stated
		}
		return u, nil
	}
	if !plausible(s.median, u) {
		return u, refuse("unit_values", "The values cannot be glucose in "+u.String()+".", "Check the unit in the sensor's settings and export again.")
	}
	return u, nil
}

func short1(v float64) string { return wear.FormatHalfUp(v, 1) }

func median(s *series, u wear.Unit) string {
	if u == wear.MmolL {
		return short1(s.median) + " mmol/L"
	}
	return short1(s.median) + " mg/dL"
}

func other(u wear.Unit) wear.Unit {
	switch u {
	case wear.MmolL:
		return wear.MgdL
	case wear.MgdL:
		return wear.MmolL
	}
	return wear.UnitUnknown
}

// stated finds the unit that the file itself states: in each row, in the
// heading of the glucose column, or above the table.
func (lay *layout) stated(t *table) (u wear.Unit, mixed bool) {
	if lay.unit >= 0 {
		for _, v := range lay.cols[lay.unit].distinct {
			switch said := unitIn(v); {
			case u == wear.UnitUnknown:
				u = said
			case said != u:
				return u, true
			}
		}
		return u, false
	}
	if u = lay.cols[lay.auto].unit; u != wear.UnitUnknown {
		return u, false
	}
	lay.g.preamble(t, func(key, value string) {
		if u == wear.UnitUnknown {
			if u = unitIn(value); u == wear.UnitUnknown {
				u = unitIn(key)
			}
		}
	})
	return u, false
}

// unit decides the unit of all readings, or of each row where the rows state
// different ones.
func (l *ledger) unit(t *table, lay *layout, times []rowTime, auto *series) (wear.Unit, *wear.Refusal) {
	stated, mixed := lay.stated(t)
	if !mixed {
		return l.unitOf(auto, stated)
	}
	lay.mixedUnits = true
	agree := true
	most, rows := wear.UnitUnknown, 0
	for _, u := range []wear.Unit{wear.MmolL, wear.MgdL} {
		s := lay.seriesOf(t, times, lay.auto, func(r int) bool {
			return times[r-lay.g.from].ok && lay.mayRead(t, r) && unitIn(t.cell(r, lay.unit)) == u
		})
		if v, certain, _ := s.byValues(); !certain || v != u {
			agree = false
		}
		if s.rows > rows {
			most, rows = u, s.rows
		}
	}
	if agree {
		l.note("unit", "each row's own", "the rows state both units and the values of each agree", "values")
		return most, nil
	}
	if l.ask("unit_rows", "The rows state two units and the values do not bear that out. Is each row in the unit that it states?",
		wear.Choice{Value: "own", Text: "Yes", Effect: "each value would be read in its own row's unit"},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; export it again in one unit"}) == "stop" {
		return most, refuse("unit_rows", "The rows state two units and it is not known which is right.", "Export the readings again in one unit.")
	}
	return most, nil
}
