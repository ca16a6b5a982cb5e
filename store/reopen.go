package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"wearround/worker/wear"
)

// Codes of answers that nobody gives: whose a file was filed as, and whose a
// copy of it is by its name. Where the two differ a person is asked.
const (
	FiledFor = "filed_for"
	CopyFor  = "copy_for" // before the codes of copies under several names, each with the name behind it
)

// notGiven is a condition: an answer with this code is none that a person gave.
func notGiven(code string) string {
	return fmt.Sprintf("(%[1]s IN ('%[2]s', '%[3]s') OR %[1]s GLOB '%[4]s*')", code, FiledFor, ZoneOfWear, CopyFor)
}

// TakeBackWithin is how long answers about a file can be taken back.
const TakeBackWithin = 24 * time.Hour

// takenBackQuestion stands while a file waits to be read again; nobody is asked it.
var takenBackQuestion = wear.Question{Code: "reading_again", Text: "Whose the file is, or an answer about it, is in doubt. It is being read again."}

// Contest has a file read again of which a copy came under another patient's
// name. It is then held until a person says whose it is; what it brought stays
// where it is until then. It reports false where that was asked before.
func (s *Store) Contest(ctx context.Context, fileID int64, claimed string) (fresh bool, err error) {
	err = s.write(ctx, "find a copy under another name", func(t *tx) error {
		var known bool
		err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM answers WHERE file_id = ? AND code GLOB ? AND value = ?)", fileID, CopyFor+"*", claimed).Scan(&known)
		if err != nil || known {
			return err
		}
		fresh = true
		if _, err := t.ExecContext(ctx, `INSERT INTO answers (file_id, code, value, at) VALUES (?, ?, ?, ?)
			ON CONFLICT (file_id, code) DO UPDATE SET value = excluded.value, at = excluded.at`, fileID, CopyFor+":"+claimed, claimed, t.now); err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "DELETE FROM answers WHERE file_id = ? AND code = ?", fileID, patientQuestion); err != nil {
			return err
		}
		return t.reopen(ctx, fileID)
	})
	return fresh, err
}

// TakeBackAnswers forgets what people answered about a file, and has it read
// again: for an answer that was wrong, and for a file that is not the patient's
// it is filed under. It can be done until a day after the last answer. A recipe
// that was made of the answers is withdrawn. Where somebody had what the file
// brought before it was asked whose it is, they have it again.
func (s *Store) TakeBackAnswers(ctx context.Context, fileID int64) error {
	return s.actAs(ctx, staff, "take back the answers about a file", onFile(fileID), func(t *tx) error {
		var last int64
		var had sql.NullString
		err := t.QueryRowContext(ctx, `SELECT coalesce(max(at), 0), (SELECT value FROM answers WHERE file_id = ?1 AND code = ?2 AND EXISTS (SELECT * FROM answers WHERE file_id = ?1 AND code = ?3))
			FROM answers WHERE file_id = ?1 AND NOT `+notGiven("code"), fileID, FiledFor, patientQuestion).Scan(&last, &had)
		switch {
		case err != nil:
			return err
		case last == 0:
			return conflict("Nobody has answered a question about this file.")
		case time.Unix(t.now, 0).Sub(time.Unix(last, 0)) > TakeBackWithin:
			return conflict("The answers are more than a day old. Withdraw the recipe of the layout, or move the wear, instead.")
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "DELETE FROM answers WHERE file_id = ? AND NOT "+notGiven("code"), fileID); err != nil {
			return err
		}
		rows, err := t.QueryContext(ctx, "SELECT id FROM recipes WHERE file_id = ? AND state = 'in_force' AND json_array_length(answers) > 0", fileID)
		made, err := collect(rows, err, scanID)
		for _, id := range made {
			if err == nil {
				err = t.withdraw(ctx, id, "its answers were taken back")
			}
		}
		if err != nil {
			return err
		}
		if err := t.reopen(ctx, fileID); err != nil {
			return err
		}
		if had.Valid {
			if _, err := t.ExecContext(ctx, "UPDATE answers SET value = ? WHERE file_id = ? AND code = ?", had.String, fileID, FiledFor); err != nil {
				return err
			}
		}
		return t.log(ctx, onFile(fileID), "")
	})
}

// reopen has a file read again. Where it is filed, whose it is must then be
// said by a person.
func (t *tx) reopen(ctx context.Context, fileID int64) error {
	if err := t.bump(ctx); err != nil {
		return err
	}
	questions, err := text([]wear.Question{takenBackQuestion})
	if err != nil {
		return err
	}
	for _, q := range []struct {
		query string
		args  []any
	}{
		{`INSERT INTO answers (file_id, code, value, at)
			SELECT files.id, ?2, patients.code, ?3 FROM files JOIN patients ON patients.id = files.patient_id WHERE files.id = ?1 AND files.state = 'filed'
			ON CONFLICT (file_id, code) DO UPDATE SET value = excluded.value, at = excluded.at`, []any{FiledFor, t.now}},
		{"UPDATE files SET state = 'held', questions = ?2, answered = ?3 WHERE id = ?1", []any{questions, t.version}},
		{"UPDATE drops SET outcome = 'held', code = ?2, reason = ?3, to_do = ?4 WHERE outcome <> 'already' AND file_id = ?1",
			[]any{WrongPerson, takenBackQuestion.Text, againToDo}},
	} {
		if _, err := t.ExecContext(ctx, q.query, append([]any{fileID}, q.args...)...); err != nil {
			return err
		}
	}
	return nil
}
