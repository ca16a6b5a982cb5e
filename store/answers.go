package store

import (
	"context"
	"database/sql"
	"errors"
	"slices"

	"wearround/worker/wear"
)

// patientQuestion is the code of the question whose answer is not one of its
// choices but the code of any patient on the register.
const patientQuestion = "patient"

// Answer saves a person's answer to one question of a held file. The value
// must be one of the question's choices; for the question "patient" it is the
// code of a patient on the register. A later answer replaces an earlier one.
// The worker then reads the file again; see [Store.AnsweredFiles].
func (s *Store) Answer(ctx context.Context, fileID int64, code, value string) error {
	return s.write(ctx, "answer a question", func(t *tx) error {
		if err := t.bump(ctx); err != nil {
			return err
		}
		var state Outcome
		var questions []wear.Question
		if err := t.QueryRowContext(ctx, "SELECT state, questions FROM files WHERE id = ?", fileID).Scan(&state, into(&questions)); err != nil {
			return err
		}
		if state != Held {
			return &Error{Code: Conflict, Public: "This file is no longer waiting for an answer. Look at the Files page again."}
		}
		i := slices.IndexFunc(questions, func(q wear.Question) bool { return q.Code == code })
		if i < 0 {
			return &Error{Code: Conflict, Public: "This file no longer asks that question. Look at the Files page again."}
		}
		var patient sql.NullInt64
		if code == patientQuestion {
			err := t.QueryRowContext(ctx, "SELECT id FROM patients WHERE code = ?", value).Scan(&patient)
			if errors.Is(err, sql.ErrNoRows) {
				return invalid("No patient on the register has this code. Add the patient first, or correct the code.")
			}
			if err != nil {
				return err
			}
		} else if !slices.ContainsFunc(questions[i].Choices, func(c wear.Choice) bool { return c.Value == value }) {
			return invalid("This is not one of the answers offered. Choose one from the list.")
		}
		if _, err := t.ExecContext(ctx, `INSERT INTO answers (file_id, code, value, at) VALUES (?, ?, ?, ?)
			ON CONFLICT (file_id, code) DO UPDATE SET value = excluded.value, at = excluded.at`, fileID, code, value, t.now); err != nil {
			return err
		}
		_, err := t.ExecContext(ctx, "UPDATE files SET answered = ?, patient_id = coalesce(?, patient_id) WHERE id = ?", t.version, patient, fileID)
		return err
	})
}

// AnsweredFiles gives the held files that got an answer since they were last
// read, oldest answer first: the worker reads them again from the archive.
func (s *Store) AnsweredFiles(ctx context.Context) ([]File, error) {
	var list []File
	rows, err := s.reader.QueryContext(ctx, "SELECT "+fileColumns+` FROM files
		WHERE state = 'held' AND answered > answers_read ORDER BY answered`)
	err = each(rows, err, func(rows *sql.Rows) error {
		f, err := scanFile(rows)
		list = append(list, f)
		return err
	})
	return list, fail("read the answered files", err)
}
