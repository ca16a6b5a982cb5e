package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/sim"
)

var (
	drillWears = flag.Int("drill", 0, "of how many wears the practice is that TestDiskIsLost loses, as 2000; 0 leaves it out")
	drillEvery = flag.Duration("drillevery", time.Minute, "how long after one backup the next is made")
)

// do runs the command and gives what it said; it must end well.
func do(t *testing.T, args ...string) string {
	t.Helper()
	var said, errs bytes.Buffer
	if status := run(context.Background(), args, &said, &errs); status != exitOK {
		t.Fatalf("%v: %s %s", args, said.String(), errs.String())
	}
	return said.String()
}

// TestDiskIsLost makes a backup of a practice every minute while files arrive,
// kills the program after the tenth and loses its disk. What is brought back
// holds all but what came after the last backup, which is listed; the log
// verifies before and after; and once it is served again the files that are still
// in the watched folder bring the rest back.
func TestDiskIsLost(t *testing.T) {
	if *drillWears == 0 {
		t.Skip("give -drill 2000 to lose the disk of a practice of 2,000 wears")
	}
	const backups, later = 10, 200
	dir := filepath.Join(t.TempDir(), "practice")
	drop, place, key, anchors := dir+".drop", dir+".place", dir+".key", dir+".anchors"
	practice := sim.NewPractice(7, time.Now(), time.UTC, max(20, *drillWears+later))
	if practice.Len() < *drillWears+later {
		t.Fatal("too few wears:", practice.Len())
	}
	put := func(i int) {
		w := practice.Wear(i)
		name, data := sim.Render(w, w.Layout)
		if err := dropOnce(drop, drop, name, data); err != nil {
			t.Error(err)
		}
	}
	newPractice(t, dir, register(practice))
	if err := errors.Join(os.Mkdir(drop, 0o700), os.CopyFS(key, os.DirFS(dir))); err != nil { // the key's copy, kept elsewhere
		t.Fatal(err)
	}
	for i := range *drillWears {
		put(i)
	}
	flags := []string{"--drop", drop, "--anchors", anchors}
	finish(t, dir, *drillWears, flags...)

	p := start(t, dir, flags...)
	if _, err := p.out.ReadString('\n'); err != nil {
		t.Fatal(err)
	}
	const each = later / (backups + 1)
	arriving := make(chan int, later) // the load: so many files a round, spread over it
	arrived := make(chan int)
	go func() {
		n := *drillWears
		for i := range arriving {
			put(i)
			n++
			time.Sleep(*drillEvery / each)
		}
		arrived <- n
	}()
	send := func(round int) {
		for i := range each {
			arriving <- *drillWears + round*each + i
		}
	}
	for i := range backups {
		send(i)
		time.Sleep(*drillEvery) // the pace of the backups
		t.Logf("%d: %s", i+1, strings.SplitN(do(t, "backup", place, "--data", dir, "--anchors", anchors), "\n", 2)[0])
	}
	var kept, now int
	one(t, dir, &kept, "SELECT count(*) FROM drops")
	send(backups)
	close(arriving)
	for deadline := time.Now().Add(time.Minute); now < kept+each/2; one(t, dir, &now, "SELECT count(*) FROM drops") { // some come after the last backup
		if time.Now().After(deadline) {
			t.Fatalf("%d files are filed, %d were when the last backup was made", now, kept)
		}
		time.Sleep(20 * time.Millisecond) // only how often the question is asked
	}
	if err := p.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = p.cmd.Wait()
	came := <-arrived

	t.Logf("before: %s", do(t, "verify", "--all", "--data", dir, "--anchors", anchors))
	want := endState(t, dir)
	if err := os.Rename(dir, dir+".lost"); err != nil {
		t.Fatal(err)
	}
	said := do(t, "restore", place, "--data", dir, "--audit-key", filepath.Join(key, "audit.key"), "--anchors", anchors, "--instead-of", dir+".lost")
	if err := os.RemoveAll(dir + ".lost"); err != nil {
		t.Fatal(err)
	}
	t.Logf("restored: %.1500s", said)
	t.Logf("after: %s", do(t, "verify", "--all", "--data", dir, "--anchors", anchors))
	got := endState(t, dir)
	lost := 0
	for _, line := range got {
		if !slices.Contains(want, line) {
			t.Errorf("brought back is what was not there: %s", line)
		}
	}
	for _, line := range want {
		if !slices.Contains(got, line) {
			lost++
		}
	}
	listed := len(regexp.MustCompile(`(?m)^  \d+  \S+  .* file \d+ \(`).FindAllString(said, -1))
	t.Logf("%d of %d files are not in the last backup; the list of what came after it names %d filings", lost, len(want), listed)
	if lost != listed || lost == 0 {
		t.Errorf("%d files are missing, %d are listed", lost, listed)
	}
	finish(t, dir, came, flags...)
	if again := endState(t, dir); len(again) != came {
		t.Errorf("served again, the practice holds %d files, want the %d that came", len(again), came)
	}
	t.Logf("served again: %s", do(t, "verify", "--all", "--data", dir, "--anchors", anchors))
}
