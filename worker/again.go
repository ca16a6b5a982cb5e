package worker

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync/atomic"

	"wearround/store"
	"wearround/worker/wear"
)

// answered reads held files again for which a person has given an answer, or
// for which something else has changed that may settle their questions. One
// answer can settle others (it becomes a recipe), so it goes on until none is
// left or none can be dealt with.
func (w *Worker) answered(ctx context.Context) {
	for {
		files, err := w.store.AnsweredFiles(ctx)
		if err != nil {
			if ctx.Err() == nil {
				w.Log.Error("answered files cannot be listed", "err", err)
			}
			return
		}
		var done atomic.Int64
		each(ctx, files, inFlight, func(f store.File) {
			if w.reread(ctx, f) {
				done.Add(1)
			}
		})
		if done.Load() == 0 {
			return
		}
	}
}

// reread deals with one file from the archive and reports whether it could.
func (w *Worker) reread(ctx context.Context, f store.File) bool {
	if err := w.inHand.Acquire(ctx, f.Size); err != nil {
		return false
	}
	defer w.inHand.Release(f.Size)
	data, err := w.Archive.Get(f.SHA256)
	if err == nil {
		drop := store.Drop{FileID: f.ID, Path: f.Path, SeenAt: w.Now()}
		_, err = w.file(ctx, job{drop: drop, hash: f.SHA256, data: data, id: f.SHA256[:12], answers: f.Answers, asOf: f.Answered})
	}
	switch {
	case err == nil:
		return true
	case errors.Is(err, store.ErrStale): // answered once more meanwhile: the next look reads it with that
		w.Look()
	case ctx.Err() == nil:
		w.fault()
		w.Log.Error("answered file not dealt with; it will be tried again", "file", f.SHA256[:12], "err", pathless(err))
	}
	return false
}

// judgeAnew has wears judged anew whose reports come from another engine or
// protocol. Those of a whole practice take a while, and files must not wait for
// it: a look does a part, and asks for the next look. A wear on which the
// engine fails is left as it was and tried again.
func (w *Worker) judgeAnew(ctx context.Context) {
	const batches = 8
	for range batches {
		last, failed, err := w.store.JudgeAnew(ctx, w.judged)
		for _, id := range failed {
			w.fault()
			w.Log.Error("the engine failed on a wear", "wear", id)
		}
		if err != nil && ctx.Err() == nil {
			w.fault()
			w.Log.Error("wears not judged anew; it will be tried again", "err", err)
		}
		if err != nil {
			return
		}
		if w.judged = last; last == 0 {
			return
		}
	}
	w.Look()
}

// earlier are the wears that a file brought when it was filed before, each
// without what the file brought to it; by id.
type earlier map[int64]was

type was struct {
	patient store.Patient
	rest    trace // empty where the file was all there was
}

// before finds what is left of the wears that a file brought, once its own
// readings are taken away: the other files of each wear are read again.
func (w *Worker) before(ctx context.Context, j job, ids []int64) (earlier, error) {
	e := earlier{}
	for _, id := range ids {
		now, err := w.store.Wear(ctx, id)
		if err != nil {
			return nil, err
		}
		rest, err := w.without(ctx, now, j.drop.FileID)
		if err != nil {
			return nil, err
		}
		e[id] = was{now.Patient, rest}
	}
	return e, nil
}

// without puts a wear together from its files but one.
func (w *Worker) without(ctx context.Context, now store.Wear, fileID int64) (trace, error) {
	rest := trace{kind: now.SensorKind, zone: now.Zone}
	whole, _, err := w.store.FileTrace(ctx, now.ID)
	if err != nil {
		return rest, err
	}
	book, err := w.store.RecipeBook(ctx)
	if err != nil {
		return rest, err
	}
	for _, f := range now.Files {
		switch {
		case f.ID == fileID:
			continue
		case f.InDoubt:
			if _, err := w.store.ReadAgain(ctx, f.RecipeID); err != nil {
				return rest, err
			}
			continue
		}
		data, err := w.Archive.Get(f.SHA256)
		if err != nil {
			return rest, err
		}
		res, err := w.decode(ctx, job{drop: store.Drop{Path: f.Path}, data: data, id: f.SHA256[:12], answers: f.Answers}, book)
		if err != nil {
			return rest, err
		}
		if f.State != store.Filed && (res.Refusal != nil || len(res.Questions) > 0) {
			continue // how it is to be read is asked: it joins in once it is filed again
		}
		if res.Refusal != nil || len(res.Questions) > 0 {
			return rest, fmt.Errorf("file %s of the same wear cannot be read as it was", f.SHA256[:12])
		}
		parts := w.partsOf(res.Readings, res.Events)
		for _, p := range res.People {
			parts = append(parts, w.partsOf(p.Readings, p.Events)...)
		}
		for _, p := range parts {
			_, _, same, conflicts := wear.Merge(whole, p.readings)
			if same <= conflicts {
				d, shifted := shiftOf(p.readings, whole)
				if !shifted {
					continue // of another wear
				}
				if !f.Pending { // one that is about to be read again is as it will be then
					p = p.later(-d)
				}
			}
			switch {
			case f.Answers[valuesCode] == "these", f.Answers[overlapCode] == "replace":
				rest.readings, rest.holds = over(p.readings, rest.readings), holds
			case f.Answers[valuesCode] == "those":
				rest.readings, rest.holds = over(rest.readings, p.readings), yields
			default:
				rest.readings, _, _, _ = wear.Merge(rest.readings, p.readings)
			}
			rest.events = mergeEvents(rest.events, p.events)
		}
	}
	return rest, nil
}

func (e earlier) ids() []int64 { return slices.Sorted(maps.Keys(e)) }

// settle gives the joins of one of the file's people, and sees to it that each
// wear that the file brought before goes on: in the readings that are left of
// it, in a wear that the file brings now, or inside one of those. The last of
// the people also takes what belonged to somebody else.
func (e earlier) settle(patient int64, last bool, joins []joined) []joined {
	for _, x := range joins {
		for _, id := range x.ids {
			delete(e, id)
		}
	}
	for _, id := range e.ids() {
		old := e[id]
		if old.patient.ID != patient && !last {
			continue
		}
		delete(e, id)
		if len(old.rest.readings) > 0 {
			joins = append(joins, joined{ids: []int64{id}, had: old.rest, who: old.patient})
			continue
		}
		i := max(0, slices.IndexFunc(joins, func(x joined) bool { return len(x.ids) == 0 }))
		joins[i].ids = append(joins[i].ids, id)
		joins[i].moves = joins[i].moves || old.patient.ID != patient
	}
	return joins
}
