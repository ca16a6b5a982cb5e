package store

import (
	"context"
	"database/sql"
	"time"
)

// BoxList is a list of the outbox.
type BoxList string

// The lists.
const (
	Unprinted BoxList = "unprinted" // to be printed
	Printed   BoxList = "printed"   // printed and not posted yet
	Posted    BoxList = "posted"
	SentToday BoxList = "today" // sent on this day, wherever they are
)

// BoxLetter is a letter that goes by post, on its way.
type BoxLetter struct {
	Letter
	Patient   PatientRecord
	PrintedAt time.Time // zero until then
	PostedAt  time.Time // zero until then
}

// boxed are the letters that go by post: sent, and not taken back.
const boxed = "how = 'post' AND sent_at IS NOT NULL AND discarded_at IS NULL"

func (l BoxList) where(now time.Time) (string, []any) {
	y, m, d := now.Date()
	switch l {
	case Printed:
		return boxed + " AND printed_at IS NOT NULL AND posted_at IS NULL", nil
	case Posted:
		return boxed + " AND posted_at IS NOT NULL", nil
	case SentToday:
		return boxed + " AND sent_at >= ?", []any{time.Date(y, m, d, 0, 0, 0, 0, now.Location()).Unix()}
	}
	return boxed + " AND printed_at IS NULL", nil
}

// Outbox gives the letters of a list, the newest first, up to 200, and how many
// there are in each. Days are those of now's own clock.
func (s *Store) Outbox(ctx context.Context, list BoxList, now time.Time) (rows []BoxLetter, counts map[BoxList]int, err error) {
	counts = map[BoxList]int{}
	err = s.read(ctx, "read the outbox", func(t *sql.Tx) error {
		for _, l := range []BoxList{Unprinted, Printed, Posted, SentToday} {
			where, args := l.where(now)
			var n int
			if err := t.QueryRowContext(ctx, "SELECT count(*) FROM letters WHERE "+where, args...).Scan(&n); err != nil {
				return err
			}
			counts[l] = n
		}
		where, args := list.where(now)
		var err error
		rows, err = boxLetters(ctx, t, where+" ORDER BY sent_at DESC, letters.id DESC LIMIT 200", args...)
		return err
	})
	return rows, counts, err
}

// PrintRun gives the letters that were printed together at a moment, in the
// order in which they were sent.
func (s *Store) PrintRun(ctx context.Context, at time.Time) (rows []BoxLetter, err error) {
	err = s.read(ctx, "read a print run", func(t *sql.Tx) error {
		rows, err = boxLetters(ctx, t, boxed+" AND printed_at = ? ORDER BY sent_at, letters.id", at.Unix())
		return err
	})
	return rows, err
}

func boxLetters(ctx context.Context, t *sql.Tx, where string, args ...any) ([]BoxLetter, error) {
	rows, err := t.QueryContext(ctx, "SELECT "+letterColumns+" WHERE "+where, args...)
	list, err := collect(rows, err, scanLetterRow)
	if err != nil {
		return nil, err
	}
	out := make([]BoxLetter, len(list))
	for i, l := range list {
		var printed, posted int64
		b := BoxLetter{Letter: l}
		err := t.QueryRowContext(ctx, "SELECT coalesce(printed_at, 0), coalesce(posted_at, 0) FROM letters WHERE id = ?", l.ID).Scan(&printed, &posted)
		if err != nil {
			return nil, err
		}
		if b.Patient, err = scanRecord(t.QueryRowContext(ctx, "SELECT "+recordColumns+" FROM patients WHERE id = ?", l.PatientID)); err != nil {
			return nil, err
		}
		b.PrintedAt, b.PostedAt = when(printed), when(posted)
		out[i] = b
	}
	return out, nil
}

// PrintLetters marks all letters that wait for it as printed, together; up to
// 200 at a time. It gives the moment that names the run, and how many they are.
func (s *Store) PrintLetters(ctx context.Context, a Actor) (at time.Time, n int64, err error) {
	err = s.act(ctx, a, staff, "print letters", onData, func(t *tx) error {
		r, err := t.ExecContext(ctx, "UPDATE letters SET printed_at = ? WHERE id IN (SELECT id FROM letters WHERE "+boxed+" AND printed_at IS NULL ORDER BY sent_at, id LIMIT 200)", t.now)
		if err != nil {
			return err
		}
		at = fromUnix(t.now)
		if n, err = r.RowsAffected(); err != nil || n == 0 {
			return err
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		return t.log(ctx, onData, "")
	})
	return at, n, err
}

// PostLetters says that all letters that were printed are in the post.
func (s *Store) PostLetters(ctx context.Context, a Actor) (n int64, err error) {
	err = s.act(ctx, a, staff, "post letters", onData, func(t *tx) error {
		r, err := t.ExecContext(ctx, "UPDATE letters SET posted_at = ? WHERE "+boxed+" AND printed_at IS NOT NULL AND posted_at IS NULL", t.now)
		if err != nil {
			return err
		}
		if n, err = r.RowsAffected(); err != nil || n == 0 {
			return err
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		return t.log(ctx, onData, "")
	})
	return n, err
}
