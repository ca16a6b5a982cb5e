package worker

import (
	"context"
	"testing"

	"wearround/store"
)

// A copy of filed bytes under another patient's code is how a misnaming is put
// right: it is asked about with both patients, moved by the answer, and moved
// back by taking the answer back.
func TestCopyUnderAnotherName(t *testing.T) {
	b := newBench(t, "P-0417", "P-0500")
	ctx := context.Background()
	data := export(1, 8, 0)
	write(t, b.Drop, "p-0417_a.csv", data) // codes match whatever their case
	b.settleAndLook()
	first := b.drops()["p-0417_a.csv"]
	if first.Fate != store.Filed || b.owner(first.WearIDs[0]) != "P-0417" {
		t.Fatalf("%s (%s)", first.Fate, first.Reason)
	}
	write(t, b.Drop, "P-0500_a.csv", data)
	b.settleAndLook()
	b.look(ctx)
	if b.owner(first.WearIDs[0]) != "P-0417" {
		t.Error("the wear moved before anybody said so")
	}
	held, err := b.store.FileByID(ctx, first.FileID)
	if err != nil || held.State != store.Held || len(held.Questions) != 1 || held.Questions[0].Code != "patient" || len(held.Questions[0].Choices) != 2 {
		t.Fatalf("%s with %+v, %v", held.State, held.Questions, err)
	}
	answer := func(code string) {
		t.Helper()
		if err := b.store.Answer(ctx, first.FileID, map[string]string{"patient": code}); err != nil {
			t.Fatal(err)
		}
		b.look(ctx)
		list := b.drops()["p-0417_a.csv"]
		if list.Fate != store.Filed || len(list.WearIDs) != 1 || b.owner(list.WearIDs[0]) != code {
			t.Fatalf("after the answer %s: %s (%s), wears %v", code, list.Fate, list.Reason, list.WearIDs)
		}
	}
	answer("P-0500")
	if err := b.store.TakeBackAnswers(ctx, first.FileID); err != nil {
		t.Fatal(err)
	}
	b.look(ctx)
	if f, err := b.store.FileByID(ctx, first.FileID); err != nil || f.State != store.Held || len(f.Questions[0].Choices) != 2 {
		t.Fatalf("taken back: %s with %+v, %v", f.State, f.Questions, err)
	}
	answer("P-0417")

	// The same copy does not ask again.
	write(t, b.Drop, "P-0500_b.csv", data)
	b.settleAndLook()
	if f, _ := b.store.FileByID(ctx, first.FileID); f.State != store.Filed {
		t.Errorf("asked again: %s", f.State)
	}
	f, err := b.store.FileByID(ctx, first.FileID)
	if err != nil || !f.Account.Balanced() || f.Account.Cells != 2*(8*288+1) {
		t.Errorf("the account: %+v, %v", f.Account, err)
	}
}

func (b *bench) owner(wearID int64) string {
	b.t.Helper()
	w, err := b.store.Wear(context.Background(), wearID)
	if err != nil {
		b.t.Fatal(err)
	}
	return w.Patient.Code
}

// An answer that set a file aside can be taken back, and the file is read again.
func TestAnswerTakenBack(t *testing.T) {
	b := newBench(t, "P-0417")
	ctx := context.Background()
	data := "time,quantity\n" + export(1, 3, 0)[len("time,glucose mmol/L\n"):]
	write(t, b.Drop, "P-0417_q.csv", data)
	b.settleAndLook()
	d := b.drops()["P-0417_q.csv"]
	if d.Fate != store.Held || d.Code != "glucose_column" {
		t.Fatalf("%s (%s)", d.Fate, d.Reason)
	}
	for _, step := range []struct {
		answer string
		want   store.Fate
	}{{"stop", store.Refused}, {"2", store.Filed}} {
		if err := b.store.Answer(ctx, d.FileID, map[string]string{"glucose_column": step.answer}); err != nil {
			t.Fatal(err)
		}
		b.look(ctx)
		if got := b.drops()["P-0417_q.csv"]; got.Fate != step.want {
			t.Fatalf("answered %s: %s (%s), want %s", step.answer, got.Fate, got.Reason, step.want)
		}
		if err := b.store.TakeBackAnswers(ctx, d.FileID); err != nil {
			t.Fatal(err)
		}
		b.look(ctx)
		if got := b.drops()["P-0417_q.csv"]; got.Fate != store.Held {
			t.Fatalf("taken back: %s (%s)", got.Fate, got.Reason)
		}
	}
}

// An empty folder where many files were is trouble.
func TestEmptiedFolder(t *testing.T) {
	b := newBench(t)
	for i := range emptied {
		if err := b.store.RecordDrop(context.Background(), store.Drop{Path: string(rune('a'+i%26)) + string(rune('a'+i/26)), Size: 1, ModTime: b.now, SeenAt: b.now, Fate: store.Refused, Code: "empty"}); err != nil {
			t.Fatal(err)
		}
	}
	b.settleAndLook()
	if b.said != emptyFolder {
		t.Errorf("it says %q", b.said)
	}
}
