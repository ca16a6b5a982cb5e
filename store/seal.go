package store

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"math"
	"math/bits"
	"slices"
	"strings"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// What people and files brought is sealed, so that damage to the disk and
// changes by anything but this program are found before anybody relies on them.
//
// Every row of every table bears a mark: its MAC under a key made from that of
// the log. The rows that belong to one thing (a wear, a patient, a file) have a
// seal, the sum of their marks; all seals have one above them, the root, which
// is sealed with the newest entry of the log. The database itself tells this
// code which rows a transaction changes, so no table and no statement can be
// forgotten: a new table is sealed by being there.

// notSealed are the tables that hold no record of the practice: clocks, doors,
// what can be worked out anew, and what has marks of its own.
var notSealed = []string{
	"data_version", "beats", "jobs", "sessions", "setup_token", "signin_failures", "signin_places", "factor_steps", "wear_prints",
	"audit", "audit_head", "migrations", "seals", "seal_root", "damage",
}

// Thing is what a seal is of.
type Thing struct {
	Kind string // "wear", "readings" (of a wear), "patient", "file", "user", or a table's name
	ID   int64
}

// ownKinds are the tables whose own rows are things, and what their id is called
// in others, in the order in which a row is put down to one of them.
var ownKinds = []struct{ table, kind, column string }{
	{"wears", "wear", "wear_id"}, {"patients", "patient", "patient_id"}, {"files", "file", "file_id"}, {"users", "user", "user_id"},
}

// sealedTable is how one table is sealed.
type sealedTable struct {
	name    string
	columns []string
	owners  []owner // the first that is not NULL owns the row
}

type owner struct {
	kind   string
	column int
}

// sealedTables reads from the database which tables there are.
func sealedTables(ctx context.Context, db interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}) (map[string]*sealedTable, error) {
	tables := map[string]*sealedTable{}
	rows, err := db.QueryContext(ctx, `SELECT t.name, c.name FROM pragma_table_list t, pragma_table_info(t.name) c
		WHERE t.schema = 'main' AND t.type = 'table' AND t.name NOT LIKE 'sqlite_%' ORDER BY t.name, c.cid`)
	err = each(rows, err, func(rows *sql.Rows) error {
		var table, column string
		if err := rows.Scan(&table, &column); err != nil {
			return err
		}
		if slices.Contains(notSealed, table) {
			return nil
		}
		if tables[table] == nil {
			tables[table] = &sealedTable{name: table}
		}
		tables[table].columns = append(tables[table].columns, column)
		return nil
	})
	for _, t := range tables {
		t.findOwners()
	}
	return tables, err
}

func (t *sealedTable) findOwners() {
	own := func(kind, column string) {
		if i := slices.Index(t.columns, column); i >= 0 {
			t.owners = append(t.owners, owner{kind, i})
		}
	}
	for _, k := range ownKinds {
		if t.name == k.table {
			own(k.kind, "id")
			return
		}
	}
	if t.name == "wear_days" {
		own("readings", "wear_id")
		return
	}
	for _, k := range ownKinds {
		own(k.kind, k.column)
	}
	own(t.name, "id")
}

// of says which thing a row belongs to.
func (t *sealedTable) of(row []any) Thing {
	for _, o := range t.owners {
		if id, ok := row[o.column].(int64); ok {
			return Thing{o.kind, id}
		}
	}
	return Thing{t.name, 0}
}

// sum is a number of 256 bits, which wraps.
type sum [4]uint64

func (s *sum) add(b []byte) {
	var carry uint64
	for i := range s {
		s[i], carry = bits.Add64(s[i], binary.LittleEndian.Uint64(b[8*i:]), carry)
	}
}

func (s *sum) sub(b []byte) {
	var borrow uint64
	for i := range s {
		s[i], borrow = bits.Sub64(s[i], binary.LittleEndian.Uint64(b[8*i:]), borrow)
	}
}

func (s *sum) bytes() []byte {
	b := make([]byte, 0, sha256.Size)
	for _, w := range s {
		b = binary.LittleEndian.AppendUint64(b, w)
	}
	return b
}

func toSum(b []byte) (s sum, err error) {
	if len(b) != sha256.Size {
		return s, errors.New("a seal has a wrong length")
	}
	s.add(b)
	return s, nil
}

// marker makes marks under one key.
type marker struct {
	h   hash.Hash
	buf []byte
	out [sha256.Size]byte
}

func newMarker(key []byte) *marker {
	h := hmac.New(sha256.New, key)
	writeField(h, "wearround seal 1")
	return &marker{h: hmac.New(sha256.New, h.Sum(nil))}
}

// row is the mark of a row: of its table and each of its values with its kind.
// Whole numbers count alike however the database happens to store them.
func (m *marker) row(table string, values []any) []byte {
	b := append(m.buf[:0], table...)
	for _, v := range values {
		switch v := v.(type) {
		case nil:
			b = append(b, 0)
		case int64:
			b = binary.LittleEndian.AppendUint64(append(b, 1), uint64(v))
		case float64:
			if n := int64(v); float64(n) == v && math.Abs(v) < 1<<53 {
				b = binary.LittleEndian.AppendUint64(append(b, 1), uint64(n))
			} else {
				b = binary.LittleEndian.AppendUint64(append(b, 2), math.Float64bits(v))
			}
		case string:
			v, _, _ = strings.Cut(v, "\x00") // what the database gives while it changes a row ends there
			b = append(binary.LittleEndian.AppendUint64(append(b, 3), uint64(len(v))), v...)
		case []byte:
			b = append(binary.LittleEndian.AppendUint64(append(b, 4), uint64(len(v))), v...)
		default:
			b = fmt.Appendf(append(b, 5), "%T", v)
		}
	}
	return m.mark(b)
}

// seal is the mark of a thing's seal, for the root.
func (m *marker) seal(t Thing, n int64, s []byte) []byte {
	b := append(m.buf[:0], "seal of "...)
	b = append(append(b, t.Kind...), 0)
	b = binary.LittleEndian.AppendUint64(b, uint64(t.ID))
	b = binary.LittleEndian.AppendUint64(b, uint64(n))
	return m.mark(append(b, s...))
}

// root is the mark of all seals together with the newest entry of the log.
func (m *marker) root(schema int, n int64, s, head []byte, seq int64) []byte {
	b := append(m.buf[:0], "root"...)
	for _, v := range []int64{int64(schema), n, seq} {
		b = binary.LittleEndian.AppendUint64(b, uint64(v))
	}
	return slices.Clone(m.mark(append(append(b, s...), head...)))
}

// mark is the MAC of some bytes; it is good until the next.
func (m *marker) mark(b []byte) []byte {
	m.buf = b
	m.h.Reset()
	m.h.Write(b)
	return m.h.Sum(m.out[:0])
}

// change is what a transaction does to the seal of one thing.
type change struct {
	n   int64
	sum sum
}

// changes are those of the transaction under way on the only connection that
// writes.
type changes struct {
	conn   any // the connection that tells of them
	tables map[string]*sealedTable
	marker *marker // nil while none is under way
	things map[Thing]*change
	err    error
}

// watch has a connection tell which rows it changes.
func (c *changes) watch(conn any) error {
	if k, ok := conn.(*keptConn); ok {
		conn = k.Unwrap()
	}
	if c.conn == conn {
		return nil
	}
	hooks, ok := conn.(sqlite.HookRegisterer)
	if !ok {
		return errors.New("this SQLite does not tell which rows are changed")
	}
	hooks.RegisterPreUpdateHook(c.saw)
	c.conn = conn
	return nil
}

func (c *changes) begin(m *marker) {
	c.marker, c.things, c.err = m, map[Thing]*change{}, nil
}

func (c *changes) end() { c.marker = nil }

// saw counts one changed row.
func (c *changes) saw(d sqlite.SQLitePreUpdateData) {
	t := c.tables[d.TableName]
	if c.marker == nil || t == nil || d.DatabaseName != "main" {
		return
	}
	if d.Count() != len(t.columns) {
		c.err = fmt.Errorf("the table %s has other columns than when it was opened", t.name)
		return
	}
	row := make([]any, len(t.columns))
	if d.Op != sqlite3.SQLITE_INSERT {
		c.err = errors.Join(c.err, d.Old(row...))
		e := c.of(t.of(row))
		e.n--
		e.sum.sub(c.marker.row(t.name, row))
	}
	if d.Op != sqlite3.SQLITE_DELETE {
		c.err = errors.Join(c.err, d.New(row...))
		e := c.of(t.of(row))
		e.n++
		e.sum.add(c.marker.row(t.name, row))
	}
}

func (c *changes) of(t Thing) *change {
	if c.things[t] == nil {
		c.things[t] = new(change)
	}
	return c.things[t]
}

// seal brings the seals up to what the transaction did, and the root with them.
// It is the last step of every transaction.
func (t *tx) seal(ctx context.Context) error {
	c := t.changes
	if c.err != nil {
		return c.err
	}
	for thing, e := range c.things {
		if *e == (change{}) {
			delete(c.things, thing)
		}
	}
	if len(c.things) == 0 && !t.chain.more {
		return nil
	}
	var n int64
	var stored []byte
	if err := t.QueryRowContext(ctx, "SELECT n, sum FROM seal_root").Scan(&n, &stored); err != nil {
		return fmt.Errorf("the seals of the data are missing: %w", err)
	}
	root, err := toSum(stored)
	if err != nil {
		return err
	}
	for thing, e := range c.things {
		more, err := t.sealThing(ctx, thing, e, &root)
		if err != nil {
			return err
		}
		n += more
	}
	return t.sealRoot(ctx, n, root)
}

// sealThing adds a change to the seal of a thing and gives how many seals more
// there are.
func (t *tx) sealThing(ctx context.Context, thing Thing, e *change, root *sum) (more int64, err error) {
	m := t.changes.marker
	var n int64
	var stored []byte
	var now sum
	switch err := t.QueryRowContext(ctx, "SELECT n, sum FROM seals WHERE kind = ? AND id = ?", thing.Kind, thing.ID).Scan(&n, &stored); {
	case errors.Is(err, sql.ErrNoRows):
		more = 1
	case err != nil:
		return 0, err
	default:
		root.sub(m.seal(thing, n, stored))
		if now, err = toSum(stored); err != nil {
			return 0, err
		}
	}
	n += e.n
	now.add(e.sum.bytes())
	if n == 0 && now == (sum{}) {
		_, err := t.ExecContext(ctx, "DELETE FROM seals WHERE kind = ? AND id = ?", thing.Kind, thing.ID)
		return more - 1, err
	}
	root.add(m.seal(thing, n, now.bytes()))
	_, err = t.ExecContext(ctx, "INSERT INTO seals (kind, id, n, sum) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO UPDATE SET n = ?3, sum = ?4",
		thing.Kind, thing.ID, n, now.bytes())
	return more, err
}

// sealRoot writes the root over n seals, tied to the newest entry of the log.
func (t *tx) sealRoot(ctx context.Context, n int64, root sum) error {
	head, err := logHead(ctx, t)
	if err != nil {
		return err
	}
	mac := t.changes.marker.root(t.schema, n, root.bytes(), head.MAC[:], head.Seq)
	_, err = t.ExecContext(ctx, `INSERT INTO seal_root (id, schema, n, sum, mac) VALUES (1, ?1, ?2, ?3, ?4)
		ON CONFLICT DO UPDATE SET schema = ?1, n = ?2, sum = ?3, mac = ?4`, t.schema, n, root.bytes(), mac)
	return err
}
