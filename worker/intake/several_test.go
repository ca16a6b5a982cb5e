package intake_test

import (
	"archive/zip"
	"bytes"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"wearround/worker/intake"
)

// zipOf packs texts under their names, in order.
func zipOf(t *testing.T, entries ...[2]string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, e := range entries {
		w, err := z.Create(e[0])
		if err == nil {
			_, err = w.Write([]byte(e[1]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestSeveralTablesAreOnePersonsOnlyIfTheFileSaysSo: tables that go on as if
// nothing stood between are still asked about where their names, or lines in
// them, may be of several people.
func TestSeveralTablesAreOnePersonsOnlyIfTheFileSaysSo(t *testing.T) {
	rows := strings.Split(strings.TrimSpace(wearFileOf("", 4*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v })), "\n")
	half := func(i int, above string) string {
		return above + "time,glucose mmol/L\n" + strings.Join(rows[i*192:(i+1)*192], "\n") + "\n"
	}
	for _, c := range []struct {
		names  [2]string
		above  [2]string
		asked  bool
		person string
	}{
		{[2]string{"qorra.csv", "velim.csv"}, [2]string{}, true, ""},
		{[2]string{"P-0417.csv", "P-0418.csv"}, [2]string{}, true, ""},
		{[2]string{"person 1.csv", "person 2.csv"}, [2]string{}, true, ""},
		{[2]string{"part1.csv", "part2.csv"}, [2]string{"Patient,P-0417\n", "Patient,P-0418\n"}, true, ""},
		{[2]string{"part1.csv", "part2.csv"}, [2]string{"Patient,P-0417\n", ""}, true, ""},
		{[2]string{"part1.csv", "part2.csv"}, [2]string{}, false, ""},
		{[2]string{"week 1.csv", "week 2.csv"}, [2]string{}, false, ""},
		{[2]string{"2026-03-01.csv", "2026-03-03.csv"}, [2]string{}, false, ""},
		{[2]string{"qorra-a.csv", "qorra-b.csv"}, [2]string{"Patient,P-0417\n", "Patient,P-0417\n"}, false, "P-0417"},
	} {
		data := zipOf(t, [2]string{c.names[0], half(0, c.above[0])}, [2]string{c.names[1], half(1, c.above[1])})
		_, asked, res := toldOf(data)
		if asked != c.asked || !asked && (len(res.Readings) != 4*96 || res.PatientHint != c.person) {
			t.Errorf("%v %v: asked %v, %d readings of %q; %+v %+v", c.names, c.above, asked, len(res.Readings), res.PatientHint, res.Questions, res.Refusal)
		}
		if !c.asked {
			continue
		}
		if answered := intake.Read([]byte(data), intake.Options{Zone: time.UTC, Now: now, Answers: map[string]string{"sheet": "people"}}); len(answered.People) != 2 || len(answered.People[0].Readings) != 192 {
			t.Errorf("%v: %d people, %+v %+v", c.names, len(answered.People), answered.Questions, answered.Refusal)
		}
	}
}

// TestWorkbookSaysMoreThanCells: a comment on a cell is words or a question, and a
// cell with a line through it is no reading.
func TestWorkbookSaysMoreThanCells(t *testing.T) {
	asDate := func(at time.Time) any { return at }
	const remark = "fell asleep on the arm"
	words, asked, res := toldOf(string(book26(t, func(f *excelize.File) {
		readings(t, f, "Sheet1", asDate)
		if err := f.AddComment("Sheet1", excelize.Comment{Cell: "B9", Author: "Q", Paragraph: []excelize.RichTextRun{{Text: remark}}}); err != nil {
			t.Fatal(err)
		}
	})))
	if asked || !slices.ContainsFunc(words, func(w string) bool { return strings.Contains(w, remark) }) || !res.Account.Balanced() {
		t.Errorf("the comment gave %v, %+v %+v", words, res.Questions, res.Refusal)
	}
	_, asked, res = toldOf(string(book26(t, func(f *excelize.File) {
		readings(t, f, "Sheet1", asDate)
		style, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Strike: true}})
		if err == nil {
			err = f.SetCellStyle("Sheet1", "B20", "B20", style)
		}
		if err != nil {
			t.Fatal(err)
		}
	})))
	if !asked || res.Refusal != nil {
		t.Errorf("a struck-out cell: %d readings, %+v", len(res.Readings), res.Refusal)
	}
}

// TestHeadingsOfEmptyColumnsAreHeard: a sentence that stands where headings stand,
// over no cells, is words or a question; an unused column's name is neither.
func TestHeadingsOfEmptyColumnsAreHeard(t *testing.T) {
	for _, days := range []int{3, 14} {
		for heading, want := range map[string]string{
			"she fainted on day three": "words", "The clock was an hour fast all week": "asked", "Meal": "", "Stress level": "", "Fast insulin (units)": "",
		} {
			words, asked, res := toldOf(wearFileOf("time,glucose mmol/L,,,"+heading, days*144, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v + ",,," }))
			if asked != (want == "asked") || (len(words) > 0) != (want == "words") {
				t.Errorf("%q over %d days: %v, %+v %+v", heading, days, words, res.Questions, res.Refusal)
			}
		}
	}
}

// TestMarksAndDosesKeepTheirHeading: a cross stands for what its heading says, and
// a dose of insulin is told as such.
func TestMarksAndDosesKeepTheirHeading(t *testing.T) {
	for _, c := range []struct{ heading, cell, want string }{
		{"medicine taken", "x", "medicine taken"}, {"medicine taken", "✓", "medicine taken"}, {"insulin", "4 units", "insulin: 4 units"}, {"insulin", "4", "insulin: 4"},
	} {
		words, asked, res := toldOf(wearFileOf("time,glucose mmol/L,"+c.heading, 3*96, func(at time.Time, i int, v string) string {
			return at.Format(minutes) + "," + v + "," + ifThen(i%60 == 5, c.cell, "")
		}))
		if asked || !slices.Contains(words, c.want) {
			t.Errorf("%q under %q: %q, %+v %+v", c.cell, c.heading, words, res.Questions, res.Refusal)
		}
	}
}

// TestRomanMonths: a month in Roman numerals leaves nothing open, and text that
// only looks so is no date.
func TestRomanMonths(t *testing.T) {
	numerals := []string{"I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII"}
	for _, form := range []string{"2.%s.2006", "02-%s-2006", "2 %s 2006"} {
		for month := range 12 {
			shift := time.Date(2025, time.Month(month+1), 3, 9, 0, 0, 0, time.UTC).Sub(march)
			data := wearFileOf("date;time;glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string {
				at = at.Add(shift)
				return strings.ReplaceAll(at.Format(strings.Replace(form, "%s", "#", 1)), "#", numerals[at.Month()-1]) + ";" + at.Format("15:04") + ";" + v
			})
			_, asked, res := toldOf(data)
			if asked || len(res.Readings) != 3*96 || res.Readings[0].At != march.Add(shift).Unix() {
				t.Errorf("%s in month %d: %d readings, %+v %+v", form, month+1, len(res.Readings), res.Questions, res.Refusal)
			}
		}
	}
	if _, asked, res := toldOf(wearFileOf("date;time;glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string {
		return at.Format("2") + ".XIV.2026;" + at.Format("15:04") + ";" + v
	})); !asked {
		t.Errorf("a month that is none gave %d readings", len(res.Readings))
	}
}

// TestMinutesOfTheDay: a count of minutes from midnight is a clock where its
// heading says minutes and it begins anew with each date, and only there.
func TestMinutesOfTheDay(t *testing.T) {
	for _, c := range []struct {
		heading string
		every   func(at time.Time, i int) int
		read    bool
	}{
		{"minutes after midnight", func(at time.Time, _ int) int { return at.Hour()*60 + at.Minute() }, true},
		{"minute of the day", func(at time.Time, _ int) int { return at.Hour()*60 + at.Minute() }, true},
		{"minutes of exercise", func(_ time.Time, i int) int { return i * 37 % 1440 }, false},
		{"minute", func(_ time.Time, i int) int { return i }, false},
		{"line", func(at time.Time, _ int) int { return at.Hour()*60 + at.Minute() }, false},
	} {
		_, asked, res := toldOf(wearFileOf("date,"+c.heading+",glucose mmol/L", 3*96, func(at time.Time, i int, v string) string {
			return at.Format("2006-01-02") + "," + strconv.Itoa(c.every(at, i)) + "," + v
		}))
		if asked == c.read || c.read && (len(res.Readings) != 3*96 || res.Readings[5].At != march.Add(75*time.Minute).Unix()) {
			t.Errorf("%q: %d readings, %+v %+v", c.heading, len(res.Readings), res.Questions, res.Refusal)
		}
	}
}
