package intake

import (
	"fmt"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// maxPeople is the most people that one file is split into.
const maxPeople = 50

// askPeople asks whether the people that a file seems to hold are different
// ones. names are as the file has them; rows show a row of each.
func (l *ledger) askPeople(names, rows []string) string {
	return l.ask("people", fmt.Sprintf("The file seems to hold %d different people (%s). Does it?", len(names), listed(names)),
		wear.Choice{Value: "split", Text: "Yes, split it", Rows: rows,
			Effect: fmt.Sprintf("%d wears, each to be linked to its patient by a person", len(names))},
		wear.Choice{Value: "one", Text: "No, it is all one person", Effect: "all rows would be filed as one person's"},
		wear.Choice{Value: "stop", Text: "Not known", Effect: "the file stays out; export each person alone"})
}

// listed names the first few, as in "A, B and 3 more".
func listed(names []string) string {
	const shown = 3
	text := ""
	for i, n := range names {
		switch {
		case n == "":
			n = "no name"
		default:
			n = short(n)
		}
		if i == shown {
			return fmt.Sprintf("%s and %d more", text, len(names)-shown)
		}
		if i > 0 {
			text += ", "
		}
		text += n
	}
	return text
}

// share gives the readings of a file of health records to the one person, or
// to several once somebody has said that they are.
func (d *documents) share(people []Person) *wear.Refusal {
	if len(people) > 1 {
		names := make([]string, len(people))
		for i, p := range people {
			names[i] = p.Hint
		}
		switch d.askPeople(names, nil) {
		case "one":
		case "stop":
			return refuseSeveralPeople()
		default: // while it is open too, so that the questions of each come with it
			return d.split(people)
		}
		for _, p := range people[1:] {
			people[0].Readings = append(people[0].Readings, p.Readings...)
			people[0].Events = append(people[0].Events, p.Events...)
		}
		people[0].Hint = ""
	}
	if len(people) == 0 {
		return d.nothing()
	}
	d.res.PatientHint, d.res.Readings, d.res.Events = people[0].Hint, people[0].Readings, people[0].Events
	if len(d.res.Readings) == 0 {
		return d.nothing()
	}
	return d.believable()
}

// split judges each person's readings alone.
func (d *documents) split(people []Person) *wear.Refusal {
	if len(people) >= maxPeople {
		return refuseSeveralPeople()
	}
	readings := 0
	for _, p := range people {
		readings += len(p.Readings)
		if len(p.Readings) == 0 {
			continue
		}
		own := d.tally
		own.res = &Result{Readings: p.Readings}
		if ref := own.believable(); ref != nil {
			return ref
		}
	}
	if readings == 0 {
		return d.nothing()
	}
	d.res.People = people
	return nil
}

// personsIn picks the sayings that name the person of the file, by a code or a
// name.
func personsIn(list []saying) (named []saying) {
	for _, s := range list {
		key := strings.TrimRight(s.key, ": ")
		if (roleOf(key) == rolePerson || plain(key) == "code") && whoWords.understands(key) && (codeLike(s.value) || nameLike(s.value)) {
			named = append(named, saying{key, s.value})
		}
	}
	return named
}

// onePerson gives the one person whom a file names in several places: a code
// rather than a name. Two that cannot be the same are asked about.
func (l *ledger) onePerson(named []saying) string {
	first := named[0]
	for _, s := range named[1:] {
		if strings.EqualFold(s.value, first.value) {
			continue
		}
		if s.key != holderKey && s.key != packedKey && plain(s.key) != plain(first.key) && (!codeLike(s.value) || shapeOf(s.value) != shapeOf(first.value)) {
			if codeLike(s.value) && !codeLike(first.value) {
				first = s
			}
			continue // a name and a code, a first and a family name, two sorts of code
		}
		given := l.askOnce("people_named", fmt.Sprintf("The file names two people, %q and %q. Whose are its readings?", short(first.value), short(s.value)),
			wear.Choice{Value: "first", Text: short(first.value), Effect: "all readings would be this person's"},
			wear.Choice{Value: "second", Text: short(s.value), Effect: "all readings would be this person's"},
			wear.Choice{Value: "stop", Text: "both, or not known", Effect: "the file is set aside; nothing of it is filed"})
		switch given {
		case "second":
			return s.value
		case "stop":
			l.aside = true
		}
		return first.value
	}
	return first.value
}

// splitTable reads the rows of each person as a table of their own.
func (l *ledger) splitTable(t *table, lay *layout, by int, o Options, now int64, res *Result) *wear.Refusal {
	values, who := lay.namesIn(t, by), lay.whoIs(t, by)
	timed := func(r int) bool { return r < lay.g.to && lay.g.when.has(t, r) }
	for _, name := range values {
		own := &Result{}
		made := len(l.decisions)
		ref := l.readTable(t.rowsWhere(func(r int) bool {
			return r < lay.g.from || who[r-lay.g.from] == name && (name != "" || timed(r))
		}), o, now, own)
		l.decisions = slices.Clip(append(l.decisions[:made:made], news(l.decisions[:made], l.decisions[made:])...))
		if ref != nil && ref.Code != codeNoReadings {
			ref.Text = fmt.Sprintf("The rows of %q: %s", short(name), ref.Text)
			return ref
		}
		res.People = append(res.People, Person{Hint: name, Readings: own.Readings, Events: own.Events})
		res.Unit = own.Unit
		res.Rows += own.Rows
		res.Skipped += own.Skipped
		res.Ignored = append(res.Ignored, own.Ignored...)
	}
	c, said := newTally(l, o, res), &facts{}
	for r := lay.g.from; r < t.rows(); r++ {
		if name := who[r-lay.g.from]; !t.empty(r) && (!slices.Contains(values, name) || name == "" && !timed(r)) {
			c.res.Rows++
			c.leaveOut(int(t.line[r]), "names nobody")
			if lay.g.heading >= 0 && sameRow(t, lay.g.heading, r) {
				l.markRow(t, r, placeBetween, wear.FateRepeat, "the heading again")
				continue
			}
			l.markRow(t, r, placeBetween, wear.FateEvent, "names nobody, so it is kept as words of each")
			said.keep(t.written(r))
		}
	}
	for i := range res.People {
		p := &res.People[i]
		own := &facts{readings: p.Readings, words: said.words}
		p.Events = own.speak(p.Events)
	}
	if len(res.Ignored) > maxListed {
		res.Ignored = res.Ignored[:maxListed]
	}
	if len(l.questions) == 0 && !slices.ContainsFunc(res.People, func(p Person) bool { return len(p.Readings) > 0 }) {
		return refuseNoReadings()
	}
	return nil
}

// peopleByColumn lists the columns that somebody said are each another
// person's glucose.
func (l *ledger) peopleByColumn(lay *layout) (list []int) {
	for c := range lay.cols {
		if l.heldBy(c) == holdsPerson && lay.cols[c].filled > 0 && !lay.reserved[c] && c != lay.auto {
			list = append(list, c)
		}
	}
	return list
}

// splitColumns reads the glucose of each person as a table of their own: the
// columns of the others are left out of it.
func (l *ledger) splitColumns(t *table, lay *layout, others []int, o Options, now int64, res *Result) *wear.Refusal {
	all := append([]int{lay.auto}, others...)
	for _, c := range all {
		var hide []int
		for _, d := range all {
			if d != c {
				hide = append(hide, d)
			}
		}
		if c != lay.auto {
			hide = append(hide, lay.notes...) // what was logged is the first person's, if anybody's
		}
		own := &Result{}
		made := len(l.decisions)
		l.given = c
		ref := l.readTable(t.without(hide...), o, now, own)
		l.given = -1
		l.decisions = slices.Clip(append(l.decisions[:made:made], news(l.decisions[:made], l.decisions[made:])...))
		if ref != nil {
			return ref
		}
		name, _ := withoutUnit(lay.cols[c].heading)
		if name = strings.Trim(name, " ()[],;"); name == "" {
			name = fmt.Sprintf("column %d", c+1)
		}
		res.People = append(res.People, Person{Hint: name, Readings: own.Readings, Events: own.Events})
		res.Unit, res.Rows, res.Skipped, res.Ignored = own.Unit, own.Rows, own.Skipped, own.Ignored
	}
	return nil
}

// news are the decisions that were not made before.
func news(before, list []wear.Decision) (fresh []wear.Decision) {
	for _, d := range list {
		if !slices.ContainsFunc(before, func(b wear.Decision) bool { return b.Code == d.Code && b.Answer == d.Answer }) {
			fresh = append(fresh, d)
		}
	}
	return fresh
}

// rowsWhere gives the part of a table with some of its rows.
func (t *table) rowsWhere(keep func(row int) bool) *table {
	own := &table{text: t.text, delim: t.delim, whole: true, first: []int32{0}, parent: t, pieces: t.pieces}
	for r := range t.rows() {
		if keep(r) {
			own.take(t, r)
		}
	}
	return own
}

// take adds a row of the table that this one is a part of.
func (t *table) take(from *table, row int) {
	for i := from.first[row]; i < from.first[row+1]; i++ {
		at := i
		if from.origin != nil {
			at = from.origin[i]
		}
		t.origin = append(t.origin, at)
	}
	t.cells = append(t.cells, from.cells[from.first[row]:from.first[row+1]]...)
	t.kinds = append(t.kinds, from.kinds[from.first[row]:from.first[row+1]]...)
	t.first = append(t.first, int32(len(t.cells)))
	t.line = append(t.line, from.line[row])
}

// without gives the table with the cells of some columns blank.
func (t *table) without(cols ...int) *table {
	own := t.rowsWhere(func(int) bool { return true })
	for r := range own.rows() {
		for _, c := range cols {
			if c < own.width(r) {
				own.kinds[own.first[r]+int32(c)] = blank
				own.cells[own.first[r]+int32(c)] = span{}
			}
		}
	}
	return own
}
