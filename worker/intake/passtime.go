package intake

import "bytes"

// dateMemo is the date of the row before, because a day has many rows.
type dateMemo struct {
	text     []byte // the date cell, or what stands before the clock
	tail     []byte // what stands behind the clock
	short    bool   // times written with text and tail may take the short way
	st       stamp
	midnight int64   // the start of the date, in seconds since 1970
	led      *dayUse // where the year stands first
	use      *dayUse // where the order of day and month is open
	last     int32   // the last clock on it
	any      bool
}

// moment reads the time of the present row.
func (p *pass) moment() (wall int64, ok bool) {
	if p.isQuick {
		return p.quick, true
	}
	cell := p.cell(p.plan.When.Col)
	switch p.plan.When.Kind {
	case epoch:
		return p.count(cell)
	case clock:
		return p.dateAndClock(cell)
	}
	st, ok := parseStamp(string(cell))
	if !ok || st.form == noDate || st.secs < 0 || st.named > 0 || st.absolute != p.plan.When.Absolute {
		return 0, false
	}
	if !p.onDate(&st) || p.date.st.offset != st.offset {
		if !p.newDate(st, nil) {
			return 0, false
		}
	}
	p.shorten(cell, &st)
	return p.clocked(st.secs, st.hour, st.half), true
}

// onDate reports whether a time is on the date of the row before.
func (p *pass) onDate(st *stamp) bool {
	return p.date.st.form != noDate && st.parts == p.date.st.parts && st.form == p.date.st.form
}

// newDate begins another date. It reports false for one that does not exist.
func (p *pass) newDate(st stamp, text []byte) bool {
	at := st
	at.secs = 0
	start := at.at(p.order)
	memo := dateMemo{text: text, st: st, midnight: start.secs, last: -1}
	if p.onDate(&st) { // with another offset
		memo.last, memo.any = p.date.last, p.date.any
	}
	if st.form == numeric || st.form == numeric2 {
		if memo.use = p.written.dates[st.parts]; memo.use == nil {
			memo.use = &dayUse{form: st.form, first: 1 << 30, last: -1}
			p.written.dates[st.parts] = memo.use
		}
		p.written.twoDigit = p.written.twoDigit || st.form == numeric2
	}
	if st.form == yearFirst {
		if memo.led = p.written.led[st.parts]; memo.led == nil {
			memo.led = &dayUse{form: st.form, first: 1 << 30, last: -1}
			p.written.led[st.parts] = memo.led
		}
	}
	p.written.whole = p.written.whole || st.whole || st.absolute
	p.written.plain = p.written.plain || st.form == yearFirst || st.form == dayFirst
	p.date = memo
	return start.ok
}

// clocked takes a clock time on the present date and gives its moment. What
// tells a 12-hour clock that lost its marks is kept.
func (p *pass) clocked(secs int32, hour int8, half byte) int64 {
	d := &p.date
	if d.any {
		p.written.forth = p.written.forth || secs > d.last
		p.written.back = p.written.back || secs < d.last
	}
	d.last, d.any = secs, true
	if half == 0 && hour >= 0 {
		p.written.hours[hour]++
		p.written.unmarked++
	}
	if d.led != nil {
		d.led.rows++
		d.led.first, d.led.last = min(d.led.first, secs), max(d.led.last, secs)
	}
	if d.use != nil {
		d.use.rows++
		d.use.first, d.use.last = min(d.use.first, secs), max(d.use.last, secs)
	}
	return d.midnight + int64(secs)
}

// shorten notes how the date is written, so that the next rows on it need only
// their clock read.
func (p *pass) shorten(cell []byte, st *stamp) {
	p.date.short = false
	i := bytes.IndexByte(cell, ':') - 1
	if i < 1 {
		return
	}
	if c := cell[i-1]; c >= '0' && c <= '9' {
		i--
	}
	secs, _, half, n := clockAt(cell[i:])
	if n > 0 && secs == st.secs && half == st.half {
		p.date.text, p.date.tail, p.date.short = cell[:i], cell[i+n:], true
	}
}

// sameDay reads the time at the start of b if it is on the date of the row
// before and written like it, with the delimiter behind it. n is its length.
func (p *pass) sameDay(b []byte, delim byte) (wall int64, n int) {
	d := &p.date
	if !d.short || !bytes.HasPrefix(b, d.text) {
		return 0, 0
	}
	secs, hour, half, length := clockAt(b[len(d.text):])
	n = len(d.text) + length
	if length == 0 || !bytes.HasPrefix(b[n:], d.tail) {
		return 0, 0
	}
	if n += len(d.tail); n >= len(b) || b[n] != delim {
		return 0, 0
	}
	return p.clocked(secs, hour, half), n
}

// clockAt reads a clock with a colon, seconds and an am or pm mark if it has
// them, at the start of b. n is its length, or 0 if there is none. It reads
// nothing that [parseStamp] would read otherwise.
func clockAt(b []byte) (secs int32, hour int8, half byte, n int) {
	digit := func(i int) bool { return i < len(b) && b[i]-'0' <= 9 }
	two := func(i int) int32 { return int32(b[i]-'0')*10 + int32(b[i+1]-'0') }
	if !digit(0) {
		return 0, 0, 0, 0
	}
	h := int32(b[0] - '0')
	if n = 1; digit(1) {
		h, n = two(0), 2
	}
	if n >= len(b) || b[n] != ':' || !digit(n+1) || !digit(n+2) || h > 23 {
		return 0, 0, 0, 0
	}
	minute, second := two(n+1), int32(0)
	if n += 3; n < len(b) && b[n] == ':' {
		if !digit(n+1) || !digit(n+2) {
			return 0, 0, 0, 0
		}
		second = two(n + 1)
		n += 3
	}
	if minute > 59 || second > 60 {
		return 0, 0, 0, 0
	}
	secs, hour = h*3600+minute*60+second, int8(h)
	if n+3 <= len(b) && b[n] == ' ' && b[n+2]|0x20 == 'm' && h <= 12 {
		switch half = b[n+1] | 0x20; {
		case half == 'p' && h < 12:
			secs += 12 * 3600
		case half == 'a' && h == 12:
			secs -= 12 * 3600
		case half != 'a' && half != 'p':
			return 0, 0, 0, 0
		}
		n += 3
	}
	return secs, hour, half, n
}

// dateAndClock reads a time whose date stands in a column of its own; a blank
// date is that of the row before.
func (p *pass) dateAndClock(cell []byte) (wall int64, ok bool) {
	secs, hour, half, n := clockAt(cell)
	if n != len(cell) || n == 0 {
		st, ok := parseStamp(string(cell))
		if !ok || st.form != noDate || st.absolute || st.named > 0 {
			return 0, false
		}
		secs, hour, half = st.secs, st.hour, st.half
	}
	switch date := p.cell(p.plan.When.Date); {
	case len(date) == 0:
		if p.date.text == nil || secs < p.date.last {
			return 0, false
		}
	case !bytes.Equal(date, p.date.text):
		st, ok := parseStamp(string(date))
		if !ok || st.form == noDate || st.secs > 0 || st.absolute || st.named > 0 || !p.newDate(st, date) {
			return 0, false
		}
	}
	return p.clocked(secs, hour, half), true
}

// count reads a number of seconds, or parts of one, since 1970.
func (p *pass) count(cell []byte) (wall int64, ok bool) {
	scale, digits := int64(p.plan.When.Scale), 10
	for n := scale; n > 1; n /= 10 {
		digits++
	}
	if len(cell) != digits {
		return 0, false
	}
	for _, c := range cell {
		if c < '0' || c > '9' {
			return 0, false
		}
		wall = wall*10 + int64(c-'0')
	}
	return wall / scale, true
}
