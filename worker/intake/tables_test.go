package intake_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// answered reads a file as often as it has questions that answers settle, and
// gives the codes asked in the end.
func answered(data string, o intake.Options) (*intake.Result, string) {
	res := intake.Read([]byte(data), o)
	var codes []string
	for _, q := range res.Questions {
		codes = append(codes, q.Code)
	}
	return res, strings.Join(codes, " ")
}

// Several people in one file are each a wear of their own, once a person has
// said so; the others' rows do not disturb.
func TestReadSeveralPeople(t *testing.T) {
	var b strings.Builder
	b.WriteString("Patient,Time,Glucose (mmol/L)\n")
	for i := range 80 {
		for _, who := range []string{"P-1", "P-2"} {
			fmt.Fprintf(&b, "%s,%s\n", who, iso(i+len(who)*int(who[2]-'0'), march.Add(time.Duration(i)*15*time.Minute)))
		}
	}
	b.WriteString(",Average,6.1\n")
	o := intake.Options{Zone: time.UTC, Now: now}
	res, codes := answered(b.String(), o)
	if codes != "people" || len(res.Readings) > 0 || res.Layout == "" || len(res.Questions[0].Choices[0].Rows) != 2 {
		t.Fatalf("asked %q, %d readings, rows %q", codes, len(res.Readings), res.Questions)
	}
	o.Answers = map[string]string{"people": "split"}
	if res, codes = answered(b.String(), o); codes != "" || len(res.People) != 2 || len(res.Readings) > 0 {
		t.Fatalf("asked %q, people %d, refusal %+v", codes, len(res.People), res.Refusal)
	}
	for i, p := range res.People {
		if p.Hint != fmt.Sprintf("P-%d", i+1) || len(p.Readings) != 80 || p.Readings[0].At != march.Unix() {
			t.Errorf("person %d is %q with %d readings", i, p.Hint, len(p.Readings))
		}
	}
	if res.Rows != 161 || res.Skipped != 1 {
		t.Errorf("%d rows, %d left out: %v", res.Rows, res.Skipped, res.Ignored)
	}
	o.Answers = map[string]string{"people": "stop"}
	if res, _ = answered(b.String(), o); res.Refusal == nil || res.Refusal.Code != "several_people" {
		t.Errorf("not known: %+v", res.Refusal)
	}
	o.Answers = map[string]string{"people": "one"}
	if _, codes = answered(b.String(), o); codes != "conflicts" {
		t.Errorf("one person: asked %q", codes)
	}
}

// Names of zones are a hint, and a person says which clock is meant.
func TestReadNamedZones(t *testing.T) {
	zone, err := time.LoadLocation("Australia/Sydney")
	if err != nil {
		t.Fatal(err)
	}
	file := func(name string) string {
		return "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04 ") + name + "," + value(i, wear.MmolL)
		})
	}
	for _, c := range []struct {
		name, answer string
		hour         int // of the first reading, UTC; -1 for a refusal
	}{
		{"AEDT", "local", -2}, {"AWST", "named", 1}, {"CET", "named", 8}, {"AEDT", "stop", -1},
	} {
		o := intake.Options{Zone: zone, Now: now}
		if _, codes := answered(file(c.name), o); codes != "zone" {
			t.Fatalf("%s: asked %q", c.name, codes)
		}
		o.Answers = map[string]string{"zone": c.answer}
		res, codes := answered(file(c.name), o)
		if c.hour == -1 {
			if res.Refusal == nil || res.Refusal.Code != "zone" {
				t.Errorf("%s %s: %+v", c.name, c.answer, res.Refusal)
			}
			continue
		}
		want := time.Date(2026, 3, 1, c.hour, 0, 0, 0, time.UTC)
		if codes != "" || len(res.Readings) != 60 || res.Readings[0].At != want.Unix() {
			t.Errorf("%s %s: asked %q, first reading %v", c.name, c.answer, codes, res.Readings)
		}
	}
	o := intake.Options{Zone: zone, Now: now}
	if res, _ := answered(file("IST"), o); len(res.Questions) != 1 || len(res.Questions[0].Choices) != 2 {
		t.Errorf("a name of several meanings: %+v", res.Questions)
	}
}

// Day numbers of a spreadsheet count from 1900 or from 1904. Where only one
// gives a date that can be, it is taken; otherwise a person says.
func TestReadDayNumbers(t *testing.T) {
	file := func(zero float64) string {
		return "time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return fmt.Sprintf("%.9f,%s", float64(at.Unix())/86400+zero, value(i, wear.MmolL))
		})
	}
	o := intake.Options{Zone: time.UTC, Now: now}
	if res, codes := answered(file(25569), o); codes != "" || len(res.Readings) != 60 || res.Readings[1].At != march.Unix()+900 {
		t.Errorf("from 1900: asked %q, %d readings, %+v", codes, len(res.Readings), res.Refusal)
	}
	res, codes := answered(file(24107), o)
	if codes != "day_numbers" || len(res.Questions[0].Choices) != 3 || len(res.Questions[0].Choices[1].Rows) != 3 {
		t.Fatalf("from 1904: asked %q, %+v", codes, res.Questions)
	}
	o.Answers = map[string]string{"day_numbers": "1904"}
	if res, codes = answered(file(24107), o); codes != "" || res.Readings[1].At != march.Unix()+900 {
		t.Errorf("answered: asked %q, %d readings", codes, len(res.Readings))
	}
}

// A clock that lost its setting cuts the file into runs, and each answer about
// a run's true start moves that run alone.
func TestReadClockRuns(t *testing.T) {
	const run = 20 // quarter hours on the clock that lost its setting
	after := march.Add(60 * 15 * time.Minute)
	file := func(unset time.Time) string {
		return "time,glucose\n" + lines(60, march, iso) +
			lines(run, unset, func(i int, at time.Time) string { return iso(60+i, at) }) +
			lines(60, after.Add((run+4)*15*time.Minute), func(i int, at time.Time) string { return iso(60+run+i, at) })
	}
	for _, unset := range []time.Time{time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)} {
		for answer, first := range map[string]time.Time{"after": after, "before": after.Add(4 * 15 * time.Minute), "stated": unset} {
			o := intake.Options{Zone: time.UTC, Now: now}
			res, codes := answered(file(unset), o)
			if codes != "clock_reset:2" || len(res.Questions[0].Choices) != 5 {
				t.Fatalf("%d: asked %q, %+v", unset.Year(), codes, res.Questions)
			}
			o.Answers = map[string]string{"clock_reset:2": answer}
			res, codes = answered(file(unset), o)
			if codes != "" || len(res.Readings) != 120+run || res.Readings[60].At != first.Unix() {
				t.Errorf("%d %s: asked %q, %d readings, refusal %+v", unset.Year(), answer, codes, len(res.Readings), res.Refusal)
			}
		}
		o := intake.Options{Zone: time.UTC, Now: now, Answers: map[string]string{"clock_reset:2": "leave_out"}}
		if res, codes := answered(file(unset), o); codes != "" || len(res.Readings) != 120 || res.Skipped != run {
			t.Errorf("%d left out: asked %q, %d readings, %d left out", unset.Year(), codes, len(res.Readings), res.Skipped)
		}
	}
}

// A clock that was set only after the first readings, and one that ran ahead
// into the future, are asked about too.
func TestReadClockUnset(t *testing.T) {
	first := lines(30, time.Date(2000, 1, 1, 5, 0, 0, 0, time.UTC), iso)
	rest := lines(80, march, func(i int, at time.Time) string { return iso(30+i, at) })
	ahead := lines(30, time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC), iso)
	for name, c := range map[string]struct {
		data, code, answer string
		first              int64
	}{
		"set late":   {first + rest, "clock_reset:1", "before", march.Unix() - 30*900},
		"far future": {rest + ahead, "clock_reset:2", "after", march.Unix()},
	} {
		o := intake.Options{Zone: time.UTC, Now: now}
		if _, codes := answered("time,glucose\n"+c.data, o); codes != c.code {
			t.Fatalf("%s: asked %q", name, codes)
		}
		o.Answers = map[string]string{c.code: c.answer}
		res, codes := answered("time,glucose\n"+c.data, o)
		if codes != "" || len(res.Readings) != 110 || res.Readings[0].At != c.first {
			t.Errorf("%s: asked %q, %d readings, refusal %+v", name, codes, len(res.Readings), res.Refusal)
		}
	}
}

// Days in another order, and two exports joined, are no clock resets.
func TestReadReordered(t *testing.T) {
	var days []string
	for d := range 4 {
		days = append(days, lines(96, march.AddDate(0, 0, d).Add(-9*time.Hour), func(i int, at time.Time) string { return iso(96*d+i, at) }))
	}
	o := intake.Options{Zone: time.UTC, Now: now}
	if res, codes := answered("time,glucose\n"+days[3]+days[2]+days[1]+days[0], o); codes != "" || len(res.Readings) != 384 {
		t.Errorf("newest day first: asked %q, %d readings", codes, len(res.Readings))
	}
	if res, codes := answered("time,glucose\n"+days[0]+days[1]+days[2]+"time,glucose\n"+days[1]+days[2]+days[3], o); codes != "" || len(res.Readings) != 576 {
		t.Errorf("two exports joined: asked %q, %d readings", codes, len(res.Readings))
	}
}

// Cells beyond the heading, and rows that end early, lose nothing without a word.
func TestReadRaggedRows(t *testing.T) {
	o := intake.Options{Zone: time.UTC, Now: now}
	short := "time,glucose,meal,note\n" + lines(400, march, func(i int, at time.Time) string {
		if i%40 == 7 {
			return at.Format("2006-01-02 15:04") + ",,soup,at home"
		}
		return iso(i, at)
	})
	if res, codes := answered(short, o); codes != "" || len(res.Readings) != 390 || len(res.Events) != 20 {
		t.Errorf("blank cells left away: asked %q, %d readings, %d events", codes, len(res.Readings), len(res.Events))
	}
	long := "time,glucose\n" + lines(400, march, func(i int, at time.Time) string {
		if i%4 == 1 {
			return iso(i, at) + ",7"
		}
		return iso(i, at)
	})
	if _, codes := answered(long, o); codes != "unreadable_rows" {
		t.Errorf("more cells than columns: asked %q", codes)
	}
}

// A last line that may go on is asked about; one that is whole is not.
func TestReadLastLine(t *testing.T) {
	o := intake.Options{Zone: time.UTC, Now: now}
	plain := "time,glucose,note\n" + lines(60, march, func(i int, at time.Time) string { return iso(i, at) + "," })
	for tail, want := range map[string]string{
		"2026-03-02 00:00,5.5,":           "",
		"2026-03-02 00:00,5.5,went to be": "cut_short",
	} {
		res, codes := answered(plain+tail, o)
		if codes != want || want == "" && len(res.Readings) != 61 {
			t.Errorf("%q: asked %q, %d readings, refusal %+v", tail, codes, len(res.Readings), res.Refusal)
		}
	}
}

// Quotes that are not closed do not swallow rows in silence.
func TestReadSwallowedRows(t *testing.T) {
	rows := strings.Split(lines(60, march, func(i int, at time.Time) string { return iso(i, at) + "," }), "\n")
	rows[10] += `"went to bed`
	rows[20] += `"slept well"`
	res, codes := answered("time,glucose,note\n"+strings.Join(rows, "\n"), intake.Options{Zone: time.UTC, Now: now})
	if res.Refusal == nil || res.Refusal.Code != "open_quote" {
		t.Errorf("asked %q, %d readings, refusal %+v", codes, len(res.Readings), res.Refusal)
	}
}
