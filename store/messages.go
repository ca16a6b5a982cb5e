package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"slices"
	"time"

	"wearround/worker/wear"
)

// laboratory is the user in whose name results are that no person entered.
const laboratory = -1

// StatementStatus is how firm a statement is.
type StatementStatus string

// The statuses of a statement.
const (
	StatementFinal     StatementStatus = "final"
	StatementCorrected StatementStatus = "corrected"
	StatementCancelled StatementStatus = "cancelled" // the laboratory took the result back
	StatementWaits     StatementStatus = "waits"     // for a person, or for the laboratory's final word
)

// Statement is what a laboratory's message says of one test of one sample.
type Statement struct {
	PatientID int64  // 0 while it waits
	Key       string // what the laboratory knows the result by: the same in a repeat and in a correction
	Status    StatementStatus
	Issued    time.Time // when the laboratory said so: of several the latest holds; zero where it does not say
	Kind      ResultKind
	Value     string
	Unit      string
	Taken     time.Time
	Note      string
	Tier      wear.Tier // how soon somebody must look at it whatever its value, or ""
}

func (e *Statement) result() NewResult {
	return NewResult{PatientID: e.PatientID, Kind: e.Kind, Value: e.Value, Unit: e.Unit, TakenAt: e.Taken, Note: e.Note, Key: e.Key}
}

// Check refuses a statement that cannot be a result.
func (e *Statement) Check() error {
	n := e.result()
	return n.check()
}

// messageLayouts are the layouts of files of laboratory messages.
var messageLayouts = []string{"HL7 v2", "FHIR R4"}

// Messages is a file of laboratory messages as it was read. While questions are
// open it is held, and what is not in question counts all the same.
type Messages struct {
	Drop       Drop // as in [Filing]
	SHA256     string
	Layout     string
	Questions  []wear.Question
	Rows       int
	Skipped    int
	Answered   int64 // as in [Filing]
	Account    wear.Account
	Statements []Statement
}

// FileMessages saves a file of laboratory messages in one transaction: the file,
// the look at it, its statements, and the results that follow from all
// statements there are. Reading a file again replaces what it stated, so an
// answer that is taken back leaves no result behind. Errors are those of
// [Store.File].
func (s *Store) FileMessages(ctx context.Context, m Messages) (fileID int64, err error) {
	if err := checkHash(m.SHA256); err != nil {
		return 0, err
	}
	state := Filed
	if len(m.Questions) > 0 {
		state = Held
	}
	err = s.write(ctx, "file laboratory messages", func(t *tx) error {
		fileID, _, err = t.saveFile(ctx, fileEntry{
			drop: m.Drop, sha256: m.SHA256, state: state, layout: m.Layout, questions: m.Questions,
			rows: m.Rows, skipped: m.Skipped, answered: m.Answered, account: m.Account,
		})
		if err != nil {
			return err
		}
		rows, err := t.QueryContext(ctx, "DELETE FROM statements WHERE file_id = ? RETURNING key", fileID)
		keys, err := collect(rows, err, func(rows *sql.Rows) (key string, err error) { return key, rows.Scan(&key) })
		if err != nil {
			return err
		}
		for i := range m.Statements {
			if err := t.saveStatement(ctx, fileID, &m.Statements[i]); err != nil {
				return err
			}
			keys = append(keys, m.Statements[i].Key)
		}
		return t.followStatements(ctx, fileID, keys)
	})
	return fileID, err
}

func (t *tx) saveStatement(ctx context.Context, fileID int64, e *Statement) error {
	if e.PatientID != 0 {
		if err := t.stillThere(ctx, e.PatientID); err != nil {
			return err
		}
	}
	issued, taken := int64(0), int64(0)
	if !e.Issued.IsZero() {
		issued = e.Issued.Unix()
	}
	if !e.Taken.IsZero() {
		taken = e.Taken.Unix()
	}
	_, err := t.ExecContext(ctx, `INSERT INTO statements (file_id, patient_id, key, status, issued_at, kind, value, unit, taken_at, note, tier)
		VALUES (?, nullif(?, 0), ?, ?, ?, ?, ?, ?, ?, ?, ?)`, fileID, e.PatientID, e.Key, e.Status, issued, e.Kind, e.Value, e.Unit, taken, e.Note, e.Tier)
	return err
}

// followStatements brings the results about some keys to what the statements
// that hold say. First goes what no longer holds, then comes what holds now, so
// that a result that moves to another key or patient is never there twice.
func (t *tx) followStatements(ctx context.Context, fileID int64, keys []string) error {
	slices.Sort(keys)
	keys = slices.Compact(keys)
	var patients []int64
	holding := map[string]*Statement{}
	for i := 0; i < len(keys); i++ {
		key := keys[i]
		e, err := t.holds(ctx, key)
		if err != nil {
			return err
		}
		holding[key] = e
		gone, also, err := t.retract(ctx, key, e)
		if err != nil {
			return err
		}
		patients = append(patients, gone...)
		for _, k := range also {
			if !slices.Contains(keys, k) {
				keys = append(keys, k)
			}
		}
	}
	for _, key := range keys {
		if e := holding[key]; e != nil && e.Status != StatementCancelled {
			came, err := t.state(ctx, e)
			if err != nil {
				return err
			}
			patients = append(patients, came...)
		}
	}
	if err := t.wake(ctx, fileID, keys); err != nil {
		return err
	}
	slices.Sort(patients)
	for _, id := range slices.Compact(patients) {
		if err := t.judgePatient(ctx, id); err != nil {
			return err
		}
	}
	return nil
}

// holds gives the statement about a key that holds: the latest that was issued,
// and of those of one moment a cancellation before a correction before the rest.
func (t *tx) holds(ctx context.Context, key string) (*Statement, error) {
	e := Statement{Key: key}
	var issued, taken int64
	err := t.QueryRowContext(ctx, `SELECT patient_id, status, issued_at, kind, value, unit, taken_at, note, tier FROM statements
		WHERE key = ? AND patient_id IS NOT NULL AND status <> 'waits'
		ORDER BY issued_at DESC, CASE status WHEN 'cancelled' THEN 0 WHEN 'corrected' THEN 1 ELSE 2 END, file_id, id LIMIT 1`, key).
		Scan(&e.PatientID, &e.Status, &issued, &e.Kind, &e.Value, &e.Unit, &taken, &e.Note, &e.Tier)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	e.Issued, e.Taken = when(issued), when(taken)
	return &e, err
}

// retract withdraws the result of a key unless it is what the statement says. It
// gives whose that was, and other keys that state the same and may now stand for it.
func (t *tx) retract(ctx context.Context, key string, e *Statement) (patients []int64, also []string, err error) {
	rows, err := t.QueryContext(ctx, "SELECT "+resultColumns+" WHERE key = ? AND withdrawn_at IS NULL", key)
	list, err := collect(rows, err, scanResult)
	if err != nil {
		return nil, nil, err
	}
	for _, r := range list {
		if e != nil && e.Status != StatementCancelled && r.same(e) {
			continue
		}
		// Its key goes too: a result that a person withdrew keeps it and is not
		// brought back.
		if _, err := t.ExecContext(ctx, "UPDATE results SET withdrawn_at = ?, key = '' WHERE id = ?", t.now, r.ID); err != nil {
			return nil, nil, err
		}
		if err := t.unanswer(ctx, r.ID); err != nil {
			return nil, nil, err
		}
		if err := t.append(ctx, LogRow{Action: string(RetractsResult), Object: "patient", ObjectID: r.PatientID, Ended: done, Reason: string(r.Kind)}); err != nil {
			return nil, nil, err
		}
		patients = append(patients, r.PatientID)
		rows, err := t.QueryContext(ctx, "SELECT DISTINCT key FROM statements WHERE patient_id = ? AND kind = ? AND taken_at = ? AND key <> ?", r.PatientID, r.Kind, r.TakenAt.Unix(), key)
		more, err := collect(rows, err, func(rows *sql.Rows) (key string, err error) { return key, rows.Scan(&key) })
		if err != nil {
			return nil, nil, err
		}
		also = append(also, more...)
	}
	return patients, also, nil
}

// same reports whether a result is what a statement says.
func (r *Result) same(e *Statement) bool {
	return r.PatientID == e.PatientID && r.Kind == e.Kind && r.Value == e.Value && r.Unit == e.Unit && r.TakenAt.Unix() == e.Taken.Unix()
}

// state records what a statement says, unless it is on record already: stated by
// this or another message, withdrawn by a person, or typed from a printed report
// of the same day, which the message then stands behind.
func (t *tx) state(ctx context.Context, e *Statement) (patients []int64, err error) {
	rows, err := t.QueryContext(ctx, "SELECT "+resultColumns+` WHERE patient_id = ?1 AND kind = ?2 AND value = ?3 AND unit = ?4
		AND (key = ?5 OR withdrawn_at IS NULL AND abs(taken_at - ?6) < 86400)`, e.PatientID, e.Kind, e.Value, e.Unit, e.Key, e.Taken.Unix())
	list, err := collect(rows, err, scanResult)
	if err != nil {
		return nil, err
	}
	day := t.day(e.Taken)
	for _, r := range list {
		switch {
		case r.Key == e.Key && (r.Withdrawn.IsZero() || r.same(e)), r.Key != "" && r.same(e):
			return nil, nil
		case r.Key == "" && r.Withdrawn.IsZero() && t.day(r.TakenAt) == day:
			_, err := t.ExecContext(ctx, `UPDATE results SET key = ?1, taken_at = ?3, file_id = (SELECT file_id FROM statements WHERE key = ?1 AND patient_id IS NOT NULL ORDER BY file_id LIMIT 1)
				WHERE id = ?2`, e.Key, r.ID, e.Taken.Unix())
			return []int64{e.PatientID}, err
		}
	}
	n := e.result()
	if n.RecallID, err = t.answers(ctx, &n); err != nil {
		return nil, err
	}
	if _, err := t.addResult(ctx, &n, e.Tier); err != nil {
		return nil, err
	}
	return []int64{e.PatientID}, t.append(ctx, LogRow{Action: string(TakesResult), Object: "patient", ObjectID: e.PatientID, Ended: done, Reason: string(e.Kind)})
}

func (t *tx) day(at time.Time) string { return at.In(t.by.Zone).Format(time.DateOnly) }

// answers finds the recall that a result answers: the first due of those that
// wait for a result and were set before the sample was taken. Only a test that
// reads glucose answers one, and one that names tests is answered by those.
func (t *tx) answers(ctx context.Context, n *NewResult) (int64, error) {
	if !n.Kind.read() || n.Kind == Insulin {
		return 0, nil
	}
	rows, err := t.QueryContext(ctx, "SELECT "+recallColumns+` WHERE recalls.patient_id = ? AND kind = 'result' AND closed_at IS NULL AND made_at < ?
		ORDER BY due_at, recalls.id`, n.PatientID, n.TakenAt.Unix()+daySeconds)
	list, err := collect(rows, err, scanRecallRow)
	if err != nil {
		return 0, err
	}
	for _, r := range list {
		if named := testsIn(r.Note); len(named) == 0 || slices.Contains(named, n.Kind) {
			return r.ID, nil
		}
	}
	return 0, nil
}

// wake has held files read again of which a statement waits that another message
// may have settled.
func (t *tx) wake(ctx context.Context, fileID int64, keys []string) error {
	for _, key := range keys {
		_, err := t.ExecContext(ctx, `UPDATE files SET answered = ?1 WHERE state = 'held' AND id <> ?2
			AND id IN (SELECT file_id FROM statements WHERE key = ?3 AND status = 'waits')
			AND EXISTS (SELECT * FROM statements WHERE file_id = ?2 AND key = ?3 AND status <> 'waits')`, t.version, fileID, key)
		if err != nil {
			return err
		}
	}
	return nil
}

// Stated gives the statements of other files about some keys that hold.
func (s *Store) Stated(ctx context.Context, fileID int64, keys []string) (map[string]Statement, error) {
	list := map[string]Statement{}
	for _, key := range keys {
		var e Statement
		var issued, taken int64
		err := s.reader.QueryRowContext(ctx, `SELECT coalesce(patient_id, 0), status, issued_at, value, unit, taken_at FROM statements
			WHERE key = ? AND file_id <> ? AND patient_id IS NOT NULL AND status <> 'waits'
			ORDER BY issued_at DESC, CASE status WHEN 'cancelled' THEN 0 WHEN 'corrected' THEN 1 ELSE 2 END, file_id, id LIMIT 1`, key, fileID).
			Scan(&e.PatientID, &e.Status, &issued, &e.Value, &e.Unit, &taken)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			continue
		case err != nil:
			return nil, fail("read what laboratories stated", err)
		}
		e.Key, e.Issued, e.Taken = key, when(issued), when(taken)
		list[key] = e
	}
	return list, nil
}

// Born gives the patients on the register who were born on a day.
func (s *Store) Born(ctx context.Context, day string) ([]Patient, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT "+patientColumns+" FROM patients WHERE birth_date = ? AND birth_date <> '' AND merged_into IS NULL ORDER BY id LIMIT 20", day)
	list, err := collect(rows, err, func(rows *sql.Rows) (Patient, error) {
		var p Patient
		return p, rows.Scan(p.targets()...)
	})
	return list, fail("look for patients by birth date", err)
}

// moreUrgent gives the more pressing of two tiers, of which either may be "".
func moreUrgent(a, b wear.Tier) wear.Tier {
	if a == "" || b != "" && b.Rank() < a.Rank() {
		return b
	}
	return cmp.Or(a, b)
}
