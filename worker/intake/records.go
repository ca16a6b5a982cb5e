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

// Rows that cannot be read are listed and do not stop a file while they are
// few: at most 0.5 % and at most 20. Proposal.
const (
	maxUnreadable      = 20
	maxUnreadableShare = 0.005
	maxListed          = 200
	maxSamples         = 3 // rows shown with a question
	maxWords           = 6 // different words in a glucose column before they count as unreadable
)

// tally counts what becomes of every row, so that rows add up.
type tally struct {
	*ledger
	res *Result
	now int64 // no reading is later than this plus a day; 0 for no limit

	strict      bool // no row may be left out without a person
	unreadable  int
	samples     []string
	withReading int             // rows that gave a reading
	eventsOnly  int             // rows that gave only events
	noted       map[string]bool // decisions written once
}

func newTally(l *ledger, o Options, res *Result) tally {
	c := tally{ledger: l, res: res, noted: make(map[string]bool)}
	if !o.Now.IsZero() {
		c.now = o.Now.Unix()
	}
	return c
}

// leaveOut lists a row that gives neither a reading nor an event.
func (c *tally) leaveOut(line int, why string) {
	c.res.Skipped++
	if len(c.res.Ignored) < maxListed {
		c.res.Ignored = append(c.res.Ignored, RowProblem{Row: line, Text: why})
	}
}

// cannotRead counts a row that ought to say something and cannot be read.
func (c *tally) cannotRead(line int, what string) {
	c.unreadable++
	if len(c.samples) < maxSamples {
		c.samples = append(c.samples, fmt.Sprintf("line %d: %s", line, what))
	}
}

// once notes, the first time, what the values told.
func (c *tally) once(code, answer, evidence string) {
	if !c.noted[code] {
		c.noted[code] = true
		c.note(code, answer, evidence, "values")
	}
}

// timely reports whether a moment can be that of a reading.
func (c *tally) timely(at int64) bool {
	return at >= firstTime && (c.now == 0 || at <= c.now+86400)
}

// untimely is why a row whose moment is not [tally.timely] is left out.
const untimely = "its time lies before the year 2000 or in the future"

// harvest turns the rows of a region into readings and events.
type harvest struct {
	tally
	t      *table
	lay    *layout
	times  []rowTime
	unit   wear.Unit
	others int               // rows of other quantities that were kept
	words  map[string]string // unknown words met, and what they mean
	adrift []string          // rows that say something and have no time, as they are written
	pairs  string            // what the two numbers of a cell are, by a person
	bare   map[string]role   // cells of event columns met, and the kind of event they name
	span   [2]int64          // the first and the last time of a row, once asked for
}

// collect goes through every row below the heading.
func (h *harvest) collect() {
	g := &h.lay.g
	h.words = make(map[string]string)
	h.res.Readings = make([]wear.Reading, 0, g.to-g.from)
	var heard []int // rows without a reading, which may say something all the same
	for r := range g.from {
		if g.isHeading(h.t, r) {
			h.markRow(h.t, r, placeAbove, wear.FateFact, "the heading")
		} else {
			heard = append(heard, r)
		}
	}
	for r := g.from; r < h.t.rows(); r++ {
		switch {
		case r < g.to && h.times[r-g.from].dropped:
			h.res.Rows++
			h.leaveOut(int(h.t.line[r]), "its true time is not known")
			h.keepLogged(r)
			h.markRow(h.t, r, placeBetween, wear.FateAside, "its true time is not known")
		case r < g.to && h.times[r-g.from].ok:
			h.row(r)
		case h.t.empty(r):
		case r >= g.to:
			h.res.Rows++
			h.leaveOut(int(h.t.line[r]), belowTable)
			heard = append(heard, r)
		case g.heading >= 0 && sameRow(h.t, g.heading, r):
			h.res.Rows++
			h.leaveRow(r, placeBetween, wear.FateRepeat, "the heading again")
		case g.when.date >= 0 && h.t.kind(r, g.when.date) == day && h.t.kind(r, g.when.col) == blank:
			h.res.Rows++
			h.leaveRow(r, placeBetween, wear.FateTime, "only a date, used for the rows below it")
		case h.lay.between(h.t, r) != nothingBetween:
			h.res.Rows++
			h.leaveOut(int(h.t.line[r]), betweenRows)
			heard = append(heard, r)
		default:
			h.res.Rows++
			h.leaveOut(int(h.t.line[r]), timeless)
			heard = append(heard, r)
			h.cannotRead(int(h.t.line[r]), timeless)
		}
	}
	h.tell(heard)
}

// Why rows are left out that have no time.
const (
	aboveTable  = "a line above the table"
	belowTable  = "below the table: a total or remark"
	betweenRows = "a line between the rows"
	timeless    = "no time that can be read"
)

// tell gives the wear what the file says beside its readings.
func (h *harvest) tell(rows []int) {
	g := &h.lay.g
	f := &facts{readings: h.res.Readings, rows: h.res.Rows, unit: h.unit, loose: h.loose}
	if h.lay.mixedUnits {
		f.unit = wear.UnitUnknown
	}
	for _, text := range h.adrift {
		f.keep(text)
	}
	h.askMatters(f, h.allSayings(rows))
	for _, r := range rows {
		place, fact, list := placeAbove, part{wear.FateFact, aboveTable}, h.rowSayings(r)
		switch {
		case r >= g.to:
			place, fact = placeBelow, part{wear.FateTotal, belowTable}
		case r >= g.from && h.lay.between(h.t, r) != nothingBetween:
			place, fact = placeBetween, part{wear.FateAside, betweenRows}
		case r >= g.from: // what it says is the more telling for standing among readings
			place, fact, list = placeBetween, part{wear.FateEvent, keptAsWords}, nil
			f.keep(h.t.written(r))
		}
		p := h.hearRow(f, h.t, r, list, fact)
		h.markRow(h.t, r, place, p.fate, p.why)
	}
	if !h.loose || len(h.res.Readings) == 0 {
		h.tellBeside(f)
	}
	h.tellHolders(f)
	h.tellColumns(f)
	f.words = slices.DeleteFunc(f.words, func(text string) bool {
		at, known := h.momentIn(text)
		if known {
			h.noteOrSymptom(at, text)
		}
		return known
	})
	h.res.Events = f.speak(h.res.Events)
}

// hearRow is [ledger.hear] for a row. Numbers that no word explains are kept.
func (l *ledger) hearRow(f *facts, t *table, r int, list []saying, fact part) part {
	if fact.fate != wear.FateEvent && len(list) == 0 && t.figures(r) && !f.ownCount(t.written(r)+" rows") {
		f.keep(t.written(r))
		return part{wear.FateEvent, keptAsWords}
	}
	return l.hear(f, list, fact)
}

// written is a row as the file has it, its cells apart.
func (t *table) written(r int) string {
	var cells []string
	for c := range t.width(r) {
		if s := t.cell(r, c); s != "" {
			cells = append(cells, s)
		}
	}
	return strings.Join(cells, " ¦ ")
}

// figures reports a row of numbers without a word, other than those that number
// the columns.
func (t *table) figures(r int) bool {
	counts, any := true, false
	for c := range t.width(r) {
		switch k := t.kind(r, c); {
		case k == word:
			return false
		case k.number(), k == limit, k == odd:
			any = true
			n, err := strconv.Atoi(t.cell(r, c))
			counts = counts && err == nil && (n == c+1 || n == c) && t.width(r) > 1
		}
	}
	return any && !counts
}

// rowSayings is what a row without a reading says; the line over a part that
// somebody said names its person says no more.
func (h *harvest) rowSayings(r int) []saying {
	if h.label != "" && h.t.show(r) == h.label {
		return nil
	}
	return h.t.sayingsOf(r)
}

// allSayings lists all that the file says beside its readings.
func (h *harvest) allSayings(rows []int) (list []saying) {
	for _, r := range rows {
		list = append(list, h.rowSayings(r)...)
	}
	for i := range h.beside {
		list = append(list, h.beside[i].sayings()...)
	}
	for c, p := range h.lay.part {
		if h.lay.cols[c].filled == 0 {
			list = append(list, emptyHeading(h.lay.cols[c].heading)...)
		}
		if p.why == constantWhy {
			list = append(list, h.lay.constantSaying(c, h.lay.first(h.t, c))...)
		}
		if background, dense := h.lay.background[c]; dense && !h.saysNothing(c, background) {
			list = append(list, saying{h.lay.cols[c].heading, background})
		}
	}
	return list
}

// aside is a row, or a line of text, that stands in another part of the file.
type aside struct {
	t    *table
	row  int
	text string
	told bool
}

func (a *aside) sayings() []saying {
	if a.t == nil {
		return []saying{sayingIn(a.text)}
	}
	return a.t.sayingsOf(a.row)
}

// tellBeside gives the wear what stands in parts of the file without times.
func (l *ledger) tellBeside(f *facts) {
	for i := range l.beside {
		a := &l.beside[i]
		fact := part{wear.FateFact, "a part of the file without times"}
		if a.t == nil {
			if p := l.hear(f, a.sayings(), fact); !a.told {
				l.account.add(placeOther, p.fate, p.why, 1)
			}
			a.told = true
			continue
		}
		p := l.hear(f, a.sayings(), fact)
		l.markRow(a.t, a.row, placeOther, p.fate, p.why)
	}
}

// tellColumns gives the wear what a column says on all rows, or on most.
func (h *harvest) tellColumns(f *facts) {
	lay := h.lay
	for c := range lay.part {
		h.hearHeading(f, lay.cols[c].heading, lay.cols[c].filled)
		switch p := lay.part[c]; p.why {
		case constantWhy:
			if now := h.hear(f, lay.constantSaying(c, lay.first(h.t, c)), p); now != p {
				h.account.turnAll(c, p, now)
			}
		case quantityWhy:
			f.keep(lay.cols[c].heading + ": " + lay.summed(h.t, c))
		}
		if background, dense := lay.background[c]; dense && !h.saysNothing(c, background) {
			h.hear(f, []saying{{lay.cols[c].heading, background}}, part{})
		}
	}
}

// constantSaying is what a column says that has the same text on every row. A
// bare number without a heading says nothing that anybody could read.
func (lay *layout) constantSaying(c int, value string) []saying {
	heading := lay.cols[c].heading
	if k := kindOf(value); heading == "" && k != word {
		return nil
	}
	if rest, _ := withoutUnit(heading); technicalWords.understands(rest) && rest != "" && kindOf(value) != word {
		return nil
	}
	return []saying{{heading, lay.withUnit(c, value)}}
}

// first is the first cell of a column that says something.
func (lay *layout) first(t *table, c int) string {
	for r := lay.g.from; r < lay.g.to; r++ {
		if lay.g.when.has(t, r) && t.kind(r, c) != blank {
			return t.cell(r, c)
		}
	}
	return ""
}

// summed says how many numbers a column has, and which are the least and the
// greatest.
func (lay *layout) summed(t *table, c int) string {
	low, high, least, most, n := math.Inf(1), math.Inf(-1), "", "", 0
	for r := lay.g.from; r < lay.g.to; r++ {
		s := t.cell(r, c)
		if !lay.g.when.has(t, r) || t.kind(r, c) == blank {
			continue
		}
		n++
		if v, err := strconv.ParseFloat(strings.Replace(strings.TrimLeft(s, "<>≤≥ "), ",", ".", 1), 64); err == nil {
			if v < low {
				low, least = v, s
			}
			if v > high {
				high, most = v, s
			}
		}
	}
	return fmt.Sprintf("highest %s, lowest %s, of %d values", lay.withUnit(c, most), lay.withUnit(c, least), n)
}

// row reads one row that has a time.
func (h *harvest) row(r int) {
	h.res.Rows++
	at := h.times[r-h.lay.g.from].secs
	if !h.timely(at) {
		h.adrift = append(h.adrift, h.t.written(r))
		h.leaveRow(r, 0, wear.FateEvent, untimely+keptWhole)
		h.cannotRead(int(h.t.line[r]), untimely)
		return
	}
	for _, text := range h.t.pinned(r) {
		h.noteOrSymptom(at, text)
		h.account.add(placeOther, wear.FateEvent, "pinned to a cell, with the time of its row", 1)
	}
	if h.t.overflows(r, len(h.lay.cols)) {
		h.longRow(r, at)
		return
	}
	kind := roleGlucose
	if h.lay.kind >= 0 {
		if kind = h.lay.kinds[h.t.cell(r, h.lay.kind)]; kind == roleUnknown {
			kind = roleGlucose
		}
	}
	before, events, bad := len(h.res.Readings), len(h.res.Events), ""
	if (kind == roleGlucose || kind == roleScan) && h.lay.otherUnit(h.t, r) && h.t.kind(r, h.lay.auto) != blank {
		h.asWords(r, h.lay.auto, at, h.t.cell(r, h.lay.auto)+" "+h.t.cell(r, h.lay.unit), quantityWhy)
		kind = roleUnknown
	}
	switch kind {
	case roleGlucose:
		bad = h.reading(r, h.lay.auto, at, 0)
	case roleScan:
		bad = h.reading(r, h.lay.auto, at, wear.MarkOnDemand)
	case roleFinger:
		h.fingerstick(r, h.lay.auto, at)
	case roleOther:
		h.otherKind(r, at)
	}
	if h.lay.scan >= 0 {
		if why := h.reading(r, h.lay.scan, at, wear.MarkOnDemand); bad == "" {
			bad = why
		}
	}
	if h.lay.finger >= 0 {
		h.fingerstick(r, h.lay.finger, at)
	}
	h.events(r, at, kind)
	h.markParts(r, kind)
	if bad != "" && bad != pending {
		h.cannotRead(int(h.t.line[r]), bad)
	}
	switch {
	case len(h.res.Readings) > before:
		h.withReading++
	case len(h.res.Events) > events:
		h.eventsOnly++
	case bad != "":
		h.leaveOut(int(h.t.line[r]), bad)
	case h.kindAlone(r, at):
		h.eventsOnly++
	default:
		h.leaveOut(int(h.t.line[r]), "no value")
	}
}

// leaveRow lists a row that gives nothing and says what its cells are.
func (h *harvest) leaveRow(r, place int, fate wear.Fate, why string) {
	h.leaveOut(int(h.t.line[r]), why)
	h.markRow(h.t, r, place, fate, why)
}

// markParts says what the cells of a row are that its columns explain.
func (h *harvest) markParts(r int, kind role) {
	for c := range h.lay.part {
		switch p := h.lay.part[c]; {
		case p.fate != "":
			h.mark(h.t, r, c, p.fate, p.why)
		case c == h.lay.auto && kind != roleGlucose:
			h.mark(h.t, r, c, wear.FateAside, "the value of a kind of record that is not read")
		}
	}
}

// longRow reads a row that says something beyond the last column: its value where
// that cannot be half of a number, and all of it as words.
func (h *harvest) longRow(r int, at int64) {
	h.res.Events = append(h.res.Events, wear.Event{At: at, Kind: wear.Note, Label: h.t.written(r)})
	h.cannotRead(int(h.t.line[r]), overflow)
	auto, before := h.lay.auto, len(h.res.Readings)
	sure := h.t.delim != ',' || h.t.kind(r, auto) == decimal || !h.t.kind(r, auto+1).number()
	if sure && (h.lay.kind < 0 || h.lay.kinds[h.t.cell(r, h.lay.kind)] == roleGlucose) {
		h.reading(r, auto, at, 0)
	}
	if len(h.res.Readings) > before {
		h.withReading++
		h.mark(h.t, r, h.lay.g.when.col, wear.FateTime, "the time of the row")
		h.markRow(h.t, r, 0, wear.FateEvent, overflow+keptWhole)
		return
	}
	h.leaveRow(r, 0, wear.FateEvent, overflow+keptWhole)
}

// keepLogged keeps what stands in the event columns of a row whose true time is
// not known.
func (h *harvest) keepLogged(r int) {
	for _, c := range h.lay.notes {
		s := h.t.cell(r, c)
		if background, dense := h.lay.background[c]; h.t.kind(r, c) == blank || h.saysNothing(c, s) || dense && s == background {
			continue
		}
		h.adrift = append(h.adrift, h.labelled(c, s, h.t.kind(r, c).number()))
		h.mark(h.t, r, c, wear.FateEvent, "its true time is not known"+keptWhole)
	}
}

// overflow is why a row gives no reading whose cells cannot be told apart.
const (
	overflow  = "more cells than the table has columns"
	keptWhole = ", so it is kept as words as it is written"
)

// overflows reports whether a row says something beyond the last column.
func (t *table) overflows(row, width int) bool {
	if width >= maxColumns {
		return false
	}
	for i := t.first[row] + int32(width); i < t.first[row+1]; i++ {
		if t.kinds[i] != blank {
			return true
		}
	}
	return false
}

// mean gives what somebody said of numbers with a mark beside them, such as a star.
func (h *harvest) mean(r, col int, s, mark string) string {
	if meaning, known := h.words[mark]; known {
		return meaning
	}
	n := 0
	rows := h.t.samples(func(r int) bool {
		_, m := markedNumber(h.t.cell(r, col))
		return r >= h.lay.g.from && r < h.lay.g.to && m == mark
	})
	for r := h.lay.g.from; r < h.lay.g.to; r++ {
		if _, m := markedNumber(h.t.cell(r, col)); m == mark {
			n++
		}
	}
	h.words[mark] = h.ask("mark:"+mark, fmt.Sprintf("%d values in the glucose column are marked, as in %q. What does the mark mean?", n, s),
		wear.Choice{Value: "number", Text: "nothing that changes the value, such as print or a footnote that is kept", Effect: "the numbers are filed as readings", Rows: rows},
		wear.Choice{Value: "both", Text: "something of the wear", Effect: "the numbers are filed as readings, and each is also kept as words for a person to read", Rows: rows},
		wear.Choice{Value: "below", Text: "the value is below the number", Effect: "counts as lower than the number", Rows: rows},
		wear.Choice{Value: "above", Text: "the value is above the number", Effect: "counts as higher than the number", Rows: rows},
		wear.Choice{Value: "ignore", Text: "no reading of the sensor", Effect: "the values are set aside", Rows: rows})
	return h.words[mark]
}

// markedNumber takes a number with marks and no letter beside it apart. A sign is no
// mark.
func markedNumber(s string) (number, mark string) {
	number, before, after := numberWithin(s)
	mark = before + "…" + after
	if number == "" || mark == "…" || len(mark) > 24 || strings.HasSuffix(before, "-") || strings.HasSuffix(before, "−") || strings.HasSuffix(before, "+") || strings.HasPrefix(after, "-") ||
		strings.ContainsAny(mark, "0123456789<>≤≥%°:/") || strings.ContainsFunc(mark, unicode.IsLetter) {
		return "", ""
	}
	return number, mark
}

// numberWithin is the first number of a cell, with what stands before and after it.
func numberWithin(s string) (number, before, after string) {
	from := strings.IndexAny(s, "0123456789")
	if from < 0 {
		return "", "", ""
	}
	end := from
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || (s[end] == '.' || s[end] == ',') && end+1 < len(s) && s[end+1] >= '0' && s[end+1] <= '9') {
		end++
	}
	return s[from:end], strings.TrimSpace(s[:from]), strings.TrimSpace(s[end:])
}

// pairIn takes a cell with two numbers apart, the second in brackets or behind a
// stroke.
func pairIn(s string) (one, two string) {
	one, before, rest := numberWithin(s)
	two, between, after := numberWithin(rest)
	if before == "" && (between == "(" && after == ")" || between == "[" && after == "]" || (between == "/" || between == "|") && after == "") && numberKind(one).number() && numberKind(two).number() {
		return one, two
	}
	return "", ""
}

// pair asks once what the two numbers of some cells are. It gives the fingerstick's,
// "" where neither is, and false while that is open.
func (h *harvest) pair(col int, one, two string) (finger string, ok bool) {
	if h.pairs == "" {
		rows := h.t.samples(func(r int) bool {
			_, two := pairIn(h.t.cell(r, col))
			return r >= h.lay.g.from && r < h.lay.g.to && two != ""
		})
		h.pairs = h.ask("pair", fmt.Sprintf("Some cells of %s hold two values, such as %q. What are they?", h.lay.title(col), one+" and "+two),
			wear.Choice{Value: "finger", Text: "the sensor's, then a fingerstick's", Effect: "the first are readings, the second are fingersticks to compare them with", Rows: rows},
			wear.Choice{Value: "first", Text: "only the first is a reading", Effect: "the second is set aside", Rows: rows},
			wear.Choice{Value: "second", Text: "only the second is a reading", Effect: "the first is set aside", Rows: rows},
			wear.Choice{Value: "stop", Text: "something else, or not known", Effect: "the file is set aside; nothing of it is filed", Rows: rows})
	}
	switch h.pairs {
	case "stop":
		h.aside = true
	case "":
		return "", false
	case "finger":
		return two, true
	}
	return "", true
}

// pending is the reason for a row that waits for an answer about its word.
const pending = "a word in the glucose column waits for an answer"

// reading adds the reading in a cell, if there is one; otherwise it may say why not.
func (h *harvest) reading(r, col int, at int64, mark wear.Mark) (bad string) {
	k := h.t.kind(r, col)
	if k == blank {
		return ""
	}
	defer func() {
		switch bad {
		case "":
			h.mark(h.t, r, col, wear.FateReading, "")
		case pending:
		default:
			h.mark(h.t, r, col, wear.FateAside, bad)
		}
	}()
	s := h.t.cell(r, col)
	rd := wear.Reading{At: at, Unit: h.unitAt(r), Mark: mark}
	switch {
	case k.number() || k == limit:
		var ok bool
		if k == limit {
			rd.Bound, s, _ = splitLimit(s)
		}
		if rd.Num, rd.Scale, ok = parseNumber(s); !ok {
			return "a number with too many digits"
		}
		if rd.Scale == 3 && h.lay.tenthsOnly {
			return "a number that may have a thousands mark"
		}
		if !plausible(rd.Native(), rd.Unit) {
			return "a value that cannot be glucose in " + rd.Unit.String()
		}
	case k == word:
		if rd.Bound = boundWord(s); rd.Bound != wear.Exact {
			h.once("out_of_range", s, "a word for a value beyond what the sensor can report")
			break
		}
		if n, mark := markedNumber(s); mark != "" && plausibleText(n, rd.Unit) {
			switch h.mean(r, col, s, mark) {
			case "both":
				h.asWords(r, col, at, saying{h.lay.cols[col].heading, s}.text(), "")
				fallthrough
			case "number":
				rd.Num, rd.Scale, _ = parseNumber(n)
			case "below":
				rd.Num, rd.Scale, _ = parseNumber(n)
				rd.Bound = wear.Below
			case "above":
				rd.Num, rd.Scale, _ = parseNumber(n)
				rd.Bound = wear.Above
			case "ignore":
				h.mark(h.t, r, col, wear.FateAside, "a person said that it is no value")
				return ""
			default:
				return pending
			}
			break
		}
		if one, two := pairIn(s); two != "" && plausibleText(one, rd.Unit) && plausibleText(two, rd.Unit) {
			if finger, ok := h.pair(col, one, two); !ok {
				return pending
			} else if finger != "" {
				blood := rd
				blood.Mark = 0
				blood.Num, blood.Scale, _ = parseNumber(finger)
				h.res.Events = append(h.res.Events, wear.Event{At: at, Kind: wear.Fingerstick, Value: blood})
			}
			if h.pairs == "second" {
				one = two
			}
			rd.Num, rd.Scale, _ = parseNumber(one)
			break
		}
		if n := besideWords(s); n != "" && plausibleText(n, rd.Unit) {
			switch h.besideNumber(col) {
			case "both":
				rd.Num, rd.Scale, _ = parseNumber(n)
				h.asWords(r, col, at, saying{h.lay.cols[col].heading, s}.text(), "")
				h.res.Readings = append(h.res.Readings, rd)
				return ""
			case holdsNote:
				h.asWords(r, col, at, saying{h.lay.cols[col].heading, s}.text(), "a person said that it is no reading"+keptWhole)
				return ""
			}
			return pending
		}
		switch h.word(r, s) {
		case "below":
			rd.Bound = wear.Below
		case "above":
			rd.Bound = wear.Above
		case "ignore":
			h.mark(h.t, r, col, wear.FateAside, "a person said that it is no value")
			return ""
		case "":
			return pending
		default:
			return h.oddValue(r, col, at, "text where a value should be")
		}
	default:
		return h.oddValue(r, col, at, "a value in a form that cannot be read")
	}
	h.res.Readings = append(h.res.Readings, rd)
	return ""
}

// oddValue keeps what stands in the place of a reading and is none.
func (h *harvest) oddValue(r, col int, at int64, why string) string {
	h.asWords(r, col, at, saying{h.lay.cols[col].heading, h.t.cell(r, col)}.text(), why+keptWhole)
	return why
}

// unitAt is the unit of one row: the row's own where the file states it.
func (h *harvest) unitAt(r int) wear.Unit {
	if h.lay.unit >= 0 && h.lay.mixedUnits {
		if u := unitIn(h.t.cell(r, h.lay.unit)); u != wear.UnitUnknown {
			return u
		}
	}
	return h.unit
}

// besideWords is the one number of a cell that has words beside it ("5.9 shaky"),
// or "". Words that say how it was measured, or that it is a bound, are asked about
// one by one.
func besideWords(s string) string {
	from := strings.IndexAny(s, "0123456789")
	if from < 0 || strings.ContainsAny(s[:from], "<>≤≥-−") {
		return ""
	}
	end := from
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || (s[end] == '.' || s[end] == ',') && end+1 < len(s) && s[end+1] >= '0' && s[end+1] <= '9') {
		end++
	}
	rest := s[:from] + " " + s[end:]
	if strings.ContainsAny(rest, "0123456789?*") || !strings.ContainsFunc(rest, unicode.IsLetter) {
		return ""
	}
	for w := range strings.FieldsSeq(plain(rest)) {
		switch roleOf(w) {
		case roleFinger, roleScan, roleOther, roleType, roleUnit:
			return ""
		}
		if boundWord(w) != wear.Exact || otherMatter.whole[w] || unitIn(w) != wear.UnitUnknown {
			return ""
		}
	}
	return s[from:end]
}

func plausibleText(s string, u wear.Unit) bool {
	num, scale, ok := parseNumber(s)
	return ok && plausible(wear.Reading{Num: num, Scale: scale}.Native(), u)
}

// besideNumber asks once what cells are that have words beside their number.
func (h *harvest) besideNumber(col int) string {
	rows := h.t.samples(func(r int) bool {
		return r >= h.lay.g.from && r < h.lay.g.to && h.t.kind(r, col) == word && besideWords(h.t.cell(r, col)) != ""
	})
	answer := h.askOnce("worded", fmt.Sprintf("Some values have words beside the number (%s). What are they?", strings.Join(rows, "; ")),
		wear.Choice{Value: "both", Text: "the number is a reading, the words are a remark", Effect: "the values are filed, and the words are kept for a person to read", Rows: rows},
		wear.Choice{Value: holdsNote, Text: "no readings, but remarks", Effect: "they are kept as words for a person to read", Rows: rows},
		wear.Choice{Value: "stop", Text: "not known", Effect: "the file is set aside; nothing of it is filed"})
	if answer == "stop" {
		h.aside = true
	}
	return answer
}

// word asks what a word in the glucose column means. "" means that the
// question is open, "too many" that there are too many to ask.
func (h *harvest) word(r int, s string) string {
	key := short(s)
	if meaning, ok := h.words[key]; ok {
		return meaning
	}
	if len(h.words) >= maxWords {
		return "too many"
	}
	row := []string{h.t.show(r)}
	h.words[key] = h.ask("word:"+key, fmt.Sprintf("What does %q in the glucose column mean?", key),
		wear.Choice{Value: "below", Text: "below what the sensor can report", Effect: "counts as a low reading without a number", Rows: row},
		wear.Choice{Value: "above", Text: "above what the sensor can report", Effect: "counts as a high reading without a number", Rows: row},
		wear.Choice{Value: "ignore", Text: "no value", Effect: "the rows are left out", Rows: row})
	return h.words[key]
}

// fingerstick adds the blood value in a cell as an event, in the file's unit
// or, where only that fits, in the other.
func (h *harvest) fingerstick(r, col int, at int64) {
	k := h.t.kind(r, col)
	if k == blank {
		return
	}
	if zeroCell(h.t.cell(r, col)) && col != h.lay.auto {
		h.mark(h.t, r, col, wear.FateAside, "says that nothing was measured")
		return
	}
	if !k.number() && k != limit {
		h.asWords(r, col, at, "fingerstick: "+h.t.cell(r, col), "a fingerstick that is no number, kept as words")
		return
	}
	s, bound := h.t.cell(r, col), wear.Exact
	if k == limit {
		bound, s, _ = splitLimit(s)
	}
	if c := h.lay.pricked; c > 0 && col == h.lay.finger {
		known := false
		if at, known = h.momentIn(h.t.cell(r, c)); !known {
			h.adrift = append(h.adrift, "fingerstick: "+s)
			h.mark(h.t, r, col, wear.FateEvent, "a fingerstick whose time is not known, kept as words")
			return
		}
	}
	num, scale, ok := parseNumber(s)
	rd := wear.Reading{At: at, Num: num, Scale: scale, Unit: h.unitAt(r), Bound: bound}
	if stated := h.lay.cols[col].unit; stated != wear.UnitUnknown && col != h.lay.auto {
		rd.Unit = stated
	}
	if ok && !plausible(rd.Native(), rd.Unit) {
		rd.Unit = other(rd.Unit)
	}
	if ok && plausible(rd.Native(), rd.Unit) {
		h.res.Events = append(h.res.Events, wear.Event{At: at, Kind: wear.Fingerstick, Value: rd})
		h.mark(h.t, r, col, wear.FateEvent, "a fingerstick")
		return
	}
	h.unreadFingerstick(r, col, "a value that cannot be glucose in "+rd.Unit.String())
}

// unreadFingerstick sets a cell aside that ought to hold a fingerstick.
func (h *harvest) unreadFingerstick(r, col int, why string) {
	h.mark(h.t, r, col, wear.FateAside, why)
	h.cannotRead(int(h.t.line[r]), why)
}

// asWords keeps a cell as words of the file, which a person reads: what is said
// of blood or of the wearer and is no number must not vanish.
func (h *harvest) asWords(r, col int, at int64, text, why string) {
	h.res.Events = append(h.res.Events, wear.Event{At: at, Kind: wear.Note, Label: text})
	h.mark(h.t, r, col, wear.FateEvent, why)
}

// otherKind keeps the value of a row whose kind is another quantity of the
// wearer, such as ketones.
func (h *harvest) otherKind(r int, at int64) {
	name := h.t.cell(r, h.lay.kind)
	if h.t.kind(r, h.lay.auto) == blank || recordRole(name) != roleOther || technicalWords.understands(name) || h.others >= 4*mostQuantities {
		return // a person said that it is nothing, or it is of the sensor
	}
	h.others++
	h.asWords(r, h.lay.auto, at, name+": "+h.t.cell(r, h.lay.auto), quantityWhy)
}

// kindAlone keeps the kind of a row that has nothing but its kind and a time
// ("seizure" and no more), where no reader knows that kind of row.
func (h *harvest) kindAlone(r int, at int64) bool {
	col := h.lay.kind
	if col < 0 || h.lay.kinds[h.t.cell(r, col)] != roleUnknown || h.t.kind(r, col) != word {
		return false
	}
	h.asWords(r, col, at, h.t.cell(r, col), "the kind of a row without a value, kept as words")
	return true
}

// judgeRows holds the file if too many rows cannot be read.
func (c *tally) judgeRows() *wear.Refusal {
	if c.withReading+c.eventsOnly+c.res.Skipped != c.res.Rows {
		return refuse("counts", "The rows of the file do not add up.", "Report this file: it shows a fault in how files are read.")
	}
	if len(c.questions) > 0 { // an answer may change what can be read
		return nil
	}
	if c.unreadable == 0 || !c.strict && c.unreadable <= maxUnreadable && float64(c.unreadable) <= maxUnreadableShare*float64(c.res.Rows) {
		return nil
	}
	answer := c.ask("unreadable_rows", fmt.Sprintf("%d of %d rows cannot be read (%s). May the others be filed without them?", c.unreadable, c.res.Rows, strings.Join(c.samples, "; ")),
		wear.Choice{Value: "leave_out", Text: "Yes, file the others", Effect: fmt.Sprintf("%d readings would be filed; what is said in words is kept for a person to read", len(c.res.Readings)), Rows: c.samples},
		wear.Choice{Value: "stop", Text: "No", Effect: "the file stays out; export it again"})
	if answer == "stop" {
		return refuse("unreadable_rows", "Too many rows of the file cannot be read.", "Export the readings again without editing them.")
	}
	return nil
}
