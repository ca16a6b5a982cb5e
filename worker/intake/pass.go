package intake

import (
	"bytes"

	"wearround/worker/wear"
)

// pass reads a whole file in one go by a [Plan]. It guesses nothing: what a
// plan takes for granted is checked on every row, what depends on all rows
// (unit, order of the date, clock, cadence) is decided again at the end by the
// same rules as ever, and at the first thing that is not as planned the pass is
// given up and the file is worked out in full.
type pass struct {
	harvest // of one row at a time: what is not a plain reading goes the usual way
	plan    *Plan
	head    *sketch
	text    []byte

	watched  []int  // columns that have no part, and must be as planned all the same
	row      []span // cells of the present row
	line     int32
	walls    []int64  // the time of every row that has one
	uneven   []uneven // rows that gave another number of readings than one
	eventRow []int32  // for each event, its row
	lone     table    // the row that is taken the usual way
	values   gauge
	written  writtenTimes
	order    order
	first    [maxColumns][]byte // the first cell of columns that must not change
	counter  [maxColumns]struct{ last, step int64 }
	plain    int             // rows that were a plain reading
	dated    int             // of these, with a date in its own column
	filled   [maxColumns]int // of these, cells of each watched column
	cells    int             // filled cells met
	inRow    int             // of these, in the present row
	gap      bool            // blank rows were met since the last reading
	pending  []int32         // lines without a time, which may stand below the table only
	below    []byte          // their text
	odd      int             // rows that were no plain reading
	date     dateMemo

	quick   int64 // the time of the present row, where cut found it already
	isQuick bool

	kindCell []byte // the last record type, and whether it is a reading on the clock
	isAuto   bool
}

// maxStrays is how many rows without a time a pass puts up with below the
// table: a few totals and remarks.
const maxStrays = 5

// run tries a plan. It reports false, and must then be thrown away, where the
// file is not as planned or leaves a question.
func (p *pass) run() bool {
	p.prepare()
	end := bytes.LastIndexByte(p.text, '\n') + 1
	tail := p.text[end:]
	if len(tail) > 0 && (end <= p.head.start || p.mayGoOn()) {
		return false
	}
	rows := bytes.Count(p.text[p.head.start:], []byte("\n")) + 1
	p.res.Readings = make([]wear.Reading, 0, rows)
	p.walls = make([]int64, 0, rows)
	if p.text = p.text[:end]; !p.rows(p.head.start) {
		return false
	}
	if len(tail) > 0 { // the last line has no line end
		if p.text = append(bytes.Clone(tail), '\n'); !p.rows(0) {
			return false
		}
	}
	return p.judge()
}

// rows takes every row from i on. The text ends with a line end.
func (p *pass) rows(i int) bool {
	for i < len(p.text) {
		next := p.cut(i)
		if next < 0 || !p.read(i, next) {
			return false
		}
		i = next
		p.line++
	}
	return true
}

// mayGoOn reports whether the last line, which has no line end, may have been
// cut off. It looks at the last rows only, so it may suspect what the full way
// would not.
func (p *pass) mayGoOn() bool {
	from := len(p.text)
	for range headRows {
		if i := bytes.LastIndexByte(p.text[:from-1], '\n') + 1; i > p.head.start {
			from = i
		}
	}
	t, openQuote, _ := cut(string(p.text[from:]), p.plan.Delim)
	if t == nil || openQuote > 0 {
		return true
	}
	t.classify()
	g := p.lay.g
	g.heading, g.from, g.to = -1, 0, t.rows()
	return cutShort(t, &g) > 0 || endsOpen(t, &g)
}

// prepare fills in what the full way would have found out about the columns.
func (p *pass) prepare() {
	lay := &layout{
		auto: p.plan.Auto, scan: p.plan.Scan, finger: p.plan.Finger, unit: p.plan.UnitCol, kind: p.plan.Kind, person: p.plan.Person,
		kinds: p.plan.Kinds, notes: p.plan.Notes, cols: make([]column, len(p.plan.Columns)),
		g: region{heading: p.head.heading, from: p.head.from, width: p.head.width,
			when: when{kind: p.plan.When.Kind, col: p.plan.When.Col, date: p.plan.When.Date, scale: p.plan.When.Scale}},
	}
	for c := range lay.cols {
		lay.part = append(lay.part, part{p.plan.Columns[c].Fate, p.plan.Columns[c].Why})
		lay.cols[c] = column{heading: lay.g.headingOf(p.head.t, c), said: p.plan.Columns[c].Said, unit: p.plan.Columns[c].Unit}
	}
	for c := range p.plan.Columns {
		if w := p.plan.Columns[c].Watch; w != watchOwn {
			p.watched = append(p.watched, c)
		}
	}
	p.lay, p.unit = lay, p.plan.Unit
	p.words = make(map[string]string)
	p.row = make([]span, 0, len(p.plan.Columns)+1)
	p.times = make([]rowTime, 1)
	p.line = p.head.t.line[p.head.from]
	p.written.dates, p.written.led = make(map[[3]int16]*dayUse), make(map[[3]int16]*dayUse)
	p.written.now = p.now
	p.order = orders[0]
	for _, o := range orders {
		if o.value == p.plan.Order {
			p.order = o
		}
	}
}

// cut finds the cells of the row at i and gives the start of the next row, or
// -1 for a cell that runs over lines or has quotes inside.
func (p *pass) cut(i int) int {
	p.row, p.isQuick, p.inRow = p.row[:0], false, 0
	text, delim := p.text, p.plan.Delim
	for {
		from := i
		if len(p.row) == p.plan.When.Col && p.date.short {
			end := delim
			if text[i] == '"' {
				from, end = i+1, '"'
			}
			if wall, n := p.sameDay(text[from:], end); n > 0 {
				i = from + n
				if end == '"' && text[i+1] == delim {
					i++
				}
				if text[i] == delim {
					p.quick, p.isQuick = wall, true
					p.inRow++
					p.row = append(p.row, span{int32(from), int32(from + n)})
					i++
					continue
				}
				return -1 // something stands behind the quote
			}
			from = i
		}
		if text[i] == '"' {
			n := bytes.IndexByte(text[i+1:], '"')
			if n < 0 {
				return -1
			}
			from, i = i+1, i+1+n
			if bytes.IndexByte(text[from:i], '\n') >= 0 {
				return -1
			}
			p.row = append(p.row, span{int32(from), int32(i)})
			if i > from {
				p.inRow++
			}
			i++
			if c := text[i]; c != delim && c != '\n' && c != '\r' {
				return -1
			}
		} else {
			for text[i] != delim && text[i] != '\n' && text[i] != '\r' {
				i++
			}
			p.row = append(p.row, span{int32(from), int32(i)})
			if i > from {
				p.inRow++
			}
		}
		switch {
		case text[i] == delim:
			i++
		case text[i] == '\n':
			return i + 1
		case i+1 < len(text) && text[i+1] == '\n':
			return i + 2
		default:
			return -1 // a lone carriage return
		}
		if len(p.row) > maxColumns {
			return -1
		}
	}
}

func (p *pass) cell(c int) []byte {
	b := p.text[p.row[c].start:p.row[c].end]
	if n := len(b); n > 0 && (b[0]-'!' >= 0x80-'!' || b[n-1]-'!' >= 0x80-'!') {
		return bytes.Trim(b, spaces)
	}
	return b
}

// read takes one row. It reports false if the pass must be given up.
func (p *pass) read(from, to int) bool {
	if len(p.row) != len(p.plan.Columns) {
		return p.stray(from, to)
	}
	wall, ok := p.moment()
	if !ok {
		return p.stray(from, to)
	}
	if len(p.pending) > 0 || p.gap {
		return false // something stands inside the table
	}
	plainRow := p.isAutoRow()
	for _, c := range p.watched {
		watch, fine, says := p.plan.Columns[c].Watch, true, false
		if blank := p.row[c].start == p.row[c].end; blank && watch != watchCounter {
			if c == p.plan.Person {
				return false // it may be another person's row
			}
			continue
		}
		switch watch {
		case watchNote:
			fine, says = p.note(c)
			plainRow = plainRow && !says
		case watchBlank:
			fine = len(p.cell(c)) == 0
		case watchSame:
			fine = p.same(c)
		case watchCounter:
			fine = p.counts(c)
		case watchNumber:
			fine = p.isNumber(c)
		}
		if !fine {
			return false
		}
	}
	if plainRow {
		if num, scale, ok := plainValue(p.cell(p.plan.Auto)); ok {
			p.res.Rows++
			p.withReading++
			p.values.add(num, scale)
			p.res.Readings = append(p.res.Readings, wear.Reading{At: wall, Num: num, Scale: scale, Unit: p.unit})
			p.walls = append(p.walls, wall)
			p.countPlain()
			return true
		}
	}
	return p.usual(from, to, wall)
}

// countPlain enters the cells of a plain reading into the account: what the row
// holds on one side, what is explained of it on the other.
func (p *pass) countPlain() {
	p.cells += p.inRow
	p.plain++
	if d := p.plan.When.Date; d >= 0 && p.row[d].start != p.row[d].end {
		p.dated++
	}
	for _, c := range p.watched {
		if s := p.row[c]; s.start != s.end {
			p.filled[c]++
		}
	}
}

// allSayings lists all that the file says beside its readings.
func (p *pass) allSayings() (list []saying) {
	for r := range p.head.from {
		if !p.lay.g.isHeading(p.head.t, r) {
			list = append(list, p.head.t.sayingsOf(r)...)
		}
	}
	if t := p.belowTable(); t != nil {
		for r := range t.rows() {
			list = append(list, t.sayingsOf(r)...)
		}
	}
	for c, col := range p.plan.Columns {
		if p.filled[c] == 0 {
			list = append(list, emptyHeading(p.lay.cols[c].heading)...)
		}
		if col.Why == constantWhy && len(p.first[c]) > 0 {
			list = append(list, p.lay.constantSaying(c, string(p.first[c]))...)
		}
	}
	return list
}

// settle closes the account.
func (p *pass) settle() {
	a := &p.account
	f := &facts{readings: p.res.Readings, rows: p.res.Rows, unit: p.unit}
	p.askMatters(f, p.allSayings())
	hear := func(t *table, r, place int, as part) {
		if place == placeBelow || !p.lay.g.isHeading(t, r) {
			as = p.hearRow(f, t, r, t.sayingsOf(r), as)
		} else {
			as.why = "the heading"
		}
		a.add(place, as.fate, as.why, t.filledIn(r))
	}
	for r := range p.head.from {
		p.cells += p.head.t.filledIn(r)
		hear(p.head.t, r, placeAbove, part{wear.FateFact, aboveTable})
	}
	if t := p.belowTable(); t != nil {
		for r := range t.rows() {
			hear(t, r, placeBelow, part{wear.FateTotal, belowTable})
		}
	}
	parts := make([]part, len(p.plan.Columns))
	for c, col := range p.plan.Columns {
		if parts[c] = (part{col.Fate, col.Why}); col.Why == constantWhy && len(p.first[c]) > 0 {
			parts[c] = p.hear(f, p.lay.constantSaying(c, string(p.first[c])), parts[c])
			a.turnAll(c, part{col.Fate, col.Why}, parts[c])
		}
	}
	for c := range p.plan.Columns {
		p.hearHeading(f, p.lay.cols[c].heading, p.filled[c])
	}
	p.res.Events = f.speak(p.res.Events)
	for c := range p.plan.Columns {
		n := p.filled[c]
		switch c {
		case p.plan.When.Col, p.plan.Kind:
			n = p.plain
		case p.plan.When.Date:
			n = p.dated
		case p.plan.Auto:
			a.add(c, wear.FateReading, "", p.plain)
			continue
		}
		if parts[c].fate != "" {
			a.add(c, parts[c].fate, parts[c].why, n)
		}
	}
	p.res.Account = a.close(p.cells, &p.lay.g, p.head.t)
}

// isNumber reports a cell that is a number in any form, or says nothing.
func (p *pass) isNumber(c int) bool {
	cell := p.cell(c)
	if _, _, ok := plainValue(cell); ok {
		return true
	}
	k := kindOf(string(cell))
	return k.number() || k == odd || k == limit || k == epoch
}

// isAutoRow reports whether the record type, if there is one, is that of a
// reading on the clock.
func (p *pass) isAutoRow() bool {
	if p.plan.Kind < 0 {
		return true
	}
	if cell := p.cell(p.plan.Kind); !bytes.Equal(cell, p.kindCell) || p.kindCell == nil {
		kind, known := p.plan.Kinds[string(cell)]
		p.kindCell = cell
		p.isAuto = known && (kind == roleGlucose || kind == roleUnknown)
	}
	return p.isAuto
}

// note looks at a cell that is blank on most rows.
func (p *pass) note(c int) (fine, says bool) {
	cell := p.cell(c)
	if len(cell) == 0 {
		return true, false
	}
	said := p.plan.Columns[c].Said
	if said != roleUnknown && said != roleType {
		return true, true
	}
	k := kindOf(string(cell)) // its heading does not say that it holds events
	return k == word || k == blank, true
}

func (p *pass) same(c int) bool {
	cell := p.cell(c)
	switch {
	case bytes.Equal(p.first[c], cell) || len(cell) == 0:
		return true
	case p.first[c] == nil:
		p.first[c] = cell
		return kindOf(string(cell)) != blank
	}
	return false
}

func (p *pass) counts(c int) bool {
	num, scale, ok := plainValue(p.cell(c))
	if !ok || scale > 0 {
		return false
	}
	k := &p.counter[c]
	switch n := len(p.walls); {
	case n == 1:
		k.step = num - k.last
	case n > 1 && num-k.last != k.step:
		return false
	}
	k.last = num
	return true
}

// plainValue reads digits with at most one decimal mark, as a glucose value
// has them.
func plainValue(b []byte) (num int64, scale uint8, ok bool) {
	const most = 7
	if len(b) == 0 || len(b) > most {
		return 0, 0, false
	}
	point := -1
	for i, c := range b {
		switch d := c - '0'; {
		case d <= 9:
			num = num*10 + int64(d)
		case (c == '.' || c == ',') && point < 0 && i > 0 && i < len(b)-1:
			point = i
		default:
			return 0, 0, false
		}
	}
	if point >= 0 {
		scale = uint8(len(b) - 1 - point)
	}
	return num, scale, true
}

// stray takes a row that has no time where it ought to. A heading that comes
// again and blank rows do not matter; others must be below the table. A row
// whose time is only written otherwise ends the pass.
func (p *pass) stray(from, to int) bool {
	blankRow := true
	for c := range p.row {
		blankRow = blankRow && len(p.cell(c)) == 0
	}
	if blankRow {
		p.gap = true
		return true
	}
	if p.head.heading >= 0 && p.isHeading() {
		return false
	}
	for c := range p.row {
		switch kindOf(string(p.cell(c))) {
		case blank:
		case moment, day, clock, epoch:
			return false
		default:
			p.cells++
		}
	}
	p.pending = append(p.pending, p.line)
	p.below = append(p.below, p.text[from:to]...)
	return len(p.pending) <= maxStrays
}

func (p *pass) isHeading() bool {
	if len(p.row) != p.head.t.width(p.head.heading) {
		return false
	}
	for c := range p.row {
		if string(p.cell(c)) != p.head.t.cell(p.head.heading, c) {
			return false
		}
	}
	return true
}

// usual takes a row that is no plain reading the way of every other file.
func (p *pass) usual(from, to int, wall int64) bool {
	p.odd++
	t, openQuote, _ := cutInto(&p.lone, string(p.text[from:to]), p.plan.Delim)
	if openQuote > 0 || t == nil || t.rows() != 1 {
		return false
	}
	t.classify()
	p.cells += t.filled()
	t.line[0] = p.line
	p.t, p.times[0] = t, rowTime{secs: wall, ok: true}
	p.lay.g.from, p.lay.g.to = 0, 1
	if p.plan.Kind >= 0 {
		if _, known := p.plan.Kinds[t.cell(0, p.plan.Kind)]; !known {
			return false
		}
	}
	if t.kind(0, p.plan.Auto).number() && p.lay.mayRead(t, 0) {
		num, scale, ok := parseNumber(t.cell(0, p.plan.Auto))
		if !ok {
			return false
		}
		p.values.add(num, scale)
	}
	readings, events := len(p.res.Readings), len(p.res.Events)
	p.harvest.row(0)
	if n := len(p.res.Readings) - readings; n != 1 {
		p.uneven = append(p.uneven, uneven{int32(len(p.walls)), int32(n)})
	}
	for range len(p.res.Events) - events {
		p.eventRow = append(p.eventRow, int32(len(p.walls)))
	}
	p.walls = append(p.walls, wall)
	return len(p.questions) == 0 && len(p.adrift) == 0
}
