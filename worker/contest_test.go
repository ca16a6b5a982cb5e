package worker

import (
	"context"
	"strings"
	"testing"

	"wearround/store"
	"wearround/store/storetest"
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
	f, err := b.store.FileByID(ctx, first.FileID)
	if err != nil || f.State != store.Held || len(f.Questions) != 1 || len(f.Questions[0].Choices) != 2 {
		t.Fatalf("taken back: %s with %+v, %v", f.State, f.Questions, err)
	}
	if f.Answers[store.FiledFor] != "P-0417" || b.owner(first.WearIDs[0]) != "P-0417" || len(b.wearsOf("P-0500")) != 0 {
		t.Errorf("taken back: the wear is with %s, filed for %s", b.owner(first.WearIDs[0]), f.Answers[store.FiledFor])
	}
	answer("P-0417")

	// The same copy does not ask again.
	write(t, b.Drop, "P-0500_b.csv", data)
	b.settleAndLook()
	if f, _ := b.store.FileByID(ctx, first.FileID); f.State != store.Filed {
		t.Errorf("asked again: %s", f.State)
	}
	f, err = b.store.FileByID(ctx, first.FileID)
	if err != nil || !f.Account.Balanced() || f.Account.Cells != 2*(8*288+1) {
		t.Errorf("the account: %+v, %v", f.Account, err)
	}
}

// Where the second patient had a wear that the answer joined, taking it back
// parts the two again.
func TestTakingBackWhosePartsWhatWasJoined(t *testing.T) {
	lines := strings.SplitAfter(export(1, 8, 0), "\n")
	b := newBench(t, "P-0417", "P-0500")
	ctx := context.Background()
	half := lines[0] + strings.Join(lines[1:1+4*288], "")
	write(t, b.Drop, "P-0417_a.csv", half)
	write(t, b.Drop, "P-0500_b.csv", lines[0]+strings.Join(lines[1+4*288:], ""))
	b.settleAndLook()
	was := []string{b.snapshot(b.wearsOf("P-0417")[0].ID).text, b.snapshot(b.wearsOf("P-0500")[0].ID).text}
	write(t, b.Drop, "P-0500_a.csv", half)
	b.settleAndLook()
	b.look(ctx)
	b.answer("P-0417_a.csv", "patient", "P-0500")
	b.look(ctx)
	if a, z := b.wearsOf("P-0417"), b.wearsOf("P-0500"); len(a) != 0 || len(z) != 1 || z[0].Readings != 8*288 {
		t.Fatalf("answered: %+v and %+v", a, z)
	}
	if err := b.store.TakeBackAnswers(ctx, b.drops()["P-0417_a.csv"].FileID); err != nil {
		t.Fatal(err)
	}
	b.look(ctx)
	a, z := b.wearsOf("P-0417"), b.wearsOf("P-0500")
	if len(a) != 1 || len(z) != 1 || b.snapshot(a[0].ID).text != was[0] || b.snapshot(z[0].ID).text != was[1] {
		t.Errorf("taken back: %+v and %+v", a, z)
	}
	b.want("P-0417_a.csv", store.Held, store.WrongPerson)
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

// An export with other values at the same times is asked about, once.
func TestCorrectedExport(t *testing.T) {
	for answer, want := range map[string]int{"replace": 1, "two_sensors": 2} {
		b := newBench(t, "P-0417")
		ctx := context.Background()
		write(t, b.Drop, "P-0417_a.csv", export(1, 4, 0))
		b.settleAndLook()
		write(t, b.Drop, "P-0417_b.csv", export(1, 4, 4))
		b.settleAndLook()
		d := b.drops()["P-0417_b.csv"]
		if d.Fate != store.Held || d.Code != "overlap" {
			t.Fatalf("%s (%s)", d.Fate, d.Reason)
		}
		if err := b.store.Answer(ctx, d.FileID, map[string]string{"overlap": answer}); err != nil {
			t.Fatal(err)
		}
		b.look(ctx)
		wears := map[int64]bool{}
		for _, name := range []string{"P-0417_a.csv", "P-0417_b.csv"} {
			got := b.drops()[name]
			if got.Fate != store.Filed {
				t.Fatalf("%s: %s (%s)", answer, got.Fate, got.Reason)
			}
			for _, id := range got.WearIDs {
				wears[id] = true
			}
		}
		if len(wears) != want {
			t.Errorf("%s: %d wears, want %d", answer, len(wears), want)
		}
		if answer != "replace" {
			continue
		}
		w, err := b.store.Wear(ctx, b.drops()["P-0417_b.csv"].WearIDs[0])
		if err != nil || w.Report.Readings != 4*288 {
			t.Errorf("%d readings, %v", w.Report.Readings, err)
		}
		readings, _, err := b.store.FileTrace(ctx, w.ID)
		if err != nil || readings[0].Text() != "6.0" {
			t.Errorf("first reading %s, want the corrected 6.0; %v", readings[0].Text(), err)
		}
	}
}

// While it is asked whose a file is, what it brought stays where it is, also
// when another file of the same wear is read again.
func TestContestedReadingsStay(t *testing.T) {
	lines := strings.SplitAfter(export(1, 8, 0), "\n")
	b := newBench(t, "P-0417", "P-0500")
	nurse := storetest.AddUser(t, b.store, "nurse", store.RoleNurse)
	half := lines[0] + strings.Join(lines[1:1+4*288], "")
	write(t, b.Drop, "P-0417_a.csv", half)
	write(t, b.Drop, "P-0417_b.csv", lines[0]+strings.Join(lines[1+4*288:], ""))
	b.settleAndLook()
	id := b.wearOf(b.want("P-0417_b.csv", store.Filed, "")).ID
	write(t, b.Drop, "P-0500_a.csv", half)
	b.settleAndLook()
	b.look(context.Background())
	b.want("P-0417_a.csv", store.Held, store.WrongPerson)
	b.setZone(nurse, id, "Europe/London")
	b.look(context.Background())
	b.look(context.Background())
	if n := len(b.snapshot(id).readings); n != 8*288 {
		t.Errorf("%d readings are left of %d", n, 8*288)
	}
}

// An export that was replaced by a corrected one is not asked about again when
// its file is read once more.
func TestReplacedExportIsNotAskedAgain(t *testing.T) {
	b := newBench(t, "P-0417")
	nurse := storetest.AddUser(t, b.store, "nurse", store.RoleNurse)
	write(t, b.Drop, "P-0417_a.csv", export(1, 4, 0))
	b.settleAndLook()
	write(t, b.Drop, "P-0417_b.csv", export(1, 4, 4))
	b.settleAndLook()
	b.answer("P-0417_b.csv", overlapCode, "replace")
	b.look(context.Background())
	id := b.wearOf(b.want("P-0417_b.csv", store.Filed, "")).ID
	was := b.snapshot(id)
	for _, zone := range []string{"Europe/London", ""} {
		b.setZone(nurse, id, zone)
		b.look(context.Background())
		b.look(context.Background())
		b.want("P-0417_a.csv", store.Filed, "")
	}
	if now := b.snapshot(id); now.text != was.text {
		t.Error("the zone set and taken back leaves another wear")
	}
}

// Of two files that somebody called two sensors neither is asked about again
// when it is read once more, whichever was answered about.
func TestTwoSensorsAreNotAskedAboutAgain(t *testing.T) {
	b := newBench(t, "P-0417")
	nurse := storetest.AddUser(t, b.store, "nurse", store.RoleNurse)
	write(t, b.Drop, "P-0417_a.csv", export(1, 4, 0))
	b.settleAndLook()
	write(t, b.Drop, "P-0417_b.csv", export(1, 4, 4))
	b.settleAndLook()
	b.answer("P-0417_b.csv", overlapCode, "two_sensors")
	b.look(context.Background())
	for _, name := range []string{"P-0417_a.csv", "P-0417_b.csv"} {
		id := b.wearOf(b.want(name, store.Filed, "")).ID
		was := b.snapshot(id)
		for _, zone := range []string{"Europe/London", ""} {
			b.setZone(nurse, id, zone)
			b.look(context.Background())
			b.look(context.Background())
		}
		b.want(name, store.Filed, "")
		if now := b.snapshot(id); now.text != was.text {
			t.Errorf("%s: the zone set and taken back leaves another wear", name)
		}
	}
}
