package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"hash/fnv"
	"slices"

	"wearround/store/pack"
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
// The reports are made before the transaction, from what is in force then; what
// changed meanwhile is judged again inside it. A wear that is joined with an
// existing one keeps the time it was first received.
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
	made, err := s.foresee(ctx, &f, packed)
	if err != nil {
		return 0, nil, err
	}
	state := Filed
	if len(f.Questions) > 0 {
		state = Held
	}
	err = s.write(ctx, "file a wear", func(t *tx) error {
		wearIDs = nil
		if f.By != nil && f.By != t.by.Protocol {
			return ErrStale
		}
		var received int64
		fileID, received, err = t.saveFile(ctx, fileEntry{
			drop: f.Drop, sha256: f.SHA256, state: state, layout: f.Layout, questions: f.Questions, decisions: f.Decisions,
			patientID: f.PatientID, rows: f.Rows, skipped: f.Skipped, answered: f.Answered, account: f.Account,
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
		patients, err := t.concerned(ctx, &f)
		if err != nil {
			return err
		}
		for i := range f.Wears {
			id, err := t.saveWear(ctx, &f.Wears[i], packed[i], f.patient(i), fileID, received)
			if err != nil {
				return err
			}
			if err := t.judge(ctx, id, made); err != nil {
				return err
			}
			wearIDs = append(wearIDs, id)
		}
		return t.followed(ctx, patients, wearIDs)
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
		if len(w.Readings) == 0 {
			return invalid("A wear without readings cannot be filed.")
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
	days   []packedDay
	prints []int64
	events []byte
	trace  int64 // hash of readings and events
}

type packedDay struct {
	day  int64
	blob []byte
}

func packWear(w *WearFiling) (p packedWear, err error) {
	for rest := w.Readings; len(rest) > 0; {
		day := pack.DayOf(rest[0].At)
		n := 1
		for n < len(rest) && pack.DayOf(rest[n].At) == day {
			n++
		}
		blob, err := pack.Day(day, rest[:n])
		if err != nil {
			return p, invalid("A reading has a time or a value that cannot be stored.")
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
	h := fnv.New64a()
	for i, d := range p.days {
		h.Write(d.blob) // plain, so that the trace is the same however it is stored
		if p.days[i].blob, err = pack.Squeeze(d.blob); err != nil {
			return p, err
		}
	}
	p.trace, err = hashOf(h.Sum64(), events)
	return p, err
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
// links it to the file. Its report is still to be made; see judge.
func (t *tx) saveWear(ctx context.Context, w *WearFiling, p packedWear, patientID, fileID, received int64) (id int64, err error) {
	first, last := w.Readings[0].At, w.Readings[len(w.Readings)-1].At
	if id = w.WearID; id == 0 {
		err = t.QueryRowContext(ctx, `INSERT INTO wears (patient_id, sensor_kind, first_at, last_at, readings, received_at, due_at, open, tier, score, changed)
			VALUES (?1, '', ?2, ?3, 0, ?4, ?4, 1, ?5, 0, ?6) RETURNING id`, patientID, first, last, received, wear.CannotTell, t.version).Scan(&id)
		if err != nil {
			return 0, err
		}
	} else if received, err = t.retireAll(ctx, w, patientID, received); err != nil {
		return 0, err
	}
	_, err = t.ExecContext(ctx, "UPDATE wears SET patient_id = ?, sensor_kind = ?, first_at = ?, last_at = ?, readings = ?, trace = ?, received_at = ? WHERE id = ?",
		patientID, w.SensorKind, first, last, len(w.Readings), p.trace, received, id)
	if err != nil {
		return 0, err
	}
	if _, err := t.ExecContext(ctx, "INSERT INTO reports (wear_id, engine, protocol, ledger, report, events) VALUES (?, '', '', '{}', x'', ?)", id, p.events); err != nil {
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
	if err := t.link(ctx, fileID, id, w.New, w.Same, w.Conflicts); err != nil {
		return 0, err
	}
	if err := t.followZone(ctx, id); err != nil {
		return 0, err
	}
	return id, t.log(ctx, onWear(id), "")
}

// followed sees to what depends on which wears a patient has: recalls for
// another wear; and the other wears, whose notes about the patient may be the
// new one's now, and for which the newest stands.
func (t *tx) followed(ctx context.Context, patients, filed []int64) error {
	for _, patientID := range patients {
		if err := t.recallWears(ctx, patientID); err != nil {
			return err
		}
		ids, err := t.wearsOf(ctx, patientID)
		if err != nil {
			return err
		}
		for _, id := range ids {
			if slices.Contains(filed, id) {
				continue
			}
			if err := t.rejudge(ctx, id, nil, nil); err != nil {
				return err
			}
		}
	}
	return nil
}

// concerned are the patients whose wears are filed, and those whose they were
// until now.
func (t *tx) concerned(ctx context.Context, f *Filing) ([]int64, error) {
	var ids, there []int64
	for i := range f.Wears {
		ids = append(ids, f.patient(i))
		there = append(append(there, f.Wears[i].WearID), f.Wears[i].Absorbs...)
	}
	list, err := text(there)
	if err != nil {
		return nil, err
	}
	rows, err := t.QueryContext(ctx, "SELECT patient_id FROM wears WHERE id IN (SELECT value FROM json_each(?))", list)
	owners, err := collect(rows, err, scanID)
	ids = append(ids, owners...)
	slices.Sort(ids)
	return slices.Compact(ids), err
}

// retireAll takes away the contents of the wears that one takes the place of,
// and gives when the first of them was received, whose first tier holds.
func (t *tx) retireAll(ctx context.Context, w *WearFiling, patientID, received int64) (int64, error) {
	first := wear.Tier("")
	for i, id := range append([]int64{w.WearID}, w.Absorbs...) {
		at, tier, err := t.retire(ctx, w, id, patientID)
		if err != nil {
			return 0, err
		}
		if i == 0 || at < received {
			first = tier
		}
		received = min(received, at)
	}
	_, err := t.ExecContext(ctx, "UPDATE wears SET first_tier = ? WHERE id = ?", first, w.WearID)
	return received, err
}

// retire takes the contents of an existing wear away, to be replaced by those
// of w. It gives when it was received and its first tier.
func (t *tx) retire(ctx context.Context, w *WearFiling, id, patientID int64) (received int64, first wear.Tier, err error) {
	var owner int64
	err = t.QueryRowContext(ctx, "SELECT patient_id, received_at, first_tier FROM wears WHERE id = ? AND joined_into IS NULL", id).
		Scan(&owner, &received, &first)
	if errors.Is(err, sql.ErrNoRows) || err == nil && owner != patientID && !w.Moves {
		return 0, "", ErrStale // joined or moved meanwhile
	}
	if err != nil {
		return 0, "", err
	}
	for _, table := range []string{"reports", "wear_days", "wear_flags", "wear_prints"} {
		if _, err := t.ExecContext(ctx, "DELETE FROM "+table+" WHERE wear_id = ?", id); err != nil {
			return 0, "", err
		}
	}
	if owner != patientID {
		if err := t.moveWear(ctx, id, owner, patientID, "by the answer about its file", false); err != nil {
			return 0, "", err
		}
	}
	if into := w.WearID; id != into {
		if err := t.moveLinks(ctx, id, into); err != nil {
			return 0, "", err
		}
		if err := t.carryOver(ctx, id, into); err != nil {
			return 0, "", err
		}
		if _, err := t.ExecContext(ctx, "UPDATE wears SET open = 0, joined_into = ?, changed = ? WHERE id = ?", into, t.version, id); err != nil {
			return 0, "", err
		}
	}
	return received, first, nil
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
