package wear_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"wearround/worker/wear"
)

// Ten wears of the open cohorts against an independent plain-Python
// computation of every measure, testdata/second_opinion.py, whose output is
// kept beside it. Every reading is measured there, so every reading is believed
// here: by decision, which also checks that decisions hold.
func TestTenWearsAgreeWithAnIndependentComputation(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("testdata", "second_opinion.json"))
	if err != nil {
		t.Fatal(err)
	}
	var wears []struct {
		Cohort, Subject, Unit string
		Figures               map[string]json.RawMessage
	}
	if err := json.Unmarshal(data, &wears); err != nil {
		t.Fatal(err)
	}
	if len(wears) != 10 {
		t.Fatalf("%d wears, want ten", len(wears))
	}
	cohorts := map[string]map[string][]wear.Reading{}
	for _, w := range wears {
		unit, column := wear.MgdL, "glucose_mgdl"
		if w.Unit == "mmol/L" {
			unit, column = wear.MmolL, "glucose_mmol"
		}
		if cohorts[w.Cohort] == nil {
			_, cohorts[w.Cohort] = cohort(t, w.Cohort, column, unit)
		}
		readings := wear.Split(cohorts[w.Cohort][w.Subject], nil)[0]
		r := wear.Analyse(wear.Input{
			Readings:  readings,
			Overrides: []wear.Override{{From: readings[0].At, To: readings[len(readings)-1].At, Believe: true}},
		})
		got, checked := metricsOf(r.Metrics), 0
		for key, raw := range w.Figures {
			switch key {
			case "episodes":
				var want map[string]int
				if err := json.Unmarshal(raw, &want); err != nil {
					t.Fatal(err)
				}
				count := map[string]int{}
				for _, e := range r.Episodes {
					count[e.Kind]++
				}
				for kind, n := range want {
					if count[kind] != n {
						t.Errorf("%s: %d episodes %s, want %d", w.Subject, count[kind], kind, n)
					}
				}
				continue
			case "readings":
				if string(raw) != string(mustJSON(t, r.Metrics.Readings)) {
					t.Errorf("%s: %d readings, want %s", w.Subject, r.Metrics.Readings, raw)
				}
				continue
			}
			var want float64
			if err := json.Unmarshal(raw, &want); err != nil {
				t.Fatal(err)
			}
			for _, k := range got {
				if k.key != key {
					continue
				}
				checked++
				if !k.figure.OK || math.Abs(k.figure.V-want) > 1e-9*max(1, math.Abs(want)) {
					t.Errorf("%s %s: %v, want %v", w.Subject, key, k.figure.V, want)
				}
			}
		}
		if checked != len(w.Figures)-2 {
			t.Errorf("%s: only %d of %d figures have a measure of their name", w.Subject, checked, len(w.Figures)-2)
		}
	}
}

func mustJSON(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
