package store

import (
	"context"
	"database/sql"
)

// Review gives everything that people recorded about one wear and its patient.
// It follows a joined wear as [Store.Wear] does.
func (s *Store) Review(ctx context.Context, wearID int64) (Review, error) {
	var v Review
	err := s.read(ctx, "read the review of a wear", func(t *sql.Tx) error {
		var err error
		if v.Version, err = dataVersion(ctx, t); err != nil {
			return err
		}
		id, err := survivor(ctx, t, wearID)
		if err != nil {
			return err
		}
		v.WearID = id
		var patient, next int64
		err = t.QueryRowContext(ctx, "SELECT patient_id, open, coalesce(next_try, 0) FROM wears WHERE id = ?", id).Scan(&patient, &v.Open, &next)
		if err != nil {
			return err
		}
		v.NextTry = when(next)
		if v.Claim, err = claimOf(ctx, t, id, s.now().Unix()); err != nil {
			return err
		}
		return firstErr(
			gather(ctx, t, &v.Outcomes, scanOutcomeRow, outcomeColumns, "wear_id = ? ORDER BY outcomes.id", id),
			gather(ctx, t, &v.Handovers, scanHandover, handoverColumns, "wear_id = ? ORDER BY handovers.id", id),
			gather(ctx, t, &v.Contacts, scanContact, contactColumns, "wear_id = ? ORDER BY at, contacts.id", id),
			gather(ctx, t, &v.Calls, scanCall, callColumns, "wear_id = ? ORDER BY calls.id", id),
			gather(ctx, t, &v.Events, scanEvent, eventColumns, "wear_id = ? ORDER BY added_events.id", id),
			gather(ctx, t, &v.Overrides, scanOverride, overrideColumns, "wear_id = ? ORDER BY overrides.id", id),
			gather(ctx, t, &v.Notes, scanNote, noteColumns, "wear_id = ? ORDER BY notes.id", id),
			gather(ctx, t, &v.Read, scanRead, readColumns, "wear_id = ? ORDER BY words_read.id", id),
			gather(ctx, t, &v.RedFlags, scanRedFlag, redFlagColumns, "wear_id = ? ORDER BY red_flags.id", id),
			gather(ctx, t, &v.Results, scanResult, resultColumns, "patient_id = ? ORDER BY taken_at, results.id", patient),
			gather(ctx, t, &v.Recalls, scanRecallRow, recallColumns, "recalls.patient_id = ? ORDER BY due_at, recalls.id", patient),
			gather(ctx, t, &v.Letters, scanLetterRow, letterColumns, "patient_id = ? ORDER BY letters.id", patient),
		)
	})
	return v, err
}

// gather reads the rows of one table into list.
func gather[T any](ctx context.Context, t *sql.Tx, list *[]T, scan func(*sql.Rows) (T, error), columns, where string, id int64) error {
	rows, err := t.QueryContext(ctx, "SELECT "+columns+" WHERE "+where, id)
	*list, err = collect(rows, err, scan)
	return err
}

func scanOutcomeRow(rows *sql.Rows) (WearOutcome, error) { return scanOutcome(rows) }

// Outcomes gives every outcome of a patient's wears, oldest first.
func (s *Store) Outcomes(ctx context.Context, patientID int64) ([]WearOutcome, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT "+outcomeColumns+` WHERE wear_id IN (SELECT id FROM wears WHERE patient_id = ?)
		ORDER BY outcomes.id`, patientID)
	list, err := collect(rows, err, scanOutcomeRow)
	return list, fail("read the outcomes", err)
}

// Notes gives the notes about a patient and their wears, oldest first.
func (s *Store) Notes(ctx context.Context, patientID int64) ([]Note, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT "+noteColumns+" WHERE patient_id = ? ORDER BY notes.id", patientID)
	list, err := collect(rows, err, scanNote)
	return list, fail("read the notes", err)
}
