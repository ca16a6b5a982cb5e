package intake_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// besideReadings reports an event that is words of the whole wear: what the file
// says above, below or beside its readings stands at the first of them.
func besideReadings(e wear.Event, readings []wear.Reading) bool {
	if e.Kind != wear.Undated || e.Label == "" || len(readings) == 0 {
		return false
	}
	return !slices.ContainsFunc(readings, func(r wear.Reading) bool { return r.At < e.At && r.At > e.At-86400 }) &&
		slices.ContainsFunc(readings, func(r wear.Reading) bool { return r.At == e.At })
}

// saidTable writes a wear of three days with a heading, cells before and behind
// those of each row, and lines above and below.
func saidTable(heading, above, below string, row func(at time.Time, i int, v string) string) string {
	return above + wearFileOf(heading, 3*96, row) + below
}

func wearFileOf(heading string, n int, row func(at time.Time, i int, v string) string) string {
	return written(heading, n, 1, func(i int, at time.Time, v string) string { return row(at, i, v) })
}

// toldOf reads a file and says what became of what it says beside its readings.
func toldOf(data string) (words []string, asked bool, res *intake.Result) {
	res = intake.Read([]byte(data), intake.Options{Zone: time.UTC, Now: now})
	for _, e := range res.Events {
		words = append(words, e.Label)
	}
	return words, len(res.Questions) > 0 || res.Refusal != nil, res
}

// Sayings that no list knows, in words of the wearer, of staff and of senders.
var unknownSayings = []saidOf{
	{"", "fell unconscious on day 3"}, {"", "takes gliclazide"}, {"Pregnant", "yes"}, {"Born", "2018"}, {"Born", "2018-05-02"}, {"Age", "9"},
	{"", "Sensor failed, do not use"}, {"", "all values 1.5 too low"}, {"Diabetes", "type 1"}, {"Schwanger", "ja"}, {"", "沒有意識"},
	{"Mean", "11.9"}, {"Readings", "17"}, {"", "(17 rows)"}, {"Patient", "very unwell"}, {"Device", "faulty"}, {"Sensor", "fell off twice"}, {"Medicine", "gliclazide"},
	{"HbA1c", "9.1 %"}, {"Ketones", "5.1 mmol/L"}, {"Clinic", "sent to emergency"}, {"Interval", "60 min"}, {"Name", "insulin at night"},
}

type saidOf struct{ key, value string }

func (s saidOf) in(delim string) string {
	if s.key == "" {
		return s.value
	}
	return s.key + delim + s.value
}

// cells writes a cell each.
func (s saidOf) cells() string {
	if s.key == "" {
		return `"` + s.value + `"`
	}
	return s.key + `,"` + s.value + `"`
}

// Facts about a file, which are no words.
var knownSayings = []saidOf{
	{"Patient", "P-0417"}, {"Name", "Quorra Venn"}, {"Made", "2026-03-20 09:00"}, {"Serial number", "K-4471"}, {"Unit", "mmol/L"}, {"Clinic", "Vostrel Road"},
	{"Period", "2026-03-01 to 2026-03-14"}, {"Born", "1971-02-03"}, {"", "Sensor report"}, {"Sensor", "A"}, {"Interval", "15 min"}, {"Readings", "288"}, {"", "page 1 of 3"}, {"Sex", "F"}, {"", "(288 rows)"},
}

// TestWhatAFileSaysIsRead: whatever stands above or below a table, in a column
// on every row, in a paragraph of a page, beside a list or on another sheet, and
// is not wholly understood, is words of the wear or a question; what is
// understood is neither. Nothing of it moves a reading.
func TestWhatAFileSaysIsRead(t *testing.T) {
	plainRow := func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v }
	places := map[string]func(s saidOf) string{
		"above": func(s saidOf) string { return saidTable("time,glucose mmol/L", s.cells()+"\n", "", plainRow) },
		"above, in one cell": func(s saidOf) string {
			return saidTable("time,glucose mmol/L", `"`+s.in(": ")+"\"\n\n", "", plainRow)
		},
		"below": func(s saidOf) string { return saidTable("time,glucose mmol/L", "", s.cells()+"\n", plainRow) },
		"below a long table": func(s saidOf) string {
			return wearFileOf("time,glucose mmol/L", 14*144, plainRow) + s.cells() + "\n"
		},
		"column": func(s saidOf) string {
			return saidTable("time,glucose mmol/L,"+s.key, "", "", func(at time.Time, _ int, v string) string {
				return at.Format(minutes) + "," + v + "," + `"` + s.value + `"`
			})
		},
		"column of a long table": func(s saidOf) string {
			return wearFileOf("time,glucose mmol/L,"+s.key, 14*144, func(at time.Time, _ int, v string) string {
				return at.Format(minutes) + "," + v + "," + `"` + s.value + `"`
			})
		},
		"list": func(s saidOf) string {
			return `{"readings":[` + strings.TrimSuffix(saidTable("", "", "", func(at time.Time, _ int, v string) string {
				return fmt.Sprintf(`{"time":%q,"glucose_mmol":%s},`, at.Format(minutes), v)
			}), ",\n") + fmt.Sprintf(`],%q:%q}`, s.key, s.value)
		},
		"page": func(s saidOf) string {
			return "<html><body><table>" + saidTable("", "<tr><th>time</th><th>glucose mmol/L</th></tr>", "", func(at time.Time, _ int, v string) string {
				return "<tr><td>" + at.Format(minutes) + "</td><td>" + v + "</td></tr>"
			}) + "</table><p>" + s.in(": ") + "</p></body></html>"
		},
	}
	for place, write := range places {
		for _, s := range unknownSayings {
			words, asked, res := toldOf(write(s))
			if !asked && !slices.ContainsFunc(words, func(w string) bool { return strings.Contains(w, s.value) }) {
				t.Errorf("%s: %q is neither words nor asked about: %v; %+v", place, s.in(": "), words, res.Account.Lines)
			}
			if !asked && !res.Account.Balanced() {
				t.Errorf("%s: %q: the account does not balance: %+v", place, s.in(": "), res.Account)
			}
		}
		for _, s := range knownSayings {
			if strings.Contains(place, "long") && (s.key == "Readings" || s.value == "(288 rows)") || strings.Contains(place, "column") && s.key == "" {
				continue
			}
			if words, asked, res := toldOf(write(s)); asked || len(words) > 0 {
				t.Errorf("%s: the fact %q became words %q or a question %+v, refusal %+v", place, s.in(": "), words, res.Questions, res.Refusal)
			}
		}
	}
}

// TestOtherHeadingsAreAsked: a heading that names glucose and has a word beside
// it that is not known is a question, or refused for a unit that is not read.
func TestOtherHeadingsAreAsked(t *testing.T) {
	for _, heading := range []string{
		"Urine glucose (mmol/L)", "CSF glucose mmol/L", "predicted glucose mmol/L", "simulated glucose mmol/L", "SD glucose mmol/L", "glucose deviation mmol/L",
		"median of 5 glucose", "smoothed glucose mmol/L", "max in interval glucose", "fructosamine equivalent glucose", "Glukose im Harn (mmol/L)", "qorvix glucose mmol/L",
		"glucose g/L", "glucose mol/L", "glucose mg/L", "glucose umol/dL", "capillary lactate mmol/L", "fingerstick ketone mmol/L",
	} {
		_, asked, res := toldOf(wearFileOf("time,"+heading, 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v }))
		if !asked {
			t.Errorf("%q was filed by itself: %d readings, %v", heading, len(res.Readings), res.Unit)
		}
	}
	for _, heading := range []string{"Glucose", "Sensorglukose (mmol/l)", "Blood sugar, mmol per litre", "glucose_mmol", "Taux de glucose [mmol/L]", "血糖値 mmol/L", "Глюкоза сенсора, ммоль/л"} {
		if _, asked, res := toldOf(wearFileOf("time,"+heading, 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v })); asked {
			t.Errorf("%q was asked about: %+v %+v", heading, res.Questions, res.Refusal)
		}
	}
	for _, above := range []string{"Specimen: urine", "Sample,saliva", "averages of 15 minutes", "Values: hourly means", "Unit: g/L", "Unit,mg/dL", "simulated data"} {
		if _, asked, res := toldOf(above + "\n" + wearFileOf("time,glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v })); !asked {
			t.Errorf("%q above the table was not asked about: %v", above, res.Events)
		}
	}
}

// TestOtherQuantitiesAreWords: what is measured beside glucose is no reading and
// does not vanish; a few values are words each, many are summed up.
func TestOtherQuantitiesAreWords(t *testing.T) {
	for _, c := range []struct {
		heading, value string
		every          int
		want           string
	}{
		{"Ketones (mmol/L)", "5.1", 90, "Ketones (mmol/L): 5.1"}, {"Pulse", "131", 50, "Pulse: 131"}, {"Temperature (°C)", "40.2", 60, "Temperature (°C): 40.2"},
		{"Insulin (units)", "4", 70, "Insulin (units): 4"}, {"Ketones (mmol/L)", "5.1", 1, "Ketones (mmol/L): 5.1"}, {"Blood pressure mmHg", "190", 2, "Blood pressure mmHg: highest 191, lowest 190"},
	} {
		words, asked, res := toldOf(wearFileOf("time,glucose mmol/L,"+c.heading, 3*96, func(at time.Time, i int, v string) string {
			x := ifThen(i%c.every == 0, c.value, "")
			if c.every == 2 && i%4 == 0 {
				x = "191"
			}
			return at.Format(minutes) + "," + v + "," + x
		}))
		if asked || !slices.ContainsFunc(words, func(w string) bool { return strings.HasPrefix(w, c.want) }) {
			t.Errorf("%s every %d: %v, want %q; %+v %+v", c.heading, c.every, words, c.want, res.Questions, res.Refusal)
		}
	}
}

// TestRegularIsNotCalendar: what comes as regularly as a weekday is not set aside
// for that; only a column of the calendar is.
func TestRegularIsNotCalendar(t *testing.T) {
	at0 := func(at time.Time, v string) string { return at.Format(minutes) + "," + v + "," }
	for name, row := range map[string]func(at time.Time, i int, v string) string{
		"Xqorva":    func(at time.Time, i int, v string) string { return at0(at, v) + ifThen(i%90 == 0, "6.4", "") },
		"Vomiting":  func(at time.Time, _ int, v string) string { return at0(at, v) + ifThen(at.Weekday() == 3, "1", "0") },
		"Phenytoin": func(at time.Time, _ int, v string) string { return at0(at, v) + strconv.Itoa(at.Day()) },
		"Visit": func(at time.Time, _ int, v string) string {
			return at0(at, v) + ifThen(at.Weekday() == 3, "bad", "good")
		},
	} {
		words, asked, res := toldOf(wearFileOf("time,glucose mmol/L,"+name, 14*96, row))
		if !asked && len(words) == 0 {
			t.Errorf("%s was set aside: %+v", name, res.Account.Lines)
		}
	}
	for name, cell := range map[string]func(at time.Time) string{
		"weekday": func(at time.Time) string { return at.Format("Monday") }, "Dzień tygodnia": func(at time.Time) string { return at.Format("Mon") },
		"day": func(at time.Time) string {
			return strconv.Itoa(1 + int(at.Sub(march.Truncate(24*time.Hour)).Hours())/24)
		},
	} {
		words, asked, res := toldOf(wearFileOf("time,glucose mmol/L,"+name, 14*96, func(at time.Time, _ int, v string) string { return at0(at, v) + cell(at) }))
		if asked || len(words) > 0 {
			t.Errorf("%s: %v %+v", name, words, res.Questions)
		}
	}
}

// TestAPersonNamedAnywhere: a code above or below the table is the file's, and two
// are a question.
func TestAPersonNamedAnywhere(t *testing.T) {
	table := wearFileOf("time,glucose mmol/L", 14*144, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v })
	for _, c := range []struct{ above, below, hint string }{
		{"Patient,P-0417\n", "", "P-0417"}, {"", "Patient,P-0417\n", "P-0417"}, {"Code: P-0417\n", "", "P-0417"}, {"", "Patient: P-0417\n", "P-0417"},
		{"Name,Quorra Venn\nPatient,P-0417\n", "", "P-0417"}, {"Patient,P-0417\n", "Patient,P-0999\n", ""}, {"Patient,P-0417\n", "Code: P-0999\n", ""},
	} {
		_, asked, res := toldOf(c.above + table + c.below)
		if asked != (c.hint == "") || !asked && res.PatientHint != c.hint {
			t.Errorf("%q and %q: hint %q, questions %+v, %+v", c.above, c.below, res.PatientHint, res.Questions, res.Refusal)
		}
	}
}

// TestStruckOut: a value with a line through it is no reading.
func TestStruckOut(t *testing.T) {
	for _, mark := range [][2]string{{"<del>", "</del>"}, {"<s>", "</s>"}, {`<span style="text-decoration: line-through">`, "</span>"}, {`<i class="x old">`, "</i>"}} {
		page := "<style>.old { color: red; text-decoration: line-through }</style><table><tr><th>time</th><th>glucose mmol/L</th></tr>" +
			wearFileOf("", 3*96, func(at time.Time, i int, v string) string {
				return "<tr><td>" + at.Format(minutes) + "</td><td>" + ifThen(i == 50, mark[0]+v+mark[1], v) + "</td></tr>"
			}) + "</table>"
		if _, asked, res := toldOf(page); !asked {
			t.Errorf("%s: %d readings filed", mark[0], len(res.Readings))
		} else if res.Refusal != nil {
			t.Errorf("%s: refused: %+v", mark[0], res.Refusal)
		}
	}
}

// TestOtherResourcesAreWords: what a bundle says beside its readings reaches a
// person: a medicine, a condition, a laboratory value, ketones, a remark.
func TestOtherResourcesAreWords(t *testing.T) {
	reading := func(i int, more string) string {
		return fmt.Sprintf(`{"resource":{"resourceType":"Observation","status":"final","code":{"coding":[{"system":"http://loinc.org","code":"105272-9"}]},
			"effectiveDateTime":%q,"valueQuantity":{"value":5.%d,"system":"http://unitsofmeasure.org","code":"mmol/L"}%s}}`, march.Add(time.Duration(i)*15*time.Minute).Format(time.RFC3339), i%7, more)
	}
	for _, c := range []struct{ entry, want string }{
		{`{"resource":{"resourceType":"MedicationStatement","medicationCodeableConcept":{"text":"gliclazide 80 mg"}}}`, "gliclazide 80 mg"},
		{`{"resource":{"resourceType":"Condition","code":{"coding":[{"display":"Pregnancy"}]}}}`, "Pregnancy"},
		{`{"resource":{"resourceType":"Patient","id":"p-1","birthDate":"2018-03-04"}}`, "2018-03-04"},
		{`{"resource":{"resourceType":"Observation","status":"final","code":{"text":"Ketones"},"effectiveDateTime":"2026-03-01T10:00:00Z","valueQuantity":{"value":5.1,"unit":"mmol/L"}}}`, "Ketones: 5.1 mmol/L"},
		{`{"resource":{"resourceType":"Observation","status":"final","code":{"coding":[{"system":"http://loinc.org","code":"14749-6","display":"Plasma glucose"}]},"effectiveDateTime":"2026-03-01T10:00:00Z","valueQuantity":{"value":28,"unit":"mmol/L"}}}`, "Plasma glucose: 28 mmol/L"},
		{reading(400, `,"note":[{"text":"fell off in the shower"}]`), "fell off in the shower"},
	} {
		entries := []string{c.entry}
		for i := range 300 {
			entries = append(entries, reading(i, ""))
		}
		words, asked, res := toldOf(`{"resourceType":"Bundle","type":"collection","entry":[` + strings.Join(entries, ",") + "]}")
		if asked || !slices.ContainsFunc(words, func(w string) bool { return strings.Contains(w, c.want) }) {
			t.Errorf("%s: %v, questions %+v, refusal %+v", c.want, words, res.Questions, res.Refusal)
		}
	}
}
