package server_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
)

// A post that comes twice, one after the other or at the same time, is saved
// once, and its sender is led on both times.
func TestRepeatedPostIsSavedOnce(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	path := door.WearAddress(w.ID)
	form := url.Values{"note": {"rang back at noon"}, "once": {"abc"}}
	var wg sync.WaitGroup
	answers := make([]*httptest.ResponseRecorder, 4)
	for i := range answers {
		wg.Go(func() { answers[i] = f.AskAs(store.RoleNurse, http.MethodPost, path+"/note", form) })
	}
	wg.Wait()
	answers = append(answers, f.AskAs(store.RoleNurse, http.MethodPost, path+"/note", form))
	for _, a := range answers {
		if a.Code != http.StatusSeeOther {
			t.Errorf("status %d: %s", a.Code, servertest.SaidOn(a))
		}
	}
	f.Must(store.RoleNurse, path+"/note", url.Values{"note": {"and again"}, "once": {"abd"}})
	from := func(r *http.Request) { r.Header.Set("Referer", "http://"+r.Host+path) }
	if a := f.AskAs(store.RoleNurse, http.MethodPost, path+"/note", url.Values{"note": {"she fainted"}, "once": {"abc"}}, from); a.Code != http.StatusConflict {
		t.Errorf("something else from a form that was sent: status %d: %s", a.Code, servertest.SaidOn(a))
	}
	if kept := f.AskAs(store.RoleNurse, http.MethodGet, door.DraftsPath+"?page="+path, nil).Body.String(); !strings.Contains(kept, "she fainted") {
		t.Errorf("what was typed is kept as %q", kept)
	}
	v, err := f.Store.Review(t.Context(), w.ID)
	if err != nil || len(v.Notes) != 2 {
		t.Errorf("%d notes, %v; want 2", len(v.Notes), err)
	}
}

// The same key by a program, at the same time: one is done, and each other is
// told so or given the same answer.
func TestRepeatedRequestIsDoneOnce(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	token := f.Token(store.RoleNurse, store.ScopeWrite)
	key := func(r *http.Request) { r.Header.Set("Idempotency-Key", "noon") }
	path, body := fmt.Sprintf("%s/wears/%d/notes", door.APIBase, w.ID), `{"text": "rang back at noon"}`
	var wg sync.WaitGroup
	answers := make([]*httptest.ResponseRecorder, 8)
	for i := range answers {
		wg.Go(func() {
			answers[i] = f.AskAs(servertest.Nobody, http.MethodPost, path, nil, servertest.Bearer(token), servertest.AsJSON(body), key)
		})
	}
	wg.Wait()
	done := 0
	for _, a := range answers {
		switch {
		case a.Code/100 == 2 && a.Header().Get("Idempotency-Replayed") == "":
			done++
		case a.Code/100 != 2 && a.Code != http.StatusConflict:
			t.Errorf("status %d: %s", a.Code, a.Body)
		}
	}
	v, err := f.Store.Review(t.Context(), w.ID)
	if err != nil || len(v.Notes) != 1 || done != 1 {
		t.Errorf("%d of the requests say that they were done, and there are %d notes: %v", done, len(v.Notes), err)
	}
}

// What is typed is kept under whoever typed it: by the page's own script, and
// when the form comes after the session has ended. Sent, it is forgotten.
func TestNothingTypedIsLost(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	path := door.WearAddress(w.ID)
	from := func(r *http.Request) { r.Header.Set("Referer", "http://"+r.Host+path+"/call") }
	kept := func(role store.Role) string {
		t.Helper()
		a := f.AskAs(role, http.MethodGet, "/drafts?page="+path+"/call", nil)
		if a.Code != http.StatusOK {
			t.Fatalf("status %d", a.Code)
		}
		return a.Body.String()
	}
	nurse := store.RoleNurse
	if a := f.AskAs(nurse, http.MethodPost, "/drafts", url.Values{"page": {path + "/call"}, path + "/call note": {"felt shaky at noon"}}); a.Code != http.StatusNoContent {
		t.Fatalf("status %d", a.Code)
	}
	if !strings.Contains(kept(nurse), "felt shaky at noon") || strings.Contains(kept(store.RoleClinician), "shaky") {
		t.Errorf("kept: %s; of somebody else: %s", kept(nurse), kept(store.RoleClinician))
	}
	f.Clock.Advance(time.Hour) // the session has run out
	a := f.AskAs(nurse, http.MethodPost, path+"/call", url.Values{"note": {"felt shaky at one"}, "csrf": {door.FormToken(f.Sessions[nurse])}}, from)
	if a.Code != http.StatusUnauthorized || !strings.Contains(a.Body.String(), "what you typed is still there") {
		t.Errorf("status %d: %s", a.Code, servertest.SaidOn(a))
	}
	f.SignIn(nurse)
	if !strings.Contains(kept(nurse), "felt shaky at one") {
		t.Errorf("kept: %s", kept(nurse))
	}
	// Signed out in another tab, the browser has no cookie any more.
	token := door.FormToken(f.Sessions[nurse])
	f.AskAs(nurse, http.MethodPost, "/sign-out", nil)
	for _, x := range []struct{ token, says string }{{door.FormToken("made up"), "then do it again"}, {token, "what you typed is still there"}} {
		a = f.AskAs(servertest.Nobody, http.MethodPost, path+"/call", url.Values{"note": {"felt shaky at two"}, "csrf": {x.token}}, from)
		if a.Code != http.StatusUnauthorized || !strings.Contains(a.Body.String(), x.says) {
			t.Errorf("status %d, want %q: %s", a.Code, x.says, servertest.SaidOn(a))
		}
	}
	f.SignIn(nurse)
	f.SignIn(store.RoleClinician)
	if !strings.Contains(kept(nurse), "felt shaky at two") || strings.Contains(kept(store.RoleClinician), "shaky") {
		t.Errorf("kept after a sign-out: %s", kept(nurse))
	}
	f.AskAs(nurse, http.MethodPost, path+"/note", url.Values{"note": {"felt shaky at one"}}, from)
	if got := kept(nurse); got != "{}" {
		t.Errorf("still kept after it was sent: %s", got)
	}
}
