package store

import (
	"context"
	"database/sql"
	"time"
)

// LogChecked gives the last check of the log; nil before the first.
func (s *Store) LogChecked() *LogCheck { return s.chain.Load() }

// Daily gives the numbers of what must not be forgotten at the given time.
// Overdue is what was due before its calendar day, on its own clock.
func (s *Store) Daily(ctx context.Context, now time.Time) (DailyLine, error) {
	d := DailyLine{Chain: s.chain.Load()}
	y, m, day := now.Date()
	midnight := time.Date(y, m, day, 0, 0, 0, 0, now.Location())
	err := s.read(ctx, "read the daily line", func(t *sql.Tx) error {
		return t.QueryRowContext(ctx, `SELECT
			(SELECT count(*) FROM wears WHERE open = 1),
			(SELECT count(*) FROM wears WHERE open = 1 AND due_at < ?3 AND (claimed_by IS NULL OR claimed_until <= ?1)),
			(SELECT count(*) FROM wears WHERE open = 1 AND next_try <= ?1),
			(SELECT count(*) FROM reports WHERE basis < ?4) + (SELECT count(*) FROM reports WHERE basis > ?4), -- "<>" would go through all
			(SELECT count(*) FROM files WHERE state = 'held'),
			(SELECT count(*) FROM files WHERE state = 'held' AND received_at <= ?1 - ?2),
			(SELECT count(*) FROM recalls WHERE closed_at IS NULL AND due_at < ?3 AND kind <> 'out' AND state = 'due'),
			(SELECT count(*) FROM recalls WHERE closed_at IS NULL AND due_at < ?3 AND kind <> 'out'),
			(SELECT count(*) FROM recalls WHERE closed_at IS NULL AND due_at < ?3 AND kind = 'out'),
			(SELECT count(*) FROM letters WHERE sent_at IS NULL AND discarded_at IS NULL AND opened_at <= ?1 - ?2)`, now.Unix(), daySeconds, midnight.Unix(), s.judging.Load().hash).
			Scan(&d.Open, &d.UnclaimedOverdue, &d.TryAgain, &d.Stale, &d.Held, &d.HeldLong, &d.RecallsUntried, &d.RecallsOverdue, &d.OutsOverdue, &d.LettersOpen)
	})
	return d, err
}
