package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"slices"

	"wearround/worker/wear"
)

// File saves everything that a readable file brings in one transaction: the
// file, the look at it, its wears with readings, events, report and flags.
// Either all of it is there afterwards or none. A file that was held or
// refused before becomes filed. It gives the ids of the wears in the order of
// f.Wears. The recipe that the file was read by is linked, or made; see
// [Learned].
//
// Bytes that are filed already give [ErrKnown], and so does every caller but
// one where several file the same bytes at once. [ErrStale] means that the
// work must be done again from the start.
//
// A wear that is joined with an existing one keeps the time it was first
// received. Its due time is never put off by more data, but moves forward
// where the new report is more pressing.
func (s *Store) File(ctx context.Context, f Filing) (fileID int64, wearIDs []int64, err error) {
	if err := f.check(); err != nil {
		return 0, nil, err
	}
	packed := make([]packedWear, len(f.Wears))
	for i := range f.Wears { // before the transaction, which holds everybody else up
		if packed[i], err = packWear(&f.Wears[i]); err != nil {
			return 0, nil, fail("pack a wear", err)
		}
	}
	err = s.write(ctx, "file a wear", func(t *tx) error {
		var received int64
		fileID, received, err = t.saveFile(ctx, fileEntry{
			drop: f.Drop, sha256: f.SHA256, state: Filed, layout: f.Layout, decisions: f.Decisions,
			patientID: f.PatientID, rows: f.Rows, skipped: f.Skipped, answered: f.Answered,
		})
		if err != nil {
			return err
		}
		if err := t.follow(ctx, &f, fileID); err != nil {
			return err
		}
		if err := t.unfile(ctx, &f, fileID); err != nil {
			return err
		}
		for i := range f.Wears {
			if err := t.stillThere(ctx, f.patient(i)); err != nil {
				return err
			}
			if err := t.unlike(ctx, f.patient(i), packed[i].prints, f.Compared); err != nil {
				return err
			}
		}
		for i := range f.Wears {
			id, err := t.saveWear(ctx, &f.Wears[i], packed[i], f.patient(i), fileID, received)
			if err != nil {
				return err
			}
			wearIDs = append(wearIDs, id)
		}
		return nil
	})
	if err != nil {
		return fileID, nil, err
	}
	return fileID, wearIDs, nil
}

// check refuses what could not be read back as it was meant.
func (f *Filing) check() error {
	if err := checkHash(f.SHA256); err != nil {
		return err
	}
	if len(f.Wears) == 0 {
		return invalid("A file without a wear cannot be filed.")
	}
	used := map[int64]bool{}
	for i := range f.Wears {
		w := &f.Wears[i]
		if f.patient(i) == 0 {
			return invalid("A file can only be filed for a patient.")
		}
		if w.Report == nil || len(w.Readings) == 0 {
			return invalid("A wear without readings or without a report cannot be filed.")
		}
		if !slices.IsSortedFunc(w.Readings, func(a, b wear.Reading) int { return cmp.Compare(a.At, b.At) }) {
			return invalid("The readings of a wear must be in time order.")
		}
		if w.WearID == 0 && len(w.Absorbs) > 0 {
			return invalid("Only a wear that is there already can take in another.")
		}
		for _, id := range append([]int64{w.WearID}, w.Absorbs...) {
			if id != 0 && used[id] {
				return invalid("Two parts of one file cannot replace the same wear.")
			}
			used[id] = true
		}
	}
	return nil
}

// patient is whose the ith wear is.
func (f *Filing) patient(i int) int64 { return cmp.Or(f.Wears[i].PatientID, f.PatientID) }

// packedWear is a wear in its stored form.
type packedWear struct {
	days           []packedDay
	prints         []int64
	report, events []byte
	ledger         string
}

type packedDay struct {
	day  int64
	blob []byte
}

func packWear(w *WearFiling) (p packedWear, err error) {
	for rest := w.Readings; len(rest) > 0; {
		day := dayOf(rest[0].At)
		n := 1
		for n < len(rest) && dayOf(rest[n].At) == day {
			n++
		}
		blob, err := pack(nil, day, rest[:n])
		if err != nil {
			return p, err
		}
		p.days = append(p.days, packedDay{day, blob})
		rest = rest[n:]
	}
	events := make([]storedEvent, len(w.Events))
	for i, e := range w.Events {
		events[i] = storeEvent(e)
	}
	if p.events, err = deflate(events); err != nil {
		return p, err
	}
	p.prints = prints(w.Readings)
	p.report, p.ledger, err = packReport(w.Report)
	return p, err
}

func packReport(r *wear.Report) (whole []byte, short string, err error) {
	if whole, err = deflate(r); err != nil {
		return nil, "", err
	}
	short, err = text(ledgerOf(r))
	return whole, short, err
}

// unfile takes away the links of a file that is filed again. The wears that it
// brought before must all be among those that are replaced now, so that none
// keeps readings that the file no longer gives.
func (t *tx) unfile(ctx context.Context, f *Filing, fileID int64) error {
	replaced := map[int64]bool{}
	for i := range f.Wears {
		replaced[f.Wears[i].WearID] = true
		for _, id := range f.Wears[i].Absorbs {
			replaced[id] = true
		}
	}
	rows, err := t.QueryContext(ctx, "DELETE FROM file_wears WHERE file_id = ? RETURNING wear_id", fileID)
	return each(rows, err, func(rows *sql.Rows) error {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return err
		}
		if !replaced[id] {
			return ErrStale
		}
		return nil
	})
}

// saveWear inserts a wear, or replaces the one that it was joined with, and
// links it to the file.
func (t *tx) saveWear(ctx context.Context, w *WearFiling, p packedWear, patientID, fileID, received int64) (id int64, err error) {
	priority := w.Report.Priority
	due := received + int64(priority.DueDays)*daySeconds
	first, last := w.Readings[0].At, w.Readings[len(w.Readings)-1].At
	if w.WearID == 0 {
		err = t.QueryRowContext(ctx, `INSERT INTO wears
			(patient_id, sensor_kind, first_at, last_at, readings, doubted, received_at, due_at, open, tier, first_tier, score, changed)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, 1, ?9, ?9, ?, ?) RETURNING id`,
			patientID, w.SensorKind, first, last, len(w.Readings), w.Report.Doubted(), received, due, priority.Tier, priority.Score, t.version).Scan(&id)
		if err != nil {
			return 0, err
		}
		if err := t.newWear(ctx, patientID, id, first); err != nil {
			return 0, err
		}
	} else {
		id = w.WearID
		for _, old := range append([]int64{id}, w.Absorbs...) {
			if received, due, err = t.retire(ctx, w, old, patientID, received, due); err != nil {
				return 0, err
			}
		}
		// What was closed opens again when it has something new to look at.
		_, err = t.ExecContext(ctx, `UPDATE wears SET patient_id = ?, stale = 0, sensor_kind = ?, first_at = ?, last_at = ?, readings = ?, doubted = ?,
			received_at = ?, due_at = ?, open = max(open, ?), tier = ?, score = ?, changed = ? WHERE id = ?`,
			patientID, w.SensorKind, first, last, len(w.Readings), w.Report.Doubted(), received, due, w.New > 0, priority.Tier, priority.Score, t.version, id)
		if err != nil {
			return 0, err
		}
		if p.events, err = t.ownEvents(ctx, id, w.Events, p.events); err != nil {
			return 0, err
		}
	}
	if _, err := t.ExecContext(ctx, "INSERT INTO reports (wear_id, engine, protocol, ledger, report, events) VALUES (?, ?, ?, ?, ?, ?)",
		id, w.Report.Engine, w.Report.Protocol, p.ledger, p.report, p.events); err != nil {
		return 0, err
	}
	err = insert(ctx, t, "INSERT INTO wear_days (wear_id, day, readings) VALUES (?, ?, ?)", p.days, func(_ int, d packedDay) []any {
		return []any{id, d.day, d.blob}
	})
	if err != nil {
		return 0, err
	}
	err = insert(ctx, t, "INSERT OR IGNORE INTO wear_prints (print, wear_id) VALUES (?, ?)", p.prints, func(_ int, print int64) []any {
		return []any{print, id}
	})
	if err != nil {
		return 0, err
	}
	if err := t.saveFlags(ctx, id, w.Report.Flags); err != nil {
		return 0, err
	}
	if err := t.link(ctx, fileID, id, w.New, w.Same, w.Conflicts); err != nil {
		return 0, err
	}
	if err := t.followZone(ctx, id, w.Zone); err != nil {
		return 0, err
	}
	if err := t.outdateFiled(ctx, id); err != nil {
		return 0, err
	}
	return id, t.log(ctx, onWear(id), "")
}

func (t *tx) saveFlags(ctx context.Context, wearID int64, flags []wear.Flag) error {
	return insert(ctx, t, "INSERT INTO wear_flags (wear_id, place, code, tier) VALUES (?, ?, ?, ?)", flags, func(i int, f wear.Flag) []any {
		return []any{wearID, i, f.Code, f.Tier}
	})
}

// retire takes the contents of an existing wear away, to be replaced by those
// of w. It gives the earlier of each of the two times.
func (t *tx) retire(ctx context.Context, w *WearFiling, id, patientID, received, due int64) (int64, int64, error) {
	var owner, hadReceived, hadDue int64
	err := t.QueryRowContext(ctx, "SELECT patient_id, received_at, due_at FROM wears WHERE id = ? AND joined_into IS NULL", id).
		Scan(&owner, &hadReceived, &hadDue)
	if errors.Is(err, sql.ErrNoRows) || err == nil && owner != patientID && !w.Moves {
		return 0, 0, ErrStale // joined or moved meanwhile
	}
	if err != nil {
		return 0, 0, err
	}
	if owner != patientID {
		if err := t.moveFiles(ctx, id, patientID); err != nil {
			return 0, 0, err
		}
		if err := t.moveReview(ctx, id, patientID); err != nil {
			return 0, 0, err
		}
	}
	into := w.WearID
	for _, table := range []string{"reports", "wear_days", "wear_flags", "wear_prints"} {
		if _, err := t.ExecContext(ctx, "DELETE FROM "+table+" WHERE wear_id = ?", id); err != nil {
			return 0, 0, err
		}
	}
	if id != into {
		if err := t.moveLinks(ctx, id, into); err != nil {
			return 0, 0, err
		}
		if err := t.carryOver(ctx, id, into); err != nil {
			return 0, 0, err
		}
		if _, err := t.ExecContext(ctx, "UPDATE wears SET open = 0, joined_into = ?, changed = ? WHERE id = ?", into, t.version, id); err != nil {
			return 0, 0, err
		}
	}
	return min(received, hadReceived), min(due, hadDue), nil
}

// moveFiles makes the files that brought nothing but one wear those of another
// patient.
func (t *tx) moveFiles(ctx context.Context, wearID, patientID int64) error {
	_, err := t.ExecContext(ctx, `UPDATE files SET patient_id = ? WHERE patient_id IS NOT NULL
		AND id IN (SELECT file_id FROM file_wears WHERE wear_id = ?)
		AND id NOT IN (SELECT file_id FROM file_wears WHERE wear_id <> ?)`, patientID, wearID, wearID)
	return err
}

// moveLinks makes the files of one wear those of another.
func (t *tx) moveLinks(ctx context.Context, from, to int64) error {
	if _, err := t.ExecContext(ctx, linkQuery+" SELECT file_id, ?, new, same, conflicts FROM file_wears WHERE wear_id = ?"+linkAgain, to, from); err != nil {
		return err
	}
	_, err := t.ExecContext(ctx, "DELETE FROM file_wears WHERE wear_id = ?", from)
	return err
}

const (
	linkQuery = "INSERT INTO file_wears (file_id, wear_id, new, same, conflicts)"
	linkAgain = " ON CONFLICT (file_id, wear_id) DO UPDATE SET new = new + excluded.new, same = same + excluded.same, conflicts = conflicts + excluded.conflicts"
)

// link records what a file brought to a wear. A wear that only goes on without
// the file is not one of the file's.
func (t *tx) link(ctx context.Context, fileID, wearID int64, added, same, conflicts int) error {
	if added+same+conflicts == 0 {
		return nil
	}
	_, err := t.ExecContext(ctx, linkQuery+" VALUES (?, ?, ?, ?, ?)"+linkAgain, fileID, wearID, added, same, conflicts)
	return err
}

// insert runs one prepared statement for every item.
func insert[T any](ctx context.Context, t *tx, query string, items []T, args func(int, T) []any) error {
	if len(items) == 0 {
		return nil
	}
	stmt, err := t.PrepareContext(ctx, query)
	if err != nil {
		return err
	}
	defer stmt.Close()
	for i, item := range items {
		if _, err := stmt.ExecContext(ctx, args(i, item)...); err != nil {
			return err
		}
	}
	return nil
}
