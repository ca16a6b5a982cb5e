package layouts

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// half tells the twelve-hour clock with the language's own words.
func half(t time.Time, l *lang) string {
	if t.Hour() < 12 {
		return l.AM
	}
	return l.PM
}

func digits(zero rune) func(string) string {
	return func(s string) string {
		return strings.Map(func(r rune) rune {
			if r >= '0' && r <= '9' {
				return zero + r - '0'
			}
			return r
		}, s)
	}
}

// mapped applies f to every time cell.
func mapped(s style, f func(string) string) style {
	old := s.cells
	return style{s.heads, func(t time.Time, l *lang) []string {
		c := old(t, l)
		o := make([]string, len(c))
		for i := range c {
			o[i] = f(c[i])
		}
		return o
	}, ""}
}

func init() {
	styles := []struct {
		name string
		s    style
	}{
		{"dmy-slash", one("02/01/2006 15:04")}, {"mdy-slash", one("01/02/2006 15:04")}, {"ymd-slash", one("2006/01/02 15:04")},
		{"ydm-dash", one("2006-02-01 15:04")}, {"ydm-slash-split", two("2006/02/01", "15:04")}, {"ydm-dots", one("2006.02.01 15:04:05")},
		{"dmy-two-digit-year", one("02.01.06 15:04")}, {"mdy-two-digit-year", two("01/02/06", "15:04")},
		{"ymd-two-digit-year", two("06-01-02", "15:04")},
		{"compact", one("200601021504")}, {"compact-split", two("20060102", "1504")}, {"basic-t", one("20060102T150405")},
		{"iso-t-seconds", one("2006-01-02T15:04:05")}, {"d-mon-y", one("2-Jan-2006 15:04")}, {"mon-d-y", one("Jan 2, 2006 15:04")},
		{"weekday-d-month", one("Monday, 2 January 2006 15:04")}, {"weekday-short-iso", one("Mon 2006-01-02 15:04")},
		{"ctime", one("Mon Jan _2 15:04:05 2006")}, {"clock-dot", two("02.01.2006", "15.04")},
		{"clock-first", one("15:04 02/01/2006")}, {"ampm", one("02/01/2006 03:04 PM")}, {"ampm-split", two("2006-01-02", "3:04:05 pm")},
		{"ordinal-day", one("2006-002 15:04")}, {"single-digits", one("2/1/2006 15:04")}, {"fraction-of-second", one("2006-01-02 15:04:05.000")},
	}
	for _, x := range styles {
		regN(5, "dates", "date-"+x.name, func(g *gen) File {
			b := g.b(bo{wo: wo{days: 14}}).time(x.s).glucose("head")
			if strings.Contains(x.name, "two-digit") {
				b.may("date_order")
			}
			return b.csv(pick(g, ";", "\t"))
		})
	}
	off := func(t time.Time) time.Time {
		h := 10
		if t.Before(changes[0]) {
			h = 11
		}
		return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), 0, time.FixedZone("", h*3600))
	}
	reg("dates", "date-mail-header-style", func(g *gen) File {
		b := g.b(bo{}).time(oneF(func(t time.Time, _ *lang) string { return off(t).Format(time.RFC1123Z) })).glucose("head")
		return b.may("zone").csv(pick(g, ";", "\t", ","))
	})
	reg("dates", "date-iso-offset", func(g *gen) File {
		b := g.b(bo{}).time(oneF(func(t time.Time, _ *lang) string { return off(t).Format(time.RFC3339) })).glucose("head")
		return b.may("zone").csv(b.delim())
	})
	reg("dates", "date-iso-offset-basic", func(g *gen) File {
		b := g.b(bo{}).time(oneF(func(t time.Time, _ *lang) string { return off(t).Format("2006-01-02 15:04:05 -0700") })).glucose("head")
		return b.may("zone").csv(b.delim())
	})
	reg("dates", "date-utc-z", func(g *gen) File {
		b := g.b(bo{}).time(oneF(func(t time.Time, _ *lang) string { return off(t).UTC().Format("2006-01-02T15:04:05Z") })).glucose("head")
		return b.ask("instants; the wearer's zone is not in the file", "zone").csv(b.delim())
	})
	for _, x := range []struct {
		n    string
		head string
		f    func(t time.Time) string
	}{
		{"seconds", "Unix time", func(t time.Time) string { return strconv.FormatInt(t.Unix(), 10) }},
		{"milliseconds", "Time (ms since 1970)", func(t time.Time) string { return strconv.FormatInt(t.UnixMilli(), 10) }},
		{"seconds-fraction", "Epoch", func(t time.Time) string { return strconv.FormatInt(t.Unix(), 10) + ".000" }},
	} {
		reg("dates", "epoch-"+x.n, func(g *gen) File {
			s := nF(func(*lang) []string { return []string{x.head} }, func(t time.Time, _ *lang) []string { return []string{x.f(off(t))} })
			b := g.b(bo{}).time(s).glucose("head").ask("instants; the wearer's zone is not in the file", "zone")
			return b.csv(b.delim())
		})
	}
	reg("dates", "epoch-and-local", func(g *gen) File {
		b := g.b(bo{})
		b.add("Unix time", func(l *line) string { return strconv.FormatInt(off(l.p.t).Unix(), 10) })
		b.time(style{func(*lang) []string { return []string{"Local time"} }, iso.cells, iso.golay}).glucose("head")
		return b.csv(b.delim())
	})
	reg("dates", "serial-numbers", func(g *gen) File {
		s := nF(func(*lang) []string { return []string{"Date and time (day number)"} },
			func(t time.Time, _ *lang) []string { return []string{fmt.Sprintf("%.6f", serial(t, false))} })
		b := g.b(bo{}).time(s).glucose("head").may("columns")
		return b.csv(";")
	})
	reg("dates", "serial-day-and-clock", func(g *gen) File {
		s := nF(func(l *lang) []string { return []string{"Date", "Time"} }, func(t time.Time, _ *lang) []string {
			return []string{strconv.Itoa(int(serial(t, false))), t.Format("15:04")}
		})
		return g.b(bo{}).time(s).glucose("head").may("columns").csv(";")
	})
	reg("dates", "y-m-d-h-min-columns", func(g *gen) File {
		s := nF(func(l *lang) []string { return []string{"Year", "Month", "Day", "Hour", "Minute"} },
			func(t time.Time, _ *lang) []string {
				return []string{strconv.Itoa(t.Year()), strconv.Itoa(int(t.Month())), strconv.Itoa(t.Day()), strconv.Itoa(t.Hour()), strconv.Itoa(t.Minute())}
			})
		b := g.b(bo{}).time(s).glucose("head").may("columns")
		return b.csv(b.delim())
	})
	reg("dates", "wearing-day-number", func(g *gen) File {
		b := g.b(bo{})
		d0 := b.w.start.Truncate(24 * time.Hour)
		b.time(nF(func(l *lang) []string { return []string{"Day", "Time"} }, func(t time.Time, _ *lang) []string {
			return []string{strconv.Itoa(int(t.Sub(d0).Hours()/24) + 1), t.Format("15:04")}
		})).glucose("head").may("columns", "none")
		b.pre = [][]string{{"Day 1 is", d0.Format("2 January 2006")}}
		return b.csv(b.delim())
	})
	reg("dates", "wearing-day-number-no-start", func(g *gen) File {
		b := g.b(bo{})
		d0 := b.w.start.Truncate(24 * time.Hour)
		b.time(nF(func(l *lang) []string { return []string{"Day", "Time"} }, func(t time.Time, _ *lang) []string {
			return []string{strconv.Itoa(int(t.Sub(d0).Hours()/24) + 1), t.Format("15:04")}
		})).glucose("head").refuse("no date anywhere: the days cannot be placed")
		return b.csv(b.delim())
	})
	reg("dates", "minutes-since-start", func(g *gen) File {
		b := g.b(bo{})
		s0 := b.w.start
		b.time(nF(func(l *lang) []string { return []string{"Minutes since start"} }, func(t time.Time, _ *lang) []string {
			return []string{strconv.Itoa(int(t.Sub(s0).Minutes()))}
		})).glucose("head").may("columns", "none")
		b.pre = [][]string{{"Start", s0.Format("2006-01-02 15:04")}}
		return b.csv(b.delim())
	})
	reg("dates", "date-one-day-ambiguous", func(g *gen) File {
		d := 3 + g.IntN(8)
		m := time.Month(5 + g.IntN(5))
		if int(m) == d {
			d++
		}
		b := g.b(bo{wo: wo{days: 1, start: time.Date(2026, m, d, 0, 5, 0, 0, time.UTC)}})
		b.lines = b.lines[:len(b.lines)-2]
		b.time(one("02/01/2006 15:04")).glucose("head").ask("a single day, both orders are possible", "date_order")
		b.pre = [][]string{{"Written by hand from the display"}}
		return b.csv(b.delim())
	})
	reg("dates", "date-dmy-all-below-13", func(g *gen) File {
		b := g.b(bo{wo: wo{days: 9, start: time.Date(2026, time.Month(6+g.IntN(3)), 2, 8, 3, 0, 0, time.UTC)}}).time(one("02/01/2006 15:04")).glucose("head")
		b.tr.Why = "only day-month steps by a day; the other order jumps by months"
		return b.may("date_order").csv(b.delim())
	})
	reg("dates", "date-ydm-all-below-13", func(g *gen) File {
		b := g.b(bo{wo: wo{days: 9, start: time.Date(2026, time.Month(6+g.IntN(3)), 2, 8, 3, 0, 0, time.UTC)}}).time(one("2006-02-01 15:04")).glucose("head")
		b.tr.Why = "year-day-month: only that order steps by a day"
		return b.may("date_order").csv(b.delim())
	})
	reg("dates", "date-era-reiwa", func(g *gen) File {
		b := g.b(bo{lang: "ja"}).time(nF(func(l *lang) []string { return []string{l.Date, l.Time} }, func(t time.Time, _ *lang) []string {
			return []string{fmt.Sprintf("令和%d年%d月%d日", t.Year()-2018, t.Month(), t.Day()), fmt.Sprintf("%d時%02d分", t.Hour(), t.Minute())}
		})).glucose("head").may("none", "date_order")
		return b.csv(",")
	})
	reg("dates", "date-buddhist-year", func(g *gen) File {
		b := g.b(bo{lang: "th"}).time(nF(func(l *lang) []string { return []string{l.Date + " (พ.ศ.)", l.Time} }, func(t time.Time, l *lang) []string {
			return []string{fmt.Sprintf("%d %s %d", t.Day(), l.Months[t.Month()-1], t.Year()+543), t.Format("15:04") + " น."}
		})).glucose("head").may("none", "date_order")
		return b.csv(",")
	})
	for _, x := range []struct {
		c string
		d func(t time.Time) (string, string)
	}{
		{"ja", func(t time.Time) (string, string) {
			return t.Format("2006年1月2日"), fmt.Sprintf("%d時%02d分", t.Hour(), t.Minute())
		}},
		{"zh", func(t time.Time) (string, string) {
			return t.Format("2006年01月02日"), fmt.Sprintf("%d点%02d分", t.Hour(), t.Minute())
		}},
		{"ko", func(t time.Time) (string, string) {
			return t.Format("2006년 1월 2일"), fmt.Sprintf("%d시 %02d분", t.Hour(), t.Minute())
		}},
		{"vi", func(t time.Time) (string, string) {
			return fmt.Sprintf("ngày %d tháng %d năm %d", t.Day(), t.Month(), t.Year()), fmt.Sprintf("%dh%02d", t.Hour(), t.Minute())
		}},
		{"fr", func(t time.Time) (string, string) {
			return t.Format("02/01/2006"), fmt.Sprintf("%dh%02d", t.Hour(), t.Minute())
		}},
	} {
		regN(4, "dates", "date-signs-"+x.c, func(g *gen) File {
			b := g.b(bo{lang: x.c}).time(nF(func(l *lang) []string { return []string{l.Date, l.Time} }, func(t time.Time, _ *lang) []string {
				d, c := x.d(t)
				return []string{d, c}
			})).glucose("head")
			return b.csv(b.delim())
		})
	}
	for _, c := range strings.Fields("de fr es pt it nl sv fi pl cs hu ro tr el ru uk he ar hi th id") {
		regN(4, "dates", "month-words-"+c, func(g *gen) File {
			b := g.b(bo{lang: c}).time(nF(func(l *lang) []string { return []string{l.Date, l.Time} }, func(t time.Time, l *lang) []string {
				m := l.Months[t.Month()-1]
				d := fmt.Sprintf("%d %s %d", t.Day(), m, t.Year())
				switch c {
				case "de", "fi", "cs":
					d = fmt.Sprintf("%d. %s %d", t.Day(), m, t.Year())
				case "es", "pt":
					d = fmt.Sprintf("%d de %s de %d", t.Day(), m, t.Year())
				case "hu":
					d = fmt.Sprintf("%d. %s %d.", t.Year(), m, t.Day())
				}
				return []string{d, t.Format("15:04")}
			})).glucose("head")
			return b.csv(b.delim())
		})
	}
	for _, c := range strings.Fields("de fr es it nl pl ru tr ja ko") {
		regN(4, "dates", "weekday-first-"+c, func(g *gen) File {
			sep := pick(g, ", ", " ")
			b := g.b(bo{lang: c}).time(oneF(func(t time.Time, l *lang) string {
				return weekdays[c][t.Weekday()] + sep + t.Format(l.DMY+" 15:04")
			})).glucose("head")
			return b.csv(b.delim())
		})
	}
	reg("dates", "weekday-own-column", func(g *gen) File {
		c := pick(g, "de", "fr", "es", "it", "nl", "pl", "ru")
		b := g.b(bo{lang: c})
		b.add("", func(l *line) string { return weekdays[c][l.p.t.Weekday()] }).time(twoFor(b.L)).glucose("head")
		return b.csv(b.delim())
	})

	// ---- the half of the day
	for _, c := range strings.Fields("en es el ko ja zh zt hi ar fa vi hu tr cs bn ta") {
		regN(4, "halfday", "half-word-"+c, func(g *gen) File {
			before := c == "ko" || c == "ja" || c == "zh" || c == "zt" || c == "hu"
			b := g.b(bo{lang: c}).time(nF(func(l *lang) []string { return []string{l.Date, l.Time} }, func(t time.Time, l *lang) []string {
				k := t.Format("3:04") + " " + half(t, l)
				if before {
					k = half(t, l) + " " + t.Format("3:04")
				}
				return []string{t.Format(l.DMY), k}
			})).glucose("head")
			return b.csv(b.delim())
		})
	}
	for _, c := range strings.Fields("en el ko ar zh") {
		regN(5, "halfday", "half-own-column-"+c, func(g *gen) File {
			o := g.IntN(2)
			b := g.b(bo{lang: c}).time(nF(func(l *lang) []string { return []string{l.Date, l.Time, ""} }, func(t time.Time, l *lang) []string {
				return []string{t.Format(l.DMY), t.Format("03:04"), half(t, l)}
			})).glucose("head")
			if o == 1 {
				b.order(0, 2, 1, 3)
			}
			return b.csv(b.delim())
		})
	}
	reg("halfday", "half-letter-column", func(g *gen) File {
		b := g.b(bo{}).time(nF(func(l *lang) []string { return []string{"Date", "Time", "A/P"} }, func(t time.Time, l *lang) []string {
			return []string{t.Format("2006-01-02"), t.Format("3:04"), strings.ToUpper(half(t, l)[:1])}
		})).glucose("head")
		return b.csv(b.delim())
	})
	reg("halfday", "half-narrow-space", func(g *gen) File {
		sp := pick(g, "\u202f", "\u00a0", "\u2009")
		b := g.b(bo{}).time(oneF(func(t time.Time, l *lang) string { return t.Format("02/01/2006, 3:04:05") + sp + t.Format("pm") })).glucose("head")
		return b.csv(pick(g, ";", "\t"))
	})
	reg("halfday", "half-marks-lost", func(g *gen) File {
		b := g.b(bo{}).time(oneF(func(t time.Time, l *lang) string { return t.Format("2006-01-02 03:04") })).glucose("head")
		return b.refuse("twelve-hour clock whose half-day marks are lost: each time stands twice a day").csv(b.delim())
	})

	// ---- digits and spaces
	for _, x := range []struct {
		n, c string
		z    rune
		dec  string
	}{{"full-width", "ja", '０', "．"}, {"arabic", "ar", '٠', "٫"}, {"persian", "fa", '۰', "٫"}, {"devanagari", "hi", '०', "."}, {"bengali", "bn", '০', "."}, {"thai", "th", '๐', "."}, {"tamil", "ta", '௦', "."}} {
		regN(5, "digits", "digits-"+x.n, func(g *gen) File {
			d := digits(x.z)
			b := g.b(bo{lang: x.c})
			b.time(mapped(twoFor(b.L), d))
			b.wrap = func(s string) string { return d(strings.Replace(s, ".", x.dec, 1)) }
			return b.glucose("head").csv(pick(g, ",", ";", "\t"))
		})
	}
	reg("digits", "digits-full-width-all-marks", func(g *gen) File {
		fw := func(s string) string {
			return strings.Map(func(r rune) rune {
				if r > ' ' && r < 0x7f {
					return r + 0xfee0
				}
				return r
			}, s)
		}
		b := g.b(bo{lang: "ja"}).time(mapped(two("2006/01/02", "15:04"), fw))
		b.wrap = fw
		return b.glucose("head").csv(",")
	})
	for _, x := range []struct{ n, sp string }{{"thin-space", "\u2009"}, {"no-break-space", "\u00a0"}, {"figure-space", "\u2007"}, {"ideographic-space", "\u3000"}} {
		regN(4, "digits", "spaces-"+x.n, func(g *gen) File {
			b := g.b(bo{}).time(mapped(iso, func(s string) string { return strings.ReplaceAll(s, " ", x.sp) }))
			b.wrap = func(s string) string { return s + x.sp + b.unit }
			return b.glucose("none").csv(pick(g, ",", ";", "\t"))
		})
	}
	reg("digits", "direction-marks", func(g *gen) File {
		b := g.b(bo{lang: pick(g, "ar", "he")}).time(mapped(iso, func(s string) string { return "\u200e" + s + "\u200e" }))
		b.wrap = func(s string) string { return "\u200e" + s }
		return b.glucose("head").csv(",")
	})
}
