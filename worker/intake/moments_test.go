package intake_test

import (
	"fmt"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// TestALineWithItsOwnTime: words among the rows that state a time have it, and
// those that state none or two have none.
func TestALineWithItsOwnTime(t *testing.T) {
	zone, _ := time.LoadLocation("Australia/Sydney")
	for line, want := range map[string]string{
		"# 2026-03-03 12:05 finger 3.9 dizzy":          "2026-03-03 12:05",
		"# dizzy, 3 March 2026 12:05":                  "2026-03-03 12:05",
		"# dizzy (03/03/2026 12:05)":                   "2026-03-03 12:05",
		"# dizzy 2026-03-03T01:05Z":                    "2026-03-03 12:05",
		"# dizzy 2026-03-03 12:05 to 2026-03-03 13:00": "",
		"# dizzy at noon":                              "",
		"# dizzy 2020-03-03 12:05":                     "",
	} {
		data := wearFileOf("time,glucose mmol/L", 3*96, func(at time.Time, i int, v string) string {
			return ifThen(i == 10, line+"\n", "") + at.Format(minutes) + "," + v
		})
		res := intake.Read([]byte(data), intake.Options{Zone: zone, Now: now, Answers: map[string]string{"blocks": "same"}})
		got := "lost"
		for _, e := range res.Events {
			if e.Label == line || e.Label != "" && e.Label[:3] == line[:3] {
				got = time.Unix(e.At, 0).In(zone).Format(minutes)
				if e.Kind == wear.Undated {
					got = ""
				}
			}
		}
		if got != want || !res.Account.Balanced() {
			t.Errorf("%q: at %q, want %q (%+v %+v %v)", line, got, want, res.Refusal, res.Questions, res.Events)
		}
	}
}

// TestFingersticksWithATimeOfTheirOwn: a second column of times can be said to be
// that of the fingersticks, which then have it.
func TestFingersticksWithATimeOfTheirOwn(t *testing.T) {
	data := wearFileOf("time,glucose mmol/L,finger time,finger mmol/L", 4*96, func(at time.Time, i int, v string) string {
		return at.Format(minutes) + "," + v + ifThen(i < 4, fmt.Sprintf(",2026-03-0%d 18:07,5.%d", 2+i, i), ",,")
	})
	res := intake.Read([]byte(data), intake.Options{Zone: time.UTC, Now: now})
	if len(res.Questions) != 1 || res.Questions[0].Code != "holds:3" {
		t.Fatalf("%+v %+v", res.Refusal, res.Questions)
	}
	res = intake.Read([]byte(data), intake.Options{Zone: time.UTC, Now: now, Answers: map[string]string{"holds:3": "fingerstick_time"}})
	n := 0
	for _, e := range res.Events {
		if e.Kind == wear.Fingerstick {
			if got, want := time.Unix(e.At, 0).UTC().Format(minutes), fmt.Sprintf("2026-03-0%d 18:07", 2+n); got != want {
				t.Errorf("fingerstick %d at %s, want %s", n, got, want)
			}
			n++
		}
	}
	if n != 4 || !res.Account.Balanced() {
		t.Errorf("%d fingersticks, %+v %+v", n, res.Refusal, res.Questions)
	}
}
