package store_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

func TestBeat(t *testing.T) {
	s, clock := storetest.Open(t)
	if b, err := s.LastBeat(ctx); err != nil || !b.At.IsZero() {
		t.Errorf("before the first beat: %+v, %v", b, err)
	}
	for _, b := range []store.Beat{
		{At: clock.Now(), FolderOK: true, Looked: 7, Seen: 200, Waiting: 3},
		{At: clock.Now().Add(time.Minute), Message: "The watched folder cannot be read.", Looked: 8},
	} {
		must(t, s.Beat(ctx, b))
		got, err := s.LastBeat(ctx)
		must(t, err)
		if diff := cmp.Diff(b, got); diff != "" {
			t.Errorf("beat (-want +got):\n%s", diff)
		}
	}
}

func TestJobs(t *testing.T) {
	s, clock := storetest.Open(t)
	if _, ran, err := s.LastRun(ctx, "backup"); err != nil || ran {
		t.Errorf("ran %t, %v before any run", ran, err)
	}
	first := clock.Now()
	must(t, s.RecordRun(ctx, "backup", first, 1500*time.Millisecond, ""))
	clock.Advance(time.Hour)
	must(t, s.RecordRun(ctx, "backup", clock.Now(), time.Second, "The disk is full."))
	if at, ran, err := s.LastRun(ctx, "backup"); err != nil || !ran || !at.Equal(clock.Now()) {
		t.Errorf("last run %v, %t, %v", at, ran, err)
	}
	jobs, err := s.Jobs(ctx)
	must(t, err)
	want := []store.Job{{Name: "backup", At: clock.Now(), Took: time.Second, Err: "The disk is full.", GoodAt: first}}
	if diff := cmp.Diff(want, jobs); diff != "" {
		t.Errorf("jobs (-want +got):\n%s", diff)
	}
}

func TestPatients(t *testing.T) {
	s, _ := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	changed := store.Patient{Code: p.Code, Name: "Zolena Dorin", BirthDate: "1970-02-28", Context: wear.Context{Sex: "female", Steroid: true}}
	must(t, s.AddPatients(ctx, []store.Patient{storetest.Patient(2), changed}))
	changed.ID = p.ID
	got, err := s.Patient(ctx, p.ID)
	must(t, err)
	if diff := cmp.Diff(changed, got); diff != "" {
		t.Errorf("patient (-want +got):\n%s", diff)
	}
	if all, err := s.Patients(ctx); err != nil || len(all) != 2 || all[1].Code != "P00002" {
		t.Errorf("register: %+v, %v", all, err)
	}
	if _, err := s.PatientByCode(ctx, "nobody"); store.CodeOf(err) != store.NotFound {
		t.Errorf("got %v, want not found", err)
	}
	for _, bad := range []store.Patient{{}, {Code: " P3"}, {Code: "P3", BirthDate: "28.2.1970"}} {
		if err := s.AddPatients(ctx, []store.Patient{{Code: "P4"}, bad}); store.CodeOf(err) != store.Invalid {
			t.Errorf("%+v: %v, want it refused", bad, err)
		}
	}
	if _, err := s.PatientByCode(ctx, "P4"); store.CodeOf(err) != store.NotFound {
		t.Errorf("a patient of a refused list was saved: %v", err)
	}
}
