package intake

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"wearround/worker/wear"
)

// dayCount is a spreadsheet's way of counting days. Two are in use, 1,462 days
// apart.
type dayCount struct {
	value string // the answer that stands for it
	zero  int64  // its number for 1 January 1970
}

var (
	days1900 = dayCount{"1900", 25569}
	days1904 = dayCount{"1904", 24107}
)

// Day numbers from 2000 to 2070 by either count.
const (
	lowestDay, highestDay = 35000, 62100
)

// stored is what a number can be in a spreadsheet's time column.
type stored uint8

const (
	noStored    stored = iota
	wholeDay           // 46082
	dayAndClock        // 46082.375
	clockOnly          // 0.375
)

// storedTime reads a number as a day number or a share of a day.
func storedTime(s string) (v float64, what stored) {
	if len(s) < 3 || s[0] < '0' || s[0] > '9' {
		return 0, noStored
	}
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	point := strings.ContainsAny(s, ".,")
	switch {
	case err != nil:
		return 0, noStored
	case v < 1 && point && len(s) > 3:
		return v, clockOnly
	case v < lowestDay || v > highestDay:
		return 0, noStored
	case point:
		return v, dayAndClock
	}
	return v, wholeDay
}

// seconds is a day number in seconds since 1970.
func (d dayCount) seconds(v float64) int64 { return int64(math.Round((v - float64(d.zero)) * 86400)) }

// storedColumn counts what the cells of one column can be.
type storedColumn struct {
	n       [clockOnly + 1]int
	stamps  int // written dates
	clocks  int // written clock times
	numeric int // written dates whose order of day and month is open
	filled  int
	digits  int // the most digits after the decimal mark
	lowest  float64
}

func (t *table) storedColumns() []storedColumn {
	cols := make([]storedColumn, t.widest())
	for r := range t.rows() {
		for c := range min(t.width(r), maxColumns) {
			col := &cols[c]
			switch k := t.kind(r, c); k {
			case blank:
				continue
			case moment, day:
				col.stamps++
				if st, _ := parseStamp(t.cell(r, c)); st.form == numeric || st.form == numeric2 {
					col.numeric++
				}
			case clock:
				col.clocks++
			case integer, decimal:
				s := t.cell(r, c)
				v, what := storedTime(s)
				col.n[what]++
				if what == dayAndClock || what == clockOnly {
					if i := strings.IndexAny(s, ".,"); i >= 0 {
						col.digits = max(col.digits, len(s)-i-1)
					}
				}
				if what >= wholeDay && what <= dayAndClock && (col.lowest == 0 || v < col.lowest) {
					col.lowest = v
				}
			}
			col.filled++
		}
	}
	return cols
}

// plan tells for each column what its numbers are to be read as.
func storedPlan(cols []storedColumn) (plan []stored, some bool) {
	plan = make([]stored, len(cols))
	clocks := 0
	for c, col := range cols {
		if days := col.n[dayAndClock] + col.n[wholeDay] + col.stamps; col.n[dayAndClock]*4 > days && days*10 > col.filled*7 {
			plan[c], some = dayAndClock, true
		}
		if clock := col.n[clockOnly] + col.clocks; clock*10 > col.filled*7 {
			clocks++
		}
	}
	if some || clocks == 0 {
		return plan, some
	}
	written := 0
	for _, col := range cols {
		if col.stamps*10 > col.filled*7 {
			written++
		}
	}
	for c, col := range cols { // a column of days beside a column of clock times
		if written == 1 && clocks == 1 && col.n[clockOnly]*10 > col.filled*7 {
			some = true // the days are written out
		}
		if days := col.n[wholeDay] + col.stamps; col.n[wholeDay] > 0 && days*10 > col.filled*7 {
			plan[c], some = wholeDay, true
		}
		if col.n[clockOnly] > 0 && (col.n[clockOnly]+col.clocks)*10 > col.filled*7 {
			plan[c] = clockOnly
		}
	}
	return plan, some
}

// dated writes a spreadsheet's day numbers out as dates; a table without any
// stays as it is.
func (l *ledger) dated(t *table, days dayCount) (*table, *wear.Refusal) {
	cols := t.storedColumns()
	plan, some := storedPlan(cols)
	if !some {
		return t, nil
	}
	for c, col := range cols {
		if plan[c] != noStored && col.numeric > 0 && !l.mixedDates("Some dates are a spreadsheet's and others are text", t.firstDates(c)) {
			return nil, refuseMixedDates()
		}
	}
	b := tableBuilder{}
	for r := range t.rows() {
		for c := range t.width(r) {
			s := t.cell(r, c)
			if c < len(plan) && plan[c] != noStored {
				s = days.written(s, plan[c])
			}
			b.pinOf(t, r, c)
			b.cell(s)
		}
		b.end(t.line[r])
	}
	out := b.table()
	out.whole = t.whole || strings.HasSuffix(t.text, "\n") || strings.HasSuffix(t.text, "\r")
	return out, nil
}

// hoursAlone writes the shares of a day out that a sheet without dates has for its
// times, in the first column that holds nothing else.
func (t *table) hoursAlone() *table {
	cols := t.storedColumns()
	if len(cols) == 0 || cols[0].n[clockOnly]*10 < 7*cols[0].filled || cols[0].lowest > 0 {
		return t
	}
	for _, col := range cols {
		if col.stamps+col.clocks > 0 {
			return t
		}
	}
	return t.rewrite(map[int]func(int, string) string{0: func(_ int, s string) string { return days1900.written(s, clockOnly) }})
}

// written turns a stored time into a written one; other text stays.
func (d dayCount) written(s string, as stored) string {
	v, what := storedTime(s)
	if part, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64); as == clockOnly && err == nil && part >= 0 && part < 1 {
		v, what = part, clockOnly // "0" and "0.5" too, among the hours of a day
	}
	switch {
	case what == noStored || what == clockOnly && as != clockOnly:
		return s
	case what == clockOnly:
		return time.Unix(int64(math.Round(v*86400)), 0).UTC().Format("15:04:05")
	case as == wholeDay:
		return time.Unix(d.seconds(v), 0).UTC().Format("2006-01-02")
	}
	return time.Unix(d.seconds(v), 0).UTC().Format("2006-01-02 15:04:05")
}

// firstDates are the first dates that a column holds as text.
func (t *table) firstDates(c int) (rows []string) {
	for r := 0; r < t.rows() && len(rows) < maxSamples; r++ {
		if k := t.kind(r, c); k == moment || k == day {
			rows = append(rows, t.cell(r, c))
		}
	}
	return rows
}

// mixedDates asks about a column whose dates are written in more than one way:
// a spreadsheet with other habits may have exchanged day and month in those
// that it understood. It reports false where somebody says so.
func (l *ledger) mixedDates(what string, rows []string) bool {
	return l.ask("mixed_dates", what+", so day and month may be exchanged in some. Are all dates right?",
		wear.Choice{Value: "right", Text: "Yes", Effect: "all dates would be read as they stand", Rows: rows},
		wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out; drop the original export"}) != "stop"
}

func refuseMixedDates() *wear.Refusal {
	return refuse("mixed_dates", "The dates are written in more than one way, and it is not known whether all are right.",
		"Drop the original export, without opening or saving it in a spreadsheet.")
}

// dayNumbers reads the day numbers that a spreadsheet wrote into a text file.
// It gives nil if there are none. Which of the two counts was used is asked
// where both give a date that can be.
func (l *ledger) dayNumbers(t *table, now int64) (*table, *wear.Refusal) {
	cols := t.storedColumns()
	plan, some := storedPlan(cols)
	if !some {
		return nil, nil
	}
	var first float64
	for c, col := range cols {
		if plan[c] == noStored || plan[c] == clockOnly {
			continue
		}
		first = col.lowest
		if plan[c] == dayAndClock && col.digits < 4 {
			return nil, refuse("time_digits_lost", "A spreadsheet shortened the times, and the rest of their digits is gone.",
				"Export again and drop the file without opening or saving it in a spreadsheet.")
		}
	}
	var fit []dayCount
	var choices []wear.Choice
	for _, d := range []dayCount{days1900, days1904} {
		at := d.seconds(first)
		if at < firstTime || now > 0 && at > now+86400 {
			continue
		}
		fit = append(fit, d)
		choices = append(choices, wear.Choice{Value: d.value, Text: "from " + d.value, Effect: "first reading would be " + longDate(at), Rows: t.storedRows(plan, d)})
	}
	switch len(fit) {
	case 0:
		return nil, nil
	case 1:
		l.note("day_numbers", fit[0].value, "the other count gives dates that cannot be", "values")
	default:
		if l.ask("day_numbers", "The times are a spreadsheet's day numbers, which are counted from 1900 or from 1904. Which is it?", choices...) == fit[1].value {
			return l.dated(t, fit[1])
		}
	}
	return l.dated(t, fit[0])
}

// storedRows shows the first rows as one way of counting reads them.
func (t *table) storedRows(plan []stored, d dayCount) (rows []string) {
	for r := 0; r < t.rows() && len(rows) < maxSamples; r++ {
		for c := range min(t.width(r), len(plan)) {
			if plan[c] == noStored || plan[c] == clockOnly {
				continue
			}
			if _, what := storedTime(t.cell(r, c)); what == wholeDay || what == dayAndClock {
				rows = append(rows, fmt.Sprintf("%s is %s", t.cell(r, c), d.written(t.cell(r, c), plan[c])))
			}
			break
		}
	}
	return rows
}
