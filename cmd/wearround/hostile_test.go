//go:build linux

package main

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"syscall"
	"testing"
	"time"

	"wearround/store"
	"wearround/worker/sim/messy"
)

// TestHundredHostileFilesAtOnce drops a hundred files made to cost time or
// memory into the folder of the real program. Pages answer meanwhile, every file
// is dealt with, and the program stays under 400 MB.
func TestHundredHostileFilesAtOnce(t *testing.T) {
	if os.Getenv("WEARROUND_MEASURE") == "" {
		t.Skip("set WEARROUND_MEASURE=1 to measure a hundred hostile files at once (a minute; not with -race, which multiplies memory)")
	}
	dir := t.TempDir()
	newPractice(t, dir, []store.Patient{{Code: "P-1"}})
	bomb, rows, line := messy.Bomb(1<<30), messy.EmptyRows(), bytes.Repeat([]byte("x"), 60<<20)
	for i := range 100 {
		data, ext := bomb, "zip"
		switch {
		case i%10 == 0:
			data, ext = line, "csv"
		case i%2 == 0:
			data, ext = rows, "xlsx"
		}
		f, err := os.Create(filepath.Join(dir, "drop", fmt.Sprintf("P-1_%d.%s", i, ext)))
		if err != nil {
			t.Fatal(err)
		}
		_, err = f.Write(append(data[:len(data):len(data)], byte(i), byte(i))) // no two alike
		if err = f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	p := start(t, dir)
	first, err := p.out.ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	url := regexp.MustCompile(`http://\S+`).FindString(first)
	slowest := time.Duration(0)
	for deadline := time.Now().Add(4 * time.Minute); ; {
		begin := time.Now()
		resp, err := http.Get(url + "sign-in")
		if err != nil || resp.StatusCode != http.StatusOK {
			t.Fatal("the sign-in page does not answer:", err)
		}
		resp.Body.Close()
		slowest = max(slowest, time.Since(begin))
		resp, err = http.Get(url + "metrics")
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(resp.Body)
		resp.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		if regexp.MustCompile(`(?m)^wearround_drops 100$`).Match(text) {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("not all were dealt with:\n%s", grep(string(text), "wearround_drops"))
		}
		time.Sleep(100 * time.Millisecond) // only how often the question is asked
	}
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.cmd.Process.Pid))
	if err != nil {
		t.Fatal(err)
	}
	peak, err := strconv.Atoi(string(regexp.MustCompile(`VmHWM:\s+(\d+) kB`).FindSubmatch(status)[1]))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("most memory %d MB, slowest page %v", peak/1000, slowest)
	if peak > 400_000 {
		t.Errorf("the program took %d MB", peak/1000)
	}
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Wait(); err != nil {
		t.Error(err)
	}
}
