package worker

import (
	"context"
	"fmt"
	"slices"

	"wearround/store"
	"wearround/worker/wear"
)

// lookalikes finds wears of other patients that hold the same readings as the
// file. Two people never have the same readings, so one of the two links is
// wrong, and a person says which. With the answer the file goes to the other
// patient, or the other patient's wear comes to this one.
func (w *Worker) lookalikes(ctx context.Context, j job, p *wearer, f *store.Filing, before earlier, locked []int64) (*wear.Question, error) {
	code := p.code(store.WrongPerson)
	answer := j.answers[code]
	for i := range p.parts {
		part := &p.parts[i]
		others, err := w.store.Lookalikes(ctx, p.patient.ID, part.readings)
		if err != nil {
			return nil, err
		}
		for _, o := range others {
			t, err := w.trace(ctx, o.WearSummary)
			if err != nil {
				return nil, err
			}
			if b, own := before[o.ID]; own && p.sure { // what it brought there moves with it
				t = b.rest
			}
			if !alike(part.readings, t.readings, 0) {
				f.Compared = append(f.Compared, o.ID)
				continue
			}
			switch {
			case answer == "":
				return w.wrongPerson(code, p.patient, o, part.readings), nil
			case !slices.Contains(locked, o.Patient.ID):
				return nil, store.ErrStale // it has come since the locks were taken
			case answer == o.Patient.Code: // there it is joined with what it is a copy of
				p.patient = o.Patient
				return w.lookalikes(ctx, j, p, f, before, locked)
			case answer == p.patient.Code:
				part.moved, part.stolen = append(part.moved, standing{o.ID, t}), true
				f.Compared = append(f.Compared, o.ID)
			default: // an answer about somebody else
				return w.wrongPerson(code, p.patient, o, part.readings), nil
			}
		}
	}
	return nil, nil
}

func (w *Worker) wrongPerson(code string, here store.Patient, there store.Lookalike, readings []wear.Reading) *wear.Question {
	dates := there.Start.In(w.Zone).Format("2 Jan 2006") + " to " + there.End.In(w.Zone).Format("2 Jan 2006")
	theirs := choiceOf(there.Patient, "this file is filed under "+there.Patient.Code+" and joined with that wear")
	theirs.Rows = w.sample(readings, 0)
	ours := choiceOf(here, fmt.Sprintf("the whole wear of %s moves from %s to %s", dates, there.Patient.Code, here.Code))
	return &wear.Question{
		Code: code,
		Text: fmt.Sprintf("This file is for %s, but the same readings are already filed under %s (wear of %s). Whose are they?",
			called(here), called(there.Patient), dates),
		Choices: []wear.Choice{theirs, ours},
	}
}

// code makes the code of a question about one of several people in a file.
func (p *wearer) code(question string) string {
	if p.key == "" {
		return question
	}
	return question + ":" + p.key
}

// owners gives the other patients whose wears the file may have to be joined
// with by somebody's answer: they are locked with its own.
func (w *Worker) owners(ctx context.Context, j job, people []wearer) ([]int64, error) {
	var ids []int64
	for i := range people {
		p := &people[i]
		if j.answers[p.code(store.WrongPerson)] == "" {
			continue
		}
		for _, part := range p.parts {
			others, err := w.store.Lookalikes(ctx, p.patient.ID, part.readings)
			if err != nil {
				return nil, err
			}
			for _, o := range others {
				ids = append(ids, o.Patient.ID)
			}
		}
	}
	return ids, nil
}
