package layouts

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Table is a true table: a heading row, rows, and where the times and the sensor's values stand in them.
type Table struct {
	Header   []string // nil where the table has none
	Rows     [][]string
	TimeCols []int  // columns whose cells joined by a space are the local time
	Format   string // how that reads, as a Go layout; may be empty, then nothing that needs new times is done
	ValueCol int
	Unit     string
	Truth    Truth // what the undistorted table holds
}

// TrueTable invents one plain table to distort.
func TrueTable(seed int64) Table {
	g := newGen(seed, "true table", 0)
	c := pick(g, langCode...)
	b := g.b(bo{lang: c, wo: wo{step: 15, days: 7 + g.IntN(8), start: time.Date(2026, time.Month(5+g.IntN(3)), 1+g.IntN(28), 9, g.IntN(15), 0, 0, time.UTC)}})
	s := twoFor(b.L)
	tc := []int{0, 1}
	if g.IntN(2) == 0 {
		s, tc = one(pick(g, "2006-01-02 15:04", "02/01/2006 15:04", "2006-01-02T15:04:05")), []int{0}
	}
	b.time(s).glucose("head")
	rows, _ := b.table()
	return Table{rows[0], rows[1:], tc, s.golay, len(tc), b.unit, b.tr}
}

// doc is a table while it is being distorted.
type doc struct {
	Table
	g      *gen
	L      *lang
	pre    [][]string
	post   [][]string
	sheets []sheet
	body   []Event // events that may be made, beyond the table's own
	done   []string
	raw    bool // rows no longer all have the same meaning: leave their order alone
}

func (d *doc) clock(r []string) string {
	var s []string
	for _, i := range d.TimeCols {
		s = append(s, r[i])
	}
	return strings.Join(s, " ")
}

func (d *doc) width() int { return len(d.Rows[0]) }

// insertCol puts a filled column somewhere.
func (d *doc) insertCol(head string, f func(i int, r []string) string) {
	p := d.g.IntN(d.width() + 1)
	for len(d.TimeCols) == 2 && p == d.TimeCols[1] && d.TimeCols[0]+1 == p && d.g.IntN(3) > 0 {
		p = d.g.IntN(d.width() + 1)
	}
	put := func(r []string, s string) []string {
		o := append(append(append([]string{}, r[:p]...), s), r[p:]...)
		return o
	}
	rows := make([][]string, len(d.Rows))
	for i, r := range d.Rows {
		rows[i] = put(r, f(i, r))
	}
	d.Rows = rows
	if d.Header != nil {
		d.Header = put(d.Header, head)
	}
	tc := make([]int, len(d.TimeCols))
	for i, c := range d.TimeCols {
		tc[i] = c
		if c >= p {
			tc[i]++
		}
	}
	d.TimeCols = tc
	if d.ValueCol >= p {
		d.ValueCol++
	}
}

// other is a plausible value of somebody or something else, in the unit and with the decimal mark of the table.
func (d *doc) other(shift int) string {
	p := pt{d: 46 + shift + d.g.IntN(30)}
	p.m = int(float64(p.d)*1.80156 + 0.5)
	return d.mark(val(p, d.Unit))
}

func (d *doc) mark(s string) string {
	for _, r := range d.Rows[:min(40, len(d.Rows))] {
		if strings.Contains(r[d.ValueCol], ",") {
			return strings.Replace(s, ".", ",", 1)
		}
	}
	return s
}

func (d *doc) ask(why string, what ...string) {
	d.Truth.Decidable = false
	d.Truth.Ask = append(d.Truth.Ask, what...)
	d.Truth.Why = strings.TrimPrefix(d.Truth.Why+"; "+why, "; ")
}
func (d *doc) may(what ...string) { d.Truth.MayAsk = append(d.Truth.MayAsk, what...) }

// head gives a heading, or now and then none, which makes a filled number column undecidable.
func (d *doc) head(s string, number bool) string {
	if d.Header == nil || d.g.IntN(6) == 0 {
		if number {
			d.ask("a filled column of numbers without a heading", "columns", "kind")
		}
		d.may("columns")
		return ""
	}
	d.may("columns")
	return s
}

// saying is a line that says something of the wearer, which must reach a person.
func (d *doc) saying() []string {
	s := pick(d.g, []string{"fell unconscious on day 3"}, []string{"Medicine", "gliclazide"}, []string{"Pregnant", d.L.Yes}, []string{"Born", "2018"}, []string{d.L.Dizzy, d.L.Yes},
		[]string{"Diabetes", "type 1"}, []string{"Quality", "poor"}, []string{d.L.Note, "ambulance was called"}, []string{"Mean", "31.4"}, []string{d.L.Ket, "5.1"}, []string{"see page 2, " + d.L.Dizzy})
	d.Truth.Words = append(d.Truth.Words, s[len(s)-1])
	return s
}

// some gives n different row numbers.
func (d *doc) some(n int) map[int]bool {
	m := map[int]bool{}
	for len(m) < min(n, len(d.Rows)) {
		m[d.g.IntN(len(d.Rows))] = true
	}
	return m
}

func (d *doc) at(i int) string {
	if t, err := time.Parse(d.Format, d.clock(d.Rows[i])); err == nil && d.Format != "" {
		return local(t)
	}
	if d.Format == "" && !d.raw && len(d.Truth.Readings) == len(d.Rows) {
		return d.Truth.Readings[i].Local
	}
	return ""
}

type distortion struct {
	name string
	f    func(d *doc)
}

var distortions = []distortion{
	{"column-marks", func(d *doc) {
		on := d.some(3 + d.g.IntN(9))
		yes, no := d.L.Yes, d.L.No
		switch d.g.IntN(4) {
		case 0:
			yes, no = "1", "0"
		case 1:
			yes, no = "x", pick(d.g, "", "-")
		}
		word := pick(d.g, d.L.Dizzy, d.L.Meal)
		h := d.head(word, yes == "1")
		kind := "symptom"
		if word == d.L.Meal {
			kind = "meal"
		}
		if h != "" {
			for i := range d.Rows {
				if on[i] {
					d.body = append(d.body, Event{d.at(i), kind, word})
				}
			}
		}
		d.insertCol(h, func(i int, _ []string) string {
			if on[i] {
				return yes
			}
			return no
		})
	}},
	{"column-words", func(d *doc) {
		on := d.some(4 + d.g.IntN(20))
		ws := []string{"slept badly", "walked to the shop", "felt fine", "birthday cake", "low light", "hi", "see page 2"}
		words := map[int]string{}
		h := d.head(d.L.Note, false)
		for i := range d.Rows {
			if on[i] {
				words[i] = pick(d.g, ws...)
				d.body = append(d.body, Event{d.at(i), "note", words[i]})
			}
		}
		d.insertCol(h, func(i int, _ []string) string { return words[i] })
	}},
	{"column-substance", func(d *doc) {
		lo, hi, dec := 0.5, 2.4, true
		w := d.L.Lact + " (mmol/L)"
		switch d.g.IntN(4) {
		case 0:
			w, lo, hi = d.L.Ket+" (mmol/L)", 0.1, 1.2
		case 1:
			w, lo, hi, dec = d.L.Pulse, 52, 110, false
		case 2:
			w, lo, hi = "Urea (mmol/L)", 3.2, 7.8
		}
		every := 1 + d.g.IntN(2)*11
		h := d.head(w, true)
		d.insertCol(h, func(i int, _ []string) string {
			if i%every != 0 {
				return ""
			}
			x := lo + d.g.Float64()*(hi-lo)
			if dec {
				return d.mark(fmt.Sprintf("%.1f", x))
			}
			return strconv.Itoa(int(x))
		})
	}},
	{"column-statistics", func(d *doc) {
		h := d.head(d.L.Mean+" ("+d.Unit+")", true)
		v := d.other(4)
		d.insertCol(h, func(i int, _ []string) string {
			if i%96 == 0 {
				v = d.other(4)
			}
			return v
		})
	}},
	{"column-ids", func(d *doc) {
		n := 1000 + d.g.IntN(900000)
		st := d.g.IntN(2)
		d.insertCol(d.head(pick(d.g, "Record", "Row", "Sequence"), st == 1), func(i int, _ []string) string { return strconv.Itoa(n + i*st) })
	}},
	{"column-letters", func(d *doc) {
		d.insertCol(d.head(pick(d.g, "Status", "Quality", "Ward"), false), func(i int, _ []string) string { return "A" })
	}},
	{"column-dates", func(d *doc) {
		born := d.g.person().born
		h := "Date of birth"
		if d.g.IntN(2) == 0 {
			born, h = "2026-10-20", "Printed on"
		}
		if d.Header == nil {
			d.ask("a second date on every row without a heading", "columns", "person")
		}
		d.may("columns", "person")
		d.insertCol(h, func(int, []string) string { return born })
	}},
	{"column-fingersticks", func(d *doc) {
		on := d.some(3 + d.g.IntN(9))
		vals := map[int]string{}
		h := d.head(d.L.Finger+" ("+d.Unit+")", true)
		for i := range d.Rows {
			if on[i] {
				vals[i] = d.other(0)
				if h != "" {
					d.Truth.Fingersticks = append(d.Truth.Fingersticks, Reading{d.at(i), strings.Replace(vals[i], ",", ".", 1), d.Unit, ""})
				}
			}
		}
		d.insertCol(h, func(i int, _ []string) string { return vals[i] })
	}},
	{"rows-average", func(d *doc) {
		d.may("kind", "columns")
		word := d.L.Mean
		var out [][]string
		last := ""
		for i, r := range d.Rows {
			t := d.at(i)
			if len(t) > 10 {
				if last != "" && t[:10] != last {
					x := make([]string, len(r))
					x[d.TimeCols[0]], x[d.ValueCol] = word, d.other(4)
					out = append(out, x)
				}
				last = t[:10]
			}
			out = append(out, r)
		}
		d.Rows, d.raw = out, true
	}},
	{"rows-headings-again", func(d *doc) {
		if d.Header == nil {
			return
		}
		var out [][]string
		for i, r := range d.Rows {
			if i > 0 && i%60 == 0 {
				out = append(out, d.Header)
			}
			out = append(out, r)
		}
		d.Rows, d.raw = out, true
	}},
	{"rows-page-lines", func(d *doc) {
		var out [][]string
		for i, r := range d.Rows {
			if i > 0 && i%100 == 0 {
				x := make([]string, len(r))
				x[0] = fmt.Sprintf("page %d", i/100)
				out = append(out, x)
			}
			out = append(out, r)
		}
		d.Rows, d.raw = out, true
	}},
	{"block-statistics-below", func(d *doc) {
		d.post = append(d.post, []string{}, []string{d.L.Mean, d.other(4)}, []string{"SD", d.mark("1.2")}, []string{"n", strconv.Itoa(len(d.Rows))})
		d.may("columns")
	}},
	{"block-substance-below", func(d *doc) {
		d.post = append(d.post, []string{}, []string{d.L.Lact + " (mmol/L)"})
		for i := 0; i < 6; i++ {
			r := d.Rows[i*len(d.Rows)/6]
			if c := d.clock(r); c != "" {
				d.post = append(d.post, []string{c, d.mark(fmt.Sprintf("%.1f", 0.7+d.g.Float64()*4))})
			}
		}
		d.may("columns", "kind")
	}},
	{"lines-above", func(d *doc) {
		d.pre = append(d.pre, []string{"Table of measurements"}, []string{"Printed", "2026-10-20 09:00"}, []string{"Checked by", d.g.person().name})
		d.may("person")
	}},
	{"sheet-statistics", func(d *doc) {
		rows := [][]string{{"Hour", "Mean of the hour (" + d.Unit + ")"}}
		for h := 0; h < 24; h++ {
			rows = append(rows, []string{zero2(h) + ":00", strings.Replace(d.other(3), ",", ".", 1)})
		}
		d.sheets = append(d.sheets, sheet{name: "Hours", rows: rows})
		d.may("sheet")
	}},
	{"sheet-words", func(d *doc) {
		d.sheets = append(d.sheets, sheet{name: "Read me", rows: [][]string{{"This workbook holds one table."}, {"Ask the office if anything is unclear."}}})
		d.may("sheet")
	}},
	{"said-above", func(d *doc) { d.pre = append(d.pre, d.saying()) }},
	{"said-below", func(d *doc) { d.post = append(d.post, d.saying()) }},
	{"said-column", func(d *doc) {
		s := d.saying()
		if d.Header == nil || len(s) < 2 {
			d.Truth.Words = d.Truth.Words[:len(d.Truth.Words)-1]
			return
		}
		d.may("columns")
		d.insertCol(s[0], func(int, []string) string { return s[1] })
	}},
	{"said-sheet", func(d *doc) {
		d.sheets = append(d.sheets, sheet{name: "Cover", rows: [][]string{d.saying()}})
		d.may("sheet")
	}},
	{"not-a-sensor-line", func(d *doc) {
		d.pre = append(d.pre, pick(d.g, []string{"Specimen", "urine"}, []string{"averages of 15 minutes"}, []string{"Values", "predicted"}, []string{"Unit", "g/L"},
			[]string{"Sample: saliva"}, []string{"all values are 1.5 too low"}, []string{"the clock was two hours slow"}))
		d.Truth.Refuse = true
	}},
	{"not-a-sensor-heading", func(d *doc) {
		if d.Header == nil {
			return
		}
		d.Header[d.ValueCol] = pick(d.g, "Urine glucose", "glucose deviation", "median of 5 glucose", "smoothed glucose", "predicted glucose in 30 min", "highest glucose of the hour",
			"glucose equivalent of fructosamine", "qorvix glucose", "glucose g/L", "glucose (mg/L)", "glucose mol/L", "glucose in umol/dL", "mother's glucose")
		d.Truth.Refuse = true
	}},
	{"two-people-in-lines", func(d *doc) {
		a, c := d.g.person(), d.g.person()
		if a.id == c.id {
			return
		}
		d.pre, d.post = append(d.pre, []string{"Patient", a.id}), append(d.post, []string{pick(d.g, "Patient", "Patient:"), c.id})
		d.Truth.Refuse = true
		d.may("person")
	}},
	{"columns-permuted", func(d *doc) {
		p := d.g.Perm(d.width())
		to := make([]int, len(p))
		for i, x := range p {
			to[x] = i
		}
		mv := func(r []string) []string {
			o := make([]string, len(p))
			for i, x := range p {
				if x < len(r) {
					o[i] = r[x]
				}
			}
			return o
		}
		for i := range d.Rows {
			d.Rows[i] = mv(d.Rows[i])
		}
		if d.Header != nil {
			d.Header = mv(d.Header)
		}
		tc := make([]int, len(d.TimeCols))
		for i, c := range d.TimeCols {
			tc[i] = to[c]
		}
		d.TimeCols, d.ValueCol = tc, to[d.ValueCol]
	}},
	{"rows-permuted", func(d *doc) {
		if d.raw {
			return
		}
		d.raw = true // the rows no longer stand as the truth's do
		if d.g.IntN(2) == 0 {
			for i, j := 0, len(d.Rows)-1; i < j; i, j = i+1, j-1 {
				d.Rows[i], d.Rows[j] = d.Rows[j], d.Rows[i]
			}
			return
		}
		d.g.Shuffle(len(d.Rows), func(i, j int) { d.Rows[i], d.Rows[j] = d.Rows[j], d.Rows[i] })
	}},
}

// person distortions come last and at most once: they change what may be filed at all.
var personDistortions = []distortion{
	{"person-column-same-times", func(d *doc) { // the other's glucose in a column of its own
		who := d.g.person()
		d.second(func(int) bool { return true }, 0, func(v map[int]string) {
			h := pick(d.g, who.name, who.id, d.L.Sensor+" "+who.name)
			if d.Header == nil || d.g.IntN(6) == 0 {
				h = ""
			}
			d.Truth.Ask = append(d.Truth.Ask, "columns")
			d.insertCol(h, func(i int, _ []string) string { return v[i] })
		})
	}},
	{"person-key-column-interleaved", func(d *doc) { d.keyed(true, false) }},
	{"person-key-column-in-turn", func(d *doc) { d.keyed(false, true) }},
	{"person-key-column-same-days", func(d *doc) { d.keyed(false, false) }},
	{"person-line-between-in-turn", func(d *doc) {
		a, c := d.g.person(), d.g.person()
		d.second(nil, d.span(), func(v map[int]string) {
			rows := d.shifted(v, d.span())
			mk := func(p person) []string {
				x := make([]string, d.width())
				x[0] = pick(d.g, p.name, "Name: "+p.name, p.id, "born "+p.born)
				return x
			}
			d.Rows = append(append([][]string{mk(a)}, d.Rows...), append([][]string{mk(c)}, rows...)...)
		})
	}},
	{"person-sheet", func(d *doc) {
		a, c := d.g.person(), d.g.person()
		d.second(nil, 0, func(v map[int]string) {
			rows := d.shifted(v, 0)
			if d.Header != nil {
				rows = append([][]string{d.Header}, rows...)
			}
			d.Truth.Ask = append(d.Truth.Ask, "sheet")
			d.sheets = append(d.sheets, sheet{name: c.id, rows: rows})
			d.pre = append([][]string{{"Name", a.name}}, d.pre...)
		})
	}},
	{"person-block-below", func(d *doc) {
		c := d.g.person()
		d.second(nil, 0, func(v map[int]string) {
			rows := d.shifted(v, 0)
			d.post = append(d.post, []string{}, []string{"Name", c.name})
			if d.Header != nil {
				d.post = append(d.post, d.Header)
			}
			d.post = append(d.post, rows...)
		})
	}},
}

// span is a whole number of days that puts the second person after the first.
func (d *doc) span() time.Duration {
	r := d.Truth.Readings
	if len(r) == 0 {
		return 0
	}
	a, _ := time.Parse("2006-01-02T15:04:05", r[0].Local)
	z, _ := time.Parse("2006-01-02T15:04:05", r[len(r)-1].Local)
	return z.Sub(a).Truncate(day) + 2*day
}

// shifted copies the rows with another's values, moved in time.
func (d *doc) shifted(v map[int]string, by time.Duration) [][]string {
	var out [][]string
	for i, r := range d.Rows {
		x := append([]string{}, r...)
		if v[i] == "" {
			continue // not a reading
		}
		x[d.ValueCol] = v[i]
		if by != 0 {
			t, err := time.Parse(d.Format, d.clock(r))
			if err != nil {
				continue
			}
			parts := []string{t.Add(by).Format(d.Format)}
			if len(d.TimeCols) == 2 {
				k := strings.LastIndex(d.Format, " ")
				parts = []string{t.Add(by).Format(d.Format[:k]), t.Add(by).Format(d.Format[k+1:])}
			}
			for j, c := range d.TimeCols {
				x[c] = parts[j]
			}
		}
		out = append(out, x)
	}
	return out
}

// second makes the other person's values, tells the truth of both and lets put write them.
func (d *doc) second(_ func(int) bool, by time.Duration, put func(v map[int]string)) {
	if d.Format == "" && by != 0 {
		return
	}
	v := map[int]string{}
	first := d.Truth
	first.Decidable, first.Ask = false, nil
	other := Truth{People: 1}
	for i, r := range d.Rows {
		t, err := time.Parse(d.Format, d.clock(r))
		if err != nil {
			continue
		}
		v[i] = d.other(6)
		other.Readings = append(other.Readings, Reading{local(t.Add(by)), strings.Replace(v[i], ",", ".", 1), d.Unit, ""})
	}
	if len(v) == 0 {
		return
	}
	sortR(other.Readings)
	d.Truth = Truth{People: 2, Ask: append(append([]string{}, d.Truth.Ask...), "person"), MayAsk: d.Truth.MayAsk, ByPerson: []Truth{first, other},
		Why: strings.TrimPrefix(d.Truth.Why+"; a second person's readings are in the file", "; ")}
	d.body = nil
	put(v)
}

// keyed adds a second person's rows, told apart by a column.
func (d *doc) keyed(interleave, turn bool) {
	a, c := d.g.person(), d.g.person()
	var by time.Duration
	if turn {
		by = d.span()
	}
	d.second(nil, by, func(v map[int]string) {
		rows := d.shifted(v, by)
		n := len(d.Rows)
		d.Rows = append(d.Rows, rows...)
		var h, ka, kc string
		switch d.g.IntN(4) {
		case 0:
			h, ka, kc = "Name", a.name, c.name
		case 1:
			h, ka, kc = "Date of birth", a.born, c.born
		case 2:
			h, ka, kc = "Sensor number", strconv.Itoa(20000+d.g.IntN(9999)), strconv.Itoa(40000+d.g.IntN(9999))
		default:
			h, ka, kc = "Record", a.id, c.id
		}
		d.insertCol(h, func(i int, _ []string) string {
			if i < n {
				return ka
			}
			return kc
		})
		if interleave {
			var out [][]string
			for i := 0; i < max(n, len(rows)); i++ {
				if i < n {
					out = append(out, d.Rows[i])
				}
				if n+i < len(d.Rows) {
					out = append(out, d.Rows[n+i])
				}
			}
			d.Rows = out
		}
	})
}

// Distortions names what Distort can do.
func Distortions() []string {
	var s []string
	for _, x := range append(append([]distortion{}, distortions...), personDistortions...) {
		s = append(s, x.name)
	}
	return s
}

// Distort adds foreign things to a true table: one to three distortions, in one file of four with a second person.
// The truth of the readings is that of the table; the file's Layout names what was done.
func Distort(seed int64, table Table) File {
	g := newGen(seed, "distort", 0)
	var names []string
	for i, n := 0, 1+g.IntN(3); i < n; i++ {
		names = append(names, distortions[g.IntN(len(distortions))].name)
	}
	if g.IntN(4) == 0 {
		names = append(names, personDistortions[g.IntN(len(personDistortions))].name)
	}
	return DistortWith(seed, table, names...)
}

// DistortWith does the named distortions in that order.
func DistortWith(seed int64, table Table, names ...string) File {
	g := newGen(seed, "distort with", len(names))
	d := &doc{Table: table, g: g, L: langs[pick(g, langCode...)]}
	d.Rows = make([][]string, len(table.Rows))
	for i, r := range table.Rows {
		d.Rows[i] = append([]string{}, r...)
	}
	d.Truth.Readings = append([]Reading{}, table.Truth.Readings...)
	d.Truth.Fingersticks = append([]Reading{}, table.Truth.Fingersticks...)
	d.Truth.Ask = append([]string{}, table.Truth.Ask...)
	d.Truth.MayAsk = append([]string{}, table.Truth.MayAsk...)
	all := append(append([]distortion{}, distortions...), personDistortions...)
	for _, n := range names {
		for _, x := range all {
			if x.name == n && !(strings.HasPrefix(n, "person") && d.Truth.People > 1) {
				d.L = langs[pick(g, langCode...)]
				x.f(d)
				d.done = append(d.done, n)
			}
		}
	}
	if d.Truth.People > 1 {
		d.Truth.Readings, d.Truth.Fingersticks, d.Truth.Events, d.Truth.Decidable = nil, nil, nil, false
	} else {
		d.Truth.Events = append(append([]Event{}, table.Truth.Events...), d.body...)
		sortR(d.Truth.Readings)
		sortR(d.Truth.Fingersticks)
	}
	d.Truth.Ask, d.Truth.MayAsk = uniq(d.Truth.Ask), uniq(d.Truth.MayAsk)
	rows := append([][]string{}, d.pre...)
	if d.Header != nil {
		rows = append(rows, d.Header)
	}
	rows = append(append(rows, d.Rows...), d.post...)
	f := File{Layout: "distorted: " + strings.Join(d.done, " + "), Class: "distorted", Truth: d.Truth}
	for _, r := range rows {
		for _, c := range r {
			if c != "" {
				f.probe.toks = append(f.probe.toks, c)
			}
		}
	}
	ext := "csv"
	if len(d.sheets) > 0 {
		ext = "xlsx"
		ss := append([]sheet{{name: "Table", rows: rows}}, d.sheets...)
		if g.IntN(2) == 0 {
			ss[0], ss[len(ss)-1] = ss[len(ss)-1], ss[0]
		}
		for i := range ss {
			ss[i].name = fmt.Sprintf("%d %s", i+1, ss[i].name)
			ss[i].text = g.IntN(2) == 0
		}
		f.Bytes = workbook(false, ss...)
	} else {
		f.Bytes = csvText(rows, pick(g, ";", "\t", ","), pick(g, "\n", "\r\n"))
	}
	f.Name = fmt.Sprintf("d%08x.%s", uint32(seed)*2654435761, ext)
	return f
}

func uniq(s []string) []string {
	var o []string
	seen := map[string]bool{}
	for _, x := range s {
		if !seen[x] {
			seen[x] = true
			o = append(o, x)
		}
	}
	return o
}
