package layouts

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"time"
)

const day = 24 * time.Hour

// rd notes a reading written by hand-made arrangements.
func (b *B) rd(pr *probe, p pt, raw string) {
	r := b.reading(p, "")
	b.tr.Readings = append(b.tr.Readings, r)
	pr.vals = append(pr.vals, vcell{raw, r})
	pr.toks = append(pr.toks, raw)
}

// byDay groups the readings.
func byDay(w *wear) (days []time.Time, m map[time.Time][]pt) {
	m = map[time.Time][]pt{}
	for _, p := range w.pts {
		d := p.t.Truncate(day)
		if len(m[d]) == 0 {
			days = append(days, d)
		}
		m[d] = append(m[d], p)
	}
	return
}

func init() {
	// ---- armour around the value
	arm := []struct {
		n string
		f func(g *gen, s, unit string) string
	}{
		{"unit-in-cell", func(g *gen, s, u string) string { return s + " " + u }},
		{"unit-in-cell-no-space", func(g *gen, s, u string) string { return s + u }},
		{"unit-before", func(g *gen, s, u string) string { return u + " " + s }},
		{"arrow-after", func(g *gen, s, u string) string { return s + " " + pick(g, "→", "↑", "↓", "↗", "↘") }},
		{"arrow-before", func(g *gen, s, u string) string { return pick(g, "→", "↑", "↓", "↗", "↘") + s }},
		{"arrow-ascii", func(g *gen, s, u string) string { return s + " " + pick(g, "->", "=", "/\\", "\\/") }},
		{"formula-text", func(g *gen, s, u string) string { return `="` + s + `"` }},
		{"apostrophe", func(g *gen, s, u string) string { return "'" + s }},
		{"always-quoted-spaces", func(g *gen, s, u string) string { return "  " + s + " " }},
		{"unit-and-arrow", func(g *gen, s, u string) string { return s + " " + u + " " + pick(g, "→", "↗", "↘") }},
		{"trailing-zero", func(g *gen, s, u string) string {
			if u == "mg/dL" {
				return s + ".0"
			}
			return s + "0"
		}},
		{"brackets", func(g *gen, s, u string) string { return "[" + s + "]" }},
		{"equals-label", func(g *gen, s, u string) string { return "glucose = " + s }},
	}
	for _, a := range arm {
		reg("armour", "armour-"+a.n, func(g *gen) File {
			b := g.b(bo{}).time(iso)
			b.wrap = func(s string) string { return a.f(g, s, b.unit) }
			how := "head"
			if strings.Contains(a.n, "unit") {
				how = "none"
			}
			return b.glucose(how).csv(pick(g, ",", ";", "\t"))
		})
	}
	reg("armour", "armour-star-with-legend", func(g *gen) File {
		b := g.b(bo{}).time(iso)
		b.wrap = func(s string) string {
			if g.IntN(40) == 0 {
				return s + "*"
			}
			return s
		}
		b.glucose("head").may("columns", "kind")
		b.post = [][]string{{"* the wearer looked at the display at this time"}}
		return b.csv(b.delim())
	})
	reg("armour", "armour-star-no-legend", func(g *gen) File {
		b := g.b(bo{}).time(iso)
		b.wrap = func(s string) string {
			if g.IntN(40) == 0 {
				return s + "*"
			}
			return s
		}
		return b.glucose("head").ask("a star that nothing explains; the number itself is plain", "kind", "columns").csv(b.delim())
	})
	reg("armour", "limits-with-signs", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head")
		lo, hi := pt{d: 22, m: 40}, pt{d: 278, m: 500}
		for i := 0; i < 5; i++ {
			l := b.lines[g.IntN(len(b.lines))]
			x := pick(g, lo, hi)
			l.p.d, l.p.m, l.bound = x.d, x.m, "<"
			if x.d > 100 {
				l.bound = ">"
			}
		}
		return b.csv(b.delim())
	})
	reg("armour", "limits-with-words", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").ask("words for out of range must be confirmed once", "kind", "columns")
		for i := 0; i < 4; i++ {
			b.lines[g.IntN(len(b.lines))].text = pick(g, "LOW", "HIGH", "below range")
		}
		return b.csv(b.delim())
	})
	reg("armour", "gaps-as-dashes", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("columns")
		for i := 0; i < 12; i++ {
			b.lines[g.IntN(len(b.lines))].text = pick(g, "---", "n/a", "-")
		}
		return b.csv(b.delim())
	})

	// ---- units: where it is said, and healthy whole numbers
	for _, x := range []struct {
		n string
		f func(b *B)
	}{
		{"heading-round", func(b *B) { b.glucose("none"); b.cols[len(b.cols)-1].head = "Sensor glucose (mg/dL)" }},
		{"heading-lower-case", func(b *B) { b.glucose("none"); b.cols[len(b.cols)-1].head = "glucose_mg_dl" }},
		{"heading-per-100-ml", func(b *B) { b.glucose("none"); b.cols[len(b.cols)-1].head = "Glucose, mg/100 ml" }},
		{"heading-percent", func(b *B) { b.glucose("none"); b.cols[len(b.cols)-1].head = "Sensor glucose, mg%" }},
		{"heading-words", func(b *B) {
			b.glucose("none")
			b.cols[len(b.cols)-1].head = "Sensor glucose in milligrams per decilitre"
		}},
		{"unit-column", func(b *B) { b.glucose("col") }},
		{"preamble", func(b *B) { b.glucose("none"); b.pre = [][]string{{"All glucose values in mg/dL"}} }},
		{"footer", func(b *B) { b.glucose("none"); b.post = [][]string{{"Unit of glucose: mg/dL"}} }},
		{"two-header-lines", func(b *B) { b.two = true; b.glucose("head") }},
		{"cell", func(b *B) { b.glucose("cell") }},
		{"compat-sign", func(b *B) { b.glucose("none"); b.cols[len(b.cols)-1].head = "Sensor glucose (㎎/㎗)" }},
		{"beside-both-units", func(b *B) {
			b.glucose("none")
			b.cols[len(b.cols)-1].head = "Sensor glucose mg/dL"
			b.add("Sensor glucose mmol/L", func(l *line) string { return fmt.Sprintf("%.1f", float64(l.p.m)/18.0156) }).may("columns", "unit")
			b.tr.Why = "the same measurement in both units: either column is right, once"
		}},
	} {
		reg("mgdl", "mgdl-"+x.n, func(g *gen) File {
			b := g.b(bo{unit: "mg/dL", wo: wo{lift: g.IntN(8) - 3}}).time(iso)
			x.f(b)
			return b.csv(b.delim())
		})
	}
	reg("units", "mmol-preamble", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).time(iso).glucose("none")
		b.pre = [][]string{{"Glucose unit:", "mmol/L"}}
		return b.csv(b.delim())
	})
	reg("units", "mmol-heading-words", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).time(iso).glucose("none")
		b.cols[1].head = pick(g, "Sensor glucose in millimoles per litre", "sensor_glucose_mmol_per_l", "Sensor glucose (mmol·l⁻¹)", "SENSOR GLUCOSE MMOL/L")
		return b.csv(b.delim())
	})
	reg("units", "grams-per-litre", func(g *gen) File {
		b := g.b(bo{unit: "mg/dL"}).time(iso)
		b.wrap = func(s string) string {
			n, _ := strconv.Atoi(s)
			return fmt.Sprintf("%d.%02d", n/100, n%100)
		}
		b.glucose("none").refuse("grams per litre: neither of the two units; asked or refused, never filed as mmol/L")
		b.tr.Ask = []string{"unit", "none"}
		b.cols[1].head = "Sensor glucose (g/L)"
		return b.csv(",")
	})
	reg("units", "mmol-no-unit", func(g *gen) File {
		return g.b(bo{unit: "mmol/L"}).time(iso).glucose("none").may("unit").csv(",")
	})
	reg("units", "whole-numbers-no-unit", func(g *gen) File {
		return g.b(bo{unit: "mg/dL"}).time(iso).glucose("none").ask("no unit anywhere", "unit").csv(",")
	})
	reg("units", "mmol-decimal-lost", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).time(iso)
		b.wrap = func(s string) string { return strings.ReplaceAll(strings.ReplaceAll(s, ".", ""), ",", "") }
		return b.glucose("head").refuse("the heading says mmol/L, the decimal mark is lost: asked or refused, never filed").csv(",")
	})
	reg("units", "decimal-lost-no-unit", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).time(iso)
		b.wrap = func(s string) string { return strings.ReplaceAll(s, ".", "") }
		b.glucose("none").refuse("no unit, whole numbers about 55: low in mg/dL or a lost mark")
		b.tr.Ask = []string{"unit", "none"}
		return b.csv(",")
	})
	reg("units", "heading-contradicts-values", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).time(iso).glucose("none").ask("the heading says mg/dL, the values can only be mmol/L", "unit")
		b.cols[len(b.cols)-1].head = "Sensor glucose (mg/dL)"
		return b.csv(",")
	})
	reg("units", "unit-column-changes-midway", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).time(iso)
		cut := len(b.lines) / 2
		b.add("Sensor glucose", func(l *line) string {
			if l.i < cut {
				return tenths(l.p.d)
			}
			return strconv.Itoa(l.p.m)
		})
		b.add("Unit", func(l *line) string {
			if l.i < cut {
				return "mmol/L"
			}
			return "mg/dL"
		}).may("unit")
		rows, pr := b.table()
		for i, l := range b.lines {
			u := "mmol/L"
			if i >= cut {
				u = "mg/dL"
			}
			b.tr.Readings = append(b.tr.Readings, Reading{local(l.p.t), val(l.p, u), u, ""})
		}
		return b.finish("csv", csvText(rows, ";", "\n"), pr)
	})
	reg("units", "decimal-comma-comma-delimiter", func(g *gen) File { return g.b(bo{lang: "de"}).time(twoFor(langs["de"])).glucose("head").csv(",") })

	// ---- shapes
	reg("shape", "preamble-like-a-reading", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head")
		b.pre = [][]string{{"Table of measurements"}, {"Printed", b.w.pts[len(b.w.pts)-1].t.AddDate(0, 0, 2).Format("2006-01-02 15:04")}, {}}
		return b.csv(b.delim())
	})
	reg("shape", "two-header-lines", func(g *gen) File {
		b := g.b(bo{on: true, wo: wo{sticks: 8}})
		b.two = true
		return b.time(two("2006-01-02", "15:04")).glucose("head").stickCol2().csv(b.delim())
	})
	reg("shape", "headings-again-each-day", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head")
		b.insert = func(p, c *line) [][]string {
			if p != nil && p.p.t.YearDay() != c.p.t.YearDay() {
				return [][]string{{b.cols[0].head, b.cols[1].head}}
			}
			return nil
		}
		return b.csv(b.delim())
	})
	for _, n := range []string{"iso", "words", "dots"} {
		reg("shape", "section-a-day-"+n, func(g *gen) File {
			lay := map[string]string{"iso": "2006-01-02", "words": "Monday 2 January 2006", "dots": "02.01.2006"}[n]
			b := g.b(bo{}).time(nF(func(l *lang) []string { return []string{l.Time} }, func(t time.Time, _ *lang) []string { return []string{t.Format("15:04")} })).glucose("head").may("columns")
			b.insert = func(p, c *line) [][]string {
				if p == nil || p.p.t.YearDay() != c.p.t.YearDay() {
					return [][]string{{c.p.t.Format(lay)}}
				}
				return nil
			}
			b.nohead = n == "words"
			if b.nohead {
				b.pre = [][]string{{"Sensor glucose in " + b.unit}}
			}
			return b.csv(b.delim())
		})
	}
	reg("shape", "date-on-first-row-of-day", func(g *gen) File {
		b := g.b(bo{})
		last := ""
		b.time(nF(func(l *lang) []string { return []string{l.Date, l.Time} }, func(t time.Time, _ *lang) []string { return []string{t.Format("02/01/2006"), t.Format("15:04")} }))
		b.cols[0].f = func(l *line) string {
			d := l.p.t.Format("02/01/2006")
			if d == last {
				return ""
			}
			last = d
			return d
		}
		return b.glucose("head").may("columns").csv(b.delim())
	})
	// a column a day, a row a clock time
	for _, x := range []struct{ n, lay string }{{"iso", "2006-01-02"}, {"dmy", "02/01/2006"}, {"words", "2 January 2006"}, {"weekday", "Mon 02.01.2006"}} {
		reg("wide", "day-columns-"+x.n, func(g *gen) File {
			b := g.b(bo{wo: wo{grid: true, step: 15}})
			return b.wide(x.lay, false, g.IntN(2) == 1)
		})
		reg("wide", "day-rows-"+x.n, func(g *gen) File {
			b := g.b(bo{wo: wo{grid: true, step: 30}})
			return b.wide(x.lay, true, g.IntN(2) == 1)
		})
	}
	reg("wide", "day-columns-short-dates-year-above", func(g *gen) File {
		b := g.b(bo{wo: wo{grid: true, step: 15}})
		b.pre = [][]string{{"Year " + b.w.start.Format("2006") + ", glucose in " + b.unit}}
		return b.wide("2 Jan", false, false)
	})
	reg("wide", "hour-rows-quarter-columns", func(g *gen) File {
		b := g.b(bo{wo: wo{grid: true, step: 15}}).may("columns", "none")
		var pr probe
		rows := [][]string{{"Glucose " + b.unit, "Hour", ":00", ":15", ":30", ":45"}}
		days, m := byDay(b.w)
		for _, d := range days {
			for h := 0; h < 24; h++ {
				r := []string{d.Format("2006-01-02"), zero2(h), "", "", "", ""}
				any := false
				for _, p := range m[d] {
					if p.t.Hour() == h {
						r[2+p.t.Minute()/15] = b.v(p)
						b.rd(&pr, p, b.v(p))
						any = true
					}
				}
				if any {
					rows = append(rows, r)
				}
			}
		}
		return b.finish("csv", csvText(rows, b.delim(), "\n"), pr)
	})
	reg("wide", "times-in-one-row-values-in-next", func(g *gen) File {
		b := g.b(bo{}).may("columns", "none")
		var pr probe
		r1, r2 := []string{"Date and time"}, []string{"Sensor glucose (" + b.unit + ")"}
		for _, p := range b.w.pts {
			r1, r2 = append(r1, p.t.Format("2006-01-02 15:04")), append(r2, b.v(p))
			b.rd(&pr, p, b.v(p))
		}
		pr.toks = append(append([]string{}, r1...), r2...)
		return b.finish("csv", csvText([][]string{r1, r2}, ",", "\n"), pr)
	})
	reg("wide", "weeks-side-by-side", func(g *gen) File {
		b := g.b(bo{wo: wo{days: 14}}).may("columns", "none")
		var pr probe
		h := (len(b.w.pts) + 1) / 2
		u := "Sensor glucose (" + b.unit + ")"
		rows := [][]string{{"Week 1", "", "", "Week 2", ""}, {"Date and time", u, "", "Date and time", u}}
		for i := 0; i < h; i++ {
			p := b.w.pts[i]
			r := []string{p.t.Format("2006-01-02 15:04"), b.v(p), "", "", ""}
			b.rd(&pr, p, b.v(p))
			if h+i < len(b.w.pts) {
				q := b.w.pts[h+i]
				r[3], r[4] = q.t.Format("2006-01-02 15:04"), b.v(q)
				b.rd(&pr, q, b.v(q))
			}
			rows = append(rows, r)
		}
		return b.finish("csv", csvText(rows, b.delim(), "\n"), pr)
	})
	reg("wide", "packed-pairs-in-a-cell", func(g *gen) File {
		b := g.b(bo{}).may("none", "columns")
		var pr probe
		var w bytes.Buffer
		fmt.Fprintf(&w, "Glucose in %s\n", b.unit)
		days, m := byDay(b.w)
		for _, d := range days {
			var s []string
			for _, p := range m[d] {
				s = append(s, p.t.Format("15:04")+"="+b.v(p))
				b.rd(&pr, p, b.v(p))
			}
			fmt.Fprintf(&w, "%s: %s\n", d.Format("2006-01-02"), strings.Join(s, " "))
		}
		return b.finish("txt", w.Bytes(), pr)
	})
	// phone notes: lines of text, each with a clock and a value
	for _, x := range []struct{ n, f string }{{"dot-clock", "15.04"}, {"colon", "15:04"}, {"half", "3:04 pm"}} {
		reg("phone", "phone-notes-"+x.n, func(g *gen) File {
			b := g.b(bo{wo: wo{evs: 8, step: 60}}).may("none", "columns", "kind")
			var pr probe
			var w bytes.Buffer
			fmt.Fprintf(&w, "my sensor, %s\n", b.unit)
			days, m := byDay(b.w)
			for _, d := range days {
				fmt.Fprintf(&w, "\n%s\n", d.Format("Monday 2 January 2006"))
				for _, p := range m[d] {
					fmt.Fprintf(&w, "%s  %s\n", p.t.Format(x.f), b.v(p))
					b.rd(&pr, p, b.v(p))
				}
			}
			return b.finish("txt", w.Bytes(), pr)
		})
	}
	reg("phone", "phone-notes-date-each-line", func(g *gen) File {
		b := g.b(bo{wo: wo{step: 30}}).may("none", "columns")
		var pr probe
		var w bytes.Buffer
		for _, p := range b.w.pts {
			fmt.Fprintf(&w, "%s - %s %s\n", p.t.Format("2 Jan 2006 15:04"), b.v(p), b.unit)
			b.rd(&pr, p, b.v(p))
		}
		return b.finish("txt", w.Bytes(), pr)
	})
	reg("phone", "key-value-records", func(g *gen) File {
		b := g.b(bo{}).may("none", "columns")
		var pr probe
		var w bytes.Buffer
		for _, p := range b.w.pts {
			fmt.Fprintf(&w, "Date: %s\nTime: %s\nGlucose: %s\nUnit: %s\n\n", p.t.Format("2006-01-02"), p.t.Format("15:04"), b.v(p), b.unit)
			b.rd(&pr, p, b.v(p))
		}
		return b.finish("txt", w.Bytes(), pr)
	})
	// fixed width, prints of statistics packages, dumps
	for i, x := range []struct {
		n     string
		gap   int
		right bool
	}{{"left", 2, false}, {"right", 3, true}, {"one-space", 1, true}} {
		reg("fixed", "fixed-width-"+x.n, func(g *gen) File {
			b := g.b(bo{}).time(two("2006-01-02", "15:04")).glucose("none")
			b.cols[2].head = "glucose_" + map[string]string{"mmol/L": "mmol_l", "mg/dL": "mg_dl"}[b.unit]
			if i == 2 {
				b.cols[0].head, b.cols[1].head = "date", "time"
			}
			rows, pr := b.table()
			return b.finish("txt", fixedText(rows, x.gap, x.right), pr)
		})
	}
	reg("fixed", "statistics-print-row-numbers", func(g *gen) File {
		b := g.b(bo{})
		b.add("", func(l *line) string { return strconv.Itoa(l.i + 1) }).time(two("2006-01-02", "15:04:05")).glucose("none")
		b.cols[1].head, b.cols[2].head, b.cols[3].head = "date", "time", "glucose_"+map[string]string{"mmol/L": "mmol_l", "mg/dL": "mg_dl"}[b.unit]
		rows, pr := b.table()
		return b.finish("txt", fixedText(rows, 1, true), pr)
	})
	reg("fixed", "fixed-no-gap-with-key", func(g *gen) File {
		b := g.b(bo{}).may("none", "columns", "unit")
		var pr probe
		var w bytes.Buffer
		w.WriteString("Columns 1-8 date (yyyymmdd), 9-12 time (hhmm), 13-17 sensor glucose in " + b.unit + "\n")
		for _, p := range b.w.pts {
			fmt.Fprintf(&w, "%s%5s\n", p.t.Format("200601021504"), b.v(p))
			b.rd(&pr, p, b.v(p))
		}
		return b.finish("txt", w.Bytes(), pr)
	})
	reg("dump", "insert-statements", func(g *gen) File {
		b := g.b(bo{}).may("none", "columns")
		var pr probe
		var w bytes.Buffer
		w.WriteString("CREATE TABLE reading (taken timestamp, glucose numeric, unit text);\n")
		for _, p := range b.w.pts {
			fmt.Fprintf(&w, "INSERT INTO reading VALUES ('%s', %s, '%s');\n", p.t.Format("2006-01-02 15:04:05"), b.v(p), b.unit)
			b.rd(&pr, p, b.v(p))
		}
		return b.finish(pick(g, "txt", "sql"), w.Bytes(), pr)
	})
	reg("dump", "null-marks", func(g *gen) File {
		b := g.b(bo{}).time(one("2006-01-02 15:04:05")).glucose("head")
		b.con("remark", `\N`).con("checked_by", "NULL").may("columns")
		return b.csv("\t")
	})
	reg("dump", "quoted-everything", func(g *gen) File {
		b := g.b(bo{}).time(one("2006-01-02 15:04:05")).glucose("head")
		rows, pr := b.table()
		var w bytes.Buffer
		for _, r := range rows {
			w.WriteString(`"` + strings.Join(r, `";"`) + "\"\r\n")
		}
		return b.finish("csv", w.Bytes(), pr)
	})
	reg("dump", "bars-and-dashes", func(g *gen) File {
		b := g.b(bo{}).time(one("2006-01-02 15:04:05")).glucose("head")
		rows, pr := b.table()
		var w bytes.Buffer
		for i, r := range rows {
			w.WriteString("| " + strings.Join(r, " | ") + " |\n")
			if i == 0 {
				w.WriteString("|" + strings.Repeat("---|", len(r)) + "\n")
			}
		}
		return b.finish(pick(g, "txt", "md"), w.Bytes(), pr)
	})
	reg("dump", "long-form-variable-value", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).may("kind", "columns")
		var pr probe
		rows := [][]string{{"taken", "variable", "value", "unit"}}
		for _, p := range b.w.pts {
			t := p.t.Format("2006-01-02 15:04")
			rows = append(rows, []string{t, "sensor glucose", b.v(p), b.unit}, []string{t, "pulse", strconv.Itoa(55 + g.IntN(35)), "beats/min"})
			b.rd(&pr, p, b.v(p))
		}
		return b.finish("csv", csvText(rows, ",", "\n"), pr)
	})
	// markup and structured text
	reg("markup", "html-table", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head")
		rows, pr := b.table()
		return b.finish(pick(g, "html", "htm"), htmlText(rows, "en", true), pr)
	})
	for _, c := range []string{"de", "ru", "ja", "ar"} {
		regN(4, "markup", "html-under-workbook-name-"+c, func(g *gen) File {
			b := g.b(bo{lang: c, on: true, wo: wo{sticks: g.IntN(2) * 6}}).time(twoFor(langs[c])).glucose("head")
			if len(b.w.sticks) > 0 {
				b.stickCol().may("columns")
			}
			rows, pr := b.table()
			return b.finish("xls", htmlText(rows, c, g.IntN(2) == 0), pr)
		})
	}
	reg("markup", "html-two-tables", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("sheet", "columns")
		rows, pr := b.table()
		h := string(htmlText(rows, "en", true))
		st := "<table><tr><th>Mean</th><th>Lowest</th><th>Highest</th></tr><tr><td>5.8</td><td>3.9</td><td>9.9</td></tr></table>\n"
		return b.finish("html", []byte(strings.Replace(h, "</body>", st+"</body>", 1)), pr)
	})
	keys := [][2]string{{"time", "value"}, {"taken_at", "glucose"}, {"t", "v"}, {"datetime", "sensor_glucose"}}
	for i, k := range keys {
		how := func(b *B) ([]string, probe) {
			var pr probe
			var s []string
			for _, p := range b.w.pts {
				o := []kv{{k[0], p.t.Format("2006-01-02T15:04:05")}, {k[1], raw(b.v(p))}}
				if i < 2 {
					o = append(o, kv{"unit", b.unit})
				}
				s = append(s, obj(o))
				b.rd(&pr, p, b.v(p))
			}
			return s, pr
		}
		reg("json", "json-array-"+k[1], func(g *gen) File {
			b := g.b(bo{})
			s, pr := how(b)
			sub := "glucose"
			if k[1] == "v" || k[1] == "value" {
				sub = "sensor glucose"
			}
			t := "[" + strings.Join(s, ",\n") + "]\n"
			if i >= 2 {
				t = obj([]kv{{"measure", sub}, {"unit", b.unit}, {"rows", raw(t)}}) + "\n"
			}
			if i == 0 {
				b.may("kind", "columns")
			}
			return b.finish("json", []byte(t), pr)
		})
		if i < 2 {
			reg("json", "ndjson-"+k[1], func(g *gen) File {
				b := g.b(bo{})
				s, pr := how(b)
				if i == 0 {
					b.may("kind", "columns")
				}
				return b.finish(pick(g, "ndjson", "jsonl", "json"), []byte(strings.Join(s, "\n")+"\n"), pr)
			})
		}
	}
	reg("json", "json-columns", func(g *gen) File {
		b := g.b(bo{}).may("columns", "none")
		var pr probe
		var ts, vs []string
		for _, p := range b.w.pts {
			ts, vs = append(ts, js(p.t.Format("2006-01-02 15:04"))), append(vs, b.v(p))
			b.rd(&pr, p, b.v(p))
		}
		t := obj([]kv{{"unit", b.unit}, {"time", raw("[" + strings.Join(ts, ",") + "]")}, {"sensor_glucose", raw("[" + strings.Join(vs, ",") + "]")}})
		return b.finish("json", []byte(t), pr)
	})
	reg("json", "json-array-of-arrays", func(g *gen) File {
		b := g.b(bo{})
		var pr probe
		s := []string{`["Date and time","Sensor glucose (` + b.unit + `)"]`}
		for _, p := range b.w.pts {
			s = append(s, "["+js(p.t.Format("2006-01-02 15:04"))+","+b.v(p)+"]")
			b.rd(&pr, p, b.v(p))
		}
		return b.finish("json", []byte("["+strings.Join(s, ",\n")+"]"), pr)
	})
	reg("json", "json-days-nested", func(g *gen) File {
		b := g.b(bo{}).may("none", "columns")
		var pr probe
		var ds []string
		days, m := byDay(b.w)
		for _, d := range days {
			var s []string
			for _, p := range m[d] {
				s = append(s, obj([]kv{{"clock", p.t.Format("15:04")}, {"glucose", raw(b.v(p))}}))
				b.rd(&pr, p, b.v(p))
			}
			ds = append(ds, obj([]kv{{"date", d.Format("2006-01-02")}, {"readings", raw("[" + strings.Join(s, ",") + "]")}}))
		}
		return b.finish("json", []byte(obj([]kv{{"unit", b.unit}, {"days", raw("[" + strings.Join(ds, ",\n") + "]")}})), pr)
	})
	for _, n := range []string{"elements", "attributes"} {
		reg("xml", "xml-"+n, func(g *gen) File {
			b := g.b(bo{})
			var pr probe
			var w bytes.Buffer
			w.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<measurements>\n")
			for _, p := range b.w.pts {
				t := p.t.Format("2006-01-02T15:04:05")
				if n == "elements" {
					fmt.Fprintf(&w, "<measurement><time>%s</time><glucose unit=\"%s\">%s</glucose></measurement>\n", t, b.unit, b.v(p))
				} else {
					fmt.Fprintf(&w, "<measurement time=\"%s\" glucose=\"%s\" unit=\"%s\"/>\n", t, b.v(p), b.unit)
				}
				b.rd(&pr, p, b.v(p))
			}
			w.WriteString("</measurements>\n")
			return b.finish("xml", w.Bytes(), pr)
		})
	}
	// containers and encodings
	packs := []struct {
		n string
		f func(g *gen, b *B, data []byte) (string, []byte)
	}{
		{"zip", func(g *gen, b *B, d []byte) (string, []byte) { return "zip", zipped(member{"table.csv", d}) }},
		{"zip-readme", func(g *gen, b *B, d []byte) (string, []byte) {
			return "zip", zipped(member{pick(g, "readme.txt", "README", "liesmich.txt"), []byte("This folder holds one table of measurements.\nPlease ask the office if anything is unclear.\n")}, member{"data/table.csv", d})
		}},
		{"gzip", func(g *gen, b *B, d []byte) (string, []byte) { return "csv.gz", gzipped(d) }},
		{"utf16le-bom", func(g *gen, b *B, d []byte) (string, []byte) { return "csv", utf16Text(d, false, true) }},
		{"utf16be-bom", func(g *gen, b *B, d []byte) (string, []byte) { return "txt", utf16Text(d, true, true) }},
		{"utf16le-bare", func(g *gen, b *B, d []byte) (string, []byte) { return "csv", utf16Text(d, false, false) }},
		{"bom", func(g *gen, b *B, d []byte) (string, []byte) { return "csv", append([]byte("\xef\xbb\xbf"), d...) }},
		{"cr-only", func(g *gen, b *B, d []byte) (string, []byte) {
			return "csv", bytes.ReplaceAll(bytes.ReplaceAll(d, []byte("\r\n"), []byte("\n")), []byte("\n"), []byte("\r"))
		}},
		{"latin1", func(g *gen, b *B, d []byte) (string, []byte) {
			if l, ok := latin1(d); ok {
				return "csv", l
			}
			return "csv", d
		}},
	}
	for _, p := range packs {
		regN(5, "container", "container-"+p.n, func(g *gen) File {
			c := pick(g, "en", "de", "fr", "es", "sv")
			b := g.b(bo{lang: c}).time(twoFor(langs[c])).glucose("head")
			f := b.csv(b.delim())
			f.probe.decoded = f.Bytes
			f.Name, f.Bytes = p.f(g, b, f.Bytes)
			return f
		})
	}
	// workbooks
	books := []struct {
		n string
		f func(g *gen, b *B) File
	}{
		{"text-cells", func(g *gen, b *B) File {
			rows, pr := b.time(iso).glucose("head").table()
			return b.finish("xlsx", workbook(false, sheet{name: "Table", rows: rows, text: true}), pr)
		}},
		{"numbers-and-serial-dates", func(g *gen, b *B) File {
			rows, pr := b.time(one("@date:2006-01-02T15:04:05")).glucose("head").table()
			return b.finish("xlsx", workbook(false, sheet{name: "Table", rows: rows}), pr)
		}},
		{"base-1904", func(g *gen, b *B) File {
			rows, pr := b.time(one("@date:2006-01-02T15:04:05")).glucose("head").table()
			return b.finish("xlsx", workbook(true, sheet{name: "Table", rows: rows}), pr)
		}},
		{"with-title-and-statistics-sheet", func(g *gen, b *B) File {
			b.pre = [][]string{{"Two weeks of measurements"}, {}}
			rows, pr := b.time(iso).glucose("head").may("sheet").table()
			return b.finish("xlsx", workbook(false, sheet{name: "Measurements", rows: rows}, sheet{name: "Summary", rows: [][]string{{"Mean (" + b.unit + ")", "5.9"}, {"Number of values", "1300"}}}), pr)
		}},
		{"hourly-means-sheet-beside", func(g *gen, b *B) File {
			rows, pr := b.time(iso).glucose("head").may("sheet").table()
			st := [][]string{{"Hour", "Mean of the hour (" + b.unit + ")"}}
			for _, h := range hourly(b.w, b.unit) {
				st = append(st, []string{h.t.Format("2006-01-02 15:04"), h.s})
			}
			a, c := sheet{name: "Raw values", rows: rows}, sheet{name: "Hourly means", rows: st}
			if g.IntN(2) == 0 {
				a, c = c, a
			}
			return b.finish("xlsx", workbook(false, a, c), pr)
		}},
		{"sheet-a-day", func(g *gen, b *B) File {
			b.may("sheet")
			var pr probe
			var ss []sheet
			days, m := byDay(b.w)
			for _, d := range days {
				rows := [][]string{{"Date and time", "Sensor glucose (" + b.unit + ")"}}
				for _, p := range m[d] {
					rows = append(rows, []string{p.t.Format("2006-01-02 15:04"), b.v(p)})
					b.rd(&pr, p, b.v(p))
				}
				ss = append(ss, sheet{name: d.Format("2 Jan"), rows: rows})
			}
			return b.finish("xlsx", workbook(false, ss...), pr)
		}},
		{"fingersticks-second-sheet", func(g *gen, b *B) File {
			b.may("sheet", "kind")
			rows, pr := b.time(iso).glucose("head").table()
			b.w.addSticks(g, 5+g.IntN(10))
			fs := [][]string{{"Date / Time", "Fingerstick glucose (" + b.unit + ")"}}
			for _, s := range b.w.sticks {
				fs = append(fs, []string{s.t.Format("2006-01-02 15:04"), b.v(s)})
				b.tr.Fingersticks = append(b.tr.Fingersticks, b.reading(s, ""))
			}
			return b.finish("xlsx", workbook(false, sheet{name: "Sensor", rows: rows}, sheet{name: "Fingerstick", rows: fs}), pr)
		}},
		{"capillary-column", func(g *gen, b *B) File {
			b.w.addSticks(g, 20)
			for i := range b.w.sticks {
				b.w.sticks[i].t = b.w.sticks[i].t.Truncate(time.Minute)
			}
			b.fill(b.w, true, false)
			rows, pr := b.time(one("@date:2006-01-02T15:04:05")).glucose("head").stickCol().noteCol("Dietary intake").may("columns").table()
			return b.finish("xlsx", workbook(false, sheet{name: "Table", rows: rows}), pr)
		}},
	}
	for _, x := range books {
		regN(5, "workbook", "workbook-"+x.n, func(g *gen) File { return x.f(g, g.b(bo{wo: wo{days: 8, evs: 6}})) })
	}
}

func (w *wear) addSticks(g *gen, n int) {
	for i := 0; i < n; i++ {
		p := w.pts[(i+1)*len(w.pts)/(n+1)]
		s := pt{p.t.Add(time.Duration(2+g.IntN(5)) * time.Minute), max(30, p.d+1+g.IntN(6)), 0}
		s.m = int(float64(s.d)*1.80156 + 0.5)
		w.sticks = append(w.sticks, s)
	}
}

func (b *B) stickCol2() *B {
	b.stickCol()
	b.cols[len(b.cols)-1].unit = b.unit
	return b
}

type stat struct {
	t time.Time
	s string
}

// hourly gives the means of the clock hours.
func hourly(w *wear, unit string) []stat {
	var out []stat
	for i := 0; i < len(w.pts); {
		h := w.pts[i].t.Truncate(time.Hour)
		n, d, m := 0, 0, 0
		for ; i < len(w.pts) && w.pts[i].t.Truncate(time.Hour).Equal(h); i++ {
			n, d, m = n+1, d+w.pts[i].d, m+w.pts[i].m
		}
		if unit == "mg/dL" {
			out = append(out, stat{h, strconv.Itoa(m / n)})
		} else {
			out = append(out, stat{h, tenths(d / n)})
		}
	}
	return out
}

// wide writes a grid of days and clock times.
func (b *B) wide(lay string, dayRows, clockDot bool) File {
	b.may("columns", "date_order")
	ck := "15:04"
	if clockDot {
		ck = "15.04"
	}
	days, _ := byDay(b.w)
	at := map[time.Time]pt{}
	for _, p := range b.w.pts {
		at[p.t] = p
	}
	n := int(day / b.w.step)
	var pr probe
	corner := "Sensor glucose (" + b.unit + ")"
	var rows [][]string
	head := []string{corner}
	if dayRows {
		for k := 0; k < n; k++ {
			head = append(head, days[0].Add(time.Duration(k)*b.w.step).Format(ck))
		}
		rows = append(rows, head)
		for _, d := range days {
			r := []string{d.Format(lay)}
			for k := 0; k < n; k++ {
				r = append(r, b.cell(&pr, at, d.Add(time.Duration(k)*b.w.step)))
			}
			rows = append(rows, r)
		}
	} else {
		for _, d := range days {
			head = append(head, d.Format(lay))
		}
		rows = append(rows, head)
		for k := 0; k < n; k++ {
			o := time.Duration(k) * b.w.step
			r := []string{days[0].Add(o).Format(ck)}
			for _, d := range days {
				r = append(r, b.cell(&pr, at, d.Add(o)))
			}
			rows = append(rows, r)
		}
	}
	rows = append(append([][]string{}, b.pre...), rows...)
	return b.finish("csv", csvText(rows, b.delim(), "\n"), pr)
}

func (b *B) cell(pr *probe, at map[time.Time]pt, t time.Time) string {
	p, ok := at[t]
	if !ok {
		return ""
	}
	b.rd(pr, p, b.v(p))
	return b.v(p)
}
