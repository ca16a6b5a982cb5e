package intake_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
)

// TestReasonsAreTrue: the reason of a refusal shows what was found, and denies
// nothing that the file has.
func TestReasonsAreTrue(t *testing.T) {
	rows := func(format string) string {
		return lines(200, march, func(i int, at time.Time) string { return at.Format(format) })
	}
	for _, c := range []struct{ name, data, code, shows, denies string }{
		{"mail", "Subject: my two weeks\nMIME-Version: 1.0\nContent-Type: multipart/mixed; boundary=\"qq\"\n\n--qq\nHello\n", "mail", "attached", "No table"},
		{"fractions across", "Dato;Time;a;b\n" + rows("02-01-2006;15;5,0;5,1"), "no_clock", "“01-03-2026” in column 1", "no clock time."},
		{"no date", "Hour;mmol/l\n" + rows("15:04;5,6"), "no_date", "“09:00” in column 1", "but no date."},
		{"an unknown half of the day", "When,glucose mmol/L\n" + rows("2006-01-02 03:04 qq,5.6"), "clock_marks_lost", "nothing was understood", "nothing tells"},
		{"counts", "x,mmol\n" + rows("x 1504"), "no_table", "“x 1045”", ""},
		{"prose", "Dear all, please find the readings below.\n", "no_table", "no line of it holds a digit", ""},
		{"pulse", "time,heart rate\n" + rows("2006-01-02 15:04,60"), "no_glucose", `column 2, "heart rate" (numbers such as “60”)`, "no column that can be"},
		{"words", "time,glucose?\n" + rows("2006-01-02 15:04,fine"), "no_", "", ""},
		{"lists", `{"a": [{"when": "soon", "x": 1}, {"when": "later", "x": 2}]}`, "json", "later ¦ 2", "no list"},
		{"XML", "<a><b><c>soon</c><d>1</d></b><b><c>later</c><d>2</d></b></a>", "xml", "later", "not a table"},
		{"broken XML", "<a><b>", "xml", "stops before its end", "not a table"},
		{"page", "<html><table><tr><td>soon</td><td>1</td></tr></table></html>", "html", "soon ¦ 1", "sign-in"},
		{"archive", zipped("a.csv", "time,glucose mmol/L\n"+rows("2006-01-02 15:04,5.6"), "b.pdf", "%PDF-1.7"), "zip_several", "“b.pdf”", ""},
		{"halves lost", "time,glucose\n" + lines(200, march, func(_ int, at time.Time) string { return at.Format("2006-01-02 03:04") + ",5.6" }), "clock_marks_lost", "“2026-03-01 09:00”", "nothing tells"},
	} {
		res := intake.Read([]byte(c.data), intake.Options{Zone: time.UTC, Now: now})
		if res.Refusal == nil || !strings.HasPrefix(res.Refusal.Code, c.code) {
			t.Errorf("%s: %+v %+v, want %s", c.name, res.Refusal, res.Questions, c.code)
		} else if !strings.Contains(res.Refusal.Text, c.shows) || c.denies != "" && strings.Contains(res.Refusal.Text, c.denies) {
			t.Errorf("%s: %s", c.name, res.Refusal.Text)
		}
	}
}

// TestRowsCopiedIntoARemark: rows of another day in the quotation marks of a remark are
// asked about, and rows that an open quotation mark swallowed are refused.
func TestRowsCopiedIntoARemark(t *testing.T) {
	file := func(inside string) []byte {
		return []byte(wearFileOf("time,glucose mmol/L,note", 3*96, func(at time.Time, i int, v string) string {
			return at.Format(minutes) + "," + v + "," + ifThen(i == 100, inside, "")
		}))
	}
	copied := file("\"from the meter:\n2026-03-01 10:00,2.1,\n2026-03-01 10:15,2.3,\nend\"")
	o := intake.Options{Zone: time.UTC, Now: now}
	if res := intake.Read(copied, o); len(res.Questions) != 1 || res.Questions[0].Code != "quoted" {
		t.Fatalf("%+v %+v", res.Refusal, res.Questions)
	}
	o.Answers = map[string]string{"quoted": "remark"}
	if res := intake.Read(copied, o); len(res.Readings) != 3*96 || len(res.Events) != 1 || !strings.Contains(res.Events[0].Label, "2.3") {
		t.Errorf("%+v %+v, events %v", res.Refusal, res.Questions, res.Events)
	}
	o.Answers = nil
	at := time.Date(2026, 3, 2, 10, 1, 0, 0, time.UTC)
	if res := intake.Read(file(fmt.Sprintf("\"felt\n%s,5.1,\nend\"", at.Format(minutes))), o); res.Refusal == nil || res.Refusal.Code != "open_quote" {
		t.Errorf("%+v %+v", res.Refusal, res.Questions)
	}
}
