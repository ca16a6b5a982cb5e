package store

import "database/sql"

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
