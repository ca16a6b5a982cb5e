package worker

import (
	"context"
	"log/slog"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"filippo.io/age"
	"golang.org/x/sync/semaphore"

	"wearround/store"
	"wearround/worker/intake"
)

// Config is what a worker depends on. Every field is required unless said.
type Config struct {
	Drop    string        // the watched folder
	Archive *Archive      // where originals are kept
	Anchors *Anchors      // where the log is noted a second time; nil notes and verifies nothing
	Settle  time.Duration // how long a file must be unchanged, and the time between looks
	Zone    *time.Location
	Rule    NameRule
	Now     func() time.Time
	Log     *slog.Logger
	Metrics *Metrics

	Backup    string        // where backups go, on another disk; "" makes none
	Data      string        // the practice's own folder
	Key       []byte        // of the log
	Recipient age.Recipient // whom backups are encrypted to; nil is nobody
	Program   string        // its version
}

// inFlight is how many files are dealt with at once. More than there are cores:
// most of a file's way is waiting for the disk, for the archive and for the
// commit, which all that wait share.
const inFlight = 32

// Worker is the background half of the program.
type Worker struct {
	Config
	store *store.Store

	hint   chan struct{} // one slot: a hundred hints are one look
	folder *folder
	inHand *semaphore.Weighted // bytes of files being read, at most maxFile
	people keyedMutex          // one file a patient at a time, so that joining sees the file before
	parsed sync.Map            // recipe id to its intake.Recipe
	cores  *semaphore.Weighted // computing: no more at once than run at once
	looked int64
	judged int64        // last wear that was judged anew in this pass; see judgeAnew
	faults atomic.Int64 // of ours, since the look began
	said   string       // the trouble of the last look, or ""

	// The reader and how long it may take; tests put others in their place.
	reader  func([]byte, intake.Options) *intake.Result
	longest time.Duration
}

// New makes a worker on an open store. It does nothing until Run.
func New(c Config, s *store.Store) *Worker {
	return &Worker{
		Config: c, store: s, hint: make(chan struct{}, 1), folder: newFolder(c.Drop, c.Settle), inHand: semaphore.NewWeighted(maxFile),
		cores:  semaphore.NewWeighted(int64(runtime.GOMAXPROCS(0))),
		reader: intake.Read, longest: longestRead,
	}
}

// Look asks for a look at the folder soon. It never waits.
func (w *Worker) Look() {
	select {
	case w.hint <- struct{}{}:
	default:
	}
}

// Run looks at the folder until ctx ends, then returns once the files in hand
// are saved or given up. It also runs the scheduled jobs.
func (w *Worker) Run(ctx context.Context) {
	var background sync.WaitGroup
	background.Go(func() { w.watch(ctx) })
	background.Go(func() { w.schedule(ctx, w.jobs()) })
	defer background.Wait()

	// A folder that is being filled sends a stream of hints: they bring the
	// next look forward, but never closer than this to the one before.
	pause := w.Settle / 10
	var last time.Time
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-w.hint:
			if rest := pause - time.Since(last); rest > 0 {
				timer.Reset(rest)
				continue
			}
		case <-timer.C:
		}
		unsettled := w.look(ctx)
		last = time.Now()
		next := w.Settle
		if unsettled { // come back as soon as the youngest change can have settled
			next += min(pause/2, aMoment)
		}
		timer.Reset(next)
	}
}

// aMoment is how much later than it can have settled a file is looked at: a new
// file is to be on the round within a second of settling.
const aMoment = 100 * time.Millisecond

// look is one look at the folder: it deals with every file that is ready and
// with every held file that has been answered. It reports whether some file
// has not settled yet.
func (w *Worker) look(ctx context.Context) (unsettled bool) {
	w.looked++
	w.Metrics.looks.Inc()
	w.faults.Store(0)
	scan, err := w.folder.look(w.Now())
	beat := store.Beat{At: w.Now(), FolderOK: err == nil, Looked: w.looked}
	if err != nil {
		beat.Message = "The watched folder cannot be read. Check that it exists and that this program may read it."
		w.Log.Error("watched folder cannot be read", "err", pathless(err))
		w.beat(ctx, beat)
		w.answered(ctx) // the originals are in the archive
		w.judgeAnew(ctx)
		return false
	}
	ready, err := w.unseen(ctx, scan.ready)
	if err == nil {
		scan.settling, err = w.unseen(ctx, scan.settling)
	}
	if err != nil {
		w.Log.Error("list of received files cannot be read", "err", err)
		return true
	}
	waiting := len(scan.settling)
	beat.Seen, beat.Waiting = scan.files, waiting+len(ready)
	if len(ready) > 0 { // it may take a while: say so first
		beat.Message = w.said
		w.beat(ctx, beat)
	}
	var left atomic.Int64
	each(ctx, ready, inFlight, func(f found) {
		if !w.take(ctx, f) {
			left.Add(1)
		}
	})
	w.answered(ctx)
	w.judgeAnew(ctx)

	beat.At, beat.Waiting = w.Now(), waiting+int(left.Load())
	w.said = trouble(scan, w.faults.Load())
	if scan.files == 0 {
		if n, err := w.store.Counts(ctx); err == nil && n.Drops >= emptied {
			w.said = strings.TrimSpace(w.said + " " + emptyFolder)
		}
	}
	beat.Message = w.said
	w.beat(ctx, beat)
	return waiting > 0
}

// unseen gives the files of a look that were not dealt with before. The others
// are done: nothing asks for them again while they do not change.
func (w *Worker) unseen(ctx context.Context, list []found) ([]found, error) {
	looks := make([]store.Drop, len(list))
	for i, f := range list {
		looks[i] = store.Drop{Path: f.path, Size: f.size, ModTime: f.mod}
	}
	seen, err := w.store.SeenDrops(ctx, looks)
	if err != nil {
		return nil, err
	}
	var left []found
	for i, f := range list {
		if seen[i] {
			f.done()
			continue
		}
		left = append(left, f)
	}
	return left, nil
}

// fault counts an attempt that failed by a fault of the program or its machine.
func (w *Worker) fault() {
	w.Metrics.faults.Inc()
	w.faults.Add(1)
}

func (w *Worker) beat(ctx context.Context, b store.Beat) {
	w.Metrics.waiting.Set(float64(b.Waiting))
	w.Metrics.lastLook.Set(float64(b.At.Unix()))
	if err := w.store.Beat(ctx, b); err != nil && ctx.Err() == nil {
		w.Log.Error("sign of life not saved", "err", err)
	}
}

// each runs do over the items on n goroutines and returns when all are done.
// After ctx ends no further item is begun.
func each[T any](ctx context.Context, items []T, n int, do func(T)) {
	next := make(chan T)
	var wg sync.WaitGroup
	for range min(n, len(items)) {
		wg.Go(func() {
			for it := range next {
				do(it)
			}
		})
	}
feed:
	for _, it := range items {
		select {
		case next <- it:
		case <-ctx.Done():
			break feed
		}
	}
	close(next)
	wg.Wait()
}

// keyedMutex is a lock for each key, there while somebody holds it or waits.
type keyedMutex struct {
	mu   sync.Mutex
	held map[int64]*keyed
}

type keyed struct {
	sync.Mutex
	users int
}

// lock takes the locks of some keys, always in the same order, so that two
// callers never wait for each other.
func (k *keyedMutex) lock(keys ...int64) (unlock func()) {
	keys = slices.Compact(slices.Sorted(slices.Values(keys)))
	mine := make([]*keyed, len(keys))
	k.mu.Lock()
	if k.held == nil {
		k.held = map[int64]*keyed{}
	}
	for i, key := range keys {
		if k.held[key] == nil {
			k.held[key] = new(keyed)
		}
		mine[i] = k.held[key]
		mine[i].users++
	}
	k.mu.Unlock()
	for _, m := range mine {
		m.Lock()
	}
	return func() {
		k.mu.Lock()
		defer k.mu.Unlock()
		for i, m := range mine {
			m.Unlock()
			if m.users--; m.users == 0 {
				delete(k.held, keys[i])
			}
		}
	}
}
