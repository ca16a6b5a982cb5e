package store

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Beat saves the worker's sign of life in place of the one before. It does not
// raise the data version: nothing on the round changes by it.
func (s *Store) Beat(ctx context.Context, b Beat) error {
	return s.write(ctx, "save a beat", func(t *tx) error {
		_, err := t.ExecContext(ctx, `INSERT OR REPLACE INTO beats (id, at, folder_ok, message, looked, seen, waiting)
			VALUES (1, ?, ?, ?, ?, ?, ?)`, b.At.Unix(), b.FolderOK, b.Message, b.Looked, b.Seen, b.Waiting)
		return err
	})
}

// LastBeat gives the worker's last sign of life; its At is zero where there
// was none yet.
func (s *Store) LastBeat(ctx context.Context) (Beat, error) {
	var b Beat
	var at int64
	err := s.reader.QueryRowContext(ctx, "SELECT at, folder_ok, message, looked, seen, waiting FROM beats").
		Scan(&at, &b.FolderOK, &b.Message, &b.Looked, &b.Seen, &b.Waiting)
	if errors.Is(err, sql.ErrNoRows) {
		return Beat{}, nil
	}
	b.At = fromUnix(at)
	return b, fail("read the last beat", err)
}

// LastRun says when a job last began, and whether it ever did.
func (s *Store) LastRun(ctx context.Context, job string) (time.Time, bool, error) {
	var at int64
	err := s.reader.QueryRowContext(ctx, "SELECT at FROM jobs WHERE name = ?", job).Scan(&at)
	if errors.Is(err, sql.ErrNoRows) {
		return time.Time{}, false, nil
	}
	return fromUnix(at), err == nil, fail("read the last run of a job", err)
}

// RecordRun saves a run of a job that began at the given time; failure is why
// it failed in words without a patient's data, or "".
func (s *Store) RecordRun(ctx context.Context, job string, at time.Time, took time.Duration, failure string) error {
	good := sql.NullInt64{Int64: at.Unix(), Valid: failure == ""}
	return s.write(ctx, "record the run of a job", func(t *tx) error {
		_, err := t.ExecContext(ctx, `INSERT INTO jobs (name, at, took_ms, error, good_at) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (name) DO UPDATE SET at = excluded.at, took_ms = excluded.took_ms, error = excluded.error,
				good_at = coalesce(excluded.good_at, good_at)`, job, at.Unix(), took.Milliseconds(), failure, good)
		return err
	})
}

// Jobs gives the last run of every job, by name.
func (s *Store) Jobs(ctx context.Context) ([]Job, error) {
	var list []Job
	rows, err := s.reader.QueryContext(ctx, "SELECT name, at, took_ms, error, good_at FROM jobs ORDER BY name")
	err = each(rows, err, func(rows *sql.Rows) error {
		var j Job
		var at, ms int64
		var good sql.NullInt64
		err := rows.Scan(&j.Name, &at, &ms, &j.Err, &good)
		j.At, j.Took = fromUnix(at), time.Duration(ms)*time.Millisecond
		if good.Valid {
			j.GoodAt = fromUnix(good.Int64)
		}
		list = append(list, j)
		return err
	})
	return list, fail("read the jobs", err)
}
