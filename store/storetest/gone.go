package storetest

import (
	"database/sql"
	"testing"

	"wearround/store"
)

// Gone takes each table away in turn, by another connection, and calls try
// while it is away: whoever needs it must say that something is wrong.
func Gone(t testing.TB, s *store.Store, try func(table string)) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+s.Path()+"?_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
	if err != nil {
		t.Fatal(err)
	}
	var tables []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		tables = append(tables, name)
	}
	if err := rows.Err(); err != nil || len(tables) == 0 {
		t.Fatal(tables, err)
	}
	for _, name := range tables {
		exec := func(from, to string) {
			if _, err := db.Exec(`ALTER TABLE "` + from + `" RENAME TO "` + to + `"`); err != nil {
				t.Fatal(err)
			}
		}
		exec(name, "gone_"+name)
		try(name)
		exec("gone_"+name, name)
	}
}
