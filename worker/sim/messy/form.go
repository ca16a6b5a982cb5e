package messy

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"wearround/worker/wear"
)

func preambleLines(c chance, d *document) {
	made := d.made.Format("2006-01-02 15:04")
	d.preamble = append(d.preamble, "Sensor report", "Clinic|Vostrel Road", "Made|"+made, "")
	if d.language >= 0 && c.happens(0.4) {
		d.preamble = append(d.preamble, "Report|"+made+"|5.5")
	}
	if c.happens(0.2) {
		d.preamble = append(d.preamble, "Time zone|"+d.zone.String())
	}
}

func otherHeadings(c chance, d *document) {
	switch c.IntN(5) {
	case 0:
		d.language = 1 + c.IntN(len(languages)-3)
	case 1:
		d.language, d.foreign, d.open = len(languages)-2+c.IntN(2), true, true
	case 2:
		d.language, d.open = -1, true
		d.drop("meal") // nothing would tell one column of words from the other
		for _, p := range d.people {
			p.events = slices.DeleteFunc(p.events, func(e wear.Event) bool { return e.Kind == wear.Meal })
		}
	case 3: // the word over the glucose says nothing
		for i, f := range d.columns {
			if f.key == "glucose" && f.heading == "" {
				d.columns[i], d.open = &field{key: "glucose", heading: "Value", cell: f.cell}, true
			}
		}
	default:
		d.repeat = 50
	}
}

func otherDelimiter(c chance, d *document) {
	d.comma = pick(c, []string{";", "\t", "|"})
	d.quoted = c.happens(0.3)
	if d.comma == ";" && c.happens(0.5) {
		d.decimal = ","
	}
}

func decimalComma(c chance, d *document) {
	d.inMmol()
	d.decimal = ","
	switch {
	case d.comma != ",":
	case c.happens(0.7):
		d.comma = ";"
	case c.happens(0.3): // nothing keeps the halves of a value together
		d.bare = true
		d.refused("decimal_split", "no_table", "no_glucose", "no_readings", "unit", "clock_marks_lost", "unreadable_rows")
		d.answers["unit"], d.answers["unreadable_rows"], d.answers["glucose_column"], d.answers["second_glucose"] = "stop", "stop", "stop", "ignore"
		d.answers["type:*"] = "ignore"
	} // otherwise the value stands in quotes
	d.mixed = c.happens(0.3)
}

func otherEncoding(c chance, d *document) {
	switch c.IntN(7) {
	case 6: // marks of the direction of writing before times and numbers
		if d.comma == "," {
			d.comma = ";" // a decimal comma is no place for one
		}
		d.encode = func(s string) []byte {
			starts := regexp.MustCompile("(^|\n|" + regexp.QuoteMeta(d.comma) + ")([0-9])")
			return []byte(starts.ReplaceAllString(s, "$1\u200e$2"))
		}
	case 0:
		d.encode = func(s string) []byte { return []byte("\xEF\xBB\xBF" + s) }
	case 1:
		d.encode = asUTF16
	case 2:
		d.encode = func(s string) []byte { return asUTF16(s)[2:] } // no mark
	case 3:
		d.encode = func(s string) []byte { // the other byte order
			b := asUTF16(s)
			for i := 0; i+1 < len(b); i += 2 {
				b[i], b[i+1] = b[i+1], b[i]
			}
			return b
		}
	case 4:
		d.preamble = append(d.preamble, "Gerät|Nr 7, 21 °C")
		d.encode = func(s string) []byte {
			if strings.ContainsFunc(s, func(r rune) bool { return r > 0xFF }) {
				return []byte(s)
			}
			var b []byte
			for _, r := range s {
				b = append(b, byte(r)) // ISO 8859-1
			}
			return b
		}
	default:
		d.encode = func(s string) []byte { // a mark in the middle, from joining
			i := strings.IndexByte(s[len(s)/2:], '\n') + len(s)/2 + 1
			return []byte(s[:i] + "\uFEFF" + s[i:])
		}
	}
}

func halfDays(c chance, d *document) {
	if d.clock.write != nil {
		return
	}
	d.clock.clock = pick(c, []string{"3:04 PM", "03:04:05 PM"})
	switch c.IntN(4) {
	case 0:
	case 1:
		d.clock.clock = strings.ReplaceAll(d.clock.clock, " ", "\u202f")
	case 2:
		d.clock.clock = strings.ReplaceAll(d.clock.clock, "PM", "pm")
	default:
		d.clock.clock = pick(c, []string{"3:04", "03:04:05"}) // the marks are lost
		d.refused("clock_marks_lost", "date_missing", "dates")
		d.answers["half_day"] = "unknown"
	}
}

func dayOrder(c chance, d *document) {
	if d.clock.write != nil {
		return
	}
	form := pick(c, []struct{ date, order string }{
		{"02/01/2006", "day_month_year"}, {"01/02/2006", "month_day_year"}, {"2.1.06", "day_month_year"}, {"1/2/2006", "month_day_year"},
	})
	d.clock.date, d.clock.numbers = form.date, true
	d.answers["day_order"] = form.order
	if c.happens(0.25) {
		d.oneDay()
	}
}

func dateApart(c chance, d *document) {
	d.split = true
	d.once = c.happens(0.3) && len(d.people) == 1 // the date of the row above must be the same person's
}

func numberTimes(c chance, d *document) {
	d.clock = clockForm{}
	switch c.IntN(7) {
	case 6: // seconds from another beginning
		d.clock.write = func(at int64, _ time.Time) string { return strconv.FormatInt(at+2082844800, 10) }
		d.refused("no_table", "no_clock", "no_date")
	case 0, 1:
		d.clock.write = func(at int64, _ time.Time) string { return strconv.FormatInt(at, 10) }
	case 2, 3:
		d.clock.write = func(at int64, _ time.Time) string { return strconv.FormatInt(at*1000, 10) }
	case 4:
		count := pick(c, []dayCounting{{"1900", 25569}, {"1904", 24107}})
		d.clock.write = func(_ int64, wall time.Time) string { return count.text(wall) }
		d.open = d.open || count.name == "1904" // the other count gives days that are over too
		d.answers["day_numbers"] = count.name
	default:
		d.clock.write = func(at int64, _ time.Time) string { return strconv.FormatFloat(float64(at*1000), 'E', 5, 64) }
		d.refused("time_digits_lost", "no_table")
	}
}

// dayCounting is a spreadsheet's way of counting days.
type dayCounting struct {
	name string
	zero int64 // the number of 1 January 1970
}

// text writes a wall-clock time as a day number.
func (n dayCounting) text(wall time.Time) string {
	secs := time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), 0, time.UTC).Unix()
	return strconv.FormatFloat(float64(secs)/86400+float64(n.zero), 'f', 9, 64)
}

func offsets(c chance, d *document) {
	if d.clock.write != nil {
		return
	}
	stamp := func(layout string, zone *time.Location) func(int64, time.Time) string {
		return func(_ int64, wall time.Time) string { return wall.In(zone).Format(layout) }
	}
	utc := time.UTC
	switch c.IntN(8) {
	case 6: // an offset in a column of its own
		d.clock = clockForm{write: stamp("2006-01-02 15:04", d.zone)}
		d.columns = append(d.columns, &field{key: "offset", heading: "Offset", cell: func(d *document, l *line) string { return d.at(l).In(d.zone).Format("-07:00") }})
		d.undecided("zone:*", "named")
	case 7: // a line above that says UTC, rightly
		d.clock = clockForm{write: stamp("2006-01-02 15:04", utc)}
		d.preamble = append(d.preamble, "All times are in UTC")
		d.undecided("zone", "utc")
	case 0:
		d.clock = clockForm{write: stamp("2006-01-02T15:04:05Z07:00", d.zone)}
	case 1:
		d.clock = clockForm{write: stamp("2006-01-02 15:04:05-0700", d.zone)}
	case 2:
		d.clock = clockForm{write: stamp("2006-01-02T15:04:05Z07:00", utc)}
	case 3:
		d.clock = clockForm{write: func(_ int64, wall time.Time) string {
			name, _ := wall.Zone()
			return wall.Format("2006-01-02 15:04 ") + name
		}}
		d.undecided("zone", "local")
	default:
		local := c.happens(0.5) // the heading says UTC, and is wrong
		d.answers["zone"] = "utc"
		zone := utc
		if local {
			zone = d.zone
			d.answers["zone"] = "local"
		}
		d.clock = clockForm{write: stamp("2006-01-02 15:04", zone)}
		d.open = d.open || d.language >= 0
		d.columns[slices.Index(d.columns, timeField)] = &field{key: "time", heading: "Time (UTC)", cell: timeField.cell}
		if d.language < 0 { // nothing says it
			d.clock = clockForm{write: stamp("2006-01-02 15:04", d.zone)}
		}
	}
}

func recordTypes(c chance, d *document) {
	automatic, scan := "sensor", "scan"
	if c.happens(0.4) && len(d.people[0].scans) > 0 {
		scan = "X7"
		d.undecided("type:X7", "on_demand")
	}
	if d.column("date") != nil || d.column("kind") != nil {
		return
	}
	meal, symptom := d.column("meal") != nil, d.column("symptom") != nil
	d.drop("meal")
	d.drop("symptom")
	d.drop("scan")
	d.drop("note")
	delete(d.answers, "second_glucose")
	value := &field{key: "glucose", cell: func(d *document, l *line) string {
		switch {
		case l.raw != "":
			return l.raw
		case l.reading == nil:
			return ""
		}
		return d.value(*l.reading, l.number)
	}}
	for i, f := range d.columns {
		if f.key == "glucose" {
			value.heading = f.heading
			d.columns[i] = value
		}
	}
	d.columns = append(d.columns, &field{key: "kind", heading: "Record", cell: func(_ *document, l *line) string {
		switch {
		case l.event != nil:
			return string(l.event.Kind)
		case l.scan:
			return scan
		}
		return automatic
	}})
	if meal || symptom {
		d.columns = append(d.columns, &field{key: "words", heading: "Text", cell: func(_ *document, l *line) string {
			if l.event == nil {
				return l.note
			}
			return l.event.Label
		}})
	}
}

func unitStated(c chance, d *document) {
	g := d.column("glucose")
	if g == nil {
		return
	}
	i := slices.Index(d.columns, g)
	set := func(heading string) {
		d.columns[i] = &field{key: "glucose", heading: heading, cell: g.cell}
	}
	name := languages[max(d.language, 0)][2]
	wrong := map[wear.Unit]wear.Unit{wear.MmolL: wear.MgdL, wear.MgdL: wear.MmolL}[d.unit]
	form := c.IntN(6)
	if form == 5 && d.lost {
		form = 0 // two changes at once would leave nothing to tell them by
	}
	switch form {
	case 5: // the setting was changed half way, and no word tells it
		d.otherUnit(wrong)
		d.undecided("unit", "stop")
		d.refused("unit", "no_glucose")
	case 0:
		set(name + " " + strings.ToLower(d.unit.String()))
	case 1:
		d.columns = append(d.columns, &field{key: "unit", heading: "Unit", cell: func(d *document, l *line) string {
			if l.reading == nil {
				return ""
			}
			return l.reading.Unit.String()
		}})
	case 2:
		set(name + " " + wrong.String())
		if d.language >= 0 && !d.lost {
			d.undecided("unit", d.unit.String())
		}
	case 3:
		if d.language >= 0 {
			set(name + map[wear.Unit]string{wear.MmolL: " (MMOL/L)", wear.MgdL: " ㎎/㎗"}[d.unit])
		}
	default: // the setting was changed half way
		d.otherUnit(wrong)
		d.columns = append(d.columns, &field{key: "unit", heading: "Unit", cell: func(d *document, l *line) string {
			if l.reading == nil {
				return ""
			}
			return l.reading.Unit.String()
		}})
		if d.answers["unit_rows"] = "own"; d.lost {
			d.answers["unit_rows"], d.answers["unreadable_rows"] = "stop", "stop"
			d.refused("unit_rows")
		}
	}
}

// otherUnit writes the second half of everybody's readings in a unit.
func (d *document) otherUnit(u wear.Unit) {
	for _, p := range d.people {
		for i := len(p.readings) / 2; i < len(p.readings); i++ {
			switch r := &p.readings[i]; {
			case r.Bound == wear.Exact:
				*r = rounded(r.At, r.Mmol(), u)
			case r.Num == 0:
				r.Unit = u
			default:
				*r = limitOf(r.At, u)
			}
		}
	}
}

func overlapping(_ chance, d *document) { d.joined = true }

func unsorted(c chance, d *document) {
	if d.once {
		return
	}
	if c.happens(0.6) {
		d.order = func(list []line) []line { slices.Reverse(list); return list }
		return
	}
	d.order = func(list []line) []line {
		c.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
		return list
	}
	if d.answers["repeated_hour"] != "unchanged" {
		d.answers["repeated_hour"], d.lossy = "leave_out", true
	}
}

func totals(c chance, d *document) {
	d.trailer = append(d.trailer, "Average||6.1")
	if c.happens(0.5) {
		d.trailer = append(d.trailer, "", "Checked by: V. Ostrel")
	}
}

func quotedLines(c chance, d *document) {
	if d.column("kind") != nil || d.language < 0 {
		return
	}
	p := d.people[0]
	if len(p.readings) == 0 {
		return
	}
	if d.column("note") == nil {
		d.columns = append(d.columns, noteField)
	}
	for range c.minutes(1, 4) {
		at := p.readings[c.IntN(len(p.readings))].At
		p.events = append(p.events, wear.Event{At: at, Kind: wear.Note, Label: "went to bed\nlate, \"as ever\""})
	}
}

func thousands(c chance, d *document) {
	mark := pick(c, []string{" ", "'", ","})
	d.columns = append(d.columns, &field{key: "steps", heading: "Steps", cell: func(_ *document, l *line) string {
		return fmt.Sprintf("%d%s%03d", 1+l.at/300%7, mark, l.at/300%1000)
	}})
}

func severalPeople(c chance, d *document) {
	one := d.people[0]
	if len(one.readings) == 0 || d.nobody || d.joined {
		return
	}
	other := d.person("P-0518", d.wall(one.readings[0].At).Add(time.Duration(c.minutes(-600, 600))*time.Minute).Truncate(5*time.Minute), float64(c.minutes(3, 5)))
	d.people = append(d.people, other)
	d.once = false // a date that stands for the rows below it must be the same person's
	d.columns = append([]*field{personField("Patient")}, d.columns...)
	d.undecided("people", "split")
}

// unnamedPeople are the right answers where no heading says that a column
// names people.
func (d *document) unnamedPeople() {
	d.answers["column:1"] = "several"
	for _, code := range []string{"two_series", "conflicts", "cadence"} {
		d.answers[code] = "stop"
		d.refused(code)
	}
}

func personField(heading string) *field {
	return &field{key: "person", heading: heading, cell: func(_ *document, l *line) string { return l.person.code }}
}

func statedPerson(c chance, d *document) {
	if d.column("person") != nil {
		return
	}
	if c.happens(0.5) && len(d.people) == 1 {
		d.preamble = append(d.preamble, "Patient|"+d.people[0].code)
		return
	}
	d.columns = append(d.columns, personField("Patient"))
}
