package server_test

import (
	"context"
	"fmt"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
)

// TestHead gives what GET gives, without its body, for every route.
func TestHead(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	heads := map[string]bool{}
	var gets []gin.RouteInfo
	for _, r := range f.Engine().Routes() {
		switch r.Method {
		case http.MethodHead:
			heads[r.Path] = true
		case http.MethodGet:
			gets = append(gets, r)
		}
	}
	f.SignIn(store.RoleLead)
	for _, r := range gets {
		if !heads[r.Path] {
			t.Errorf("HEAD %s is not served", r.Path)
		}
		path := servertest.Fill(r.Path, id)
		get, head := f.AskAs(store.RoleLead, http.MethodGet, path, nil), f.AskAs(store.RoleLead, http.MethodHead, path, nil)
		if get.Code != head.Code {
			t.Errorf("%s: GET %d, HEAD %d", r.Path, get.Code, head.Code)
		}
	}
}

// TestMetricsStaySmall invents methods, paths and hosts: none becomes a label.
func TestMetricsStaySmall(t *testing.T) {
	registry := prometheus.NewRegistry()
	f := servertest.New(t, func(c *door.Config) { c.Registry = registry })
	count := func() (n int) {
		families, err := registry.Gather()
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range families {
			n += len(m.GetMetric())
		}
		return n
	}
	f.Ask("INVENTED", "/", nil)
	f.Ask(http.MethodGet, "/nothing", nil)
	f.Ask(http.MethodGet, "/", nil, func(r *http.Request) { r.Host = "first.example" })
	before := count()
	for i := range 500 {
		f.Ask(fmt.Sprintf("INVENTED%d", i), "/", nil)
		f.Ask(http.MethodGet, fmt.Sprintf("/nothing/%d", i), nil)
		f.Ask(http.MethodGet, "/", nil, func(r *http.Request) { r.Host = fmt.Sprintf("%d.example", i) })
	}
	if n := count(); n > before+2 {
		t.Errorf("1,500 invented requests made %d series of %d", n, before)
	}
}

// TestWrongMethod is 405, with a token too; a token that is none is challenged.
func TestWrongMethod(t *testing.T) {
	f := servertest.New(t)
	token := f.Token(store.RoleLead, store.ScopeRead)
	if w := f.Ask(http.MethodDelete, "/api/v1/round", nil, servertest.Bearer(token), func(r *http.Request) { r.Header.Del("Sec-Fetch-Site") }); w.Code != http.StatusMethodNotAllowed || w.Header().Get("Allow") == "" {
		t.Errorf("a wrong method with a token: %d, Allow %q", w.Code, w.Header().Get("Allow"))
	}
	if w := f.Ask(http.MethodGet, "/api/v1/round", nil, servertest.Bearer("none")); w.Code != http.StatusUnauthorized || !strings.Contains(w.Header().Get("WWW-Authenticate"), "invalid_token") {
		t.Errorf("a bad token: %d, %q", w.Code, w.Header().Get("WWW-Authenticate"))
	}
	for _, path := range []string{"/healthz", "/readyz"} {
		if w := f.Ask(http.MethodGet, path, nil, func(r *http.Request) { r.Host = "any.example" }); w.Code != http.StatusOK {
			t.Errorf("%s under another host: %d", path, w.Code)
		}
	}
}

// TestTokenAsksTooOften is told to wait.
func TestTokenAsksTooOften(t *testing.T) {
	f := servertest.New(t)
	token := f.Token(store.RoleLead, store.ScopeRead)
	for range 1000 {
		if w := f.Ask(http.MethodGet, "/api/v1/round?limit=1", nil, servertest.Bearer(token)); w.Code == http.StatusTooManyRequests {
			if w.Header().Get("Retry-After") == "" {
				t.Error("no Retry-After")
			}
			return
		}
	}
	t.Error("a token asked 1,000 times at once")
}

// TestProxyIsTrustedByAddress takes the client's address from the proxy alone,
// and from its last hop, and serves nobody who goes past it.
func TestProxyIsTrustedByAddress(t *testing.T) {
	f := servertest.New(t, func(c *door.Config) {
		c.Proxy, c.ProxyFrom = true, []netip.Prefix{netip.MustParsePrefix("192.0.2.0/28")}
	})
	address := func(remote string, forwarded ...string) string {
		c, _ := gin.CreateTestContext(nil)
		c.Request, _ = http.NewRequest(http.MethodGet, "/", nil)
		c.Request.RemoteAddr = remote
		for _, x := range forwarded {
			c.Request.Header.Add("X-Forwarded-For", x)
		}
		return f.Address(c)
	}
	for _, tt := range []struct {
		remote    string
		forwarded []string
		want      string
	}{
		{"203.0.113.9:1", []string{"198.51.100.1"}, "203.0.113.9"},
		{"192.0.2.3:1", []string{"198.51.100.1"}, "198.51.100.1"},
		{"192.0.2.3:1", []string{"10.9.9.9, 198.51.100.1"}, "198.51.100.1"},
		{"192.0.2.3:1", []string{"10.9.9.9", "198.51.100.1"}, "198.51.100.1"},
		{"192.0.2.3:1", []string{"198.51.100.1, 192.0.2.4"}, "198.51.100.1"},
		{"192.0.2.3:1", []string{"nonsense"}, "192.0.2.3"},
		{"192.0.2.3:1", nil, "192.0.2.3"},
	} {
		if got := address(tt.remote, tt.forwarded...); got != tt.want {
			t.Errorf("from %s with %v: %s, want %s", tt.remote, tt.forwarded, got, tt.want)
		}
	}
	if w := f.Ask(http.MethodGet, "/sign-in", nil, func(r *http.Request) { r.RemoteAddr = "203.0.113.9:1" }); w.Code != http.StatusForbidden {
		t.Errorf("past the proxy: %d", w.Code)
	}
}

// TestWelcomeLinkAtOnce lets one of many in who come with the same link at once.
func TestWelcomeLinkAtOnce(t *testing.T) {
	f := servertest.New(t, func(c *door.Config) { c.FactorRequired = true })
	invite := door.NewInvitation()
	u, err := f.Store.AddUser(context.Background(), f.Actor(store.RoleLead), store.NewUser{Login: "new", Name: "Nemo New", Roles: []store.Role{store.RoleNurse}, Password: invite.Password, Temporary: true})
	if err != nil {
		t.Fatal(err)
	}
	address, err := url.Parse(invite.Address("http://x", u.ID))
	if err != nil {
		t.Fatal(err)
	}
	form := url.Values{"password": {servertest.GoodPassword}, "again": {servertest.GoodPassword}}
	var wg sync.WaitGroup
	var mu sync.Mutex
	in := 0
	for range 8 {
		wg.Go(func() {
			w := f.AskAs(servertest.Nobody, http.MethodPost, address.Path, form)
			mu.Lock()
			defer mu.Unlock()
			if w.Code == http.StatusSeeOther {
				in++
			}
		})
	}
	wg.Wait()
	if in != 1 {
		t.Errorf("%d of 8 were let in by one link", in)
	}
}

// TestClockAheadAndBack signs nobody in for a year, and bars nobody for one.
func TestClockAheadAndBack(t *testing.T) {
	f := servertest.New(t)
	f.Clock.Advance(365 * 24 * time.Hour)
	f.SignIn(store.RoleNurse)
	if w := f.AskAs(store.RoleNurse, http.MethodGet, "/help", nil); w.Code != http.StatusOK {
		t.Fatalf("signed in: %d", w.Code)
	}
	ctx, nurse := context.Background(), f.Actor(store.RoleNurse)
	if err := f.Store.SetSecondFactor(ctx, nurse, storetest.Proof(t, f.Store, nurse.UserID), "SECRET", f.Clock.Now().Unix()/30, []string{"h"}); err != nil {
		t.Fatal(err)
	}
	for range 30 { // failures that count until the year is over
		if _, err := f.Store.TrySignIn(ctx, "nurse", "10.0.0.1"); err != nil {
			t.Fatal(err)
		}
	}
	f.Clock.Advance(-365 * 24 * time.Hour)
	if w := f.AskAs(store.RoleNurse, http.MethodGet, "/help", nil); w.Code == http.StatusOK {
		t.Error("a session of the year ahead is still good")
	}
	if err := f.Store.UseTOTPStep(ctx, nurse.UserID, f.Clock.Now().Unix()/30); err != nil {
		t.Errorf("a code of now: %v", err)
	}
	f.Clock.Advance(time.Hour)
	if wait, err := f.Store.TrySignIn(ctx, "nurse", "10.0.0.1"); err != nil || wait.Sub(f.Clock.Now()) > time.Hour {
		t.Errorf("wait until %v: %v", wait, err)
	}
}

// TestSharedDesk signs two hundred people in at once on shared accounts from one
// address.
func TestSharedDesk(t *testing.T) {
	f := servertest.New(t)
	var wg sync.WaitGroup
	var mu sync.Mutex
	codes := map[int]int{}
	for range 200 {
		wg.Go(func() {
			w := f.AskAs(servertest.Nobody, http.MethodPost, door.SignInPath, url.Values{"login": {f.People[store.RoleNurse].Login}, "password": {servertest.GoodPassword}})
			mu.Lock()
			defer mu.Unlock()
			codes[w.Code]++
		})
	}
	wg.Wait()
	if codes[http.StatusSeeOther] != 200 {
		t.Errorf("answers by status: %v", codes)
	}
}

// TestDatabaseGone is trouble at once: nothing is saved into a file that is not
// there, health says so, and every page does.
func TestDatabaseGone(t *testing.T) {
	for name, do := range map[string]func(path string) error{
		"gone":     os.Remove,
		"replaced": func(p string) error { return os.Rename(p, p+".away") },
		"cut":      func(p string) error { return os.Truncate(p, 4096) },
	} {
		t.Run(name, func(t *testing.T) {
			f := servertest.New(t)
			f.Clock.Tampered()
			path := f.Store.Path()
			f.SignIn(store.RoleLead)
			f.File(1)
			if err := f.Store.Tidy(context.Background()); err != nil {
				t.Fatal(err)
			}
			if w := f.Ask(http.MethodGet, "/readyz", nil); w.Code != http.StatusOK {
				t.Fatalf("before: %d %s", w.Code, w.Body)
			}
			if err := do(path); err != nil {
				t.Fatal(err)
			}
			if name == "replaced" {
				if err := os.WriteFile(path, nil, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			if w := f.Ask(http.MethodGet, "/readyz", nil); w.Code != http.StatusServiceUnavailable || !strings.Contains(w.Body.String(), `"database"`) {
				t.Errorf("ready: %d %s", w.Code, w.Body)
			}
			if w := f.Ask(http.MethodGet, "/healthz", nil); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "not ready") {
				t.Errorf("health: %d %s", w.Code, w.Body)
			}
			if w := f.Ask(http.MethodGet, "/help", nil); !strings.Contains(w.Body.String(), "nothing can be saved") {
				t.Errorf("a page does not say it: %d", w.Code)
			}
			if err := f.Store.AddPatients(context.Background(), []store.Patient{{Code: "LOST"}}); store.CodeOf(err) != store.Broken {
				t.Errorf("a patient was saved into nothing: %v", err)
			}
		})
	}
}
