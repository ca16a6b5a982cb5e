package store_test

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// ward is a store with a patient, a wear and the people of a practice.
type ward struct {
	storetest.Looking
	clock                   *storetest.Clock
	nurse, other, clinician store.Actor
	lead, auditor           store.Actor
	patient                 store.Patient
	wear                    int64
	files                   int
}

func newWard(t *testing.T, flags ...string) *ward {
	t.Helper()
	s, clock := storetest.Open(t)
	w := &ward{Looking: storetest.Looking{Store: s, T: t}, clock: clock}
	w.nurse = storetest.AddUser(t, s, "Rilo", store.RoleNurse)
	w.other = storetest.AddUser(t, s, "Mavo", store.RoleNurse)
	w.clinician = storetest.AddUser(t, s, "Dosu", store.RoleClinician)
	w.lead = storetest.AddUser(t, s, "Kirul", store.RoleLead)
	w.auditor = storetest.AddUser(t, s, "Tapol", store.RoleAuditor)
	w.patient = storetest.AddPatient(t, s, 1)
	w.wear = w.file(t, flags...)
	return w
}

// file files another wear of the patient, two months after the one before.
func (w *ward) file(t *testing.T, flags ...string) int64 {
	t.Helper()
	w.files++
	if w.files > 1 {
		w.clock.Advance(60 * 24 * time.Hour)
	}
	return storetest.File(t, w.Store, storetest.Filing(w.files*5, w.patient.ID, w.clock.Now(), 2, wear.ThisMonth, 4, flags...))
}

func (w *ward) claim(t *testing.T, a store.Actor, id int64) {
	t.Helper()
	_, err := w.Claim(ctx, a, id)
	must(t, err)
}

// row gives the wear's row on the round, or fails.
func (w *ward) row(t *testing.T, id int64) store.RoundRow {
	t.Helper()
	page, err := w.Round(ctx, store.RoundQuery{Limit: 200, Now: w.clock.Now()})
	must(t, err)
	for _, r := range page.Rows {
		if r.WearID == id {
			return r
		}
	}
	t.Fatalf("wear %d is not on the round", id)
	return store.RoundRow{}
}

func wants(t *testing.T, err error, code store.Code, part string) {
	t.Helper()
	if err == nil || store.CodeOf(err) != code || !strings.Contains(store.Words(err), part) {
		t.Errorf("got %q (%s), want %s with %q", store.Words(err), store.CodeOf(err), code, part)
	}
}

func TestClaim(t *testing.T) {
	w := newWard(t)
	v := version(t, w.Store)
	c, err := w.Claim(ctx, w.nurse, w.wear)
	must(t, err)
	until := w.clock.Now().Add(store.Lease)
	if want := (store.Claim{WearID: w.wear, Holder: store.Person{ID: w.nurse.UserID, Name: "Rilo"}, Until: until}); c != want {
		t.Errorf("got %+v, want %+v", c, want)
	}
	if version(t, w.Store) == v {
		t.Error("open screens do not see the claim")
	}
	if r := w.row(t, w.wear); r.ClaimedBy != c.Holder || !r.ClaimedUntil.Equal(until) {
		t.Errorf("row: %+v until %v", r.ClaimedBy, r.ClaimedUntil)
	}
	w.clock.Advance(18 * time.Minute)
	_, err = w.Claim(ctx, w.other, w.wear)
	wants(t, err, store.Conflict, "Rilo has this wear for another 12 minutes")
	if taken, ok := errors.AsType[*store.TakenError](err); !ok || taken.Claim != c || strings.Contains(err.Error(), "Rilo") {
		t.Errorf("cause: %v", err)
	}
	_, err = w.RenewClaim(ctx, w.other, w.wear)
	wants(t, err, store.Conflict, "Rilo")
	c, err = w.RenewClaim(ctx, w.nurse, w.wear)
	if must(t, err); !c.Until.Equal(w.clock.Now().Add(store.Lease)) {
		t.Errorf("renewed until %v", c.Until)
	}
	v = version(t, w.Store)
	w.clock.Advance(time.Minute)
	_, err = w.RenewClaim(ctx, w.nurse, w.wear)
	if must(t, err); version(t, w.Store) != v {
		t.Error("each step of a nurse changes every screen")
	}

	_, err = w.TakeOver(ctx, w.other, w.wear, "  ")
	wants(t, err, store.Invalid, "reason")
	c, err = w.TakeOver(ctx, w.other, w.wear, "Rilo went home")
	if must(t, err); c.Holder.Name != "Mavo" {
		t.Errorf("taken over by %+v", c)
	}
	must(t, w.Release(ctx, w.nurse, w.wear)) // no longer hers
	if r := w.row(t, w.wear); r.ClaimedBy.Name != "Mavo" {
		t.Error("somebody released what another has")
	}
	w.clock.Advance(store.Lease)
	if r := w.row(t, w.wear); r.ClaimedBy != (store.Person{}) || !r.ClaimedUntil.IsZero() {
		t.Errorf("a lapsed claim is shown: %+v", r.ClaimedBy)
	}
	_, err = w.RenewClaim(ctx, w.other, w.wear)
	must(t, err) // nobody took it meanwhile
	must(t, w.Release(ctx, w.other, w.wear))
	_, err = w.TakeOver(ctx, w.nurse, w.wear, "it is urgent")
	wants(t, err, store.Conflict, "Nobody has this wear") // or the log would not tell when work on it began
	w.claim(t, w.nurse, w.wear)

	_, err = w.Claim(ctx, w.auditor, w.wear)
	wants(t, err, store.Forbidden, "role")
	_, err = w.Claim(ctx, store.Actor{UserID: w.nurse.UserID, Role: store.RoleLead}, w.wear)
	wants(t, err, store.Forbidden, "role")
	_, err = w.Claim(ctx, store.Actor{}, w.wear)
	wants(t, err, store.Forbidden, "Sign in")
	_, err = w.Claim(ctx, w.nurse, 99)
	wants(t, err, store.NotFound, "")
	rows, err := w.LogRows(ctx, store.LogQuery{UserID: w.auditor.UserID, Limit: 9})
	must(t, err)
	if len(rows) != 1 || rows[0].Ended != "refused" || rows[0].Action != "claim a wear" || rows[0].ObjectID != w.wear {
		t.Errorf("the refusal in the log: %+v", rows)
	}
}

// Two people press at once: one gets it and the other is told who.
func TestClaimAtOnce(t *testing.T) {
	w := newWard(t)
	people := []store.Actor{w.nurse, w.other}
	for round := range 200 {
		var wg sync.WaitGroup
		var errs [2]error
		start := make(chan struct{})
		for i, a := range people {
			wg.Go(func() {
				<-start
				_, errs[i] = w.Claim(ctx, a, w.wear)
			})
		}
		close(start)
		wg.Wait()
		winner := 0
		if errs[0] != nil {
			winner = 1
		}
		if errs[winner] != nil || errs[1-winner] == nil {
			t.Fatalf("round %d: %v and %v", round, errs[0], errs[1])
		}
		taken, ok := errors.AsType[*store.TakenError](errs[1-winner])
		if !ok || taken.Claim.Holder.ID != people[winner].UserID {
			t.Fatalf("round %d: the loser was told %v", round, errs[1-winner])
		}
		if r := w.row(t, w.wear); r.ClaimedBy.ID != people[winner].UserID {
			t.Fatalf("round %d: the round shows %+v", round, r.ClaimedBy)
		}
		must(t, w.Release(ctx, people[winner], w.wear))
	}
}

func TestNextWear(t *testing.T) {
	w := newWard(t)
	second, third := w.file(t), w.file(t)
	next := func(a store.Actor, after int64) int64 {
		t.Helper()
		id, err := w.NextWear(ctx, a, after)
		must(t, err)
		return id
	}
	order := []int64{w.row(t, w.wear).WearID, second, third} // the longest overdue first
	if got := next(w.nurse, 0); got != order[0] {
		t.Errorf("first: %d", got)
	}
	if got := next(w.nurse, order[0]); got != order[1] {
		t.Errorf("after the first: %d", got)
	}
	w.claim(t, w.nurse, order[0])
	w.claim(t, w.other, order[1])
	_, err := w.RecordContact(ctx, w.nurse, order[0], store.NewContact{Means: store.ByTelephone, NextTry: w.clock.Now().Add(24 * time.Hour)})
	must(t, err)
	if got := next(w.nurse, 0); got != third {
		t.Errorf("with one to be tried tomorrow and one taken: %d, want %d", got, third)
	}
	w.clock.Advance(25 * time.Hour)
	if got := next(w.nurse, 0); got != order[0] {
		t.Errorf("the next day: %d, want %d", got, order[0])
	}
	empty, _ := storetest.Open(t)
	if id, err := empty.NextWear(ctx, w.nurse, 0); id != 0 || err != nil {
		t.Errorf("an empty round: %d, %v", id, err)
	}
}

// What people recorded goes with a wear into the one that takes it in, and the
// one that takes it in is on the round if either was.
func TestReviewGoesWithAJoinedWear(t *testing.T) {
	w := newWard(t)
	second := w.file(t)
	for _, id := range []int64{w.wear, second} {
		w.claim(t, w.nurse, id)
		_, err := w.AddNote(ctx, w.nurse, id, fmt.Sprint("note on ", id))
		must(t, err)
	}
	_, err := w.RecordOutcome(ctx, w.nurse, store.NewOutcome{WearID: w.wear, Kind: store.AdviceGiven, Reason: "eat and walk"})
	must(t, err)
	first, _, err := w.Trace(ctx, w.wear)
	must(t, err)
	more, _, err := w.Trace(ctx, second)
	must(t, err)
	f := storetest.Filing(77, w.patient.ID, w.clock.Now(), 1, wear.ThisMonth, 4)
	f.Wears[0].Readings = append(first, more...)
	f.Wears[0].WearID, f.Wears[0].Absorbs, f.Wears[0].New = w.wear, []int64{second}, 0
	if got := storetest.File(t, w.Store, f); got != w.wear {
		t.Fatalf("joined into %d", got)
	}
	r := w.row(t, w.wear)
	if r.ClaimedBy.ID != w.nurse.UserID {
		t.Errorf("the claim did not go with it: %+v", r.ClaimedBy)
	}
	v, err := w.Review(ctx, second)
	must(t, err)
	if v.WearID != w.wear || !v.Open || len(v.Notes) != 2 || len(v.Outcomes) != 1 {
		t.Errorf("review: %+v", v)
	}
	_, err = w.RecordOutcome(ctx, w.nurse, store.NewOutcome{WearID: second, Kind: store.ToldWell})
	must(t, err)
	if v, err = w.Review(ctx, w.wear); err != nil || v.Open || v.Claim != nil {
		t.Errorf("after the outcome: %+v, %v", v, err)
	}
}

// again makes the filing of another export of the ward's wear.
func (w *ward) again(readings []wear.Reading, events []wear.Event) store.Filing {
	f := storetest.Filing(78, w.patient.ID, w.clock.Now(), 1, wear.ThisMonth, 4)
	f.Wears[0].Readings, f.Wears[0].Events, f.Wears[0].WearID = readings, events, w.wear
	return f
}
