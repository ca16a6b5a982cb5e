package store

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"time"

	"wearround/worker/wear"
)

// answered is the outcome in force of a wear, as far as its place depends on it.
type answered struct {
	id, at   int64
	version  int64 // of the data
	tier     wear.Tier
	flags    []string
	readings int64
	due      int64
}

// position is where a wear stands: on the round or not, since when, by when.
type position struct {
	open   bool
	claim  bool // somebody has it
	backAt int64
	due    int64
	next   int64 // when to try again, or 0
}

// settle works out from what is in force where a wear stands, and saves it: the
// only code that writes open, due_at, back_at and next_try. A wear is on the
// round while it has no outcome in force; or while more is known than that
// outcome was recorded on: more readings, a more pressing tier or another flag
// (see risen), or somebody put it back. What is taken back so leaves the wear
// where it would be had it never been done. It reports whether that changed.
func (t *tx) settle(ctx context.Context, wearID int64) (changed bool, err error) {
	var had, now position
	var patient, received, readings, dueDays int64
	var tier wear.Tier
	err = t.QueryRowContext(ctx, `SELECT patient_id, received_at, readings, tier, open, claimed_by IS NOT NULL, back_at, due_at, coalesce(next_try, 0), ledger ->> '$.due_days'
		FROM wears JOIN reports ON wear_id = id WHERE id = ?`, wearID).
		Scan(&patient, &received, &readings, &tier, &had.open, &had.claim, &had.backAt, &had.due, &had.next, &dueDays)
	if err != nil {
		return false, err
	}
	o, err := t.standingOutcome(ctx, wearID)
	if err != nil {
		return false, err
	}
	from := received
	switch {
	case o == nil:
		now.open = true
	default:
		if now.open, err = t.unanswered(ctx, wearID, patient, tier, readings, o); err != nil {
			return false, err
		}
		if from, err = t.backSince(ctx, wearID, patient, o, had.backAt); err != nil {
			return false, err
		}
	}
	if now.open {
		now.claim = had.claim
		now.due = t.days(from, int(dueDays))
		if o != nil {
			now.backAt = from
		}
		if now.next, err = t.nextTry(ctx, wearID, o); err != nil {
			return false, err
		}
	} else {
		now.due = o.due
	}
	if now == had {
		return false, nil
	}
	if err := t.bump(ctx); err != nil {
		return false, err
	}
	_, err = t.ExecContext(ctx, `UPDATE wears SET open = ?1, back_at = ?2, due_at = ?3, next_try = nullif(?4, 0), changed = ?5,
		claimed_by = iif(?1, claimed_by, NULL), claimed_until = iif(?1, claimed_until, 0) WHERE id = ?6`,
		now.open, now.backAt, now.due, now.next, t.version, wearID)
	if err == nil && now.open && !had.open && o != nil {
		err = t.append(ctx, LogRow{Action: string(ComesBack), Object: "wear", ObjectID: wearID, Ended: done, Reason: string(o.tier) + " to " + string(tier)})
	}
	return true, err
}

// days is so many calendar days later on the practice's clock.
func (t *tx) days(from int64, n int) int64 {
	return time.Unix(from, 0).In(t.by.Zone).AddDate(0, 0, n).Unix()
}

// standingOutcome gives the outcome of a wear that is in force, or nil.
func (t *tx) standingOutcome(ctx context.Context, wearID int64) (*answered, error) {
	var o answered
	err := t.QueryRowContext(ctx, `SELECT id, made_at, version, tier, flags, readings, due_at FROM outcomes o WHERE wear_id = ?
		AND undone_at IS NULL AND NOT EXISTS (SELECT * FROM outcomes WHERE corrects = o.id) ORDER BY id DESC LIMIT 1`, wearID).
		Scan(&o.id, &o.at, &o.version, &o.tier, into(&o.flags), &o.readings, &o.due)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return &o, err
}

// unanswered reports whether more is known of a wear than its outcome answers.
func (t *tx) unanswered(ctx context.Context, wearID, patientID int64, tier wear.Tier, readings int64, o *answered) (bool, error) {
	if readings > o.readings {
		return true, nil
	}
	var back bool
	if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM reopenings WHERE wear_id = ? AND outcome_id = ?)", wearID, o.id).Scan(&back); err != nil || back {
		return back, err
	}
	rows, err := t.QueryContext(ctx, "SELECT code FROM wear_flags WHERE wear_id = ? ORDER BY place", wearID)
	flags, err := collect(rows, err, func(rows *sql.Rows) (code string, err error) { return code, rows.Scan(&code) })
	if err != nil || !o.risen(tier, flags) {
		return false, err
	}
	// What is known of the patient counts for the newest wear, which stands for
	// the others; and a closed wear does not come back because the rules changed
	// (see JudgeAnew for what is pressing).
	var facts bool
	err = t.QueryRowContext(ctx, `SELECT wears.facts > ?1 OR patients.facts > ?1
			AND NOT EXISTS (SELECT * FROM wears n WHERE n.patient_id = ?2 AND n.joined_into IS NULL AND (n.last_at, n.id) > (wears.last_at, wears.id))
		FROM wears JOIN patients ON patients.id = patient_id WHERE wears.id = ?3`, o.version, patientID, wearID).Scan(&facts)
	return facts, err
}

// risen reports whether a judgement is more pressing than the one that the
// outcome was recorded on, or has a flag that it had not.
func (o *answered) risen(tier wear.Tier, flags []string) bool {
	return tier.Rank() < o.tier.Rank() || slices.ContainsFunc(flags, func(f string) bool { return !slices.Contains(o.flags, f) })
}

// facts are where rows lie that a wear is judged by, each with a condition that
// finds those in force of wear ?1 or its patient ?2 and the column that says
// when they came.
var facts = []struct{ table, where, at string }{
	{"added_events", "wear_id = ?1 AND withdrawn_at IS NULL", "made_at"},
	{"overrides", "wear_id = ?1 AND withdrawn_at IS NULL", "made_at"},
	{"calls", "wear_id = ?1", "made_at"},
	{"words_read", "wear_id = ?1 AND withdrawn_at IS NULL", "made_at"},
	{"red_flags", "wear_id = ?1 AND withdrawn_at IS NULL", "made_at"},
	{"notes", "wear_id = ?1", "made_at"},
	{"results", "patient_id = ?2 AND withdrawn_at IS NULL", "made_at"},
	{"file_wears JOIN files ON files.id = file_id", "wear_id = ?1", "received_at"},
	{"reopenings", "wear_id = ?1", "made_at"},
}

// backSince is from when the time limit of a wear counts that is on the round
// again after an outcome: from the first fact in force that came after it.
func (t *tx) backSince(ctx context.Context, wearID, patientID int64, o *answered, had int64) (int64, error) {
	first := int64(0)
	for _, f := range facts {
		var at int64
		err := t.QueryRowContext(ctx, "SELECT coalesce(min("+f.at+"), 0) FROM "+f.table+" WHERE "+f.where+" AND "+f.at+" > ?3", wearID, patientID, o.at).Scan(&at)
		if err != nil {
			return 0, err
		}
		if at != 0 && (first == 0 || at < first) {
			first = at
		}
	}
	switch {
	case first != 0:
		return first, nil
	case had != 0:
		return had, nil
	}
	return t.now, nil
}

// nextTry is what the newest attempt since the outcome says, or 0.
func (t *tx) nextTry(ctx context.Context, wearID int64, o *answered) (next int64, err error) {
	since := int64(0)
	if o != nil {
		since = o.at
	}
	err = t.QueryRowContext(ctx, "SELECT coalesce(next_try, 0) FROM contacts WHERE wear_id = ? AND at >= ? ORDER BY id DESC LIMIT 1", wearID, since).Scan(&next)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return next, err
}
