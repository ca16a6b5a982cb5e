//go:build unix

package worker

import (
	"net"
	"path/filepath"
	"syscall"
	"testing"

	"wearround/store"
)

// TestPipesAndSocketsAreRefusedAtOnce puts a named pipe that nobody writes to
// and a socket into the folder: a program that opened the pipe would wait for
// ever. Both are refused at the first look, and a file beside them is filed.
func TestPipesAndSocketsAreRefusedAtOnce(t *testing.T) {
	b := newBench(t, "P-1")
	if err := syscall.Mkfifo(filepath.Join(b.Drop, "P-1_pipe.csv"), 0o600); err != nil {
		t.Skip("no named pipes here:", err)
	}
	l, err := net.Listen("unix", filepath.Join(b.Drop, "P-1_s.csv"))
	if err != nil {
		t.Skip("no sockets here:", err)
	}
	defer l.Close()
	write(t, b.Drop, "P-1_good.csv", export(1, 8, 0))
	b.look(t.Context())
	for _, name := range []string{"P-1_pipe.csv", "P-1_s.csv"} {
		b.want(name, store.Refused, "not_a_file")
	}
	b.settleAndLook()
	b.want("P-1_good.csv", store.Filed, "")
}

// TestNameThatBecomesAPipe replaces a settled file by a named pipe between the
// look and the opening.
func TestNameThatBecomesAPipe(t *testing.T) {
	b := newBench(t, "P-1")
	if err := syscall.Mkfifo(filepath.Join(b.Drop, "P-1_a.csv"), 0o600); err != nil {
		t.Skip("no named pipes here:", err)
	}
	if _, err := b.read(found{path: "P-1_a.csv", size: 100}); err != errChanged {
		t.Errorf("read as if it were the file: %v", err)
	}
}
