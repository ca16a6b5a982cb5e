package store

import (
	"context"
	"database/sql"
	"strings"
	"unicode/utf8"
)

// SavedFilter is a filter of the round that somebody keeps under a name.
type SavedFilter struct {
	ID     int64
	Name   string
	Query  string // as the round's page wrote it; not understood here
	Shared bool   // others see it too
	By     Person
}

// maxFilters is how many filters one person may keep.
const maxFilters = 50

// SaveFilter keeps a filter under a name; one of the actor's own of that name
// is replaced.
func (s *Store) SaveFilter(ctx context.Context, a Actor, name, query string, shared bool) error {
	name = strings.TrimSpace(name)
	if n := utf8.RuneCountInString(name); n == 0 || n > 60 || len(query) > 1000 {
		return invalid("Give the filter a name of up to 60 letters.")
	}
	return s.act(ctx, a, staff, "keep a filter", onData, func(t *tx) error {
		var n int
		if err := t.QueryRowContext(ctx, "SELECT count(*) FROM saved_filters WHERE made_by = ? AND name <> ?", a.UserID, name).Scan(&n); err != nil {
			return err
		}
		if n >= maxFilters {
			return invalid("You keep %d filters already. Forget one first.", n)
		}
		_, err := t.ExecContext(ctx, `INSERT INTO saved_filters (name, query, shared, made_by, made_at) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (made_by, name) DO UPDATE SET query = excluded.query, shared = excluded.shared, made_at = excluded.made_at`,
			name, query, shared, a.UserID, t.now)
		if err != nil {
			return err
		}
		return t.log(ctx, onData, "")
	})
}

// ForgetFilter takes one of the actor's own filters away. Another's is
// [NotFound].
func (s *Store) ForgetFilter(ctx context.Context, a Actor, id int64) error {
	return s.act(ctx, a, staff, "forget a filter", onData, func(t *tx) error {
		r, err := t.ExecContext(ctx, "DELETE FROM saved_filters WHERE id = ? AND made_by = ?", id, a.UserID)
		if err := one(r, err, sql.ErrNoRows); err != nil {
			return err
		}
		return t.log(ctx, onData, "")
	})
}

// SavedFilters gives a user's own filters and those that others share, by name.
func (s *Store) SavedFilters(ctx context.Context, userID int64) ([]SavedFilter, error) {
	rows, err := s.reader.QueryContext(ctx, `SELECT saved_filters.id, saved_filters.name, query, shared, users.id, users.name
		FROM saved_filters JOIN users ON users.id = made_by WHERE made_by = ? OR shared = 1 ORDER BY saved_filters.name, saved_filters.id`, userID)
	list, err := collect(rows, err, func(rows *sql.Rows) (SavedFilter, error) {
		var f SavedFilter
		err := rows.Scan(&f.ID, &f.Name, &f.Query, &f.Shared, &f.By.ID, &f.By.Name)
		return f, err
	})
	return list, fail("list the saved filters", err)
}
