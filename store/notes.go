package store

import (
	"context"
	"database/sql"
	"strings"
)

// AddNote writes a note about a wear.
func (s *Store) AddNote(ctx context.Context, a Actor, wearID int64, words string) (id int64, err error) {
	if err := checkNote(words); err != nil {
		return 0, err
	}
	err = s.act(ctx, a, staff, "write a note", onWear(wearID), func(t *tx) error {
		wearID, err := survivor(ctx, t.Tx, wearID)
		if err != nil {
			return err
		}
		if id, err = t.addNote(ctx, wearID, words); err != nil {
			return err
		}
		if err := t.judge(ctx, wearID, nil); err != nil { // what is noted is words, to be read
			return err
		}
		return t.log(ctx, onWear(wearID), "")
	})
	return id, err
}

func (t *tx) addNote(ctx context.Context, wearID int64, words string) (id int64, err error) {
	err = t.QueryRowContext(ctx, `INSERT INTO notes (patient_id, wear_id, text, made_by, made_at)
		SELECT patient_id, id, ?, ?, ? FROM wears WHERE id = ? RETURNING id`, strings.TrimSpace(words), t.actor.UserID, t.now, wearID).Scan(&id)
	if err != nil {
		return 0, err
	}
	return id, t.changeWear(ctx, wearID)
}

// AddPatientNote writes a note about a patient.
func (s *Store) AddPatientNote(ctx context.Context, a Actor, patientID int64, words string) (id int64, err error) {
	if err := checkNote(words); err != nil {
		return 0, err
	}
	err = s.act(ctx, a, staff, "write a note", onPatient(patientID), func(t *tx) error {
		if err := t.ofLive(ctx, patientID); err != nil {
			return err
		}
		err := t.QueryRowContext(ctx, "INSERT INTO notes (patient_id, text, made_by, made_at) VALUES (?, ?, ?, ?) RETURNING id",
			patientID, strings.TrimSpace(words), a.UserID, t.now).Scan(&id)
		if err != nil {
			return err
		}
		if err := t.judgePatient(ctx, patientID); err != nil {
			return err
		}
		return t.log(ctx, onPatient(patientID), "")
	})
	return id, err
}

// CorrectNote writes a note in the place of one that was wrong, which stays.
func (s *Store) CorrectNote(ctx context.Context, a Actor, noteID int64, words string) (id int64, err error) {
	if err := checkNote(words); err != nil {
		return 0, err
	}
	var patientID, wearID int64
	err = s.reader.QueryRowContext(ctx, "SELECT patient_id, coalesce(wear_id, 0) FROM notes WHERE id = ?", noteID).Scan(&patientID, &wearID)
	if err != nil {
		return 0, fail("correct a note", err)
	}
	on := onPatient(patientID)
	if wearID != 0 {
		on = onWear(wearID)
	}
	err = s.act(ctx, a, staff, "correct a note", on, func(t *tx) error {
		err := t.QueryRowContext(ctx, `INSERT INTO notes (patient_id, wear_id, text, made_by, made_at, corrects)
			SELECT patient_id, wear_id, ?1, ?2, ?3, id FROM notes WHERE id = ?4 AND NOT EXISTS (SELECT * FROM notes WHERE corrects = ?4) RETURNING id`,
			strings.TrimSpace(words), a.UserID, t.now, noteID).Scan(&id)
		if err == sql.ErrNoRows {
			return conflict("This note was corrected already. Look again.")
		}
		if err != nil {
			return err
		}
		if wearID != 0 {
			err = t.judge(ctx, wearID, nil)
		} else {
			err = t.judgePatient(ctx, patientID)
		}
		if err != nil {
			return err
		}
		return t.log(ctx, on, "")
	})
	return id, err
}

// hear keeps what somebody typed for another purpose as a note of the wear, or of
// the patient where wearID is 0, if the lists of words take it for a severe
// symptom: as a note it is words, unread until a person has said what they are.
// What else is typed for a purpose of its own is no note.
func (t *tx) hear(ctx context.Context, patientID, wearID int64, text string) error {
	if t.actor.UserID == 0 || t.by.Protocol == nil || !t.by.Protocol.Symptom.Severe(text) {
		return nil
	}
	if wearID == 0 {
		_, err := t.ExecContext(ctx, "INSERT INTO notes (patient_id, text, made_by, made_at) VALUES (?, ?, ?, ?)", patientID, strings.TrimSpace(text), t.actor.UserID, t.now)
		if err != nil {
			return err
		}
		return t.judgePatient(ctx, patientID)
	}
	wearID, err := survivor(ctx, t.Tx, wearID)
	if err != nil {
		return err
	}
	if _, err := t.addNote(ctx, wearID, text); err != nil {
		return err
	}
	return t.judge(ctx, wearID, nil)
}

func checkNote(words string) error {
	if strings.TrimSpace(words) == "" {
		return invalid("Write the note first.")
	}
	return checkText(words)
}

const noteColumns = `notes.id, coalesce(wear_id, 0), text, users.id, users.name, made_at, coalesce(corrects, 0)
	FROM notes JOIN users ON users.id = made_by`

func scanNote(rows *sql.Rows) (Note, error) {
	var n Note
	var at int64
	err := rows.Scan(&n.ID, &n.WearID, &n.Text, &n.By.ID, &n.By.Name, &at, &n.Corrects)
	n.At = fromUnix(at)
	return n, err
}
