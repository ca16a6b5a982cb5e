package signin_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/server/signin"
	"wearround/store"
	"wearround/store/storetest"
)

func TestSignInRefusals(t *testing.T) {
	f := servertest.New(t)
	lead := f.Actor(store.RoleLead)
	u := f.People[store.RoleAuditor]
	if err := f.Store.EditUser(t.Context(), lead, u.ID, u.Name, u.Roles, true, ""); err != nil {
		t.Fatal(err)
	}
	var same string
	for _, tt := range []struct{ why, login, password string }{
		{"a wrong password", "nurse", "not this one at all"},
		{"a name that nobody has", "nobody.at.all", servertest.GoodPassword},
		{"a person who is disabled", "auditor", servertest.GoodPassword},
	} {
		w := f.AskAs(servertest.Nobody, http.MethodPost, door.SignInPath, url.Values{"login": {tt.login}, "password": {tt.password}})
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
	f := servertest.New(t)
	try := func(password, from string) int {
		return f.AskAs(servertest.Nobody, http.MethodPost, door.SignInPath, url.Values{"login": {"nurse"}, "password": {password}}, func(r *http.Request) { r.RemoteAddr = from + ":40000" }).Code
	}
	for i := range 5 {
		if got := try("wrong wrong wrong", "198.51.100.9"); got != http.StatusUnauthorized {
			t.Fatalf("failure %d: status %d", i+1, got)
		}
	}
	if got := try(servertest.GoodPassword, "198.51.100.9"); got != http.StatusTooManyRequests {
		t.Errorf("after five failures the right password is looked at: status %d", got)
	}
	if got := try(servertest.GoodPassword, "127.0.0.1"); got != http.StatusSeeOther {
		t.Errorf("somebody elsewhere locks the account out: status %d", got)
	}
	f.Clock.Advance(16 * time.Minute)
	if got := try(servertest.GoodPassword, "198.51.100.9"); got != http.StatusSeeOther {
		t.Errorf("the wait does not end: status %d", got)
	}
}

// TestFirstStart goes from the printed link to the round: name, password,
// second factor, recovery codes; then in again with a code, once each.
func TestFirstStart(t *testing.T) {
	f := servertest.New(t, func(c *door.Config) { c.FactorRequired = true }, servertest.NobodyYet)
	address, token := door.SetupLink("http://127.0.0.1:8470/")
	if _, err := f.Store.SetSetupToken(t.Context(), token); err != nil {
		t.Fatal(err)
	}
	link := strings.TrimPrefix(address, "http://127.0.0.1:8470")
	b := f.Browser()
	if w := b.Send(http.MethodGet, link, nil); w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	who := url.Values{"name": {"Velo Tarim"}, "login": {"velo"}, "password": {"short"}, "again": {"short"}}
	if w := b.Send(http.MethodPost, link, who); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "too short") || strings.Contains(w.Body.String(), `value="short"`) {
		t.Errorf("a short password: status %d", w.Code)
	}
	who.Set("password", servertest.GoodPassword+" 2")
	if w := b.Send(http.MethodPost, link, who); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "two passwords differ") {
		t.Errorf("two passwords that differ: status %d", w.Code)
	}
	who.Set("again", servertest.GoodPassword+" 2")
	if w := b.Send(http.MethodPost, "/set-up/another", who); w.Code != http.StatusForbidden {
		t.Errorf("another link sets up: status %d", w.Code)
	}
	b.Lands(signin.FactorPath, link, who)
	if w := b.Send(http.MethodGet, "/", nil); w.Code != http.StatusSeeOther {
		t.Errorf("in before the second factor: status %d", w.Code)
	}
	page := b.Send(http.MethodGet, signin.FactorPath, nil).Body.String()
	secret := pendingSecret(b)
	if grouped := strings.Join(regexp.MustCompile(`.{4}`).FindAllString(secret, -1), " "); !strings.Contains(page, grouped) && !strings.Contains(page, secret) {
		t.Error("the page does not show the secret")
	}
	if w := b.Send(http.MethodPost, signin.FactorPath, url.Values{"code": {"000000"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a code that does not fit: status %d", w.Code)
	}
	w := b.Send(http.MethodPost, signin.FactorPath, url.Values{"code": {codeOf(f, secret)}})
	codes := regexp.MustCompile(`[a-z2-7]{4}(?:-[a-z2-7]{4}){3}`).FindAllString(w.Body.String(), -1)
	if w.Code != http.StatusOK || len(codes) != signin.CodeCount {
		t.Fatalf("status %d with %d recovery codes: %s", w.Code, len(codes), servertest.SaidOn(w))
	}
	if w := b.Send(http.MethodGet, "/", nil); w.Code != http.StatusOK {
		t.Errorf("not in after setting up: status %d", w.Code)
	}
	if w := b.Send(http.MethodGet, link, nil); w.Code != http.StatusNotFound {
		t.Errorf("the link works twice: status %d", w.Code)
	}

	password := url.Values{"login": {"velo"}, "password": {servertest.GoodPassword + " 2"}, "next": {"/recalls"}}
	again := f.Browser()
	again.Lands(signin.SecondPath, door.SignInPath, password)
	if w := again.Send(http.MethodPost, signin.SecondPath, url.Values{"code": {codeOf(f, secret)}}); w.Code != http.StatusUnauthorized {
		t.Errorf("the code that set it up is good twice: status %d", w.Code)
	}
	f.Clock.Advance(30 * time.Second)
	again.Lands("/recalls", signin.SecondPath, url.Values{"code": {codeOf(f, secret)}})
	replay := f.Browser()
	replay.Lands(signin.SecondPath, door.SignInPath, password)
	if w := replay.Send(http.MethodPost, signin.SecondPath, url.Values{"code": {codeOf(f, secret)}}); w.Code != http.StatusUnauthorized {
		t.Errorf("a code is good twice: status %d", w.Code)
	}
	replay.Lands("/recalls", signin.SecondPath, url.Values{"code": {strings.ToUpper(codes[3])}})
	last := f.Browser()
	last.Lands(signin.SecondPath, door.SignInPath, password)
	if w := last.Send(http.MethodPost, signin.SecondPath, url.Values{"code": {codes[3]}}); w.Code != http.StatusUnauthorized {
		t.Errorf("a recovery code is good twice: status %d", w.Code)
	}
	for range signin.PendingTries - 1 {
		last.Send(http.MethodPost, signin.SecondPath, url.Values{"code": {"123123"}})
	}
	last.Lands(door.SignInPath, signin.SecondPath, url.Values{"code": {codes[4]}}) // too many guesses: from the beginning
}

// TestInvitation lets somebody in by a one-time link, which then is no good,
// nor after its days, nor as a password.
func TestInvitation(t *testing.T) {
	f := servertest.New(t)
	invite := func(login string) (string, string) {
		w := f.Ask(http.MethodPost, "/people", url.Values{"name": {"Dova Remi"}, "login": {login}, "role": {"nurse"}})
		link := regexp.MustCompile(`/welcome/\d+/[\w-]+`).FindString(w.Body.String())
		if w.Code != http.StatusOK || link == "" {
			t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
		}
		return link, link[strings.LastIndex(link, "/")+1:]
	}
	link, secret := invite("dova")
	if w := f.AskAs(servertest.Nobody, http.MethodPost, door.SignInPath, url.Values{"login": {"dova"}, "password": {secret}}); w.Code != http.StatusUnauthorized {
		t.Errorf("the link is a password: status %d", w.Code)
	}
	b := f.Browser()
	if w := b.Send(http.MethodGet, link, nil); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "Dova Remi") {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	if w := b.Send(http.MethodGet, link+"x", nil); w.Code != http.StatusNotFound || strings.Contains(w.Body.String(), "Dova Remi") {
		t.Errorf("a wrong link: status %d", w.Code)
	}
	b.Lands("/", link, url.Values{"password": {servertest.GoodPassword}, "again": {servertest.GoodPassword}})
	if w := b.Send(http.MethodGet, link, nil); w.Code != http.StatusNotFound {
		t.Errorf("the link works twice: status %d", w.Code)
	}
	late, _ := invite("dova.two")
	f.Clock.Advance(door.LinkLife + time.Minute)
	if w := f.Browser().Send(http.MethodGet, late, nil); w.Code != http.StatusNotFound {
		t.Errorf("the link does not end: status %d", w.Code)
	}
}

// TestAccount changes one's own password and second factor; other sessions end
// and the one that asks goes on under a new secret.
func TestAccount(t *testing.T) {
	f := servertest.New(t)
	b, elsewhere := f.Browser(), f.Browser()
	for _, x := range []*servertest.Browser{b, elsewhere} {
		x.Lands("/", door.SignInPath, url.Values{"login": {"nurse"}, "password": {servertest.GoodPassword}})
	}
	token := func() string { return door.FormToken(b.Cookies["s"]) }
	const fresh = "seven green kettles and a map"
	if w := b.Send(http.MethodPost, "/account/password", url.Values{"csrf": {token()}, "current": {"not it at all"}, "password": {fresh}, "again": {fresh}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("changed without the current password: status %d", w.Code)
	}
	before := b.Cookies["s"]
	b.Lands("/account?done=password", "/account/password", url.Values{"csrf": {token()}, "current": {servertest.GoodPassword}, "password": {fresh}, "again": {fresh}})
	if b.Cookies["s"] == before {
		t.Error("the session keeps its secret")
	}
	if w := b.Send(http.MethodGet, "/account", nil); w.Code != http.StatusOK {
		t.Errorf("signed out by one's own change: status %d", w.Code)
	}
	if w := elsewhere.Send(http.MethodGet, "/account", nil); w.Code != http.StatusSeeOther {
		t.Errorf("still signed in elsewhere: status %d", w.Code)
	}
	if w := b.Send(http.MethodPost, "/account/factor", url.Values{"csrf": {token()}, "current": {fresh}}); w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	secret := pendingSecret(b)
	if w := b.Send(http.MethodPost, signin.ConfirmFactorPath, url.Values{"csrf": {token()}, "code": {codeOf(f, secret)}}); w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	w := b.Send(http.MethodPost, "/account/codes", url.Values{"csrf": {token()}, "current": {fresh}})
	if w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	// One who set a factor is asked for it from now on, though nobody must.
	x := f.Browser()
	x.Lands(signin.SecondPath, door.SignInPath, url.Values{"login": {"nurse"}, "password": {fresh}})
	if w := x.Send(http.MethodPost, signin.SecondPath, url.Values{"code": {codeOf(f, secret)}}); w.Code != http.StatusUnauthorized {
		t.Errorf("new recovery codes made an old code good again: status %d", w.Code)
	}
}

// TestLostFactor: a lead resets another's second factor, not their own.
func TestLostFactor(t *testing.T) {
	f := servertest.New(t)
	ctx := t.Context()
	if err := f.Store.SetSecondFactor(ctx, f.Actor(store.RoleNurse), storetest.Proof(t, f.Store, f.Actor(store.RoleNurse).UserID), signin.NewFactor(), 0, []string{"hash"}); err != nil {
		t.Fatal(err)
	}
	path := func(r store.Role) string { return "/people/" + door.IDText(f.People[r].ID) + "/reset-factor" }
	if w := f.Ask(http.MethodPost, path(store.RoleLead), url.Values{"reason": {"mine"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a lead resets their own: status %d", w.Code)
	}
	if w := f.Ask(http.MethodPost, path(store.RoleNurse), url.Values{"reason": {"telephone lost"}}); w.Code != http.StatusOK {
		t.Errorf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	if u, err := f.Store.User(ctx, f.People[store.RoleNurse].ID); err != nil || u.SecondFactor {
		t.Errorf("%+v, %v", u, err)
	}
}

// pendingSecret is the second factor that somebody is setting up.
func pendingSecret(b *servertest.Browser) string {
	b.T.Helper()
	shown := regexp.MustCompile(`(?:[A-Z2-7]{4} ){7}[A-Z2-7]{4}|[A-Z2-7]{32}`).FindString(b.Send(http.MethodGet, signin.FactorPath, nil).Body.String())
	if shown == "" {
		b.T.Fatal("nobody is setting up a second factor")
	}
	return strings.ReplaceAll(shown, " ", "")
}

// codeOf is what an authenticator shows now.
func codeOf(f *servertest.Fixture, secret string) string {
	f.T.Helper()
	code, err := totp.GenerateCode(secret, f.Clock.Now())
	if err != nil {
		f.T.Fatal(err)
	}
	return code
}
