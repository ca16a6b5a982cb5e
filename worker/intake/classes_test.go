package intake_test

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// mmol and mgdl are 60 plausible values each, 15 minutes apart in the files
// made from them.
func value(i int, u wear.Unit) string {
	v := 52 + (i*7)%31 // 5.2 to 8.2 mmol/L in tenths
	if u == wear.MgdL {
		return fmt.Sprint(v * 18 / 10)
	}
	return fmt.Sprintf("%d.%d", v/10, v%10)
}

// lines makes n rows from start, 15 minutes apart, with row giving the text.
func lines(n int, start time.Time, row func(i int, at time.Time) string) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(row(i, start.Add(time.Duration(i)*15*time.Minute)) + "\n")
	}
	return b.String()
}

var march = time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)

func iso(i int, at time.Time) string {
	return at.Format("2006-01-02 15:04") + "," + value(i, wear.MmolL)
}

func utf16le(s string) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return string(b)
}

func gz(s string) string {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	w.Write([]byte(s))
	w.Close()
	return b.String()
}

func zipped(files ...string) string {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		f, _ := w.Create(files[i])
		f.Write([]byte(files[i+1]))
	}
	w.Close()
	return b.String()
}

// TestReadFiles checks files that must be filed without a question, by their
// first and last reading and their count.
func TestReadFiles(t *testing.T) {
	plain := "time,glucose\n" + lines(60, march, iso)
	filed := []struct {
		name, data  string
		first, last string // time in UTC and text
		n           int
		unit        wear.Unit
	}{
		{"plain", plain, "", "", 60, wear.MmolL},
		{"BOM", "\xef\xbb\xbf" + plain, "", "", 60, wear.MmolL},
		{"UTF-16 with BOM", "\xff\xfe" + utf16le(plain), "", "", 60, wear.MmolL},
		{"UTF-16 without BOM", utf16le(plain), "", "", 60, wear.MmolL},
		{"Windows-1252 preamble", "Ger\xe4t;X\n\n" + strings.ReplaceAll(plain, ",", ";"), "", "", 60, wear.MmolL},
		{"CRLF", strings.ReplaceAll(plain, "\n", "\r\n"), "", "", 60, wear.MmolL},
		{"lone CR", strings.ReplaceAll(plain, "\n", "\r"), "", "", 60, wear.MmolL},
		{"gzip", gz(plain), "", "", 60, wear.MmolL},
		{"zip with clutter", zipped("a/table.csv", plain, "__x/.hidden", "junk"), "", "", 60, wear.MmolL},
		{"semicolon and decimal comma", strings.NewReplacer(",", ";", ".", ",").Replace(plain), "", "", 60, wear.MmolL},
		{"tab", strings.ReplaceAll(plain, ",", "\t"), "", "", 60, wear.MmolL},
		{"bar", strings.ReplaceAll(plain, ",", " | "), "", "", 60, wear.MmolL},
		{"quoted decimal comma", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format(`"2006-01-02 15:04"`) + `,"` + strings.Replace(value(i, wear.MmolL), ".", ",", 1) + `"`
		}), "", "", 60, wear.MmolL},
		{"no heading but a line that names glucose", "Glucose of two weeks\n" + lines(60, march, iso), "", "", 60, wear.MmolL},
		{"mixed decimal marks", "time;glucose\n" + lines(60, march, func(i int, at time.Time) string {
			v := value(i, wear.MmolL)
			if i%3 == 0 {
				v = strings.Replace(v, ".", ",", 1)
			}
			return at.Format("2006-01-02 15:04") + ";" + v
		}), "", "", 60, wear.MmolL},
		{"other script", "समय,शर्करा\n" + lines(60, march, iso), "", "", 60, wear.MmolL},
		{"heading again", "time,glucose\n" + lines(30, march, iso) + "time,glucose\n" + lines(30, march.Add(450*time.Minute), func(i int, at time.Time) string { return iso(i+30, at) }), "", "", 60, wear.MmolL},
		{"preamble like a reading", "Report,2026-03-01 09:00,5.5\nserial,time,glucose\n" + lines(60, march, func(i int, at time.Time) string { return "K77," + iso(i, at) }), "", "", 60, wear.MmolL},
		{"total", plain + "Average,6.1\n", "", "", 60, wear.MmolL},
		{"day first, decided by number", "Datum;Glukose mmol/L\n" + lines(200, march.AddDate(0, 0, 11), func(i int, at time.Time) string {
			return at.Format("02/01/2006 15:04") + ";" + value(i, wear.MmolL)
		}), "2026-03-12T09:00", "", 200, wear.MmolL},
		{"month first, decided by continuity", "time,glucose\n" + lines(300, march.AddDate(0, 0, 2), func(i int, at time.Time) string {
			return at.Format("01/02/2006 15:04") + "," + value(i, wear.MmolL)
		}), "2026-03-03T09:00", "", 300, wear.MmolL},
		{"day first, decided by continuity", "time,glucose\n" + lines(300, march.AddDate(0, 0, 2), func(i int, at time.Time) string {
			return at.Format("2.1.06 15:04") + "," + value(i, wear.MmolL)
		}), "2026-03-03T09:00", "", 300, wear.MmolL},
		{"named month", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2 Jan 2006 15:04:05") + "," + value(i, wear.MmolL)
		}), "", "", 60, wear.MmolL},
		{"12 hours and narrow space", "time,glucose\n" + lines(200, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 3:04\u202fPM") + "," + value(i, wear.MmolL)
		}), "", "", 200, wear.MmolL},
		{"12 hours with dots", "time,glucose\n" + lines(200, march, func(i int, at time.Time) string {
			return strings.NewReplacer("am", "a. m.", "pm", "p. m.").Replace(at.Format("02/01/2006 03:04:05 pm")) + "," + value(i, wear.MmolL)
		}), "", "", 200, wear.MmolL},
		{"date and clock apart", "date,time,glucose\n" + lines(200, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02,15:04") + "," + value(i, wear.MmolL)
		}), "", "", 200, wear.MmolL},
		{"date once a day", "date,time,glucose\n" + lines(200, march, func(i int, at time.Time) string {
			day := at.Format("2006-01-02")
			if i > 0 && at.Hour()*60+at.Minute() >= 15 {
				day = ""
			}
			return day + at.Format(",15:04") + "," + value(i, wear.MmolL)
		}), "", "", 200, wear.MmolL},
		{"offset", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Add(11*time.Hour).Format("2006-01-02T15:04:05") + "+11:00," + value(i, wear.MmolL)
		}), "", "", 60, wear.MmolL},
		{"zulu with fraction", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02T15:04:05.000Z") + "," + value(i, wear.MmolL)
		}), "", "", 60, wear.MmolL},
		{"time of the export in each row", "made,time,glucose\n" + lines(60, march, func(i int, at time.Time) string { return "2026-11-20 10:00," + iso(i, at) }), "", "", 60, wear.MmolL},
		{"epoch seconds beside a serial", "nr,time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return fmt.Sprintf("1234567890,%d,%s", at.Unix(), value(i, wear.MmolL))
		}), "", "", 60, wear.MmolL},
		{"epoch milliseconds", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return fmt.Sprintf("%d,%s", at.UnixMilli(), value(i, wear.MmolL))
		}), "", "", 60, wear.MmolL},
		{"compact", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("20060102150405") + "," + value(i, wear.MmolL)
		}), "", "", 60, wear.MmolL},
		{"mg/dL by values", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + "," + value(i, wear.MgdL)
		}), "", "", 60, wear.MgdL},
		{"newest first", "time,glucose\n" + func() string {
			l := strings.Split(strings.TrimSpace(lines(60, march, iso)), "\n")
			for i, j := 0, len(l)-1; i < j; i, j = i+1, j-1 {
				l[i], l[j] = l[j], l[i]
			}
			return strings.Join(l, "\n") + "\n"
		}(), "2026-03-01T23:45", "2026-03-01T09:00", 60, wear.MmolL},
		{"unit column", "time,glucose,unit\n" + lines(60, march, func(i int, at time.Time) string { return iso(i, at) + ",mmol/L" }), "", "", 60, wear.MmolL},
		{"both units", "time,glucose mmol/L,glucose mg/dL\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + fmt.Sprintf(",%.1f,%d", float64(90+i)/18.0156, 90+i)
		}), "", "", 60, wear.MgdL},
	}
	for _, c := range filed {
		t.Run(c.name, func(t *testing.T) {
			res := intake.Read([]byte(c.data), intake.Options{Zone: time.UTC, Now: now})
			if res.Refusal != nil || len(res.Questions) > 0 {
				t.Fatalf("refusal %+v, questions %+v", res.Refusal, res.Questions)
			}
			if len(res.Readings) != c.n || res.Unit != c.unit {
				t.Fatalf("%d readings in %v, want %d in %v; %v", len(res.Readings), res.Unit, c.n, c.unit, res.Ignored)
			}
			first, last := c.first, c.last
			if first == "" {
				first = "2026-03-01T09:00"
			}
			if got := time.Unix(res.Readings[0].At, 0).UTC().Format("2006-01-02T15:04"); got != first {
				t.Errorf("first reading at %s, want %s", got, first)
			}
			if got := time.Unix(res.Readings[c.n-1].At, 0).UTC().Format("2006-01-02T15:04"); last != "" && got != last {
				t.Errorf("last reading at %s, want %s", got, last)
			}
			if res.Rows != len(res.Readings)+res.Skipped {
				t.Errorf("%d rows, %d readings and %d skipped do not add up", res.Rows, len(res.Readings), res.Skipped)
			}
		})
	}
}

// TestReadHeld checks files that must wait for a person: the question's code,
// and what follows from an answer.
func TestReadHeld(t *testing.T) {
	held := []struct {
		name, data, code, answer string
		unit                     wear.Unit // after the answer
		n                        int       // readings after the answer, 0 for a refusal
	}{
		{"one day, both orders", "time,glucose\n" + lines(60, time.Date(2026, 4, 3, 9, 0, 0, 0, time.UTC), func(i int, at time.Time) string {
			return at.Format("02/01/2006 15:04") + "," + value(i, wear.MmolL)
		}), "day_order", "day_month_year", wear.MmolL, 60},
		{"unit against heading", "time,glucose mg/dL\n" + lines(60, march, iso), "unit", "mmol/L", wear.MmolL, 60},
		{"only the heading knows", "time,glucose mmol/L\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + fmt.Sprintf(",%d", 4+i%5)
		}), "unit", "mmol/L", wear.MmolL, 60},
		{"whole numbers of no stated unit", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + fmt.Sprintf(",%d", 20+i%5)
		}), "unit", "mg/dL", wear.MgdL, 60},
		{"no heading", lines(60, march, iso), "glucose_column", "2", wear.MmolL, 60},
		{"lost decimal mark", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + "," + strings.Replace(value(i, wear.MmolL), ".", "", 1)
		}), "unit", "decimal_lost", wear.UnitUnknown, 0},
		{"lost decimal mark, stated", "time,glucose mmol/L\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + "," + strings.Replace(value(i, wear.MmolL), ".", "", 1)
		}), "unit", "mg/dL", wear.MgdL, 60},
		{"unknown word", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			if i == 7 {
				return at.Format("2006-01-02 15:04") + ",blorp"
			}
			return iso(i, at)
		}), "word:blorp", "below", wear.MmolL, 60},
		{"two dense columns", "time,one,two\n" + lines(60, march, func(i int, at time.Time) string { return iso(i, at) + "," + value(i+3, wear.MmolL) }), "glucose_column", "none", wear.MmolL, 0},
		{"hours to 12 only", "time,glucose\n" + lines(8, march, func(i int, at time.Time) string {
			return "13/03/2026 " + at.Format("15:04") + "," + value(i, wear.MmolL)
		}), "half_day", "24h", wear.MmolL, 8},
		{"too many bad rows", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			if i%20 == 5 {
				return "oops," + value(i, wear.MmolL)
			}
			return iso(i, at)
		}), "blocks", "same", wear.MmolL, 57},
		{"thousands mark", "time;glucose\n" + lines(60, march, func(i int, at time.Time) string {
			v := value(i, wear.MmolL)
			if i == 9 {
				v = "1.234"
			}
			return at.Format("2006-01-02 15:04") + ";" + strings.Replace(v, ".", ",", 1)
		}), "unreadable_rows", "leave_out", wear.MmolL, 59},
		{"UTC in the heading", "time (UTC),glucose\n" + lines(60, march, iso), "zone", "utc", wear.MmolL, 60},
		{"two sensors", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return iso(i, at) + "\n" + at.Add(4*time.Minute).Format("2006-01-02 15:04") + "," + value(i+3, wear.MmolL)
		}), "two_series", "stop", wear.UnitUnknown, 0},
		{"not on the clock", "time,glucose\n" + lines(40, march, func(i int, at time.Time) string {
			return iso(i, march.Add(time.Duration(i*i*7)*time.Minute))
		}), "cadence", "stop", wear.UnitUnknown, 0},
		{"two clocks", "device time,other time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04,") + at.Add(11*time.Hour).Format("2006-01-02 15:04,") + value(i, wear.MmolL)
		}), "time_column", "2", wear.MmolL, 60},
		{"fingersticks without a column", "time,glucose,event\n" + lines(60, march, func(i int, at time.Time) string {
			if i == 9 || i == 30 {
				return iso(i, at) + ",fingerstick"
			}
			return iso(i, at) + ","
		}), "fingerstick_value", "fingerstick", wear.MmolL, 58},
		{"unknown column in blocks", "qx,time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return []string{"QX1", "QX2"}[i/30] + "," + iso(i, at)
		}), "holds:1", "aside", wear.MmolL, 60},
		{"fingersticks or on demand", "time,glucose,\n" + lines(100, march, func(i int, at time.Time) string {
			if i%25 == 3 {
				return at.Format("2006-01-02 15:04") + ",," + value(i, wear.MmolL)
			}
			return iso(i, at) + ","
		}), "second_glucose", "on_demand", wear.MmolL, 100},
		{"clock reset", "time,glucose\n" + lines(60, march, iso) + lines(5, time.Date(2010, 1, 1, 0, 0, 0, 0, time.UTC), iso) + lines(60, march.Add(17*time.Hour), iso), "clock_reset:2", "after", wear.MmolL, 125},
	}
	for _, c := range held {
		t.Run(c.name, func(t *testing.T) {
			o := intake.Options{Zone: time.UTC, Now: now}
			res := intake.Read([]byte(c.data), o)
			if res.Refusal != nil || len(res.Questions) != 1 || res.Questions[0].Code != c.code {
				t.Fatalf("refusal %+v, questions %+v, want %s", res.Refusal, res.Questions, c.code)
			}
			if len(res.Readings) > 0 {
				t.Error("a held file must not give readings")
			}
			q := res.Questions[0]
			for _, choice := range q.Choices {
				if choice.Value == "" || choice.Text == "" || choice.Effect == "" {
					t.Errorf("choice %+v is not complete", choice)
				}
			}
			o.Answers = map[string]string{c.code: "no such choice"}
			if again := intake.Read([]byte(c.data), o); len(again.Questions) != 1 {
				t.Errorf("an answer that is no choice gave %+v", again.Questions)
			}
			o.Answers = map[string]string{c.code: c.answer}
			res = intake.Read([]byte(c.data), o)
			if c.n == 0 {
				if res.Refusal == nil {
					t.Fatalf("the answer %s gave questions %+v and %d readings, want a refusal", c.answer, res.Questions, len(res.Readings))
				}
				return
			}
			if res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) != c.n || res.Unit != c.unit {
				t.Fatalf("after the answer: refusal %+v, questions %+v, %d readings in %v", res.Refusal, res.Questions, len(res.Readings), res.Unit)
			}
			byPerson := false
			for _, d := range res.Decisions {
				byPerson = byPerson || d.Code == c.code && d.By == "person" && d.Answer == c.answer
			}
			if !byPerson {
				t.Errorf("no decision by a person in %+v", res.Decisions)
			}
		})
	}
}

func TestReadRefused(t *testing.T) {
	plain := "time,glucose\n" + lines(60, march, iso)
	for _, c := range []struct{ name, data, code string }{
		{"nothing", "", "empty"},
		{"spaces", " \r\n\n", "empty"},
		{"heading only", "time,glucose mmol/L\n", "no_readings"},
		{"blank glucose", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string { return at.Format("2006-01-02 15:04") + "," }), "no_readings"},
		{"on-demand rows only", "time,scan glucose\n" + lines(60, march, iso), "no_readings"},
		{"zeros", "\x00\x01\x02\x03\x00\x00\x00", "binary"},
		{"PDF", "%PDF-1.7\n", "pdf"},
		{"picture", "\x89PNG\r\n\x1a\n", "image"},
		{"web page", "<!doctype html><html><body>Sign in</body></html>", "html"},
		{"XML", "<?xml version=\"1.0\"?><a/>", "xml"},
		{"JSON list", "[\n  {\"a\": 1}\n]", "json"},
		{"old workbook", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "workbook_old"},
		{"workbook", zipped("[Content_Types].xml", "<a/>", "xl/workbook.xml", "<a/>"), "workbook"},
		{"written document", zipped("[Content_Types].xml", "<a/>", "word/document.xml", "<a/>"), "document"},
		{"two tables in a zip", zipped("a.csv", plain, "b.pdf", "%PDF-1.7"), "zip_several"},
		{"zip in a zip", zipped("a.zip", zipped("a.csv", plain)), "zip_nested"},
		{"half a gzip", gz(plain)[:200], "cut_short"},
		{"half a zip", zipped("a.csv", plain)[:200], "zip_damaged"},
		{"bomb", gz(strings.Repeat("0", 70<<20)), "too_big"},
		{"prose", "Dear all, please find the readings below.\n", "no_table"},
		{"cut in a row", "time,glucose,unit\n" + strings.TrimSuffix(lines(60, march, func(i int, at time.Time) string { return iso(i, at) + ",mmol/L" }), ",mmol/L\n"), "cut_short"},
		{"cut in a number", strings.TrimSuffix(plain, "2\n"), "cut_short"},
		{"open quote", "time,glucose,note\n" + lines(20, march, func(i int, at time.Time) string { return iso(i, at) + "," }) + "2026-03-01 14:00,5.5,\"felt\n" + lines(60, march, iso), "open_quote"},
		{"many people", "subject,time,glucose\n" + lines(60, march, func(i int, at time.Time) string { return fmt.Sprintf("P%d,", i/4) + iso(i, at) }), "several_people"},
		{"no glucose", "time,heart rate\n" + lines(60, march, func(i int, at time.Time) string { return at.Format("2006-01-02 15:04") + fmt.Sprintf(",%d", 60+i) }), "no_glucose"},
		{"no clock", "date,glucose\n" + lines(60, march, func(i int, at time.Time) string { return at.Format("2006-01-02") + "," + value(i, wear.MmolL) }), "no_clock"},
		{"am and pm lost", "time,glucose\n" + lines(200, march.AddDate(0, 0, 12), func(i int, at time.Time) string { return at.Format("02/01/2006 03:04") + "," + value(i, wear.MmolL) }), "clock_marks_lost"},
		{"am and pm lost, year first", "time,glucose\n" + lines(200, march, func(i int, at time.Time) string { return at.Format("2006-01-02 03:04") + "," + value(i, wear.MmolL) }), "clock_marks_lost"},
		{"decimal comma cut in two", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string { return strings.Replace(iso(i, at), ".", ",", 1) }), "decimal_split"},
		{"digits of the time lost", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string { return "1.77241E+12," + value(i, wear.MmolL) }), "time_digits_lost"},
		{"day numbers cut short", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string { return fmt.Sprintf("46082.%02d,%s", 38+i, value(i, wear.MmolL)) }), "time_digits_lost"},
		{"dates once a day, out of order", "date,time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return []string{"2026-03-01", "", ""}[min(i, 2)] + fmt.Sprintf(",%02d:%02d,", (i*7)%24, i) + value(i, wear.MmolL)
		}), "date_missing"},
		{"long line", "time,glucose\n" + strings.Repeat("x", 2<<20), "too_big"},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := intake.Read([]byte(c.data), intake.Options{Zone: time.UTC, Now: now})
			if res.Refusal == nil || res.Refusal.Code != c.code {
				t.Fatalf("refusal %+v, questions %+v, %d readings; want %s", res.Refusal, res.Questions, len(res.Readings), c.code)
			}
			if res.Refusal.Text == "" || res.Refusal.ToDo == "" || len(res.Readings) > 0 {
				t.Errorf("%+v must say what to do and give no readings", res.Refusal)
			}
		})
	}
}
