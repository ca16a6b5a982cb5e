package intake

import (
	"fmt"
	"strings"

	"wearround/worker/wear"
)

// Rows that cannot be read are listed and do not stop a file while they are
// few: at most 0.5 % and at most 20. Proposal.
const (
	maxUnreadable      = 20
	maxUnreadableShare = 0.005
	maxListed          = 200
	maxWords           = 6 // different words in a glucose column before they count as unreadable
)

// harvest turns the rows of a region into readings and events.
type harvest struct {
	*ledger
	t     *table
	lay   *layout
	times []rowTime
	unit  wear.Unit
	now   int64
	res   *Result

	unreadable  int
	samples     []string
	words       map[string]string // unknown words met, and what they mean
	withReading int               // rows that gave a reading
	eventsOnly  int               // rows that gave only events
	noted       map[string]bool   // decisions written once
}

// leaveOut lists a row that gives neither a reading nor an event.
func (h *harvest) leaveOut(row int, why string) {
	h.res.Skipped++
	if len(h.res.Ignored) < maxListed {
		h.res.Ignored = append(h.res.Ignored, RowProblem{Row: int(h.t.line[row]), Text: why})
	}
}

func (h *harvest) cannotRead(row int, what string) {
	h.unreadable++
	if len(h.samples) < 3 {
		h.samples = append(h.samples, fmt.Sprintf("line %d: %s", h.t.line[row], what))
	}
}

func (h *harvest) once(code, answer, evidence, by string) {
	if !h.noted[code] {
		h.noted[code] = true
		h.note(code, answer, evidence, by)
	}
}

// collect goes through every row below the heading.
func (h *harvest) collect() {
	g := &h.lay.g
	h.noted = make(map[string]bool)
	h.words = make(map[string]string)
	h.res.Readings = make([]wear.Reading, 0, g.to-g.from)
	for r := g.from; r < h.t.rows(); r++ {
		switch {
		case r < g.to && h.times[r-g.from].ok:
			h.row(r)
		case h.t.empty(r):
		case r >= g.to:
			h.res.Rows++
			h.leaveOut(r, "below the table: a total or remark")
		case g.heading >= 0 && sameRow(h.t, g.heading, r):
			h.res.Rows++
			h.leaveOut(r, "the heading again")
		case g.when.date >= 0 && h.t.kind(r, g.when.date) == day && h.t.kind(r, g.when.col) == blank:
			h.res.Rows++
			h.leaveOut(r, "only a date, used for the rows below it")
		default:
			h.res.Rows++
			h.leaveOut(r, "no time that can be read")
			h.cannotRead(r, "no time that can be read")
		}
	}
}

// row reads one row that has a time.
func (h *harvest) row(r int) {
	h.res.Rows++
	at := h.times[r-h.lay.g.from].secs
	if at < firstTime || h.now > 0 && at > h.now+86400 {
		h.leaveOut(r, "its time lies before the year 2000 or in the future")
		h.cannotRead(r, "its time lies before the year 2000 or in the future")
		return
	}
	kind := roleGlucose
	if h.lay.kind >= 0 {
		if kind = h.lay.kinds[h.t.cell(r, h.lay.kind)]; kind == roleUnknown {
			kind = roleGlucose
		}
	}
	before, events, bad := len(h.res.Readings), len(h.res.Events), ""
	switch kind {
	case roleGlucose:
		bad = h.reading(r, h.lay.auto, at, 0)
	case roleScan:
		bad = h.reading(r, h.lay.auto, at, wear.MarkOnDemand)
	case roleFinger:
		h.fingerstick(r, h.lay.auto, at)
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
	if bad != "" && bad != pending {
		h.cannotRead(r, bad)
	}
	switch {
	case len(h.res.Readings) > before:
		h.withReading++
	case len(h.res.Events) > events:
		h.eventsOnly++
	case bad != "":
		h.leaveOut(r, bad)
	default:
		h.leaveOut(r, "no value")
	}
}

// pending is the reason for a row that waits for an answer about its word.
const pending = "a word in the glucose column waits for an answer"

// reading adds the reading in a cell, if there is one; otherwise it may say why not.
func (h *harvest) reading(r, col int, at int64, mark wear.Mark) (bad string) {
	k := h.t.kind(r, col)
	if k == blank {
		return ""
	}
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
			h.once("out_of_range", s, "a word for a value beyond what the sensor can report", "values")
			break
		}
		switch h.word(s) {
		case "below":
			rd.Bound = wear.Below
		case "above":
			rd.Bound = wear.Above
		case "ignore":
			return ""
		case "":
			return pending
		default:
			return "text where a value should be"
		}
	default:
		return "a value in a form that cannot be read"
	}
	h.res.Readings = append(h.res.Readings, rd)
	return ""
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

// word asks what a word in the glucose column means. "" means that the
// question is open, "too many" that there are too many to ask.
func (h *harvest) word(s string) string {
	key := short(s)
	if meaning, ok := h.words[key]; ok {
		return meaning
	}
	if len(h.words) >= maxWords {
		return "too many"
	}
	h.words[key] = h.ask("word:"+key, fmt.Sprintf("What does %q in the glucose column mean?", key),
		wear.Choice{Value: "below", Text: "below what the sensor can report", Effect: "counts as a low reading without a number"},
		wear.Choice{Value: "above", Text: "above what the sensor can report", Effect: "counts as a high reading without a number"},
		wear.Choice{Value: "ignore", Text: "no value", Effect: "the rows are left out"})
	return h.words[key]
}

// fingerstick adds the blood value in a cell as an event, in the file's unit
// or, where only that fits, in the other.
func (h *harvest) fingerstick(r, col int, at int64) {
	k := h.t.kind(r, col)
	if !k.number() && k != limit {
		return
	}
	s, bound := h.t.cell(r, col), wear.Exact
	if k == limit {
		bound, s, _ = splitLimit(s)
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
	}
}

// judgeRows holds the file if too many rows cannot be read.
func (h *harvest) judgeRows() *wear.Refusal {
	if h.withReading+h.eventsOnly+h.res.Skipped != h.res.Rows {
		return refuse("counts", "The rows of the file do not add up.", "Report this file: it shows a fault in how files are read.")
	}
	if h.unreadable == 0 || h.unreadable <= maxUnreadable && float64(h.unreadable) <= maxUnreadableShare*float64(h.res.Rows) {
		return nil
	}
	answer := h.ask("unreadable_rows", fmt.Sprintf("%d of %d rows cannot be read (%s). May they be left out?", h.unreadable, h.res.Rows, strings.Join(h.samples, "; ")),
		wear.Choice{Value: "leave_out", Text: "Yes, leave them out", Effect: fmt.Sprintf("%d readings would be filed", len(h.res.Readings))},
		wear.Choice{Value: "stop", Text: "No", Effect: "the file stays out; export it again"})
	if answer == "stop" {
		return refuse("unreadable_rows", "Too many rows of the file cannot be read.", "Export the readings again without editing them.")
	}
	return nil
}
