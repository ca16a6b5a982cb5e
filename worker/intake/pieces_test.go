package intake_test

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// TestTimesInPieces: forms in which no cell holds a whole time, or no row holds a
// whole record, are read to the same readings as a plain table.
func TestTimesInPieces(t *testing.T) {
	const n = 3 * 96
	_, _, want := toldOf(wearFileOf("time,glucose mmol/L", n, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v }))
	for name, data := range map[string]string{
		"pieces": wearFileOf("year,month,day,hour,minute,glucose mmol/L", n, func(at time.Time, _ int, v string) string { return at.Format("2006,1,2,15,4,") + v }),
		"pieces in German": wearFileOf("Minute;Stunde;Tag;Monat;Jahr;Glukose mmol/l", n, func(at time.Time, _ int, v string) string {
			return at.Format("4;15;2;1;2006;") + strings.Replace(v, ".", ",", 1)
		}),
		"records": wearFileOf("", n, func(at time.Time, _ int, v string) string {
			return "Time: " + at.Format(minutes) + "\nGlucose: " + v + " mmol/L\n"
		}),
		"log": wearFileOf("", n, func(at time.Time, _ int, v string) string {
			return at.Format("2006-01-02 15:04:05") + " glucose=" + v + " unit=mmol/L"
		}),
		"week dates": wearFileOf("time,glucose mmol/L", n, func(at time.Time, _ int, v string) string {
			y, w := at.ISOWeek()
			return fmt.Sprintf("%d-W%02d-%d %s,%s", y, w, (int(at.Weekday())+6)%7+1, at.Format("15:04"), v)
		}),
		"days of the year": wearFileOf("time,glucose mmol/L", n, func(at time.Time, _ int, v string) string { return at.Format("2006-002 15:04") + "," + v }),
		"names and rows": `{"columns":["time","glucose mmol/L"],"rows":[` + strings.TrimSuffix(wearFileOf("", n, func(at time.Time, _ int, v string) string {
			return fmt.Sprintf("[%q,%s],", at.Format(minutes), v)
		}), ",\n") + "]}",
	} {
		_, asked, res := toldOf(data)
		if asked || len(res.Readings) != n {
			t.Errorf("%s: %d readings, questions %+v, refusal %+v", name, len(res.Readings), res.Questions, res.Refusal)
			continue
		}
		for i, r := range res.Readings {
			if w := want.Readings[i]; r != w {
				t.Errorf("%s: reading %d is %+v, want %+v", name, i, r, w)
				break
			}
		}
		if len(res.Events) > 0 || !res.Account.Balanced() {
			t.Errorf("%s: events %v, account %+v", name, res.Events, res.Account)
		}
	}
}

// TestHeadingWithANumber: "Glucose 2" over a few cells is a name, not the number 2.
func TestHeadingWithANumber(t *testing.T) {
	_, asked, res := toldOf(wearFileOf("Time,Glucose,Meal,Glucose 2", 3*96, func(at time.Time, i int, v string) string {
		return at.Format(minutes) + "," + v + ",," + ifThen(i == 100, v, "")
	}))
	for _, q := range res.Questions {
		if strings.HasPrefix(q.Code, "said") || strings.Contains(q.Text, "column 4?") {
			t.Errorf("the heading was lost: %+v", q)
		}
	}
	if !asked && len(res.Readings) != 3*96 {
		t.Errorf("%d readings", len(res.Readings))
	}
}
