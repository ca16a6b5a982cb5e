package store

import (
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// NewHandover gives a wear on the round to people of another role to go on with.
type NewHandover struct {
	To     Role // [RoleNurse] or [RoleClinician]; a lead counts as a clinician
	Reason string
	DueAt  time.Time // by when they should have taken it; zero stands for the latest that the wear's tier allows
}

// Handover is a recorded one. It stands until somebody of the role claims the wear.
type Handover struct {
	ID      int64
	WearID  int64
	To      Role
	Reason  string
	DueAt   time.Time
	By      Person
	At      time.Time
	Taken   Person // who took it; zero while nobody has
	TakenAt time.Time
}

// HandOver gives a wear to people of another role, for a reason: whoever had it
// has it no more, and its row says to whom it was given and by when, until one
// of them claims it. The date lies no later than the day on which the wear is due,
// or the next weekday.
func (s *Store) HandOver(ctx context.Context, a Actor, wearID int64, h NewHandover) (id int64, err error) {
	if err := checkReason(h.Reason); err != nil {
		return 0, err
	}
	if h.To != RoleNurse && h.To != RoleClinician {
		return 0, invalid("Choose whom the wear is handed over to: a nurse or a clinician.")
	}
	err = s.act(ctx, a, staff, "hand a wear over", onWear(wearID), func(t *tx) error {
		wearID, err := t.touching(ctx, wearID)
		if err != nil {
			return err
		}
		var open bool
		var due int64
		var tier wear.Tier
		if err := t.QueryRowContext(ctx, "SELECT open, tier, due_at FROM wears WHERE id = ?", wearID).Scan(&open, &tier, &due); err != nil {
			return err
		}
		if !open {
			return conflict("This wear has left the round: it has an outcome already.")
		}
		last := t.last(due, 0)
		if h.DueAt.IsZero() {
			h.DueAt = last
		}
		switch day := wear.DayNumber(h.DueAt.In(t.by.Zone)); {
		case day > wear.DayNumber(last):
			return invalid("This wear is for “%s” and %s: it must be taken by %s at the latest.", tier.Words(), t.dueWords(due), last.Format("Monday 2 January"))
		case day < wear.DayNumber(time.Unix(t.now, 0).In(t.by.Zone)):
			return invalid("The date must not have passed.")
		}
		err = t.QueryRowContext(ctx, "INSERT INTO handovers (wear_id, to_role, reason, due_at, made_by, made_at) VALUES (?, ?, ?, ?, ?, ?) RETURNING id",
			wearID, h.To, strings.TrimSpace(h.Reason), h.DueAt.Unix(), a.UserID, t.now).Scan(&id)
		if err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "UPDATE wears SET claimed_by = NULL, claimed_until = 0 WHERE id = ?", wearID); err != nil {
			return err
		}
		if err := t.changeWear(ctx, wearID); err != nil {
			return err
		}
		// Its log row has the reason, and so it is heard.
		return t.log(ctx, onWear(wearID), "to a "+string(h.To)+": "+strings.TrimSpace(h.Reason))
	})
	return id, err
}

// takeHandover notes that the actor, who claims a wear, took what was handed
// over to their role.
func (t *tx) takeHandover(ctx context.Context, wearID int64) error {
	roles := []Role{t.actor.Role}
	if slices.Contains(clinicians, t.actor.Role) {
		roles = append(roles, RoleClinician)
	}
	list, err := text(roles)
	if err != nil {
		return err
	}
	_, err = t.ExecContext(ctx, `UPDATE handovers SET taken_by = ?, taken_at = ? WHERE wear_id = ? AND taken_at IS NULL
		AND to_role IN (SELECT value FROM json_each(?)) AND made_by <> ?1`, t.actor.UserID, t.now, wearID, list)
	return err
}

// handed is an expression over a row of wears: to whom it was handed over who has
// not taken it yet, or "".
const handed = `coalesce((SELECT to_role FROM handovers WHERE handovers.wear_id = wears.id AND taken_at IS NULL ORDER BY handovers.id DESC LIMIT 1), '')`

// awaitsClinician refuses to end the work on a wear that was handed over to a
// clinician who has not taken it; urgent contact waits for nobody.
func (t *tx) awaitsClinician(ctx context.Context, wearID int64, kind OutcomeKind) error {
	var to Role
	err := t.QueryRowContext(ctx, "SELECT "+handed+" FROM wears WHERE id = ?", wearID).Scan(&to)
	if err != nil || to != RoleClinician || kind == UrgentContact || slices.Contains(clinicians, t.actor.Role) {
		return err
	}
	return forbidden("This wear was handed over to a clinician, who has not taken it yet. To take that back, hand it over to a nurse, with the reason.")
}

const handoverColumns = `handovers.id, wear_id, to_role, reason, due_at, users.id, users.name, made_at,
	coalesce(taker.id, 0), coalesce(taker.name, ''), coalesce(taken_at, 0)
	FROM handovers JOIN users ON users.id = made_by LEFT JOIN users taker ON taker.id = taken_by`

func scanHandover(rows *sql.Rows) (Handover, error) {
	var h Handover
	var due, at, taken int64
	err := rows.Scan(&h.ID, &h.WearID, &h.To, &h.Reason, &due, &h.By.ID, &h.By.Name, &at, &h.Taken.ID, &h.Taken.Name, &taken)
	h.DueAt, h.At, h.TakenAt = fromUnix(due), fromUnix(at), when(taken)
	return h, err
}
