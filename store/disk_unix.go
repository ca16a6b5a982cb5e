//go:build linux || darwin || freebsd

package store

import "syscall"

// FreeBytes is the room that is left to this program on the disk of a folder,
// or -1 where it cannot be found out.
func FreeBytes(dir string) int64 {
	var s syscall.Statfs_t
	if syscall.Statfs(dir, &s) != nil {
		return -1
	}
	return int64(s.Bavail) * int64(s.Bsize)
}
