//go:build !unix

package worker

import "io/fs"

const openFlags = 0

func hardLinked(fs.FileInfo) bool { return false }
