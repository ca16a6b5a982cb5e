package main

import (
	"os"
	"syscall"
)

// diskKind says "network" of a folder on a share, "local" of another, as far as
// the system tells.
func diskKind(dir string) string {
	var s syscall.Statfs_t
	if syscall.Statfs(dir, &s) != nil {
		return ""
	}
	switch uint32(s.Type) { // of linux/magic.h
	case 0x6969, 0xff534d42, 0xfe534d42, 0x517b, 0x65735546, 0x00c36400, 0x01021997: // NFS, CIFS, SMB2, SMB, FUSE, Ceph, 9P
		return "network"
	}
	return "local"
}

// sameDisk reports whether two folders lie on one file system.
func sameDisk(a, b string) bool {
	one, err1 := os.Stat(a)
	two, err2 := os.Stat(b)
	if err1 != nil || err2 != nil {
		return false
	}
	x, ok1 := one.Sys().(*syscall.Stat_t)
	y, ok2 := two.Sys().(*syscall.Stat_t)
	return ok1 && ok2 && x.Dev == y.Dev
}
