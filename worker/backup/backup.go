// Package backup keeps copies of a practice in another place and brings a
// practice back from one.
//
// A place is a folder of plain files that any tool can copy on:
//
//	originals/ab/abcd…                    each original once, under its hash
//	0000042-20261126T092000Z/             one backup
//	    wearround.db                      the database, whole
//	    manifest.json                     what it holds, with hashes and the newest entry of the log
//	    manifest.seal                     the hash of the manifest, and its mark under the practice's key
//
// Where a recipient is given, the database and the originals are encrypted to
// it (age, X25519); whoever holds the identity alone can read them, and the
// practice's key travels inside. Without one the key is left out: a copy of it
// must be kept elsewhere.
package backup

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"filippo.io/age"

	"wearround/store"
)

// Names in a place and in one backup.
const (
	originalsDir = "originals"
	databaseFile = "wearround.db"
	keyFile      = "audit.key"
	manifestFile = "manifest.json"
	sealFile     = "manifest.seal"
	sealedSuffix = ".age"
	unfinished   = ".unfinished"
)

// Manifest says what one backup holds. Its keys are a published format.
type Manifest struct {
	Format    int       `json:"format"` // 1
	ID        string    `json:"id"`
	MadeAt    time.Time `json:"made_at"`
	Program   string    `json:"program"`
	Schema    int       `json:"schema"`
	LogSeq    int64     `json:"log_seq"` // newest entry of the log
	LogMAC    string    `json:"log_mac"` // its mark
	Patients  int       `json:"patients"`
	Wears     int       `json:"wears"`
	Readings  int64     `json:"readings"`
	Originals int       `json:"originals"`
	Missing   []string  `json:"missing"`   // originals that the archive does not hold whole, by hash
	Encrypted bool      `json:"encrypted"` // to a recipient
	Files     []Sum     `json:"files"`     // beside the manifest
	List      string    `json:"list"`      // SHA-256 over the hashes of all originals, in order, a line each
}

// Sum is one file of a backup.
type Sum struct {
	Name   string `json:"name"`
	Size   int64  `json:"size"`   // bytes, as it lies there
	SHA256 string `json:"sha256"` // likewise
	Plain  string `json:"plain"`  // SHA-256 of what is encrypted, or the same again
}

// Originals are where the practice keeps what it received.
type Originals interface {
	Get(hash string) ([]byte, error)
}

// Source is the practice that is copied.
type Source struct {
	Store     *store.Store
	Originals Originals
	Data      string // its folder; the copy is made and checked there before it leaves
	Key       []byte // of the log
	Anchors   []store.Anchor
	Program   string // version
	Recipient age.Recipient
	Now       func() time.Time
}

// ParseRecipient reads a recipient's public key as age writes it. "" is none.
func ParseRecipient(text string) (age.Recipient, error) {
	if text == "" {
		return nil, nil
	}
	r, err := age.ParseX25519Recipient(text)
	if err != nil {
		return nil, errors.New("the recipient of the backups must be a public key that begins with age1")
	}
	return r, nil
}

// Make makes one backup in a place and thins the older ones. The copy is whole
// and checked before it counts: where Make is interrupted at any point, the
// place holds what it held before. An error beside a manifest says that the
// backup was made and what is wrong with the practice itself.
func Make(ctx context.Context, place string, src Source) (_ Manifest, err error) {
	if err := apart(place, src.Data); err != nil {
		return Manifest{}, err
	}
	if err := os.MkdirAll(filepath.Join(place, originalsDir), 0o700); err != nil {
		return Manifest{}, fmt.Errorf("backup place: %w", pathless(err))
	}
	before, err := List(place)
	if err != nil {
		return Manifest{}, err
	}
	now := src.Now().UTC().Truncate(time.Second)
	m := Manifest{Format: 1, MadeAt: now, Program: src.Program, Missing: []string{}, Encrypted: src.Recipient != nil}
	m.ID = fmt.Sprintf("%07d-%s", next(before), now.Format("20060102T150405Z"))

	copied, err := os.CreateTemp(src.Data, "backup-*.tmp")
	if err != nil {
		return Manifest{}, fmt.Errorf("backup: %w", pathless(err))
	}
	defer os.Remove(copied.Name())
	if err := copied.Close(); err != nil {
		return Manifest{}, err
	}
	if err := src.Store.Copy(ctx, copied.Name()); err != nil {
		return Manifest{}, err
	}
	hashes, err := m.describe(ctx, copied.Name(), src)
	if err != nil {
		return Manifest{}, err
	}
	if err := m.originals(ctx, place, hashes, src); err != nil {
		return Manifest{}, err
	}
	if err := m.write(place, copied.Name(), src); err != nil {
		return Manifest{}, err
	}
	if err := thin(place, now); err != nil {
		return m, err
	}
	if n := len(m.Missing); n > 0 {
		return m, fmt.Errorf("the backup %s is made, but %d originals are missing or damaged in the archive", m.ID, n)
	}
	return m, nil
}

// apart refuses a place inside the data folder, which would be lost with it.
func apart(place, data string) error {
	p, err := filepath.Abs(place)
	if err != nil {
		return err
	}
	d, err := filepath.Abs(data)
	if err != nil {
		return err
	}
	if rel, err := filepath.Rel(d, p); err == nil && (rel == "." || filepath.IsLocal(rel)) {
		return errors.New("the backup place lies inside the data folder and would be lost with it: choose a folder on another disk or share")
	}
	return nil
}

// describe checks the copy and writes down what it holds; it gives the hashes of
// its originals.
func (m *Manifest) describe(ctx context.Context, path string, src Source) (hashes []string, err error) {
	c, err := store.OpenCopy(path, src.Store)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	if err := c.Whole(ctx); err != nil {
		return nil, err
	}
	k, err := c.VerifyLog(ctx)
	if err != nil {
		return nil, err
	}
	if !k.OK() {
		return nil, fmt.Errorf("no backup is made of a log that does not hold together (entry %d): older backups are kept", k.Broken)
	}
	sound, err := c.VerifyData(ctx, true)
	if err != nil {
		return nil, err
	}
	if !sound.OK() {
		return nil, fmt.Errorf("no backup is made of data that do not fit their seals (%s): older backups are kept", sound.String())
	}
	n, err := c.Counts(ctx)
	if err != nil {
		return nil, err
	}
	m.Schema, _ = c.Version()
	m.LogSeq, m.LogMAC = k.Head.Seq, hex.EncodeToString(k.Head.MAC[:])
	m.Patients, m.Wears, m.Readings = n.Patients, n.Wears, n.Readings
	err = c.EachFile(ctx, func(hash string, _ int64) error {
		hashes = append(hashes, hash)
		return nil
	})
	m.Originals, m.List = len(hashes), listSum(hashes)
	return hashes, err
}

func listSum(hashes []string) string {
	return hexSum([]byte(strings.Join(hashes, "\n")))
}

func hexSum(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// originals copies those that are not in the place yet.
func (m *Manifest) originals(ctx context.Context, place string, hashes []string, src Source) error {
	for _, hash := range hashes {
		if err := ctx.Err(); err != nil {
			return err
		}
		name := originalPath(place, hash, m.Encrypted)
		if info, err := os.Stat(name); err == nil && info.Size() > 0 {
			continue
		}
		data, err := src.Originals.Get(hash)
		if err != nil {
			m.Missing = append(m.Missing, hash)
			continue
		}
		if _, err := save(name, bytes.NewReader(data), src.Recipient); err != nil {
			return fmt.Errorf("copy an original: %w", pathless(err))
		}
	}
	return nil
}

func originalPath(place, hash string, encrypted bool) string {
	name := filepath.Join(place, originalsDir, hash[:2], hash)
	if encrypted {
		name += sealedSuffix
	}
	return name
}

// write puts database, key and manifest into a new folder, which gets its name
// once all of it is on the disk.
func (m *Manifest) write(place, database string, src Source) (err error) {
	dir := filepath.Join(place, m.ID+unfinished)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("backup place: %w", pathless(err))
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir))
		}
	}()
	f, err := os.Open(database)
	if err != nil {
		return pathless(err)
	}
	defer f.Close()
	contents := []struct {
		name string
		from io.Reader
	}{{databaseFile, f}}
	if m.Encrypted {
		contents = append(contents, struct {
			name string
			from io.Reader
		}{keyFile, bytes.NewReader(src.Key)})
	}
	for _, c := range contents {
		if m.Encrypted {
			c.name += sealedSuffix
		}
		sum, err := save(filepath.Join(dir, c.name), c.from, src.Recipient)
		if err != nil {
			return fmt.Errorf("write the backup: %w", pathless(err))
		}
		sum.Name = c.name
		m.Files = append(m.Files, sum)
	}
	text, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	text = append(text, '\n')
	for name, data := range map[string][]byte{manifestFile: text, sealFile: sealOf(text, src.Key)} {
		if _, err := save(filepath.Join(dir, name), bytes.NewReader(data), nil); err != nil {
			return fmt.Errorf("write the backup: %w", pathless(err))
		}
	}
	if err := os.Rename(dir, filepath.Join(place, m.ID)); err != nil {
		return fmt.Errorf("write the backup: %w", pathless(err))
	}
	return syncDir(place)
}

// sealOf is the text of the seal of a manifest.
func sealOf(manifest, key []byte) []byte {
	return fmt.Appendf(nil, "sha256 %s\nmark %s\n", hexSum(manifest), mark(manifest, key))
}

func mark(manifest, key []byte) string {
	h := hmac.New(sha256.New, key)
	h.Write([]byte("wearround backup manifest 1\n"))
	h.Write(manifest)
	return hex.EncodeToString(h.Sum(nil))
}

// save writes a file whole or not at all, encrypted to a recipient if there is
// one; it is on the disk when save returns.
func save(name string, from io.Reader, to age.Recipient) (sum Sum, err error) {
	if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
		return sum, err
	}
	tmp, err := os.CreateTemp(filepath.Dir(name), ".new-*")
	if err != nil {
		return sum, err
	}
	defer os.Remove(tmp.Name()) // fails once renamed, which is right
	stored, plain := sha256.New(), sha256.New()
	size := &counter{}
	var out io.Writer = io.MultiWriter(tmp, stored, size)
	closeOut := func() error { return nil }
	if to != nil {
		w, err := age.Encrypt(out, to)
		if err != nil {
			return sum, errors.Join(err, tmp.Close())
		}
		out, closeOut = w, w.Close
	}
	_, err = io.Copy(io.MultiWriter(out, plain), from)
	if err = errors.Join(err, closeOut(), tmp.Sync(), tmp.Close()); err != nil {
		return sum, err
	}
	if err := os.Rename(tmp.Name(), name); err != nil {
		return sum, err
	}
	sum = Sum{Size: size.n, SHA256: hex.EncodeToString(stored.Sum(nil)), Plain: hex.EncodeToString(plain.Sum(nil))}
	return sum, syncDir(filepath.Dir(name))
}

type counter struct{ n int64 }

func (c *counter) Write(b []byte) (int, error) {
	c.n += int64(len(b))
	return len(b), nil
}

// syncDir makes a rename durable, where the system can.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, fs.ErrInvalid) {
		return err
	}
	return nil
}

// pathless drops the path from an error: it may hold a name.
func pathless(err error) error {
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		return fmt.Errorf("%s: %w", p.Op, p.Err)
	}
	if l, ok := errors.AsType[*os.LinkError](err); ok {
		return fmt.Errorf("%s: %w", l.Op, l.Err)
	}
	return err
}

// Entry is one backup of a place, by its name.
type Entry struct {
	ID     string
	Number int
	MadeAt time.Time
}

var idForm = regexp.MustCompile(`^(\d{7})-(\d{8}T\d{6}Z)$`)

// List gives the backups of a place, the newest first: in the order in which
// they were made, whatever the clock said then.
func List(place string) ([]Entry, error) {
	names, err := os.ReadDir(place)
	if err != nil {
		return nil, fmt.Errorf("backup place: %w", pathless(err))
	}
	var list []Entry
	for _, n := range names {
		parts := idForm.FindStringSubmatch(n.Name())
		if parts == nil || !n.IsDir() {
			continue
		}
		at, err := time.Parse("20060102T150405Z", parts[2])
		number, numErr := strconv.Atoi(parts[1])
		if err == nil && numErr == nil {
			list = append(list, Entry{n.Name(), number, at})
		}
	}
	slices.SortFunc(list, func(a, b Entry) int { return b.Number - a.Number })
	return list, nil
}

func next(list []Entry) int {
	if len(list) == 0 {
		return 1
	}
	return list[0].Number + 1
}
