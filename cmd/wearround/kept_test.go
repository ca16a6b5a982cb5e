package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"wearround/worker/sim"
)

// TestKeptDemoTakesNothingTwice starts the demo's files on a folder that is kept,
// days later and with another number of patients: the practice is the one that
// was made there, and each of its files is written once.
func TestKeptDemoTakesNothingTwice(t *testing.T) {
	dir := t.TempDir()
	drop, past := filepath.Join(dir, "drop"), filepath.Join(dir, "past")
	for _, d := range []string{drop, past} {
		if err := os.Mkdir(d, 0o700); err != nil {
			t.Fatal(err)
		}
	}
	begin := func(fresh invented) map[string]time.Time {
		t.Helper()
		made, err := claimDemo(filepath.Join(dir, "data"), fresh)
		if err != nil {
			t.Fatal(err)
		}
		practice := sim.NewPractice(demoSeed, made.at, time.UTC, made.patients)
		gone, live := divide(practice, fresh.at)
		if err := dropAll(t.Context(), drop, past, practice, append(live, gone...), sim.Oddities(demoSeed, made.at, time.UTC)); err != nil {
			t.Fatal(err)
		}
		files := map[string]time.Time{}
		for _, folder := range []string{drop, past} {
			list, err := os.ReadDir(folder)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range list {
				info, err := f.Info()
				if err != nil {
					t.Fatal(err)
				}
				files[filepath.Base(folder)+"/"+f.Name()] = info.ModTime()
			}
		}
		return files
	}
	day := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	first := begin(invented{day, 20})
	moved := "" // one of them came in the past
	for name := range first {
		moved = filepath.Base(name)
	}
	if err := os.Rename(filepath.Join(drop, moved), filepath.Join(past, moved)); err != nil {
		t.Fatal(err)
	}
	second := begin(invented{day.AddDate(0, 0, 9), 25})
	if len(second) != len(first) {
		t.Errorf("%d files after the second start, want the %d of the first", len(second), len(first))
	}
	for name, at := range second {
		was, ok := first[name]
		if filepath.Base(name) == moved {
			was, ok = first["drop/"+moved], filepath.Dir(name) == "past"
		}
		if !ok || !was.Equal(at) {
			t.Errorf("%s was written by the second start", name)
		}
	}
}
