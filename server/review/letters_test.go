package review_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/web/letter"
)

// Every kind of letter has its text, which a lead changes and goes back on; what
// a text may not say is refused beside it.
func TestTextsOfLetters(t *testing.T) {
	f := servertest.New(t)
	for _, kind := range letter.Kinds() {
		path := "/letters/templates/" + string(kind)
		f.Has(store.RoleNurse, path, kind.Title())
		shipped := letter.Shipped(kind)
		for _, bad := range []string{"", "Dear {nobody}"} {
			if w := f.Ask(http.MethodPost, path, url.Values{"text": {bad}}); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), `class="errors"`) {
				t.Errorf("%s takes %q: status %d", kind, bad, w.Code)
			}
		}
		own := shipped + "\n\nWritten by this practice."
		if w := f.Ask(http.MethodPost, path+"/preview", url.Values{"text": {own}}); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "Written by this practice") {
			t.Errorf("%s is not shown with another text: status %d: %s", kind, w.Code, servertest.SaidOn(w))
		}
		if text, own, err := f.Store.Template(t.Context(), string(kind)); own || err != nil {
			t.Errorf("%s: showing a text kept it: %v, %v", kind, text, err)
		}
		f.Has(store.RoleLead, f.Must(store.RoleLead, path, url.Values{"text": {own}}), "kept as a new version", "Written by this practice")
		f.Has(store.RoleLead, f.Must(store.RoleLead, path+"/shipped", nil), "text that ships holds again")
		if kind.Sheet() {
			f.Has(store.RoleNurse, "/letters/sheets/"+string(kind), "Practice of Ludo Street")
			continue
		}
		if w := f.Ask(http.MethodGet, "/letters/sheets/"+string(kind), nil); w.Code != http.StatusNotFound {
			t.Errorf("%s is shown as a sheet: status %d", kind, w.Code)
		}
	}
	for _, path := range []string{"/letters/templates/pigeon", "/letters/sheets/pigeon"} {
		if w := f.Ask(http.MethodGet, path, nil); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
	f.Has(store.RoleNurse, "/letters", "version 2", "Lemo Lead")
}

// A letter that was thrown away is gone, and leads nowhere but says so.
func TestLetterThrownAway(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	id, err := f.Store.OpenLetter(t.Context(), f.Actor(store.RoleNurse), store.NewLetter{PatientID: w.Patient.ID, WearID: w.ID, Kind: "patient_tests", Text: "Dear you", Seen: w.Evidence, Named: w.Patient.Named()})
	if err != nil {
		t.Fatal(err)
	}
	path := "/letters/" + door.IDText(id)
	f.Has(store.RoleNurse, path, "Dear you")
	if w := f.Ask(http.MethodPost, path+"/preview", url.Values{"text": {"Dear {nobody}"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a text with a gap is shown: status %d", w.Code)
	}
	if w := f.Ask(http.MethodPost, path+"/send", url.Values{"text": {"Dear you"}, "how": {"post"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("sent by somebody who has not read it: status %d", w.Code)
	}
	if to := f.Must(store.RoleNurse, path+"/discard", nil); to != door.WearAddress(w.ID) {
		t.Errorf("thrown away, it leads to %s", to)
	}
	if w := f.Ask(http.MethodGet, path, nil); w.Code != http.StatusGone || !strings.Contains(w.Body.String(), "thrown away before it was sent") || !strings.Contains(w.Body.String(), "Write another from the page of the wear") {
		t.Errorf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
}

// Each thing that can be done with a recall: refused without what it asks for,
// with the form open again and what was typed in it; then done, and told.
func TestEveryActOnARecall(t *testing.T) {
	for task, c := range map[string]struct {
		bad, good url.Values
		state     store.RecallState
	}{
		"attempt": {url.Values{"means": {"post"}}, url.Values{"means": {"telephone"}, "reached": {"no"}, "note": {"engaged"}}, store.RecallContacted},
		"done":    {url.Values{"reason": {" "}}, url.Values{"reason": {"came by post"}}, store.RecallDone},
		"move":    {url.Values{"by": {"2026-12-01"}}, url.Values{"by": {"2026-12-01"}, "reason": {"away"}}, store.RecallDue},
		"cancel":  {url.Values{}, url.Values{"reason": {"moved away"}}, store.RecallCancelled},
		"results": {url.Values{"test": {"hba1c"}, "value": {"40"}}, nil, ""},
	} {
		t.Run(task, func(t *testing.T) {
			f := servertest.New(t)
			w, _ := f.Dipper(1)
			f.Must(store.RoleNurse, door.PatientAddress(w.Patient.ID)+"/recalls", url.Values{"kind": {"review"}, "by": {f.Clock.Now().Add(24 * time.Hour).Format(time.DateOnly)}})
			recall := func() store.Recall {
				list, err := f.Store.Recalls(t.Context(), store.RecallQuery{Closed: true, Limit: 1})
				if err != nil {
					t.Fatal(err)
				}
				return list.Rows[0]
			}
			path := "/recalls/" + door.IDText(recall().ID) + "/" + task
			if w := f.AskAs(store.RoleNurse, http.MethodPost, path, c.bad); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), `class="errors"`) {
				t.Errorf("%v is taken: status %d", c.bad, w.Code)
			}
			if c.good == nil {
				return
			}
			if to := f.Must(store.RoleNurse, path, c.good); to != "/recalls#recall-"+door.IDText(recall().ID) {
				t.Errorf("leads to %s", to)
			}
			if got := recall(); got.State != c.state || task == "move" && got.DueAt.Format(time.DateOnly) != "2026-12-01" {
				t.Errorf("the recall is %s for %s, want %s", got.State, got.DueAt, c.state)
			}
			f.Has(store.RoleNurse, door.PatientAddress(w.Patient.ID), map[string]string{
				"done": "closed the recall for a review. came by post", "cancel": "cancelled the recall for a review. moved away",
			}[task])
		})
	}
}
