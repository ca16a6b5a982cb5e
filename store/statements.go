package store

import (
	"context"
	"database/sql"
	"database/sql/driver"

	"modernc.org/sqlite"
)

// Parsing and planning a statement costs several times what running it on a few
// rows does, so each connection keeps the statements it has run. The keeper
// stands beneath database/sql and nothing above it knows: a query of the same
// text is bound and run again. One that is still being read from is left to its
// reader, and the same text is then prepared once more, for the moment.

// keptStatements is how many a connection keeps. The whole program has fewer
// fixed texts; those put together by a filter drive out what was unused longest.
const keptStatements = 256

// openKept opens a pool whose connections keep their statements. With whole set
// a statement that was begun is not interrupted when its caller goes away: the
// short acts of the writer end by themselves, and the driver would start a
// goroutine to watch each of them.
func openKept(name string, whole bool) (*sql.DB, error) {
	c, err := sqlite.NewConnector(name)
	if err != nil {
		return nil, err
	}
	return sql.OpenDB(keeper{c, whole, keptStatements}), nil
}

type keeper struct {
	driver.Connector
	whole bool
	most  int // statements that a connection keeps
}

// Connect implements [driver.Connector].
func (k keeper) Connect(ctx context.Context) (driver.Conn, error) {
	c, err := k.Connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	bare, ok := c.(bareConn)
	if !ok { // another version of the driver: it works, only slower
		return c, nil
	}
	return &keptConn{bareConn: bare, whole: k.whole, most: k.most, kept: map[string]*keptStmt{}}, nil
}

// bareConn is what a connection of the driver can do, all of which a kept one
// passes on.
type bareConn interface {
	driver.Conn
	driver.ConnBeginTx
	driver.ConnPrepareContext
	driver.ExecerContext
	driver.QueryerContext
	driver.Pinger
	driver.SessionResetter
	driver.Validator
}

// bareStmt is what a statement of the driver can do.
type bareStmt interface {
	driver.Stmt
	driver.StmtExecContext
	driver.StmtQueryContext
}

// keptConn is one connection with its statements. As any connection it is used
// by one goroutine at a time.
type keptConn struct {
	bareConn
	whole bool
	most  int
	kept  map[string]*keptStmt
	clock uint64 // counts uses, to know what was unused longest
}

// keptStmt is a statement, kept or for the moment.
type keptStmt struct {
	bareStmt
	conn *keptConn
	text string
	kept bool
	busy bool
	used uint64
}

// Unwrap gives the connection beneath, which the driver looks for.
func (c *keptConn) Unwrap() driver.Conn { return c.bareConn }

// statement gives the kept statement of a text, marked busy, or prepares one.
func (c *keptConn) statement(ctx context.Context, text string) (*keptStmt, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	c.clock++
	old := c.kept[text]
	if old != nil && !old.busy {
		old.busy, old.used = true, c.clock
		return old, nil
	}
	s, err := c.bareConn.PrepareContext(ctx, text)
	if err != nil {
		return nil, err
	}
	made := &keptStmt{bareStmt: s.(bareStmt), conn: c, text: text, busy: true, used: c.clock}
	if old == nil && c.room() {
		made.kept, c.kept[text] = true, made
	}
	return made, nil
}

// room makes room for one more statement, unless all are in use.
func (c *keptConn) room() bool {
	if len(c.kept) < c.most {
		return true
	}
	var oldest *keptStmt
	for _, s := range c.kept {
		if !s.busy && (oldest == nil || s.used < oldest.used) {
			oldest = s
		}
	}
	if oldest == nil {
		return false
	}
	delete(c.kept, oldest.text)
	return oldest.bareStmt.Close() == nil
}

// Close gives a kept statement back and ends one for the moment.
func (s *keptStmt) Close() error {
	s.busy = false
	if s.kept {
		return nil
	}
	return s.bareStmt.Close()
}

// ExecContext implements [driver.StmtExecContext].
func (s *keptStmt) ExecContext(ctx context.Context, args []driver.NamedValue) (driver.Result, error) {
	if s.conn.whole {
		ctx = context.WithoutCancel(ctx)
	}
	return s.bareStmt.ExecContext(ctx, args)
}

// QueryContext implements [driver.StmtQueryContext].
func (s *keptStmt) QueryContext(ctx context.Context, args []driver.NamedValue) (driver.Rows, error) {
	if s.conn.whole {
		ctx = context.WithoutCancel(ctx)
	}
	return s.bareStmt.QueryContext(ctx, args)
}

// PrepareContext implements [driver.ConnPrepareContext].
func (c *keptConn) PrepareContext(ctx context.Context, text string) (driver.Stmt, error) {
	return c.statement(ctx, text)
}

// ExecContext implements [driver.ExecerContext].
func (c *keptConn) ExecContext(ctx context.Context, text string, args []driver.NamedValue) (driver.Result, error) {
	s, err := c.statement(ctx, text)
	if err != nil {
		return nil, err
	}
	r, err := s.ExecContext(ctx, args)
	if end := s.Close(); err == nil {
		err = end
	}
	return r, err
}

// QueryContext implements [driver.QueryerContext].
func (c *keptConn) QueryContext(ctx context.Context, text string, args []driver.NamedValue) (driver.Rows, error) {
	s, err := c.statement(ctx, text)
	if err != nil {
		return nil, err
	}
	rows, err := s.QueryContext(ctx, args)
	if err != nil {
		s.Close() // the first error is the one to know
		return nil, err
	}
	return &keptRows{rows, s}, nil
}

// keptRows gives its statement back when it has been read.
type keptRows struct {
	driver.Rows
	of *keptStmt
}

// Close implements [driver.Rows].
func (r *keptRows) Close() error {
	err := r.Rows.Close()
	if end := r.of.Close(); err == nil {
		err = end
	}
	return err
}

// Close ends every statement and then the connection.
func (c *keptConn) Close() error {
	for text, s := range c.kept {
		s.bareStmt.Close() // what is wrong with it, the connection says too
		delete(c.kept, text)
	}
	return c.bareConn.Close()
}
