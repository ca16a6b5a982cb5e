package intake_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"wearround/worker/intake"
)

// TestWhatIsPinnedToACellHasTheTimeOfItsRow: a remark pinned to a cell of a sheet or a
// page is an event of its row, once, and one pinned to a heading is not.
func TestWhatIsPinnedToACellHasTheTimeOfItsRow(t *testing.T) {
	const row = 40
	sheet := string(book26(t, func(f *excelize.File) {
		readings(t, f, "Sheet1", func(at time.Time) any { return at })
		if err := f.AddComment("Sheet1", excelize.Comment{Cell: fmt.Sprintf("B%d", row+2), Author: "x", Text: "felt faint"}); err != nil {
			t.Fatal(err)
		}
	}))
	page := "<table><tr><th>time</th><th>glucose mmol/L</th></tr>" + wearFileOf("", 3*96, func(at time.Time, i int, v string) string {
		return "<tr><td>" + at.Format(minutes) + "</td><td" + ifThen(i == row, ` title="felt faint"`, "") + ">" + v + "</td></tr>"
	}) + "</table><table><tr><th>time</th><th>finger mmol/L</th></tr>" +
		"<tr><td>2026-03-02 18:00</td><td>5.6</td></tr><tr><td>2026-03-04 18:00</td><td>5.7</td></tr><tr><td>2026-03-05 19:00</td><td>5.7</td></tr></table>"
	for name, data := range map[string]string{"sheet": sheet, "page": page} {
		res := intake.Read([]byte(data), intake.Options{Zone: time.UTC, Now: now, Answers: map[string]string{"sheet": "fingerstick"}})
		if res.Refusal != nil || len(res.Questions) > 0 {
			t.Fatalf("%s: %+v %+v", name, res.Refusal, res.Questions)
		}
		var at []int64
		for _, e := range res.Events {
			if e.Label == "felt faint" {
				at = append(at, e.At)
			}
		}
		if len(at) != 1 || at[0] != res.Readings[row].At || !res.Account.Balanced() {
			t.Errorf("%s: felt faint at %v, the row's time is %d", name, at, res.Readings[row].At)
		}
	}
}

// TestASheetOfAnotherPerson: a date in the name of a sheet hides no code beside it.
func TestASheetOfAnotherPerson(t *testing.T) {
	data := book26(t, func(f *excelize.File) {
		for d := range 4 {
			name := time.Date(2026, 3, 2+d, 0, 0, 0, 0, time.UTC).Format("2006-01-02") + ifThen(d > 2, " K-22", "")
			if _, err := f.NewSheet(name); err != nil {
				t.Fatal(err)
			}
			for i := range 97 {
				cells := []any{"Clock", "Glucose mmol/L"}
				if i > 0 {
					cells = []any{fmt.Sprintf("%02d:%02d", (i-1)/4, (i-1)%4*15), 5 + float64(i%9)/10}
				}
				if err := f.SetSheetRow(name, fmt.Sprintf("A%d", i+1), &cells); err != nil {
					t.Fatal(err)
				}
			}
		}
	})
	res := intake.Read(data, intake.Options{Zone: time.UTC, Now: now})
	if len(res.Questions) != 1 || res.Questions[0].Code != "sheet" {
		t.Fatalf("%+v %+v", res.Refusal, res.Questions)
	}
	res = intake.Read(data, intake.Options{Zone: time.UTC, Now: now, Answers: map[string]string{"sheet": "people"}})
	if len(res.People) != 2 || res.People[1].Hint != "K-22" || len(res.People[0].Readings) != 3*96 || len(res.People[1].Readings) != 96 {
		t.Errorf("%+v %+v", res.Refusal, res.Questions)
	}
}

// TestMarkedNumbers: a number with a mark can be answered as its number, once a mark,
// and two numbers in a cell as the sensor's and a fingerstick's.
func TestMarkedNumbers(t *testing.T) {
	file := func(cell string) string {
		return wearFileOf("time;glucose mmol/L", 3*96, func(at time.Time, i int, v string) string {
			return at.Format(minutes) + ";" + ifThen(i%20 == 7, fmt.Sprintf(cell, v), v)
		})
	}
	for _, c := range []struct {
		cell, code, answer string
		readings, events   int
	}{
		{"**%s**", "mark:**…**", "number", 288, 0}, {"%s*", "mark:…*", "both", 288, 15}, {"%s †", "mark:…†", "ignore", 273, 0}, {"%s?", "mark:…?", "number", 288, 0},
		{"%s (5.7)", "pair", "finger", 288, 15}, {"%s / 5.7", "pair", "first", 288, 0},
	} {
		data := file(c.cell)
		asked, res := answeredWith(data, nil)
		if len(asked) != 1 || asked[0] != c.code {
			t.Errorf("%s: asked %q, %+v", c.cell, asked, res.Refusal)
			continue
		}
		if asked, res = answeredWith(data, map[string]string{c.code: c.answer}); len(asked) > 0 || res.Refusal != nil || len(res.Readings) != c.readings || len(res.Events) != c.events || !res.Account.Balanced() {
			t.Errorf("%s: %q, %d readings, %d events, %+v", c.cell, asked, len(res.Readings), len(res.Events), res.Refusal)
		}
	}
}

// TestADiaryBesideTheSensor: each table of a file has an answer of its own, and one of
// words gives words with their times.
func TestADiaryBesideTheSensor(t *testing.T) {
	data := zipOf(t,
		[2]string{"glucose.csv", wearFileOf("time,glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v })},
		[2]string{"diary.csv", "time,what\n2026-03-02 09:07,dizzy\n2026-03-03 14:30,well again\n2026-03-03 19:30,lunch of rice\n"})
	asked, res := answeredWith(data, map[string]string{"sheet": "each", "part:diary csv": "note"})
	if len(asked) > 0 || res.Refusal != nil || len(res.Readings) != 3*96 || len(res.Events) != 3 || res.Events[0].Time(time.UTC).Format(minutes) != "2026-03-02 09:07" || !res.Account.Balanced() {
		t.Errorf("%q %+v %+v", asked, res.Refusal, res.Events)
	}
}

// TestWhoElse: what a file says of its person is told whatever the words for it are.
func TestWhoElse(t *testing.T) {
	for line, want := range map[string]intake.About{
		"Wearer,Quill Zander":      {Names: []string{"Quill Zander"}},
		"Syntymäaika,7.7.1931":     {Born: []string{"1931-07-07"}},
		"syntynyt 1931-07-07 siis": {Born: []string{"1931-07-07"}},
		"Export,2026-03-20":        {},
	} {
		_, _, res := toldOf(line + "\n\n" + wearFileOf("time,glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v }))
		if got := res.About; fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%q: %v, want %v (%+v)", line, got, want, res.Refusal)
		}
	}
	for _, c := range []struct {
		a, b string
		same bool
	}{{"Quill Zander", "zander, Quill M.", true}, {"Q. Zander", "Quill Zander", true}, {"Fern Zander", "Quill Zander", false}, {"山田太郎", "山田 太郎", true}, {"", "Quill", false}} {
		if intake.SameName(c.a, c.b) != c.same || intake.SameName(c.b, c.a) != c.same {
			t.Errorf("%q and %q: want %v", c.a, c.b, c.same)
		}
	}
}
