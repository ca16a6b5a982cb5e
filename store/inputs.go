package store

import (
	"cmp"
	"context"
	"database/sql"
	"slices"

	"wearround/worker/wear"
)

// WearInputs gives everything that the report of a wear is made from, on one
// view of the data: what the files brought and what people added.
func (s *Store) WearInputs(ctx context.Context, wearID int64) (WearInputs, error) {
	var in WearInputs
	err := s.read(ctx, "read what a report is made from", func(t *sql.Tx) error {
		id, err := survivor(ctx, t, wearID)
		if err != nil {
			return err
		}
		in.WearID = id
		if in.Readings, in.Events, err = trace(ctx, t, id); err != nil {
			return err
		}
		var zone string
		err = t.QueryRowContext(ctx, "SELECT sensor_kind, wears.zone, wears.changed, "+patientColumns+" FROM wears JOIN patients ON patients.id = patient_id WHERE wears.id = ?", id).
			Scan(append([]any{&in.SensorKind, &zone, &in.Version}, in.Patient.targets()...)...)
		if err != nil {
			return err
		}
		if in.Zone, err = Location(zone, nil); err != nil {
			return err
		}
		rows, err := t.QueryContext(ctx, "SELECT "+overrideColumns+" WHERE wear_id = ? AND withdrawn_at IS NULL ORDER BY overrides.id", id)
		if in.Overrides, err = collect(rows, err, scanOverride); err != nil {
			return err
		}
		rows, err = t.QueryContext(ctx, "SELECT "+resultColumns+" WHERE patient_id = ? AND withdrawn_at IS NULL ORDER BY taken_at DESC, results.id DESC", in.Patient.ID)
		if in.Results, err = collect(rows, err, scanResult); err != nil {
			return err
		}
		in.Asked, err = asked(ctx, t, id)
		return err
	})
	return in, err
}

// asked gives the episodes of a wear at which the patient felt nothing.
func asked(ctx context.Context, t *sql.Tx, wearID int64) ([]wear.Asked, error) {
	rows, err := t.QueryContext(ctx, "SELECT "+callColumns+" WHERE wear_id = ? ORDER BY calls.id", wearID)
	calls, err := collect(rows, err, scanCall)
	if err != nil {
		return nil, err
	}
	var list []wear.Asked
	for _, c := range calls {
		for _, x := range c.Answers {
			if x.Felt == FeltNo {
				list = append(list, wear.Asked{From: x.Asked, On: c.At.Unix()})
			}
		}
	}
	return list, nil
}

// Reanalysed puts a new report in the place of a wear's old one, with its flags
// and its place on the round. basedOn is the [WearInputs.Version] that it was
// made from: [ErrStale] means that the wear has changed since, so read the
// inputs and make the report again. It gives the tiers before and after.
func (s *Store) Reanalysed(ctx context.Context, a Actor, wearID, basedOn int64, r *wear.Report) (before, after wear.Tier, err error) {
	report, line, err := packReport(r)
	if err != nil {
		return "", "", fail("pack a report", err)
	}
	err = s.act(ctx, a, staff, "make a report anew", onWear(wearID), func(t *tx) error {
		before, err = t.redo(ctx, StaleWear{ID: wearID, Changed: basedOn}, r, report, line)
		return err
	})
	return before, r.Priority.Tier, err
}

// added gives the events that people added to a wear and did not take back.
func added(ctx context.Context, t *sql.Tx, wearID int64) ([]wear.Event, error) {
	rows, err := t.QueryContext(ctx, "SELECT "+eventColumns+" WHERE wear_id = ? AND withdrawn_at IS NULL ORDER BY added_events.id", wearID)
	list, err := collect(rows, err, scanEvent)
	if err != nil {
		return nil, err
	}
	var events []wear.Event
	for _, e := range list {
		events = append(events, e.Event)
	}
	return events, nil
}

// withAdded puts the events that people added to those of the files, in time
// order. What both have is there once.
func withAdded(events, more []wear.Event) []wear.Event {
	if len(more) == 0 {
		return events
	}
	for _, e := range more {
		if !slices.Contains(events, e) {
			events = append(events, e)
		}
	}
	slices.SortStableFunc(events, func(a, b wear.Event) int { return cmp.Compare(a.At, b.At) })
	return events
}

// outdate says that a wear's report is older than what it is made from.
func (t *tx) outdate(ctx context.Context, wearID int64) error {
	if _, err := t.ExecContext(ctx, "UPDATE wears SET stale = 1 WHERE id = ?", wearID); err != nil {
		return err
	}
	return t.changeWear(ctx, wearID)
}

// outdateOpen says it of a patient's wears on the round: a laboratory result or
// the context has changed. A closed wear keeps the report it was closed with.
func (t *tx) outdateOpen(ctx context.Context, patientID int64) error {
	if err := t.bump(ctx); err != nil {
		return err
	}
	_, err := t.ExecContext(ctx, "UPDATE wears SET stale = 1, changed = ? WHERE patient_id = ? AND open = 1", t.version, patientID)
	return err
}

// carryOver moves what people recorded about one wear to the one that took it
// in, with its place on the round.
func (t *tx) carryOver(ctx context.Context, from, to int64) error {
	for _, table := range []string{"outcomes", "contacts", "notes", "calls", "added_events", "overrides", "results", "recalls", "letters"} {
		if _, err := t.ExecContext(ctx, "UPDATE "+table+" SET wear_id = ? WHERE wear_id = ?", to, from); err != nil {
			return err
		}
	}
	_, err := t.ExecContext(ctx, `UPDATE wears SET open = max(wears.open, other.open),
			claimed_by = iif(wears.claimed_until >= other.claimed_until, wears.claimed_by, other.claimed_by),
			claimed_until = max(wears.claimed_until, other.claimed_until), next_try = coalesce(wears.next_try, other.next_try)
		FROM (SELECT open, claimed_by, claimed_until, next_try FROM wears WHERE id = ?2) other WHERE wears.id = ?1`, to, from)
	if err != nil {
		return err
	}
	_, err = t.ExecContext(ctx, "UPDATE wears SET claimed_by = NULL, claimed_until = 0, next_try = NULL WHERE id = ?", from)
	return err
}

// ownEvents gives the stored form of the events that a file brings to a wear.
// A joined wear comes with those that people added, which have rows of their
// own and must not become the file's: they could not be taken back then.
func (t *tx) ownEvents(ctx context.Context, wearID int64, events []wear.Event, packed []byte) ([]byte, error) {
	rows, err := t.QueryContext(ctx, "SELECT "+eventColumns+" WHERE wear_id = ?", wearID)
	list, err := collect(rows, err, scanEvent)
	if err != nil {
		return nil, err
	}
	if len(list) == 0 {
		return packed, nil
	}
	own := []storedEvent{}
	for _, e := range events {
		if !slices.ContainsFunc(list, func(a AddedEvent) bool { return a.Event == e }) {
			own = append(own, storeEvent(e))
		}
	}
	return deflate(own)
}

// outdateFiled says that the report that a wear was filed with is to be made
// anew where there is more than the file to make it from: a stretch that
// somebody overrode, an answer in a call, a laboratory result of the patient.
func (t *tx) outdateFiled(ctx context.Context, wearID int64) error {
	_, err := t.ExecContext(ctx, `UPDATE wears SET stale = 1 WHERE id = ?1 AND (
		EXISTS (SELECT * FROM overrides WHERE wear_id = ?1 AND withdrawn_at IS NULL)
		OR EXISTS (SELECT * FROM calls WHERE wear_id = ?1)
		OR EXISTS (SELECT * FROM results WHERE results.patient_id = wears.patient_id AND withdrawn_at IS NULL))`, wearID)
	return err
}

// moveReview makes what goes with a wear that turned out to be another
// patient's that patient's too. Letters that were sent and results of a
// laboratory stay with whom they were about.
func (t *tx) moveReview(ctx context.Context, wearID, patientID int64) error {
	for _, table := range []string{"contacts", "notes", "recalls"} {
		if _, err := t.ExecContext(ctx, "UPDATE "+table+" SET patient_id = ? WHERE wear_id = ?", patientID, wearID); err != nil {
			return err
		}
	}
	return nil
}
