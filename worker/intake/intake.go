// Package intake turns the bytes of an export file into readings, events and
// open questions. It opens no file and never guesses: what the values do not
// settle becomes a question for a person.
//
// [Read] knows no maker's format. It works out what a file says, one step a
// source file:
//
//   - container.go: plain, gzip or zip; what is no text is refused by name
//   - encoding.go: UTF-8, UTF-16 or Windows-1252
//   - dialect.go, table.go, cell.go: delimiter, quotes, rows and cells
//   - region.go: which rows are the table, its heading, its time columns
//   - stamp.go, times.go, local.go: written times, order of day and month,
//     12 or 24 hours, hours that repeat or are skipped
//   - columns.go, headings.go, glucose.go, unit.go: what each column is for,
//     values first and headings second
//   - records.go, events.go: rows to readings and events
//   - check.go: whether it all makes one believable wear
//   - decide.go: every choice is a [wear.Decision] or an open [wear.Question]
//
// # Guarantees
//
// A file is filed by itself only if no choice is open. Numbers keep their
// digits. Rows add up: each gives a reading, an event, or is listed as left
// out. Read never panics, and its time and memory are linear in the file.
package intake

import (
	"time"

	"wearround/worker/wear"
)

// Options is what reading a file depends on besides its bytes.
type Options struct {
	Zone    *time.Location    // where the wearer's clock was; never nil
	Now     time.Time         // no reading can be later than this plus a day
	Answers map[string]string // question code to choice value: settled by a person
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

	Rows    int          // data rows seen
	Ignored []RowProblem // rows that gave neither a reading nor an event, the first 200
	Skipped int          // how many such rows in all
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
	l := &ledger{answers: o.Answers}
	res := &Result{}
	res.Refusal = l.read(data, o, res)
	res.Decisions, res.Questions = l.decisions, l.questions
	if res.Refusal != nil {
		res.Questions = nil
	}
	if res.Refusal != nil || len(res.Questions) > 0 {
		res.Readings, res.Events = nil, nil
	}
	return res
}

func (l *ledger) read(data []byte, o Options, res *Result) *wear.Refusal {
	data, ref := unpack(data)
	if ref != nil {
		return ref
	}
	text, encoding, ref := decode(data)
	if ref != nil {
		return ref
	}
	l.decisions = append(l.decisions, encoding)
	if ref := recogniseText(text); ref != nil {
		return ref
	}
	if longLine(text) {
		return refuseTooBig("a line is longer than 1 MiB")
	}
	t, ref := l.dialect(text)
	if ref != nil {
		return ref
	}
	now := int64(0) // no limit
	if !o.Now.IsZero() {
		now = o.Now.Unix()
	}
	lay := &layout{}
	if lay.g, ref = l.findRegion(t, now); ref != nil {
		return ref
	}
	if line := cutShort(t, &lay.g); line > 0 {
		return refuseCutShort(line)
	}
	times, ref := l.times(t, &lay.g, now)
	if ref != nil {
		return ref
	}
	lay.cols = lay.g.columns(t)
	lay.reserved = make([]bool, len(lay.cols))
	lay.reserved[lay.g.when.col] = true
	if lay.g.when.date >= 0 {
		lay.reserved[lay.g.when.date] = true
	}
	if res.PatientHint, ref = l.people(t, lay); ref != nil {
		return ref
	}
	l.recordTypes(lay)
	auto, ref := l.findGlucose(t, lay, times)
	if ref != nil {
		return ref
	}
	if lay.splitDecimal(&auto) {
		return refuse("decimal_split", "The values have a decimal comma and the columns are separated by commas too, so each value was cut in two.",
			"Export again with semicolons or tabs between the columns.")
	}
	lay.tenthsOnly = auto.long*20 < auto.rows
	l.settleTypes(t, lay)
	l.findEvents(lay)
	res.Layout = lay.fingerprint(t)
	if res.Unit, ref = l.unit(t, lay, times, &auto); ref != nil {
		return ref
	}
	if l.headingZone(t, lay, times) {
		for i := range times {
			times[i].absolute = true
		}
	}
	l.localise(times, o.Zone)
	h := &harvest{ledger: l, t: t, lay: lay, times: times, unit: res.Unit, now: now, res: res}
	h.collect()
	if ref := h.judgeRows(); ref != nil {
		return ref
	}
	return h.believable()
}
