package server_test

import (
	"crypto/tls"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
)

// TestCookieFlags signs in over TLS and over loopback HTTP and looks at the
// cookie itself.
func TestCookieFlags(t *testing.T) {
	for _, secure := range []bool{false, true} {
		f := servertest.New(t, func(c *door.Config) {
			if secure {
				c.TLS = &tls.Config{}
			}
		})
		w := f.AskAs(servertest.Nobody, http.MethodPost, door.SignInPath, url.Values{"login": {"nurse"}, "password": {servertest.GoodPassword}})
		if w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
		}
		k := servertest.CookieOf(t, w, f.Cookie(door.SessionCookie))
		want := map[bool]string{false: "s", true: "__Host-s"}[secure]
		if k.Name != want || !k.HttpOnly || k.SameSite != http.SameSiteStrictMode || k.Secure != secure || k.Path != "/" || k.Domain != "" || len(k.Value) < 43 {
			t.Errorf("over TLS %v: %+v", secure, k)
		}
		if got := w.Header().Get("Strict-Transport-Security"); (got != "") != secure {
			t.Errorf("over TLS %v: Strict-Transport-Security %q", secure, got)
		}
	}
}

// TestSessionFixation brings a cookie to the sign-in, made up or somebody
// else's: neither becomes the session's.
func TestSessionFixation(t *testing.T) {
	f := servertest.New(t)
	for _, brought := range []string{"chosen-by-an-attacker", f.Sessions[store.RoleNurse]} {
		w := f.AskAs(servertest.Nobody, http.MethodPost, door.SignInPath, url.Values{"login": {"clinician"}, "password": {servertest.GoodPassword}}, func(r *http.Request) {
			r.AddCookie(&http.Cookie{Name: "s", Value: brought})
		})
		k := servertest.CookieOf(t, w, "s")
		if k.Value == brought {
			t.Errorf("the session goes by the cookie that was brought")
		}
		f.Sessions["x"] = brought
		if w := f.AskAs("x", http.MethodGet, "/", nil); w.Code != http.StatusSeeOther || w.Header().Get("Location") != door.SignInPath {
			t.Errorf("the cookie that was brought is signed in: status %d", w.Code)
		}
	}
}

func TestSessionEnds(t *testing.T) {
	f := servertest.New(t)
	in := func() bool { return f.AskAs(store.RoleNurse, http.MethodGet, "/about", nil).Code == http.StatusOK }
	f.Clock.Advance(14 * time.Minute)
	if !in() {
		t.Fatal("signed out after 14 minutes")
	}
	// What an open page asks by itself does not keep the session.
	f.Clock.Advance(14 * time.Minute)
	if w := f.AskAs(store.RoleNurse, http.MethodGet, door.LivePath, nil); w.Code != http.StatusOK {
		t.Fatalf("live: %d", w.Code)
	}
	f.AskAs(store.RoleNurse, http.MethodGet, "/", nil, func(r *http.Request) { r.Header.Set("X-Fragment", "rows") })
	f.Clock.Advance(2 * time.Minute)
	if in() {
		t.Error("an open page keeps the session by itself")
	}
	if w := f.AskAs(store.RoleNurse, http.MethodGet, door.LivePath, nil); w.Code != http.StatusUnauthorized {
		t.Errorf("live for nobody: status %d", w.Code)
	}
	if w := f.AskAs(store.RoleNurse, http.MethodGet, "/wears/1?from=2026-05-20&days=3", nil); w.Header().Get("Location") != "/sign-in?next=%2Fwears%2F1%3Ffrom%3D2026-05-20%26days%3D3" {
		t.Errorf("the way back after signing in: %q", w.Header().Get("Location"))
	}
	// Used all the time it ends after ten hours.
	f.SignIn(store.RoleNurse)
	for range 60 {
		f.Clock.Advance(9 * time.Minute)
		if w := f.AskAs(store.RoleNurse, http.MethodPost, "/session/extend", nil); w.Code != http.StatusSeeOther {
			t.Fatal("the press that keeps a session did not:", w.Code)
		}
	}
	f.Clock.Advance(time.Hour + time.Minute)
	if in() {
		t.Error("a session lasts longer than ten hours")
	}
}

func TestSignOut(t *testing.T) {
	f := servertest.New(t)
	w := f.AskAs(store.RoleNurse, http.MethodPost, "/sign-out", nil)
	if got := w.Header().Get("Clear-Site-Data"); got != `"cache", "cookies", "storage"` {
		t.Errorf("Clear-Site-Data is %q", got)
	}
	if w := f.AskAs(store.RoleNurse, http.MethodGet, "/about", nil); w.Code != http.StatusSeeOther {
		t.Errorf("the session goes on after signing out: status %d", w.Code)
	}
}

// TestRoleChangeEndsSessions: what somebody may do is what their next session
// begins with.
func TestRoleChangeEndsSessions(t *testing.T) {
	f := servertest.New(t)
	id := door.IDText(f.People[store.RoleNurse].ID)
	if w := f.Ask(http.MethodPost, "/people/"+id+"/roles", url.Values{"role": {"auditor"}}); w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	if w := f.AskAs(store.RoleNurse, http.MethodGet, "/about", nil); w.Code != http.StatusSeeOther {
		t.Errorf("the old session goes on: status %d", w.Code)
	}
}

// TestFormToken holds every route that changes something: without the token of
// the very session it does nothing, whatever else is right.
func TestFormToken(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	other := door.FormToken(f.Sessions[store.RoleNurse])
	checked := 0
	for _, r := range f.Server.Routes() {
		if r.Method != http.MethodPost || r.ForPrograms() || r.Who == nil {
			continue
		}
		checked++
		for name, token := range map[string]string{"no token": "", "another session's token": other} {
			w := f.Ask(http.MethodPost, servertest.Fill(r.Path, id), url.Values{"csrf": {token}})
			if w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "did not come from one of these pages") {
				t.Errorf("%s with %s: status %d, want 403", r.Path, name, w.Code)
			}
		}
	}
	if checked < 40 {
		t.Errorf("only %d routes change something", checked)
	}
}

// TestEveryFormCarriesTheToken looks at the pages themselves.
func TestEveryFormCarriesTheToken(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	for _, r := range f.Server.Routes() {
		if r.Method != http.MethodGet || r.ForPrograms() || r.Path == door.LivePath {
			continue
		}
		body := f.Ask(http.MethodGet, servertest.Fill(r.Path, id), nil).Body.String()
		for _, form := range strings.Split(body, "<form")[1:] {
			form, _, _ = strings.Cut(form, "</form>")
			if strings.Contains(form, `method="post"`) && !strings.Contains(form, `action="/sign-in`) && !strings.Contains(form, `name="csrf" value="`) {
				t.Errorf("%s has a form without the token: %.120s", r.Path, form)
			}
		}
	}
}

// TestProxy takes the client's address from the proxy alone, and from nobody
// where there is none.
func TestProxy(t *testing.T) {
	for _, proxy := range []bool{false, true} {
		f := servertest.New(t, func(c *door.Config) {
			c.Proxy, c.Host = proxy, func(name string) bool { return name == "round.example" }
		})
		w := f.AskAs(servertest.Nobody, http.MethodPost, door.SignInPath, url.Values{"login": {"nurse"}, "password": {servertest.GoodPassword}}, func(r *http.Request) {
			r.Host = "round.example"
			r.Header.Set("X-Forwarded-For", "192.0.2.1, 198.51.100.7")
		})
		if w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
		}
		sessions, err := f.Store.Sessions(t.Context(), f.People[store.RoleNurse].ID)
		if err != nil {
			t.Fatal(err)
		}
		want := map[bool]string{false: "127.0.0.1", true: "198.51.100.7"}[proxy]
		if got := sessions[0].Address; got != want {
			t.Errorf("behind a proxy %v: the address is %q, want %q", proxy, got, want)
		}
		if w := f.AskAs(servertest.Nobody, http.MethodGet, "/metrics", nil, func(r *http.Request) { r.Header.Set("X-Forwarded-For", "192.0.2.1") }); w.Code != http.StatusNotFound {
			t.Errorf("the counts are shown through a proxy: status %d", w.Code)
		}
	}
}
