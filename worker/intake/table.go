package intake

import (
	"strings"
	"unicode/utf8"

	"wearround/worker/wear"
)

// span is where one cell lies in the text. A negative end marks a quoted cell
// with doubled quotes in it; its true end is ^end.
type span struct{ start, end int32 }

// table is the text cut into rows and cells by one delimiter. Cells are spans
// into the text, so that cutting copies nothing.
type table struct {
	text  string
	delim byte
	cells []span
	kinds []kind  // what each cell looks like, parallel to cells
	first []int32 // index of each row's first cell, and one past the last row
	line  []int32 // 1-based line on which each row starts
	whole bool    // it cannot have been cut short

	unitsOf   map[int]wear.Unit // units that stand in the cells of a column, beside the number
	glucoseIn map[int]bool      // columns of which every number has the word glucose beside it
	pieces    []int             // columns with one piece of the time each
	title     string            // what the file calls it: the name of a sheet
	tables    []named           // the tables that the whole file's is made of, in order
	pins      map[int32]string  // what somebody pinned to a cell; of the whole file's table only, by its number there
	parent    *table            // the table that this is a part of, or nil
	origin    []int32           // for each cell of a part, its number in the whole file's table
	marks     []bool            // the cells that are accounted for; of the whole file's table only
}

// named is what one of several tables is called, and its first cell in the whole.
type named struct {
	from int32
	name string
}

// within names the one of several tables of the file that a row stands in, or
// gives "".
func (t *table) within(row int) (name string) {
	for i := t.first[row]; i < t.first[row+1]; i++ {
		if at := t.inRoot(i); at >= 0 {
			for _, n := range t.root().tables {
				if n.from <= at {
					name = n.name
				}
			}
			break
		}
	}
	return name
}

// inRoot is the number of a cell in the whole file's table, or negative for one that
// the reader wrote itself.
func (t *table) inRoot(i int32) int32 {
	if t.origin != nil {
		return t.origin[i]
	}
	return i
}

func (t *table) rows() int { return len(t.first) - 1 }

func (t *table) width(row int) int { return int(t.first[row+1] - t.first[row]) }

// widest is how many columns any row has, as far as columns are looked at.
func (t *table) widest() (width int) {
	for r := range t.rows() {
		width = max(width, min(t.width(r), maxColumns))
	}
	return width
}

// cell gives the text of a cell without surrounding space and quotes; a cell
// that a short row does not have is "".
func (t *table) cell(row, col int) string {
	i := t.first[row] + int32(col)
	if i >= t.first[row+1] {
		return ""
	}
	return t.at(t.cells[i])
}

func (t *table) at(s span) string {
	if s.end < 0 {
		return strings.ReplaceAll(t.text[s.start:^s.end], `""`, `"`)
	}
	return t.text[s.start:s.end]
}

// kind is what a cell looks like; a cell that a short row does not have is blank.
func (t *table) kind(row, col int) kind {
	i := t.first[row] + int32(col)
	if i >= t.first[row+1] {
		return blank
	}
	return t.kinds[i]
}

// empty reports whether no cell of the row says anything.
func (t *table) empty(row int) bool {
	for i := t.first[row]; i < t.first[row+1]; i++ {
		if s := t.cells[i]; s.start != s.end {
			return false
		}
	}
	return true
}

// openQuoteLines is how many lines one quoted cell may run over. A longer one
// is a quote that nobody closed and that swallows the rows after it.
const openQuoteLines = 50

// cut splits text into rows and cells. openQuote is the line of a quote that
// was never closed, or 0; tooMany is true if there are more than maxRows rows.
func cut(text string, delim byte) (t *table, openQuote int, tooMany bool) {
	return cutInto(new(table), text, delim)
}

// cutInto is cut for many small texts in turn: it writes over a table.
func cutInto(over *table, text string, delim byte) (t *table, openQuote int, tooMany bool) {
	lines := strings.Count(text, "\n") + 1
	t = over
	*t = table{text: text, delim: delim}
	t.first = make([]int32, 1, lines+1)
	t.line = make([]int32, 0, lines)
	t.cells = make([]span, 0, min(strings.Count(text, string(delim))+lines, len(text)+1))
	line, started := int32(1), int32(1)
	for i := 0; i < len(text); {
		for i < len(text) && (text[i] == ' ' || text[i] == '\t' && delim != '\t') {
			i++
		}
		if behind := afterMarks(text, i); behind < len(text) && text[behind] == '"' {
			i = behind
		}
		var s span
		if i < len(text) && text[i] == '"' && !dittoAt(text, i, delim) {
			var newlines int32
			s, i, newlines = quoted(text, i, delim)
			if newlines > openQuoteLines || i < 0 {
				return nil, int(line), false
			}
			line += newlines
		} else {
			start := i
			for i < len(text) && text[i] != delim && text[i] != '\n' && text[i] != '\r' {
				i++
			}
			s = trim(text, start, i)
		}
		t.cells = append(t.cells, s)
		if i < len(text) && text[i] == delim {
			i++
			if i < len(text) {
				continue
			}
			t.cells = append(t.cells, span{int32(i), int32(i)})
		}
		t.first = append(t.first, int32(len(t.cells)))
		t.line = append(t.line, started)
		if len(t.line) > maxRows {
			return nil, 0, true
		}
		if i < len(text) {
			if text[i] == '\r' && i+1 < len(text) && text[i+1] == '\n' {
				i++
			}
			i++
			line++
			started = line
		}
	}
	return t, 0, false
}

// dittoAt reports whether a quote mark alone in its cell and on its line stands for
// the cell above it.
func dittoAt(text string, i int, delim byte) bool {
	if i+1 >= len(text) || text[i+1] != delim {
		return false
	}
	line, _, _ := strings.Cut(text[i+1:], "\n")
	return strings.IndexByte(line, '"') < 0
}

// quoted reads the cell whose opening quote is at i and gives its inside, the
// position of the delimiter or line end behind it, and the line ends inside.
// The position is -1 if the quote is never closed.
func quoted(text string, i int, delim byte) (s span, next int, newlines int32) {
	start, doubled := i+1, false
	for i++; i < len(text); i++ {
		switch text[i] {
		case '\n':
			newlines++
		case '"':
			if i+1 < len(text) && text[i+1] == '"' {
				doubled = true
				i++
				continue
			}
			if text[i-1] == delim && i-1 >= start && (i+1 == len(text) || text[i+1] != delim && text[i+1] != '\n' && text[i+1] != '\r') {
				return span{}, -1, newlines // a quote opens while one is open
			}
			end := i
			for i++; i < len(text) && text[i] == ' '; i++ {
			}
			i = afterMarks(text, i)
			if i == len(text) || text[i] == delim || text[i] == '\n' || text[i] == '\r' {
				s = trim(text, start, end)
				if doubled {
					s.end = ^s.end
				}
				return s, i, newlines
			}
			i = end // a stray quote inside the text: the cell goes on
		}
	}
	return span{}, -1, newlines
}

// swallowed gives the line of a quoted cell that holds what look like rows of
// the table, or 0: a quote that was never closed, up to the next one. Rows whose
// times do not lie between those around them were copied into the cell.
func (t *table) swallowed() (at int, copied bool) {
	if strings.IndexByte(t.text, '"') < 0 {
		return 0, false
	}
	for r := range t.rows() {
		if r+1 < t.rows() && t.line[r+1]-t.line[r] < 2 {
			continue
		}
		for c := range t.width(r) {
			_, rest, more := strings.Cut(t.cell(r, c), "\n")
			for more {
				var line string
				line, rest, more = strings.Cut(rest, "\n")
				for part := range strings.SplitSeq(line, string(t.delim)) {
					part = strings.TrimSpace(strings.Trim(part, `"`))
					if part == line || kindOf(part) != moment {
						continue
					}
					if t.between(part, r) {
						return int(t.line[r]), false
					}
					if !copied {
						at, copied = int(t.line[r]), true
					}
				}
			}
		}
	}
	return at, copied
}

// between reports whether a time may be of a row that stood between one row and the next.
func (t *table) between(s string, r int) bool {
	of := func(s string) int64 {
		st, _ := parseStamp(s)
		return st.at(orders[0]).secs
	}
	var around []int64
	for q := r; q < min(r+2, t.rows()); q++ {
		for c := range min(t.width(q), maxColumns) {
			if t.kind(q, c) == moment {
				around = append(around, of(t.cell(q, c)))
				break
			}
		}
	}
	return len(around) < 2 || of(s) > min(around[0], around[1]) && of(s) < max(around[0], around[1])
}

// trim narrows a span by space at both ends: ASCII space and tab, no-break
// spaces, and the byte-order mark that joining files leaves behind.
func trim(text string, start, end int) span {
	for start < end && text[start] <= ' ' {
		start++
	}
	for start < end && text[end-1] <= ' ' {
		end--
	}
	if start < end && (text[start] >= 0x80 || text[end-1] >= 0x80) {
		inner := strings.TrimLeft(text[start:end], spaces)
		start = end - len(inner)
		end = start + len(strings.TrimRight(inner, spaces))
	}
	return span{int32(start), int32(end)}
}

// afterMarks gives the position behind the marks, wider than a byte, that
// joining files or the direction of writing leaves around a quote.
func afterMarks(text string, i int) int {
	for i < len(text) && text[i] >= utf8.RuneSelf {
		r, n := utf8.DecodeRuneInString(text[i:])
		if !strings.ContainsRune(spaces, r) {
			break
		}
		i += n
	}
	return i
}

// spaces are the characters that count as space around a cell: blanks, and
// marks of the direction of writing, which some systems put around dates.
const spaces = " \t\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u205f\u3000\u202f\ufeff\u200b\u200e\u200f\u202a\u202b\u202c\u2066\u2067\u2068\u2069"

// classify notes what every cell looks like.
func (t *table) classify() {
	t.kinds = make([]kind, len(t.cells))
	for i, s := range t.cells {
		if s.start != s.end {
			t.kinds[i] = kindOf(t.at(s))
		}
	}
}
