package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
)

// personal is where each table has rows of patient ?1: a condition, and columns
// that are left out because they may speak of others or are shown elsewhere in a
// form that people can read. Every table is either here or in notPersonal.
var personal = map[string]struct{ where, without string }{
	"patients":     {"id = ?1 OR merged_into = ?1", ""},
	"wears":        {"patient_id = ?1", ""},
	"wear_flags":   {ofTheirWears, ""},
	"reports":      {ofTheirWears, "report events"}, // with each wear
	"wear_days":    {ofTheirWears, "readings"},      // likewise
	"judgements":   {ofTheirWears, ""},
	"file_wears":   {ofTheirWears, ""},
	"outcomes":     {ofTheirWears, ""},
	"reopenings":   {ofTheirWears, ""},
	"handovers":    {ofTheirWears, ""},
	"calls":        {ofTheirWears, ""},
	"added_events": {ofTheirWears, ""},
	"overrides":    {ofTheirWears, ""},
	"words_read":   {ofTheirWears, ""},
	"red_flags":    {ofTheirWears, ""},
	"contacts":     {"patient_id = ?1", ""},
	"notes":        {"patient_id = ?1", ""},
	"letters":      {"patient_id = ?1", ""},
	"recalls":      {"patient_id = ?1", ""},
	"results":      {"patient_id = ?1", ""},
	"statements":   {"patient_id = ?1", ""},
	"moves":        {"from_patient = ?1 OR to_patient = ?1", "from_patient to_patient results named"},
	"merges":       {"kept = ?1 OR dropped = ?1", ""},
	"files":        {"id IN (" + theirFiles + ")", "questions"}, // a question may name others
	"drops":        {"file_id IN (" + theirOwnFiles + ")", ""},
	"answers":      {"file_id IN (" + theirOwnFiles + ")", ""},
	"past":         {"patient_id = ?1 OR " + ofTheirWears, ""},
	"audit":        {"object = 'patient' AND object_id = ?1 OR object = 'wear' AND object_id IN (" + theirWears + ")", "prev mac"},
	"drafts": {`page = '/patients/' || ?1 OR page LIKE '/patients/' || ?1 || '/%'
		OR EXISTS (SELECT * FROM wears w WHERE w.patient_id = ?1 AND (page = '/wears/' || w.id OR page LIKE '/wears/' || w.id || '/%'))`, ""},
}

const (
	theirWears   = "SELECT id FROM wears WHERE patient_id = ?1"
	ofTheirWears = "wear_id IN (" + theirWears + ")"
	theirFiles   = `SELECT id FROM files WHERE patient_id = ?1 UNION SELECT file_id FROM file_wears WHERE ` + ofTheirWears + `
		UNION SELECT file_id FROM statements WHERE patient_id = ?1`
	// Files that brought others something too are left out.
	theirOwnFiles = `SELECT id FROM files f WHERE id IN (` + theirFiles + `)
		AND NOT EXISTS (SELECT * FROM file_wears JOIN wears w ON w.id = wear_id WHERE file_id = f.id AND w.patient_id <> ?1)
		AND NOT EXISTS (SELECT * FROM statements s WHERE s.file_id = f.id AND s.patient_id IS NOT ?1)`
)

// notPersonal are the tables that hold nothing of a patient, each with what it
// holds.
var notPersonal = map[string]string{
	"data_version": "a counter", "beats": "the worker's sign of life", "jobs": "when scheduled jobs ran", "migrations": "steps of the schema",
	"seals": "sums over rows", "seal_root": "the sum over those", "audit_head": "the end of the log", "damage": "which seals did not fit",
	"users": "people at work", "recovery_codes": "their second factor", "factor_steps": "likewise", "setup_token": "the first sign-in", "sessions": "sign-ins",
	"signin_failures": "failed ones", "signin_places": "where from", "tokens": "programs", "posts": "which posts were done", "saved_filters": "views of the round",
	"settings": "of the practice", "letter_templates": "texts of the practice", "recipes": "how layouts are read", "sheets": "who signed a routine sheet when",
	"kept_audits": "counts of a year", "protocols": "limits of the practice",
	"wear_prints": "hashes of readings, by which copies are found",
}

// PersonRow is one row that is held of a patient.
type PersonRow struct {
	Table   string
	Columns []string
	Values  []any // as the database has them
}

// PersonRows calls f with every row that is held of a patient, table by table.
// What stands in packed form or may speak of others is left out; see personal.
func (s *Store) PersonRows(ctx context.Context, patientID int64, f func(PersonRow) error) error {
	return s.read(ctx, "read all that is held of a patient", func(t *sql.Tx) error {
		rows, err := t.QueryContext(ctx, `SELECT t.name, c.name FROM pragma_table_list t, pragma_table_info(t.name) c
			WHERE t.schema = 'main' AND t.type = 'table' AND t.name NOT LIKE 'sqlite_%' ORDER BY t.name, c.cid`)
		var tables []string
		columns := map[string][]string{}
		err = each(rows, err, func(rows *sql.Rows) error {
			var table, column string
			err := rows.Scan(&table, &column)
			if columns[table] == nil {
				tables = append(tables, table)
			}
			columns[table] = append(columns[table], column)
			return err
		})
		if err != nil {
			return err
		}
		for _, table := range tables {
			p, ok := personal[table]
			if !ok {
				if notPersonal[table] == "" {
					return fmt.Errorf("nothing says whether the table %s holds something of a patient", table)
				}
				continue
			}
			var names []string
			for _, c := range columns[table] {
				if !strings.Contains(" "+p.without+" ", " "+c+" ") {
					names = append(names, c)
				}
			}
			if err := personRows(ctx, t, PersonRow{Table: table, Columns: names}, p.where, patientID, f); err != nil {
				return err
			}
		}
		return nil
	})
}

func personRows(ctx context.Context, t *sql.Tx, row PersonRow, where string, patientID int64, f func(PersonRow) error) error {
	quoted := `"` + strings.Join(row.Columns, `", "`) + `"`
	rows, err := t.QueryContext(ctx, "SELECT "+quoted+" FROM "+row.Table+" WHERE "+where, patientID)
	return each(rows, err, func(rows *sql.Rows) error {
		row.Values = make([]any, len(row.Columns))
		to := make([]any, len(row.Columns))
		for i := range to {
			to[i] = &row.Values[i]
		}
		if err := rows.Scan(to...); err != nil {
			return err
		}
		return f(row)
	})
}

// OwnFiles gives the hashes of the files that brought something of a patient and
// of nobody else, in the order in which they came.
func (s *Store) OwnFiles(ctx context.Context, patientID int64) ([]string, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT sha256 FROM files WHERE id IN ("+theirOwnFiles+") ORDER BY id", patientID)
	list, err := collect(rows, err, func(rows *sql.Rows) (hash string, err error) { return hash, rows.Scan(&hash) })
	return list, fail("list a patient's files", err)
}

// RecordExport logs that something of a patient, or of the whole practice (0),
// left in an open format. Staff only; the practice, by its lead or the program.
func (s *Store) RecordExport(ctx context.Context, patientID int64, what string) error {
	allowed, on := staff, onPatient(patientID)
	if patientID == 0 {
		allowed, on = leads, onData
	}
	return s.actAs(ctx, allowed, "export", on, func(t *tx) error { return t.log(ctx, on, what) })
}
