package intake_test

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// TestTimesInOtherOrders: words, marks and the order of date and clock change nothing
// of what a file says.
func TestTimesInOtherOrders(t *testing.T) {
	klo := func(at time.Time) string { return fmt.Sprintf("%d.%02d", at.Hour(), at.Minute()) }
	for name, data := range map[string]string{
		"a word before a clock with a point": wearFileOf("Aika;Glukoosi mmol/l", 3*96, func(at time.Time, _ int, v string) string {
			return at.Format("2.1.2006") + " klo " + klo(at) + ";" + strings.Replace(v, ".", ",", 1)
		}),
		"a comma before the clock": wearFileOf("დრო;glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string {
			return fmt.Sprintf("%d მარტი 2026, %s;%s", at.Day(), at.Format("15:04"), strings.Replace(v, ".", ",", 1))
		}),
		"the clock before the weekday": wearFileOf("when,glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string {
			return at.Format("3:04 ") + ifThen(at.Hour() < 12, "a.m.", "p.m.") + at.Format(" Monday 2 January 2006") + "," + v
		}),
		"halves of the day in Hindi": wearFileOf("समय,glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string {
			return at.Format("02-01-2006 03:04 ") + ifThen(at.Hour() < 12, "पूर्वाह्न", "अपराह्न") + "," + v
		}),
		"a raised point": wearFileOf("when,glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string {
			return at.Format(minutes) + "," + strings.Replace(v, ".", "·", 1)
		}),
		"cells of one name": "<sheet><line><c>time</c><c>glucose mmol/L</c></line>" + wearFileOf("", 3*96, func(at time.Time, _ int, v string) string {
			return "<line><c>" + at.Format(minutes) + "</c><c>" + v + "</c></line>"
		}) + "</sheet>",
	} {
		asked, res := answeredWith(data, nil)
		if len(asked) > 0 || res.Refusal != nil || len(res.Readings) != 3*96 {
			t.Errorf("%s: asked %q, %+v, %d readings", name, asked, res.Refusal, len(res.Readings))
			continue
		}
		_, want := answeredWith(wearFileOf("time,glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v }), nil)
		for i, r := range res.Readings {
			if w := want.Readings[i]; r.At != w.At || r.Native() != w.Native() {
				t.Errorf("%s: reading %d is %v at %d, want %v at %d", name, i, r.Native(), r.At, w.Native(), w.At)
				break
			}
		}
	}
}
