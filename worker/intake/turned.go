package intake

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wearround/worker/wear"
)

// datesAbove writes a date that stands in a line of its own into the rows below
// it, which have a clock time only.
func (t *table) datesAbove() *table {
	clocks := 0
	for _, k := range t.kinds {
		switch k {
		case clock:
			clocks++
		case moment, epoch:
			return nil
		}
	}
	if clocks == 0 {
		return nil
	}
	lines, dated := 0, 0
	for r := range t.rows() {
		row := t.kinds[t.first[r]:t.first[r+1]]
		switch {
		case slices.Contains(row, clock) && slices.Contains(row, day):
			dated++
		case !slices.Contains(row, clock) && t.dateLine(r) != "":
			lines++
		}
	}
	if lines < 2 || dated > 0 || clocks < 3*lines {
		return nil
	}
	d := derive(t)
	date, from := "", int32(-1)
	for r := range t.rows() {
		if s := t.dateLine(r); s != "" {
			date, from = s, t.first[r]
			for i := t.first[r]; i < t.first[r+1]; i++ {
				if t.kinds[i] != blank {
					from = i
					break
				}
			}
			continue // its cell is that of the rows below
		}
		switch {
		case t.empty(r):
			d.cell("", -1)
		case slices.Contains(t.kinds[t.first[r]:t.first[r+1]], clock):
			d.cell(date, from)
		default:
			d.cell("", -1)
		}
		for c := range t.width(r) {
			d.cell(t.cell(r, c), t.first[r]+int32(c))
		}
		d.end(t.line[r])
	}
	return d.table()
}

// dateLine gives the date that a line holds and nothing else, or "".
func (t *table) dateLine(r int) (date string) {
	filled := 0
	for i := t.first[r]; i < t.first[r+1]; i++ {
		if t.kinds[i] == blank {
			continue
		}
		if filled++; filled > 1 {
			return ""
		}
		s := strings.Trim(t.at(t.cells[i]), spaces+"—–-=*#~_:|")
		if kindOf(s) == day {
			date = s
		} else if w, ok := timeIn(s); ok && w.clock == "" && len(w.words) <= 2 && len(s) < 40 {
			if st, ok := parseStamp(w.date); ok && st.form != noDate {
				date = w.date
			}
		}
	}
	return date
}

// melted turns a table of days by hours round: a row a day and a column a
// clock time, or the other way, becomes a row a reading.
func (t *table) melted() *table {
	for r := range min(t.rows(), 40) {
		days, clocks := make(map[int]string), make(map[int]string)
		for c := range min(t.width(r), maxColumns) {
			s := t.cell(r, c)
			if t.kind(r, c) == day {
				days[c] = s
			} else if date := dateInWords(s); date != "" {
				days[c] = date
			} else if at := clockText(s); at != "" {
				clocks[c] = at
			}
		}
		heads, other := days, clock
		if len(clocks) > len(days) {
			heads, other = clocks, day
		}
		if len(heads) < 4 || len(days) > 0 && len(clocks) > 1 || other == day && !evenly(heads) {
			continue
		}
		if out := t.melt(r, heads, other); out != nil {
			return out
		}
	}
	return nil
}

// evenly reports whether clock times follow each other by one step.
func evenly(heads map[int]string) bool {
	columns := slices.Sorted(maps.Keys(heads))
	minutes := func(c int) int {
		h, m, _ := bareClock(strings.Replace(heads[c], ":", ".", 1))
		return h*60 + m
	}
	step := (minutes(columns[1]) - minutes(columns[0]) + 1440) % 1440
	for i := 1; i < len(columns); i++ {
		if (minutes(columns[i])-minutes(columns[i-1])+1440)%1440 != step || step == 0 {
			return false
		}
	}
	return true
}

// transposed turns a table round whose times stand in one row.
func (t *table) transposed() *table {
	if t.rows() > 60 {
		return nil
	}
	for r := range t.rows() {
		times, width := 0, t.width(r)
		for c := range width {
			if t.kind(r, c) == moment || t.kind(r, c) == epoch {
				times++
			}
		}
		if times < 20 || times*10 < 8*width {
			continue
		}
		d := derive(t)
		var rows []int
		for q := range t.rows() {
			if t.width(q)*2 > width {
				rows = append(rows, q)
				continue
			}
			for c := range t.width(q) {
				d.cell(t.cell(q, c), t.first[q]+int32(c))
			}
			d.end(t.line[q])
		}
		for c := range width {
			for _, q := range rows {
				if c < t.width(q) {
					d.cell(t.cell(q, c), t.first[q]+int32(c))
				} else {
					d.cell("", -1)
				}
			}
			d.end(int32(c + 1))
		}
		return d.table()
	}
	return nil
}

func (t *table) melt(head int, heads map[int]string, other kind) *table {
	rows, keyCol := 0, -1
	isKey := func(r, c int) bool {
		return t.kind(r, c) == other || other == clock && clockText(t.cell(r, c)) != ""
	}
	keyOf := func(r, c int) string {
		if at := clockText(t.cell(r, c)); other == clock && at != "" {
			return at
		}
		return t.cell(r, c)
	}
	for r := head + 1; r < t.rows(); r++ {
		for c := range min(t.width(r), maxColumns) {
			if _, isHead := heads[c]; !isHead && isKey(r, c) {
				if keyCol < 0 {
					keyCol = c
				}
				if c == keyCol {
					rows++
				}
			}
		}
	}
	if rows < 2 || keyCol < 0 {
		return nil
	}
	columns := slices.Sorted(maps.Keys(heads))
	d := derive(t)
	title := t.measured(head)
	for r := range head {
		for c := range t.width(r) {
			d.cell(t.cell(r, c), t.first[r]+int32(c))
		}
		d.end(t.line[r])
	}
	names := [2]string{"date", "time"}
	if other == clock {
		names = [2]string{"time", "date"}
	}
	d.cell(names[0], -1)
	d.cell(names[1], -1)
	d.cell(title, -1)
	for c := range t.width(head) {
		if _, isHead := heads[c]; !isHead {
			d.cell(t.cell(head, c), t.first[head]+int32(c))
		}
	}
	d.end(t.line[head])
	emit := func(r int, key string, keyFrom int32, c int) {
		d.cell(key, keyFrom)
		d.cell(heads[c], t.first[head]+int32(c))
		if c < t.width(r) {
			d.cell(t.cell(r, c), t.first[r]+int32(c))
		} else {
			d.cell("", -1)
		}
		for x := range t.width(r) { // what else the row says stands on its first reading
			if _, isHead := heads[x]; !isHead && c == columns[0] && x != keyCol {
				d.cell(t.cell(r, x), t.first[r]+int32(x))
			}
		}
		d.end(t.line[r])
	}
	if other == clock { // a column a day: the days one after the other
		for _, c := range columns {
			for r := head + 1; r < t.rows(); r++ {
				if isKey(r, keyCol) && t.kind(r, c) != blank {
					emit(r, keyOf(r, keyCol), t.first[r]+int32(keyCol), c)
				}
			}
		}
		return d.table()
	}
	for r := head + 1; r < t.rows(); r++ {
		if !isKey(r, keyCol) {
			for c := range t.width(r) {
				d.cell(t.cell(r, c), t.first[r]+int32(c))
			}
			d.end(t.line[r])
			continue
		}
		for _, c := range columns {
			if t.kind(r, c) != blank || c == columns[0] && t.restFilled(r, heads, keyCol) {
				emit(r, t.cell(r, keyCol), t.first[r]+int32(keyCol), c)
			}
		}
	}
	return d.table()
}

// restFilled reports whether a row says something beside its key and values.
func (t *table) restFilled(r int, heads map[int]string, keyCol int) bool {
	for c := range t.width(r) {
		if _, isHead := heads[c]; !isHead && c != keyCol && t.kind(r, c) != blank {
			return true
		}
	}
	return false
}

// minuteHead is the heading of a column with the readings of one minute of the hour.
var minuteHead = regexp.MustCompile(`^:([0-5]\d)$`)

// hoursByMinutes turns a table round that has a row an hour, with its date and hour,
// and a column for each of some minutes: it becomes a row a reading.
func (t *table) hoursByMinutes() *table {
	for head := range min(t.rows(), headRows) {
		minutes := make(map[int]string)
		for c := range min(t.width(head), maxColumns) {
			if m := minuteHead.FindStringSubmatch(t.cell(head, c)); m != nil {
				minutes[c] = m[1]
			}
		}
		if len(minutes) < 2 {
			continue
		}
		dates, hours := t.dateAndHour(head)
		if dates < 0 || hours < 0 {
			return nil
		}
		columns := slices.Sorted(maps.Keys(minutes))
		used := make(map[int]bool) // a minute without any reading gives rows without one, so that its heading is accounted for
		for _, c := range columns {
			for r := head + 1; r < t.rows() && !used[c]; r++ {
				used[c] = t.kind(r, c) != blank
			}
		}
		d := derive(t)
		for r := range t.rows() {
			whole := r > head && t.kind(r, dates) == day && isHour(t.cell(r, hours))
			if r == head {
				d.cell("date", t.first[r]+int32(dates))
				d.cell("time", t.first[r]+int32(hours))
				d.cell(t.measured(head), t.first[r]+int32(columns[0]))
			}
			for i, c := range columns {
				if !whole || i > 0 && t.kind(r, c) == blank && used[c] {
					continue
				}
				d.cell(t.cell(r, dates), t.first[r]+int32(dates))
				from := t.first[r] + int32(hours)
				if i > 0 {
					from = t.first[head] + int32(c)
				}
				d.cell(fmt.Sprintf("%02s:%s", t.cell(r, hours), minutes[c]), from)
				d.cell(t.cell(r, c), t.first[r]+int32(c))
				for x := range t.width(r) { // what else the row says stands on its first reading
					if minutes[x] == "" && i == 0 && x != dates && x != hours {
						d.cell(t.cell(r, x), t.first[r]+int32(x))
					}
				}
				d.end(t.line[r])
			}
			if whole {
				continue
			}
			for c := range t.width(r) {
				if r != head || minutes[c] == "" && c != dates && c != hours {
					d.cell(t.cell(r, c), t.first[r]+int32(c))
				}
			}
			d.end(t.line[r])
		}
		return d.table()
	}
	return nil
}

func isHour(s string) bool {
	h, err := strconv.Atoi(s)
	return err == nil && h >= 0 && h < 24 && len(s) < 3
}

// dateAndHour finds the columns of the date and of the hour, which runs on from row to
// row through the day, below a heading; negative where there is none.
func (t *table) dateAndHour(head int) (dates, hours int) {
	dates, hours = -1, -1
	for c := range min(t.width(head), maxColumns) {
		days, rows, steps, last := 0, 0, 0, -1
		for r := head + 1; r < t.rows(); r++ {
			if t.kind(r, c) == day {
				days++
			}
			if s := t.cell(r, c); isHour(s) {
				h, _ := strconv.Atoi(s)
				if last >= 0 && (h-last+24)%24 == 1 {
					steps++
				}
				last = h
			}
			rows++
		}
		switch {
		case days*10 >= 9*rows && dates < 0:
			dates = c
		case rows >= 24 && steps*10 >= 8*rows && hours < 0:
			hours = c
		}
	}
	return dates, hours
}

// measured is what the first rows say that the values are.
func (t *table) measured(head int) (title string) {
	for r := 0; r <= head && title == ""; r++ {
		for c := range t.width(r) {
			if s := t.cell(r, c); roleOf(s) == roleGlucose || unitIn(s) != wear.UnitUnknown && title == "" {
				title = s
			}
		}
	}
	return title
}
