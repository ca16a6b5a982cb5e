package intake

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"wearround/worker/wear"
)

// derived makes a table whose cells say more plainly what those of another say.
// Each knows the cell that it comes from, so that the account of the file is
// that of the cells as they stand in it.
type derived struct {
	from *table
	out  *table
	text []byte
}

func derive(from *table) *derived {
	return &derived{from: from, out: &table{delim: from.delim, first: []int32{0}, parent: from, title: from.title, unitsOf: from.unitsOf, glucoseIn: from.glucoseIn, pieces: from.pieces,
		whole: from.whole || strings.HasSuffix(from.text, "\n") || strings.HasSuffix(from.text, "\r")}}
}

// cell adds a cell that comes from the one numbered i, or from none where i is
// negative.
func (d *derived) cell(s string, i int32) {
	if i >= 0 && d.from.origin != nil {
		i = d.from.origin[i]
	}
	start := len(d.text)
	d.text = append(d.text, s...)
	d.out.cells = append(d.out.cells, span{int32(start), int32(len(d.text))})
	d.out.origin = append(d.out.origin, i)
}

func (d *derived) end(line int32) {
	d.out.first = append(d.out.first, int32(len(d.out.cells)))
	d.out.line = append(d.out.line, line)
}

func (d *derived) table() *table {
	d.out.text = string(d.text)
	d.out.classify()
	return d.out
}

// rewrite gives the table with some columns written otherwise; nil where change
// gives nothing for every column.
func (t *table) rewrite(change map[int]func(row int, s string) string) *table {
	if len(change) == 0 {
		return nil
	}
	d := derive(t)
	for r := range t.rows() {
		for c := range t.width(r) {
			s := t.cell(r, c)
			if f := change[c]; f != nil && s != "" {
				s = f(r, s)
			}
			d.cell(s, t.first[r]+int32(c))
		}
		d.end(t.line[r])
	}
	return d.table()
}

// tidyRows is how many rows a column is told by.
const tidyRows = 3000

// tidy writes cells plainly that dress up a time or a number: a formula around
// it, digits and marks of full width, words for the weekday and the half of the
// day, months by name, a unit or an arrow beside the number.
func (l *ledger) tidy(t *table) *table {
	if undressed := t.rewrite(t.dressed()); undressed != nil {
		t = undressed
	}
	if whole := t.timeFromPieces(); whole != nil {
		t = whole
	}
	width := 0
	for r := range t.rows() {
		width = max(width, min(t.width(r), maxColumns))
	}
	change := make(map[int]func(int, string) string)
	for c := range width {
		if f := t.timesWritten(c); f != nil {
			change[c] = f
		} else if f := t.numbersWritten(c); f != nil {
			change[c] = f
		}
	}
	if out := t.rewrite(change); out != nil {
		t = out
	}
	if out := t.rewrite(t.bareClocks()); out != nil {
		t = out
	}
	if out := t.rewrite(t.minutesOfDay()); out != nil {
		t = out
	}
	if out := t.rewrite(t.halfBeside()); out != nil {
		t = out
	}
	if out := t.datesAbove(); out != nil {
		t = out
	}
	if out := t.transposed(); out != nil {
		t = out
	}
	if out := t.melted(); out != nil {
		t = out
	}
	return t
}

// dressed lists the columns with formulas or text marks around their cells, or
// with characters of full width.
func (t *table) dressed() map[int]func(int, string) string {
	change := make(map[int]func(int, string) string)
	for r := range min(t.rows(), tidyRows) {
		for c := range min(t.width(r), maxColumns) {
			if s := t.cell(r, c); s != "" && change[c] == nil && undress(s) != s {
				change[c] = func(_ int, s string) string { return undress(s) }
			}
		}
	}
	return change
}

// undress takes a formula or a text mark off a cell, and writes digits and
// marks of full width plainly. Words stay as they are.
func undress(s string) string {
	out := s
	switch {
	case strings.HasPrefix(s, `="`) && strings.HasSuffix(s, `"`) && len(s) > 3:
		out = s[2 : len(s)-1]
	case len(s) > 1 && s[0] == '\'' && strings.ContainsAny(s[1:2], "0123456789<>"):
		out = s[1:]
	}
	beyond := strings.IndexFunc(out, func(r rune) bool { return r >= 0x660 && (r < 0xac00 || r > 0xd7a3) && r != '年' && r != '月' })
	if beyond < 0 || !strings.ContainsFunc(out, func(r rune) bool { _, ok := digitOf(r); return ok || r >= '0' && r <= '9' }) {
		return out
	}
	folded := norm.NFKC.String(out)
	return strings.Map(func(r rune) rune {
		if d, ok := digitOf(r); ok {
			return rune(d)
		}
		switch r {
		case '٫':
			return '.'
		case '٬':
			return ','
		}
		return r
	}, folded)
}

// token is a piece of a written time.
type token struct {
	text   string
	digits bool
	month  int
}

// signs are the characters that stand behind the numbers of a date or clock.
var signs = strings.NewReplacer("年", "-", "月", "-", "日", " ", "년", "-", "월", "-", "일", " ",
	"時", ":", "时", ":", "点", ":", "分", ":", "秒", " ", "시", ":", "분", ":", "초", " ")

// tokensOf cuts a cell into numbers, words and marks. Words with only dots and
// spaces between them are one.
func tokensOf(s string) (list []token) {
	for s != "" {
		r := rune(s[0])
		if r >= 0x80 {
			for _, r = range s {
				break
			}
		}
		var n int
		switch {
		case r >= '0' && r <= '9':
			for n < len(s) && s[n] >= '0' && s[n] <= '9' {
				n++
			}
			list = append(list, token{text: s[:n], digits: true})
		case unicode.IsLetter(r):
			end, dotted := 0, false
			for i, r := range s {
				if unicode.IsLetter(r) || unicode.IsMark(r) {
					if i > end && !dotted {
						break // another word
					}
					end = i + len(string(r))
					dotted = false
				} else if r == '.' {
					dotted = monthIn(s[:end]) == 0
				} else if !strings.ContainsRune(spaces, r) {
					break
				}
			}
			n = end
			for n < len(s) && s[n] == '.' {
				n++
			}
			list = append(list, token{text: s[:end], month: monthIn(s[:end])})
		default:
			n = len(string(r))
			list = append(list, token{text: s[:n]})
		}
		s = s[n:]
	}
	return list
}

func firstRune(s string) rune {
	for _, r := range s {
		return r
	}
	return 0
}

func (k token) word() bool {
	return !k.digits && k.month == 0 && k.text != "" && unicode.IsLetter(firstRune(k.text))
}

// writtenTime is a time taken apart: what stands for the date, the clock, and the
// words whose meaning the column tells.
type writtenTime struct {
	date  string
	clock string
	hour  int
	tail  string   // an offset
	words []string // by slot: how many numbers stand before the word
	slots []int
}

// romanMonth is a month in Roman numerals between a day and a year.
var romanMonth = regexp.MustCompile(`^\d{1,2}[-./ ]+(XII|XI|X|IX|VIII|VII|VI|V|IV|III|II|I)[-./ ]+\d{4}\b`)

// monthByName writes the month of a [romanMonth] by its name, so that nothing is
// open about which number is the day.
func monthByName(s string) string {
	roman := strings.Trim(s, "0123456789-./ ")
	for m, numeral := range []string{"I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII"} {
		if roman == numeral {
			return strings.Replace(s, roman, time.Month(m+1).String(), 1)
		}
	}
	return s
}

// timeIn takes a written time apart.
func timeIn(s string) (w writtenTime, ok bool) {
	if len(s) > 80 || !strings.ContainsAny(s, "0123456789") {
		return w, false
	}
	w.hour = -1
	list := tokensOf(strings.TrimSpace(signs.Replace(romanMonth.ReplaceAllStringFunc(s, monthByName))))
	numbers, inDate := 0, 0
	var date strings.Builder
	month, day, year := 0, "", ""
	for i := 0; i < len(list); i++ {
		k := list[i]
		switch {
		case k.month > 0:
			if month > 0 {
				return w, false
			}
			month = k.month
		case k.digits && w.clock == "" && i+2 < len(list) && list[i+1].text == ":" && list[i+2].digits && len(k.text) <= 2 && len(list[i+2].text) == 2:
			w.hour, _ = strconv.Atoi(k.text)
			w.clock = k.text + ":" + list[i+2].text
			i += 2
			if i+2 < len(list) && list[i+1].text == ":" && list[i+2].digits && len(list[i+2].text) == 2 {
				w.clock += ":" + list[i+2].text
				i += 2
			} else if i+1 < len(list) && list[i+1].text == ":" {
				i++
			}
			numbers += 10
			if i+2 < len(list) && (list[i+1].text == "+" || list[i+1].text == "-" || list[i+1].text == " " && (list[i+2].text == "+" || list[i+2].text == "-")) {
				for _, rest := range list[i+1:] {
					w.tail += rest.text
				}
				if strings.Trim(w.tail, "+-0123456789: ") != "" {
					w.tail = ""
					continue
				}
				i = len(list)
			}
		case k.digits:
			numbers++
			switch {
			case month > 0 || hasMonth(list):
				if len(k.text) == 4 {
					year = k.text
				} else if day == "" {
					day = k.text
				} else {
					year = k.text
				}
				if i+1 < len(list) && list[i+1].word() && isOrdinal(list[i+1].text) {
					i++
				}
			default:
				if d := date.String(); d != "" && strings.IndexByte("-/. ", d[len(d)-1]) < 0 {
					date.WriteByte('-')
				}
				date.WriteString(k.text)
				if inDate++; inDate > 3 {
					return w, false
				}
			}
		case k.word():
			if w.clock == "" && i > 0 && list[i-1].text == "-" && i+1 < len(list) && list[i+1].digits {
				return w, false // "2026-W10-1": no date has a word for one of its numbers
			}
			if t := k.text; t == "T" && w.clock == "" {
				date.WriteByte(' ')
				continue
			} else if w.clock != "" && (t == "Z" || t == "UTC" || t == "GMT") {
				w.tail += t
				continue
			}
			if d := date.String(); d != "" && inDate < 3 && strings.IndexByte("-/. ", d[len(d)-1]) < 0 {
				date.WriteByte('-')
			}
			w.words, w.slots = append(w.words, k.text), append(w.slots, numbers)
		case strings.ContainsAny(k.text, "-/."):
			if date.Len() > 0 && inDate < 3 {
				date.WriteString(k.text)
			}
		case strings.TrimSpace(k.text) == "" || strings.ContainsAny(k.text, ",()[]'_") || strings.ContainsAny(k.text, spaces):
		default:
			return w, false
		}
	}
	w.date = strings.Trim(date.String(), "-/. ")
	if inDate > 0 && len(w.words) > 0 && !fourDigits(w.date) {
		return w, false // a word may be part of the year, as in the years of an era
	}
	if month > 0 {
		if day == "" || year == "" || date.Len() > 0 {
			return w, false
		}
		if len(year) == 2 {
			year = "20" + year
		}
		d, _ := strconv.Atoi(day)
		w.date = fmt.Sprintf("%s-%02d-%02d", year, month, d)
	}
	return w, w.date != "" || w.clock != ""
}

// fourDigits reports a run of four digits, such as a year.
func fourDigits(s string) bool {
	n := 0
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			n = 0
		} else if n++; n == 4 {
			return true
		}
	}
	return false
}

func hasMonth(list []token) bool {
	return slices.ContainsFunc(list, func(k token) bool { return k.month > 0 })
}

func isOrdinal(s string) bool {
	switch s {
	case "st", "nd", "rd", "th", "er":
		return true
	}
	return false
}

// timesWritten finds out how the cells of a column write a time with words, and
// gives what writes them plainly; nil where it is no such column.
func (t *table) timesWritten(c int) func(int, string) string {
	spelt, n := 0, 0
	for r := range t.rows() {
		switch t.kind(r, c) {
		case blank:
		case word, odd:
			if w, ok := timeIn(t.cell(r, c)); ok && (w.clock != "" || len(w.date) > 5) {
				spelt++
			}
			n++
		case moment, day, clock, epoch, integer, decimal:
			n++
		default:
			n++
		}
	}
	if spelt*2 <= n || spelt < 3 {
		return nil
	}
	type slot struct {
		values map[string]int
		filled int
	}
	slots := make(map[int]*slot)
	cells := make([]writtenTime, t.rows())
	good := 0
	for r := range t.rows() {
		s := t.cell(r, c)
		if k := t.kind(r, c); k == blank {
			continue
		}
		w, ok := timeIn(s)
		if !ok {
			continue
		}
		cells[r] = w
		good++
		for i, word := range w.words {
			sl := slots[w.slots[i]]
			if sl == nil {
				sl = &slot{values: make(map[string]int)}
				slots[w.slots[i]] = sl
			}
			if len(sl.values) < 20 {
				sl.values[word]++
			}
			sl.filled++
		}
	}
	half := -1
	for at, sl := range slots {
		switch {
		case len(sl.values) == 1 && !halfWord(sl.values):
		case len(sl.values) <= 2 && t.twelve(cells) && (at >= 10 || at == 0 || at == 3):
			if half >= 0 {
				return nil
			}
			half = at
		case len(sl.values) <= 7 && weekdays(cells, at):
		default:
			return nil
		}
	}
	var marks map[string]byte
	if half >= 0 {
		order := make([]halfRow, 0, good)
		for r := range cells {
			for i, at := range cells[r].slots {
				if at == half {
					order = append(order, halfRow{date: cells[r].date + t.dayBeside(r, c), hour: cells[r].hour, clock: cells[r].clock, word: cells[r].words[i]})
				}
			}
		}
		if marks = halvesOf(order); marks == nil {
			return nil
		}
	}
	return func(r int, s string) string {
		w := cells[r]
		if w.date == "" && w.clock == "" || t.kind(r, c) == word && !t.rewritable(w, half, marks) {
			return s
		}
		out := strings.TrimSpace(w.date + " " + w.clock)
		for i, at := range w.slots {
			if at == half {
				out += map[byte]string{'a': " AM", 'p': " PM"}[marks[w.words[i]]]
			}
		}
		out = strings.TrimSpace(out + " " + strings.TrimSpace(w.tail))
		if _, ok := parseStamp(out); !ok {
			return s
		}
		return out
	}
}

func (t *table) rewritable(w writtenTime, half int, marks map[string]byte) bool {
	for i, at := range w.slots {
		if at == half && marks[w.words[i]] == 0 {
			return false
		}
	}
	return true
}

func halfWord(values map[string]int) bool {
	for v := range values {
		if _, ok := halves[plainHalf(v)]; ok {
			return true
		}
	}
	return false
}

func plainHalf(s string) string {
	return strings.ToLower(strings.NewReplacer(".", "", " ", "", "\u00a0", "", "\u202f", "").Replace(s))
}

// twelve reports whether the clock runs from 1 to 12, or from 0 to 11.
func (t *table) twelve(cells []writtenTime) bool {
	for i := range cells {
		if cells[i].hour > 12 {
			return false
		}
	}
	return true
}

// weekdays reports whether the words in a slot name the day of the week: one
// word a date, and the same again a week later.
func weekdays(cells []writtenTime, at int) bool {
	of := make(map[string]string)
	for i := range cells {
		for k, slot := range cells[i].slots {
			if slot != at {
				continue
			}
			if was, known := of[cells[i].date]; known && was != cells[i].words[k] {
				return false
			}
			of[cells[i].date] = cells[i].words[k]
		}
	}
	return len(of) > 0
}

// dayBeside is what other columns of a row say of the date.
func (t *table) dayBeside(r, c int) (s string) {
	for d := range min(t.width(r), maxColumns) {
		if k := t.kind(r, d); d != c && (k == day || k == moment) {
			s += t.cell(r, d)
		}
	}
	return s
}

// halfRow is a time on a 12-hour clock with the word for the half of the day.
type halfRow struct {
	date, clock, word string
	hour              int
}

// minutes are those since the half began.
func (h halfRow) minutes() int {
	_, m, _ := strings.Cut(h.clock, ":")
	n, _ := strconv.Atoi(m[:min(2, len(m))])
	return h.hour%12*60 + n
}

// halvesOf finds out which of two words stands for the morning: at midnight the
// date changes with the word. Where no midnight is in the file, the words must
// be known.
func halvesOf(list []halfRow) map[string]byte {
	words := make(map[string]bool)
	for _, h := range list {
		words[h.word] = true
	}
	if len(words) > 2 {
		return nil
	}
	up, down := 0, 0
	before := make(map[string]int) // the word on the earlier date, at a change of both
	type change struct{ from, to string }
	var changes []change
	for i := 1; i < len(list); i++ {
		a, b := list[i-1], list[i]
		switch {
		case a.date == b.date && a.word == b.word && b.minutes() > a.minutes():
			up++
		case a.date == b.date && a.word == b.word && b.minutes() < a.minutes():
			down++
		case a.date != b.date && a.word != b.word:
			changes = append(changes, change{a.word, b.word})
		}
	}
	for _, ch := range changes {
		if down > up {
			ch.from, ch.to = ch.to, ch.from
		}
		before[ch.from]++
	}
	marks := make(map[string]byte)
	if len(words) == 2 && len(changes) >= 2 {
		most, n := "", 0
		for w, k := range before {
			if k > n {
				most, n = w, k
			}
		}
		if n*10 >= 9*len(changes) {
			for w := range words {
				marks[w] = 'a'
			}
			marks[most] = 'p'
			if inOrder(list, marks, down > up) {
				return marks
			}
		}
	}
	for w := range words {
		m, known := halves[plainHalf(w)]
		if !known {
			return nil
		}
		marks[w] = m
	}
	return marks
}

// inOrder reports whether times run on from row to row once the words stand for
// halves of the day, a few rows aside: two words that tell people or records
// apart change at a midnight too, and their times then leap to and fro.
func inOrder(list []halfRow, marks map[string]byte, backwards bool) bool {
	contrary := 0
	for i := 1; i < len(list); i++ {
		a, b := list[i-1], list[i]
		if backwards {
			a, b = b, a
		}
		early, late := marks[a.word], marks[b.word]
		if a.date == b.date && (early > late || early == late && b.minutes() < a.minutes()) {
			contrary++
		}
	}
	return contrary*50 <= len(list)
}

// halfBeside writes the half of the day, which stands in a column of its own,
// behind the clock.
func (t *table) halfBeside() map[int]func(int, string) string {
	clocks, word2 := -1, -1
	width := 0
	for r := range t.rows() {
		width = max(width, min(t.width(r), maxColumns))
	}
	rows := 0
	for r := range t.rows() {
		if t.typed(r) {
			rows++
		}
	}
	for c := range width {
		n, words := 0, make(map[string]int)
		for r := range t.rows() {
			if !t.typed(r) {
				continue
			}
			switch t.kind(r, c) {
			case clock, moment:
				st, _ := parseStamp(t.cell(r, c))
				if st.hour > 12 || st.half != 0 || st.hour < 0 {
					n = -1 << 30
				}
				n++
			case word:
				if len(words) < 3 {
					words[t.cell(r, c)]++
				}
			}
		}
		if n*10 >= 9*rows && clocks < 0 {
			clocks = c
		}
		if sum := 0; len(words) == 2 {
			for _, k := range words {
				sum += k
			}
			if sum*10 >= 9*rows && word2 < 0 {
				word2 = c
			}
		}
	}
	if clocks < 0 || word2 < 0 {
		return nil
	}
	var list []halfRow
	for r := range t.rows() {
		if st, ok := parseStamp(t.cell(r, clocks)); ok && t.typed(r) && st.secs >= 0 {
			list = append(list, halfRow{date: fmt.Sprint(st.parts, t.dayBeside(r, clocks)), hour: int(st.hour),
				clock: fmt.Sprintf("%d:%02d", st.hour, st.secs/60%60), word: t.cell(r, word2)})
		}
	}
	marks := halvesOf(list)
	if marks == nil {
		return nil
	}
	t.pieces = append(slices.Clip(t.pieces), word2)
	return map[int]func(int, string) string{clocks: func(r int, s string) string {
		if k := t.kind(r, clocks); k == clock || k == moment {
			return s + map[byte]string{'a': " AM", 'p': " PM"}[marks[t.cell(r, word2)]]
		}
		return s
	}}
}

// bareClocks writes clock times plainly that have no mark, or a point, between
// hours and minutes, where the table has a column of dates and none of clocks.
func (t *table) bareClocks() map[int]func(int, string) string {
	width := 0
	for r := range t.rows() {
		width = max(width, min(t.width(r), maxColumns))
	}
	days, rows := 0, 0
	for r := range t.rows() {
		hasDay := false
		for c := range min(t.width(r), maxColumns) {
			switch t.kind(r, c) {
			case clock, moment:
				return nil
			case day:
				hasDay = true
			}
		}
		if hasDay {
			days++
		}
		if !t.empty(r) {
			rows++
		}
	}
	if days*2 < rows || days < 10 {
		return nil
	}
	for c := range width {
		good, filled, late, steps := 0, 0, false, make(map[int]int)
		last := -1
		for r := range t.rows() {
			k := t.kind(r, c)
			if k == blank || k == word {
				continue
			}
			filled++
			h, m, ok := bareClock(t.cell(r, c))
			if !ok {
				break
			}
			good++
			late = late || h > 12
			if now := h*60 + m; last >= 0 {
				steps[(now-last+1440)%1440]++
				last = now
			} else {
				last = now
			}
		}
		most := 0
		for step, n := range steps {
			if step > 0 {
				most = max(most, n)
			}
		}
		if good == filled && good >= days*9/10 && late && most*10 >= 6*good {
			return map[int]func(int, string) string{c: func(_ int, s string) string {
				if h, m, ok := bareClock(s); ok {
					return fmt.Sprintf("%02d:%02d", h, m)
				}
				return s
			}}
		}
	}
	return nil
}

// minuteWords make up the heading of a count of minutes from midnight.
var minuteWords = newVocabulary(linkWords, "minute minutes minuten minuti minutos after past since midnight day nach seit mitternacht tages après depuis minuit jour desde medianoche día dopo mezzanotte giorno")

// minutesOfDay writes clock times plainly that are counted in minutes from
// midnight, in the column that has a word for minutes above it, where the table has
// dates and no clock. The count falls exactly where the date changes.
func (t *table) minutesOfDay() map[int]func(int, string) string {
	dates, c, heading := -1, -1, -1
	last, lastDate, rows, high, falls := 0, "", 0, 0, 0
	for r := range t.rows() {
		for d := range min(t.width(r), maxColumns) {
			switch k := t.kind(r, d); {
			case k == clock, k == moment:
				return nil
			case k == day && c >= 0 && dates < 0:
				dates = d
			case k == word && rows == 0 && strings.Contains(plain(t.cell(r, d)), "minut") && minuteWords.understands(t.cell(r, d)):
				c, heading = d, r
			}
		}
		if c < 0 || r == heading || t.empty(r) {
			continue
		}
		v, err := strconv.Atoi(t.cell(r, c))
		date := ""
		if dates >= 0 {
			date = t.cell(r, dates)
		}
		if err != nil || v < 0 || v >= 24*60 || date == "" || t.kind(r, dates) != day {
			return nil
		}
		if rows > 0 && (v <= last) != (date != lastDate) {
			return nil
		}
		if rows++; rows > 1 && date != lastDate {
			falls++
		}
		high, last, lastDate = max(high, v), v, date
	}
	if rows < 48 || falls == 0 || high < 23*60 {
		return nil
	}
	return map[int]func(int, string) string{c: func(r int, s string) string {
		if v, err := strconv.Atoi(s); err == nil && r > heading {
			return fmt.Sprintf("%02d:%02d", v/60, v%60)
		}
		return s
	}}
}

// bareClock reads "0905", "905" or "9.05".
func bareClock(s string) (h, m int, ok bool) {
	hours, minutes, dotted := strings.Cut(s, ".")
	if !dotted {
		if len(s) < 3 || len(s) > 4 || !onlyDigits(s) {
			return 0, 0, false
		}
		hours, minutes = s[:len(s)-2], s[len(s)-2:]
	}
	if len(minutes) != 2 || !onlyDigits(hours) || !onlyDigits(minutes) {
		return 0, 0, false
	}
	h, _ = strconv.Atoi(hours)
	m, _ = strconv.Atoi(minutes)
	return h, m, h < 24 && m < 60
}

// numbersWritten finds a column of numbers with a unit, an arrow or brackets
// beside them, and gives what writes them plainly. A unit is kept as what the
// column states; two in one column stay as they are.
func (t *table) numbersWritten(c int) func(int, string) string {
	dressed, filled, words, heads, glucose := 0, 0, 0, 0, 0
	units := make(map[wear.Unit]int)
	for r := range t.rows() {
		switch k := t.kind(r, c); {
		case k == blank:
			continue
		case k == word:
			words++
			if _, u, ok := numberIn(t.cell(r, c)); ok && !t.allWords(r) {
				dressed++
				units[u]++
				if roleOf(t.cell(r, c)) == roleGlucose {
					glucose++
				}
			} else if r < 5 {
				heads++
			}
		}
		filled++
	}
	if dressed == 0 || (dressed*5 < filled || (dressed+heads)*10 < words*8) || len(units) > 2 || units[wear.MmolL] > 0 && units[wear.MgdL] > 0 {
		return nil
	}
	if u := wear.MmolL; units[u] > 0 || units[wear.MgdL] > 0 {
		if units[u] == 0 {
			u = wear.MgdL
		}
		if t.unitsOf == nil {
			t.unitsOf = make(map[int]wear.Unit)
		}
		t.unitsOf[c] = u
	}
	if glucose == dressed {
		if t.glucoseIn == nil {
			t.glucoseIn = make(map[int]bool)
		}
		t.glucoseIn[c] = true
	}
	return func(r int, s string) string {
		if t.kind(r, c) != word || t.allWords(r) {
			return s
		}
		if n, _, ok := numberIn(s); ok {
			return n
		}
		return s
	}
}

// allWords reports one of the first rows that can be the heading: all its cells
// are words, and none is a time in words. "Glucose 2" is a name there.
func (t *table) allWords(row int) bool {
	const look = 5
	if row >= look {
		return false
	}
	for c := range min(t.width(row), maxColumns) {
		switch t.kind(row, c) {
		case blank:
		case word:
			if w, ok := timeIn(t.cell(row, c)); ok && (w.clock != "" || len(w.date) > 5) {
				return false
			}
		default:
			return false
		}
	}
	return true
}

// numberIn finds the one number of a cell that holds nothing else but a unit, an
// arrow, brackets or the word glucose. A limit keeps its sign.
func numberIn(s string) (number string, u wear.Unit, ok bool) {
	if len(s) > 60 {
		return "", u, false
	}
	from := strings.IndexAny(s, "0123456789")
	if from < 0 {
		return "", u, false
	}
	end := from
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || (s[end] == '.' || s[end] == ',') && end+1 < len(s) && s[end+1] >= '0' && s[end+1] <= '9') {
		end++
	}
	before, after := s[:from], s[end:]
	number = s[from:end]
	if k := numberKind(number); !k.number() || strings.ContainsAny(after, "0123456789") || strings.HasSuffix(before, "-") || strings.HasSuffix(before, "+") || strings.HasSuffix(before, "−") {
		return "", u, false
	}
	head := strings.TrimRight(before, spaces+"=")
	for _, sign := range []string{"<", ">", "≤", "≥"} {
		if rest, found := strings.CutSuffix(head, sign); found && !strings.HasSuffix(rest, "-") && !strings.HasSuffix(rest, "<") && !strings.HasSuffix(rest, ">") {
			number, before = sign+number, rest
			break
		}
	}
	for _, side := range [...]string{before, after} {
		letters := strings.TrimFunc(side, func(r rune) bool { return !unicode.IsLetter(r) })
		marks := side
		if letters != "" {
			said := unitIn(letters)
			r := wholly(roleOf(letters), letters)
			if said == wear.UnitUnknown && r != roleGlucose || said != wear.UnitUnknown && u != wear.UnitUnknown {
				return "", u, false
			}
			if said != wear.UnitUnknown {
				u = said
			}
			marks = strings.Replace(side, letters, "", 1)
		}
		if strings.ContainsFunc(marks, func(r rune) bool { return !armour(r) }) {
			return "", u, false
		}
	}
	return number, u, true
}

// armour reports a mark that may stand beside a number and says nothing of it.
func armour(r rune) bool {
	return r >= 0x2190 && r <= 0x21ff || r >= 0x27f0 && r <= 0x27ff || r >= 0x2900 && r <= 0x297f || r >= 0x2b00 && r <= 0x2bff || r >= 0x25b2 && r <= 0x25c5 ||
		strings.ContainsRune("()[]{}=:'\"^/\\>-_|~", r) || strings.ContainsRune(spaces, r) || r == 0xfe0f
}

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
		s := t.at(t.cells[i])
		if t.kinds[i] == day {
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

// clockText gives a clock time as 09:05, also where it is written 09.05.
func clockText(s string) string {
	if len(s) > 5 || len(s) < 4 {
		return ""
	}
	if h, m, ok := bareClock(strings.Replace(s, ":", ".", 1)); ok && strings.ContainsAny(s, ".:") {
		return fmt.Sprintf("%02d:%02d", h, m)
	}
	return ""
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
	title := "" // what the file says that the values are
	for r := 0; r <= head && title == ""; r++ {
		for c := range t.width(r) {
			if s := t.cell(r, c); roleOf(s) == roleGlucose || unitIn(s) != wear.UnitUnknown && title == "" {
				title = s
			}
		}
	}
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
