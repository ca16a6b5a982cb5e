package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"wearround/worker/wear"
)

// Lease is how long a claim lasts unless it is renewed by use.
const Lease = 30 * time.Minute

// leaseGrain is how much of a lease is used up before it is renewed: a nurse at
// work must not make every open screen change at every step.
const leaseGrain = 5 * time.Minute

// TakenError says who has a wear that somebody else asked for; it is the cause
// of a [Conflict]. Its text is for the log and names nobody.
type TakenError struct{ Claim Claim }

// Error is the text for the log.
func (e *TakenError) Error() string {
	return fmt.Sprintf("wear %d is claimed by user %d", e.Claim.WearID, e.Claim.Holder.ID)
}

// Claim gives a wear on the round to the actor for a [Lease], or renews the
// actor's own. Where somebody else has it the [Conflict] says who and for how
// long; see [TakenError].
func (s *Store) Claim(ctx context.Context, a Actor, wearID int64) (Claim, error) {
	var c Claim
	err := s.act(ctx, a, staff, "claim a wear", onWear(wearID), func(t *tx) error {
		var err error
		if wearID, err = survivor(ctx, t.Tx, wearID); err != nil {
			return err
		}
		// One statement decides, so exactly one of many gets it.
		r, err := t.ExecContext(ctx, `UPDATE wears SET claimed_by = ?1, claimed_until = ?2
			WHERE id = ?3 AND open = 1 AND (claimed_by IS NULL OR claimed_until <= ?4 OR claimed_by = ?1)`,
			a.UserID, t.now+int64(Lease/time.Second), wearID, t.now)
		if err := one(r, err, errTaken); errors.Is(err, errTaken) {
			return t.whyNot(ctx, wearID)
		} else if err != nil {
			return err
		}
		c, err = t.claimed(ctx, wearID)
		return err
	})
	return c, err
}

var errTaken = errors.New("not to be had")

// whyNot says why a wear could not be claimed.
func (t *tx) whyNot(ctx context.Context, wearID int64) error {
	if err := t.closed(ctx, wearID); err != nil {
		return err
	}
	c, err := claimOf(ctx, t.Tx, wearID, t.now)
	if err != nil {
		return err
	}
	return taken(c, t.now)
}

// closed refuses work on a wear that has left the round.
func (t *tx) closed(ctx context.Context, wearID int64) error {
	var open bool
	err := t.QueryRowContext(ctx, "SELECT open FROM wears WHERE id = ?", wearID).Scan(&open)
	if err == nil && !open {
		return conflict("This wear has left the round: it has an outcome already.")
	}
	return err
}

// taken is the conflict that names the holder.
func taken(c *Claim, now int64) error {
	left := max(1, (c.Until.Unix()-now+59)/60)
	unit := "minutes"
	if left == 1 {
		unit = "minute"
	}
	return &Error{
		Code: Conflict, cause: &TakenError{*c},
		Public: fmt.Sprintf("%s has this wear for another %d %s. Choose another, or take it over with a reason.", c.Holder.Name, left, unit),
	}
}

// claimOf gives the claim on a wear, or nil.
func claimOf(ctx context.Context, t *sql.Tx, wearID, now int64) (*Claim, error) {
	c := Claim{WearID: wearID}
	var until int64
	err := t.QueryRowContext(ctx, `SELECT users.id, users.name, claimed_until FROM wears JOIN users ON users.id = claimed_by
		WHERE wears.id = ? AND claimed_until > ?`, wearID, now).Scan(&c.Holder.ID, &c.Holder.Name, &until)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	c.Until = fromUnix(until)
	return &c, err
}

// claimed stamps a wear whose claim has changed, and logs it.
func (t *tx) claimed(ctx context.Context, wearID int64) (Claim, error) {
	if err := t.changeWear(ctx, wearID); err != nil {
		return Claim{}, err
	}
	if err := t.takeHandover(ctx, wearID); err != nil {
		return Claim{}, err
	}
	if err := t.log(ctx, onWear(wearID), ""); err != nil {
		return Claim{}, err
	}
	c, err := claimOf(ctx, t.Tx, wearID, t.now)
	if c == nil {
		c = &Claim{}
	}
	return *c, err
}

// changeWear stamps a wear, so that open screens see that it changed.
func (t *tx) changeWear(ctx context.Context, wearID int64) error {
	if err := t.bump(ctx); err != nil {
		return err
	}
	_, err := t.ExecContext(ctx, "UPDATE wears SET changed = ? WHERE id = ?", t.version, wearID)
	return err
}

// RenewClaim renews the actor's claim, as use of the wear's page does, and gives
// it. It is a [Conflict] where the actor has it no more; then nothing changes.
func (s *Store) RenewClaim(ctx context.Context, a Actor, wearID int64) (Claim, error) {
	var c *Claim
	err := s.act(ctx, a, staff, "renew a claim", onWear(wearID), func(t *tx) error {
		id, err := t.holding(ctx, wearID)
		if err != nil {
			return err
		}
		c, err = claimOf(ctx, t.Tx, id, t.now)
		return err
	})
	if c == nil {
		c = &Claim{}
	}
	return *c, err
}

// holding makes sure that the actor has the wear, renews the lease, and gives
// the id of the wear that it was joined into, if it was. A lease that ran out
// still counts while nobody else took the wear.
func (t *tx) holding(ctx context.Context, wearID int64) (int64, error) {
	wearID, err := survivor(ctx, t.Tx, wearID)
	if err != nil {
		return 0, err
	}
	var open bool
	var by, until int64
	err = t.QueryRowContext(ctx, "SELECT open, coalesce(claimed_by, 0), claimed_until FROM wears WHERE id = ?", wearID).Scan(&open, &by, &until)
	switch {
	case err != nil:
		return 0, err
	case !open:
		return 0, conflict("This wear has left the round: it has an outcome already.")
	case by != t.actor.UserID && until > t.now:
		return 0, t.whyNot(ctx, wearID)
	case by != t.actor.UserID:
		return 0, conflict("Claim this wear first, so that two people do not work on it at once.")
	}
	return wearID, t.renew(ctx, wearID, until)
}

// renew prolongs a lease once enough of it is used up.
func (t *tx) renew(ctx context.Context, wearID, until int64) error {
	full := t.now + int64(Lease/time.Second)
	if full-until < int64(leaseGrain/time.Second) {
		return nil
	}
	if _, err := t.ExecContext(ctx, "UPDATE wears SET claimed_until = ? WHERE id = ?", full, wearID); err != nil {
		return err
	}
	return t.changeWear(ctx, wearID)
}

// touching is for work that needs no claim but must not go on behind the back
// of somebody who has one: a symptom may be added to a wear long closed. It
// renews the actor's own claim.
func (t *tx) touching(ctx context.Context, wearID int64) (int64, error) {
	wearID, err := survivor(ctx, t.Tx, wearID)
	if err != nil {
		return 0, err
	}
	c, err := claimOf(ctx, t.Tx, wearID, t.now)
	switch {
	case err != nil || c == nil:
		return wearID, err
	case c.Holder.ID != t.actor.UserID:
		return 0, taken(c, t.now)
	}
	return wearID, t.renew(ctx, wearID, c.Until.Unix())
}

// TakeOver takes a wear from whoever has it, for a reason that is logged. What
// nobody has is claimed, so that the log tells when work on a wear began.
func (s *Store) TakeOver(ctx context.Context, a Actor, wearID int64, reason string) (Claim, error) {
	if err := checkReason(reason); err != nil {
		return Claim{}, err
	}
	var c Claim
	err := s.act(ctx, a, staff, "take a wear over", onWear(wearID), func(t *tx) error {
		var err error
		if wearID, err = survivor(ctx, t.Tx, wearID); err != nil {
			return err
		}
		r, err := t.ExecContext(ctx, "UPDATE wears SET claimed_by = ?, claimed_until = ? WHERE id = ? AND open = 1 AND claimed_by IS NOT NULL",
			a.UserID, t.now+int64(Lease/time.Second), wearID)
		if err := one(r, err, errTaken); errors.Is(err, errTaken) {
			return firstErr(t.closed(ctx, wearID), conflict("Nobody has this wear. Claim it."))
		} else if err != nil {
			return err
		}
		if err := t.changeWear(ctx, wearID); err != nil {
			return err
		}
		if err := t.takeHandover(ctx, wearID); err != nil {
			return err
		}
		if err := t.log(ctx, onWear(wearID), strings.TrimSpace(reason)); err != nil {
			return err
		}
		held, err := claimOf(ctx, t.Tx, wearID, t.now)
		if held != nil {
			c = *held
		}
		return err
	})
	return c, err
}

// Release gives a wear back to the round. Where the actor does not have it,
// nothing changes.
func (s *Store) Release(ctx context.Context, a Actor, wearID int64) error {
	return s.act(ctx, a, staff, "release a wear", onWear(wearID), func(t *tx) error {
		wearID, err := survivor(ctx, t.Tx, wearID)
		if err != nil {
			return err
		}
		r, err := t.ExecContext(ctx, "UPDATE wears SET claimed_by = NULL, claimed_until = 0 WHERE id = ? AND claimed_by = ?", wearID, a.UserID)
		if err := one(r, err, errTaken); err != nil {
			if errors.Is(err, errTaken) {
				return nil
			}
			return err
		}
		if err := t.changeWear(ctx, wearID); err != nil {
			return err
		}
		return t.log(ctx, onWear(wearID), "")
	})
}

// NextWear gives the first wear of the round, in its order, that nobody else
// has and whose patient is not to be tried again later; after is left out. It
// gives 0 where there is none.
func (s *Store) NextWear(ctx context.Context, a Actor, after int64) (int64, error) {
	var next int64
	err := s.read(ctx, "look for the next wear", func(t *sql.Tx) error {
		now := s.now()
		order, err := s.board.at(ctx, t, now)
		if err != nil {
			return err
		}
		busy := map[int64]bool{after: true}
		rows, err := t.QueryContext(ctx, `SELECT id FROM wears WHERE open = 1
			AND (claimed_until > ?1 AND claimed_by <> ?2 OR next_try > ?1)`, now.Unix(), a.UserID)
		err = each(rows, err, func(rows *sql.Rows) error {
			var id int64
			err := rows.Scan(&id)
			busy[id] = true
			return err
		})
		if err != nil {
			return err
		}
		for _, p := range order.ranked {
			if !busy[p.id] {
				next = p.id
				return nil
			}
		}
		return nil
	})
	return next, err
}

// maxText is the most letters that a note, a reason or the like can have.
const maxText = 4000

// checkReason refuses a reason that says nothing.
func checkReason(reason string) error {
	if !wear.HasWords(reason) {
		return invalid("Give a reason in a few words, so that others can follow it later.")
	}
	return checkText(reason)
}

func checkText(s string) error {
	if len(s) > maxText {
		return invalid("This is too long. Keep it under %d letters.", maxText)
	}
	return nil
}
