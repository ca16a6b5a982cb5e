package store_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

func TestEditPatient(t *testing.T) {
	w := newWard(t)
	r, err := w.PatientRecord(ctx, w.patient.ID)
	must(t, err)
	first := r
	r.Name, r.Contact.Telephone, r.Context.Pregnant = "Äda Besk", "555 0101", true
	must(t, w.EditPatient(ctx, w.nurse, r))
	rows, err := w.LogRows(ctx, store.LogQuery{Action: "edit a patient", Limit: 2})
	must(t, err)
	if len(rows) != 1 || rows[0].Reason != "name, context, contact" {
		t.Errorf("the log must name the fields and nothing they hold: %+v", rows)
	}
	if in, err := w.WearInputs(ctx, w.wear); err != nil || !in.Patient.Context.Pregnant {
		t.Errorf("what the report is made from does not know of the new context: %v", err)
	}
	if got := w.row(t, w.wear).Patient.Name; got != "Äda Besk" {
		t.Errorf("the round shows %q", got)
	}
	first.Name = "Somebody else's change"
	if err := w.EditPatient(ctx, w.other, first); err != store.ErrStale {
		t.Errorf("a change of what was read before: %v", err)
	}
	other := storetest.AddPatient(t, w.Store, 2)
	if r, err = w.PatientRecord(ctx, w.patient.ID); err != nil {
		t.Fatal(err)
	}
	r.Code = other.Code
	wants(t, w.EditPatient(ctx, w.nurse, r), store.Conflict, "has this code")
	r.Code = " x"
	wants(t, w.EditPatient(ctx, w.nurse, r), store.Invalid, "space")
	r.Code, r.BirthDate = "X", "1.2.1980"
	wants(t, w.EditPatient(ctx, w.nurse, r), store.Invalid, "1980-04-03")
	r.BirthDate, r.Contact.Preferred = "", "pigeon"
	wants(t, w.EditPatient(ctx, w.nurse, r), store.Invalid, "prefers")
	r.Contact.Preferred = store.ByPost
	wants(t, w.EditPatient(ctx, w.auditor, r), store.Forbidden, "role")
	must(t, w.EditPatient(ctx, w.nurse, r))
}

func TestSearchPatients(t *testing.T) {
	w := newWard(t)
	must(t, w.AddPatients(ctx, []store.Patient{
		{Code: "Q1", Name: "Äda Besk", BirthDate: "1961-02-03"}, {Code: "Q2", Name: "Mena 100%", BirthDate: "1961-09-09"},
	}))
	for text, want := range map[string][]string{"äDA": {"Q1"}, "besk 1961": {"Q1"}, "1961": {"Q1", "Q2"}, "%": {"Q2"}, "q": {"Q1", "Q2"}, "nobody": nil} {
		list, err := w.SearchPatients(ctx, text, 50)
		must(t, err)
		var got []string
		for _, p := range list {
			got = append(got, p.Code)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%q (-want +got):\n%s", text, diff)
		}
	}
	if list, err := w.SearchPatients(ctx, "", 2); err != nil || len(list) != 2 {
		t.Errorf("all: %d, %v", len(list), err)
	}
}

func TestImportRegister(t *testing.T) {
	s, _ := storetest.Open(t)
	nurse := storetest.AddUser(t, s, "Rilo", store.RoleNurse)
	must(t, s.AddPatients(ctx, []store.Patient{
		{Code: "A1", Name: "Mena Rosu", BirthDate: "1970-01-02"}, {Code: "A2", Name: "Äda Besk"}, {Code: "A3", Name: "Gone"},
	}))
	kept, err := s.PatientByCode(ctx, "A1")
	must(t, err)
	gone, err := s.PatientByCode(ctx, "A3")
	must(t, err)
	_, err = s.Merge(ctx, nurse, kept.ID, gone.ID, "the same person")
	must(t, err)
	lines := []store.RegisterLine{
		{Code: "A2", Name: "Äda Besk"},
		{Code: "A1", Sex: "Female", Contact: store.PatientContact{Telephone: "555 0101"}},
		{Code: "B1", Name: "mena rosu", BirthDate: "1970-01-02"},
		{Code: "B1", Name: "Again"},
		{Code: "", Name: "No code"},
		{Code: "B2", BirthDate: "02/01/1970"},
		{Code: "B3", Sex: "unknown"},
		{Code: "A3", Name: "Back"},
		{Code: "B4"},
	}
	want := []store.RegisterCheck{
		{State: store.LineSame},
		{State: store.LineChanged, Fields: []string{"context", "contact"}},
		{State: store.LineNew, Fields: []string{"code", "name", "birth date", "context"}, Twin: "A1"},
		{State: store.LineProblem, Problem: "The list has this code on line 3 already. Keep one of the two."},
		{State: store.LineProblem, Problem: "A patient's code must not be empty, nor begin or end with a space."},
		{State: store.LineProblem, Problem: "A date of birth must be written as year-month-day, for example 1980-04-03."},
		{State: store.LineProblem, Problem: "The sex must be female or male, F or M, or left empty."},
		{State: store.LineProblem, Problem: "This code was merged into another entry. Use the code of that entry."},
		{State: store.LineNew, Fields: []string{"code"}},
	}
	before := version(t, s)
	got, err := s.PreviewRegister(ctx, lines)
	must(t, err)
	if diff := cmp.Diff(want, got); diff != "" || version(t, s) != before {
		t.Fatalf("preview (-want +got):\n%s", diff)
	}
	if got, err = s.ImportRegister(ctx, nurse, lines); err != nil || cmp.Diff(want, got) != "" {
		t.Fatalf("import: %v\n%s", err, cmp.Diff(want, got))
	}
	p, err := s.PatientByCode(ctx, "A1")
	must(t, err)
	r, err := s.PatientRecord(ctx, p.ID)
	must(t, err)
	if r.Name != "Mena Rosu" || r.Context.Sex != "female" || r.Context.BirthYear != 1970 || r.Contact.Telephone != "555 0101" {
		t.Errorf("after the import: %+v", r)
	}
	if all, _ := s.Patients(ctx); len(all) != 4 {
		t.Errorf("%d patients", len(all))
	}
	// The same list again changes nothing.
	before = version(t, s)
	got, err = s.ImportRegister(ctx, nurse, lines)
	must(t, err)
	for i, c := range got {
		if c.State != store.LineSame && c.State != store.LineProblem {
			t.Errorf("line %d again: %+v", i+1, c)
		}
	}
	if version(t, s) != before {
		t.Error("importing the same again changed the data")
	}
}

// dump gives every row of the tables that a merge touches, but for stamps.
func dump(t *testing.T, s *store.Store) map[string][]string {
	t.Helper()
	_, reader := s.Pools()
	out := map[string][]string{}
	for _, table := range []string{"wears", "files", "results", "recalls", "contacts", "notes", "letters"} {
		rows, err := reader.Query("SELECT id || ' ' || coalesce(patient_id, '') FROM " + table + " ORDER BY id")
		must(t, err)
		for rows.Next() {
			var line string
			must(t, rows.Scan(&line))
			out[table] = append(out[table], line)
		}
		must(t, rows.Err())
		must(t, rows.Close())
	}
	return out
}

func TestMergeAndUndo(t *testing.T) {
	w := newWard(t)
	twin := w.twinEntry(t)
	both := []int64{w.patient.ID, twin.ID}
	one := w.patient
	w.patient = twin
	twins := w.file(t)
	for i, id := range []int64{w.wear, twins} {
		_, err := w.AddNote(ctx, w.nurse, id, "about the wear")
		must(t, err)
		_, err = w.AddPatientNote(ctx, w.nurse, both[i], "about the patient")
		must(t, err)
		_, err = w.AddResult(ctx, w.nurse, store.NewResult{PatientID: both[i], WearID: id, Kind: store.Fasting, Value: "5.1", Unit: "mmol/L", TakenAt: w.clock.Now()})
		must(t, err)
		_, err = w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: both[i], Kind: store.RecallReview, DueAt: w.clock.Now()})
		must(t, err)
		letter, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: both[i], WearID: id, Kind: "well", Text: "Dear"})
		must(t, err)
		must(t, w.SendLetter(ctx, w.nurse, letter, "Dear", store.ByPost))
	}
	before := dump(t, w.Store)

	_, err := w.Merge(ctx, w.nurse, one.ID, one.ID, "twice")
	wants(t, err, store.Invalid, "two different")
	_, err = w.Merge(ctx, w.nurse, one.ID, 99, "twice")
	wants(t, err, store.Conflict, "not there any more")
	id, err := w.Merge(ctx, w.nurse, one.ID, twin.ID, "entered twice")
	must(t, err)
	if p, err := w.PatientByCode(ctx, twin.Code); err != nil || p.ID != one.ID {
		t.Errorf("the old code leads to %+v, %v", p, err)
	}
	if p, err := w.Patient(ctx, twin.ID); err != nil || p.ID != one.ID {
		t.Errorf("the old id leads to %+v, %v", p, err)
	}
	if all, _ := w.Patients(ctx); len(all) != 1 {
		t.Errorf("%d entries", len(all))
	}
	if list, _ := w.WearsOf(ctx, one.ID); len(list) != 2 {
		t.Errorf("%d wears", len(list))
	}
	if r := w.row(t, twins); r.Patient.ID != one.ID {
		t.Errorf("the round shows patient %d", r.Patient.ID)
	}
	_, _, err = w.File(ctx, storetest.Filing(95, twin.ID, w.clock.Now(), 1, "routine", 1))
	if err != store.ErrStale {
		t.Errorf("filed for an entry that is gone: %v", err)
	}
	_, err = w.Merge(ctx, w.nurse, twin.ID, one.ID, "twice")
	wants(t, err, store.Conflict, "merged already")

	// What is recorded meanwhile goes with the wear it is about.
	_, err = w.AddNote(ctx, w.nurse, twins, "meanwhile")
	must(t, err)
	must(t, w.UndoMerge(ctx, w.nurse, id, "two people after all"))
	after := dump(t, w.Store)
	last := len(after["notes"]) - 1
	if after["notes"][last] != "5 2" {
		t.Errorf("the note of meanwhile: %q", after["notes"][last])
	}
	after["notes"] = after["notes"][:last]
	if diff := cmp.Diff(before, after); diff != "" {
		t.Errorf("not exactly as before (-want +got):\n%s", diff)
	}
	wants(t, w.UndoMerge(ctx, w.nurse, id, "two people"), store.Conflict, "undone already")
	if m, err := w.Merges(ctx, twin.ID); err != nil || len(m) != 1 || m[0].UndoneAt.IsZero() {
		t.Errorf("merges: %+v, %v", m, err)
	}
	if p, err := w.PatientByCode(ctx, twin.Code); err != nil || p.ID != twin.ID {
		t.Errorf("the code leads to %+v, %v", p, err)
	}
}

// Wears of the two that a file has joined cannot be taken apart.
func TestMergeStaysOnceJoined(t *testing.T) {
	w := newWard(t)
	twin := w.twinEntry(t)
	one := w.patient
	w.patient = twin
	twins := w.file(t)
	id, err := w.Merge(ctx, w.nurse, one.ID, twin.ID, "entered twice")
	must(t, err)
	w.patient = one
	first, _, err := w.Trace(ctx, w.wear)
	must(t, err)
	more, _, err := w.Trace(ctx, twins)
	must(t, err)
	f := w.again(append(first, more...), nil)
	f.Wears[0].Absorbs = []int64{twins}
	storetest.File(t, w.Store, f)
	wants(t, w.UndoMerge(ctx, w.nurse, id, "two people"), store.Conflict, "cannot be taken apart")
}

// A merge never knows less than either entry, whatever each left out, and its
// undoing gives what each knew.
func TestMergeKnowsWhatBothKnew(t *testing.T) {
	born := storetest.Patient(1).BirthDate
	for _, x := range []struct {
		name              string
		kept, gone, after store.Patient
	}{
		{"medicines of the one taken in", store.Patient{},
			store.Patient{Context: wear.Context{Insulin: true, Sulfonylurea: true, AskedOn: "2026-05-01"}},
			store.Patient{Context: wear.Context{Insulin: true, Sulfonylurea: true}}},
		{"both asked", store.Patient{Context: wear.Context{Steroid: true, AskedOn: "2026-05-02"}},
			store.Patient{Context: wear.Context{Insulin: true, AskedOn: "2026-04-01"}},
			store.Patient{Context: wear.Context{Steroid: true, Insulin: true, AskedOn: "2026-04-01"}}},
		{"only the kept one asked", store.Patient{Context: wear.Context{AskedOn: "2026-05-02", Sex: "female"}}, store.Patient{},
			store.Patient{Context: wear.Context{Sex: "female"}}},
		{"a child into an entry without a date of birth", store.Patient{}, store.Patient{BirthDate: "2018-05-01", Context: wear.Context{BirthYear: 2018}},
			store.Patient{BirthDate: "2018-05-01", Context: wear.Context{BirthYear: 2018}}},
		{"the same date of birth", store.Patient{BirthDate: born}, store.Patient{BirthDate: born}, store.Patient{BirthDate: born}},
	} {
		t.Run(x.name, func(t *testing.T) {
			w := newWard(t)
			twin := w.twinEntry(t)
			edit := func(id int64, to store.Patient) {
				r, err := w.PatientRecord(ctx, id)
				must(t, err)
				r.BirthDate, r.Context = to.BirthDate, to.Context
				must(t, w.EditPatient(ctx, w.nurse, r))
			}
			is := func(when string, id int64, want store.Patient) {
				t.Helper()
				r, err := w.PatientRecord(ctx, id)
				must(t, err)
				if r.BirthDate != want.BirthDate || r.Context != want.Context {
					t.Errorf("%s: %s %+v, want %s %+v", when, r.BirthDate, r.Context, want.BirthDate, want.Context)
				}
			}
			edit(w.patient.ID, x.kept)
			edit(twin.ID, x.gone)
			before, err := w.Wear(ctx, w.wear)
			must(t, err)
			id, err := w.Merge(ctx, w.nurse, w.patient.ID, twin.ID, "entered twice")
			must(t, err)
			is("merged", w.patient.ID, x.after)
			must(t, w.UndoMerge(ctx, w.nurse, id, "two people after all"))
			is("undone", w.patient.ID, x.kept)
			is("undone", twin.ID, x.gone)
			if now, err := w.Wear(ctx, w.wear); err != nil || now.Evidence != before.Evidence {
				t.Errorf("the evidence is not as before: %v", err)
			}
		})
	}
}

// What two entries contradict each other on is put right first.
func TestMergeRefusesTwoPeople(t *testing.T) {
	w := newWard(t)
	twin := w.twinEntry(t)
	for _, x := range []struct {
		p    store.Patient
		says string
	}{
		{store.Patient{BirthDate: "2018-05-01"}, "the same birth date"},
		{store.Patient{Context: wear.Context{BirthYear: 1900 + 99}}, "the same birth year"},
	} {
		r, err := w.PatientRecord(ctx, twin.ID)
		must(t, err)
		r.BirthDate, r.Context = x.p.BirthDate, x.p.Context
		must(t, w.EditPatient(ctx, w.nurse, r))
		wants(t, second(w.Merge(ctx, w.nurse, w.patient.ID, twin.ID, "entered twice")), store.Conflict, x.says)
	}
}

// What was told since a merge stays when it is undone.
func TestMergeUndoneKeepsWhatWasToldSince(t *testing.T) {
	w := newWard(t)
	twin := w.twinEntry(t)
	id, err := w.Merge(ctx, w.nurse, w.patient.ID, twin.ID, "entered twice")
	must(t, err)
	r, err := w.PatientRecord(ctx, w.patient.ID)
	must(t, err)
	r.Context.Pregnant = true
	must(t, w.EditPatient(ctx, w.nurse, r))
	must(t, w.UndoMerge(ctx, w.nurse, id, "two people after all"))
	if r, err := w.PatientRecord(ctx, w.patient.ID); err != nil || !r.Context.Pregnant {
		t.Errorf("%+v, %v", r.Context, err)
	}
}

// A result that was entered while two entries were one, and that closed the
// recall of the entry that comes back, is that entry's, and so is the decision
// on it.
func TestMergeUndoneGivesTheResultToWhoseRecallItClosed(t *testing.T) {
	w := newWard(t)
	twin := w.twinEntry(t)
	recall, err := w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: twin.ID, Kind: store.RecallResult, DueAt: w.clock.Now().Add(day)})
	must(t, err)
	id, err := w.Merge(ctx, w.nurse, w.patient.ID, twin.ID, "entered twice")
	must(t, err)
	result, err := w.AddResult(ctx, w.nurse, store.NewResult{PatientID: w.patient.ID, RecallID: recall, Kind: store.HbA1c, Value: "97", Unit: "mmol/mol", TakenAt: w.clock.Now()})
	must(t, err)
	must(t, w.UndoMerge(ctx, w.nurse, id, "two people after all"))
	if list, err := w.Results(ctx, w.patient.ID); err != nil || len(list) != 0 {
		t.Errorf("the entry that was kept has %+v, %v", list, err)
	}
	if list, err := w.Results(ctx, twin.ID); err != nil || len(list) != 1 || list[0].ID != result || list[0].RecallID != recall {
		t.Errorf("the entry that came back has %+v, %v", list, err)
	}
	_, reader := w.Pools()
	var decisions int
	must(t, reader.QueryRow("SELECT count(*) FROM recalls WHERE patient_id = ? AND about_result = ? AND closed_at IS NULL", twin.ID, result).Scan(&decisions))
	if decisions != 1 {
		t.Errorf("%d decisions are left to make", decisions)
	}
}
