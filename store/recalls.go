package store

import (
	"context"
	"database/sql"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"
	"time"
)

// RecallKinds lists the kinds of recall.
func RecallKinds() []RecallKind {
	return []RecallKind{RecallResult, RecallNewWear, RecallReview, RecallAppointment, RecallUrgent, RecallOut, RecallDecide}
}

// HandRecallKinds are those that people set by hand: not what a sensor that is
// handed out or a result leaves behind.
func HandRecallKinds() []RecallKind {
	return []RecallKind{RecallResult, RecallNewWear, RecallReview, RecallAppointment, RecallUrgent}
}

// AddRecall sets a recall by hand.
func (s *Store) AddRecall(ctx context.Context, a Actor, n NewRecall) (id int64, err error) {
	if !slices.Contains(HandRecallKinds(), n.Kind) {
		return 0, invalid("Choose what the recall waits for.")
	}
	if n.DueAt.IsZero() {
		return 0, invalid("Give the date by which this must come back.")
	}
	if err := checkText(n.Note); err != nil {
		return 0, err
	}
	err = s.act(ctx, a, staff, "set a recall", onPatient(n.PatientID), func(t *tx) error {
		if err := firstErr(t.ofLive(ctx, n.PatientID), t.ownWear(ctx, n.PatientID, n.WearID)); err != nil {
			return err
		}
		if last := time.Unix(t.days(t.now, mostOf(n.Kind)), 0); n.DueAt.After(last) {
			return t.dated(n.DueAt, t.now, mostOf(n.Kind), "come back", "or set another recall then")
		}
		if id, err = t.addRecall(ctx, n, 0); err != nil {
			return err
		}
		if err := t.hear(ctx, n.PatientID, n.WearID, n.Note); err != nil {
			return err
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		return t.log(ctx, onPatient(n.PatientID), string(n.Kind))
	})
	return id, err
}

// ownWear refuses a wear that is not the patient's; 0 is none.
func (t *tx) ownWear(ctx context.Context, patientID, wearID int64) error {
	if wearID == 0 {
		return nil
	}
	var own bool
	if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM wears WHERE id = ? AND patient_id = ?)", wearID, patientID).Scan(&own); err != nil {
		return err
	}
	if !own {
		return invalid("This wear is not this patient's. Go back and look again.")
	}
	return nil
}

func (t *tx) addRecall(ctx context.Context, n NewRecall, outcomeID int64) (id int64, err error) {
	err = t.QueryRowContext(ctx, `INSERT INTO recalls (patient_id, wear_id, outcome_id, kind, state, due_at, note, made_by, made_at)
		VALUES (?, nullif(?, 0), nullif(?, 0), ?, 'due', ?, ?, ?, ?) RETURNING id`,
		n.PatientID, n.WearID, outcomeID, n.Kind, n.DueAt.Unix(), strings.TrimSpace(n.Note), t.actor.UserID, t.now).Scan(&id)
	return id, err
}

// cancelRecalls cancels the open recalls that followed an outcome.
func (t *tx) cancelRecalls(ctx context.Context, outcomeID int64, reason string) error {
	_, err := t.ExecContext(ctx, `UPDATE recalls SET state = 'cancelled', closed_at = ?, closed_by = ?, reason = ?
		WHERE outcome_id = ? AND closed_at IS NULL`, t.now, t.actor.UserID, reason, outcomeID)
	return err
}

// recallWears works out which recalls of a patient for another wear have been
// answered, by the first wear that came after they were made and began after the
// one that they are about, or with the sensor that they wait for. One that the
// program closed for a wear that is not the patient's any more is open again;
// what people closed stays closed.
func (t *tx) recallWears(ctx context.Context, patientID int64) error {
	type change struct{ recall, wear, at int64 }
	var list []change
	rows, err := t.QueryContext(ctx, `SELECT r.id, coalesce(n.id, 0), coalesce(max(r.made_at, n.received_at), 0)
		FROM recalls r LEFT JOIN wears n ON n.id = (SELECT id FROM wears w WHERE w.patient_id = r.patient_id AND w.joined_into IS NULL
			AND w.first_at > iif(r.kind = 'out', r.given_at - 86400, coalesce((SELECT last_at FROM wears WHERE wears.id = r.wear_id), r.made_at))
			AND (r.kind = 'out' OR w.received_at >= r.made_at)
			AND NOT EXISTS (SELECT * FROM recalls later WHERE r.kind = 'out' AND later.kind = 'out' AND later.patient_id = r.patient_id
				AND later.given_at > r.given_at AND later.state <> 'cancelled' AND w.first_at > later.given_at - 86400)
			ORDER BY w.received_at, w.id LIMIT 1)
		WHERE r.patient_id = ? AND r.kind IN ('new_wear', 'out') AND (r.closed_at IS NULL OR r.closed_by = 0) AND n.id IS NOT r.new_wear_id`, patientID)
	err = each(rows, err, func(rows *sql.Rows) error {
		var c change
		err := rows.Scan(&c.recall, &c.wear, &c.at)
		list = append(list, c)
		return err
	})
	if err != nil || len(list) == 0 {
		return err
	}
	if err := t.bump(ctx); err != nil {
		return err
	}
	for _, c := range list {
		if c.wear == 0 {
			_, err = t.ExecContext(ctx, `UPDATE recalls SET closed_at = NULL, closed_by = NULL, new_wear_id = NULL, state = `+openState+` WHERE id = ?`, c.recall)
		} else {
			_, err = t.ExecContext(ctx, "UPDATE recalls SET state = 'done', closed_at = ?, closed_by = 0, new_wear_id = ? WHERE id = ?", c.at, c.wear, c.recall)
		}
		if err != nil {
			return err
		}
		action := ClosesRecall
		if c.wear == 0 {
			action = RevivesRecall
		}
		if err := t.append(ctx, LogRow{Action: string(action), Object: "patient", ObjectID: patientID, Ended: done}); err != nil {
			return err
		}
	}
	return nil
}

// openState is the state of a recall that is open.
const openState = "CASE WHEN EXISTS (SELECT * FROM contacts WHERE recall_id = recalls.id) THEN 'contacted' ELSE 'due' END"

func scanID(rows *sql.Rows) (id int64, err error) { return id, rows.Scan(&id) }

// changeRecall runs f on an open recall and logs it.
func (s *Store) changeRecall(ctx context.Context, a Actor, id int64, doing, reason string, f func(t *tx, r Recall) error) error {
	var patientID int64
	if err := s.reader.QueryRowContext(ctx, "SELECT patient_id FROM recalls WHERE id = ?", id).Scan(&patientID); err != nil {
		return fail(doing, err)
	}
	return s.act(ctx, a, staff, doing, onPatient(patientID), func(t *tx) error {
		r, err := scanRecall(t.QueryRowContext(ctx, "SELECT "+recallColumns+" WHERE recalls.id = ?", id))
		if err != nil {
			return err
		}
		if !r.ClosedAt.IsZero() {
			return conflict("This recall is closed already. Look again.")
		}
		if err := f(t, r); err != nil {
			return err
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		return t.log(ctx, onPatient(r.Patient.ID), strings.TrimSpace(reason))
	})
}

// ContactRecall records an attempt to reach the patient about a recall, which
// stays open.
func (s *Store) ContactRecall(ctx context.Context, a Actor, recallID int64, c NewContact) (id int64, err error) {
	if err := c.check(); err != nil {
		return 0, err
	}
	err = s.changeRecall(ctx, a, recallID, "record a contact", "", func(t *tx, r Recall) error {
		if err := t.mayTry(ctx, r, c.NextTry); err != nil {
			return err
		}
		if id, err = t.addContact(ctx, r.Patient.ID, 0, r.ID, c); err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "UPDATE recalls SET state = 'contacted' WHERE id = ?", r.ID); err != nil {
			return err
		}
		return t.hear(ctx, r.Patient.ID, r.WearID, c.Note)
	})
	return id, err
}

// Version stands for a recall as it is: its date, and what was written about it
// since it was made. It is never 0.
func (r *Recall) Version() int64 {
	h := fnv.New64a()
	fmt.Fprint(h, r.ID, r.State, r.DueAt.Unix(), r.Contacts, r.LastContact.Unix(), r.ResultID, r.Reason)
	return int64(h.Sum64()>>11 | 1) // 53 bits: a program may hold it in a float64
}

// recallSeen refuses to end or move a recall that is not as it was seen, and says
// what was done meanwhile. 0 stands for no screen.
func (t *tx) recallSeen(ctx context.Context, r Recall, seen int64) error {
	if seen == 0 || seen == r.Version() {
		return nil
	}
	now := "It is due on " + r.DueAt.In(t.by.Zone).Format("Monday 2 January 2006") + "."
	if r.Reason != "" {
		now += " Why: “" + r.Reason + "”."
	}
	rows, err := t.QueryContext(ctx, "SELECT "+contactColumns+" WHERE recall_id = ? ORDER BY contacts.id DESC LIMIT 1", r.ID)
	tries, err := collect(rows, err, scanContact)
	if err != nil {
		return err
	}
	for _, c := range tries {
		now += " " + c.By.Name + " tried last"
		if c.Note != "" {
			now += " and wrote “" + c.Note + "”"
		}
		now += "."
	}
	return conflict("The recall has changed since you opened it, and nothing was saved. %s Look again.", now)
}

// CloseRecall says that what a recall waited for has happened, in words. One
// that waits for a result is closed by recording that; one that waits for a
// wear, by its file. seen is the [Recall.Version] that was on the screen, or 0: a
// recall that changed since is a [Conflict], as with [Store.CancelRecall] and
// [Store.MoveRecall].
func (s *Store) CloseRecall(ctx context.Context, a Actor, recallID int64, reason string, seen int64) error {
	return s.endRecall(ctx, a, recallID, RecallDone, "close a recall", reason, seen)
}

// CancelRecall gives up a recall, for a reason.
func (s *Store) CancelRecall(ctx context.Context, a Actor, recallID int64, reason string, seen int64) error {
	return s.endRecall(ctx, a, recallID, RecallCancelled, "cancel a recall", reason, seen)
}

func (s *Store) endRecall(ctx context.Context, a Actor, recallID int64, state RecallState, doing, reason string, seen int64) error {
	if err := checkReason(reason); err != nil {
		return err
	}
	return s.changeRecall(ctx, a, recallID, doing, reason, func(t *tx, r Recall) error {
		if err := t.recallSeen(ctx, r, seen); err != nil {
			return err
		}
		if r.Kind == RecallDecide && !slices.Contains(clinicians, t.actor.Role) {
			return forbidden("A clinician decides on a result. Leave it on the list for one.")
		}
		_, err := t.ExecContext(ctx, "UPDATE recalls SET state = ?, closed_at = ?, closed_by = ?, reason = ? WHERE id = ?",
			state, t.now, a.UserID, strings.TrimSpace(reason), r.ID)
		return err
	})
}

// MoveRecall gives a recall another date, for a reason.
func (s *Store) MoveRecall(ctx context.Context, a Actor, recallID int64, due time.Time, reason string, seen int64) error {
	if err := checkReason(reason); err != nil {
		return err
	}
	return s.changeRecall(ctx, a, recallID, "move a recall", reason, func(t *tx, r Recall) error {
		if err := t.recallSeen(ctx, r, seen); err != nil {
			return err
		}
		if err := t.mayMove(ctx, r, due); err != nil {
			return err
		}
		_, err := t.ExecContext(ctx, "UPDATE recalls SET due_at = ?, reason = ? WHERE id = ?", due.Unix(), strings.TrimSpace(reason), r.ID)
		return err
	})
}

const recallColumns = `recalls.id, coalesce(wear_id, 0), coalesce(outcome_id, 0), kind, state, due_at, note, users.id, users.name, made_at,
	coalesce(closed_at, 0), coalesce(closed_by, 0), coalesce((SELECT name FROM users closer WHERE closer.id = closed_by), ''), reason,
	coalesce(result_id, 0), coalesce(new_wear_id, 0), coalesce(about_result, 0),
	given_at, sensor_kind, serial, (SELECT count(*) FROM contacts WHERE recall_id = recalls.id), coalesce((SELECT max(at) FROM contacts WHERE recall_id = recalls.id), 0), ` +
	patientColumns + ` FROM recalls JOIN users ON users.id = made_by JOIN patients ON patients.id = recalls.patient_id`

func scanRecall(row interface{ Scan(...any) error }) (Recall, error) {
	var r Recall
	var due, made, closed, given, last int64
	err := row.Scan(append([]any{&r.ID, &r.WearID, &r.OutcomeID, &r.Kind, &r.State, &due, &r.Note, &r.By.ID, &r.By.Name, &made,
		&closed, &r.ClosedBy.ID, &r.ClosedBy.Name, &r.Reason, &r.ResultID, &r.NewWearID, &r.AboutResult,
		&given, &r.SensorKind, &r.Serial, &r.Contacts, &last}, r.Patient.targets()...)...)
	r.DueAt, r.MadeAt, r.ClosedAt, r.GivenAt, r.LastContact = fromUnix(due), fromUnix(made), when(closed), when(given), when(last)
	return r, err
}

func scanRecallRow(rows *sql.Rows) (Recall, error) { return scanRecall(rows) }

// Recall gives one recall.
func (s *Store) Recall(ctx context.Context, id int64) (Recall, error) {
	r, err := scanRecall(s.reader.QueryRowContext(ctx, "SELECT "+recallColumns+" WHERE recalls.id = ?", id))
	return r, fail("read a recall", err)
}

// Recalls gives one page of recalls, the earliest due first.
func (s *Store) Recalls(ctx context.Context, q RecallQuery) (RecallPage, error) {
	if err := checkPage(q.Offset, q.Limit); err != nil {
		return RecallPage{}, err
	}
	where, args := []string{"TRUE"}, []any{}
	if q.PatientID != 0 {
		where, args = append(where, "recalls.patient_id = ?"), append(args, q.PatientID)
	}
	if q.PatientID == 0 {
		where, args = append(where, "(kind = 'out') = ?"), append(args, q.Outs)
	}
	if !q.Closed {
		where = append(where, "closed_at IS NULL")
	}
	if !q.DueBefore.IsZero() {
		where, args = append(where, "due_at < ?"), append(args, q.DueBefore.Unix())
	}
	if q.Untried {
		where = append(where, "state = 'due'")
	}
	condition := " WHERE " + strings.Join(where, " AND ")
	var p RecallPage
	err := s.read(ctx, "read the recalls", func(t *sql.Tx) error {
		if err := t.QueryRowContext(ctx, "SELECT count(*) FROM recalls"+condition, args...).Scan(&p.Matching); err != nil {
			return err
		}
		rows, err := t.QueryContext(ctx, "SELECT "+recallColumns+condition+" ORDER BY due_at, recalls.id LIMIT ? OFFSET ?", append(args, q.Limit, q.Offset)...)
		p.Rows, err = collect(rows, err, scanRecallRow)
		return err
	})
	return p, err
}
