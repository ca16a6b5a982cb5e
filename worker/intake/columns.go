package intake

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// column is what is known of one column over the data rows.
type column struct {
	heading  string
	said     role      // what the heading says
	unit     wear.Unit // the glucose unit that the heading names
	n        [kinds]int
	filled   int
	distinct []string // the first different cells, in order of appearance
	many     bool     // there are more than maxDistinct
	changes  int      // how often the value changes from row to row
	busy     int      // five times the cells, in an event column filled on most rows, that say something
}

// maxDistinct is how many values a column of codes or names can have.
const maxDistinct = 12

// columns describes every column over the rows that have a time.
func (g *region) columns(t *table) []column {
	width := max(g.width, 2)
	if g.heading >= 0 {
		width = max(width, t.width(g.heading)) // most rows may end before their last blank cells
	}
	cols := make([]column, min(width, maxColumns))
	last := make([]string, len(cols))
	for r := g.from; r < g.to; r++ {
		if !g.when.has(t, r) {
			continue
		}
		base, width := t.first[r], t.width(r)
		for c := range min(width, len(cols)) {
			k := t.kinds[base+int32(c)]
			col := &cols[c]
			col.n[k]++
			if k == blank {
				continue
			}
			col.filled++
			if col.many || k == moment || k == clock || k == decimal {
				continue
			}
			if s := t.at(t.cells[base+int32(c)]); s != last[c] {
				last[c] = s
				col.changes++
				col.see(s)
			}
		}
	}
	for c := range cols {
		cols[c].heading = g.headingOf(t, c)
		cols[c].said = roleOf(cols[c].heading)
		if r := cols[c].said; r == roleFinger || r == roleScan {
			cols[c].said = wholly(r, cols[c].heading) // "capillary lactate" is asked about
		}
		if cols[c].heading == "" && t.glucoseIn[c] {
			cols[c].said = roleGlucose
		}
		if cols[c].said == roleUnknown && tellsSymptom(cols[c].heading) {
			cols[c].said = roleSymptom // "Dizzy" over yes and no
		}
		if cols[c].unit = unitIn(cols[c].heading); t.unitsOf[c] != wear.UnitUnknown {
			cols[c].unit = t.unitsOf[c]
		}
	}
	return cols
}

func (c *column) see(s string) {
	for _, d := range c.distinct {
		if d == s {
			return
		}
	}
	if len(c.distinct) == maxDistinct {
		c.many = true
		return
	}
	c.distinct = append(c.distinct, s)
}

// numbers is how many cells can be a glucose value.
func (c *column) numbers() int { return c.n[integer] + c.n[decimal] + c.n[limit] }

// layout is which column holds what.
type layout struct {
	g        region
	zone     *time.Location // of the wearer's clock
	cols     []column
	reserved []bool // columns that tell the time

	auto, scan int // glucose columns, or -1
	finger     int
	pricked    int // the column with a time of its own for each fingerstick, or 0: the first tells the time of the row
	unit       int // the column with each row's unit, or -1
	kind       int // the record-type column, or -1
	kinds      map[string]role
	mixedUnits bool // each row is in the unit that it states
	tenthsOnly bool // glucose values have one digit after the decimal mark at most, a few aside
	person     int
	notes      []int          // columns with events, by what their heading says
	background map[int]string // for an event column that is filled on most rows, the cell that says nothing happened
	plainly    map[int]bool   // columns whose heading names a kind of event, or does not
	others     []int          // glucose columns that somebody said are other people's
	part       []part         // what all cells of a column are, where it has no other part
}

// people finds the column that names the person. by is the column that tells
// several people apart, or -1.
func (l *ledger) people(t *table, lay *layout) (hint string, by int, ref *wear.Refusal) {
	lay.person = -1
	for c := range lay.cols {
		col := &lay.cols[c]
		if lay.reserved[c] || col.filled == 0 || col.said != rolePerson {
			continue
		}
		names := lay.namesIn(t, c)
		if len(names) == 1 && !col.many && col.n[decimal] == 0 {
			if lay.person < 0 {
				lay.person, hint = c, col.distinct[0]
				l.note("person", fmt.Sprintf("column %d", c+1), "its heading names a person and every row has the same value", "heading")
			}
			continue
		}
		if plain(col.heading) == "id" && (col.many || len(col.distinct) == col.filled) && lay.eachItsOwn(t, c) {
			lay.part[c] = part{wear.FateFact, "an identifier of its own on every row"}
			continue
		}
		if col.many {
			return "", -1, refuseSeveralPeople()
		}
		switch l.askPeople(names, lay.rowOfEach(t, c, names)) {
		case "one":
			lay.part[c] = part{wear.FateFact, "a person said that all rows are of one person"}
		case "stop":
			return "", -1, refuseSeveralPeople()
		default: // while it is open too, so that the questions of each come with it
			return "", c, nil
		}
	}
	var named []saying
	if hint != "" {
		named = append(named, saying{lay.cols[lay.person].heading, hint})
	}
	for r := range t.rows() {
		if r < lay.g.from && r != lay.g.heading || r >= lay.g.to {
			named = append(named, personsIn(t.sayingsOf(r))...)
		}
	}
	for _, a := range l.beside {
		named = append(named, personsIn(a.sayings())...)
	}
	if who := l.askHolders(); who != "" {
		named = append(named, saying{holderKey, who})
	}
	named = append(named, l.codesOfHolders()...)
	if len(named) > 0 {
		if hint == "" {
			l.note("person", "beside the table", "a line beside the table names a person", "heading")
		}
		hint = l.onePerson(named)
	}
	for c := range lay.cols {
		if a := l.heldBy(c); a == holdsPeople && !lay.reserved[c] && !lay.cols[c].many && len(lay.cols[c].distinct) > 1 {
			return "", c, nil
		}
	}
	return hint, -1, nil
}

// eachItsOwn reports whether no two rows have the same cell in a column.
func (lay *layout) eachItsOwn(t *table, c int) bool {
	seen := make(map[string]bool)
	for r := lay.g.from; r < lay.g.to; r++ {
		s := t.cell(r, c)
		if s == "" || !lay.g.when.has(t, r) {
			continue
		}
		if seen[s] {
			return false
		}
		seen[s] = true
	}
	return true
}

// namesIn lists whom a column names, and "" where it is blank on rows with a time:
// those may be of somebody else. A name that stands once is that of the rows below
// it too.
func (lay *layout) namesIn(t *table, c int) []string {
	col := &lay.cols[c]
	names := slices.Clip(col.distinct)
	if col.filled == lay.timedRows() || lay.onceEach(c) && t.kind(lay.g.from, c) != blank {
		return names
	}
	return append(names, "")
}

// onceEach reports whether a column has each of its names on one row only.
func (lay *layout) onceEach(c int) bool {
	col := &lay.cols[c]
	return !col.many && col.filled == len(col.distinct) && col.filled*4 <= lay.timedRows()
}

// whoIs gives whom a column names on each row, from the first of the data on.
func (lay *layout) whoIs(t *table, c int) []string {
	who, last, once := make([]string, t.rows()-lay.g.from), "", lay.onceEach(c)
	for i := range who {
		r := lay.g.from + i
		if s := t.cell(r, c); s != "" || !once || !lay.g.when.has(t, r) {
			last = s
		}
		who[i] = last
	}
	return who
}

// rowOfEach shows the first row of each name of a column.
func (lay *layout) rowOfEach(t *table, col int, names []string) (rows []string) {
	for _, v := range names {
		for r := lay.g.from; r < lay.g.to && len(rows) < maxSamples; r++ {
			if t.cell(r, col) == v && lay.g.when.has(t, r) {
				rows = append(rows, t.show(r))
				break
			}
		}
	}
	return rows
}

func (g *region) dataRows() int { return g.to - g.from }

func anyRecord(values []string) bool {
	for _, v := range values {
		if recordRole(v) != roleUnknown {
			return true
		}
	}
	return false
}

// short cuts a cell for use in a question.
func short(s string) string {
	const most = 40
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return s
}

// recordTypes finds the column whose value says what kind of record a row is.
func (l *ledger) recordTypes(lay *layout) {
	lay.kind = -1
	for c := range lay.cols {
		if l.heldBy(c) == holdsKind && !lay.reserved[c] && c != lay.person && !lay.cols[c].many {
			lay.kind = c
		}
	}
	for c := range lay.cols {
		col := &lay.cols[c]
		if lay.kind >= 0 {
			break
		}
		if lay.reserved[c] || c == lay.person || col.many || len(col.distinct) < 2 || col.filled*20 < 19*lay.g.dataRows() {
			continue
		}
		if col.n[word]+col.n[integer] != col.filled || unitIn(col.distinct[0]) != wear.UnitUnknown {
			continue
		}
		codes := col.n[integer] > 0
		if col.said == roleType || col.said == roleEvent || !codes && col.said == roleUnknown && anyRecord(col.distinct) {
			lay.kind = c
			break
		}
	}
	if lay.kind < 0 {
		return
	}
	lay.kinds = make(map[string]role)
	values, sorts := lay.cols[lay.kind].distinct, 0
	for _, v := range values {
		if lay.kinds[v] = recordRole(v); lay.kinds[v] == roleGlucose {
			sorts++
		}
	}
	for _, v := range values { // "CGM" beside "BG": only the first is surely the sensor's
		if sorts > 1 && lay.kinds[v] == roleGlucose && !strings.Contains(autoWords, "|"+plain(v)+"|") {
			lay.kinds[v] = roleUnknown
		}
	}
	l.note("record_type", fmt.Sprintf("column %d", lay.kind+1), "every row has one of a few values in it", "values")
}
