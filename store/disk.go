package store

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"

	sqlite3 "modernc.org/sqlite/lib"
)

// diskWords is what people are told where the disk or the file is at fault.
func diskWords(code int) string {
	switch code {
	case sqlite3.SQLITE_FULL:
		return "The disk is full, so nothing can be saved. What is there can still be read. Make room; then do it again."
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
		return "The disk does not let this program write, so nothing can be saved. What is there can still be read. Give it the right to write; then do it again."
	case sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN:
		return "The disk fails, so this could not be done. Look at the disk; then do it again."
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return damagedWords
	}
	return ""
}

// watch knows the database file again.
type watch struct {
	mu      sync.Mutex
	file    os.FileInfo // as it was opened
	largest int64       // it never shrinks
	key     string      // path of the file with the key of the log, or ""
	fault   string      // why the newest write failed for the disk's sake, or ""
	corrupt bool        // some read met damage; only a restore ends that
	views   []owedView  // that could not be logged yet
}

func (w *watch) begin(path string) (err error) {
	w.file, err = os.Stat(path)
	return err
}

// Intact looks at the database file and gives an error, in words for people,
// where it is not the one that was opened: deleted, replaced, or cut short.
// Whatever was written then would be lost.
func (s *Store) Intact() error {
	info, err := os.Stat(s.path)
	s.watch.mu.Lock()
	defer s.watch.mu.Unlock()
	gone := func(what string) error {
		return &Error{Code: Broken, Public: "The database file " + what + ", so nothing can be saved. Stop the program and bring the practice back (wearround restore)."}
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return gone("is gone from the data folder")
	case err != nil:
		return &Error{Code: Broken, Public: "The database file cannot be reached, so nothing can be saved. Look at the disk of the data folder.", cause: err}
	case s.watch.file == nil:
		return nil
	case !os.SameFile(info, s.watch.file):
		return gone("was replaced by another")
	case info.Size() < s.watch.largest:
		return gone("was cut short")
	}
	s.watch.largest = info.Size()
	return nil
}

// WatchKey says in which file the key of the log lies, for [Store.KeyKept].
func (s *Store) WatchKey(path string) {
	s.watch.mu.Lock()
	defer s.watch.mu.Unlock()
	s.watch.key = path
}

// KeyKept looks at the file with the key of the log and gives an error, in words
// for people, where the log could not go on under it at the next start.
func (s *Store) KeyKept() error {
	s.watch.mu.Lock()
	path := s.watch.key
	s.watch.mu.Unlock()
	if path == "" {
		return nil
	}
	key, err := os.ReadFile(path)
	bad := func(what string) error {
		return &Error{Code: Broken, Public: "The file with the key of the log " + what + ". What is done now is still logged, but the program would not start again: put audit.key back into the data folder from where you keep its copy."}
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return bad("is gone from the data folder")
	case err != nil:
		return &Error{Code: Broken, cause: err, Public: "The file with the key of the log cannot be read. Look at the disk of the data folder, and at the rights of audit.key."}
	case !bytes.Equal(key, s.logKey):
		return bad("was replaced by another")
	}
	return nil
}

// doubt remembers that a read or a write met damage, and passes the error on.
func (s *Store) doubt(err error) error {
	e, ok := errors.AsType[*Error](err)
	if !ok || e.Code != Broken {
		return err
	}
	s.watch.mu.Lock()
	defer s.watch.mu.Unlock()
	if e.Public == damagedWords {
		s.watch.corrupt = true
	}
	return err
}

// wrote remembers how the newest write went, and passes its error on.
func (s *Store) wrote(err error) error {
	s.watch.mu.Lock()
	switch e, ok := errors.AsType[*Error](err); {
	case err == nil:
		s.watch.fault = ""
	case ok && e.Code == Broken:
		s.watch.fault = e.Public
	}
	s.watch.mu.Unlock()
	return s.doubt(err)
}

// WriteFault says in words why the newest write failed for the disk's sake, or
// gives "". The worker writes at each of its looks, so it is never old.
func (s *Store) WriteFault() string {
	s.watch.mu.Lock()
	defer s.watch.mu.Unlock()
	return s.watch.fault
}

// Corrupt reports whether some read met a damaged page since the start.
func (s *Store) Corrupt() bool {
	s.watch.mu.Lock()
	defer s.watch.mu.Unlock()
	return s.watch.corrupt
}

// owedView is a look at somebody's data that the disk could not take into the
// log at the time.
type owedView struct {
	at    int64
	actor Actor
	on    target
}

// mostOwed bounds them: beyond it nothing is shown that is not logged.
const mostOwed = 10_000

// oweView notes a look that is logged once the disk takes it, so that a full
// disk does not hide the work that waits. It reports whether there is room.
func (s *Store) oweView(a Actor, on target) bool {
	s.watch.mu.Lock()
	defer s.watch.mu.Unlock()
	if len(s.watch.views) >= mostOwed {
		return false
	}
	s.watch.views = append(s.watch.views, owedView{s.now().Unix(), a, on})
	return true
}

// payViews logs the looks that are owed, as the first thing of a transaction,
// and gives how many.
func (s *Store) payViews(ctx context.Context, t *tx) (int, error) {
	s.watch.mu.Lock()
	views := slices.Clone(s.watch.views)
	s.watch.mu.Unlock()
	now, actor, logged := t.now, t.actor, t.logged
	for _, v := range views {
		t.now, t.actor = v.at, v.actor
		role, err := t.role(ctx, v.actor, everyone)
		if err != nil && CodeOf(err) != Forbidden {
			return 0, err
		}
		t.actor.Role = role
		if err := t.append(ctx, LogRow{Action: "view", Object: v.on.object, ObjectID: v.on.id, Ended: done, Reason: "logged late: the disk did not take it"}); err != nil {
			return 0, err
		}
	}
	t.now, t.actor = now, actor
	t.logged = logged
	return len(views), nil
}

// paid forgets what a transaction has logged.
func (s *Store) paid(n int) {
	if n == 0 {
		return
	}
	s.watch.mu.Lock()
	defer s.watch.mu.Unlock()
	s.watch.views = slices.Clone(s.watch.views[n:])
}

// Disk is the room that the database takes and that is left for it, in bytes.
type Disk struct {
	Database int64 // with its write-ahead log
	Free     int64 // on the disk that it lies on; -1 where the system does not say
}

// Disk looks up how much room the database takes and has.
func (s *Store) Disk() (Disk, error) {
	var d Disk
	for _, name := range []string{s.path, s.path + "-wal"} {
		info, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			continue // the log comes and goes
		}
		if err != nil {
			return Disk{}, fail("measure the database", err)
		}
		d.Database += info.Size()
	}
	d.Free = FreeBytes(filepath.Dir(s.path))
	return d, nil
}

// Path is where the database file lies.
func (s *Store) Path() string { return s.path }
