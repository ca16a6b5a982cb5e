package store_test

import (
	"encoding/json"
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

func book(t *testing.T, s *store.Store) *store.RecipeBook {
	t.Helper()
	b, err := s.RecipeBook(ctx)
	must(t, err)
	return b
}

// taught is a filing that teaches how its layout is read; body is any word.
func taught(t *testing.T, s *store.Store, n int, patient int64, seen time.Time, body string, answers ...wear.Decision) store.Filing {
	t.Helper()
	f := storetest.Filing(n, patient, seen, 2, wear.Routine, 0)
	f.Recipes = book(t, s).Version
	f.Learned = &store.Learned{Body: json.RawMessage(`"` + body + `"`), Answers: answers}
	return f
}

func byPerson(answer string) wear.Decision {
	return wear.Decision{Code: "unit", Answer: answer, Evidence: "a person answered: " + answer, Margin: 1, By: "person"}
}

// TestLearn follows one layout through all that can become of its recipes.
func TestLearn(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	if b := book(t, s); b.Version != 0 || len(b.InForce) != 0 {
		t.Errorf("recipes before anything is filed: %+v", b)
	}
	n := 0
	file := func(body string, answers ...wear.Decision) (recipe int64) {
		t.Helper()
		n++
		id, _, err := s.File(ctx, taught(t, s, n, p.ID, clock.Now().AddDate(0, -3*n, 0), body, answers...))
		must(t, err)
		f, err := s.FileByID(ctx, id)
		must(t, err)
		return f.RecipeID
	}
	if got := file("one"); got != 1 {
		t.Fatalf("the first file has recipe %d", got)
	}
	must(t, s.SetSensorKind(ctx, 1, "A"))
	if got := file("one"); got != 1 {
		t.Errorf("a file that teaches the same has recipe %d", got)
	}
	if got := file("two"); got != 0 {
		t.Errorf("a file that teaches otherwise without a person has recipe %d, want none", got)
	}
	held, err := s.Hold(ctx, holding(50, clock.Now(), unitQuestion()))
	must(t, err)
	if got := file("two", byPerson("mg/dL")); got != 2 {
		t.Errorf("answers of a person made recipe %d, want a new one", got)
	}
	if list, err := s.AnsweredFiles(ctx); err != nil || len(list) != 1 || list[0].ID != held {
		t.Errorf("held files of the layout that are read again: %+v, %v", list, err)
	}
	b := book(t, s)
	if r := b.InForce["time,glucose"]; r.ID != 2 || r.SensorKind != "A" || string(r.Body) != `"two"` {
		t.Errorf("in force: %+v", r)
	}
	first, err := s.Recipe(ctx, 1)
	must(t, err)
	if first.State != store.Replaced || first.Files != 2 || first.Wears != 2 {
		t.Errorf("the first: %+v", first)
	}
	if book(t, s) != b {
		t.Error("the book was read anew although no recipe changed")
	}

	// What is read by a recipe that has changed since is to be read again.
	old := taught(t, s, 60, p.ID, clock.Now(), "two")
	old.Learned, old.RecipeID = nil, 2
	must(t, s.Withdraw(ctx, 2, "it was wrong"))
	before := state(t, s)
	if _, _, err := s.File(ctx, old); !errors.Is(err, store.ErrStale) {
		t.Errorf("filed with a recipe withdrawn meanwhile: %v", err)
	}
	if diff := cmp.Diff(before, state(t, s)); diff != "" {
		t.Errorf("something of it is left (-want +got):\n%s", diff)
	}
	if b := book(t, s); len(b.InForce) != 0 || len(b.Withdrawn["time,glucose"]) != 1 {
		t.Errorf("after the withdrawal: %+v", b)
	}
	if got := file("three"); got != 3 {
		t.Errorf("the layout learns again as recipe %d", got)
	}
	list, err := s.Recipes(ctx)
	must(t, err)
	var ids []int64
	for _, r := range list {
		ids = append(ids, r.ID)
	}
	if diff := cmp.Diff([]int64{2, 3, 1}, ids); diff != "" {
		t.Errorf("those with answers first, then the newest (-want +got):\n%s", diff)
	}
}

// TestWithdrawForgetsAnswers forgets the answers that belong to the layout and
// keeps those about the file's person.
func TestWithdrawForgetsAnswers(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	id, err := s.Hold(ctx, holding(1, clock.Now(), unitQuestion(), patientQuestion()))
	must(t, err)
	must(t, s.Answer(ctx, id, map[string]string{"unit": "mg/dL", "patient": p.Code}))
	f := taught(t, s, 1, p.ID, clock.Now(), "one", byPerson("mg/dL"))
	f.Drop = store.Drop{FileID: id, SeenAt: clock.Now()}
	wearID := storetest.File(t, s, f)
	must(t, s.Withdraw(ctx, 1, "mmol/L"))
	file, err := s.FileByID(ctx, id)
	must(t, err)
	if diff := cmp.Diff(map[string]string{"patient": p.Code}, file.Answers); diff != "" || !file.InDoubt {
		t.Errorf("in doubt %t, answers (-want +got):\n%s", file.InDoubt, diff)
	}
	n, err := s.ReadAgain(ctx, 1)
	must(t, err)
	w, err := s.Wear(ctx, wearID)
	must(t, err)
	if n != 1 || !w.InDoubt() || w.Files[0].State != store.Held || !w.Files[0].Pending {
		t.Errorf("%d files; the wear: %+v", n, w.Files)
	}
	// Filed again elsewhere, it must not leave its old wear behind.
	f = taught(t, s, 1, p.ID, clock.Now(), "two", byPerson("mmol/L"))
	f.Drop = store.Drop{FileID: id, SeenAt: clock.Now()}
	if _, _, err := s.File(ctx, f); !errors.Is(err, store.ErrStale) {
		t.Errorf("filed without regard to the wear it brought before: %v", err)
	}
	f.Wears[0].WearID = wearID
	storetest.File(t, s, f)
	if w, err = s.Wear(ctx, wearID); err != nil || w.InDoubt() || len(w.Files) != 1 || w.Files[0].New != len(f.Wears[0].Readings) {
		t.Errorf("filed again: %+v, %v", w.Files, err)
	}
}

// A sensor kind reaches the wears filed before, which are judged anew with it.
func TestKindOfWearsFiledBefore(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	f := taught(t, s, 1, p.ID, clock.Now(), "one")
	storetest.Unsay(&f.Wears[0])
	id := storetest.File(t, s, f)
	must(t, s.SetSensorKind(ctx, 1, "C"))
	w, err := s.Wear(ctx, id)
	must(t, err)
	if w.SensorKind != "C" || w.Report.SensorKind != "C" {
		t.Errorf("kind %q, its report says %q", w.SensorKind, w.Report.SensorKind)
	}
	readings, events, err := s.Trace(ctx, id)
	must(t, err)
	if diff := cmp.Diff(f.Wears[0].Readings, readings); diff != "" || len(events) != len(f.Wears[0].Events) {
		t.Errorf("the readings changed or %d events are left:\n%s", len(events), diff)
	}
}

// TestLookalikes finds any 24 hours of the same readings, under another
// patient only, and never a coincidence of limits.
func TestLookalikes(t *testing.T) {
	s, clock := storetest.Open(t)
	a, b := storetest.AddPatient(t, s, 1), storetest.AddPatient(t, s, 2)
	f := storetest.Filing(1, a.ID, clock.Now(), 14, wear.Routine, 0)
	id := storetest.File(t, s, f)
	all := f.Wears[0].Readings
	found := func(patient int64, readings []wear.Reading) int {
		t.Helper()
		list, err := s.Lookalikes(ctx, patient, readings)
		must(t, err)
		for _, l := range list {
			if l.ID != id || l.Patient.Code != a.Code {
				t.Errorf("found wear %d of %s", l.ID, l.Patient.Code)
			}
		}
		return len(list)
	}
	for from := 0; from+289 <= len(all); from += 31 {
		if found(b.ID, all[from:from+289]) != 1 {
			t.Fatalf("24 hours from reading %d are not found", from)
		}
	}
	if n := found(a.ID, all); n != 0 {
		t.Errorf("the patient's own wear counts as another's: %d", n)
	}
	other := append([]wear.Reading(nil), all...)
	for i := range other {
		other[i].Num++
	}
	if n := found(b.ID, other); n != 0 {
		t.Errorf("other values at the same instants count as the same: %d", n)
	}
	for i := range other {
		other[i] = all[i]
		other[i].Num, other[i].Scale = other[i].Num*10, other[i].Scale+1
	}
	if n := found(b.ID, other); n != 1 {
		t.Errorf("6.70 does not count as 6.7: %d", n)
	}

	g := storetest.Filing(2, b.ID, clock.Now(), 14, wear.Routine, 0)
	g.Wears[0].Readings = all
	if _, _, err := s.File(ctx, g); !errors.Is(err, store.ErrStale) {
		t.Errorf("filed under both: %v", err)
	}
	g.Compared = []int64{id}
	storetest.File(t, s, g)
}

func TestSettings(t *testing.T) {
	s, clock := storetest.Open(t)
	if v, set, err := s.Setting(ctx, store.NameRule); v != "" || set || err != nil {
		t.Errorf("before it is set: %q, %t, %v", v, set, err)
	}
	_, err := s.Hold(ctx, holding(1, clock.Now(), patientQuestion()))
	must(t, err)
	_, err = s.Hold(ctx, holding(2, clock.Now(), unitQuestion()))
	must(t, err)
	for _, rule := range []string{"{code}", "*_{code}"} {
		before := version(t, s)
		must(t, s.SetNameRule(ctx, rule))
		if v, set, err := s.Setting(ctx, store.NameRule); v != rule || !set || err != nil {
			t.Errorf("%q, %t, %v; want %q", v, set, err, rule)
		}
		if version(t, s) == before {
			t.Error("open pages do not learn of it")
		}
	}
	if list, err := s.AnsweredFiles(ctx); err != nil || len(list) != 1 || list[0].Questions[0].Code != "patient" {
		t.Errorf("read again: %+v, %v; want the one that asks whose it is", list, err)
	}
	p := storetest.AddPatient(t, s, 1)
	known, err := s.KnownCodes(ctx, []string{p.Code, "nobody", ""})
	if diff := cmp.Diff(map[string]bool{p.Code: true}, known); err != nil || diff != "" {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}
}
