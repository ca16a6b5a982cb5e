package store

import (
	"bytes"
	"cmp"
	"context"
	"crypto/hmac"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// DataCheck is the result of holding the data against their seals.
type DataCheck struct {
	At     time.Time
	Rows   int64   // read
	Things int     // compared
	Bad    []Thing // that do not fit their seal, in order
	Lost   bool    // some seal itself was taken away, put in or changed, or the data are older than the log
}

// OK reports whether everything fits.
func (c *DataCheck) OK() bool { return len(c.Bad) == 0 && !c.Lost }

// String says in plain words what does not fit; "" where all does.
func (c *DataCheck) String() string {
	if c.OK() {
		return ""
	}
	var out []string
	for i, t := range c.Bad {
		if i == 10 {
			out = append(out, fmt.Sprintf("and %d more", len(c.Bad)-i))
			break
		}
		out = append(out, t.String())
	}
	if len(c.Bad) == 0 {
		out = append(out, "something that was kept is missing, or is older than the log says")
	}
	return strings.Join(out, ", ")
}

// String names a thing as people do.
func (t Thing) String() string {
	if t.Kind == "readings" {
		return fmt.Sprintf("the readings of wear %d", t.ID)
	}
	return fmt.Sprintf("%s %d", strings.ReplaceAll(t.Kind, "_", " "), t.ID)
}

// VerifyData reads every row and holds it against its seal. With readings false
// those of the wears, by far the most, are left for a quiet hour: each wear is
// held against its seal whenever it is read. What does not fit is remembered
// until it fits again.
func (s *Store) VerifyData(ctx context.Context, readings bool) (DataCheck, error) {
	c := DataCheck{At: s.now()}
	err := s.read(ctx, "verify the data", func(t *sql.Tx) error {
		return s.verifyData(ctx, t, &c, readings)
	})
	if err != nil {
		s.doubt(err)
		return DataCheck{}, err
	}
	s.data.Store(&c)
	s.remember(&c, readings)
	return c, nil
}

func (s *Store) verifyData(ctx context.Context, t *sql.Tx, c *DataCheck, readings bool) error {
	m := newMarker(s.logKey)
	found := map[Thing]*change{}
	for _, table := range s.tables {
		if table.name == "wear_days" && !readings {
			continue
		}
		if err := table.marks(ctx, t, m, "", nil, func(thing Thing, mark []byte) {
			c.Rows++
			if found[thing] == nil {
				found[thing] = new(change)
			}
			found[thing].n++
			found[thing].sum.add(mark)
		}); err != nil {
			return err
		}
	}
	var n int64
	var root sum
	rows, err := t.QueryContext(ctx, "SELECT kind, id, n, sum FROM seals")
	err = each(rows, err, func(rows *sql.Rows) error {
		var thing Thing
		var count int64
		var stored sql.RawBytes
		if err := rows.Scan(&thing.Kind, &thing.ID, &count, &stored); err != nil {
			return err
		}
		n++
		root.add(m.seal(thing, count, stored))
		if thing.Kind == "readings" && !readings {
			return nil
		}
		c.Things++
		if e := found[thing]; e == nil || e.n != count || !bytes.Equal(e.sum.bytes(), stored) {
			c.Bad = append(c.Bad, thing)
		}
		delete(found, thing)
		return nil
	})
	if err != nil {
		return err
	}
	for thing := range found { // rows that nothing sealed
		c.Bad = append(c.Bad, thing)
	}
	slices.SortFunc(c.Bad, func(a, b Thing) int { return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID)) })
	c.Lost, err = s.rootLost(ctx, t, m, n, root)
	return err
}

// rootLost reports whether the root is not over these seals and this log.
func (s *Store) rootLost(ctx context.Context, t *sql.Tx, m *marker, n int64, root sum) (bool, error) {
	var schema int
	var count int64
	var stored, mac []byte
	err := t.QueryRowContext(ctx, "SELECT schema, n, sum, mac FROM seal_root").Scan(&schema, &count, &stored, &mac)
	if errors.Is(err, sql.ErrNoRows) {
		return true, nil
	}
	if err != nil {
		return false, err
	}
	head, err := logHead(ctx, t)
	if err != nil {
		return false, err
	}
	good := count == n && bytes.Equal(stored, root.bytes()) && hmac.Equal(mac, m.root(schema, n, stored, head.MAC[:], head.Seq))
	return !good, nil
}

// marks gives the mark of each row of a table, or of those that a condition
// picks.
func (table *sealedTable) marks(ctx context.Context, t *sql.Tx, m *marker, where string, args []any, f func(Thing, []byte)) error {
	quoted := make([]string, len(table.columns))
	for i, c := range table.columns {
		quoted[i] = `"` + c + `"`
	}
	row := make([]any, len(table.columns))
	into := make([]any, len(row))
	for i := range row {
		into[i] = &row[i]
	}
	rows, err := t.QueryContext(ctx, "SELECT "+strings.Join(quoted, ", ")+` FROM "`+table.name+`"`+where, args...)
	return each(rows, err, func(rows *sql.Rows) error {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		f(table.of(row), m.row(table.name, row))
		return nil
	})
}

// sound refuses a wear whose rows do not fit its seals.
func (s *Store) sound(ctx context.Context, t *sql.Tx, id int64) error {
	if len(s.logKey) == 0 {
		return nil // nothing was ever changed without it
	}
	m := newMarker(s.logKey)
	found := map[Thing]*change{{"wear", id}: {}, {"readings", id}: {}}
	for _, table := range s.tables {
		where := ""
		switch o := table.owners; {
		case table.name == "wears":
			where = " WHERE id = ?"
		case len(o) > 0 && (o[0].kind == "wear" || o[0].kind == "readings"):
			where = " WHERE wear_id = ?"
		default:
			continue
		}
		err := table.marks(ctx, t, m, where, []any{id}, func(thing Thing, mark []byte) {
			if e := found[thing]; e != nil {
				e.n++
				e.sum.add(mark)
			}
		})
		if err != nil {
			return err
		}
	}
	for thing, e := range found {
		var n int64
		var stored []byte
		err := t.QueryRowContext(ctx, "SELECT n, sum FROM seals WHERE kind = ? AND id = ?", thing.Kind, thing.ID).Scan(&n, &stored)
		if errors.Is(err, sql.ErrNoRows) {
			stored, err = make([]byte, len(e.sum)*8), nil
		}
		if err != nil {
			return err
		}
		if n != e.n || !bytes.Equal(stored, e.sum.bytes()) {
			s.noteDamage(thing)
			return damaged(thing)
		}
	}
	return nil
}

// damaged is the refusal to show something that does not fit its seal.
func damaged(t Thing) error {
	return &Error{Code: Broken, Public: fmt.Sprintf("What is kept of %s is damaged: it no longer fits its seal, so it was changed by the disk or by another program, and nothing of it is shown. "+
		"Whoever looks after this program brings it back from a backup (wearround restore).", t)}
}

// noteDamage remembers a thing that does not fit.
func (s *Store) noteDamage(t Thing) {
	s.broken.mu.Lock()
	defer s.broken.mu.Unlock()
	if s.broken.things == nil {
		s.broken.things = map[Thing]time.Time{}
	}
	if _, known := s.broken.things[t]; !known {
		s.broken.things[t] = s.now()
	}
}

// DataLost reports whether the newest check of all data found that something
// that was kept is gone altogether, or older than the log says.
func (s *Store) DataLost() bool {
	c := s.data.Load()
	return c != nil && c.Lost
}

// Damage gives what is known not to fit its seal, in order.
func (s *Store) Damage() []Thing {
	s.broken.mu.Lock()
	defer s.broken.mu.Unlock()
	var list []Thing
	for t := range s.broken.things {
		list = append(list, t)
	}
	slices.SortFunc(list, func(a, b Thing) int { return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID)) })
	return list
}

// isDamaged reports whether a wear, or its readings, are known not to fit.
func (s *Store) isDamaged(id int64) bool {
	s.broken.mu.Lock()
	defer s.broken.mu.Unlock()
	_, wear := s.broken.things[Thing{"wear", id}]
	_, readings := s.broken.things[Thing{"readings", id}]
	return wear || readings
}

// remember keeps what a check found beside what was known, in memory and, where
// the disk takes it, in the database: an upgrade seals anew what is there.
func (s *Store) remember(c *DataCheck, readings bool) {
	s.broken.mu.Lock()
	for t := range s.broken.things {
		if (readings || t.Kind != "readings") && !slices.Contains(c.Bad, t) && !s.broken.old[t] {
			delete(s.broken.things, t)
		}
	}
	s.broken.mu.Unlock()
	for _, t := range c.Bad {
		s.noteDamage(t)
	}
}

// sealAll seals everything that is there: at the first start, and after the
// schema changed. What did not fit before a change of the schema is known from
// the copy that was made then, and stays known.
func (s *Store) sealAll(ctx context.Context) error {
	if err := s.knownDamage(ctx); err != nil {
		return err
	}
	var schema int
	err := s.reader.QueryRowContext(ctx, "SELECT schema FROM seal_root").Scan(&schema)
	if err == nil && schema == s.schema {
		return nil
	}
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return fail("look for the seals", err)
	}
	var before []Thing
	if schema > 0 {
		if before, err = s.damageBefore(ctx, schema); err != nil {
			return err
		}
	}
	if err := s.sealAnew(ctx, before); err != nil {
		return err
	}
	return s.knownDamage(ctx)
}

// sealAnew seals everything under the key and the schema of now.
func (s *Store) sealAnew(ctx context.Context, before []Thing) error {
	return s.write(ctx, "seal the data", func(t *tx) error {
		found := map[Thing]*change{}
		for _, table := range s.tables {
			if err := table.marks(ctx, t.Tx, t.changes.marker, "", nil, func(thing Thing, mark []byte) {
				if found[thing] == nil {
					found[thing] = new(change)
				}
				found[thing].n++
				found[thing].sum.add(mark)
			}); err != nil {
				return err
			}
		}
		for _, q := range []string{"DELETE FROM seals", "DELETE FROM seal_root"} {
			if _, err := t.ExecContext(ctx, q); err != nil {
				return err
			}
		}
		for _, b := range before {
			if _, err := t.ExecContext(ctx, "INSERT OR IGNORE INTO damage (kind, id, found_at) VALUES (?, ?, ?)", b.Kind, b.ID, t.now); err != nil {
				return err
			}
		}
		t.changes.things = map[Thing]*change{} // what others changed before it in this transaction is in the marks
		var root sum
		for thing, e := range found {
			if _, err := t.sealThing(ctx, thing, e, &root); err != nil {
				return err
			}
		}
		return t.sealRoot(ctx, int64(len(found)), root)
	})
}

// knownDamage reads what stays known to be damaged.
func (s *Store) knownDamage(ctx context.Context) error {
	rows, err := s.reader.QueryContext(ctx, "SELECT kind, id FROM damage")
	err = each(rows, err, func(rows *sql.Rows) error {
		var t Thing
		if err := rows.Scan(&t.Kind, &t.ID); err != nil {
			return err
		}
		s.noteDamage(t)
		s.broken.mu.Lock()
		defer s.broken.mu.Unlock()
		if s.broken.old == nil {
			s.broken.old = map[Thing]bool{}
		}
		s.broken.old[t] = true
		return nil
	})
	return fail("read what is damaged", err)
}

// damageBefore holds the copy that was made before the schema changed against
// its seals.
func (s *Store) damageBefore(ctx context.Context, schema int) (bad []Thing, err error) {
	old, err := OpenCopy(fmt.Sprintf("%s.schema-%d", filepath.Clean(s.path), schema), s)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, old.Close()) }()
	if old.tables, err = sealedTables(ctx, old.reader); err != nil {
		return nil, fail("read the copy from before the change", err)
	}
	var c DataCheck
	err = old.read(ctx, "verify the copy from before the change", func(t *sql.Tx) error { return old.verifyData(ctx, t, &c, true) })
	return c.Bad, err
}

// SameReadings compares the readings of each wear here with those in another
// store of the same practice, by their seals: of the wears that have not changed
// since there. It gives how many were compared and how many differ.
func (s *Store) SameReadings(ctx context.Context, other *Store) (compared, differ int, err error) {
	type state struct {
		changed int64
		seal    string
	}
	states := func(of *Store) (map[int64]state, error) {
		out := map[int64]state{}
		rows, err := of.reader.QueryContext(ctx, `SELECT wears.id, wears.changed, hex(seals.sum) FROM wears JOIN seals ON kind = 'readings' AND seals.id = wears.id`)
		err = each(rows, err, func(rows *sql.Rows) error {
			var id int64
			var x state
			err := rows.Scan(&id, &x.changed, &x.seal)
			out[id] = x
			return err
		})
		return out, fail("compare the readings", err)
	}
	here, err := states(s)
	if err != nil {
		return 0, 0, err
	}
	there, err := states(other)
	for id, x := range there {
		now, ok := here[id]
		if ok && now.changed != x.changed {
			continue
		}
		compared++
		if now.seal != x.seal {
			differ++
		}
	}
	return compared, differ, err
}
