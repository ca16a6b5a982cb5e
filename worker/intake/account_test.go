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

// curve is a wear of n readings, step apart, in tenths of a mmol/L.
func curve(n int, seed int) []int {
	v, drift, x := 56, 0, uint64(seed)*2654435761+1
	out := make([]int, n)
	for i := range out {
		x = x*6364136223846793005 + 1442695040888963407
		drift = max(-3, min(3, drift+int(x>>33%3)-1+(56-v)/14))
		v = max(38, min(120, v+drift))
		out[i] = v
	}
	return out
}

func tenths(v int) string { return fmt.Sprintf("%d.%d", v/10, v%10) }

// wearFile writes a table of a wear of 14 days at 15 minutes, each row by row.
func wearFile(heading string, row func(i int, at time.Time, v string) string) string {
	return written(heading, 14*96, 1, row)
}

func written(heading string, n, seed int, row func(i int, at time.Time, v string) string) string {
	var b strings.Builder
	if heading != "" {
		b.WriteString(heading + "\n")
	}
	for i, v := range curve(n, seed) {
		at := march.Add(time.Duration(i) * 15 * time.Minute)
		b.WriteString(row(i, at, tenths(v)) + "\n")
	}
	return b.String()
}

const minutes = "2006-01-02 15:04"

func ifThen(ok bool, a, b string) string {
	if ok {
		return a
	}
	return b
}

// TestNothingUnaccounted puts something into a plain file that its reader does
// not know. None may be filed by itself: each must be asked about, and what is
// filed after the true answers must be the truth.
func TestNothingUnaccounted(t *testing.T) {
	cases := []struct {
		name, data string
		answers    map[string]string
		readings   int // after the answers; 0 for a file set aside
		events     int
		people     int
	}{
		{"a section each, named between", wearFile("time,glucose", func(i int, at time.Time, v string) string {
			return ifThen(i == 700, "Zvorn Quibtem\n", "") + at.Format(minutes) + "," + v
		}), map[string]string{"blocks": "people"}, 1344, 0, 2},
		{"a code with a number between", wearFile("time,glucose", func(i int, at time.Time, v string) string {
			return ifThen(i == 700, "Subject,17\n", "") + at.Format(minutes) + "," + v
		}), map[string]string{"blocks": "people"}, 1344, 0, 2},
		{"the table begins anew later", "time,glucose\n" + wearFile("", func(i int, at time.Time, v string) string {
			if i >= 700 {
				at = at.Add(50 * time.Hour)
			}
			return ifThen(i == 700, "time,glucose\n", "") + at.Format(minutes) + "," + v
		}), map[string]string{"blocks": "people"}, 1344, 0, 2},
		{"a person in a column for the instrument", wearFile("device,time,glucose", func(i int, at time.Time, v string) string {
			return ifThen(i < 700, "K1,", "K2,") + at.Format(minutes) + "," + v
		}), map[string]string{"holds:1": "people"}, 1344, 0, 2},
		{"a birth date a person", wearFile("born,time,glucose", func(i int, at time.Time, v string) string {
			return ifThen(i < 700, "1961-02-03,", "1975-08-09,") + at.Format(minutes) + "," + v
		}), map[string]string{"holds:1": "people"}, 1344, 0, 2},
		{"a column a person", wearFile("time,glucose,glucose 2", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + v + "," + tenths(curve(1344, 2)[i])
		}), map[string]string{"glucose_column": "2", "holds:3": "person"}, 2688, 0, 2},
		{"capillary beside the sensor", wearFile("time,glucose,Ququ", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + v + "," + ifThen(i%60 == 7, tenths(curve(1344, 1)[i]+2), "")
		}), map[string]string{"holds:3": "fingerstick"}, 1344, 23, 1},
		{"meals in an unknown language", wearFile("time,glucose,Xqorva", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + v + "," + ifThen(i%60 == 7, "puuro", "")
		}), map[string]string{"holds:3": "meal"}, 1344, 23, 1},
		{"yes and no of symptoms", wearFile("time,glucose,symptom", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + v + "," + ifThen(i%400 == 7, "1", "0")
		}), nil, 1344, 4, 1},
		{"yes and no on half of the rows", wearFile("time,glucose,symptom", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + v + "," + ifThen(i%2 == 1, "ja", "nej")
		}), map[string]string{"holds:3": "aside"}, 1344, 0, 1},
		{"yes and no of fingersticks", wearFile("time,glucose,fingerstick", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + v + "," + ifThen(i%400 == 7, "1", "0")
		}), map[string]string{"holds:3": "kind", "type:0": "automatic", "type:1": "fingerstick"}, 1340, 4, 1},
		{"fingersticks told by a word", wearFile("time,glucose,remark", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + v + "," + ifThen(i%400 == 7, "\n"+at.Add(7*time.Minute).Format(minutes)+",6.9,qorvix", "")
		}), map[string]string{"extras": "fingerstick"}, 1344, 8, 1},
		{"fingersticks told by nothing", wearFile("time,glucose", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + v + ifThen(i%400 == 7, "\n"+at.Add(7*time.Minute).Format(minutes)+",6.9", "")
		}), map[string]string{"extras": "fingerstick"}, 1344, 4, 1},
		{"lactate", wearFile("time,Laktat mmol/L", func(i int, at time.Time, v string) string { return at.Format(minutes) + "," + v }),
			map[string]string{"glucose_column": "stop", "blocks": "stop"}, 0, 0, 0},
		{"pulse without a heading", wearFile("", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + strings.Replace(v, ".", "", 1)
		}), map[string]string{"glucose_column": "stop", "unit": "stop"}, 0, 0, 0},
		{"another substance beside", wearFile("time,glucose mmol/L,urea mmol/L", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + v + "," + tenths(curve(1344, 3)[i])
		}), map[string]string{"glucose_column": "2", "holds:3": "aside"}, 1344, 0, 1},
		{"hourly figures", wearFile("time,glucose", func(i int, at time.Time, v string) string {
			return march.Add(time.Duration(i)*time.Hour).Format(minutes) + "," + v
		}), map[string]string{"cadence": "stop"}, 0, 0, 0},
		{"averages", wearFile("time,glucose", func(i int, at time.Time, v string) string {
			return at.Format(minutes) + "," + fmt.Sprintf("%s%d%d", v, i*7%10, i*3%10)
		}), map[string]string{"averages": "stop"}, 0, 0, 0},
		{"year, day, month", written("time,glucose", 1000, 1, func(i int, at time.Time, v string) string {
			return fmt.Sprintf("%d-%02d-%02d %s", at.Year(), at.Day(), at.Month(), at.Format("15:04")) + "," + v
		}), nil, 1000, 0, 1},
		{"readings of another table above", "meter,value\n" + lines(6, march, func(i int, at time.Time) string { return at.Format(minutes) + ",5.9,strip" }) + "\n" +
			wearFile("time,glucose", func(i int, at time.Time, v string) string { return at.Format(minutes) + "," + v }), map[string]string{"glucose_column": "stop", "blocks": "stop"}, 0, 0, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			o := intake.Options{Zone: time.UTC, Now: now, Answers: map[string]string{}}
			res := intake.Read([]byte(c.data), o)
			if c.answers == nil != (len(res.Questions) == 0 && res.Refusal == nil) {
				t.Fatalf("filed %d readings and %d events by itself; refusal %+v", len(res.Readings), len(res.Events), res.Refusal)
			}
			for range 5 {
				for _, q := range res.Questions {
					answer, known := c.answers[q.Code]
					if !known || !slices.ContainsFunc(q.Choices, func(x wear.Choice) bool { return x.Value == answer }) {
						t.Fatalf("asked %s (%s); choices %+v", q.Code, q.Text, q.Choices)
					}
					o.Answers[q.Code] = answer
				}
				res = intake.Read([]byte(c.data), o)
			}
			people := res.People
			if len(people) == 0 && len(res.Readings) > 0 {
				people = []intake.Person{{Readings: res.Readings, Events: res.Events}}
			}
			readings, events := 0, 0
			for _, p := range people {
				readings, events = readings+len(p.Readings), events+len(p.Events)
			}
			if readings != c.readings || events != c.events || len(people) != c.people {
				t.Errorf("%d people, %d readings and %d events, want %d, %d and %d; refusal %+v, questions %+v", len(people), readings, events, c.people, c.readings, c.events, res.Refusal, res.Questions)
			}
			if res.Refusal == nil && (!res.Account.Balanced() || res.Account.Cells == 0) {
				t.Errorf("the account does not balance: %+v", res.Account)
			}
		})
	}
}
