package export

import (
	"bytes"
	"encoding/csv"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"wearround/store"
	"wearround/worker/intake"
	"wearround/worker/wear"
)

var zone = time.FixedZone("", 10*3600)

// drawn is a wear with readings and events of every kind that there is.
func drawn(t *rapid.T) *Wear {
	unit := rapid.SampledFrom([]wear.Unit{wear.MmolL, wear.MgdL}).Draw(t, "unit")
	w := &Wear{Wear: store.Wear{ID: 7, Patient: store.Patient{ID: 3, Code: "P-0417"}}, Place: zone}
	start := time.Date(2026, 3, 2, 0, 0, 0, 0, zone).Unix()
	n := rapid.IntRange(288, 900).Draw(t, "readings")
	for i := range n {
		r := wear.Reading{At: start + int64(i)*300, Unit: unit}
		step := rapid.IntRange(0, 30).Draw(t, "step")
		if r.Num, r.Scale = int64(550+step*10), 2; unit == wear.MgdL {
			r.Num, r.Scale = int64(99+step), 0
		}
		switch rapid.IntRange(0, 60).Draw(t, "odd") {
		case 0:
			r.Mark = wear.MarkWarmUp
		case 1:
			r.Mark = wear.MarkOnDemand
		case 2:
			r.Bound, r.Num, r.Scale = wear.Below, 0, 0
		case 3:
			r.Bound, r.Num, r.Scale = wear.Above, 250, 1
			if unit == wear.MgdL {
				r.Num, r.Scale = 400, 0
			}
		}
		w.Readings = append(w.Readings, r)
	}
	word := rapid.StringMatching(`[a-zäé]{2,8}( [a-z]{2,6}){0,3}`)
	for i := range rapid.IntRange(0, 12).Draw(t, "events") {
		e := wear.Event{At: start + int64(i)*7200 + 60, Kind: rapid.SampledFrom([]wear.EventKind{
			wear.Meal, wear.Symptom, wear.Exercise, wear.Sleep, wear.Medicine, wear.Note, wear.Fingerstick,
		}).Draw(t, "kind")}
		if rapid.Bool().Draw(t, "labelled") {
			e.Label = word.Draw(t, "label")
		}
		switch e.Kind {
		case wear.Fingerstick:
			e.Value = wear.Reading{At: e.At, Num: 61, Scale: 1, Unit: wear.MmolL}
		case wear.Meal:
			e.Carbs = float64(rapid.IntRange(0, 200).Draw(t, "carbs")) / 2
		case wear.Exercise, wear.Sleep:
			e.Minutes = rapid.IntRange(0, 120).Draw(t, "minutes")
		}
		w.Events = append(w.Events, e)
	}
	w.Report = &wear.Report{Start: time.Unix(start, 0), End: time.Unix(start+int64(n)*300, 0)}
	return w
}

// TestFHIRComesBack: what is written in FHIR is read by the program's own intake
// as the same readings and events, of the same patient.
func TestFHIRComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawn(t)
		for _, format := range []string{FHIR, NDJSON} {
			data, err := w.Write(format)
			if err != nil {
				t.Fatal(err)
			}
			res := intake.Read(data, intake.Options{Zone: zone, Now: time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)})
			if res.Refusal != nil || len(res.Questions) > 0 {
				t.Fatalf("%s: refused %+v, asks %+v", format, res.Refusal, res.Questions)
			}
			if res.PatientHint != "P-0417" {
				t.Errorf("%s: of patient %q", format, res.PatientHint)
			}
			if d := cmp.Diff(w.Readings, res.Readings); d != "" {
				t.Fatalf("%s: readings (-written +read):\n%s", format, d)
			}
			if d := cmp.Diff(w.Events, res.Events); d != "" {
				t.Fatalf("%s: events (-written +read):\n%s", format, d)
			}
		}
	})
}

func TestCSV(t *testing.T) {
	w := &Wear{Wear: store.Wear{ID: 7, Report: &wear.Report{}}, Place: zone}
	w.Readings = []wear.Reading{{At: 1772373600, Num: 670, Scale: 2, Unit: wear.MmolL}, {At: 1772373900, Bound: wear.Below, Unit: wear.MmolL}}
	w.Events = []wear.Event{{At: 1772373660, Kind: wear.Meal, Label: "=HYPERLINK(\"x\"), \"rice\"", Carbs: 40.5}}
	data, err := w.Write(CSV)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasSuffix(data, []byte("\r\n")) || bytes.Count(data, []byte("\n")) != bytes.Count(data, []byte("\r\n")) {
		t.Errorf("line ends: %q", data)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := [][]string{
		{"time", "utc_offset_basis", "kind", "value", "unit", "bound", "quality", "wear", "minutes", "carbohydrate_g", "words"},
		{"2026-03-02T00:00:00+10:00", "clinic-zone", "auto", "6.70", "mmol/L", "", "ok", "7", "", "", ""},
		{"2026-03-02T00:01:00+10:00", "clinic-zone", "meal", "", "", "", "", "7", "", "40.5", "'=HYPERLINK(\"x\"), \"rice\""},
		{"2026-03-02T00:05:00+10:00", "clinic-zone", "auto", "", "mmol/L", "below", "ok", "7", "", "", ""},
	}
	if d := cmp.Diff(want, rows); d != "" {
		t.Error(d)
	}
}
