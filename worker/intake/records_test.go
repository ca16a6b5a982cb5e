package intake_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
)

// mmol and mgdl are quantities by their UCUM code.
func mmol(v string) string {
	return `"valueQuantity":{"value":` + v + `,"unit":"mmol/l","system":"http://unitsofmeasure.org","code":"mmol/L"}`
}

// sensorAt is a sensor's reading of FHIR R4 at a time.
func sensorAt(at, rest string) string {
	return observationOf(`"105272-9"`, `"effectiveDateTime":"`+at+`",`+rest)
}

// pointAt is a data point of Open mHealth.
func pointAt(at, body string) string {
	return `{"header":{"uuid":"1","schema_id":{"namespace":"omh","name":"blood-glucose","version":"4.0"}},"body":{` + body +
		`,"effective_time_frame":{"date_time":"` + at + `"}}}`
}

const omhValue = `"blood_glucose":{"value":6.4,"unit":"mmol/L"}`

// TestReadRecords reads health records in JSON, right and wrong ones.
func TestReadRecords(t *testing.T) {
	const at = "2026-03-02T18:15:00+11:00"
	const reading = "2026-03-02T07:15 6.4 mmol/L"
	series := func(rest string) string {
		return observationOf(`"105272-9"`, `"effectivePeriod":{"start":"2026-03-02T00:00:00Z","end":"2026-03-02T00:30:00Z"},"valueSampledData":{"origin":{"value":0,"system":"http://unitsofmeasure.org","code":"mmol/L"},"period":900000,"dimensions":1,`+rest+`}`)
	}
	for _, c := range []struct{ name, data, want string }{
		{"digits are kept", sensorAt(at, mmol("6.70")), "2026-03-02T07:15 6.70 mmol/L"},
		{"litre in small letters", strings.Replace(sensorAt(at, mmol("6.4")), `"code":"mmol/L"`, `"code":"mmol/l"`, 1), reading},
		{"the display does not count", strings.Replace(sensorAt(at, mmol("6.4")), `"unit":"mmol/l"`, `"unit":"mg/dL"`, 1), reading},
		{"no unit code", strings.Replace(sensorAt(at, mmol("6.4")), `"code":"mmol/L"`, `"x":"y"`, 1), "refused: unreadable_rows; left out: a value without the code of a glucose unit"},
		{"unit against code", strings.Replace(sensorAt(at, mmol("108")), `"mmol/L"`, `"mg/dL"`, 1), "asked: unit"},
		{"at most", sensorAt(at, strings.Replace(mmol("2.2"), `"unit"`, `"comparator":"<=","unit"`, 1)), "2026-03-02T07:15 <2.2 mmol/L"},
		{"a comparator of a later version", sensorAt(at, strings.Replace(mmol("2.2"), `"unit"`, `"comparator":"ad","unit"`, 1)), "refused: unreadable_rows; left out: a comparator that FHIR R4 does not have"},
		{"number in quotes", sensorAt(at, mmol(`"6.4"`)), "refused: unreadable_rows; left out: an observation that does not follow FHIR R4"},
		{"power of ten", sensorAt(at, mmol(`64e-1`)), "refused: unreadable_rows; left out: a value that is no plain number"},
		{"negative", sensorAt(at, mmol(`-6.4`)), "refused: unreadable_rows; left out: a value that is no plain number"},
		{"not glucose", sensorAt(at, mmol("640")), "refused: unreadable_rows; left out: a value that cannot be glucose in mmol/L"},
		{"no offset", sensorAt("2026-03-02T18:15:00", mmol("6.4")), "asked: zone"},
		{"a date only", sensorAt("2026-03-02", mmol("6.4")), "refused: unreadable_rows; left out: no moment that can be read"},
		{"in error", strings.Replace(sensorAt(at, mmol("6.4")), "final", "entered-in-error", 1), "refused: no_readings; left out: its status is entered-in-error"},
		{"preliminary", strings.Replace(sensorAt(at, mmol("6.4")), "final", "preliminary", 1), "asked: status; left out: its status is preliminary"},
		{"modifier", sensorAt(at, mmol("6.4")+`,"modifierExtension":[{"url":"x"}]`), "refused: unreadable_rows; left out: an extension that changes its meaning"},
		{"key twice", sensorAt(at, mmol("6.4")+`,`+mmol("7.4")), "refused: json_keys"},
		{"key twice behind an escape", sensorAt(at, mmol("6.4")+`,"value\u0051uantity":{"value":7.4}`), "refused: json_keys"},
		{"key in other capitals", strings.Replace(sensorAt(at, mmol("6.4")), `"value":`, `"VALUE":7.4,"value":`, 1), "refused: json_keys"},
		{"cut", sensorAt(at, mmol("6.4"))[:200], "refused: cut_short"},
		{"cut in a number", `{"resourceType":"Observation","x":6`, "refused: cut_short"},
		{"more behind it", sensorAt(at, mmol("6.4")) + " x", "refused: json"},
		{"other JSON", `{"readings":[5.5]}`, "refused: json"},
		{"one line of two", sensorAt(at, mmol("6.4")) + "\n" + sensorAt(at, mmol("640")), "asked: unreadable_rows; left out: a value that cannot be glucose in mmol/L"},
		{"two lines", sensorAt(at, mmol("6.4")) + "\r\n" + sensorAt("2026-03-02T18:30:00+11:00", mmol("6.5")), reading + "; 2026-03-02T07:30 6.5 mmol/L"},
		{"key twice on the second line", sensorAt(at, mmol("6.4")) + "\n" + sensorAt(at, mmol("6.5")+","+mmol("6.6")) + "\n", "refused: json_keys"},
		{"second line cut", sensorAt(at, mmol("6.4")) + "\n" + sensorAt(at, mmol("6.5"))[:99], "refused: cut_short"},
		{"series", series(`"data":"5.6 5.7 5.8"`), "2026-03-02T00:00 5.6 mmol/L; 2026-03-02T00:15 5.7 mmol/L; 2026-03-02T00:30 5.8 mmol/L"},
		{"series that does not fill its time", series(`"data":"5.6 5.7 5.8 5.9 5.9"`), "refused: unreadable_rows; left out: a series whose length does not agree with its period"},
		{"series with two spaces", series(`"data":"5.6  5.8"`), "refused: unreadable_rows; left out: a series with two spaces in a row or one at its end"},
		{"series below an unknown limit", series(`"data":"5.6 L 5.8"`), "refused: unreadable_rows; left out: a series with a value below a limit that it does not state"},
		{"series of two dimensions", strings.Replace(series(`"data":"5.6 5.7 5.8"`), `"dimensions":1`, `"dimensions":2`, 1), "refused: unreadable_rows; left out: a series of more than one dimension"},
		{"series of a later version", series(`"interval":900,"intervalUnit":"s","data":"5.6 5.7 5.8"`), "refused: unreadable_rows; left out: a series in the form of a later version of FHIR"},
		{"limits that fit both ways", series(`"factor":2,"lowerLimit":2.0,"upperLimit":25.0,"data":"5.6 L 5.8"`), "asked: limits"},
		{"limits before the factor", series(`"factor":0.1,"lowerLimit":20,"upperLimit":250,"data":"56 L 58"`), "2026-03-02T00:00 5.6 mmol/L; 2026-03-02T00:15 <2.0 mmol/L; 2026-03-02T00:30 5.8 mmol/L"},
		{"two subjects", `[` + sensorAt(at, mmol("6.4")) + `,` + strings.Replace(sensorAt(at, mmol("7.4")), "p-0417", "p-0518", 1) + `]`, "asked: people"},
		{"a bundle that is a message", `{"resourceType":"Bundle","type":"message","entry":[{"resource":` + sensorAt(at, mmol("6.4")) + `}]}`, "asked: bundle"},
		{"an entry to be deleted", `{"resourceType":"Bundle","type":"batch","entry":[{"resource":` + sensorAt(at, mmol("6.4")) + `,"request":{"method":"DELETE"}}]}`, "refused: unreadable_rows; left out: an entry that asks for something else than to be stored"},
		{"two entries of one address", `{"resourceType":"Bundle","type":"batch","entry":[{"fullUrl":"urn:uuid:1"},{"fullUrl":"urn:uuid:1"}]}`, "refused: json_keys"},
		{"Open mHealth", pointAt(at, omhValue+`,"specimen_source":"interstitial fluid"`), reading},
		{"its unit as FHIR displays it", pointAt(at, `"blood_glucose":{"value":6.4,"unit":"mmol/l"},"specimen_source":"interstitial fluid"`), "refused: unreadable_rows; left out: a value without a plain number and one of the two units"},
		{"a mean", pointAt(at, omhValue+`,"specimen_source":"interstitial fluid","descriptive_statistic":"average"`), "refused: no_readings; left out: a figure over a period, not a reading"},
		{"another fluid", pointAt(at, omhValue+`,"specimen_source":"saliva"`), "refused: no_readings; left out: glucose of another fluid than the sensor's"},
		{"fluid not said", pointAt(at, omhValue), "asked: specimen"},
		{"no zone", pointAt("2026-03-02T18:15:00", omhValue+`,"specimen_source":"interstitial fluid"`), "asked: zone"},
		{"neither header", strings.Replace(pointAt(at, omhValue), `"uuid":"1",`, "", 1), "refused: unreadable_rows; left out: a header that neither IEEE 1752.1 nor Open mHealth has"},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := intake.Read([]byte(c.data), intake.Options{Zone: time.UTC, Now: now})
			if got := said(res); got != c.want {
				t.Errorf("gave %q\nwant %q", got, c.want)
			}
		})
	}
}

// Several subjects are told apart once somebody says that they are, and a
// reference that stands for nothing outside the file gets the code on record.
func TestReadRecordsOfSeveral(t *testing.T) {
	var entries []string
	for i, who := range []string{"urn:uuid:a", "urn:uuid:b"} {
		entries = append(entries, fmt.Sprintf(`{"fullUrl":%q,"resource":{"resourceType":"Patient","identifier":[{"system":"http://ns.electronichealth.net.au/id/hi/ihi/1.0","value":"8003"},{"value":"P-%d"}]}}`, who, i))
		for k := range 3 {
			entries = append(entries, fmt.Sprintf(`{"resource":%s}`, strings.Replace(sensorAt(fmt.Sprintf("2026-03-02T18:%02d:00Z", 5*k), mmol("6.4")), "Patient/p-0417", who, 1)))
		}
	}
	data := []byte(`{"resourceType":"Bundle","type":"collection","entry":[` + strings.Join(entries, ",") + `]}`)
	o := intake.Options{Zone: time.UTC, Now: now, Answers: map[string]string{"people": "split"}}
	res := intake.Read(data, o)
	if len(res.People) != 2 || res.People[0].Hint != "P-0" || res.People[1].Hint != "P-1" || len(res.People[0].Readings) != 3 || len(res.Readings) > 0 {
		t.Errorf("people %+v, questions %+v, refusal %+v", res.People, res.Questions, res.Refusal)
	}
	o.Answers["people"] = "one"
	if res = intake.Read(data, o); len(res.Readings) != 6 || len(res.People) > 0 || res.PatientHint != "" {
		t.Errorf("%d readings, people %+v, hint %q, questions %+v", len(res.Readings), res.People, res.PatientHint, res.Questions)
	}
}
