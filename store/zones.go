package store

import (
	"cmp"
	"context"
	"database/sql"
	"strings"
	"time"

	"wearround/worker/wear"
)

// ZoneOfWear is the code of an answer that nobody is asked for: the IANA name
// of the zone that the times in a file are of, where it is not the practice's.
// The zones of the file's wears follow it. It belongs to the one wearer who
// travelled, so no recipe remembers it.
const ZoneOfWear = "zone_of_wear"

// Location gives the zone of an IANA name, as in Australia/Perth; for "" it is
// the practice's.
func Location(name string, practice *time.Location) (*time.Location, error) {
	if name == "" {
		return practice, nil
	}
	zone, err := time.LoadLocation(name)
	if err != nil || name == "Local" { // the machine's, whatever that is
		return nil, invalid("This is no time zone that is known. Write it as in Australia/Perth or Europe/London.")
	}
	return zone, nil
}

// zoneQuestion stands while a file waits to be read by another zone; nobody is
// asked it.
var zoneQuestion = wear.Question{Code: againQuestion.Code, Text: "The zone of its times was set anew. It is being read again."}

// zoneWears are a wear and those that share a file with it, with theirs in turn.
const zoneWears = `WITH RECURSIVE shared (id) AS (SELECT ?1
	UNION SELECT b.wear_id FROM shared JOIN file_wears a ON a.wear_id = shared.id JOIN file_wears b ON b.file_id = a.file_id)`

// SetZone says that the times in the files of a wear are of another zone than
// the practice's, by its IANA name, or with "" that they are not. The files are
// read again from their originals, so every wear that shares one of them gets
// the zone too; it gives how many that are. Times that carry an offset of their
// own stay, and only the days are counted anew. It is a [Conflict] where the
// files hold several people, who need not have travelled together.
func (s *Store) SetZone(ctx context.Context, a Actor, wearID int64, name string) (wears int, err error) {
	name = strings.TrimSpace(name)
	if _, err := Location(name, time.UTC); err != nil {
		return 0, err
	}
	err = s.act(ctx, a, staff, "set the zone of a wear", onWear(wearID), func(t *tx) error {
		id, err := survivor(ctx, t.Tx, wearID)
		if err != nil {
			return err
		}
		shared, err := t.sharing(ctx, id)
		if err != nil {
			return err
		}
		wears = len(shared)
		if err := t.rezoneFiles(ctx, id, name); err != nil {
			return err
		}
		for _, id := range shared {
			if _, err := t.touching(ctx, id); err != nil {
				return err
			}
			if err := t.followZone(ctx, id); err != nil {
				return err
			}
			if err := t.judge(ctx, id, nil); err != nil {
				return err
			}
			if err := t.log(ctx, onWear(id), cmp.Or(name, "the practice's own")); err != nil {
				return err
			}
		}
		return nil
	})
	return wears, err
}

// sharing gives the wears that get a zone together. One person's only.
func (t *tx) sharing(ctx context.Context, wearID int64) (ids []int64, err error) {
	people := map[int64]bool{}
	rows, err := t.QueryContext(ctx, zoneWears+" SELECT id, patient_id FROM wears WHERE id IN (SELECT id FROM shared) ORDER BY id", wearID)
	err = each(rows, err, func(rows *sql.Rows) error {
		var id, patient int64
		err := rows.Scan(&id, &patient)
		ids, people[patient] = append(ids, id), true
		return err
	})
	if err == nil && len(people) > 1 {
		return nil, conflict("A file of this wear holds several people, and the zone holds for a whole file. Export each person alone, and set the zone there.")
	}
	return ids, err
}

// rezoneFiles answers for all files of a wear and of those that share them, and
// has them read again.
func (t *tx) rezoneFiles(ctx context.Context, wearID int64, name string) error {
	if err := t.bump(ctx); err != nil {
		return err
	}
	const files = " (SELECT file_id FROM file_wears WHERE wear_id IN (SELECT id FROM shared))"
	var none bool
	if err := t.QueryRowContext(ctx, zoneWears+" SELECT NOT EXISTS"+files, wearID).Scan(&none); err != nil {
		return err
	}
	if none {
		return conflict("No file is on record for this wear, so its times cannot be read again.")
	}
	questions, err := text([]wear.Question{zoneQuestion})
	if err != nil {
		return err
	}
	for _, q := range []struct {
		query string
		args  []any
	}{
		{"DELETE FROM answers WHERE code = ?2 AND file_id IN" + files, []any{ZoneOfWear}},
		{"INSERT INTO answers (file_id, code, value, at) SELECT id, ?2, ?3, ?4 FROM files WHERE ?3 <> '' AND id IN" + files, []any{ZoneOfWear, name, t.now}},
		{`UPDATE drops SET outcome = 'held', code = ?2, reason = ?3, to_do = ?4 WHERE outcome <> 'already' AND file_id IN` + files,
			[]any{zoneQuestion.Code, zoneQuestion.Text, againToDo}},
		{"UPDATE files SET state = 'held', questions = ?2, answered = ?3 WHERE id IN" + files, []any{questions, t.version}},
	} {
		if _, err := t.ExecContext(ctx, zoneWears+" "+q.query, append([]any{wearID}, q.args...)...); err != nil {
			return err
		}
	}
	return nil
}

// followZone gives a wear the zone that its files say.
func (t *tx) followZone(ctx context.Context, wearID int64) error {
	_, err := t.ExecContext(ctx, `UPDATE wears SET zone = coalesce((SELECT value FROM answers JOIN file_wears USING (file_id)
		WHERE wear_id = ?1 AND code = ?2 ORDER BY at DESC, file_id DESC LIMIT 1), '') WHERE id = ?1`, wearID, ZoneOfWear)
	return err
}
