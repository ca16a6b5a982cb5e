package intake_test

import (
	"bytes"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/sim/messy"
)

// A year at one reading a minute is read within 64 bytes a reading above the
// file. All that reading allocates is counted, whether or not it was freed in
// between, so the peak cannot be higher.
func TestReadYearMemory(t *testing.T) {
	const rows = 365 * 1440
	zone, err := time.LoadLocation("Australia/Sydney")
	if err != nil {
		t.Fatal(err)
	}
	oldestFirst := plainWear(rows, time.Minute)
	body := bytes.Split(bytes.TrimSpace(oldestFirst), []byte("\n"))
	slices.Reverse(body[1:])
	newestFirst := append(bytes.Join(body, []byte("\n")), '\n')
	known := intake.Read(oldestFirst, intake.Options{Zone: zone, Now: now.AddDate(1, 0, 0)}).Recipe
	for _, c := range []struct {
		name   string
		data   []byte
		recipe func(string) (intake.Recipe, bool)
	}{
		{"first sight", oldestFirst, nil},
		{"first sight, newest first", newestFirst, nil},
		{"no line end at the end", bytes.TrimSuffix(plainWear(rows, time.Minute), []byte("\n")), nil},
		{"known recipe", oldestFirst, func(string) (intake.Recipe, bool) { return known, true }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			res := intake.Read(c.data, intake.Options{Zone: zone, Now: now.AddDate(1, 0, 0), Recipe: c.recipe})
			runtime.ReadMemStats(&after)
			if res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) != rows {
				t.Fatalf("%d readings, refusal %+v, questions %+v", len(res.Readings), res.Refusal, res.Questions)
			}
			each := float64(after.TotalAlloc-before.TotalAlloc) / rows
			t.Logf("%.1f bytes a reading", each)
			if each > 64 && !intake.RaceDetector {
				t.Errorf("%.1f bytes a reading, want 64 at most", each)
			}
		})
	}
}

// TestReadHostile checks files made to cost time or memory: each gets a plain
// refusal. How long it took is written to the log.
func TestReadHostile(t *testing.T) {
	plain := "time,glucose\n" + lines(60, march, iso)
	nested := strings.Repeat(`{"entry":[`, 200) + strings.Repeat(`]}`, 200)
	wide := `{"resourceType":"Bundle"`
	for i := range 500 {
		wide += fmt.Sprintf(`,"k%d":1`, i)
	}
	manyCells := "time,glucose\n" + strings.Repeat(strings.Repeat(",", 1000)+"\n", 40000)
	for _, c := range []struct {
		name string
		data []byte
		want []string
	}{
		{"zip bomb of 1 GiB", messy.Bomb(1 << 30), []string{"too_big"}},
		{"zip in a zip", []byte(zipped("a.zip", zipped("a.csv", plain))), []string{"zip_nested"}},
		{"gzip in a zip", []byte(zipped("a.csv", gz(plain))), []string{"zip_nested"}},
		{"a line of 60 MiB", bytes.Repeat([]byte("x"), 60<<20), []string{"too_big"}},
		{"a JSON line of 60 MiB", append([]byte(`{"resourceType":"`), bytes.Repeat([]byte("x"), 60<<20)...), []string{"cut_short", "json"}},
		{"60 MiB of brackets", bytes.Repeat([]byte("["), 60<<20), []string{"json_depth"}},
		{"60 MiB of quotes", bytes.Repeat([]byte("\"\n,"), 20<<20), []string{"open_quote", "too_big", "no_table"}},
		{"60 MiB of delimiters", []byte(manyCells), []string{"too_big"}},
		{"a workbook of empty rows", messy.EmptyRows(), []string{"too_big"}},
		{"deep JSON", []byte(nested), []string{"json_depth"}},
		{"wide JSON", []byte(wide + "}"), []string{"json_depth"}},
		{"65 MiB", make([]byte, 65<<20), []string{"too_big"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			start := time.Now()
			res := intake.Read(c.data, intake.Options{Zone: time.UTC, Now: now})
			if res.Refusal == nil || !slices.Contains(c.want, res.Refusal.Code) {
				t.Fatalf("refusal %+v, questions %+v; want one of %v", res.Refusal, res.Questions, c.want)
			}
			t.Logf("%s after %d ms", res.Refusal.Code, time.Since(start).Milliseconds())
		})
	}
}
