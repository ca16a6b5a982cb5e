package intake_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// said writes what a file gave in a few words: its outcome, each reading and
// each event.
func said(res *intake.Result) string {
	var parts []string
	at := func(secs int64) string { return time.Unix(secs, 0).UTC().Format("2006-01-02T15:04") }
	for _, r := range res.Readings {
		parts = append(parts, at(r.At)+" "+r.Text()+" "+r.Unit.String())
	}
	for _, e := range res.Events {
		text := string(e.Kind)
		if e.Kind == wear.Fingerstick {
			text += " " + e.Value.Text() + " " + e.Value.Unit.String()
		}
		if e.Label != "" {
			text += " (" + e.Label + ")"
		}
		if e.Carbs > 0 {
			text += fmt.Sprintf(" %g g", e.Carbs)
		}
		parts = append(parts, at(e.At)+" "+text)
	}
	for _, q := range res.Questions {
		parts = append(parts, "asked: "+q.Code)
	}
	if res.Refusal != nil {
		parts = append(parts, "refused: "+res.Refusal.Code)
	}
	for _, row := range res.Ignored {
		parts = append(parts, "left out: "+row.Text)
	}
	return strings.Join(parts, "; ")
}

// TestReadExchange reads the example documents of the open exchange formats as
// their names say: limits stay bounds, missing stays missing, and no summary is
// taken for a reading.
func TestReadExchange(t *testing.T) {
	series := "2026-03-01T13:00 5.6 mmol/L; 2026-03-01T13:15 5.7 mmol/L; 2026-03-01T13:45 <2.0 mmol/L; 2026-03-01T14:00 6.1 mmol/L; 2026-03-01T14:15 >25.0 mmol/L; left out: value 3 of the series is marked as an error"
	examples := filepath.Join("..", "..", "..", "shared", "data", "exchange")
	const noReading, figure = "refused: no_readings", "refused: no_readings; left out: a figure over a period, not a reading"
	wants := map[string]string{
		"01-reading-molar.json":                   "2026-03-02T07:15 6.4 mmol/L",
		"02-reading-above-limit.json":             "2026-03-02T07:30 >25.0 mmol/L; 2026-03-02T07:30 note (source cell held text, not a number)",
		"03-reading-missing.json":                 noReading + "; left out: the file marks the value as missing",
		"04-series-sampleddata.json":              series,
		"04b-series-with-factor-reader-test.json": series,
		"05-fingerstick.json":                     "2026-03-02T07:20 fingerstick 6.9 mmol/L; " + noReading,
		"06-hba1c.json":                           noReading + "; left out: a laboratory value, not a sensor's reading: kept as words",
		"07-symptom.json":                         "2026-03-02T23:05 symptom (shaky, sweaty before lunch); " + noReading,
		"08-meal.json":                            "2026-03-03T01:40 meal (rice and dal) 60 g; " + noReading,
		"09-above-7-8.json":                       figure,
		"10-device.json":                          noReading,
		"11-patient.json":                         noReading,
		"12-provenance.json":                      noReading,
		"13-summary-root.json":                    figure,
		"14-times-in-ranges.json":                 figure,
		"15-s-active.json":                        figure,
		"15-s-cv.json":                            figure,
		"15-s-days.json":                          figure,
		"15-s-gmi.json":                           figure,
		"15-s-mean.json":                          figure,
		"16-bundle.json":                          "2026-03-02T07:15 6.4 mmol/L",
		"17-observation.ndjson":                   "2026-03-02T07:15 6.4 mmol/L; 2026-03-02T07:30 >25.0 mmol/L; 2026-03-02T07:30 note (source cell held text, not a number)",
		"20-omh-point-1752-header.json":           "2026-03-02T07:15 6.4 mmol/L",
		"21-omh-point-omh-header.json":            "2026-03-02T07:20 fingerstick 6.9 mmol/L (before dinner); " + noReading,
		"22-1752-data-series.json":                "2026-03-02T07:15 6.4 mmol/L; 2026-03-02T07:30 6.6 mmol/L",
		"23-problem.json":                         "refused: json",
	}
	files, _ := os.ReadDir(examples)
	for _, f := range files {
		if _, known := wants[f.Name()]; !known {
			t.Errorf("nothing is said of how %s is to be read", f.Name())
		}
	}
	for name, want := range wants {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(examples, name))
			if err != nil {
				if os.Getenv("WEARROUND_REQUIRE_DATA") == "1" {
					t.Fatal(err)
				}
				t.Skip("the example documents are not here")
			}
			res := intake.Read(data, intake.Options{Zone: time.UTC, Now: now})
			if got := said(res); got != want {
				t.Errorf("gave %q\nwant %q", got, want)
			}
		})
	}
}
