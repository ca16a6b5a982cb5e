package backup

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// How long backups are kept: one an hour for two days, one a day for five
// weeks, one a month for thirteen months. A proposal of this program; the
// newest few stay whatever their age.
const (
	hourly  = 48 * time.Hour
	daily   = 35 * 24 * time.Hour
	monthly = 396 * 24 * time.Hour
	newest  = 3
)

// kept says which of some backups, the newest first, are kept at a time. Of
// each hour, day and month the newest stays. One from the future, made while the
// clock was wrong, stays until its time has come.
func kept(list []Entry, now time.Time) map[string]bool {
	keep, seen := map[string]bool{}, map[string]bool{}
	for i, e := range list {
		age := now.Sub(e.MadeAt)
		bucket := ""
		switch {
		case i < newest || age < 0:
			keep[e.ID] = true
			continue
		case age <= hourly:
			bucket = e.MadeAt.Format("2006-01-02T15")
		case age <= daily:
			bucket = e.MadeAt.Format("2006-01-02")
		case age <= monthly:
			bucket = e.MadeAt.Format("2006-01")
		default:
			continue
		}
		keep[e.ID] = !seen[bucket]
		seen[bucket] = true
	}
	return keep
}

// thin takes away the backups that are not kept, and what an interrupted run
// left. Originals are never taken away: they are the evidence.
func thin(place string, now time.Time) error {
	list, err := List(place)
	if err != nil {
		return err
	}
	keep := kept(list, now)
	var errs []error
	for _, e := range list {
		if keep[e.ID] {
			continue
		}
		// The name goes first, so that half of a backup never passes for one.
		gone := filepath.Join(place, e.ID+unfinished)
		if err := os.Rename(filepath.Join(place, e.ID), gone); err != nil {
			errs = append(errs, pathless(err))
			continue
		}
		errs = append(errs, os.RemoveAll(gone))
	}
	names, err := os.ReadDir(place)
	errs = append(errs, err)
	for _, n := range names {
		if info, err := n.Info(); err == nil && strings.HasSuffix(n.Name(), unfinished) && abandoned(info, now) {
			errs = append(errs, os.RemoveAll(filepath.Join(place, n.Name())))
		}
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("thin the backups: %w", err)
	}
	return nil
}

// abandoned reports whether nobody has written there for a day: another backup
// may be under way.
func abandoned(info fs.FileInfo, now time.Time) bool { return now.Sub(info.ModTime()) > 24*time.Hour }
