package backup

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"filippo.io/age"

	"wearround/store"
)

// Found is a backup that is there.
type Found struct {
	Place string
	Manifest
	manifest []byte // its bytes
	mark     string
}

// Find gives the backup that a path names: one backup, or the newest of a
// place.
func Find(path string) (*Found, error) {
	if _, err := os.Stat(filepath.Join(path, manifestFile)); err == nil {
		abs, err := filepath.Abs(path)
		if err != nil {
			return nil, err
		}
		return open(filepath.Dir(abs), filepath.Base(abs))
	}
	list, err := List(path)
	if err != nil {
		return nil, err
	}
	if len(list) == 0 {
		return nil, fmt.Errorf("there is no backup in %s", path)
	}
	f, err := open(path, list[0].ID)
	if err != nil && len(list) > 1 {
		return nil, fmt.Errorf("%w; the one before it is %s: name it to use it", err, list[1].ID)
	}
	return f, err
}

// open reads a manifest, which its seal must fit.
func open(place, id string) (*Found, error) {
	bad := func(what string) error { return fmt.Errorf("the backup %s is damaged: %s", id, what) }
	dir := filepath.Join(place, id)
	text, err := os.ReadFile(filepath.Join(dir, manifestFile))
	if err != nil {
		return nil, bad("its manifest cannot be read")
	}
	seal, err := os.ReadFile(filepath.Join(dir, sealFile))
	if err != nil {
		return nil, bad("the seal of its manifest cannot be read")
	}
	f := &Found{Place: place, manifest: text}
	sum, marked, ok := strings.Cut(strings.TrimSuffix(string(seal), "\n"), "\n")
	if sum != "sha256 "+hexSum(text) {
		return nil, bad("its manifest does not fit its seal")
	}
	if f.mark, ok = strings.CutPrefix(marked, "mark "); !ok || len(f.mark) != 64 {
		return nil, bad("the seal of its manifest is incomplete")
	}
	if err := json.Unmarshal(text, &f.Manifest); err != nil || f.ID != id {
		return nil, bad("its manifest is not of this backup")
	}
	if f.Format != 1 {
		return nil, fmt.Errorf("the backup %s was made by a newer version of this program (format %d): use that version", id, f.Format)
	}
	return f, nil
}

// Way says how a backup is brought back.
type Way struct {
	Key        []byte       // of the log, or nil where it lies in the backup
	NewKey     bool         // it is lost: go on under a new one
	Identity   age.Identity // that reads an encrypted backup, or nil
	Now        func() time.Time
	NoteAnchor func(store.Anchor) error // notes the newest entry in the second place; may be nil
}

// Back is what was brought back.
type Back struct {
	Manifest
	Check     store.LogCheck
	Migrated  int // the schema it has now, where that is another than the backup's
	Originals int
	Missing   []string // originals that the backup does not hold whole, by hash
}

// Restore brings a backup back into a new folder, which must not be there or be
// empty. Everything is verified on the way, and the folder gets its name last:
// an interrupted run leaves none. The log records it and goes on.
func Restore(ctx context.Context, f *Found, data string, way Way) (back Back, err error) {
	if names, err := os.ReadDir(data); err == nil && len(names) > 0 {
		return back, fmt.Errorf("%s is not empty: restore into a new folder, so that nothing there is lost", data)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return back, pathless(err)
	}
	if f.Encrypted && way.Identity == nil {
		return back, errors.New("this backup is encrypted: give the file with the identity that reads it (--identity)")
	}
	work := strings.TrimRight(data, "/\\") + ".restoring"
	if err := os.RemoveAll(work); err != nil {
		return back, pathless(err)
	}
	if err := os.MkdirAll(work, 0o700); err != nil {
		return back, fmt.Errorf("restore: %w", pathless(err))
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(work))
		}
	}()
	back.Manifest = f.Manifest
	key, err := f.unpack(work, way)
	if err != nil {
		return back, err
	}
	if err := back.wake(ctx, f, work, key, way); err != nil {
		return back, err
	}
	if err := os.Remove(data); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return back, pathless(err)
	}
	if err := os.Rename(work, data); err != nil {
		return back, fmt.Errorf("restore: %w", pathless(err))
	}
	return back, syncDir(filepath.Dir(filepath.Clean(data)))
}

// unpack puts database and key into the folder, and gives the key.
func (f *Found) unpack(work string, way Way) (key []byte, err error) {
	key = way.Key
	for _, sum := range f.Files {
		name := strings.TrimSuffix(sum.Name, sealedSuffix)
		if name != databaseFile && name != keyFile {
			return nil, fmt.Errorf("the backup %s holds a file that is not known: %s", f.ID, sum.Name)
		}
		data, err := f.read(filepath.Join(f.Place, f.ID, sum.Name), sum, way.Identity)
		if err != nil {
			return nil, err
		}
		if name == keyFile {
			if key == nil {
				key = data
			}
			continue
		}
		if err := writeSynced(filepath.Join(work, name), data, 0o600); err != nil {
			return nil, err
		}
	}
	switch {
	case way.NewKey:
		key = make([]byte, store.LogKeySize)
		_, _ = rand.Read(key) // never fails
	case key == nil:
		return nil, errors.New("the key of the log is not in this backup: give your copy of audit.key (--audit-key FILE), or --new-key if there is none any more")
	case !hmac.Equal([]byte(mark(f.manifest, key)), []byte(f.mark)):
		return nil, fmt.Errorf("the manifest of the backup %s was not made with this key: it was changed, or the key is another practice's", f.ID)
	}
	return key, writeSynced(filepath.Join(work, keyFile), key, 0o600)
}

// read gives a file of the backup, checked against the manifest.
func (f *Found) read(path string, sum Sum, who age.Identity) ([]byte, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("the backup %s is incomplete: %s cannot be read", f.ID, sum.Name)
	}
	if int64(len(raw)) != sum.Size || hexSum(raw) != sum.SHA256 {
		return nil, fmt.Errorf("the backup %s is damaged: %s does not fit its hash", f.ID, sum.Name)
	}
	return f.plain(raw, sum.Plain, sum.Name, who)
}

// plain decrypts, where the backup is encrypted, and checks the hash of what
// comes out.
func (f *Found) plain(raw []byte, want, name string, who age.Identity) ([]byte, error) {
	if f.Encrypted {
		r, err := age.Decrypt(bytes.NewReader(raw), who)
		if err == nil {
			raw, err = io.ReadAll(r)
		}
		if err != nil {
			return nil, fmt.Errorf("the backup %s: %s cannot be read with this identity", f.ID, name)
		}
	}
	if hexSum(raw) != want {
		return nil, fmt.Errorf("the backup %s is damaged: %s does not fit its hash", f.ID, name)
	}
	return raw, nil
}

// wake opens the database, verifies all of it, brings the originals and logs
// that the practice goes on from here.
func (b *Back) wake(ctx context.Context, f *Found, work string, key []byte, way Way) (err error) {
	s, err := store.Open(ctx, filepath.Join(work, databaseFile), way.Now)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if err := s.SetLogKey(key); err != nil {
		return err
	}
	if err := s.Whole(ctx); err != nil {
		return err
	}
	if schema, _ := s.Version(); schema != f.Schema {
		b.Migrated = schema
	}
	if way.NewKey {
		if err := s.NewKey(ctx); err != nil {
			return err
		}
	}
	if err := b.verify(ctx, s, f, way); err != nil {
		return err
	}
	if err := b.bring(ctx, s, f, work, way); err != nil {
		return err
	}
	if err := s.Restored(ctx, f.ID); err != nil {
		return err
	}
	if b.Check, err = s.VerifyLog(ctx); err != nil {
		return err
	}
	if !b.Check.OK() {
		return fmt.Errorf("the log does not hold together after the restore, at entry %d: %s", b.Check.Broken, b.Check.Why)
	}
	if way.NoteAnchor != nil {
		return way.NoteAnchor(b.Check.Head)
	}
	return nil
}

// verify holds the database against its manifest.
func (b *Back) verify(ctx context.Context, s *store.Store, f *Found, way Way) error {
	k, err := s.VerifyLog(ctx)
	if err != nil {
		return err
	}
	if !k.OK() {
		return fmt.Errorf("the log in the backup %s does not hold together, at entry %d: %s", f.ID, k.Broken, k.Why)
	}
	if !way.NewKey && (k.Head.Seq != f.LogSeq || hex.EncodeToString(k.Head.MAC[:]) != f.LogMAC) {
		return fmt.Errorf("the log in the backup %s does not end where its manifest says", f.ID)
	}
	if !way.NewKey {
		sound, err := s.VerifyData(ctx, true)
		if err != nil {
			return err
		}
		if !sound.OK() {
			return fmt.Errorf("the data in the backup %s do not fit their seals: %s", f.ID, sound.String())
		}
	}
	n, err := s.Counts(ctx)
	if err != nil {
		return err
	}
	if n.Patients != f.Patients || n.Wears != f.Wears || n.Readings != f.Readings {
		return fmt.Errorf("the backup %s holds other numbers of patients, wears or readings than its manifest says", f.ID)
	}
	return nil
}

// bring copies the originals. One that is missing does not stop the rest: the
// readings are in the database.
func (b *Back) bring(ctx context.Context, s *store.Store, f *Found, work string, way Way) error {
	var hashes []string
	err := s.EachFile(ctx, func(hash string, _ int64) error {
		hashes = append(hashes, hash)
		return nil
	})
	if err != nil {
		return err
	}
	if listSum(hashes) != f.List {
		return fmt.Errorf("the backup %s holds another list of originals than its manifest says", f.ID)
	}
	b.Missing = nil
	for _, hash := range hashes {
		if err := ctx.Err(); err != nil {
			return err
		}
		raw, err := os.ReadFile(originalPath(f.Place, hash, f.Encrypted))
		if err == nil {
			raw, err = f.plain(raw, hash, "an original", way.Identity)
		}
		if err != nil {
			b.Missing = append(b.Missing, hash)
			continue
		}
		if err := writeSynced(filepath.Join(work, "archive", hash[:2], hash), raw, 0o400); err != nil {
			return err
		}
		b.Originals++
	}
	return nil
}

func writeSynced(name string, data []byte, mode fs.FileMode) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
		return fmt.Errorf("restore: %w", pathless(err))
	}
	file, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, mode)
	if err != nil {
		return fmt.Errorf("restore: %w", pathless(err))
	}
	_, err = file.Write(data)
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		return fmt.Errorf("restore: %w", pathless(err))
	}
	return nil
}
