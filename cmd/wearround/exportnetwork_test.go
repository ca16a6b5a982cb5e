package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// networkPractice is a practice with wears of two years, some of them tested.
func networkPractice(t *testing.T) (*store.Store, *storetest.Clock) {
	ctx := context.Background()
	s, clock := storetest.Open(t)
	clinician := storetest.AddUser(t, s, "Dosu", store.RoleClinician)
	look := storetest.Looking{Store: s, T: t}
	for n := range 24 {
		p := storetest.AddPatient(t, s, n)
		flags := [][]string{nil, {wear.FlagAbove7_8}, {wear.FlagAbove7_8, wear.FlagAbove10}}[n%3]
		tier := wear.Routine
		if flags != nil {
			tier = wear.Tiers()[n%3]
		}
		id := storetest.File(t, s, storetest.Filing(n, p.ID, clock.Now(), 1, tier, 1, flags...))
		clock.Advance(time.Hour)
		if n%3 != 0 && n%2 == 0 {
			if _, err := s.Claim(ctx, clinician, id); err != nil {
				t.Fatal(err)
			}
			if _, err := look.RecordOutcome(ctx, clinician, store.NewOutcome{WearID: id, Kind: store.TestsOrdered, Reason: "as agreed", Recall: clock.Now().AddDate(0, 0, 14)}); err != nil {
				t.Fatal(err)
			}
			for i := range 1 + n%4 {
				clock.Advance(48 * time.Hour)
				if _, err := s.AddResult(ctx, clinician, store.NewResult{PatientID: p.ID, Kind: store.HbA1c, Value: []string{"52", "61", "38"}[(n/4+i)%3], Unit: "mmol/mol", TakenAt: clock.Now()}); err != nil {
					t.Fatal(err)
				}
			}
		}
		clock.Advance(10 * 24 * time.Hour)
	}
	return s, clock
}

// What a network reads gives the practice's own audit figures back, and holds
// nothing that names a patient.
func TestNetworkExport(t *testing.T) {
	ctx := context.Background()
	s, clock := networkPractice(t)
	dir := t.TempDir()
	d := &desk{Store: s}
	var said bytes.Buffer
	if err := d.writeNetwork(ctx, dir, "N7", time.UTC, &said); err != nil {
		t.Fatal(err)
	}
	for _, year := range []int{2026, 2027} {
		span := store.Span{From: time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC), To: time.Date(year+1, 1, 1, 0, 0, 0, 0, time.UTC)}
		audits, err := s.YearAudit(ctx, clock.Now(), time.UTC, span)
		if err != nil {
			t.Fatal(err)
		}
		want := networkFigures(audits[0])
		if d := cmp.Diff(want, readFigures(t, dir, year)); d != "" {
			t.Errorf("%d, of the audit and of the files:\n%s", year, d)
		}
		if len(want) < 5 {
			t.Errorf("%d: too little to compare: %v", year, want)
		}
		t.Run(fmt.Sprint("DuckDB ", year), func(t *testing.T) {
			if d := cmp.Diff(want, duckFigures(t, dir, year)); d != "" {
				t.Errorf("of the audit and of the query:\n%s", d)
			}
		})
	}
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		for _, secret := range []string{"P00001", storetest.Patient(1).Name, storetest.Patient(1).BirthDate} {
			if bytes.Contains(text, []byte(secret)) {
				t.Errorf("%s holds %q", path, secret)
			}
		}
		return err
	})
	if err != nil || !strings.Contains(said.String(), "2026: ") {
		t.Errorf("%v, said %q", err, &said)
	}
}

// networkFigures are those of an audit that the files must give back.
func networkFigures(a wear.Audit) map[string]int {
	out := map[string]int{}
	put := func(key string, n int) {
		if n > 0 {
			out[key] = n
		}
	}
	for _, t := range a.Tiers {
		put("tier "+string(t.Tier), t.Read)
		put("in time "+string(t.Tier), t.InTime)
	}
	for _, y := range a.Worth.Yield {
		put("flag "+y.Code, y.Wears)
		put("confirmed "+y.Code, y.Confirmed)
	}
	for _, c := range a.Outcomes {
		put("outcome "+c.Code, c.N)
	}
	return out
}

func rowsOf[T any](t *testing.T, dir, table string, year int) []T {
	t.Helper()
	rows, err := parquet.ReadFile[T](filepath.Join(dir, table, "practice=N7", fmt.Sprintf("year=%d", year), "part-0.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func readFigures(t *testing.T, dir string, year int) map[string]int {
	t.Helper()
	out := map[string]int{}
	wears := map[int64]store.NetworkWear{}
	for _, w := range rowsOf[store.NetworkWear](t, dir, "wears", year) {
		wears[w.Wear] = w
		out["tier "+w.Tier]++
		if w.InTime {
			out["in time "+w.Tier]++
		}
	}
	for _, f := range rowsOf[store.NetworkFlag](t, dir, "flags", year) {
		out["flag "+f.Code]++
		if wears[f.Wear].Found == "confirmed" {
			out["confirmed "+f.Code]++
		}
	}
	for _, o := range rowsOf[store.NetworkOutcome](t, dir, "outcomes", year) {
		if o.InForce && !wears[o.Wear].Open {
			out["outcome "+o.Kind]++
		}
	}
	return out
}

// networkQuery is the query of the README, for one year.
const networkQuery = `SELECT 'tier ' || tier what, count(*) n FROM read_parquet('%[1]s/wears/**/*.parquet', hive_partitioning = true) WHERE year = %[2]d GROUP BY ALL
UNION ALL SELECT 'in time ' || tier, count(*) FROM read_parquet('%[1]s/wears/**/*.parquet', hive_partitioning = true) WHERE year = %[2]d AND in_time GROUP BY ALL
UNION ALL SELECT 'flag ' || code, count(*) FROM read_parquet('%[1]s/flags/**/*.parquet', hive_partitioning = true) WHERE year = %[2]d GROUP BY ALL
UNION ALL SELECT 'confirmed ' || code, count(*) FROM read_parquet('%[1]s/flags/**/*.parquet', hive_partitioning = true) f
  JOIN read_parquet('%[1]s/wears/**/*.parquet', hive_partitioning = true) w USING (practice, year, wear) WHERE year = %[2]d AND found = 'confirmed' GROUP BY ALL
UNION ALL SELECT 'outcome ' || o.kind, count(*) FROM read_parquet('%[1]s/outcomes/**/*.parquet', hive_partitioning = true) o
  JOIN read_parquet('%[1]s/wears/**/*.parquet', hive_partitioning = true) w USING (practice, year, wear) WHERE year = %[2]d AND in_force AND NOT open GROUP BY ALL`

// duckFigures has DuckDB count, where WEARROUND_DUCKDB names the folder in which
// its Node package is installed.
func duckFigures(t *testing.T, dir string, year int) map[string]int {
	modules := os.Getenv("WEARROUND_DUCKDB")
	if modules == "" {
		t.Skip("WEARROUND_DUCKDB does not name a folder with the package @duckdb/node-api")
	}
	query := fmt.Sprintf(networkQuery, dir, year)
	script := `const { DuckDBInstance } = require('@duckdb/node-api');
DuckDBInstance.create(':memory:').then(i => i.connect()).then(c => c.runAndReadAll(process.argv[1])).then(r =>
  console.log(JSON.stringify(Object.fromEntries(r.getRows().map(x => [x[0], Number(x[1])])))));`
	cmd := exec.Command("node", "-e", script, query)
	cmd.Dir = modules
	cmd.Env = append(os.Environ(), "NODE_PATH="+filepath.Join(modules, "node_modules"))
	var fault bytes.Buffer
	cmd.Stderr = &fault
	text, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, &fault)
	}
	out := map[string]int{}
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	return out
}
