package server

import (
	"crypto/tls"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"wearround/store"
)

// TestCookieFlags signs in over TLS and over loopback HTTP and looks at the
// cookie itself.
func TestCookieFlags(t *testing.T) {
	for _, secure := range []bool{false, true} {
		f := newFixture(t, func(c *Config) {
			if secure {
				c.TLS = &tls.Config{}
			}
		})
		w := f.askAs(nobody, http.MethodPost, signInPath, url.Values{"login": {"nurse"}, "password": {goodPassword}})
		if w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, said1(w))
		}
		k := cookieOf(t, w, f.cookie(sessionCookie))
		want := map[bool]string{false: "s", true: "__Host-s"}[secure]
		if k.Name != want || !k.HttpOnly || k.SameSite != http.SameSiteStrictMode || k.Secure != secure || k.Path != "/" || k.Domain != "" || len(k.Value) < 43 {
			t.Errorf("over TLS %v: %+v", secure, k)
		}
		if got := w.Header().Get("Strict-Transport-Security"); (got != "") != secure {
			t.Errorf("over TLS %v: Strict-Transport-Security %q", secure, got)
		}
	}
}

// cookieOf is the cookie of a name that an answer sets.
func cookieOf(t *testing.T, w *httptest.ResponseRecorder, name string) *http.Cookie {
	t.Helper()
	for _, k := range w.Result().Cookies() {
		if k.Name == name && k.MaxAge >= 0 {
			return k
		}
	}
	t.Fatalf("no cookie %q is set", name)
	return nil
}

// TestSessionFixation brings a cookie to the sign-in, made up or somebody
// else's: neither becomes the session's.
func TestSessionFixation(t *testing.T) {
	f := newFixture(t)
	for _, brought := range []string{"chosen-by-an-attacker", f.sessions[store.RoleNurse]} {
		w := f.askAs(nobody, http.MethodPost, signInPath, url.Values{"login": {"clinician"}, "password": {goodPassword}}, func(r *http.Request) {
			r.AddCookie(&http.Cookie{Name: "s", Value: brought})
		})
		k := cookieOf(t, w, "s")
		if k.Value == brought {
			t.Errorf("the session goes by the cookie that was brought")
		}
		f.sessions["x"] = brought
		if w := f.askAs("x", http.MethodGet, "/", nil); w.Code != http.StatusSeeOther || w.Header().Get("Location") != signInPath {
			t.Errorf("the cookie that was brought is signed in: status %d", w.Code)
		}
	}
}

func TestSessionEnds(t *testing.T) {
	f := newFixture(t)
	in := func() bool { return f.askAs(store.RoleNurse, http.MethodGet, "/about", nil).Code == http.StatusOK }
	f.clock.Advance(14 * time.Minute)
	if !in() {
		t.Fatal("signed out after 14 minutes")
	}
	// What an open page asks by itself does not keep the session.
	f.clock.Advance(14 * time.Minute)
	if w := f.askAs(store.RoleNurse, http.MethodGet, livePath, nil); w.Code != http.StatusOK {
		t.Fatalf("live: %d", w.Code)
	}
	f.askAs(store.RoleNurse, http.MethodGet, "/", nil, func(r *http.Request) { r.Header.Set("X-Fragment", "rows") })
	f.clock.Advance(2 * time.Minute)
	if in() {
		t.Error("an open page keeps the session by itself")
	}
	if w := f.askAs(store.RoleNurse, http.MethodGet, livePath, nil); w.Code != http.StatusUnauthorized {
		t.Errorf("live for nobody: status %d", w.Code)
	}
	if w := f.askAs(store.RoleNurse, http.MethodGet, "/wears/1?from=2026-05-20&days=3", nil); w.Header().Get("Location") != "/sign-in?next=%2Fwears%2F1%3Ffrom%3D2026-05-20%26days%3D3" {
		t.Errorf("the way back after signing in: %q", w.Header().Get("Location"))
	}
	// Used all the time it ends after ten hours.
	f.signIn(store.RoleNurse)
	for range 60 {
		f.clock.Advance(9 * time.Minute)
		if w := f.askAs(store.RoleNurse, http.MethodPost, "/session/extend", nil); w.Code != http.StatusSeeOther {
			t.Fatal("the press that keeps a session did not:", w.Code)
		}
	}
	f.clock.Advance(time.Hour + time.Minute)
	if in() {
		t.Error("a session lasts longer than ten hours")
	}
}

func TestSignOut(t *testing.T) {
	f := newFixture(t)
	w := f.askAs(store.RoleNurse, http.MethodPost, "/sign-out", nil)
	if got := w.Header().Get("Clear-Site-Data"); got != `"cache", "cookies", "storage"` {
		t.Errorf("Clear-Site-Data is %q", got)
	}
	if w := f.askAs(store.RoleNurse, http.MethodGet, "/about", nil); w.Code != http.StatusSeeOther {
		t.Errorf("the session goes on after signing out: status %d", w.Code)
	}
}

// TestRoleChangeEndsSessions: what somebody may do is what their next session
// begins with.
func TestRoleChangeEndsSessions(t *testing.T) {
	f := newFixture(t)
	id := idText(f.people[store.RoleNurse].ID)
	if w := f.ask(http.MethodPost, "/people/"+id+"/roles", url.Values{"role": {"auditor"}}); w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, said1(w))
	}
	if w := f.askAs(store.RoleNurse, http.MethodGet, "/about", nil); w.Code != http.StatusSeeOther {
		t.Errorf("the old session goes on: status %d", w.Code)
	}
}

// TestFormToken holds every route that changes something: without the token of
// the very session it does nothing, whatever else is right.
func TestFormToken(t *testing.T) {
	f := newFixture(t)
	id := f.file(1)
	other := formToken(f.sessions[store.RoleNurse])
	checked := 0
	for _, r := range f.Server.routes() {
		if r.method != http.MethodPost || r.api() || r.who == nil {
			continue
		}
		checked++
		for name, token := range map[string]string{"no token": "", "another session's token": other} {
			w := f.ask(http.MethodPost, fill(r.path, id), url.Values{"csrf": {token}})
			if w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "did not come from one of these pages") {
				t.Errorf("%s with %s: status %d, want 403", r.path, name, w.Code)
			}
		}
	}
	if checked < 40 {
		t.Errorf("only %d routes change something", checked)
	}
}

// TestEveryFormCarriesTheToken looks at the pages themselves.
func TestEveryFormCarriesTheToken(t *testing.T) {
	f := newFixture(t)
	id := f.file(1)
	for _, r := range f.Server.routes() {
		if r.method != http.MethodGet || r.api() || r.path == livePath {
			continue
		}
		body := f.ask(http.MethodGet, fill(r.path, id), nil).Body.String()
		for _, form := range strings.Split(body, "<form")[1:] {
			form, _, _ = strings.Cut(form, "</form>")
			if strings.Contains(form, `method="post"`) && !strings.Contains(form, `action="/sign-in`) && !strings.Contains(form, `name="csrf" value="`) {
				t.Errorf("%s has a form without the token: %.120s", r.path, form)
			}
		}
	}
}

func TestLocal(t *testing.T) {
	for _, bad := range []string{"", "//elsewhere.example", "https://elsewhere.example", `/\elsewhere.example`, "/a\nb", "wears/1", "/" + strings.Repeat("x", 600)} {
		if got := local(bad, "home"); got != "home" {
			t.Errorf("%q leads to %q", bad, got)
		}
	}
	if got := local("/wears/7?days=3", "home"); got != "/wears/7?days=3" {
		t.Error(got)
	}
}

// TestProxy takes the client's address from the proxy alone, and from nobody
// where there is none.
func TestProxy(t *testing.T) {
	for _, proxy := range []bool{false, true} {
		f := newFixture(t, func(c *Config) {
			c.Proxy, c.Host = proxy, func(name string) bool { return name == "round.example" }
		})
		w := f.askAs(nobody, http.MethodPost, signInPath, url.Values{"login": {"nurse"}, "password": {goodPassword}}, func(r *http.Request) {
			r.Host = "round.example"
			r.Header.Set("X-Forwarded-For", "192.0.2.1, 198.51.100.7")
		})
		if w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, said1(w))
		}
		sessions, err := f.store.Sessions(t.Context(), f.people[store.RoleNurse].ID)
		if err != nil {
			t.Fatal(err)
		}
		want := map[bool]string{false: "127.0.0.1", true: "198.51.100.7"}[proxy]
		if got := sessions[0].Address; got != want {
			t.Errorf("behind a proxy %v: the address is %q, want %q", proxy, got, want)
		}
		if w := f.askAs(nobody, http.MethodGet, "/metrics", nil, func(r *http.Request) { r.Header.Set("X-Forwarded-For", "192.0.2.1") }); w.Code != http.StatusNotFound {
			t.Errorf("the counts are shown through a proxy: status %d", w.Code)
		}
	}
}
