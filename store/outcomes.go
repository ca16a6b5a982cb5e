package store

import (
	"context"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// UndoTime is how long the person who recorded an outcome can take it back.
const UndoTime = 30 * time.Second

// RecordOutcome ends the work on a wear: the outcome is saved, the wear leaves
// the round, and the recall that the outcome asks for is set; see [Rules]. It
// is the only way by which a wear leaves the round.
//
// The actor must have claimed the wear. It is a [Conflict], which says what is
// different, where the evidence is not what the actor saw.
// Flags that stand leave some outcomes to a clinician, who gives a reason
// ([Rule.Bars]), and [CouldNotReach] needs the attempts and a letter, or a
// clinician.
func (s *Store) RecordOutcome(ctx context.Context, a Actor, o NewOutcome) (WearOutcome, error) {
	rule, err := o.check()
	if err != nil {
		return WearOutcome{}, err
	}
	var made WearOutcome
	err = s.act(ctx, a, staff, "record an outcome", onWear(o.WearID), func(t *tx) error {
		id, err := t.holding(ctx, o.WearID)
		if err != nil {
			return err
		}
		o.WearID = id
		made, err = t.saveOutcome(ctx, o, rule, 0)
		return err
	})
	return made, err
}

func (o *NewOutcome) check() (Rule, error) {
	rule, ok := RuleOf(o.Kind)
	if !ok {
		return Rule{}, invalid("There is no such outcome. Choose one from the list.")
	}
	if rule.Reason && !wear.HasWords(o.Reason) {
		return Rule{}, invalid("%s: %s.", rule.Words, lowerFirst(rule.Asks))
	}
	if err := checkText(o.Reason); err != nil {
		return Rule{}, err
	}
	switch {
	case rule.Recall == "" && !o.Recall.IsZero():
		return Rule{}, invalid("%s: nothing comes back after this, so leave the date out.", rule.Words)
	case rule.Recall != "" && !rule.Optional && o.Recall.IsZero():
		return Rule{}, invalid("%s: give the date by which this must come back.", rule.Words)
	}
	return rule, nil
}

// saveOutcome saves an outcome of a wear with what follows it. corrects is the
// outcome that it puts right, or 0.
func (t *tx) saveOutcome(ctx context.Context, o NewOutcome, rule Rule, corrects int64) (WearOutcome, error) {
	if err := t.seen(ctx, o.WearID, o.Seen, true); err != nil {
		return WearOutcome{}, err
	}
	if corrects == 0 {
		if err := t.awaitsClinician(ctx, o.WearID, o.Kind); err != nil {
			return WearOutcome{}, err
		}
	}
	at, err := t.standing(ctx, o.WearID)
	if err != nil {
		return WearOutcome{}, err
	}
	clinician := slices.Contains(clinicians, t.actor.Role)
	switch why, nobody := rule.Against(at.report); {
	case nobody:
		return WearOutcome{}, conflict("This wear has %s, so nobody can say “%s”. Put that right first.", why, lowerFirst(rule.Words))
	case why != "" && !clinician:
		return WearOutcome{}, forbidden("This wear has %s, so a clinician must decide that this is enough.", why)
	case why != "" && !wear.HasWords(o.Reason):
		return WearOutcome{}, invalid("%s: %s.", rule.Words, lowerFirst(rule.Wants(why)))
	}
	if !o.Recall.IsZero() {
		said, err := t.firstSaid(ctx, corrects, o.Kind)
		if err != nil {
			return WearOutcome{}, err
		}
		if err := t.dated(o.Recall, said, rule.Within(at.tier), "come back", "because the wear is for “"+at.tier.Words()+"”"); err != nil {
			return WearOutcome{}, err
		}
	}
	if o.Kind == CouldNotReach && !clinician {
		if err := t.triedEnough(ctx, o.WearID, o.Attempts); err != nil {
			return WearOutcome{}, err
		}
	}
	flags, err := text(at.flags)
	if err != nil {
		return WearOutcome{}, err
	}
	if err := t.changeWear(ctx, o.WearID); err != nil {
		return WearOutcome{}, err
	}
	var id int64
	err = t.QueryRowContext(ctx, `INSERT INTO outcomes (wear_id, kind, reason, made_by, role, made_at, tier, flags, corrects, evidence, readings, due_at, version)
		SELECT id, ?, ?, ?, ?, ?, tier, ?, nullif(?, 0), evidence, readings, due_at, ? FROM wears WHERE id = ? RETURNING id`,
		o.Kind, strings.TrimSpace(o.Reason), t.actor.UserID, t.actor.Role, t.now, flags, corrects, t.version, o.WearID).Scan(&id)
	if err != nil {
		return WearOutcome{}, err
	}
	if !o.Recall.IsZero() {
		if _, err := t.addRecall(ctx, NewRecall{
			PatientID: at.patient, WearID: o.WearID, Kind: rule.Recall, DueAt: o.Recall, Note: strings.TrimSpace(o.Reason),
		}, id); err != nil {
			return WearOutcome{}, err
		}
	}
	if err := t.settle(ctx, o.WearID); err != nil {
		return WearOutcome{}, err
	}
	if err := t.hear(ctx, 0, o.WearID, o.Reason); err != nil {
		return WearOutcome{}, err
	}
	if err := t.log(ctx, onWear(o.WearID), string(o.Kind)); err != nil {
		return WearOutcome{}, err
	}
	return scanOutcome(t.QueryRowContext(ctx, "SELECT "+outcomeColumns+" WHERE outcomes.id = ?", id))
}

// wearNow is what an outcome depends on.
type wearNow struct {
	patient int64
	tier    wear.Tier
	flags   []string // codes
	report  *wear.Report
}

func (t *tx) standing(ctx context.Context, wearID int64) (wearNow, error) {
	w := wearNow{flags: []string{}}
	err := t.QueryRowContext(ctx, "SELECT patient_id, tier FROM wears WHERE id = ?", wearID).Scan(&w.patient, &w.tier)
	if err != nil {
		return w, err
	}
	if w.report, err = readReport(ctx, t.Tx, wearID); err != nil {
		return w, err
	}
	for _, f := range w.report.Flags {
		w.flags = append(w.flags, f.Code)
	}
	return w, readAround(ctx, t.Tx, t.by, wearID, w.report)
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// triedEnough refuses while attempts or the letter are wanting. Attempts count
// from the last outcome on, so that a wear that came back is tried anew.
func (t *tx) triedEnough(ctx context.Context, wearID int64, needed int) error {
	var tried int
	var written bool
	err := t.QueryRowContext(ctx, `WITH since (at) AS (SELECT coalesce(max(made_at), 0) FROM outcomes WHERE wear_id = ?1 AND undone_at IS NULL)
		SELECT (SELECT count(*) FROM contacts, since WHERE wear_id = ?1 AND reached = 0 AND contacts.at >= since.at),
			EXISTS (SELECT * FROM letters, since WHERE wear_id = ?1 AND sent_at >= since.at)`, wearID).Scan(&tried, &written)
	switch {
	case err != nil:
		return err
	case tried < needed:
		return conflict("%d of %d attempts are recorded. Record this one with a date to try again, or ask a clinician to close it with a reason.", tried, needed)
	case !written:
		return conflict("The attempts are used up. Send the patient a letter first, or ask a clinician to close it with a reason.")
	}
	return nil
}

const outcomeColumns = `outcomes.id, wear_id, kind, reason, users.id, users.name, role, made_at, tier, flags, coalesce(corrects, 0),
	coalesce((SELECT id FROM outcomes later WHERE later.corrects = outcomes.id), 0), coalesce(undone_at, 0)
	FROM outcomes JOIN users ON users.id = made_by`

func scanOutcome(row interface{ Scan(...any) error }) (WearOutcome, error) {
	var o WearOutcome
	var at, undone int64
	err := row.Scan(&o.ID, &o.WearID, &o.Kind, &o.Reason, &o.By.ID, &o.By.Name, &o.Role, &at, &o.Tier, into(&o.Flags), &o.Corrects, &o.CorrectedBy, &undone)
	o.At, o.UndoneAt = fromUnix(at), when(undone)
	return o, err
}

// UndoOutcome takes an outcome back: the wear is on the round again with the
// actor, and the recall that followed is cancelled. It works for [UndoTime],
// for the person who recorded it, while no letter was written; after that see
// [Store.CorrectOutcome].
func (s *Store) UndoOutcome(ctx context.Context, a Actor, outcomeID int64) error {
	o, err := s.WearOutcome(ctx, outcomeID)
	if err != nil {
		return err
	}
	return s.act(ctx, a, staff, "undo an outcome", onWear(o.WearID), func(t *tx) error {
		o, err := scanOutcome(t.QueryRowContext(ctx, "SELECT "+outcomeColumns+" WHERE outcomes.id = ?", outcomeID))
		if err != nil {
			return err
		}
		var letter, moved bool
		err = t.QueryRowContext(ctx, `SELECT EXISTS (SELECT * FROM letters WHERE wear_id = ?1 AND version > (SELECT version FROM outcomes WHERE id = ?2) AND discarded_at IS NULL),
			(SELECT open FROM wears WHERE id = ?1) OR EXISTS (SELECT * FROM recalls WHERE outcome_id = ?2 AND state IN ('contacted', 'done'))`,
			o.WearID, o.ID).Scan(&letter, &moved)
		switch {
		case err != nil:
			return err
		case o.By.ID != a.UserID:
			return forbidden("Only the person who recorded an outcome can take it back. Correct it instead.")
		case !o.InForce() || moved || o.Corrects != 0:
			return conflict("This outcome does not stand alone any more. Look again, and correct it instead.")
		case t.now > o.At.Unix()+int64(UndoTime/time.Second):
			return conflict("It is too late to take this back. Correct it instead.")
		case letter:
			return conflict("A letter was written since. Correct the outcome instead.")
		}
		if _, err := t.ExecContext(ctx, "UPDATE outcomes SET undone_at = ? WHERE id = ?", t.now, o.ID); err != nil {
			return err
		}
		if err := t.cancelRecalls(ctx, o.ID, "the outcome was undone"); err != nil {
			return err
		}
		if err := t.settle(ctx, o.WearID); err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "UPDATE wears SET claimed_by = ?, claimed_until = ? WHERE id = ? AND open = 1",
			a.UserID, t.now+int64(Lease/time.Second), o.WearID); err != nil {
			return err
		}
		if err := t.changeWear(ctx, o.WearID); err != nil {
			return err
		}
		return t.log(ctx, onWear(o.WearID), string(o.Kind))
	})
}

// WearOutcome gives one outcome.
func (s *Store) WearOutcome(ctx context.Context, id int64) (WearOutcome, error) {
	o, err := scanOutcome(s.reader.QueryRowContext(ctx, "SELECT "+outcomeColumns+" WHERE outcomes.id = ?", id))
	return o, fail("read an outcome", err)
}

// CorrectOutcome puts a new outcome in the place of one that was wrong; the old
// one stays, and its open recalls are cancelled. The wear stays off the round;
// see [Store.Reopen].
func (s *Store) CorrectOutcome(ctx context.Context, a Actor, outcomeID int64, o NewOutcome) (WearOutcome, error) {
	rule, err := o.check()
	if err != nil {
		return WearOutcome{}, err
	}
	if !wear.HasWords(o.Reason) {
		return WearOutcome{}, invalid("Say why the outcome is put right.")
	}
	old, err := s.WearOutcome(ctx, outcomeID)
	if err != nil {
		return WearOutcome{}, err
	}
	var made WearOutcome
	err = s.act(ctx, a, staff, "correct an outcome", onWear(old.WearID), func(t *tx) error {
		old, err := scanOutcome(t.QueryRowContext(ctx, "SELECT "+outcomeColumns+" WHERE outcomes.id = ?", outcomeID))
		if err != nil {
			return err
		}
		if !old.InForce() {
			return conflict("This outcome was undone or corrected already. Look again.")
		}
		if o.WearID, err = t.touching(ctx, old.WearID); err != nil {
			return err
		}
		var open bool
		if err := t.QueryRowContext(ctx, "SELECT open FROM wears WHERE id = ?", o.WearID).Scan(&open); err != nil {
			return err
		}
		if open {
			return conflict("This wear is on the round again. Claim it and record a new outcome.")
		}
		if err := t.cancelRecalls(ctx, old.ID, "the outcome was corrected"); err != nil {
			return err
		}
		made, err = t.saveOutcome(ctx, o, rule, old.ID)
		return err
	})
	return made, err
}

// Reopen puts a closed wear back on the round, for a reason that is logged. Its
// outcomes and their recalls stay.
func (s *Store) Reopen(ctx context.Context, a Actor, wearID int64, reason string) error {
	if err := checkReason(reason); err != nil {
		return err
	}
	return s.act(ctx, a, staff, "reopen a wear", onWear(wearID), func(t *tx) error {
		wearID, err := survivor(ctx, t.Tx, wearID)
		if err != nil {
			return err
		}
		r, err := t.ExecContext(ctx, `INSERT INTO reopenings (wear_id, outcome_id, reason, made_by, made_at)
			SELECT wears.id, max(o.id), ?1, ?2, ?3 FROM wears JOIN outcomes o ON o.wear_id = wears.id
			WHERE wears.id = ?4 AND open = 0 AND `+outcomeStands+" GROUP BY wears.id",
			strings.TrimSpace(reason), a.UserID, t.now, wearID)
		if err := one(r, err, conflict("This wear is on the round already.")); err != nil {
			return err
		}
		if err := t.changeWear(ctx, wearID); err != nil {
			return err
		}
		if err := t.settle(ctx, wearID); err != nil {
			return err
		}
		return t.log(ctx, onWear(wearID), strings.TrimSpace(reason))
	})
}
