package review_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// routine files a routine wear of the nth invented patient, changed.
func routine(f *servertest.Fixture, n int, change func(*wear.Report)) int64 {
	f.T.Helper()
	p := storetest.AddPatient(f.T, f.Store, n)
	filing := storetest.Filing(n, p.ID, f.Clock.Now(), 14, wear.Routine, 0)
	storetest.Change(&filing.Wears[0], change)
	return storetest.File(f.T, f.Store, filing)
}

var marks = regexp.MustCompile(`name="told" value="(\d+:\d+)"`)

// sheetMarks are the lines of the sheet as a person sees it.
func sheetMarks(f *servertest.Fixture, role store.Role) []string {
	f.T.Helper()
	var out []string
	for _, m := range marks.FindAllStringSubmatch(f.AskAs(role, http.MethodGet, "/sheet", nil).Body.String(), -1) {
		out = append(out, m[1])
	}
	return out
}

// TestSheet: one signature tells those whose lines were read, and nobody else;
// each has an outcome and a letter, and all of it can be taken back for ten
// minutes.
func TestSheet(t *testing.T) {
	f := servertest.New(t)
	for n := range 4 {
		routine(f, n+1, func(*wear.Report) {})
	}
	list := sheetMarks(f, store.RoleNurse)
	if len(list) != 4 {
		t.Fatalf("%d lines on the sheet, want 4", len(list))
	}
	if w := f.AskAs(store.RoleNurse, http.MethodPost, "/sheet", nil); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("signed without a line: status %d", w.Code)
	}
	to := f.Must(store.RoleNurse, "/sheet", url.Values{"told": list[:3]})
	f.Has(store.RoleNurse, to, "3 patients told that all is well, 3 letters in the outbox", "1 of 1 wear that may be told")
	f.Has(store.RoleNurse, "/outbox", "Print 3 letters")
	f.Must(store.RoleNurse, "/sheet/1/undo", url.Values{"outcome": {"2"}})
	f.Has(store.RoleNurse, "/outbox", "Print 2 letters")
	if w := f.AskAs(store.RoleClinician, http.MethodPost, "/sheet/1/undo", nil); w.Code == http.StatusSeeOther {
		t.Error("somebody else took the sheet back")
	}
	run := f.Must(store.RoleNurse, "/outbox/print", nil)
	f.Has(store.RoleNurse, run, "2 letters to print")
	f.Must(store.RoleNurse, "/sheet/1/undo", nil)
	f.Has(store.RoleNurse, run, "No letter was printed then")
	if got := len(sheetMarks(f, store.RoleNurse)); got != 4 {
		t.Errorf("%d lines after the undo, want 4", got)
	}
	f.Must(store.RoleNurse, "/sheet", url.Values{"told": list[:1]})
	f.Must(store.RoleNurse, "/outbox/print", nil)
	f.Must(store.RoleNurse, "/outbox/posted", nil)
	f.Clock.Advance(11 * time.Minute)
	if w := f.AskAs(store.RoleNurse, http.MethodPost, "/sheet/2/undo", url.Values{"outcome": {"4"}}); w.Code == http.StatusSeeOther {
		t.Error("taken back after eleven minutes")
	}
}

// TestSheetOnTheEvidenceSeen: what changed after the sheet was made is left on
// the round.
func TestSheetOnTheEvidenceSeen(t *testing.T) {
	f := servertest.New(t)
	id := routine(f, 1, func(*wear.Report) {})
	list := sheetMarks(f, store.RoleNurse)
	if err := f.Store.AddEvents(t.Context(), f.Actor(store.RoleClinician), id, []wear.Event{storetest.Verdict(f.Clock.Now().Unix()-86400, wear.Routine, 1)}); err != nil {
		t.Fatal(err)
	}
	w := f.AskAs(store.RoleNurse, http.MethodPost, "/sheet", url.Values{"told": list})
	if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "has changed since the sheet was made") {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	f.Has(store.RoleNurse, "/outbox", "No letter is on this list")
}

// TestNobodyIsToldUnearned is the law: whatever stands against reassurance, no
// route tells a patient that all is well, on a sheet not even a clinician's.
func TestNobodyIsToldUnearned(t *testing.T) {
	against := map[string]func(*wear.Report){
		wear.ReasonUnread:  func(r *wear.Report) { r.Unread = 1 },
		wear.ReasonUnasked: func(r *wear.Report) { r.AskedOn = "" },
		wear.ReasonNear:    func(r *wear.Report) { r.Near = []wear.Remark{{Code: "above_7_8", Text: "Near the limit."}} },
		wear.ReasonAge:     func(r *wear.Report) { r.Age = -1 },
		wear.ReasonDoubt:   func(r *wear.Report) { r.Confidence = "low" },
		wear.ReasonFlagged: func(r *wear.Report) { r.Flags = []wear.Flag{{Code: wear.FlagRisk, Tier: wear.Routine, Text: "Risk."}} },
		wear.ReasonNoData:  func(r *wear.Report) { r.Believed = 0 },
	}
	never := map[string]bool{wear.ReasonUnread: true, wear.ReasonUnasked: true, wear.ReasonNoData: true}
	n := 0
	for code, change := range against {
		t.Run(code, func(t *testing.T) {
			f := servertest.New(t)
			n++
			id := routine(f, n, change)
			if got := sheetMarks(f, store.RoleNurse); len(got) != 0 {
				t.Errorf("on the sheet: %v", got)
			}
			// A forged line, with the wear's own evidence.
			x := f.Evidence(id)
			seen, err := f.Store.Wear(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			for _, role := range []store.Role{store.RoleNurse, store.RoleClinician, store.RoleLead} {
				f.AskAs(role, http.MethodPost, "/sheet", url.Values{"told": {fmt.Sprintf("%d:%d", id, x)}})
				if _, _, err := f.Store.SignSheet(t.Context(), f.Actor(role), []store.SheetLine{{WearID: id, Evidence: x, Letter: store.NewLetter{Kind: "patient_unremarkable", Text: "x", Named: seen.Patient.Named()}}}); err != nil {
					t.Error(err)
				}
			}
			for _, role := range []store.Role{store.RoleNurse, store.RoleClinician} {
				f.Must(role, fmt.Sprintf("/wears/%d/claim", id), nil)
				f.AskAs(role, http.MethodPost, fmt.Sprintf("/wears/%d/letters", id), url.Values{"kind": {"patient_unremarkable"}})
				_, err := f.Store.RecordOutcome(t.Context(), f.Actor(role), store.NewOutcome{WearID: id, Seen: x, Kind: store.ToldWell, Reason: "Talked it through."})
				if told := err == nil; told != (role == store.RoleClinician && !never[code]) {
					t.Errorf("%s recorded told well: %v (%v)", role, told, err)
				}
				if err != nil {
					f.Must(role, fmt.Sprintf("/wears/%d/release", id), nil)
				}
			}
			letters, err := f.Store.Letters(t.Context(), 1)
			if err != nil || len(letters) != 0 {
				t.Errorf("letters: %+v (%v)", letters, err)
			}
		})
	}
}

// TestSheetSaysAFileWaits: a wear that a held file may change is off the sheet,
// and the sheet and its own page say why, with the way to the file.
func TestSheetSaysAFileWaits(t *testing.T) {
	f := servertest.New(t)
	id := routine(f, 1, func(*wear.Report) {})
	w, err := f.Store.Wear(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Store.Hold(t.Context(), store.Holding{
		Drop: store.Drop{Path: "held.csv", Size: 1, ModTime: f.Clock.Now(), SeenAt: f.Clock.Now()}, SHA256: storetest.Hash(900),
		Questions: []wear.Question{{Code: "patient", Text: "Whose wear is this?", Choices: []wear.Choice{{Value: w.Patient.Code}}}},
	}); err != nil {
		t.Fatal(err)
	}
	if got := sheetMarks(f, store.RoleNurse); len(got) != 0 {
		t.Errorf("on the sheet: %v", got)
	}
	f.Has(store.RoleNurse, "/sheet", "1 with a file that may change it and waits for an answer", `href="/files?outcome=held"`)
	f.Has(store.RoleNurse, fmt.Sprintf("/wears/%d", id), "A file that may change this waits for an answer", `href="/files?outcome=held"`)
}
