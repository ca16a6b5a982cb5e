package store

import (
	"context"
	"database/sql"
)

// DataVersion is a number that rises with every change of what the round or
// the Files page shows. Reading it costs one small row, so that an open screen
// can ask often whether there is anything new.
func (s *Store) DataVersion(ctx context.Context) (int64, error) {
	n, err := dataVersion(ctx, s.reader)
	return n, fail("read the data version", err)
}

// dataVersion reads it on a pool or on a view of the data.
func dataVersion(ctx context.Context, db interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}) (n int64, err error) {
	err = db.QueryRowContext(ctx, "SELECT n FROM data_version").Scan(&n)
	return n, err
}

// bump raises the data version, once a transaction, and stamps what changes.
func (t *tx) bump(ctx context.Context) error {
	if t.version != 0 {
		return nil
	}
	return t.QueryRowContext(ctx, "UPDATE data_version SET n = n + 1 RETURNING n").Scan(&t.version)
}
