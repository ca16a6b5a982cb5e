package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"wearround/store/kept"
	"wearround/worker/wear"
)

// Store is one open database. Its methods may be called from any goroutine.
type Store struct {
	writer *sql.DB // one connection; every transaction on it begins immediate
	reader *sql.DB // four connections that cannot write
	queue  queue   // of the changes that wait for the writer
	now    func() time.Time
	path   string
	schema int
	sqlite string

	// What is kept in memory between calls; the database stays the truth.
	board   board
	ledgers *kept.By[wearAt, *row]
	audits  *kept.By[auditKey, wear.Audit]
	recipes *kept.By[int64, *RecipeBook]  // by the version of the newest change of one
	counts  *kept.By[int64, Counts]       // by the version of the data
	fates   *kept.By[int64, map[Fate]int] // of the drops, likewise

	logKey  []byte // see [Store.SetLogKey]
	judging judgingBox
	chain   atomic.Pointer[LogCheck]

	// See seal.go and integrity.go.
	tables  map[string]*sealedTable
	changes changes
	data    atomic.Pointer[DataCheck]
	broken  struct {
		mu     sync.Mutex
		things map[Thing]time.Time
		old    map[Thing]bool // from before the schema changed: only a restore puts them right
	}

	watch   watch    // see disk.go
	lastUse sync.Map // session to its last use, where the disk did not take it
}

const readers = 4

// oldestSQLite is the first release without the fault by which a reset of the
// write-ahead log could corrupt the file (3.7.0 to 3.51.2).
const oldestSQLite = "3.51.3"

// Open opens the database file at path, makes it where there is none, and
// brings its schema up to date. The folder is made with mode 0700 and the file
// with 0600. It must lie on a local disk: the write-ahead log does not work
// over a network share. now gives the time of every row that is written.
func Open(ctx context.Context, path string, now func() time.Time) (*Store, error) {
	s, err := open(ctx, path, now)
	if err != nil {
		return nil, fail("open the database", err)
	}
	return s, nil
}

// remembering is a store that keeps nothing in memory yet.
func remembering(path string, now func() time.Time) *Store {
	return &Store{
		now: now, path: path,
		ledgers: kept.New[wearAt](mostLedgers, kept.One[*row]), audits: kept.New[auditKey](mostAudits, kept.One[wear.Audit]),
		recipes: kept.New[int64](1, kept.One[*RecipeBook]), counts: kept.New[int64](1, kept.One[Counts]), fates: kept.New[int64](1, kept.One[map[Fate]int]),
	}
}

func open(ctx context.Context, path string, now func() time.Time) (_ *Store, err error) {
	path, err = filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, err
	}
	if err := createPrivate(path); err != nil {
		return nil, err
	}
	s := remembering(path, now)
	if s.schema, err = migrate(ctx, path, now); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.Close())
		}
	}()
	if s.writer, err = openKept(writerDSN(path, true), true); err != nil {
		return nil, err
	}
	s.writer.SetMaxOpenConns(1)
	if s.reader, err = openKept(readerDSN(path), false); err != nil {
		return nil, err
	}
	s.reader.SetMaxOpenConns(readers)
	s.reader.SetMaxIdleConns(readers)
	if err := s.writer.QueryRowContext(ctx, "SELECT sqlite_version()").Scan(&s.sqlite); err != nil {
		return nil, err
	}
	if !atLeast(s.sqlite, oldestSQLite) {
		return nil, fmt.Errorf("SQLite %s is too old: %s or later is needed", s.sqlite, oldestSQLite)
	}
	if err := verify(ctx, s.writer, map[string]string{
		"busy_timeout": "5000", "journal_mode": "wal", "synchronous": "2", "foreign_keys": "1",
	}); err != nil {
		return nil, fmt.Errorf("writer: %w", err)
	}
	if err := verify(ctx, s.reader, map[string]string{
		"busy_timeout": "5000", "journal_mode": "wal", "foreign_keys": "1",
	}); err != nil {
		return nil, fmt.Errorf("reader: %w", err)
	}
	if s.tables, err = sealedTables(ctx, s.reader); err != nil {
		return nil, err
	}
	s.changes.tables = s.tables
	if err := s.JudgeBy(Judging{Zone: time.UTC}); err != nil {
		return nil, err
	}
	return s, s.watch.begin(path)
}

// createPrivate makes an empty file for the owner alone where there is none;
// SQLite gives its side files the same mode. A file that is there is not
// opened: closing it would drop the locks SQLite holds on it in this process.
func createPrivate(path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if errors.Is(err, os.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return f.Close()
}

// Settings go into the name, not through Exec, so that each pooled connection
// has them; busy_timeout comes first so that the others already wait for locks.

func writerDSN(path string, foreignKeys bool) string {
	return dsn(path, "_txlock=immediate&_dqs=0&_defensive=1&_pragma=busy_timeout(5000)"+
		"&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=foreign_keys("+strconv.FormatBool(foreignKeys)+")")
}

func readerDSN(path string) string {
	return dsn(path, "mode=ro&_dqs=0&_pragma=busy_timeout(5000)&_pragma=foreign_keys(1)")
}

// dsn names a file, which a relative path would not.
func dsn(path, query string) string {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") { // a drive letter
		path = "/" + path
	}
	return (&url.URL{Scheme: "file", Path: path, RawQuery: query}).String()
}

// verify reads settings back: SQLite does not complain about one it ignores.
func verify(ctx context.Context, db *sql.DB, want map[string]string) error {
	for name, value := range want {
		var got string
		if err := db.QueryRowContext(ctx, "PRAGMA "+name).Scan(&got); err != nil {
			return err
		}
		if got != value {
			return fmt.Errorf("setting %s is %s, not %s", name, got, value)
		}
	}
	return nil
}

// atLeast compares dotted version numbers.
func atLeast(version, oldest string) bool {
	have, want := strings.Split(version, "."), strings.Split(oldest, ".")
	for i := range want {
		h := 0
		if i < len(have) {
			h, _ = strconv.Atoi(have[i])
		}
		if w, _ := strconv.Atoi(want[i]); h != w {
			return h > w
		}
	}
	return true
}

// Version gives the number of the schema and the version of SQLite.
func (s *Store) Version() (schema int, sqlite string) { return s.schema, s.sqlite }

// Stats gives the state of the two pools, for metrics.
func (s *Store) Stats() (writer, reader sql.DBStats) { return s.writer.Stats(), s.reader.Stats() }

// Close empties the write-ahead log into the database file and closes it. It
// does every step even if one fails.
func (s *Store) Close() error {
	var errs []error
	if s.reader != nil {
		errs = append(errs, s.reader.Close())
	}
	if s.writer != nil {
		_, err := s.writer.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
		errs = append(errs, err, s.writer.Close())
	}
	return fail("close the database", errors.Join(errs...))
}

// Tidy refreshes what the query planner knows and empties the write-ahead log
// into the database file. It is for a quiet hour.
func (s *Store) Tidy(ctx context.Context) error {
	for _, pragma := range []string{"PRAGMA optimize", "PRAGMA wal_checkpoint(TRUNCATE)"} {
		if _, err := s.writer.ExecContext(ctx, pragma); err != nil {
			return fail("tidy the database", err)
		}
	}
	return nil
}

// read runs f on one unchanging view of the data.
func (s *Store) read(ctx context.Context, doing string, f func(*sql.Tx) error) error {
	t, err := s.reader.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return fail(doing, err)
	}
	defer t.Rollback() // a view has nothing to keep
	return s.doubt(fail(doing, f(t)))
}

// each scans every row of a query.
func each(rows *sql.Rows, err error, scan func(*sql.Rows) error) error {
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

const daySeconds = 24 * 60 * 60

// fromUnix is the time of a stored number of seconds.
func fromUnix(s int64) time.Time { return time.Unix(s, 0).UTC() }
