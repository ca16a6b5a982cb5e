package intake

import (
	"fmt"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// seam is a place where the readings of a table stop and go on again.
type seam struct {
	before, row int // last row before, and first row of what follows, label and heading included
	data        int // first row with a time
	label       int // a row of words between, or -1
	benign      bool
}

// blocks finds out whether the rows are one person's one table. Lines of words
// between the rows may name another person, and a table that begins anew may be
// another's. Only readings that go on as if nothing stood between, or that
// say the same again, are taken for one table without asking.
func (l *ledger) blocks(t *table, lay *layout, times []rowTime) (list []seam, answer string, ref *wear.Refusal) {
	for _, s := range lay.seams(t, times) {
		if !s.benign {
			list = append(list, s)
		}
	}
	if len(list) == 0 {
		return nil, "", nil
	}
	var rows []string
	labels := 0
	for _, s := range list {
		if s.label >= 0 {
			labels++
		}
		if len(rows) < maxSamples {
			rows = append(rows, t.show(max(s.label, s.row)), t.show(s.data))
		}
	}
	rows = rows[:min(len(rows), maxSamples)]
	above, here := "The table", fmt.Sprintf("before line %d", t.line[list[0].row])
	below := "the rows below"
	if from, to := t.within(list[0].before), t.within(list[0].data); from != to {
		above, here, below = fmt.Sprintf("The table “%s”", short(from)), "at its end", fmt.Sprintf("the rows of “%s”", short(to))
	}
	text := fmt.Sprintf("%s stops %s and goes on %s later. Are %s of the same person and sensor?", above, here, stretchOf(lay.gap(times, list[0])), below)
	if labels > 0 {
		text = fmt.Sprintf("Between the readings stand %d line(s) such as %q. What follows them?", labels, short(t.show(list[firstLabel(list)].label)))
	}
	answer = l.askOnce("blocks", text,
		wear.Choice{Value: "same", Text: "more readings of the same person and sensor", Effect: "all rows would be filed as one person's; the lines between are kept as words for a person to read", Rows: rows},
		wear.Choice{Value: holdsPeople, Text: "readings of another person", Effect: fmt.Sprintf("%d wears, each to be linked to its patient by a person", len(list)+1), Rows: rows},
		wear.Choice{Value: holdsFinger, Text: "fingersticks of the same person", Effect: "the values below would be fingersticks to compare the sensor with", Rows: rows},
		wear.Choice{Value: holdsAside, Text: "something else", Effect: "only the rows above the first of these lines would be filed", Rows: rows},
		wear.Choice{Value: "stop", Text: "not known", Effect: "the file is set aside; nothing of it is filed"})
	switch answer {
	case "stop":
		return nil, "", setAside()
	case "", "same", "none":
		return nil, answer, nil
	}
	return list, answer, nil
}

func firstLabel(list []seam) int {
	return max(0, slices.IndexFunc(list, func(s seam) bool { return s.label >= 0 }))
}

// stretchOf writes a number of seconds in words.
func stretchOf(secs int64) string {
	switch secs = abs(secs); {
	case secs >= 2*86400:
		return fmt.Sprintf("%d days", secs/86400)
	case secs >= 2*3600:
		return fmt.Sprintf("%d hours", secs/3600)
	}
	return fmt.Sprintf("%d minutes", secs/60)
}

func (lay *layout) gap(times []rowTime, s seam) int64 {
	return times[s.data-lay.g.from].secs - times[s.before-lay.g.from].secs
}

// seams lists the places where something stands between two rows with a time.
func (lay *layout) seams(t *table, times []rowTime) (list []seam) {
	g := &lay.g
	last := -1
	next := seam{label: -1, row: -1}
	for r := g.from; r < g.to; r++ {
		if i := r - g.from; times[i].ok {
			if next.row >= 0 && last >= 0 {
				next.before, next.data = last, r
				list = append(list, next)
			}
			last, next = r, seam{label: -1, row: -1}
			continue
		}
		what := lay.between(t, r)
		if what == nothingBetween {
			continue
		}
		if next.row < 0 {
			next.row = r
		}
		if what == labelBetween && next.label < 0 {
			next.label = r
		}
	}
	if len(list) == 0 {
		return nil
	}
	cadence := usualCadence(times)
	for i := range list {
		s := &list[i]
		d := abs(lay.gap(times, *s))
		to := g.to
		if i+1 < len(list) {
			to = list[i+1].before + 1
		}
		s.benign = s.label < 0 && (d <= 3*cadence || lay.saysAgain(t, times, s.before+1, s.data, to))
	}
	return list
}

type between uint8

const (
	nothingBetween between = iota // part of the table: a row whose time is broken, a date for the rows below
	pauseBetween                  // blank, or the heading again
	labelBetween                  // words
)

// between tells what a row without a time is.
func (lay *layout) between(t *table, r int) between {
	g := &lay.g
	switch {
	case t.empty(r), g.heading >= 0 && sameRow(t, g.heading, r), lay.repeatsAbove(t, r):
		return pauseBetween
	case g.when.date >= 0 && t.kind(r, g.when.date) == day && t.kind(r, g.when.col) == blank:
		return nothingBetween
	}
	words, others := 0, 0
	for i := t.first[r]; i < t.first[r+1]; i++ {
		switch t.kinds[i] {
		case blank:
		case word:
			words++
		default:
			others++
		}
	}
	s := t.cell(r, g.when.col)
	if others > 0 && (s == "" || strings.ContainsAny(s, "0123456789")) {
		return nothingBetween // a row whose time cannot be read
	}
	if words+others == 0 {
		return pauseBetween
	}
	return labelBetween
}

// repeatsAbove reports whether a row is one of those above the table again.
func (lay *layout) repeatsAbove(t *table, r int) bool {
	for above := range lay.g.from {
		if !t.empty(above) && sameRow(t, above, r) {
			return true
		}
	}
	return false
}

// usualCadence is the commonest step between rows, in seconds.
func usualCadence(times []rowTime) int64 {
	var steps stepCount
	n, last := 0, int64(-1)
	for _, rt := range times {
		if !rt.ok {
			continue
		}
		if d := abs(rt.secs - last); last >= 0 && d > 0 {
			steps.add(d)
			n++
		}
		last = rt.secs
	}
	if n == 0 {
		return 0
	}
	return steps.quantile(n / 2)
}

// saysAgain reports whether rows say what earlier ones said: three times or
// more in common, and the same glucose on nearly all of them.
func (lay *layout) saysAgain(t *table, times []rowTime, end, data, to int) bool {
	said := make(map[int64]string)
	for r := lay.g.from; r < end; r++ {
		if rt := times[r-lay.g.from]; rt.ok {
			said[rt.secs] = t.cell(r, lay.auto)
		}
	}
	same, differ := 0, 0
	for r := data; r < to; r++ {
		if rt := times[r-lay.g.from]; rt.ok {
			if was, known := said[rt.secs]; known && was == t.cell(r, lay.auto) {
				same++
			} else if known {
				differ++
			}
		}
	}
	return same >= 3 && float64(same) >= agreement*float64(same+differ)
}

// readBlocks reads each block as a table of its own.
func (l *ledger) readBlocks(t *table, lay *layout, list []seam, as string, o Options, now int64, res *Result) *wear.Refusal {
	bounds := []int{0}
	for _, s := range list {
		bounds = append(bounds, s.row)
	}
	bounds = append(bounds, t.rows())
	main := t.rowsWhere(func(r int) bool { return r < bounds[1] })
	if as == holdsAside {
		if ref := l.readTable(main, o, now, res); ref != nil {
			return ref
		}
		for r := bounds[1]; r < t.rows(); r++ {
			l.markRow(t, r, placeBelow, wear.FateAside, "a person said that it is something else")
		}
		return nil
	}
	biggest := 0 // the sensor's, where the others are a meter's
	for i := range len(bounds) - 1 {
		if bounds[i+1]-bounds[i] > bounds[biggest+1]-bounds[biggest] {
			biggest = i
		}
	}
	var people []Person
	var hints []string
	for i := range len(bounds) - 1 {
		part := main
		if i > 0 {
			part = lay.block(t, bounds[i], bounds[i+1], list[i-1])
		}
		own := &Result{}
		made := len(l.decisions)
		l.loose = as == holdsFinger && i != biggest
		if i > 0 && list[i-1].label >= 0 {
			l.label = t.show(list[i-1].label)
		}
		ref := l.readTable(part, o, now, own)
		l.loose, l.label = false, ""
		l.decisions = slices.Clip(append(l.decisions[:made:made], news(l.decisions[:made], l.decisions[made:])...))
		if ref != nil && ref.Code != codeNoReadings {
			return ref
		}
		name := own.PatientHint
		if i > 0 && name == "" && list[i-1].label >= 0 {
			name = t.cell(list[i-1].label, 0)
		}
		hints = append(hints, name)
		known := func(name string) bool {
			return name == "" || slices.ContainsFunc(people, func(p Person) bool { return p.Hint == name })
		}
		if known(name) {
			if name = t.within(bounds[i]); i > 0 {
				name = t.within(list[i-1].data)
			}
		}
		if known(name) {
			name = fmt.Sprintf("rows from line %d on", t.line[bounds[i]])
		}
		people = append(people, Person{Hint: name, Readings: own.Readings, Events: own.Events})
		if i == biggest {
			res.Unit = own.Unit
		}
		res.Rows += own.Rows
		res.Skipped += own.Skipped
		res.Ignored = append(res.Ignored, own.Ignored...)
	}
	res.Ignored = res.Ignored[:min(len(res.Ignored), maxListed)]
	if as == holdsPeople {
		res.People = people
		return nil
	}
	res.Readings, res.Events, res.PatientHint = people[biggest].Readings, people[biggest].Events, hints[biggest]
	for i, p := range people {
		if i == biggest {
			continue
		}
		for _, r := range p.Readings {
			r.Mark = 0
			res.Events = append(res.Events, wear.Event{At: r.At, Kind: wear.Fingerstick, Value: r})
		}
		res.Events = append(res.Events, p.Events...)
		l.account.turn(len(p.Readings))
	}
	return nil
}

// block gives the rows of one block, with a heading above them.
func (lay *layout) block(t *table, from, to int, s seam) *table {
	own := &table{text: t.text, delim: t.delim, whole: true, first: []int32{0}, parent: t}
	headed := false
	for r := from; r < s.data; r++ {
		_, words := lay.g.headingLike(t, r)
		headed = headed || words
	}
	for r := from; r < to; r++ {
		if r == s.data && !headed && lay.g.heading >= 0 {
			own.take(t, lay.g.heading)
		}
		own.take(t, r)
	}
	return own
}

// turn makes cells of columns that were readings ones of events.
func (a *accounts) turn(cells int) {
	for i := len(a.lines) - 1; i >= 0 && cells > 0; i-- {
		l := &a.lines[i]
		if l.fate != wear.FateReading || l.place < 0 {
			continue
		}
		n := min(cells, l.cells)
		place := l.place
		l.cells -= n
		cells -= n
		a.add(place, wear.FateEvent, "", n)
	}
}

// outside asks about readings above the table and about much that stands below
// it, which may be another person's or another instrument's.
func (l *ledger) outside(t *table, lay *layout) *wear.Refusal {
	g := &lay.g
	above, below := 0, 0
	for r := range t.rows() {
		switch {
		case r < g.from && r != g.heading && t.typed(r) && t.hasNumber(r):
			above++
		case r >= g.to && !t.empty(r):
			if below++; t.typed(r) && t.hasNumber(r) {
				below += maxStrays
			}
		}
	}
	if above >= maxStrays/2+1 {
		if l.askOutside("above", t.samples(func(r int) bool { return r < g.from && t.typed(r) })) == "stop" {
			return setAside()
		}
	}
	if below > maxStrays {
		if l.askOutside("below", t.samples(func(r int) bool { return r >= g.to && !t.empty(r) })) == "stop" {
			return setAside()
		}
	}
	return nil
}

func (l *ledger) askOutside(where string, rows []string) string {
	return l.askOnce(where, fmt.Sprintf("Lines that may be readings stand %s the table. May they be left out?", where),
		wear.Choice{Value: "leave_out", Text: "Yes: they are totals, remarks or settings", Effect: "only the table is filed", Rows: rows},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file is set aside; nothing of it is filed", Rows: rows})
}
