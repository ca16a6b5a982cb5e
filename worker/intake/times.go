package intake

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"wearround/worker/wear"
)

// rowTime is the moment of one row: seconds since 1970 by the wall clock, or
// in UTC where the row states its offset.
type rowTime struct {
	secs     int64
	absolute bool
	ok       bool
	dropped  bool // a person left it out
	named    int8 // index into zoneNames of the name written behind it, or 0
}

// order is how the numbers of a date are arranged.
type order struct {
	value, text      string
	year, month, day int // index into stamp.parts
}

var orders = [...]order{
	{"day_month_year", "day, month, year", 2, 1, 0},
	{"month_day_year", "month, day, year", 2, 0, 1},
	{"year_month_day", "year, month, day", 0, 1, 2},
	{yearDayMonth, "year, day, month", 0, 2, 1},
}

// yearDayMonth is the order in which a date that begins with the year is not
// by the standard.
const yearDayMonth = "year_day_month"

// date turns the written parts into a day number under an order.
func (st *stamp) date(o order) (int64, bool) {
	if st.form == yearFirst && o.value == yearDayMonth {
		return dayNumber(int(st.parts[0]), int(st.parts[2]), int(st.parts[1]))
	}
	if st.form == yearFirst || st.form == dayFirst {
		return dayNumber(int(st.parts[0]), int(st.parts[1]), int(st.parts[2]))
	}
	y := int(st.parts[o.year])
	if st.form == numeric2 {
		y += 2000
	}
	return dayNumber(y, int(st.parts[o.month]), int(st.parts[o.day]))
}

// at is the moment of a stamp with a clock under an order; not ok for a date
// that does not exist.
func (st *stamp) at(o order) rowTime {
	d, ok := st.date(o)
	return rowTime{secs: d*86400 + int64(st.secs) - int64(st.offset), absolute: st.absolute, ok: ok, named: st.named}
}

// times reads the moment of every data row of the region.
func (l *ledger) times(t *table, g *region, now int64) ([]rowTime, order, *wear.Refusal) {
	out := make([]rowTime, g.to-g.from)
	if g.when.kind == epoch {
		for i := range out {
			if r := g.from + i; g.when.has(t, r) {
				v, _, _ := wear.ParseValue(t.cell(r, g.when.col))
				out[i] = rowTime{secs: v / int64(g.when.scale), absolute: true, ok: true}
			}
		}
		return out, orders[0], nil
	}
	w := writtenTimes{t: t, g: g, now: now, zone: l.zone}
	w.survey(out)
	o, ref := l.dateOrder(&w)
	if ref == nil {
		ref = l.clockMarks(&w)
	}
	if ref != nil {
		return nil, o, ref
	}
	if len(w.dates) > 0 || o.value == yearDayMonth {
		w.each(func(i int, st stamp) { out[i] = st.at(o) })
	}
	if w.disorder {
		return nil, o, refuse("date_missing", "Only some rows carry a date and the rows are not in order, so the others' day cannot be known.",
			"Export again with the date in each row.")
	}
	return out, o, nil
}

// writtenTimes is what the time columns hold, as far as it matters for
// deciding how dates are written.
type writtenTimes struct {
	t   *table
	g   *region
	now int64

	zone     *time.Location
	dates    map[[3]int16]*dayUse // dates in unknown order
	led      map[[3]int16]*dayUse // dates that begin with the year
	twoDigit bool                 // some year has two digits only
	plain    bool                 // some date can be read in one way only
	disorder bool                 // a clock went back without a new date

	hours    [25]int // how often each hour was written without an am or pm mark
	unmarked int
	whole    bool // some time is written in a form that has 24 hours
	forth    bool // on one date, the clock goes forward from row to row
	back     bool // on one date, it goes back
}

// dayUse is the clock times seen on one written date.
type dayUse struct {
	form        form
	first, last int32
	rows        int
}

// each calls yield for every data row that has a date and a clock.
func (w *writtenTimes) each(yield func(i int, st stamp)) {
	if w.t == nil { // a pass keeps no rows
		return
	}
	t, when := w.t, w.g.when
	var carried stamp
	lastClock := int32(-1)
	for r := w.g.from; r < w.g.to; r++ {
		if when.kind == moment {
			if when.has(t, r) {
				if st, ok := parseStamp(t.cell(r, when.col)); ok {
					yield(r-w.g.from, st)
				}
			}
			continue
		}
		fresh := false
		if k := t.kind(r, when.date); k == day || k == moment {
			if st, ok := parseStamp(t.cell(r, when.date)); ok {
				fresh = carried.form == noDate || st.parts != carried.parts
				carried = st
				if fresh {
					lastClock = -1
				}
				fresh = true
			}
		}
		if !when.has(t, r) || carried.form == noDate {
			continue
		}
		st, ok := parseStamp(t.cell(r, when.col))
		if !ok {
			continue
		}
		if !fresh && st.secs < lastClock && !w.foldOn(carried, lastClock-st.secs) {
			w.disorder = true
		}
		lastClock = st.secs
		st.form, st.parts = carried.form, carried.parts
		yield(r-w.g.from, st)
	}
}

// foldOn reports whether the clocks went back on a date, in any order of its
// numbers, by at least as much as the time did.
func (w *writtenTimes) foldOn(date stamp, back int32) bool {
	if w.zone == nil {
		return false
	}
	for _, o := range orders {
		if d, ok := date.date(o); ok {
			_, before := time.Unix(d*86400-86400/2, 0).In(w.zone).Zone()
			_, after := time.Unix(d*86400+86400*3/2, 0).In(w.zone).Zone()
			if before-after >= int(back) {
				return true
			}
		}
	}
	return false
}

// survey looks over all times once, and reads into out those whose date can be
// read in one way only.
func (w *writtenTimes) survey(out []rowTime) {
	w.dates, w.led = make(map[[3]int16]*dayUse), make(map[[3]int16]*dayUse)
	var use, led *dayUse
	var last stamp
	w.each(func(i int, st stamp) {
		if st.parts == last.parts && st.form == last.form {
			w.forth = w.forth || st.secs > last.secs
			w.back = w.back || st.secs < last.secs
		} else {
			use = nil
			if st.form == yearFirst {
				if led = w.led[st.parts]; led == nil {
					led = &dayUse{form: st.form, first: st.secs, last: st.secs}
					w.led[st.parts] = led
				}
			} else {
				led = nil
			}
			if st.form == numeric || st.form == numeric2 {
				if use = w.dates[st.parts]; use == nil {
					use = &dayUse{form: st.form, first: st.secs, last: st.secs}
					w.dates[st.parts] = use
				}
				w.twoDigit = w.twoDigit || st.form == numeric2
			}
		}
		last = st
		if led != nil {
			led.rows++
			led.first, led.last = min(led.first, st.secs), max(led.last, st.secs)
		}
		if use != nil {
			use.rows++
			use.first, use.last = min(use.first, st.secs), max(use.last, st.secs)
		} else {
			out[i] = st.at(orders[0])
			w.plain = true
		}
		if st.half == 0 && st.hour >= 0 {
			w.hours[st.hour]++
			w.unmarked++
		}
		w.whole = w.whole || st.whole || st.absolute
	})
}

// clockMarks refuses or asks where a 12-hour clock may have lost its am and pm.
func (l *ledger) clockMarks(w *writtenTimes) *wear.Refusal {
	if w.unmarked == 0 {
		return nil
	}
	if w.hours[0] > 0 || w.hours[24] > 0 {
		return nil
	}
	for h := 13; h < 24; h++ {
		if w.hours[h] > 0 {
			return nil
		}
	}
	lost := refuse("clock_marks_lost", "The clock times, “"+w.clockSeen()+"”, run from 1 to 12, and nothing was understood beside them that tells morning from afternoon.",
		"Export again with a 24-hour clock.")
	if w.forth && w.back {
		return lost
	}
	if w.whole {
		return nil
	}
	given := l.ask("half_day", "No hour is above 12 and nothing marks morning or afternoon. Are these times on a 24-hour clock?",
		wear.Choice{Value: "24h", Text: "Yes, a 24-hour clock", Effect: "the times stay as they are written", Rows: w.timed()},
		wear.Choice{Value: "unknown", Text: "No, or not known", Effect: "the file stays out; export it again with a 24-hour clock"})
	if given == "unknown" {
		return lost
	}
	return nil
}

// clockSeen is the first time as it stands in the file.
func (w *writtenTimes) clockSeen() string {
	if w.t == nil {
		return ""
	}
	return w.t.example(w.g.when.col, w.g.when.kind)
}

// timed shows the first rows with a time.
func (w *writtenTimes) timed() []string {
	if w.t == nil {
		return nil
	}
	return w.t.samples(func(r int) bool { return r >= w.g.from && w.g.when.has(w.t, r) })
}

// joinGap is how close the last time of one day and the first of the next must
// be for the days to count as joined, in seconds.
const joinGap = 45 * 60

// reading of the dates under one order.
type orderReading struct {
	order
	bad    int // rows whose date does not exist, lies before 1970 or in the future
	joined int // neighbouring days that join without a gap
	seams  int // neighbouring days
	span   int64
	days   []int64
	first  int64 // earliest moment
}

// dateOrder decides which number is the day and which the month: by what can
// exist, then by which order makes one day run on into the next.
func (l *ledger) dateOrder(w *writtenTimes) (order, *wear.Refusal) {
	if len(w.dates) == 0 {
		if o, asked := l.yearLed(w); asked {
			return o, nil
		}
		l.note("day_order", "written out", "the dates are written year first or with the month's name", "values")
		return orders[0], nil
	}
	if w.plain && !l.mixedDates("Some dates are numbers alone and others are written otherwise", w.forms()) {
		return order{}, refuseMixedDates()
	}
	total := 0
	for _, u := range w.dates {
		total += u.rows
	}
	var fit []orderReading
	least, evidence := total, ""
	for _, o := range orders {
		if o.value == yearDayMonth || o.year == 0 && !w.twoDigit {
			continue
		}
		r := w.readAs(o)
		if r.bad*200 <= total && r.bad <= 20 {
			fit = append(fit, r)
		} else if evidence == "" {
			evidence = "only this order gives dates that exist and are not in the future"
		}
		least = min(least, r.bad)
	}
	if len(fit) == 0 {
		return order{}, refuse("dates", "The dates cannot be read in any order of day, month and year.",
			"Check the clock of the sensor's reader, and export again with dates written year first.")
	}
	slices.SortStableFunc(fit, func(a, b orderReading) int { return b.joined*max(a.seams, 1) - a.joined*max(b.seams, 1) })
	best := fit[0]
	if len(fit) == 1 || slices.Equal(fit[0].days, fit[1].days) && len(fit) == 2 {
		if evidence == "" {
			evidence = "every order gives the same dates"
		}
		l.decisions = append(l.decisions, wear.Decision{Code: "day_order", Answer: best.value, Evidence: evidence, Margin: 1, By: "values"})
		return best.order, nil
	}
	next := fit[1]
	support := func(r orderReading) float64 {
		if best.joined == 0 {
			return 0.5
		}
		return float64(r.joined) / float64(best.joined+next.joined)
	}
	if best.joined*2 >= best.seams && best.span <= longestSpan && sure(support(best), support(next)) {
		l.decisions = append(l.decisions, wear.Decision{
			Code: "day_order", Answer: best.value, RunnerUp: next.value, By: "values",
			Evidence: fmt.Sprintf("%d of %d days run on into the next without a gap; in the other order %d of %d do", best.joined, best.seams, next.joined, next.seams),
			Margin:   support(best) - support(next),
		})
		return best.order, nil
	}
	var choices []wear.Choice
	for _, r := range fit {
		choices = append(choices, wear.Choice{Value: r.value, Text: r.text, Effect: "first reading would be " + longDate(r.first), Rows: w.show(r.order)})
	}
	given := l.ask("day_order", "In which order are the dates written?", choices...)
	for _, r := range fit {
		if r.value == given {
			return r.order, nil
		}
	}
	return best.order, nil
}

// yearLed asks about dates that begin with the year, where the day standing
// before the month makes one day run on into the next and the standard's order
// does not.
func (l *ledger) yearLed(w *writtenTimes) (o order, asked bool) {
	standard, turned := orders[2], orders[3]
	a, b := w.readLed(standard), w.readLed(turned)
	if len(w.led) == 0 || b.bad > 0 || a.bad == 0 && (a.joined*2 >= a.seams || b.joined <= a.joined) {
		return orders[0], false
	}
	if a.bad > 0 && b.joined*2 >= b.seams || a.joined == 0 && b.joined > 2 && b.joined*2 >= b.seams && b.span <= longestSpan {
		l.note("day_order", yearDayMonth, fmt.Sprintf("only with the day before the month do the dates exist and run on: %d of %d days do", b.joined, b.seams), "values")
		return turned, true
	}
	var choices []wear.Choice
	for _, r := range []orderReading{a, b} {
		if r.bad*2 < len(w.led) {
			choices = append(choices, wear.Choice{Value: r.value, Text: r.text, Effect: "first reading would be " + longDate(r.first), Rows: w.show(r.order)})
		}
	}
	if l.ask("day_order", "In which order are the dates written?", choices...) == yearDayMonth {
		return turned, true
	}
	return orders[0], true
}

func (w *writtenTimes) readLed(o order) orderReading {
	return w.readUses(o, w.led)
}

// show writes the first dates as an order reads them.
func (w *writtenTimes) show(o order) (rows []string) {
	var last [3]int16
	w.each(func(i int, st stamp) {
		if d, ok := st.date(o); ok && st.parts != last && len(rows) < maxSamples {
			last = st.parts
			rows = append(rows, w.written(i)+" is "+longDate(d*86400))
		}
	})
	return rows
}

// written is the date of a row as it stands in the file.
func (w *writtenTimes) written(i int) string {
	if w.g.when.date >= 0 {
		return w.t.cell(w.g.from+i, w.g.when.date)
	}
	return w.t.cell(w.g.from+i, w.g.when.col)
}

// forms shows a date of each form.
func (w *writtenTimes) forms() (rows []string) {
	var seen [numeric2 + 1]bool
	w.each(func(i int, st stamp) {
		if !seen[st.form] {
			seen[st.form] = true
			rows = append(rows, w.written(i))
		}
	})
	return rows
}

// longestSpan is the longest wear that continuity alone may decide, in days.
const longestSpan = 60

func (w *writtenTimes) readAs(o order) orderReading { return w.readUses(o, w.dates) }

func (w *writtenTimes) readUses(o order, dates map[[3]int16]*dayUse) orderReading {
	r := orderReading{order: o}
	type used struct {
		day int64
		*dayUse
	}
	var days []used
	for parts, u := range dates {
		st := stamp{form: u.form, parts: parts}
		d, ok := st.date(o)
		if !ok || d < 0 || w.now > 0 && d*86400 > w.now+2*86400 {
			r.bad += u.rows
			continue
		}
		days = append(days, used{d, u})
	}
	slices.SortFunc(days, func(a, b used) int { return int(a.day - b.day) })
	for i, d := range days {
		r.days = append(r.days, d.day)
		if i == 0 {
			r.first = d.day*86400 + int64(d.first)
			continue
		}
		r.seams++
		if d.day*86400+int64(d.first)-days[i-1].day*86400-int64(days[i-1].last) <= joinGap {
			r.joined++
		}
		r.span = d.day - days[0].day
	}
	return r
}

// longClock writes a wall-clock moment as "3 April 02:05".
func longClock(secs int64) string { return time.Unix(secs, 0).UTC().Format("2 January 15:04") }

// longDate writes a day as "3 April 2026".
func longDate(secs int64) string {
	t := time.Unix(secs, 0).UTC()
	return strconv.Itoa(t.Day()) + " " + t.Month().String() + " " + strconv.Itoa(t.Year())
}
