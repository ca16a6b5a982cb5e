package main

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// TestAnotherProtocolJudgesAnew starts the program on a practice whose round was
// judged by another protocol: its wears are judged by the one now in force.
func TestAnotherProtocolJudgesAnew(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	data := t.TempDir()
	s, err := store.Open(ctx, filepath.Join(data, "wearround.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := useLogKey(ctx, s, filepath.Join(data, "audit.key")); err != nil {
		t.Fatal(err)
	}
	who := storetest.AddPatient(t, s, 1)
	f := storetest.Filing(1, who.ID, time.Now(), 14, wear.Today, 99, wear.FlagAbove7_8)
	old := wear.DefaultProtocol()
	old.Version = "of another year"
	if err := s.JudgeBy(store.Judging{Protocol: old, Zone: time.UTC}); err != nil {
		t.Fatal(err)
	}
	storetest.Unsay(&f.Wears[0])
	id := storetest.File(t, s, f)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	p := openPracticeIn(t, data, 20)
	judgedBy(ctx, t, p.store, id, wear.DefaultProtocol().Version)
}

// judgedBy waits until a wear is judged by a version.
func judgedBy(ctx context.Context, t *testing.T, s *store.Store, id int64, version string) {
	t.Helper()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for {
		w, err := s.Wear(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		if w.Report.Protocol == version {
			return
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			t.Fatalf("the report is still by the protocol %q", w.Report.Protocol)
		}
	}
}

// TestSignedBesideTheProgram signs a protocol with another handle on the
// practice, as the command does, while the program runs: it judges by it.
func TestSignedBesideTheProgram(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	data := t.TempDir()
	running := openPracticeIn(t, data, 20)
	id := storetest.File(t, running.store, storetest.Filing(1, storetest.AddPatient(t, running.store, 1).ID, time.Now(), 14, wear.Today, 99))
	s, err := store.Open(ctx, filepath.Join(data, "wearround.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	if _, err := useLogKey(ctx, s, filepath.Join(data, "audit.key")); err != nil {
		t.Fatal(err)
	}
	who, own := storetest.AddUser(t, s, "Dosu", store.RoleClinician), wear.DefaultProtocol()
	own.Version = "of the practice"
	draft, err := s.DraftProtocol(ctx, who, own)
	if err != nil {
		t.Fatal(err)
	}
	k, err := s.KeptProtocol(ctx, draft)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.SignProtocol(ctx, who, draft, k.At, time.Now()); err != nil {
		t.Fatal(err)
	}
	judgedBy(ctx, t, running.store, id, own.Version)
}
