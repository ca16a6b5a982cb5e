package store

import (
	"context"
	"database/sql"
)

// OpenByProtocol counts the wears on the round by the version of the protocol
// that their reports were made by.
func (s *Store) OpenByProtocol(ctx context.Context) (map[string]int, error) {
	out := map[string]int{}
	rows, err := s.reader.QueryContext(ctx, `SELECT r.protocol, count(*) FROM wears w JOIN reports r ON r.wear_id = w.id
		WHERE w.open = 1 GROUP BY r.protocol`)
	err = each(rows, err, func(rows *sql.Rows) error {
		var version string
		var n int
		err := rows.Scan(&version, &n)
		out[version] = n
		return err
	})
	return out, fail("count reports by protocol", err)
}

// Outdate marks the wears on the round whose reports come from another engine or
// protocol than those given, so that the worker makes them anew, and says how
// many they are. A closed wear keeps the report it was closed with.
func (s *Store) Outdate(ctx context.Context, engine, protocol string) (n int64, err error) {
	err = s.write(ctx, "judge the round anew", func(t *tx) error {
		const other = `open = 1 AND id IN (SELECT wear_id FROM reports WHERE engine <> ?1 OR protocol <> ?2)`
		var some bool
		if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM wears WHERE "+other+")", engine, protocol).Scan(&some); err != nil || !some {
			return err
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		r, err := t.ExecContext(ctx, "UPDATE wears SET stale = 1, changed = ?3 WHERE "+other, engine, protocol, t.version)
		if err != nil {
			return err
		}
		n, err = r.RowsAffected()
		return err
	})
	return n, err
}
