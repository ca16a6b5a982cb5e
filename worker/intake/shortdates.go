package intake

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"wearround/worker/wear"
)

// withoutYear is a day and a month in numbers.
var withoutYear = regexp.MustCompile(`^(\d{1,2})([./-])(\d{1,2})[./-]?$`)

// yearAbove writes the year into dates that have none, in a table with clock times:
// the one year that stands in the lines without a time, or is part of a date there. It
// is asked about, since the year of a form is no year of readings. The column is told
// by its values: it changes exactly where the clock falls.
func (l *ledger) yearAbove(t *table) map[int]func(int, string) string {
	if slices.ContainsFunc(t.kinds, func(k kind) bool { return k == epoch }) {
		return nil
	}
	clocks := -1
	var rows []int
	for r := range t.rows() {
		for c := range min(t.width(r), maxColumns) {
			if t.kind(r, c) == clock && (clocks < 0 || clocks == c) {
				clocks, rows = c, append(rows, r)
			}
		}
	}
	if len(rows) < 48 {
		return nil
	}
	for c := range t.widest() {
		if c == clocks || !t.fallsWith(c, clocks, rows) {
			continue
		}
		years := make(map[string]bool)
		for r := range t.rows() {
			if t.kind(r, clocks) == clock {
				continue
			}
			for _, y := range anyYear.FindAllString(t.written(r), -1) {
				years[y] = true
			}
		}
		if len(years) != 1 {
			return nil
		}
		for year := range years {
			l.askOnce("year", fmt.Sprintf("The dates of the rows have no year. Is it %s, which the file names beside them?", year),
				wear.Choice{Value: year, Text: "Yes, " + year, Effect: "“" + t.cell(rows[0], c) + "” would be in " + year, Rows: t.samples(func(r int) bool { return r >= rows[0] })})
			return map[int]func(int, string) string{c: func(r int, s string) string {
				if m := withoutYear.FindStringSubmatch(s); m != nil && t.kind(r, clocks) == clock {
					return m[1] + m[2] + m[3] + m[2] + year
				}
				return s
			}}
		}
	}
	return nil
}

var anyYear = regexp.MustCompile(`\b20\d\d\b`)

// fallsWith reports whether a column holds days and months, and another one in each
// place where the clock falls and nowhere else; a clock that is set back aside.
func (t *table) fallsWith(c, clocks int, rows []int) bool {
	good, bad, days := 0, 0, 0
	for i, r := range rows {
		if t.kind(r, c) == day || t.kind(r, c) == moment || !withoutYear.MatchString(t.cell(r, c)) {
			return false
		}
		if i == 0 {
			continue
		}
		a, _ := parseStamp(t.cell(rows[i-1], clocks))
		b, _ := parseStamp(t.cell(r, clocks))
		changed := t.cell(rows[i-1], c) != t.cell(r, c)
		if changed {
			days++
		}
		if changed == (b.secs < a.secs) {
			good++
		} else {
			bad++
		}
	}
	return days > 1 && bad <= 2+days/10 && good > 8*days
}

// sixFigures writes dates plainly whose day, month and year are two figures each with
// nothing between. They are told by their values: in one order and no other each date
// is the day after the one before it.
func (t *table) sixFigures() map[int]func(int, string) string {
	if slices.ContainsFunc(t.kinds, func(k kind) bool { return k == day || k == moment || k == epoch }) {
		return nil
	}
	for c := range t.widest() {
		var found string
		for _, layout := range []string{"060102", "020106", "010206"} {
			if t.dayByDay(c, layout) {
				if found != "" {
					return nil
				}
				found = layout
			}
		}
		if found != "" {
			return map[int]func(int, string) string{c: func(_ int, s string) string {
				if at, err := time.Parse(found, s); err == nil {
					return at.Format(time.DateOnly)
				}
				return s
			}}
		}
	}
	return nil
}

// dayByDay reports whether the six figures of a column, read so, go on from day to
// day over many rows each.
func (t *table) dayByDay(c int, layout string) bool {
	var last time.Time
	rows, days, next := 0, 0, 0
	for r := range t.rows() {
		s := t.cell(r, c)
		if len(s) != 6 || t.kind(r, c) != integer {
			continue
		}
		at, err := time.Parse(layout, s)
		if err != nil {
			return false
		}
		rows++
		if at.Equal(last) {
			continue
		}
		if d := at.Sub(last); days > 0 && (d == 24*time.Hour || d == -24*time.Hour) {
			next++
		}
		days, last = days+1, at
	}
	return days > 2 && next*10 >= 9*(days-1) && rows > 8*days && rows*10 > 9*(t.rows()-10)
}

// epochWords are words of a heading that says that its numbers count from 1970.
var epochWords = []string{"1970", "epoch", "unix"}

// countedSince writes moments plainly that are counted in minutes or hours from 1970,
// under a heading that says so, or in seconds, minutes or hours from a start that
// stands above the table, which is asked about.
func (l *ledger) countedSince(t *table) map[int]func(int, string) string {
	start, from := int64(-1), ""
	starts := 0
	for r := range t.rows() {
		for c := range min(t.width(r), maxColumns) {
			k := t.kind(r, c)
			if k == day || k == clock || k == epoch || k == moment && r > headRows {
				return nil
			}
			cell := t.cell(r, c)
			if k == word {
				cell = sayingIn(cell).value
			}
			if k != moment && k != word || r > headRows {
				continue
			}
			if st, ok := stampOf(cell); ok && st.form == yearFirst && !st.absolute {
				starts, start, from = starts+1, st.at(orders[2]).secs, t.written(r)
			}
		}
	}
	for c := range t.widest() {
		head, low, high, ok := t.counting(c)
		if !ok {
			continue
		}
		heading := plain(t.cell(head, c))
		if slices.ContainsFunc(epochWords, func(w string) bool { return strings.Contains(heading, w) }) {
			for _, scale := range []int64{60, 3600} {
				if low*scale >= firstTime && high*scale <= lastTime {
					return map[int]func(int, string) string{c: func(r int, s string) string {
						if v, err := strconv.ParseInt(s, 10, 64); err == nil && r > head {
							return time.Unix(v*scale, 0).UTC().Format("2006-01-02 15:04Z")
						}
						return s
					}}
				}
			}
		}
		if starts != 1 || low < 0 || low > 86400 {
			continue
		}
		var choices []wear.Choice
		for _, u := range []struct {
			value string
			scale int64
		}{{"seconds", 1}, {"minutes", 60}, {"hours", 3600}} {
			if length := (high - low) * u.scale; length >= 12*3600 && length <= 400*86400 {
				choices = append(choices, wear.Choice{Value: u.value, Text: u.value + " after it", Effect: "from " + longClock(start+low*u.scale) + " to " + longClock(start+high*u.scale), Rows: t.samples(func(r int) bool { return r > head })})
			}
		}
		if len(choices) == 0 {
			continue
		}
		scale := int64(1)
		switch l.askOnce("counted", fmt.Sprintf("The rows have no time but a count, under %q. Is it counted from the time in “%s”?", short(t.cell(head, c)), short(from)), choices...) {
		case "minutes":
			scale = 60
		case "hours":
			scale = 3600
		}
		return map[int]func(int, string) string{c: func(r int, s string) string {
			if v, err := strconv.ParseInt(s, 10, 64); err == nil && r > head {
				return time.Unix(start+v*scale, 0).UTC().Format("2006-01-02 15:04:05")
			}
			return s
		}}
	}
	return nil
}

// counting reports a column of whole numbers that rise by one step mostly, below a
// heading: its row, and the first and last number.
func (t *table) counting(c int) (head int, low, high int64, ok bool) {
	head = -1
	rows := 0
	var last int64
	usual := make(map[int64]int)
	for r := range t.rows() {
		v, err := strconv.ParseInt(t.cell(r, c), 10, 64)
		switch {
		case err != nil && rows == 0:
			if t.kind(r, c) == word {
				head = r
			}
			continue
		case t.empty(r):
			continue
		case err != nil, rows > 0 && v <= last:
			return head, 0, 0, false
		case rows == 0:
			low = v
		default:
			usual[v-last]++
		}
		rows++
		last, high = v, v
		if len(usual) > maxSteps {
			return head, 0, 0, false
		}
	}
	most := 0
	for step, n := range usual {
		if step > 1 {
			most = max(most, n)
		}
	}
	return head, low, high, rows >= 48 && head >= 0 && most*10 >= 7*rows
}
