package worker

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// message is what people are told of the worker's last look.
func (b *bench) message() (store.Beat, string) {
	b.t.Helper()
	beat, err := b.store.LastBeat(context.Background())
	if err != nil {
		b.t.Fatal(err)
	}
	return beat, beat.Message
}

// An archive that cannot be written to, as on a full disk, is said; the file
// counts as waiting, and is filed once there is room.
func TestFullDiskIsSaid(t *testing.T) {
	b := newBench(t, "P-0417")
	dir := b.Archive.dir
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(dir, nil, 0o600); err != nil { // nothing can be kept where a file stands
		t.Fatal(err)
	}
	write(t, b.Drop, "P-0417_a.csv", export(1, 8, 0))
	b.settleAndLook()
	if beat, m := b.message(); !beat.FolderOK || beat.Waiting != 1 || !strings.Contains(m, "disk is not full") {
		t.Errorf("%+v", beat)
	}
	told := ""
	b.judge(func(in wear.Input) *wear.Report { // while it is tried again
		_, told = b.message()
		return wear.Analyse(in)
	})
	if len(b.drops()) != 0 {
		t.Errorf("recorded all the same: %v", b.drops())
	}
	if err := os.Remove(dir); err != nil {
		t.Fatal(err)
	}
	b.settleAndLook()
	b.want("P-0417_a.csv", store.Filed, "")
	if !strings.Contains(told, "disk is not full") {
		t.Errorf("while it was tried again, %q was said", told)
	}
	if beat, m := b.message(); m != "" || beat.Waiting != 0 {
		t.Errorf("still said: %+v", beat)
	}
}

// judge has the store judge with an engine.
func (b *bench) judge(engine func(wear.Input) *wear.Report) {
	b.t.Helper()
	if err := b.store.JudgeBy(store.Judging{Zone: b.Zone, Engine: engine}); err != nil {
		b.t.Fatal(err)
	}
}

// A fault of the engine leaves its file for the next look, and the others go on.
func TestEngineFaultStopsNoOtherFile(t *testing.T) {
	b := newBench(t, "P-1", "P-2")
	b.judge(func(in wear.Input) *wear.Report {
		if len(in.Readings) == 8*288 {
			panic("poison")
		}
		return wear.Analyse(in)
	})
	write(t, b.Drop, "P-1_bad.csv", export(1, 8, 0))
	write(t, b.Drop, "P-2_good.csv", export(1, 9, 3))
	b.settleAndLook()
	b.want("P-2_good.csv", store.Filed, "")
	if beat, m := b.message(); beat.Waiting != 1 || !strings.Contains(m, "fault of this program") {
		t.Errorf("%+v", beat)
	}
	b.judge(wear.Analyse)
	b.settleAndLook()
	b.want("P-1_bad.csv", store.Filed, "")
}

// An answer is acted on although the folder is away: the original is in the archive.
func TestAnswerWhileTheFolderIsAway(t *testing.T) {
	b := newBench(t, "P-0417")
	write(t, b.Drop, "who.csv", export(1, 8, 0))
	b.settleAndLook()
	d := b.drops()["who.csv"]
	if err := os.Rename(b.Drop, b.Drop+".gone"); err != nil {
		t.Fatal(err)
	}
	if err := b.store.Answer(context.Background(), d.FileID, map[string]string{"patient": "P-0417"}); err != nil {
		t.Fatal(err)
	}
	b.look(context.Background())
	b.want("who.csv", store.Filed, "")
	if beat, m := b.message(); beat.FolderOK || m == "" {
		t.Errorf("%+v", beat)
	}
}

func TestFolderSaysWhatItCannotTake(t *testing.T) {
	dir := t.TempDir()
	now := time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC)
	write(t, dir, "a/b/c/d/in.csv", "one")
	write(t, dir, "a/b/c/d/e/out.csv", "two")
	write(t, dir, ".hidden/x.csv", "three")
	f := newFolder(dir, settle)
	s := look(t, f, now)
	if s.files != 1 || s.deep != 1 || !strings.Contains(trouble(s, 0), "more than 4 folders deep") {
		t.Errorf("%+v: %q", s, trouble(s, 0))
	}

	// A file that grows for ever is said after an hour; one that had settled and
	// is written anew is not.
	path := filepath.Join(dir, "log.csv")
	for i := range 8 {
		if err := os.WriteFile(path, make([]byte, i), 0o600); err != nil {
			t.Fatal(err)
		}
		s = look(t, f, now.Add(time.Duration(i)*10*time.Minute))
		if want := i >= 6; (s.restless == 1) != want {
			t.Errorf("after %d minutes: %d restless", i*10, s.restless)
		}
	}
	if got := trouble(s, 0); !strings.Contains(got, "changing for more than an hour") {
		t.Errorf("%q", got)
	}
	now = now.Add(3 * time.Hour)
	look(t, f, now)
	if s = look(t, f, now.Add(settle)); len(s.ready) != 2 {
		t.Fatalf("%v", paths(s.ready))
	}
	write(t, dir, "log.csv", "written anew after a rest")
	if s = look(t, f, now.Add(5*time.Hour)); s.restless != 0 {
		t.Error("a file written anew is called restless")
	}
}

// A clock that is set back does not leave what has settled waiting for hours.
func TestFolderClockSetBack(t *testing.T) {
	dir := t.TempDir()
	now := time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC)
	write(t, dir, "a.csv", "one")
	f := newFolder(dir, settle)
	look(t, f, now)
	back := now.Add(-24 * time.Hour)
	look(t, f, back)
	if s := look(t, f, back.Add(settle)); len(s.ready) != 1 {
		t.Errorf("settling %v", paths(s.settling))
	}
}

// What is gone between two looks is no fault; an archive without an original is.
func TestGoneIsNoFault(t *testing.T) {
	b := newBench(t, "P-0417")
	if _, err := b.takeBytes(context.Background(), found{path: "gone.csv", size: 3}, store.Drop{}); !errors.Is(err, errChanged) {
		t.Errorf("got %v", err)
	}
	if _, err := b.Archive.Get(Hash([]byte("x"))); !errors.Is(err, fs.ErrNotExist) || errors.Is(err, errChanged) {
		t.Errorf("got %v", err)
	}
}

func TestTroubleCounts(t *testing.T) {
	if got := trouble(scan{}, 0); got != "" {
		t.Errorf("%q", got)
	}
	got := trouble(scan{closed: 2, restless: 3}, 1)
	for _, want := range []string{"A file or report cannot", "2 sub-folders of", "3 files in"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
}
