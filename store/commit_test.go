//go:build !rehearse

package store

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"
)

// openPlain opens a store in a folder of its own; storetest would be a cycle.
func openPlain(t testing.TB) *Store {
	t.Helper()
	s, err := Open(context.Background(), filepath.Join(t.TempDir(), "w.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.SetLogKey(make([]byte, LogKeySize)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// waitFor returns when n changes wait for the writer.
func (s *Store) waitFor(n int) {
	for waits := 0; waits < n; runtime.Gosched() {
		s.queue.mu.Lock()
		waits = len(s.queue.waiting)
		s.queue.mu.Unlock()
	}
}

// together lets n changes come while one holds the writer, so that they are
// written together, and gives what each came to.
func together(s *Store, n int, f func(i int) func(*tx) error) []error {
	begun, end, errs := make(chan struct{}), make(chan struct{}), make([]error, n)
	var all sync.WaitGroup
	all.Go(func() {
		_ = s.write(context.Background(), "hold the writer", func(*tx) error {
			close(begun)
			<-end
			return nil
		})
	})
	<-begun
	for i := range n {
		all.Go(func() { errs[i] = s.write(context.Background(), fmt.Sprint("change ", i), f(i)) })
	}
	s.waitFor(n)
	close(end)
	all.Wait()
	return errs
}

func TestChangesWrittenTogether(t *testing.T) {
	const n = maxTogether + 10 // more than one transaction takes
	ctx := context.Background()
	s := openPlain(t)
	var mu sync.Mutex
	versions, transactions := map[int64]bool{}, map[any]bool{}
	for i, err := range together(s, n, func(i int) func(*tx) error {
		return func(t *tx) error {
			if err := t.bump(ctx); err != nil {
				return err
			}
			mu.Lock()
			defer mu.Unlock()
			versions[t.version], transactions[t.Tx] = true, true
			return t.log(ctx, onData, fmt.Sprint("reason ", i))
		}
	}) {
		if err != nil {
			t.Errorf("change %d: %v", i, err)
		}
	}
	if len(versions) != n {
		t.Errorf("%d data versions for %d changes, want one each", len(versions), n)
	}
	if len(transactions) != 2 {
		t.Errorf("%d transactions for %d changes, want 2", len(transactions), n)
	}
	rows, err := s.LogRows(ctx, LogQuery{Limit: 200})
	if err != nil {
		t.Fatal(err)
	}
	reasons := map[string]string{}
	for _, r := range rows {
		reasons[r.Action] = r.Reason
	}
	for i := range n {
		if got, want := reasons[fmt.Sprint("change ", i)], fmt.Sprint("reason ", i); got != want {
			t.Errorf("change %d is logged with %q, want %q", i, got, want)
		}
	}
	if check, err := s.VerifyLog(ctx); err != nil || !check.OK() {
		t.Errorf("the log does not verify: %+v, %v", check, err)
	}
}

// TestOneBadChangeAmongMany has one fail and one whose caller went away among
// many: the others are saved whole and once, and each is told its own.
func TestOneBadChangeAmongMany(t *testing.T) {
	ctx := context.Background()
	gone, cancel := context.WithCancel(ctx)
	s := openPlain(t)
	if _, err := s.writer.Exec("CREATE TABLE marks (i INTEGER)"); err != nil {
		t.Fatal(err)
	}
	own := errors.New("its own error")
	errs := together(s, 12, func(i int) func(*tx) error {
		return func(t *tx) error {
			if _, err := t.Exec("INSERT INTO marks VALUES (?)", i); err != nil {
				return err
			}
			switch i {
			case 3:
				return own
			case 7:
				cancel()
				return gone.Err()
			}
			return t.bump(ctx)
		}
	})
	for i, err := range errs {
		want := i == 3 || i == 7
		if (err != nil) != want {
			t.Errorf("change %d gives %v", i, err)
		}
	}
	if !errors.Is(errs[3], own) || !errors.Is(errs[7], context.Canceled) {
		t.Errorf("errors %v and %v are not their own", errs[3], errs[7])
	}
	var n, distinct int
	if err := s.writer.QueryRow("SELECT count(*), count(DISTINCT i) FROM marks").Scan(&n, &distinct); err != nil {
		t.Fatal(err)
	}
	if n != 10 || distinct != 10 {
		t.Errorf("%d marks, %d of them distinct; want 10 and 10", n, distinct)
	}
	if check, err := s.VerifyLog(ctx); err != nil || !check.OK() {
		t.Errorf("the log does not verify: %+v, %v", check, err)
	}
}

// TestPanicIsItsOwn has a change panic that waits with others.
func TestPanicIsItsOwn(t *testing.T) {
	s := openPlain(t)
	caught := make(chan any, 1)
	begun, end := make(chan struct{}), make(chan struct{})
	var all sync.WaitGroup
	all.Go(func() {
		_ = s.write(context.Background(), "hold", func(*tx) error { close(begun); <-end; return nil })
	})
	<-begun
	errs := make([]error, 2)
	all.Go(func() {
		errs[0] = s.write(context.Background(), "calm", func(t *tx) error { return t.bump(context.Background()) })
	})
	all.Go(func() {
		defer func() { caught <- recover() }()
		_ = s.write(context.Background(), "wild", func(*tx) error { panic("wild") })
	})
	s.waitFor(2)
	close(end)
	all.Wait()
	if errs[0] != nil {
		t.Error(errs[0])
	}
	if p := <-caught; p != "wild" {
		t.Errorf("the caller that panicked caught %v", p)
	}
	if err := s.write(context.Background(), "after", func(t *tx) error { return t.bump(context.Background()) }); err != nil {
		t.Errorf("nothing can be written after a panic: %v", err)
	}
}
