package export

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// judge holds each document that it is given, one a line, against the structure
// definitions of FHIR R4; it fails for one that it must refuse, too.
const judge = `
const {Fhir} = require('fhir'), f = new Fhir();
const faults = d => f.validate(d, {errorOnUnexpected: true}).messages.filter(m => m.severity === 'error' || m.severity === 'fatal');
if (faults({resourceType: 'Observation', status: 'final', code: {}, wrong: 1}).length === 0) { console.log('it takes what is wrong'); process.exit(1); }
let bad = 0;
for (const line of require('fs').readFileSync(process.argv[2], 'utf8').trim().split('\n'))
  for (const m of faults(JSON.parse(line))) { console.log(m.location + ': ' + m.message); bad++; }
process.exit(bad ? 1 : 0);
`

// TestFHIRIsR4 needs WEARROUND_FHIR to name a folder where "npm install fhir"
// was run.
func TestFHIRIsR4(t *testing.T) {
	dir := os.Getenv("WEARROUND_FHIR")
	if dir == "" {
		t.Skip("WEARROUND_FHIR names no folder with the validator: what is written is not held against the definitions of FHIR R4 here")
	}
	at := int64(1772373600)
	w := &Wear{Wear: store.Wear{ID: 7, Patient: store.Patient{ID: 3, Code: "P-0417"}}, Place: zone}
	for _, unit := range []wear.Unit{wear.MmolL, wear.MgdL} {
		w.Readings = append(w.Readings,
			wear.Reading{At: at, Num: 670, Scale: 2, Unit: unit}, wear.Reading{At: at + 300, Bound: wear.Below, Unit: unit},
			wear.Reading{At: at + 600, Num: 250, Scale: 1, Bound: wear.Above, Unit: unit, Mark: wear.MarkOnDemand | wear.MarkWarmUp})
		w.Events = append(w.Events, wear.Event{At: at, Kind: wear.Fingerstick, Label: "left hand", Value: wear.Reading{At: at, Num: 61, Scale: 1, Unit: unit}})
	}
	for _, kind := range []wear.EventKind{wear.Meal, wear.Symptom, wear.Exercise, wear.Sleep, wear.Medicine, wear.Note, wear.Undated} {
		w.Events = append(w.Events, wear.Event{At: at, Kind: kind, Label: "words", Carbs: 12.5}, wear.Event{At: at, Kind: kind, Minutes: 30})
	}
	some := wear.Of(12.345)
	w.Report = &wear.Report{Start: time.Unix(at, 0), End: time.Unix(at+86400, 0), CapturedPct: some,
		Metrics: wear.Metrics{MeanMmol: some, CVPct: some, Above7_8Pct: some, Above10Pct: some, Below3_9Pct: some}}
	var results []store.Result
	for kind, units := range map[store.ResultKind][]string{store.HbA1c: {"%", "mmol/mol"}, store.Fasting: {"mmol/L"}, store.HDL: {"mmol/L"}} {
		for _, unit := range units {
			results = append(results, store.Result{ID: int64(len(results)), NewResult: store.NewResult{Kind: kind, Value: ">=5.90", Unit: unit, TakenAt: time.Unix(at, 0), Note: "words"}})
		}
	}
	whole, err := w.Write(FHIR)
	if err != nil {
		t.Fatal(err)
	}
	single, err := w.Write(NDJSON)
	if err != nil {
		t.Fatal(err)
	}
	labs, err := lines(LabResults(store.Patient{ID: 3, Code: "P-0417", Name: "Mira Tavo", BirthDate: "1961-05-03"}, results))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "written.ndjson")
	if err := os.WriteFile(file, []byte(strings.ReplaceAll(strings.Join([]string{string(whole), string(single), string(labs)}, "\n"), "\n\n", "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	script := filepath.Join(dir, "judge.cjs")
	if err := os.WriteFile(script, []byte(judge), 0o600); err != nil {
		t.Fatal(err)
	}
	defer os.Remove(script)
	if out, err := exec.Command("node", script, file).CombinedOutput(); err != nil {
		t.Errorf("%v:\n%s", err, out)
	}
}
