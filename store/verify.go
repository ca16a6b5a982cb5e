package store

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"database/sql"
	"errors"
	"slices"
)

// LogHead gives the newest line of the log, to be written to a second
// place. Its Seq is 0 while the log is empty.
func (s *Store) LogHead(ctx context.Context) (Anchor, error) {
	a, err := logHead(ctx, s.reader)
	return a, fail("read the head of the audit log", err)
}

func logHead(ctx context.Context, db interface {
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

// VerifyLog walks the whole log on one view of the data and finds the
// first row that was changed, taken out or put in. A log whose end was cut off
// does not match its sealed head; one whose head was put back to an older state
// with it does not hold the anchors, so give those that were written to a
// second place, in the order in which they stand there. The error is of the
// walk itself: a broken chain is a result.
//
// A log that was put back from a backup says so in a row of its own. What was
// noted in the second place after that backup and before that row is of the
// log that was lost, and breaks nothing.
//
// The result is kept for [Store.Daily].
func (s *Store) VerifyLog(ctx context.Context, anchors ...Anchor) (LogCheck, error) {
	if len(s.logKey) == 0 {
		return LogCheck{}, fail("verify the audit log", errNoKey)
	}
	c := LogCheck{At: s.now()}
	err := s.read(ctx, "verify the audit log", func(t *sql.Tx) error {
		w := walk{key: s.logKey, check: &c, prev: make([]byte, sha256.Size), anchors: anchors, noted: map[int64][]byte{}}
		for _, a := range anchors {
			w.noted[a.Seq] = nil
		}
		if err := t.QueryRowContext(ctx, "SELECT coalesce(max(seq), 0) FROM audit WHERE action = ?", actNewKey).Scan(&w.rekeyed); err != nil {
			return err
		}
		if err := w.rows(ctx, t); err != nil {
			return err
		}
		if w.compare(); !c.OK() {
			return nil
		}
		return w.end(ctx, t)
	})
	if err != nil {
		return LogCheck{}, err
	}
	s.chain.Store(&c)
	return c, nil
}

// walk is one pass over the log.
type walk struct {
	key      []byte
	check    *LogCheck
	prev     []byte // MAC of the row before
	anchors  []Anchor
	noted    map[int64][]byte // MAC of each row that has an anchor, once it was read
	restores []Anchor         // rows by which the log went on from a backup
	rekeyed  int64            // row by which it went on under another key, or 0
}

// broken notes the first fault.
func (w *walk) broken(seq int64, why string) {
	if w.check.Broken == 0 || seq < w.check.Broken {
		w.check.Broken, w.check.Why = seq, why
	}
}

func (w *walk) rows(ctx context.Context, t *sql.Tx) error {
	before := ""
	if w.rekeyed > 0 {
		var err error
		if before, err = hashLog(ctx, t, w.rekeyed-1); err != nil {
			return err
		}
	}
	rows, err := t.QueryContext(ctx, `SELECT seq, at, actor, role, action, object, object_id, outcome, reason, request, prev, mac
		FROM audit ORDER BY seq`)
	return each(rows, err, func(rows *sql.Rows) error {
		if !w.check.OK() {
			return nil
		}
		var r LogRow
		var at int64
		var prev, mac sql.RawBytes
		if err := rows.Scan(&r.Seq, &at, &r.Actor.ID, &r.Role, &r.Action, &r.Object, &r.ObjectID, &r.Ended, &r.Reason, &r.Request, &prev, &mac); err != nil {
			return err
		}
		r.At = fromUnix(at)
		switch want := w.check.Rows + 1; {
		case r.Seq != want:
			w.broken(want, "an entry is missing here")
		case !bytes.Equal(prev, w.prev):
			w.broken(r.Seq, "this entry does not follow the one before it")
		case r.Seq >= w.rekeyed && !hmac.Equal(mac, rowMAC(w.key, &r, prev)):
			w.broken(r.Seq, "this entry was changed, or was written with another key")
		case r.Seq == w.rekeyed && w.rekeyed > 0 && r.Reason != before:
			w.broken(r.Seq, "an entry from before the key was lost was changed")
		}
		if _, ok := w.noted[r.Seq]; ok {
			w.noted[r.Seq] = bytes.Clone(mac)
		}
		if r.Action == actRestore {
			w.restores = append(w.restores, Anchor{Seq: r.Seq, MAC: Digest(bytes.Clone(mac)), At: r.At})
		}
		w.check.Rows = r.Seq
		w.prev = append(w.prev[:0], mac...)
		return nil
	})
}

// compare holds what was noted in the second place against the rows.
func (w *walk) compare() {
	for i, a := range w.anchors {
		if w.lost(i) {
			continue
		}
		switch mac := w.noted[a.Seq]; {
		case a.Seq > w.check.Rows && w.check.OK():
			w.broken(w.check.Rows+1, "the log ends before an entry that was noted in the second place")
		case mac != nil && !hmac.Equal(a.MAC[:], mac):
			w.broken(a.Seq, "this entry is not the one that was noted in the second place")
		}
	}
}

// lost reports whether the i-th anchor is of a log that a restore replaced: of
// a row that the backup did not hold, and noted before the restore, by its time
// or by its place in the list.
func (w *walk) lost(i int) bool {
	a := w.anchors[i]
	for _, r := range w.restores {
		if a.Seq < r.Seq || a.Seq == r.Seq && a.MAC == r.MAC {
			continue
		}
		before := !a.At.After(r.At) || slices.ContainsFunc(w.anchors[i+1:], func(later Anchor) bool { return later.Seq == r.Seq && later.MAC == r.MAC })
		if before && !a.At.IsZero() {
			return true
		}
	}
	return false
}

// end compares the last row with the sealed head.
func (w *walk) end(ctx context.Context, t *sql.Tx) error {
	var head Anchor
	var mac, seal []byte
	err := t.QueryRowContext(ctx, "SELECT seq, mac, seal FROM audit_head").Scan(&head.Seq, &mac, &seal)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		// Whoever works here was added by a change that was logged.
		var people bool
		if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM users WHERE id > 0)").Scan(&people); err != nil {
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
