package store

import (
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// AllMeans lists the means of contact.
func AllMeans() []Means { return []Means{ByTelephone, ByMessage, ByMail, ByPost, InPerson} }

func (c *NewContact) check() error {
	if !slices.Contains(AllMeans(), c.Means) {
		return invalid("Choose how the patient was contacted.")
	}
	return checkText(c.Note)
}

// RecordContact records an attempt to reach the patient of a wear. The actor
// must have claimed it. One that did not reach them needs a date to try again;
// the wear stays on the round and comes up then.
func (s *Store) RecordContact(ctx context.Context, a Actor, wearID int64, c NewContact) (id int64, err error) {
	if err := c.check(); err != nil {
		return 0, err
	}
	if !c.Reached && c.NextTry.IsZero() {
		return 0, invalid("Give a date to try again.")
	}
	err = s.act(ctx, a, staff, "record a contact", onWear(wearID), func(t *tx) error {
		wearID, err := t.holding(ctx, wearID)
		if err != nil {
			return err
		}
		if !c.NextTry.IsZero() && c.NextTry.Unix() < t.now-daySeconds {
			return invalid("The date to try again must not have passed.")
		}
		var patient int64
		var due int64
		var tier wear.Tier
		if err := t.QueryRowContext(ctx, "SELECT patient_id, tier, due_at FROM wears WHERE id = ?", wearID).Scan(&patient, &tier, &due); err != nil {
			return err
		}
		if last := t.last(due, 0); !c.NextTry.IsZero() && wear.DayNumber(c.NextTry.In(t.by.Zone)) > wear.DayNumber(last) {
			return invalid("This wear is for “%s” and %s: try again by %s at the latest, or hand it over.", tier.Words(), t.dueWords(due), last.Format("Monday 2 January"))
		}
		if id, err = t.addContact(ctx, patient, wearID, 0, c); err != nil {
			return err
		}
		if err := t.changeWear(ctx, wearID); err != nil {
			return err
		}
		if err := t.judge(ctx, wearID, nil); err != nil { // a note of it is words, to be read
			return err
		}
		return t.log(ctx, onWear(wearID), "")
	})
	return id, err
}

// dueWords say by when something was first to be done.
func (t *tx) dueWords(due int64) string {
	return "was to be seen to by " + time.Unix(due, 0).In(t.by.Zone).Format("Monday 2 January")
}

// stamp is a number of seconds to be stored, or nothing.
func stamp(seconds int64, none bool) sql.NullInt64 {
	return sql.NullInt64{Int64: seconds, Valid: !none}
}

// addContact saves an attempt; wearID and recallID may be 0.
func (t *tx) addContact(ctx context.Context, patientID, wearID, recallID int64, c NewContact) (id int64, err error) {
	at := t.now
	if !c.At.IsZero() {
		at = c.At.Unix()
	}
	p, err := readPatient(ctx, t.Tx, patientID)
	if err != nil {
		return 0, err
	}
	if err := happened("An attempt", time.Unix(at, 0), &p, t.clock(), oldestAct); err != nil {
		return 0, err
	}
	err = t.QueryRowContext(ctx, `INSERT INTO contacts (patient_id, wear_id, recall_id, at, means, reached, note, next_try, made_by)
		VALUES (?, nullif(?, 0), nullif(?, 0), ?, ?, ?, ?, ?, ?) RETURNING id`,
		patientID, wearID, recallID, at, c.Means, c.Reached, strings.TrimSpace(c.Note), stamp(c.NextTry.Unix(), c.NextTry.IsZero()), t.actor.UserID).Scan(&id)
	return id, err
}

const contactColumns = `contacts.id, coalesce(wear_id, 0), coalesce(recall_id, 0), at, means, reached, note, coalesce(next_try, 0), users.id, users.name
	FROM contacts JOIN users ON users.id = made_by`

func scanContact(rows *sql.Rows) (Contact, error) {
	var c Contact
	var at, next int64
	err := rows.Scan(&c.ID, &c.WearID, &c.RecallID, &at, &c.Means, &c.Reached, &c.Note, &next, &c.By.ID, &c.By.Name)
	c.At, c.NextTry = fromUnix(at), when(next)
	return c, err
}

// RecallContacts gives the attempts about some recalls, by recall and oldest
// first.
func (s *Store) RecallContacts(ctx context.Context, recallIDs []int64) (map[int64][]Contact, error) {
	ids, err := text(recallIDs)
	if err != nil {
		return nil, fail("read the contacts about recalls", err)
	}
	by := map[int64][]Contact{}
	rows, err := s.reader.QueryContext(ctx, "SELECT "+contactColumns+" WHERE recall_id IN (SELECT value FROM json_each(?)) ORDER BY at, contacts.id", ids)
	err = each(rows, err, func(rows *sql.Rows) error {
		c, err := scanContact(rows)
		by[c.RecallID] = append(by[c.RecallID], c)
		return err
	})
	return by, fail("read the contacts about recalls", err)
}
