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
func (s *Store) WearInputs(ctx context.Context, wearID int64) (in WearInputs, err error) {
	err = s.read(ctx, "read what a report is made from", func(t *sql.Tx) error {
		id, err := survivor(ctx, t, wearID)
		if err != nil {
			return err
		}
		if in, _, err = inputs(ctx, t, id); err != nil {
			return err
		}
		return in.load(ctx, t)
	})
	return in, err
}

// inputs reads all of it but what the files brought, of which it gives the
// hash; see load.
func inputs(ctx context.Context, t *sql.Tx, wearID int64) (in WearInputs, trace int64, err error) {
	in.WearID = wearID
	var zone string
	err = t.QueryRowContext(ctx, "SELECT trace, sensor_kind, wears.zone, "+patientColumns+" FROM wears JOIN patients ON patients.id = patient_id WHERE wears.id = ?", wearID).
		Scan(append([]any{&trace, &in.SensorKind, &zone}, in.Patient.targets()...)...)
	if err != nil {
		return in, 0, err
	}
	return in, trace, in.readFacts(ctx, t, zone)
}

// readFacts reads what people recorded of the wear WearID and of Patient.
func (in *WearInputs) readFacts(ctx context.Context, t *sql.Tx, zone string) (err error) {
	if in.Zone, err = Location(zone, nil); err != nil {
		return err
	}
	if in.Added, err = added(ctx, t, in.WearID); err != nil {
		return err
	}
	rows, err := t.QueryContext(ctx, "SELECT "+overrideColumns+" WHERE wear_id = ? AND withdrawn_at IS NULL ORDER BY overrides.id", in.WearID)
	if in.Overrides, err = collect(rows, err, scanOverride); err != nil {
		return err
	}
	rows, err = t.QueryContext(ctx, "SELECT "+resultColumns+" WHERE patient_id = ? AND withdrawn_at IS NULL ORDER BY taken_at DESC, results.id DESC", in.Patient.ID)
	if in.Results, err = collect(rows, err, scanResult); err != nil {
		return err
	}
	if in.Asked, err = asked(ctx, t, in.WearID); err != nil {
		return err
	}
	return in.readWords(ctx, t)
}

// load reads what the files brought.
func (in *WearInputs) load(ctx context.Context, t *sql.Tx) (err error) {
	in.Readings, in.Events, err = fileTrace(ctx, t, in.WearID)
	return err
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
			if x.Felt == FeltNo && c.TakenBack(x.Asked).IsZero() {
				list = append(list, wear.Asked{From: x.Asked, On: c.At.Unix()})
			}
		}
	}
	return list, nil
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
	events = slices.Clone(events)
	for _, e := range more {
		if !slices.Contains(events, e) {
			events = append(events, e)
		}
	}
	slices.SortStableFunc(events, func(a, b wear.Event) int { return cmp.Compare(a.At, b.At) })
	return events
}

// carryOver moves what people recorded about one wear to the one that took it
// in, with its place on the round.
func (t *tx) carryOver(ctx context.Context, from, to int64) error {
	for _, table := range []string{"outcomes", "contacts", "notes", "calls", "added_events", "overrides", "results", "recalls", "letters", "reopenings", "judgements", "handovers", "words_read", "red_flags", "moves"} {
		if _, err := t.ExecContext(ctx, "UPDATE "+table+" SET wear_id = ? WHERE wear_id = ?", to, from); err != nil {
			return err
		}
	}
	_, err := t.ExecContext(ctx, `UPDATE wears SET
			claimed_by = iif(wears.claimed_until >= other.claimed_until, wears.claimed_by, other.claimed_by),
			claimed_until = max(wears.claimed_until, other.claimed_until)
		FROM (SELECT claimed_by, claimed_until FROM wears WHERE id = ?2) other WHERE wears.id = ?1`, to, from)
	if err != nil {
		return err
	}
	_, err = t.ExecContext(ctx, "UPDATE wears SET claimed_by = NULL, claimed_until = 0, next_try = NULL WHERE id = ?", from)
	return err
}
