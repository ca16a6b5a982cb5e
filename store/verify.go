package store

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"database/sql"
	"errors"
)

// AuditHead gives the newest line of the audit log, to be written to a second
// place. Its Seq is 0 while the log is empty.
func (s *Store) AuditHead(ctx context.Context) (Anchor, error) {
	a, err := auditHead(ctx, s.reader)
	return a, fail("read the head of the audit log", err)
}

func auditHead(ctx context.Context, db interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}) (a Anchor, err error) {
	var mac []byte
	err = db.QueryRowContext(ctx, "SELECT seq, mac FROM audit_head").Scan(&a.Seq, &mac)
	if errors.Is(err, sql.ErrNoRows) {
		return Anchor{}, nil
	}
	copy(a.MAC[:], mac)
	return a, err
}

// VerifyAudit walks the whole audit log on one view of the data and finds the
// first row that was changed, taken out or put in. A log whose end was cut off
// does not match its sealed head; one whose head was put back to an older state
// with it does not hold the anchors, so give those that were written to a
// second place. The error is of the walk itself: a broken chain is a result.
//
// The result is kept for [Store.Daily].
func (s *Store) VerifyAudit(ctx context.Context, anchors ...Anchor) (AuditCheck, error) {
	if len(s.auditKey) == 0 {
		return AuditCheck{}, fail("verify the audit log", errNoKey)
	}
	c := AuditCheck{At: s.now()}
	err := s.read(ctx, "verify the audit log", func(t *sql.Tx) error {
		w := walk{key: s.auditKey, check: &c, prev: make([]byte, sha256.Size), anchors: map[int64][]Digest{}}
		for _, a := range anchors {
			w.anchors[a.Seq] = append(w.anchors[a.Seq], a.MAC)
		}
		if err := w.rows(ctx, t); err != nil || !c.OK() {
			return err
		}
		return w.end(ctx, t)
	})
	if err != nil {
		return AuditCheck{}, err
	}
	s.chain.Store(&c)
	return c, nil
}

// walk is one pass over the audit log.
type walk struct {
	key     []byte
	check   *AuditCheck
	prev    []byte // MAC of the row before
	anchors map[int64][]Digest
}

// broken notes the first fault.
func (w *walk) broken(seq int64, why string) {
	if w.check.Broken == 0 {
		w.check.Broken, w.check.Why = seq, why
	}
}

func (w *walk) rows(ctx context.Context, t *sql.Tx) error {
	rows, err := t.QueryContext(ctx, `SELECT seq, at, actor, role, action, object, object_id, outcome, reason, request, prev, mac
		FROM audit ORDER BY seq`)
	return each(rows, err, func(rows *sql.Rows) error {
		if !w.check.OK() {
			return nil
		}
		var r AuditRow
		var at int64
		var prev, mac sql.RawBytes
		if err := rows.Scan(&r.Seq, &at, &r.Actor.ID, &r.Role, &r.Action, &r.Object, &r.ObjectID, &r.Outcome, &r.Reason, &r.Request, &prev, &mac); err != nil {
			return err
		}
		r.At = fromUnix(at)
		switch want := w.check.Rows + 1; {
		case r.Seq != want:
			w.broken(want, "an entry is missing here")
		case !bytes.Equal(prev, w.prev):
			w.broken(r.Seq, "this entry does not follow the one before it")
		case !hmac.Equal(mac, rowMAC(w.key, &r, prev)):
			w.broken(r.Seq, "this entry was changed, or was written with another key")
		case !w.anchored(r.Seq, mac):
			w.broken(r.Seq, "this entry is not the one that was noted in the second place")
		}
		w.check.Rows = r.Seq
		w.prev = append(w.prev[:0], mac...)
		return nil
	})
}

// anchored reports whether a row is the one that every anchor of its number
// says.
func (w *walk) anchored(seq int64, mac []byte) bool {
	for _, a := range w.anchors[seq] {
		if !hmac.Equal(a[:], mac) {
			return false
		}
	}
	return true
}

// end compares the last row with the sealed head and with the anchors.
func (w *walk) end(ctx context.Context, t *sql.Tx) error {
	for seq := range w.anchors {
		if seq > w.check.Rows {
			w.broken(w.check.Rows+1, "the log ends before an entry that was noted in the second place")
		}
	}
	var head Anchor
	var mac, seal []byte
	err := t.QueryRowContext(ctx, "SELECT seq, mac, seal FROM audit_head").Scan(&head.Seq, &mac, &seal)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		// Whoever works here was added by a change that was logged.
		var people bool
		if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM users)").Scan(&people); err != nil {
			return err
		}
		if people || w.check.Rows > 0 {
			w.broken(max(w.check.Rows, 1), "the note of the newest entry is missing")
		}
		return nil
	case err != nil:
		return err
	case !hmac.Equal(seal, headSeal(w.key, head.Seq, mac)):
		w.broken(max(w.check.Rows, 1), "the note of the newest entry was changed, or was written with another key")
	case head.Seq > w.check.Rows:
		w.broken(w.check.Rows+1, "entries are missing at the end")
	case head.Seq < w.check.Rows || !bytes.Equal(mac, w.prev):
		w.broken(head.Seq, "the note of the newest entry does not match it")
	}
	copy(head.MAC[:], mac)
	w.check.Head = head
	return nil
}
