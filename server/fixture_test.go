package server

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// cheap makes hashes fast enough for tests.
var cheap = HashCost{MemoryKiB: 64, Passes: 1, Lanes: 1}

// goodPassword is the password of everybody in the tests.
const goodPassword = "velo tarim under the blue bridge"

// fixture is a whole server on a real store, without a listener, with one
// person of each role.
type fixture struct {
	*Server
	t        *testing.T
	store    *store.Store
	clock    *storetest.Clock
	log      *bytes.Buffer
	looks    int
	people   map[store.Role]store.User
	sessions map[store.Role]string // secrets of their sessions
}

func (f *fixture) Look() { f.looks++ }

func newFixture(t *testing.T, edit ...func(*Config)) *fixture {
	t.Helper()
	f := &fixture{t: t, log: new(bytes.Buffer), people: map[store.Role]store.User{}, sessions: map[store.Role]string{}}
	f.store, f.clock = storetest.Open(t)
	c := Config{
		Store: f.store, Worker: f, Passwords: NewPasswords(cheap), Protocol: wear.DefaultProtocol(), Zone: time.UTC, Drop: "drop", Settle: 10 * time.Second,
		Practice: "Practice of Ludo Street", Telephone: "5550 1000", Emergency: "000",
		Anchors: func() ([]store.Anchor, error) { return nil, nil },
		NextRuns: func(context.Context) (map[string]time.Time, error) {
			return map[string]time.Time{"verify_log": f.clock.Now()}, nil
		},
		Now: f.clock.Now, Log: slog.New(slog.NewTextHandler(f.log, &slog.HandlerOptions{Level: slog.LevelDebug})),
		Registry: prometheus.NewRegistry(),
	}
	for _, e := range edit {
		e(&c)
	}
	f.Server = New(c)
	if c.Practice != "" {
		f.addPeople()
	}
	f.beat(true, "")
	return f
}

// nobodyYet makes a practice that nobody can sign in to yet.
func nobodyYet(c *Config) { c.Practice = "" }

// addPeople makes one person of each role: nobody has two.
func (f *fixture) addPeople() {
	f.t.Helper()
	ctx := context.Background()
	hash, err := f.Passwords.Hash(ctx, goodPassword)
	if err != nil {
		f.t.Fatal(err)
	}
	if _, err := f.store.SetSetupToken(ctx, digest("set-up")); err != nil {
		f.t.Fatal(err)
	}
	lead, err := f.store.Setup(ctx, digest("set-up"), store.NewUser{Login: "lead", Name: "Lemo Lead", Password: hash})
	if err != nil {
		f.t.Fatal(err)
	}
	a := store.Actor{UserID: lead.ID}
	f.people[store.RoleLead] = lead
	for role, name := range map[store.Role]string{store.RoleNurse: "Nari Nurse", store.RoleClinician: "Kelo Clinician", store.RoleAuditor: "Audo Auditor"} {
		if f.people[role], err = f.store.AddUser(ctx, a, store.NewUser{Login: string(role), Name: name, Roles: []store.Role{role}, Password: hash}); err != nil {
			f.t.Fatal(err)
		}
	}
	for role := range f.people {
		f.signIn(role)
	}
}

// signIn begins a session of the person of a role and gives its secret.
func (f *fixture) signIn(role store.Role) string {
	f.t.Helper()
	secret := newSecret()
	if _, err := f.store.StartSession(context.Background(), f.people[role].ID, digest(secret), "127.0.0.1", "test"); err != nil {
		f.t.Fatal(err)
	}
	f.sessions[role] = secret
	return secret
}

func (f *fixture) actor(role store.Role) store.Actor { return store.Actor{UserID: f.people[role].ID} }

func (f *fixture) beat(ok bool, message string) {
	f.t.Helper()
	if err := f.store.Beat(context.Background(), store.Beat{At: f.clock.Now(), FolderOK: ok, Message: message}); err != nil {
		f.t.Fatal(err)
	}
}

// nobody is the role of a request without a session.
const nobody store.Role = ""

// ask sends one request as the browser of a lead on this machine would.
func (f *fixture) ask(method, path string, form url.Values, edit ...func(*http.Request)) *httptest.ResponseRecorder {
	f.t.Helper()
	return f.askAs(store.RoleLead, method, path, form, edit...)
}

// askAs does so for a person of a role, with the token that a form carries.
func (f *fixture) askAs(role store.Role, method, path string, form url.Values, edit ...func(*http.Request)) *httptest.ResponseRecorder {
	f.t.Helper()
	secret := f.sessions[role]
	if role != nobody && method != http.MethodGet {
		with := url.Values{"csrf": {formToken(secret)}}
		for k, v := range form {
			with[k] = v
		}
		form = with
	}
	path, _, _ = strings.Cut(path, "#") // as a browser does
	r := httptest.NewRequest(method, "http://127.0.0.1:8470"+path, strings.NewReader(form.Encode()))
	r.RemoteAddr = "127.0.0.1:50000"
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if method != http.MethodGet {
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	if role != nobody {
		r.AddCookie(&http.Cookie{Name: f.cookie(sessionCookie), Value: secret})
	}
	for _, e := range edit {
		e(r)
	}
	w := httptest.NewRecorder()
	f.ServeHTTP(w, r)
	return w
}

// must sends a form that must be taken, and gives the address it leads to.
func (f *fixture) must(role store.Role, path string, form url.Values) string {
	f.t.Helper()
	w := f.askAs(role, http.MethodPost, path, form)
	if w.Code != http.StatusSeeOther {
		f.t.Fatalf("%s: status %d, want a redirect: %s", path, w.Code, said1(w))
	}
	return w.Header().Get("Location")
}

// said1 is what a page says went wrong.
func said1(w *httptest.ResponseRecorder) string {
	body := w.Body.String()
	if i := strings.Index(body, `class="errors"`); i >= 0 {
		return body[i:min(len(body), i+900)]
	}
	if i := strings.Index(body, "<main"); i >= 0 {
		return body[i:min(len(body), i+900)]
	}
	return body[:min(len(body), 900)]
}

// file puts one wear of the nth invented patient on the round.
func (f *fixture) file(n int) int64 {
	f.t.Helper()
	p := storetest.AddPatient(f.t, f.store, n)
	return storetest.File(f.t, f.store, storetest.Filing(n, p.ID, f.clock.Now(), 14, wear.ThisMonth, float64(n), wear.FlagAbove7_8))
}

// engine is the server's router, to ask it for its routes.
func (f *fixture) engine() *gin.Engine { return f.http.Handler.(*gin.Engine) }

// fill puts values into the places of a route's path.
func fill(path string, id int64) string {
	return strings.NewReplacer(":id", fmt.Sprint(id), "*name", "nothing.css", ":kind", "wear_start", ":token", "x", ":secret", "x",
		":event", "1", ":override", "1", ":result", "1").Replace(path)
}
