package store_test

import (
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

func TestLocation(t *testing.T) {
	practice := time.FixedZone("here", 3600)
	for name, want := range map[string]string{"": "here", "Australia/Perth": "Australia/Perth", "Local": "", "Mars/Tharsis": "", "../etc": ""} {
		zone, err := store.Location(name, practice)
		switch {
		case want == "" && store.CodeOf(err) != store.Invalid:
			t.Errorf("%q: %v, %v; want it refused", name, zone, err)
		case want != "" && (err != nil || zone.String() != want):
			t.Errorf("%q: %v, %v; want %s", name, zone, err, want)
		}
	}
}

// TestSetZone says in which zone a wearer's clock was: it is logged, reaches
// every wear of the same files, and holds until it is taken back.
func TestSetZone(t *testing.T) {
	s, clock := storetest.Open(t)
	nurse, other, auditor := storetest.AddUser(t, s, "nurse", store.RoleNurse), storetest.AddUser(t, s, "other", store.RoleNurse), storetest.AddUser(t, s, "auditor", store.RoleAuditor)
	p := storetest.AddPatient(t, s, 1)
	f := storetest.Filing(1, p.ID, clock.Now(), 10, wear.Routine, 1)
	f.Wears = append(f.Wears, storetest.Filing(2, p.ID, clock.Now().AddDate(0, 0, -30), 10, wear.Routine, 1).Wears...)
	fileID, wears, err := s.File(ctx, f)
	if err != nil {
		t.Fatal(err)
	}
	zones := func() (list [2]string) {
		t.Helper()
		for i, id := range wears {
			w, err := s.Wear(ctx, id)
			if err != nil {
				t.Fatal(err)
			}
			list[i] = w.Zone
		}
		return list
	}
	for _, test := range []struct {
		who  store.Actor
		wear int64
		name string
		want store.Code
	}{
		{nurse, wears[0], "Mars/Tharsis", store.Invalid},
		{nurse, 999, "Australia/Perth", store.NotFound},
		{auditor, wears[0], "Australia/Perth", store.Forbidden},
	} {
		if _, err := s.SetZone(ctx, test.who, test.wear, test.name); store.CodeOf(err) != test.want {
			t.Errorf("%q for wear %d: %v, want %s", test.name, test.wear, err, test.want)
		}
	}
	if _, err := s.Claim(ctx, other, wears[1]); err != nil {
		t.Fatal(err)
	}
	if _, err := s.SetZone(ctx, nurse, wears[0], "Australia/Perth"); store.CodeOf(err) != store.Conflict {
		t.Errorf("behind the back of who works on a wear of the same file: %v", err)
	}
	if got := zones(); got != [2]string{} {
		t.Fatalf("what was refused left zones %q", got)
	}

	n, err := s.SetZone(ctx, other, wears[0], " Australia/Perth ")
	if err != nil || n != 2 || zones() != [2]string{"Australia/Perth", "Australia/Perth"} {
		t.Fatalf("%d wears, zones %q: %v", n, zones(), err)
	}
	in, err := s.WearInputs(ctx, wears[0])
	if err != nil || in.Input(time.UTC, nil).Zone.String() != "Australia/Perth" {
		t.Errorf("its report would be made in zone %v: %v", in.Zone, err)
	}
	files, err := s.AnsweredFiles(ctx)
	if err != nil || len(files) != 1 || files[0].Answers[store.ZoneOfWear] != "Australia/Perth" {
		t.Fatalf("to be read again: %+v, %v", files, err)
	}
	log, err := s.LogRows(ctx, store.LogQuery{Object: "wear", ObjectID: wears[1], Limit: 200})
	if err != nil {
		t.Fatal(err)
	}
	if at := len(log); at == 0 || log[0].Action != "set the zone of a wear" || log[0].Reason != "Australia/Perth" || log[0].Actor.ID != other.UserID {
		t.Errorf("the log: %+v", log)
	}

	// Filed as by another clock, the wear keeps the zone that its file says.
	again := f
	again.Drop.FileID, again.Answered = fileID, files[0].Answered
	for i, id := range wears {
		again.Wears[i].WearID = id
		again.Wears[i].Zone = []string{"Australia/Perth", ""}[i]
	}
	if _, _, err := s.File(ctx, again); err != nil {
		t.Fatal(err)
	}
	if got := zones(); got != [2]string{"Australia/Perth", "Australia/Perth"} {
		t.Errorf("filed again: zones %q", got)
	}

	if _, err := s.SetZone(ctx, other, wears[1], ""); err != nil || zones() != [2]string{} {
		t.Errorf("taken back: zones %q, %v", zones(), err)
	}
	if f, err := s.FileByID(ctx, fileID); err != nil || len(f.Answers) != 0 || !f.Pending {
		t.Errorf("taken back, the file says %v: %v", f.Answers, err)
	}
}

func TestNoZoneForSeveralPeople(t *testing.T) {
	s, clock := storetest.Open(t)
	nurse := storetest.AddUser(t, s, "nurse", store.RoleNurse)
	f := storetest.Filing(1, storetest.AddPatient(t, s, 1).ID, clock.Now(), 10, wear.Routine, 1)
	f.Wears = append(f.Wears, storetest.Filing(2, 0, clock.Now(), 10, wear.Routine, 1).Wears...)
	f.Wears[1].PatientID = storetest.AddPatient(t, s, 2).ID
	_, wears, err := s.File(ctx, f)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.SetZone(ctx, nurse, wears[0], "Australia/Perth"); store.CodeOf(err) != store.Conflict {
		t.Errorf("one zone for two people: %v", err)
	}
}
