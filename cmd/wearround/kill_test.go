package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker"
	"wearround/worker/sim"
)

// TestKilledAtRandomInstants kills the real program 50 times while 200 files
// arrive (12 times and 48 with the race detector). Afterwards every file is filed exactly once, and the end state is
// that of a program that was never killed.
func TestKilledAtRandomInstants(t *testing.T) {
	files, kills := 200, 50
	if storetest.RaceDetector {
		files, kills = 48, 12
	}
	practice := sim.NewPractice(7, time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC), time.UTC, files)
	if practice.Len() < files {
		t.Fatalf("the practice has %d wears, want at least %d", practice.Len(), files)
	}
	names, contents := make([]string, files), make([][]byte, files)
	for i := range files {
		w := practice.Wear(i)
		names[i], contents[i] = sim.Render(w, w.Layout)
	}
	put := func(dir string, i int) {
		if err := os.WriteFile(filepath.Join(dir, names[i]), contents[i], 0o600); err != nil {
			t.Error(err)
		}
	}
	register := register(practice)

	calm := t.TempDir()
	newPractice(t, calm, register)
	for i := range files {
		put(filepath.Join(calm, "drop"), i)
	}
	finish(t, calm, files)

	wild := t.TempDir()
	newPractice(t, wild, register)
	random := rand.New(rand.NewPCG(1, 2))
	next, deadly := 0, 0
	for range kills {
		p := start(t, wild)
		die := time.After(time.Duration(random.IntN(500)) * time.Millisecond)
		tick := time.NewTicker(20 * time.Millisecond)
	arriving:
		for arrived := 0; ; {
			select {
			case <-die:
				break arriving
			case <-tick.C:
				if next < files && arrived < files/kills {
					put(filepath.Join(wild, "drop"), next)
					next++
					arrived++
				}
			}
		}
		tick.Stop()
		if err := p.cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		if _ = p.cmd.Wait(); !p.cmd.ProcessState.Exited() {
			deadly++
		}
	}
	if deadly != kills {
		t.Errorf("%d of %d processes died by the kill; the others had ended before", deadly, kills)
	}
	for ; next < files; next++ {
		put(filepath.Join(wild, "drop"), next)
	}
	finish(t, wild, files)

	want, got := endState(t, calm), endState(t, wild)
	if len(got) < files {
		t.Errorf("%d lines of end state, want at least one for each of %d files", len(got), files)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("the killed program ends elsewhere than the one left alone:\n%s", d)
	}
}

// newPractice makes a data folder with a register.
func newPractice(t *testing.T, dir string, people []store.Patient) {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(dir, "drop"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := storetest.Empty(filepath.Join(dir, "wearround.db")); err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(context.Background(), filepath.Join(dir, "wearround.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := useLogKey(context.Background(), s, filepath.Join(dir, "audit.key")); err != nil {
		t.Fatal(err)
	}
	if err := s.AddPatients(context.Background(), people); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// process is the program running as a process of its own.
type process struct {
	cmd *exec.Cmd
	out *bufio.Reader
}

func start(t *testing.T, dir string, flags ...string) *process {
	t.Helper()
	cmd := exec.Command("wearround", append([]string{"serve", "--data", dir, "--addr", "127.0.0.1:0", "--settle", "40ms", "--zone", "UTC"}, flags...)...)
	cmd.Stderr = io.Discard
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	return &process{cmd, bufio.NewReader(out)}
}

// finish runs the program until it has dealt with all files, then stops it as
// an operator would.
func finish(t *testing.T, dir string, files int, flags ...string) {
	t.Helper()
	p := start(t, dir, flags...)
	line, err := p.out.ReadString('\n')
	if err != nil {
		t.Fatal("the program did not start:", err)
	}
	url := regexp.MustCompile(`http://\S+`).FindString(line)
	done := regexp.MustCompile(fmt.Sprintf(`(?m)^wearround_drops %d$`, files))
	for deadline := time.Now().Add(3*time.Minute + time.Duration(files)*time.Second/4); ; {
		resp, err := http.Get(url + "metrics")
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(resp.Body)
		resp.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		if done.Match(body) {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("not all of %d files were dealt with:\n%s", files, grep(string(body), "wearround_"))
		}
		time.Sleep(20 * time.Millisecond) // only how often the question is asked
	}
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Wait(); err != nil {
		t.Fatal("the program did not stop cleanly:", err)
	}
}

func grep(text, prefix string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, prefix) {
			b.WriteString(line)
		}
	}
	return b.String()
}

// endState writes down what a practice holds, without the times at which it
// was received and the numbers that depend on the order of arrival.
func endState(t *testing.T, dir string) []string {
	t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(dir, "wearround.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	archive, err := worker.OpenArchive(filepath.Join(dir, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for offset := 0; ; offset += 200 {
		page, err := s.Drops(ctx, store.DropQuery{Offset: offset, Limit: 200})
		if err != nil {
			t.Fatal(err)
		}
		if len(page.Rows) == 0 {
			break
		}
		for _, d := range page.Rows {
			line := fmt.Sprint("drop ", d.Path, " ", d.Fate)
			if d.File != nil {
				if _, err := archive.Get(d.File.SHA256); err != nil {
					t.Error(err)
				}
				line += " " + d.File.SHA256
			}
			for _, id := range d.WearIDs {
				w, err := s.Wear(ctx, id)
				if err != nil {
					t.Fatal(err)
				}
				readings, events, err := s.Trace(ctx, id)
				if err != nil {
					t.Fatal(err)
				}
				line += fmt.Sprintf(" wear of %s: %s to %s, %d readings, %d events, %s",
					w.Patient.Code, w.Report.Start, w.Report.End, len(readings), len(events), w.Report.Headline)
			}
			lines = append(lines, line)
		}
	}
	slices.Sort(lines)
	return lines
}
