package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// RecordCall saves all that a call brought, or nothing of it: the answers of
// the call sheet, further events, a note. Each symptom becomes an event of the
// wear, that nothing was felt counts too, and the wear is judged anew. Answers
// count as a contact that reached the patient. It gives the id of the call, 0
// where there were no answers.
func (s *Store) RecordCall(ctx context.Context, a Actor, wearID int64, sheet CallSheet) (id int64, err error) {
	if err := sheet.check(); err != nil {
		return 0, err
	}
	err = s.act(ctx, a, staff, "record a call", onWear(wearID), func(t *tx) error {
		wearID, err := t.touching(ctx, wearID)
		if err != nil {
			return err
		}
		if err := t.seen(ctx, wearID, sheet.Seen, false); err != nil {
			return err
		}
		if len(sheet.Answers) > 0 {
			if id, err = t.saveAnswers(ctx, wearID, sheet.Answers); err != nil {
				return err
			}
		}
		if err := t.addEvents(ctx, wearID, 0, sheet.Events); err != nil {
			return err
		}
		if sheet.Note != "" {
			if _, err := t.addNote(ctx, wearID, sheet.Note); err != nil {
				return err
			}
		}
		if err := t.judge(ctx, wearID, nil); err != nil {
			return err
		}
		return t.log(ctx, onWear(wearID), "")
	})
	return id, err
}

func (c *CallSheet) check() error {
	if len(c.Answers)+len(c.Events) == 0 && strings.TrimSpace(c.Note) == "" {
		return invalid("Answer at least one question of the call sheet, or write down what was told.")
	}
	for i := range c.Answers {
		if err := c.Answers[i].check(); err != nil {
			return err
		}
	}
	return checkText(c.Note)
}

// saveAnswers saves the answers of a call sheet with what follows from them.
func (t *tx) saveAnswers(ctx context.Context, wearID int64, answers []CallAnswer) (id int64, err error) {
	text, err := text(answers)
	if err != nil {
		return 0, err
	}
	err = t.QueryRowContext(ctx, "INSERT INTO calls (wear_id, answers, made_by, made_at) VALUES (?, ?, ?, ?) RETURNING id",
		wearID, text, t.actor.UserID, t.now).Scan(&id)
	if err != nil {
		return 0, err
	}
	var patient int64
	if err := t.QueryRowContext(ctx, "SELECT patient_id FROM wears WHERE id = ?", wearID).Scan(&patient); err != nil {
		return 0, err
	}
	if _, err := t.addContact(ctx, patient, wearID, 0, NewContact{Means: ByTelephone, Reached: true}); err != nil {
		return 0, err
	}
	var events []wear.Event
	for _, x := range answers {
		if x.Felt == FeltYes {
			label := strings.TrimSpace(x.Words)
			if x.Relieved == FeltYes {
				label += ", better after food" // the engine reads relief from what was written down
			}
			events = append(events, wear.Event{At: x.At, Minutes: x.Minutes, Kind: wear.Symptom, Label: label})
		}
	}
	return id, t.addEvents(ctx, wearID, id, events)
}

func (x *CallAnswer) check() error {
	answers := []Felt{FeltYes, FeltNo, FeltUnsure}
	switch {
	case !slices.Contains(answers, x.Felt) || x.Relieved != "" && !slices.Contains(answers, x.Relieved):
		return invalid("Answer each question with yes, no or not sure.")
	case x.Felt == FeltYes && strings.TrimSpace(x.Words) == "":
		return invalid("Write down what was felt, in the patient's words.")
	case x.Felt == FeltYes && x.At == 0:
		return invalid("Write down when it was felt.")
	case x.Minutes < 0 || x.Minutes > 24*60:
		return invalid("How long it lasted must be between 0 minutes and a day.")
	}
	return checkText(x.Words)
}

// AddEvents adds events to a wear: a symptom, a meal, a fingerstick that the
// file does not have. The wear is judged anew.
func (s *Store) AddEvents(ctx context.Context, a Actor, wearID int64, events []wear.Event) error {
	if len(events) == 0 {
		return invalid("There is nothing to add.")
	}
	return s.act(ctx, a, staff, "add events", onWear(wearID), func(t *tx) error {
		wearID, err := t.touching(ctx, wearID)
		if err != nil {
			return err
		}
		if err := t.addEvents(ctx, wearID, 0, events); err != nil {
			return err
		}
		if err := t.judge(ctx, wearID, nil); err != nil {
			return err
		}
		return t.log(ctx, onWear(wearID), "")
	})
}

// eventSlack is how far from the readings of a wear an added event may lie.
const eventSlack = 2 * daySeconds

func (t *tx) addEvents(ctx context.Context, wearID, callID int64, events []wear.Event) error {
	if len(events) == 0 {
		return nil
	}
	var first, last int64
	if err := t.QueryRowContext(ctx, "SELECT first_at, last_at FROM wears WHERE id = ?", wearID).Scan(&first, &last); err != nil {
		return err
	}
	list := make([]string, len(events))
	for i, e := range events {
		err := checkEvent(&e, first, last)
		if err != nil {
			return err
		}
		if list[i], err = text(storeEvent(e)); err != nil {
			return err
		}
	}
	return insert(ctx, t, "INSERT INTO added_events (wear_id, call_id, event, made_by, made_at) VALUES (?, nullif(?, 0), ?, ?, ?)", list, func(_ int, event string) []any {
		return []any{wearID, callID, event, t.actor.UserID, t.now}
	})
}

func checkEvent(e *wear.Event, first, last int64) error {
	kinds := []wear.EventKind{wear.Meal, wear.Symptom, wear.Exercise, wear.Sleep, wear.Fingerstick, wear.Medicine, wear.Note}
	switch {
	case !slices.Contains(kinds, e.Kind):
		return invalid("Choose what kind of event it is.")
	case e.At < first-eventSlack || e.At > last+eventSlack:
		return invalid("This lies outside the wear. Check the day and the time.")
	case e.Minutes < 0 || e.Minutes > 48*60:
		return invalid("Its length must be between 0 minutes and two days.")
	case e.Kind == wear.Fingerstick && (e.Value.Num <= 0 || e.Value.Unit == wear.UnitUnknown || e.Value.At != e.At):
		return invalid("A fingerstick needs its value, its unit and its time.")
	}
	return checkText(e.Label)
}

// WithdrawEvent takes back an event that a person added, and the answer of a
// call that told of it. It stays on record and counts no more; the wear is judged
// anew.
func (s *Store) WithdrawEvent(ctx context.Context, a Actor, eventID int64, reason string) error {
	return s.withdraw(ctx, a, "added_events", "withdraw an event", eventID, reason, func(t *tx) error {
		_, err := t.ExecContext(ctx, `UPDATE calls SET withdrawn = json_set(calls.withdrawn, '$."' || said.asked || '"', ?1)
			FROM (SELECT told.id call, x.value ->> 'asked' asked FROM added_events e JOIN calls told ON told.id = call_id JOIN json_each(told.answers) x
				WHERE e.id = ?2 AND x.value ->> 'felt' = ?3 AND x.value ->> 'at' = event ->> 'at') said
			WHERE calls.id = said.call`, t.now, eventID, FeltYes)
		return err
	})
}

// WithdrawOverride takes back a word on a stretch of readings, likewise.
func (s *Store) WithdrawOverride(ctx context.Context, a Actor, overrideID int64, reason string) error {
	return s.withdraw(ctx, a, "overrides", "withdraw an override", overrideID, reason, nil)
}

// WithdrawAnswer takes back what a patient said on a call about a moment
// ([CallAnswer.Asked]), with the symptom that was written down of it. The call
// itself stays: the patient was reached.
func (s *Store) WithdrawAnswer(ctx context.Context, a Actor, callID, asked int64, reason string) error {
	return s.takeBack(ctx, a, "calls", "withdraw an answer", callID, reason, func(t *tx) error {
		var known bool
		err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM calls, json_each(answers) x WHERE calls.id = ? AND x.value ->> 'asked' = ?)", callID, asked).Scan(&known)
		if err == nil && !known {
			err = sql.ErrNoRows
		}
		if err != nil {
			return err
		}
		key := fmt.Sprintf(`$."%d"`, asked)
		r, err := t.ExecContext(ctx, "UPDATE calls SET withdrawn = json_set(withdrawn, ?1, ?2) WHERE id = ?3 AND withdrawn ->> ?1 IS NULL", key, t.now, callID)
		if err := one(r, err, errTakenBack); err != nil {
			return err
		}
		_, err = t.ExecContext(ctx, `UPDATE added_events SET withdrawn_at = ?1 WHERE call_id = ?2 AND withdrawn_at IS NULL
			AND event ->> 'at' IN (SELECT x.value ->> 'at' FROM calls, json_each(answers) x WHERE calls.id = ?2 AND x.value ->> 'asked' = ?3)`, t.now, callID, asked)
		return err
	})
}

var errTakenBack = conflict("This was taken back already. Look again.")

// withdraw takes back a row of a table of things added to a wear, and does what
// goes with it.
func (s *Store) withdraw(ctx context.Context, a Actor, table, doing string, id int64, reason string, with func(*tx) error) error {
	return s.takeBack(ctx, a, table, doing, id, reason, func(t *tx) error {
		r, err := t.ExecContext(ctx, "UPDATE "+table+" SET withdrawn_at = ? WHERE id = ? AND withdrawn_at IS NULL", t.now, id)
		if err := one(r, err, errTakenBack); err != nil || with == nil {
			return err
		}
		return with(t)
	})
}

// takeBack takes back something of a row of such a table: the wear is judged
// anew, and the log says why.
func (s *Store) takeBack(ctx context.Context, a Actor, table, doing string, id int64, reason string, do func(*tx) error) error {
	if err := checkReason(reason); err != nil {
		return err
	}
	var wearID int64
	if err := s.reader.QueryRowContext(ctx, "SELECT wear_id FROM "+table+" WHERE id = ?", id).Scan(&wearID); err != nil {
		return fail(doing, err)
	}
	return s.act(ctx, a, staff, doing, onWear(wearID), func(t *tx) error {
		wearID, err := t.touching(ctx, wearID)
		if err != nil {
			return err
		}
		if err := do(t); err != nil {
			return err
		}
		if err := t.judge(ctx, wearID, nil); err != nil {
			return err
		}
		return t.log(ctx, onWear(wearID), strings.TrimSpace(reason))
	})
}

// AddOverride saves a person's word on a stretch of readings: to believe what
// the rules suspect, or not to believe what they do not. The wear is judged
// anew.
func (s *Store) AddOverride(ctx context.Context, a Actor, o NewOverride) (id int64, err error) {
	if err := checkReason(o.Reason); err != nil {
		return 0, err
	}
	if o.From.IsZero() || o.To.Before(o.From) {
		return 0, invalid("The stretch must end no earlier than it begins.")
	}
	err = s.act(ctx, a, staff, "override a stretch", onWear(o.WearID), func(t *tx) error {
		wearID, err := t.touching(ctx, o.WearID)
		if err != nil {
			return err
		}
		if err := t.seen(ctx, wearID, o.Seen, false); err != nil {
			return err
		}
		err = t.QueryRowContext(ctx, `INSERT INTO overrides (wear_id, from_at, to_at, believe, reason, made_by, made_at)
			SELECT id, ?1, ?2, ?3, ?4, ?5, ?6 FROM wears WHERE id = ?7 AND first_at <= ?2 AND last_at >= ?1 RETURNING id`,
			o.From.Unix(), o.To.Unix(), o.Believe, strings.TrimSpace(o.Reason), a.UserID, t.now, wearID).Scan(&id)
		if errors.Is(err, sql.ErrNoRows) {
			return invalid("This lies outside the wear. Check the day and the time.")
		}
		if err != nil {
			return err
		}
		if err := t.judge(ctx, wearID, nil); err != nil {
			return err
		}
		return t.log(ctx, onWear(wearID), strings.TrimSpace(o.Reason))
	})
	return id, err
}

const (
	callColumns  = "calls.id, wear_id, answers, withdrawn, users.id, users.name, made_at FROM calls JOIN users ON users.id = made_by"
	eventColumns = `added_events.id, wear_id, coalesce(call_id, 0), event, users.id, users.name, made_at, coalesce(withdrawn_at, 0)
		FROM added_events JOIN users ON users.id = made_by`
	overrideColumns = `overrides.id, wear_id, from_at, to_at, believe, reason, users.id, users.name, made_at, coalesce(withdrawn_at, 0)
		FROM overrides JOIN users ON users.id = made_by`
)

func scanCall(rows *sql.Rows) (Call, error) {
	var c Call
	var at int64
	err := rows.Scan(&c.ID, &c.WearID, into(&c.Answers), into(&c.withdrawn), &c.By.ID, &c.By.Name, &at)
	c.At = fromUnix(at)
	return c, err
}

func scanEvent(rows *sql.Rows) (AddedEvent, error) {
	var e AddedEvent
	var stored storedEvent
	var at, withdrawn int64
	err := rows.Scan(&e.ID, &e.WearID, &e.CallID, into(&stored), &e.By.ID, &e.By.Name, &at, &withdrawn)
	e.Event, e.At, e.Withdrawn = stored.event(), fromUnix(at), when(withdrawn)
	return e, err
}

func scanOverride(rows *sql.Rows) (Override, error) {
	var o Override
	var from, to, at, withdrawn int64
	err := rows.Scan(&o.ID, &o.WearID, &from, &to, &o.Believe, &o.Reason, &o.By.ID, &o.By.Name, &at, &withdrawn)
	o.From, o.To, o.At, o.Withdrawn = time.Unix(from, 0).UTC(), fromUnix(to), fromUnix(at), when(withdrawn)
	return o, err
}

// collect reads every row of a query.
func collect[T any](rows *sql.Rows, err error, scan func(*sql.Rows) (T, error)) ([]T, error) {
	var list []T
	err = each(rows, err, func(rows *sql.Rows) error {
		v, err := scan(rows)
		list = append(list, v)
		return err
	})
	return list, err
}
