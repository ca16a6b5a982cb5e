package intake_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// truth is what [lines] of [value] say when they are read right: n readings
// from start on, 15 minutes apart.
func truth(n int, start time.Time, u wear.Unit) []wear.Reading {
	list := make([]wear.Reading, n)
	for i := range list {
		num, scale, _ := wear.ParseValue(value(i, u))
		list[i] = wear.Reading{At: start.Add(time.Duration(i) * 15 * time.Minute).Unix(), Num: num, Scale: scale, Unit: u}
	}
	return list
}

// dated writes the time of each row by a layout, with the mmol/L value behind it.
func dated(layout string) func(int, time.Time) string {
	return func(i int, at time.Time) string { return at.Format(layout) + "," + value(i, wear.MmolL) }
}

// TestReadTricky reads files that invite a wrong reading. Each is either filed
// to the digit or held by a question or refusal of the given code; what is
// filed must be the truth however it came about.
func TestReadTricky(t *testing.T) {
	const stop = "stop"
	evening := time.Date(2026, 3, 1, 13, 0, 0, 0, time.UTC)
	unset := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	plain := "time,glucose\n" + lines(60, march, iso)
	for _, c := range []struct {
		name, data string
		truth      []wear.Reading
		codes      string // of the question or refusal that may hold it; "" must be filed
		answer     string // the right one
	}{
		// Times.
		{"afternoon marks lost, year first, half a day", "time,glucose\n" + lines(40, evening, dated("2006-01-02 03:04")), truth(40, evening, wear.MmolL), "half_day", "unknown"},
		{"morning with T, half a day", "time,glucose\n" + lines(40, march.Add(-8*time.Hour), dated("2006-01-02T15:04:05")), truth(40, march.Add(-8*time.Hour), wear.MmolL), "", ""},
		{"clock never set", "time,glucose\n" + lines(300, unset, iso), truth(300, march, wear.MmolL), "clock_reset", stop},
		{"eleventh month in a language that is not known", "time,glucose\n" + lines(200, march.AddDate(0, 8, 0), func(i int, at time.Time) string {
			return at.Format("2 ") + "marraskuu" + at.Format(" 2006 15:04,") + value(i, wear.MmolL)
		}), truth(200, march.AddDate(0, 8, 0), wear.MmolL), "", ""},
		{"sixth month in a language that is not known", "time,glucose\n" + lines(200, march.AddDate(0, 3, 0), func(i int, at time.Time) string {
			return at.Format("2 ") + "Meitheamh" + at.Format(" 2006 15:04,") + value(i, wear.MmolL)
		}), truth(200, march.AddDate(0, 3, 0), wear.MmolL), "no_table", ""},
		{"month name that is short for two", "time,glucose\n" + lines(60, march.AddDate(0, 4, 0), func(i int, at time.Time) string {
			return at.Format("2 ") + "jui" + at.Format(" 2006 15:04,") + value(i, wear.MmolL)
		}), truth(60, march.AddDate(0, 4, 0), wear.MmolL), "no_table", ""},
		{"spreadsheet with other habits", "time,glucose\n" + lines(480, time.Date(2025, 12, 10, 0, 0, 0, 0, time.UTC), func(i int, at time.Time) string {
			if at.Day() <= 12 {
				return fmt.Sprintf("%d-%02d-%02d", at.Year(), at.Day(), at.Month()) + at.Format(" 15:04,") + value(i, wear.MmolL)
			}
			return at.Format("02/01/2006 15:04,") + value(i, wear.MmolL)
		}), truth(480, time.Date(2025, 12, 10, 0, 0, 0, 0, time.UTC), wear.MmolL), "mixed_dates", stop},
		{"zone told above the table", "Report\nTime zone: UTC\n\n" + "time,glucose\n" + lines(60, march, iso), truth(60, march, wear.MmolL), "zone", "utc"},
		{"UTC told in a sentence above", "All times are in UTC\n\n" + "time,glucose\n" + lines(60, march, iso), truth(60, march, wear.MmolL), "zone", "utc"},
		{"place told above the table", "Timezone,Australia/Perth\n\n" + "time,glucose\n" + lines(60, march.Add(8*time.Hour), iso), truth(60, march, wear.MmolL), "zone:Australia/Perth", stop},
		{"zone's name in the heading", "time (AWST),glucose\n" + lines(60, march.Add(8*time.Hour), iso), truth(60, march, wear.MmolL), "zone:AWST", "named"},
		{"offset in the heading", "time [UTC+8],glucose\n" + lines(60, march.Add(8*time.Hour), iso), truth(60, march, wear.MmolL), "zone:UTC+8", "named"},
		{"offset in a column", "time,offset,glucose\n" + lines(60, march.Add(8*time.Hour), func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + ",+08:00," + value(i, wear.MmolL)
		}), truth(60, march, wear.MmolL), "zone:+08:00", "named"},
		{"place in a column", "time,timezone,glucose\n" + lines(60, march.Add(8*time.Hour), func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + ",Australia/Perth," + value(i, wear.MmolL)
		}), truth(60, march, wear.MmolL), "zone:Australia/Perth", stop},
		{"seconds since 1904", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return fmt.Sprint(at.Unix()+2082844800) + "," + value(i, wear.MmolL)
		}), truth(60, march, wear.MmolL), "no_table", ""},

		// Cells.
		{"marks of writing direction", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return "\u200e" + at.Format("2006-01-02 15:04") + "\u200e,\u200f" + value(i, wear.MmolL)
		}), truth(60, march, wear.MmolL), "", ""},
		{"digits of another script", "time,glucose\n" + strings.NewReplacer("0", "०", "1", "१", "2", "२", "3", "३", "4", "४", "5", "५", "6", "६", "7", "७", "8", "८", "9", "९").Replace(lines(60, march, iso)),
			truth(60, march, wear.MmolL), "", ""},
		{"999 for no value", "time,glucose mg/dL\n" + lines(400, march, func(i int, at time.Time) string {
			if i%40 == 11 {
				return at.Format("2006-01-02 15:04,") + "999"
			}
			return at.Format("2006-01-02 15:04,") + value(i, wear.MgdL)
		}), slices.DeleteFunc(truth(400, march, wear.MgdL), func(r wear.Reading) bool { return (r.At-march.Unix())/900%40 == 11 }), "unreadable_rows", "leave_out"},
		{"last number cut", strings.TrimSuffix("time,glucose mg/dL\n"+lines(59, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04,") + fmt.Sprint(95+i%4)
		})+"2026-03-01 23:45,10", "\n"), nil, "cut_short", stop},
		{"last time cut", "glucose,time\n" + lines(59, march, func(i int, at time.Time) string { return value(i, wear.MmolL) + at.Format(",2006-01-02 15:04:05") }) + "5.5,2026-03-01 23:4", nil, "cut_short", ""},
		{"seconds of the last time cut", "glucose,time\n" + lines(59, march, func(i int, at time.Time) string { return value(i, wear.MmolL) + at.Format(",2006-01-02 15:04") + ":30" }) + "5.5,2026-03-01 23:45", nil, "cut_short", ""},
		{"mark of the last time cut", "glucose,time\n" + lines(59, march, func(i int, at time.Time) string { return value(i, wear.MmolL) + at.Format(",2006-01-02 03:04 PM") }) + "5.5,2026-03-01 11:45", nil, "cut_short", ""},

		// Units and decimals.
		{"unit changes without a word", "time,glucose\n" + lines(200, march, func(i int, at time.Time) string {
			if i > 90 {
				return at.Format("2006-01-02 15:04,") + value(i, wear.MgdL)
			}
			return iso(i, at)
		}), nil, "unit", stop},
		{"unit changes against the heading", "time,glucose mmol/L\n" + lines(200, march, func(i int, at time.Time) string {
			if i > 90 {
				return at.Format("2006-01-02 15:04,") + value(i, wear.MgdL)
			}
			return iso(i, at)
		}), nil, "unit", stop},
		{"decimal comma cut in two, with a column behind", "time,glucose,note\n" + lines(60, march, func(i int, at time.Time) string {
			return strings.Replace(iso(i, at), ".", ",", 1) + ","
		}), nil, "decimal_split", ""},
		{"decimal comma cut in two, unit stated", "time,glucose mmol/L,note\n" + lines(60, march, func(i int, at time.Time) string {
			return strings.Replace(iso(i, at), ".", ",", 1) + ",x"
		}), nil, "decimal_split", ""},
		{"decimal comma cut in two, whole numbers between", "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return strings.TrimSuffix(strings.Replace(iso(i, at), ".", ",", 1), ",0")
		}), nil, "decimal_split", ""},

		// Columns.
		{"temperatures of a fridge", "Date/Time,Celsius(°C)\n" + lines(300, march, iso), nil, "no_glucose", ""},
		{"a logger's first channel", "Date/Time,Ch1\n" + lines(300, march, iso), nil, "glucose_column", stop},
		{"sugar in another script", "समय,शर्करा\n" + lines(300, march, iso), truth(300, march, wear.MmolL), "", ""},
		{"a value of what is not known", "time,value\n" + lines(300, march, iso), truth(300, march, wear.MmolL), "glucose_column", "2"},
		{"oxygen saturation", "समय,ऑक्सीजन\n" + lines(300, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04,") + fmt.Sprint(92+i%7)
		}), nil, "glucose_column", stop},
		{"fingersticks under the same word", "time,glucose A,glucose B\n" + lines(300, march, func(i int, at time.Time) string {
			if i%50 == 20 {
				return iso(i, at) + "\n" + at.Add(3*time.Minute).Format("2006-01-02 15:04,,") + "6.1"
			}
			return iso(i, at) + ","
		}), nil, "second_glucose", "fingerstick"},
		{"blood and sensor by record type", "time,type,glucose\n" + lines(300, march, func(i int, at time.Time) string {
			row := at.Format("2006-01-02 15:04,") + "CGM," + value(i, wear.MmolL)
			if i%50 == 20 {
				row += "\n" + at.Add(3*time.Minute).Format("2006-01-02 15:04,") + "BG,6.1"
			}
			return row
		}), nil, "type:BG", "fingerstick"},
		{"entered by hand", "time,glucose,manual glucose\n" + lines(300, march, func(i int, at time.Time) string {
			if i%50 == 20 {
				return iso(i, at) + "\n" + at.Add(3*time.Minute).Format("2006-01-02 15:04,,") + "6.1"
			}
			return iso(i, at) + ","
		}), nil, "second_glucose", "fingerstick"},
		{"calibrations named in a column of events", "time,glucose,event\n" + lines(300, march, func(i int, at time.Time) string {
			if i%50 == 20 {
				return iso(i, at) + ",\n" + at.Add(3*time.Minute).Format("2006-01-02 15:04,") + "6.1,calibration"
			}
			return iso(i, at) + ","
		}), nil, "fingerstick_value", "fingerstick"},
		{"two people by number, one after the other", "नंबर,time,glucose\n" + lines(200, march, func(i int, at time.Time) string {
			return []string{"417,", "518,"}[i/100] + iso(i, at)
		}), nil, "holds:1", "people"},
		{"sentinel words", strings.Replace(plain, ",5.9\n", ",ERR\n", 1), nil, "word:ERR", "ignore"},
	} {
		t.Run(c.name, func(t *testing.T) {
			sydney, err := time.LoadLocation("Australia/Sydney")
			if err != nil {
				t.Fatal(err)
			}
			o := intake.Options{Zone: time.UTC, Now: now, Answers: make(map[string]string)}
			if strings.Contains(c.codes, "zone") {
				o.Zone = sydney
			}
			var asked []string
			for range 4 {
				res := intake.Read([]byte(c.data), o)
				switch {
				case res.Refusal != nil:
					if asked = append(asked, res.Refusal.Code); c.codes == "" || !slices.Contains(asked, c.codes) {
						t.Fatalf("refused after %v, want %q", asked, c.codes)
					}
					return
				case len(res.Questions) == 0:
					if c.codes != "" && !slices.Contains(asked, c.codes) {
						t.Fatalf("filed %d readings of %s from %v after %v, want %q", len(res.Readings), res.Unit, time.Unix(res.Readings[0].At, 0).UTC(), asked, c.codes)
					}
					if c.truth != nil && !slices.Equal(res.Readings, c.truth) {
						t.Fatalf("filed and wrong: first %+v, want %+v", res.Readings[0], c.truth[0])
					}
					return
				}
				for _, q := range res.Questions {
					asked = append(asked, q.Code)
					answer := c.answer
					if q.Code != c.codes && len(c.truth) > 0 && q.Code == "unit" {
						answer = c.truth[0].Unit.String()
					}
					if !slices.ContainsFunc(q.Choices, func(x wear.Choice) bool { return x.Value == answer }) {
						t.Fatalf("%s does not offer %q: %+v", q.Code, answer, q.Choices)
					}
					o.Answers[q.Code] = answer
				}
			}
			t.Fatalf("asked without end: %v", asked)
		})
	}
}
