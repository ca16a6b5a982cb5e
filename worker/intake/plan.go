package intake

import (
	"bytes"
	"slices"

	"wearround/worker/wear"
)

// planVersion is raised whenever roles, kinds or what a plan means change. A
// plan of another version is not used; the answers beside it are.
const planVersion = 2

// Plan reads a file of a known layout in one pass. It is made from a file that
// was worked out in full, and only where every column's part is settled.
type Plan struct {
	Version int             `json:"version"`
	Delim   byte            `json:"delim"`
	When    planWhen        `json:"when"`
	Order   string          `json:"order,omitempty"` // of day, month and year
	Unit    wear.Unit       `json:"unit"`
	Columns []planColumn    `json:"columns"`
	Auto    int             `json:"auto"`
	Scan    int             `json:"scan"`
	Finger  int             `json:"finger"`
	UnitCol int             `json:"unit_column"`
	Kind    int             `json:"kind"`
	Person  int             `json:"person"`
	Notes   []int           `json:"notes,omitempty"`
	Kinds   map[string]role `json:"kinds,omitempty"` // record types
}

type planWhen struct {
	Kind     kind    `json:"kind"`
	Col      int     `json:"col"`
	Date     int     `json:"date"`
	Scale    float64 `json:"scale,omitempty"`
	Absolute bool    `json:"absolute,omitempty"` // an offset from UTC is written
}

type planColumn struct {
	Said  role      `json:"said"`
	Unit  wear.Unit `json:"unit,omitempty"`
	Watch watch     `json:"watch"`
	Fate  wear.Fate `json:"fate,omitempty"` // of all its cells, where they are not read one by one
	Why   string    `json:"why,omitempty"`
}

// watch is what must be so of a column's cells for the plan to hold.
type watch uint8

const (
	watchOwn     watch = iota // it has a part: time, glucose, record type
	watchBlank                // no cell says anything
	watchSame                 // every cell that says something is like the first
	watchCounter              // every cell is the one before plus or minus a constant
	watchNote                 // a cell that says something is an event or a second value
	watchNumber               // every cell that says something is a number, of a quantity that does not matter
)

// planOf makes a plan of what was worked out, or nil where the next file could
// be read in two ways.
func (lay *layout) planOf(t *table, times []rowTime, o order, unit wear.Unit) *Plan {
	if lay.mixedUnits || len(lay.background) > 0 || lay.person >= 0 && lay.cols[lay.person].filled < lay.timedRows() {
		return nil
	}
	g := &lay.g
	p := &Plan{
		Version: planVersion, Delim: t.delim, Order: o.value, Unit: unit,
		When: planWhen{Kind: g.when.kind, Col: g.when.col, Date: g.when.date, Scale: g.when.scale},
		Auto: lay.auto, Scan: lay.scan, Finger: lay.finger, UnitCol: lay.unit, Kind: lay.kind, Person: lay.person, Kinds: lay.kinds,
	}
	for i, rt := range times {
		switch {
		case !rt.ok:
		case rt.named > 0:
			return nil
		case i == 0:
			p.When.Absolute = rt.absolute
		case rt.absolute != p.When.Absolute:
			return nil
		}
	}
	for c := range lay.cols {
		col := &lay.cols[c]
		w := lay.watch(t, c)
		if w == watchNote && eventKinds[col.said] != "" || w == watchNote && col.said == roleMinutes || slices.Contains(lay.notes, c) {
			p.Notes = append(p.Notes, c)
		}
		if w == watchOwn && !lay.hasPart(c) {
			return nil
		}
		p.Columns = append(p.Columns, planColumn{col.said, col.unit, w, lay.part[c].fate, lay.part[c].why})
	}
	return p
}

// hasPart reports whether a column is read on every row.
func (lay *layout) hasPart(c int) bool {
	return lay.reserved[c] || c == lay.auto || c == lay.kind
}

// watch tells what must hold of a column in the next file. Where nothing can be
// said it gives watchOwn although the column has no part.
func (lay *layout) watch(t *table, c int) watch {
	col := &lay.cols[c]
	switch {
	case lay.hasPart(c):
		return watchOwn
	case c == lay.scan, c == lay.finger, slices.Contains(lay.notes, c):
		return watchNote
	case c == lay.unit, c == lay.person:
		return lay.same(t, c)
	case col.filled == 0 && (eventKinds[col.said] != "" || col.said == roleMinutes):
		return watchNote
	case col.filled == 0:
		return watchBlank
	case lay.part[c].fate == wear.FateAside && col.numeric():
		return watchNumber
	}
	if w := lay.same(t, c); w == watchSame {
		return w
	}
	return lay.counter(t, c)
}

func (lay *layout) same(t *table, c int) watch {
	first := ""
	for r := lay.g.from; r < lay.g.to; r++ {
		if t.kind(r, c) == blank || !lay.g.when.has(t, r) {
			continue
		}
		if s := t.cell(r, c); first == "" {
			first = s
		} else if s != first {
			return watchOwn
		}
	}
	return watchSame
}

func (lay *layout) counter(t *table, c int) watch {
	last, step, rows := int64(0), int64(0), 0
	for r := lay.g.from; r < lay.g.to; r++ {
		if !lay.g.when.has(t, r) {
			continue
		}
		n, scale, ok := wear.ParseValue(t.cell(r, c))
		if !ok || scale > 0 {
			return watchOwn
		}
		switch rows++; {
		case rows == 2:
			step = n - last
		case rows > 2 && n-last != step:
			return watchOwn
		}
		last = n
	}
	if rows < 3 || step == 0 {
		return watchOwn
	}
	return watchCounter
}

// valid reports whether a plan, which comes from outside, fits a table.
func (p *Plan) valid(s *sketch) bool {
	if p == nil || p.Version != planVersion || p.Delim != s.t.delim || len(p.Columns) != max(s.width, 2) || len(p.Columns) > maxColumns {
		return false
	}
	taken := make(map[int]bool) // no column has two parts
	for _, c := range append([]int{p.When.Col, p.When.Date, p.Auto, p.Scan, p.Finger, p.UnitCol, p.Kind, p.Person}, p.Notes...) {
		if c < -1 || c >= len(p.Columns) || taken[c] {
			return false
		}
		taken[c] = c >= 0
	}
	watched := func(as watch, list ...int) bool {
		for _, c := range list {
			if c >= 0 && p.Columns[c].Watch != as {
				return false
			}
		}
		return true
	}
	if p.When.Col < 0 || p.Auto < 0 || slices.Contains(p.Notes, -1) ||
		!watched(watchOwn, p.When.Col, p.When.Date, p.Auto, p.Kind) || !watched(watchSame, p.UnitCol, p.Person) ||
		!watched(watchNote, p.Scan, p.Finger) || !watched(watchNote, p.Notes...) {
		return false
	}
	switch w := p.When; w.Kind {
	case moment:
		return w.Date < 0
	case clock:
		return w.Date >= 0
	case epoch:
		return w.Date < 0 && (w.Scale == 1 || w.Scale == 1e3 || w.Scale == 1e6)
	}
	return false
}

// Files with fewer rows are read in full at once; of longer ones, the first
// rows are enough to make a plan from.
const (
	planRows = 800
	planFrom = 2 * planRows
)

// planFromHead works out the first rows of a long text and makes a plan that
// all rows must then bear out, or gives nil.
func (l *ledger) planFromHead(text []byte, o Options, now int64) *Plan {
	if bytes.Count(text, []byte("\n")) < planFrom {
		return nil
	}
	own := &ledger{zone: l.zone, answers: l.answers, recipe: l.recipe, head: l.head, given: -1}
	t, ref := own.dialect(string(headOf(text, planRows, len(text))), now)
	if ref != nil {
		return nil
	}
	res := &Result{}
	if ref := own.readTable(t, o, now, res); ref != nil || len(own.questions) > 0 {
		return nil
	}
	l.decisions = append(l.decisions, slices.DeleteFunc(own.decisions, func(d wear.Decision) bool {
		return d.Code == "unit" || d.Code == "day_order" || d.Code == "clock_change" // decided again by all rows
	})...)
	return res.Recipe.Plan
}

// byPlan tries to read a text in one pass. Where it reports false, nothing has
// changed.
func (l *ledger) byPlan(text []byte, plan *Plan, o Options, res *Result) bool {
	if !plan.valid(l.head) {
		return false
	}
	own := &ledger{zone: l.zone, answers: l.answers, recipe: l.recipe, head: l.head, given: -1}
	mine := &Result{Layout: res.Layout}
	p := &pass{plan: plan, head: l.head, text: text}
	p.tally = newTally(own, o, mine)
	if !p.run() {
		return false
	}
	l.decisions = append(l.decisions, own.decisions...)
	l.used, l.recalled = own.used, own.recalled
	l.account, l.about = own.account, own.about
	*res = *mine
	return true
}

// planned reports whether the table begins where the first look at the file
// said, so that a plan made from it fits.
func (l *ledger) planned(t *table, lay *layout) bool {
	s := l.head
	if s == nil || lay.pricked > 0 || t.delim == 0 || s.t.delim != t.delim || s.width != lay.g.width || lay.g.heading >= lay.g.from {
		return false
	}
	if s.t.line[s.from] != t.line[lay.g.from] || (s.heading < 0) != (lay.g.heading < 0) {
		return false
	}
	return s.heading < 0 || s.t.line[s.heading] == t.line[lay.g.heading]
}

// remember writes the recipe of a file that was read.
func (l *ledger) remember(answers map[string]string, plan *Plan, res *Result) {
	res.ByRecipe = res.ByRecipe || l.recalled
	res.Recipe = Recipe{Layout: res.Layout, Plan: plan}
	for _, from := range []map[string]string{answers, l.used} {
		for code, value := range from {
			if Remembered(code) && value != holdsPeople && value != holdsPerson { // who is in the next file must be asked again
				if res.Recipe.Answers == nil {
					res.Recipe.Answers = make(map[string]string)
				}
				res.Recipe.Answers[code] = value
			}
		}
	}
}
