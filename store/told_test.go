package store_test

import (
	"encoding/json"
	"strings"
	"testing"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// told tries every way of telling the patient of a wear that all is well, with
// nothing kept: by nobody, by clinicians with a reason, or by the nurse too.
func (w *ward) told(t *testing.T, id int64) (nurse, clinician, sheet bool) {
	t.Helper()
	for _, x := range []struct {
		who store.Actor
		may *bool
	}{{w.nurse, &nurse}, {w.clinician, &clinician}} {
		w.claim(t, x.who, id)
		made, err := w.RecordOutcome(ctx, x.who, store.NewOutcome{WearID: id, Kind: store.ToldWell, Reason: "it was talked through"})
		*x.may = err == nil
		if err != nil && store.CodeOf(err) != store.Conflict && store.CodeOf(err) != store.Forbidden {
			t.Fatal(err)
		}
		if err == nil {
			must(t, w.UndoOutcome(ctx, x.who, made.ID))
		}
		must(t, w.Release(ctx, x.who, id))
	}
	own, err := w.Wear(ctx, id)
	must(t, err)
	list, err := w.RoutineSheet(ctx, w.nurse, w.clock.Now(), 20)
	must(t, err)
	for _, r := range list.Rows {
		sheet = sheet || r.ID == id
	}
	if !sheet && list.Ready > 0 {
		t.Errorf("%d are ready for the sheet that are not on it", list.Ready)
	}
	at, signed, err := w.SignSheet(ctx, w.nurse, []store.SheetLine{{WearID: id, Evidence: storetest.Seen(t, w.Store, id), Letter: store.NewLetter{Kind: "patient_unremarkable", Text: "Dear", Named: own.Patient.Named()}}})
	must(t, err)
	if signs := signed[0].Refused == ""; signs != sheet {
		t.Errorf("on the sheet %v, signed %v: %s", sheet, signs, signed[0].Refused)
	}
	if sheet {
		must(t, second(w.UndoSheet(ctx, w.nurse, at)))
	}
	return nurse, clinician, sheet
}

// The person is told, not the wear: nobody says that all is well while another
// wear of theirs on the round has something to see to.
func TestNobodyIsToldWellBesideAnotherWear(t *testing.T) {
	w := newWard(t)
	n := 20
	for _, tier := range wear.Tiers() {
		for _, ended := range []bool{false, true} {
			n += 10
			p := storetest.AddPatient(t, w.Store, n)
			own := storetest.File(t, w.Store, storetest.Filing(n, p.ID, w.clock.Now(), 14, wear.Routine, 0))
			other := storetest.File(t, w.Store, storetest.Filing(n+1, p.ID, w.clock.Now().Add(-60*day), 14, tier, 4))
			if ended {
				w.claim(t, w.clinician, other)
				must(t, second(w.RecordOutcome(ctx, w.clinician, store.NewOutcome{WearID: other, Kind: store.AdviceGiven, Reason: "eat and walk"})))
			}
			nurse, clinician, sheet := w.told(t, own)
			if may := ended || tier == wear.Routine; nurse != may || sheet != may || clinician != may {
				t.Errorf("beside a wear under %q, ended %v: nurse %v, clinician %v, sheet %v", tier, ended, nurse, clinician, sheet)
			}
			if !ended { // nothing else is to keep them off the sheet
				w.claim(t, w.clinician, own)
				must(t, second(w.RecordOutcome(ctx, w.clinician, store.NewOutcome{WearID: own, Kind: store.AdviceGiven, Reason: "eat and walk"})))
				w.claim(t, w.clinician, other)
				must(t, second(w.RecordOutcome(ctx, w.clinician, store.NewOutcome{WearID: other, Kind: store.AdviceGiven, Reason: "eat and walk"})))
			} else {
				w.claim(t, w.clinician, own)
				must(t, second(w.RecordOutcome(ctx, w.clinician, store.NewOutcome{WearID: own, Kind: store.AdviceGiven, Reason: "eat and walk"})))
			}
		}
	}
}

// Of two wears of a patient that both ask for something a clinician can answer
// one first, so that neither keeps the other waiting for ever.
func TestOneOfTwoWearsCanAlwaysBeAnswered(t *testing.T) {
	w := newWard(t)
	n := 20
	for _, a := range wear.Tiers() {
		for _, b := range wear.Tiers() {
			n += 10
			p := storetest.AddPatient(t, w.Store, n)
			one := storetest.File(t, w.Store, storetest.Filing(n, p.ID, w.clock.Now(), 14, a, 4))
			two := storetest.File(t, w.Store, storetest.Filing(n+1, p.ID, w.clock.Now().Add(-60*day), 14, b, 4))
			if b.Rank() < a.Rank() {
				one, two = two, one
			}
			for _, id := range []int64{one, two} {
				w.claim(t, w.clinician, id)
				if _, err := w.RecordOutcome(ctx, w.clinician, store.NewOutcome{WearID: id, Kind: store.ToldWell, Reason: "it was talked through"}); err != nil {
					t.Errorf("%s beside %s: %v", a, b, err)
				}
			}
		}
	}
}

// What is awaited about a patient and denies that all is well bars it until it
// has come or is waited for no more.
func TestNobodyIsToldWellWhileTestsAreAwaited(t *testing.T) {
	for kind, bars := range map[store.OutcomeKind]bool{
		store.TestsOrdered: true, store.UrgentContact: true, store.WearAgain: false, store.AdviceGiven: false, store.Appointment: false,
	} {
		w := newWard(t)
		w.claim(t, w.nurse, w.wear)
		must(t, second(w.RecordOutcome(ctx, w.nurse, w.outcome(kind))))
		own := storetest.File(t, w.Store, storetest.Filing(77, w.patient.ID, w.clock.Now().Add(60*day), 14, wear.Routine, 0))
		nurse, clinician, sheet := w.told(t, own)
		if nurse == bars || sheet == bars || !clinician {
			t.Errorf("%s: nurse %v, clinician %v, sheet %v", kind, nurse, clinician, sheet)
		}
		if !bars {
			continue
		}
		for _, r := range w.review(t).Recalls {
			must(t, w.CancelRecall(ctx, w.nurse, r.ID, "it was seen to elsewhere", 0))
		}
		if nurse, _, sheet := w.told(t, own); !nurse || !sheet {
			t.Errorf("%s, awaited no more: nurse %v, sheet %v", kind, nurse, sheet)
		}
	}
}

// A wear that a withdrawn recipe read says nothing well until it is read again:
// one that was told so comes back, and goes once it is found to be the same.
func TestNobodyIsToldWellByAWithdrawnRecipe(t *testing.T) {
	for _, kind := range []store.OutcomeKind{"", store.ToldWell, store.AdviceGiven} {
		w := newWard(t)
		p := storetest.AddPatient(t, w.Store, 2)
		filing := func(body string) store.Filing {
			f := storetest.Filing(9, p.ID, w.clock.Now(), 14, wear.Routine, 0)
			f.Recipes = book(t, w.Store).Version
			f.Learned = &store.Learned{Body: json.RawMessage(body), Answers: []wear.Decision{byPerson(body)}}
			return f
		}
		f := filing(`"one"`)
		w.wear = storetest.File(t, w.Store, f)
		at, err := w.Wear(ctx, w.wear)
		must(t, err)
		if kind != "" {
			w.claim(t, w.nurse, w.wear)
			must(t, second(w.RecordOutcome(ctx, w.nurse, w.outcome(kind))))
		}
		must(t, w.Withdraw(ctx, at.Files[0].RecipeID, "it was another column"))
		if open := w.review(t).Open; open != (kind != store.AdviceGiven) {
			t.Errorf("%q: withdrawn, the wear is on the round %v", kind, open)
		}
		if kind == store.AdviceGiven {
			continue
		}
		if nurse, clinician, sheet := w.told(t, w.wear); nurse || clinician || sheet {
			t.Errorf("%q: withdrawn, told by nurse %v, clinician %v, sheet %v", kind, nurse, clinician, sheet)
		}
		must(t, second(w.ReadAgain(ctx, at.Files[0].RecipeID)))
		f = filing(`"two"`)
		f.Drop = store.Drop{FileID: at.Files[0].ID, SeenAt: w.clock.Now()}
		f.Wears[0].WearID = w.wear
		storetest.File(t, w.Store, f)
		if open := w.review(t).Open; open != (kind == "") {
			t.Errorf("%q: read again, the wear is on the round %v", kind, open)
		}
	}
}

// A letter that comforts goes only beside an outcome that it does not deny, in
// force when it is written, sent, printed and posted.
func TestALetterThatComfortsFitsTheOutcomeInForce(t *testing.T) {
	w := newWard(t)
	n := 20
	well := store.NewLetter{Kind: "patient_unremarkable", Text: "There is nothing to do."}
	for _, rule := range store.Rules() {
		n++
		p := storetest.AddPatient(t, w.Store, n)
		w.wear = storetest.File(t, w.Store, storetest.Filing(n, p.ID, w.clock.Now(), 14, wear.Routine, 0))
		l := well
		l.PatientID, l.WearID = p.ID, w.wear
		wants(t, second(w.OpenLetter(ctx, w.clinician, l)), store.Conflict, "on the round")
		w.claim(t, w.clinician, w.wear)
		made, err := w.RecordOutcome(ctx, w.clinician, w.outcome(rule.Kind))
		must(t, err)
		draft, err := w.OpenLetter(ctx, w.clinician, l)
		if rule.Kind != store.ToldWell {
			wants(t, err, store.Conflict, rule.Words)
			continue
		}
		must(t, err)
		waits, err := w.OpenLetter(ctx, w.clinician, l)
		must(t, err)
		must(t, w.SendLetter(ctx, w.clinician, waits, l.Text, store.ByPost))
		o := w.outcome(store.TestsOrdered)
		made, err = w.CorrectOutcome(ctx, w.clinician, made.ID, o)
		must(t, err)
		wants(t, w.SendLetter(ctx, w.clinician, draft, l.Text, store.ByPost), store.Conflict, "Tests ordered")
		_, printed, err := w.PrintLetters(ctx, w.clinician)
		must(t, err)
		box, err := w.Outbox(ctx, store.Unprinted, w.clock.Now())
		must(t, err)
		if printed != 0 || len(box.Rows) != 1 || !strings.Contains(box.Rows[0].Held, "Tests ordered") {
			t.Errorf("%d printed of a letter that the outcome denies; in the outbox %+v", printed, box.Rows)
		}
		o = w.outcome(store.ToldWell)
		o.Reason = "the tests were not wanted"
		must(t, second(w.CorrectOutcome(ctx, w.clinician, made.ID, o)))
		must(t, w.SendLetter(ctx, w.clinician, draft, l.Text, store.ByPost))
		h := holding(900, w.clock.Now(), unitQuestion())
		h.PatientID = p.ID
		file, err := w.Hold(ctx, h)
		must(t, err)
		if _, printed, err := w.PrintLetters(ctx, w.clinician); printed != 0 || err != nil {
			t.Errorf("%d printed while file %d waits, %v", printed, file, err)
		}
	}
}

// What was handed over to a clinician is ended by one, or by whoever takes that
// back with the reason; urgent contact waits for nobody.
func TestWhatWasHandedOverIsNotToldWellByTheNurse(t *testing.T) {
	w := newWard(t)
	p := storetest.AddPatient(t, w.Store, 2)
	w.wear = storetest.File(t, w.Store, storetest.Filing(9, p.ID, w.clock.Now(), 14, wear.Routine, 0))
	w.claim(t, w.nurse, w.wear)
	must(t, second(w.HandOver(ctx, w.nurse, w.wear, store.NewHandover{To: store.RoleClinician, Reason: "odd nights, please look"})))
	list, err := w.RoutineSheet(ctx, w.nurse, w.clock.Now(), 20)
	must(t, err)
	if len(list.Rows) != 0 || list.Taken != 1 {
		t.Errorf("%d on the sheet, %d with somebody else", len(list.Rows), list.Taken)
	}
	w.claim(t, w.nurse, w.wear)
	wants(t, second(w.RecordOutcome(ctx, w.nurse, w.outcome(store.ToldWell))), store.Forbidden, "handed over to a clinician")
	made, err := w.RecordOutcome(ctx, w.nurse, w.outcome(store.UrgentContact))
	must(t, err)
	must(t, w.UndoOutcome(ctx, w.nurse, made.ID))
	must(t, second(w.HandOver(ctx, w.nurse, w.wear, store.NewHandover{To: store.RoleNurse, Reason: "the nights were asked about"})))
	w.claim(t, w.nurse, w.wear)
	must(t, second(w.RecordOutcome(ctx, w.nurse, w.outcome(store.ToldWell))))
}
