package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// Codes of the questions that a patient's code answers.
const (
	patientQuestion = "patient"
	personQuestion  = "person:" // and who, as the file says it
)

// Nobody is the answer to whose something is that says nobody's on the register.
// No patient can have it for a code.
const Nobody = "=nobody"

// Named reports whether the answer to a question is not one of its choices but
// the code of any patient on the register: whose the file is, or one of the
// people in it.
func Named(code string) bool {
	return code == patientQuestion || strings.HasPrefix(code, personQuestion)
}

// Answer saves a person's answers to questions of a held file, by the code of
// the question: all of them or none. A value must be one of the question's
// choices, or the code of a patient where the question is [Named]. A later
// answer replaces an earlier one. The worker then reads the file again; see
// [Store.AnsweredFiles].
func (s *Store) Answer(ctx context.Context, fileID int64, answers map[string]string) error {
	if len(answers) == 0 {
		return invalid("No answer was given. Choose one, then send it.")
	}
	return s.actAs(ctx, staff, "answer a question", onFile(fileID), func(t *tx) error {
		if err := t.bump(ctx); err != nil {
			return err
		}
		var state Fate
		var questions []wear.Question
		if err := t.QueryRowContext(ctx, "SELECT state, questions FROM files WHERE id = ?", fileID).Scan(&state, into(&questions)); err != nil {
			return err
		}
		if state != Held {
			return &Error{Code: Conflict, Public: "This file is no longer waiting for an answer. Look at the Files page again."}
		}
		for code, value := range answers {
			if err := t.answer(ctx, fileID, questions, code, value); err != nil {
				return err
			}
		}
		if _, err := t.ExecContext(ctx, "UPDATE files SET answered = ? WHERE id = ?", t.version, fileID); err != nil {
			return err
		}
		return t.log(ctx, onFile(fileID), strings.Join(slices.Sorted(maps.Keys(answers)), ", "))
	})
}

// answer saves one of the answers.
func (t *tx) answer(ctx context.Context, fileID int64, questions []wear.Question, code, value string) error {
	i := slices.IndexFunc(questions, func(q wear.Question) bool { return q.Code == code })
	if i < 0 {
		return &Error{Code: Conflict, Public: "This file no longer asks that question. Look at the Files page again."}
	}
	offered := slices.ContainsFunc(questions[i].Choices, func(c wear.Choice) bool { return c.Value == value })
	if Named(code) && !(offered && value == Nobody) {
		var patient int64
		err := t.QueryRowContext(ctx, "SELECT id FROM patients WHERE id = "+fmt.Sprintf(live, "code = ?1 OR upper(code) = upper(?1) AND (SELECT count(*) FROM patients WHERE upper(code) = upper(?1)) = 1"), value).Scan(&patient)
		if errors.Is(err, sql.ErrNoRows) {
			return invalid("No patient on the register has this code. Add the patient first, or correct the code.")
		}
		if err != nil {
			return err
		}
		if code == patientQuestion {
			if _, err := t.ExecContext(ctx, "UPDATE files SET patient_id = ? WHERE id = ?", patient, fileID); err != nil {
				return err
			}
		}
	} else if !offered {
		return invalid("This is not one of the answers offered. Choose one from the list.")
	}
	_, err := t.ExecContext(ctx, `INSERT INTO answers (file_id, code, value, at) VALUES (?, ?, ?, ?)
		ON CONFLICT (file_id, code) DO UPDATE SET value = excluded.value, at = excluded.at`, fileID, code, value, t.now)
	return err
}

// AnsweredFiles gives the held files for which, since they were last read, a
// person has given an answer or something else has changed that may settle
// their questions: a recipe, the register, the file-name rule. The oldest
// change comes first; the worker reads them again from the archive.
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
