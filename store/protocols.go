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
