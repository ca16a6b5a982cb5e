package intake

import (
	"fmt"
	"strconv"

	"wearround/worker/wear"
)

// readable reports whether a row may hold an automatic reading, by its record
// type; a type nobody knows yet may.
func (lay *layout) mayRead(t *table, row int) bool {
	if lay.otherUnit(t, row) {
		return false
	}
	if lay.kind < 0 {
		return true
	}
	r := lay.kinds[t.cell(row, lay.kind)]
	return r == roleGlucose || r == roleUnknown
}

// findGlucose finds the columns with sensor glucose and with fingersticks.
func (l *ledger) findGlucose(t *table, lay *layout, times []rowTime) (auto series, ref *wear.Refusal) {
	lay.auto, lay.scan, lay.finger, lay.unit = -1, -1, -1, -1
	keep := func(row int) bool { return times[row-lay.g.from].ok && lay.mayRead(t, row) }
	var named, unnamed, scans, dense []series
	blankGlucose := false
	taken := func(c int) bool { return lay.reserved[c] || c == lay.kind || c == lay.person || c == lay.unit }
	for c := range lay.cols {
		if !taken(c) && isUnitColumn(&lay.cols[c]) {
			lay.unit = c
			break
		}
	}
	for c := range lay.cols {
		col := &lay.cols[c]
		if taken(c) || col.marks(lay) || l.given >= 0 && c != l.given {
			continue
		}
		if a := l.heldBy(c); a != "" && c != l.given {
			if a == holdsFinger && lay.finger < 0 {
				lay.finger = c
			}
			if a == holdsDemand && lay.scan < 0 {
				lay.scan = c
			}
			continue // somebody has said what it holds
		}
		switch col.said {
		case roleGlucose, roleScan, roleFinger, roleUnknown, roleTime, roleType:
		default:
			continue
		}
		if col.numbers() == 0 {
			blankGlucose = blankGlucose || col.said == roleGlucose
			continue
		}
		s := lay.seriesOf(t, times, c, keep)
		u, _, _ := s.byValues()
		switch {
		case col.said == roleFinger && l.loose && s.rows > 0:
			named = append(named, s)
		case col.said == roleFinger:
			if col.filled*2 > lay.timedRows() {
				if s.rows > 0 && s.regular > 0.8 {
					dense = append(dense, s)
				}
			} else if lay.finger < 0 {
				lay.finger = c
			}
		case s.rows == 0:
		case col.said == roleScan:
			scans = append(scans, s)
		case col.said == roleGlucose && s.median <= highestMgdl:
			named = append(named, s)
		case col.said != roleGlucose && (u != wear.UnitUnknown || lay.twoUnits()) && s.other <= s.rows && !s.counter:
			unnamed = append(unnamed, s)
		}
	}
	if len(named)+len(unnamed)+len(scans) == 0 && lay.finger < 0 && !blankGlucose {
		named = dense // nobody pricks a finger so often and so regularly: its heading is asked about
	}
	by := "heading"
	switch {
	case len(named) == 0 && len(unnamed) > 0:
		named, unnamed, by = unnamed, nil, "values"
	case len(named) == 0 && (len(scans) > 0 || lay.finger >= 0 || blankGlucose):
		return auto, refuseNoReadings()
	case len(named) == 0:
		return auto, refuseNoGlucose(lay.beside())
	case len(named) == 1:
		rows := 0
		for _, u := range unnamed {
			if u.rows > 2*named[0].rows && u.regular > 0.8 && named[0].regular < 0.5 {
				rows = u.rows
			}
		}
		if rows > 0 { // the column called glucose is sparse and another runs on the clock
			named = append(named, unnamed...)
		}
	}
	auto = l.pickGlucose(t, lay, named, by)
	lay.auto = auto.col
	if by == "values" && l.given < 0 && !l.loose && !l.isGlucose(t, lay, &auto) {
		return auto, refuseNoGlucose("and somebody answered that " + lay.title(auto.col) + " is not, or not surely, the sensor's glucose")
	}
	if ref := l.otherHeading(lay, &auto); ref != nil {
		return auto, ref
	}
	if lay.scan < 0 && len(scans) > 0 {
		lay.scan = scans[0].col
		l.note("on_demand", fmt.Sprintf("column %d", lay.scan+1), "its heading says that the wearer asked for these readings", "heading")
	}
	if lay.scan < 0 && lay.finger < 0 {
		l.secondGlucose(t, lay, &auto, append(named, unnamed...))
	}
	return auto, nil
}

// otherHeading asks about a heading of which not every word says that the column
// is the sensor's glucose: "urine glucose", "predicted glucose" and "mean of the
// hour" have the same range, spacing and unit. A unit that is not read is told.
func (l *ledger) otherHeading(lay *layout, s *series) *wear.Refusal {
	heading := lay.cols[s.col].heading
	if heading == "" || l.given >= 0 || l.loose || saysSensor(heading) {
		return nil
	}
	if _, foreign := withoutUnit(heading); foreign != "" {
		return refuse("unit", fmt.Sprintf("The heading %q states the unit %s, and only mmol/L and mg/dL are read.", short(heading), foreign), "Export the readings again in one of these units.")
	}
	if l.used["glucose_column"] == "" && l.ask("glucose_column", fmt.Sprintf("Are the values under %q the sensor's own glucose readings?", short(heading)),
		wear.Choice{Value: strconv.Itoa(s.col + 1), Text: "Yes", Effect: s.would(), Rows: s.examples},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; export the sensor's own readings"}) == "stop" {
		return setAside()
	}
	return nil
}

// isGlucose reports whether a column under words that are not known is the
// sensor's. Pulse, temperature, lactate and urea have the same range, spacing
// and units, so a person is asked unless a word of the file says that it is
// about glucose.
func (l *ledger) isGlucose(t *table, lay *layout, s *series) bool {
	says := func(text string) bool {
		r := roleOf(text)
		return r == roleGlucose || r == roleScan || r == roleFinger
	}
	if l.used["glucose_column"] != "" {
		return true
	}
	for _, kind := range lay.kinds {
		if kind == roleGlucose || kind == roleScan {
			return true
		}
	}
	for r := range lay.g.from {
		for c := range min(t.width(r), maxColumns) {
			if says(t.cell(r, c)) {
				return true
			}
		}
	}
	for c := range lay.cols {
		col := &lay.cols[c]
		if !col.many && len(col.distinct) == 1 && col.n[word] == col.filled && says(col.distinct[0]) {
			return true
		}
	}
	if says(t.title) {
		return true
	}
	return l.ask("glucose_column", "No word in the file says what it measures. Are the values in "+lay.title(s.col)+" the sensor's glucose readings?",
		wear.Choice{Value: strconv.Itoa(s.col + 1), Text: "Yes", Effect: s.would(), Rows: s.examples},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; export it with its headings"}) != "stop"
}

// marks reports a column that only says yes or no, or 1 or 0.
func (c *column) marks(lay *layout) bool {
	if c.many || c.n[decimal]+c.n[limit] > 0 || len(c.distinct) == 0 || len(c.distinct) > 2 {
		return false
	}
	if c.filled*2 > lay.timedRows() {
		return true
	}
	for _, v := range c.distinct {
		if v != "0" && v != "1" {
			return false
		}
	}
	return true
}

// splitDecimal reports values that a comma cut in two: small whole numbers with
// single digits behind them, in a column that is nameless or bears the name of
// the one after it.
func (lay *layout) splitDecimal(t *table, auto *series) bool {
	next, whole := auto.col+1, auto.rows-auto.decimals
	if whole*2 < auto.rows || auto.high > highestMmol || next >= len(lay.cols) || lay.reserved[next] ||
		lay.cols[next].heading != "" && t.width(lay.g.heading) >= lay.g.width {
		return false
	}
	digits := 0
	for r := lay.g.from; r < lay.g.to; r++ {
		if t.kind(r, next) != integer {
			continue
		}
		if len(t.cell(r, next)) != 1 {
			return false
		}
		digits++
	}
	return digits >= whole-auto.rows/10
}

// isUnitColumn reports a column that holds nothing but glucose units.
func isUnitColumn(c *column) bool {
	if c.many || len(c.distinct) == 0 || c.n[word] != c.filled {
		return false
	}
	known, others := 0, 0
	for _, v := range c.distinct {
		if unitIn(v) == wear.UnitUnknown || len(v) > 12 {
			others++
		} else {
			known++
		}
	}
	return known > 0 && known <= 3 && (others == 0 || c.said == roleUnit)
}

// otherUnit reports whether a row states a unit that is none of glucose.
func (lay *layout) otherUnit(t *table, row int) bool {
	return lay.unit >= 0 && t.kind(row, lay.unit) == word && unitIn(t.cell(row, lay.unit)) == wear.UnitUnknown
}

// pickGlucose chooses the automatic column among candidates.
func (l *ledger) pickGlucose(t *table, lay *layout, list []series, by string) series {
	if len(list) == 1 {
		evidence := "its heading says glucose and its values can be"
		if by == "values" {
			evidence = "the only column whose values can be glucose"
		}
		l.note("glucose_column", fmt.Sprintf("column %d", list[0].col+1), evidence, by)
		return list[0]
	}
	best, next := 0, -1
	for i := 1; i < len(list); i++ {
		if list[i].rows > list[best].rows {
			best = i
		}
	}
	for i := range list {
		if i != best && (next < 0 || list[i].rows > list[next].rows) {
			next = i
		}
	}
	a, b := list[best], list[next]
	if len(list) == 2 {
		switch both, mirrored := lay.compare(t, a.col, b.col); {
		case by == "values" && both*50 <= b.rows && a.regular >= 0.8 && b.rows*2 <= a.rows && sameScale(&a, &b):
			l.note("glucose_column", fmt.Sprintf("column %d", a.col+1), "of two columns on different rows, this one runs on the clock", "values")
			return a // what the other one is, remains to be asked
		case by == "values":
		case both*10 >= 9*a.rows && mirrored*100 >= 98*both:
			if ua, _, _ := a.byValues(); ua == wear.MmolL && b.decimals == 0 && a.decimals == a.rows && a.high < highestMmol {
				a = b // whole mg/dL is finer than a tenth of a mmol/L
			}
			l.note("glucose_column", fmt.Sprintf("column %d", a.col+1), "two columns hold the same values in both units", "values")
			return a
		case both*50 <= b.rows && a.regular >= 0.8 && (b.regular < 0.5 || b.rows*5 <= a.rows) && sameScale(&a, &b):
			l.note("glucose_column", fmt.Sprintf("column %d", a.col+1), "of two glucose columns on different rows, this one runs on the clock", "values")
			return a // what the other one is, remains to be asked
		}
	}
	var choices []wear.Choice
	for _, s := range list {
		choices = append(choices, wear.Choice{Value: strconv.Itoa(s.col + 1), Text: lay.title(s.col),
			Effect: s.would(), Rows: s.examples})
	}
	choices = append(choices, wear.Choice{Value: holdsPeople, Text: "each is another person's", Effect: fmt.Sprintf("%d wears, each to be linked to its patient by a person", len(list))})
	given := l.ask("glucose_column", "Which column holds the sensor's glucose readings?", choices...)
	if given == holdsPeople {
		for _, s := range list {
			if s.col != a.col {
				lay.others = append(lay.others, s.col)
			}
		}
	}
	for _, s := range list {
		if strconv.Itoa(s.col+1) == given {
			return s
		}
	}
	return a
}

// title names a column for people.
func (lay *layout) title(col int) string {
	if h := lay.cols[col].heading; h != "" {
		return fmt.Sprintf("column %d, %q", col+1, short(h))
	}
	return fmt.Sprintf("column %d", col+1)
}

// compare counts the rows on which both columns have a number, and those on
// which one is the other in the other unit, rounding allowed for.
func (lay *layout) compare(t *table, a, b int) (both, mirrored int) {
	for r := lay.g.from; r < lay.g.to; r++ {
		if !t.kind(r, a).number() || !t.kind(r, b).number() {
			continue
		}
		na, sa, oka := parseNumber(t.cell(r, a))
		nb, sb, okb := parseNumber(t.cell(r, b))
		if !oka || !okb {
			continue
		}
		both++
		x, y := wear.Reading{Num: na, Scale: sa}.Native(), wear.Reading{Num: nb, Scale: sb}.Native()
		if d := max(x, y) - wear.MgdlPerMmol*min(x, y); d >= -1.6 && d <= 1.6 {
			mirrored++
		}
	}
	return both, mirrored
}

// twoUnits reports whether the rows state different units.
func (lay *layout) twoUnits() bool {
	if lay.unit < 0 {
		return false
	}
	said := wear.UnitUnknown
	for _, v := range lay.cols[lay.unit].distinct {
		if u := unitIn(v); u != wear.UnitUnknown && said != wear.UnitUnknown && u != said {
			return true
		} else if u != wear.UnitUnknown {
			said = u
		}
	}
	return false
}

func sameScale(a, b *series) bool {
	return b.median <= 3*a.median && a.median <= 3*b.median
}

// secondGlucose asks about a sparse column without a telling heading whose
// values are on the glucose scale, on rows of its own.
func (l *ledger) secondGlucose(t *table, lay *layout, auto *series, list []series) {
	for _, s := range list {
		if s.col == auto.col || s.rows*2 > auto.rows || !sameScale(auto, &s) && !lay.twoUnits() {
			continue
		}
		if both, _ := lay.compare(t, auto.col, s.col); both*50 > s.rows {
			continue
		}
		switch l.ask("second_glucose", "What are the values in "+lay.title(s.col)+"?",
			wear.Choice{Value: "on_demand", Text: "sensor readings taken when the wearer asked", Effect: fmt.Sprintf("%d readings kept out of measures over time", s.rows), Rows: s.examples},
			wear.Choice{Value: "fingerstick", Text: "fingerstick blood glucose", Effect: fmt.Sprintf("%d fingersticks to compare the sensor with", s.rows), Rows: s.examples},
			wear.Choice{Value: "ignore", Text: "something else", Effect: "the column is not used"}) {
		case "ignore":
			lay.part[s.col] = part{wear.FateAside, "a person said that it is something else"}
		case "":
			lay.part[s.col] = part{wear.FateAside, "waits for an answer"}
		case "on_demand":
			lay.scan = s.col
		case "fingerstick":
			lay.finger = s.col
		}
		return
	}
}

// settleTypes asks about record types that nobody knows and that share the
// glucose column with another type.
func (l *ledger) settleTypes(t *table, lay *layout) {
	if lay.kind < 0 {
		return
	}
	filled := make(map[string]int)
	total := 0
	for r := lay.g.from; r < lay.g.to; r++ {
		if k := t.kind(r, lay.auto); k.number() || k == limit {
			filled[t.cell(r, lay.kind)]++
			total++
		}
	}
	known := false
	for v := range filled {
		known = known || lay.kinds[v] == roleGlucose
	}
	for _, v := range lay.cols[lay.kind].distinct {
		n := filled[v]
		if n == 0 || lay.kinds[v] != roleUnknown {
			continue
		}
		if n == total || !known && n*10 >= 9*total {
			lay.kinds[v] = roleGlucose
			continue
		}
		rows := t.samples(func(r int) bool { return r >= lay.g.from && t.cell(r, lay.kind) == v })
		switch l.ask("type:"+short(v), fmt.Sprintf("What are the values on rows of type %q?", short(v)),
			wear.Choice{Value: "automatic", Text: "sensor readings taken on the clock", Effect: fmt.Sprintf("%d more readings", n), Rows: rows},
			wear.Choice{Value: "on_demand", Text: "sensor readings taken when the wearer asked", Effect: fmt.Sprintf("%d readings kept out of measures over time", n), Rows: rows},
			wear.Choice{Value: "fingerstick", Text: "fingerstick blood glucose", Effect: fmt.Sprintf("%d fingersticks", n), Rows: rows},
			wear.Choice{Value: "ignore", Text: "something else", Effect: fmt.Sprintf("%d rows left out", n)}) {
		case "automatic":
			lay.kinds[v] = roleGlucose
		case "on_demand":
			lay.kinds[v] = roleScan
		case "fingerstick":
			lay.kinds[v] = roleFinger
		case "ignore":
			lay.kinds[v] = roleOther
		}
	}
}

// would says what a column would be as the sensor's: how many readings, their
// median in mmol/L and when they begin.
func (s *series) would() string {
	if s.mixed {
		return fmt.Sprintf("%d readings, each in the unit of its row%s", s.rows, s.since)
	}
	u, _, _ := s.byValues()
	if u == wear.UnitUnknown && plausible(s.median, wear.MmolL) {
		u = wear.MmolL
	}
	return fmt.Sprintf("%d readings, %s to %s, median would be %s%s", s.rows+s.worded, short1(s.low), short1(s.high), medianAs(s, u), s.since)
}
