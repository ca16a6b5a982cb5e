package intake_test

import (
	"bufio"
	"compress/gzip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// cohort gives each subject's rows of an open data set, heading first.
func cohort(t *testing.T, name string) map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "data", name, "readings.csv.gz"))
	if err != nil {
		if os.Getenv("WEARROUND_REQUIRE_DATA") == "1" {
			t.Fatal(err)
		}
		t.Skipf("the open data set %s is not here", name)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	files := make(map[string]*strings.Builder)
	heading := ""
	for s := bufio.NewScanner(z); s.Scan(); {
		if heading == "" {
			heading = s.Text()
			continue
		}
		who, _, _ := strings.Cut(s.Text(), ",")
		if files[who] == nil {
			files[who] = &strings.Builder{}
			files[who].WriteString(heading + "\n")
		}
		files[who].WriteString(s.Text() + "\n")
	}
	out := make(map[string]string)
	for who, b := range files {
		out[who] = b.String()
	}
	return out
}

// Every wear of the open cohorts is filed without a question and to the digit.
// Sources: PLoS Biology 2018;16:e2005143, Cell Reports Methods 2023;3:100545,
// and doi:10.13026/zthx-5212.
func TestReadOpenCohorts(t *testing.T) {
	for _, c := range []struct {
		name            string
		unit            wear.Unit
		people, reading int
	}{
		{"hall2018", wear.MgdL, 57, 105426},
		{"mss2023", wear.MmolL, 31, 34616},
		{"bigideas", wear.MgdL, 16, 36898},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := cohort(t, c.name)
			total := 0
			for who, text := range files {
				res := intake.Read([]byte(text), intake.Options{Zone: time.UTC, Now: now})
				if res.Refusal != nil || len(res.Questions) > 0 {
					t.Fatalf("%s: refusal %+v, questions %+v", who, res.Refusal, res.Questions)
				}
				if res.Unit != c.unit || res.PatientHint != who {
					t.Errorf("%s: unit %v, patient %q", who, res.Unit, res.PatientHint)
				}
				lines := strings.Split(strings.TrimSpace(text), "\n")[1:]
				if len(res.Readings) != len(lines) {
					t.Fatalf("%s: %d readings, want %d; %v", who, len(res.Readings), len(lines), res.Ignored)
				}
				for i, line := range lines {
					cells := strings.Split(line, ",")
					at, err := time.Parse("2006-01-02T15:04:05", cells[1])
					if err != nil {
						t.Fatal(err)
					}
					if r := res.Readings[i]; r.At != at.Unix() || r.Text() != cells[2] || r.Unit != c.unit {
						t.Fatalf("%s: reading %d is %v %s, want %s", who, i, time.Unix(r.At, 0).UTC(), r.Text(), line)
					}
				}
				total += len(res.Readings)
			}
			if len(files) != c.people || total != c.reading {
				t.Errorf("%d people and %d readings, want %d and %d", len(files), total, c.people, c.reading)
			}
		})
	}
}
