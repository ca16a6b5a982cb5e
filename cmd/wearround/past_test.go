package main

import (
	"context"
	"io"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"wearround/store"
	"wearround/web/letter"
	"wearround/worker"
	"wearround/worker/sim"
	"wearround/worker/wear"
)

// TestPast plays the past of a small practice and asks the audit what it was:
// something of everything, told by a log in the order of time.
func TestPast(t *testing.T) {
	ctx, data := context.Background(), t.TempDir()
	now := time.Date(2026, 11, 26, 21, 0, 0, 0, time.UTC) // of real time, how many wears are live would hang on the minute
	rule, err := worker.ParseNameRule(worker.DefaultNameRule)
	if err != nil {
		t.Fatal(err)
	}
	a, err := open(ctx, config{
		data: data, drop: filepath.Join(data, "drop"), addr: "127.0.0.1:0", zone: time.UTC, rule: rule, protocol: wear.DefaultProtocol(),
		settle: time.Second, open: true, practice: letter.Practice{Name: "The invented practice", Phone: "5550 1000", Emergency: "000"},
	}, slog.New(slog.NewTextHandler(io.Discard, nil)))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.close(); err != nil {
			t.Error(err)
		}
	})
	practice := sim.NewPractice(demoSeed, now, time.UTC, 110)
	gone, live := divide(practice, now)
	if len(gone)+len(live) != practice.Len() || len(live) < len(sim.Kinds()) {
		t.Fatalf("%d wears gone and %d live of %d", len(gone), len(live), practice.Len())
	}
	p, err := openPast(ctx, a, now)
	if err != nil {
		t.Fatal(err)
	}
	if err := addDemoPeople(ctx, p.Store); err != nil {
		t.Fatal(err)
	}
	if err := p.register(ctx, practice); err != nil {
		t.Fatal(err)
	}
	if err := p.play(ctx, practice, gone); err != nil {
		t.Fatal(err)
	}

	audits, err := a.store.YearAudit(ctx, now, time.UTC, store.Span{From: now.AddDate(-2, 0, 0), To: now})
	if err != nil {
		t.Fatal(err)
	}
	found := audits[0]
	all := found.All()
	if all.Read < len(gone)*9/10 || all.Done() < all.Read*7/10 || all.Lost > 0 {
		t.Errorf("of %d files: %+v", len(gone), all)
	}
	if found.Tests.Back()+found.Routine.Back() == 0 || len(found.Recalls) < 2 || len(found.Letters) < 2 || found.Again.Wears == 0 || found.Waits[0].N == 0 {
		t.Errorf("the past is thin: %+v", found)
	}
	for _, k := range found.Kinds {
		if k.Kind == "" {
			t.Errorf("%d wears have no sensor kind", k.Wears)
		}
	}
	rows, err := a.store.LogRows(ctx, store.LogQuery{Limit: 200})
	if err != nil {
		t.Fatal(err)
	}
	for i := 1; i < len(rows); i++ {
		if rows[i-1].At.Before(rows[i].At) || rows[i].At.After(now) {
			t.Errorf("line %d of the log is of %v, the one before of %v", rows[i-1].Seq, rows[i-1].At, rows[i].At)
		}
	}
	if k, err := a.store.VerifyLog(ctx); err != nil || !k.OK() {
		t.Errorf("the log: %+v, %v", k, err)
	}
}
