package server_test

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"syscall"
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
)

// TestNothingCanBeSaved has the disk refuse every write of a program that
// works. Whoever is signed in goes on reading, on every page that has no change
// to make; a change is refused in plain words; health and every page say so; and
// all of it comes back by itself, with the looks that were owed to the log. The
// limit is one of the whole process, and would fail what the test tool itself
// writes, so that a process of its own does it.
func TestNothingCanBeSaved(t *testing.T) {
	const alone = "WEARROUND_TEST_FAILING_DISK"
	if os.Getenv(alone) == "" {
		c := exec.Command(os.Args[0], "-test.run=^TestNothingCanBeSaved$")
		c.Env = append(os.Environ(), alone+"=1")
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		return
	}
	f := servertest.New(t)
	id := f.File(1)
	f.SignIn(store.RoleLead)
	f.Beat(true, "")
	var was syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &was); err != nil {
		t.Fatal(err)
	}
	// No file of this process may grow past a size that the log of the database has
	// already: to the database it is a failing disk.
	const room = 128 << 10
	if info, err := os.Stat(f.Store.Path() + "-wal"); err != nil || info.Size() < room {
		t.Fatal("the write-ahead log is too short for this test:", info.Size(), err)
	}
	refused := make(chan os.Signal, 1)
	signal.Notify(refused, syscall.SIGXFSZ)
	readOnly := func(on bool) {
		t.Helper()
		limit := was
		if on {
			limit.Cur = room
		}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() {
		_ = syscall.Setrlimit(syscall.RLIMIT_FSIZE, &was)
		signal.Stop(refused)
	})
	views := func() (n int) {
		t.Helper()
		rows, err := f.Store.LogRows(context.Background(), store.LogQuery{Action: "view", Limit: 200})
		if err != nil {
			t.Fatal(err)
		}
		return len(rows)
	}
	before := views()
	readOnly(true)
	shown := 0
	for _, r := range f.Engine().Routes() {
		if r.Method != http.MethodGet || strings.HasPrefix(r.Path, door.APIBase) || strings.Contains(r.Path, "set-up") || strings.Contains(r.Path, "welcome") || strings.Contains(r.Path, "z") && strings.HasSuffix(r.Path, "z") {
			continue
		}
		f.Clock.Advance(30 * time.Second) // past the grain of a session's last use
		readOnly(false)
		well := f.AskAs(store.RoleLead, http.MethodGet, servertest.Fill(r.Path, id), nil).Code
		readOnly(true)
		f.Clock.Advance(30 * time.Second)
		w := f.AskAs(store.RoleLead, http.MethodGet, servertest.Fill(r.Path, id), nil)
		// What leaves the practice is logged first, or does not leave.
		leaves := strings.HasSuffix(r.Path, "/export") && w.Code == http.StatusServiceUnavailable
		if w.Code != well && !leaves {
			t.Errorf("%s: %d while nothing can be saved, else %d", r.Path, w.Code, well)
		}
		if w.Code == http.StatusOK {
			shown++
		}
		if f.Clock.Now().Sub(storetest.Start) > 9*time.Hour {
			t.Fatal("the session would end of itself")
		}
	}
	if shown < 20 {
		t.Errorf("only %d pages were shown", shown)
	}
	w := f.AskAs(store.RoleLead, http.MethodPost, fmt.Sprintf("/wears/%d/claim", id), url.Values{})
	if w.Code != http.StatusServiceUnavailable || !strings.Contains(w.Body.String(), "The disk") {
		t.Errorf("a change: %d", w.Code)
	}
	if w := f.Ask(http.MethodGet, "/readyz", nil); w.Code != http.StatusServiceUnavailable || !strings.Contains(w.Body.String(), `"write"`) {
		t.Errorf("ready: %d %s", w.Code, w.Body)
	}
	if w := f.AskAs(store.RoleLead, http.MethodGet, "/help", nil); !strings.Contains(w.Body.String(), "The disk") {
		t.Error("a page does not say it")
	}
	readOnly(false)
	f.Beat(true, "")
	if w := f.Ask(http.MethodGet, "/readyz", nil); w.Code != http.StatusOK {
		t.Errorf("afterwards: %d %s", w.Code, w.Body)
	}
	if n := views(); n <= before {
		t.Errorf("%d looks are in the log, %d before the disk failed", n, before)
	}
}
