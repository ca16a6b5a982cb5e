package worker

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Archive keeps every original under its SHA-256, in a folder of 256 folders.
// What is in it is never changed or removed by this program.
type Archive struct{ dir string }

// OpenArchive makes the archive's folder if it is not there yet.
func OpenArchive(dir string) (*Archive, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make archive folder: %w", err)
	}
	a := &Archive{dir: dir}
	if err := a.folders(); err != nil {
		return nil, fmt.Errorf("make archive folder: %w", err)
	}
	return a, nil
}

// folders makes all 256 at once in an archive that has none, so that they are
// synced together and not each with its first file. That they are there says
// nothing of originals: only a regular file is one.
func (a *Archive) folders() error {
	if has, err := os.ReadDir(a.dir); err != nil || len(has) > 0 {
		return err
	}
	for i := range 256 {
		if err := os.Mkdir(filepath.Join(a.dir, fmt.Sprintf("%02x", i)), 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	return syncDir(a.dir)
}

// Hash is the name under which the archive keeps data: 64 hex digits.
func Hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func (a *Archive) path(hash string) string { return filepath.Join(a.dir, hash[:2], hash) }

// Put keeps data under its hash. It is on the disk when Put returns: a new
// name is written whole beside the folders, synced, then renamed into its own.
// Putting the same bytes again does nothing.
func (a *Archive) Put(hash string, data []byte) error {
	name := a.path(hash)
	if info, err := os.Stat(name); err == nil && info.Size() == int64(len(data)) {
		return nil
	}
	err := a.put(name, data)
	if errors.Is(err, fs.ErrNotExist) { // its folder is gone
		if err = a.folder(filepath.Dir(name)); err == nil {
			err = a.put(name, data)
		}
	}
	if err != nil {
		return fmt.Errorf("archive: %w", err)
	}
	return nil
}

func (a *Archive) put(name string, data []byte) error {
	tmp, err := os.CreateTemp(a.dir, staged+"*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name()) // fails once renamed, which is right
	_, err = tmp.Write(data)
	if err = errors.Join(err, tmp.Chmod(0o400), tmp.Sync(), tmp.Close()); err != nil {
		return err
	}
	if err := os.Rename(tmp.Name(), name); err != nil {
		return err
	}
	return syncDir(filepath.Dir(name))
}

// staged begins the names of files that are not whole yet.
const staged = ".new-"

// folder makes one of the folders again where somebody took it away, durably.
func (a *Archive) folder(name string) error {
	if err := os.MkdirAll(name, 0o700); err != nil {
		return err
	}
	return syncDir(a.dir)
}

// Get gives the original back, checked against its hash.
func (a *Archive) Get(hash string) ([]byte, error) {
	data, err := os.ReadFile(a.path(hash))
	if err != nil {
		return nil, fmt.Errorf("archive: %w", err)
	}
	if Hash(data) != hash {
		return nil, fmt.Errorf("archive: %s is damaged: its bytes no longer give its hash", hash[:12])
	}
	return data, nil
}

// Has reports whether the original is there with the given size.
func (a *Archive) Has(hash string, size int64) (bool, error) {
	info, err := os.Stat(a.path(hash))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, fmt.Errorf("archive: %w", err)
	}
	return info.Size() == size, nil
}

// syncDir makes a rename durable. Some systems cannot sync a folder; there the
// rename is as durable as the system makes it.
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
