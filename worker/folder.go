package worker

import (
	"errors"
	"io/fs"
	"os"
	"path"
	"strings"
	"time"
)

// maxDepth bounds how far below the watched folder files are looked for.
const maxDepth = 4

// found is one name in the watched folder.
type found struct {
	path string // relative, slashes
	size int64
	mod  time.Time
	odd  string // code of why it can never be taken ("link", ...), or ""
}

// scan is the result of one look.
type scan struct {
	ready    []found // settled, or odd
	settling []found // changed since the look before
	files    int
	restless int // of those that settle, how many have been changing for long
	closed   int // sub-folders that may not be read
	deep     int // sub-folders too deep to be looked into
}

// folder remembers what the last look saw, so that a file which is still being
// copied is left alone.
type folder struct {
	root   string
	settle time.Duration
	last   map[string]sighting
}

type sighting struct {
	size  int64
	mod   time.Time
	since time.Time // when this size and time were first seen
	first time.Time // when it was first seen since it last was ready
	ready bool      // at the last look
}

func newFolder(root string, settle time.Duration) *folder {
	return &folder{root: root, settle: settle, last: map[string]sighting{}}
}

// look lists the folder. A file is ready when the look before saw the same
// size and time of change, at least the settling time ago. An unreadable
// folder is an error and leaves what is remembered as it was.
func (f *folder) look(now time.Time) (scan, error) {
	root, err := os.OpenRoot(f.root)
	if err != nil {
		return scan{}, err
	}
	defer root.Close()

	var s scan
	now = now.Round(0) // compare wall clocks: a test's clock has no monotonic part
	current := map[string]sighting{}
	err = fs.WalkDir(root.FS(), ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil && name == ".":
			return err
		case errors.Is(err, fs.ErrNotExist):
			return nil // gone since it was listed
		case err != nil:
			s.closed++
			return nil
		case d.IsDir() && name == ".":
			return nil
		case d.IsDir() && strings.HasPrefix(d.Name(), "."):
			return fs.SkipDir
		case d.IsDir() && strings.Count(name, "/") >= maxDepth:
			s.deep++
			return fs.SkipDir
		case d.IsDir():
			return nil
		case strings.HasPrefix(d.Name(), "."):
			return nil // the operating system's own clutter
		}
		info, err := d.Info()
		if err != nil {
			return nil // gone between listing and asking
		}
		s.files++
		it := found{path: name, size: info.Size(), mod: info.ModTime(), odd: odd(info)}
		was, seen := f.last[name]
		changed := !seen || was.size != it.size || !was.mod.Equal(it.mod)
		if !seen || was.ready && changed || now.Before(was.first) { // or the clock was set back
			was.first = now
		}
		if changed || now.Before(was.since) {
			was.since = now
		}
		was.size, was.mod = it.size, it.mod
		was.ready = it.odd != "" || !changed && now.Sub(was.since) >= f.settle && !unfinished(name, now.Sub(was.since))
		current[name] = was
		if was.ready {
			s.ready = append(s.ready, it)
			return nil
		}
		s.settling = append(s.settling, it)
		if changed && now.Sub(was.first) >= restlessAfter {
			s.restless++
		}
		return nil
	})
	if err != nil {
		return scan{}, err
	}
	f.last = current
	return s, nil
}

// odd names what is wrong with a directory entry that can never be taken.
func odd(info fs.FileInfo) string {
	switch mode := info.Mode(); {
	case mode&fs.ModeSymlink != 0:
		return "link"
	case !mode.IsRegular():
		return "not_a_file"
	case hardLinked(info):
		return "link"
	}
	return ""
}

// unfinished reports whether the name is one that copying programs use until
// they are done. After an hour without change it is taken all the same, so
// that nothing is lost for its name alone.
func unfinished(name string, unchanged time.Duration) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".part", ".partial", ".tmp", ".temp", ".filepart", ".download":
		return unchanged < time.Hour
	}
	return strings.HasSuffix(name, "~") && unchanged < time.Hour
}

// pathless drops the file name from an error of package os: names of files may
// be names of people, and those never reach the log.
func pathless(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return errors.New(p.Op + ": " + p.Err.Error())
	}
	return err
}
