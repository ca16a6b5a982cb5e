package store

import (
	"context"
	"database/sql"
	"errors"

	"wearround/worker/wear"
)

// StaleWear is a wear whose report was made from something that has changed
// since.
type StaleWear struct {
	ID         int64
	PatientID  int64
	SensorKind string
	Changed    int64 // data version of its last change, for [Store.Redo]
}

// StaleWears gives the wears whose reports are to be made anew.
func (s *Store) StaleWears(ctx context.Context) ([]StaleWear, error) {
	var list []StaleWear
	rows, err := s.reader.QueryContext(ctx, "SELECT id, patient_id, sensor_kind, changed FROM wears WHERE stale = 1 AND joined_into IS NULL ORDER BY id")
	err = each(rows, err, func(rows *sql.Rows) error {
		var w StaleWear
		err := rows.Scan(&w.ID, &w.PatientID, &w.SensorKind, &w.Changed)
		list = append(list, w)
		return err
	})
	return list, fail("list stale wears", err)
}

// Redo puts a new report in place of a wear's old one; readings, events and
// the time it was received stay. The due time moves forward where the new
// report is more pressing and is never put off. [ErrStale] means that the wear
// has changed since it was listed.
func (s *Store) Redo(ctx context.Context, w StaleWear, r *wear.Report) error {
	report, line, err := packReport(r)
	if err != nil {
		return fail("pack a report", err)
	}
	return s.write(ctx, "redo a report", func(t *tx) error {
		_, err := t.redo(ctx, w, r, report, line)
		return err
	})
}

// redo does it, logs a change of tier, and gives the tier before.
func (t *tx) redo(ctx context.Context, w StaleWear, r *wear.Report, report []byte, line string) (before wear.Tier, err error) {
	if err := t.bump(ctx); err != nil {
		return "", err
	}
	err = t.QueryRowContext(ctx, "SELECT tier FROM wears WHERE id = ? AND changed = ? AND joined_into IS NULL", w.ID, w.Changed).Scan(&before)
	if errors.Is(err, sql.ErrNoRows) {
		return "", ErrStale
	}
	if err != nil {
		return "", err
	}
	if _, err := t.ExecContext(ctx, `UPDATE wears SET tier = ?, score = ?, doubted = ?, due_at = min(due_at, received_at + ?), stale = 0, changed = ? WHERE id = ?`,
		r.Priority.Tier, r.Priority.Score, r.Doubted(), r.Priority.DueDays*daySeconds, t.version, w.ID); err != nil {
		return "", err
	}
	if _, err := t.ExecContext(ctx, "UPDATE reports SET engine = ?, protocol = ?, ledger = ?, report = ? WHERE wear_id = ?",
		r.Engine, r.Protocol, line, report, w.ID); err != nil {
		return "", err
	}
	if _, err := t.ExecContext(ctx, "DELETE FROM wear_flags WHERE wear_id = ?", w.ID); err != nil {
		return "", err
	}
	if err := t.saveFlags(ctx, w.ID, r.Flags); err != nil {
		return "", err
	}
	change := ""
	if before != r.Priority.Tier {
		change = string(before) + " to " + string(r.Priority.Tier)
	}
	return before, t.log(ctx, onWear(w.ID), change)
}
