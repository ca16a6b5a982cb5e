package worker

import (
	"context"
	"encoding/json"
	"fmt"
	"runtime/debug"
	"strings"
	"time"

	"wearround/store"
	"wearround/worker/intake"
	"wearround/worker/wear"
)

// longestRead is how long reading one file may take. The largest file that is
// taken reads in a few seconds, so only a fault of the reader takes longer.
const longestRead = time.Minute

// decode reads the bytes by the recipes in the book, or by their values. A
// fault of the reader, or a reader that does not end, is a refusal: one
// poisonous file never stops the others. A reader that does not end cannot be
// stopped; it is left behind and its result thrown away.
func (w *Worker) decode(ctx context.Context, j job, book *store.RecipeBook) (*intake.Result, error) {
	told := j.answers[store.ZoneOfWear]
	zone, err := store.Location(told, w.Zone)
	if err != nil {
		return nil, err
	}
	now, err := w.latest(ctx)
	if err != nil {
		return nil, err
	}
	o := intake.Options{Zone: zone, Told: told != "", Now: now, Answers: j.answers, Recipe: w.recipes(book), Names: strings.Split(j.drop.Path, "/"), Known: func(part string) bool {
		_, err := w.store.PatientByCode(ctx, part)
		return err == nil
	}}
	return guarded(ctx, w, j, func() *intake.Result { return w.reader(j.data, o) }, func(r *wear.Refusal) *intake.Result { return &intake.Result{Refusal: r} })
}

// latest is the moment after which a reading lies in the future: now, and never
// before a file that came already, for a clock that was set back, or that lost
// its battery, must not have good files refused.
func (w *Worker) latest(ctx context.Context) (time.Time, error) {
	now := w.Now()
	came, err := w.store.LastReceived(ctx)
	if came.After(now) {
		now = came
	}
	return now, err
}

// guarded runs a reader on a file. A fault of the reader, or one that does not
// end, is a refusal, which failed makes a result of.
func guarded[T any](ctx context.Context, w *Worker, j job, read func() T, failed func(*wear.Refusal) T) (none T, err error) {
	if err := w.cores.Acquire(ctx, 1); err != nil {
		return none, err
	}
	defer w.cores.Release(1)
	done := make(chan T, 1)
	go func() {
		defer func() {
			if p := recover(); p != nil {
				w.Metrics.faults.Inc()
				w.Log.Error("reader failed on a file", j.attr(), "panic", fmt.Sprintf("%T", p), "stack", string(debug.Stack()))
				done <- failed(readerFault("reader_fault", "The reader failed on this file; that is a fault of this program, not of the file."))
			}
		}()
		done <- read()
	}()
	late := time.NewTimer(w.longest)
	defer late.Stop()
	select {
	case res := <-done:
		return res, nil
	case <-ctx.Done():
		return none, ctx.Err()
	case <-late.C:
		w.Metrics.faults.Inc()
		w.Log.Error("reader does not come to an end with a file", j.attr())
		return failed(readerFault("reader_slow", "The reader did not come to an end with this file; that is a fault of this program, not of the file.")), nil
	}
}

func readerFault(code, text string) *wear.Refusal {
	return &wear.Refusal{Code: code, Text: text, ToDo: "The original is kept. Report the file's number to whoever looks after this program."}
}

// recipes gives the recipes in force in the reader's own form. One that this
// version of the program cannot read counts as none.
func (w *Worker) recipes(book *store.RecipeBook) func(layout string) (intake.Recipe, bool) {
	return func(layout string) (intake.Recipe, bool) {
		r, ok := book.InForce[layout]
		if !ok {
			return intake.Recipe{}, false
		}
		if known, ok := w.parsed.Load(r.ID); ok {
			return known.(intake.Recipe), true
		}
		var body intake.Recipe
		if err := json.Unmarshal(r.Body, &body); err != nil {
			w.Log.Warn("recipe cannot be used by this version", "recipe", r.ID)
			return intake.Recipe{}, false
		}
		w.parsed.Store(r.ID, body)
		return body, true
	}
}
