package store_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"modernc.org/sqlite"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

var ctx = context.Background()

// sqliteCode is the extended result code inside an error, or 0.
func sqliteCode(err error) int {
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		return e.Code()
	}
	return 0
}

func TestOpenModes(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("this system has no file modes")
	}
	// Signs that mean something in an address must not matter in a path.
	path := filepath.Join(t.TempDir(), "a b?c#d%e", "wearround.db")
	s, err := store.Open(ctx, path, storetest.NewClock().Now)
	if err != nil {
		t.Fatal(err)
	}
	must(t, s.SetLogKey(storetest.AuditKey()))
	defer s.Close()
	storetest.AddPatient(t, s, 1)
	for name, want := range map[string]os.FileMode{filepath.Dir(path): 0o700, path: 0o600, path + "-wal": 0o600, path + "-shm": 0o600} {
		info, err := os.Stat(name)
		if err != nil {
			t.Error(err)
		} else if got := info.Mode().Perm(); got != want {
			t.Errorf("%s has mode %o, want %o", filepath.Base(name), got, want)
		}
	}
	if schema, version := s.Version(); schema < 2 || version == "" {
		t.Errorf("schema %d, SQLite %q", schema, version)
	}
}

func TestReadersCannotWrite(t *testing.T) {
	s, _ := storetest.Open(t)
	_, reader := s.Pools()
	_, err := reader.Exec("UPDATE data_version SET n = 7")
	if got := sqliteCode(err); got != 8 { // SQLITE_READONLY
		t.Errorf("a write on the reader pool gave code %d (%v), want 8", got, err)
	}
}

func TestTablesAreStrict(t *testing.T) {
	s, _ := storetest.Open(t)
	writer, reader := s.Pools()
	var loose int
	err := reader.QueryRow("SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND name NOT LIKE 'sqlite_%' AND NOT strict").Scan(&loose)
	if err != nil || loose != 0 {
		t.Errorf("%d tables are not strict: %v", loose, err)
	}
	_, err = writer.Exec("UPDATE data_version SET n = 'seven'")
	if got := sqliteCode(err); got != 3091 { // SQLITE_CONSTRAINT_DATATYPE
		t.Errorf("text in a number gave code %d (%v), want 3091", got, err)
	}
}

// A process that dies leaves its handle unclosed and its log beside the file.
func TestReopenWithoutClose(t *testing.T) {
	path := filepath.Join(t.TempDir(), "wearround.db")
	clock := storetest.NewClock()
	first, err := store.Open(ctx, path, clock.Now)
	if err != nil {
		t.Fatal(err)
	}
	must(t, first.SetLogKey(storetest.AuditKey()))
	p := storetest.AddPatient(t, first, 1)
	id := storetest.File(t, first, storetest.Filing(1, p.ID, clock.Now(), 3, wear.Routine, 1))
	t.Cleanup(func() { first.Close() })

	second, err := store.Open(ctx, path, clock.Now)
	if err != nil {
		t.Fatal(err)
	}
	must(t, second.SetLogKey(storetest.AuditKey()))
	defer second.Close()
	if w, err := second.Wear(ctx, id); err != nil || w.Patient.Code != p.Code {
		t.Errorf("after opening again: patient %q, %v", w.Patient.Code, err)
	}
	if _, ok, err := second.KnownFile(ctx, storetest.Hash(1)); err != nil || !ok {
		t.Errorf("after opening again the file is not known: %v", err)
	}
}

func TestCloseEmptiesTheLog(t *testing.T) {
	path := filepath.Join(t.TempDir(), "wearround.db")
	s, err := store.Open(ctx, path, storetest.NewClock().Now)
	if err != nil {
		t.Fatal(err)
	}
	must(t, s.SetLogKey(storetest.AuditKey()))
	storetest.AddPatient(t, s, 1)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
		t.Errorf("%d bytes are left in the log", info.Size())
	}
}

func TestErrors(t *testing.T) {
	s, _ := storetest.Open(t)
	gone, cancel := context.WithCancel(ctx)
	cancel()
	_, missing := s.Patient(ctx, 99)
	_, cancelled := s.Patient(gone, 99)
	closed, err := store.Open(ctx, filepath.Join(t.TempDir(), "x.db"), storetest.NewClock().Now)
	if err != nil {
		t.Fatal(err)
	}
	closed.Close()
	_, broken := closed.Patient(ctx, 99)
	for _, test := range []struct {
		name string
		err  error
		want store.Code
	}{
		{"no such row", missing, store.NotFound},
		{"a request that was given up", cancelled, store.Internal},
		{"a closed database", broken, store.Internal},
	} {
		if got := store.CodeOf(test.err); got != test.want {
			t.Errorf("%s: %s (%v), want %s", test.name, got, test.err, test.want)
		}
		if store.Words(test.err) == "" {
			t.Errorf("%s: no words", test.name)
		}
	}
	if !errors.Is(cancelled, context.Canceled) {
		t.Errorf("the cause is lost: %v", cancelled)
	}
}
