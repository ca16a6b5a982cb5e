package store

import (
	"context"
	"database/sql"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// The tables whose rows belong to a patient. Those in ofWears name a wear too
// and go with it.
var (
	ofPatients = []string{"wears", "files", "results", "recalls", "contacts", "notes", "letters", "statements"}
	ofWears    = []string{"results", "recalls", "contacts", "notes", "letters"}
)

// lastOf and a table is the newest row there when a merge was made: what came
// before it and is of another than its wear is stays so.
const lastOf = "last "

// Merge makes two entries of one patient one: everything of dropped becomes
// kept's, and dropped's code leads to kept from then on. The entry of kept
// then knows what both knew (see [Together]), and is otherwise as it was. It can be
// undone.
func (s *Store) Merge(ctx context.Context, a Actor, kept, dropped int64, reason string) (id int64, err error) {
	if err := checkReason(reason); err != nil {
		return 0, err
	}
	if kept == dropped {
		return 0, invalid("Choose two different entries.")
	}
	err = s.act(ctx, a, staff, "merge two patients", onPatient(kept), func(t *tx) error {
		var live int
		if err := t.QueryRowContext(ctx, "SELECT count(*) FROM patients WHERE id IN (?, ?) AND merged_into IS NULL", kept, dropped).Scan(&live); err != nil {
			return err
		}
		if live != 2 {
			return conflict("One of these entries is not there any more, or was merged already. Look again.")
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		moved := map[string][]int64{}
		for _, table := range ofPatients {
			rows, err := t.QueryContext(ctx, "UPDATE "+table+" SET patient_id = ? WHERE patient_id = ? RETURNING id", kept, dropped)
			if moved[table], err = collect(rows, err, scanID); err != nil {
				return err
			}
			slices.Sort(moved[table])
		}
		for _, table := range ofWears {
			var last int64
			if err := t.QueryRowContext(ctx, "SELECT coalesce(max(id), 0) FROM "+table).Scan(&last); err != nil {
				return err
			}
			moved[lastOf+table] = []int64{last}
		}
		ids, err := text(moved)
		if err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "UPDATE patients SET merged_into = ?, changed = ? WHERE id = ?", kept, t.version, dropped); err != nil {
			return err
		}
		knew, err := t.know(ctx, kept, dropped)
		if err != nil {
			return err
		}
		if err := t.regroup(ctx, kept); err != nil {
			return err
		}
		if err := t.askWhoseAgain(ctx); err != nil {
			return err
		}
		err = t.QueryRowContext(ctx, "INSERT INTO merges (kept, dropped, reason, moved, knew, made_by, made_at) VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING id",
			kept, dropped, strings.TrimSpace(reason), ids, knew, a.UserID, t.now).Scan(&id)
		if err != nil {
			return err
		}
		if err := t.log(ctx, onPatient(kept), strings.TrimSpace(reason)); err != nil {
			return err
		}
		return t.log(ctx, onPatient(dropped), strings.TrimSpace(reason))
	})
	return id, err
}

// UndoMerge takes a merge back: everything that moved goes back, with what was
// recorded since about the wears that moved, with wears whose files came since
// under the code of the entry that was dropped, and with results and attempts
// that belong to recalls that go back. What was recorded since about the patient
// alone stays with the entry that was kept. It is a [Conflict] once a file has
// joined wears of the two.
func (s *Store) UndoMerge(ctx context.Context, a Actor, mergeID int64, reason string) error {
	if err := checkReason(reason); err != nil {
		return err
	}
	m, err := s.PatientMerge(ctx, mergeID)
	if err != nil {
		return err
	}
	return s.act(ctx, a, staff, "undo a merge", onPatient(m.Kept), func(t *tx) error {
		moved := map[string][]int64{}
		var standing bool
		err := t.QueryRowContext(ctx, `SELECT undone_at IS NULL AND (SELECT merged_into IS NULL FROM patients WHERE id = kept), moved
			FROM merges WHERE id = ?`, mergeID).Scan(&standing, into(&moved))
		if err != nil {
			return err
		}
		if !standing {
			return conflict("This merge was undone already, or the entry was merged again since. Undo the later merge first.")
		}
		lists := map[string]string{}
		for table, ids := range maps.All(moved) {
			if lists[table], err = text(ids); err != nil {
				return err
			}
		}
		var joined bool
		err = t.QueryRowContext(ctx, `SELECT EXISTS (SELECT * FROM wears WHERE joined_into IS NOT NULL AND patient_id = ?1
			AND (id IN (SELECT value FROM json_each(?2))) <> (joined_into IN (SELECT value FROM json_each(?2))))`, m.Kept, lists["wears"]).Scan(&joined)
		if err != nil {
			return err
		}
		if joined {
			return conflict("A file has joined wears of the two entries since, so they cannot be taken apart again.")
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		since, err := t.namedFor(ctx, m)
		if err != nil {
			return err
		}
		back := append(moved["wears"], since...)
		if lists["wears"], err = text(back); err != nil {
			return err
		}
		for _, table := range ofPatients {
			if _, err := t.ExecContext(ctx, "UPDATE "+table+" SET patient_id = ? WHERE patient_id = ? AND id IN (SELECT value FROM json_each(?))",
				m.Dropped, m.Kept, lists[table]); err != nil {
				return err
			}
		}
		for _, table := range ofWears {
			if _, err := t.ExecContext(ctx, "UPDATE "+table+" SET patient_id = ? WHERE patient_id = ? AND wear_id IN (SELECT value FROM json_each(?)) AND id > ?",
				m.Dropped, m.Kept, lists["wears"], append(moved[lastOf+table], 0)[0]); err != nil {
				return err
			}
		}
		if err := t.followRecalls(ctx, m); err != nil {
			return err
		}
		for _, wearID := range back {
			if err := t.moveFiles(ctx, wearID, m.Dropped); err != nil {
				return err
			}
		}
		if _, err := t.ExecContext(ctx, "UPDATE patients SET merged_into = NULL, changed = ? WHERE id = ?", t.version, m.Dropped); err != nil {
			return err
		}
		if err := t.unknow(ctx, m); err != nil {
			return err
		}
		if err := t.regroup(ctx, m.Kept, m.Dropped); err != nil {
			return err
		}
		if err := t.askWhoseAgain(ctx); err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "UPDATE merges SET undone_at = ? WHERE id = ?", t.now, mergeID); err != nil {
			return err
		}
		if err := t.log(ctx, onPatient(m.Kept), strings.TrimSpace(reason)); err != nil {
			return err
		}
		return t.log(ctx, onPatient(m.Dropped), strings.TrimSpace(reason))
	})
}

// namedFor gives the wears filed since a merge whose files all name the entry
// that was dropped, by its code in their path or in somebody's answer.
func (t *tx) namedFor(ctx context.Context, m Merge) ([]int64, error) {
	var kept, dropped string
	err := t.QueryRowContext(ctx, "SELECT (SELECT code FROM patients WHERE id = ?), (SELECT code FROM patients WHERE id = ?)", m.Kept, m.Dropped).Scan(&kept, &dropped)
	if err != nil {
		return nil, err
	}
	theirs, others := map[int64]bool{}, map[int64]bool{}
	rows, err := t.QueryContext(ctx, `SELECT wears.id, coalesce((SELECT value FROM answers WHERE file_id = files.id AND (code = 'patient' OR code LIKE 'person:%') AND value IN (?2, ?3) LIMIT 1),
			(SELECT path FROM drops WHERE file_id = files.id ORDER BY id LIMIT 1), '')
		FROM wears JOIN file_wears ON wear_id = wears.id JOIN files ON files.id = file_id
		WHERE wears.patient_id = ?1 AND joined_into IS NULL AND wears.received_at >= ?4`, m.Kept, kept, dropped, m.At.Unix())
	err = each(rows, err, func(rows *sql.Rows) error {
		var id int64
		var named string
		err := rows.Scan(&id, &named)
		if names(named, dropped) && !names(named, kept) {
			theirs[id] = true
		} else {
			others[id] = true
		}
		return err
	})
	var list []int64
	for id := range theirs {
		if !others[id] {
			list = append(list, id)
		}
	}
	slices.Sort(list)
	return list, err
}

// names reports whether a code stands in a text as a word of its own, whatever
// its case.
func names(text, code string) bool {
	text, code = strings.ToLower(text), strings.ToLower(code)
	inside := func(s string) bool {
		r, _ := utf8.DecodeLastRuneInString(s)
		return s != "" && (unicode.IsLetter(r) || unicode.IsDigit(r))
	}
	for from := 0; ; {
		i := strings.Index(text[from:], code)
		if i < 0 || code == "" {
			return false
		}
		i += from
		after, _ := utf8.DecodeRuneInString(text[i+len(code):])
		if !inside(text[:i]) && !unicode.IsLetter(after) && !unicode.IsDigit(after) {
			return true
		}
		from = i + 1
	}
}

// followRecalls gives the dropped entry what belongs to the recalls that went
// back to it: results that closed them, decisions on those, attempts.
func (t *tx) followRecalls(ctx context.Context, m Merge) error {
	for _, query := range []string{
		"UPDATE results SET patient_id = ?1 WHERE patient_id = ?2 AND id IN (SELECT result_id FROM recalls WHERE patient_id = ?1)",
		"UPDATE recalls SET patient_id = ?1 WHERE patient_id = ?2 AND about_result IN (SELECT id FROM results WHERE patient_id = ?1)",
		"UPDATE contacts SET patient_id = ?1 WHERE patient_id = ?2 AND recall_id IN (SELECT id FROM recalls WHERE patient_id = ?1)",
	} {
		if _, err := t.ExecContext(ctx, query, m.Dropped, m.Kept); err != nil {
			return err
		}
	}
	return nil
}

// regroup works out anew what depends on which rows are a patient's.
func (t *tx) regroup(ctx context.Context, patients ...int64) error {
	for _, id := range patients {
		if err := t.recallWears(ctx, id); err != nil {
			return err
		}
		if err := t.judgePatient(ctx, id); err != nil {
			return err
		}
	}
	return nil
}

const mergeColumns = `merges.id, kept, dropped, reason, users.id, users.name, made_at, coalesce(undone_at, 0)
	FROM merges JOIN users ON users.id = made_by`

func scanMerge(row interface{ Scan(...any) error }) (Merge, error) {
	var m Merge
	var at, undone int64
	err := row.Scan(&m.ID, &m.Kept, &m.Dropped, &m.Reason, &m.By.ID, &m.By.Name, &at, &undone)
	m.At, m.UndoneAt = fromUnix(at), when(undone)
	return m, err
}

// PatientMerge gives one merge.
func (s *Store) PatientMerge(ctx context.Context, id int64) (Merge, error) {
	m, err := scanMerge(s.reader.QueryRowContext(ctx, "SELECT "+mergeColumns+" WHERE merges.id = ?", id))
	return m, fail("read a merge", err)
}

// Merges gives the merges of a patient's entry with others, the newest first.
func (s *Store) Merges(ctx context.Context, patientID int64) ([]Merge, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT "+mergeColumns+" WHERE kept = ?1 OR dropped = ?1 ORDER BY merges.id DESC", patientID)
	list, err := collect(rows, err, func(rows *sql.Rows) (Merge, error) { return scanMerge(rows) })
	return list, fail("read the merges", err)
}
