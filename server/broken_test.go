package server_test

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"wearround/server/servertest"
	"wearround/store"
)

// failing is a context whose use by the database ends in an error where one
// line of the server asks for data the first time, and otherwise as if nothing
// were wrong.
type failing struct {
	context.Context
	mu    sync.Mutex      // the database's own watch asks too
	at    string          // the line; "" fails nowhere
	lines map[string]bool // that asked
	now   bool
	given bool // the error was handed out
}

var (
	errBroken = errors.New("the disk cannot be read")
	ended     = func() chan struct{} { c := make(chan struct{}); close(c); return c }()
)

func (f *failing) Done() <-chan struct{} {
	line := asking()
	if line == "" { // the database's own watch over a query
		return nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	first := !f.lines[line]
	f.lines[line] = true
	if f.now = first && line == f.at; f.now {
		return ended
	}
	return nil
}

func (f *failing) Err() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if !f.now {
		return nil
	}
	f.now, f.given = false, true
	return errBroken
}

// asked gives the lines that asked, and whether one of them was refused.
func (f *failing) asked() (lines []string, given bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Collect(maps.Keys(f.lines)), f.given
}

// asking is the line of the server that asks the store.
func asking() string {
	pcs := make([]uintptr, 60)
	frames := runtime.CallersFrames(pcs[:runtime.Callers(3, pcs)])
	for {
		f, more := frames.Next()
		if strings.HasPrefix(f.Function, "wearround/server/") {
			return fmt.Sprintf("%s:%d", f.File, f.Line)
		}
		if !more {
			return ""
		}
	}
}

// TestWhicheverReadFails: wherever the reading of the data fails while a page is
// made, the page is not shown as if nothing were missing: it says that it could
// not be made, or what could not be found out is in the log.
func TestWhicheverReadFails(t *testing.T) {
	f := servertest.New(t)
	f.Teach(1)
	wear, _ := f.Dipper(2)
	a := f.Actor(store.RoleNurse)
	_, err := f.Store.Claim(t.Context(), a, wear.ID)
	_, err1 := f.Store.AddNote(t.Context(), a, wear.ID, "left word")
	_, err2 := f.Store.AddRecall(t.Context(), a, store.NewRecall{PatientID: wear.Patient.ID, Kind: store.RecallReview, DueAt: f.Clock.Now()})
	letter, err3 := f.Store.OpenLetter(t.Context(), a, store.NewLetter{PatientID: wear.Patient.ID, Kind: "patient_tests", Text: "Dear you", Named: wear.Patient.Named()})
	if err := errors.Join(err, err1, err2, err3); err != nil {
		t.Fatal(err)
	}
	token := f.Token(store.RoleLead, store.ScopeRead)
	done := map[string]bool{}
	for _, r := range f.Routes() {
		if r.Method != http.MethodGet || r.Who == nil {
			continue
		}
		id := wear.ID
		switch {
		case strings.Contains(r.Path, "patients/"):
			id = wear.Patient.ID
		case strings.HasPrefix(r.Path, "/letters/"), strings.Contains(r.Path, "v1/letters/"):
			id = letter
		case strings.Contains(r.Path, "recipes/"):
			id = 1
		}
		path := servertest.Fill(r.Path, id)
		ask := func(at string) (*failing, *httptest.ResponseRecorder) {
			ctx := &failing{Context: t.Context(), at: at, lines: map[string]bool{}}
			f.Log.Reset()
			return ctx, f.AskAs(store.RoleLead, http.MethodGet, path, nil, func(q *http.Request) {
				if r.Scope != "" {
					q.Header.Set("Authorization", "Bearer "+token)
				}
				*q = *q.WithContext(ctx)
			})
		}
		whole, _ := ask("")
		lines, _ := whole.asked()
		for _, line := range lines {
			if done[line] {
				continue
			}
			done[line] = true
			ctx, w := ask(line)
			told := strings.Contains(f.Log.String(), "level=ERROR") || strings.Contains(w.Body.String(), "The database cannot be read.")
			if _, given := ctx.asked(); given && w.Code < 500 && !told {
				t.Errorf("%s is answered with status %d though the reading that %s asks for failed, and neither it nor the log tells", path, w.Code, line)
			}
		}
	}
	if len(done) < 80 {
		t.Errorf("only %d readings were made to fail", len(done))
	}
}

// TestNothingThere asks every route for a thing that is not there, and posts to
// it: that is said, whatever was to be done with it.
func TestNothingThere(t *testing.T) {
	f := servertest.New(t)
	f.File(1)
	token := f.Token(store.RoleLead, store.ScopeRead, store.ScopeWrite)
	for _, r := range f.Routes() {
		if !strings.Contains(r.Path, ":id") || r.Who == nil || r.Path == "/files/:id/answer" { // which says first that no answer was chosen
			continue
		}
		for _, id := range []int64{4242, 0} {
			var with []func(*http.Request)
			role := store.RoleLead
			if r.ForPrograms() {
				role, with = servertest.Nobody, []func(*http.Request){servertest.Bearer(token), servertest.AsJSON("{}")}
			}
			w := f.AskAs(role, r.Method, servertest.Fill(r.Path, id), url.Values{}, with...)
			if ok := w.Code == http.StatusNotFound || w.Code == http.StatusConflict || w.Code == http.StatusUnprocessableEntity; !ok {
				t.Errorf("%s %s of %d, which is not there: status %d", r.Method, r.Path, id, w.Code)
			}
			if id == 0 && w.Code != http.StatusNotFound && !r.ForPrograms() {
				t.Errorf("%s %s of 0, which is no number of a thing: status %d", r.Method, r.Path, w.Code)
			}
		}
	}
}
