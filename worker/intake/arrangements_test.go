package intake_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// readingsOf writes a wear by rows of its own and gives them one by one.
func readingsOf(days int, row func(at time.Time, i int, v string) string) []string {
	return strings.Split(strings.TrimSuffix(wearFileOf("", days*96, func(at time.Time, i int, v string) string { return row(at.Add(-9*time.Hour), i, v) }), "\n"), "\n")
}

// TestArrangements: arrangements that people make are read, or asked about so that
// an answer leads to all readings.
func TestArrangements(t *testing.T) {
	const days = 4
	plain := readingsOf(days, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v })
	values := readingsOf(days, func(_ time.Time, _ int, v string) string { return v })
	day := func(d int) time.Time { return march.Add(-9*time.Hour).AddDate(0, 0, d) }
	var beside, columns, hours, byDay, byTime, late []string
	for i := range 2 * 96 {
		beside = append(beside, strings.Replace(plain[i], " ", ",", 1)+",,"+strings.Replace(plain[2*96+i], " ", ",", 1))
	}
	head := "Time"
	for d := range days {
		head += "," + day(d).Format("Mon 2 Jan 2006")
		byDay = append(byDay, "")
	}
	for q := range 96 {
		at := day(0).Add(time.Duration(q) * 15 * time.Minute)
		row := at.Format("15:04")
		for d := range days {
			row += "," + values[d*96+q]
			byDay[d] += fmt.Sprintf(`,{"t":%q,"glucose":%s}`, at.Format("15:04"), values[d*96+q])
		}
		columns = append(columns, row)
	}
	for d := range days {
		byDay[d] = fmt.Sprintf(`%q:[%s]`, day(d).Format(time.DateOnly), byDay[d][1:])
		row := day(d).Format(time.DateOnly)
		for h := range 48 {
			row += "," + values[d*96+2*h]
		}
		hours = append(hours, row)
	}
	halfHours := "date"
	for h := range 48 {
		halfHours += day(0).Add(time.Duration(h) * 30 * time.Minute).Format(",15:04")
	}
	for i, r := range plain {
		at, v, _ := strings.Cut(r, ",")
		byTime = append(byTime, fmt.Sprintf("%q:%s", at, v))
		if when := day(0).Add(time.Duration(i) * 15 * time.Minute); i > 0 && when.Hour()+when.Minute() == 0 {
			at = when.AddDate(0, 0, -1).Format(minutes)
		}
		late = append(late, at+","+v)
	}
	for name, c := range map[string]struct {
		data    string
		answers map[string]string
		n       int
	}{
		"dates as above": {"date\ttime\tglucose mmol/L\n" + strings.Join(readingsOf(days, func(at time.Time, _ int, v string) string {
			return ifThen(at.Hour()+at.Minute() == 0, at.Format(time.DateOnly), `"`) + at.Format("\t15:04\t") + v
		}), "\n") + "\n", nil, 384},
		"halves side by side":       {"Date,Time,mmol/L glucose,,Date,Time,mmol/L glucose\n" + strings.Join(beside, "\n") + "\n", nil, 384},
		"days as columns, in words": {head + "\n" + strings.Join(columns, "\n") + "\n", map[string]string{"glucose_column": "3"}, 384},
		"hours as columns":          {"glucose mmol/L\n" + halfHours + "\n" + strings.Join(hours, "\n") + "\n", nil, 192},
		"lists by day":              {`{"unit":"mmol/L","days":{` + strings.Join(byDay, ",") + `}}`, nil, 384},
		"times as keys":             {`{"glucose mmol/L":{` + strings.Join(byTime, ",") + `}}`, nil, 384},
		"the midnight that ends it": {"time,glucose mmol/L\n" + strings.Join(late, "\n") + "\n", map[string]string{"midnight": "end"}, 384},
		"words beside a value":      {"time,glucose mmol/L\n" + strings.Replace(strings.Join(plain, "\n")+"\n", plain[50]+"\n", plain[50]+" felt shaky\n", 1), map[string]string{"worded": "both"}, 384},
		"a sheet a day":             {sheetADay(t, values, days, day), nil, 384},
		"hours as shares, noon too": {clocksAsShares(t, values, days, day), nil, 384},
		"units of several quantities": {"time,kind,value,unit\n" + strings.Join(readingsOf(days, func(at time.Time, i int, v string) string {
			return at.Format(minutes) + ",glucose," + v + ",mmol/L" + ifThen(i%96 == 40, "\n"+at.Format(minutes)+",insulin,4,units", "")
		}), "\n") + "\n", nil, 384},
	} {
		asked, res := answeredWith(c.data, nil)
		if len(c.answers) > 0 && len(asked) == 0 {
			t.Errorf("%s: filed %d readings unasked", name, len(res.Readings))
		}
		asked, res = answeredWith(c.data, c.answers)
		if len(asked) > 0 || len(res.Readings) != c.n || !res.Account.Balanced() || res.Readings[0].At != day(0).Unix() && name != "the midnight that ends it" {
			t.Errorf("%s: asked %v, %d readings, %+v", name, asked, len(res.Readings), res.Refusal)
			continue
		}
		first, last := res.Readings[0].At, res.Readings[0].At
		for _, r := range res.Readings {
			first, last = min(first, r.At), max(last, r.At)
		}
		if want := day(days).Add(-15 * time.Minute); c.n == 384 && (first != day(0).Unix() || last != want.Unix()) {
			t.Errorf("%s: from %s to %s", name, time.Unix(first, 0).UTC(), time.Unix(last, 0).UTC())
		}
	}
}

// sheetADay is a workbook with a sheet for each day, whose rows have shares of a
// day for their time.
func sheetADay(t *testing.T, values []string, days int, day func(int) time.Time) string {
	return string(book26(t, func(f *excelize.File) {
		for d := range days {
			name := day(d).Format("02.01.2006")
			if d == 0 {
				f.SetSheetName("Sheet1", name)
			} else if _, err := f.NewSheet(name); err != nil {
				t.Fatal(err)
			}
			f.SetSheetRow(name, "A1", &[]any{"Time", "Glucose (mmol/L)"})
			for q := range 96 {
				f.SetSheetRow(name, fmt.Sprintf("A%d", q+2), &[]any{float64(q) / 96, number(values[d*96+q])})
			}
		}
	}))
}

// clocksAsShares is a workbook with a day number and a share of a day in each row.
func clocksAsShares(t *testing.T, values []string, days int, day func(int) time.Time) string {
	return string(book26(t, func(f *excelize.File) {
		f.SetSheetRow("Sheet1", "A1", &[]any{"Date", "Time", "Glucose (mmol/L)"})
		for i := range days * 96 {
			number1900 := day(i/96).Unix()/86400 + 25569
			f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+2), &[]any{number1900, float64(i%96) / 96, number(values[i])})
		}
	}))
}

func number(s string) (v float64) {
	fmt.Sscan(s, &v)
	return v
}

// TestTwoPersonsAreOffered: where two people's values stand together, that they are
// is among the answers, and it gives each their own.
func TestTwoPersonsAreOffered(t *testing.T) {
	other := curve(3*96, 9)
	pair := func(at time.Time, i int, v string) [2]string {
		return [2]string{at.Format(minutes) + "," + v, at.Format(minutes) + "," + tenths(other[i]+20)}
	}
	turns := wearFileOf("time,glucose mmol/L", 3*96, func(at time.Time, i int, v string) string { p := pair(at, i, v); return p[0] + "\n" + p[1] })
	anew := wearFileOf("time,glucose mmol/L", 3*96, func(at time.Time, i int, v string) string { return pair(at, i, v)[0] }) +
		wearFileOf("", 3*96, func(at time.Time, i int, v string) string { return pair(at, i, v)[1] })
	columns := wearFileOf("time,Ada mmol/L,Bo mmol/L", 3*96, func(at time.Time, i int, v string) string {
		return at.Format(minutes) + "," + v + "," + tenths(other[i]+20)
	})
	named := "Ada Birk,,,Bo Tarn,\ntime,glucose mmol/L,,time,glucose mmol/L\n" + wearFileOf("", 3*96, func(at time.Time, i int, v string) string { p := pair(at, i, v); return p[0] + ",," + p[1] })
	who := wearFileOf("who,time,glucose mmol/L", 3*96, func(at time.Time, i int, v string) string { p := pair(at, i, v); return "p1," + p[0] + "\np2," + p[1] })
	for name, c := range map[string]struct{ data, code, answer string }{
		"by turns": {turns, "conflicts", "people"}, "one behind the other": {anew, "conflicts", "people"}, "a column each": {columns, "glucose_column", "people"},
		"side by side under names": {named, "sheet", "people"}, "a column that says who": {who, "people", "split"},
	} {
		asked, res := answeredWith(c.data, nil)
		if len(asked) == 0 {
			t.Errorf("%s: filed %d readings unasked; %+v", name, len(res.Readings), res.Refusal)
		}
		asked, res = answeredWith(c.data, map[string]string{c.code: c.answer, "clock_reset:2": "stated"})
		if len(asked) > 0 || len(res.People) != 2 || len(res.Readings) > 0 || !res.Account.Balanced() {
			t.Errorf("%s: asked %v, %d people, %+v", name, asked, len(res.People), res.Refusal)
			continue
		}
		for i, p := range res.People {
			if len(p.Readings) != 3*96 || p.Hint == "" || p.Readings[7].Text() != []string{tenths(curve(3*96, 1)[7]), tenths(other[7] + 20)}[i] {
				t.Errorf("%s: %q has %d readings", name, p.Hint, len(p.Readings))
			}
		}
	}
}

// TestMarginsAreHeard: what stands in the margins of a printed sheet is words or
// asked about.
func TestMarginsAreHeard(t *testing.T) {
	words, asked, res := toldOf(string(book26(t, func(f *excelize.File) {
		readings(t, f, "Sheet1", func(at time.Time) any { return at })
		if err := f.SetHeaderFooter("Sheet1", &excelize.HeaderFooterOptions{OddHeader: `&L&"Arial,Bold"&12Page &P of &N`, OddFooter: "&CShe passed out on 4 March"}); err != nil {
			t.Fatal(err)
		}
	})))
	if asked || !strings.Contains(strings.Join(words, "\n"), "She passed out on 4 March") || len(words) != 1 || !res.Account.Balanced() {
		t.Errorf("%q, %+v %+v", words, res.Questions, res.Refusal)
	}
}
