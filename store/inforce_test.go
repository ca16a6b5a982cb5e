package store_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// closed is a ward whose wear was told that all is well.
func closed(t *testing.T) *ward {
	t.Helper()
	w := newWard(t)
	w.claim(t, w.clinician, w.wear)
	o := w.outcome(store.ToldWell)
	o.Reason = "a known cause"
	_, err := w.RecordOutcome(ctx, w.clinician, o)
	must(t, err)
	w.clock.Advance(3 * day)
	return w
}

// stands is where a wear stands, and what the year says of it.
type stands struct {
	Open       bool
	Due        int64
	Next, Back int64
	Tier       wear.Tier
	First      wear.Tier
	Flags      int
	Recalls    []store.RecallState
}

func (w *ward) stands(t *testing.T) (s stands) {
	t.Helper()
	_, reader := w.Pools()
	must(t, reader.QueryRow(`SELECT open, due_at, coalesce(next_try, 0), back_at, tier, first_tier, (SELECT count(*) FROM wear_flags WHERE wear_id = wears.id)
		FROM wears WHERE id = ?`, w.wear).Scan(&s.Open, &s.Due, &s.Next, &s.Back, &s.Tier, &s.First, &s.Flags))
	p, err := w.Recalls(ctx, store.RecallQuery{PatientID: w.patient.ID, Closed: true, Limit: 200})
	must(t, err)
	for _, r := range p.Rows {
		if r.Kind == store.RecallDecide && r.State == store.RecallCancelled {
			continue // kept on record, and on nobody's list
		}
		s.Recalls = append(s.Recalls, r.State)
	}
	return s
}

func (w *ward) stick(t *testing.T, num int64) {
	t.Helper()
	in, err := w.WearInputs(ctx, w.wear)
	must(t, err)
	at := in.Readings[300].At
	must(t, w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{{At: at, Kind: wear.Fingerstick, Value: wear.Reading{At: at, Num: num, Scale: 1, Unit: wear.MmolL}}}))
}

// A finding that somebody adds to a closed wear brings it back in the same
// transaction, with what was known and what is new; taken back, all is as it
// was.
func TestClosedWearComesBack(t *testing.T) {
	w := closed(t)
	before := w.stands(t)
	w.judged(t, wear.Today, wear.FlagVeryLow)
	if now := w.stands(t); !now.Open || now.Tier != wear.Today || now.Due != w.clock.Now().Unix() {
		t.Errorf("a new finding for today: %+v", now)
	}
	rows, err := w.LogRows(ctx, store.LogQuery{Object: "wear", ObjectID: w.wear, Action: string(store.ComesBack), Limit: 5})
	if must(t, err); len(rows) != 1 || rows[0].Reason != "this_month to today" {
		t.Errorf("the log: %+v", rows)
	}
	w.clock.Advance(2 * day)
	must(t, w.WithdrawEvent(ctx, w.nurse, w.review(t).Events[0].ID, "another patient's"))
	if diff := cmp.Diff(before, w.stands(t)); diff != "" {
		t.Errorf("taken back (-before +after):\n%s", diff)
	}
	// What changes nothing that matters leaves it closed.
	w.judged(t, wear.ThisMonth)
	if now := w.stands(t); now.Open {
		t.Errorf("the same judgement: %+v", now)
	}
}

// A real fingerstick of 1.9 through the real engine.
func TestLowFingerstickOnAClosedWear(t *testing.T) {
	w := closed(t)
	w.stick(t, 19)
	if now := w.stands(t); !now.Open || now.Tier != wear.Today {
		t.Errorf("a fingerstick of 1.9 on a closed wear: %+v", now)
	}
}

// A reason is words, wherever one is asked for.
func TestReasonsAreWords(t *testing.T) {
	w := newWard(t)
	w.claim(t, w.clinician, w.wear)
	now := w.clock.Now()
	told, tests := w.outcome(store.AdviceGiven), w.outcome(store.TestsOrdered)
	for what, act := range map[string]func(reason string) error{
		"hand over": func(s string) error {
			return second(w.HandOver(ctx, w.nurse, w.wear, store.NewHandover{To: store.RoleClinician, Reason: s}))
		},
		"take over": func(s string) error { return second(w.TakeOver(ctx, w.nurse, w.wear, s)) },
		"reopen":    func(s string) error { return w.Reopen(ctx, w.nurse, w.wear, s) },
		"override": func(s string) error {
			return second(w.AddOverride(ctx, w.nurse, store.NewOverride{WearID: w.wear, From: now, To: now, Reason: s}))
		},
		"event":           func(s string) error { return w.WithdrawEvent(ctx, w.nurse, 1, s) },
		"answer":          func(s string) error { return w.WithdrawAnswer(ctx, w.nurse, 1, 1, s) },
		"word":            func(s string) error { return w.WithdrawOverride(ctx, w.nurse, 1, s) },
		"words":           func(s string) error { return w.WithdrawRead(ctx, w.nurse, 1, s) },
		"red flag":        func(s string) error { return w.WithdrawRedFlag(ctx, w.nurse, 1, s) },
		"result":          func(s string) error { return w.WithdrawResult(ctx, w.nurse, 1, s) },
		"recall moved":    func(s string) error { return w.MoveRecall(ctx, w.nurse, 1, now, s, 0) },
		"recall done":     func(s string) error { return w.CloseRecall(ctx, w.nurse, 1, s, 0) },
		"recall given up": func(s string) error { return w.CancelRecall(ctx, w.nurse, 1, s, 0) },
		"wear moved": func(s string) error {
			return second(w.MoveWear(ctx, w.nurse, store.NewMove{WearID: w.wear, To: w.patient.ID, Reason: s}))
		},
		"merge undone": func(s string) error { return w.UndoMerge(ctx, w.lead, 1, s) },
		"recipe":       func(s string) error { return w.Withdraw(store.As(ctx, w.nurse), 1, s) },
		"tests":        func(s string) error { tests.Reason = s; return second(w.RecordOutcome(ctx, w.clinician, tests)) },
		"advice":       func(s string) error { told.Reason = s; return second(w.RecordOutcome(ctx, w.clinician, told)) },
	} {
		for _, none := range []string{"", ".", " x ", "?!", "12"} {
			if err := act(none); store.CodeOf(err) != store.Invalid {
				t.Errorf("%s because %q: %v", what, none, err)
			}
		}
	}
}

// Each answer of a call can be taken back, by itself or by the event that it
// made: the wear is then judged and stands as though it had never been given.
func TestAnswersAreTakenBack(t *testing.T) {
	for _, w := range []*ward{newWard(t), closed(t)} {
		evidence := func() int64 { return storetest.Seen(t, w.Store, w.wear) }
		in, err := w.WearInputs(ctx, w.wear)
		must(t, err)
		none, felt, event := in.Readings[100].At, in.Readings[300].At, in.Readings[500].At
		before, was := w.stands(t), evidence()
		call, err := w.RecordCall(ctx, w.nurse, w.wear, store.CallSheet{Answers: []store.CallAnswer{
			{Asked: none, Felt: store.FeltNo}, {Asked: felt, Felt: store.FeltYes, At: felt + 60, Words: "fainted"}, {Asked: event, Felt: store.FeltYes, At: event + 60, Words: "shaky"},
		}})
		must(t, err)
		if now := w.stands(t); now.Tier == before.Tier {
			t.Fatalf("the answers change nothing: %+v", now)
		}
		w.clock.Advance(day)
		for _, asked := range []int64{none, felt} {
			must(t, w.WithdrawAnswer(ctx, w.nurse, call, asked, "asked about another day"))
			if err := w.WithdrawAnswer(ctx, w.nurse, call, asked, "asked about another day"); store.CodeOf(err) != store.Conflict {
				t.Errorf("taken back twice: %v", err)
			}
		}
		rows, err := w.LogRows(ctx, store.LogQuery{Object: "wear", ObjectID: w.wear, Action: "withdraw an answer", Limit: 5})
		if must(t, err); len(rows) != 2 || rows[len(rows)-1].Reason != "asked about another day" {
			t.Errorf("the log: %+v", rows)
		}
		if err := w.WithdrawAnswer(ctx, w.nurse, call, none+1, "asked about another day"); store.CodeOf(err) != store.NotFound {
			t.Errorf("what was never answered: %v", err)
		}
		must(t, w.WithdrawEvent(ctx, w.nurse, w.review(t).Events[1].ID, "another patient's"))
		if err := w.WithdrawAnswer(ctx, w.nurse, call, event, "another patient's"); store.CodeOf(err) != store.Conflict {
			t.Errorf("an answer of which the event was taken back still stands: %v", err)
		}
		if diff := cmp.Diff(before, w.stands(t)); diff != "" || evidence() != was {
			t.Errorf("taken back (-before +after), the evidence %v:\n%s", evidence() == was, diff)
		}
	}
}

// A wrong fact leaves neither a due day nor anything else behind.
func TestTakenBackFromAnOpenWear(t *testing.T) {
	w := newWard(t)
	before := w.stands(t)
	w.clock.Advance(10 * day)
	w.stick(t, 19)
	if now := w.stands(t); now.Tier != wear.Today {
		t.Errorf("a fingerstick of 1.9: %+v", now)
	}
	must(t, w.WithdrawEvent(ctx, w.nurse, w.review(t).Events[0].ID, "another patient's"))
	if diff := cmp.Diff(before, w.stands(t)); diff != "" {
		t.Errorf("taken back (-before +after):\n%s", diff)
	}
	r, err := w.PatientRecord(ctx, w.patient.ID)
	must(t, err)
	r.Context.Pregnant = true
	must(t, w.EditPatient(ctx, w.nurse, r))
	r, err = w.PatientRecord(ctx, w.patient.ID)
	must(t, err)
	r.Context.Pregnant = false
	must(t, w.EditPatient(ctx, w.nurse, r))
	if diff := cmp.Diff(before, w.stands(t)); diff != "" {
		t.Errorf("a box ticked and unticked (-before +after):\n%s", diff)
	}
}

// A date to try again comes back with an outcome that is undone.
func TestUndoKeepsTheNextTry(t *testing.T) {
	w := newWard(t)
	w.claim(t, w.clinician, w.wear)
	_, err := w.RecordContact(ctx, w.clinician, w.wear, store.NewContact{Means: store.ByTelephone, NextTry: w.clock.Now().Add(2 * day)})
	must(t, err)
	before := w.stands(t)
	w.clock.Advance(time.Minute)
	o := w.outcome(store.AdviceGiven)
	made, err := w.RecordOutcome(ctx, w.clinician, o)
	must(t, err)
	must(t, w.UndoOutcome(ctx, w.clinician, made.ID))
	if diff := cmp.Diff(before, w.stands(t)); diff != "" {
		t.Errorf("undone (-before +after):\n%s", diff)
	}
}

// handOut hands out a sensor of which the file is due in four weeks.
func (w *ward) handOut(t *testing.T) int64 {
	t.Helper()
	who, err := w.PatientRecord(ctx, w.patient.ID)
	must(t, err)
	id, _, err := w.HandOut(ctx, w.nurse, store.NewOut{Patient: who, GivenAt: w.clock.Now(), DueAt: w.clock.Now().Add(28 * day)})
	must(t, err)
	return id
}

// Nothing is put off for ever by putting it off a little, again and again: the
// last day for it is counted from when it was first for somebody.
func TestPuttingOffAddsUp(t *testing.T) {
	tests := map[string]struct {
		begin func(t *testing.T, w *ward) func(day time.Time) error
		most  int // days that it may come to in all
	}{
		"try of a wear": {func(t *testing.T, w *ward) func(time.Time) error {
			w.claim(t, w.nurse, w.wear)
			return func(day time.Time) error {
				return second(w.RecordContact(ctx, w.nurse, w.wear, store.NewContact{Means: store.ByTelephone, NextTry: day}))
			}
		}, 28},
		"handover": {func(t *testing.T, w *ward) func(time.Time) error {
			return func(day time.Time) error {
				return second(w.HandOver(ctx, w.nurse, w.wear, store.NewHandover{To: store.RoleClinician, Reason: "not now", DueAt: day}))
			}
		}, 28},
		"recall of an outcome": {func(t *testing.T, w *ward) func(time.Time) error {
			w.claim(t, w.clinician, w.wear)
			o := w.outcome(store.TestsOrdered)
			o.Reason = "HbA1c"
			made, err := w.RecordOutcome(ctx, w.clinician, o)
			must(t, err)
			r := w.recall(t)
			return func(day time.Time) error {
				o.Recall, o.Seen = day, storetest.Seen(t, w.Store, w.wear)
				now, err := w.CorrectOutcome(ctx, w.clinician, made.ID, o)
				if err != nil {
					return w.MoveRecall(ctx, w.nurse, r.ID, day, "away", 0)
				}
				made, r = now, w.recall(t)
				return nil
			}
		}, 42},
		"decision": {func(t *testing.T, w *ward) func(time.Time) error {
			n := w.hba1c(0)
			n.Value = "97"
			must(t, second(w.AddResult(ctx, w.nurse, n)))
			r := w.recall(t)
			return func(day time.Time) error { return w.MoveRecall(ctx, w.clinician, r.ID, day, "away", 0) }
		}, 1},
		"sensor that is out": {func(t *testing.T, w *ward) func(time.Time) error {
			out := w.handOut(t)
			return func(day time.Time) error { return w.MoveRecall(ctx, w.nurse, out, day, "away", 0) }
		}, 183},
		"try of a sensor that is out": {func(t *testing.T, w *ward) func(time.Time) error {
			out := w.handOut(t)
			return func(at time.Time) error {
				if err := second(w.ContactRecall(ctx, w.nurse, out, store.NewContact{Means: store.ByTelephone, NextTry: at})); err != nil {
					return err
				}
				return w.MoveRecall(ctx, w.nurse, out, at.Add(day), "away", 0) // its first day counts
			}
		}, 28 + 42},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			w := newWard(t)
			put := test.begin(t, w)
			begin := w.clock.Now()
			last := begin.AddDate(0, 0, test.most)
			for w.clock.Now().Before(last.AddDate(0, 0, -1)) {
				day := w.clock.Now().AddDate(0, 0, 7)
				if day.After(last) {
					wants(t, put(day), store.Invalid, "")
					day = last
				}
				if err := put(day); err != nil {
					t.Fatalf("put off until day %d: %v", wear.DayNumber(day)-wear.DayNumber(begin), err)
				}
				w.clock.Advance(6 * 24 * time.Hour)
			}
			w.clock.Advance(3 * 24 * time.Hour)
			wants(t, put(w.clock.Now().AddDate(0, 0, 4)), store.Invalid, "") // past any weekend
		})
	}
}

// Another try is no later than the wear is due.
func TestNextTryIsBounded(t *testing.T) {
	w := newWard(t)
	w.judged(t, wear.Today, wear.FlagVeryHigh)
	w.claim(t, w.nurse, w.wear)
	try := func(in time.Duration) error {
		return second(w.RecordContact(ctx, w.nurse, w.wear, store.NewContact{Means: store.ByTelephone, NextTry: w.clock.Now().Add(in)}))
	}
	wants(t, try(300*day), store.Invalid, "at the latest")
	wants(t, try(2*day), store.Invalid, "Tuesday 2 June")
	must(t, try(day))
}

// An outcome, a letter and the sheet of a call are refused, with the
// difference, where the wear is not what was looked at.
func TestActsOnWhatWasSeen(t *testing.T) {
	w := newWard(t)
	w.claim(t, w.clinician, w.wear)
	seen := storetest.Seen(t, w.Store, w.wear)
	letter, err := w.OpenLetter(ctx, w.clinician, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "unremarkable", Text: "There is nothing to do.", Seen: seen})
	must(t, err)
	must(t, w.Release(ctx, w.clinician, w.wear))
	w.judged(t, wear.Today, wear.FlagVeryLow)
	w.claim(t, w.clinician, w.wear)
	o := w.outcome(store.ToldWell)
	o.Seen, o.Reason = seen, "all well"
	_, err = w.RecordOutcome(ctx, w.clinician, o)
	wants(t, err, store.Conflict, "It was “This month” and is “Today”")
	o.Seen = 0
	_, err = w.Store.RecordOutcome(ctx, w.clinician, o)
	wants(t, err, store.Conflict, "looked at")
	wants(t, w.SendLetter(ctx, w.clinician, letter, "There is nothing to do.", store.ByPost), store.Conflict, "Throw it away")
	in, err := w.WearInputs(ctx, w.wear)
	must(t, err)
	at := in.Readings[0].At
	_, err = w.RecordCall(ctx, w.clinician, w.wear, store.CallSheet{Seen: seen, Answers: []store.CallAnswer{{Asked: at, Felt: store.FeltNo}}})
	wants(t, err, store.Conflict, "has changed")
	_, err = w.AddOverride(ctx, w.clinician, store.NewOverride{WearID: w.wear, Seen: seen, From: time.Unix(at, 0), To: time.Unix(at, 0), Reason: "lay on it"})
	wants(t, err, store.Conflict, "has changed")
	if v := w.review(t); !v.Open || len(v.Calls) != 0 || len(v.Overrides) != 0 {
		t.Errorf("something was saved: %+v", v)
	}
}

// All of a call is saved or nothing of it.
func TestCallIsWhole(t *testing.T) {
	w := newWard(t)
	in, err := w.WearInputs(ctx, w.wear)
	must(t, err)
	at := in.Readings[0].At
	sheet := store.CallSheet{
		Answers: []store.CallAnswer{{Asked: at, Felt: store.FeltYes, At: at, Words: "shaky"}},
		Events:  []wear.Event{{At: at + 60*86400, Kind: wear.Symptom, Label: "another day"}}, Note: "rang at noon",
	}
	_, err = w.RecordCall(ctx, w.nurse, w.wear, sheet)
	wants(t, err, store.Invalid, "outside the wear")
	if v := w.review(t); len(v.Calls)+len(v.Events)+len(v.Notes)+len(v.Contacts) != 0 {
		t.Errorf("half of a refused call is there: %+v", v)
	}
	sheet.Events = nil
	must(t, second(w.RecordCall(ctx, w.nurse, w.wear, sheet)))
	if v := w.review(t); len(v.Calls) != 1 || len(v.Events) != 1 || len(v.Notes) != 1 || len(v.Contacts) != 1 {
		t.Errorf("the call: %+v", v)
	}
}

// An abnormal result leaves a clinician a decision with a date, whatever list it
// was entered from; taken back, nobody has to decide.
func TestAbnormalResultLeavesADecision(t *testing.T) {
	for value, days := range map[string]int{"41": -1, "44": 28, "50": 5, "97": 0, ">60": 5} {
		t.Run(value, func(t *testing.T) {
			w := newWard(t)
			r := w.recallOf(t, store.TestsOrdered)
			before := w.stands(t)
			n := w.hba1c(r.ID)
			n.Value = value
			id, err := w.AddResult(ctx, w.nurse, n)
			must(t, err)
			open, err := w.Recalls(ctx, store.RecallQuery{PatientID: w.patient.ID, Limit: 10})
			must(t, err)
			if days < 0 {
				if len(open.Rows) != 0 {
					t.Errorf("a normal result leaves %+v", open.Rows)
				}
				return
			}
			if len(open.Rows) != 1 || open.Rows[0].Kind != store.RecallDecide || open.Rows[0].AboutResult != id || !open.Rows[0].DueAt.Equal(w.clock.Now().AddDate(0, 0, days)) {
				t.Fatalf("open: %+v", open.Rows)
			}
			wants(t, w.CloseRecall(ctx, w.nurse, open.Rows[0].ID, "seen", 0), store.Forbidden, "clinician")
			must(t, w.WithdrawResult(ctx, w.nurse, id, "another patient's"))
			if diff := cmp.Diff(before, w.stands(t)); diff != "" {
				t.Errorf("taken back (-before +after):\n%s", diff)
			}
		})
	}
}

// The recall of an outcome that was corrected meanwhile does not come back with
// a result that is taken back.
func TestWithdrawnResultOfACorrectedOutcome(t *testing.T) {
	w := newWard(t)
	r := w.recallOf(t, store.TestsOrdered)
	id, err := w.AddResult(ctx, w.nurse, w.hba1c(r.ID))
	must(t, err)
	_, err = w.CorrectOutcome(ctx, w.clinician, r.OutcomeID, w.outcome(store.OffPathway))
	must(t, err)
	must(t, w.WithdrawResult(ctx, w.nurse, id, "another patient's"))
	open, err := w.Recalls(ctx, store.RecallQuery{PatientID: w.patient.ID, Limit: 10})
	if must(t, err); len(open.Rows) != 0 {
		t.Errorf("open: %+v", open.Rows)
	}
}

// The same event in a file and added by hand is two facts: taking the added one
// back leaves that of the file, in whichever order they came.
func TestFileAndPersonSayTheSame(t *testing.T) {
	w := newWard(t)
	readings, events, err := w.FileTrace(ctx, w.wear)
	must(t, err)
	at := readings[100].At
	stick := wear.Event{At: at, Kind: wear.Fingerstick, Value: wear.Reading{At: at, Num: 52, Scale: 1, Unit: wear.MmolL}}
	must(t, w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{stick}))
	storetest.File(t, w.Store, w.again(readings, append(events, stick)))
	has := func() (n int) {
		_, all, err := w.Trace(ctx, w.wear)
		must(t, err)
		for _, e := range all {
			if e == stick {
				n++
			}
		}
		return n
	}
	if has() != 1 {
		t.Errorf("the same fingerstick is there %d times", has())
	}
	must(t, w.WithdrawEvent(ctx, w.nurse, w.review(t).Events[0].ID, "typed twice"))
	if has() != 1 {
		t.Errorf("taken back by hand, that of the file is there %d times", has())
	}
}

// A misnamed file closes the wrong person's recall; moved, it does not.
func TestMovedWearOpensTheRecallAgain(t *testing.T) {
	w := newWard(t)
	w.recallOf(t, store.WearAgain)
	before := w.stands(t)
	w.clock.Advance(60 * day)
	f := storetest.Filing(33, w.patient.ID, w.clock.Now(), 2, wear.Routine, 1)
	wrong := storetest.File(t, w.Store, f)
	if s := w.stands(t); s.Recalls[0] != store.RecallDone {
		t.Fatalf("the recall: %+v", s.Recalls)
	}
	other := storetest.AddPatient(t, w.Store, 2)
	f.PatientID, f.SHA256, f.Drop.Path = other.ID, storetest.Hash(34), "again.csv"
	f.Wears[0].WearID, f.Wears[0].Moves, f.Compared = wrong, true, []int64{wrong}
	storetest.File(t, w.Store, f)
	if diff := cmp.Diff(before, w.stands(t)); diff != "" {
		t.Errorf("moved away (-before +after):\n%s", diff)
	}
}

// A hand-over stands in the row with a date until one of those it was given to
// takes the wear.
func TestHandOver(t *testing.T) {
	w := newWard(t)
	w.claim(t, w.nurse, w.wear)
	_, err := w.HandOver(ctx, w.nurse, w.wear, store.NewHandover{To: store.RoleClinician, Reason: "dips I cannot judge", DueAt: w.clock.Now().Add(90 * day)})
	wants(t, err, store.Invalid, "at the latest")
	_, err = w.HandOver(ctx, w.nurse, w.wear, store.NewHandover{To: store.RoleClinician, Reason: "dips I cannot judge", DueAt: w.clock.Now().Add(2 * day)})
	must(t, err)
	if r := w.row(t, w.wear); r.HandedTo != store.RoleClinician || r.ClaimedBy.ID != 0 || r.HandedWhy != "dips I cannot judge" || !r.HandedDue.Equal(w.clock.Now().Add(2*day)) {
		t.Errorf("row: %+v", r)
	}
	w.claim(t, w.nurse, w.wear)
	if r := w.row(t, w.wear); r.HandedTo == "" {
		t.Error("who handed it over took it")
	}
	must(t, w.Release(ctx, w.nurse, w.wear))
	w.claim(t, w.lead, w.wear)
	if r := w.row(t, w.wear); r.HandedTo != "" || w.review(t).Handovers[0].Taken.ID != w.lead.UserID {
		t.Errorf("taken by the lead: %+v", r)
	}
}
