package store

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"
)

func epoch() time.Time { return time.Unix(0, 0) }

// raw opens the file as some other program would.
func raw(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", dsn(path, ""))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func exec(t *testing.T, db *sql.DB, query string) {
	t.Helper()
	if _, err := db.Exec(query); err != nil {
		t.Fatal(err)
	}
}

// made makes a database of the newest schema and gives its path.
func made(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "wearround.db")
	s, err := Open(context.Background(), path, epoch)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestOpenRefuses(t *testing.T) {
	tests := []struct {
		name, change, words string
	}{
		{"a changed migration", "UPDATE migrations SET sha256 = 'other' WHERE number = 1", "a different build"},
		{"a newer schema", "INSERT INTO migrations VALUES (9999, '9999_later.sql', 'x', 0)", "a newer version"},
		{"a database of another program", "DROP TABLE migrations", "another program"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			path := made(t)
			exec(t, raw(t, path), test.change)
			s, err := Open(context.Background(), path, epoch)
			if err == nil {
				s.Close()
				t.Fatal("opened")
			}
			if CodeOf(err) != Invalid || !strings.Contains(Words(err), test.words) {
				t.Errorf("got %q (%s), want words with %q", Words(err), CodeOf(err), test.words)
			}
		})
	}
}

// steps are the real migrations with others after them, and how many real ones
// there are.
func steps(t *testing.T, more ...string) (files fstest.MapFS, ours int) {
	t.Helper()
	list, err := migrations(migrationFiles)
	if err != nil {
		t.Fatal(err)
	}
	files = fstest.MapFS{}
	for _, m := range list {
		files["migrations/"+m.name] = &fstest.MapFile{Data: []byte(m.sql)}
	}
	for i, text := range more {
		files[fmt.Sprintf("migrations/%04d_more.sql", len(list)+1+i)] = &fstest.MapFile{Data: []byte(text)}
	}
	return files, len(list)
}

func TestMigrateKeepsACopy(t *testing.T) {
	path := made(t)
	exec(t, raw(t, path), "INSERT INTO patients (code, name, birth_date, context, changed) VALUES ('P1', '', '', '{}', 1)")
	files, ours := steps(t, "ALTER TABLE patients ADD COLUMN more TEXT", "CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT")
	n, err := migrateWith(context.Background(), path, epoch, files)
	if err != nil || n != ours+2 {
		t.Fatalf("%d, %v", n, err)
	}
	exec(t, raw(t, path), "UPDATE patients SET more = 'x'")
	kept := fmt.Sprintf("%s.schema-%d", path, ours)
	info, err := os.Stat(kept)
	if err != nil {
		t.Fatal(err)
	}
	if info.Mode().Perm() != 0o600 {
		t.Errorf("the copy has mode %o", info.Mode().Perm())
	}
	var code string
	var steps int
	if err := raw(t, kept).QueryRow("SELECT code, (SELECT count(*) FROM migrations) FROM patients").Scan(&code, &steps); err != nil || code != "P1" || steps != ours {
		t.Errorf("the copy has patient %q and %d steps: %v", code, steps, err)
	}
	if n, err := migrateWith(context.Background(), path, epoch, files); err != nil || n != ours+2 {
		t.Errorf("a second run: %d, %v", n, err)
	}
}

func TestMigrateIsAllOrNothing(t *testing.T) {
	for name, last := range map[string]string{
		"a fault in the last step":  "CREATE TABLE two (id NONSENSE) STRICT",
		"a row that points nowhere": "INSERT INTO file_wears VALUES (7, 7, 0, 0, 0)",
	} {
		t.Run(name, func(t *testing.T) {
			path := made(t)
			files, ours := steps(t, "CREATE TABLE one (id INTEGER PRIMARY KEY) STRICT", last)
			if _, err := migrateWith(context.Background(), path, epoch, files); err == nil {
				t.Fatal("migrated")
			}
			var tables, applied int
			err := raw(t, path).QueryRow("SELECT (SELECT count(*) FROM sqlite_schema WHERE name IN ('one', 'two')), (SELECT count(*) FROM migrations)").Scan(&tables, &applied)
			if err != nil || tables != 0 || applied != ours {
				t.Errorf("%d tables and %d steps are left: %v", tables, applied, err)
			}
		})
	}
}

func TestMigrationNumbers(t *testing.T) {
	files := fstest.MapFS{"migrations/0001_a.sql": {}, "migrations/0003_c.sql": {}}
	if _, err := migrations(files); err == nil {
		t.Error("a hole in the numbers was accepted")
	}
}

// SQLite does not wait for the lock it needs to start a write-ahead log, so
// some of those that open a new file at once may be told that it is in use.
func TestOpenAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "wearround.db")
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			s, err := Open(context.Background(), path, epoch)
			if CodeOf(err) == Conflict {
				return
			}
			if err != nil {
				t.Error(err)
				return
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	s, err := Open(context.Background(), path, epoch)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var steps int
	if err := s.reader.QueryRow("SELECT count(*) FROM migrations").Scan(&steps); err != nil || steps != s.schema {
		t.Errorf("%d steps, %v; want %d", steps, err, s.schema)
	}
}
