package store

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"modernc.org/sqlite"
	"pgregory.net/rapid"
)

// few is a number of statements to keep that the tests soon exceed.
const few = 5

// pools opens the same new database with and without kept statements.
func pools(t testing.TB) (kept, bare *sql.DB) {
	t.Helper()
	open := func(name string, f func(string) (*sql.DB, error)) *sql.DB {
		db, err := f(dsn(filepath.Join(t.TempDir(), name), "_txlock=immediate&_pragma=synchronous(OFF)"))
		if err != nil {
			t.Fatal(err)
		}
		db.SetMaxOpenConns(1)
		t.Cleanup(func() {
			if err := db.Close(); err != nil {
				t.Error(err)
			}
		})
		if _, err := db.Exec("CREATE TABLE a (id INTEGER PRIMARY KEY, x ANY UNIQUE) STRICT"); err != nil {
			t.Fatal(err)
		}
		return db
	}
	keep := func(n string) (*sql.DB, error) {
		c, err := sqlite.NewConnector(n)
		return sql.OpenDB(keeper{c, true, few}), err
	}
	return open("kept.db", keep),
		open("bare.db", func(n string) (*sql.DB, error) { return sql.Open("sqlite", n) })
}

// said writes down whatever a query gives, its error included.
func said(rows *sql.Rows, err error) string {
	var b strings.Builder
	err = each(rows, err, func(rows *sql.Rows) error {
		var id int64
		var x any
		if err := rows.Scan(&id, &x); err != nil {
			return err
		}
		fmt.Fprintf(&b, "%d %T %v;", id, x, x)
		return nil
	})
	fmt.Fprint(&b, err)
	return b.String()
}

// TestKeptStatementsChangeNothing runs the same random statements with and
// without the keeper: the same text again and again with other values, texts
// past the bound, errors, changes of the schema, reads left half way and reads
// of the same text inside each other.
func TestKeptStatementsChangeNothing(t *testing.T) {
	const read = "SELECT id, x FROM a WHERE id >= ? ORDER BY id"
	ctx := context.Background()
	rapid.Check(t, func(r *rapid.T) {
		kept, bare := pools(t)
		columns := 0
		both := func(f func(*sql.DB) string) {
			if got, want := f(kept), f(bare); got != want {
				r.Fatalf("kept statements give %q, want %q", got, want)
			}
		}
		exec := func(q string, args ...any) {
			both(func(db *sql.DB) string {
				res, err := db.ExecContext(ctx, q, args...)
				if err != nil {
					return err.Error()
				}
				n, err := res.RowsAffected()
				return fmt.Sprint(n, err)
			})
		}
		value := rapid.OneOf(
			rapid.Map(rapid.Int64Range(-1, 2), func(n int64) any { return n }),
			rapid.Map(rapid.StringN(0, 3, -1), func(s string) any { return s }),
			rapid.Just(any(nil)), rapid.Just(any([]byte("blob"))), rapid.Just(any(1.5)),
		)
		r.Repeat(map[string]func(*rapid.T){
			"insert": func(r *rapid.T) { exec("INSERT INTO a (x) VALUES (?)", value.Draw(r, "x")) },
			"update": func(r *rapid.T) {
				exec("UPDATE a SET x = ? WHERE id = ?", value.Draw(r, "x"), rapid.IntRange(1, 4).Draw(r, "id"))
			},
			"wrong": func(r *rapid.T) { exec("SELECT nothing FROM nowhere") },
			"other": func(r *rapid.T) {
				exec(fmt.Sprintf("UPDATE a SET x = x WHERE id = %d", rapid.IntRange(1, 2*few).Draw(r, "n")))
			},
			"many": func(r *rapid.T) {
				for n := range few + 3 {
					exec(fmt.Sprintf("UPDATE a SET x = x WHERE id = -%d", n))
				}
			},
			"schema": func(r *rapid.T) {
				columns++
				exec(fmt.Sprintf("ALTER TABLE a ADD COLUMN c%d ANY", columns))
			},
			"read": func(r *rapid.T) {
				from := rapid.IntRange(0, 3).Draw(r, "from")
				both(func(db *sql.DB) string { return said(db.QueryContext(ctx, read, from)) })
			},
			"half": func(r *rapid.T) {
				both(func(db *sql.DB) string {
					rows, err := db.QueryContext(ctx, read, 0)
					if err != nil {
						return err.Error()
					}
					return fmt.Sprint(rows.Next(), rows.Close())
				})
			},
			"nested": func(r *rapid.T) {
				both(func(db *sql.DB) string {
					tx, err := db.BeginTx(ctx, nil)
					if err != nil {
						return err.Error()
					}
					defer tx.Rollback()
					var b strings.Builder
					outer, err := tx.QueryContext(ctx, read, 0)
					err = each(outer, err, func(*sql.Rows) error {
						b.WriteString(said(tx.QueryContext(ctx, read, 1)))
						return nil
					})
					return fmt.Sprint(b.String(), err)
				})
			},
			"": func(r *rapid.T) {
				both(func(db *sql.DB) string { return said(db.QueryContext(ctx, read, 0)) })
			},
		})
	})
}

// TestKeptStatementsAreBounded runs more texts than are kept and reads two of
// the same at once.
func TestKeptStatementsAreBounded(t *testing.T) {
	bare, err := sqlite.NewConnector(dsn(filepath.Join(t.TempDir(), "w.db"), ""))
	if err != nil {
		t.Fatal(err)
	}
	c, err := keeper{Connector: bare, most: few}.Connect(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	k := c.(*keptConn)
	for n := range 3 * few {
		if _, err := k.ExecContext(context.Background(), fmt.Sprintf("SELECT %d", n), nil); err != nil {
			t.Fatal(err)
		}
	}
	if len(k.kept) != few {
		t.Errorf("%d statements kept, want %d", len(k.kept), few)
	}
	for text, s := range k.kept {
		if s.busy {
			t.Errorf("%q is still busy", text)
		}
	}
	one, err := k.PrepareContext(context.Background(), "SELECT 1")
	if err != nil {
		t.Fatal(err)
	}
	two, err := k.PrepareContext(context.Background(), "SELECT 1")
	if err != nil {
		t.Fatal(err)
	}
	if one == two {
		t.Error("a statement in use was given out again")
	}
	if err := firstErr(two.Close(), one.Close(), c.Close()); err != nil {
		t.Error(err)
	}
}
