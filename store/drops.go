package store

import (
	"context"
	"database/sql"
	"slices"
	"time"
)

// SeenDrops tells for each of some looks whether the file of this path, size and
// time of change was dealt with. One that could not be opened was not; see
// [SizeUnread].
func (s *Store) SeenDrops(ctx context.Context, looks []Drop) (seen []bool, err error) {
	seen = make([]bool, len(looks))
	if len(looks) == 0 {
		return seen, nil
	}
	err = s.read(ctx, "look up what was seen", func(t *sql.Tx) error {
		stmt, err := t.PrepareContext(ctx, "SELECT EXISTS (SELECT * FROM drops WHERE path = ? AND size = ? AND mod_ns = ?)")
		if err != nil {
			return err
		}
		defer stmt.Close()
		for i, d := range looks {
			if err := stmt.QueryRowContext(ctx, d.Path, d.Size, d.ModTime.UnixNano()).Scan(&seen[i]); err != nil {
				return err
			}
		}
		return nil
	})
	return seen, err
}

// RecordDrop saves a look at a name that brought no new bytes: [Already], or
// [Refused] before its bytes could be taken. Saying the same of the same look
// again changes nothing.
func (s *Store) RecordDrop(ctx context.Context, d Drop) error {
	if d.Fate != Already && d.Fate != Refused {
		return invalid("Only a repeated or a refused file is recorded without its contents.")
	}
	return s.write(ctx, "record a drop", func(t *tx) error {
		var same bool
		err := t.QueryRowContext(ctx, `SELECT EXISTS (SELECT * FROM drops WHERE path = ? AND size = ? AND mod_ns = ?
			AND outcome = ? AND code = ? AND reason = ? AND to_do = ? AND coalesce(file_id, 0) = ?)`,
			d.Path, d.Size, d.ModTime.UnixNano(), d.Fate, d.Code, d.Reason, d.ToDo, d.FileID).Scan(&same)
		if err != nil || same {
			return err
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		return t.saveDrop(ctx, d)
	})
}

// saveDrop inserts a drop or replaces the one of the same look. A look at the
// same file that could not open it is out of date then.
func (t *tx) saveDrop(ctx context.Context, d Drop) error {
	if d.Path == "" || d.ModTime.IsZero() {
		return invalid("A file in the watched folder must have a path and a time of change.")
	}
	seen := t.now
	if !d.SeenAt.IsZero() {
		seen = d.SeenAt.Unix()
	}
	if d.Size != SizeUnread {
		if _, err := t.ExecContext(ctx, "DELETE FROM drops WHERE path = ? AND size = ? AND file_id IS NULL", d.Path, SizeUnread); err != nil {
			return err
		}
	}
	_, err := t.ExecContext(ctx, `INSERT INTO drops (path, size, mod_ns, seen_at, outcome, code, reason, to_do, file_id)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, nullif(?, 0))
		ON CONFLICT (path, size, mod_ns) DO UPDATE SET seen_at = excluded.seen_at, outcome = excluded.outcome,
			code = excluded.code, reason = excluded.reason, to_do = excluded.to_do, file_id = excluded.file_id`,
		d.Path, d.Size, d.ModTime.UnixNano(), seen, d.Fate, d.Code, d.Reason, d.ToDo, d.FileID)
	return err
}

// maxPage is the most rows a page can have.
const maxPage = 200

func checkPage(offset, limit int) error {
	if offset < 0 || limit < 1 || limit > maxPage {
		return invalid("A page has 1 to %d rows and does not begin before the first.", maxPage)
	}
	return nil
}

// WrongPerson is the code of a held file whose readings are filed under another
// patient already. Such files come first among the held ones.
const WrongPerson = "wrong_person"

// Drops gives one page of the Files page, newest first. Held files alone come
// with [WrongPerson] first and then the one that waits longest.
func (s *Store) Drops(ctx context.Context, q DropQuery) (DropPage, error) {
	if err := checkPage(q.Offset, q.Limit); err != nil {
		return DropPage{}, err
	}
	var p DropPage
	err := s.read(ctx, "read the Files page", func(t *sql.Tx) error {
		var err error
		if p.Version, err = dataVersion(ctx, t); err != nil {
			return err
		}
		if p.Counts, err = s.fates.Get(p.Version, func() (map[Fate]int, error) { return countFates(ctx, t) }); err != nil {
			return err
		}
		for outcome, n := range p.Counts {
			p.Total += n
			if q.Fate == "" || q.Fate == outcome {
				p.Matching += n
			}
		}
		return p.load(ctx, t, q)
	})
	return p, err
}

// load reads the rows of the page.
func (p *DropPage) load(ctx context.Context, t *sql.Tx, q DropQuery) error {
	query := `SELECT id, path, size, mod_ns, seen_at, outcome, code, reason, to_do, coalesce(file_id, 0) FROM drops `
	args := []any{q.Limit, q.Offset}
	if q.Fate != "" {
		query += "WHERE outcome = ? "
		args = []any{q.Fate, q.Limit, q.Offset}
	}
	order := "seen_at DESC, id DESC"
	if q.Fate == Held { // what may lie under the wrong patient, then what waits longest
		order = "code <> '" + WrongPerson + "', seen_at, id"
	}
	rows, err := t.QueryContext(ctx, query+"ORDER BY "+order+" LIMIT ? OFFSET ?", args...)
	err = each(rows, err, func(rows *sql.Rows) error {
		var d Drop
		var mod, seen int64
		err := rows.Scan(&d.ID, &d.Path, &d.Size, &mod, &seen, &d.Fate, &d.Code, &d.Reason, &d.ToDo, &d.FileID)
		d.ModTime, d.SeenAt = time.Unix(0, mod).UTC(), fromUnix(seen)
		p.Rows = append(p.Rows, DropRow{Drop: d})
		return err
	})
	if err != nil {
		return err
	}
	return p.files(ctx, t)
}

// files reads the files of the rows, with whose they are and what they brought.
func (p *DropPage) files(ctx context.Context, t *sql.Tx) error {
	ids := make([]int64, len(p.Rows))
	for i, r := range p.Rows {
		ids[i] = r.FileID
	}
	list, err := text(ids)
	if err != nil {
		return err
	}
	found := map[int64]*DropRow{}
	rows, err := t.QueryContext(ctx, "SELECT "+rowColumns+", coalesce((SELECT count(*) FROM results WHERE results.file_id = files.id AND withdrawn_at IS NULL), 0) FROM files WHERE id IN (SELECT value FROM json_each(?))", list)
	err = each(rows, err, func(rows *sql.Rows) error {
		r := new(DropRow)
		f, err := scanFile(rows, &r.Results)
		r.File, r.Messages = &f, slices.Contains(messageLayouts, f.Layout)
		found[f.ID] = r
		return err
	})
	if err != nil {
		return err
	}
	rows, err = t.QueryContext(ctx, "SELECT files.id, "+patientColumns+" FROM files JOIN patients ON patients.id = files.patient_id WHERE files.id IN (SELECT value FROM json_each(?))", list)
	err = each(rows, err, func(rows *sql.Rows) error {
		var id int64
		who := new(Patient)
		err := rows.Scan(append([]any{&id}, who.targets()...)...)
		found[id].Patient = who
		return err
	})
	if err != nil {
		return err
	}
	rows, err = t.QueryContext(ctx, `SELECT file_id, wears.id, new, same, conflicts FROM file_wears JOIN wears ON wears.id = file_wears.wear_id
		WHERE file_wears.file_id IN (SELECT value FROM json_each(?)) ORDER BY wears.first_at, wears.id`, list)
	err = each(rows, err, func(rows *sql.Rows) error {
		var id, wearID int64
		var added, same, conflicts int
		err := rows.Scan(&id, &wearID, &added, &same, &conflicts)
		r := found[id]
		r.WearIDs = append(r.WearIDs, wearID)
		r.New, r.Same, r.Conflicts = r.New+added, r.Same+same, r.Conflicts+conflicts
		return err
	})
	for i := range p.Rows {
		if r := found[p.Rows[i].FileID]; r != nil {
			of := *r
			of.Drop = p.Rows[i].Drop
			p.Rows[i] = of
		}
	}
	return err
}

// countFates counts the drops by what became of them.
func countFates(ctx context.Context, t *sql.Tx) (map[Fate]int, error) {
	counts := map[Fate]int{}
	rows, err := t.QueryContext(ctx, "SELECT outcome, count(*) FROM drops GROUP BY outcome")
	return counts, each(rows, err, func(rows *sql.Rows) error {
		var k Fate
		var n int
		err := rows.Scan(&k, &n)
		counts[k] = n
		return err
	})
}
