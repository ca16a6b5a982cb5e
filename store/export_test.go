package store

import "database/sql"

// Pools gives tests what no caller may touch.
func (s *Store) Pools() (writer, reader *sql.DB) { return s.writer, s.reader }
