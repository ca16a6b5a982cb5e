package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"time"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// migration is one numbered step of the schema. Steps only go forward and a
// published one never changes: its hash is kept in every database it made.
type migration struct {
	number int
	name   string
	sql    string
	sha256 string
}

// migrations lists the steps in a folder in order. They must be numbered from
// 1 without a hole: 0001_initial.sql, 0002_….sql.
func migrations(files fs.FS) ([]migration, error) {
	names, err := fs.Glob(files, "migrations/*.sql") // sorted
	if err != nil {
		return nil, err
	}
	var list []migration
	for i, path := range names {
		name := strings.TrimPrefix(path, "migrations/")
		digits, _, _ := strings.Cut(name, "_")
		if n, err := strconv.Atoi(digits); err != nil || n != i+1 {
			return nil, fmt.Errorf("migration %s: number %d is expected here", name, i+1)
		}
		text, err := fs.ReadFile(files, path)
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256(text)
		list = append(list, migration{i + 1, name, string(text), hex.EncodeToString(sum[:])})
	}
	return list, nil
}

// migrate brings the database at path to the newest schema and gives its number.
func migrate(ctx context.Context, path string, now func() time.Time) (int, error) {
	return migrateWith(ctx, path, now, migrationFiles)
}

// migrateWith applies the pending steps in one transaction on a connection of
// its own: a step that rebuilds a table needs foreign keys off, and they can
// only be switched off before a transaction begins. The write lock is taken
// before anything is decided, so that two programs cannot both migrate.
func migrateWith(ctx context.Context, path string, now func() time.Time, files fs.FS) (_ int, err error) {
	steps, err := migrations(files)
	if err != nil {
		return 0, err
	}
	db, err := sql.Open("sqlite", writerDSN(path, false))
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	t, err := db.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	defer t.Rollback() // does nothing after Commit

	applied, err := appliedSteps(ctx, t, steps)
	if err != nil {
		return 0, err
	}
	if applied == len(steps) {
		return applied, nil
	}
	if applied > 0 {
		if err := keepCopy(ctx, path, applied); err != nil {
			return 0, fmt.Errorf("copy before migrating: %w", err)
		}
	}
	for _, m := range steps[applied:] {
		if _, err := t.ExecContext(ctx, m.sql); err != nil {
			return 0, fmt.Errorf("migration %s: %w", m.name, err)
		}
		if _, err := t.ExecContext(ctx, "INSERT INTO migrations VALUES (?, ?, ?, ?)", m.number, m.name, m.sha256, now().Unix()); err != nil {
			return 0, fmt.Errorf("migration %s: %w", m.name, err)
		}
	}
	if err := checkForeignKeys(ctx, t); err != nil {
		return 0, err
	}
	return len(steps), t.Commit()
}

// appliedSteps gives how many steps the database has had, after checking that
// they are the ones this program knows.
func appliedSteps(ctx context.Context, t *sql.Tx, steps []migration) (int, error) {
	var tables, ours int
	err := t.QueryRowContext(ctx, "SELECT count(*), count(*) FILTER (WHERE name = 'migrations') FROM sqlite_schema WHERE type = 'table'").Scan(&tables, &ours)
	if err != nil {
		return 0, err
	}
	if tables > 0 && ours == 0 {
		return 0, invalid("This database belongs to another program. Choose another data folder.")
	}
	if _, err := t.ExecContext(ctx, `CREATE TABLE IF NOT EXISTS migrations (
		number INTEGER PRIMARY KEY, name TEXT NOT NULL, sha256 TEXT NOT NULL, applied_at INTEGER NOT NULL) STRICT`); err != nil {
		return 0, err
	}
	applied := 0
	rows, err := t.QueryContext(ctx, "SELECT number, sha256 FROM migrations ORDER BY number")
	err = each(rows, err, func(rows *sql.Rows) error {
		var number int
		var sum string
		if err := rows.Scan(&number, &sum); err != nil {
			return err
		}
		applied++
		switch {
		case number > len(steps):
			return invalid("The data were written by a newer version of this program. Start that version, or restore an older backup.")
		case number != applied || steps[number-1].sha256 != sum:
			return invalid("The data were made by a different build of this program (step %d of the schema differs). Start the build that made them.", number)
		}
		return nil
	})
	return applied, err
}

// keepCopy saves the database as it was beside itself, whole or not at all. It
// reads on a connection of its own, which the write lock does not hinder.
func keepCopy(ctx context.Context, path string, applied int) (err error) {
	db, err := sql.Open("sqlite", readerDSN(path))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	kept := fmt.Sprintf("%s.schema-%d", path, applied)
	unfinished := kept + ".unfinished"
	if err := os.Remove(unfinished); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := copyDatabase(ctx, db, unfinished); err != nil {
		return err
	}
	return os.Rename(unfinished, kept)
}

// checkForeignKeys does what enforcement would have done during a rebuild.
func checkForeignKeys(ctx context.Context, t *sql.Tx) error {
	rows, err := t.QueryContext(ctx, "PRAGMA foreign_key_check")
	return each(rows, err, func(rows *sql.Rows) error {
		var table, parent string
		var row, key sql.NullInt64
		if err := rows.Scan(&table, &row, &parent, &key); err != nil {
			return err
		}
		return fmt.Errorf("row %d of %s points at nothing in %s", row.Int64, table, parent)
	})
}
