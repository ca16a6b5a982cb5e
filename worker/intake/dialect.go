package intake

import (
	"fmt"
	"slices"
	"strings"

	"wearround/worker/wear"
)

var delimiters = []struct {
	char byte
	name string
}{{',', "comma"}, {';', "semicolon"}, {'\t', "tab"}, {'|', "bar"}}

// dialect cuts a text into a table and writes plainly what it dresses up.
func (l *ledger) dialect(text string, now int64) (*table, *wear.Refusal) {
	t, ref := l.delimited(text, now)
	if ref != nil && ref.Code == "no_table" {
		if t = recordLines(text); t != nil {
			if t = l.tidy(t); t.score() > scoreRunnerUp {
				l.note("delimiter", "records", "each record is a few lines of a key and a value", "values")
				return t, nil
			}
		}
		if t = fixedWidth(text); t != nil {
			if t = l.tidy(t); t.score() > scoreRunnerUp {
				l.note("delimiter", "places", "columns of characters that are blank on nearly every line part the columns", "values")
				return t, nil
			}
		}
	}
	switch {
	case ref != nil && ref.Code == "no_table":
		return nil, refuseNoTable(strings.Lines(text))
	case ref != nil:
		return nil, ref
	}
	return l.tidy(t), nil
}

// delimited finds the delimiter: the one that cuts the text into the most rows of
// equal width that hold a time and something else.
func (l *ledger) delimited(text string, now int64) (*table, *wear.Refusal) {
	var tables []*table
	var names []string
	var scores []float64
	openQuote, openMarks := 0, 0
	for _, c := range delimiters {
		if strings.IndexByte(text, c.char) < 0 {
			continue
		}
		if strings.Count(text, string(c.char)) > maxCells {
			return nil, refuseTooBig("more than 12,000,000 cells")
		}
		t, quote, tooMany := cut(text, c.char)
		if tooMany {
			return nil, refuseTooBig("more than 2,000,000 lines")
		}
		if t == nil {
			if n := strings.Count(text, string(c.char)); n >= openMarks {
				openQuote, openMarks = quote, n
			}
			continue
		}
		t.classify()
		tables, names, scores = append(tables, t), append(names, c.name), append(scores, t.score())
	}
	if len(scores) > 0 && slices.Max(scores) <= scoreRunnerUp {
		for i, t := range tables {
			if out := l.tidy(t); out != t && out.score() > scores[i] {
				tables[i], scores[i] = out, out.score()
			}
		}
	}
	if slices.ContainsFunc(tables, func(t *table) bool { return t.clocked() && t.score() > scoreRunnerUp }) {
		for i, t := range tables {
			if !t.clocked() {
				scores[i] /= 2 // a cut that parts the clock from its cell
			}
		}
	}
	best, second := -1, -1
	for i, s := range scores {
		switch {
		case best < 0 || s > scores[best]:
			best, second = i, best
		case second < 0 || s > scores[second]:
			second = i
		}
	}
	switch {
	case best < 0 && openQuote > 0:
		return nil, refuseOpenQuote(openQuote)
	case best < 0:
		return nil, &wear.Refusal{Code: "no_table"} // its reason is told once nothing else helps
	}
	if scores[best] <= scoreRunnerUp {
		for _, t := range tables {
			if ref := t.refuseTimes(); ref != nil {
				return nil, ref
			}
			if written, ref := l.dayNumbers(t, now); ref != nil || written != nil && written.score() > scoreRunnerUp {
				return written, ref
			}
		}
	}
	if scores[best] == 0 && slices.ContainsFunc(tables, (*table).headingOnly) {
		return nil, refuseNoReadings()
	}
	switch {
	case scores[best] <= scoreRunnerUp && openQuote > 0 && openMarks >= strings.Count(text, string(tables[best].delim)):
		return nil, refuseOpenQuote(openQuote)
	case scores[best] == 0:
		return nil, &wear.Refusal{Code: "no_table"} // its reason is told once nothing else helps
	}
	d := wear.Decision{Code: "delimiter", Answer: names[best], Margin: 1, By: "values",
		Evidence: fmt.Sprintf("%.1f %% of the rows have the same width, a time and a value", 100*scores[best])}
	if second >= 0 {
		d.RunnerUp, d.Margin = names[second], scores[best]-scores[second]
	}
	if second >= 0 && scores[second] > scoreRunnerUp*scores[best] {
		choices := make([]wear.Choice, 0, 2)
		for _, i := range []int{best, second} {
			rows := tables[i].samples(tables[i].typed)
			choices = append(choices, wear.Choice{Value: names[i], Text: "by " + names[i], Effect: "a row would read: " + rows[0], Rows: rows})
		}
		if given := l.ask("delimiter", "Which mark separates the columns?", choices...); given == "" || given == names[best] {
			return tables[best], nil
		}
		return tables[second], nil
	}
	l.decisions = append(l.decisions, d)
	return tables[best], nil
}

// clocked reports whether some row has a time of day.
func (t *table) clocked() bool {
	return slices.ContainsFunc(t.kinds, func(k kind) bool { return k == moment || k == clock || k == epoch })
}

// typed reports whether a row holds a time and something else.
func (t *table) typed(row int) bool {
	times, others := 0, 0
	for i := t.first[row]; i < t.first[row+1]; i++ {
		switch t.kinds[i] {
		case moment, day, clock, epoch:
			times++
		case blank:
		default:
			others++
		}
	}
	return times > 0 && others > 0
}

// commonWidth is the most frequent width among typed rows, and how many of them
// have it. Ties go to the smaller width.
func (t *table) commonWidth() (width, rows int) {
	counts := make(map[int]int)
	last, run := -1, 0
	for r := range t.rows() {
		if !t.typed(r) {
			continue
		}
		if w := t.width(r); w == last {
			run++
		} else {
			counts[last] += run
			last, run = w, 1
		}
	}
	counts[last] += run
	for w, n := range counts {
		if w > 0 && (n > rows || n == rows && w < width) {
			width, rows = w, n
		}
	}
	return width, rows
}

// score is the share of the rows from the first typed one on that are typed
// and of the common width; blank rows do not count.
func (t *table) score() float64 {
	_, typed := t.commonWidth()
	if typed == 0 {
		return 0
	}
	rows, started := 0, false
	for r := range t.rows() {
		started = started || t.typed(r)
		if started && !t.empty(r) {
			rows++
		}
	}
	return float64(typed) / float64(rows)
}

// typedRows counts the rows with a time and something else.
func (t *table) typedRows() (n int) {
	for r := range t.rows() {
		if t.typed(r) {
			n++
		}
	}
	return n
}

// samples shows the first rows that are wanted, their cells apart.
func (t *table) samples(want func(row int) bool) (rows []string) {
	for r := 0; r < t.rows() && len(rows) < maxSamples; r++ {
		if want(r) {
			rows = append(rows, t.show(r))
		}
	}
	return rows
}

// show writes a row with its cells apart.
func (t *table) show(row int) string {
	const most = 6
	var cells []string
	for c := range min(t.width(row), most) {
		cells = append(cells, short(t.cell(row, c)))
	}
	return strings.Join(cells, " ¦ ")
}

// refuseTimes says what is wrong with times whose digits a spreadsheet cut.
func (t *table) refuseTimes() *wear.Refusal {
	cut, rows := 0, 0
	for r := range t.rows() {
		rows++
		for c := range min(t.width(r), maxColumns) {
			s := t.cell(r, c)
			if i := strings.IndexAny(s, "eE"); t.kind(r, c) == odd && i > 0 && strings.Contains("09 10 11 12 13 14 15", strings.TrimLeft(s[i+1:], "+")) {
				cut++
			}
		}
	}
	if cut*2 <= rows {
		return nil
	}
	return refuse("time_digits_lost", "A spreadsheet shortened the times to powers of ten, and the rest of their digits is gone.",
		"Export again and drop the file without opening or saving it in a spreadsheet.")
}

// headingOnly reports whether some row names both a time and a glucose column
// and no row has a value.
func (t *table) headingOnly() bool {
	for r := range t.rows() {
		if t.hasNumber(r) {
			return false
		}
	}
	for r := range min(t.rows(), 200) {
		var hasTime, hasGlucose bool
		for c := range min(t.width(r), maxColumns) {
			switch roleOf(t.cell(r, c)) {
			case roleTime:
				hasTime = true
			case roleGlucose, roleScan, roleFinger:
				hasGlucose = true
			}
		}
		if hasTime && hasGlucose {
			return true
		}
	}
	return false
}
