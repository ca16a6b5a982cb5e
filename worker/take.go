package worker

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// maxFile is the largest file that is read, in bytes.
const maxFile = 64 << 20

// errChanged says that a file changed or went while it was read; a later look
// sees it settled again, if it is there.
var errChanged = errors.New("file changed while it was read")

// take deals with one settled file from the watched folder, to the end: filed,
// held, refused or known already. It reports whether it did; only a change on
// the way or a fault of ours (a full disk, a locked database) leaves the file
// for the next look.
func (w *Worker) take(ctx context.Context, f found) bool {
	begin := time.Now()
	drop := store.Drop{Path: f.path, Size: f.size, ModTime: f.mod, SeenAt: w.Now()}
	outcome, err := w.takeBytes(ctx, f, drop)
	switch {
	case errors.Is(err, errChanged), errors.Is(err, store.ErrStale), ctx.Err() != nil:
		return false // not lost: the next look, or the next start, sees it again
	case err != nil:
		w.fault()
		w.Log.Error("file not dealt with; it will be tried again", "err", pathless(err))
		return false
	}
	w.Log.Info("file dealt with", "outcome", outcome, "bytes", f.size, "ms", time.Since(begin).Milliseconds())
	w.Metrics.files.WithLabelValues(string(outcome)).Inc()
	w.Metrics.seconds.Observe(time.Since(begin).Seconds())
	return true
}

// Take deals with one file of the watched folder at once, without waiting for
// it to settle: for one that is known to be whole. It gives what became of it.
func (w *Worker) Take(ctx context.Context, name string) (store.Fate, error) {
	info, err := os.Lstat(filepath.Join(w.Drop, name))
	if err != nil {
		return "", err
	}
	f := found{path: filepath.ToSlash(name), size: info.Size(), mod: info.ModTime(), odd: odd(info)}
	return w.takeBytes(ctx, f, store.Drop{Path: f.path, Size: f.size, ModTime: f.mod, SeenAt: w.Now()})
}

// Reread deals at once with the held files that somebody has answered.
func (w *Worker) Reread(ctx context.Context) { w.answered(ctx) }

func (w *Worker) takeBytes(ctx context.Context, f found, drop store.Drop) (store.Fate, error) {
	if f.odd != "" {
		return w.refuseDrop(ctx, drop, oddRefusal(f.odd))
	}
	if f.size > maxFile {
		return w.refuseDrop(ctx, drop, wear.Refusal{
			Code: "too_big",
			Text: fmt.Sprintf("The file is larger than %d MiB, which no wear is.", maxFile>>20),
			ToDo: "Export this one wear by itself and drop that file here.",
		})
	}
	// The bytes of all files in hand are bounded, so that many large ones at once
	// cannot fill the memory: the pages are served from the same process.
	weight := max(f.size, 1)
	if err := w.inHand.Acquire(ctx, weight); err != nil {
		return "", err
	}
	defer func() { w.inHand.Release(weight) }()
	data, err := w.read(f)
	if err == nil && packed(data) { // what comes out may be far larger
		w.inHand.Release(weight)
		weight = max(weight, maxFile/2+1)
		if err := w.inHand.Acquire(context.WithoutCancel(ctx), weight); err != nil {
			return "", err
		}
	}
	switch {
	case errors.Is(err, fs.ErrPermission):
		// The size is left out, so that the same file is taken once it may be read.
		drop.Size = store.SizeUnread
		return w.refuseDrop(ctx, drop, wear.Refusal{
			Code: "no_permission",
			Text: "This program is not allowed to read the file.",
			ToDo: "Give it permission to read; it is then taken by itself.",
		})
	case errors.Is(err, fs.ErrNotExist):
		return "", errChanged
	case err != nil:
		return "", err
	}
	if len(data) == 0 { // every empty file is alike: the hash says nothing about who sent it
		return w.refuseDrop(ctx, drop, wear.Refusal{
			Code: "empty",
			Text: "The file is empty: it holds no bytes at all.",
			ToDo: "Export the wear again and drop the new file here.",
		})
	}
	hash := Hash(data)
	known, ok, err := w.store.KnownFile(ctx, hash)
	if err != nil {
		return "", err
	}
	if ok {
		return w.again(ctx, drop, known)
	}
	if err := w.Archive.Put(hash, data); err != nil {
		return "", err
	}
	// What a file is based on may change while it is read: other goroutines
	// file too, and people withdraw recipes.
	for again := 3; ; again-- {
		outcome, err := w.file(ctx, job{drop: drop, hash: hash, data: data, id: hash[:12]})
		if again == 0 || !errors.Is(err, store.ErrStale) {
			return outcome, err
		}
	}
}

// packed reports whether some bytes are a zip (and so a workbook) or a gzip.
func packed(data []byte) bool {
	return bytes.HasPrefix(data, []byte("PK")) || bytes.HasPrefix(data, []byte{0x1f, 0x8b})
}

// read opens the file once and reads it once, bounded, making sure that it is
// still the regular file that the look saw and that it did not change on the way.
func (w *Worker) read(f found) ([]byte, error) {
	root, err := os.OpenRoot(w.Drop)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	file, err := root.OpenFile(f.path, os.O_RDONLY|openFlags, 0)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	same := func() error {
		info, err := file.Stat()
		if err != nil {
			return err
		}
		if !info.Mode().IsRegular() || info.Size() != f.size || !info.ModTime().Equal(f.mod) {
			return errChanged
		}
		return nil
	}
	if err := same(); err != nil {
		return nil, err
	}
	data := make([]byte, f.size)
	if _, err := io.ReadFull(file, data); err != nil {
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return nil, errChanged
		}
		return nil, err
	}
	return data, same()
}

// ReadFile reads one export from anywhere, bounded as in the watched folder.
func ReadFile(name string) ([]byte, error) {
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return nil, err
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s is not an ordinary file", name)
	case info.Size() > maxFile:
		return nil, fmt.Errorf("%s is larger than %d MiB, which no wear is", name, maxFile>>20)
	}
	return os.ReadFile(name)
}

// again records a file whose bytes were received before.
func (w *Worker) again(ctx context.Context, drop store.Drop, known store.File) (store.Fate, error) {
	drop.FileID, drop.Fate, drop.Code = known.ID, store.Already, "already"
	if contested, err := w.contest(ctx, drop.Path, known); err != nil {
		return "", err
	} else if contested {
		drop.Reason = "The same bytes are filed under another patient than this copy’s name says: held until somebody says whose they are."
		drop.ToDo = "Answer the question of the file received first."
		return store.Already, w.store.RecordDrop(ctx, drop)
	}
	on := known.ReceivedAt.In(w.Zone).Format("2 January 2006")
	switch known.State {
	case store.Held:
		drop.Reason = "Already received on " + on + ": the same bytes are waiting for an answer."
		drop.ToDo = "Answer the question of the file received first."
	case store.Refused:
		drop.Reason = "Already received on " + on + ": the same bytes could not be read then."
		drop.ToDo = "Export the wear again; another copy of the same file does not help."
	default:
		drop.Reason = "Already received on " + on + ": the same bytes are filed."
		drop.ToDo = "Nothing: the copy adds nothing and may be removed."
	}
	return store.Already, w.store.RecordDrop(ctx, drop)
}

// contest finds out whether a copy of a file comes under another patient's name
// than it, and has the file held then: that is how a misnaming is put right. While
// it is held, further names are offered too.
func (w *Worker) contest(ctx context.Context, path string, known store.File) (bool, error) {
	if known.State == store.Refused {
		return false, nil
	}
	named := func(path string) (int64, string, error) {
		p, _, err := w.whose(ctx, job{drop: store.Drop{Path: path}}, "")
		return p.ID, p.Code, err
	}
	id, code, err := named(path)
	if err != nil || id == 0 || id == known.PatientID {
		return false, err
	}
	if known.PatientID == 0 { // not filed yet
		if first, _, err := named(known.Path); err != nil || first == id {
			return false, err
		}
	}
	fresh, err := w.store.Contest(ctx, known.ID, code)
	if fresh {
		w.Look()
	}
	return fresh, err
}

func (w *Worker) refuseDrop(ctx context.Context, drop store.Drop, r wear.Refusal) (store.Fate, error) {
	drop.Fate, drop.Code, drop.Reason, drop.ToDo = store.Refused, r.Code, r.Text, r.ToDo
	return store.Refused, w.store.RecordDrop(ctx, drop)
}

func oddRefusal(code string) wear.Refusal {
	if code == "link" {
		return wear.Refusal{
			Code: "link",
			Text: "This is a link to a file, not a file of its own.",
			ToDo: "Copy the file itself into the watched folder.",
		}
	}
	return wear.Refusal{
		Code: "not_a_file",
		Text: "This is not an ordinary file (a pipe, a socket or a device).",
		ToDo: "Remove it and copy the export file itself into the watched folder.",
	}
}

// id is what the log may know of a file: the beginning of its hash.
func (j job) attr() slog.Attr { return slog.String("file", j.id) }
