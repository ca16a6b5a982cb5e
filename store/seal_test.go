package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// TestEveryValueIsSealed changes each value of a row of every table that holds a
// record by other means than the store, takes the row away, and puts one in: the
// check finds every one of them, and nothing once it is put back.
func TestEveryValueIsSealed(t *testing.T) {
	w := newWard(t, wear.FlagAbove7_8)
	w.clock.Tampered()
	o := w.outcome(store.ToldWell)
	o.Reason = "a known cause"
	must(t, second(w.Claim(ctx, w.clinician, w.wear)))
	must(t, second(w.RecordOutcome(ctx, w.clinician, o)))
	writer, reader := w.Pools()
	fits := func() bool {
		t.Helper()
		c, err := w.VerifyData(ctx, true)
		must(t, err)
		return c.OK()
	}
	if !fits() {
		t.Fatal("the data do not fit before anything was changed")
	}
	must(t, second(writer.Exec("PRAGMA ignore_check_constraints = ON")))
	must(t, second(writer.Exec("PRAGMA foreign_keys = OFF")))
	dropTriggers(t, writer, "past") // they would keep what is changed here
	tried := 0
	for table, columns := range store.SealedColumns(w.Store) {
		var some bool
		must(t, reader.QueryRow(`SELECT EXISTS (SELECT * FROM "`+table+`")`).Scan(&some))
		if !some {
			continue
		}
		for _, c := range columns {
			if c == "id" || strings.HasSuffix(table+"."+c, "wear_days.day") {
				continue // a key: the row taken away and put in stands for it
			}
			change := fmt.Sprintf(`UPDATE "%[1]s" SET "%[2]s" = CASE typeof("%[2]s") WHEN 'integer' THEN "%[2]s" + %%d WHEN 'real' THEN "%[2]s" + %%d
				WHEN 'blob' THEN CAST(%%s AS BLOB) WHEN 'text' THEN %%s ELSE NULL END`, table, c)
			there := fmt.Sprintf(change, 1_000_003, 1_000_003, `"`+c+`" || x'01'`, `"`+c+`" || 'x'`)
			back := fmt.Sprintf(change, -1_000_003, -1_000_003, fmt.Sprintf(`substr("%[1]s", 1, length("%[1]s") - 1)`, c), fmt.Sprintf(`substr("%[1]s", 1, length("%[1]s") - 1)`, c))
			r, err := writer.Exec(there + ` WHERE "` + c + `" IS NOT NULL`)
			if err != nil {
				continue // a trigger or a key forbids it
			}
			if n, _ := r.RowsAffected(); n == 0 {
				continue
			}
			tried++
			if fits() {
				t.Errorf("%s.%s was changed unseen", table, c)
			}
			must(t, second(writer.Exec(back+` WHERE "`+c+`" IS NOT NULL`)))
			if !fits() {
				t.Fatalf("%s.%s was put back and does not fit", table, c)
			}
		}
		must(t, second(writer.Exec(`CREATE TEMP TABLE kept AS SELECT * FROM "`+table+`"`)))
		must(t, second(writer.Exec(`DELETE FROM "`+table+`"`)))
		if tried++; fits() {
			t.Errorf("the rows of %s were taken away unseen", table)
		}
		must(t, second(writer.Exec(`INSERT INTO "`+table+`" SELECT * FROM kept`)))
		must(t, second(writer.Exec(`DROP TABLE kept`)))
		if !fits() {
			t.Fatalf("the rows of %s were put back and do not fit", table)
		}
	}
	if tried < 60 {
		t.Errorf("only %d changes were tried", tried)
	}
	// Taking a thing away with its seal leaves the root.
	must(t, second(writer.Exec("DELETE FROM patients WHERE id = (SELECT max(id) FROM patients)")))
	must(t, second(writer.Exec("DELETE FROM seals WHERE kind = 'patient' AND id NOT IN (SELECT id FROM patients)")))
	if fits() {
		t.Error("a patient was taken away with its seal unseen")
	}
}

// dropTriggers drops those that write to a table.
func dropTriggers(t *testing.T, db *sql.DB, table string) {
	t.Helper()
	rows, err := db.Query("SELECT name FROM sqlite_schema WHERE type = 'trigger' AND sql LIKE '%INTO ' || ? || ' %'", table)
	must(t, err)
	var names []string
	for rows.Next() {
		var name string
		must(t, rows.Scan(&name))
		names = append(names, name)
	}
	must(t, rows.Close())
	for _, name := range names {
		must(t, second(db.Exec("DROP TRIGGER "+name)))
	}
}

// TestDamagedWear is not shown; the others are.
func TestDamagedWear(t *testing.T) {
	s, clock := storetest.Open(t)
	clock.Tampered()
	var ids []int64
	for n := 1; n <= 2; n++ {
		p := storetest.AddPatient(t, s, n)
		ids = append(ids, storetest.File(t, s, storetest.Filing(n, p.ID, clock.Now(), 3, wear.Routine, 1)))
	}
	writer, _ := s.Pools()
	must(t, second(writer.Exec("UPDATE wear_days SET readings = zeroblob(3) WHERE wear_id = ?", ids[0])))
	_, err := s.Wear(ctx, ids[0])
	if store.CodeOf(err) != store.Broken || !strings.Contains(store.Words(err), fmt.Sprintf("the readings of wear %d is damaged", ids[0])) {
		t.Errorf("a damaged wear gave %q (%v)", store.Words(err), err)
	}
	if _, _, err := s.Trace(ctx, ids[0]); store.CodeOf(err) != store.Broken {
		t.Errorf("its trace gave %v", err)
	}
	if _, err := s.Wear(ctx, ids[1]); err != nil {
		t.Errorf("the other wear: %v", err)
	}
	page, err := s.Round(ctx, store.RoundQuery{Limit: 10, Now: clock.Now()})
	must(t, err)
	i := slices.IndexFunc(page.Rows, func(r store.RoundRow) bool { return r.WearID == ids[0] })
	if !strings.Contains(page.Rows[i].Headline, "damaged") || len(page.Rows[i].Days) != 0 {
		t.Errorf("its row says %q", page.Rows[i].Headline)
	}
	if d := s.Damage(); len(d) != 1 || d[0] != (store.Thing{Kind: "readings", ID: ids[0]}) {
		t.Errorf("known damage: %v", d)
	}
}

// TestRandomCorruption flips bytes of the database file at random places. Each
// time it is noticed when the practice is opened, or nothing that is kept has
// changed. Nothing happens at once here, so that a few are enough under the race
// detector.
func TestRandomCorruption(t *testing.T) {
	times := 200
	if raceDetector {
		times = 20
	}
	path := filepath.Join(t.TempDir(), "wearround.db")
	clock := storetest.NewClock()
	s, err := store.Open(ctx, path, clock.Now)
	must(t, err)
	must(t, s.SetLogKey(storetest.AuditKey()))
	for n := 1; n <= 12; n++ {
		p := storetest.AddPatient(t, s, n)
		storetest.File(t, s, storetest.Filing(n, p.ID, clock.Now(), 14, wear.Routine, 1))
	}
	want := sealedDump(t, s)
	must(t, s.Close())
	good, err := os.ReadFile(path)
	must(t, err)
	random := rand.New(rand.NewPCG(3, 4))
	noticed, idle := 0, 0
	for i := range times {
		bad := slices.Clone(good)
		for range 1 + i%3 {
			bad[random.IntN(len(bad))] ^= 1 << random.IntN(8)
		}
		path := filepath.Join(t.TempDir(), "wearround.db")
		must(t, os.WriteFile(path, bad, 0o600))
		if words := wrong(path, clock); words != "" {
			noticed++
			continue
		}
		s, err := store.Open(ctx, path, clock.Now)
		must(t, err)
		if got := sealedDump(t, s); !slices.Equal(got, want) {
			t.Errorf("corruption %d was not noticed", i)
		}
		idle++
		must(t, s.Close())
	}
	t.Logf("of %d corruptions %d were noticed, and %d hit nothing that is kept", times, noticed, idle)
}

// wrong opens a practice as the program does and says what is wrong with it.
func wrong(path string, clock *storetest.Clock) string {
	s, err := store.Open(ctx, path, clock.Now)
	if err != nil {
		return store.Words(err)
	}
	defer s.Close()
	if err := s.SetLogKey(storetest.AuditKey()); err != nil {
		return store.Words(err)
	}
	if err := s.KeyFits(ctx); err != nil {
		return store.Words(err)
	}
	if err := s.Whole(ctx); err != nil {
		return store.Words(err)
	}
	if c, err := s.VerifyData(ctx, true); err != nil || !c.OK() {
		return c.String() + store.Words(err)
	}
	if k, err := s.VerifyLog(ctx); err != nil || !k.OK() {
		return k.Why + store.Words(err)
	}
	return ""
}

// sealedDump writes down every row of every table that holds a record, and the
// log.
func sealedDump(t *testing.T, s *store.Store) []string {
	t.Helper()
	_, reader := s.Pools()
	var out []string
	for table := range store.SealedColumns(s) {
		out = append(out, rowsOf(t, reader, table)...)
	}
	out = append(out, rowsOf(t, reader, "audit")...)
	slices.Sort(out)
	return out
}

func rowsOf(t *testing.T, db *sql.DB, table string) (out []string) {
	t.Helper()
	rows, err := db.QueryContext(context.Background(), `SELECT * FROM "`+table+`"`)
	must(t, err)
	defer rows.Close()
	columns, err := rows.Columns()
	must(t, err)
	for rows.Next() {
		values, into := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		must(t, rows.Scan(into...))
		out = append(out, fmt.Sprintf("%s %v", table, values))
	}
	must(t, rows.Err())
	return out
}
