package intake

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"wearround/worker/wear"
)

// part is what all cells of a column are, where that can be said of the column.
type part struct {
	fate wear.Fate
	why  string
}

// explain finds out what every filled column without a part is for: by its
// relation to time and glucose first, by its heading second, and otherwise by
// asking. A column is never left unexplained.
func (l *ledger) explain(t *table, lay *layout, times []rowTime) *wear.Refusal {
	if slices.ContainsFunc(l.questions, func(q wear.Question) bool { return q.Code == "glucose_column" || q.Code == "time_column" }) {
		return nil // what the other columns are depends on it
	}
	for c := range lay.cols {
		if lay.cols[c].filled == 0 || lay.hasRole(c) || lay.part[c].fate != "" || slices.Contains(lay.others, c) {
			continue
		}
		if lay.tellsOfEvents(t, c) {
			lay.notes = append(lay.notes, c)
			slices.Sort(lay.notes)
			continue
		}
		if lay.part[c] = l.partByValues(t, lay, times, c); lay.part[c].fate != "" {
			continue
		}
		if ref := l.askColumn(t, lay, c); ref != nil {
			return ref
		}
	}
	return nil
}

// hasRole reports whether a column is read cell by cell, or names the person.
func (lay *layout) hasRole(c int) bool {
	return lay.reserved[c] || c == lay.auto || c == lay.scan || c == lay.finger || c == lay.unit || c == lay.kind || c == lay.person || slices.Contains(lay.notes, c)
}

// settleRoles says what the cells of columns with a role are that are not read
// one by one.
func (lay *layout) settleRoles() {
	say := func(c int, fate wear.Fate, why string) {
		if c >= 0 {
			lay.part[c] = part{fate, why}
		}
	}
	say(lay.g.when.col, wear.FateTime, "the time of the row")
	say(lay.g.when.date, wear.FateTime, "the date of the row")
	say(lay.unit, wear.FateTime, "the unit of the row")
	say(lay.kind, wear.FateFact, "the kind of record that the row is")
	say(lay.person, wear.FateFact, "names the person")
	if c := lay.person; c >= 0 && len(lay.cols[c].distinct) == 1 && !codeLike(lay.cols[c].distinct[0]) && !nameLike(lay.cols[c].distinct[0]) {
		say(c, wear.FateFact, constantWhy) // "very unwell" names nobody
	}
}

// partByValues explains a column by its values, and by a heading that names
// another quantity. The zero part means that it needs a person.
func (l *ledger) partByValues(t *table, lay *layout, times []rowTime, c int) part {
	col := &lay.cols[c]
	rows := lay.timedRows()
	few := !col.many && col.n[decimal]+col.n[moment]+col.n[clock] == 0
	switch {
	case slices.Contains(l.clocks, c):
		return part{wear.FateAside, "the time by another clock, as somebody said"}
	case lay.constant(t, c) && col.filled*20 >= 19*rows:
		return part{wear.FateFact, constantWhy}
	case lay.sameCells(t, c, lay.g.when.col), lay.g.when.date >= 0 && lay.sameCells(t, c, lay.g.when.date):
		return part{wear.FateRepeat, "repeats the time"}
	case lay.sameCells(t, c, lay.auto):
		return part{wear.FateRepeat, "repeats the glucose value"}
	case lay.inOtherUnit(t, c):
		return part{wear.FateRepeat, "the glucose value in the other unit"}
	case col.n[integer]+col.n[epoch] == col.filled && (col.filled*20 >= 19*rows || counterWords.understands(col.heading)) && lay.rising(t, c):
		return part{wear.FateFact, "a running number"}
	case lay.ofCalendar(c) && lay.followsClock(t, times, c):
		return part{wear.FateRepeat, "follows from the time"}
	case few && lay.followsValue(t, c):
		return part{wear.FateRepeat, "follows from the glucose value"}
	case col.many && lay.identifiers(t, c):
		return part{wear.FateFact, "an identifier of its own on every row"}
	case col.said == roleOther && col.allNumbers() && technicalWords.understands(col.heading):
		return part{wear.FateAside, "its heading names something of the sensor"}
	case col.said == roleOther && col.allNumbers():
		return part{wear.FateEvent, quantityWhy}
	case col.said == roleOther && col.n[word] == col.filled && !lay.holds(t, c, unicode.IsLetter) && !lay.holds(t, c, unicode.IsDigit):
		return part{wear.FateAside, "marks, under a heading that names another quantity"}
	case lay.zoneBesideIs(c):
		return part{wear.FateTime, "the zone of the row"}
	}
	return part{}
}

// What all cells of a column are, where they are said once or summed up.
const (
	constantWhy = "the same on every row"
	quantityWhy = "another quantity, kept as words that a person reads"
)

// Words of headings that may be set aside, or whose values may follow the clock.
var (
	technicalWords = newVocabulary("battery batterie batteria bateria accu voltage volt v mv charge signal strength rssi dbm trend arrow rate slope delta change direction difference steps step count lux light ambient humidity hpa kpa barometric accel acceleration accelerometer x y z eda skin conductance calories kcal energy burned transmitter sensor device glucose of the per min limit target alarm low high") // nothing of the wearer's state
	counterWords   = newVocabulary("no nr number n id index row line record sequence seq count counter entry reading # lfd numero numéro número rij zeile ligne fila riga of the")
	calendarWords  = newVocabulary("day days date week weeks weekday month year hour hours minute quarter time of the in wear study number no nr name calendar tag wochentag woche monat jahr stunde datum jour semaine mois heure dia día semana mes hora giorno settimana mese ora dag weekdag maand uur dzień tydzień den týden")
)

// ofCalendar reports whether a column can be one of the calendar: its cells name
// weekdays, or are numbers under a heading that says so or none. What is of a
// person may come as regularly as a weekday.
func (lay *layout) ofCalendar(c int) bool {
	col := &lay.cols[c]
	if col.n[word] == col.filled && !col.many && len(col.distinct) > 0 {
		return !slices.ContainsFunc(col.distinct, func(s string) bool { return !weekdayWords()[plain(s)] })
	}
	return col.n[integer] == col.filled && col.filled*20 >= 19*lay.timedRows() && calendarWords.understands(col.heading)
}

// tellsOfEvents reports whether the words of a column stand only on rows that
// say of themselves that they are an event, and so are that event's.
func (lay *layout) tellsOfEvents(t *table, c int) bool {
	if lay.cols[c].n[word]*2 <= lay.cols[c].filled || lay.cols[c].said != roleUnknown {
		return false
	}
	for r := lay.g.from; r < lay.g.to; r++ {
		if t.kind(r, c) == blank || !lay.g.when.has(t, r) {
			continue
		}
		named := lay.kind >= 0 && eventKinds[lay.kinds[t.cell(r, lay.kind)]] != ""
		for _, d := range lay.notes {
			named = named || lay.cols[d].said == roleEvent && bareKind(t.cell(r, d)) != roleUnknown
		}
		if !named {
			return false
		}
	}
	return true
}

// holds reports whether a cell of a column has a letter, or whatever is asked for.
func (lay *layout) holds(t *table, c int, what func(rune) bool) bool {
	for r := lay.g.from; r < lay.g.to; r++ {
		if strings.ContainsFunc(t.cell(r, c), what) {
			return true
		}
	}
	return false
}

func (c *column) numeric() bool { return c.allNumbers() && (c.many || c.n[decimal] > 0) }

func (c *column) allNumbers() bool {
	return c.n[integer]+c.n[decimal]+c.n[odd]+c.n[limit]+c.n[epoch] == c.filled
}

// timedRows is how many rows have a time.
func (lay *layout) timedRows() int { return lay.cols[lay.g.when.col].n[lay.g.when.kind] }

func (lay *layout) constant(t *table, c int) bool { return lay.same(t, c) == watchSame }

// sameCells reports whether a column has the text of another on every row.
func (lay *layout) sameCells(t *table, c, other int) bool {
	for r := lay.g.from; r < lay.g.to; r++ {
		if s := t.cell(r, c); lay.g.when.has(t, r) && s != "" && s != t.cell(r, other) {
			return false
		}
	}
	return true
}

// inOtherUnit reports whether a column holds the glucose value in the other unit.
func (lay *layout) inOtherUnit(t *table, c int) bool {
	col := &lay.cols[c]
	if col.n[integer]+col.n[decimal] < col.filled*9/10 {
		return false
	}
	both, mirrored := lay.compare(t, lay.auto, c)
	return both > 10 && both >= (col.n[integer]+col.n[decimal])*9/10 && mirrored*100 >= 98*both
}

// rising reports whether the whole numbers of a column only rise, or only fall,
// with the rows, by steps that are mostly the same.
func (lay *layout) rising(t *table, c int) bool {
	var last, n int64
	up, down, usual := 0, 0, make(map[int64]int)
	for r := lay.g.from; r < lay.g.to; r++ {
		v, err := strconv.ParseInt(t.cell(r, c), 10, 64)
		if err != nil {
			if t.kind(r, c) == blank {
				continue
			}
			return false
		}
		if n++; n > 1 {
			if v > last {
				up++
			} else if v < last {
				down++
			} else {
				return false
			}
			if len(usual) < maxSteps {
				usual[v-last]++
			}
		}
		last = v
	}
	most := 0
	for _, k := range usual {
		most = max(most, k)
	}
	return n > 3 && (up == 0 || down == 0) && most*10 >= 8*int(n-1)
}

// followsClock reports whether the cells of a column come from the time alone:
// a name for each weekday or hour, or a number that counts the days or weeks.
// Days in a row with one value each are not enough: that may be a person each.
func (lay *layout) followsClock(t *table, times []rowTime, c int) bool {
	const week = 7 * 86400
	if len(times) < 2 {
		return false
	}
	var first, last int64 = 1 << 62, 0
	for i := range times {
		if times[i].ok {
			first, last = min(first, times[i].secs), max(last, times[i].secs)
		}
	}
	by := func(key func(secs int64) int64) (groups, values int, ok bool) {
		said := make(map[int64]string)
		seen := make(map[string]bool)
		for i := range times {
			r := lay.g.from + i
			if !times[i].ok || t.kind(r, c) == blank {
				continue
			}
			k, s := key(times[i].secs), t.cell(r, c)
			if was, known := said[k]; known && was != s {
				return 0, 0, false
			}
			said[k], seen[s] = s, true
		}
		return len(said), len(seen), true
	}
	if last-first >= week+86400 {
		if groups, values, ok := by(func(s int64) int64 { return s / 86400 % 7 }); ok && groups == 7 && values > 1 {
			return true
		}
	}
	if last-first >= 2*86400 {
		if groups, values, ok := by(func(s int64) int64 { return s % 86400 / 3600 }); ok && groups > 12 && values > 1 {
			return true
		}
	}
	for _, count := range []int64{86400, week} {
		if lay.counts(t, times, c, count) {
			return true
		}
	}
	return false
}

// counts reports whether a column numbers the days, or the weeks, one by one.
func (lay *layout) counts(t *table, times []rowTime, c int, length int64) bool {
	if lay.cols[c].n[integer] != lay.cols[c].filled {
		return false
	}
	offset := make(map[int64]int64) // for each day, its number less the day's own
	var base, days int64
	for i := range times {
		r := lay.g.from + i
		if !times[i].ok || t.kind(r, c) == blank {
			continue
		}
		v, err := strconv.ParseInt(t.cell(r, c), 10, 64)
		if err != nil {
			return false
		}
		day := times[i].secs / 86400
		if length > 86400 { // the week may begin on any day
			if was, known := offset[day]; known && was != v {
				return false
			}
			offset[day] = v
			continue
		}
		if days++; days == 1 {
			base = v - day
		}
		if v-day != base {
			return false
		}
		offset[day] = v
	}
	if length == 86400 {
		return len(offset) > 2
	}
	ordered := make([]int64, 0, len(offset))
	for d := range offset {
		ordered = append(ordered, d)
	}
	slices.Sort(ordered)
	turn := int64(-1)
	for i := 1; i < len(ordered); i++ {
		switch offset[ordered[i]] - offset[ordered[i-1]] {
		case 0:
		case 1:
			if turn >= 0 && (ordered[i]-turn)%7 != 0 {
				return false
			}
			turn = ordered[i]
		default:
			return false
		}
	}
	return len(ordered) > 8 && turn >= 0
}

// followsValue reports whether the cells of a column only say in which range
// the glucose value lies: the ranges touch and do not overlap, and each word
// comes back. Two people, or two kinds of reading, do not share a range so.
func (lay *layout) followsValue(t *table, c int) bool {
	type span struct {
		low, high float64
		rows      int
	}
	spans := make(map[string]*span)
	var order []*span
	for r := lay.g.from; r < lay.g.to; r++ {
		if !lay.g.when.has(t, r) || !t.kind(r, lay.auto).number() {
			continue
		}
		num, scale, ok := parseNumber(t.cell(r, lay.auto))
		if !ok {
			continue
		}
		v, s := wear.Reading{Num: num, Scale: scale}.Native(), t.cell(r, c)
		p := spans[s]
		if p == nil {
			p = &span{v, v, 0}
			spans[s] = p
			order = append(order, p)
		}
		p.low, p.high = min(p.low, v), max(p.high, v)
		p.rows++
	}
	if len(order) < 2 || lay.cols[c].changes < 2*len(order) {
		return false
	}
	slices.SortFunc(order, func(a, b *span) int { return int(math.Copysign(1, a.low-b.low)) })
	for i, p := range order {
		if p.rows < 5 {
			return false
		}
		if i > 0 && (p.low <= order[i-1].high || p.low-order[i-1].high > 0.05*p.low) {
			return false
		}
	}
	return true
}

// identifiers reports whether every cell of a column is a word of its own
// without spaces, with digits in it.
func (lay *layout) identifiers(t *table, c int) bool {
	seen := make(map[string]bool)
	for r := lay.g.from; r < lay.g.to; r++ {
		s := t.cell(r, c)
		if s == "" || !lay.g.when.has(t, r) {
			continue
		}
		if seen[s] || strings.IndexByte(s, ' ') >= 0 || !strings.ContainsAny(s, "0123456789") || t.kind(r, c) != word && t.kind(r, c) != integer {
			return false
		}
		seen[s] = true
	}
	return len(seen) > 20 && lay.cols[c].n[word]*2 > lay.cols[c].filled
}

func (lay *layout) zoneBesideIs(c int) bool {
	h := lay.zoneBeside()
	return h.text != "" && h.values != nil && h.col == c
}

// What a person can say of a column.
const (
	holdsFinger   = "fingerstick"
	holdsPricked  = "fingerstick_time"
	holdsDemand   = "on_demand"
	holdsKind     = "kind"
	holdsPeople   = "people"
	holdsPerson   = "person"
	holdsAside    = "aside"
	holdsNote     = "note"
	holdsMeal     = "meal"
	holdsCarbs    = "carbs"
	holdsSymptom  = "symptom"
	holdsExercise = "exercise"
	holdsMedicine = "medicine"
	holdsSleep    = "sleep"
)

// holdsRoles are the roles that an answer gives to a column of events.
var holdsRoles = map[string]role{
	holdsNote: roleNote, holdsMeal: roleMeal, holdsCarbs: roleCarbs, holdsSymptom: roleSymptom,
	holdsExercise: roleExercise, holdsMedicine: roleMedicine, holdsSleep: roleSleep,
}

// holdsCode is the code of the question what a column holds.
func holdsCode(c int) string { return fmt.Sprintf("holds:%d", c+1) }

// heldBy is what is already answered about a column.
func (l *ledger) heldBy(c int) string {
	if a := l.answers[holdsCode(c)]; a != "" {
		return a
	}
	return l.recipe[holdsCode(c)]
}

// askColumn asks what an unexplained column holds, and gives it its part.
func (l *ledger) askColumn(t *table, lay *layout, c int) *wear.Refusal {
	rows := t.samples(func(r int) bool { return r >= lay.g.from && r < lay.g.to && t.kind(r, c) != blank })
	choices := lay.holdsChoices(t, c, rows)
	text := fmt.Sprintf("What does %s hold? It is filled on %d of %d rows, with %s.", lay.title(c), lay.cols[c].filled, lay.timedRows(), lay.values(t, c))
	answer := ""
	if lay.inBlocks(c) { // what was so of an earlier file says nothing of who is in this one
		answer = l.askOnce(holdsCode(c), text, choices...)
	} else {
		answer = l.ask(holdsCode(c), text, choices...)
	}
	switch answer {
	case "":
		lay.part[c] = part{wear.FateAside, "waits for an answer"}
	case holdsAside:
		lay.part[c] = part{wear.FateAside, "a person said that it says nothing of the wear"}
	case holdsFinger:
		if lay.finger >= 0 {
			return refuse("fingersticks", "Two columns of the file are said to hold fingersticks.", "Take one of the answers back.")
		}
		lay.finger = c
	case holdsPricked:
		lay.pricked = c
		lay.part[c] = part{wear.FateTime, "the time of the fingersticks, as a person said"}
	case holdsDemand:
		if lay.scan >= 0 {
			return refuse("on_demand", "Two columns of the file are said to hold readings taken on demand.", "Take one of the answers back.")
		}
		lay.scan = c
	case "stop":
		return setAside()
	default:
		if r, ok := holdsRoles[answer]; ok {
			lay.cols[c].said = r
			lay.notes = append(lay.notes, c)
			slices.Sort(lay.notes)
			lay.findBackground(t, c)
		} else {
			lay.part[c] = part{wear.FateFact, "a person said what it tells"}
		}
	}
	return nil
}

// inBlocks reports whether a column has few values, each on rows in a row.
func (lay *layout) inBlocks(c int) bool {
	col := &lay.cols[c]
	return !col.many && len(col.distinct) > 1 && col.changes < 3*len(col.distinct) && col.filled*2 > lay.timedRows()
}

// values says in words what a column holds.
func (lay *layout) values(t *table, c int) string {
	col := &lay.cols[c]
	var list []string
	if !col.many && len(col.distinct) > 0 {
		for _, v := range col.distinct[:min(3, len(col.distinct))] {
			list = append(list, strconv.Quote(short(v)))
		}
		if n := len(col.distinct); n > 3 {
			return fmt.Sprintf("%s and %d more values", strings.Join(list, ", "), n-3)
		}
		return strings.Join(list, ", ")
	}
	for r := lay.g.from; r < lay.g.to && len(list) < 3; r++ {
		if t.kind(r, c) != blank {
			list = append(list, strconv.Quote(short(t.cell(r, c))))
		}
	}
	return "values such as " + strings.Join(list, ", ")
}

// holdsChoices offers what a column can be by its values.
func (lay *layout) holdsChoices(t *table, c int, rows []string) (list []wear.Choice) {
	col := &lay.cols[c]
	n := col.filled
	numbers := col.numbers()*10 >= 9*n
	few := !col.many && len(col.distinct) > 0 && col.n[decimal] == 0
	dense := n*2 > lay.timedRows()
	add := func(value, text, effect string) {
		list = append(list, wear.Choice{Value: value, Text: text, Effect: effect, Rows: rows})
	}
	if numbers && (col.many || col.n[decimal] > 0) && lay.likeGlucose(t, c) {
		add(holdsFinger, "fingerstick blood glucose", fmt.Sprintf("%d fingersticks to compare the sensor with", n))
		add(holdsDemand, "sensor readings taken when the wearer asked", fmt.Sprintf("%d readings kept out of measures over time", n))
		add(holdsPerson, "another person's glucose", "each column would be a person of its own, to be linked to its patient")
	}
	if c > 0 && col.n[moment]*10 >= 9*n {
		add(holdsPricked, "time of the fingersticks", fmt.Sprintf("each of up to %d fingersticks would have the time that stands in its row here", n))
	}
	if few {
		add(holdsKind, "what kind of record each row is", "it is asked next what each of its values means")
		add(holdsPeople, "different people", "each would be a wear of its own, to be linked to its patient by a person")
	}
	if numbers {
		add(holdsCarbs, "grams of carbohydrate eaten", fmt.Sprintf("up to %d meals", n))
	} else if dense && few {
		add(holdsNote, "remarks", "the cells other than the commonest are kept as words")
	} else {
		add(holdsNote, "remarks of any sort", fmt.Sprintf("%d remarks, kept as words", n))
	}
	add(holdsMeal, "meals", fmt.Sprintf("up to %d meals", n))
	add(holdsSymptom, "symptoms", fmt.Sprintf("up to %d symptoms", n))
	add(holdsMedicine, "medicines taken", fmt.Sprintf("up to %d entries", n))
	add(holdsExercise, "exercise", fmt.Sprintf("up to %d entries", n))
	add(holdsSleep, "sleep", fmt.Sprintf("up to %d entries", n))
	add(holdsAside, "something that says nothing of the wear", fmt.Sprintf("%d cells would be set aside", n))
	list = append(list, wear.Choice{Value: "stop", Text: "none of these, or not known", Effect: "the file is set aside; nothing of it is filed"})
	return list
}

// likeGlucose reports whether the numbers of a column can be glucose.
func (lay *layout) likeGlucose(t *table, c int) bool {
	fit, n := 0, 0
	for r := lay.g.from; r < lay.g.to; r++ {
		if !t.kind(r, c).number() {
			continue
		}
		num, scale, ok := parseNumber(t.cell(r, c))
		if n++; ok && plausible(wear.Reading{Num: num, Scale: scale}.Native(), wear.UnitUnknown) {
			fit++
		}
	}
	return fit*10 >= 9*n
}

// zeroCell reports whether a number of an event column says that there was nothing.
func zeroCell(s string) bool { return s != "" && strings.Trim(s, "0.,") == "" }

// findBackground finds the cell that stands on most rows of an event column and
// so says that nothing happened.
func (lay *layout) findBackground(t *table, c int) {
	col := &lay.cols[c]
	if col.filled*2 <= lay.timedRows() {
		return
	}
	counts, best := make(map[string]int), ""
	for r := lay.g.from; r < lay.g.to; r++ {
		if s := t.cell(r, c); lay.g.when.has(t, r) && t.kind(r, c) != blank {
			if counts[s]++; counts[s] > counts[best] {
				best = s
			}
		}
	}
	if counts[best]*2 > col.filled {
		if lay.background == nil {
			lay.background = make(map[int]string)
		}
		lay.background[c] = best
		col.busy = (col.filled - counts[best]) * 5
	} else {
		col.busy = col.filled * 10
	}
}
