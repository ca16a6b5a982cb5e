package intake

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"strconv"
	"strings"
)

// Limits on the head of a file that its fingerprint is taken from.
const (
	headLines = 64
	headBytes = 32 << 10
	headRows  = 16 // data rows that columns are told by
)

// sketch is a first look at the head of a file: enough to tell its layout, and
// where its rows begin.
type sketch struct {
	t       *table // the head, cut into cells
	heading int    // row of t with the headings, or -1
	from    int    // first row of t with data
	start   int    // where in the text that row begins
	width   int
	layout  string
}

// sketchOf looks at the head of a text. ok is false if nothing in it looks like
// a table.
func sketchOf(text []byte) (s sketch, ok bool) {
	head := headOf(text, headLines, headBytes)
	best := 0.0
	for _, d := range delimiters {
		if bytes.IndexByte(head, d.char) < 0 {
			continue
		}
		t, _, _ := cut(string(head), d.char)
		if t == nil {
			continue
		}
		t.classify()
		if score := t.score(); score > best {
			best, s.t = score, t
		}
	}
	if s.t == nil || !s.look() {
		return s, false
	}
	s.start = int(s.t.cells[s.t.first[s.from]].start)
	for s.start > 0 && text[s.start-1] != '\n' && text[s.start-1] != '\r' {
		s.start--
	}
	return s, true
}

// sketchOfTable is [sketchOf] for a table that does not come from text.
func sketchOfTable(t *table) (s sketch, ok bool) {
	rows := min(t.rows(), headLines)
	s.t = &table{text: t.text, whole: true, first: t.first[:rows+1], line: t.line[:rows], cells: t.cells[:t.first[rows]], kinds: t.kinds[:t.first[rows]]}
	return s, s.look()
}

// look finds the rows with data and the heading above them.
func (s *sketch) look() bool {
	s.width, _ = s.t.commonWidth()
	for s.from < s.t.rows() && !(s.t.typed(s.from) && s.t.width(s.from) == s.width) {
		s.from++
	}
	if s.from == s.t.rows() {
		return false
	}
	s.findHeading()
	s.layout = s.fingerprint()
	return true
}

// headOf is the first lines of a text, whole ones only.
func headOf(text []byte, lines, most int) []byte {
	end := 0
	for range lines {
		i := bytes.IndexByte(text[end:], '\n')
		if i < 0 {
			if end == 0 || len(text) <= most {
				end = min(len(text), most)
			}
			break
		}
		if end+i+1 > most {
			break
		}
		end += i + 1
	}
	return text[:end]
}

// findHeading takes the row of words above the data for the heading.
func (s *sketch) findHeading() {
	s.heading = s.from - 1
	for s.heading >= 0 && s.t.empty(s.heading) {
		s.heading--
	}
	if s.heading < 0 {
		return
	}
	filled := 0
	for c := range s.t.width(s.heading) {
		switch s.t.kind(s.heading, c) {
		case blank:
		case word:
			filled++
		default:
			s.heading = -1
			return
		}
	}
	if filled < 2 {
		s.heading = -1
	}
}

// fingerprint names an arrangement of columns: the delimiter, the shape of what
// stands above the table, the headings without accents and case, and what the
// columns hold. No cell of a data row is in it, so that no person's data can be.
func (s *sketch) fingerprint() string {
	var b strings.Builder
	b.WriteString(strconv.Itoa(int(s.t.delim)))
	for r := range s.from {
		if r != s.heading && !s.t.empty(r) {
			b.WriteString(" " + strconv.Itoa(s.t.width(r)))
		}
	}
	for c := range min(s.width, maxColumns) {
		b.WriteByte('\n')
		if s.heading >= 0 {
			b.WriteString(plain(s.t.cell(s.heading, c)))
		}
		b.WriteByte('\t')
		b.WriteString(s.holds(c))
	}
	return hashLayout("table", b.String())
}

// holds tells what most of the first cells of a column are: a time and how it
// is written, whole numbers, numbers with decimals and their mark, or anything
// else. A column that is mostly blank counts as anything else, because its
// first value may come late.
func (s *sketch) holds(c int) string {
	rows, times, numbers, epochs := 0, 0, 0, 0
	shape, mark := "", ""
	for r := s.from; r < s.t.rows() && rows < headRows; r++ {
		if s.t.width(r) != s.width {
			continue
		}
		rows++
		switch k := s.t.kind(r, c); k {
		case moment, day, clock:
			if times++; times == 1 {
				shape = shapeOf(s.t.cell(r, c))
			}
		case epoch:
			epochs++
		case integer, decimal, limit:
			numbers++
			if i := strings.IndexAny(s.t.cell(r, c), ".,"); i >= 0 {
				mark = s.t.cell(r, c)[i : i+1]
			}
		}
	}
	switch {
	case times*2 > rows:
		return "time " + shape
	case epochs*2 > rows:
		return "count"
	case numbers*2 > rows:
		return "number " + mark
	}
	return ""
}

// shapeOf writes how a time is written: 9 for one or two digits, 8 for more, a
// for letters, and marks as they are.
func shapeOf(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); {
		from := i
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			for i < len(s) && s[i] >= '0' && s[i] <= '9' {
				i++
			}
			b.WriteByte("98"[min((i-from)/3, 1)])
		case c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= 0x80:
			for i < len(s) && (s[i] >= 'a' && s[i] <= 'z' || s[i] >= 'A' && s[i] <= 'Z' || s[i] >= 0x80) {
				i++
			}
			b.WriteByte('a')
		default:
			b.WriteByte(c)
			i++
		}
	}
	return b.String()
}

func hashLayout(parts ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(parts, "\n")))
	return hex.EncodeToString(sum[:])
}
