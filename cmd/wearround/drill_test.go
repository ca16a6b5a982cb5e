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

	"wearround/worker/backup"
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
	stop, stopped := make(chan struct{}), make(chan int)
	go func() { // the load: a file every so often
		tick := time.NewTicker(*drillEvery * (backups + 1) / later)
		defer tick.Stop()
		n := 0
		for ; n < later; n++ {
			select {
			case <-stop:
				stopped <- n
				return
			case <-tick.C:
				put(*drillWears + n)
			}
		}
		<-stop
		stopped <- n
	}()
	for i := range backups {
		time.Sleep(*drillEvery) // the pace of the backups
		t.Logf("%d: %s", i+1, strings.SplitN(do(t, "backup", place, "--data", dir, "--anchors", anchors), "\n", 2)[0])
	}
	list, err := backup.List(place)
	if err != nil || len(list) == 0 {
		t.Fatal(list, err)
	}
	time.Sleep(*drillEvery / 2) // some files come after the last one
	if err := p.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = p.cmd.Wait()
	close(stop)
	arrived := *drillWears + <-stopped

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
	listed := len(regexp.MustCompile(`(?m)^  \d+ .* file a `).FindAllString(said, -1))
	t.Logf("%d of %d files are not in the last backup; the list of what came after it names %d filings", lost, len(want), listed)
	if lost != listed || lost == 0 {
		t.Errorf("%d files are missing, %d are listed", lost, listed)
	}
	finish(t, dir, arrived, flags...)
	if again := endState(t, dir); len(again) != arrived {
		t.Errorf("served again, the practice holds %d files, want the %d that came", len(again), arrived)
	}
	t.Logf("served again: %s", do(t, "verify", "--all", "--data", dir, "--anchors", anchors))
}
