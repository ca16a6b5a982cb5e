package intake_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/worker/intake"
	"wearround/worker/sim/messy"
	"wearround/worker/wear"
)

// holdsUp checks what must be so of any bytes: reading ends without a panic,
// exactly one outcome is given, the counts add up, an answered question is not
// asked again, and the recipe of a filed file reads it to the same readings.
func holdsUp(t *testing.T, data []byte, o intake.Options) {
	res := intake.Read(data, o)
	switch {
	case res.Refusal != nil:
		if res.Refusal.Code == "" || res.Refusal.Text == "" || res.Refusal.ToDo == "" || len(res.Questions) > 0 || len(res.Readings) > 0 || len(res.People) > 0 {
			t.Fatalf("refusal is not complete: %+v", res)
		}
	case len(res.Questions) > 0:
		if len(res.Readings) > 0 {
			t.Fatal("a held file gives readings")
		}
		o.Answers = make(map[string]string)
		for _, q := range res.Questions {
			if q.Code == "" || q.Text == "" || len(q.Choices) < 2 {
				t.Fatalf("question is not complete: %+v", q)
			}
			o.Answers[q.Code] = q.Choices[0].Value
		}
		if len(res.Questions) > 1 {
			intake.Read(data, o) // one answer may change what another question offers
			return
		}
		for _, q := range intake.Read(data, o).Questions {
			if _, asked := o.Answers[q.Code]; asked {
				t.Fatalf("asked again after an answer: %+v", q)
			}
		}
	case len(res.People) == 0:
		if len(res.Readings) == 0 || res.Skipped > res.Rows {
			t.Fatalf("filed with %d readings of %d rows", len(res.Readings), res.Rows)
		}
		for _, r := range res.Readings {
			if r.At > now.Unix()+86400 || r.At < 946684800-86400 || r.Unit == wear.UnitUnknown {
				t.Fatalf("filed reading %+v", r)
			}
		}
		o.Recipe = func(string) (intake.Recipe, bool) { return res.Recipe, true }
		again := intake.Read(data, o)
		if d := cmp.Diff(res.Readings, again.Readings) + cmp.Diff(res.Events, again.Events); d != "" || again.Refusal != nil || again.Skipped != res.Skipped {
			t.Fatalf("its own recipe reads it otherwise: %s %+v", d, again.Refusal)
		}
	}
}

func fuzzZones(f *testing.F) []*time.Location {
	zones := make([]*time.Location, 0, 3)
	for _, name := range []string{"UTC", "Australia/Sydney", "Europe/Berlin"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			f.Fatal(err)
		}
		zones = append(zones, zone)
	}
	return zones
}

// FuzzRead reads any bytes; its corpus is delimited text.
func FuzzRead(f *testing.F) {
	plain := "time,glucose,event\n" + lines(8, march, func(i int, at time.Time) string { return iso(i, at) + ",meal" })
	for _, s := range []string{
		"", plain, "\xff\xfe" + utf16le(plain), utf16le(plain), "\xef\xbb\xbf" + plain,
		"Datum;Uhrzeit;Glukose\n01.03.2026;09:00;5,6\n;09:15;<2,2\n;09:30;HOCH\n",
		"1772355600,101\n1772355900,102\n1772356200,104\n", "46082.375,5.5\n46082.378472222,5.6\n46082.381944444,5.7\n",
		"time|kind|value\n3/4/26 12:15 AM|sensor|140\n3/4/26 12:30 AM|scan|141\n",
		"2026-04-05T02:30:00+11:00\t5.5\n2026-04-05T02:45:00Z\t5.6\n", "2026-04-05 02:30 AEDT,5.5\n2026-04-05 02:30 AEST,5.6\n",
		"a,b\n\"x\ny\",\"z\"\"z\"\n", "\"", "time,glucose\n2026-03-01 09:00,\"5,6\"\n", "1 Mar 2026 9 pm,7.8\nMarch 1, 2026 21:15,7.9\n",
		"subject,time,glucose\nA,2026-03-01 09:00,5.5\nB,2026-03-01 09:00,5.5\nA,2026-03-01 09:15,5.6\nB,2026-03-01 09:15,5.7\n",
	} {
		f.Add([]byte(s), uint8(0))
	}
	for i, k := range messy.Classes() {
		data := messy.New(uint64(i), k.Number).Data
		f.Add(data[:min(len(data), 2000)], uint8(i))
	}
	zones := fuzzZones(f)
	f.Fuzz(func(t *testing.T, data []byte, zone uint8) {
		holdsUp(t, data, intake.Options{Zone: zones[int(zone)%len(zones)], Now: now})
	})
}

// FuzzRecords reads health records in JSON: FHIR R4, one document or one a
// line, and Open mHealth.
func FuzzRecords(f *testing.F) {
	for _, s := range recordSeeds {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		holdsUp(t, data, intake.Options{Zone: time.UTC, Now: now})
	})
}

// FuzzPacked reads what stands in an archive: the bytes as they are, and the
// same bytes as the one entry of a zip and inside a gzip.
func FuzzPacked(f *testing.F) {
	plain := "time,glucose\n" + lines(8, march, iso)
	f.Add([]byte(gz(plain)), "a.csv")
	f.Add([]byte(zipped("a.csv", plain)), "../../a.csv")
	f.Add([]byte(zipped("a.csv", plain, "b.csv", plain)), "__x/a.csv")
	f.Add([]byte(plain), "")
	f.Fuzz(func(t *testing.T, data []byte, name string) {
		o := intake.Options{Zone: time.UTC, Now: now}
		holdsUp(t, data, o)
		holdsUp(t, []byte(gz(string(data))), o)
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		if w, err := z.Create(name); err == nil {
			w.Write(data)
		}
		z.Close()
		holdsUp(t, b.Bytes(), o)
	})
}

// FuzzWorkbook reads workbooks whose parts are any bytes.
func FuzzWorkbook(f *testing.F) {
	parts := func(data []byte) map[string]string {
		z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			f.Fatal(err)
		}
		out := make(map[string]string)
		for _, p := range z.File {
			r, err := p.Open()
			if err != nil {
				f.Fatal(err)
			}
			var b bytes.Buffer
			b.ReadFrom(r)
			out[p.Name] = b.String()
		}
		return out
	}
	whole := make(map[string]string)
	for seed := range uint64(6) {
		p := parts(messy.New(seed, 26).Data)
		sheet := p["xl/worksheets/sheet1.xml"]
		f.Add(p["xl/workbook.xml"], sheet[:min(len(sheet), 3000)]+"</sheetData></worksheet>", `<sst><si><t>x</t></si></sst>`)
		whole = p
	}
	f.Fuzz(func(t *testing.T, book, sheet, shared string) {
		holdsUp(t, []byte(zipped("[Content_Types].xml", whole["[Content_Types].xml"], "_rels/.rels", whole["_rels/.rels"],
			"xl/workbook.xml", book, "xl/_rels/workbook.xml.rels", whole["xl/_rels/workbook.xml.rels"],
			"xl/worksheets/sheet1.xml", sheet, "xl/sharedStrings.xml", shared)), intake.Options{Zone: time.UTC, Now: now})
	})
}

// recordSeeds are short health records of every kind that is read.
var recordSeeds = []string{
	observationOf(`"105272-9"`, `"effectiveDateTime":"2026-03-02T18:15:00+11:00","valueQuantity":{"value":6.4,"system":"http://unitsofmeasure.org","code":"mmol/L"}`),
	observationOf(`"99504-3"`, `"effectiveDateTime":"2026-03-02T18:15:00Z","valueQuantity":{"value":40,"comparator":"<","system":"http://unitsofmeasure.org","code":"mg/dL"}`),
	observationOf(`"105272-9"`, `"effectiveDateTime":"2026-03-02T18:15:00Z","dataAbsentReason":{"coding":[{"code":"error"}]}`),
	observationOf(`"105272-9"`, `"effectivePeriod":{"start":"2026-03-02T00:00:00Z","end":"2026-03-02T01:15:00Z"},"valueSampledData":{"origin":{"value":0,"system":"http://unitsofmeasure.org","code":"mmol/L"},"period":900000,"factor":0.1,"lowerLimit":2.0,"upperLimit":25.0,"dimensions":1,"data":"56 57 E L 61 U"}`),
	observationOf(`"75325-1"`, `"effectiveDateTime":"2026-03-02T18:15:00Z","valueCodeableConcept":{"text":"shaky"}`),
	observationOf(`"97510-2"`, `"effectivePeriod":{"start":"2026-02-20","end":"2026-03-06"},"valueQuantity":{"value":96.25}`),
	fmt.Sprintf(`{"resourceType":"Bundle","type":"collection","entry":[{"fullUrl":"urn:uuid:1","resource":{"resourceType":"Patient","id":"p","identifier":[{"value":"0417"}]}},{"resource":%s}]}`,
		observationOf(`"105272-9"`, `"effectiveDateTime":"2026-03-02T18:15:00+11:00","valueQuantity":{"value":6.4,"system":"http://unitsofmeasure.org","code":"mmol/L"}`)),
	observationOf(`"105272-9"`, `"effectiveDateTime":"2026-03-02T18:15:00","valueQuantity":{"value":6.4,"system":"http://unitsofmeasure.org","code":"mmol/L"}`) + "\n" +
		observationOf(`"105272-9"`, `"effectiveDateTime":"2026-03-02T18:30:00","valueQuantity":{"value":6.5,"system":"http://unitsofmeasure.org","code":"mmol/L"}`) + "\n",
	`{"header":{"uuid":"1","schema_id":{"namespace":"omh","name":"blood-glucose","version":"4.0"}},"body":[{"blood_glucose":{"value":6.4,"unit":"mmol/L"},"effective_time_frame":{"date_time":"2026-03-02T18:15:00+11:00"},"specimen_source":"interstitial fluid"}]}`,
	`{"header":{"id":"1","user_id":"0417","schema_id":{"namespace":"omh","name":"blood-glucose","version":"4.0"}},"body":{"blood_glucose":{"value":6.9,"unit":"mmol/L"},"effective_time_frame":{"date_time":"2026-03-02T18:20:00"},"specimen_source":"capillary blood","descriptive_statistic":"average"}}`,
	`[{"header":{"uuid":"1"},"body":{}}]`, `{"a":1,"a":2}`, `[[[[`, `{"\u0061":"\ud800"}`,
}

// observationOf is an observation with a code and whatever else it has.
func observationOf(code, rest string) string {
	return `{"resourceType":"Observation","status":"final","code":{"coding":[{"system":"http://loinc.org","code":` + code + `}]},"subject":{"reference":"Patient/p-0417"},` + rest + `}`
}
