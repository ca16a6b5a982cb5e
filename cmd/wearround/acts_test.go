package main

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker"
	"wearround/worker/backup"
	"wearround/worker/wear"
)

// faultTime is when everything in the fault harness happens.
func faultTime() time.Time { return time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC) }

// faultActs are the paths that change what is kept, each as the program does it.
var faultActs = map[string]func(ctx context.Context, dir string) error{
	"file": func(ctx context.Context, dir string) error {
		return withPractice(ctx, dir, func(s *store.Store, w *worker.Worker) error {
			names, err := os.ReadDir(filepath.Join(dir, "drop"))
			if err != nil {
				return err
			}
			_, err = w.Take(ctx, names[0].Name())
			return err
		})
	},
	"outcome": func(ctx context.Context, dir string) error {
		return withPractice(ctx, dir, func(s *store.Store, _ *worker.Worker) error {
			users, err := s.Users(ctx)
			if err != nil {
				return err
			}
			i := slices.IndexFunc(users, func(u store.User) bool { return u.Login == "clinician" })
			w, err := s.Wear(ctx, 1)
			if err != nil {
				return err
			}
			a := store.Actor{UserID: users[i].ID}
			if _, err := s.Claim(ctx, a, w.ID); err != nil {
				return err
			}
			o := store.NewOutcome{WearID: w.ID, Kind: store.TestsOrdered, Reason: "as agreed", Recall: faultTime().Add(30 * 24 * time.Hour), Seen: w.Evidence}
			_, err = s.RecordOutcome(ctx, a, o)
			return err
		})
	},
	"log": func(ctx context.Context, dir string) error {
		return withPractice(ctx, dir, func(s *store.Store, _ *worker.Worker) error {
			if err := s.RecordRefusal(ctx, store.Actor{}, "open /", "page", 0); err != nil {
				return err
			}
			head, err := s.LogHead(ctx)
			if err != nil {
				return err
			}
			return worker.NewAnchors(filepath.Join(dir, "audit.anchors")).Add(head, faultTime())
		})
	},
	"backup": func(ctx context.Context, dir string) error {
		return withPractice(ctx, dir, func(_ *store.Store, w *worker.Worker) error {
			_, err := w.Backup(ctx)
			return err
		})
	},
	"restore": func(ctx context.Context, dir string) error {
		found, err := backup.Find(dir + ".place")
		if err != nil {
			return err
		}
		_, err = backup.Restore(ctx, found, filepath.Join(dir, "new"), backup.Way{Key: storetest.AuditKey(), Now: faultTime})
		return err
	},
	"migrate": func(ctx context.Context, dir string) error {
		s, err := store.Open(ctx, filepath.Join(dir, "old", "wearround.db"), faultTime)
		if err != nil {
			return err
		}
		return errors.Join(s.SetLogKey(storetest.AuditKey()), s.Close())
	},
}

func withPractice(ctx context.Context, dir string, do func(*store.Store, *worker.Worker) error) (err error) {
	s, err := store.Open(ctx, filepath.Join(dir, "wearround.db"), faultTime)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if err := s.SetLogKey(storetest.AuditKey()); err != nil {
		return err
	}
	if err := s.JudgeBy(store.Judging{Protocol: wear.DefaultProtocol(), Zone: time.UTC}); err != nil {
		return err
	}
	archive, err := worker.OpenArchive(filepath.Join(dir, "archive"))
	if err != nil {
		return err
	}
	rule, err := worker.ParseNameRule(worker.DefaultNameRule)
	if err != nil {
		return err
	}
	w := worker.New(worker.Config{
		Drop: filepath.Join(dir, "drop"), Archive: archive, Settle: time.Second, Zone: time.UTC, Rule: rule, Now: faultTime,
		Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Metrics: worker.NewMetrics(prometheus.NewRegistry()),
		Backup: dir + ".place", Data: dir, Key: storetest.AuditKey(), Program: "test",
	}, s)
	return do(s, w)
}

// newPracticeAt makes a practice whose key is that of tests, and gives it open.
func newPracticeAt(t *testing.T, dir string, people []store.Patient) *store.Store {
	t.Helper()
	ctx := t.Context()
	if err := os.MkdirAll(filepath.Join(dir, "drop"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := storetest.Empty(filepath.Join(dir, "wearround.db")); err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(ctx, filepath.Join(dir, "wearround.db"), faultTime)
	if err != nil {
		t.Fatal(err)
	}
	err = errors.Join(s.SetLogKey(storetest.AuditKey()), addDemoPeople(ctx, s), s.AddPatients(ctx, people))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// writeTestKey puts the key of such a practice where the program looks for it.
func writeTestKey(t *testing.T, dir string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, "audit.key"), storetest.AuditKey(), 0o600); err != nil {
		t.Fatal(err)
	}
}
