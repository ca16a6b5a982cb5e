package wear_test

import (
	"compress/gzip"
	"encoding/csv"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"wearround/worker/wear"
)

// openData is where the open data sets lie beside the project.
const openData = "../../../shared/data"

// dataFile opens a file of the open data, or skips the test where the folder
// is absent.
func dataFile(t testing.TB, name string) io.Reader {
	t.Helper()
	f, err := os.Open(filepath.Join(openData, name))
	if err != nil {
		if os.Getenv("WEARROUND_REQUIRE_DATA") == "1" {
			t.Fatalf("the open data are required: %v", err)
		}
		t.Skipf("the open data are not beside the project, so this check is left out: %v", err)
	}
	t.Cleanup(func() { f.Close() })
	if filepath.Ext(name) != ".gz" {
		return f
	}
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// table reads a delimited file of the open data: one map a row.
func table(t testing.TB, name string) []map[string]string {
	t.Helper()
	rows, err := csv.NewReader(dataFile(t, name)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := make([]map[string]string, 0, len(rows)-1)
	for _, row := range rows[1:] {
		m := make(map[string]string, len(row))
		for i, v := range row {
			m[rows[0][i]] = v
		}
		out = append(out, m)
	}
	return out
}

// cohort is a data set's readings by subject, in the order of first sight.
func cohort(t testing.TB, name string, column string, unit wear.Unit) (subjects []string, readings map[string][]wear.Reading) {
	t.Helper()
	readings = map[string][]wear.Reading{}
	for _, row := range table(t, name+"/readings.csv.gz") {
		s := row["subject"]
		if _, seen := readings[s]; !seen {
			subjects = append(subjects, s)
		}
		readings[s] = append(readings[s], reading(t, row["timestamp"], row[column], unit))
	}
	return subjects, readings
}

// reading makes one from a time without zone and a decimal text.
func reading(t testing.TB, at, value string, unit wear.Unit) wear.Reading {
	t.Helper()
	when, err := time.Parse("2006-01-02T15:04:05", at)
	if err != nil {
		t.Fatal(err)
	}
	num, scale, ok := wear.ParseValue(value)
	if !ok {
		t.Fatalf("value %q cannot be read", value)
	}
	return wear.Reading{At: when.Unix(), Num: num, Scale: scale, Unit: unit}
}
