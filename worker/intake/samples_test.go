package intake_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
)

// TestReadSamples reads the invented exports and compares one line of outcome
// for each.
func TestReadSamples(t *testing.T) {
	want := map[string]string{
		"plain.csv":                  "288 mmol/L, 7 events, 0 left out",
		"preamble-decimal-comma.csv": "1344 mmol/L, 14 events, 1 left out",
		"record-types-utf16.txt":     "475 mg/dL, 5 events, 0 left out",
		"one-day-either-order.csv":   "held: day_order",
		"decimal-mark-lost.csv":      "held: unit",
		"heading-only.csv":           "refused: no_readings",
	}
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "exports", "*"))
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, path := range files {
		expected, ok := want[filepath.Base(path)]
		if !ok {
			continue
		}
		seen++
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		res := intake.Read(data, intake.Options{Zone: time.UTC, Now: now})
		var got string
		switch {
		case res.Refusal != nil:
			got = "refused: " + res.Refusal.Code
		case len(res.Questions) > 0:
			var codes []string
			for _, q := range res.Questions {
				codes = append(codes, q.Code)
			}
			got = "held: " + strings.Join(codes, ", ")
		default:
			got = fmt.Sprintf("%d %s, %d events, %d left out", len(res.Readings), res.Unit, len(res.Events), res.Skipped)
		}
		if got != expected {
			t.Errorf("%s gave %q, want %q", filepath.Base(path), got, expected)
		}
	}
	if seen != len(want) {
		t.Errorf("%d of %d samples found", seen, len(want))
	}
}
