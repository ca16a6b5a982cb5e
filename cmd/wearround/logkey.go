package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"wearround/store"
)

// useLogKey gives the store the key of its log from a file beside the
// database, which is made at the first start. A log that is there already and
// whose key is lost must not go on under another: nobody could tell then what
// was changed before.
func useLogKey(ctx context.Context, s *store.Store, path string) ([]byte, error) {
	key, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		head, err := s.LogHead(ctx)
		if err != nil {
			return nil, err
		}
		if head.Seq != 0 {
			return nil, fmt.Errorf("the key of the audit log is missing: put %s back from where you keep its copy", path)
		}
		key = make([]byte, store.LogKeySize)
		rand.Read(key)
		if err := writeNew(path, key); err != nil {
			return nil, fmt.Errorf("key of the audit log: %w", err)
		}
	} else if err != nil {
		return nil, fmt.Errorf("key of the audit log: %w", err)
	}
	if err := s.SetLogKey(key); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if err := s.KeyFits(ctx); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	s.WatchKey(path)
	return key, nil
}

// writeNew makes a file for the owner alone, on the disk when it returns, whole
// or not at all.
func writeNew(path string, data []byte) (err error) {
	unfinished := path + ".unfinished"
	f, err := os.OpenFile(unfinished, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(unfinished, path)
}
