package store

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"
	"time"
)

// TestEveryTableIsInTheArchiveOfAPerson: a new table must say whether it holds
// something of a patient before anything can be given out.
func TestEveryTableIsInTheArchiveOfAPerson(t *testing.T) {
	s, err := Open(context.Background(), filepath.Join(t.TempDir(), "w.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	there := map[string]bool{}
	rows, err := s.reader.Query("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
	err = each(rows, err, func(rows *sql.Rows) error {
		var table string
		err := rows.Scan(&table)
		there[table] = true
		_, yes := personal[table]
		if yes == (notPersonal[table] != "") {
			t.Errorf("the table %s: say in personal which rows are a patient's, or in notPersonal what it holds instead", table)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for table := range personal {
		if !there[table] {
			t.Errorf("there is no table %s", table)
		}
	}
	for table := range notPersonal {
		if !there[table] {
			t.Errorf("there is no table %s", table)
		}
	}
	err = s.PersonRows(context.Background(), 1, func(r PersonRow) error {
		t.Errorf("an empty practice holds a row of %s", r.Table)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
