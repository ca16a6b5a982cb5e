package layouts

import (
	"bytes"
	"fmt"
	"strconv"
)

// Tables as instruments, laboratories and wards write them.
func init() {
	reg("instrument", "hash-comments-above", func(g *gen) File {
		b := g.b(bo{}).time(one("2006-01-02 15:04:05")).glucose("none")
		rows, pr := b.table()
		head := "# log of one sensor\n# fields: local time, interstitial glucose\n# unit: " + b.unit + "\n"
		b.tr.MayAsk = append(b.tr.MayAsk, "columns")
		return b.finish(pick(g, "log", "txt", "csv"), append([]byte(head), csvText(rows[1:], ",", "\n")...), pr2(pr, 2))
	})
	reg("instrument", "record-letters-with-key", func(g *gen) File {
		b := g.b(bo{merge: true, wo: wo{sticks: 5, evs: 12}}).may("kind", "columns", "none")
		var pr probe
		var w bytes.Buffer
		fmt.Fprintf(&w, "H;R = sensor glucose, F = fingerstick glucose, N = note; unit %s\n", b.unit)
		for _, l := range b.lines {
			t := l.p.t.Format("2006-01-02;15:04")
			switch l.k {
			case 's':
				fmt.Fprintf(&w, "R;%s;%s\n", t, b.v(l.p))
				b.rd(&pr, l.p, b.v(l.p))
			case 'f':
				fmt.Fprintf(&w, "F;%s;%s\n", t, b.v(l.p))
				b.tr.Fingersticks = append(b.tr.Fingersticks, b.reading(l.p, ""))
			default:
				fmt.Fprintf(&w, "N;%s;%s\n", t, l.e.text)
				b.tr.Events = append(b.tr.Events, Event{local(l.e.t), "note", l.e.text})
			}
		}
		fmt.Fprintf(&w, "T;%d\n", len(b.lines))
		return b.finish("txt", w.Bytes(), pr)
	})
	reg("instrument", "record-letters-no-key", func(g *gen) File {
		b := g.b(bo{merge: true, wo: wo{sticks: 8}}).ask("two letters tell rows apart, nothing says which is which", "kind", "columns", "unit")
		b.tr.Why += "; Fingersticks holds the rarer kind"
		b.kind("", "q", "z", "").time(iso).both("")
		b.nohead = true
		return b.csv(";")
	})
	reg("instrument", "check-number-and-voltage", func(g *gen) File {
		b := g.b(bo{}).time(one("2006-01-02 15:04:05")).glucose("head")
		b.add("Battery (V)", func(l *line) string { return fmt.Sprintf("%.2f", 3.1-float64(l.i)*0.0002) })
		b.add("Checksum", func(l *line) string { return fmt.Sprintf("%04X", (l.i*40503+l.p.d)&0xffff) })
		b.add("Current (nA)", func(l *line) string { return fmt.Sprintf("%.1f", float64(l.p.d)*0.31) })
		return b.shuffleCols().may("columns").csv(b.delim())
	})
	reg("instrument", "raw-and-corrected", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("none")
		b.cols[1].head = "Glucose corrected (" + b.unit + ")"
		b.add("Glucose raw ("+b.unit+")", func(l *line) string { return b.v(pt{d: l.p.d + 3 + l.i%3, m: l.p.m + 6 + l.i%5}) })
		b.ask("two series of sensor values; which one counts is the reader's to say", "columns", "kind")
		return b.csv(b.delim())
	})
	reg("instrument", "hourly-file-counter-restarts", func(g *gen) File {
		b := g.b(bo{})
		b.add("n", func(l *line) string { return strconv.Itoa(l.i%48 + 1) }).time(iso).glucose("head").may("columns")
		return b.csv(b.delim())
	})
	reg("laboratory", "result-reference-flag", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"})
		b.con("Test", "Glucose, interstitial fluid").time(one("02/01/2006 15:04")).glucose("none")
		b.cols[2].head = "Result"
		b.con("Unit", "mmol/L").con("Reference", "3.9 - 7.8")
		b.add("Flag", func(l *line) string {
			if l.p.d > 78 {
				return "H"
			}
			if l.p.d < 39 {
				return "L"
			}
			return ""
		}).may("columns", "kind")
		return b.csv(b.delim())
	})
	reg("laboratory", "order-and-specimen-numbers", func(g *gen) File {
		b := g.b(bo{})
		n := 500000 + g.IntN(400000)
		b.con("Order", strconv.Itoa(n)).add("Specimen", func(l *line) string { return fmt.Sprintf("%d/%d", n, l.i+1) })
		b.time(two("2006-01-02", "15:04")).glucose("col").may("columns", "person")
		return b.csv(b.delim())
	})
	reg("laboratory", "hba1c-line-above", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("columns")
		b.pre = [][]string{{"HbA1c", "5.6", "%"}, {"Taken", b.w.start.AddDate(0, 0, -20).Format("2006-01-02")}, {}}
		return b.csv(b.delim())
	})
	reg("laboratory", "fasting-panel-below", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("columns", "kind")
		d := b.w.start.AddDate(0, 0, -3).Format("2006-01-02 08:10")
		b.post = [][]string{{}, {"Blood taken", d}, {"Sodium", "139", "mmol/L"}, {"Potassium", "4.2", "mmol/L"}, {"Urea", "5.1", "mmol/L"}, {"Triglycerides", "1.2", "mmol/L"}}
		return b.csv(b.delim())
	})
	reg("ward", "chart-of-observations", func(g *gen) File {
		b := g.b(bo{on: true, wo: wo{sticks: 12}}).time(two("02/01/2006", "1504"))
		every := func(n int, f func() string) func(l *line) string {
			return func(l *line) string {
				if l.i%n == 0 {
					return f()
				}
				return ""
			}
		}
		b.add("Temp °C", every(16, func() string { return fmt.Sprintf("%.1f", 36.2+g.Float64()) }))
		b.add("Pulse", every(16, func() string { return strconv.Itoa(58 + g.IntN(40)) }))
		b.add("Blood pressure", every(32, func() string { return fmt.Sprintf("%d/%d", 104+g.IntN(40), 62+g.IntN(24)) }))
		b.glucose("head").stickCol()
		b.add("Initials", every(16, func() string { return pick(g, "qv", "zt", "wk") })).may("columns")
		return b.csv(b.delim())
	})
	reg("ward", "several-beds-one-wears", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").con("Bed", "12").con("Room", "3").may("person", "columns")
		return b.csv(b.delim())
	})
	reg("ward", "shift-lines-between", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("kind", "columns")
		b.insert = func(p, c *line) [][]string {
			if p != nil && p.p.t.Hour()/8 != c.p.t.Hour()/8 {
				return [][]string{{pick(g, "night shift", "early shift", "late shift") + " takes over"}}
			}
			return nil
		}
		return b.csv(b.delim())
	})
	reg("ward", "signed-each-day", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("columns", "kind")
		b.insert = func(p, c *line) [][]string {
			if p != nil && p.p.t.YearDay() != c.p.t.YearDay() {
				return [][]string{{"Signed", "ward sister"}, {}}
			}
			return nil
		}
		return b.csv(b.delim())
	})
}

// pr2 leaves out the first n cells, which were not written.
func pr2(p probe, n int) probe {
	p.toks = p.toks[n:]
	return p
}
