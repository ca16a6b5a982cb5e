package intake_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// heldIn puts a true table into containers of each sort under a name.
var heldIn = map[string]func(t *testing.T, name, person string) string{
	"sheet": func(t *testing.T, name, person string) string {
		return string(book26(t, func(f *excelize.File) {
			if err := f.SetSheetName("Sheet1", name); err != nil {
				t.Fatal(err)
			}
			readings(t, f, name, func(at time.Time) any { return at })
			if person != "" {
				if err := f.InsertRows(name, 1, 1); err != nil {
					t.Fatal(err)
				}
				if err := f.SetSheetRow(name, "A1", &[]any{"Patient", person}); err != nil {
					t.Fatal(err)
				}
			}
		}))
	},
	"list": func(t *testing.T, name, person string) string {
		return fmt.Sprintf(`{%s%q:[%s]}`, ifThen(person == "", "", `"patient":"`+person+`",`), name, jsonRows(3*96, 0))
	},
	"path": func(t *testing.T, name, person string) string {
		return fmt.Sprintf(`{%s"data":{%q:{"readings":[%s]}}}`, ifThen(person == "", "", `"patient":"`+person+`",`), name, jsonRows(3*96, 0))
	},
	"element": func(t *testing.T, name, person string) string {
		name = strings.ReplaceAll(name, " ", "_")
		return "<export>" + ifThen(person == "", "", "<patient>"+person+"</patient>") + "<" + name + ">" + xmlRows(3*96) + "</" + name + "></export>"
	},
	"caption": func(t *testing.T, name, person string) string {
		return htmlTable("<caption>"+name+"</caption>", "", person)
	},
	"folder": func(t *testing.T, name, person string) string {
		return zipOf(t, [2]string{name + "/readings.csv", ifThen(person == "", "", "Patient,"+person+"\n") +
			wearFileOf("time,glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v })})
	},
}

func jsonRows(n, from int) string {
	rows := strings.Split(strings.TrimSpace(wearFileOf("", n, func(at time.Time, _ int, v string) string {
		return fmt.Sprintf(`{"time":%q,"glucose":%s,"unit":"mmol/L"}`, at.Add(time.Duration(from)*15*time.Minute).Format(minutes), v)
	})), "\n")
	return strings.Join(rows, ",")
}

func xmlRows(n int) string {
	return wearFileOf("", n, func(at time.Time, _ int, v string) string {
		return fmt.Sprintf("<reading><time>%s</time><glucose>%s</glucose></reading>", at.Format(minutes), v)
	})
}

// htmlTable is a page with a table: what stands before its rows, and what stands in
// the tag of the heading of its values.
func htmlTable(before, attribute, person string) string {
	return "<html><body>" + ifThen(person == "", "", "<p>Patient: "+person+"</p>") + "<table>" + before + "<tr><th>time</th><th" + attribute + ">glucose mmol/L</th></tr>" +
		wearFileOf("", 3*96, func(at time.Time, _ int, v string) string {
			return "<tr><td>" + at.Format(minutes) + "</td><td>" + v + "</td></tr>"
		}) + "</table></body></html>"
}

// TestNamesOfContainersAreSayings: what a table lies in may be called by another
// substance, a forecast, a statistic or another person, and none is overheard.
func TestNamesOfContainersAreSayings(t *testing.T) {
	for kind, file := range heldIn {
		for _, name := range []string{"forecast", "ketones", "Lactate", "hourly means", "Ann", "Ben Q", "zorvex", "urine glucose", "insulin", "simulated"} {
			if words, asked, res := toldOf(file(t, name, "")); !asked && (kind != "caption" || len(words) == 0) || res.Refusal != nil {
				t.Errorf("%s %q: %d readings filed, %q, %+v", kind, name, len(res.Readings), words, res.Refusal)
			}
		}
		for _, name := range []string{"readings", "data", "Sheet1", "entries", "items", "stream", "Table", "glucose", "2026-03", "March 2026", "cgmData", "sensor_readings", "Blatt 2", "Feuil1", "Лист1", "week 1"} {
			if kind == "element" && (strings.ContainsAny(name[:1], "0123456789") || name == "Лист1") {
				continue
			}
			if words, asked, res := toldOf(file(t, name, "")); asked || len(words) > 0 || len(res.Readings) != 3*96 && kind != "sheet" {
				t.Errorf("%s %q: %q, %+v %+v", kind, name, words, res.Questions, res.Refusal)
			}
		}
		if kind == "caption" {
			continue
		}
		for _, code := range []string{"P-0002", "p0002", "X_20417"} {
			if _, asked, res := toldOf(file(t, code, "P-0417")); !asked || res.Refusal != nil {
				t.Errorf("%s %q of P-0417: %d readings filed as %q, %+v", kind, code, len(res.Readings), res.PatientHint, res.Refusal)
			}
			if _, asked, res := toldOf(file(t, code, "")); asked || res.PatientHint != code {
				t.Errorf("%s %q: it is said to be %q's; %+v %+v", kind, code, res.PatientHint, res.Questions, res.Refusal)
			}
			if _, asked, res := toldOf(file(t, code, code)); asked || res.PatientHint != code {
				t.Errorf("%s %q of %q: %+v %+v", kind, code, code, res.Questions, res.Refusal)
			}
		}
	}
}

// TestAnswersAboutANameOfAContainer: each answer does what it says.
func TestAnswersAboutANameOfAContainer(t *testing.T) {
	data := heldIn["path"](t, "zorvex", "")
	asked, res := answeredWith(data, nil)
	if len(asked) != 1 {
		t.Fatalf("asked %v, %+v", asked, res.Refusal)
	}
	for answer, want := range map[string]string{"aside": "filed", "remark": "words", "person": "person", "stop": "refused"} {
		again, res := answeredWith(data, map[string]string{asked[0]: answer})
		got := ""
		switch {
		case len(again) > 0:
			got = "asked"
		case res.Refusal != nil:
			got = "refused"
		case res.PatientHint == "zorvex":
			got = "person"
		case len(res.Events) == 1 && strings.Contains(res.Events[0].Label, "zorvex"):
			got = "words"
		case len(res.Readings) == 3*96 && res.Account.Balanced():
			got = "filed"
		}
		if got != want {
			t.Errorf("%s: %s, want %s (%+v)", answer, got, want, res.Refusal)
		}
	}
}

// TestSaidByAttributes: what a page says in the attributes of its elements is heard.
func TestSaidByAttributes(t *testing.T) {
	for _, c := range []struct{ before, attribute string }{
		{`<img src="a.png" alt="forecast">`, ""}, {"", ` title="predicted by a model"`}, {`<img alt="she fainted on day two">`, ""}, {"", ` title="urine"`}, {"", ` aria-label="of Ben"`},
	} {
		if words, asked, res := toldOf(htmlTable(c.before, c.attribute, "")); !asked && len(words) == 0 || res.Refusal != nil {
			t.Errorf("%q %q was not heard; %+v", c.before, c.attribute, res.Refusal)
		}
	}
	if words, asked, res := toldOf(htmlTable(`<img alt="">`, ` title="glucose in mmol/L"`, "")); asked || len(words) > 0 {
		t.Errorf("%q %+v %+v", words, res.Questions, res.Refusal)
	}
}

// TestPeopleByContainers: what lies in containers of several names is of several
// people until somebody says otherwise, however deep the names are.
func TestPeopleByContainers(t *testing.T) {
	half := func(i int) string { return jsonRows(96, i*96) }
	people := map[string]string{
		"object a person":       `{"ann":{"readings":[` + half(0) + `]},"ben":{"readings":[` + half(1) + `]}}`,
		"codes":                 `{"P-0001":{"readings":[` + half(0) + `]},"P-0002":{"readings":[` + half(1) + `]}}`,
		"beneath a list":        `[{"who":"ann","data":{"readings":[` + half(0) + `]}},{"who":"ben","data":{"readings":[` + half(1) + `]}}]`,
		"elements":              "<file><ann>" + xmlRows(96) + "</ann><ben>" + strings.ReplaceAll(xmlRows(192)[len(xmlRows(96)):], "", "") + "</ben></file>",
		"numbered":              `{"person1":{"readings":[` + half(0) + `]},"person2":{"readings":[` + half(1) + `]}}`,
		"lists beside":          `[{"ann":[` + half(0) + `],"ben":[` + half(1) + `]}]`,
		"one is nobody's":       `{"readings":[` + half(0) + `],"ben":[` + half(1) + `]}`,
		"a forecast behind":     `{"readings":[` + half(0) + `],"forecast":[` + half(1) + `]}`,
		"one object, two lists": `{"wear":{"readings":[` + half(0) + `],"forecast":[` + half(1) + `]}}`,
	}
	for name, data := range people {
		if _, asked, res := toldOf(data); !asked || res.Refusal != nil {
			t.Errorf("%s: %d readings filed as one person's, %+v", name, len(res.Readings), res.Refusal)
		}
	}
	for name, data := range map[string]string{
		"pages":  `{"page1":{"readings":[` + half(0) + `]},"page2":{"readings":[` + half(1) + `]}}`,
		"months": `{"february":[` + half(0) + `],"march":[` + half(1) + `]}`,
	} {
		if _, asked, res := toldOf(data); asked || len(res.Readings) != 192 {
			t.Errorf("%s: %d readings, %+v %+v", name, len(res.Readings), res.Questions, res.Refusal)
		}
	}
	_, res := answeredWith(people["object a person"], map[string]string{"sheet": "people"})
	if len(res.People) != 2 || res.People[0].Hint != "ann" || len(res.People[1].Readings) != 96 {
		t.Errorf("%d people, %+v %+v", len(res.People), res.Questions, res.Refusal)
	}
}

// TestNothingOfStructuredTextIsLost: whatever stands among the members of a list
// reaches a person or is asked about.
func TestNothingOfStructuredTextIsLost(t *testing.T) {
	rows := jsonRows(96, 0)
	for name, data := range map[string]string{
		"a text among objects":      `[` + rows + `,"she collapsed"]`,
		"a list among objects":      `[` + rows + `,["she collapsed"]]`,
		"a list in a member":        `[` + rows + `,{"time":"2026-03-02 09:00","glucose":5.4,"unit":"mmol/L","note":["well","she collapsed","well"]}]`,
		"an object in a list":       `[["2026-03-01 09:00",5.4],["2026-03-01 09:15",5.5],["2026-03-01 09:30",5.6],["2026-03-01 09:45",5.5],["2026-03-01 10:00",5.5],["2026-03-01 10:15",{"note":"she collapsed"}]]`,
		"a key with a single value": `{"readings":[` + rows + `],"diary":{"collapsed":1}}`,
		"deep beside":               `{"a":{"b":{"c":"she collapsed"}},"readings":[` + rows + `]}`,
	} {
		words, asked, res := toldOf(data)
		if !asked && !strings.Contains(strings.Join(words, " "), "collapsed") {
			t.Errorf("%s: nobody is told; %q, %+v", name, words, res.Account)
		}
	}
}

// TestStructuredTextStaysSmall: what stands beside a list is repeated in its rows
// only as far as any wear has cells.
func TestStructuredTextStaysSmall(t *testing.T) {
	wide := ""
	for i := range 20_000 {
		wide += fmt.Sprintf(`"k%d":1,`, i)
	}
	data := `[{` + wide + `"list":[` + strings.Repeat(`{"a":1},`, 20_000) + `{"a":1}]}]`
	if _, asked, res := toldOf(data); !asked || res.Refusal == nil {
		t.Errorf("%d readings, %+v", len(res.Readings), res.Questions)
	}
}
