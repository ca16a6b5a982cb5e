package store_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

const day = 24 * time.Hour

// outcome makes an outcome of each kind as it is asked for.
func (w *ward) outcome(kind store.OutcomeKind) store.NewOutcome {
	rule, _ := store.RuleOf(kind)
	o := store.NewOutcome{WearID: w.wear, Kind: kind, Attempts: 3}
	if rule.Reason {
		o.Reason = "as agreed"
	}
	if rule.Recall != "" && !rule.Optional {
		o.Recall = w.clock.Now().Add(time.Duration(max(1, rule.Days)) * day)
	}
	return o
}

func (w *ward) review(t *testing.T) store.Review {
	t.Helper()
	v, err := w.Review(ctx, w.wear)
	must(t, err)
	return v
}

// reanalyse has the wear judged with the given flags, by something added to it.
func (w *ward) reanalyse(t *testing.T, flags ...string) {
	t.Helper()
	w.judged(t, wear.ThisWeek, flags...)
}

func (w *ward) judged(t *testing.T, tier wear.Tier, flags ...string) {
	t.Helper()
	in, err := w.WearInputs(ctx, w.wear)
	must(t, err)
	must(t, w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{storetest.Verdict(in.Readings[0].At, tier, 4, flags...)}))
}

// Every outcome: refused while what it asks for is missing, then the wear is
// off the round and what must follow is there.
func TestEveryOutcome(t *testing.T) {
	for _, rule := range store.Rules() {
		t.Run(string(rule.Kind), func(t *testing.T) {
			w := newWard(t, wear.FlagAbove7_8)
			o := w.outcome(rule.Kind)
			who := w.nurse
			if rule.Barred([]wear.Flag{{Tier: wear.ThisMonth}}) != "" {
				who, o.Reason = w.clinician, "a known cause"
			}
			_, err := w.RecordOutcome(ctx, who, o)
			wants(t, err, store.Conflict, "Claim this wear first")
			w.claim(t, w.other, w.wear)
			_, err = w.RecordOutcome(ctx, who, o)
			wants(t, err, store.Conflict, "Mavo has this wear")
			must(t, w.Release(ctx, w.other, w.wear))
			if rule.Kind == store.CouldNotReach {
				w.claim(t, who, w.wear)
				_, err = w.RecordOutcome(ctx, who, o)
				wants(t, err, store.Conflict, "0 of 3 attempts")
				must(t, w.Release(ctx, who, w.wear))
				who = w.clinician
			}
			w.claim(t, who, w.wear)
			if rule.Reason {
				short := o
				short.Reason = " "
				_, err = w.RecordOutcome(ctx, who, short)
				wants(t, err, store.Invalid, rule.Words)
			}
			switch {
			case !o.Recall.IsZero():
				short := o
				short.Recall = time.Time{}
				_, err = w.RecordOutcome(ctx, who, short)
				wants(t, err, store.Invalid, "date")
				short.Recall = w.clock.Now().Add(-2 * day)
				_, err = w.RecordOutcome(ctx, who, short)
				wants(t, err, store.Invalid, "passed")
			case rule.Recall == "":
				more := o
				more.Recall = w.clock.Now().Add(day)
				_, err = w.RecordOutcome(ctx, who, more)
				wants(t, err, store.Invalid, "nothing comes back")
			}
			if v := w.review(t); !v.Open || len(v.Outcomes) != 0 || len(v.Recalls) != 0 {
				t.Fatalf("what was refused left something: %+v", v)
			}
			got, err := w.RecordOutcome(ctx, who, o)
			must(t, err)
			v := w.review(t)
			if v.Open || v.Claim != nil || len(v.Outcomes) != 1 || v.Outcomes[0].Kind != rule.Kind || !v.Outcomes[0].InForce() ||
				v.Outcomes[0].By.ID != who.UserID || v.Outcomes[0].Tier != wear.ThisMonth || len(v.Outcomes[0].Flags) != 1 || v.Outcomes[0].ID != got.ID {
				t.Errorf("review: %+v", v)
			}
			if want := !o.Recall.IsZero(); (len(v.Recalls) == 1) != want || want &&
				(v.Recalls[0].Kind != rule.Recall || v.Recalls[0].State != store.RecallDue || !v.Recalls[0].DueAt.Equal(o.Recall) || v.Recalls[0].OutcomeID != got.ID) {
				t.Errorf("recalls: %+v", v.Recalls)
			}
			_, err = w.RecordOutcome(ctx, who, o)
			wants(t, err, store.Conflict, "left the round")
		})
	}
	w := newWard(t)
	_, err := w.RecordOutcome(ctx, w.nurse, store.NewOutcome{WearID: w.wear, Kind: "cured"})
	wants(t, err, store.Invalid, "no such outcome")
}

// Which outcomes a nurse may record where a flag stands.
func TestBars(t *testing.T) {
	dip := wear.Flag{Code: wear.FlagDipSymptom, Tier: wear.Routine}
	today, week, month := wear.Flag{Tier: wear.Today}, wear.Flag{Tier: wear.ThisWeek}, wear.Flag{Tier: wear.ThisMonth}
	doubt, routine := wear.Flag{Tier: wear.CannotTell}, wear.Flag{Tier: wear.Routine}
	for kind, barred := range map[store.OutcomeKind][]wear.Flag{
		store.ToldWell:       {dip, today, week, month, doubt},
		store.AdviceGiven:    {today, week},
		store.TestsOrdered:   {},
		store.Appointment:    {},
		store.UrgentContact:  {},
		store.SensorReplaced: {today, week},
		store.WearAgain:      {today, week},
		store.CouldNotReach:  {today},
		store.OffPathway:     {today, week},
	} {
		rule, ok := store.RuleOf(kind)
		if !ok {
			t.Fatalf("no rule for %s", kind)
		}
		for _, f := range []wear.Flag{dip, today, week, month, doubt, routine} {
			if got, want := rule.Barred([]wear.Flag{routine, f}) != "", slices.Contains(barred, f); got != want {
				t.Errorf("%s with %+v: barred %v, want %v", kind, f, got, want)
			}
		}
		if got := rule.Barred(nil); got != "" {
			t.Errorf("%s without a flag: %q", kind, got)
		}
	}
	if len(store.Rules()) != 9 {
		t.Errorf("%d outcomes, and this table has 9", len(store.Rules()))
	}
	if f := store.Standing(&wear.Report{Days: []wear.Day{{}, {DipWithSymptom: true}}}); len(f) != 1 || f[0].Code != wear.FlagDipSymptom {
		t.Errorf("a day with a dip and a symptom: %+v", f)
	}
}

func TestDipWithSymptomNeedsAClinician(t *testing.T) {
	w := newWard(t)
	at := w.row(t, w.wear).Start.Add(time.Hour).Unix()
	w.claim(t, w.nurse, w.wear)
	_, err := w.RecordCall(ctx, w.nurse, w.wear, store.CallSheet{Answers: []store.CallAnswer{{Asked: at, Felt: store.FeltYes, At: at, Words: "shaky", Relieved: store.FeltYes}}})
	must(t, err)
	well := w.outcome(store.ToldWell)
	w.reanalyse(t, wear.FlagDipSymptom)
	well.Reason = "it passed"
	_, err = w.RecordOutcome(ctx, w.nurse, well)
	wants(t, err, store.Forbidden, "clinician")
	if !w.review(t).Open {
		t.Fatal("the wear left the round")
	}
	must(t, w.Release(ctx, w.nurse, w.wear))
	w.claim(t, w.clinician, w.wear)
	_, err = w.RecordOutcome(ctx, w.clinician, w.outcome(store.ToldWell))
	wants(t, err, store.Invalid, "why this is enough, although the wear has a dip with a symptom")
	_, err = w.RecordOutcome(ctx, w.clinician, well)
	must(t, err)
	// A nurse may not correct another outcome to it either.
	must(t, w.Reopen(ctx, w.clinician, w.wear, "another look"))
	w.claim(t, w.nurse, w.wear)
	o, err := w.RecordOutcome(ctx, w.nurse, w.outcome(store.TestsOrdered))
	must(t, err)
	_, err = w.CorrectOutcome(ctx, w.nurse, o.ID, well)
	wants(t, err, store.Forbidden, "clinician")
	if v := w.review(t); len(v.Recalls) != 1 || v.Recalls[0].State != store.RecallDue {
		t.Errorf("the refused correction cancelled a recall: %+v", v.Recalls)
	}
}

func TestCouldNotReach(t *testing.T) {
	w := newWard(t)
	o := w.outcome(store.CouldNotReach)
	w.claim(t, w.nurse, w.wear)
	_, err := w.RecordContact(ctx, w.nurse, w.wear, store.NewContact{Means: store.ByTelephone})
	wants(t, err, store.Invalid, "try again")
	_, err = w.RecordContact(ctx, w.nurse, w.wear, store.NewContact{Means: "shouting", NextTry: w.clock.Now()})
	wants(t, err, store.Invalid, "how")
	for n := range 3 {
		next := w.clock.Now().Add(2 * day)
		_, err := w.RecordContact(ctx, w.nurse, w.wear, store.NewContact{Means: store.ByTelephone, Note: "rang out", NextTry: next})
		must(t, err)
		if r := w.row(t, w.wear); r.Attempts != n+1 || !r.NextTry.Equal(next) {
			t.Errorf("after %d attempts the round says %d, next %v", n+1, r.Attempts, r.NextTry)
		}
		_, err = w.RecordOutcome(ctx, w.nurse, o)
		wants(t, err, store.Conflict, map[bool]string{true: "attempts are recorded", false: "Send the patient a letter"}[n < 2])
		w.clock.Advance(2 * day)
		w.claim(t, w.nurse, w.wear)
	}
	id, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "not_reached", Text: "Please ring us."})
	must(t, err)
	_, err = w.RecordOutcome(ctx, w.nurse, o)
	wants(t, err, store.Conflict, "Send the patient a letter") // it lies there unsent
	must(t, w.SendLetter(ctx, w.nurse, id, "Please ring us soon.", store.ByPost))
	o.Attempts = 4
	_, err = w.RecordOutcome(ctx, w.nurse, o)
	wants(t, err, store.Conflict, "3 of 4")
	o.Attempts = 3
	_, err = w.RecordOutcome(ctx, w.nurse, o)
	must(t, err)
	// What was tried before counts no more for a wear that came back.
	w.clock.Advance(time.Minute)
	must(t, w.Reopen(ctx, w.nurse, w.wear, "rang back"))
	w.claim(t, w.nurse, w.wear)
	_, err = w.RecordOutcome(ctx, w.nurse, o)
	wants(t, err, store.Conflict, "0 of 3")
}

// A letter from before an outcome is none that was written since, whatever the
// clock says.
func TestUndoOutcomeAfterALetterFromBefore(t *testing.T) {
	w := newWard(t)
	w.claim(t, w.nurse, w.wear)
	must(t, second(w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "tests", Text: "Dear patient"})))
	made, err := w.RecordOutcome(ctx, w.nurse, w.outcome(store.AdviceGiven))
	must(t, err)
	must(t, w.UndoOutcome(ctx, w.nurse, made.ID))
}

func TestUndoOutcome(t *testing.T) {
	tests := []struct {
		name  string
		who   func(*ward) store.Actor
		since func(*testing.T, *ward)
		code  store.Code
		words string
	}{
		{"at once", nil, nil, "", ""},
		{"at the last moment", nil, func(_ *testing.T, w *ward) { w.clock.Advance(store.UndoTime) }, "", ""},
		{"too late", nil, func(_ *testing.T, w *ward) { w.clock.Advance(store.UndoTime + time.Second) }, store.Conflict, "too late"},
		{"by somebody else", func(w *ward) store.Actor { return w.clinician }, nil, store.Forbidden, "Only the person"},
		{"after a letter", nil, func(t *testing.T, w *ward) {
			_, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "tests", Text: "Dear patient"})
			must(t, err)
		}, store.Conflict, "letter"},
		{"after a letter that was thrown away", nil, func(t *testing.T, w *ward) {
			id, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "tests", Text: "Dear patient"})
			must(t, err)
			must(t, w.DiscardLetter(ctx, w.nurse, id))
		}, "", ""},
		{"after a correction", nil, func(t *testing.T, w *ward) {
			o := w.outcome(store.AdviceGiven)
			_, err := w.CorrectOutcome(ctx, w.other, w.review(t).Outcomes[0].ID, o)
			must(t, err)
		}, store.Conflict, "does not stand alone"},
		{"twice", nil, func(t *testing.T, w *ward) {
			must(t, w.UndoOutcome(ctx, w.nurse, w.review(t).Outcomes[0].ID))
		}, store.Conflict, "does not stand alone"},
		{"after it came back", nil, func(t *testing.T, w *ward) { must(t, w.Reopen(ctx, w.nurse, w.wear, "rang back")) }, store.Conflict, "does not stand alone"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			w := newWard(t)
			w.claim(t, w.nurse, w.wear)
			o, err := w.RecordOutcome(ctx, w.nurse, w.outcome(store.TestsOrdered))
			must(t, err)
			if test.since != nil {
				test.since(t, w)
			}
			who := w.nurse
			if test.who != nil {
				who = test.who(w)
			}
			before := w.review(t)
			err = w.UndoOutcome(ctx, who, o.ID)
			if test.code != "" {
				wants(t, err, test.code, test.words)
				if after := w.review(t); after.Open != before.Open || after.Outcomes[0].UndoneAt != before.Outcomes[0].UndoneAt {
					t.Error("a refused undo changed something")
				}
				return
			}
			must(t, err)
			v := w.review(t)
			if !v.Open || v.Claim == nil || v.Claim.Holder.ID != w.nurse.UserID || v.Outcomes[0].InForce() || v.Recalls[0].State != store.RecallCancelled {
				t.Errorf("after: %+v", v)
			}
			_, err = w.RecordOutcome(ctx, w.nurse, w.outcome(store.AdviceGiven))
			must(t, err)
		})
	}
}

func TestCorrectOutcome(t *testing.T) {
	w := newWard(t)
	w.claim(t, w.nurse, w.wear)
	first, err := w.RecordOutcome(ctx, w.nurse, w.outcome(store.TestsOrdered))
	must(t, err)
	w.clock.Advance(day)
	again := w.outcome(store.WearAgain)
	_, err = w.CorrectOutcome(ctx, w.clinician, first.ID, again)
	wants(t, err, store.Invalid, "Say why")
	again.Reason = "the wrong button"
	second, err := w.CorrectOutcome(ctx, w.clinician, first.ID, again)
	must(t, err)
	v := w.review(t)
	if len(v.Outcomes) != 2 || v.Open || v.Outcomes[0].InForce() || v.Outcomes[0].CorrectedBy != second.ID || v.Outcomes[1].Corrects != first.ID || !v.Outcomes[1].InForce() {
		t.Errorf("outcomes: %+v", v.Outcomes)
	}
	states := map[store.RecallKind]store.RecallState{}
	for _, r := range v.Recalls {
		states[r.Kind] = r.State
	}
	if states[store.RecallResult] != store.RecallCancelled || states[store.RecallNewWear] != store.RecallDue {
		t.Errorf("recalls: %+v", states)
	}
	_, err = w.CorrectOutcome(ctx, w.nurse, first.ID, w.outcome(store.AdviceGiven))
	wants(t, err, store.Conflict, "corrected already")
	must(t, w.Reopen(ctx, w.nurse, w.wear, "rang back"))
	wants(t, w.Reopen(ctx, w.nurse, w.wear, "again"), store.Conflict, "on the round already")
	_, err = w.CorrectOutcome(ctx, w.nurse, second.ID, w.outcome(store.AdviceGiven))
	wants(t, err, store.Conflict, "on the round again")
}

func TestAdditions(t *testing.T) {
	w := newWard(t)
	from := w.row(t, w.wear).Start
	at := from.Add(3 * time.Hour).Unix()
	_, before, err := w.Trace(ctx, w.wear)
	must(t, err)
	shaky := wear.Event{At: at, Minutes: 20, Kind: wear.Symptom, Label: "shaky, better after food"}
	stick := wear.Event{At: at + 60, Kind: wear.Fingerstick, Value: wear.Reading{At: at + 60, Num: 38, Scale: 1, Unit: wear.MmolL}}

	_, err = w.RecordCall(ctx, w.nurse, w.wear, store.CallSheet{Answers: []store.CallAnswer{
		{Asked: at - 600, Felt: store.FeltYes, At: at, Words: " shaky ", Minutes: 20, Relieved: store.FeltYes},
		{Asked: at + 7200, Felt: store.FeltNo},
		{Asked: at + 9000, Felt: store.FeltUnsure},
	}})
	must(t, err)
	must(t, w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{stick}))
	over := store.NewOverride{WearID: w.wear, From: from, To: from.Add(time.Hour), Reason: "slept on it"}
	overID, err := w.AddOverride(ctx, w.nurse, over)
	must(t, err)

	has := func(events []wear.Event, e wear.Event) (n int) {
		for _, x := range events {
			if x == e {
				n++
			}
		}
		return n
	}
	_, events, err := w.Trace(ctx, w.wear)
	must(t, err)
	if len(events) != len(before)+2 || has(events, shaky) != 1 || has(events, stick) != 1 {
		t.Errorf("%d events, %d before", len(events), len(before))
	}
	for i := 1; i < len(events); i++ {
		if events[i].At < events[i-1].At {
			t.Fatal("the events are not in time order")
		}
	}
	in, err := w.WearInputs(ctx, w.wear)
	must(t, err)
	if len(in.Events)+len(in.Added) != len(events) || len(in.Overrides) != 1 || in.Overrides[0].Believe || in.Patient.ID != w.patient.ID || in.SensorKind != "A" {
		t.Errorf("inputs: %d events, %+v", len(in.Events), in.Overrides)
	}
	v := w.review(t)
	if len(v.Calls) != 1 || len(v.Calls[0].Answers) != 3 || len(v.Events) != 2 || len(v.Contacts) != 1 || !v.Contacts[0].Reached || v.Events[0].CallID != v.Calls[0].ID {
		t.Errorf("review: %+v", v)
	}

	must(t, w.WithdrawEvent(ctx, w.nurse, v.Events[1].ID, "another day"))
	in, err = w.WearInputs(ctx, w.wear)
	must(t, err)
	if has(in.Added, stick) != 0 || has(in.Added, shaky) != 1 {
		t.Error("what was withdrawn still counts")
	}
	w.judged(t, wear.Today)
	if r := w.row(t, w.wear); r.Priority.Tier != wear.Today || !r.DueAt.Equal(r.ReceivedAt) {
		t.Errorf("place: %s, due %v", r.Priority.Tier, r.DueAt)
	}
	must(t, w.WithdrawOverride(ctx, w.nurse, overID, "the wearer says no"))
	wants(t, w.WithdrawOverride(ctx, w.nurse, overID, "again"), store.Conflict, "already")

	for name, err := range map[string]error{
		"no kind":      w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{{At: at, Kind: "mood"}}),
		"outside":      w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{{At: at + 30*86400, Kind: wear.Symptom}}),
		"no value":     w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{{At: at, Kind: wear.Fingerstick}}),
		"nothing":      w.AddEvents(ctx, w.nurse, w.wear, nil),
		"no words":     second(w.RecordCall(ctx, w.nurse, w.wear, store.CallSheet{Answers: []store.CallAnswer{{Felt: store.FeltYes, At: at}}})),
		"no answer":    second(w.RecordCall(ctx, w.nurse, w.wear, store.CallSheet{Answers: []store.CallAnswer{{At: at}}})),
		"ends first":   second(w.AddOverride(ctx, w.nurse, store.NewOverride{WearID: w.wear, From: from, To: from.Add(-1), Reason: "lay on it"})),
		"no reason":    second(w.AddOverride(ctx, w.nurse, store.NewOverride{WearID: w.wear, From: from, To: from})),
		"another time": second(w.AddOverride(ctx, w.nurse, store.NewOverride{WearID: w.wear, From: from.Add(-9 * day), To: from.Add(-8 * day), Reason: "lay on it"})),
	} {
		if store.CodeOf(err) != store.Invalid || err == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	w.claim(t, w.other, w.wear)
	wants(t, w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{stick}), store.Conflict, "Mavo has this wear")
}

func second[T any](_ T, err error) error { return err }

// An event that somebody added stays theirs when another file joins the wear,
// and can still be taken back.
func TestAddedEventSurvivesAJoin(t *testing.T) {
	w := newWard(t)
	shaky := wear.Event{At: w.row(t, w.wear).Start.Add(time.Hour).Unix(), Kind: wear.Symptom, Label: "shaky"}
	_, before, err := w.Trace(ctx, w.wear)
	must(t, err)
	must(t, w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{shaky}))
	readings, events, err := w.FileTrace(ctx, w.wear)
	must(t, err)
	f := w.again(readings, events)
	if got := storetest.File(t, w.Store, f); got != w.wear {
		t.Fatalf("joined into %d", got)
	}
	_, events, err = w.Trace(ctx, w.wear)
	must(t, err)
	if len(events) != len(before)+1 {
		t.Fatalf("%d events after the join, want %d", len(events), len(before)+1)
	}
	must(t, w.WithdrawEvent(ctx, w.nurse, w.review(t).Events[0].ID, "another day"))
	if _, events, err = w.Trace(ctx, w.wear); err != nil || len(events) != len(before) {
		t.Errorf("%d events after it was taken back, want %d: %v", len(events), len(before), err)
	}
}

// Whatever puts a wear off ends within what its tier allows, whoever asks.
func TestOutcomesArePutOffWithinBounds(t *testing.T) {
	for _, rule := range store.Rules() {
		if rule.Recall == "" {
			continue
		}
		for _, tier := range []wear.Tier{wear.Today, wear.ThisMonth} {
			w := newWard(t)
			w.judged(t, tier, wear.FlagAbove7_8)
			w.claim(t, w.clinician, w.wear)
			o := w.outcome(rule.Kind)
			o.Reason = "as agreed"
			o.Recall = w.clock.Now().AddDate(0, 0, rule.Within(tier)+1)
			wants(t, second(w.RecordOutcome(ctx, w.clinician, o)), store.Invalid, "too far away")
			o.Recall = w.clock.Now().AddDate(0, 0, rule.Within(tier))
			must(t, second(w.RecordOutcome(ctx, w.clinician, o)))
			if rule.Days > rule.Within(tier) {
				t.Errorf("%s proposes %d days and takes %d", rule.Kind, rule.Days, rule.Within(tier))
			}
			r := w.recall(t)
			wants(t, w.MoveRecall(ctx, w.nurse, r.ID, w.clock.Now().AddDate(0, 0, rule.Within(tier)+1), "away", 0), store.Invalid, "too far away")
			wants(t, second(w.ContactRecall(ctx, w.nurse, r.ID, store.NewContact{Means: store.ByMessage, NextTry: w.clock.Now().AddDate(0, 0, 900)})), store.Invalid, "too far away")
		}
	}
}

// What a clinician decides a clinician puts off, and not for long.
func TestADecisionIsAClinicians(t *testing.T) {
	w := newWard(t)
	n := w.hba1c(0)
	n.Value = "97"
	must(t, second(w.AddResult(ctx, w.nurse, n)))
	r := w.recall(t)
	if r.Kind != store.RecallDecide {
		t.Fatalf("%+v", r)
	}
	wants(t, w.MoveRecall(ctx, w.nurse, r.ID, w.clock.Now().Add(day), "away", 0), store.Forbidden, "clinician")
	wants(t, w.MoveRecall(ctx, w.clinician, r.ID, w.clock.Now().AddDate(3, 0, 0), "away", 0), store.Invalid, "too far away")
	must(t, w.MoveRecall(ctx, w.clinician, r.ID, w.clock.Now().Add(day), "away", 0))
}

// Nobody tells a patient that all is well, by an outcome or by the sheet, while a
// file is held that may change the wear; once it waits no more, anybody may.
func TestOutcomeWaitsForHeldFiles(t *testing.T) {
	offers := func(code, patient string) wear.Question {
		return wear.Question{Code: code, Text: "Whose is this?", Choices: []wear.Choice{{Value: "P-none"}, {Value: patient}}}
	}
	overlap := wear.Question{Code: "overlap", Text: "168 readings are the same and 32 differ. Is it the same sensor?", Choices: []wear.Choice{{Value: "one_sensor"}, {Value: "two_sensors"}}}
	for name, x := range map[string]struct {
		hold  func(w *ward, h *store.Holding)
		after func(w *ward, file int64) error
		bars  bool
	}{
		"a file of the patient": {bars: true, hold: func(w *ward, h *store.Holding) {
			h.PatientID, h.Questions = w.patient.ID, []wear.Question{overlap}
		}},
		"the patient is a choice": {bars: true, hold: func(w *ward, h *store.Holding) {
			h.Questions = []wear.Question{unitQuestion(), offers("patient", w.patient.Code)}
		}},
		"one of the people in it may be the patient": {bars: true, hold: func(w *ward, h *store.Holding) {
			h.Questions = []wear.Question{offers("person:#2", w.patient.Code)}
		}},
		"it looks like the patient's": {bars: true, hold: func(w *ward, h *store.Holding) {
			h.Questions = []wear.Question{offers(store.WrongPerson, w.patient.Code)}
		}},
		"one of the people in it is the patient": {bars: true,
			hold: func(w *ward, h *store.Holding) {
				h.Questions = []wear.Question{offers("person:#1", ""), offers("person:#2", "")}
			},
			after: func(w *ward, file int64) error {
				return w.Answer(ctx, file, map[string]string{"person:#1": strings.ToLower(w.patient.Code)})
			}},
		"somebody else's":         {hold: func(w *ward, h *store.Holding) { h.PatientID = storetest.AddPatient(t, w.Store, 2).ID }},
		"a unit is not a patient": {hold: func(w *ward, h *store.Holding) { h.Questions = []wear.Question{offers("unit", w.patient.Code)} }},
		"nobody's":                {hold: func(*ward, *store.Holding) {}},
		"its own file, read again": {bars: true, after: func(w *ward, _ int64) error {
			f, err := w.Wear(ctx, w.wear)
			must(t, err)
			return second(w.Contest(ctx, f.Files[0].ID, "P-none"))
		}},
		"refused": {hold: func(w *ward, h *store.Holding) { h.PatientID = w.patient.ID }, after: func(w *ward, _ int64) error {
			h := holding(77, w.clock.Now())
			return second(w.RefuseFile(ctx, h.Drop, h.SHA256))
		}},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWard(t)
			w.claim(t, w.nurse, w.wear)
			must(t, second(w.RecordOutcome(ctx, w.nurse, w.outcome(store.AdviceGiven))))
			w.wear = storetest.File(t, w.Store, storetest.Filing(9, w.patient.ID, w.clock.Now().Add(60*day), 14, wear.Routine, 0))
			w.clock.Advance(60 * day)
			h := holding(77, w.clock.Now(), unitQuestion())
			var file int64
			if x.hold != nil {
				x.hold(w, &h)
				var err error
				file, err = w.Hold(ctx, h)
				must(t, err)
			}
			if x.after != nil {
				must(t, x.after(w, file))
			}
			list, err := w.RoutineSheet(ctx, w.nurse, w.clock.Now(), 20)
			must(t, err)
			if onIt := len(list.Rows) == 1; onIt == x.bars || (list.Against[wear.ReasonWaiting] == 1) != x.bars {
				t.Errorf("%d on the sheet, others %v", len(list.Rows), list.Against)
			}
			_, signed, err := w.SignSheet(ctx, w.nurse, []store.SheetLine{{WearID: w.wear, Evidence: storetest.Seen(t, w.Store, w.wear), Letter: store.NewLetter{Kind: "unremarkable", Text: "Dear", Named: storetest.Named(t, w.Store, w.patient.ID)}}})
			must(t, err)
			if !x.bars {
				if signed[0].Refused != "" {
					t.Errorf("refused: %s", signed[0].Refused)
				}
				return
			}
			if !strings.Contains(signed[0].Refused, "A file that may change this waits for an answer") {
				t.Errorf("signed: %+v", signed)
			}
			for _, who := range []store.Actor{w.nurse, w.clinician} {
				w.claim(t, who, w.wear)
				o := w.outcome(store.ToldWell)
				o.Reason = "talked through"
				_, err = w.RecordOutcome(ctx, who, o)
				wants(t, err, store.Conflict, "a file that may change it and waits for an answer")
				must(t, w.Release(ctx, who, w.wear))
			}
		})
	}
}
