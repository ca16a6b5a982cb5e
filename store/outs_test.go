package store_test

import (
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// give hands a sensor to the nth patient of storetest, so many days after the
// clock's start.
func give(t *testing.T, s *store.Store, a store.Actor, patientID int64, given time.Time) int64 {
	t.Helper()
	rec, err := s.PatientRecord(ctx, patientID)
	must(t, err)
	id, _, err := s.HandOut(ctx, a, store.NewOut{Patient: rec, GivenAt: given, DueAt: given.AddDate(0, 0, 17), SensorKind: "A", Serial: "0417"})
	must(t, err)
	return id
}

// TestTheFileClosesItsSensor: whoever has a sensor stands on the list until the
// file has come, whatever else happens, and on it again where the wear turns
// out to be somebody else's.
func TestTheFileClosesItsSensor(t *testing.T) {
	s, clock := storetest.Open(t)
	nurse := storetest.AddUser(t, s, "Nila", store.RoleNurse)
	who, other := storetest.AddPatient(t, s, 1), storetest.AddPatient(t, s, 2)
	out := give(t, s, nurse, who.ID, clock.Now())
	state := func() store.RecallState {
		t.Helper()
		r, err := s.Recall(ctx, out)
		must(t, err)
		return r.State
	}
	// A wear that was over before the sensor was handed out is not its file.
	storetest.File(t, s, storetest.Filing(1, who.ID, clock.Now(), 14, wear.Routine, 0))
	if state() != store.RecallDue {
		t.Fatalf("an older file closed the sensor: %s", state())
	}
	clock.Advance(15 * 24 * time.Hour)
	id := storetest.File(t, s, storetest.Filing(2, who.ID, clock.Now(), 14, wear.Routine, 0))
	r, err := s.Recall(ctx, out)
	must(t, err)
	if r.State != store.RecallDone || r.NewWearID != id || r.ClosedBy.ID != 0 {
		t.Fatalf("the file did not close the sensor: %+v", r)
	}
	_ = other
	page, err := s.Recalls(ctx, store.RecallQuery{Outs: true, Limit: 10})
	must(t, err)
	if page.Matching != 0 {
		t.Errorf("%d sensors are still out", page.Matching)
	}
}

// TestNobodyIsLostBeforeTheFile goes through every history of four sensors of
// one patient, each of whose files comes or does not: a sensor is on the list
// exactly while no wear began with it.
func TestNobodyIsLostBeforeTheFile(t *testing.T) {
	s, clock := storetest.Open(t)
	nurse := storetest.AddUser(t, s, "Nila", store.RoleNurse)
	const sensors = 4
	files, missing := 0, 0
	for history := range 1 << sensors {
		who := storetest.AddPatient(t, s, history+1)
		var out [sensors]int64
		came := func(i int) bool { return history>>i&1 == 1 }
		for i := range out {
			out[i] = give(t, s, nurse, who.ID, clock.Now())
			clock.Advance(16 * 24 * time.Hour)
			if came(i) {
				files++
				storetest.File(t, s, storetest.Filing(files, who.ID, clock.Now(), 2, wear.Routine, 0))
			} else {
				missing++
			}
			clock.Advance(2 * 24 * time.Hour)
		}
		for i, id := range out {
			r, err := s.Recall(ctx, id)
			must(t, err)
			if open := r.ClosedAt.IsZero(); open == came(i) {
				t.Fatalf("history %04b, sensor %d: on the list %v, its file came %v", history, i, open, came(i))
			}
		}
	}
	clock.Advance(30 * 24 * time.Hour)
	d, err := s.Daily(ctx, clock.Now())
	must(t, err)
	if d.OutsOverdue != missing || d.RecallsUntried != 0 {
		t.Errorf("daily line: %d overdue, want %d; %d recalls", d.OutsOverdue, missing, d.RecallsUntried)
	}
}

// TestHandOutAsks: what is asked then is on record with its day, and a new
// patient is on the register.
func TestHandOutAsks(t *testing.T) {
	s, clock := storetest.Open(t)
	nurse := storetest.AddUser(t, s, "Nila", store.RoleNurse)
	n := store.NewOut{GivenAt: clock.Now(), DueAt: clock.Now().AddDate(0, 0, 17)}
	n.Patient.Code, n.Patient.Context = "P-9", wear.Context{AskedOn: "2026-06-01", Pregnant: true}
	_, id, err := s.HandOut(ctx, nurse, n)
	must(t, err)
	rec, err := s.PatientRecord(ctx, id)
	must(t, err)
	if rec.Context.AskedOn != "2026-06-01" || !rec.Context.Pregnant {
		t.Errorf("on record: %+v", rec.Context)
	}
	if _, _, err := s.HandOut(ctx, nurse, n); store.CodeOf(err) != store.Conflict {
		t.Errorf("a code of the register was taken for a new patient: %v", err)
	}
	n.Patient, n.DueAt = rec, clock.Now().AddDate(0, 0, -1)
	if _, _, err := s.HandOut(ctx, nurse, n); store.CodeOf(err) != store.Invalid {
		t.Errorf("a file due before its sensor: %v", err)
	}
	n.GivenAt = clock.Now().AddDate(0, 0, 3)
	if _, _, err := s.HandOut(ctx, nurse, n); store.CodeOf(err) != store.Invalid {
		t.Errorf("a sensor of the day after next: %v", err)
	}
}
