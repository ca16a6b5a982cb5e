package main

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"filippo.io/age"

	"wearround/store"
	"wearround/worker"
	"wearround/worker/backup"
)

const backupUsage = `wearround backup DIR [--data DIR] [--backup-recipient KEY]

Copies the practice, as it is at one moment, into the folder DIR on another disk or share: the
database, checked, and the originals that are not there yet. Other work goes on meanwhile. Older
backups are thinned: one an hour for two days, one a day for five weeks, one a month for thirteen
months. Without a recipient the key of the log is left out: keep a copy of audit.key elsewhere.
`

// backupCommand makes one backup.
func backupCommand(ctx context.Context, args []string, stdout, _ io.Writer) (err error) {
	fs, d := deskFlags("backup", backupUsage)
	recipient := fs.String("backup-recipient", "", "public `key` (age1…) to encrypt to; its identity must not lie on this machine")
	fs.StringVar(&d.backup, "backup", "", "the `folder`, where none is named")
	rest, err := fs.parse(args, stdout, 0, 1)
	if err != nil {
		return err
	}
	if d.backup = cmp.Or(strings.Join(rest, ""), d.backup); d.backup == "" {
		return &usageError{"say which folder the backup goes to\n" + backupUsage}
	}
	if d.recipient, err = backup.ParseRecipient(*recipient); err != nil {
		return asUsage(err)
	}
	if err := d.open(ctx); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	w, err := d.keeper()
	if err != nil {
		return err
	}
	m, err := w.Backup(ctx)
	if m.ID != "" {
		fmt.Fprintf(stdout, "Backup %s: %d patients, %d wears, %d readings, %d originals; the log up to entry %d.\n",
			m.ID, m.Patients, m.Wears, m.Readings, m.Originals-len(m.Missing), m.LogSeq)
		if !m.Encrypted {
			fmt.Fprintf(stdout, "It is not encrypted, and the key of the log is not in it: keep a copy of %s elsewhere.\n", d.key)
		}
	}
	return err
}

// keeper is a worker that looks after what is there and watches no folder.
func (d *desk) keeper() (*worker.Worker, error) {
	archive, err := worker.OpenArchive(filepath.Join(d.data, "archive"))
	if err != nil {
		return nil, err
	}
	return worker.New(worker.Config{
		Archive: archive, Anchors: worker.NewAnchors(d.config.anchors), Settle: time.Second, Now: time.Now,
		Backup: d.backup, Data: d.data, Key: d.secret, Recipient: d.recipient, Program: version(),
	}, d.Store), nil
}

const restoreUsage = `wearround restore FROM --data NEW [--audit-key FILE | --new-key] [--identity FILE] [--instead-of OLD]

Brings a practice back from the backup FROM (one backup, or a folder of backups: then the newest)
into the new folder NEW, verifies all of it, and says what lies after it. The log records the restore
and goes on. Files that are still in the watched folder and came after the backup are read again by
themselves. With --instead-of, what the log of the lost practice holds after the backup is listed,
as far as its database can still be read.
`

// restoreCommand brings a practice back.
func restoreCommand(ctx context.Context, args []string, stdout, _ io.Writer) error {
	fs := newFlags("restore", restoreUsage)
	data := fs.String("data", "", "new `folder` for the practice")
	keyPath := fs.String("audit-key", "", "`file` with the key of the log: your copy of audit.key")
	anchorsPath := fs.String("anchors", "", "`file` where the log was noted a second time, if it is elsewhere")
	newKey := fs.Bool("new-key", false, "the key is lost: go on under a new one")
	identity := fs.String("identity", "", "`file` with the identity that reads encrypted backups")
	old := fs.String("instead-of", "", "`folder` of the lost practice, if it is still there")
	rest, err := fs.parse(args, stdout, 1, 1)
	if err != nil {
		return err
	}
	if *data == "" {
		return &usageError{"say with --data which new folder the practice is brought back into"}
	}
	if *newKey && *keyPath != "" {
		return &usageError{"give either --audit-key or --new-key"}
	}
	anchors := worker.NewAnchors(cmp.Or(*anchorsPath, filepath.Join(*data, "audit.anchors")))
	way := backup.Way{NewKey: *newKey, Now: time.Now}
	if way.Key, err = readKey(*keyPath); err != nil {
		return err
	}
	if way.Identity, err = readIdentity(*identity); err != nil {
		return err
	}
	noted, err := anchors.All()
	if err != nil {
		return err
	}
	found, err := backup.Find(rest[0])
	if err != nil {
		return err
	}
	back, err := backup.Restore(ctx, found, *data, way)
	if err != nil {
		return err
	}
	if err := anchors.Add(back.Check.Head, time.Now()); err != nil {
		return err
	}
	sayRestored(stdout, back, *data, noted)
	return sayLost(ctx, stdout, *old, back)
}

func readKey(path string) ([]byte, error) {
	if path == "" {
		return nil, nil
	}
	key, err := os.ReadFile(path)
	if err == nil && len(key) != store.LogKeySize {
		err = fmt.Errorf("%s is no key of a log: it has %d bytes, not %d", path, len(key), store.LogKeySize)
	}
	return key, err
}

func readIdentity(path string) (age.Identity, error) {
	if path == "" {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	list, err := age.ParseIdentities(bufio.NewReader(f))
	if err != nil || len(list) != 1 {
		return nil, fmt.Errorf("%s must hold one identity, a line that begins with AGE-SECRET-KEY-1", path)
	}
	return list[0], nil
}

// sayRestored tells what is there and what lies after it.
func sayRestored(w io.Writer, back backup.Back, data string, noted []store.Anchor) {
	at := back.MadeAt.Format("2 January 2006 15:04 MST")
	fmt.Fprintf(w, "The practice of %s is in %s: %d patients, %d wears, %d readings, %d originals; the log holds together.\n",
		at, data, back.Patients, back.Wears, back.Readings, back.Originals)
	if back.Migrated > 0 {
		fmt.Fprintf(w, "Its schema %d was brought up to %d.\n", back.Schema, back.Migrated)
	}
	for _, hash := range back.Missing {
		fmt.Fprintf(w, "Missing from the backup: the original %s (its readings are there).\n", hash[:12])
	}
	var last store.Anchor
	for _, a := range noted {
		if a.Seq > last.Seq {
			last = a
		}
	}
	if last.Seq > back.LogSeq {
		fmt.Fprintf(w, "The log was noted in the second place up to entry %d on %s: entries %d to %d and all after them are not in this backup.\n",
			last.Seq, last.At.Format("2 January 2006 15:04 MST"), back.LogSeq+1, last.Seq)
	}
	fmt.Fprintf(w, "Not in it: whatever people recorded after %s, the log's entry %d. Files that came after that and\n"+
		"are still in the watched folder are read again by themselves once it is served. Everybody must sign in anew.\n", at, back.LogSeq)
}

// sayLost lists what the lost practice's own log holds after the backup.
func sayLost(ctx context.Context, w io.Writer, dir string, back backup.Back) (err error) {
	if dir == "" {
		return nil
	}
	path := filepath.Join(dir, "wearround.db")
	if _, err := os.Stat(path); err != nil {
		fmt.Fprintf(w, "What it lost cannot be listed: there is no database in %s.\n", dir)
		return nil
	}
	lost, err := store.Lost(ctx, path, back.LogSeq)
	if err != nil {
		fmt.Fprintf(w, "What it lost cannot be listed: the database in %s cannot be read.\n", dir)
		return nil
	}
	fmt.Fprintf(w, "The log of the lost practice holds %d entries after it:\n", len(lost))
	for _, r := range lost {
		fmt.Fprintf(w, "  %d  %s  %s %s %d (%s)\n", r.Seq, r.At.Format(time.RFC3339), r.Action, r.Object, r.ObjectID, r.Ended)
	}
	return nil
}

const drillUsage = `wearround drill [DIR] [--data DIR] [--identity FILE]

Brings the newest backup in DIR back into a temporary folder, verifies all of it, compares it with the
practice, and records how that went. serve --backup DIR does it by itself each quarter, except for
encrypted backups, which only whoever holds the identity can read.
`

// drillCommand proves that a backup brings the practice back.
func drillCommand(ctx context.Context, args []string, stdout, _ io.Writer) (err error) {
	fs, d := deskFlags("drill", drillUsage)
	fs.StringVar(&d.backup, "backup", "", "the `folder`, where none is named")
	identity := fs.String("identity", "", "`file` with the identity that reads encrypted backups")
	rest, err := fs.parse(args, stdout, 0, 1)
	if err != nil {
		return err
	}
	if d.backup = cmp.Or(strings.Join(rest, ""), d.backup); d.backup == "" {
		return &usageError{"say which folder the backups are in\n" + drillUsage}
	}
	who, err := readIdentity(*identity)
	if err != nil {
		return err
	}
	if err := d.open(ctx); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	w, err := d.keeper()
	if err != nil {
		return err
	}
	back, err := w.Drill(ctx, who)
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "The backup %s brings the practice back: %d patients, %d wears, %d readings, %d originals; the log holds together.\n",
		back.ID, back.Patients, back.Wears, back.Readings, back.Originals)
	return nil
}
