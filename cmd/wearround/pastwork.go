package main

import (
	"cmp"
	"context"
	"errors"
	"strconv"
	"time"

	"wearround/store"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// What the invented people of the demo did. How often and how soon is invented,
// so that the audit has something of everything: most in time, some late, some
// lost.

// patience is how many days a wear waits before somebody takes it.
func (p *past) patience(of wear.Priority) float64 {
	late := p.happens(0.08)
	switch {
	case of.Tier == wear.Today && late:
		return p.between(1, 2)
	case of.Tier == wear.Today:
		return p.between(0.01, 0.06)
	case late:
		return p.between(0.9, 1.6) * float64(of.DueDays)
	}
	return p.between(0.3, 0.95) * float64(of.DueDays)
}

// take reads the words of a wear, claims it and tries to reach its patient;
// tried says how often nobody could.
func (p *past) take(ctx context.Context, id int64, tried int) error {
	if err := p.read(ctx, p.nurse, id); err != nil {
		return err
	}
	w, err := p.Wear(ctx, id)
	if err != nil {
		return err
	}
	kind := p.choose(w.Report)
	rule, _ := store.RuleOf(kind)
	who := p.nurse
	if why, nobody := rule.Against(w.Report); nobody {
		kind = store.AdviceGiven
	} else if why != "" {
		who = p.clinician
	}
	if tried == p.attempts() {
		who, kind = p.clinician, store.CouldNotReach
	}
	if who == p.clinician && tried == 0 && len(w.Report.Flags) > 0 && p.happens(0.5) {
		return p.handOver(ctx, id, w.Report)
	}
	if _, err := p.Claim(ctx, who, id); err != nil {
		return err
	}
	if tried < p.attempts() && (tried == 0 && p.happens(0.12) || tried > 0 && p.happens(0.5)) {
		next := p.worktime(p.now, p.between(1, 3))
		till := next // no later than the wear is due, or the next day
		if last := p.now.AddDate(0, 0, 1); till.After(w.DueAt) && till.After(last) {
			till = last
			if w.DueAt.After(last) {
				till = w.DueAt
			}
		}
		if _, err := p.RecordContact(ctx, who, id, store.NewContact{Means: store.ByTelephone, NextTry: till}); err != nil {
			return err
		}
		p.later(next, func(ctx context.Context) error { return p.take(ctx, id, tried+1) })
		return p.Release(ctx, who, id)
	}
	p.later(p.minutes(6, 25), func(ctx context.Context) error { return p.end(ctx, who, id, kind) })
	return nil
}

// handOver has the nurse look at a wear that a clinician must decide, and pass
// it on; a clinician takes it within a day or two.
func (p *past) handOver(ctx context.Context, id int64, r *wear.Report) error {
	if _, err := p.Claim(ctx, p.nurse, id); err != nil {
		return err
	}
	p.later(p.minutes(4, 15), func(ctx context.Context) error {
		why := "Please decide: " + r.Flags[0].Text + "."
		if _, err := p.HandOver(ctx, p.nurse, id, store.NewHandover{To: store.RoleClinician, Reason: why}); err != nil {
			return err
		}
		p.later(p.worktime(p.now, p.between(0.3, 1.8)), func(ctx context.Context) error { return p.take(ctx, id, 1) })
		return nil
	})
	return nil
}

func (p *past) attempts() int { return int(p.Judging().Protocol.Contact.Attempts) }

// ways are the outcomes that a flag leads to, the likelier the more often.
var ways = map[string][]store.OutcomeKind{
	"":                    {store.ToldWell, store.ToldWell, store.ToldWell, store.ToldWell, store.ToldWell, store.ToldWell, store.ToldWell, store.ToldWell, store.AdviceGiven, store.TestsOrdered},
	wear.FlagRisk:         {store.TestsOrdered, store.ToldWell, store.AdviceGiven},
	wear.FlagVeryHigh:     {store.UrgentContact, store.TestsOrdered},
	wear.FlagVeryLow:      {store.UrgentContact, store.Appointment},
	wear.FlagLowMedicine:  {store.Appointment, store.UrgentContact},
	wear.FlagSensorDoubt:  {store.SensorReplaced, store.SensorReplaced, store.WearAgain},
	wear.FlagTooLittle:    {store.WearAgain, store.WearAgain, store.ToldWell},
	wear.FlagOffPathway:   {store.OffPathway},
	wear.FlagAbove7_8:     {store.TestsOrdered, store.TestsOrdered, store.TestsOrdered, store.AdviceGiven, store.Appointment},
	wear.FlagAbove10:      {store.TestsOrdered, store.TestsOrdered, store.AdviceGiven, store.Appointment},
	wear.FlagHighNights:   {store.TestsOrdered},
	wear.FlagDipSymptom:   {store.AdviceGiven, store.TestsOrdered, store.Appointment},
	wear.FlagSwingSymptom: {store.AdviceGiven, store.Appointment},
}

// choose is what somebody makes of a report: the first flag decides.
func (p *past) choose(r *wear.Report) store.OutcomeKind {
	code := ""
	if len(r.Flags) > 0 {
		code = r.Flags[0].Code
	}
	list := ways[code]
	if len(list) == 0 {
		return store.Appointment
	}
	return list[p.IntN(len(list))]
}

// said are the reasons that are given.
var said = map[store.OutcomeKind]string{
	store.ToldWell: "Talked through the trace; no questions left.", store.AdviceGiven: "A walk after the evening meal, and breakfast with more protein.",
	store.TestsOrdered: "HbA1c.", store.UrgentContact: "Spoke to the patient; seen here the same day.",
	store.CouldNotReach: "Three calls at different times, no answer; letter sent.", store.OffPathway: "Looked after by the specialist clinic.",
}

// end records an outcome and sees to what follows.
func (p *past) end(ctx context.Context, who store.Actor, id int64, kind store.OutcomeKind) error {
	rule, _ := store.RuleOf(kind)
	w, err := p.Wear(ctx, id)
	if err != nil {
		return err
	}
	n := store.NewOutcome{WearID: id, Kind: kind, Reason: said[kind], Attempts: p.attempts(), Seen: w.Evidence}
	switch {
	case rule.Recall == "" || rule.Optional && p.happens(0.5):
	case rule.Days > 0:
		n.Recall = p.worktime(p.now, float64(rule.Days))
	default:
		n.Recall = p.worktime(p.now, p.between(4, 14))
	}
	o, err := p.RecordOutcome(ctx, who, n)
	if err != nil {
		return err
	}
	if p.happens(0.02) { // the wrong button: taken back, and done again
		p.later(p.now.Add(12*time.Second), func(ctx context.Context) error {
			if err := p.UndoOutcome(ctx, who, o.ID); err != nil {
				return err
			}
			p.later(p.minutes(1, 2), func(ctx context.Context) error { return p.end(ctx, who, id, kind) })
			return nil
		})
		return nil
	}
	if kind == store.AdviceGiven && p.happens(0.15) { // thought better of
		p.later(p.worktime(p.now, 1), func(ctx context.Context) error {
			w, err := p.Wear(ctx, id)
			if err != nil {
				return err
			}
			made, err := p.CorrectOutcome(ctx, p.clinician, o.ID, store.NewOutcome{Kind: store.TestsOrdered, Reason: said[store.TestsOrdered], Recall: p.worktime(p.now, 14), Seen: w.Evidence})
			if err != nil {
				return err
			}
			return p.await(ctx, made)
		})
		return nil
	}
	p.later(p.minutes(2, 8), func(ctx context.Context) error { return p.write(ctx, who, id, kind) })
	return p.await(ctx, o)
}

// read has somebody read the words of a wear: what the lists make of them is
// what they turn out to be.
func (p *past) read(ctx context.Context, who store.Actor, id int64) error {
	w, err := p.Wear(ctx, id)
	if err != nil {
		return err
	}
	said := map[string]wear.ReadChange{}
	for _, x := range w.Report.Words {
		if x.ReadAs == wear.Unread {
			said[x.Key] = wear.ReadChange{As: cmp.Or(x.Suggestion, wear.ReadNothing)}
		}
	}
	if len(said) == 0 {
		return nil
	}
	_, err = p.Read(ctx, who, id, said)
	return err
}

// write sends the letter that goes with an outcome.
func (p *past) write(ctx context.Context, who store.Actor, id int64, kind store.OutcomeKind) error {
	about, ok := map[store.OutcomeKind]letter.Kind{
		store.ToldWell: letter.Unremarkable, store.TestsOrdered: letter.Tests, store.WearAgain: letter.WearAgain,
		store.SensorReplaced: letter.SensorFailed, store.Appointment: letter.Clinician,
	}[kind]
	if !ok || p.happens(0.2) {
		return nil
	}
	w, err := p.Wear(ctx, id)
	if err != nil {
		return err
	}
	made, err := letter.Compose(about, p.facts(who, &w))
	if _, not := errors.AsType[*letter.Problem](err); not {
		return nil // the findings do not allow it
	}
	if err != nil {
		return err
	}
	opened, err := p.OpenLetter(ctx, who, store.NewLetter{PatientID: w.Patient.ID, WearID: id, Kind: string(about), Protocol: w.Report.Protocol, Text: made.Text, Seen: w.Evidence, Named: w.Patient.Named()})
	if err != nil {
		return err
	}
	if p.happens(0.04) {
		return p.DiscardLetter(ctx, who, opened)
	}
	return p.SendLetter(ctx, who, opened, made.Text, store.ByPost)
}

// await sees to the recall of an outcome: most of what is waited for comes.
func (p *past) await(ctx context.Context, o store.WearOutcome) error {
	w, err := p.Wear(ctx, o.WearID)
	if err != nil {
		return err
	}
	page, err := p.Recalls(ctx, store.RecallQuery{PatientID: w.Patient.ID, Limit: 200})
	if err != nil {
		return err
	}
	for _, r := range page.Rows {
		if r.OutcomeID != o.ID {
			continue
		}
		wait := r.DueAt.Sub(p.now).Hours() / 24
		late := p.worktime(p.now, wait+p.between(1, 9))
		ring := func(ctx context.Context) error {
			_, err := p.ContactRecall(ctx, p.nurse, r.ID, store.NewContact{Means: store.ByTelephone, Reached: p.happens(0.6)})
			return err
		}
		came := func(ctx context.Context) error {
			return p.CloseRecall(ctx, p.nurse, r.ID, "Seen, and talked about.", 0)
		}
		switch chance := p.Float64(); {
		case r.Kind == store.RecallResult && chance < 0.78:
			p.later(p.worktime(p.now, p.between(3, 12)), func(ctx context.Context) error { return p.result(ctx, &w, r.ID) })
		case r.Kind == store.RecallResult && chance < 0.9:
			p.later(late, ring)
			p.later(late.AddDate(0, 0, 6), func(ctx context.Context) error { return p.result(ctx, &w, r.ID) })
		case r.Kind == store.RecallNewWear:
			p.later(late, ring) // its file closes it
			if chance < 0.5 {
				p.later(late.AddDate(0, 0, 30), func(ctx context.Context) error {
					return p.CancelRecall(ctx, p.nurse, r.ID, "Does not want to wear another.", 0)
				})
			}
		case r.Kind != store.RecallResult && chance < 0.85:
			p.later(p.worktime(p.now, wait-p.between(0, 0.3)), came)
		case r.Kind != store.RecallResult && chance < 0.94:
			p.later(late, ring)
			p.later(late.AddDate(0, 0, 2), came)
		}
	}
	return nil
}

// result records an HbA1c such as goes with the mean of the wear, by the
// relation of Diabetes Care 2008;31:1473 (doi:10.2337/dc08-0545) and the
// conversion of the IFCC, give or take. One in the diabetes range is mostly
// repeated.
func (p *past) result(ctx context.Context, w *store.Wear, recall int64) error {
	percent := (w.Report.Metrics.MeanMmol.V + 2.594) / 1.594
	mmolMol := int(10.929*(percent-2.15) + 2.5*p.NormFloat64() + 0.5)
	n := store.NewResult{
		PatientID: w.Patient.ID, WearID: w.ID, RecallID: recall, Kind: store.HbA1c, Value: strconv.Itoa(mmolMol), Unit: "mmol/mol", TakenAt: p.now.AddDate(0, 0, -1),
	}
	if _, err := p.AddResult(ctx, p.nurse, n); err != nil {
		return err
	}
	if wear.Class(n.Class) == wear.ClassDiabetes && recall != 0 && p.happens(0.75) {
		p.later(p.worktime(p.now, p.between(8, 20)), func(ctx context.Context) error { return p.result(ctx, w, 0) })
	}
	return nil
}
