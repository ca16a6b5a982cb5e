package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"wearround/store"
)

// demoMark is a file in the folder of an invented practice.
const demoMark = "invented-practice"

// checkFolder refuses a data folder that was a practice and has lost its
// database: an empty one in its place would look as if there had never been
// anything.
func (a *app) checkFolder() error {
	info, err := os.Stat(filepath.Join(a.data, "wearround.db"))
	if err == nil && info.Size() > 0 {
		return nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("data folder: %w", err)
	}
	left, err := a.remains()
	if err != nil || left == "" {
		return err
	}
	return fmt.Errorf("the data folder %s holds %s but no database: it was a practice and its database is gone. "+
		"Nothing was changed. Bring it back with wearround restore, or give another folder with --data", a.data, left)
}

// remains says what in a data folder shows that a practice was here, or gives "".
func (a *app) remains() (string, error) {
	for _, own := range []struct{ name, what string }{
		{filepath.Join(a.data, "audit.key"), "the key of a log"},
		{a.anchors, "the notes of a log"},
		{filepath.Join(a.data, "wearround.db-wal"), "the last changes of a database"},
	} {
		if info, err := os.Stat(own.name); err == nil && info.Size() > 0 {
			return own.what, nil
		} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("data folder: %w", err)
		}
	}
	return a.originals()
}

// checkEmptied refuses a database in which nothing ever happened where the
// second place or the archive shows that something did: it is not the one that
// belongs here.
func (a *app) checkEmptied(ctx context.Context, noted []store.Anchor) error {
	head, err := a.store.LogHead(ctx)
	if err != nil || head.Seq > 0 {
		return err
	}
	left := "the notes of a log"
	if len(noted) == 0 {
		if left, err = a.originals(); err != nil || left == "" {
			return err
		}
	}
	return fmt.Errorf("the database in %s is new and empty, but the folder holds %s: the practice's own database is gone. "+
		"Bring it back with wearround restore, or give another folder with --data", a.data, left)
}

// originals says that there are some, or gives "". The folders of an archive are
// made before anything is put into them, and show nothing.
func (a *app) originals() (found string, err error) {
	err = filepath.WalkDir(filepath.Join(a.data, "archive"), func(_ string, d fs.DirEntry, err error) error {
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil
		case err != nil:
			return err
		case d.Type().IsRegular():
			found = "originals of received files"
			return fs.SkipAll
		}
		return nil
	})
	return found, err
}

// invented is what a demo's practice is made from, noted in its folder: with the
// same again its people, wears and files are the same to the byte.
type invented struct {
	at       time.Time // the end of its year
	patients int
}

const inventedNote = "The practice in this folder is invented: %d patients at %s\n"

// claimDemo makes a folder the demo's own, or makes sure that it is, and gives
// what the practice in it is made from: fresh where it is new.
func claimDemo(dir string, fresh invented) (invented, error) {
	mark := filepath.Join(dir, demoMark)
	if note, err := os.ReadFile(mark); err == nil {
		var at string
		was := fresh
		if _, err := fmt.Sscanf(string(note), inventedNote, &was.patients, &at); err == nil {
			if was.at, err = time.Parse(time.RFC3339, at); err == nil {
				return was, nil
			}
		}
		return fresh, nil
	}
	names, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fresh, fmt.Errorf("data folder: %w", err)
	}
	if len(names) > 0 {
		return fresh, &usageError{fmt.Sprintf("the folder %s was not made by demo, so no invented patients are put there: give a new folder", dir)}
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fresh, fmt.Errorf("data folder: %w", err)
	}
	return fresh, writeNew(mark, fmt.Appendf(nil, inventedNote, fresh.patients, fresh.at.Format(time.RFC3339)))
}
