package intake

import (
	"strings"
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
	if out := t.rewrite(t.dittos()); out != nil {
		t = out
	}
	if whole := t.timeFromPieces(); whole != nil {
		t = whole
	}
	change := make(map[int]func(int, string) string)
	for c := range t.widest() {
		if f := t.timesWritten(c); f != nil {
			change[c] = f
		} else if f := t.numbersWritten(c); f != nil {
			change[c] = f
		}
	}
	if out := t.rewrite(change); out != nil {
		t = out
	}
	if out := t.rewrite(t.sixFigures()); out != nil {
		t = out
	}
	if out := t.rewrite(l.yearAbove(t)); out != nil {
		t = out
	}
	if out := t.rewrite(t.bareClocks()); out != nil {
		t = out
	}
	if out := t.rewrite(t.minutesOfDay()); out != nil {
		t = out
	}
	if out := t.rewrite(l.countedSince(t)); out != nil {
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
	if out := t.hoursByMinutes(); out != nil {
		t = out
	}
	if out := t.melted(); out != nil {
		t = out
	}
	return t
}

// dittoMarks stand for the cell above them.
var dittoMarks = map[string]bool{`"`: true, "''": true, "〃": true, "″": true, "”": true, "“": true, "ditto": true, "dito": true, "do.": true, "idem": true}

func isDitto(s string) bool { return len(s) < 6 && dittoMarks[strings.ToLower(s)] }

// dittos writes dates out for which a mark stands that says "as above".
func (t *table) dittos() map[int]func(int, string) string {
	change := make(map[int]func(int, string) string)
	dated := make(map[int]bool)
	for r := range min(t.rows(), headRows) {
		for c := range min(t.width(r), maxColumns) {
			if t.kind(r, c) == day {
				dated[c] = true
			}
		}
	}
	for c := range dated {
		dates, marks, others := 0, 0, 0
		for r := range t.rows() {
			switch k := t.kind(r, c); {
			case k == blank:
			case k == day:
				dates++
			case isDitto(t.cell(r, c)):
				marks++
			default:
				others++
			}
		}
		if dates > 0 && marks > dates && others <= marks/4 {
			last := ""
			change[c] = func(r int, s string) string {
				if t.kind(r, c) == day {
					last = s
				} else if isDitto(s) && last != "" {
					return last
				}
				return s
			}
		}
	}
	return change
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
	if a, b, found := strings.Cut(out, "·"); found && onlyDigits(a) && onlyDigits(b) { // the raised point of older print
		return a + "." + b
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
