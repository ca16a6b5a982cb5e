package store_test

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// worked is a practice in which something of everything was done.
func worked(t *testing.T) *ward {
	w := newWard(t, wear.FlagAbove7_8)
	w.twin(t)
	_, err := w.AddResult(ctx, w.nurse, w.hba1c(w.recallOf(t, store.TestsOrdered).ID))
	must(t, err)
	_, err = w.AddNote(ctx, w.nurse, w.wear, "left word")
	must(t, err)
	w.posted(t, w.wear)
	_, err = w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallReview, DueAt: w.clock.Now().Add(day)})
	must(t, err)
	must(t, w.SaveDraft(ctx, w.nurse.UserID, "/wears/1", "{}"))
	w.wear = w.file(t, wear.FlagAbove10)
	w.claim(t, w.nurse, w.wear)
	_, err = w.RecordContact(ctx, w.nurse, w.wear, store.NewContact{At: w.clock.Now(), Means: store.ByTelephone, Reached: true})
	must(t, err)
	must(t, w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{{At: w.first(), Kind: wear.Meal, Label: "rice"}}))
	_, err = w.AddOverride(ctx, w.nurse, w.doubt())
	must(t, err)
	must(t, w.Beat(ctx, store.Beat{At: w.clock.Now(), FolderOK: true}))
	_, err = w.Merge(ctx, w.nurse, w.patient.ID, w.patient.ID+1, "entered twice")
	must(t, err)
	return w
}

// posted sends a letter about a wear by post.
func (w *ward) posted(t *testing.T, wearID int64) int64 {
	t.Helper()
	id, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: wearID, Kind: "tests", Text: "Dear"})
	must(t, err)
	must(t, w.SendLetter(ctx, w.nurse, id, "Dear", store.ByPost))
	return id
}

// Whoever reads is told what cannot be read: with any table gone an answer is an
// error, or what it was.
func TestReadersTellWhatIsGone(t *testing.T) {
	w := worked(t)
	now, p := w.clock.Now(), w.patient.ID
	span := store.Span{From: now.AddDate(-1, 0, 0), To: now}
	readers := map[string]func() (any, error){
		"round": func() (any, error) {
			q := store.RoundQuery{Limit: 200, Now: now, Text: "P", For: w.nurse.UserID}
			return two(w.Round(ctx, q))
		},
		"last file":   func() (any, error) { return two(w.LastReceived(ctx)) },
		"wear":        func() (any, error) { return two(w.Wear(ctx, w.wear)) },
		"review":      func() (any, error) { return two(w.Review(ctx, w.wear)) },
		"inputs":      func() (any, error) { return two(w.WearInputs(ctx, w.wear)) },
		"trace":       func() (any, error) { r, e, err := w.Trace(ctx, w.wear); return []any{r, e}, err },
		"file trace":  func() (any, error) { r, e, err := w.FileTrace(ctx, w.wear); return []any{r, e}, err },
		"brought":     func() (any, error) { r, e, err := w.Brought(ctx, 1); return []any{r, e}, err },
		"wears":       func() (any, error) { return two(w.WearsOf(ctx, p)) },
		"overlapping": func() (any, error) { return two(w.OverlappingWears(ctx, p, span.From, span.To)) },
		"outcomes":    func() (any, error) { return two(w.Outcomes(ctx, p)) },
		"notes":       func() (any, error) { return two(w.Notes(ctx, p)) },
		"results":     func() (any, error) { return two(w.Results(ctx, p)) },
		"letters":     func() (any, error) { return two(w.Letters(ctx, p)) },
		"letter":      func() (any, error) { return two(w.Letter(ctx, 1)) },
		"templates":   func() (any, error) { return two(w.Templates(ctx)) },
		"outbox":      func() (any, error) { return two(w.Outbox(ctx, store.Unprinted, now)) },
		"recalls": func() (any, error) {
			return two(w.Recalls(ctx, store.RecallQuery{PatientID: p, Closed: true, Limit: 200}))
		},
		"contacts":     func() (any, error) { return two(w.RecallContacts(ctx, []int64{1, 2})) },
		"merges":       func() (any, error) { return two(w.Merges(ctx, p)) },
		"patients":     func() (any, error) { return two(w.Patients(ctx)) },
		"patient":      func() (any, error) { return two(w.PatientRecord(ctx, p)) },
		"summaries":    func() (any, error) { return two(w.RegisterSummaries(ctx, []int64{p})) },
		"search":       func() (any, error) { return two(w.SearchPatients(ctx, "P", 50)) },
		"files":        func() (any, error) { return two(w.FileByID(ctx, 1)) },
		"drops":        func() (any, error) { return two(w.Drops(ctx, store.DropQuery{Limit: 200})) },
		"counts":       func() (any, error) { return two(w.Counts(ctx)) },
		"daily":        func() (any, error) { return two(w.Daily(ctx, now)) },
		"users":        func() (any, error) { return two(w.Users(ctx)) },
		"log":          func() (any, error) { return two(w.LogRows(ctx, store.LogQuery{Limit: 200, PatientID: p})) },
		"actions":      func() (any, error) { return two(w.LogActions(ctx)) },
		"head":         func() (any, error) { return two(w.LogHead(ctx)) },
		"draft":        func() (any, error) { return two(w.Draft(ctx, w.nurse.UserID, "/wears/1")) },
		"last look":    func() (any, error) { return two(w.LastBeat(ctx)) },
		"version":      func() (any, error) { return two(w.DataVersion(ctx)) },
		"kinds":        func() (any, error) { return two(w.KindMeasures(ctx, "A")) },
		"sheet":        func() (any, error) { return two(w.RoutineSheet(ctx, w.nurse, now, 50)) },
		"recipes":      func() (any, error) { return two(w.Recipes(ctx)) },
		"lookalikes":   func() (any, error) { return two(w.Lookalikes(ctx, p, storetest.Readings(now, 2, 5*time.Minute))) },
		"year":         func() (any, error) { return two(w.YearAudit(ctx, now, time.UTC, span)) },
		"by protocol":  func() (any, error) { return two(w.OpenByProtocol(ctx)) },
		"settings":     func() (any, error) { return two(w.Practice(ctx)) },
		"jobs":         func() (any, error) { return two(w.Jobs(ctx)) },
		"sessions":     func() (any, error) { return two(w.Sessions(ctx, w.nurse.UserID)) },
		"tokens":       func() (any, error) { return two(w.Tokens(ctx)) },
		"saved lists":  func() (any, error) { return two(w.SavedFilters(ctx, w.nurse.UserID)) },
		"credentials":  func() (any, error) { return two(w.Credentials(ctx, "rilo")) },
		"many answers": func() (any, error) { return two(w.AnsweredFiles(ctx)) },
	}
	whole, said := map[string]any{}, map[string]bool{}
	for name, read := range readers {
		v, err := read()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		whole[name] = v
	}
	storetest.Gone(t, w.Store, func(table string) {
		for name, read := range readers {
			v, err := read()
			if err != nil {
				said[name] = true
			} else if !reflect.DeepEqual(v, whole[name]) {
				t.Errorf("%s: without %s it gives something else, and no error", name, table)
			}
		}
	})
	for name := range readers {
		if !said[name] {
			t.Errorf("%s: no table is needed", name)
		}
	}
}

func two[T any](v T, err error) (any, error) { return v, err }

// A letter by post waits, is printed with the others of its run, and is posted;
// one that is held, for whatever reason, stays where it is.
func TestOutboxPassesOnWhatIsNotHeld(t *testing.T) {
	w := newWard(t)
	p := storetest.AddPatient(t, w.Store, 2)
	routine := storetest.File(t, w.Store, storetest.Filing(9, p.ID, w.clock.Now(), 14, wear.Routine, 0))
	free := func() {
		w.claim(t, w.nurse, routine)
		must(t, second(w.RecordOutcome(ctx, w.nurse, store.NewOutcome{WearID: routine, Kind: store.ToldWell})))
	}
	hold := func() { must(t, w.Reopen(ctx, w.nurse, routine, "to look again")) }
	const why = "The wear is on the round. Record first that the patient is told that all is well."
	free()
	first, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: p.ID, WearID: routine, Kind: "patient_unremarkable", Text: "Dear"})
	must(t, err)
	must(t, w.SendLetter(ctx, w.nurse, first, "Dear", store.ByPost))
	hold()
	w.claim(t, w.nurse, w.wear)
	general := w.posted(t, 0)
	by, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "tests", Text: "Dear"})
	must(t, err)
	must(t, w.SendLetter(ctx, w.nurse, by, "Dear", store.InPerson))
	list := func(l store.BoxList) map[int64]string {
		t.Helper()
		box, err := w.Outbox(ctx, l, w.clock.Now())
		must(t, err)
		out := map[int64]string{}
		for _, b := range box.Rows {
			out[b.ID] = b.Held
		}
		if box.Counts[l] != len(out) {
			t.Errorf("%s counts %d of %v", l, box.Counts[l], out)
		}
		return out
	}
	is := func(what string, got, want map[int64]string) {
		t.Helper()
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	is("to be printed", list(store.Unprinted), map[int64]string{first: why, general: ""})
	at, n, err := w.PrintLetters(ctx, w.nurse)
	if must(t, err); n != 1 {
		t.Errorf("%d printed, want the one that is about no wear", n)
	}
	free()
	is("still to be printed", list(store.Unprinted), map[int64]string{first: ""})
	is("printed", list(store.Printed), map[int64]string{general: ""})
	run, err := w.PrintRun(ctx, at)
	if must(t, err); len(run) != 1 || run[0].ID != general || !run[0].PrintedAt.Equal(at) || run[0].Patient.Code != w.patient.Code {
		t.Errorf("the run: %+v", run)
	}
	w.clock.Advance(time.Minute)
	_, n, err = w.PrintLetters(ctx, w.nurse)
	if must(t, err); n != 1 {
		t.Errorf("%d printed in the second run", n)
	}
	hold()
	n, err = w.PostLetters(ctx, w.nurse)
	if must(t, err); n != 1 {
		t.Errorf("%d posted, want the one that nothing holds", n)
	}
	is("posted", list(store.Posted), map[int64]string{general: ""})
	free()
	is("today", list(store.SentToday), map[int64]string{first: "", general: ""})
	w.clock.Advance(day)
	is("a day later", list(store.SentToday), map[int64]string{})
	if n, err := w.PostLetters(ctx, w.nurse); n != 1 || err != nil {
		t.Errorf("%d posted at last, %v", n, err)
	}
	if n, err := w.PostLetters(ctx, w.nurse); n != 0 || err != nil {
		t.Errorf("%d posted twice, %v", n, err)
	}
}

// Each bound on what is kept: the last that is taken, the first that is not.
func TestBoundsOfWhatIsKept(t *testing.T) {
	w := newWard(t)
	w.claim(t, w.nurse, w.wear)
	in, err := w.WearInputs(ctx, w.wear)
	must(t, err)
	from, to := in.Readings[0].At, in.Readings[len(in.Readings)-1].At
	event := func(e wear.Event) error { return w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{e}) }
	stick := func(num int64, unit wear.Unit, at int64) error {
		return event(wear.Event{At: from, Kind: wear.Fingerstick, Value: wear.Reading{At: at, Num: num, Scale: 1, Unit: unit}})
	}
	long := func(n int) string { return strings.Repeat("é", n) }
	for _, c := range []struct {
		name  string
		taken bool
		err   error
	}{
		{"page of a draft of 400", true, w.SaveDraft(ctx, w.nurse.UserID, strings.Repeat("p", 400), "{}")},
		{"page of a draft of 401", false, w.SaveDraft(ctx, w.nurse.UserID, strings.Repeat("p", 401), "{}")},
		{"draft of no page", false, w.SaveDraft(ctx, w.nurse.UserID, "", "{}")},
		{"draft of 64 KiB", true, w.SaveDraft(ctx, w.nurse.UserID, "/a", strings.Repeat("x", 64<<10))},
		{"draft of more", false, w.SaveDraft(ctx, w.nurse.UserID, "/a", strings.Repeat("x", 64<<10+1))},
		{"name of 100", true, w.EditUser(ctx, w.lead, w.other.UserID, long(100), []store.Role{store.RoleNurse}, false, "")},
		{"name of 101", false, w.EditUser(ctx, w.lead, w.other.UserID, long(101), []store.Role{store.RoleNurse}, false, "")},
		{"no name", false, w.EditUser(ctx, w.lead, w.other.UserID, "  ", []store.Role{store.RoleNurse}, false, "")},
		{"fingerstick", true, stick(59, wear.MmolL, from)}, {"fingerstick of nought", false, stick(0, wear.MmolL, from)},
		{"fingerstick without a unit", false, stick(59, wear.UnitUnknown, from)}, {"fingerstick of another time", false, stick(59, wear.MmolL, from+60)},
		{"event of two days", true, event(wear.Event{At: from, Kind: wear.Exercise, Label: "a", Minutes: 48 * 60})},
		{"event of more", false, event(wear.Event{At: from, Kind: wear.Exercise, Label: "b", Minutes: 48*60 + 1})},
		{"event of less than nothing", false, event(wear.Event{At: from, Kind: wear.Exercise, Label: "c", Minutes: -1})},
		{"event of no kind", false, event(wear.Event{At: from, Kind: "dance", Label: "d"})},
		{"event days before", false, event(wear.Event{At: from - 8*86400, Kind: wear.Meal, Label: "e"})},
		{"event days after", false, event(wear.Event{At: to + 8*86400, Kind: wear.Meal, Label: "f"})},
	} {
		if (c.err == nil) != c.taken {
			t.Errorf("%s: %v", c.name, c.err)
		}
		if c.err != nil && store.CodeOf(c.err) != store.Invalid {
			t.Errorf("%s: %v is no fault of the input", c.name, c.err)
		}
	}
}
