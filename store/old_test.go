package store_test

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// TestOldData opens a copy of the database of a practice that an older release
// left behind, has every wear judged anew and looks whether the year's audit of
// closed wears is as it was, but for first tiers that the log lists as
// corrected. It needs WEARROUND_OLD_DATA, a data folder with its audit.key.
func TestOldData(t *testing.T) {
	from := os.Getenv("WEARROUND_OLD_DATA")
	if from == "" {
		t.Skip("WEARROUND_OLD_DATA names no data folder of an older release")
	}
	dir := t.TempDir()
	for _, name := range []string{"wearround.db", "wearround.db-wal", "audit.key"} {
		b, err := os.ReadFile(filepath.Join(from, name))
		if os.IsNotExist(err) && name == "wearround.db-wal" {
			continue
		}
		must(t, err)
		must(t, os.WriteFile(filepath.Join(dir, name), b, 0o600))
	}
	key, err := os.ReadFile(filepath.Join(dir, "audit.key"))
	must(t, err)
	asItWas(t, filepath.Join(dir, "wearround.db"), key, time.Local)
}

// TestOldSchema does so with an invented practice of the schema before reports
// were made in one place. Of its closed wears one had a result on record when it
// came, which its first report did not know.
func TestOldSchema(t *testing.T) {
	rows, err := os.ReadFile(filepath.Join("testdata", "practice-schema-6.sql"))
	must(t, err)
	path := filepath.Join(t.TempDir(), "wearround.db")
	must(t, store.MakeOld(path, 6, string(rows)))
	if closed, corrected, back := asItWas(t, path, storetest.AuditKey(), time.UTC); closed != 3 || corrected != 1 || back != 0 {
		t.Errorf("%d closed, %d first tiers corrected, %d back on the round", closed, corrected, back)
	}
	s, err := store.Open(ctx, path, time.Now)
	must(t, err)
	defer s.Close()
	must(t, s.SetLogKey(storetest.AuditKey()))
	w, err := s.Wear(ctx, 3)
	if must(t, err); w.Report.Readings != 1344 || !slices.ContainsFunc(w.Report.Flags, func(f wear.Flag) bool { return f.Code == "above_7_8_persistent" }) {
		t.Errorf("the third wear: %d readings, %v", w.Report.Readings, w.Report.Flags)
	}
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	audits, err := s.YearAudit(ctx, now, time.UTC, store.Span{From: now.AddDate(-1, 0, 0), To: now})
	must(t, err)
	if got, want := fmt.Sprintf("%+v", audits[0].Outcomes), "[{Code:told_well N:1} {Code:tests_ordered N:1} {Code:appointment N:1}]"; got != want {
		t.Errorf("the year's outcomes: %s, want %s", got, want)
	}
	if c, err := s.VerifyData(ctx, true); err != nil || !c.OK() {
		t.Errorf("the data do not fit their seals: %s, %v", c.String(), err)
	}
}

// asItWas holds the closed wears of a database of an older release to what they
// were.
func asItWas(t *testing.T, path string, key []byte, zone *time.Location) (closed, corrected, back int) {
	t.Helper()
	type line struct {
		open            bool
		due, received   int64
		first           wear.Tier
		outcomes, flags string
	}
	lines := func(db *sql.DB) map[int64]line {
		t.Helper()
		list := map[int64]line{}
		rows, err := db.Query(`SELECT id, open, due_at, received_at, first_tier,
			coalesce((SELECT group_concat(kind || made_at, ' ' ORDER BY id) FROM outcomes WHERE wear_id = wears.id), ''),
			coalesce((SELECT flags FROM outcomes WHERE wear_id = wears.id ORDER BY id DESC LIMIT 1), '')
			FROM wears WHERE joined_into IS NULL`)
		must(t, err)
		defer rows.Close()
		for rows.Next() {
			var id int64
			var l line
			must(t, rows.Scan(&id, &l.open, &l.due, &l.received, &l.first, &l.outcomes, &l.flags))
			list[id] = l
		}
		must(t, rows.Err())
		return list
	}
	old, err := sql.Open("sqlite", path)
	must(t, err)
	before := lines(old)
	must(t, old.Close())

	s, err := store.Open(ctx, path, time.Now)
	must(t, err)
	defer s.Close()
	must(t, s.SetLogKey(key))
	must(t, s.JudgeBy(store.Judging{Protocol: wear.DefaultProtocol(), Zone: zone}))
	if failed := judgeAll(t, s); len(failed) != 0 {
		t.Errorf("the engine failed on %v", failed)
	}
	d, err := s.Daily(ctx, time.Now())
	if must(t, err); d.Stale != 0 {
		t.Errorf("%d wears are not judged anew", d.Stale)
	}
	_, reader := s.Pools()
	for id, now := range lines(reader) {
		was := before[id]
		if was.open {
			continue
		}
		closed++
		if now.first != was.first {
			rows, err := s.LogRows(ctx, store.LogQuery{Object: "wear", ObjectID: id, Action: string(store.CorrectsFirstTier), Limit: 5})
			if must(t, err); len(rows) != 1 || rows[0].Reason != string(was.first)+" to "+string(now.first) {
				t.Errorf("wear %d: first tier %s became %s, and the log says %+v", id, was.first, now.first, rows)
			}
			corrected++
		}
		if now.open {
			var reason string
			must(t, reader.QueryRow("SELECT reason FROM reopenings WHERE wear_id = ? ORDER BY id DESC LIMIT 1", id).Scan(&reason))
			back++
			continue
		}
		now.first = was.first
		if now != was {
			t.Errorf("wear %d was %+v and is %+v", id, was, now)
		}
	}
	t.Logf("%d wears, %d of them closed: %d first tiers corrected, %d back on the round for today or this week", len(before), closed, corrected, back)
	return closed, corrected, back
}
