package intake

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"wearround/worker/wear"
)

// Plausible glucose values by unit: wider than any sensor reports (about 1 to
// 35 mmol/L), so that nothing real is shut out. Common practice.
const (
	lowestMmol, highestMmol = 0.5, 45
	lowestMgdl, highestMgdl = 9, 810
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
	worded            int // of these, with one number and words beside it
	long              int // rows with two or more digits after the decimal mark
	low, median, high float64
	twentieth         float64  // one value in twenty is at or below this
	regular           float64  // share of steps of the usual length
	counter           bool     // every value is the one before plus a constant
	mixed             bool     // the rows state different units
	examples          []string // the first values as written
	since             string   // when the first of them was, for a choice
}

// neither says that the values can be in no unit that is read.
func (s *series) neither() string {
	return fmt.Sprintf("and the values of column %d, %s to %s, can be glucose neither in mmol/L nor in mg/dL", s.col+1, short1(s.low), short1(s.high))
}

// gauge describes numbers as they come by, without keeping them.
type gauge struct {
	series
	tenths  [10 * highestMgdl]int32      // values in steps of 0.1, for a median without sorting
	outside int                          // values beyond them
	scales  [wear.MaxScale + 1]scaleSpan // by digits after the decimal mark
}

// scaleSpan is the least and the greatest of numbers with as many digits after
// the decimal mark, in units of the last digit.
type scaleSpan struct {
	rows      int
	low, high int64
}

// add takes one value.
func (g *gauge) add(num int64, scale uint8) {
	s := &g.scales[scale]
	if s.rows == 0 {
		s.low, s.high = num, num
	}
	s.rows++
	s.low, s.high = min(s.low, num), max(s.high, num)
	tenth := num
	switch scale {
	case 0:
		tenth = num * 10
	case 1:
	default:
		tenth = int64(wear.Reading{Num: num, Scale: scale - 1}.Native() + 0.5)
	}
	if tenth >= 0 && tenth < int64(len(g.tenths)) {
		g.tenths[tenth]++
	} else {
		g.outside++
	}
}

// finish works out the figures that need all values.
func (g *gauge) finish() series {
	g.low = 1e18
	for scale := range g.scales {
		s := &g.scales[scale]
		if s.rows == 0 {
			continue
		}
		g.rows += s.rows
		if scale > 0 {
			g.decimals += s.rows
		}
		if scale > 1 {
			g.long += s.rows
		}
		g.low = min(g.low, wear.Reading{Num: s.low, Scale: uint8(scale)}.Native())
		g.high = max(g.high, wear.Reading{Num: s.high, Scale: uint8(scale)}.Native())
	}
	seen := int32(0)
	for i, n := range g.tenths {
		if seen += n; int(seen)*20 <= g.rows {
			g.twentieth = float64(i) / 10
		}
		if int(seen)*2 >= g.rows {
			g.median = float64(i) / 10
			break
		}
	}
	if g.outside*2 > g.rows {
		g.median = g.high
	}
	return g.series
}

// seriesOf describes a column over the rows that keep accepts.
func (lay *layout) seriesOf(t *table, times []rowTime, col int, keep func(row int) bool) series {
	g := &gauge{}
	s := &g.series
	s.col, s.counter, s.mixed = col, true, lay.twoUnits()
	rows := 0
	var steps stepCount
	var last, step float64
	var lastAt int64
	for r := lay.g.from; r < lay.g.to; r++ {
		k := t.kind(r, col)
		if k == blank || !keep(r) {
			continue
		}
		if !k.number() {
			if s.other++; k == word && besideWords(t.cell(r, col)) != "" {
				s.worded++
			}
			continue
		}
		num, scale, ok := parseNumber(t.cell(r, col))
		if !ok {
			s.other++
			continue
		}
		g.add(num, scale)
		v := wear.Reading{Num: num, Scale: scale}.Native()
		if rows == 0 {
			s.since = ", from " + lay.localClock(times[r-lay.g.from]) + " on"
		}
		if rows++; rows <= maxSamples {
			s.examples = append(s.examples, t.cell(r, col))
		}
		if rows > 1 {
			if rows > 2 && v-last != step {
				s.counter = false
			}
			step = v - last
			steps.add(abs(times[r-lay.g.from].secs-lastAt) / cadenceGrain)
		}
		last, lastAt = v, times[r-lay.g.from].secs
	}
	s.counter = s.counter && rows > 3 && step != 0
	if rows > 1 {
		s.regular = float64(steps.usual()) / float64(rows-1)
	}
	return g.finish()
}

// localClock writes a moment by the wearer's clock.
func (lay *layout) localClock(at rowTime) string {
	if at.absolute && lay.zone != nil {
		return time.Unix(at.secs, 0).In(lay.zone).Format("2 January 15:04")
	}
	return longClock(at.secs)
}

// stepCount counts steps in time by their length.
type stepCount struct {
	counts map[int64]int
	more   []int64 // steps of further lengths, where there are very many
	length int64   // the step of the present run of equal steps
	run    int
}

// maxSteps bounds the different lengths counted; a sensor has a handful.
const maxSteps = 1000

func (c *stepCount) add(length int64) {
	if length != c.length {
		c.flush()
		c.length = length
	}
	c.run++
}

func (c *stepCount) flush() {
	if c.counts == nil {
		c.counts = make(map[int64]int, 8)
	}
	if _, known := c.counts[c.length]; known || len(c.counts) < maxSteps {
		c.counts[c.length] += c.run
	} else {
		for range c.run {
			c.more = append(c.more, c.length)
		}
	}
	c.run = 0
}

// quantile gives the length that n steps are shorter than or like.
func (c *stepCount) quantile(n int) int64 {
	c.flush()
	lengths := slices.Sorted(maps.Keys(c.counts))
	if len(c.more) > 0 {
		all := slices.Clone(c.more)
		for length, times := range c.counts {
			all = append(all, slices.Repeat([]int64{length}, times)...)
		}
		slices.Sort(all)
		return all[n]
	}
	for _, length := range lengths {
		if n -= c.counts[length]; n < 0 {
			return length
		}
	}
	return lengths[len(lengths)-1]
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

	// Where the file itself says mg/dL, a wear in mmol/L with the mark lost
	// would be two faults at once. Real wears have a median of 75 and more (PLoS
	// Biol 2018;16:e2005143); one of 6.6 mmol/L with the mark lost has 66.
	saidMedianMgdl = 68
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
	case u == wear.MgdL && stated == wear.MgdL && (!lost || s.median > saidMedianMgdl):
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
	choices := s.unitChoices()
	if len(choices) == 0 {
		return u, refuseNoGlucose(s.neither())
	}
	if u == wear.MgdL {
		choices = append(choices, wear.Choice{Value: "decimal_lost", Text: "mmol/L with the decimal mark lost", Effect: "the median was " + short1(s.median/10) + " mmol/L; the file stays out: export it again without opening it in a spreadsheet", Rows: s.examples})
	}
	choices = append(choices, wear.Choice{Value: "stop", Text: "neither, or some in each", Effect: "the file stays out; export it again in one unit"})
	ask := l.ask
	if lost { // what was so for an earlier file may not be for this one
		ask = l.askOnce
	}
	switch ask("unit", text, choices...) {
	case "mmol/L":
		u = wear.MmolL
	case "mg/dL":
		u = wear.MgdL
	case "stop":
		return u, refuse("unit", "It is not known which unit the glucose values are in.", "Check the unit in the sensor's settings and export the readings again in one unit.")
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

// unitUnder asks for the unit of values under a heading that states one which is
// not known: they may be in neither, whatever they look like.
func (l *ledger) unitUnder(heading string, s *series) (wear.Unit, *wear.Refusal) {
	u, _, _ := s.byValues()
	if len(s.unitChoices()) == 0 {
		return u, refuseNoGlucose(s.neither())
	}
	given := l.ask("unit", fmt.Sprintf("The heading %q states %q, which is no unit that is read here. Which unit are the glucose values in?", short(heading), short(unknownUnit(heading))), append(s.unitChoices(),
		wear.Choice{Value: "stop", Text: "neither, or not known", Effect: "the file stays out; export it again in mmol/L or mg/dL"})...)
	switch given {
	case wear.MmolL.String():
		u = wear.MmolL
	case wear.MgdL.String():
		u = wear.MgdL
	case "stop":
		return u, refuse("unit", "It is not known which unit the glucose values are in.", "Check the unit in the sensor's settings and export the readings again in one unit.")
	}
	return u, nil
}

// unitChoices offers the units that the values can be in.
func (s *series) unitChoices() (choices []wear.Choice) {
	for _, c := range []wear.Unit{wear.MmolL, wear.MgdL} {
		if plausible(s.median, c) {
			choices = append(choices, wear.Choice{Value: c.String(), Text: c.String(), Effect: "median would be " + medianAs(s, c) + s.since, Rows: s.show(c)})
		}
	}
	return choices
}

// show writes the first values in a unit, and what they are in mmol/L.
func (s *series) show(u wear.Unit) (rows []string) {
	for _, e := range s.examples {
		row := e + " " + u.String()
		if num, scale, ok := parseNumber(e); ok && u == wear.MgdL {
			row += ", which is " + short1(wear.Reading{Num: num, Scale: scale, Unit: u}.Mmol()) + " mmol/L"
		}
		rows = append(rows, row)
	}
	return rows
}

func short1(v float64) string { return wear.FormatHalfUp(v, 1) }

// medianAs writes the median in mmol/L, were the values in a unit.
func medianAs(s *series, u wear.Unit) string {
	if u == wear.MmolL {
		return short1(s.median) + " mmol/L"
	}
	return short1(s.median/wear.MgdlPerMmol) + " mmol/L (" + short1(s.median) + " mg/dL)"
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
			case said == wear.UnitUnknown: // of another quantity
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
	if heading := lay.cols[lay.auto].heading; lay.unit < 0 && unknownUnit(heading) != "" {
		return l.unitUnder(heading, auto)
	}
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
