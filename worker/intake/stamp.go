package intake

import (
	"strings"
	"time"
	"unicode/utf8"
)

// form is how the three parts of a written date are arranged.
type form uint8

const (
	noDate    form = iota
	yearFirst      // 2026-03-01, 20260301
	dayFirst       // 1 March 2026: the month is named
	numeric        // 01/03/2026: day and month in unknown order
	numeric2       // 01/03/26: the year has two digits and may stand first
)

// stamp is a date, a clock time or both, as written.
type stamp struct {
	form     form
	parts    [3]int16 // the date's numbers in written order; year, month, day for yearFirst and dayFirst
	secs     int32    // seconds since midnight by the written clock, or -1
	half     byte     // 'a' or 'p' where marked, else 0
	hour     int8     // the hour as written, for telling 12 from 24 hours
	whole    bool     // the form has 24 hours: a T stands before the clock, or nothing between the digits
	absolute bool     // an offset from UTC is written
	named    int8     // index into zoneNames of a zone's name, or 0
	offset   int32    // that offset in seconds
}

// parseStamp reads every written form of time that the package knows.
func parseStamp(s string) (st stamp, ok bool) {
	if st, ok = parseISO(s); ok {
		return st, true
	}
	if len(s) > 48 || len(s) < 3 {
		return st, false
	}
	p := scanner{s: s}
	st = stamp{secs: -1, hour: -1}
	if !p.clockAhead() {
		if !p.date(&st) {
			return st, false
		}
		if st.whole = p.skipGap() || p.i == 8; p.done() {
			return st, true
		}
	}
	if !p.clock(&st) {
		return st, false
	}
	p.half(&st)
	p.offset(&st)
	return st, p.done()
}

// parseISO is the short way for "2026-03-01T09:05" with optional seconds,
// which is what most files hold.
func parseISO(s string) (st stamp, ok bool) {
	if len(s) != 16 && len(s) != 19 || s[4] != '-' || s[7] != '-' || s[10] != 'T' && s[10] != ' ' || s[13] != ':' {
		return st, false
	}
	var bad byte
	two := func(i int) int32 {
		a, b := s[i]-'0', s[i+1]-'0'
		if a > 9 || b > 9 {
			bad = 1
		}
		return int32(a)*10 + int32(b)
	}
	st.form = yearFirst
	st.parts = [3]int16{int16(two(0)*100 + two(2)), int16(two(5)), int16(two(8))}
	hour, minute, second := two(11), two(14), int32(0)
	if len(s) == 19 {
		if s[16] != ':' {
			return st, false
		}
		second = two(17)
	}
	if bad != 0 || hour > 23 || minute > 59 || second > 60 || st.parts[1] < 1 || st.parts[1] > 12 || st.parts[2] < 1 || st.parts[2] > 31 {
		return st, false
	}
	st.secs, st.hour, st.whole = hour*3600+minute*60+second, int8(hour), s[10] == 'T'
	return st, true
}

// scanner walks over the text of one time.
type scanner struct {
	s string
	i int
}

func (p *scanner) done() bool { return p.i >= len(p.s) }

func (p *scanner) peek() byte {
	if p.done() {
		return 0
	}
	return p.s[p.i]
}

func (p *scanner) digits() (n, length int) {
	for !p.done() && p.s[p.i] >= '0' && p.s[p.i] <= '9' && length < 9 {
		n = n*10 + int(p.s[p.i]-'0')
		p.i++
		length++
	}
	return n, length
}

// space skips blanks of every width.
func (p *scanner) space() {
	for !p.done() {
		r, n := utf8.DecodeRuneInString(p.s[p.i:])
		if !strings.ContainsRune(spaces, r) {
			break
		}
		p.i += n
	}
}

// skipGap skips what may stand between a date and a clock, and reports whether
// it is the T of ISO 8601.
func (p *scanner) skipGap() (iso bool) {
	p.space()
	if c := p.peek(); c == ',' || c == 'T' || c == 't' || c == '_' {
		iso = c == 'T'
		p.i++
	}
	p.space()
	return iso
}

func (p *scanner) clockAhead() bool {
	q := *p
	_, n := q.digits()
	c := q.peek()
	return n >= 1 && n <= 2 && (c == ':' || c == 'h' || c == 'H')
}

func (p *scanner) date(st *stamp) bool {
	if month := p.month(); month > 0 { // March 1, 2026
		p.space()
		d, n := p.digits()
		p.ordinal()
		if p.peek() == ',' {
			p.i++
		}
		p.space()
		y, ny := p.digits()
		return n >= 1 && n <= 2 && ny == 4 && st.setNamed(y, month, d)
	}
	a, na := p.digits()
	if na == 8 && !strings.ContainsRune("-/.", rune(p.peek())) {
		return st.setYearFirst(a/10000, a/100%100, a%100)
	}
	if na == 9 && (len(p.s) == 14 || len(p.s) == 12) { // date and clock without marks
		if !onlyDigits(p.s) {
			return false
		}
		p.i = 8
		return st.setYearFirst(a/100000, a/1000%100, a/10%100)
	}
	if na != 4 && na != 1 && na != 2 {
		return false
	}
	if na == 4 && p.peek() == '-' {
		if y, m, d, ok := p.weekOrDay(a); ok {
			return st.setYearFirst(y, m, d)
		}
	}
	p.ordinal()
	sep := p.peek()
	switch sep {
	case '-', '/', '.', ' ':
		p.i++
		p.space()
	default:
		return false
	}
	if month := p.month(); month > 0 { // 1 March 2026
		if c := p.peek(); c == '-' || c == '/' || c == '.' || c == ',' {
			p.i++
		}
		p.space()
		b, nb := p.digits()
		switch {
		case na == 4 && nb >= 1 && nb <= 2:
			return st.setNamed(a, month, b)
		case na <= 2 && nb == 4:
			return st.setNamed(b, month, a)
		case na <= 2 && nb == 2:
			return st.setNamed(2000+b, month, a)
		}
		return false
	}
	if sep == ' ' {
		return false
	}
	b, nb := p.digits()
	if nb < 1 || nb > 2 || p.peek() != sep {
		return false
	}
	p.i++
	p.space()
	c, nc := p.digits()
	switch {
	case na == 4 && (nc == 1 || nc == 2):
		return st.setYearFirst(a, b, c)
	case na <= 2 && nc == 4:
		st.form = numeric
	case na <= 2 && nc == 2:
		st.form = numeric2
	default:
		return false
	}
	st.parts = [3]int16{int16(a), int16(b), int16(c)}
	return true
}

// weekOrDay reads what stands behind the year of a date by week ("-W10-1") or by
// day of the year ("-069") of ISO 8601.
func (p *scanner) weekOrDay(year int) (y, m, d int, ok bool) {
	q := scanner{s: p.s, i: p.i + 1}
	byWeek := q.peek() == 'W'
	if byWeek {
		q.i++
	}
	n, length := q.digits()
	day := n
	switch {
	case !byWeek && (length != 3 || n < 1 || n > 366):
		return 0, 0, 0, false
	case byWeek:
		if length != 2 || n < 1 || n > 53 || q.peek() != '-' {
			return 0, 0, 0, false
		}
		q.i++
		weekday, one := q.digits()
		if one != 1 || weekday < 1 || weekday > 7 {
			return 0, 0, 0, false
		}
		fourth := time.Date(year, time.January, 4, 0, 0, 0, 0, time.UTC) // always in week 1
		day = 4 - (int(fourth.Weekday())+6)%7 + 7*(n-1) + weekday - 1
	}
	at := time.Date(year, time.January, day, 0, 0, 0, 0, time.UTC)
	if y, w := at.ISOWeek(); byWeek && (y != year || w != n) {
		return 0, 0, 0, false // the year has no such week
	}
	if c := q.peek(); !byWeek && at.Year() != year || c >= '0' && c <= '9' || c == '-' || c == '/' || c == '.' {
		return 0, 0, 0, false
	}
	p.i = q.i
	return at.Year(), int(at.Month()), at.Day(), true
}

func (st *stamp) setYearFirst(y, m, d int) bool {
	st.form, st.parts = yearFirst, [3]int16{int16(y), int16(m), int16(d)}
	return y >= 1900 && y < 2200 && m >= 1 && d >= 1 && (m <= 12 && d <= 31 || m <= 31 && d <= 12)
}

func (st *stamp) setNamed(y, m, d int) bool {
	ok := st.setYearFirst(y, m, d)
	st.form = dayFirst
	return ok && d <= 31 && m <= 12
}

// ordinal skips the ending of "1st", "2nd" or the German "1.".
func (p *scanner) ordinal() {
	for _, end := range [...]string{"st", "nd", "rd", "th", "er"} {
		if strings.HasPrefix(p.s[p.i:], end) {
			p.i += 2
			return
		}
	}
}

// monthNames are the months in English, French, German, Spanish, Italian,
// Portuguese and Dutch, without accents. A name stands for a month if it is one
// of these or begins one of them and none of another month: "mar" is March, but
// "jui" may be two months, and "marraskuu", November elsewhere, is none.
var monthNames = [12][]string{
	{"january", "janvier", "januar", "janner", "januari", "enero", "gennaio", "janeiro"},
	{"february", "fevrier", "februar", "februari", "febrero", "febbraio", "fevereiro"},
	{"march", "mars", "marz", "maerz", "maart", "mrt", "marzo", "marco"},
	{"april", "avril", "abril", "aprile"},
	{"may", "mai", "mei", "mayo", "maggio", "maio"},
	{"june", "juin", "juni", "junio", "giugno", "junho"},
	{"july", "juillet", "juli", "julio", "luglio", "julho"},
	{"august", "aout", "augustus", "agosto"},
	{"september", "septembre", "septiembre", "settembre", "setembro"},
	{"october", "octobre", "oktober", "octubre", "ottobre", "outubro"},
	{"november", "novembre", "noviembre", "novembro"},
	{"december", "decembre", "dezember", "diciembre", "dicembre", "dezembro"},
}

// withoutAccents writes the letters with accents in names of months plainly.
var withoutAccents = strings.NewReplacer("é", "e", "û", "u", "ä", "a", "ç", "c")

// month reads a month's name in full or short and gives its number, or 0
// without moving.
func (p *scanner) month() int {
	end := p.i
	for end < len(p.s) {
		r, n := utf8.DecodeRuneInString(p.s[end:])
		if r < 'A' || r > 'Z' && r < 'a' || r > 'z' && r < 0xc0 || r == utf8.RuneError || r > 0x24f {
			break
		}
		end += n
	}
	if end-p.i < 3 || end-p.i > 12 {
		return 0
	}
	name := strings.ToLower(p.s[p.i:end])
	if strings.IndexFunc(name, func(r rune) bool { return r >= utf8.RuneSelf }) >= 0 {
		name = withoutAccents.Replace(name)
	}
	month := monthOf(name)
	if month > 0 {
		if p.i = end; p.peek() == '.' {
			p.i++
		}
	}
	return month
}

// monthOf gives the number of the one month that a name can stand for, or 0.
func monthOf(name string) (month int) {
	for m := range monthNames {
		for _, full := range monthNames[m] {
			if !strings.HasPrefix(full, name) {
				continue
			}
			if month > 0 && month != m+1 {
				return 0
			}
			month = m + 1
			break
		}
	}
	return month
}

func (p *scanner) clock(st *stamp) bool {
	h, n := p.digits()
	var m, s, nm int
	switch {
	case n == 4 || n == 6: // 0905, 090500
		if n == 4 {
			h, m = h/100, h%100
		} else {
			h, m, s = h/10000, h/100%100, h%100
		}
	case n == 1 || n == 2:
		sep := p.peek()
		if sep == ':' || sep == '.' || sep == 'h' || sep == 'H' {
			p.i++
			m, nm = p.digits()
			if nm != 2 && (nm != 0 || sep == ':' || sep == '.') {
				return false
			}
			if c := p.peek(); nm == 2 && (c == ':' || c == '.' && sep == '.') {
				p.i++
				var ns int
				if s, ns = p.digits(); ns != 2 {
					return false
				}
				if c := p.peek(); c == '.' || c == ',' { // fractions of a second are dropped
					p.i++
					if _, nf := p.digits(); nf == 0 {
						return false
					}
				}
			}
		} else if !p.halfAhead() { // "9 am" needs no minutes
			return false
		}
	default:
		return false
	}
	if h > 24 || m > 59 || s > 60 || h == 24 && m+s > 0 {
		return false
	}
	st.secs, st.hour = int32(h*3600+m*60+s), int8(h)
	return true
}

func (p *scanner) halfAhead() bool {
	q := *p
	st := stamp{secs: 3600, hour: 1}
	q.half(&st)
	return st.half != 0
}

// halves are the marks of the half of the day, in lower case and without dots
// and spaces.
var halves = map[string]byte{
	"am": 'a', "pm": 'p', "a": 'a', "p": 'p', "vorm": 'a', "nachm": 'p', "上午": 'a', "下午": 'p', "午前": 'a', "午後": 'p',
}

// half reads an am or pm mark such as "PM", "p.m." or "p. m." and turns the
// clock to 24 hours.
func (p *scanner) half(st *stamp) {
	var letters [16]byte
	n, i := 0, p.i
	for i < len(p.s) && n < 12 {
		r, size := utf8.DecodeRuneInString(p.s[i:])
		if r != '.' && !strings.ContainsRune(spaces, r) {
			if r >= 'A' && r <= 'Z' {
				r += 'a' - 'A'
			}
			if r < 'a' || r > 'z' && r < 0x3000 {
				break
			}
			n += utf8.EncodeRune(letters[n:], r)
		}
		i += size
	}
	mark, ok := halves[string(letters[:n])]
	if !ok || st.hour > 12 || st.hour < 0 {
		return
	}
	p.i, st.half = i, mark
	switch {
	case mark == 'p' && st.hour < 12:
		st.secs += 12 * 3600
	case mark == 'a' && st.hour == 12:
		st.secs -= 12 * 3600
	}
}

// offset reads "Z", "UTC", "+11:00", "+1100" or "+11", and skips a zone name
// in brackets behind it.
func (p *scanner) offset(st *stamp) {
	p.space()
	rest := p.s[p.i:]
	switch {
	case rest == "":
		return
	case rest[0] == 'Z' || rest[0] == 'z':
		p.i++
		st.absolute = true
	case strings.HasPrefix(rest, "UTC") || strings.HasPrefix(rest, "GMT"):
		p.i += 3
		st.absolute = true
	case rest == "Uhr": // the German word after a clock time
		p.i += 3
		return
	case rest[0] >= 'A' && rest[0] <= 'Z':
		if n := zoneNamed(rest); n > 0 {
			p.i, st.named = len(p.s), n
		}
		return
	}
	if c := p.peek(); c == '+' || c == '-' || strings.HasPrefix(p.s[p.i:], "−") {
		p.i++
		if c > 0x7f {
			p.i += len("−") - 1
		}
		h, n := p.digits()
		m := 0
		switch {
		case n == 4:
			h, m = h/100, h%100
		case n == 2 && p.peek() == ':':
			p.i++
			var nm int
			if m, nm = p.digits(); nm != 2 {
				return
			}
		case n != 2 && n != 1:
			p.i = 0
			return
		}
		if h > 14 || m > 59 {
			p.i = 0
			return
		}
		st.absolute, st.offset = true, int32(h*3600+m*60)
		if c != '+' {
			st.offset = -st.offset
		}
	}
	if st.absolute && p.peek() == '[' && strings.HasSuffix(p.s, "]") {
		p.i = len(p.s)
	}
}

// dayNumber is the number of days from 1970-01-01 to a date of the proleptic
// Gregorian calendar; ok is false for a date that does not exist.
func dayNumber(y, m, d int) (n int64, ok bool) {
	if m < 1 || m > 12 || d < 1 || d > daysIn(y, m) {
		return 0, false
	}
	if m <= 2 {
		y--
		m += 12
	}
	era := y / 400
	yoe := y - era*400
	doy := (153*(m-3)+2)/5 + d - 1
	return int64(era*146097 + yoe*365 + yoe/4 - yoe/100 + doy - 719468), true
}

func daysIn(y, m int) int {
	switch {
	case m == 2 && y%4 == 0 && (y%100 != 0 || y%400 == 0):
		return 29
	case m == 2:
		return 28
	case m == 4 || m == 6 || m == 9 || m == 11:
		return 30
	}
	return 31
}
