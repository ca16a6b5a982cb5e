package worker

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"filippo.io/age"

	"wearround/store"
	"wearround/worker/backup"
)

// Names of the jobs that look after the backups, as they are recorded.
const (
	JobBackup = "backup"
	JobDrill  = "drill"
)

// Backup makes one backup in the place and records how that went.
func (w *Worker) Backup(ctx context.Context) (m backup.Manifest, err error) {
	at, begin := w.Now(), time.Now()
	m, err = w.backupNow(ctx)
	return m, w.record(ctx, JobBackup, at, begin, err)
}

func (w *Worker) backupNow(ctx context.Context) (backup.Manifest, error) {
	return backup.Make(ctx, w.Config.Backup, backup.Source{
		Store: w.store, Originals: w.Archive, Data: w.Data, Key: w.Key, Program: w.Program, Recipient: w.Recipient, Now: w.Now,
	})
}

// Drill brings the newest backup back into a temporary folder, compares it with
// the practice and records how that went.
func (w *Worker) Drill(ctx context.Context, who age.Identity) (back backup.Back, err error) {
	at, begin := w.Now(), time.Now()
	back, err = w.drillNow(ctx, who)
	return back, w.record(ctx, JobDrill, at, begin, err)
}

// record saves how a job went that was not run by the calendar.
func (w *Worker) record(ctx context.Context, job string, at, begin time.Time, fault error) error {
	said := ""
	if fault != nil {
		said = fault.Error()
	}
	return errors.Join(fault, w.store.RecordRun(ctx, job, at, time.Since(begin), said))
}

func (w *Worker) drillNow(ctx context.Context, who age.Identity) (back backup.Back, err error) {
	found, err := backup.Find(w.Config.Backup)
	if err != nil {
		return back, err
	}
	dir, err := os.MkdirTemp("", "wearround-drill-")
	if err != nil {
		return back, pathless(err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	back, err = backup.Restore(ctx, found, filepath.Join(dir, "practice"), backup.Way{Key: w.Key, Identity: who, Now: w.Now})
	if err != nil {
		return back, err
	}
	if n := len(back.Missing); n > len(found.Missing) {
		return back, fmt.Errorf("%d originals are missing from the backups or damaged there", n)
	}
	if err := w.compare(ctx, filepath.Join(dir, "practice", "wearround.db")); err != nil {
		return back, err
	}
	mac, err := w.store.LogMark(ctx, back.LogSeq)
	if err != nil {
		return back, err
	}
	if hex.EncodeToString(mac[:]) != back.LogMAC {
		return back, fmt.Errorf("the backup %s is not of this practice: entry %d of its log is another", back.ID, back.LogSeq)
	}
	return back, nil
}

// compare holds what was brought back against the practice.
func (w *Worker) compare(ctx context.Context, path string) (err error) {
	s, err := store.Open(ctx, path, w.Now)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if err := s.SetLogKey(w.Key); err != nil {
		return err
	}
	n, differ, err := w.store.SameReadings(ctx, s)
	if err == nil && differ > 0 {
		err = fmt.Errorf("the readings of %d of %d wears are not those of the practice", differ, n)
	}
	return err
}

// drillDue is the drill that runs by itself. An encrypted backup can be drilled
// only by whoever holds the identity, which must not lie here.
func (w *Worker) drillDue(ctx context.Context) error {
	found, err := backup.Find(w.Config.Backup)
	if err == nil && found.Encrypted {
		return errors.New("the backups are encrypted: run wearround drill --identity where the identity is kept")
	}
	if err == nil {
		_, err = w.drillNow(ctx, nil)
	}
	return err
}
