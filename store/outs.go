package store

import (
	"context"
	"strings"
	"time"
)

// NewOut is a sensor to be handed out.
type NewOut struct {
	Patient    PatientRecord // the entry as it is to be kept, with what was asked; with ID 0 a new one
	GivenAt    time.Time     // day on which it is put on
	DueAt      time.Time     // day by which its file should be here
	SensorKind string
	Serial     string
	Note       string // what the wearer was asked to write down, or anything else
}

// HandOut records that a sensor was handed out, with what the patient was asked
// then; a patient who is not on the register is added. It gives the recall for
// the sensor's file, which the file itself closes, and the patient.
func (s *Store) HandOut(ctx context.Context, a Actor, n NewOut) (recallID, patientID int64, err error) {
	if err := n.check(s.now()); err != nil {
		return 0, 0, err
	}
	on := onPatient(n.Patient.ID)
	err = s.act(ctx, a, staff, "hand out a sensor", on, func(t *tx) error {
		if err := happened("The day on which the sensor was put on", n.GivenAt, &n.Patient.Patient, t.clock(), oldestAct); err != nil {
			return err
		}
		if patientID, err = t.saveAsked(ctx, n.Patient); err != nil {
			return err
		}
		if recallID, err = t.addRecall(ctx, NewRecall{PatientID: patientID, Kind: RecallOut, DueAt: n.DueAt, Note: n.Note}, 0); err != nil {
			return err
		}
		_, err := t.ExecContext(ctx, "UPDATE recalls SET given_at = ?, sensor_kind = ?, serial = ? WHERE id = ?",
			n.GivenAt.Unix(), strings.TrimSpace(n.SensorKind), strings.TrimSpace(n.Serial), recallID)
		if err != nil {
			return err
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		if err := t.recallWears(ctx, patientID); err != nil { // its file may have come already
			return err
		}
		if err := t.hear(ctx, patientID, 0, n.Note); err != nil {
			return err
		}
		return t.log(ctx, onPatient(patientID), string(RecallOut))
	})
	return recallID, patientID, err
}

func (n *NewOut) check(now time.Time) error {
	if n.GivenAt.IsZero() || n.DueAt.IsZero() {
		return invalid("Give the day on which the sensor is put on, and the day by which its file should be here.")
	}
	if n.DueAt.Before(n.GivenAt) {
		return invalid("The file cannot be due before the sensor was put on.")
	}
	if n.DueAt.After(n.GivenAt.AddDate(0, 0, mostOut)) {
		return invalid("The file is due within half a year of the day on which the sensor is put on. Check the date.")
	}
	return firstErr(checkPatient(&n.Patient.Patient, now), n.Patient.Contact.check(), checkText(n.SensorKind), checkText(n.Serial), checkText(n.Note))
}

// saveAsked saves the entry of a patient who was asked, and gives its id.
func (t *tx) saveAsked(ctx context.Context, r PatientRecord) (int64, error) {
	old, found, err := recordByCode(ctx, t.Tx, r.Code)
	switch {
	case err != nil:
		return 0, err
	case found && r.ID == 0:
		return 0, conflict("A patient with this code is on the register already. Look there, or correct the code.")
	case r.ID == 0:
		if err := t.addRecord(ctx, r); err != nil {
			return 0, err
		}
		old, _, err = recordByCode(ctx, t.Tx, r.Code)
		return old.ID, err
	case old.ID != r.ID || old.MergedInto != 0 || old.Version != r.Version:
		return 0, conflict("Somebody else changed this patient's entry meanwhile. Look again, then hand the sensor out.")
	}
	return old.ID, t.saveRecord(ctx, old, r)
}
