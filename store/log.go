package store

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"errors"
	"hash"
	"strings"
)

// LogKeySize is the length of the key of the log, in bytes.
const LogKeySize = 32

// SetLogKey gives the key that the log is kept with. It must be set
// before the first change, and before the store is used by more than one
// goroutine: without it nothing can be changed. Keep it in a file of its own,
// outside the database and its copies.
func (s *Store) SetLogKey(key []byte) error {
	if len(key) != LogKeySize {
		return invalid("The key of the audit log must be %d bytes long.", LogKeySize)
	}
	s.logKey = append([]byte{}, key...)
	if err := s.sealAll(context.Background()); err != nil {
		return err
	}
	return s.hideFactors(context.Background())
}

// errNoKey stops a change that could not be logged.
var errNoKey = errors.New("the key of the audit log is not set")

// What an entry of the log can have come to.
const (
	done    = "done"
	refused = "refused"
)

// target is what an entry of the log is about.
type target struct {
	object string
	id     int64
}

// What an entry can be about. Whatever happens to a patient or to a wear is
// logged under the one or the other, so that its trail is whole.
func onPatient(id int64) target { return target{"patient", id} }
func onWear(id int64) target    { return target{"wear", id} }
func onFile(id int64) target    { return target{"file", id} }
func onUser(id int64) target    { return target{"user", id} }
func onToken(id int64) target   { return target{"token", id} }

// onData is for what is about no single thing.
var onData = target{"data", 0}

// log appends a row to the log. It is there if, and only if, the rest of
// the transaction is. A reason that somebody gave is heard.
func (t *tx) log(ctx context.Context, on target, reason string) error {
	switch on.object {
	case "patient":
		if err := t.hear(ctx, on.id, 0, reason); err != nil {
			return err
		}
	case "wear":
		if err := t.hear(ctx, 0, on.id, reason); err != nil {
			return err
		}
	}
	return t.append(ctx, LogRow{Action: t.doing, Object: on.object, ObjectID: on.id, Ended: done, Reason: reason})
}

// chain is the end of the log while a transaction adds to it: read once, and
// sealed once when all rows are there.
type chain struct {
	key  []byte
	seq  int64 // of the newest row
	mac  []byte
	read bool
	more bool // rows were added
}

// end gives the number and the MAC of the newest row.
func (c *chain) end(ctx context.Context, t *sql.Tx) (seq int64, mac []byte, err error) {
	if !c.read {
		err = t.QueryRowContext(ctx, "SELECT seq, mac FROM audit_head").Scan(&c.seq, &c.mac)
		if errors.Is(err, sql.ErrNoRows) {
			c.mac, err = make([]byte, sha256.Size), nil
		}
		c.read = err == nil
	}
	return c.seq, c.mac, err
}

// seal saves the new end.
func (c *chain) seal(t *sql.Tx) error {
	if !c.more {
		return nil
	}
	_, err := t.Exec(`INSERT INTO audit_head (id, seq, mac, seal) VALUES (1, ?1, ?2, ?3)
		ON CONFLICT (id) DO UPDATE SET seq = ?1, mac = ?2, seal = ?3`, c.seq, c.mac, headSeal(c.key, c.seq, c.mac))
	return err
}

// append chains a row to the log. The actor and the time are those of the
// transaction.
func (t *tx) append(ctx context.Context, r LogRow) error {
	if len(t.chain.key) == 0 {
		return errNoKey
	}
	seq, prev, err := t.chain.end(ctx, t.Tx)
	if err != nil {
		return err
	}
	r.Seq = seq + 1
	r.Actor.ID, r.Role, r.Request, r.At = t.actor.UserID, string(t.actor.Role), t.actor.Request, fromUnix(t.now)
	mac := rowMAC(t.chain.key, &r, prev)
	if _, err := t.ExecContext(ctx, `INSERT INTO audit (seq, at, actor, role, action, object, object_id, outcome, reason, request, prev, mac)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		r.Seq, t.now, r.Actor.ID, r.Role, r.Action, r.Object, r.ObjectID, r.Ended, r.Reason, r.Request, prev, mac); err != nil {
		return err
	}
	t.logged = true
	t.chain.seq, t.chain.mac, t.chain.more = r.Seq, mac, true
	return nil
}

// rowMAC is the MAC over all columns but the MAC itself: each field with its
// length before it, in the order of the columns, so that no two rows give the
// same bytes.
func rowMAC(key []byte, r *LogRow, prev []byte) []byte {
	h := hmac.New(sha256.New, key)
	writeField(h, "wearround audit row 1")
	for _, n := range []int64{r.Seq, r.At.Unix(), r.Actor.ID} {
		writeNumber(h, n)
	}
	for _, f := range []string{r.Role, r.Action, r.Object} {
		writeField(h, f)
	}
	writeNumber(h, r.ObjectID)
	for _, f := range []string{r.Ended, r.Reason, r.Request, string(prev)} {
		writeField(h, f)
	}
	return h.Sum(nil)
}

// headSeal is the MAC over the newest row's number and MAC. Its first field
// differs from that of a row, so that neither passes for the other.
func headSeal(key []byte, seq int64, mac []byte) []byte {
	h := hmac.New(sha256.New, key)
	writeField(h, "wearround audit head 1")
	writeNumber(h, seq)
	writeField(h, string(mac))
	return h.Sum(nil)
}

func writeNumber(h hash.Hash, n int64) {
	var b [16]byte
	binary.BigEndian.PutUint64(b[:8], 8)
	binary.BigEndian.PutUint64(b[8:], uint64(n))
	h.Write(b[:])
}

func writeField(h hash.Hash, s string) {
	var b [8]byte
	binary.BigEndian.PutUint64(b[:], uint64(len(s)))
	h.Write(b[:])
	h.Write([]byte(s))
}

// viewing is what the log calls a look at a record.
const viewing = "view"

// RecordView logs that somebody looked at a patient's data: what kind of thing
// it was ("patient", "wear", ...) and its id. Call it before showing anything.
func (s *Store) RecordView(ctx context.Context, a Actor, object string, id int64) error {
	on := target{object, id}
	err := s.act(ctx, a, everyone, viewing, on, func(t *tx) error { return t.log(ctx, on, "") })
	if CodeOf(err) == Broken && s.oweView(a, on) {
		return nil
	}
	return err
}

// RecordRefusal logs that something was refused before it came here: a page
// that the role may not see, a request from elsewhere. a may be the zero value
// where nobody was signed in.
func (s *Store) RecordRefusal(ctx context.Context, a Actor, action, object string, id int64) error {
	return s.write(As(ctx, a), action, func(t *tx) error {
		return t.append(ctx, LogRow{Action: action, Object: object, ObjectID: id, Ended: refused})
	})
}

// LogRows gives rows of the log, newest first.
func (s *Store) LogRows(ctx context.Context, q LogQuery) ([]LogRow, error) {
	if err := checkPage(0, q.Limit); err != nil {
		return nil, err
	}
	where, args := []string{"TRUE"}, []any{}
	also := func(given bool, condition string, values ...any) {
		if given {
			where, args = append(where, condition), append(args, values...)
		}
	}
	also(q.UserID > 0, "actor = ?", q.UserID)
	also(q.UserID == AnyPerson, "actor <> 0")
	also(q.Object != "", "object = ?", q.Object)
	also(q.ObjectID != 0, "object_id = ?", q.ObjectID)
	also(q.PatientID != 0, `(object = 'patient' AND object_id = ? OR object = 'wear' AND object_id IN (SELECT id FROM wears WHERE patient_id = ?))`,
		q.PatientID, q.PatientID)
	also(q.Action != "", "action = ?", q.Action)
	also(!q.From.IsZero(), "at >= ?", q.From.Unix())
	also(!q.To.IsZero(), "at < ?", q.To.Unix())
	also(q.Before != 0, "seq < ?", q.Before)
	var list []LogRow
	rows, err := s.reader.QueryContext(ctx, `SELECT seq, at, actor, coalesce((SELECT name FROM users WHERE id = actor), ''), role, action,
			object, object_id, outcome, reason, request
		FROM audit WHERE `+strings.Join(where, " AND ")+" ORDER BY seq DESC LIMIT ?", append(args, q.Limit)...)
	err = each(rows, err, func(rows *sql.Rows) error {
		var r LogRow
		var at int64
		err := rows.Scan(&r.Seq, &at, &r.Actor.ID, &r.Actor.Name, &r.Role, &r.Action, &r.Object, &r.ObjectID, &r.Ended, &r.Reason, &r.Request)
		r.At = fromUnix(at)
		list = append(list, r)
		return err
	})
	return list, fail("read the audit log", err)
}

// LogActions gives what has been done, by the names in the log.
func (s *Store) LogActions(ctx context.Context) ([]string, error) {
	var list []string
	rows, err := s.reader.QueryContext(ctx, "SELECT DISTINCT action FROM audit ORDER BY action")
	err = each(rows, err, func(rows *sql.Rows) error {
		var action string
		err := rows.Scan(&action)
		list = append(list, action)
		return err
	})
	return list, fail("list what the audit log holds", err)
}
