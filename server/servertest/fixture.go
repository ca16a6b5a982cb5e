// Package servertest is a whole server for tests: on a real store, without a
// listener, with one person of each role.
package servertest

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"wearround/server"
	"wearround/server/door"
	"wearround/server/password"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// Token makes an API token of the person of a role. Only a lead makes tokens,
// so the person leads for that moment; afterwards the token can do no more than
// its owner.
func (f *Fixture) Token(role store.Role, scopes ...string) string {
	f.T.Helper()
	ctx, u, secret := context.Background(), f.People[role], door.NewSecret()
	boss := f.Actor(store.RoleLead)
	edit := func(roles ...store.Role) {
		if err := f.Store.EditUser(ctx, boss, u.ID, u.Name, roles, false, ""); err != nil {
			f.T.Fatal(err)
		}
	}
	if role != store.RoleLead {
		edit(store.RoleLead)
		defer edit(role)
	}
	if _, err := f.Store.AddToken(ctx, f.Actor(role), "a test", door.Digest(secret), scopes, f.Clock.Now().Add(24*time.Hour)); err != nil {
		f.T.Fatal(err)
	}
	return secret
}

// Bearer sends a token.
func Bearer(token string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+token) }
}

// AsJSON sends a body.
func AsJSON(body string) func(*http.Request) {
	return func(r *http.Request) {
		r.Header.Del("Sec-Fetch-Site")
		r.Header.Set("Content-Type", "application/json")
		r.Body, r.ContentLength = io.NopCloser(strings.NewReader(body)), int64(len(body))
	}
}

// cheap makes hashes fast enough for tests.
var cheap = password.Cost{MemoryKiB: 64, Passes: 1, Lanes: 1}

// GoodPassword is the password of everybody in the tests.
const GoodPassword = "velo tarim under the blue bridge"

// Fixture is a whole server on a real store, without a listener, with one
// person of each role.
type Fixture struct {
	*server.Server
	T        *testing.T
	Store    *store.Store
	Clock    *storetest.Clock
	Log      *bytes.Buffer
	Looks    int
	People   map[store.Role]store.User
	Sessions map[store.Role]string // secrets of their sessions
}

// Look counts how often a look at the folder was asked for.
func (f *Fixture) Look() { f.Looks++ }

// New makes a server; each edit changes what it is made with.
func New(t *testing.T, edit ...func(*door.Config)) *Fixture {
	t.Helper()
	f := &Fixture{T: t, Log: new(bytes.Buffer), People: map[store.Role]store.User{}, Sessions: map[store.Role]string{}}
	f.Store, f.Clock = storetest.Open(t)
	c := door.Config{
		Store: f.Store, Worker: f, Passwords: password.New(cheap), Zone: time.UTC, Drop: t.TempDir(), Settle: 10 * time.Second,
		Practice: "Practice of Ludo Street", Telephone: "5550 1000", Emergency: "000",
		Anchors: func() ([]store.Anchor, error) { return nil, nil },
		NextRuns: func(context.Context) (map[string]time.Time, error) {
			return map[string]time.Time{"verify_log": f.Clock.Now()}, nil
		},
		Now: f.Clock.Now, Log: slog.New(slog.NewTextHandler(f.Log, &slog.HandlerOptions{Level: slog.LevelDebug})),
		Registry: prometheus.NewRegistry(),
	}
	for _, e := range edit {
		e(&c)
	}
	f.Server = server.New(c)
	if c.Practice != "" {
		f.addPeople()
	}
	f.Beat(true, "")
	return f
}

// NobodyYet makes a practice that nobody can sign in to yet.
func NobodyYet(c *door.Config) { c.Practice = "" }

// addPeople makes one person of each role: nobody has two.
func (f *Fixture) addPeople() {
	f.T.Helper()
	ctx := context.Background()
	hash, err := f.Passwords.Hash(ctx, GoodPassword)
	if err != nil {
		f.T.Fatal(err)
	}
	if _, err := f.Store.SetSetupToken(ctx, door.Digest("set-up")); err != nil {
		f.T.Fatal(err)
	}
	lead, err := f.Store.Setup(ctx, door.Digest("set-up"), store.NewUser{Login: "lead", Name: "Lemo Lead", Password: hash})
	if err != nil {
		f.T.Fatal(err)
	}
	a := store.Actor{UserID: lead.ID}
	f.People[store.RoleLead] = lead
	for role, name := range map[store.Role]string{store.RoleNurse: "Nari Nurse", store.RoleClinician: "Kelo Clinician", store.RoleAuditor: "Audo Auditor"} {
		if f.People[role], err = f.Store.AddUser(ctx, a, store.NewUser{Login: string(role), Name: name, Roles: []store.Role{role}, Password: hash}); err != nil {
			f.T.Fatal(err)
		}
	}
	for role := range f.People {
		f.SignIn(role)
	}
}

// SignIn begins a session of the person of a role and gives its secret.
func (f *Fixture) SignIn(role store.Role) string {
	f.T.Helper()
	secret := door.NewSecret()
	if _, err := f.Store.StartSession(context.Background(), f.People[role].ID, storetest.Proof(f.T, f.Store, f.People[role].ID), door.Digest(secret), "127.0.0.1", "test"); err != nil {
		f.T.Fatal(err)
	}
	f.Sessions[role] = secret
	return secret
}

// Actor is the person of a role, as the store takes them.
func (f *Fixture) Actor(role store.Role) store.Actor { return store.Actor{UserID: f.People[role].ID} }

// Beat tells the store how the worker is.
func (f *Fixture) Beat(ok bool, message string) {
	f.T.Helper()
	if err := f.Store.Beat(context.Background(), store.Beat{At: f.Clock.Now(), FolderOK: ok, Message: message}); err != nil {
		f.T.Fatal(err)
	}
}

// Nobody is the role of a request without a session.
const Nobody store.Role = ""

// Ask sends one request as the browser of a lead on this machine would.
func (f *Fixture) Ask(method, path string, form url.Values, edit ...func(*http.Request)) *httptest.ResponseRecorder {
	f.T.Helper()
	return f.AskAs(store.RoleLead, method, path, form, edit...)
}

// AskAs does so for a person of a role, with the token that a form carries.
func (f *Fixture) AskAs(role store.Role, method, path string, form url.Values, edit ...func(*http.Request)) *httptest.ResponseRecorder {
	f.T.Helper()
	secret := f.Sessions[role]
	if role != Nobody && method != http.MethodGet {
		with := url.Values{"csrf": {door.FormToken(secret)}}
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
	if role != Nobody {
		r.AddCookie(&http.Cookie{Name: f.Cookie(door.SessionCookie), Value: secret})
	}
	for _, e := range edit {
		e(r)
	}
	w := httptest.NewRecorder()
	f.ServeHTTP(w, r)
	return w
}

// Must sends a form that must be taken, and gives the address it leads to.
func (f *Fixture) Must(role store.Role, path string, form url.Values) string {
	f.T.Helper()
	w := f.AskAs(role, http.MethodPost, path, form)
	if w.Code != http.StatusSeeOther {
		f.T.Fatalf("%s: status %d, want a redirect: %s", path, w.Code, SaidOn(w))
	}
	return w.Header().Get("Location")
}

// SaidOn is what a page says went wrong.
func SaidOn(w *httptest.ResponseRecorder) string {
	body := w.Body.String()
	if i := strings.Index(body, `class="errors"`); i >= 0 {
		return body[i:min(len(body), i+900)]
	}
	if i := strings.Index(body, "<main"); i >= 0 {
		return body[i:min(len(body), i+900)]
	}
	return body[:min(len(body), 900)]
}

// File puts one wear of the nth invented patient on the round.
func (f *Fixture) File(n int) int64 {
	f.T.Helper()
	p := storetest.AddPatient(f.T, f.Store, n)
	return storetest.File(f.T, f.Store, storetest.Filing(n, p.ID, f.Clock.Now(), 14, wear.ThisMonth, float64(n), wear.FlagAbove7_8))
}

// Evidence is what the report of a wear on the routine sheet was made from, 1
// where the wear is not on it.
func (f *Fixture) Evidence(wearID int64) int64 {
	f.T.Helper()
	w, err := f.Store.Wear(f.T.Context(), wearID)
	if err != nil {
		f.T.Fatal(err)
	}
	return w.Evidence
}

// Fill puts values into the places of a route's path.
func Fill(path string, id int64) string {
	return strings.NewReplacer(":id", fmt.Sprint(id), "*name", "nothing.css", ":kind", "wear_start", ":token", "x", ":secret", "x",
		":event", "1", ":call", "1", ":override", "1", ":result", "1").Replace(path)
}

// Teach files a wear of the nth invented patient and makes the first recipe of it.
func (f *Fixture) Teach(n int) {
	f.T.Helper()
	p := storetest.AddPatient(f.T, f.Store, n)
	filing := storetest.Filing(n, p.ID, f.Clock.Now(), 14, wear.ThisMonth, float64(n))
	filing.Learned = &store.Learned{Body: json.RawMessage("{}"), Answers: []wear.Decision{{Code: "unit", Answer: "mmol/L", Evidence: "a person answered: mmol/L", By: "person"}}}
	if _, _, err := f.Store.File(f.T.Context(), filing); err != nil {
		f.T.Fatal(err)
	}
}

// Says fails the test unless the answer is a page with this status and these words.
func (f *Fixture) Says(method, path string, form url.Values, status int, words ...string) {
	f.T.Helper()
	w := f.Ask(method, path, form)
	if w.Code != status {
		f.T.Errorf("%s %s: status %d, want %d", method, path, w.Code, status)
	}
	for _, want := range words {
		if !strings.Contains(w.Body.String(), want) {
			f.T.Errorf("%s %s does not say %q", method, path, want)
		}
	}
}

// CookieOf is the cookie of a name that an answer sets.
func CookieOf(t *testing.T, w *httptest.ResponseRecorder, name string) *http.Cookie {
	t.Helper()
	for _, k := range w.Result().Cookies() {
		if k.Name == name && k.MaxAge >= 0 {
			return k
		}
	}
	t.Fatalf("no cookie %q is set", name)
	return nil
}

// TracksOf asks for a window of a wear as its open page does.
func (f *Fixture) TracksOf(role store.Role, wearID int64, query string) (int, string) {
	f.T.Helper()
	w := f.AskAs(role, http.MethodGet, door.WearAddress(wearID)+query, nil, func(r *http.Request) { r.Header.Set("X-Fragment", "tracks") })
	return w.Code, w.Body.String()
}

// Dipper files a wear with dips below 3.9 that no symptom belongs to yet, as
// the worker would, and gives it with the start of its first dip.
func (f *Fixture) Dipper(n int) (store.Wear, wear.Episode) {
	f.T.Helper()
	p := storetest.AddPatient(f.T, f.Store, n)
	filing := storetest.Filing(n, p.ID, f.Clock.Now(), 14, wear.Routine, 0)
	w := &filing.Wears[0]
	for i := range w.Readings {
		if at := w.Readings[i].At % 86400; at >= 15*3600 && at < 15*3600+2700 { // three quarters of an hour each afternoon
			w.Readings[i].Num = 33
		}
	}
	storetest.Unsay(w)
	got, err := f.Store.Wear(f.T.Context(), storetest.File(f.T, f.Store, filing))
	if err != nil {
		f.T.Fatal(err)
	}
	for _, e := range got.Report.Episodes {
		if e.Kind == wear.EpisodeBelow3_9 {
			return got, e
		}
	}
	f.T.Fatal("the invented wear has no dip")
	return got, wear.Episode{}
}

// Has fails the test unless a page holds these words.
func (f *Fixture) Has(role store.Role, path string, want ...string) {
	f.T.Helper()
	w := f.AskAs(role, http.MethodGet, path, nil)
	if w.Code != http.StatusOK {
		f.T.Fatalf("%s: status %d: %s", path, w.Code, SaidOn(w))
	}
	body := strings.ToLower(w.Body.String())
	for _, x := range want {
		if !strings.Contains(body, strings.ToLower(x)) {
			f.T.Errorf("%s does not say %q", path, x)
		}
	}
}

// Symptom is a call sheet that tells of a symptom in an episode.
func Symptom(e wear.Episode) url.Values {
	return url.Values{
		"asked-1": {fmt.Sprint(e.From.Unix())}, "felt-1": {"yes"}, "what-1": {"shaky"}, "food-1": {"yes"},
		"when-1": {e.From.Add(10 * time.Minute).Format("2006-01-02T15:04")},
	}
}

// Atoi reads a number.
func Atoi(t *testing.T, s string) int64 {
	t.Helper()
	var n int64
	if _, err := fmt.Sscan(s, &n); err != nil {
		t.Fatal(err)
	}
	return n
}
