package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"strings"
	"time"

	"wearround/worker/wear"
)

// fileColumns are all of a file.
var fileColumns = columnsOfFile("files.decisions", "files.account")

// rowColumns are those that a row of the Files page shows: by far the longest
// are left out, but for what a laboratory's messages came to.
var rowColumns = columnsOfFile("'[]'", "iif(files.layout IN ('"+strings.Join(messageLayouts, "', '")+"'), files.account, '{}')")

func columnsOfFile(decisions, account string) string {
	return `files.id, files.sha256,
	coalesce((SELECT path FROM drops WHERE file_id = files.id ORDER BY id LIMIT 1), ''), files.size, files.received_at, files.state, files.layout, files.questions,
	` + decisions + `, coalesce(files.patient_id, 0), files.rows, files.skipped, files.answered,
	files.state = 'held' AND files.answered > files.answers_read, coalesce(files.recipe_id, 0),
	EXISTS (SELECT * FROM recipes WHERE id = files.recipe_id AND state = 'withdrawn'),
	(SELECT json_group_object(code, value) FROM answers WHERE file_id = files.id),
	(SELECT coalesce(max(at), 0) FROM answers WHERE file_id = files.id AND NOT ` + notGiven("code") + `), ` + account
}

// scanFile reads one row of fileColumns, and what stands after them into more.
func scanFile(row interface{ Scan(...any) error }, more ...any) (File, error) {
	var f File
	var received, answeredAt int64
	err := row.Scan(append([]any{&f.ID, &f.SHA256, &f.Path, &f.Size, &received, &f.State, &f.Layout, into(&f.Questions),
		into(&f.Decisions), &f.PatientID, &f.Rows, &f.Skipped, &f.Answered, &f.Pending, &f.RecipeID, &f.InDoubt, into(&f.Answers), &answeredAt, into(&f.Account)}, more...)...)
	f.ReceivedAt = fromUnix(received)
	if answeredAt != 0 {
		f.AnsweredAt = fromUnix(answeredAt)
	}
	return f, err
}

// LastReceived is when the newest file came, by the clock of then; the zero Time
// where none did.
func (s *Store) LastReceived(ctx context.Context) (time.Time, error) {
	var at sql.NullInt64
	err := s.reader.QueryRowContext(ctx, "SELECT max(received_at) FROM files").Scan(&at)
	if err != nil || !at.Valid {
		return time.Time{}, fail("find when the newest file came", err)
	}
	return fromUnix(at.Int64), nil
}

// KnownFile gives the file with these bytes, and whether there is one.
func (s *Store) KnownFile(ctx context.Context, sha256 string) (File, bool, error) {
	f, err := scanFile(s.reader.QueryRowContext(ctx, "SELECT "+fileColumns+" FROM files WHERE sha256 = ?", sha256))
	if errors.Is(err, sql.ErrNoRows) {
		return File{}, false, nil
	}
	return f, err == nil, fail("look for a known file", err)
}

// FileByID gives one file.
func (s *Store) FileByID(ctx context.Context, id int64) (File, error) {
	f, err := scanFile(s.reader.QueryRowContext(ctx, "SELECT "+fileColumns+" FROM files WHERE id = ?", id))
	return f, fail("read a file's entry", err)
}

// EachFile calls f with the hash and size of every file, in the order in which
// they were received, until f gives an error. The database may change
// meanwhile: no view of it is held while f runs.
func (s *Store) EachFile(ctx context.Context, f func(sha256 string, size int64) error) error {
	type entry struct {
		sha256 string
		size   int64
	}
	const batch = 1000
	for last := int64(0); ; {
		var list []entry
		rows, err := s.reader.QueryContext(ctx, "SELECT id, sha256, size FROM files WHERE id > ? ORDER BY id LIMIT ?", last, batch)
		err = each(rows, err, func(rows *sql.Rows) error {
			var e entry
			err := rows.Scan(&last, &e.sha256, &e.size)
			list = append(list, e)
			return err
		})
		if err != nil {
			return fail("list the files", err)
		}
		for _, e := range list {
			if err := f(e.sha256, e.size); err != nil {
				return err
			}
		}
		if len(list) < batch {
			return nil
		}
	}
}

// RefuseFile saves a file whose bytes were taken but cannot be read, and why
// (d.Code, d.Reason, d.ToDo). A held file that turns out unreadable becomes
// refused; a filed one gives [ErrKnown]. With d.FileID set no new look is
// recorded, as in [Filing].
func (s *Store) RefuseFile(ctx context.Context, d Drop, sha256 string) (fileID int64, err error) {
	if err := checkHash(sha256); err != nil {
		return 0, err
	}
	err = s.write(ctx, "refuse a file", func(t *tx) error {
		fileID, _, err = t.saveFile(ctx, fileEntry{drop: d, sha256: sha256, state: Refused})
		if err != nil {
			return err
		}
		return t.settleFiles(ctx, "files.id", fileID)
	})
	return fileID, err
}

// Hold saves a file that waits for a person. Holding the same bytes again
// replaces its questions and keeps the answers. A filed one gives [ErrKnown].
func (s *Store) Hold(ctx context.Context, h Holding) (fileID int64, err error) {
	if err := checkHash(h.SHA256); err != nil {
		return 0, err
	}
	if len(h.Questions) == 0 {
		return 0, invalid("A file can only be held for a question.")
	}
	err = s.write(ctx, "hold a file", func(t *tx) error {
		fileID, _, err = t.saveFile(ctx, fileEntry{
			drop: h.Drop, sha256: h.SHA256, state: Held, layout: h.Layout, questions: h.Questions, decisions: h.Decisions,
			patientID: h.PatientID, rows: h.Rows, skipped: h.Skipped, answered: h.Answered, account: h.Account,
		})
		return err
	})
	return fileID, err
}

// fileEntry is what a row of files and its drop are made from.
type fileEntry struct {
	drop          Drop
	sha256        string
	state         Fate
	layout        string
	questions     []wear.Question
	decisions     []wear.Decision
	patientID     int64
	rows, skipped int
	answered      int64
	account       wear.Account
}

// saveFile inserts or updates the row of a file and records its drop; earlier
// drops of the same bytes that were held or refused follow the file. It gives
// when the file was first received, in seconds since 1970-01-01 UTC.
func (t *tx) saveFile(ctx context.Context, e fileEntry) (id, received int64, err error) {
	if err := t.bump(ctx); err != nil {
		return 0, 0, err
	}
	var state Fate
	var answered int64
	err = t.QueryRowContext(ctx, "SELECT id, state, answered FROM files WHERE sha256 = ?", e.sha256).Scan(&id, &state, &answered)
	switch {
	case errors.Is(err, sql.ErrNoRows):
	case err != nil:
		return 0, 0, err
	case state == Filed:
		return id, 0, ErrKnown
	case e.state == Filed && e.answered != 0 && e.answered < answered:
		return id, 0, ErrStale
	}
	if e.answered == 0 {
		e.answered = answered
	}
	questions, err := text(e.questions)
	if err != nil {
		return 0, 0, err
	}
	decisions, err := text(e.decisions)
	if err != nil {
		return 0, 0, err
	}
	account, err := text(e.account)
	if err != nil {
		return 0, 0, err
	}
	received = t.now
	if !e.drop.SeenAt.IsZero() {
		received = e.drop.SeenAt.Unix()
	}
	err = t.QueryRowContext(ctx, `INSERT INTO files (sha256, size, received_at, state, layout, questions, decisions, patient_id, rows, skipped, answers_read, account)
		VALUES (?, ?, ?, ?, ?, ?, ?, nullif(?, 0), ?, ?, ?, ?)
		ON CONFLICT (sha256) DO UPDATE SET state = excluded.state, layout = excluded.layout, questions = excluded.questions,
			decisions = excluded.decisions, patient_id = coalesce(excluded.patient_id, patient_id), rows = excluded.rows,
			skipped = excluded.skipped, answers_read = excluded.answers_read, account = excluded.account
		RETURNING id, received_at`,
		e.sha256, e.drop.Size, received, e.state, e.layout, questions, decisions, e.patientID, e.rows, e.skipped, e.answered, account).Scan(&id, &received)
	if err != nil {
		return 0, 0, err
	}
	if err := t.log(ctx, onFile(id), ""); err != nil {
		return 0, 0, err
	}
	again := e.drop.FileID != 0
	e.drop.Fate, e.drop.FileID = e.state, id
	if _, err := t.ExecContext(ctx, "UPDATE drops SET outcome = ?, code = ?, reason = ?, to_do = ? WHERE file_id = ? AND outcome IN ('held', 'refused')",
		e.state, e.drop.Code, e.drop.Reason, e.drop.ToDo, id); err != nil {
		return 0, 0, err
	}
	if again {
		return id, received, nil
	}
	return id, received, t.saveDrop(ctx, e.drop)
}

// checkHash refuses anything but 64 lower-case hex digits.
func checkHash(sha256 string) error {
	b, err := hex.DecodeString(sha256)
	if err != nil || len(b) != 32 || hex.EncodeToString(b) != sha256 {
		return invalid("A file is known by its SHA-256 in 64 lower-case hex digits.")
	}
	return nil
}
