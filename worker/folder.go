package worker

import (
	"errors"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"sync"
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

	entry *entry // where the folder remembers it
}

// done has the name left alone until it is seen to have changed.
func (f found) done() { f.entry.done = true }

// scan is the result of one look. Names that are done and have not changed are
// counted and no more.
type scan struct {
	ready    []found // settled, or odd
	settling []found // changed since the look before
	files    int
	restless int // of those that settle, how many have been changing for long
	closed   int // sub-folders that may not be read
	deep     int // sub-folders too deep to be looked into
}

// recheck is about how many names that are done are looked at in one look. A
// folder keeps every file for ever, so in a larger one they take turns: a look
// costs what changed, and a file that was written over in place on a network
// share, where nothing announces it, is still found after some looks.
const recheck = 2000

// coarse is longer than the steps of any file system's times of change: a
// folder that changed shorter ago than this may change again unseen.
const coarse = 5 * time.Second

// folder remembers what the looks saw, so that a file which is still being
// copied is left alone, and one that was dealt with costs nothing.
type folder struct {
	root   string
	settle time.Duration
	atOnce int             // see recheck
	dirs   map[string]*dir // by relative path; "." is the folder itself
	files  int
	looks  int
	turn   int // of the newest name

	mu      sync.Mutex
	changed map[string]bool // names that change events told of since the last look
}

// dir is what the last listing of one folder gave.
type dir struct {
	mod    time.Time
	listed time.Time
	files  map[string]*entry // by name
	dirs   []string
	closed bool // it may not be read
}

// entry is what is remembered of one name.
type entry struct {
	size  int64
	mod   time.Time
	since time.Time // when this size and time were first seen
	first time.Time // when it was first seen since it last was ready
	turn  int       // of its being looked at again
	known bool      // it was looked at
	ready bool      // at the last look
	done  bool      // it was dealt with as it is
}

func newFolder(root string, settle time.Duration) *folder {
	return &folder{root: root, settle: settle, atOnce: recheck, dirs: map[string]*dir{}, changed: map[string]bool{}}
}

// told notes that a change event named a file, so that the next look looks at
// it whatever it knows. Nothing depends on it.
func (f *folder) told(name string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if len(f.changed) < recheck {
		f.changed[name] = true
	}
}

// look looks at the folder. A file is ready when the look before saw the same
// size and time of change, at least the settling time ago. An unreadable
// folder is an error and leaves what is remembered as it was.
func (f *folder) look(now time.Time) (scan, error) {
	root, err := os.OpenRoot(f.root)
	if err != nil {
		return scan{}, err
	}
	defer root.Close()
	f.mu.Lock()
	l := looking{
		folder: f, root: root, fs: root.FS(), told: f.changed,
		now:   now.Round(0), // compare wall clocks: a test's clock has no monotonic part
		turns: f.files/f.atOnce + 1, seen: map[string]bool{},
	}
	f.changed = map[string]bool{}
	f.mu.Unlock()
	f.looks++
	if err := l.dir(".", 0); err != nil {
		return scan{}, err
	}
	for name := range f.dirs {
		if !l.seen[name] {
			delete(f.dirs, name)
		}
	}
	f.files = l.scan.files
	slices.SortFunc(l.scan.ready, func(a, b found) int { return strings.Compare(a.path, b.path) })
	return l.scan, nil
}

// looking is one look on its way.
type looking struct {
	*folder
	root  *os.Root
	fs    fs.FS
	now   time.Time
	turns int             // in how many looks each name has its turn
	told  map[string]bool // by change events
	seen  map[string]bool // folders
	scan  scan
}

// dir looks at one folder and those in it.
func (l *looking) dir(name string, depth int) error {
	info, err := l.root.Stat(name)
	switch {
	case err != nil && name == ".":
		return err
	case errors.Is(err, fs.ErrNotExist):
		return nil // gone since it was listed
	case err != nil:
		l.scan.closed++
		return nil
	}
	d := l.dirs[name]
	if d == nil {
		d = &dir{files: map[string]*entry{}}
	}
	// A change of its time says that a name came or went; in their turn the
	// names are read whatever it says.
	if l.looks%l.turns == 0 || d.closed || !d.mod.Equal(info.ModTime()) || d.listed.Sub(d.mod) < coarse {
		if err := l.list(name, d, info.ModTime()); err != nil {
			return err
		}
	}
	l.dirs[name], l.seen[name] = d, true
	if d.closed {
		l.scan.closed++
	}
	for file, e := range d.files {
		l.scan.files++
		if e.done && (l.looks+e.turn)%l.turns != 0 && (len(l.told) == 0 || !l.told[path.Join(name, file)]) {
			continue
		}
		l.file(path.Join(name, file), d, file, e)
	}
	for _, sub := range d.dirs {
		if depth >= maxDepth {
			l.scan.deep++
			continue
		}
		if err := l.dir(path.Join(name, sub), depth+1); err != nil {
			return err
		}
	}
	return nil
}

// list reads the names in a folder.
func (l *looking) list(name string, d *dir, mod time.Time) error {
	list, err := fs.ReadDir(l.fs, name)
	if err != nil && name == "." {
		return err
	}
	if d.closed = err != nil && !errors.Is(err, fs.ErrNotExist); err != nil {
		d.files, d.dirs = map[string]*entry{}, nil
		return nil
	}
	had := d.files
	d.mod, d.listed, d.files, d.dirs = mod, time.Now(), make(map[string]*entry, len(list)), nil
	for _, it := range list {
		file := it.Name()
		switch {
		case strings.HasPrefix(file, "."): // the operating system's own clutter
		case it.IsDir():
			d.dirs = append(d.dirs, file)
		case had[file] != nil:
			d.files[file] = had[file]
		default:
			l.turn++
			d.files[file] = &entry{turn: l.turn}
		}
	}
	return nil
}

// file looks at one name.
func (l *looking) file(name string, d *dir, base string, e *entry) {
	info, err := l.root.Lstat(name)
	if err != nil || info.IsDir() { // gone since it was listed, or another thing by now
		l.scan.files--
		delete(d.files, base)
		d.listed = time.Time{}
		return
	}
	it := found{path: name, size: info.Size(), mod: info.ModTime(), odd: odd(info), entry: e}
	changed := !e.known || e.size != it.size || !e.mod.Equal(it.mod)
	if !e.known || e.ready && changed || l.now.Before(e.first) { // or the clock was set back
		e.first = l.now
	}
	if changed || l.now.Before(e.since) {
		e.since = l.now
	}
	e.done = e.done && !changed
	e.size, e.mod, e.known = it.size, it.mod, true
	unchanged := l.now.Sub(e.since)
	e.ready = it.odd != "" || !changed && unchanged >= l.settle && !unfinished(name, unchanged)
	switch {
	case e.done:
	case e.ready:
		l.scan.ready = append(l.scan.ready, it)
	default:
		l.scan.settling = append(l.scan.settling, it)
		if changed && l.now.Sub(e.first) >= restlessAfter {
			l.scan.restless++
		}
	}
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
