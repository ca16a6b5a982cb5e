package intake_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
)

// TestNoRowIsDropped: a row of which a time, a value or a column is not understood
// reaches a person word for word, at its time where it has one, or is asked about.
// It is never only counted.
func TestNoRowIsDropped(t *testing.T) {
	const odd = 140 // the row that is not like the others
	plain := func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v + "," }
	at := march.Add(odd * 15 * time.Minute)
	for name, c := range map[string]struct {
		heading string
		row     string // in the place of the odd one, or below the table where that is set
		below   bool
		says    string
		there   bool // it must stand at its time
	}{
		"a comma in a remark":            {"time,glucose mmol/L,note", at.Format(minutes) + ",5.4,dizzy, then fainted", false, "then fainted", true},
		"two remarks beyond the heading": {"time,glucose mmol/L,note", at.Format(minutes) + ",5.4,,ambulance,came", false, "ambulance", true},
		"a number beyond the heading":    {"time,glucose mmol/L,note", at.Format(minutes) + ",5.4,,2.1", false, "2.1", true},
		"words beyond, no value":         {"time,glucose mmol/L,note", at.Format(minutes) + ",,,seizure", false, "seizure", true},
		"a time cut short":               {"time,glucose mmol/L,note", "2026-03-0,2.1,", false, "2.1", false},
		"no time":                        {"time,glucose mmol/L,note", ",2.1,", false, "2.1", false},
		"no time, with words":            {"time,glucose mmol/L,note", ",2.1,collapsed", false, "2.1", false},
		"no time, words alone":           {"time,glucose mmol/L,note", ",,collapsed", false, "collapsed", false},
		"a day that is none":             {"time,glucose mmol/L,note", "2026-02-31 09:00,2.1,collapsed", false, "2.1", false},
		"a time in words":                {"time,glucose mmol/L,note", "after 3 beers,2.1,", false, "2.1", false},
		"before the year 2000":           {"time,glucose mmol/L,note", "1970-01-01 00:00,2.1,collapsed", false, "collapsed", false},
		"in the future":                  {"time,glucose mmol/L,note", "2093-01-01 00:00,2.1,", false, "2.1", false},
		"no time on the last row":        {"time,glucose mmol/L,note", ",2.1,", true, "2.1", false},
		"a bare number below":            {"time,glucose mmol/L,note", "2.1", true, "2.1", false},
		"words below":                    {"time,glucose mmol/L,note", ",,collapsed", true, "collapsed", false},
		"a sentence for a value":         {"time,glucose mmol/L,note", at.Format(minutes) + ",she fell 3 times and fainted,", false, "fainted", true},
		"a value with a question mark":   {"time,glucose mmol/L,note", at.Format(minutes) + ",2?1,", false, "2?1", true},
	} {
		for _, days := range []int{3, 20} { // read in full, and in one pass
			rows := strings.Split(strings.TrimSuffix(wearFileOf("", days*96, plain), "\n"), "\n")
			if c.below {
				rows = append(rows, c.row)
			} else {
				rows[odd] = c.row
			}
			_, asked, res := toldOf(c.heading + "\n" + strings.Join(rows, "\n") + "\n")
			if asked && res.Refusal == nil {
				continue
			}
			told := false
			for _, e := range res.Events {
				told = told || strings.Contains(e.Label, c.says) && (!c.there || e.At == at.Unix())
			}
			if !told || !res.Account.Balanced() {
				t.Errorf("%s over %d days: %q reaches nobody: %+v, %+v, refusal %+v", name, days, c.says, res.Events, res.Ignored, res.Refusal)
			}
		}
	}
}

// TestRowsOfNobodyAreWordsOfAll: a row that names none of several people is not
// dropped.
func TestRowsOfNobodyAreWordsOfAll(t *testing.T) {
	data := "Patient,Time,Glucose (mmol/L)\n"
	for _, who := range []string{"P-1", "P-2"} {
		data += wearFileOf("", 96, func(at time.Time, _ int, v string) string { return who + "," + at.Format(minutes) + "," + v })
	}
	_, res := answeredWith(data+",someone collapsed,\n", map[string]string{"people": "split"})
	if len(res.People) != 2 {
		t.Fatalf("%+v %+v", res.Questions, res.Refusal)
	}
	for _, p := range res.People {
		var words []string
		for _, e := range p.Events {
			words = append(words, e.Label)
		}
		if !slices.ContainsFunc(words, func(w string) bool { return strings.Contains(w, "collapsed") }) {
			t.Errorf("%s is told %q", p.Hint, words)
		}
	}
}

// answeredWith reads a file by answers and says which questions remain.
func answeredWith(data string, answers map[string]string) (asked []string, res *intake.Result) {
	res = intake.Read([]byte(data), intake.Options{Zone: time.UTC, Now: now, Answers: answers})
	for _, q := range res.Questions {
		asked = append(asked, q.Code)
	}
	return asked, res
}
