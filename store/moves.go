package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"
)

// Move is a wear that turned out to be another patient's.
type Move struct {
	ID       int64
	WearID   int64
	From, To Patient
	Reason   string
	Results  int // laboratory results that went along
	By       Person
	At       time.Time
	UndoneAt time.Time // zero while it stands
}

// NewMove says whose wears a file really brought.
type NewMove struct {
	WearID int64
	To     int64 // patient
	Reason string
	// Results takes along the laboratory results that were recorded with the wear:
	// they are of whoever it is of, or of whom it was taken for.
	Results bool
}

// MoveWear makes a wear another patient's, with what people recorded of it, the
// files that brought it and the other wears that these brought; it gives their
// number. Letters stay with whom they name and can no longer go (see
// [Store.SendLetter]). An outcome from before was of somebody else, so the wear
// is on the round again. Moving it back takes all of it back.
func (s *Store) MoveWear(ctx context.Context, a Actor, m NewMove) (wears int, err error) {
	if err := checkReason(m.Reason); err != nil {
		return 0, err
	}
	err = s.act(ctx, a, staff, "move a wear", onWear(m.WearID), func(t *tx) error {
		id, err := t.touching(ctx, m.WearID)
		if err != nil {
			return err
		}
		if err := t.stillThere(ctx, m.To); err != nil {
			return err
		}
		var from int64
		if err := t.QueryRowContext(ctx, "SELECT patient_id FROM wears WHERE id = ?", id).Scan(&from); err != nil {
			return err
		}
		if from == m.To {
			return conflict("This wear is that patient's already. Look again.")
		}
		ids, err := t.sharing(ctx, id)
		if err != nil {
			return err
		}
		for _, id := range ids {
			if err := t.noTwin(ctx, id, m.To); err != nil {
				return err
			}
			if err := t.moveWear(ctx, id, from, m.To, strings.TrimSpace(m.Reason), m.Results); err != nil {
				return err
			}
			if err := t.log(ctx, onWear(id), strings.TrimSpace(m.Reason)); err != nil {
				return err
			}
		}
		wears = len(ids)
		if err := t.regroup(ctx, from, m.To); err != nil {
			return err
		}
		for _, patient := range []int64{from, m.To} {
			if err := t.log(ctx, onPatient(patient), strings.TrimSpace(m.Reason)); err != nil {
				return err
			}
		}
		return nil
	})
	return wears, err
}

// noTwin refuses to move a wear to whom has the same readings already.
func (t *tx) noTwin(ctx context.Context, wearID, to int64) error {
	var twin bool
	err := t.QueryRowContext(ctx, `SELECT EXISTS (SELECT * FROM wear_prints a JOIN wear_prints b ON b.print = a.print JOIN wears ON wears.id = b.wear_id
		WHERE a.wear_id = ?1 AND b.wear_id <> ?1 AND patient_id = ?2)`, wearID, to).Scan(&twin)
	if err == nil && twin {
		return conflict("That patient has the same readings already. Drop a copy of the file under the right name: the two are then joined.")
	}
	return err
}

// moveWear makes a wear another patient's; the recalls of whose it was not are
// as they were before it. A move that goes back to where the last one came from
// takes that back.
func (t *tx) moveWear(ctx context.Context, wearID, from, to int64, reason string, withResults bool) error {
	if err := t.bump(ctx); err != nil {
		return err
	}
	var last int64
	var results []int64
	named := map[int64]string{}
	err := t.QueryRowContext(ctx, `SELECT id, results, named FROM moves WHERE id = (SELECT max(id) FROM moves WHERE wear_id = ?1 AND undone_at IS NULL)
		AND from_patient = ?2 AND to_patient = ?3`, wearID, to, from).Scan(&last, into(&results), into(&named))
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	if last == 0 && withResults {
		rows, err := t.QueryContext(ctx, "SELECT id FROM results WHERE wear_id = ? AND patient_id = ? ORDER BY id", wearID, from)
		if results, err = collect(rows, err, scanID); err != nil {
			return err
		}
	}
	went, err := text(results)
	if err != nil {
		return err
	}
	for _, q := range []string{
		"UPDATE wears SET patient_id = ?2, changed = ?4 WHERE id = ?1",
		"UPDATE contacts SET patient_id = ?2 WHERE wear_id = ?1",
		"UPDATE notes SET patient_id = ?2 WHERE wear_id = ?1",
		"UPDATE results SET patient_id = ?2 WHERE id IN (SELECT value FROM json_each(?3))",
		// A decision goes with the result that it is about.
		"UPDATE recalls SET patient_id = coalesce((SELECT patient_id FROM results WHERE id = about_result), ?2) WHERE wear_id = ?1",
		"UPDATE recalls SET patient_id = ?2 WHERE about_result IN (SELECT value FROM json_each(?3))",
	} {
		if _, err := t.ExecContext(ctx, q, wearID, to, went, t.version); err != nil {
			return err
		}
	}
	if last == 0 {
		if named, err = t.nameFiles(ctx, wearID, to); err != nil {
			return err
		}
		whose, err := text(named)
		if err != nil {
			return err
		}
		_, err = t.ExecContext(ctx, `INSERT INTO moves (wear_id, from_patient, to_patient, reason, results, named, version, made_by, made_at)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`, wearID, from, to, reason, went, whose, t.version, t.actor.UserID, t.now)
		if err != nil {
			return err
		}
	} else if err := t.unnameFiles(ctx, named, last); err != nil {
		return err
	}
	if err := t.moveFiles(ctx, wearID, to); err != nil {
		return err
	}
	return t.recallWears(ctx, from)
}

// nameFiles has the files that brought nothing but wears of a patient named for
// them, so that they stay with them when they are read again. It gives the
// answers that stood there before.
func (t *tx) nameFiles(ctx context.Context, wearID, patientID int64) (before map[int64]string, err error) {
	before = map[int64]string{}
	rows, err := t.QueryContext(ctx, "SELECT id, coalesce((SELECT value FROM answers WHERE file_id = files.id AND code = ?3), '') FROM files WHERE "+ownFiles, wearID, patientID, patientQuestion)
	err = each(rows, err, func(rows *sql.Rows) error {
		var id int64
		var was string
		err := rows.Scan(&id, &was)
		before[id] = was
		return err
	})
	if err != nil {
		return nil, err
	}
	_, err = t.ExecContext(ctx, `INSERT INTO answers (file_id, code, value, at) SELECT id, ?3, (SELECT code FROM patients WHERE id = ?2), ?4 FROM files WHERE `+ownFiles+`
		ON CONFLICT (file_id, code) DO UPDATE SET value = excluded.value, at = excluded.at`, wearID, patientID, patientQuestion, t.now)
	return before, err
}

// unnameFiles takes that and the move itself back.
func (t *tx) unnameFiles(ctx context.Context, before map[int64]string, moveID int64) error {
	for id, was := range before {
		query := "UPDATE answers SET value = ?3 WHERE file_id = ?1 AND code = ?2"
		if was == "" {
			query = "DELETE FROM answers WHERE file_id = ?1 AND code = ?2"
		}
		if _, err := t.ExecContext(ctx, query, id, patientQuestion, was); err != nil {
			return err
		}
	}
	_, err := t.ExecContext(ctx, "UPDATE moves SET undone_at = ? WHERE id = ?", t.now, moveID)
	return err
}

// ownFiles finds the files of one person that brought wear ?1 and none that is
// not patient ?2's.
const ownFiles = `patient_id IS NOT NULL AND id IN (SELECT file_id FROM file_wears WHERE wear_id = ?1)
	AND id NOT IN (SELECT file_id FROM file_wears JOIN wears ON wears.id = wear_id WHERE wears.patient_id <> ?2)`

// moveFiles makes those files another patient's, once the wears are.
func (t *tx) moveFiles(ctx context.Context, wearID, patientID int64) error {
	_, err := t.ExecContext(ctx, "UPDATE files SET patient_id = ?2 WHERE "+ownFiles, wearID, patientID)
	return err
}

// Moves gives the moves of a wear, the newest first.
func (s *Store) Moves(ctx context.Context, wearID int64) (list []Move, err error) {
	err = s.read(ctx, "read the moves of a wear", func(t *sql.Tx) error {
		id, err := survivor(ctx, t, wearID)
		if err != nil {
			return err
		}
		rows, err := t.QueryContext(ctx, `SELECT moves.id, wear_id, reason, json_array_length(results), made_by, coalesce((SELECT name FROM users WHERE users.id = made_by), ''),
				made_at, coalesce(undone_at, 0), from_patient, to_patient FROM moves WHERE wear_id = ? ORDER BY moves.id DESC`, id)
		var at, undone int64
		list, err = collect(rows, err, func(rows *sql.Rows) (m Move, err error) {
			err = rows.Scan(&m.ID, &m.WearID, &m.Reason, &m.Results, &m.By.ID, &m.By.Name, &at, &undone, &m.From.ID, &m.To.ID)
			m.At, m.UndoneAt = fromUnix(at), when(undone)
			return m, err
		})
		for i := range list {
			for _, p := range []*Patient{&list[i].From, &list[i].To} {
				if *p, err = readPatient(ctx, t, p.ID); err != nil {
					return err
				}
			}
		}
		return err
	})
	return list, err
}
