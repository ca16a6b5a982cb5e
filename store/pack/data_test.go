package pack

import (
	"compress/gzip"
	"encoding/csv"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// The open cohorts come back exactly and take at most 3 bytes a reading.
func TestPackOpenData(t *testing.T) {
	for _, cohort := range []struct {
		name     string
		unit     wear.Unit
		readings int
	}{{"hall2018", wear.MgdL, 105_426}, {"mss2023", wear.MmolL, 0}} {
		t.Run(cohort.name, func(t *testing.T) {
			f, err := os.Open(filepath.Join("..", "..", "..", "shared", "data", cohort.name, "readings.csv.gz"))
			if errors.Is(err, fs.ErrNotExist) && os.Getenv("WEARROUND_REQUIRE_DATA") != "1" {
				t.Skip("the open data are not beside the project")
			}
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			z, err := gzip.NewReader(f)
			if err != nil {
				t.Fatal(err)
			}
			rows := csv.NewReader(z)
			rows.ReuseRecord = true
			if _, err := rows.Read(); err != nil { // heading
				t.Fatal(err)
			}
			var who string
			var day int64
			var open []wear.Reading
			readings, bytes := 0, 0
			pack := func() {
				if len(open) > 0 {
					bytes += len(roundTrip(t, day, open))
					readings += len(open)
				}
				open = open[:0]
			}
			for {
				row, err := rows.Read()
				if err == io.EOF {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				at, err := time.Parse("2006-01-02T15:04:05", row[1])
				num, scale, ok := wear.ParseValue(row[2])
				if err != nil || !ok {
					t.Fatalf("row %q", row)
				}
				r := wear.Reading{At: at.Unix(), Num: num, Scale: scale, Unit: cohort.unit}
				if row[0] != who || DayOf(r.At) != day {
					pack()
					who, day = strings.Clone(row[0]), DayOf(r.At)
				}
				open = append(open, r)
			}
			pack()
			if cohort.readings != 0 && readings != cohort.readings {
				t.Errorf("%d readings, want %d", readings, cohort.readings)
			}
			per := float64(bytes) / float64(readings)
			t.Logf("%d readings, %.2f bytes each", readings, per)
			if per > 3 {
				t.Errorf("%.2f bytes a reading, more than 3", per)
			}
		})
	}
}
