package intake

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

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
	clocks := -1
	var twos []int // columns of two words, or of two of the numbers 0, 1 and 2
	rows := 0
	for r := range t.rows() {
		if t.typed(r) {
			rows++
		}
	}
	for c := range t.widest() {
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
			case word, integer:
				if s := t.cell(r, c); len(words) < 3 && (t.kind(r, c) == word || s == "0" || s == "1" || s == "2") {
					words[s]++
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
			if sum*10 >= 9*rows {
				twos = append(twos, c)
			}
		}
	}
	if clocks < 0 {
		return nil
	}
	for _, c := range twos {
		if change := t.halfIn(c, clocks); change != nil {
			return change
		}
	}
	return nil
}

// halfIn writes the half of the day behind the clock where a column tells it.
func (t *table) halfIn(word2, clocks int) map[int]func(int, string) string {
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
	for c := range t.widest() {
		if t.runsLikeClock(c, days*9/10) {
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

// runsLikeClock reports whether the numbers of a column, at least so many, all read
// as clock times, some of them of the afternoon, most of them one step apart.
func (t *table) runsLikeClock(c, least int) bool {
	good, late, last, steps := 0, false, -1, make(map[int]int)
	for r := range t.rows() {
		if k := t.kind(r, c); k == blank || k == word {
			continue
		}
		h, m, ok := bareClock(t.cell(r, c))
		if !ok {
			return false
		}
		good++
		late = late || h > 12
		now := h*60 + m
		if last >= 0 {
			steps[(now-last+1440)%1440]++
		}
		last = now
	}
	delete(steps, 0)
	most := 0
	for _, n := range steps {
		most = max(most, n)
	}
	return good >= least && late && most*10 >= 6*good
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
