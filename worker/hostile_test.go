//go:build unix

package worker

import (
	"bytes"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"wearround/store"
	"wearround/worker/sim/messy"
)

// TestHostileFilesDoNotStopTheOthers drops files made to cost time or memory
// among good ones: each is refused with a plain reason and the good ones are
// filed. How long each took alone, from the look that finds it settled, is
// written to the log.
func TestHostileFilesDoNotStopTheOthers(t *testing.T) {
	hostile := []struct {
		name, code string
		data       []byte // nil for a named pipe
	}{
		{"bomb.zip", "too_big", messy.Bomb(1 << 30)},
		{"nested.zip", "zip_nested", messy.ZipInZip([]byte(export(1, 8, 0)))},
		{"line.csv", "too_big", bytes.Repeat([]byte("x"), 60<<20)},
		{"rows.xlsx", "too_big", messy.EmptyRows()},
		{"pipe.csv", "not_a_file", nil},
	}
	drop := func(b *bench, name string, data []byte) {
		if data != nil {
			write(t, b.Drop, "P-1_"+name, string(data))
		} else if err := syscall.Mkfifo(filepath.Join(b.Drop, "P-1_"+name), 0o600); err != nil {
			t.Skip("no named pipes here:", err)
		}
	}
	all := newBench(t, "P-1", "P-2")
	write(t, all.Drop, "P-1_0.csv", export(1, 8, 0))
	for _, h := range hostile {
		drop(all, h.name, h.data)
		alone := newBench(t, "P-1")
		drop(alone, h.name, h.data)
		start := time.Now()
		alone.settleAndLook()
		alone.want("P-1_"+h.name, store.Refused, h.code)
		t.Logf("%-12s %s after %v", h.name, h.code, time.Since(start).Round(time.Millisecond))
	}
	write(t, all.Drop, "P-2_z.csv", export(1, 8, 1))
	start := time.Now()
	all.settleAndLook()
	t.Logf("all of them and two good files: %v", time.Since(start).Round(time.Millisecond))
	for _, h := range hostile {
		all.want("P-1_"+h.name, store.Refused, h.code)
	}
	all.want("P-1_0.csv", store.Filed, "")
	all.want("P-2_z.csv", store.Filed, "")
}
