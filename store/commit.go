package store

import (
	"context"
	"database/sql"
	"fmt"
	"sync"
)

// A commit waits for the disk, and that wait is most of what a small change
// costs. So changes that come while another is being written wait in a queue,
// and the next to write takes all of them into one transaction. Each still has
// its own data version and its own rows in the log, and none returns before the
// commit that holds it.

// tx is one change: a write transaction, or its own part of one. Everything in
// it carries the same time and the same data version.
type tx struct {
	*sql.Tx
	now     int64 // seconds since 1970-01-01 UTC
	version int64 // 0 until [tx.bump]
	by      *basis

	// For the log.
	chain  *chain
	actor  Actor
	doing  string
	logged bool // something of what it did

	changes *changes // of the rows, for the seals
	schema  int
}

// write runs f in an immediate transaction: all of it happens, or nothing.
// Helpers take the transaction; a query on the pool from inside f would wait
// for the connection that f itself holds. A change of the data that f does not
// log is logged here, so that none goes without.
//
// f may be run a second time, after all that it did in the database was undone:
// where one of the changes that were to be written together fails, each is
// written alone. Whatever f leaves outside must be as after one run.
func (s *Store) write(ctx context.Context, doing string, f func(*tx) error) error {
	c := &pending{ctx: ctx, doing: doing, f: f, wake: make(chan struct{})}
	if !s.queue.add(c) {
		<-c.wake
	}
	if c.leads {
		s.lead()
	}
	if c.alone { // in the goroutine of its own caller, whose panic it then is
		c.err = s.transact(c)
	}
	return s.wrote(fail(doing, c.err))
}

// maxTogether is the most changes of one transaction: readers are not held up
// by them, but a person's change is.
const maxTogether = 64

// queue holds the changes that wait for the writer.
type queue struct {
	mu      sync.Mutex
	busy    bool // somebody leads
	waiting []*pending
}

// pending is one call of [Store.write]. Its last four fields are its caller's
// once it leads or wake is closed.
type pending struct {
	ctx   context.Context
	doing string
	f     func(*tx) error

	wake  chan struct{}
	leads bool // it is for this caller to write what waits
	alone bool // it is still to be written
	err   error
}

// add puts a change into the queue. It leads where nobody does; any other waits
// to be woken.
func (q *queue) add(c *pending) (leads bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.waiting = append(q.waiting, c)
	leads, q.busy = !q.busy, true
	c.leads = leads
	return leads
}

// next takes the changes that wait. The first is the leader's own.
func (q *queue) next() []*pending {
	q.mu.Lock()
	defer q.mu.Unlock()
	n := min(len(q.waiting), maxTogether)
	list := q.waiting[:n:n]
	q.waiting = q.waiting[n:]
	return list
}

// pass lets the first of those that came meanwhile lead.
func (q *queue) pass() {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.busy = len(q.waiting) > 0; q.busy {
		q.waiting[0].leads = true
		close(q.waiting[0].wake)
	}
}

// lead writes what waits in one transaction. Where that fails each is left to
// be written alone.
func (s *Store) lead() {
	list := s.queue.next()
	if len(list) == 1 {
		defer s.queue.pass()
		list[0].err = s.transact(list[0])
		return
	}
	failed := s.transact(list...) != nil
	s.queue.pass()
	for i, c := range list {
		if c.alone = failed; i > 0 {
			close(c.wake)
		}
	}
}

// transact writes changes in one transaction.
func (s *Store) transact(list ...*pending) error {
	if err := s.Intact(); err != nil {
		return err
	}
	if rehearse {
		_ = s.perform(list, false)
	}
	return s.perform(list, true)
}

// perform runs the changes in one transaction and commits it, or undoes it all.
func (s *Store) perform(list []*pending, commit bool) error {
	ctx := context.Background()
	conn, err := s.writer.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if err := conn.Raw(s.changes.watch); err != nil {
		return err
	}
	t, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer t.Rollback() // does nothing after Commit
	s.changes.begin(newMarker(s.logKey))
	defer s.changes.end()
	now := s.now().Unix()
	by, err := s.judging.Load().at(ctx, t, now)
	if err != nil {
		return err
	}
	s.judging.Store(by) // others have committed it, whatever becomes of this
	own := tx{
		Tx: t, now: now, by: by, chain: &chain{key: s.logKey}, actor: actorOf(list[0].ctx), doing: list[0].doing,
		changes: &s.changes, schema: s.schema,
	}
	if _, err := t.ExecContext(ctx, "UPDATE data_version SET at = ?1 WHERE at <> ?1", own.now); err != nil {
		return err
	}
	owed, err := s.payViews(ctx, &own)
	if err != nil {
		return err
	}
	for _, c := range list {
		w := own
		w.actor, w.doing = actorOf(c.ctx), c.doing
		if err := c.run(&w, len(list) > 1); err != nil {
			return err
		}
		own.by = w.by // signed in one, it holds for those after it
	}
	if err := own.chain.seal(t); err != nil {
		return err
	}
	if err := own.seal(ctx); err != nil || !commit {
		return err
	}
	if err := t.Commit(); err != nil {
		return err
	}
	if own.by != by {
		s.judging.Store(own.by)
	}
	s.paid(owed)
	return nil
}

// run does the change. One that would panic fails, where others are with it,
// and panics when it is alone.
func (c *pending) run(t *tx, others bool) (err error) {
	if err := c.ctx.Err(); err != nil {
		return err
	}
	if others {
		defer func() {
			if p := recover(); p != nil {
				err = fmt.Errorf("panic of type %T", p)
			}
		}()
	}
	if err := c.f(t); err != nil {
		return err
	}
	if t.version != 0 && !t.logged {
		return t.log(c.ctx, onData, "")
	}
	return nil
}
