package store

import (
	"context"
	"database/sql"
	"errors"
	"maps"
	"slices"
	"testing"
	"testing/fstest"
	"time"

	"wearround/worker/wear"
)

// Pools gives tests what no caller may touch.
func (s *Store) Pools() (writer, reader *sql.DB) { return s.writer, s.reader }

// SealedColumns gives the tables whose rows are sealed, and their columns.
func SealedColumns(s *Store) map[string][]string {
	out := map[string][]string{}
	for name, t := range s.tables {
		out[name] = t.columns
	}
	return out
}

// KeptTexts gives the statements that a store's connections keep: what it has
// asked for lately.
func KeptTexts(t testing.TB, s *Store) []string {
	t.Helper()
	texts := map[string]bool{}
	var held []*sql.Conn
	for _, p := range []struct {
		db *sql.DB
		n  int
	}{{s.writer, 1}, {s.reader, readers}} {
		for range p.n { // held together, so that each is another one
			c, err := p.db.Conn(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			held = append(held, c)
			err = c.Raw(func(c any) error {
				for text := range c.(*keptConn).kept {
					texts[text] = true
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, c := range held {
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return slices.Sorted(maps.Keys(texts))
}

// EvidenceOf is the hash of what a report is made from.
func EvidenceOf(known wear.Input) (int64, error) { return evidenceOf(1, 1, 1, known) }

// MakeOld makes a database of an older schema and puts rows into it, whose
// readings stand in a table plain_readings (wear_id, at, tenths of mmol/L).
func MakeOld(path string, schema int, rows string) (err error) {
	ctx := context.Background()
	files := fstest.MapFS{}
	all, err := migrations(migrationFiles)
	if err != nil {
		return err
	}
	for _, m := range all[:schema] {
		files["migrations/"+m.name] = &fstest.MapFile{Data: []byte(m.sql)}
	}
	if _, err := migrateWith(ctx, path, time.Now, files); err != nil {
		return err
	}
	db, err := sql.Open("sqlite", writerDSN(path, false))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(rows); err != nil {
		return err
	}
	list := map[int64][]wear.Reading{}
	found, err := db.Query("SELECT wear_id, at, tenths FROM plain_readings ORDER BY wear_id, at")
	err = each(found, err, func(rows *sql.Rows) error {
		r := wear.Reading{Scale: 1, Unit: wear.MmolL}
		var id int64
		err := rows.Scan(&id, &r.At, &r.Num)
		list[id] = append(list[id], r)
		return err
	})
	if err != nil {
		return err
	}
	for id, readings := range list {
		p, err := packWear(&WearFiling{Readings: readings})
		if err != nil {
			return err
		}
		report, err := deflate(wear.Report{})
		if err != nil {
			return err
		}
		if _, err := db.Exec("INSERT INTO reports (wear_id, engine, protocol, ledger, report, events) VALUES (?, '0', '0', '{}', ?, ?)", id, report, p.events); err != nil {
			return err
		}
		for _, d := range p.days {
			if _, err := db.Exec("INSERT INTO wear_days (wear_id, day, readings) VALUES (?, ?, ?)", id, d.day, d.blob); err != nil {
				return err
			}
		}
	}
	return nil
}
