package store

import (
	"context"
	"database/sql"
	"sync"
)

// counted keeps the last counts for as long as the data version stands.
type counted struct {
	mu      sync.Mutex
	version int64
	counts  Counts
}

// Counts gives the sizes of things. Between two changes of the data it costs
// no more than [Store.DataVersion].
func (s *Store) Counts(ctx context.Context) (Counts, error) {
	s.counted.mu.Lock()
	defer s.counted.mu.Unlock()
	err := s.read(ctx, "count", func(t *sql.Tx) error {
		version, err := dataVersion(ctx, t)
		if err != nil || version == s.counted.version {
			return err
		}
		c, err := count(ctx, t)
		if err == nil {
			s.counted.version, s.counted.counts = version, c
		}
		return err
	})
	if err != nil {
		return Counts{}, err
	}
	return s.counted.counts, nil
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
