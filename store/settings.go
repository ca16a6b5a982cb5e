package store

import (
	"context"
	"database/sql"
	"errors"
)

// NameRule is the name of the setting that says where the patient's code
// stands in a file's name.
const NameRule = "name_rule"

// Setting gives what was set in the browser, and whether anything was.
func (s *Store) Setting(ctx context.Context, name string) (value string, set bool, err error) {
	err = s.reader.QueryRowContext(ctx, "SELECT value FROM settings WHERE name = ?", name).Scan(&value)
	if errors.Is(err, sql.ErrNoRows) {
		return "", false, nil
	}
	return value, err == nil, fail("read a setting", err)
}

// SetNameRule saves the file-name rule; the caller has checked that it is one.
// Held files that ask whose they are, are read again.
func (s *Store) SetNameRule(ctx context.Context, rule string) error {
	return s.actAs(ctx, leads, "set the file-name rule", onData, func(t *tx) error {
		if err := t.bump(ctx); err != nil {
			return err
		}
		if err := t.set(ctx, NameRule, rule); err != nil {
			return err
		}
		return t.askWhoseAgain(ctx)
	})
}

// askWhoseAgain has the held files read again that ask whose they are: what
// changed may settle it.
func (t *tx) askWhoseAgain(ctx context.Context) error {
	_, err := t.ExecContext(ctx, `UPDATE files SET answered = ? WHERE state = 'held'
		AND EXISTS (SELECT * FROM json_each(questions) WHERE value ->> '$.code' = 'patient')`, t.version)
	return err
}
