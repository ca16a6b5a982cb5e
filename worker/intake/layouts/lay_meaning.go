package layouts

import (
	"bytes"
	"fmt"
	"sort"
	"strconv"
	"strings"
	"time"
)

func init() {
	// ---- fingersticks in the midst of sensor rows, told by another column
	kinds := []struct {
		n, head, s, f string
		clear         bool // words that a careful reader understands without a legend
		legend        string
	}{
		{"words", "Kind", "sensor", "fingerstick", true, ""},
		{"specimen", "Specimen", "interstitial fluid", "capillary blood", true, ""},
		{"source-meter", "Source", "sensor", "meter", true, ""},
		{"device-words", "Device", "worn sensor", "finger meter", true, ""},
		{"remark", "Remark", "", "finger prick", true, ""},
		{"manual-yes-no", "Entered by hand (fingerstick)", "no", "yes", true, ""},
		{"calibration-0-1", "Calibration by fingerstick", "0", "1", true, ""},
		{"code-legend", "Code", "1", "2", true, "Code 1 = sensor, 2 = fingerstick"},
		{"letters-legend", "K", "S", "F", true, "S sensor, F fingerstick"},
		{"code-no-legend", "Code", "0", "1", false, ""},
		{"calibration-bare", "Cal", "0", "1", false, ""},
		{"manual-bare", "Manual", "no", "yes", false, ""},
		{"device-bare", "Device", "unit A", "unit B", false, ""},
		{"type-numbers", "Type", "10", "20", false, ""},
		{"tick", "M", "", "x", false, ""},
	}
	for _, k := range kinds {
		reg("capillary", "kind-by-"+k.n, func(g *gen) File {
			n := 3 + g.IntN(8) // fewer than two rows in a hundred
			if g.IntN(3) == 0 {
				n = 40
			}
			b := g.b(bo{merge: true, wo: wo{sticks: n, days: 14, step: 15}}).time(iso)
			b.both(b.unitHead(pick(g, "Glucose", "Glucose value", "Value, glucose")))
			b.kind(k.head, k.s, k.f, "")
			if g.IntN(2) == 0 {
				b.order(0, 2, 1)
			}
			if k.legend != "" {
				b.pre = [][]string{{k.legend}}
			}
			if k.clear {
				b.may("kind")
			} else {
				b.ask("a column tells two kinds of rows apart, but not which is which", "kind", "columns", "person")
				b.tr.Why += "; Fingersticks holds the rarer kind"
			}
			return b.csv(b.delim())
		})
	}
	reg("capillary", "column-beside-mostly-empty", func(g *gen) File {
		b := g.b(bo{merge: true, wo: wo{sticks: 20}}).time(iso).glucose("head").stickCol().may("columns")
		return b.csv(b.delim())
	})
	reg("capillary", "column-before-sensor", func(g *gen) File {
		b := g.b(bo{on: true, wo: wo{sticks: 14}}).time(iso).stickAs("Capillary glucose (mmol/L or mg/dL as the sensor's)")
		b.cols[1].head = b.unitHead("Capillary glucose")
		return b.glucose("head").may("columns").csv(b.delim())
	})
	reg("capillary", "block-below", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("kind", "columns")
		b.w.addSticks(g, 10)
		b.post = [][]string{{}, {"Fingerstick measurements"}, {"Date / Time", "Fingerstick glucose (" + b.unit + ")"}}
		for _, s := range b.w.sticks {
			b.post = append(b.post, []string{s.t.Format("2006-01-02 15:04"), b.v(s)})
			b.tr.Fingersticks = append(b.tr.Fingersticks, b.reading(s, ""))
		}
		return b.csv(b.delim())
	})
	reg("capillary", "block-above", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("kind", "columns")
		b.w.addSticks(g, 6)
		b.pre = [][]string{{"Blood from the finger, " + b.unit}}
		for _, s := range b.w.sticks {
			b.pre = append(b.pre, []string{s.t.Format("2006-01-02 15:04"), b.v(s)})
			b.tr.Fingersticks = append(b.tr.Fingersticks, b.reading(s, ""))
		}
		b.pre = append(b.pre, []string{}, []string{"Sensor"})
		return b.csv(b.delim())
	})
	reg("capillary", "zip-two-members", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("sheet", "kind")
		b.w.addSticks(g, 9)
		fs := [][]string{{"Date / Time", "Fingerstick glucose (" + b.unit + ")"}}
		for _, s := range b.w.sticks {
			fs = append(fs, []string{s.t.Format("2006-01-02 15:04"), b.v(s)})
			b.tr.Fingersticks = append(b.tr.Fingersticks, b.reading(s, ""))
		}
		f := b.csv(",")
		f.probe.decoded = f.Bytes
		f.Name, f.Bytes = "zip", zipped(member{"fingerstick.csv", csvText(fs, ",", "\n")}, member{"sensor.csv", f.Bytes})
		return f
	})
	reg("capillary", "fingersticks-only", func(g *gen) File {
		b := g.b(bo{}).refuse("only fingersticks: no sensor reading is in the file")
		b.tr.Ask = []string{"none", "kind"}
		b.w.addSticks(g, 40)
		rows := [][]string{{"Date / Time", "Fingerstick glucose (" + b.unit + ")"}}
		for _, s := range b.w.sticks {
			rows = append(rows, []string{s.t.Format("2006-01-02 15:04"), b.v(s)})
		}
		f := b.finish("csv", csvText(rows, ",", "\n"), probe{})
		for _, s := range b.w.sticks {
			f.Truth.Fingersticks = append(f.Truth.Fingersticks, b.reading(s, ""))
		}
		return f
	})
	reg("capillary", "in-remark-words", func(g *gen) File {
		b := g.b(bo{on: true, wo: wo{sticks: 6}}).time(iso).glucose("head")
		b.add("Remark", func(l *line) string {
			if l.stick != nil {
				return "finger " + b.v(*l.stick)
			}
			return ""
		})
		rows, pr := b.table()
		b.tr.Events, b.tr.Fingersticks = nil, nil
		for _, l := range b.lines {
			if l.stick != nil {
				b.tr.Events = append(b.tr.Events, Event{local(l.p.t), "note", "finger " + b.v(*l.stick)})
			}
		}
		b.tr.Why = "the remark is kept as words, or becomes the fingerstick it tells; never a sensor reading"
		return b.may("kind", "columns").finish("csv", csvText(rows, b.delim(), "\n"), pr)
	})

	// ---- flag columns, filled on every row
	fl := []struct{ n, yes, no, sym, meal, scan string }{
		{"yes-no", "yes", "no", "Symptoms", "Meal", "Scanned"},
		{"0-1", "1", "0", "Symptoms", "Meal", "Scan"},
		{"true-false", "TRUE", "FALSE", "dizzy", "eaten", "looked_at"},
		{"x-dash", "x", "-", "Felt unwell", "Ate", "Looked"},
		{"y-n", "Y", "N", "Shaky", "Snack", "Display viewed"},
		{"plus-minus", "+", "-", "Tired", "Food", "Read"},
		{"tick-cross", "✓", "✗", "Headache", "Breakfast", "Scan"},
		{"mg-words", "present", "absent", "Symptom", "Food intake", "Scan"},
	}
	for _, f := range fl {
		reg("flags", "flags-"+f.n, func(g *gen) File {
			b := g.b(bo{}).time(iso).glucose("head").may("columns")
			flags(b, f.sym, f.yes, f.no, "symptom", 2+g.IntN(5))
			flags(b, f.meal, f.yes, f.no, "meal", 6+g.IntN(20))
			flags(b, f.scan, f.yes, f.no, "", 30)
			return b.shuffleCols().csv(b.delim())
		})
	}
	reg("flags", "flags-fingerstick-taken", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("columns", "kind")
		no, yes := "0", "1"
		if g.IntN(2) == 0 {
			no, yes = "no", "yes"
		}
		flags(b, "Fingerstick taken too", yes, no, "", 9)
		b.tr.Why = "says only that a fingerstick was taken, not its value: no fingerstick may be made of it"
		return b.csv(b.delim())
	})
	reg("flags", "flags-all-no", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").con("Symptoms", pick(g, "no", "0", "none")).con("Meal", "0").con("Exercise", "no").may("columns")
		return b.csv(b.delim())
	})
	reg("flags", "flags-quality", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").con("Quality", pick(g, "ok", "good", "1")).may("columns")
		return b.csv(b.delim())
	})
	reg("flags", "flags-severity-0-3", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("columns")
		on := map[int]int{}
		for i := 0; i < 6; i++ {
			on[g.IntN(len(b.lines))] = 1 + g.IntN(3)
		}
		b.add("Dizziness (0 none - 3 severe)", func(l *line) string { return strconv.Itoa(on[l.i]) })
		for i, l := range b.lines {
			if on[i] > 0 {
				b.tr.Events = append(b.tr.Events, Event{local(l.p.t), "symptom", "Dizziness " + strconv.Itoa(on[i])})
			}
		}
		return b.csv(b.delim())
	})

	// ---- other substances
	type sub struct {
		n    string
		head func(l *lang) string
		f    func(g *gen, l *line) string
	}
	f1 := func(lo, hi float64) func(g *gen, l *line) string {
		return func(g *gen, l *line) string { return fmt.Sprintf("%.1f", lo+g.Float64()*(hi-lo)) }
	}
	in := func(lo, hi int) func(g *gen, l *line) string {
		return func(g *gen, l *line) string { return strconv.Itoa(lo + g.IntN(hi-lo+1)) }
	}
	subs := []sub{
		{"ketones", func(l *lang) string { return l.Ket + " (mmol/L)" }, f1(0.1, 1.4)},
		{"lactate", func(l *lang) string { return l.Lact + " (mmol/L)" }, f1(0.6, 2.4)},
		{"pulse", func(l *lang) string { return l.Pulse + " (/min)" }, in(52, 118)},
		{"urea", func(l *lang) string { return "Urea (mmol/L)" }, f1(3.1, 7.9)},
		{"cholesterol", func(l *lang) string { return "Total cholesterol (mmol/L)" }, f1(3.8, 6.9)},
		{"triglycerides", func(l *lang) string { return "Triglycerides (mg/dL)" }, in(70, 180)},
		{"potassium", func(l *lang) string { return "Potassium (mmol/L)" }, f1(3.5, 5.1)},
		{"temperature", func(l *lang) string { return "Skin temperature (°C)" }, f1(31.5, 35.5)},
		{"creatinine", func(l *lang) string { return "Creatinine (µmol/L)" }, in(58, 104)},
		{"pressure", func(l *lang) string { return "Systolic pressure (mmHg)" }, in(98, 148)},
	}
	codes := []string{"en", "en", "de", "fr", "es", "ru", "ja", "pl"}
	for _, s := range subs {
		regN(5, "substances", "beside-"+s.n, func(g *gen) File {
			c := "en"
			if s.n == "ketones" || s.n == "lactate" || s.n == "pulse" {
				c = codes[g.n%len(codes)]
			}
			b := g.b(bo{lang: c}).time(iso).glucose("head")
			b.add(s.head(b.L), func(l *line) string {
				if g.n%2 == 0 && l.i%7 != 0 {
					return ""
				}
				return b.num(s.f(g, l))
			}).may("columns")
			if g.IntN(2) == 0 {
				b.order(0, 2, 1)
			}
			return b.csv(b.delim())
		})
		regN(4, "substances", "only-"+s.n, func(g *gen) File {
			c := "en"
			if s.n == "ketones" || s.n == "lactate" || s.n == "pulse" {
				c = pick(g, codes...)
			}
			b := g.b(bo{lang: c}).time(iso)
			b.add(s.head(b.L), func(l *line) string { return b.num(s.f(g, l)) }).refuse("no glucose in the file")
			return b.csv(b.delim())
		})
	}
	for _, c := range strings.Fields("it nl sv fi hu tr el ar ko zh") {
		regN(3, "substances", "only-other-words-"+c, func(g *gen) File {
			b := g.b(bo{lang: c})
			b.time(twoFor(b.L))
			h, f := b.L.Lact, f1(0.6, 3.9)
			if g.n%3 == 1 {
				h, f = b.L.Ket, f1(0.1, 3.2)
			}
			b.add(h+" (mmol/L)", func(l *line) string { return b.num(f(g, l)) }).refuse("no glucose in the file")
			return b.csv(b.delim())
		})
	}
	reg("substances", "analyte-rows", func(g *gen) File {
		b := g.b(bo{unit: "mmol/L"}).may("kind")
		var pr probe
		rows := [][]string{{"Collected", "Analyte", "Result", "Unit"}}
		for i, p := range b.w.pts {
			t := p.t.Format("02/01/2006 15:04")
			rows = append(rows, []string{t, "Glucose, interstitial", b.v(p), "mmol/L"})
			b.rd(&pr, p, b.v(p))
			if i%9 == 0 {
				rows = append(rows, []string{t, pick(g, "Lactate", "Urea", "Potassium"), fmt.Sprintf("%.1f", 1+g.Float64()*4), "mmol/L"})
			}
		}
		return b.finish("csv", csvText(rows, ";", "\n"), pr)
	})
	reg("substances", "insulin-and-carbohydrate", func(g *gen) File {
		b := g.b(bo{lang: pick(g, codes...)}).time(iso).glucose("head").may("columns")
		on := map[int]int{}
		for i := 0; i < 18; i++ {
			on[g.IntN(len(b.lines))] = 10 + g.IntN(60)
		}
		b.add(b.L.Carb+" (g)", func(l *line) string {
			if on[l.i] > 0 {
				return strconv.Itoa(on[l.i])
			}
			return ""
		})
		b.add(b.L.Ins+" (U)", func(l *line) string {
			if on[l.i] > 30 {
				return strconv.Itoa(on[l.i] / 10)
			}
			return ""
		})
		for i, l := range b.lines {
			if on[i] > 0 {
				b.tr.Events = append(b.tr.Events, Event{local(l.p.t), "meal", strconv.Itoa(on[i]) + " g"})
			}
			if on[i] > 30 {
				b.tr.Events = append(b.tr.Events, Event{local(l.p.t), "medicine", strconv.Itoa(on[i]/10) + " U"})
			}
		}
		return b.csv(b.delim())
	})

	// ---- statistics
	avg := func(g *gen, b *B) string {
		return b.v(pt{d: 50 + g.IntN(20), m: 92 + g.IntN(30)})
	}
	for _, x := range []struct{ n, head string }{{"hourly-mean", "Mean of the hour"}, {"hourly-median", "Median of the hour"}, {"hourly-highest", "Highest value in the hour"}} {
		reg("statistics", "only-"+x.n, func(g *gen) File {
			b := g.b(bo{wo: wo{step: 15}}).refuse("statistics of the hours, not readings")
			rows := [][]string{{"Hour beginning", x.head + ", glucose (" + b.unit + ")"}}
			for _, h := range hourly(b.w, b.unit) {
				rows = append(rows, []string{h.t.Format("2006-01-02 15:04"), h.s})
			}
			return b.finish("csv", csvText(rows, b.delim(), "\n"), probe{})
		})
	}
	reg("statistics", "only-min-mean-max", func(g *gen) File {
		b := g.b(bo{}).refuse("statistics of the hours, not readings")
		rows := [][]string{{"Hour beginning", "Lowest (" + b.unit + ")", "Mean (" + b.unit + ")", "Highest (" + b.unit + ")"}}
		for _, h := range hourly(b.w, b.unit) {
			rows = append(rows, []string{h.t.Format("2006-01-02 15:04"), b.v(pt{d: 41, m: 74}), h.s, b.v(pt{d: 96, m: 173})})
		}
		return b.finish("csv", csvText(rows, b.delim(), "\n"), probe{})
	})
	reg("statistics", "only-daily-average", func(g *gen) File {
		c := pick(g, langCode...)
		b := g.b(bo{lang: c}).refuse("one average a day, not readings")
		days, _ := byDay(b.w)
		rows := [][]string{{b.L.Date, b.L.Mean + " (" + b.unit + ")"}}
		for _, d := range days {
			rows = append(rows, []string{d.Format(b.L.DMY), avg(g, b)})
		}
		return b.finish("csv", csvText(rows, b.delim(), "\n"), probe{})
	})
	reg("statistics", "only-clock-profile", func(g *gen) File {
		b := g.b(bo{}).refuse("percentiles by time of day over all days, not readings")
		rows := [][]string{{"Time of day", "10th percentile", "25th", "Median", "75th", "90th percentile (" + b.unit + ")"}}
		for k := 0; k < 96; k++ {
			r := []string{time.Date(2026, 1, 1, 0, 15*k, 0, 0, time.UTC).Format("15:04")}
			for q := 0; q < 5; q++ {
				r = append(r, b.v(pt{d: 44 + 6*q + g.IntN(4), m: 80 + 11*q + g.IntN(6)}))
			}
			rows = append(rows, r)
		}
		return b.finish("csv", csvText(rows, b.delim(), "\n"), probe{})
	})
	for _, c := range strings.Fields("en de fr es it pl ru sv tr ja zh ar") {
		regN(4, "statistics", "day-average-rows-"+c, func(g *gen) File {
			b := g.b(bo{lang: c})
			b.time(twoFor(b.L)).glucose("head").may("kind", "columns")
			b.insert = func(p, q *line) [][]string {
				if p != nil && p.p.t.YearDay() != q.p.t.YearDay() {
					if g.n%2 == 0 {
						return [][]string{{p.p.t.Format(b.L.DMY), b.L.Mean, avg(g, b)}}
					}
					return [][]string{{b.L.Mean, "", avg(g, b)}}
				}
				return nil
			}
			return b.csv(b.delim())
		})
	}
	reg("statistics", "average-rows-that-look-dated", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("kind")
		b.add("Row", func(l *line) string { return "reading" })
		b.insert = func(p, q *line) [][]string {
			if p != nil && p.p.t.YearDay() != q.p.t.YearDay() {
				return [][]string{{p.p.t.Format("2006-01-02") + " 23:59", avg(g, b), "daily average"}}
			}
			return nil
		}
		return b.csv(b.delim())
	})
	for _, x := range []struct{ n, head string }{{"moving-average", "Moving average of 1 h"}, {"running-mean", "Mean so far"}, {"hour-mean", "Mean of this hour"}, {"smoothed", "Smoothed glucose"}, {"expected", "Reference median of healthy people"}} {
		reg("statistics", "beside-"+x.n, func(g *gen) File {
			b := g.b(bo{}).time(iso).glucose("head").may("columns")
			sum := 0.0
			b.add(x.head+" ("+b.unit+")", func(l *line) string {
				sum = sum*0.75 + float64(l.p.d)*0.25
				if l.i == 0 {
					sum = float64(l.p.d)
				}
				return b.v(pt{d: int(sum), m: int(sum * 1.80156)})
			})
			if g.IntN(2) == 0 {
				b.order(0, 2, 1)
			}
			return b.csv(b.delim())
		})
	}
	reg("statistics", "totals-below", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head")
		b.post = [][]string{{"Average", avg(g, b)}, {"Standard deviation", b.v(pt{d: 11, m: 20})}, {"Number of values", strconv.Itoa(len(b.lines))}, {"Signed", "day clinic"}}
		return b.csv(b.delim())
	})
	reg("statistics", "block-of-hour-means-below", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("kind", "columns")
		b.post = [][]string{{}, {"Means of the clock hours"}}
		for i, h := range hourly(b.w, b.unit) {
			if i < 48 {
				b.post = append(b.post, []string{h.t.Format("2006-01-02 15:04"), h.s})
			}
		}
		return b.csv(b.delim())
	})
	reg("statistics", "difference-column", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("columns")
		last := 0
		b.add("Change since last ("+b.unit+")", func(l *line) string {
			now := l.p.d
			if b.unit == "mg/dL" {
				now = l.p.m
			}
			d := now - last
			if l.i == 0 {
				d = 0
			}
			last = now
			if b.unit == "mg/dL" {
				return strconv.Itoa(d)
			}
			if d < 0 {
				return "-" + tenths(-d)
			}
			return tenths(d)
		})
		return b.csv(b.delim())
	})

	// ---- two people
	for _, x := range peopleShapes {
		reg("people", "two-"+x.n, func(g *gen) File { return g.twoPeople(x.n, x.f) })
	}
	reg("people", "one-two-sensors-in-turn", func(g *gen) File {
		b := g.b(bo{wo: wo{days: 14}}).time(iso).glucose("head").may("person", "columns")
		cut := len(b.lines) / 2
		s1, s2 := 100000+g.IntN(800000), 100000+g.IntN(800000)
		b.add("Serial number", func(l *line) string {
			if l.i < cut {
				return strconv.Itoa(s1)
			}
			return strconv.Itoa(s2)
		})
		b.ask("two serial numbers, nothing says whether one person wore both", "person")
		return b.csv(b.delim())
	})
	reg("people", "one-named-above", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("person")
		b.pre = [][]string{{"Name", b.w.who.name}, {"Date of birth", b.w.who.born}, {"Record number", b.w.who.id}}
		return b.csv(b.delim())
	})
	reg("people", "one-name-and-nurse", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").may("person", "columns")
		b.con("Patient", b.w.who.name)
		n1, n2 := g.person().name, g.person().name
		b.add("Read out by", func(l *line) string {
			if l.i%2 == 0 {
				return n1
			}
			return n2
		})
		return b.csv(b.delim())
	})

	// ---- notes, medicines, diet
	reg("notes", "quoted-line-ends", func(g *gen) File {
		b := g.b(bo{on: true, wo: wo{evs: 14}})
		for i := range b.lines {
			if e := b.lines[i].note; e != nil {
				e.text += "\nthen a short walk, \"slowly\""
			}
		}
		return b.time(iso).glucose("head").noteCol("Note").csv(b.delim())
	})
	for _, h := range []string{"Dietary intake", "What I ate", "Food diary", "Meals and drinks", "Menu"} {
		regN(4, "notes", "diet-"+strings.ReplaceAll(strings.ToLower(h), " ", "-"), func(g *gen) File {
			b := g.b(bo{on: g.n%2 == 0, merge: g.n%2 == 1, wo: wo{evs: 25}}).time(iso).glucose("head").noteCol(h).may("columns")
			return b.csv(b.delim())
		})
	}
	for _, x := range []struct {
		n, h, kind string
		w          []string
	}{
		{"medicines", "Medicines", "medicine", []string{"water tablet", "antibiotic, second day", "steroid tablet 20 mg", "painkiller"}},
		{"symptoms", "Symptoms", "symptom", []string{"dizzy", "sweating", "shaky hands", "headache"}},
		{"exercise", "Exercise", "exercise", []string{"walked 40 min", "swimming", "cycling 12 km", "gym"}},
		{"sleep", "Sleep", "sleep", []string{"went to bed", "woke up", "nap"}},
		{"notes-with-numbers", "Remarks", "note", []string{"felt like 3.2", "room 21.5 degrees", "pulse 88", "weighed 71.4 kg", "took 2 at 08:30"}},
		{"notes-that-start-like-formulas", "Remarks", "note", []string{"=SUM(A1:A9)", "+ toast", "- nothing eaten", "@home"}},
		{"lab-words", "Remarks", "note", []string{"low sugar biscuit", "Hi from the beach", "high street", "low light"}},
	} {
		regN(4, "notes", "notes-"+x.n, func(g *gen) File {
			b := g.b(bo{on: true, wo: wo{evs: 12}})
			for _, l := range b.lines {
				if l.note != nil {
					l.note.text, l.note.kind = pick(g, x.w...), x.kind
				}
			}
			return b.time(iso).glucose("head").noteCol(x.h).may("columns").csv(b.delim())
		})
	}
	for _, c := range strings.Fields("de fr es it nl sv pl ru tr el ar ja ko zh") {
		regN(3, "notes", "lang-meals-"+c, func(g *gen) File {
			b := g.b(bo{lang: c, on: true, wo: wo{evs: 18}})
			b.time(twoFor(b.L)).glucose("head").noteCol(b.L.Meal).may("columns")
			return b.csv(b.delim())
		})
	}

	// ---- nothing to file
	reg("nothing", "heading-only", func(g *gen) File {
		b := g.b(bo{}).time(iso).glucose("head").refuse("no rows at all")
		b.lines = nil
		return b.csv(b.delim())
	})
	reg("nothing", "blank-values", func(g *gen) File {
		b := g.b(bo{}).time(iso).con("Sensor glucose (mmol/L)", "").refuse("times, but every value is blank")
		return b.csv(b.delim())
	})
	reg("nothing", "words-only", func(g *gen) File {
		b := g.b(bo{}).refuse("a letter, no table")
		var w bytes.Buffer
		for i := 0; i < 30; i++ {
			fmt.Fprintf(&w, "The wearer felt well on day %d and slept until %d o'clock.\n", i+1, 6+g.IntN(3))
		}
		return b.finish("txt", w.Bytes(), probe{})
	})
	reg("nothing", "half-copied-workbook", func(g *gen) File {
		b := g.b(bo{wo: wo{days: 4}}).time(iso).glucose("head").refuse("the archive is cut short")
		rows, _ := b.table()
		d := workbook(false, sheet{name: "Table", rows: rows})
		return b.finish("xlsx", d[:len(d)*2/3], probe{})
	})
	reg("nothing", "times-lost-digits", func(g *gen) File {
		s := nF(func(*lang) []string { return []string{"Time (ms since 1970)"} }, func(t time.Time, _ *lang) []string {
			return []string{fmt.Sprintf("%.3E", float64(t.UnixMilli()))}
		})
		b := g.b(bo{}).time(s).glucose("head").refuse("the times have lost their last digits")
		return b.csv(b.delim())
	})
}

// peopleShapes put two true tables into one file.
var peopleShapes = []struct {
	n string
	f func(g *gen, a, c *B, ra, rc [][]string) (string, []byte)
}{
	{"sections-named", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		rows := append([][]string{{"Name: " + a.w.who.name}}, ra...)
		rows = append(append(rows, []string{}, []string{"Name: " + c.w.who.name}), rc...)
		return "csv", csvText(rows, ",", "\n")
	}},
	{"sections-in-turn", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) { // the second begins after the first ends
		rows := append([][]string{{"Record number", a.w.who.id}}, ra...)
		rows = append(append(rows, []string{"Record number", c.w.who.id}), rc...)
		return "csv", csvText(rows, ",", "\n")
	}},
	{"name-between-rows-in-turn", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		rows := [][]string{ra[0], {a.w.who.name}}
		rows = append(append(append(rows, ra[1:]...), []string{c.w.who.name}), rc[1:]...)
		return "csv", csvText(rows, ",", "\n")
	}},
	{"birth-line-between-rows-in-turn", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		rows := [][]string{ra[0], {"born " + a.w.who.born}}
		rows = append(append(append(rows, ra[1:]...), []string{"born " + c.w.who.born}), rc[1:]...)
		return "csv", csvText(rows, ";", "\n")
	}},
	{"id-column-interleaved", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "csv", csvText(mixed(ra, rc, "Record number", a.w.who.id, c.w.who.id, true), ",", "\n")
	}},
	{"name-column-in-turn", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "csv", csvText(mixed(ra, rc, "Name", a.w.who.name, c.w.who.name, false), ",", "\n")
	}},
	{"birth-column-in-turn", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "csv", csvText(mixed(ra, rc, "Date of birth", a.w.who.born, c.w.who.born, false), ",", "\n")
	}},
	{"birth-column-interleaved", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "csv", csvText(mixed(ra, rc, "Born", a.w.who.born, c.w.who.born, true), ";", "\n")
	}},
	{"device-column-interleaved", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "csv", csvText(mixed(ra, rc, "Sensor number", strconv.Itoa(10000+g.IntN(80000)), strconv.Itoa(10000+g.IntN(80000)), true), ",", "\n")
	}},
	{"sex-and-age-column-in-turn", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "csv", csvText(mixed(ra, rc, "Sex, age", "F 61", "M 34", false), ",", "\n")
	}},
	{"bed-column-interleaved", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "csv", csvText(mixed(ra, rc, "Bed", "4a", "7c", true), ",", "\n")
	}},
	{"values-side-by-side", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		at := map[string]string{}
		for _, r := range rc[1:] {
			at[r[0]] = r[1]
		}
		rows := [][]string{{"Date / Time", a.w.who.name + " (" + a.unit + ")", c.w.who.name + " (" + a.unit + ")"}}
		seen := map[string]bool{}
		for _, r := range ra[1:] {
			rows = append(rows, []string{r[0], r[1], at[r[0]]})
			seen[r[0]] = true
		}
		for _, r := range rc[1:] {
			if !seen[r[0]] {
				rows = append(rows, []string{r[0], "", r[1]})
			}
		}
		return "csv", csvText(rows, ",", "\n")
	}},
	{"tables-side-by-side", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		rows := [][]string{{a.w.who.id, "", "", c.w.who.id, ""}}
		for i := 0; i < max(len(ra), len(rc)); i++ {
			r := []string{"", "", "", "", ""}
			if i < len(ra) {
				copy(r, ra[i])
			}
			if i < len(rc) {
				copy(r[3:], rc[i])
			}
			rows = append(rows, r)
		}
		return "csv", csvText(rows, ",", "\n")
	}},
	{"sheets", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "xlsx", workbook(false, sheet{name: a.w.who.id, rows: ra}, sheet{name: c.w.who.id, rows: rc})
	}},
	{"hidden-sheet", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "xlsx", workbook(false, sheet{name: "Sheet A", rows: ra}, sheet{name: "Sheet B", rows: rc, hidden: true})
	}},
	{"zip-members", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		return "zip", zipped(member{a.w.who.id + ".csv", csvText(ra, ",", "\n")}, member{c.w.who.id + ".csv", csvText(rc, ",", "\n")})
	}},
	{"json-list", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		one := func(b *B, rows [][]string) string {
			var s []string
			for _, r := range rows[1:] {
				s = append(s, obj([]kv{{"time", r[0]}, {"glucose", raw(r[1])}, {"unit", b.unit}}))
			}
			return obj([]kv{{"person", b.w.who.id}, {"readings", raw("[" + strings.Join(s, ",") + "]")}})
		}
		return "json", []byte("[" + one(a, ra) + ",\n" + one(c, rc) + "]")
	}},
	{"html-tables", func(g *gen, a, c *B, ra, rc [][]string) (string, []byte) {
		h := string(htmlText(ra, "en", true))
		k := string(htmlText(rc, "en", true))
		h = strings.Replace(h, "<table", "<h2>"+a.w.who.name+"</h2><table", 1)
		k = "<h2>" + c.w.who.name + "</h2>" + k[strings.Index(k, "<table"):]
		return "html", []byte(strings.Replace(h, "</body></html>", k, 1))
	}},
}

// mixed joins two tables and adds a column that tells whose the row is.
func mixed(ra, rc [][]string, head, ka, kc string, interleave bool) [][]string {
	rows := [][]string{append([]string{head}, ra[0]...)}
	var body [][]string
	for _, r := range ra[1:] {
		body = append(body, append([]string{ka}, r...))
	}
	for _, r := range rc[1:] {
		body = append(body, append([]string{kc}, r...))
	}
	if interleave {
		sort.SliceStable(body, func(i, j int) bool { return body[i][1] < body[j][1] })
	}
	return append(rows, body...)
}

func (g *gen) twoPeople(name string, f func(g *gen, a, c *B, ra, rc [][]string) (string, []byte)) File {
	unit := pick(g, "mmol/L", "mg/dL")
	start := time.Date(2026, time.Month(5+g.IntN(3)), 2+g.IntN(20), 8, 15*g.IntN(4), 0, 0, time.UTC)
	days := 7 + g.IntN(3)
	a := g.b(bo{unit: unit, wo: wo{days: days, step: 15, start: start}}).time(iso)
	s2 := start.Add(time.Duration(g.IntN(3)*24) * time.Hour)
	if strings.HasSuffix(name, "interleaved") && g.IntN(2) == 0 {
		s2 = s2.Add(7 * time.Minute)
	}
	if strings.HasSuffix(name, "in-turn") {
		s2 = start.AddDate(0, 0, days).Add(time.Duration(15*g.IntN(40)+15) * time.Minute)
	}
	c := g.b(bo{unit: unit, wo: wo{days: days, step: 15, start: s2}}).time(iso)
	h := a.unitHead("Sensor glucose")
	for _, b := range []*B{a, c} {
		b.glucose("none")
		b.cols[1].head = h
	}
	ra, _ := a.table()
	rc, _ := c.table()
	ext, data := f(g, a, c, ra, rc)
	t := Truth{People: 2, Ask: []string{"person"}, Why: "two people's readings: asked with both as choices, or refused; never joined",
		ByPerson: []Truth{a.tr, c.tr}}
	if strings.HasPrefix(name, "tables-side") || strings.HasPrefix(name, "hidden") {
		t.Ask = append(t.Ask, "columns", "sheet", "none")
	}
	if name == "sheets" || name == "zip-members" {
		t.Ask = append(t.Ask, "sheet")
	}
	if strings.HasPrefix(name, "values-side") {
		t.Ask = append(t.Ask, "columns")
	}
	return File{Name: ext, Bytes: data, Truth: t}
}
