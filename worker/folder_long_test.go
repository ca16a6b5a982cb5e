package worker

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestLargeFolderForgetsNothing makes, changes, moves and removes files in a
// folder too large to be looked at whole each time. Whatever lies there and was
// not dealt with as it is, is taken within as many looks as take everybody's
// turn; and what was dealt with is given no more.
func TestLargeFolderForgetsNothing(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		root, err := os.MkdirTemp(t.TempDir(), "")
		if err != nil {
			r.Fatal(err)
		}
		f := newFolder(root, settle)
		f.atOnce = 3
		now := time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC)
		type version struct {
			size int64
			mod  time.Time
		}
		dealt := map[string]version{}
		look := func() {
			now = now.Add(settle)
			s, err := f.look(now)
			if err != nil {
				r.Fatal(err)
			}
			for _, x := range s.ready {
				dealt[x.path] = version{x.size, x.mod}
				x.done()
			}
		}
		name := rapid.Map(rapid.IntRange(0, 19), func(n int) string { return fmt.Sprintf("%c/%d", 'a'+rune(n%3), n) })
		writes := 0
		put := func(path string) {
			writes++
			full := filepath.Join(root, path)
			if err := os.MkdirAll(filepath.Dir(full), 0o700); err != nil {
				r.Fatal(err)
			}
			if err := os.WriteFile(full, []byte(fmt.Sprint(writes)), 0o600); err != nil {
				r.Fatal(err)
			}
			at := now.Add(time.Duration(writes) * time.Millisecond)
			if err := os.Chtimes(full, at, at); err != nil {
				r.Fatal(err)
			}
		}
		r.Repeat(map[string]func(*rapid.T){
			"write":  func(r *rapid.T) { put(name.Draw(r, "name")) },
			"remove": func(r *rapid.T) { _ = os.Remove(filepath.Join(root, name.Draw(r, "name"))) },
			"move": func(r *rapid.T) {
				_ = os.Rename(filepath.Join(root, name.Draw(r, "from")), filepath.Join(root, name.Draw(r, "to")))
			},
			"look": func(*rapid.T) { look() },
			"told": func(r *rapid.T) { f.told(name.Draw(r, "name")) },
		})
		for range 20/f.atOnce + 5 {
			look()
		}
		files := 0
		err = filepath.WalkDir(root, func(full string, d os.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			files++
			info, err := d.Info()
			if err != nil {
				return err
			}
			path, _ := filepath.Rel(root, full)
			if path = filepath.ToSlash(path); dealt[path] != (version{info.Size(), info.ModTime()}) {
				r.Errorf("%s was never taken as it is", path)
			}
			return nil
		})
		if err != nil {
			r.Fatal(err)
		}
		if s, err := f.look(now); err != nil || s.files != files || len(s.ready)+len(s.settling) > 0 {
			r.Errorf("the look counts %d files and gives %d, where all of %d are done (%v)", s.files, len(s.ready)+len(s.settling), files, err)
		}
	})
}

// BenchmarkLookKnown is one look at a folder of 100,000 files that were all
// dealt with, beside listing and asking for each of them.
func BenchmarkLookKnown(b *testing.B) {
	root := b.TempDir()
	for i := range 100_000 {
		if err := os.WriteFile(filepath.Join(root, fmt.Sprintf("P-%06d_export.csv", i)), nil, 0o600); err != nil {
			b.Fatal(err)
		}
	}
	f := newFolder(root, settle)
	now := time.Now()
	look := func() scan {
		now = now.Add(settle)
		s, err := f.look(now)
		if err != nil {
			b.Fatal(err)
		}
		return s
	}
	look()
	for _, x := range look().ready {
		x.done()
	}
	f.dirs["."].listed = now // it has been quiet since
	b.ReportAllocs()
	for b.Loop() {
		look()
	}
	const rounds = 5
	ours, whole := make([]float64, rounds), make([]float64, rounds)
	for i := range rounds {
		began := time.Now()
		look()
		between := time.Now()
		list, err := os.ReadDir(root)
		if err != nil {
			b.Fatal(err)
		}
		for _, d := range list {
			if _, err := d.Info(); err != nil {
				b.Fatal(err)
			}
		}
		ours[i], whole[i] = between.Sub(began).Seconds(), time.Since(between).Seconds()
	}
	b.ReportMetric(median(ours)/median(whole), "×whole")
}
