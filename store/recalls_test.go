package store_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// recallOf records an outcome with a recall and gives the recall.
func (w *ward) recallOf(t *testing.T, kind store.OutcomeKind) store.Recall {
	t.Helper()
	w.claim(t, w.nurse, w.wear)
	_, err := w.RecordOutcome(ctx, w.nurse, w.outcome(kind))
	must(t, err)
	return w.recall(t)
}

// recall gives the patient's newest recall.
func (w *ward) recall(t *testing.T) store.Recall {
	t.Helper()
	p, err := w.Recalls(ctx, store.RecallQuery{PatientID: w.patient.ID, Closed: true, Limit: 200})
	must(t, err)
	newest := p.Rows[0]
	for _, r := range p.Rows {
		if r.ID > newest.ID {
			newest = r
		}
	}
	return newest
}

func (w *ward) hba1c(recall int64) store.NewResult {
	return store.NewResult{
		PatientID: w.patient.ID, WearID: w.wear, RecallID: recall, Kind: store.HbA1c, Value: "41", Unit: "mmol/mol",
		TakenAt: w.clock.Now().Add(-day), Criteria: "Australian criteria", Class: "normal",
	}
}

func TestResultClosesTheRecall(t *testing.T) {
	w := newWard(t)
	r := w.recallOf(t, store.TestsOrdered)
	id, err := w.AddResult(ctx, w.nurse, w.hba1c(r.ID))
	must(t, err)
	r = w.recall(t)
	if r.State != store.RecallDone || r.ResultID != id || r.ClosedBy.Name != "Rilo" {
		t.Errorf("recall: %+v", r)
	}
	want := store.Result{ID: id, NewResult: w.hba1c(r.ID), By: store.Person{ID: w.nurse.UserID, Name: "Rilo"}, At: w.clock.Now()}
	got, err := w.Results(ctx, w.patient.ID)
	must(t, err)
	if diff := cmp.Diff([]store.Result{want}, got); diff != "" {
		t.Errorf("results (-want +got):\n%s", diff)
	}
	_, err = w.AddResult(ctx, w.nurse, w.hba1c(r.ID))
	wants(t, err, store.Conflict, "closed already")
	if got, _ := w.Results(ctx, w.patient.ID); len(got) != 1 {
		t.Error("a result that was refused is there")
	}
	must(t, w.WithdrawResult(ctx, w.nurse, id, "another patient's"))
	if r = w.recall(t); r.State != store.RecallDue || r.ResultID != 0 || !r.ClosedAt.IsZero() {
		t.Errorf("recall after the result was taken back: %+v", r)
	}
	wants(t, w.WithdrawResult(ctx, w.nurse, id, "again"), store.Conflict, "already")
}

func TestResultIsCheckedInItsUnit(t *testing.T) {
	w := newWard(t)
	tests := []struct {
		name        string
		kind        store.ResultKind
		value, unit string
		ok          bool
	}{
		{"HbA1c in mmol/mol", store.HbA1c, "41", "mmol/mol", true},
		{"HbA1c in %", store.HbA1c, "5.9", "%", true},
		{"HbA1c with the other unit", store.HbA1c, "59", "%", false},
		{"HbA1c with the other unit still", store.HbA1c, "5.9", "mmol/mol", false},
		{"HbA1c without a unit", store.HbA1c, "41", "", false},
		{"HbA1c in mmol/L", store.HbA1c, "41", "mmol/L", false},
		{"fasting", store.Fasting, "5.60", "mmol/L", true},
		{"fasting in mg/dL", store.Fasting, "101", "mg/dL", true},
		{"fasting with the other unit", store.Fasting, "101", "mmol/L", false},
		{"a comma", store.Fasting, "5,6", "mmol/L", false},
		{"a minus", store.Fasting, "-5.6", "mmol/L", false},
		{"words", store.OGTT2h, "high", "mmol/L", false},
		{"a limit", store.Insulin, "<2.0", "mU/L", true},
		{"two limits", store.Insulin, "<>2.0", "mU/L", false},
		{"no such kind", "ketones", "1", "mmol/L", false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			n := w.hba1c(0)
			n.Kind, n.Value, n.Unit = test.kind, test.value, test.unit
			_, err := w.AddResult(ctx, w.nurse, n)
			if (err == nil) != test.ok || err != nil && store.CodeOf(err) != store.Invalid {
				t.Errorf("%v", err)
			}
		})
	}
	other := storetest.AddPatient(t, w.Store, 2)
	n := w.hba1c(0)
	n.PatientID = other.ID
	_, err := w.AddResult(ctx, w.nurse, n)
	wants(t, err, store.Invalid, "not this patient's")
	n = w.hba1c(0)
	n.TakenAt = w.clock.Now().Add(5 * day)
	_, err = w.AddResult(ctx, w.nurse, n)
	wants(t, err, store.Invalid, "future")
	for _, x := range []struct {
		taken string
		born  string
		year  int
		wrong string
	}{
		{taken: "1996-06-01", wrong: ""},
		{taken: "1996-04-01", wrong: "more than 30 years"},
		{taken: "1950-04-01", born: "1940-01-01", wrong: "more than 30 years"},
		{taken: "2001-04-03", born: "2001-04-03", wrong: ""},
		{taken: "2001-04-01", born: "2001-04-03", wrong: "before the patient was born"},
		{taken: "2000-12-30", year: 2001, wrong: "before the patient was born"},
		{taken: "2001-01-01", year: 2001, wrong: ""},
	} {
		at, err := time.Parse(time.DateOnly, x.taken)
		must(t, err)
		p := store.Patient{BirthDate: x.born, Context: wear.Context{BirthYear: x.year}}
		err = store.CheckTaken(at, &p, time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC))
		if x.wrong == "" {
			must(t, err)
		} else {
			wants(t, err, store.Invalid, x.wrong)
		}
	}
	n.TakenAt = time.Date(1950, 4, 1, 0, 0, 0, 0, time.UTC)
	_, err = w.AddResult(ctx, w.nurse, n)
	wants(t, err, store.Invalid, "Correct its date")
	if w.review(t).Results[0].Value != "41" {
		t.Error("the value as reported")
	}
}

// What was done has a day that can be: none to come, none before the patient was
// born, none from before the practice could have done it.
func TestWhatWasDoneHasADay(t *testing.T) {
	w := newWard(t)
	out := w.handOut(t)
	w.claim(t, w.nurse, w.wear)
	who, err := w.PatientRecord(ctx, w.patient.ID)
	must(t, err)
	child := who
	child.ID, child.Code, child.BirthDate, child.Context = 0, "C-1", w.clock.Now().AddDate(-1, 0, 0).Format(time.DateOnly), wear.Context{}
	for day, what := range map[time.Time]string{
		w.clock.Now().AddDate(0, 0, 1):                     "in the future",
		time.Date(1950, time.May, 1, 0, 0, 0, 0, time.UTC): "years back",
	} {
		_, _, err := w.HandOut(ctx, w.nurse, store.NewOut{Patient: who, GivenAt: day, DueAt: day.AddDate(0, 0, 28)})
		wants(t, err, store.Invalid, what)
		try := store.NewContact{At: day, Means: store.ByTelephone, Reached: true}
		wants(t, second(w.ContactRecall(ctx, w.nurse, out, try)), store.Invalid, what)
		wants(t, second(w.RecordContact(ctx, w.nurse, w.wear, try)), store.Invalid, what)
		n := w.hba1c(0)
		n.TakenAt = day
		if what == "years back" {
			n.TakenAt = w.clock.Now().AddDate(-31, 0, 0)
		}
		wants(t, second(w.AddResult(ctx, w.nurse, n)), store.Invalid, what)
	}
	given := w.clock.Now().AddDate(-1, 0, -5)
	_, _, err = w.HandOut(ctx, w.nurse, store.NewOut{Patient: child, GivenAt: given, DueAt: given.AddDate(0, 0, 28)})
	wants(t, err, store.Invalid, "before the patient was born")
}

func TestNewWearClosesTheRecall(t *testing.T) {
	w := newWard(t)
	r := w.recallOf(t, store.WearAgain)
	// An older wear, exported late, is not the one that was waited for.
	late := storetest.Filing(91, w.patient.ID, w.clock.Now().Add(-90*day), 2, wear.Routine, 1)
	late.Drop.SeenAt = w.clock.Now()
	storetest.File(t, w.Store, late)
	if r = w.recall(t); r.State != store.RecallDue {
		t.Fatalf("closed by an older wear: %+v", r)
	}
	id := w.file(t)
	if r = w.recall(t); r.State != store.RecallDone || r.NewWearID != id || r.ClosedBy != (store.Person{}) {
		t.Errorf("recall: %+v", r)
	}
	rows, err := w.LogRows(ctx, store.LogQuery{Action: "close a recall", Limit: 5})
	must(t, err)
	if len(rows) != 1 || rows[0].ObjectID != w.patient.ID || rows[0].Actor.ID != 0 {
		t.Errorf("in the log: %+v", rows)
	}
}

func TestRecall(t *testing.T) {
	w := newWard(t)
	due := w.clock.Now().Add(7 * day)
	_, err := w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: "tea", DueAt: due})
	wants(t, err, store.Invalid, "waits for")
	_, err = w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallReview})
	wants(t, err, store.Invalid, "date")
	_, err = w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: 99, Kind: store.RecallReview, DueAt: due})
	wants(t, err, store.Invalid, "not on the register")
	id, err := w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallReview, DueAt: due, Note: "diet"})
	must(t, err)
	overdue := func(untried bool) int {
		t.Helper()
		p, err := w.Recalls(ctx, store.RecallQuery{DueBefore: w.clock.Now(), Untried: untried, Limit: 1})
		must(t, err)
		return p.Matching
	}
	if overdue(false) != 0 {
		t.Error("overdue at once")
	}
	w.clock.Advance(8 * day)
	if overdue(false) != 1 || overdue(true) != 1 {
		t.Error("not overdue")
	}
	_, err = w.ContactRecall(ctx, w.nurse, id, store.NewContact{Means: store.ByMessage, Note: "sent"})
	must(t, err)
	r := w.recall(t)
	if r.State != store.RecallContacted || r.Contacts != 1 || !r.LastContact.Equal(w.clock.Now()) || overdue(false) != 1 || overdue(true) != 0 {
		t.Errorf("after a contact: %+v", r)
	}
	must(t, w.MoveRecall(ctx, w.nurse, id, w.clock.Now().Add(day), "away", 0))
	if overdue(false) != 0 {
		t.Error("still overdue after it was moved")
	}
	wants(t, w.MoveRecall(ctx, w.nurse, id, w.clock.Now().Add(-3*day), "away", 0), store.Invalid, "passed")
	wants(t, w.CancelRecall(ctx, w.nurse, id, "", 0), store.Invalid, "reason")
	wants(t, w.CancelRecall(ctx, w.auditor, id, "away", 0), store.Forbidden, "role")
	must(t, w.CancelRecall(ctx, w.nurse, id, "moved away", 0))
	if r = w.recall(t); r.State != store.RecallCancelled || r.Reason != "moved away" {
		t.Errorf("cancelled: %+v", r)
	}
	wants(t, w.CloseRecall(ctx, w.nurse, id, "seen", 0), store.Conflict, "closed already")
	_, err = w.ContactRecall(ctx, w.nurse, id, store.NewContact{Means: store.ByPost})
	wants(t, err, store.Conflict, "closed already")
}

func TestLetters(t *testing.T) {
	w := newWard(t)
	if _, ok, err := w.Template(ctx, "tests"); ok || err != nil {
		t.Errorf("before the first: %t, %v", ok, err)
	}
	_, err := w.AddTemplate(ctx, w.nurse, "tests", "Dear …")
	wants(t, err, store.Forbidden, "role")
	for n, words := range []string{"Dear patient", "Dear {name}"} {
		v, err := w.AddTemplate(ctx, w.lead, "tests", words)
		if must(t, err); v != n+1 {
			t.Errorf("version %d, want %d", v, n+1)
		}
	}
	if v, err := w.AddTemplate(ctx, w.lead, "well", "Dear"); err != nil || v != 1 {
		t.Errorf("another kind: %d, %v", v, err)
	}
	if l, ok, err := w.Template(ctx, "tests"); !ok || err != nil || l.Version != 2 || l.Text != "Dear {name}" || l.By.Name != "Kirul" {
		t.Errorf("newest: %+v", l)
	}
	if list, err := w.Templates(ctx); err != nil || len(list) != 3 {
		t.Errorf("all: %+v, %v", list, err)
	}

	n := store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "tests", Template: 2, Protocol: "2026.1", Text: "Dear Besk", Seen: storetest.Seen(t, w.Store, w.wear), Named: storetest.Named(t, w.Store, w.patient.ID)}
	id, err := w.OpenLetter(ctx, w.nurse, n)
	must(t, err)
	wants(t, w.SendLetter(ctx, w.nurse, id, " ", store.ByPost), store.Invalid, "text")
	wants(t, w.SendLetter(ctx, w.nurse, id, "Dear Besk", "pigeon"), store.Invalid, "how")
	must(t, w.SendLetter(ctx, w.other, id, "Dear Besk, please come.", store.ByPost))
	n.Text = "Dear Besk, please come."
	want := store.Letter{
		ID: id, NewLetter: n, OpenedBy: store.Person{ID: w.nurse.UserID, Name: "Rilo"}, OpenedAt: w.clock.Now(),
		SentBy: store.Person{ID: w.other.UserID, Name: "Mavo"}, SentAt: w.clock.Now(), How: store.ByPost,
	}
	if got, err := w.Letters(ctx, w.patient.ID); err != nil || cmp.Diff([]store.Letter{want}, got) != "" {
		t.Errorf("letters: %v\n%s", err, cmp.Diff([]store.Letter{want}, got))
	}
	wants(t, w.SendLetter(ctx, w.nurse, id, "Other words", store.ByPost), store.Conflict, "sent or thrown away")
	wants(t, w.DiscardLetter(ctx, w.nurse, id), store.Conflict, "sent or thrown away")
	writer, _ := w.Pools()
	for _, query := range []string{"UPDATE letters SET text = 'x'", "UPDATE letters SET sent_at = NULL"} {
		if _, err := writer.Exec(query); err == nil {
			t.Errorf("%s: a sent letter changed", query)
		}
	}
}

// A letter goes to whom it was written for: not once the register names the
// patient otherwise, whether it is a draft or waits in the outbox.
func TestALetterKeepsWhomItNames(t *testing.T) {
	for name, edit := range map[string]func(*store.PatientRecord){
		"name":          func(r *store.PatientRecord) { r.Name = "Somebody Else" },
		"date of birth": func(r *store.PatientRecord) { r.BirthDate = "1971-02-03"; r.Context.BirthYear = 1971 },
	} {
		for _, about := range []bool{false, true} {
			w := newWard(t)
			n := store.NewLetter{PatientID: w.patient.ID, Kind: "tests", Text: "Dear Besk"}
			if about {
				n.WearID = w.wear
			}
			draft, err := w.OpenLetter(ctx, w.nurse, n)
			must(t, err)
			waits, err := w.OpenLetter(ctx, w.nurse, n)
			must(t, err)
			must(t, w.SendLetter(ctx, w.nurse, waits, n.Text, store.ByPost))
			was, err := w.PatientRecord(ctx, w.patient.ID)
			must(t, err)
			is := was
			edit(&is)
			must(t, w.EditPatient(ctx, w.nurse, is))
			n.Named, n.Seen = was.Named(), storetest.Seen(t, w.Store, n.WearID)
			wants(t, second(w.Store.OpenLetter(ctx, w.nurse, n)), store.Conflict, "another name or date of birth")
			if err := w.SendLetter(ctx, w.nurse, draft, n.Text, store.ByPost); name == "name" {
				wants(t, err, store.Conflict, "another name or date of birth")
			} else {
				wants(t, err, store.Conflict, "")
			}
			box, err := w.Outbox(ctx, store.Unprinted, w.clock.Now())
			must(t, err)
			if len(box.Rows) != 1 || !strings.Contains(box.Rows[0].Held, "another name or date of birth") || box.Ready[store.Unprinted] != 0 {
				t.Errorf("%s, about a wear %v: in the outbox %+v", name, about, box.Rows)
			}
			was, err = w.PatientRecord(ctx, w.patient.ID)
			must(t, err)
			was.Name, was.BirthDate, was.Context.BirthYear = w.patient.Name, w.patient.BirthDate, w.patient.Context.BirthYear
			must(t, w.EditPatient(ctx, w.nurse, was))
			must(t, w.SendLetter(ctx, w.nurse, draft, n.Text, store.ByPost))
		}
	}
}

// A letter that a release opened which did not keep whom it named goes where it
// says so itself.
func TestALetterOfAnOlderRelease(t *testing.T) {
	for words, goes := range map[string]bool{"Dear Somebody": false, "Dear NAME": true} {
		w := newWard(t)
		id, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "tests", Text: strings.ReplaceAll(words, "NAME", w.patient.Name)})
		must(t, err)
		w.clock.Tampered()
		writer, _ := w.Pools()
		if _, err := writer.Exec("UPDATE letters SET named = NULL"); err != nil {
			t.Fatal(err)
		}
		if err := w.SendLetter(ctx, w.nurse, id, "x", store.ByPost); (err == nil) != goes {
			t.Errorf("%s: %v", words, err)
		}
	}
}

func TestNotes(t *testing.T) {
	w := newWard(t)
	_, err := w.AddNote(ctx, w.nurse, w.wear, "  ")
	wants(t, err, store.Invalid, "Write the note")
	first, err := w.AddNote(ctx, w.nurse, w.wear, "rings at six")
	must(t, err)
	_, err = w.AddPatientNote(ctx, w.nurse, w.patient.ID, "hard of hearing")
	must(t, err)
	fixed, err := w.CorrectNote(ctx, w.other, first, "rings at seven")
	must(t, err)
	_, err = w.CorrectNote(ctx, w.other, first, "rings at eight")
	wants(t, err, store.Conflict, "corrected already")
	list, err := w.Notes(ctx, w.patient.ID)
	must(t, err)
	if len(list) != 3 || list[2].ID != fixed || list[2].Corrects != first || list[2].WearID != w.wear || list[1].WearID != 0 {
		t.Errorf("notes: %+v", list)
	}
	if v := w.review(t); len(v.Notes) != 2 {
		t.Errorf("notes of the wear: %+v", v.Notes)
	}
}

func TestDaily(t *testing.T) {
	w := newWard(t)
	now := func() store.DailyLine {
		t.Helper()
		d, err := w.Daily(ctx, w.clock.Now())
		must(t, err)
		return d
	}
	if d := now(); d != (store.DailyLine{Open: 1}) {
		t.Errorf("a quiet day: %+v", d)
	}
	_, err := w.Hold(ctx, holding(50, w.clock.Now(), unitQuestion()))
	must(t, err)
	_, err = w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallReview, DueAt: w.clock.Now().Add(day)})
	must(t, err)
	id, err := w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallReview, DueAt: w.clock.Now().Add(day)})
	must(t, err)
	_, err = w.ContactRecall(ctx, w.nurse, id, store.NewContact{Means: store.ByPost})
	must(t, err)
	_, err = w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, Kind: "well", Text: "Dear"})
	must(t, err)
	w.claim(t, w.nurse, w.wear)
	_, err = w.RecordContact(ctx, w.nurse, w.wear, store.NewContact{Means: store.ByPost, NextTry: w.clock.Now().Add(day)})
	must(t, err)
	w.clock.Advance(40 * day)
	c := check(t, w.Store)
	want := store.DailyLine{Open: 1, UnclaimedOverdue: 1, TryAgain: 1, Held: 1, HeldLong: 1, RecallsUntried: 1, RecallsOverdue: 2, LettersOpen: 1}
	d := now()
	if d.Chain == nil || *d.Chain != c {
		t.Errorf("chain: %+v", d.Chain)
	}
	if d.Chain = nil; d != want {
		t.Errorf("got %+v, want %+v", d, want)
	}
	w.claim(t, w.nurse, w.wear)
	if d = now(); d.UnclaimedOverdue != 0 {
		t.Errorf("claimed: %+v", d)
	}
	w.clock.Advance(time.Hour)
	if d = now(); d.UnclaimedOverdue != 1 {
		t.Errorf("lapsed: %+v", d)
	}
}

// Whoever ends or moves a recall does so on what they saw: a try or a new date
// since is told, and nothing is done, whichever of the three was asked.
func TestARecallChangedMeanwhileStays(t *testing.T) {
	w := newWard(t)
	ctx := t.Context()
	id, err := w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallReview, DueAt: w.clock.Now().Add(7 * day)})
	must(t, err)
	due := w.clock.Now().Add(8 * day)
	acts := map[string]func(seen int64) error{
		"done":   func(seen int64) error { return w.CloseRecall(ctx, w.nurse, id, "seen", seen) },
		"cancel": func(seen int64) error { return w.CancelRecall(ctx, w.nurse, id, "moved away", seen) },
		"move":   func(seen int64) error { return w.MoveRecall(ctx, w.nurse, id, due, "away", seen) },
	}
	for said, meanwhile := range map[string]func() error{
		"wrote “blood was taken”": func() error {
			_, err := w.ContactRecall(ctx, w.clinician, id, store.NewContact{Means: store.ByTelephone, Reached: true, Note: "blood was taken"})
			return err
		},
		"Why: “on holiday”": func() error {
			return w.MoveRecall(ctx, w.clinician, id, w.clock.Now().Add(9*day), "on holiday", 0)
		},
	} {
		r, err := w.Recall(ctx, id)
		must(t, err)
		must(t, meanwhile())
		now, err := w.Recall(ctx, id)
		must(t, err)
		for name, act := range acts {
			wants(t, act(r.Version()), store.Conflict, said)
			if after, err := w.Recall(ctx, id); err != nil || after.Version() != now.Version() {
				t.Errorf("%s on a stale recall left %+v, %v", name, after, err)
			}
		}
	}
	r, err := w.Recall(ctx, id)
	must(t, err)
	must(t, acts["cancel"](r.Version()))
}

// A recall stays due until each test that it names has a result of a sample taken
// since it was asked for; what else is entered on it is a result and no more.
func TestARecallWaitsForEachTestItNames(t *testing.T) {
	w := newWard(t)
	r, err := w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallResult, DueAt: w.clock.Now().Add(7 * day), Note: "HbA1c and fasting glucose"})
	must(t, err)
	w.clock.Advance(2 * day)
	old, fresh := w.clock.Now().AddDate(-7, 0, 0), w.clock.Now().Add(-day)
	for _, x := range []struct {
		kind        store.ResultKind
		value, unit string
		taken       time.Time
		open        bool
	}{
		{store.Cholesterol, "5.0", "mmol/L", fresh, true},
		{store.Fasting, "5.1", "mmol/L", old, true},
		{store.HbA1c, "36", "mmol/mol", old, true},
		{store.HbA1c, "36", "mmol/mol", fresh, true},
		{store.Insulin, "9", "mU/L", fresh, true},
		{store.Fasting, "5.1", "mmol/L", fresh, false},
	} {
		_, err := w.AddResult(ctx, w.nurse, store.NewResult{PatientID: w.patient.ID, RecallID: r, Kind: x.kind, Value: x.value, Unit: x.unit, TakenAt: x.taken})
		must(t, err)
		if now, err := w.Recall(ctx, r); err != nil || now.ClosedAt.IsZero() != x.open {
			t.Errorf("%s of %s: the recall is %s, %v", x.kind, x.taken.Format(time.DateOnly), now.State, err)
		}
	}
}
