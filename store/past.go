package store

import (
	"fmt"
	"slices"
	"strings"
)

// pastTables are what an audit reads, each with the columns whose past the
// triggers of the schema keep, in the order in which they keep them; the columns
// that never change; and the time at which a row came to be.
var pastTables = []struct {
	table, key    string
	change, fixed []string
	since         string
}{
	{"wears", "id", []string{"patient_id", "sensor_kind", "first_at", "received_at", "due_at", "open", "readings", "doubted", "first_tier", "joined_into"}, nil, ""},
	{"files", "id", []string{"received_at", "state"}, nil, ""},
	{"outcomes", "id", []string{"wear_id", "undone_at"}, []string{"kind", "made_at", "flags", "corrects"}, "made_at"},
	{"recalls", "id", []string{"patient_id", "wear_id", "state", "due_at", "closed_at", "result_id", "new_wear_id", "given_at"},
		[]string{"kind", "outcome_id", "about_result", "made_at"}, "made_at"},
	{"results", "id", []string{"patient_id", "wear_id", "withdrawn_at"},
		[]string{"kind", "value", "unit", "taken_at", "criteria", "class", "note", "made_by", "made_at"}, "made_at"},
	{"letters", "id", []string{"wear_id", "sent_at", "discarded_at"}, []string{"kind", "opened_at"}, "opened_at"},
	{"contacts", "id", []string{"wear_id"}, []string{"at", "means", "reached"}, "at"},
	{"calls", "id", []string{"wear_id"}, []string{"made_at"}, "made_at"},
	{"judgements", "id", []string{"wear_id"}, []string{"at", "flags"}, "at"},
	{"patients", "id", []string{"birth_date", "context"}, nil, ""},
	{"reports", "wear_id", []string{"ledger"}, nil, ""},
}

// asOf is the beginning of a query that reads those tables as they stood at the
// end of a second: each name stands for what its rows held then.
func asOf(at int64) string {
	var parts []string
	for _, p := range pastTables {
		columns := slices.Concat([]string{p.key}, p.fixed, p.change)
		then := []string{"past.row"}
		for _, c := range p.fixed {
			then = append(then, "now."+c)
		}
		for i := range p.change {
			then = append(then, fmt.Sprintf("was ->> '$[%d]'", i))
		}
		later := fmt.Sprintf("FROM main.past p WHERE p.kind = '%s' AND p.at > %d AND p.row = ", p.table, at)
		there := "TRUE"
		if p.since != "" {
			there = fmt.Sprintf("now.%s <= %d", p.since, at)
		}
		parts = append(parts, fmt.Sprintf(`%[1]s (%[2]s) AS (
			SELECT %[2]s FROM main.%[1]s now WHERE %[3]s AND NOT EXISTS (SELECT * %[4]s now.%[5]s)
			UNION ALL SELECT %[6]s FROM main.past LEFT JOIN main.%[1]s now ON now.%[5]s = past.row
				WHERE past.kind = '%[1]s' AND past.at = (SELECT min(p.at) %[4]s past.row) AND was IS NOT NULL AND %[3]s)`,
			p.table, strings.Join(columns, ", "), there, later, p.key, strings.Join(then, ", ")))
	}
	return "WITH " + strings.Join(parts, ", ") + " "
}
