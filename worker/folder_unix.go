//go:build unix

package worker

import (
	"io/fs"
	"syscall"
)

// openFlags keep the open from waiting if the name has become a pipe since it
// was looked at.
const openFlags = syscall.O_NONBLOCK

// hardLinked reports whether the file has a second name somewhere else.
func hardLinked(info fs.FileInfo) bool {
	s, ok := info.Sys().(*syscall.Stat_t)
	return ok && s.Nlink > 1
}
