package store

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"time"

	"wearround/worker/wear"
)

// SheetUndoTime is how long whoever signed a sheet can take it or a line of it
// back.
const SheetUndoTime = 10 * time.Minute

// Sheet is the routine wears that may be told all is well, in the order of the
// round, and what keeps the others off it.
type Sheet struct {
	Rows    []Wear
	Ready   int            // wears that may be on a sheet, with those beyond the rows
	Against map[string]int // routine wears that may not be on it, by the code of the first reason
	Taken   int            // with somebody else, or to be tried again later
}

// RoutineSheet gives the first wears of the round, up to limit, of which a
// patient may be told that all is well ([wear.MayReassure]) and that nobody but
// the actor works on.
func (s *Store) RoutineSheet(ctx context.Context, a Actor, now time.Time, limit int) (Sheet, error) {
	sheet, by := Sheet{Against: map[string]int{}}, s.judging.Load()
	type line struct {
		id, due int64
		score   float64
	}
	var list []line
	err := s.read(ctx, "read the routine sheet", func(t *sql.Tx) error {
		rows, err := t.QueryContext(ctx, waiting+`SELECT wears.id, due_at, score, ledger, `+mayChange+`, `+besides+`, claimed_by <> ?1 AND claimed_until > ?2 OR `+handed+` <> '', coalesce(next_try, 0) > ?2
			FROM wears JOIN reports ON wear_id = wears.id WHERE open = 1 AND tier = ?3`, a.UserID, now.Unix(), wear.Routine)
		return each(rows, err, func(rows *sql.Rows) error {
			var x line
			var l ledger
			var taken sql.NullBool
			var waits, later bool
			var now aroundScan
			if err := rows.Scan(slices.Concat([]any{&x.id, &x.due, &x.score, into(&l), &waits}, now.besides(), []any{&taken, &later})...); err != nil {
				return err
			}
			switch {
			case taken.Bool || later:
				sheet.Taken++
			case waits:
				sheet.Against[wear.ReasonWaiting]++
			case now.doubt:
				sheet.Against[wear.ReasonRecipe]++
			case now.refused:
				sheet.Against[wear.ReasonRefused]++
			case now.basis != by.hash:
				sheet.Against[wear.ReasonAnew]++
			case len(now.others) > 0:
				sheet.Against[wear.ReasonOther]++
			case len(now.kinds) > 0:
				sheet.Against[wear.ReasonAwaited]++
			case len(l.Against) > 0:
				sheet.Against[l.Against[0]]++
			default:
				list = append(list, x)
			}
			return nil
		})
	})
	if err != nil {
		return sheet, err
	}
	slices.SortFunc(list, func(p, q line) int {
		return cmp.Or(cmp.Compare(p.due, q.due), cmp.Compare(q.score, p.score), cmp.Compare(p.id, q.id))
	})
	for _, x := range list {
		if len(sheet.Rows) == limit {
			break
		}
		w, err := s.Wear(ctx, x.id)
		if err != nil {
			return sheet, err
		}
		if ok, why := wear.MayReassure(w.Report); !ok { // a ledger of an older release
			sheet.Against[why[0].Code]++
			continue
		}
		sheet.Rows = append(sheet.Rows, w)
	}
	sheet.Ready = len(list)
	return sheet, nil
}

// SheetLine is a wear on a sheet that was read and signed.
type SheetLine struct {
	WearID   int64
	Evidence int64     // as it stood on the sheet: on no other is the patient told
	Letter   NewLetter // its WearID and PatientID are not read
}

// SignedLine is what became of a line.
type SignedLine struct {
	WearID    int64
	OutcomeID int64
	Refused   string // why it was left on the round, a plain sentence, or ""
}

// SignSheet tells, for each line, that all is well: an outcome, a letter that is
// sent by post, and a line in the log, together or not at all, and only where
// the evidence is what was on the sheet and lets it. A line that is refused
// stays on the round and keeps no other from being signed.
func (s *Store) SignSheet(ctx context.Context, a Actor, lines []SheetLine) (id int64, out []SignedLine, err error) {
	if len(lines) == 0 {
		return 0, nil, invalid("Read at least one line, and mark it as read, before you sign.")
	}
	err = s.act(ctx, a, staff, "sign a sheet", onData, func(t *tx) error {
		err := t.QueryRowContext(ctx, "INSERT INTO sheets (made_by, made_at) VALUES (?, ?) RETURNING id", a.UserID, t.now).Scan(&id)
		if err != nil {
			return err
		}
		return t.log(ctx, target{"sheet", id}, "")
	})
	if err != nil {
		return 0, nil, err
	}
	for _, l := range lines {
		done := SignedLine{WearID: l.WearID}
		done.OutcomeID, err = s.tellWell(ctx, a, id, l)
		switch CodeOf(err) {
		case Invalid, Conflict, Forbidden, NotFound:
			done.Refused = Words(err)
		default:
			if err != nil {
				return id, out, err
			}
		}
		out = append(out, done)
	}
	return id, out, nil
}

func (s *Store) tellWell(ctx context.Context, a Actor, sheet int64, l SheetLine) (outcome int64, err error) {
	rule, _ := RuleOf(ToldWell)
	if err := checkLetter(l.Letter.Kind, l.Letter.Text); err != nil {
		return 0, err
	}
	err = s.act(ctx, a, staff, "record an outcome", onWear(l.WearID), func(t *tx) error {
		var patient, evidence int64
		var open, taken bool
		var tier wear.Tier
		err := t.QueryRowContext(ctx, `SELECT patient_id, evidence, open, tier, coalesce(claimed_by, 0) NOT IN (0, ?2) AND claimed_until > ?3 OR `+handed+` <> ''
			FROM wears WHERE id = ?1 AND joined_into IS NULL`, l.WearID, a.UserID, t.now).Scan(&patient, &evidence, &open, &tier, &taken)
		switch {
		case err != nil:
			return err
		case !open:
			return conflict("This wear has left the round meanwhile.")
		case taken:
			return conflict("Somebody else has begun to work on this wear, or it was handed over to them.")
		case evidence != l.Evidence || tier != wear.Routine:
			return conflict("Something about this wear has changed since the sheet was made. Look at it again.")
		}
		at, err := t.standing(ctx, l.WearID)
		if err != nil {
			return err
		}
		if ok, why := wear.MayReassure(at.report); !ok { // on a sheet not even a clinician decides otherwise
			return conflict("%s", why[0].Text)
		}
		n := l.Letter
		n.PatientID = patient
		if err := t.stillNamed(ctx, &n); err != nil {
			return err
		}
		made, err := t.saveOutcome(ctx, NewOutcome{WearID: l.WearID, Kind: ToldWell, Seen: l.Evidence}, rule, 0)
		if err != nil {
			return err
		}
		outcome = made.ID
		if _, err := t.ExecContext(ctx, "UPDATE outcomes SET sheet_id = ? WHERE id = ?", sheet, outcome); err != nil {
			return err
		}
		_, err = t.ExecContext(ctx, `INSERT INTO letters (patient_id, wear_id, kind, template, protocol, text, opened_by, opened_at, sent_by, sent_at, how, outcome_id, evidence, named, version)
			VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?7, ?8, ?9, ?10, ?11, ?12, ?13)`,
			patient, l.WearID, n.Kind, n.Template, n.Protocol, n.Text, a.UserID, t.now, ByPost, outcome, l.Evidence, n.Named, t.version)
		if err != nil {
			return err
		}
		return t.log(ctx, onWear(l.WearID), n.Kind)
	})
	return outcome, err
}

// SignedSheet is a sheet that was signed.
type SignedSheet struct {
	ID    int64
	By    Person
	At    time.Time
	Lines []SignedWear
}

// SignedWear is a line of it.
type SignedWear struct {
	Outcome WearOutcome
	Patient Patient
}

// SignedSheet gives a sheet that was signed.
func (s *Store) SignedSheet(ctx context.Context, id int64) (SignedSheet, error) {
	var x SignedSheet
	var at int64
	err := s.read(ctx, "read a sheet", func(t *sql.Tx) error {
		err := t.QueryRowContext(ctx, "SELECT sheets.id, users.id, users.name, made_at FROM sheets JOIN users ON users.id = made_by WHERE sheets.id = ?", id).
			Scan(&x.ID, &x.By.ID, &x.By.Name, &at)
		if err != nil {
			return err
		}
		rows, err := t.QueryContext(ctx, "SELECT "+outcomeColumns+" WHERE sheet_id = ? ORDER BY outcomes.id", id)
		list, err := collect(rows, err, func(rows *sql.Rows) (WearOutcome, error) { return scanOutcome(rows) })
		for _, o := range list {
			line := SignedWear{Outcome: o}
			err := t.QueryRowContext(ctx, "SELECT "+patientColumns+" FROM patients WHERE id = (SELECT patient_id FROM wears WHERE id = ?)", o.WearID).
				Scan(line.Patient.targets()...)
			if err != nil {
				return err
			}
			x.Lines = append(x.Lines, line)
		}
		return err
	})
	x.At = fromUnix(at)
	return x, err
}

// UndoSheet takes lines of a sheet back, or all that stand where no outcome is
// named: the wears are on the round again and their letters do not go. It works
// for [SheetUndoTime], for whoever signed. It gives how many came back; a line
// that does not stand alone any more is left.
func (s *Store) UndoSheet(ctx context.Context, a Actor, sheetID int64, outcomes ...int64) (undone int, err error) {
	sheet, err := s.SignedSheet(ctx, sheetID)
	if err != nil {
		return 0, err
	}
	for _, l := range sheet.Lines {
		o := l.Outcome
		if len(outcomes) > 0 && !slices.Contains(outcomes, o.ID) || !o.InForce() {
			continue
		}
		err := s.undoLine(ctx, a, sheet, o)
		if code := CodeOf(err); code == Conflict && len(outcomes) == 0 {
			continue
		}
		if err != nil {
			return undone, err
		}
		undone++
	}
	return undone, nil
}

func (s *Store) undoLine(ctx context.Context, a Actor, sheet SignedSheet, o WearOutcome) error {
	return s.act(ctx, a, staff, "undo an outcome", onWear(o.WearID), func(t *tx) error {
		o, err := scanOutcome(t.QueryRowContext(ctx, "SELECT "+outcomeColumns+" WHERE outcomes.id = ?", o.ID))
		if err != nil {
			return err
		}
		var open, posted bool
		err = t.QueryRowContext(ctx, `SELECT (SELECT open FROM wears WHERE id = ?1),
			EXISTS (SELECT * FROM letters WHERE outcome_id = ?2 AND posted_at IS NOT NULL AND discarded_at IS NULL)`, o.WearID, o.ID).Scan(&open, &posted)
		switch {
		case err != nil:
			return err
		case sheet.By.ID != a.UserID:
			return forbidden("Only the person who signed a sheet can take it back. Correct the outcome of the wear instead.")
		case t.now > sheet.At.Unix()+int64(SheetUndoTime/time.Second):
			return conflict("It is too late to take this back. Correct the outcome of the wear instead.")
		case !o.InForce() || open || o.Corrects != 0:
			return conflict("This line does not stand alone any more. Look at the wear, and correct its outcome instead.")
		case posted:
			return conflict("The letter is in the post. Correct the outcome of the wear instead, and write again.")
		}
		if _, err := t.ExecContext(ctx, "UPDATE outcomes SET undone_at = ? WHERE id = ?", t.now, o.ID); err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "UPDATE letters SET discarded_at = ? WHERE outcome_id = ?", t.now, o.ID); err != nil {
			return err
		}
		if err := t.changeWear(ctx, o.WearID); err != nil {
			return err
		}
		if err := t.settle(ctx, o.WearID); err != nil {
			return err
		}
		return t.log(ctx, onWear(o.WearID), string(o.Kind))
	})
}
