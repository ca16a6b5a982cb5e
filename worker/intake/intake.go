// Package intake turns the bytes of an export file into readings, events and
// open questions. It opens no file and never guesses: what the values do not
// settle becomes a question for a person.
//
// [Read] knows no maker's format. It works out what a file says, one step a
// source file:
//
//   - container.go, workbook.go: plain, gzip, zip or workbook; what is none of
//     them is refused by name
//   - markup.go: tables in web pages and XML, lists of times and values in JSON
//   - encoding.go: UTF-8, UTF-16 or a page with a byte or two a letter; digits of other scripts
//   - dialect.go, fixed.go, table.go, cell.go: delimiter or fixed widths, quotes,
//     rows and cells
//   - many.go, holders.go: several tables of one file, and what the names of
//     sheets, lists, elements and folders say of them
//   - named.go: what names and headings say of the wearer
//   - tidy.go, wordtimes.go, halfdays.go, names.go, pieces.go, shortdates.go:
//     dressed-up numbers, times in words, the halves of the day, months by their
//     names, times in pieces, in six figures, without their year, or counted
//   - turned.go, halves.go, midnight.go: tables turned round or side by side, days
//     that stand above their rows or end with their midnight
//   - refusal.go: the reasons of a refusal
//   - region.go: which rows are the table, its heading, its time columns
//   - stamp.go, times.go, daycount.go, local.go, clockruns.go: written times,
//     order of day and month, 12 or 24 hours, day numbers of spreadsheets, hours
//     that repeat or are skipped, clocks that lost their setting
//   - zones.go: what the file says of its zone, which is a hint and is asked about
//   - columns.go, headings.go, glucose.go, unit.go, people.go: what each column
//     is for, values first and headings second, and whether there are several
//     people
//   - blocks.go, explain.go: whether the rows are one table of one person, and
//     what every other filled column holds: by its relation to time and glucose,
//     or by asking
//   - vocabulary.go, sayings.go: closed lists of words; what a file says beside its
//     readings, which is a fact only if it is wholly understood
//   - records.go, events.go, moments.go: rows to readings and events; texts with a time of
//     their own
//   - account.go: what became of every filled cell
//   - check.go: whether it all makes one believable wear
//   - decide.go: every choice is a [wear.Decision] or an open [wear.Question]
//
// Health records in JSON are read by json.go, documents.go, fhir.go, sampled.go
// and omh.go.
//
// # Layouts and recipes
//
// fingerprint.go names a file's layout by a first look at its head. What was
// worked out about a layout is its [Recipe]: a person's answers, and a [Plan]
// by which pass.go reads the next file in one go. Of a long file the plan is
// made from its first rows. A pass guesses nothing and is given up at the first
// thing that is not as planned, so it gives what the full way gives or nothing.
//
// # Guarantees
//
// A file is filed by itself only if no choice is open and everything in it is
// explained: each filled cell ends as a reading, an event, a time or unit, a
// fact, a repeat or a total, or is set aside with its reason, and the account of
// them balances. Numbers keep their digits. Rows add up: each gives a reading,
// an event, or is listed as left out. Read never panics, and its time and memory
// are linear in the file: a file that can be read in one pass takes at most 64
// bytes a reading.
package intake

import (
	"fmt"
	"path"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// Options is what reading a file depends on besides its bytes.
type Options struct {
	Zone    *time.Location    // where the wearer's clock was; never nil
	Told    bool              // a person said so of this very file: what it hints of another zone is not asked about
	Now     time.Time         // no reading can be later than this plus a day
	Answers map[string]string // question code to choice value: settled by a person
	Names   []string          // what the file and the folders that it lies in are called

	// Recipe gives what is remembered of a layout, once its fingerprint is
	// known. It may be nil.
	Recipe func(layout string) (Recipe, bool)

	// Known reports whether a part of a name is the practice's, such as the code of
	// somebody on the register. It may be nil.
	Known func(part string) bool
}

// Result is what a file says. Exactly one of three holds: Refusal is set; or
// Questions is not empty (the file is held); or the readings may be filed.
type Result struct {
	Refusal   *wear.Refusal
	Questions []wear.Question
	Decisions []wear.Decision

	Layout      string // fingerprint of the arrangement, without any person's data
	Unit        wear.Unit
	Readings    []wear.Reading // in file order
	Events      []wear.Event
	PatientHint string // the one person's code or name that the file itself states, or ""
	About       About  // what else the file states of the one person

	Account wear.Account // what became of every filled cell

	Rows    int          // data rows seen
	Ignored []RowProblem // rows that gave neither a reading nor an event, the first 200
	Skipped int          // how many such rows in all

	Recipe   Recipe // how this file was read; worth remembering once it is filed
	ByRecipe bool   // a remembered recipe was used, and every check over the whole file passed again

	// People are the wearers of a file that holds more than one. Readings and
	// Events are then empty, and each person must be linked by somebody.
	People []Person
}

// About is what a file states of its person, "" where it states nothing.
type About struct {
	Names []string // names, where it gives no code or one beside them
	Sex   string   // "female" or "male"
	Born  []string // the birth date, or the dates that it may be: 2006-01-02, or 2006 for a year
}

// Person is one of several wearers in a file.
type Person struct {
	Hint     string // the code or name that the file gives, or "" for a sensor without one
	Readings []wear.Reading
	Events   []wear.Event
}

// RowProblem is a row that was left out, and why.
type RowProblem struct {
	Row  int    `json:"row"` // 1-based line of the file
	Text string `json:"text"`
}

// Read reads one whole file: bytes to container, encoding, dialect, region,
// roles, meaning, and checks over the whole file. It never panics on data, and
// its time and memory grow with the size of data only.
func Read(data []byte, o Options) *Result {
	l := &ledger{zone: o.Zone, told: o.Told, answers: o.Answers, given: -1}
	if l.told {
		l.note("zone_of_wear", l.zone.String(), "a person said that times without an offset are of this zone", "person")
	}
	res := &Result{}
	l.top = res
	res.Refusal = l.read(data, o, res)
	if len(res.People) == 0 {
		if res.About = l.about; len(res.About.Names) == 0 && nameLike(res.PatientHint) && !codeLike(res.PatientHint) {
			res.About.Names = []string{res.PatientHint}
		}
	}
	res.Decisions, res.Questions = l.decisions, l.questions
	if l.aside && res.Refusal == nil {
		res.Refusal = setAside()
	}
	if res.Refusal == nil && len(res.Questions) == 0 && !res.Account.Balanced() {
		res.Refusal = refuse("account", "The cells of the file do not add up.", "Report this file: it shows a fault in how files are read.")
	}
	switch {
	case res.Refusal != nil && res.Refusal.Code == codeNoReadings:
		res.Questions, res.People = nil, nil // what was logged stays to be shown
	case res.Refusal != nil:
		res.Questions, res.People, res.Events = nil, nil, nil
	case len(res.Questions) > 0:
		res.Events = nil
	default:
		l.tellNames(append(slices.Clone(o.Names), namesWithin(data)...), o, res)
		return res
	}
	res.Readings = nil
	return res
}

func (l *ledger) read(data []byte, o Options, res *Result) *wear.Refusal {
	now := int64(0) // no limit
	if !o.Now.IsZero() {
		now = o.Now.Unix()
	}
	packed := data
	data, parts, several, ref := unpack(data)
	if ref != nil {
		return ref
	}
	if parts != nil {
		sheets, ref := l.workbook(packed, parts)
		if ref != nil {
			return ref
		}
		return l.readMany(sheets, o, now, res)
	}
	if len(several) > 1 {
		return l.readEntries(several, o, now, res)
	}
	for _, e := range several {
		l.hearHolders(e.folders())
		l.packed = codeInName(path.Base(e.name))
	}
	text, encoding, ref := l.decode(data)
	if ref != nil {
		return ref
	}
	l.decisions = append(l.decisions, encoding)
	if looksLikeJSON(text) {
		return l.readJSON(text, o, now, res)
	}
	if ref := recogniseText(text); ref != nil {
		var sheets []sheet
		switch ref.Code {
		case "html":
			sheets = pageTables(text)
		case "xml":
			root, ok := xmlNode(text)
			if !ok {
				return refuse("xml", "The file begins like XML but breaks its rules, or stops before its end.", exportAsText)
			}
			sheets = tablesOf([]node{root})
		}
		if l.anyTimes(sheets) {
			l.note("container", ref.Code, "tables are read out of the markup", "values")
			return l.readMany(sheets, o, now, res)
		}
		switch {
		case ref.Code == "xml":
			return refuseLists("xml", "XML", sheets)
		case ref.Code == "html" && len(sheets) > 0:
			return refuseLists("html", "a web page", sheets)
		}
		return ref
	}
	if longLine(text) {
		return refuseTooBig("a line is longer than 1 MiB")
	}
	return l.readText(asciiDigits(text), o, now, res)
}

// anyTimes reports whether one of several tables has times.
func (l *ledger) anyTimes(list []sheet) bool {
	return slices.ContainsFunc(list, func(s sheet) bool { return l.tidy(s.t).score() > 0 })
}

// readEntries reads the files of an archive. Those without times, such as a
// readme, are set aside.
func (l *ledger) readEntries(list []entry, o Options, now int64, res *Result) *wear.Refusal {
	var sheets []sheet
	for _, e := range list {
		if ref := recognise(e.data, true); ref != nil && ref.Code == "image" {
			l.account.before++
			l.account.add(placeOther, wear.FateAside, "a picture in the archive", 1)
			continue
		} else if ref != nil {
			return refuse("zip_several", fmt.Sprintf("The zip archive holds several files, and one of them, “%s”, is not read there. %s", short(path.Base(e.name)), ref.Text), "Unpack it and drop the file with the readings on its own.")
		}
		text, encoding, ref := l.decode(e.data)
		if ref != nil {
			return ref
		}
		ref = recogniseText(text)
		if ref != nil && ref.Code == "empty" {
			continue
		}
		if ref != nil || looksLikeJSON(text) {
			return refuse("zip_several", fmt.Sprintf("The zip archive holds several files, and one of them, “%s”, is read only by itself.", short(path.Base(e.name))), "Unpack it and drop the file with the readings on its own.")
		}
		if t, ref := l.dialect(string(asciiDigits(text)), now); ref == nil {
			if len(sheets) == 0 {
				l.decisions = append(l.decisions, encoding)
			}
			sheets = append(sheets, sheet{name: path.Base(e.name), holders: e.folders(), packed: true, t: t})
			continue
		} else if ref.Code != "no_table" {
			return ref
		}
		for s := range strings.Lines(string(text)) {
			if s = strings.TrimSpace(s); s != "" {
				l.account.before++
				l.beside = append(l.beside, aside{text: s})
			}
		}
	}
	if len(sheets) == 0 {
		return refuseNoTable(func(yield func(string) bool) {
			for _, s := range l.beside {
				if !yield(s.text) {
					return
				}
			}
		})
	}
	return l.readMany(sheets, o, now, res)
}

// readText reads a delimited text: in one pass where a plan for it is known or
// can be made from its first rows, and otherwise in full.
func (l *ledger) readText(text []byte, o Options, now int64, res *Result) *wear.Refusal {
	var known Recipe
	if head, ok := sketchOf(text); ok && len(l.holders)+len(l.packed) > 0 { // whose the readings are hangs on more than the text
		known = l.recall(&head, o, res)
	} else if ok {
		known = l.recall(&head, o, res)
		if l.byPlan(text, known.Plan, o, res) {
			res.ByRecipe = true
			l.remember(known.Answers, known.Plan, res)
			return nil
		}
		if plan := l.planFromHead(text, o, now); plan != nil && l.byPlan(text, plan, o, res) {
			l.remember(known.Answers, plan, res)
			return nil
		}
	}
	t, ref := l.dialect(string(text), now)
	switch {
	case ref != nil && ref.Code == "no_table" && isMail(text):
		return refuse("mail", "The file is a mail, and what is attached to it is not opened here.", "Save the attachment as a file and drop that file.")
	case ref != nil:
		return ref
	}
	line, copied := t.swallowed()
	if line > 0 && (!copied || l.askOnce("quoted", fmt.Sprintf("What stands in quotation marks from line %d on looks like rows of the table. Is it a remark?", line),
		wear.Choice{Value: "remark", Text: "Yes, with lines that were copied into it", Effect: "it is kept as words of its row", Rows: t.samples(func(r int) bool { return int(t.line[r]) == line })},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; export it again"}) == "stop") {
		return refuseOpenQuote(line)
	}
	return l.readKnown(t, known, o, now, res)
}

// readKnown reads a table in full, by the answers that are remembered of its
// layout.
func (l *ledger) readKnown(t *table, known Recipe, o Options, now int64, res *Result) *wear.Refusal {
	if t.parent == nil && t.halves() != nil {
		return l.readMany([]sheet{{t: t}}, o, now, res)
	}
	ref := l.readTable(t, o, now, res)
	if ref == nil {
		ref = l.settle(t, res)
	}
	if ref == nil && len(l.questions) == 0 {
		l.remember(known.Answers, res.Recipe.Plan, res)
	}
	return ref
}

// recall notes the layout of a file and gives what is remembered of it.
func (l *ledger) recall(head *sketch, o Options, res *Result) (known Recipe) {
	l.head, res.Layout = head, head.layout
	if o.Recipe != nil {
		known, _ = o.Recipe(head.layout)
		l.recipe = known.Answers
	}
	return known
}

// readTable reads a table whose rows and cells are known.
func (l *ledger) readTable(t *table, o Options, now int64, res *Result) *wear.Refusal {
	lay := &layout{zone: o.Zone}
	var ref *wear.Refusal
	if lay.g, ref = l.findRegion(t, now); ref != nil {
		return ref
	}
	if l.whole.width == 0 {
		l.whole = lay.g
	}
	if line := cutShort(t, &lay.g); line > 0 {
		return refuseCutShort(line)
	}
	if endsOpen(t, &lay.g) {
		switch l.ask("cut_short", "The last line of the file has no line end, and its last words may go on. Is the file whole?",
			wear.Choice{Value: "whole", Text: "Yes", Effect: "all its rows would be filed", Rows: t.samples(func(r int) bool { return r == t.rows()-1 })},
			wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; copy it again"}) {
		case "stop":
			return refuseCutShort(int(t.line[t.rows()-1]))
		case "":
			return nil // what else is open depends on it
		}
	}
	lay.cols = lay.g.columns(t)
	lay.reserved, lay.part = make([]bool, len(lay.cols)), make([]part, len(lay.cols))
	lay.reserved[lay.g.when.col] = true
	if lay.g.when.date >= 0 {
		lay.reserved[lay.g.when.date] = true
	}
	for _, c := range t.pieces {
		lay.reserved[c], lay.part[c] = true, part{wear.FateTime, "a piece of the time of the row"}
	}
	hint, by, ref := l.people(t, lay)
	switch {
	case ref != nil:
		return ref
	case by >= 0:
		return l.splitTable(t, lay, by, o, now, res)
	}
	res.PatientHint = hint
	times, order, ref := l.times(t, &lay.g, now)
	if ref == nil {
		ref = l.midnights(t, &lay.g, times)
	}
	if ref != nil {
		return ref
	}
	l.recordTypes(lay)
	auto, ref := l.findGlucose(t, lay, times)
	if ref != nil {
		return ref
	}
	if lay.splitDecimal(t, &auto) {
		return refuse("decimal_split", "The values have a decimal comma and the columns are separated by commas too, so each value was cut in two.",
			"Export again with semicolons or tabs between the columns.")
	}
	if seams, as, ref := l.blocks(t, lay, times); ref != nil {
		return ref
	} else if len(seams) > 0 {
		return l.readBlocks(t, lay, seams, as, o, now, res)
	}
	if ref := l.outside(t, lay); ref != nil {
		return ref
	}
	lay.tenthsOnly = auto.long*20 < auto.rows
	l.settleTypes(t, lay)
	l.findEvents(t, lay)
	if ref := l.explain(t, lay, times); ref != nil {
		return ref
	}
	if people := append(l.peopleByColumn(lay), lay.others...); len(people) > 0 {
		return l.splitColumns(t, lay, people, o, now, res)
	}
	lay.settleRoles()
	if res.Unit, ref = l.unit(t, lay, times, &auto); ref != nil {
		return ref
	}
	if l.planned(t, lay) {
		res.Recipe.Plan = lay.planOf(t, times, order, res.Unit)
	}
	if ref := l.zones(t, lay, times); ref != nil {
		return ref
	}
	l.localise(times, o.Zone)
	h := &harvest{tally: newTally(l, o, res), t: t, lay: lay, times: times, unit: res.Unit}
	if ref := h.clockRuns(); ref != nil {
		return ref
	}
	h.collect()
	if ref := h.judgeRows(); ref != nil {
		return ref
	}
	return h.believable()
}
