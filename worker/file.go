package worker

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"time"

	"wearround/store"
	"wearround/worker/intake"
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

// file decodes, analyses and saves one file whose original is in the archive.
func (w *Worker) file(ctx context.Context, j job) (store.Outcome, error) {
	res := w.decode(j)
	if res.Refusal != nil {
		r := *res.Refusal
		j.drop.Outcome, j.drop.Code, j.drop.Reason, j.drop.ToDo = store.Refused, r.Code, r.Text, r.ToDo
		_, err := w.store.RefuseFile(ctx, j.drop, j.hash)
		return store.Refused, w.known(ctx, j, err)
	}
	patient, ask, err := w.whose(ctx, j.drop.Path, res.PatientHint, j.answers["patient"])
	if err != nil {
		return "", err
	}
	questions := res.Questions
	if ask != nil {
		questions = append(slices.Clone(questions), *ask)
	}
	if len(questions) > 0 {
		return w.hold(ctx, j, res, questions, patient)
	}

	unlock := w.people.lock(patient)
	defer unlock()
	who, err := w.store.Patient(ctx, patient)
	if err != nil {
		return "", err
	}
	f := store.Filing{
		Drop: j.drop, SHA256: j.hash, Layout: res.Layout, Decisions: res.Decisions,
		PatientID: patient, Rows: res.Rows, Skipped: res.Skipped, Answered: j.asOf,
	}
	joins, ask, err := w.joins(ctx, patient, wear.Split(res.Readings, w.Protocol), j.answers["overlap"])
	if err != nil {
		return "", err
	}
	if ask != nil {
		return w.hold(ctx, j, res, []wear.Question{*ask}, patient)
	}
	for _, x := range joins {
		f.Wears = append(f.Wears, w.analyse(who, x, res.Events))
	}
	_, _, err = w.store.File(ctx, f)
	return store.Filed, w.known(ctx, j, err)
}

// decode reads the bytes. A fault of the reader is caught here, so that one
// poisonous file cannot stop the others.
func (w *Worker) decode(j job) (res *intake.Result) {
	defer func() {
		if p := recover(); p != nil {
			w.Metrics.faults.Inc()
			w.Log.Error("reader failed on a file", j.attr(), "panic", fmt.Sprintf("%T", p), "stack", string(debug.Stack()))
			res = &intake.Result{Refusal: &wear.Refusal{
				Code: "reader_fault",
				Text: "The reader failed on this file; that is a fault of this program, not of the file.",
				ToDo: "The original is kept. Report the file's number to whoever looks after this program.",
			}}
		}
	}()
	return intake.Read(j.data, intake.Options{Zone: w.Zone, Now: w.Now(), Answers: j.answers})
}

func (w *Worker) hold(ctx context.Context, j job, res *intake.Result, questions []wear.Question, patient int64) (store.Outcome, error) {
	j.drop.Outcome, j.drop.Code = store.Held, questions[0].Code
	j.drop.Reason = questions[0].Text
	if n := len(questions); n > 1 {
		j.drop.Reason = fmt.Sprintf("%s (and %d more)", j.drop.Reason, n-1)
	}
	j.drop.ToDo = "Answer it here; the file is then read at once."
	_, err := w.store.Hold(ctx, store.Holding{
		Drop: j.drop, SHA256: j.hash, Layout: res.Layout, Questions: questions,
		Decisions: res.Decisions, Rows: res.Rows, Skipped: res.Skipped, PatientID: patient, Answered: j.asOf,
	})
	return store.Held, w.known(ctx, j, err)
}

// known turns "another goroutine filed the same bytes a moment ago" into what
// it is: a copy.
func (w *Worker) known(ctx context.Context, j job, err error) error {
	if !errors.Is(err, store.ErrKnown) {
		return err
	}
	f, ok, err := w.store.KnownFile(ctx, j.hash)
	if err != nil || !ok {
		return err
	}
	_, err = w.again(ctx, j.drop, f)
	return err
}

// joined is one wear of a file together with the wears already there that it
// is another export of.
type joined struct {
	readings []wear.Reading // of this file
	ids      []int64        // the wears there, in time order
	had      []wear.Reading // theirs
	events   []wear.Event   // theirs
}

// joins finds what each wear of a file is to be joined with. Where the patient
// already has a wear at that time, the same readings mean a second export of
// it. Different readings mean a second sensor, which stays a wear of its own. A
// mixture is asked about. Parts of the file that belong to one wear there (this
// export has a hole that the other has not) become one.
func (w *Worker) joins(ctx context.Context, patient int64, parts [][]wear.Reading, answer string) ([]joined, *wear.Question, error) {
	var list []joined
	for _, readings := range parts {
		x := joined{readings: readings}
		first, last := readings[0].At, readings[len(readings)-1].At
		old, err := w.store.OverlappingWears(ctx, patient, time.Unix(first, 0), time.Unix(last, 0))
		if err != nil {
			return nil, nil, err
		}
		for _, o := range old {
			had, events, err := w.store.Trace(ctx, o.ID)
			if err != nil {
				return nil, nil, err
			}
			_, _, same, conflicts := wear.Merge(had, readings)
			if same == 0 || answer == "two_sensors" {
				continue
			}
			if conflicts*100 > same+conflicts && answer != "one_sensor" {
				return nil, overlapQuestion(same, conflicts), nil
			}
			if n := len(list) - 1; n >= 0 && slices.Contains(list[n].ids, o.ID) {
				before := list[n]
				list = list[:n]
				x.readings = append(slices.Clone(before.readings), x.readings...)
				x.ids, x.had, x.events = before.ids, before.had, before.events
				continue
			}
			x.ids = append(x.ids, o.ID)
			x.had, _, _, _ = wear.Merge(x.had, had)
			x.events = mergeEvents(x.events, events)
		}
		list = append(list, x)
	}
	return list, nil, nil
}

// analyse makes the report of one wear, joined where there is something to
// join it with.
func (w *Worker) analyse(who store.Patient, x joined, events []wear.Event) store.WearFiling {
	f := store.WearFiling{Readings: x.readings, New: len(x.readings), Events: EventsOf(x.readings, events)}
	if len(x.ids) > 0 {
		f.WearID, f.Absorbs = x.ids[0], x.ids[1:]
		f.Readings, f.New, f.Same, f.Conflicts = wear.Merge(x.had, x.readings)
		f.Events = mergeEvents(x.events, f.Events)
	}
	f.Report = wear.Analyse(wear.Input{
		Readings: f.Readings, Events: f.Events, Zone: w.Zone,
		Context: who.Context, SensorKind: f.SensorKind, Protocol: w.Protocol,
	})
	return f
}

func overlapQuestion(same, conflicts int) *wear.Question {
	return &wear.Question{
		Code: "overlap",
		Text: fmt.Sprintf("This patient already has a wear at that time: %d readings are the same and %d differ. Is it the same sensor?", same, conflicts),
		Choices: []wear.Choice{
			{Value: "one_sensor", Text: "Yes, a second export of the same sensor", Effect: "the two are joined; where they differ the earlier value is kept and counted"},
			{Value: "two_sensors", Text: "No, two sensors worn at once", Effect: "this file becomes a wear of its own"},
		},
	}
}

// eventSlack is how far outside a wear an event still belongs to it, in
// seconds: a meal logged while the sensor warmed up explains the first hours.
const eventSlack = 3 * 3600

// EventsOf gives the events of a file that belong to one of its wears, whose
// readings are in time order and not empty.
func EventsOf(readings []wear.Reading, events []wear.Event) []wear.Event {
	first, last := readings[0].At, readings[len(readings)-1].At
	out := make([]wear.Event, 0, len(events))
	for _, e := range events {
		if e.At >= first-eventSlack && e.At <= last+eventSlack {
			out = append(out, e)
		}
	}
	return out
}

// mergeEvents is the union of two exports' events; the same one is kept once.
func mergeEvents(had, add []wear.Event) []wear.Event {
	seen := make(map[wear.Event]bool, len(had))
	out := slices.Clone(had)
	for _, e := range had {
		seen[e] = true
	}
	for _, e := range add {
		if !seen[e] {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b wear.Event) int { return int(a.At - b.At) })
	return out
}

// answered reads held files again for which a person has given an answer.
func (w *Worker) answered(ctx context.Context) {
	files, err := w.store.AnsweredFiles(ctx)
	if err != nil {
		if ctx.Err() == nil {
			w.Log.Error("answered files cannot be listed", "err", err)
		}
		return
	}
	for _, f := range files {
		if ctx.Err() != nil {
			return
		}
		data, err := w.Archive.Get(f.SHA256)
		if err == nil {
			drop := store.Drop{FileID: f.ID, Path: f.Path, SeenAt: w.Now()}
			_, err = w.file(ctx, job{drop: drop, hash: f.SHA256, data: data, id: f.SHA256[:12], answers: f.Answers, asOf: f.Answered})
		}
		if errors.Is(err, store.ErrStale) { // answered once more meanwhile: the next look reads it with that
			w.Look()
			continue
		}
		if err != nil && ctx.Err() == nil {
			w.Metrics.faults.Inc()
			w.Log.Error("answered file not dealt with; it will be tried again", "file", f.SHA256[:12], "err", pathless(err))
		}
	}
}
