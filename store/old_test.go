package store_test

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"
	"time"

	"wearround/store"
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
	path := filepath.Join(dir, "wearround.db")
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
	key, err := os.ReadFile(filepath.Join(dir, "audit.key"))
	must(t, err)
	must(t, s.SetLogKey(key))
	must(t, s.JudgeBy(store.Judging{Protocol: wear.DefaultProtocol(), Zone: time.Local}))
	if failed := judgeAll(t, s); len(failed) != 0 {
		t.Errorf("the engine failed on %v", failed)
	}
	d, err := s.Daily(ctx, time.Now())
	if must(t, err); d.Stale != 0 {
		t.Errorf("%d wears are not judged anew", d.Stale)
	}
	_, reader := s.Pools()
	corrected, back, closed := 0, 0, 0
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
}
