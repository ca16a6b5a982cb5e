package intake

import (
	"fmt"
	"maps"
	"slices"

	"wearround/worker/wear"
)

// accounts says of every filled cell of a file what became of it. A cell begins
// as nothing; the first to explain it marks it. What nobody has marked in the
// end is asked about, so that nothing is dropped without a word.
type accounts struct {
	lines  []accountLine
	before int               // filled cells that stand outside the table
	recent [maxColumns]int32 // for each column, the line used last
}

type accountLine struct {
	place int // column, or one of the places below
	fate  wear.Fate
	why   string
	cells int
}

// Places of cells outside the columns of the table.
const (
	placeAbove   = -1 - iota // above the table
	placeBetween             // between its rows
	placeBelow
	placeOther // another sheet, table or file inside the file
	placeRecord
)

var placeNames = map[int]string{
	placeAbove: "above the table", placeBetween: "between the rows", placeBelow: "below the table",
	placeOther: "elsewhere in the file", placeRecord: "records",
}

// line gives the number, from 1, of the line for a place, fate and reason.
func (a *accounts) line(place int, fate wear.Fate, why string) int32 {
	if place >= 0 && place < maxColumns {
		if n := a.recent[place]; n > 0 && a.lines[n-1].fate == fate && a.lines[n-1].why == why && a.lines[n-1].place == place {
			return n
		}
	}
	n := int32(slices.IndexFunc(a.lines, func(l accountLine) bool { return l.place == place && l.fate == fate && l.why == why })) + 1
	if n == 0 {
		a.lines = append(a.lines, accountLine{place: place, fate: fate, why: why})
		n = int32(len(a.lines))
	}
	if place >= 0 && place < maxColumns {
		a.recent[place] = n
	}
	return n
}

// add counts cells that stand in no table, or that were counted elsewhere.
func (a *accounts) add(place int, fate wear.Fate, why string, cells int) {
	if cells != 0 {
		a.lines[a.line(place, fate, why)-1].cells += cells
	}
}

// turnAll gives all cells of a place that were one thing another fate.
func (a *accounts) turnAll(place int, from, to part) {
	for i := range a.lines {
		if l := &a.lines[i]; l.place == place && l.fate == from.fate && l.why == from.why && l.cells > 0 {
			n := l.cells
			l.cells = 0
			a.add(place, to.fate, to.why, n)
			return
		}
	}
}

// mark says what became of a cell, if nobody has said so before.
func (l *ledger) mark(t *table, row, col int, fate wear.Fate, why string) {
	l.markAt(t, t.first[row]+int32(col), row, min(col, maxColumns-1), fate, why)
}

func (l *ledger) markAt(t *table, i int32, row, place int, fate wear.Fate, why string) {
	if i >= t.first[row+1] || t.kinds[i] == blank {
		return
	}
	root := t.root()
	if t.origin != nil {
		if i = t.origin[i]; i < 0 {
			return // written by the reader itself
		}
	}
	if root.marks == nil {
		root.marks = make([]bool, len(root.cells))
	}
	if root.marks[i] {
		return
	}
	root.marks[i] = true
	l.account.lines[l.account.line(place, fate, why)-1].cells++
}

// markRow says what became of all cells of a row that nobody has spoken of.
func (l *ledger) markRow(t *table, row, place int, fate wear.Fate, why string) {
	for i := t.first[row]; i < t.first[row+1]; i++ {
		at := place
		if at >= 0 {
			at = min(int(i-t.first[row]), maxColumns-1)
		}
		l.markAt(t, i, row, at, fate, why)
	}
}

// root is the table of the whole file that a part was taken from.
func (t *table) root() *table {
	for t.parent != nil {
		t = t.parent
	}
	return t
}

// filled counts the cells that say something.
func (t *table) filled() (n int) {
	for _, k := range t.kinds {
		if k != blank {
			n++
		}
	}
	return n
}

// filledIn counts the cells of a row that say something.
func (t *table) filledIn(row int) (n int) {
	for i := t.first[row]; i < t.first[row+1]; i++ {
		if t.kinds[i] != blank {
			n++
		}
	}
	return n
}

// settle closes the account of a table. Cells that nobody has explained are a
// question.
func (l *ledger) settle(told *table, res *Result) *wear.Refusal {
	t := told.root()
	l.tellPins(t, res)
	cells, open := l.account.before, 0
	var rows []string
	for r := range t.rows() {
		shown := false
		for i := t.first[r]; i < t.first[r+1]; i++ {
			if t.kinds[i] == blank {
				continue
			}
			cells++
			if t.marks == nil || !t.marks[i] {
				if open++; !shown && len(rows) < maxSamples {
					rows, shown = append(rows, t.show(r)), true
				}
			}
		}
	}
	if open > 0 && len(l.questions) == 0 {
		if l.ask("unexplained", fmt.Sprintf("%d cells of the file are not explained by anything that is known of it. May they be left out?", open),
			wear.Choice{Value: "aside", Text: "Yes, they say nothing of the wear", Effect: "the rest is filed", Rows: rows},
			wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out"}) == "stop" {
			return setAside()
		}
		l.account.add(placeOther, wear.FateAside, "a person said that they say nothing of the wear", open)
	}
	res.Account = l.account.close(cells, &l.whole, told)
	return nil
}

// tellPins gives the wear what is pinned to cells of no row that has a time.
func (l *ledger) tellPins(t *table, res *Result) {
	f := &facts{readings: res.Readings}
	for _, i := range slices.Sorted(maps.Keys(t.pins)) {
		f.keep(t.pins[i])
		l.account.add(placeOther, wear.FateEvent, keptAsWords, 1)
	}
	res.Events = f.speak(res.Events)
	for i := range res.People {
		f.readings = res.People[i].Readings
		res.People[i].Events = f.speak(res.People[i].Events)
	}
}

// close writes the account out.
func (a *accounts) close(cells int, g *region, t *table) wear.Account {
	out := wear.Account{Cells: cells}
	for _, l := range a.lines {
		if l.cells == 0 {
			continue
		}
		where := placeNames[l.place]
		if l.place >= 0 {
			where = fmt.Sprintf("column %d", l.place+1)
			if g != nil {
				if h := g.headingOf(t, l.place); h != "" {
					where += fmt.Sprintf(", %q", short(h))
				}
			}
		}
		out.Lines = append(out.Lines, wear.AccountLine{Where: where, Fate: l.fate, Cells: l.cells, Why: l.why})
	}
	return out
}
