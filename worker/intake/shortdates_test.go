package intake_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
)

// inPart writes a time as a row has it, also as a count or with a number for the half
// of the day.
func inPart(at time.Time, row string) string {
	start := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	return strings.NewReplacer("AM", "1", "PM", "2", "EPOCHMIN", fmt.Sprint(at.Unix()/60), "SINCE", fmt.Sprint(at.Unix()-start.Unix())).Replace(at.Format(row))
}

// TestShortTimes: times of which a part stands elsewhere in the file, or that are
// counted, are read where their values tell, and asked about where they do not.
func TestShortTimes(t *testing.T) {
	for _, c := range []struct {
		name, head, row, code, answer string
	}{
		{"year above", "Auswertung für das Jahr 2026\nTag;Uhr;Glukose mmol/l", "02.01.;15:04;", "year", "2026"},
		{"the half of the day as a number", "day,clock,half,glucose mmol/L", "2006-01-02,3:04,PM,", "", ""},
		{"minutes since 1970", "minutes_since_1970_utc,glucose mmol/L", "EPOCHMIN,", "", ""},
		{"seconds since a start", "start: 2026-03-01 09:00:00\nelapsed_s,glucose mmol/L", "SINCE,", "counted", "seconds"},
		{"names and values", "", `at="2006-01-02 15:04" unit=mmol/L glucose=`, "", ""},
		{"six figures, year first", "YYMMDD HHMM glucose", "060102 1504 ", "", ""},
		{"six figures, day first", "date;time;glucose mmol/L", "020106;15:04;", "", ""},
	} {
		data := wearFileOf(c.head, 5*96, func(at time.Time, _ int, v string) string {
			return inPart(at, c.row) + v
		})
		o := intake.Options{Zone: time.UTC, Now: now}
		res := intake.Read([]byte(data), o)
		if c.code != "" {
			if len(res.Questions) == 0 || res.Questions[0].Code != c.code {
				t.Errorf("%s: not asked: %+v %+v", c.name, res.Refusal, res.Questions)
				continue
			}
			o.Answers = map[string]string{c.code: c.answer}
			res = intake.Read([]byte(data), o)
		}
		plain := intake.Read([]byte(wearFileOf("time,glucose mmol/L", 5*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v })), o)
		if len(res.Readings) != 5*96 || len(res.Questions) > 0 {
			t.Errorf("%s: %d readings, %+v %+v", c.name, len(res.Readings), res.Refusal, res.Questions)
			continue
		}
		for i, r := range res.Readings {
			if r.At != plain.Readings[i].At {
				t.Errorf("%s: reading %d at %v, want %v", c.name, i, time.Unix(r.At, 0).UTC(), time.Unix(plain.Readings[i].At, 0).UTC())
				break
			}
		}
	}
	quarters := ""
	for i := range 5 * 24 {
		at := time.Date(2026, 3, 1, 9+i, 0, 0, 0, time.UTC)
		quarters += at.Format("02-01-2006;15") + fmt.Sprintf(";5,%d;5,1;;5,3\n", i%9)
	}
	res := intake.Read([]byte("Glukose mmol/L\nDato;Time;:00;:15;:30;:45\n"+quarters), intake.Options{Zone: time.UTC, Now: now})
	if n := len(res.Readings); n != 5*24*3 || res.Readings[n-1].At != time.Date(2026, 3, 6, 8, 45, 0, 0, time.UTC).Unix() || !res.Account.Balanced() {
		t.Errorf("quarters across: %d readings, %+v %+v", n, res.Refusal, res.Questions)
	}
	// Two years beside the table: none is taken.
	res = intake.Read([]byte(wearFileOf("2025 and 2026\nTag;Uhr;Glukose mmol/l", 5*96, func(at time.Time, _ int, v string) string { return at.Format("02.01.;15:04;") + v })), intake.Options{Zone: time.UTC, Now: now})
	if res.Refusal == nil || !strings.Contains(res.Refusal.Text, "no date with day, month and year") {
		t.Errorf("%+v %+v", res.Refusal, res.Questions)
	}
}
