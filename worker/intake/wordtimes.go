package intake

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
)

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
					if i > end && (!dotted || lettersAhead(s[i:]) > 2 && s[i-1] != '.') {
						break // another word: "p. m." is one, "a.m. Saturday" two
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

// lettersAhead counts the letters that a text begins with.
func lettersAhead(s string) (n int) {
	for _, r := range s {
		if !unicode.IsLetter(r) {
			break
		}
		n++
	}
	return n
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
		case k.digits && w.clock == "" && i+2 < len(list) && (list[i+1].text == ":" || list[i+1].text == "." && (inDate == 3 || month > 0 && day != "" && year != "")) && list[i+2].digits && len(k.text) <= 2 && len(list[i+2].text) == 2:
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
			slot := numbers
			for slices.Contains(w.slots, slot) {
				slot += 100 // another word at the same place
			}
			w.words, w.slots = append(w.words, k.text), append(w.slots, slot)
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

// dateInWords gives the date of a cell that holds one with a weekday or a month by
// its name and no clock, or "".
func dateInWords(s string) string {
	if len(s) < 8 || len(s) > 40 || !strings.ContainsFunc(s, unicode.IsLetter) {
		return ""
	}
	w, ok := timeIn(s)
	if !ok || w.clock != "" || w.date == "" || len(w.words) > 1 || len(w.words) == 1 && !weekdayWords()[plain(w.words[0])] {
		return ""
	}
	if st, ok := parseStamp(w.date); !ok || st.form == noDate {
		return ""
	}
	return w.date
}
