package intake

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wearround/worker/wear"
)

// maxColumns is how many columns are looked at; no export needs as many.
const maxColumns = 128

// region is where the readings stand in a table: what is above is preamble.
type region struct {
	heading  int // row of the column headings, or -1
	from, to int // rows with data; a few in between may be something else
	width    int // the common number of cells
	when     when
}

// when is the columns that tell the time of a row.
type when struct {
	kind  kind // moment, clock (with a date column) or epoch
	col   int
	date  int     // the date column where kind is clock, else -1
	scale float64 // units in a second where kind is epoch
}

// has reports whether a row has a time where the table keeps its times.
func (w when) has(t *table, row int) bool { return t.kind(row, w.col) == w.kind }

// findRegion finds the time columns, the heading and the rows with data.
func (l *ledger) findRegion(t *table, now int64) (g region, ref *wear.Refusal) {
	g.width, _ = t.commonWidth()
	if g.when, ref = l.timeColumns(t, g.width, now); ref != nil {
		return g, ref
	}
	g.heading, g.from, g.to = -1, -1, 0
	for r := range t.rows() {
		if g.when.has(t, r) {
			if g.from < 0 {
				if t.width(r) < g.width && !t.hasNumber(r) {
					continue // "Made, 2026-03-01 09:00" above the table
				}
				g.from = r
			}
			g.to = r + 1
		}
	}
	if g.from < 0 {
		return g, refuseNoTable(t.lines())
	}
	g.findHeading(t, l)
	return g, nil
}

// hasNumber reports whether a row has a cell that can be a value.
func (t *table) hasNumber(row int) bool {
	for i := t.first[row]; i < t.first[row+1]; i++ {
		if t.kinds[i].number() || t.kinds[i] == limit {
			return true
		}
	}
	return false
}

// findHeading looks for the heading row just above the data, and also a few
// rows into it, because a line of the preamble can look like a reading.
func (g *region) findHeading(t *table, l *ledger) {
	best, known := -1, 0
	above := g.from - 1
	for above >= 0 && t.empty(above) {
		above--
	}
	if above >= 0 {
		if n, ok := g.headingLike(t, above); ok {
			best, known = above, n
		}
	}
	const look = 6
	for r := g.from + 1; r < min(g.from+look, g.to-1); r++ {
		n, ok := g.headingLike(t, r)
		if !ok || best >= 0 && (n <= known || sameRow(t, best, r)) {
			continue
		}
		if n == 0 {
			answer := l.ask("heading_row", fmt.Sprintf("Is line %d the heading of the table, and are the lines above it no readings?", t.line[r]),
				wear.Choice{Value: "heading", Text: "Yes, the readings start below it", Effect: fmt.Sprintf("%d line(s) above it would be left out", r-g.from), Rows: t.samples(func(row int) bool { return row > r })},
				wear.Choice{Value: "row", Text: "No, it is a stray line among readings", Effect: "the line itself would be left out", Rows: t.samples(func(row int) bool { return row >= g.from && row != r })})
			if answer != "heading" {
				continue
			}
		}
		best, known = r, n
	}
	if best < 0 {
		l.note("heading", "none", "no row of words stands above the data", "values")
		return
	}
	g.heading = best
	if best >= g.from {
		for g.from = best + 1; g.from < g.to && !g.when.has(t, g.from); g.from++ {
		}
	}
	l.note("heading", fmt.Sprintf("line %d", t.line[best]), fmt.Sprintf("a row of words above the data, %d of them known", known), "values")
}

// headingLike reports whether a row can be the heading, and how many of its
// words are known.
func (g *region) headingLike(t *table, row int) (known int, ok bool) {
	filled := 0
	for c := range min(t.width(row), maxColumns) {
		switch t.kind(row, c) {
		case blank:
		case word:
			filled++
			if roleOf(t.cell(row, c)) != roleUnknown {
				known++
			}
		default:
			return 0, false
		}
	}
	if filled < 2 || t.width(row) < g.width-1 || filled*2 < min(g.width, maxColumns) && known < 2 {
		return 0, false
	}
	// "Patient, ..." is a line of the preamble: it names no time above the times.
	heading := t.cell(row, g.when.col)
	if r := roleOf(heading); (r == rolePerson || r == roleDevice || r == roleUnit) && !saysTime(heading) {
		return 0, false
	}
	return known, true
}

// saysTime reports whether a heading has a word for time: "device time".
func saysTime(heading string) bool {
	for w := range strings.FieldsSeq(plain(heading)) {
		if roleOf(w) == roleTime {
			return true
		}
	}
	return false
}

func sameRow(t *table, a, b int) bool {
	if t.width(a) != t.width(b) {
		return false
	}
	for c := range t.width(a) {
		if t.cell(a, c) != t.cell(b, c) {
			return false
		}
	}
	return true
}

// headingOf is the heading of a column, or "". A second line of headings, with
// a unit alone or nothing in it, belongs to the first.
func (g *region) headingOf(t *table, col int) string {
	if g.heading < 0 {
		return ""
	}
	own := t.cell(g.heading, col)
	rest := own
	if own != "" {
		rest, _ = withoutUnit(own)
	}
	if g.heading == 0 || strings.Trim(rest, " ()[]") != "" || !g.headedTwice(t) {
		return own
	}
	return strings.TrimSpace(t.cell(g.heading-1, col) + " " + own)
}

// headedTwice reports whether the line above the headings may be of headings too.
func (g *region) headedTwice(t *table) bool {
	above, words := g.heading-1, 0
	for c := range t.width(above) {
		switch t.kind(above, c) {
		case word:
			words++
		case blank:
		default:
			return false
		}
	}
	return words >= 2 && t.width(above) == t.width(g.heading)
}

// isHeading reports whether all that a row says is said by the headings.
func (g *region) isHeading(t *table, row int) bool {
	if row == g.heading || g.heading < 1 || row != g.heading-1 {
		return row == g.heading
	}
	for c := range t.width(row) {
		if s := t.cell(row, c); s != "" && !strings.HasPrefix(g.headingOf(t, c), s) {
			return false
		}
	}
	return true
}

// preamble calls yield for each key and value above the table.
func (g *region) preamble(t *table, yield func(key, value string)) {
	end := g.heading
	if end < 0 {
		end = g.from
	}
	for r := range end {
		key, value := t.cell(r, 0), t.cell(r, 1)
		if value == "" {
			key, value, _ = strings.Cut(key, ":")
		}
		if value = strings.TrimSpace(value); value != "" {
			yield(strings.TrimRight(key, ": "), value)
		}
	}
}

// timeColumns finds the columns that tell the time: one with date and clock, a
// date and a clock column, or seconds or milliseconds since 1970.
func (l *ledger) timeColumns(t *table, width int, now int64) (when, *wear.Refusal) {
	counts := make([][kinds]int, min(max(width, 2), maxColumns))
	midnight := make([]bool, len(counts))
	for c := range midnight {
		midnight[c] = true
	}
	rows := 0
	for r := range t.rows() {
		if !t.typed(r) {
			continue
		}
		rows++
		for c := range min(t.width(r), len(counts)) {
			k := t.kind(r, c)
			counts[c][k]++
			if k == moment && midnight[c] {
				st, _ := parseStamp(t.cell(r, c))
				midnight[c] = st.secs == 0
			}
		}
	}
	pick := func(k kind) (cols []int) {
		for c := range counts {
			if counts[c][k]*2 > rows {
				cols = append(cols, c)
			}
		}
		return cols
	}
	dates, clocks, moments := pick(day), pick(clock), pick(moment)
	if len(clocks) > 0 {
		for c := range counts { // a date may be written once a day only, or as midnight
			if counts[c][day]*2 <= rows && counts[c][day] > 0 && counts[c][day]+counts[c][blank] >= rows-rows/50 && len(dates) == 0 {
				dates = append(dates, c)
			}
			if counts[c][moment]*2 > rows && midnight[c] {
				dates = append(dates, c)
				moments = remove(moments, c)
			}
		}
	}
	switch {
	case len(moments) == 1:
		l.note("time", fmt.Sprintf("column %d", moments[0]+1), "the only column with a date and a clock", "values")
		return when{kind: moment, col: moments[0], date: -1}, nil
	case len(moments) > 1:
		return l.pickTime(t, moments), nil
	case len(clocks) > 0 && len(dates) > 0:
		if len(clocks) > 1 || len(dates) > 1 {
			return when{}, refuse("time_columns", fmt.Sprintf("The file has %d date and %d clock columns and", len(dates), len(clocks))+" it is not clear which belong together.",
				"Export again with one column for date and time.")
		}
		l.note("time", fmt.Sprintf("columns %d and %d", dates[0]+1, clocks[0]+1), "a date column and a clock column", "values")
		return when{kind: clock, col: clocks[0], date: dates[0]}, nil
	}
	for _, c := range pick(epoch) {
		if scale, ok := epochScale(t, c, now); ok {
			l.note("time", fmt.Sprintf("column %d", c+1), fmt.Sprintf("counts 1/%g s since 1970 in steps of a sensor", scale), "values")
			return when{kind: epoch, col: c, date: -1, scale: scale}, nil
		}
	}
	switch {
	case len(clocks) > 0:
		return when{}, refuse("no_date", fmt.Sprintf("The rows have a clock time, “%s” in column %d, but no date with day, month and year was read beside it.", t.example(clocks[0], clock), clocks[0]+1), "Export again with the date in each row.")
	case len(dates) > 0:
		return when{}, refuse("no_clock", fmt.Sprintf("The rows have a date, “%s” in column %d, but no clock time was read beside it.", cmp.Or(t.example(dates[0], day), t.example(dates[0], moment)), dates[0]+1), "Export again with the time of day in each row.")
	}
	return when{}, refuseNoTable(t.lines())
}

func remove(list []int, x int) []int {
	kept := list[:0]
	for _, v := range list {
		if v != x {
			kept = append(kept, v)
		}
	}
	return kept
}

// pickTime chooses among several columns with date and clock. One that never
// changes is when the file was made, not when a reading was taken.
func (l *ledger) pickTime(t *table, cols []int) when {
	varying := cols[:0:0]
	for _, c := range cols {
		first, distinct := "", 0
		for r := 0; r < t.rows() && distinct < 3; r++ {
			if t.kind(r, c) == moment && t.cell(r, c) != first {
				first = t.cell(r, c)
				distinct++
			}
		}
		if distinct > 1 {
			varying = append(varying, c)
		}
	}
	if len(varying) == 1 {
		l.note("time", fmt.Sprintf("column %d", varying[0]+1), "the only column with date and clock that changes from row to row", "values")
		return when{kind: moment, col: varying[0], date: -1}
	}
	if len(varying) == 0 {
		varying = cols
	}
	var choices []wear.Choice
	for _, c := range varying {
		choices = append(choices, wear.Choice{Value: fmt.Sprint(c + 1), Text: fmt.Sprintf("column %d", c+1), Effect: "times such as " + t.example(c, moment),
			Rows: t.samples(func(r int) bool { return t.kind(r, c) == moment })})
	}
	chosen := varying[0]
	l.clocks = varying
	given := l.ask("time_column", "Which column tells when each reading was taken, by the wearer's clock?", choices...)
	if n, err := strconv.Atoi(given); err == nil {
		chosen = n - 1
	}
	return when{kind: moment, col: chosen, date: -1}
}

// example is the first cell of that kind in a column.
func (t *table) example(col int, k kind) string {
	for r := range t.rows() {
		if t.kind(r, col) == k {
			return t.cell(r, col)
		}
	}
	return ""
}

// Times before this are a clock that was never set.
const firstTime = 946684800 // 2000-01-01 00:00 UTC

// epochScale tells seconds, milliseconds and microseconds since 1970 apart by
// their length, and from a serial number by range and step.
func epochScale(t *table, col int, now int64) (scale float64, ok bool) {
	var at []int64
	for r := range t.rows() {
		if t.kind(r, col) != epoch {
			continue
		}
		s := t.cell(r, col)
		v, _, _ := wear.ParseValue(s)
		switch len(s) {
		case 10:
			scale = 1
		case 13:
			scale = 1e3
		default:
			scale = 1e6
		}
		at = append(at, v/int64(scale))
	}
	slices.Sort(at) // rows may be in any order
	steps, good := 0, 0
	for i, v := range at {
		if i > 0 {
			steps++
			if d := v - at[i-1]; d >= 20 && d <= 7200 {
				good++
			}
		}
		if v < firstTime || now > 0 && v > now+86400 {
			steps++
		}
	}
	return scale, len(at) > 0 && good*2 >= steps
}

// cutShort gives the line on which the file breaks off, or 0: its last line has
// no line end and is shorter than the row before it.
func cutShort(t *table, g *region) int {
	last := t.rows() - 1
	if t.whole || last < 1 || last <= g.from || strings.HasSuffix(t.text, "\n") || strings.HasSuffix(t.text, "\r") {
		return 0
	}
	// A remark below the table does not begin like a row.
	before := g.to - 1
	if before == last {
		before--
	}
	for before > g.from && !g.when.has(t, before) {
		before--
	}
	if a, b := t.cell(last, 0), t.cell(before, 0); a != "" && b != "" && digitFirst(a) != digitFirst(b) {
		return 0
	}
	if t.width(last) < t.width(before) {
		return int(t.line[last])
	}
	c := t.width(last) - 1
	switch {
	case t.width(last) > t.width(before):
		return 0
	case c == g.when.col || c == g.when.date:
		if !t.alike(last, before, c) {
			return int(t.line[last])
		}
	case t.shrunk(g, last, before, c):
		return int(t.line[last])
	}
	return 0
}

// alike reports whether two times are written in the same form.
func (t *table) alike(a, b, col int) bool {
	x, y := t.cell(a, col), t.cell(b, col)
	if t.kind(a, col) != t.kind(b, col) {
		return y == "" // a date that is written once a day
	}
	return shapeOf(x) == shapeOf(y) && (t.kind(a, col) != epoch || len(x) == len(y))
}

// endsOpen reports a last line without a line end that may go on: its last cell
// holds words, a number that is shorter or less than half the one before it, or
// nothing where the rows before it have something.
func endsOpen(t *table, g *region) bool {
	last := t.rows() - 1
	if t.whole || last < 1 || last <= g.from || strings.HasSuffix(t.text, "\n") || strings.HasSuffix(t.text, "\r") {
		return false
	}
	c := t.width(last) - 1
	switch t.kind(last, c) {
	case integer:
		k := t.kind(last-1, c)
		return k == odd || k == epoch || t.fell(last, last-1, c)
	case word:
		return g.when.has(t, last)
	case blank:
		filled := 0
		for r := g.from; r < last; r++ {
			if t.kind(r, c) != blank {
				filled++
			}
		}
		return filled*2 > last-g.from
	}
	return false
}

func digitFirst(s string) bool { return s[0] >= '0' && s[0] <= '9' }

// shrunk reports whether the number in a cell lost digits: it ends in its
// decimal mark, or has fewer decimals than every other.
func (t *table) shrunk(g *region, row, before, col int) bool {
	s, prior := t.cell(row, col), t.cell(before, col)
	if s == "" || !t.kind(before, col).number() {
		return false
	}
	_, scale, ok := parseNumber(s)
	_, wasScale, wasOK := parseNumber(prior)
	if !ok || !wasOK {
		return strings.HasSuffix(s, ".") || strings.HasSuffix(s, ",")
	}
	if scale >= wasScale {
		return false
	}
	for r := g.from; r < row; r++ {
		if _, sc, ok := parseNumber(t.cell(r, col)); ok && sc <= scale {
			return false
		}
	}
	return true
}

// fell reports whether the number in a cell is less than half of the one above.
func (t *table) fell(row, before, col int) bool {
	num, scale, ok := parseNumber(t.cell(row, col))
	was, wasScale, wasOK := parseNumber(t.cell(before, col))
	return ok && wasOK && wear.Reading{Num: num, Scale: scale}.Native()*2 < wear.Reading{Num: was, Scale: wasScale}.Native()
}
