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

// Across a change of the hour, every reading must land on its true instant,
// whether the clock was changed with the zone or never.
func TestReadClockChange(t *testing.T) {
	for _, zoneName := range []string{"Australia/Sydney", "Europe/Berlin", "America/New_York", "Australia/Lord_Howe"} {
		zone, err := time.LoadLocation(zoneName)
		if err != nil {
			t.Fatal(err)
		}
		_, change := time.Date(2026, 1, 1, 0, 0, 0, 0, zone).ZoneBounds()
		for range 2 { // one change back and one forward
			for _, step := range []time.Duration{5 * time.Minute, 15 * time.Minute} {
				for _, changed := range []bool{true, false} {
					for _, newest := range []bool{false, true} {
						name := fmt.Sprintf("%s %s %s changed %v newest first %v", zoneName, change.Format("2 January"), step, changed, newest)
						_, before := change.Add(-time.Hour).Zone()
						wall := zone
						if !changed {
							wall = time.FixedZone("", before)
						}
						var rows []string
						var want []int64
						for i := range 500 {
							at := change.Add(-30 * time.Hour).Add(time.Duration(i)*step + 7*time.Second)
							rows = append(rows, at.In(wall).Format("2006-01-02 15:04:05")+","+value(i, wear.MmolL))
							want = append(want, at.Unix())
						}
						if newest {
							slices.Reverse(rows)
							slices.Reverse(want)
						}
						res := intake.Read([]byte("time,glucose\n"+strings.Join(rows, "\n")+"\n"), intake.Options{Zone: zone, Now: now.AddDate(1, 0, 0)})
						if res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) != len(want) {
							t.Errorf("%s: refusal %+v, questions %+v", name, res.Refusal, res.Questions)
							continue
						}
						for i, r := range res.Readings {
							if r.At != want[i] {
								t.Errorf("%s: reading %d is %d s off", name, i, r.At-want[i])
								break
							}
						}
					}
				}
			}
			_, change = change.ZoneBounds()
		}
	}
}

// A lone stretch inside the repeated hour is asked about.
func TestReadRepeatedHourAsked(t *testing.T) {
	zone, err := time.LoadLocation("Australia/Sydney")
	if err != nil {
		t.Fatal(err)
	}
	o := intake.Options{Zone: zone, Now: now}
	lone := "time,glucose\n" + lines(60, time.Date(2026, 4, 4, 9, 0, 0, 0, time.UTC), iso) +
		"2026-04-05 02:20,5.5\n2026-04-05 02:35,5.6\n" + lines(60, time.Date(2026, 4, 5, 9, 0, 0, 0, time.UTC), iso)
	res := intake.Read([]byte(lone), o)
	if len(res.Questions) != 1 || res.Questions[0].Code != "repeated_hour" {
		t.Fatalf("refusal %+v, questions %+v", res.Refusal, res.Questions)
	}
	for answer, offset := range map[string]int{"first": 11, "second": 10} {
		o.Answers = map[string]string{"repeated_hour": answer}
		res = intake.Read([]byte(lone), o)
		want := time.Date(2026, 4, 5, 2-offset, 20, 0, 0, time.UTC).Unix()
		if len(res.Readings) != 122 || res.Readings[60].At != want {
			t.Errorf("%s: %d readings, %+v", answer, len(res.Readings), res.Questions)
		}
	}
}
