package store

import (
	"context"
	"database/sql"
	"maps"
	"slices"
	"testing"

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
