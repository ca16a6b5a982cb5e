package worker

import (
	"bufio"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"wearround/store"
)

// Anchors is the second place where the newest line of the log is noted:
// a text file that is only ever added to, best on another machine. Somebody who
// can rewrite the whole database cannot make it agree with the file.
type Anchors struct{ path string }

// NewAnchors names the file; it is made with the first note.
func NewAnchors(path string) *Anchors { return &Anchors{path} }

// All gives every note. A file that is not there has none; a line that cannot
// be read is an error beside the notes that can, for nobody but this program
// writes there.
func (a *Anchors) All() ([]store.Anchor, error) {
	f, err := os.Open(a.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("notes of the audit log: %w", err)
	}
	defer f.Close()
	var out []store.Anchor
	var bad error
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		if strings.TrimSpace(lines.Text()) == "" {
			continue
		}
		anchor, err := parseAnchor(lines.Text())
		if err != nil {
			bad = errors.Join(bad, fmt.Errorf("line %d of the notes of the log (%s) is %w: put the file back from a copy, or take the line out and keep it", n, a.path, err))
			continue
		}
		out = append(out, anchor)
	}
	return out, errors.Join(bad, lines.Err())
}

var errNoNote = errors.New("no note of this program")

// parseAnchor reads one line: number, MAC, when it was noted, and the sum of
// those three, which earlier releases did not write.
func parseAnchor(line string) (store.Anchor, error) {
	var a store.Anchor
	var mac, at, sum string
	switch n, _ := fmt.Sscan(line, &a.Seq, &mac, &at, &sum); {
	case n == 4 && line == noteLine(a.Seq, mac, at):
	case n == 3 && line == fmt.Sprint(a.Seq, " ", mac, " ", at):
	default:
		return a, errNoNote
	}
	b, err := hex.DecodeString(mac)
	if err != nil || len(b) != len(a.MAC) || a.Seq < 1 {
		return a, errNoNote
	}
	copy(a.MAC[:], b)
	if a.At, err = time.Parse(time.RFC3339, at); err != nil {
		return a, errNoNote
	}
	return a, nil
}

// noteLine is a line of the file, without its end. The sum shows a line that the
// disk changed: the log knows nothing of when it was noted.
func noteLine(seq int64, mac, at string) string {
	line := fmt.Sprintf("%d %s %s", seq, mac, at)
	return line + " " + Hash([]byte(line))[:8]
}

// Add notes a line of the log. It is on the disk when Add returns.
func (a *Anchors) Add(anchor store.Anchor, now time.Time) error {
	f, err := os.OpenFile(a.path, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("notes of the audit log: %w", err)
	}
	before, err := f.Seek(0, io.SeekEnd)
	if err == nil {
		_, err = fmt.Fprintln(f, noteLine(anchor.Seq, hex.EncodeToString(anchor.MAC[:]), now.UTC().Format(time.RFC3339)))
		if err != nil { // half a line, as on a full disk, would spoil the next one
			err = errors.Join(err, f.Truncate(before))
		}
	}
	return errors.Join(err, f.Sync(), f.Close())
}

// noteLog notes the newest line of the log in the second place.
func (w *Worker) noteLog(ctx context.Context) error {
	head, err := w.store.LogHead(ctx)
	if err != nil || head.Seq == 0 {
		return err
	}
	return w.Anchors.Add(head, w.Now())
}

// verifyLog walks the log; one that does not hold together is an error
// here and shows on the first page.
func (w *Worker) verifyLog(ctx context.Context) error {
	anchors, bad := w.Anchors.All()
	k, err := w.store.VerifyLog(ctx, anchors...)
	if err == nil {
		err = bad
	}
	if err == nil && !k.OK() {
		err = fmt.Errorf("the audit log does not hold together at line %d: %s", k.Broken, k.Why)
	}
	return err
}
