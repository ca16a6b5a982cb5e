package worker

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

const settle = 10 * time.Second

func paths(found []found) []string {
	var out []string
	for _, f := range found {
		out = append(out, f.path)
	}
	slices.Sort(out)
	return out
}

func write(t *testing.T, dir, name, text string) string {
	t.Helper()
	path := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func look(t *testing.T, f *folder, now time.Time) scan {
	t.Helper()
	s, err := f.look(now)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestFolderTakesWhatHasSettled(t *testing.T) {
	dir := t.TempDir()
	now := time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC)
	write(t, dir, "a.csv", "one")
	write(t, dir, "P-0417/b.csv", "two")
	write(t, dir, "copying.csv.part", "half")
	write(t, dir, ".clutter", "x")
	f := newFolder(dir, settle)

	s := look(t, f, now)
	if len(s.ready) != 0 || s.files != 3 {
		t.Fatalf("first look: ready %v of %d files, want none of 3", paths(s.ready), s.files)
	}
	// A hint may bring a second look at once: that is not settled yet.
	if s = look(t, f, now.Add(time.Second)); len(s.ready) != 0 {
		t.Fatalf("a look one second later takes %v", paths(s.ready))
	}
	// One file grows between the looks.
	write(t, dir, "a.csv", "one and more")
	s = look(t, f, now.Add(settle))
	if got := paths(s.ready); !slices.Equal(got, []string{"P-0417/b.csv"}) {
		t.Fatalf("ready %v, want the unchanged file only", got)
	}
	s = look(t, f, now.Add(2*settle))
	if got := paths(s.ready); !slices.Equal(got, []string{"P-0417/b.csv", "a.csv"}) {
		t.Fatalf("ready %v, want both", got)
	}
	// A name that says "not finished" is left alone, but not for ever.
	s = look(t, f, now.Add(2*time.Hour))
	if got := paths(s.ready); !slices.Contains(got, "copying.csv.part") {
		t.Fatalf("ready %v, want the abandoned copy among them", got)
	}
}

func TestFolderSameSizeNewTimeIsAChange(t *testing.T) {
	dir := t.TempDir()
	now := time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC)
	path := write(t, dir, "a.csv", "one")
	f := newFolder(dir, settle)
	look(t, f, now)
	if err := os.Chtimes(path, now, now.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if s := look(t, f, now.Add(settle)); len(s.ready) != 0 {
		t.Fatalf("took %v although its time changed", paths(s.ready))
	}
}

func TestFolderOdd(t *testing.T) {
	dir := t.TempDir()
	outside := write(t, t.TempDir(), "outside.csv", "secret")
	if err := os.Symlink(outside, filepath.Join(dir, "link.csv")); err != nil {
		t.Skip("no symbolic links here:", err)
	}
	first := write(t, dir, "first.csv", "x")
	if err := os.Link(first, filepath.Join(dir, "second.csv")); err != nil {
		t.Skip("no hard links here:", err)
	}
	if err := os.Symlink(t.TempDir(), filepath.Join(dir, "folder-link")); err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, f := range look(t, newFolder(dir, settle), time.Unix(0, 0)).ready {
		got[f.path] = f.odd
	}
	for _, name := range []string{"link.csv", "first.csv", "second.csv", "folder-link"} {
		if got[name] != "link" {
			t.Errorf("%s: odd %q, want link", name, got[name])
		}
	}
}

func TestFolderUnreadableKeepsWhatItKnew(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "drop")
	now := time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC)
	write(t, dir, "a.csv", "one")
	f := newFolder(dir, settle)
	look(t, f, now)
	if err := os.Rename(dir, dir+".gone"); err != nil {
		t.Fatal(err)
	}
	if _, err := f.look(now.Add(settle)); err == nil {
		t.Fatal("a missing folder gave no error")
	}
	if err := os.Rename(dir+".gone", dir); err != nil {
		t.Fatal(err)
	}
	if s := look(t, f, now.Add(2*settle)); len(s.ready) != 1 {
		t.Fatalf("ready %v after the folder came back, want the file", paths(s.ready))
	}
}
