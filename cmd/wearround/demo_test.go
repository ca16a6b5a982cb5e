package main

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"
)

// watched is a writer that tells when a text has been written to it.
type watched struct {
	mu   sync.Mutex
	text strings.Builder
	want string
	seen chan struct{}
}

func (w *watched) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	had := strings.Contains(w.text.String(), w.want)
	w.text.Write(p)
	if !had && strings.Contains(w.text.String(), w.want) {
		close(w.seen)
	}
	return len(p), nil
}

func (w *watched) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.String()
}

// TestDemo runs the demo as a person would, with a small practice, until every
// file has been dealt with, and stops it.
func TestDemo(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	out := &watched{want: "dealt with", seen: make(chan struct{})}
	errs := &watched{want: "panic", seen: make(chan struct{})}
	status := make(chan int, 1)
	go func() {
		status <- run(ctx, []string{"demo", "--patients", "20", "--addr", "127.0.0.1:0", "--data", t.TempDir()}, out, errs)
	}()
	select {
	case <-out.seen:
	case s := <-status:
		t.Fatalf("the demo ended with status %d: %s", s, errs)
	case <-time.After(2 * time.Minute):
		t.Fatalf("not all files were dealt with: %s", out)
	}
	stop()
	if s := <-status; s != exitOK {
		t.Errorf("status %d: %s", s, errs)
	}
	for _, want := range []string{"An invented practice of 20 patients", "http://127.0.0.1:", "wears on the round"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the demo did not say %q: %s", want, out)
		}
	}
}
