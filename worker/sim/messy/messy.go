// Package messy invents export files with any of 33 kinds of difficulty, and
// tells what a perfect reader would make of them.
//
// Start with [New], a file by a seed and the numbers of some [Classes]. [Bomb],
// [EmptyRows] and [ZipInZip] make files that are out to do harm. It stands apart
// from the reader that is measured against it, and only tests import it.
package messy

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"wearround/worker/wear"
)

// File is an export file that went through one or two of the difficulties of
// [Classes], with the truth beside it.
type File struct {
	Data []byte
	Zone *time.Location // the clinic's

	People   []Truly // who is in the file and what was measured; empty where it holds nothing that can be filed
	Known    bool    // the headings are in a language, so that events can be told from notes
	Approx   bool    // the form of the file does not keep a nought at the end of a number
	Unstated bool    // no person's code is in the file

	// Decidable says that the file holds enough to be read without a person.
	Decidable bool
	Lossy     bool // some readings can only be left out
	// Answers gives the right choice for each question that may be asked, by its
	// code; one that ends in "*" stands for all codes that begin so.
	Answers map[string]string
	// Refusals are the codes of refusals that are right.
	Refusals map[string]bool
}

// Truly is what one person's readings and events really were.
type Truly struct {
	Code     string
	Readings []wear.Reading
	Events   []wear.Event
}

// holds is what a person would say of a column.
var holds = map[string]string{"meal": "meal", "symptom": "symptom", "note": "note", "words": "note", "scan": "on_demand", "kind": "kind", "person": "people"}

// New makes a file from a wear by the difficulties with the given numbers
// (1 to 33). The same seed and numbers give the same file.
func New(seed uint64, classes ...int) *File {
	c := newChance(seed)
	d := newDocument(c)
	var chosen []Class
	for _, n := range classes {
		chosen = append(chosen, Classes()[n-1])
	}
	for _, k := range chosen {
		if k.content != nil {
			k.content(c, d)
		}
	}
	for _, k := range chosen {
		if k.form != nil {
			k.form(c, d)
		}
	}
	data := d.bytes()
	d.answers["glucose_column"] = d.place("glucose")
	for i, f := range d.columns { // should anybody ask what a column holds
		d.answers[fmt.Sprintf("holds:%d", i+1)] = cmp.Or(holds[f.key], "aside")
	}
	if len(d.people) > 1 && d.language < 0 {
		d.unnamedPeople()
	}
	for _, k := range chosen {
		if k.bytes != nil {
			data = k.bytes(c, d, data)
		}
	}
	return &File{
		Data: data, Zone: d.zone, People: d.truth(), Known: d.language >= 0 && !d.foreign, Approx: d.workbook, Unstated: !d.stated(),
		Lossy: d.lossy, Decidable: !d.open && !d.nobody, Answers: d.answers, Refusals: d.refusals,
	}
}

// document is an export on its way to a file: who and what is in it, and how
// it is to be written.
type document struct {
	chance
	zone   *time.Location
	people []*patientRows
	unit   wear.Unit

	columns   []*field
	language  int // into languages, or -1 for no heading
	foreign   bool
	repeat    int // the heading comes again after so many rows
	comma     string
	decimal   string
	mixed     bool // some values keep the point
	quoted    bool
	bare      bool // a value with the delimiter inside is not quoted
	crlf      bool
	preamble  []string
	trailer   []string
	clock     clockForm
	split     bool // date and clock in columns of their own
	once      bool // the date only on the first row of a day
	wall      func(at int64) time.Time
	order     func([]line) []line
	joined    bool // two exports of overlapping periods behind each other
	low, high string
	workbook  bool
	book      bookForm
	lost      bool // the decimal mark was lost
	encode    func(string) []byte

	made     time.Time // when the file was exported
	noRows   bool      // nothing stands below the heading
	lossy    bool
	nobody   bool // nothing in the file can be filed
	open     bool
	answers  map[string]string
	refusals map[string]bool
}

// patientRows is one person's part of a document.
type patientRows struct {
	code     string
	readings []wear.Reading
	events   []wear.Event
	scans    []wear.Reading
}

// field is one column.
type field struct {
	key     string
	heading string // where it is the same in every language
	cell    func(d *document, l *line) string
}

// line is one row on its way into the file.
type line struct {
	at      int64
	person  *patientRows
	reading *wear.Reading // nil for a row without one
	scan    bool
	event   *wear.Event
	number  int
	shifted int64  // seconds that the clock of this row is off
	note    string // words that are no event of the wear
	hideDay bool
	raw     string // written instead of the value
}

// clockForm is how times are written.
type clockForm struct {
	date, clock string
	numbers     bool                                  // day and month are both numbers, the year is not first
	write       func(at int64, wall time.Time) string // where it is no such form
}

var plainForms = []clockForm{
	{date: "2006-01-02", clock: "15:04:05"},
	{date: "2006-01-02", clock: "15:04"},
	{date: "2006/01/02", clock: "15:04"},
	{date: "02-Jan-2006", clock: "15:04"},
}

// words of the languages that headings are written in: time, date, glucose,
// meal, symptom, note.
var languages = [][6]string{
	{"Time", "Date", "Glucose", "Meal", "Symptom", "Note"},
	{"Uhrzeit", "Datum", "Glukose", "Mahlzeit", "Symptom", "Notiz"},
	{"Heure", "Jour", "Glycémie", "Repas", "Symptôme", "Commentaire"},
	{"Hora", "Fecha", "Glucosa", "Comida", "Síntoma", "Nota"},
	{"Ora", "Data", "Glicemia", "Pasto", "Sintomo", "Commento"},
	{"Hora", "Data", "Glicose", "Refeição", "Sintoma", "Nota"},
	{"Tijd", "Datum", "Suikerwaarde", "Maaltijd", "Klacht", "Opmerking"},
	{"समय", "दिनांक", "शर्करा", "भोजन", "लक्षण", "टिप्पणी"},
	{"時刻", "日付", "血糖値", "食事", "症状", "メモ"},
}

var foods = []string{"rice and dal", "porridge", "pancakes", "bean stew", "toast with jam", "noodle soup", "apple"}
var symptoms = []string{"shaky", "dizzy before lunch", "sweaty and hungry", "racing heart"}

// newDocument invents a wear and a plain way to write it.
func newDocument(c chance) *document {
	d := &document{
		chance: c, unit: pick(c, []wear.Unit{wear.MmolL, wear.MgdL}), comma: ",", decimal: ".",
		clock: pick(c, plainForms), answers: make(map[string]string), refusals: make(map[string]bool), crlf: c.happens(0.3),
	}
	d.zone = mustZone(pick(c, []string{"Australia/Sydney", "Australia/Sydney", "Australia/Perth", "Europe/Berlin"}))
	d.wall = func(at int64) time.Time { return time.Unix(at, 0).In(d.zone) }
	start := time.Date(2026, time.Month(c.minutes(1, 10)), c.minutes(1, 28), c.IntN(24), 5*c.IntN(12), 0, 0, d.zone)
	d.people = []*patientRows{d.person("P-0417", start, float64(c.minutes(3, 7)))}
	d.made = start.AddDate(0, 0, 8)
	d.columns = []*field{timeField, glucoseField, mealField, symptomField}
	d.answers["unit"] = d.unit.String()
	d.answers["blocks"], d.answers["sheet"] = "same", "1"
	d.answers["repeated_hour"], d.answers["half_day"] = "first", "24h"
	return d
}

func mustZone(name string) *time.Location {
	zone, err := time.LoadLocation(name)
	if err != nil {
		panic("messy: no zone data for " + name) // a fault of the machine, never of data
	}
	return zone
}

// person invents one person's wear: a daily curve with meals, and what was
// logged with them. It is far simpler than a wear of package sim, and quick.
func (d *document) person(code string, start time.Time, days float64) *patientRows {
	step := pick(d.chance, []int64{300, 300, 900})
	n := int(days * 86400 / float64(step))
	p := &patientRows{code: code}
	base, value, target := d.between(5.2, 6.4), 5.5, 5.5
	nextMeal := int(d.between(10, 40))
	for i := range n {
		at := start.Unix() + int64(i)*step
		if i == nextMeal {
			nextMeal += int(d.between(18000, 32000)) / int(step)
			target = base + d.between(1.2, 4)
			p.events = append(p.events, wear.Event{At: at, Kind: wear.Meal, Label: pick(d.chance, foods)})
			if d.happens(0.2) && i > 3 {
				p.events = append(p.events, wear.Event{At: at - step, Kind: wear.Symptom, Label: pick(d.chance, symptoms)})
			}
		}
		target += (base - target) * float64(step) / 4000
		value += (target-value)*float64(step)/1500 + d.normal(0, 0.08)
		value = max(value, 3.2)
		p.readings = append(p.readings, d.reading(at, value))
	}
	slices.SortStableFunc(p.events, func(a, b wear.Event) int { return int(a.At - b.At) })
	return p
}

// reading writes a value in the document's unit.
func (d *document) reading(at int64, mmol float64) wear.Reading {
	return rounded(at, mmol, d.unit)
}

// inMmol turns the whole wear to mmol/L, for difficulties that only such files have.
func (d *document) inMmol() { d.setUnit(wear.MmolL) }

func (d *document) setUnit(u wear.Unit) {
	if d.unit == u {
		return
	}
	d.unit = u
	d.answers["unit"] = u.String()
	for _, p := range d.people {
		for i, r := range p.readings {
			p.readings[i] = d.reading(r.At, r.Mmol())
			p.readings[i].Mark = r.Mark
		}
		for i, r := range p.scans {
			p.scans[i] = d.reading(r.At, r.Mmol())
			p.scans[i].Mark = r.Mark
		}
	}
}

// stated reports whether the file names its person.
func (d *document) stated() bool {
	return slices.ContainsFunc(d.columns, func(f *field) bool { return f.key == "person" })
}

// truth is what a perfect reader would find.
func (d *document) truth() (list []Truly) {
	if d.nobody {
		return nil
	}
	for _, p := range d.people {
		t := Truly{Code: p.code, Events: p.events}
		t.Readings = append(slices.Clone(p.readings), p.scans...)
		for i := range t.Readings {
			if r := &t.Readings[i]; r.Bound != wear.Exact && d.low != "" {
				r.Num, r.Scale = 0, 0 // a word tells no number
			}
		}
		list = append(list, t)
	}
	return list
}

// at writes the time of a row.
func (d *document) at(l *line) time.Time { return d.wall(l.at + l.shifted) }

var timeField = &field{key: "time", cell: func(d *document, l *line) string {
	if d.clock.write != nil {
		return d.clock.write(l.at+l.shifted, d.at(l))
	}
	return d.at(l).Format(d.clock.date + " " + d.clock.clock)
}}

var glucoseField = &field{key: "glucose", cell: func(d *document, l *line) string {
	if l.raw != "" {
		return l.raw
	}
	if l.reading == nil || l.scan {
		return ""
	}
	return d.value(*l.reading, l.number)
}}

var mealField = &field{key: "meal", cell: func(d *document, l *line) string { return l.label(wear.Meal) }}
var symptomField = &field{key: "symptom", cell: func(d *document, l *line) string { return l.label(wear.Symptom) }}
var noteField = &field{key: "note", cell: func(d *document, l *line) string {
	if l.note != "" {
		return l.note
	}
	return l.label(wear.Note)
}}

func (l *line) label(kind wear.EventKind) string {
	if l.event == nil || l.event.Kind != kind {
		return ""
	}
	return l.event.Label
}

// value writes a reading the document's way.
func (d *document) value(r wear.Reading, number int) string {
	text := r.Text()
	switch {
	case r.Bound == wear.Below && d.low != "":
		return d.low
	case r.Bound == wear.Above && d.high != "":
		return d.high
	case d.lost:
		return strings.ReplaceAll(text, ".", "")
	case d.mixed && number%3 == 0:
		return text
	}
	return strings.ReplaceAll(text, ".", d.decimal)
}

// column finds a column by its key, or gives nil.
func (d *document) column(key string) *field {
	for _, f := range d.columns {
		if f.key == key {
			return f
		}
	}
	return nil
}

// place is the 1-based number of a column.
func (d *document) place(key string) string {
	for i, f := range d.columns {
		if f.key == key {
			return strconv.Itoa(i + 1)
		}
	}
	return ""
}

func (d *document) drop(key string) {
	d.columns = slices.DeleteFunc(d.columns, func(f *field) bool { return f.key == key })
}

// title is the heading of a column.
func (d *document) title(f *field) string {
	if f.heading != "" {
		return f.heading
	}
	if i := slices.Index([]string{"time", "date", "glucose", "meal", "symptom", "note"}, f.key); i >= 0 {
		return languages[max(d.language, 0)][i]
	}
	return f.key
}

// lines are the rows in the order of time.
func (d *document) lines() (list []line) {
	if d.noRows {
		return nil
	}
	for _, p := range d.people {
		for i := range p.readings {
			list = append(list, line{at: p.readings[i].At, person: p, reading: &p.readings[i], number: i})
		}
		for i := range p.scans {
			list = append(list, line{at: p.scans[i].At, person: p, reading: &p.scans[i], scan: true, number: i})
		}
		for i := range p.events {
			list = append(list, line{at: p.events[i].At, person: p, event: &p.events[i], number: i})
		}
	}
	slices.SortStableFunc(list, func(a, b line) int { return int(a.at - b.at) })
	return list
}

// cells writes the whole file as rows of cells.
func (d *document) cells() (rows [][]string) {
	list := d.lines()
	if d.order != nil {
		list = d.order(list)
	}
	again := len(list)
	if d.joined {
		again = len(list) / 2
		list = append(list[:len(list):len(list)], list[again:]...)
		again = len(list) - (len(list)-again)/2
	}
	if d.split {
		d.parts()
	}
	for _, p := range d.preamble {
		rows = append(rows, strings.Split(p, "|"))
	}
	var heading []string
	if d.language >= 0 {
		for _, f := range d.columns {
			heading = append(heading, d.title(f))
		}
		rows = append(rows, heading)
	}
	lastDay := ""
	for i := range list {
		l := &list[i]
		if d.repeat > 0 && i > 0 && i%d.repeat == 0 && heading != nil {
			rows = append(rows, heading)
		}
		day := d.at(l).Format("2006-01-02")
		l.hideDay = d.once && day == lastDay && i != again
		lastDay = day
		cells := make([]string, len(d.columns))
		for c, f := range d.columns {
			cells[c] = f.cell(d, l)
		}
		rows = append(rows, cells)
	}
	for _, p := range d.trailer {
		rows = append(rows, strings.Split(p, "|"))
	}
	return rows
}

// parts cuts the time column in two.
func (d *document) parts() {
	i := slices.Index(d.columns, timeField)
	if i < 0 || d.clock.write != nil {
		return
	}
	date := &field{key: "date", cell: func(d *document, l *line) string {
		if l.hideDay {
			return ""
		}
		return d.at(l).Format(d.clock.date)
	}}
	clock := &field{key: "time", cell: func(d *document, l *line) string { return d.at(l).Format(d.clock.clock) }}
	d.columns = slices.Replace(slices.Clone(d.columns), i, i+1, date, clock)
}

// bytes writes the file.
func (d *document) bytes() []byte {
	rows := d.cells()
	if d.workbook {
		return d.book.write(d, rows)
	}
	end := "\n"
	if d.crlf {
		end = "\r\n"
	}
	var b strings.Builder
	for _, cells := range rows {
		for i, c := range cells {
			if i > 0 {
				b.WriteString(d.comma)
			}
			if d.quoted && c != "" || strings.Contains(c, d.comma) && !d.bare || strings.ContainsAny(c, "\"\r\n") {
				c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
			}
			b.WriteString(c)
		}
		b.WriteString(end)
	}
	text := b.String()
	if d.encode != nil {
		return d.encode(text)
	}
	return []byte(text)
}

// undecided marks the file as one that a person must settle, and gives the
// right answer.
func (d *document) undecided(code, answer string) {
	d.open = true
	d.answers[code] = answer
}

// refused marks the file as one that cannot be read, for one of the reasons.
func (d *document) refused(codes ...string) {
	d.open = true
	for _, c := range codes {
		d.refusals[c] = true
	}
}
