//go:build linux

package main

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/backup"
	"wearround/worker/sim"
)

var faults = flag.String("faults", "some", "points of TestFaults: some, all, or every n-th by its number")

func init() { programs["wearround-act"] = faultAct }

// faultAct is one act in a process of its own. All that it asks of the system
// it asks on one thread, so that the n-th call is the same in every run.
func faultAct() {
	runtime.LockOSThread()
	fmt.Println("thread", syscall.Gettid())
	if err := faultActs[os.Args[1]](context.Background(), os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// faultFixture makes a practice with a wear, a file to be read, a backup and a
// database of an older schema.
func faultFixture(t *testing.T, dir string) {
	t.Helper()
	practice := sim.NewPractice(7, faultTime(), time.UTC, 20)
	if err := newPracticeAt(t, dir, register(practice)).Close(); err != nil {
		t.Fatal(err)
	}
	put := func(i int) {
		made := practice.Wear(i)
		name, data := sim.Render(made, made.Layout)
		if err := os.WriteFile(filepath.Join(dir, "drop", name), data, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(filepath.Join(dir, "drop", name), faultTime(), faultTime()); err != nil {
			t.Fatal(err)
		}
	}
	put(0)
	for _, act := range []string{"file", "backup"} {
		if err := faultActs[act](t.Context(), dir); err != nil {
			t.Fatal(act, err)
		}
	}
	names, _ := os.ReadDir(filepath.Join(dir, "drop"))
	if err := os.Remove(filepath.Join(dir, "drop", names[0].Name())); err != nil {
		t.Fatal(err)
	}
	put(1)
	oldSchema(t, filepath.Join(dir, "old"))
}

// oldSchema makes a database as the first releases left it, with one patient.
func oldSchema(t *testing.T, dir string) {
	t.Helper()
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", filepath.Join(dir, "wearround.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	run := func(query string, args ...any) {
		t.Helper()
		if _, err := db.Exec(query, args...); err != nil {
			t.Fatal(err)
		}
	}
	run("PRAGMA journal_mode = WAL")
	run("CREATE TABLE migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL, sha256 TEXT NOT NULL, applied_at INTEGER NOT NULL) STRICT")
	steps, err := filepath.Glob(filepath.Join(root, "store", "migrations", "*.sql"))
	if err != nil || len(steps) < 6 {
		t.Fatal(steps, err)
	}
	for i, path := range steps[:6] {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		run(string(text))
		sum := sha256.Sum256(text)
		run("INSERT INTO migrations VALUES (?, ?, ?, 0)", i+1, filepath.Base(path), hex.EncodeToString(sum[:]))
	}
	run("INSERT INTO patients (code, name, birth_date, context, changed) VALUES ('P-1', 'Velo Tarim', '', '{}', 1)")
}

// faultState opens what an act has left, as the next start would, and says what
// is there: how many rows each table has that holds a record. Anything that does
// not hold together is an error.
func faultState(ctx context.Context, path string) (string, error) {
	s, err := store.Open(ctx, path, faultTime)
	if err != nil {
		return "", err
	}
	if err := s.SetLogKey(storetest.AuditKey()); err != nil {
		return "", errors.Join(err, s.Close())
	}
	log, err1 := s.VerifyLog(ctx)
	data, err2 := s.VerifyData(ctx, true)
	if err := errors.Join(err1, err2, s.Whole(ctx), s.Close()); err != nil {
		return "", err
	}
	if !log.OK() || !data.OK() {
		return "", fmt.Errorf("log %q, data %q", log.Why, data.String())
	}
	return rowCounts(path)
}

func rowCounts(path string) (string, error) {
	db, err := sql.Open("sqlite", path)
	if err != nil {
		return "", err
	}
	defer db.Close()
	var b strings.Builder
	for _, table := range []string{"patients", "files", "drops", "wears", "wear_days", "reports", "file_wears", "outcomes", "recalls", "users"} {
		var n int
		if err := db.QueryRow("SELECT count(*) FROM " + table).Scan(&n); err != nil {
			return "", err
		}
		fmt.Fprintf(&b, "%s %d ", table, n)
	}
	return b.String(), nil
}

// calls are the system calls that a fault is put into, with the errors that
// each can meet. Every one of them is also a point at which the program dies.
var calls = map[string][]string{
	"openat": {"ENOSPC", "EIO", "EROFS"}, "write": {"ENOSPC", "EIO"}, "pwrite64": {"ENOSPC", "EIO", "EROFS"}, "fsync": {"EIO", "ENOSPC"}, "fdatasync": {"EIO"},
	"ftruncate": {"EIO", "ENOSPC"}, "renameat": {"EIO", "ENOSPC", "EROFS"}, "renameat2": {"EIO", "EROFS"}, "rename": {"EIO", "EROFS"}, "unlinkat": {"EIO", "EROFS"},
	"unlink": {"EIO", "EROFS"}, "mkdirat": {"ENOSPC", "EIO", "EROFS"}, "fchmod": {"EIO", "EROFS"}, "fchmodat": {"EIO", "EROFS"}, "pread64": {"EIO"},
}

// faultPoint is one fault: the n-th call of a kind kills the program or fails.
type faultPoint struct {
	call  string
	n     int
	fault string // "KILL" or an error
}

// points runs an act undisturbed and lists every fault that can be put into it.
func points(t *testing.T, act, dir string) []faultPoint {
	t.Helper()
	trace := filepath.Join(t.TempDir(), "trace")
	names := strings.Join(slices.Sorted(keysOf(calls)), ",")
	cmd := exec.Command("strace", "-f", "-o", trace, "-e", "signal=none", "-e", "trace="+names, "wearround-act", act, dir)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s undisturbed: %v\n%s", act, err, out)
	}
	thread := regexp.MustCompile(`thread (\d+)`).FindSubmatch(out)
	if thread == nil {
		t.Fatalf("%s said %q", act, out)
	}
	text, err := os.ReadFile(trace)
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	line := regexp.MustCompile(`(?m)^` + string(thread[1]) + ` +(\w+)\(`)
	for _, m := range line.FindAllSubmatch(text, -1) {
		count[string(m[1])]++
	}
	var list []faultPoint
	for _, call := range slices.Sorted(keysOf(count)) {
		for n := 1; n <= count[call]; n++ {
			for _, f := range append([]string{"KILL"}, calls[call]...) {
				list = append(list, faultPoint{call, n, f})
			}
		}
	}
	return list
}

func keysOf[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// TestFaults puts a fault into every system call of six acts: filing a file,
// recording an outcome, sealing and noting the log, a backup, a restore, and a
// change of the schema. It kills the program there, or fails the call. Whatever
// is left is opened as the next start would: nothing is lost, nothing is there
// twice, log and data hold together, and what was reported done is done.
func TestFaults(t *testing.T) {
	if _, err := exec.LookPath("strace"); err != nil {
		t.Skip("no strace on this machine: faults were not put into system calls")
	}
	if out, err := exec.Command("strace", "-o", os.DevNull, "true").CombinedOutput(); err != nil {
		t.Skipf("strace may not trace here, so faults were not put into system calls: %s", out)
	}
	every := 97
	if storetest.RaceDetector {
		every = 397
	}
	switch {
	case *faults == "all":
		every = 1
	case *faults != "some":
		var err error
		if every, err = strconv.Atoi(*faults); err != nil || every < 1 {
			t.Fatal("-faults takes some, all or a number")
		}
	}
	good := filepath.Join(t.TempDir(), "practice")
	faultFixture(t, good)
	before, err := faultState(t.Context(), filepath.Join(good, "wearround.db"))
	if err != nil {
		t.Fatal(err)
	}
	for _, act := range []string{"file", "outcome", "log", "backup", "restore", "migrate"} {
		f := &faulty{act: act, good: good, before: before, root: t.TempDir()}
		dir := f.fresh(t)
		list := points(t, act, dir)
		f.done = f.look(t, dir)
		tried := 0
		for i := 0; i < len(list); i += every {
			f.try(t, list[i])
			tried++
		}
		t.Logf("%-8s %5d points, %5d tried: lost %d, double %d, dishonest %d, broken %d", act, len(list), tried, f.lost, f.double, f.dishonest, f.broken)
	}
}

// faulty is one act under faults.
type faulty struct {
	act, good, root, before, done   string
	n                               int
	lost, double, dishonest, broken int
}

// fresh copies the practice and its backups.
func (f *faulty) fresh(t *testing.T) string {
	t.Helper()
	f.n++
	dir := filepath.Join(f.root, strconv.Itoa(f.n))
	for _, suffix := range []string{"", ".place"} {
		if err := os.CopyFS(dir+suffix, os.DirFS(f.good+suffix)); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// look says what is there after an act, or why it does not hold together.
func (f *faulty) look(t *testing.T, dir string) string {
	t.Helper()
	ctx := t.Context()
	var state string
	var err error
	switch f.act {
	case "migrate":
		state, err = rowCounts(filepath.Join(dir, "old", "wearround.db"))
		if err == nil {
			state, err = faultState(ctx, filepath.Join(dir, "old", "wearround.db"))
		}
	case "restore":
		if _, e := os.Stat(filepath.Join(dir, "new")); e != nil {
			return "nothing"
		}
		state, err = faultState(ctx, filepath.Join(dir, "new", "wearround.db"))
	case "backup":
		if state, err = faultState(ctx, filepath.Join(dir, "wearround.db")); err == nil {
			state, err = f.backups(ctx, dir, state)
		}
	default:
		state, err = faultState(ctx, filepath.Join(dir, "wearround.db"))
	}
	if err != nil {
		f.broken++
		t.Errorf("%s: what is left does not hold together: %v", f.act, err)
	}
	return state
}

// backups brings back every backup that the place lists.
func (f *faulty) backups(ctx context.Context, dir, state string) (string, error) {
	list, err := backup.List(dir + ".place")
	if err != nil {
		return state, err
	}
	for _, e := range list {
		found, err := backup.Find(filepath.Join(dir+".place", e.ID))
		if err != nil {
			return state, err
		}
		into := filepath.Join(dir, "try-"+e.ID)
		if err := os.RemoveAll(into); err != nil {
			return state, err
		}
		back, err := backup.Restore(ctx, found, into, backup.Way{Key: storetest.AuditKey(), Now: faultTime})
		if err != nil || len(back.Missing) > 0 {
			return state, fmt.Errorf("backup %s: %w, %d missing", e.ID, err, len(back.Missing))
		}
	}
	return fmt.Sprintf("%s backups %d", state, len(list)), nil
}

// try puts one fault into the act, looks at what is left, and does the act again
// where it is not done.
func (f *faulty) try(t *testing.T, p faultPoint) {
	t.Helper()
	dir := f.fresh(t)
	defer func() { _ = errors.Join(os.RemoveAll(dir), os.RemoveAll(dir+".place")) }()
	inject := "error=" + p.fault
	if p.fault == "KILL" {
		inject = "signal=KILL"
	}
	cmd := exec.Command("strace", "-f", "-o", os.DevNull, "-e", "signal=none", "-e", fmt.Sprintf("inject=%s:%s:when=%d", p.call, inject, p.n), "wearround-act", f.act, dir)
	out, failed := cmd.CombinedOutput()
	state := f.look(t, dir)
	if failed == nil && state != f.done {
		f.dishonest++
		t.Errorf("%s, %+v: reported done, and is not: %s", f.act, p, state)
	}
	if state != f.done {
		if err := faultActs[f.act](t.Context(), dir); err != nil {
			f.broken++
			t.Errorf("%s, %+v: cannot be done again: %v\nfirst: %s", f.act, p, err, out)
			return
		}
		state = f.look(t, dir)
	}
	if state != f.done {
		if len(state) > len(f.done) || state > f.done {
			f.double++
		} else {
			f.lost++
		}
		t.Errorf("%s, %+v: ends as %s, want %s", f.act, p, state, f.done)
	}
}
