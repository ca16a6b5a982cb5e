package worker

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"

	"wearround/store"
	"wearround/worker/intake"
)

// TestPoisonFilesDoNotStopTheOthers puts a file that makes the reader panic and
// one that it never comes to an end with among good ones.
func TestPoisonFilesDoNotStopTheOthers(t *testing.T) {
	b := newBench(t, "P-1", "P-2")
	stuck := make(chan struct{})
	defer close(stuck)
	b.longest = 20 * time.Millisecond
	b.reader = func(data []byte, o intake.Options) *intake.Result {
		switch {
		case bytes.HasPrefix(data, []byte("panic")):
			panic("poison")
		case bytes.HasPrefix(data, []byte("stuck")):
			<-stuck
		}
		return intake.Read(data, o)
	}
	write(t, b.Drop, "P-1_1.csv", "panic\n")
	write(t, b.Drop, "P-1_2.csv", "stuck\n")
	b.settleAndLook()
	for path, code := range map[string]string{"P-1_1.csv": "reader_fault", "P-1_2.csv": "reader_slow"} {
		d := b.want(path, store.Refused, code)
		if !strings.Contains(d.ToDo, "original is kept") {
			t.Errorf("%s: to do %q", path, d.ToDo)
		}
		if _, err := b.Archive.Get(d.File.SHA256); err != nil {
			t.Error(err)
		}
	}
	if n := testutil.ToFloat64(b.Metrics.faults); n != 2 {
		t.Errorf("%v faults counted, want 2", n)
	}
	b.longest = longestRead
	write(t, b.Drop, "P-2_good.csv", export(1, 8, 0))
	b.settleAndLook()
	b.want("P-2_good.csv", store.Filed, "")
}

// TestReaderIsLeftWhenTheProgramStops does not wait for a reader that does not
// end, and records nothing of its file.
func TestReaderIsLeftWhenTheProgramStops(t *testing.T) {
	b := newBench(t, "P-1")
	ctx, cancel := context.WithCancel(context.Background())
	stuck := make(chan struct{})
	defer close(stuck)
	b.reader = func([]byte, intake.Options) *intake.Result {
		cancel()
		<-stuck
		return &intake.Result{}
	}
	write(t, b.Drop, "P-1_a.csv", export(1, 8, 0))
	b.look(ctx)
	b.mu.Lock()
	b.now = b.now.Add(settle)
	b.mu.Unlock()
	b.look(ctx)
	if len(b.drops()) != 0 {
		t.Errorf("a file half read is on the Files page: %v", b.drops())
	}
}
