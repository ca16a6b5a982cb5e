// Package layouts invents glucose tables in many arrangements, each with its known truth.
// Everything in it is made up: people, values, wording and arrangements.
package layouts

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"sort"
	"strconv"
	"strings"
	"time"
)

// Zone is the practice's zone in which instants (epoch, "Z") are told as local time.
// Wears never cross a change of clock: +11:00 before 5 April 2026, +10:00 after.
const Zone = "Australia/Sydney"

type Reading struct {
	Local string // "2006-01-02T15:04:05"
	Value string // a decimal as in the file, decimal mark "."
	Unit  string // "mmol/L" or "mg/dL"
	Bound string // "", "<", ">"
}

type Event struct{ Local, Kind, Text string }

// Truth is what the file holds and what a careful reader may do with it.
type Truth struct {
	Readings     []Reading
	Fingersticks []Reading
	Events       []Event
	People       int
	Decidable    bool     // may be filed without asking
	Ask          []string // else what must be asked; "none" = no question settles it
	MayAsk       []string // questions that are no fault even where Decidable
	Refuse       bool     // nothing of it may be filed as sensor readings
	Words        []string // texts that must reach a person
	Why          string
	ByPerson     []Truth // where People > 1: the true table of each; Readings is then empty
}

type File struct {
	Name   string
	Bytes  []byte
	Layout string
	Class  string
	Truth  Truth
	probe  probe
}

// probe is what the generator knows of its own file, for the self test.
type probe struct {
	toks    []string // filled cells in file order, as written
	vals    []vcell  // value cells with the reading they stand for
	times   []string // time cells joined by a space, one a sensor reading
	golay   string   // how those read
	decoded []byte   // text to look in when Bytes is packed or encoded
}

type vcell struct {
	raw string
	r   Reading
}

type pt struct {
	t time.Time
	d int // tenths of mmol/L
	m int // mg/dL
}

type ev struct {
	t          time.Time
	kind, text string
	n          int // grams, units
}

type person struct{ id, name, born string }

type wear struct {
	who    person
	start  time.Time
	step   time.Duration
	days   int
	pts    []pt
	sticks []pt
	evs    []ev
}

type gen struct {
	*rand.Rand
	n int
}

func newGen(seed int64, name string, n int) *gen {
	h := fnv.New64a()
	h.Write([]byte(name))
	return &gen{rand.New(rand.NewPCG(uint64(seed)*0x9e3779b97f4a7c15+uint64(n), h.Sum64())), n}
}

func pick[T any](g *gen, a ...T) T { return a[g.IntN(len(a))] }

var syl = strings.Fields("vor tem zel quib morv tag plin osk dru fenn ulm brax yit gorl sned wup krel navo thip bluz")

func (g *gen) person() person {
	cap := func(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
	n := cap(pick(g, syl...)+pick(g, syl...)) + " " + cap(pick(g, syl...)+pick(g, syl...)+pick(g, syl...))
	return person{fmt.Sprintf("P-%04d", 100+g.IntN(9000)), n,
		time.Date(1945+g.IntN(55), time.Month(1+g.IntN(12)), 1+g.IntN(28), 0, 0, 0, 0, time.UTC).Format("2006-01-02")}
}

var changes = []time.Time{time.Date(2026, 4, 5, 0, 0, 0, 0, time.UTC), time.Date(2026, 10, 4, 0, 0, 0, 0, time.UTC)}

type wo struct {
	days, sticks, evs int
	step              int // minutes
	grid              bool
	start             time.Time
	lift              int // tenths added
}

func (g *gen) wear(o wo) *wear {
	w := &wear{who: g.person(), days: o.days, step: time.Duration(o.step) * time.Minute}
	if w.days == 0 {
		w.days = pick(g, 8, 10, 12, 14, 14)
	}
	if o.step == 0 {
		w.step = time.Duration(pick(g, 15, 15, 15, 15, 10, 20, 30)) * time.Minute
	}
	w.start = o.start
	for w.start.IsZero() {
		s := time.Date(2026, 1, 20, 0, 0, 0, 0, time.UTC).AddDate(0, 0, g.IntN(225))
		s = s.Add(time.Duration(6+g.IntN(15)) * time.Hour).Add(time.Duration(g.IntN(15)) * time.Minute)
		if o.grid {
			s = s.Truncate(time.Hour)
		}
		w.start = s
	}
	if o.start.IsZero() {
		e := w.start.AddDate(0, 0, w.days+1)
		for _, c := range changes {
			if w.start.Before(c.AddDate(0, 0, 1)) && e.After(c.AddDate(0, 0, -1)) {
				w.start = w.start.AddDate(0, 0, 20)
				e = w.start.AddDate(0, 0, w.days+1)
			}
		}
	}
	n := int(time.Duration(w.days) * 24 * time.Hour / w.step)
	base := 49 + g.Float64()*9 + float64(o.lift)
	noise := 0.0
	type bump struct {
		at, h, l float64
		kind     int
	}
	var bumps []bump
	meals := []string{"porridge with milk", "rice and vegetables", "bread and cheese", "soup and toast", "pasta", "apple", "yoghurt with berries"}
	for d := 0; d <= w.days; d++ {
		for _, h := range []float64{7.5, 12.7, 18.8} {
			at := float64(d)*24 + h + g.NormFloat64()*0.4
			bumps = append(bumps, bump{at, 8 + g.Float64()*22, 0.9 + g.Float64()*0.4, 0})
			t := w.start.Truncate(24 * time.Hour).Add(time.Duration(at*60) * time.Minute)
			if t.After(w.start) && t.Before(w.start.AddDate(0, 0, w.days)) && len(w.evs) < o.evs {
				w.evs = append(w.evs, ev{t, "meal", pick(g, meals...), 20 + g.IntN(60)})
			}
		}
	}
	gapAt, gapN := n/3+g.IntN(n/3), g.IntN(5)
	for i := 0; i < n; i++ {
		t := w.start.Add(time.Duration(i) * w.step)
		noise = noise*0.8 + g.NormFloat64()*0.9
		x := t.Sub(w.start.Truncate(24 * time.Hour)).Hours()
		v := base + noise + 2*math.Sin((x-9)/24*2*math.Pi)
		for _, b := range bumps {
			if dx := (x - b.at - 0.75) / b.l; dx > -4 && dx < 4 {
				v += b.h * math.Exp(-dx*dx)
			}
		}
		d := max(36, min(139, int(math.Round(v))))
		if i >= gapAt && i < gapAt+gapN {
			continue
		}
		w.pts = append(w.pts, pt{t, d, int(math.Round(float64(d)*1.80156 + g.Float64() - 0.5))})
	}
	for i := 0; i < o.sticks; i++ {
		p := w.pts[(i+1)*len(w.pts)/(o.sticks+1)]
		s := pt{p.t, max(30, p.d+g.IntN(9)-3), 0}
		if !o.grid {
			s.t = s.t.Add(time.Duration(1+g.IntN(int(w.step.Minutes())-1)) * time.Minute)
		}
		if s.d == p.d {
			s.d += 2
		}
		s.m = int(math.Round(float64(s.d) * 1.80156))
		w.sticks = append(w.sticks, s)
	}
	return w
}

// line is one moment in time of a wear: 's' sensor, 'f' fingerstick, 'e' event.
type line struct {
	k     byte
	p     pt
	e     ev
	stick *pt // a fingerstick written on the sensor's own row
	note  *ev // an event written on the sensor's own row
	i     int
	text  string // a row with no reading: written as it is
	bound string
}

type col struct {
	head, unit string
	f          func(l *line) string
	role       byte // 't' time, 'v' sensor value, 'x' other
}

// B builds one table.
type B struct {
	g      *gen
	w      *wear
	L      *lang
	unit   string
	comma  bool
	wrap   func(string) string
	lines  []*line
	cols   []col
	pre    [][]string
	post   [][]string
	nohead bool
	two    bool // two header lines, the second holds the units
	tr     Truth
	golay  string
	insert func(prev, cur *line) [][]string // rows put before cur
	seenEv bool
}

type bo struct {
	lang, unit string
	wo
	merge bool // fingersticks and events become rows of their own
	on    bool // ... or are written on the nearest sensor row
}

func (g *gen) b(o bo) *B {
	if o.lang == "" {
		o.lang = "en"
	}
	if o.unit == "" {
		o.unit = pick(g, "mmol/L", "mmol/L", "mg/dL")
	}
	if o.on {
		o.grid = true
	}
	b := &B{g: g, L: langs[o.lang], unit: o.unit, w: g.wear(o.wo)}
	b.comma = b.L.Comma
	b.wrap = func(s string) string { return s }
	b.tr = Truth{People: 1, Decidable: true}
	b.fill(b.w, o.merge, o.on)
	return b
}

func (b *B) fill(w *wear, merge, on bool) {
	b.lines = nil
	for i := range w.pts {
		b.lines = append(b.lines, &line{k: 's', p: w.pts[i]})
	}
	if merge {
		for _, s := range w.sticks {
			b.lines = append(b.lines, &line{k: 'f', p: s})
		}
		for _, e := range w.evs {
			b.lines = append(b.lines, &line{k: 'e', p: pt{t: e.t}, e: e})
		}
		sort.SliceStable(b.lines, func(i, j int) bool { return b.lines[i].p.t.Before(b.lines[j].p.t) })
	}
	if on {
		for i := range w.sticks {
			for _, l := range b.lines {
				if l.p.t.Equal(w.sticks[i].t) {
					l.stick = &w.sticks[i]
				}
			}
		}
		for i := range w.evs {
			for _, l := range b.lines {
				if !l.p.t.Before(w.evs[i].t) {
					e := w.evs[i]
					e.t = l.p.t
					l.note = &e
					break
				}
			}
		}
	}
	for i, l := range b.lines {
		l.i = i
	}
}

func (b *B) ask(why string, what ...string) *B {
	b.tr.Decidable, b.tr.Ask, b.tr.Why = false, what, why
	return b
}
func (b *B) may(what ...string) *B { b.tr.MayAsk = append(b.tr.MayAsk, what...); return b }
func (b *B) refuse(why string) *B {
	b.tr.Decidable, b.tr.Refuse, b.tr.Why, b.tr.Ask = false, true, why, []string{"none"}
	return b
}

func tenths(d int) string { return strconv.Itoa(d/10) + "." + strconv.Itoa(d%10) }

func val(p pt, unit string) string {
	if unit == "mg/dL" {
		return strconv.Itoa(p.m)
	}
	return tenths(p.d)
}

func (b *B) num(s string) string {
	if b.comma {
		return strings.Replace(s, ".", ",", 1)
	}
	return s
}

func (b *B) v(p pt) string { return b.wrap(b.num(val(p, b.unit))) }

// ---- times

type style struct {
	heads func(l *lang) []string
	cells func(t time.Time, l *lang) []string
	golay string
}

func one(layout string) style {
	return style{func(l *lang) []string { return []string{l.Date + " / " + l.Time} },
		func(t time.Time, _ *lang) []string { return []string{t.Format(layout)} }, layout}
}

func two(d, c string) style {
	return style{func(l *lang) []string { return []string{l.Date, l.Time} },
		func(t time.Time, _ *lang) []string { return []string{t.Format(d), t.Format(c)} }, d + " " + c}
}

func oneF(f func(t time.Time, l *lang) string) style {
	return style{func(l *lang) []string { return []string{l.Date + " / " + l.Time} },
		func(t time.Time, l *lang) []string { return []string{f(t, l)} }, ""}
}

func nF(heads func(l *lang) []string, f func(t time.Time, l *lang) []string) style {
	return style{heads, f, ""}
}

func (b *B) time(s style) *B {
	b.golay = s.golay
	for i, h := range s.heads(b.L) {
		b.cols = append(b.cols, col{head: h, role: 't', f: func(l *line) string { return s.cells(l.p.t, b.L)[i] }})
	}
	return b
}

// ---- columns

func (b *B) unitHead(w string) string {
	switch b.g.IntN(4) {
	case 0:
		return w + " (" + b.unit + ")"
	case 1:
		return w + " [" + b.unit + "]"
	case 2:
		return w + ", " + b.unit
	}
	return w + " " + b.unit
}

// glucose adds the sensor's column; how: "head" (unit in the heading), "col" (own column), "cell", "none".
func (b *B) glucose(how string) *B { return b.glucoseAs(b.L.Sensor, how) }

func (b *B) glucoseAs(word, how string) *B {
	h := word
	if how == "head" && !b.two {
		h = b.unitHead(h)
	}
	if how == "cell" {
		old := b.wrap
		b.wrap = func(s string) string { return old(s) + " " + b.unit }
	}
	u := ""
	if b.two && how == "head" {
		u = b.unit
	}
	b.cols = append(b.cols, col{head: h, unit: u, role: 'v', f: func(l *line) string {
		if l.k == 's' {
			if l.text != "" {
				return l.text
			}
			return l.bound + b.v(l.p)
		}
		return ""
	}})
	if how == "col" {
		b.add("Unit", func(l *line) string {
			if l.k == 'e' {
				return ""
			}
			return b.unit
		})
	}
	return b
}

func (b *B) add(head string, f func(l *line) string) *B {
	b.cols = append(b.cols, col{head: head, role: 'x', f: f})
	return b
}

func (b *B) con(head, s string) *B { return b.add(head, func(*line) string { return s }) }

// stickCol adds the fingersticks' own column.
func (b *B) stickCol() *B { return b.stickAs(b.unitHeadIf(b.L.Finger)) }

func (b *B) unitHeadIf(w string) string {
	if b.two {
		return w
	}
	return b.unitHead(w)
}

func (b *B) stickAs(head string) *B {
	return b.add(head, func(l *line) string {
		if l.k == 'f' {
			return b.v(l.p)
		}
		if l.stick != nil {
			return b.v(*l.stick)
		}
		return ""
	})
}

// both adds one value column for sensor and fingerstick rows alike.
func (b *B) both(head string) *B {
	b.cols = append(b.cols, col{head: head, role: 'v', f: func(l *line) string {
		if l.k == 'e' {
			return ""
		}
		return l.bound + b.v(l.p)
	}})
	return b
}

func (b *B) kind(head, s, f, e string) *B {
	return b.add(head, func(l *line) string {
		switch l.k {
		case 's':
			return s
		case 'f':
			return f
		}
		return e
	})
}

// noteCol writes the events' words; they count as events of the truth.
func (b *B) noteCol(head string) *B {
	b.seenEv = true
	return b.add(head, func(l *line) string {
		if l.k == 'e' {
			return l.e.text
		}
		if l.note != nil {
			return l.note.text
		}
		return ""
	})
}

func (b *B) order(p ...int) *B {
	c := make([]col, len(p))
	last := -1
	for i, j := range p {
		c[i] = b.cols[j]
		if c[i].role == 't' {
			if j < last {
				b.golay = "" // the clock now stands before the date
			}
			last = j
		}
	}
	b.cols = c
	return b
}

func (b *B) shuffleCols() *B {
	b.g.Shuffle(len(b.cols), func(i, j int) { b.cols[i], b.cols[j] = b.cols[j], b.cols[i] })
	return b
}

func local(t time.Time) string { return t.Format("2006-01-02T15:04:05") }

func (b *B) reading(p pt, bound string) Reading {
	return Reading{local(p.t), val(p, b.unit), b.unit, bound}
}

// table lays the rows out and tells the truth.
func (b *B) table() ([][]string, probe) {
	var rows [][]string
	var pr probe
	rows = append(rows, b.pre...)
	if !b.nohead {
		var h, u []string
		for _, c := range b.cols {
			h = append(h, c.head)
			u = append(u, c.unit)
		}
		rows = append(rows, h)
		if b.two {
			rows = append(rows, u)
		}
	}
	hasVal := false
	for _, c := range b.cols {
		hasVal = hasVal || c.role == 'v'
	}
	pr.golay = b.golay
	var prev *line
	for _, l := range b.lines {
		if b.insert != nil {
			rows = append(rows, b.insert(prev, l)...)
		}
		prev = l
		var r []string
		tc := ""
		raw := ""
		for _, c := range b.cols {
			s := c.f(l)
			r = append(r, s)
			if c.role == 't' {
				tc = strings.TrimSpace(tc + " " + s)
			}
			if c.role == 'v' {
				raw = s
			}
		}
		rows = append(rows, r)
		if l.k == 's' && hasVal && raw != "" && l.text == "" {
			rd := b.reading(l.p, l.bound)
			b.tr.Readings = append(b.tr.Readings, rd)
			pr.vals = append(pr.vals, vcell{raw, rd})
			pr.times = append(pr.times, tc)
		}
		if l.k == 'f' {
			b.tr.Fingersticks = append(b.tr.Fingersticks, b.reading(l.p, ""))
		}
		if l.stick != nil {
			b.tr.Fingersticks = append(b.tr.Fingersticks, b.reading(*l.stick, ""))
		}
		if b.seenEv {
			if l.k == 'e' {
				b.tr.Events = append(b.tr.Events, Event{local(l.e.t), l.e.kind, l.e.text})
			}
			if l.note != nil {
				b.tr.Events = append(b.tr.Events, Event{local(l.note.t), l.note.kind, l.note.text})
			}
		}
	}
	rows = append(rows, b.post...)
	for _, r := range rows {
		for _, c := range r {
			if c != "" {
				pr.toks = append(pr.toks, c)
			}
		}
	}
	return rows, pr
}

func (b *B) finish(ext string, data []byte, pr probe) File {
	if b.tr.Refuse || b.tr.People > 1 {
		if b.tr.People > 1 && b.tr.Readings != nil && b.tr.ByPerson == nil {
			panic("two people without their tables")
		}
		b.tr.Readings, b.tr.Fingersticks, b.tr.Events = nil, nil, nil
	}
	sortR(b.tr.Readings)
	sortR(b.tr.Fingersticks)
	return File{Name: ext, Bytes: data, Truth: b.tr, probe: pr}
}

func sortR(r []Reading) { sort.SliceStable(r, func(i, j int) bool { return r[i].Local < r[j].Local }) }

func (b *B) csv(delim string) File {
	rows, pr := b.table()
	ext := "csv"
	if delim == "\t" || delim == "|" {
		ext = pick(b.g, "txt", "tsv", "csv")
	}
	return b.finish(ext, csvText(rows, delim, pick(b.g, "\r\n", "\n")), pr)
}

// delim picks a delimiter that suits the language.
func (b *B) delim() string {
	if b.comma {
		return pick(b.g, ";", ";", "\t")
	}
	return pick(b.g, ",", ",", ";", "\t")
}
