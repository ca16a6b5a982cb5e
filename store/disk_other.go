//go:build !(linux || darwin || freebsd)

package store

// freeBytes is not known here.
func freeBytes(string) int64 { return -1 }
