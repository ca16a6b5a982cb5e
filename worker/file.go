package worker

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"wearround/store"
	"wearround/worker/intake"
	"wearround/worker/lab"
	"wearround/worker/wear"
)

// job is one file's bytes on their way into the store.
type job struct {
	drop    store.Drop
	hash    string
	data    []byte
	id      string            // for the log
	answers map[string]string // what people have answered about it
	asOf    int64             // stamp of the newest of them
}

// file decodes, joins and saves one file whose original is in the archive.
// Where something it was based on changed meanwhile, it gives
// [store.ErrStale], and all of it is to be done again.
func (w *Worker) file(ctx context.Context, j job) (store.Fate, error) {
	if lab.Is(j.data) {
		return w.messages(ctx, j)
	}
	by := w.store.Judging().Protocol
	book, err := w.store.RecipeBook(ctx)
	if err != nil {
		return "", err
	}
	res, err := w.decode(ctx, j, book)
	if err != nil {
		return "", err
	}
	if res.Refusal != nil {
		return w.refuse(ctx, j, *res.Refusal)
	}
	people, questions, err := w.wearers(ctx, j, res)
	if err != nil {
		return "", err
	}
	questions = append(slices.Clone(res.Questions), questions...)
	learned, err := learn(book, res, j.answers)
	if err != nil {
		return "", err
	}
	if len(questions) == 0 {
		switch ask := w.distrust(book, res, learned, j.answers[distrustCode]); {
		case ask != nil:
			questions = append(questions, *ask)
		case j.answers[distrustCode] == "set_aside":
			return w.refuse(ctx, j, setAside())
		}
	}
	if len(questions) > 0 {
		had, err := w.takenBack(ctx, j, res, questions)
		if err != nil {
			return "", err
		}
		if had == nil {
			return w.hold(ctx, j, res, questions, people)
		}
		people, j.drop = had, j.asking(questions)
	}

	f := store.Filing{
		Questions: questions, Drop: j.drop, SHA256: j.hash, Layout: res.Layout, Decisions: res.Decisions,
		Rows: res.Rows, Skipped: res.Skipped, Answered: j.asOf, Recipes: book.Version, By: by, Account: res.Account,
	}
	if f.Learned = learned; learned == nil {
		f.RecipeID = book.InForce[res.Layout].ID // 0 without a layout
	}
	outcome, err := w.join(ctx, j, res, people, kindOf(book, res.Layout), &f)
	return outcome, w.known(ctx, j, err)
}

// join finds what the wears of the file are to be joined with, and files them.
func (w *Worker) join(ctx context.Context, j job, res *intake.Result, people []wearer, kind string, f *store.Filing) (store.Fate, error) {
	wears, patients, err := w.store.Brought(ctx, j.drop.FileID)
	if err != nil {
		return "", err
	}
	owners, err := w.owners(ctx, j, people)
	if err != nil {
		return "", err
	}
	patients = append(patients, owners...)
	for _, p := range people {
		patients = append(patients, p.patient.ID)
	}
	defer w.people.lock(patients...)()
	before, err := w.before(ctx, j, wears)
	if err != nil {
		return "", err
	}

	var questions []wear.Question
	for i := range people {
		p := &people[i]
		ask, err := w.lookalikes(ctx, j, p, f, before, patients)
		if err != nil {
			return "", err
		}
		if ask == nil {
			ask, err = w.shifts(ctx, j, p, before)
		}
		if err != nil {
			return "", err
		}
		var joins []joined
		if ask == nil {
			joins, ask, err = w.joins(ctx, j, p, kind, before)
		}
		if err != nil {
			return "", err
		}
		if ask != nil {
			questions = append(questions, *ask)
			continue
		}
		for _, x := range before.settle(p.patient.ID, i == len(people)-1, joins) {
			who := p.patient
			if x.who.ID != 0 {
				who = x.who
			}
			f.Wears = append(f.Wears, filing(who, x, kind, j.answers[store.ZoneOfWear]))
		}
	}
	if len(questions) > 0 {
		return w.hold(ctx, j, res, questions, people)
	}
	if len(people) == 1 {
		f.PatientID = people[0].patient.ID
	}
	_, _, err = w.store.File(ctx, *f)
	if len(f.Questions) > 0 {
		return store.Held, err
	}
	return store.Filed, err
}

// takenBack gives who has to have what a file brought again, where the answer
// whose it is was taken back: whoever had it before that was asked. It gives
// nil where they have it, or where something else is asked too.
func (w *Worker) takenBack(ctx context.Context, j job, res *intake.Result, questions []wear.Question) ([]wearer, error) {
	had := j.answers[store.FiledFor]
	if had == "" || len(questions) != 1 || questions[0].Code != "patient" {
		return nil, nil
	}
	_, patients, err := w.store.Brought(ctx, j.drop.FileID)
	if err != nil {
		return nil, err
	}
	p, err := w.store.PatientByCode(ctx, had)
	if err != nil || !slices.ContainsFunc(patients, func(id int64) bool { return id != p.ID }) {
		return nil, err
	}
	return []wearer{{patient: p, sure: true, parts: w.partsOf(res.Readings, res.Events)}}, nil
}

// filing makes one wear ready to be filed, joined where there is something to
// join it with. kind and zone are what is known of the file; "" is nothing.
func filing(who store.Patient, x joined, kind, zone string) store.WearFiling {
	f := store.WearFiling{
		PatientID: who.ID, Readings: x.readings, New: len(x.readings), Events: x.events, Moves: x.moves,
		SensorKind: cmp.Or(kind, x.had.kind), Zone: cmp.Or(zone, x.had.zone),
	}
	if len(x.ids) > 0 {
		f.WearID, f.Absorbs = x.ids[0], x.ids[1:]
		f.Readings, f.New, f.Same, f.Conflicts = wear.Merge(x.had.readings, x.readings)
		switch {
		case x.prefers:
			f.Readings = over(x.readings, x.had.readings)
		case x.yields:
			f.Readings = over(x.had.readings, x.readings)
		}
		f.Events = mergeEvents(x.had.events, x.events)
	}
	return f
}

func (w *Worker) refuse(ctx context.Context, j job, r wear.Refusal) (store.Fate, error) {
	j.drop.Fate, j.drop.Code, j.drop.Reason, j.drop.ToDo = store.Refused, r.Code, r.Text, r.ToDo
	_, err := w.store.RefuseFile(ctx, j.drop, j.hash)
	return store.Refused, w.known(ctx, j, err)
}

// asking is the look at a file that waits for answers.
func (j *job) asking(questions []wear.Question) store.Drop {
	d := j.drop
	d.Fate, d.Code, d.Reason = store.Held, questions[0].Code, questions[0].Text
	if n := len(questions); n > 1 {
		d.Reason = fmt.Sprintf("%s (and %d more)", d.Reason, n-1)
	}
	d.ToDo = "Answer it here; the file is then read at once."
	if j.answers[store.FiledFor] != "" { // it may lie under the wrong patient
		d.Code = store.WrongPerson
	}
	return d
}

func (w *Worker) hold(ctx context.Context, j job, res *intake.Result, questions []wear.Question, people []wearer) (store.Fate, error) {
	h := store.Holding{
		Drop: j.asking(questions), SHA256: j.hash, Layout: res.Layout, Questions: questions,
		Decisions: res.Decisions, Rows: res.Rows, Skipped: res.Skipped, Answered: j.asOf, Account: res.Account,
	}
	if len(people) == 1 {
		h.PatientID = people[0].patient.ID
	}
	_, err := w.store.Hold(ctx, h)
	return store.Held, w.known(ctx, j, err)
}

// known turns "another goroutine filed the same bytes a moment ago" into what
// it is: a copy, or for a file that is read again what the next look sees.
func (w *Worker) known(ctx context.Context, j job, err error) error {
	switch {
	case !errors.Is(err, store.ErrKnown):
		return err
	case j.drop.FileID != 0:
		return store.ErrStale
	}
	f, ok, err := w.store.KnownFile(ctx, j.hash)
	if err != nil || !ok {
		return err
	}
	_, err = w.again(ctx, j.drop, f)
	return err
}
