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
	Held      string    // why it may not go out, or go out again, as things stand now; "" where it may
}

// held says why a letter that was sent may not leave the house: the register
// names its patient otherwise by now, the wear is somebody else's, or what it says
// holds no more.
func (b *BoxLetter) held(ctx context.Context, t *sql.Tx, by *basis) error {
	if !b.PostedAt.IsZero() {
		return nil
	}
	if b.Named != unkept && !b.names(&b.Patient.Patient) {
		b.Held = "The register has another name or date of birth for this patient now."
		return nil
	}
	if b.WearID == 0 {
		return nil
	}
	var owner int64
	if err := t.QueryRowContext(ctx, "SELECT patient_id FROM wears WHERE id = ?", b.WearID).Scan(&owner); err != nil {
		return err
	}
	if owner != b.PatientID {
		b.Held = "The wear that it is about was moved to another patient."
		return nil
	}
	why, err := letterAgainst(ctx, t, by, b.Kind, b.WearID)
	b.Held = why
	return err
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

// Outbox is a list of letters on their way.
type Outbox struct {
	Rows   []BoxLetter // the newest first, up to 200
	Counts map[BoxList]int
	// Ready counts, of those to be printed and those to be posted, the letters
	// that are not held.
	Ready map[BoxList]int
}

// Outbox gives the letters of a list. Days are those of now's own clock.
func (s *Store) Outbox(ctx context.Context, list BoxList, now time.Time) (Outbox, error) {
	box, by := Outbox{Counts: map[BoxList]int{}, Ready: map[BoxList]int{}}, s.judging.Load()
	err := s.read(ctx, "read the outbox", func(t *sql.Tx) (err error) {
		for _, l := range []BoxList{Unprinted, Printed, Posted, SentToday} {
			where, args := l.where(now)
			var n int
			if err := t.QueryRowContext(ctx, "SELECT count(*) FROM letters WHERE "+where, args...).Scan(&n); err != nil {
				return err
			}
			box.Counts[l] = n
			if l == Posted || l == SentToday {
				continue
			}
			waiting, err := boxLetters(ctx, t, by, where+" ORDER BY sent_at, letters.id LIMIT 200")
			if err != nil {
				return err
			}
			for _, b := range waiting {
				if b.Held == "" {
					box.Ready[l]++
				}
			}
		}
		where, args := list.where(now)
		box.Rows, err = boxLetters(ctx, t, by, where+" ORDER BY sent_at DESC, letters.id DESC LIMIT 200", args...)
		return err
	})
	return box, err
}

// PrintRun gives the letters that were printed together at a moment, in the
// order in which they were sent.
func (s *Store) PrintRun(ctx context.Context, at time.Time) (rows []BoxLetter, err error) {
	err = s.read(ctx, "read a print run", func(t *sql.Tx) error {
		rows, err = boxLetters(ctx, t, s.judging.Load(), boxed+" AND printed_at = ? ORDER BY sent_at, letters.id", at.Unix())
		return err
	})
	return rows, err
}

func boxLetters(ctx context.Context, t *sql.Tx, by *basis, where string, args ...any) ([]BoxLetter, error) {
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
		if err := b.held(ctx, t, by); err != nil {
			return nil, err
		}
		out[i] = b
	}
	return out, nil
}

// PrintLetters marks the letters that wait for it as printed, together; up to
// 200 at a time, and none that is held. It gives the moment that names the run,
// and how many they are.
func (s *Store) PrintLetters(ctx context.Context, a Actor) (at time.Time, n int, err error) {
	err = s.act(ctx, a, staff, "print letters", onData, func(t *tx) error {
		at = fromUnix(t.now)
		n, err = t.passOn(ctx, "printed_at", boxed+" AND printed_at IS NULL")
		return err
	})
	return at, n, err
}

// PostLetters says that the letters that were printed are in the post, but for
// those that are held.
func (s *Store) PostLetters(ctx context.Context, a Actor) (n int, err error) {
	err = s.act(ctx, a, staff, "post letters", onData, func(t *tx) error {
		n, err = t.passOn(ctx, "posted_at", boxed+" AND printed_at IS NOT NULL AND posted_at IS NULL")
		return err
	})
	return n, err
}

// passOn sets a column of the letters of a list that are not held to now.
func (t *tx) passOn(ctx context.Context, column, where string) (n int, err error) {
	list, err := boxLetters(ctx, t.Tx, t.by, where+" ORDER BY sent_at, letters.id LIMIT 200")
	if err != nil {
		return 0, err
	}
	for _, l := range list {
		if l.Held != "" {
			continue
		}
		if _, err := t.ExecContext(ctx, "UPDATE letters SET "+column+" = ? WHERE id = ?", t.now, l.ID); err != nil {
			return 0, err
		}
		n++
	}
	if n == 0 {
		return 0, nil
	}
	if err := t.bump(ctx); err != nil {
		return 0, err
	}
	return n, t.log(ctx, onData, "")
}
