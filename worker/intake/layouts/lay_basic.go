package layouts

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

type def struct {
	name, class string
	n           int
	f           func(g *gen) File
}

var defs []def

func reg(class, name string, f func(g *gen) File) { defs = append(defs, def{name, class, 6, f}) }
func regN(n int, class, name string, f func(g *gen) File) {
	defs = append(defs, def{name, class, n, f})
}

var iso = one("2006-01-02 15:04")

func twoFor(l *lang) style { return two(l.DMY, "15:04") }

func zero2(n int) string { return fmt.Sprintf("%02d", n) }

func init() {
	// ---- column orders
	reg("orders", "time-value", func(g *gen) File { b := g.b(bo{}); return b.time(iso).glucose("head").csv(b.delim()) })
	reg("orders", "value-time", func(g *gen) File {
		b := g.b(bo{}).glucose("head").time(iso)
		return b.csv(b.delim())
	})
	reg("orders", "date-clock-value-unit", func(g *gen) File {
		b := g.b(bo{}).time(two("2006-01-02", "15:04:05")).glucose("col")
		return b.csv(b.delim())
	})
	reg("orders", "clock-before-date", func(g *gen) File {
		b := g.b(bo{}).time(two("2006-01-02", "15:04")).glucose("head").order(1, 0, 2)
		return b.csv(b.delim())
	})
	reg("orders", "value-unit-clock-date", func(g *gen) File {
		b := g.b(bo{}).glucose("col").time(two("02.01.2006", "15:04")).order(0, 1, 3, 2)
		return b.csv(";")
	})
	reg("orders", "row-number-first", func(g *gen) File {
		b := g.b(bo{}).add("No.", func(l *line) string { return strconv.Itoa(l.i + 1) }).time(iso).glucose("head")
		return b.csv(b.delim())
	})
	reg("orders", "record-id-between", func(g *gen) File {
		b := g.b(bo{}).time(iso)
		b.add("Record", func(l *line) string { return fmt.Sprintf("r%06x", 7919*(l.i+3)%0xffffff) }).glucose("head").may("columns")
		return b.csv(b.delim())
	})
	reg("orders", "date-apart-from-clock", func(g *gen) File {
		b := g.b(bo{}).time(two("2006-01-02", "15:04")).glucose("head").con("Place", "home").order(0, 2, 3, 1).may("columns")
		return b.csv(b.delim())
	})
	reg("orders", "one-person-column", func(g *gen) File {
		b := g.b(bo{})
		b.con("Record number", b.w.who.id).time(iso).glucose("head").may("person")
		return b.csv(b.delim())
	})
	reg("orders", "id-name-birth-columns", func(g *gen) File {
		b := g.b(bo{})
		b.con("Record number", b.w.who.id).con("Name", b.w.who.name).con("Born", b.w.who.born).time(iso).glucose("head").may("person")
		return b.csv(b.delim())
	})
	reg("orders", "newest-first", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head")
		for i, j := 0, len(b.lines)-1; i < j; i, j = i+1, j-1 {
			b.lines[i], b.lines[j] = b.lines[j], b.lines[i]
		}
		return b.csv(b.delim())
	})
	reg("orders", "rows-in-no-order", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head")
		g.Shuffle(len(b.lines), func(i, j int) { b.lines[i], b.lines[j] = b.lines[j], b.lines[i] })
		return b.csv(b.delim())
	})
	reg("orders", "empty-columns-between", func(g *gen) File {
		b := g.b(bo{}).con("", "").time(iso).con("", "").glucose("head").con("", "")
		return b.csv(b.delim())
	})
	reg("orders", "start-and-end-of-interval", func(g *gen) File {
		b := g.b(bo{wo: wo{step: 15}})
		b.time(style{func(*lang) []string { return []string{"Measured at"} }, iso.cells, iso.golay}).glucose("head")
		b.add("Next measurement at", func(l *line) string { return l.p.t.Add(15 * time.Minute).Format("2006-01-02 15:04") }).may("columns")
		return b.csv(b.delim())
	})
	reg("orders", "measured-and-received-times", func(g *gen) File {
		b := g.b(bo{})
		b.add("Received by office", func(l *line) string { return b.w.pts[len(b.w.pts)-1].t.AddDate(0, 0, 3).Format("2006-01-02 15:04") })
		b.time(style{func(*lang) []string { return []string{"Time of measurement"} }, iso.cells, iso.golay}).glucose("head")
		return b.csv(b.delim())
	})

	// ---- no headings
	headless := "no heading: only the shape of the values speaks"
	reg("headless", "headless-mmol-iso", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).time(iso).glucose("none").may("unit", "columns", "kind")
		b.nohead, b.tr.Why = true, headless
		return b.csv(b.delim())
	})
	reg("headless", "headless-mmol-split", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L", lang: "de"}).time(two("02.01.2006", "15:04")).glucose("none").may("unit", "columns", "kind")
		b.nohead, b.tr.Why = true, headless
		return b.csv(";")
	})
	reg("headless", "headless-whole-numbers", func(g *gen) File {
		b := g.b(bo{unit: "mg/dL"}).time(iso).glucose("none").ask("whole numbers, no unit anywhere", "unit", "columns", "kind")
		b.nohead = true
		return b.csv(b.delim())
	})
	reg("headless", "headless-unit-column", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("col").may("columns", "kind")
		b.nohead = true
		return b.csv(b.delim())
	})
	reg("headless", "headless-value-first", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).glucose("none").time(one("02/01/2006 15:04")).may("unit", "columns", "kind")
		b.nohead = true
		return b.csv(b.delim())
	})
	reg("headless", "headless-words-glucose-each-row", func(g *gen) File {
		b := g.b(bo{}).time(iso).con("", "sensor glucose").glucose("col").may("columns")
		b.nohead = true
		return b.csv(b.delim())
	})
	for _, x := range []struct {
		n   string
		f   func(g *gen, l *line) string
		why string
	}{
		{"pulse", func(g *gen, l *line) string { return strconv.Itoa(52 + l.p.d/3 + g.IntN(20)) }, "looks like a pulse; nothing says glucose"},
		{"temperature-c", func(g *gen, l *line) string { return fmt.Sprintf("%.1f", 36.1+g.Float64()*0.9) }, "body temperatures"},
		{"temperature-f", func(g *gen, l *line) string { return fmt.Sprintf("%.1f", 97.2+g.Float64()*1.8) }, "body temperatures"},
		{"temperature-room", func(g *gen, l *line) string { return fmt.Sprintf("%.1f", 18+g.Float64()*6) }, "room temperatures"},
		{"steps", func(g *gen, l *line) string { return strconv.Itoa(g.IntN(900)) }, "counts of steps"},
		{"oxygen", func(g *gen, l *line) string { return strconv.Itoa(94 + g.IntN(6)) }, "oxygen saturation"},
	} {
		reg("headless", "headless-"+x.n, func(g *gen) File {
			b := g.b(bo{}).time(iso)
			b.add("", func(l *line) string { return x.f(g, l) }).refuse(x.why)
			b.tr.Ask = []string{"none", "kind", "columns", "unit"}
			b.nohead = true
			return b.csv(b.delim())
		})
	}
	reg("headless", "headless-pulse-beside-glucose", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).time(iso).glucose("none")
		b.add("", func(l *line) string { return strconv.Itoa(55 + l.p.d/4 + g.IntN(15)) })
		b.ask("a second unnamed column is filled", "columns", "kind", "unit")
		b.nohead = true
		return b.csv(b.delim())
	})
	reg("headless", "headless-two-decimals-columns", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).time(iso).glucose("none")
		b.add("", func(l *line) string { return fmt.Sprintf("%.1f", 0.6+g.Float64()*1.6) })
		b.ask("a second unnamed column is filled, in another range", "columns", "kind", "unit")
		b.nohead = true
		return b.csv(b.delim())
	})

	// ---- every language: date, clock, sensor glucose; every third file with a note column too
	for _, c := range langCode {
		regN(5, "language", "lang-"+c, func(g *gen) File {
			l := langs[c]
			b := g.b(bo{lang: c, on: g.n%3 == 2, wo: wo{evs: 6}}).time(twoFor(l)).glucose("head")
			if g.n%3 == 2 {
				b.noteCol(l.Note)
			}
			return b.csv(b.delim())
		})
	}
	for _, c := range strings.Fields("de fr es pt it nl sv fi pl hu tr el ru ar he hi th vi ja ko zh") {
		regN(5, "capillary", "lang-capillary-"+c, func(g *gen) File {
			l := langs[c]
			b := g.b(bo{lang: c, on: true, wo: wo{sticks: 3 + g.IntN(18)}}).time(twoFor(l)).glucose("head").stickCol().may("columns")
			if g.n%2 == 1 {
				b.order(2, 0, 1, 3)
			}
			return b.csv(b.delim())
		})
	}
	for _, c := range strings.Fields("de fr es pl ru el ar ja ko zh pt tr") {
		regN(4, "capillary", "lang-kind-rows-"+c, func(g *gen) File {
			l := langs[c]
			b := g.b(bo{lang: c, merge: true, wo: wo{sticks: 3 + g.IntN(9)}}).time(twoFor(l))
			b.kind(l.Kind, l.Sensor, l.Finger, "").both(b.unitHead(l.Code2())).may("kind")
			return b.csv(b.delim())
		})
	}
	for _, c := range strings.Fields("de fr es it pl ru tr ja nl fi cs uk") {
		regN(4, "flags", "lang-flags-"+c, func(g *gen) File {
			l := langs[c]
			b := g.b(bo{lang: c}).time(twoFor(l)).glucose("head")
			flags(b, l.Dizzy, l.Yes, l.No, "symptom", 3+g.IntN(5))
			flags(b, l.Meal, l.Yes, l.No, "meal", 10+g.IntN(20))
			return b.may("columns").csv(b.delim())
		})
	}
}

// Code2 is a plain heading for a column of values of several kinds.
func (l *lang) Code2() string {
	switch l.Code {
	case "de":
		return "Glukosewert"
	case "fr":
		return "Valeur de glucose"
	case "es":
		return "Valor de glucosa"
	case "pt":
		return "Valor de glicose"
	case "pl":
		return "Stężenie glukozy"
	case "ru":
		return "Уровень глюкозы"
	case "el":
		return "Τιμή γλυκόζης"
	case "ar":
		return "قيمة الجلوكوز"
	case "ja":
		return "グルコース値"
	case "ko":
		return "포도당 수치"
	case "zh":
		return "葡萄糖值"
	case "tr":
		return "Glukoz değeri"
	}
	return "Glucose"
}

// flags adds a column filled on every row; only its yes-marks are events.
func flags(b *B, head, yes, no, kind string, n int) {
	on := map[int]bool{}
	for len(on) < n {
		on[b.g.IntN(len(b.lines))] = true
	}
	b.add(head, func(l *line) string {
		if on[l.i] {
			return yes
		}
		return no
	})
	if kind != "" {
		for i, l := range b.lines {
			if on[i] {
				b.tr.Events = append(b.tr.Events, Event{local(l.p.t), kind, head})
			}
		}
	}
}
