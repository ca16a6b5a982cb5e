package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// Disk is the room that the database takes and that is left for it, in bytes.
type Disk struct {
	Database int64 // with its write-ahead log
	Free     int64 // on the disk that it lies on; -1 where the system does not say
}

// Disk looks up how much room the database takes and has.
func (s *Store) Disk() (Disk, error) {
	var d Disk
	for _, name := range []string{s.path, s.path + "-wal"} {
		info, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			continue // the log comes and goes
		}
		if err != nil {
			return Disk{}, fail("measure the database", err)
		}
		d.Database += info.Size()
	}
	d.Free = freeBytes(filepath.Dir(s.path))
	return d, nil
}
