package store

import (
	"context"
	"database/sql"
)

// Counts gives the sizes of things. Between two changes of the data it costs
// no more than [Store.DataVersion].
func (s *Store) Counts(ctx context.Context) (c Counts, err error) {
	err = s.read(ctx, "count", func(t *sql.Tx) error {
		version, err := dataVersion(ctx, t)
		if err == nil {
			c, err = s.counts.Get(version, func() (Counts, error) { return count(ctx, t) })
		}
		return err
	})
	return c, err
}

// count reads indexes only.
func count(ctx context.Context, t *sql.Tx) (Counts, error) {
	var c Counts
	err := t.QueryRowContext(ctx, `SELECT
		(SELECT count(*) FROM patients WHERE merged_into IS NULL),
		(SELECT count(*) FROM drops),
		(SELECT count(*) FROM files WHERE state = 'filed'),
		(SELECT count(*) FROM files WHERE state = 'held'),
		(SELECT count(*) FROM files WHERE state = 'refused'),
		count(*), coalesce(sum(open), 0), coalesce(sum(readings), 0)
		FROM wears WHERE joined_into IS NULL`).
		Scan(&c.Patients, &c.Drops, &c.FiledFiles, &c.HeldFiles, &c.RefusedFiles, &c.Wears, &c.OpenWears, &c.Readings)
	return c, err
}
