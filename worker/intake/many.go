package intake

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"wearround/worker/wear"
)

// fewestNumbers is how many rows of numbers a part without times may have before
// somebody must say what it is: a summary has fewer.
const fewestNumbers = 24

// numberRows counts the rows with a number.
func (t *table) numberRows() (n int) {
	for r := range t.rows() {
		if t.hasNumber(r) {
			n++
		}
	}
	return n
}

// sheet is one of several tables of a file: of a workbook, a page, an archive.
type sheet struct {
	name    string
	holders []string // the names of what it lies in, from the outermost
	packed  bool     // its own name is that of a file
	place   string   // where it stands, for one without a name
	t       *table
}

// dated writes the date that a table is called by into its rows, where these have a
// clock time alone.
func (s *sheet) dated() {
	date := ""
	for _, name := range s.holders {
		if d, _ := dateInName(name); d != "" {
			date = d
		}
	}
	if date == "" {
		return
	}
	clocks := 0
	for r := range s.t.rows() {
		for c := range s.t.width(r) {
			switch s.t.kind(r, c) {
			case moment, day, epoch:
				return
			case clock:
				clocks++
			}
		}
	}
	if clocks*2 < s.t.rows() {
		return
	}
	var b tableBuilder
	for r := range s.t.rows() {
		timed := slices.Contains(s.t.kinds[s.t.first[r]:s.t.first[r+1]], clock)
		switch {
		case timed:
			b.cell(date)
		case r+1 < s.t.rows() && slices.Contains(s.t.kinds[s.t.first[r+1]:s.t.first[r+2]], clock) && s.t.allWords(r):
			b.cell("date")
		default:
			b.cell("")
		}
		for c := range s.t.width(r) {
			b.copy(s.t, r, c)
		}
		b.end(s.t.line[r])
	}
	s.t = b.table()
}

// dateInName finds the one date in a name of words and gives what else it says.
func dateInName(name string) (date, rest string) {
	words := strings.FieldsFunc(name, func(r rune) bool { return r == ' ' || r == '_' || r == ',' || r == '(' || r == ')' })
	for n := min(len(words), 4); n > 0; n-- { // "Monday 2 March 2026" is one
		for i := 0; i+n <= len(words); i++ {
			w, ok := timeIn(strings.Join(words[i:i+n], " "))
			if !ok || w.clock != "" || slices.ContainsFunc(w.words, func(s string) bool { return !weekdayWords()[plain(s)] }) {
				continue
			}
			if st, ok := parseStamp(w.date); ok && st.form != noDate {
				return w.date, strings.Join(slices.Concat(words[:i], words[i+n:]), " ")
			}
		}
	}
	return "", name
}

// who is what a table or the names of what it lies in say of whose it is, beside the
// date that they may hold; "" for nothing.
func (s *sheet) who() string {
	own := []string{s.t.names()}
	for _, name := range s.holders {
		if _, rest := dateInName(name); senseOfHolder(rest, holderWords) != holderPlain {
			own = append(own, rest)
		}
	}
	if s.packed && senseOfHolder(s.name, holderWords) != holderPlain {
		own = append(own, s.name)
	}
	return strings.TrimSpace(strings.Join(own, " "))
}

// byPerson joins the tables of one arrangement of which all that is said of whose
// they are is the same, such as one for each day.
func byPerson(list []sheet, root *table) (joined []sheet) {
	var who []string
	parts := make(map[string][]sheet)
	for _, s := range list {
		key := strings.ToLower(s.who())
		if parts[key] == nil {
			who = append(who, key)
		}
		parts[key] = append(parts[key], s)
	}
	for _, key := range who {
		s := parts[key][0]
		n := len(parts[key])
		if n > 1 {
			s.name = fmt.Sprintf("%s and %d more", s.called(), n-1)
			s.t = joinedTable(parts[key], root)
		}
		if key != "" {
			s.name = parts[key][0].who()
		}
		s.holders = nil
		s.t.title = s.name
		joined = append(joined, s)
	}
	return joined
}

// together puts tables one below the other, so that the account of the file is
// of one table. ranges are the rows of each.
func together(list []sheet) (root *table, ranges [][2]int) {
	var b tableBuilder
	for i, s := range list {
		from := len(b.t.line)
		if len(list) > 1 {
			b.t.tables = append(b.t.tables, named{int32(len(b.t.cells)), cmp.Or(s.called(), s.place, fmt.Sprintf("table %d", i+1))})
		}
		for r := range s.t.rows() {
			for c := range s.t.width(r) {
				b.copy(s.t, r, c)
			}
			b.end(s.t.line[r])
		}
		ranges = append(ranges, [2]int{from, len(b.t.line)})
	}
	if root = b.table(); root != nil {
		root.unitsOf = nil
	}
	return root, ranges
}

// readMany reads a file of several tables. Tables of the same arrangement are
// read as one that begins anew, so that only readings that go on are joined
// without asking, and only where nothing says that they are of several people.
// Of others a person must say what they are.
func (l *ledger) readMany(list []sheet, o Options, now int64, res *Result) *wear.Refusal {
	list = l.apart(list)
	for i := range list {
		list[i].dated()
	}
	root, ranges := together(list)
	if root == nil {
		return refuseEmpty()
	}
	l.hearPins(root)
	var timed []sheet
	var untimed, rows []string
	for i, s := range list {
		part := root.rowsWhere(func(r int) bool { return r >= ranges[i][0] && r < ranges[i][1] })
		part.title = s.name
		if t := l.tidy(part); t.score() > 0 || t.headingOnly() {
			t.title = s.name
			s.t = t
			timed = append(timed, s)
			continue
		}
		if part.numberRows() >= fewestNumbers {
			untimed, rows = append(untimed, cmp.Or(s.called(), s.place, fmt.Sprintf("table %d", i+1))), append(rows, part.samples(part.hasNumber)...)
		}
		l.hearTitles(s.holders)
		for r := ranges[i][0]; r < ranges[i][1]; r++ {
			l.beside = append(l.beside, aside{t: root, row: r})
		}
	}
	if len(timed) > 0 && len(untimed) > 0 {
		switch l.askOnce("untimed", fmt.Sprintf("The file also holds %s, with many rows of numbers and no time that can be read. May that be left out?", listed(untimed)),
			wear.Choice{Value: holdsAside, Text: "Yes: they are no readings and nothing that the wearer measured", Effect: "the rest is read", Rows: rows[:min(len(rows), maxSamples)]},
			wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file is set aside; nothing of it is filed"}) {
		case "stop":
			return setAside()
		case "":
			return nil // what else is open depends on it
		}
	}
	switch {
	case len(timed) == 0:
		return refuseNoTable(root.lines())
	case len(timed) == 1:
		if timed[0].t.score() == 0 {
			return refuseNoReadings()
		}
		l.hearHolders(timed[0].holders)
		return l.readOne(timed[0].t, o, now, res)
	}
	timed = slices.DeleteFunc(timed, func(s sheet) bool { return s.t.score() == 0 })
	if len(timed) == 0 {
		return refuseNoReadings()
	}
	switch {
	case !sameArrangement(timed):
		return l.chooseSheet(timed, l.ask, o, now, res)
	case samePerson(timed):
		return l.readJoined(timed, root, o, now, res)
	}
	// What was so of an earlier file says nothing of who is in this one.
	return l.chooseSheet(byPerson(timed, root), l.askOnce, o, now, res)
}

// hearPins counts what is pinned to cells. What is pinned to a row without figures,
// such as a heading, or to many cells is said of the table, and so is a bare time or
// number.
func (l *ledger) hearPins(root *table) {
	times := make(map[string]int)
	for _, text := range root.pins {
		times[text]++
	}
	for i, text := range root.pins {
		w, timed := timeIn(text)
		row, _ := slices.BinarySearch(root.first, i+1)
		switch n := times[text]; {
		case text == root.at(root.cells[i]):
			delete(root.pins, i)
		case n > mostSaid || !root.hasNumber(row-1) && !root.typed(row-1) || timed && len(w.words) == 0 || kindOf(text) != word:
			if delete(root.pins, i); !slices.ContainsFunc(l.beside, func(a aside) bool { return a.t == nil && a.text == text }) {
				l.account.before++
				l.beside = append(l.beside, aside{text: text})
			}
		}
	}
	l.account.before += len(root.pins)
}

// pinned gives what is pinned to the cells of a row, once. A column of another
// person keeps what is pinned to it.
func (t *table) pinned(r int) (texts []string) {
	root := t.root()
	if len(root.pins) == 0 {
		return nil
	}
	for i := t.first[r]; i < t.first[r+1]; i++ {
		if at := t.inRoot(i); root.pins[at] != "" && (t.kinds[i] != blank || root.kinds[at] == blank) {
			texts = append(texts, root.pins[at])
			delete(root.pins, at)
		}
	}
	return texts
}

// readJoined reads tables of the same arrangement as one that begins anew.
func (l *ledger) readJoined(list []sheet, root *table, o Options, now int64, res *Result) *wear.Refusal {
	return l.readOne(joinedTable(list, root), o, now, res)
}

func joinedTable(list []sheet, root *table) *table {
	whole := &table{whole: true, first: []int32{0}, parent: root, title: list[0].name, delim: list[0].t.delim}
	for _, s := range list {
		whole.append(s.t)
	}
	return whole
}

// samePerson reports whether nothing says that the tables are of several people
// or matters: what they lie in has plain names, and all name the same person, or
// none names one and their files have plain names too. Any other name may be a
// person's.
func samePerson(list []sheet) bool {
	who, named := "", 0
	ordinary := true
	for _, s := range list {
		if own := s.t.names(); own != "" {
			if named++; who != "" && !strings.EqualFold(own, who) {
				return false
			}
			who = own
		}
		for _, name := range s.holders {
			if senseOfHolder(name, holderWords) != holderPlain {
				return false
			}
		}
		ordinary = ordinary && (!s.packed || senseOfHolder(s.name, holderWords) == holderPlain)
	}
	return named == len(list) || named == 0 && ordinary
}

// noDigit takes the numbers out of a name, so that "part1" is "part".
func noDigit(r rune) rune {
	if unicode.IsDigit(r) {
		return ' '
	}
	return r
}

// names gives the one person whom a table names, by a line or a column.
func (t *table) names() string {
	heading := -1
	for r := range t.rows() {
		if t.typed(r) {
			for c := range t.width(r) {
				if heading >= 0 && c < t.width(heading) && roleOf(t.cell(heading, c)) == rolePerson {
					return t.cell(r, c)
				}
			}
			break
		}
		if named := personsIn(t.sayingsOf(r)); len(named) > 0 {
			return named[0].value
		}
		heading = r
	}
	return ""
}

// hearTitles keeps the names of what a part without times lies in, which say what
// it is about.
func (l *ledger) hearTitles(names []string) {
	for _, name := range names {
		if senseOfHolder(name, personHolders) != holderPlain && !slices.ContainsFunc(l.beside, func(a aside) bool { return a.t == nil && a.text == name }) {
			l.account.before++
			l.beside = append(l.beside, aside{text: name})
		}
	}
}

// append adds the rows of another part of the same file.
func (t *table) append(part *table) {
	shift := int32(len(t.text))
	t.text += part.text
	for i, s := range part.cells {
		if s.end < 0 {
			s.end = ^(^s.end + shift)
		} else {
			s.end += shift
		}
		s.start += shift
		at := int32(i)
		if part.origin != nil {
			at = part.origin[i]
		}
		t.cells, t.kinds, t.origin = append(t.cells, s), append(t.kinds, part.kinds[i]), append(t.origin, at)
	}
	base := t.first[len(t.first)-1]
	for r := range part.rows() {
		t.first, t.line = append(t.first, base+part.first[r+1]), append(t.line, part.line[r])
	}
}

// readOne reads one table of a file and closes the account.
func (l *ledger) readOne(t *table, o Options, now int64, res *Result) *wear.Refusal {
	var known Recipe
	if head, ok := sketchOfTable(t); ok {
		known = l.recall(&head, o, res)
	}
	return l.readKnown(t, known, o, now, res)
}

// sameArrangement reports whether all tables have the same heading.
func sameArrangement(list []sheet) bool {
	first, ok := sketchOfTable(list[0].t)
	if !ok || first.heading < 0 {
		return false
	}
	for _, s := range list[1:] {
		head, ok := sketchOfTable(s.t)
		if !ok || head.heading < 0 || head.width != first.width || head.layout != first.layout && !sameCellsOf(first.t, first.heading, head.t, head.heading) {
			return false
		}
	}
	return true
}

func sameCellsOf(a *table, ra int, b *table, rb int) bool {
	if a.width(ra) != b.width(rb) {
		return false
	}
	for c := range a.width(ra) {
		if a.cell(ra, c) != b.cell(rb, c) {
			return false
		}
	}
	return true
}

// chooseSheet asks which of several tables of different arrangement are for
// what.
func (l *ledger) chooseSheet(timed []sheet, ask func(code, text string, choices ...wear.Choice) string, o Options, now int64, res *Result) *wear.Refusal {
	var choices []wear.Choice
	most := 0
	for i, s := range timed {
		if s.t.typedRows() > timed[most].t.typedRows() {
			most = i
		}
		choices = append(choices, wear.Choice{Value: strconv.Itoa(i + 1), Text: fmt.Sprintf("only %d, %q", i+1, short(s.called())),
			Effect: fmt.Sprintf("%d rows with a time; the others are set aside", s.t.typedRows()), Rows: s.t.samples(s.t.typed)})
	}
	choices = append(choices,
		wear.Choice{Value: holdsFinger, Text: fmt.Sprintf("%q is the sensor's, the others are fingersticks of the same person", short(timed[most].called())), Effect: "the values of the others would be fingersticks to compare the sensor with"},
		wear.Choice{Value: "each", Text: fmt.Sprintf("%q is the sensor's; what each of the others holds is asked next", short(timed[most].called())), Effect: "fingersticks, words with their times, more readings, or nothing of the wear"},
		wear.Choice{Value: "same", Text: "all are readings of the same person and sensor", Effect: "all would be filed as one person's"},
		wear.Choice{Value: holdsPeople, Text: "each is another person", Effect: fmt.Sprintf("%d wears, each to be linked to its patient by a person", len(timed))})
	names := make([]string, len(timed))
	for i, s := range timed {
		names[i] = s.called()
	}
	if head, ok := sketchOfTable(timed[most].t); ok {
		// What a sheet is was said of one with its name.
		head.layout = hashLayout(head.layout, plain(strings.Map(noDigit, strings.Join(names, "\n"))))
		l.recall(&head, o, res)
	}
	answer := ask("sheet", fmt.Sprintf("The file holds %d tables with times (%s). What are they?", len(timed), listed(names)), choices...)
	if answer == "" || answer == noneOfThese.Value {
		return nil
	}
	if n, err := strconv.Atoi(answer); err == nil {
		for i, s := range timed {
			if i != n-1 {
				for r := range s.t.rows() {
					l.markRow(s.t, r, placeOther, wear.FateAside, "another table, set aside as somebody said")
				}
			}
		}
		return l.readOne(timed[n-1].t, o, now, res)
	}
	if answer == "same" && sameArrangement(timed) {
		return l.readJoined(timed, timed[0].t.root(), o, now, res)
	}
	timed[0], timed[most] = timed[most], timed[0]
	for i, s := range timed {
		own := &Result{}
		l.whole = region{}
		is := answer
		if answer == "each" && i > 0 {
			switch is = l.askPart(&s); is {
			case "":
				continue
			case "stop", noneOfThese.Value:
				return setAside()
			case holdsAside:
				for r := range s.t.rows() {
					l.markRow(s.t, r, placeOther, wear.FateAside, "another table, set aside as somebody said")
				}
				continue
			}
		}
		if is == holdsFinger && i > 0 && s.t.numberRows() == 0 {
			is = holdsNote // words are no fingersticks
		}
		l.loose = is == holdsFinger && i > 0
		made := len(l.decisions)
		var ref *wear.Refusal
		if is == holdsNote {
			ref = l.readDiary(s.t, o, now, own)
		} else {
			ref = l.readTable(s.t, o, now, own)
		}
		l.loose = false
		l.decisions = slices.Clip(append(l.decisions[:made:made], news(l.decisions[:made], l.decisions[made:])...))
		if ref != nil {
			return ref
		}
		if i == 0 {
			res.Unit = own.Unit
		}
		res.Rows, res.Skipped, res.Ignored = res.Rows+own.Rows, res.Skipped+own.Skipped, append(res.Ignored, own.Ignored...)
		switch {
		case answer == holdsPeople:
			res.People = append(res.People, Person{Hint: s.called(), Readings: own.Readings, Events: own.Events})
		case is == holdsFinger && i > 0:
			for _, r := range own.Readings {
				r.Mark = 0
				res.Events = append(res.Events, wear.Event{At: r.At, Kind: wear.Fingerstick, Value: r})
			}
			res.Events = append(res.Events, own.Events...)
			l.account.turn(len(own.Readings))
		default:
			res.Readings, res.Events = append(res.Readings, own.Readings...), append(res.Events, own.Events...)
		}
	}
	res.Ignored = res.Ignored[:min(len(res.Ignored), maxListed)]
	return l.settle(timed[0].t, res)
}

// askPart asks what one of several tables holds beside the sensor's.
func (l *ledger) askPart(s *sheet) string {
	rows := s.t.samples(s.t.typed)
	return l.ask("part:"+plain(strings.Map(noDigit, s.called())), fmt.Sprintf("What does %q hold? It has %d rows with a time.", short(s.called()), s.t.typedRows()),
		wear.Choice{Value: holdsFinger, Text: "fingersticks of the same person", Effect: "its values would be fingersticks to compare the sensor with", Rows: rows},
		wear.Choice{Value: holdsNote, Text: "what the wearer wrote down", Effect: "each row would be words with its time, for a person to read", Rows: rows},
		wear.Choice{Value: "same", Text: "more readings of the same sensor", Effect: "they would be filed with the others", Rows: rows},
		wear.Choice{Value: holdsAside, Text: "something that says nothing of the wear", Effect: "it would be set aside", Rows: rows},
		wear.Choice{Value: "stop", Text: "something else, or not known", Effect: "the file is set aside; nothing of it is filed", Rows: rows})
}

// readDiary reads a table without readings: each row is words with its time.
func (l *ledger) readDiary(t *table, o Options, now int64, res *Result) *wear.Refusal {
	g, ref := l.findRegion(t, now)
	if ref != nil {
		return ref
	}
	times, _, ref := l.times(t, &g, now)
	if ref != nil {
		return ref
	}
	l.localise(times, o.Zone)
	h := &harvest{tally: newTally(l, o, res), t: t, lay: &layout{g: g}}
	for r := range t.rows() {
		if g.isHeading(t, r) || t.empty(r) {
			l.markRow(t, r, placeOther, wear.FateFact, "the heading")
			continue
		}
		res.Rows++
		in := r >= g.from && r < g.to
		timed := in && times[r-g.from].ok && !times[r-g.from].dropped
		var texts []string
		for c := range t.width(r) {
			s := t.cell(r, c)
			if s == "" || timed && (c == g.when.col || c == g.when.date) {
				continue
			}
			if k := t.kind(r, c); k != word && g.heading >= 0 && t.cell(g.heading, c) != "" {
				s = t.cell(g.heading, c) + ": " + s
			}
			texts = append(texts, s)
		}
		text := strings.Join(texts, "; ")
		if !timed {
			if root := t.root(); t.inRoot(t.first[r]) >= 0 { // told once all is read
				if root.pins == nil {
					root.pins = make(map[int32]string)
				}
				root.pins[t.inRoot(t.first[r])] = text
				l.account.before++
			}
			l.markRow(t, r, placeOther, wear.FateEvent, keptAsWords)
			continue
		}
		l.mark(t, r, g.when.col, wear.FateTime, "the time of the row")
		if g.when.date >= 0 {
			l.mark(t, r, g.when.date, wear.FateTime, "the time of the row")
		}
		if text != "" {
			h.noteOrSymptom(times[r-g.from].secs, text)
			l.markRow(t, r, placeOther, wear.FateEvent, "words of the wearer with their time")
		}
	}
	return nil
}
