package server

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"

	"wearround/store"
)

// browser keeps cookies between requests of somebody who is not signed in yet.
type browser struct {
	*fixture
	cookies map[string]string
}

func (f *fixture) browser() *browser { return &browser{f, map[string]string{}} }

func (b *browser) send(method, path string, form url.Values) *httptest.ResponseRecorder {
	b.t.Helper()
	w := b.askAs(nobody, method, path, form, func(r *http.Request) {
		for name, value := range b.cookies {
			r.AddCookie(&http.Cookie{Name: name, Value: value})
		}
	})
	for _, k := range w.Result().Cookies() {
		if b.cookies[k.Name] = k.Value; k.MaxAge < 0 {
			delete(b.cookies, k.Name)
		}
	}
	return w
}

// lands sends a form that must lead on to a place.
func (b *browser) lands(to, path string, form url.Values) {
	b.t.Helper()
	w := b.send(http.MethodPost, path, form)
	if got := w.Header().Get("Location"); w.Code != http.StatusSeeOther || got != to {
		b.t.Fatalf("%s leads to %q with status %d, want %q: %s", path, got, w.Code, to, said1(w))
	}
}

func TestSignInRefusals(t *testing.T) {
	f := newFixture(t)
	lead := f.actor(store.RoleLead)
	u := f.people[store.RoleAuditor]
	if err := f.store.EditUser(t.Context(), lead, u.ID, u.Name, u.Roles, true, ""); err != nil {
		t.Fatal(err)
	}
	var same string
	for _, tt := range []struct{ why, login, password string }{
		{"a wrong password", "nurse", "not this one at all"},
		{"a name that nobody has", "nobody.at.all", goodPassword},
		{"a person who is disabled", "auditor", goodPassword},
	} {
		w := f.askAs(nobody, http.MethodPost, signInPath, url.Values{"login": {tt.login}, "password": {tt.password}})
		body := regexp.MustCompile(`Page made [^<]*|value="[^"]*"`).ReplaceAllString(w.Body.String(), "")
		if w.Code != http.StatusUnauthorized || len(w.Result().Cookies()) > 0 {
			t.Errorf("%s: status %d, cookies %v", tt.why, w.Code, w.Result().Cookies())
		}
		if same == "" {
			same = body
		}
		if body != same {
			t.Errorf("%s looks different", tt.why)
		}
	}
}

// TestSignInWaits: five failures in a row wait, the wait ends, and the same
// account signs in from where it is at home all the while.
func TestSignInWaits(t *testing.T) {
	f := newFixture(t)
	try := func(password, from string) int {
		return f.askAs(nobody, http.MethodPost, signInPath, url.Values{"login": {"nurse"}, "password": {password}}, func(r *http.Request) { r.RemoteAddr = from + ":40000" }).Code
	}
	for i := range 5 {
		if got := try("wrong wrong wrong", "198.51.100.9"); got != http.StatusUnauthorized {
			t.Fatalf("failure %d: status %d", i+1, got)
		}
	}
	if got := try(goodPassword, "198.51.100.9"); got != http.StatusTooManyRequests {
		t.Errorf("after five failures the right password is looked at: status %d", got)
	}
	if got := try(goodPassword, "127.0.0.1"); got != http.StatusSeeOther {
		t.Errorf("somebody elsewhere locks the account out: status %d", got)
	}
	f.clock.Advance(16 * time.Minute)
	if got := try(goodPassword, "198.51.100.9"); got != http.StatusSeeOther {
		t.Errorf("the wait does not end: status %d", got)
	}
}

// TestFirstStart goes from the printed link to the round: name, password,
// second factor, recovery codes; then in again with a code, once each.
func TestFirstStart(t *testing.T) {
	f := newFixture(t, func(c *Config) { c.FactorRequired = true }, nobodyYet)
	address, token := SetupLink("http://127.0.0.1:8470/")
	if _, err := f.store.SetSetupToken(t.Context(), token); err != nil {
		t.Fatal(err)
	}
	link := strings.TrimPrefix(address, "http://127.0.0.1:8470")
	b := f.browser()
	if w := b.send(http.MethodGet, link, nil); w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, said1(w))
	}
	who := url.Values{"name": {"Velo Tarim"}, "login": {"velo"}, "password": {"short"}, "again": {"short"}}
	if w := b.send(http.MethodPost, link, who); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "too short") || strings.Contains(w.Body.String(), `value="short"`) {
		t.Errorf("a short password: status %d", w.Code)
	}
	who.Set("password", goodPassword+" 2")
	if w := b.send(http.MethodPost, link, who); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "two passwords differ") {
		t.Errorf("two passwords that differ: status %d", w.Code)
	}
	who.Set("again", goodPassword+" 2")
	if w := b.send(http.MethodPost, "/set-up/another", who); w.Code != http.StatusForbidden {
		t.Errorf("another link sets up: status %d", w.Code)
	}
	b.lands(factorPath, link, who)
	if w := b.send(http.MethodGet, "/", nil); w.Code != http.StatusSeeOther {
		t.Errorf("in before the second factor: status %d", w.Code)
	}
	page := b.send(http.MethodGet, factorPath, nil).Body.String()
	secret := f.pendingSecret(b)
	if grouped := strings.Join(regexp.MustCompile(`.{4}`).FindAllString(secret, -1), " "); !strings.Contains(page, grouped) && !strings.Contains(page, secret) {
		t.Error("the page does not show the secret")
	}
	if w := b.send(http.MethodPost, factorPath, url.Values{"code": {"000000"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a code that does not fit: status %d", w.Code)
	}
	w := b.send(http.MethodPost, factorPath, url.Values{"code": {f.code(secret)}})
	codes := regexp.MustCompile(`[a-z2-7]{4}(?:-[a-z2-7]{4}){3}`).FindAllString(w.Body.String(), -1)
	if w.Code != http.StatusOK || len(codes) != codeCount {
		t.Fatalf("status %d with %d recovery codes: %s", w.Code, len(codes), said1(w))
	}
	if w := b.send(http.MethodGet, "/", nil); w.Code != http.StatusOK {
		t.Errorf("not in after setting up: status %d", w.Code)
	}
	if w := b.send(http.MethodGet, link, nil); w.Code != http.StatusNotFound {
		t.Errorf("the link works twice: status %d", w.Code)
	}

	password := url.Values{"login": {"velo"}, "password": {goodPassword + " 2"}, "next": {"/recalls"}}
	again := f.browser()
	again.lands(secondPath, signInPath, password)
	if w := again.send(http.MethodPost, secondPath, url.Values{"code": {f.code(secret)}}); w.Code != http.StatusUnauthorized {
		t.Errorf("the code that set it up is good twice: status %d", w.Code)
	}
	f.clock.Advance(factorStep * time.Second)
	again.lands("/recalls", secondPath, url.Values{"code": {f.code(secret)}})
	replay := f.browser()
	replay.lands(secondPath, signInPath, password)
	if w := replay.send(http.MethodPost, secondPath, url.Values{"code": {f.code(secret)}}); w.Code != http.StatusUnauthorized {
		t.Errorf("a code is good twice: status %d", w.Code)
	}
	replay.lands("/recalls", secondPath, url.Values{"code": {strings.ToUpper(codes[3])}})
	last := f.browser()
	last.lands(secondPath, signInPath, password)
	if w := last.send(http.MethodPost, secondPath, url.Values{"code": {codes[3]}}); w.Code != http.StatusUnauthorized {
		t.Errorf("a recovery code is good twice: status %d", w.Code)
	}
	for range pendingTries - 1 {
		last.send(http.MethodPost, secondPath, url.Values{"code": {"123123"}})
	}
	last.lands(signInPath, secondPath, url.Values{"code": {codes[4]}}) // too many guesses: from the beginning
}

// pendingSecret is the second factor that somebody is setting up.
func (f *fixture) pendingSecret(b *browser) string {
	p, ok := f.lobby.get(b.cookies["p"], f.clock.Now())
	if !ok || p.secret == "" {
		f.t.Fatal("nobody is setting up a second factor")
	}
	return p.secret
}

// code is what an authenticator shows now.
func (f *fixture) code(secret string) string {
	f.t.Helper()
	code, err := totp.GenerateCode(secret, f.clock.Now())
	if err != nil {
		f.t.Fatal(err)
	}
	return code
}

// TestInvitation lets somebody in by a one-time link, which then is no good,
// nor after its days, nor as a password.
func TestInvitation(t *testing.T) {
	f := newFixture(t)
	invite := func(login string) (string, string) {
		w := f.ask(http.MethodPost, "/people", url.Values{"name": {"Dova Remi"}, "login": {login}, "role": {"nurse"}})
		link := regexp.MustCompile(`/welcome/\d+/[\w-]+`).FindString(w.Body.String())
		if w.Code != http.StatusOK || link == "" {
			t.Fatalf("status %d: %s", w.Code, said1(w))
		}
		return link, link[strings.LastIndex(link, "/")+1:]
	}
	link, secret := invite("dova")
	if w := f.askAs(nobody, http.MethodPost, signInPath, url.Values{"login": {"dova"}, "password": {secret}}); w.Code != http.StatusUnauthorized {
		t.Errorf("the link is a password: status %d", w.Code)
	}
	b := f.browser()
	if w := b.send(http.MethodGet, link, nil); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "Dova Remi") {
		t.Fatalf("status %d: %s", w.Code, said1(w))
	}
	if w := b.send(http.MethodGet, link+"x", nil); w.Code != http.StatusNotFound || strings.Contains(w.Body.String(), "Dova Remi") {
		t.Errorf("a wrong link: status %d", w.Code)
	}
	b.lands("/", link, url.Values{"password": {goodPassword}, "again": {goodPassword}})
	if w := b.send(http.MethodGet, link, nil); w.Code != http.StatusNotFound {
		t.Errorf("the link works twice: status %d", w.Code)
	}
	late, _ := invite("dova.two")
	f.clock.Advance(linkLife + time.Minute)
	if w := f.browser().send(http.MethodGet, late, nil); w.Code != http.StatusNotFound {
		t.Errorf("the link does not end: status %d", w.Code)
	}
}

// TestAccount changes one's own password and second factor; other sessions end
// and the one that asks goes on under a new secret.
func TestAccount(t *testing.T) {
	f := newFixture(t)
	b, elsewhere := f.browser(), f.browser()
	for _, x := range []*browser{b, elsewhere} {
		x.lands("/", signInPath, url.Values{"login": {"nurse"}, "password": {goodPassword}})
	}
	token := func() string { return formToken(b.cookies["s"]) }
	const fresh = "seven green kettles and a map"
	if w := b.send(http.MethodPost, "/account/password", url.Values{"csrf": {token()}, "current": {"not it at all"}, "password": {fresh}, "again": {fresh}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("changed without the current password: status %d", w.Code)
	}
	before := b.cookies["s"]
	b.lands("/account?done=password", "/account/password", url.Values{"csrf": {token()}, "current": {goodPassword}, "password": {fresh}, "again": {fresh}})
	if b.cookies["s"] == before {
		t.Error("the session keeps its secret")
	}
	if w := b.send(http.MethodGet, "/account", nil); w.Code != http.StatusOK {
		t.Errorf("signed out by one's own change: status %d", w.Code)
	}
	if w := elsewhere.send(http.MethodGet, "/account", nil); w.Code != http.StatusSeeOther {
		t.Errorf("still signed in elsewhere: status %d", w.Code)
	}
	if w := b.send(http.MethodPost, "/account/factor", url.Values{"csrf": {token()}, "current": {fresh}}); w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, said1(w))
	}
	secret := f.pendingSecret(b)
	if w := b.send(http.MethodPost, confirmFactorPath, url.Values{"csrf": {token()}, "code": {f.code(secret)}}); w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, said1(w))
	}
	w := b.send(http.MethodPost, "/account/codes", url.Values{"csrf": {token()}, "current": {fresh}})
	if w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, said1(w))
	}
	// One who set a factor is asked for it from now on, though nobody must.
	x := f.browser()
	x.lands(secondPath, signInPath, url.Values{"login": {"nurse"}, "password": {fresh}})
	if w := x.send(http.MethodPost, secondPath, url.Values{"code": {f.code(secret)}}); w.Code != http.StatusUnauthorized {
		t.Errorf("new recovery codes made an old code good again: status %d", w.Code)
	}
}

// TestLostFactor: a lead resets another's second factor, not their own.
func TestLostFactor(t *testing.T) {
	f := newFixture(t)
	ctx := t.Context()
	if err := f.store.SetSecondFactor(ctx, f.actor(store.RoleNurse), newFactor(), []string{"hash"}); err != nil {
		t.Fatal(err)
	}
	path := func(r store.Role) string { return "/people/" + idText(f.people[r].ID) + "/reset-factor" }
	if w := f.ask(http.MethodPost, path(store.RoleLead), url.Values{"reason": {"mine"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a lead resets their own: status %d", w.Code)
	}
	if w := f.ask(http.MethodPost, path(store.RoleNurse), url.Values{"reason": {"telephone lost"}}); w.Code != http.StatusOK {
		t.Errorf("status %d: %s", w.Code, said1(w))
	}
	if u, err := f.store.User(ctx, f.people[store.RoleNurse].ID); err != nil || u.SecondFactor {
		t.Errorf("%+v, %v", u, err)
	}
}
