package main

import (
	"fmt"
	"io/fs"
	"os"
	"runtime"
)

// checkRights refuses folders and keys that others on this machine could change
// or read: whoever can, could put in a wear or forge the log.
func (c *config) checkRights() error {
	if runtime.GOOS == "windows" {
		return nil // rights there are not told by a file's mode
	}
	for _, dir := range []struct {
		what, path, flag string
		open             bool
	}{{"data", c.data, "", false}, {"watched", c.drop, "; if that cannot be changed, as on some network shares, say --drop-open", c.dropOpen}} {
		mode, err := modeOf(dir.path)
		if err != nil {
			return err
		}
		if mode&0o002 != 0 && mode&fs.ModeSticky == 0 && !dir.open {
			return fmt.Errorf("everybody on this machine may write to the %s folder %s: take that right away (chmod o-w)%s", dir.what, dir.path, dir.flag)
		}
	}
	mode, err := modeOf(c.key)
	if err == nil && mode&0o077 != 0 {
		err = fmt.Errorf("others on this machine may read or change the key of the log, %s: leave it to its owner alone (chmod 600)", c.key)
	}
	return err
}

// modeOf gives the mode of a file, or none where it is not there.
func modeOf(path string) (fs.FileMode, error) {
	info, err := os.Stat(path)
	if os.IsNotExist(err) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	return info.Mode(), nil
}
