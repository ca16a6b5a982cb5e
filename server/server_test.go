package server_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"golang.org/x/net/html"

	"wearround/server"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/web"
	"wearround/worker/wear"
)

func TestEveryPageIsWhole(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	for path, want := range map[string]string{
		"/": storetest.Patient(1).Code, "/?tier=routine&s=" + f.Veil.Cover("nobody"): "0 of 1", "/about": wear.DefaultProtocol().Version,
		fmt.Sprint("/wears/", id): storetest.Patient(1).Code, fmt.Sprint("/wears/", id, "?from=2026-05-20&days=3"): storetest.Patient(1).Code,
		"/files": "Filed", "/files?outcome=held": "held",
	} {
		w := f.Ask(http.MethodGet, path, nil)
		if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: status %d, and %q stands in it: %v", path, w.Code, want, strings.Contains(w.Body.String(), want))
		}
		if _, err := html.Parse(w.Body); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// TestHeaders asks every route that gin knows, so that a new one is held to the
// same headers.
func TestHeaders(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	engine := f.Engine()
	if len(engine.Routes()) < 100 {
		t.Fatalf("only %d routes are known", len(engine.Routes()))
	}
	style := regexp.MustCompile(`/static/[^"]+\.css`).FindString(f.Ask(http.MethodGet, "/about", nil).Body.String())
	paths := []string{"GET /no-such-page", "PUT /about", "GET " + style}
	for _, r := range engine.Routes() {
		paths = append(paths, r.Method+" "+servertest.Fill(r.Path, id))
	}
	engine.GET("/test/panic", f.Page(func(*gin.Context) (web.Page, error) { panic("a fault") }))
	paths = append(paths, "GET /test/panic")
	elsewhere := func(r *http.Request) { r.Host = "elsewhere.example" }
	for _, mp := range paths {
		method, path, _ := strings.Cut(mp, " ")
		for who, w := range map[string]*httptest.ResponseRecorder{
			"the lead": f.Ask(method, path, url.Values{}), "an auditor": f.AskAs(store.RoleAuditor, method, path, url.Values{}),
			"nobody": f.AskAs(servertest.Nobody, method, path, url.Values{}), "another host": f.Ask(method, path, url.Values{}, elsewhere),
		} {
			for name, want := range map[string]string{
				"Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'",
				"X-Content-Type-Options":  "nosniff", "Referrer-Policy": "no-referrer", "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
				"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin", "Cache-Control": "no-store",
			} {
				if name == "Cache-Control" && path == style && w.Code == http.StatusOK {
					want = "public, max-age=31536000, immutable" // its name changes with it
				}
				if got := w.Header().Get(name); got != want {
					t.Errorf("%s for %s, status %d: %s is %q", mp, who, w.Code, name, got)
				}
			}
		}
		f.SignIn(store.RoleLead) // some of them sign out
		f.SignIn(store.RoleAuditor)
	}
}

func TestRefusals(t *testing.T) {
	f := servertest.New(t)
	form := url.Values{"code": {"unit"}, "value.0": {"mmol/L"}}
	for _, tt := range []struct {
		why    string
		method string
		path   string
		edit   func(*http.Request)
		status int
	}{
		{"no such page", "GET", "/nothing", nil, 404},
		{"no such wear", "GET", "/wears/77", nil, 404},
		{"not a number", "GET", "/wears/one", nil, 404},
		{"a change by GET", "GET", "/files/1/answer", nil, 405},
		{"a form without the session's token", "POST", "/files/1/answer", func(r *http.Request) {
			r.Body, r.ContentLength = http.NoBody, 0
		}, 403},
		{"another host name points here", "GET", "/", func(r *http.Request) { r.Host = "elsewhere.example" }, 403},
		{"another host name with a port", "GET", "/", func(r *http.Request) { r.Host = "elsewhere.example:8470" }, 403},
		{"a page of another site posts", "POST", "/files/1/answer", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, 403},
		{"an origin of another site", "POST", "/files/1/answer", func(r *http.Request) {
			r.Header.Del("Sec-Fetch-Site")
			r.Header.Set("Origin", "http://elsewhere.example")
		}, 403},
		{"a change that does not say where it comes from", "POST", "/files/1/answer", func(r *http.Request) { r.Header.Del("Sec-Fetch-Site") }, 403},
		{"an answer for no file", "POST", "/files/77/answer", nil, 404},
	} {
		var edits []func(*http.Request)
		if tt.edit != nil {
			edits = append(edits, tt.edit)
		}
		w := f.Ask(tt.method, tt.path, form, edits...)
		if w.Code != tt.status || !strings.Contains(w.Body.String(), "<h1") {
			t.Errorf("%s: status %d, want %d on a page with a heading", tt.why, w.Code, tt.status)
		}
	}
	for _, host := range []string{"localhost:1", "[::1]:8470", "127.0.0.9"} {
		if w := f.Ask(http.MethodGet, "/", nil, func(r *http.Request) { r.Host = host }); w.Code != 200 {
			t.Errorf("%s is this machine, yet the status is %d", host, w.Code)
		}
	}
}

func TestListenOnThisMachineOnly(t *testing.T) {
	for _, bad := range []string{"0.0.0.0:0", ":0", "[::]:0", "192.0.2.7:0", "example.org:80", "127.0.0.1"} {
		if l, err := server.Listen(bad, false); err == nil {
			l.Close()
			t.Errorf("%s was served", bad)
		}
	}
	for _, good := range []string{"127.0.0.1:0", "localhost:0"} {
		l, err := server.Listen(good, false)
		if err != nil {
			t.Fatal(err)
		}
		l.Close()
	}
}

func TestHealth(t *testing.T) {
	f := servertest.New(t)
	if w := f.Ask(http.MethodGet, "/healthz", nil); w.Code != 200 {
		t.Errorf("a program that works says %d %s", w.Code, w.Body)
	}
	f.Clock.Advance(time.Hour)
	if w := f.Ask(http.MethodGet, "/readyz", nil); w.Code != 503 || !strings.Contains(w.Body.String(), "not being looked at") {
		t.Errorf("a worker silent for an hour: %d %s", w.Code, w.Body)
	}
	f.SignIn(store.RoleLead)
	if w := f.Ask(http.MethodGet, "/", nil); !strings.Contains(w.Body.String(), "may be incomplete") {
		t.Error("the round of a stalled worker looks like an empty queue")
	}
	f.Beat(false, "The watched folder cannot be read.")
	if w := f.Ask(http.MethodGet, "/readyz", nil); w.Code != 503 || !strings.Contains(w.Body.String(), "cannot be read") {
		t.Errorf("an unreadable folder: %d %s", w.Code, w.Body)
	}
}

func TestLiveRisesWithTheData(t *testing.T) {
	f := servertest.New(t)
	version := func() int64 {
		var l web.Live
		if err := json.Unmarshal(f.Ask(http.MethodGet, "/live", nil).Body.Bytes(), &l); err != nil {
			t.Fatal(err)
		}
		return l.Version
	}
	before := version()
	f.File(3)
	if after := version(); after <= before {
		t.Errorf("version %d, then %d after a wear was filed", before, after)
	}
	rows := f.Ask(http.MethodGet, "/", nil, func(r *http.Request) { r.Header.Set("X-Fragment", "rows") }).Body.String()
	if strings.Contains(rows, "<html") || !strings.Contains(rows, storetest.Patient(3).Code) {
		t.Error("the fragment is not the rows alone")
	}
}

func TestAnswer(t *testing.T) {
	f := servertest.New(t)
	ctx := context.Background()
	id, err := f.Store.Hold(ctx, store.Holding{
		Drop:      store.Drop{Path: "x.csv", Size: 4, ModTime: f.Clock.Now(), SeenAt: f.Clock.Now(), Fate: store.Held},
		SHA256:    storetest.Hash(5),
		Questions: []wear.Question{{Code: "patient", Text: "Whose wear is this?"}},
	})
	if err != nil {
		t.Fatal(err)
	}
	path := fmt.Sprintf("/files/%d/answer", id)
	// A code that is not on the register is explained beside the file.
	w := f.Ask(http.MethodPost, path, url.Values{"code": {"patient"}, "other.0": {"P-0001"}})
	if !strings.Contains(w.Body.String(), "No patient on the register has this code") || f.Looks != 0 {
		t.Errorf("status %d without the reason, %d looks", w.Code, f.Looks)
	}
	w = f.Ask(http.MethodPost, path, url.Values{"code": {"patient"}, "other.0": {"<b>"}, "add.0": {"1"}})
	if !strings.Contains(w.Body.String(), "A patient code is") {
		t.Errorf("a code that is none was added: %d", w.Code)
	}
	// The person says that it is a new patient.
	w = f.Ask(http.MethodPost, path, url.Values{"code": {"patient"}, "other.0": {"P-0001"}, "add.0": {"1"}})
	if w.Code != http.StatusSeeOther || f.Looks != 1 {
		t.Errorf("status %d, want a redirect; %d looks, want 1", w.Code, f.Looks)
	}
	if _, err := f.Store.PatientByCode(ctx, "P-0001"); err != nil {
		t.Error(err)
	}
	list, err := f.Store.AnsweredFiles(ctx)
	if err != nil || len(list) != 1 || list[0].Answers["patient"] != "P-0001" {
		t.Errorf("answered files %+v, %v", list, err)
	}
}

// TestLogKeepsSecrets runs requests that carry marked names and looks for the
// marks in the log.
func TestLogKeepsSecrets(t *testing.T) {
	f := servertest.New(t)
	f.File(1)
	who := storetest.Patient(1)
	f.Ask(http.MethodPost, "/", url.Values{"q": {who.Name}})
	f.Ask(http.MethodPost, "/patients/search", url.Values{"q": {who.Name}})
	f.AskAs(servertest.Nobody, http.MethodGet, "/", nil, func(r *http.Request) { r.Header.Set("Cookie", "s=marked-cookie") })
	f.AskAs(servertest.Nobody, http.MethodPost, "/sign-in", url.Values{"login": {"marked-login"}, "password": {"marked-password"}})
	f.AskAs(servertest.Nobody, http.MethodGet, "/set-up/marked-link", nil)
	f.Ask(http.MethodGet, "/wears/marked-path", nil)
	f.Ask(http.MethodPost, "/files/1/answer", url.Values{"code": {"patient"}, "value.0": {"marked-value"}})
	log := f.Log.String()
	if !strings.Contains(log, "route=/wears/:id") {
		t.Fatal("the log does not name routes by their template")
	}
	for _, mark := range []string{who.Name, who.Code, "marked", url.QueryEscape(who.Name)} {
		if strings.Contains(log, mark) {
			t.Errorf("the log holds %q", mark)
		}
	}
}

// TestFaultsAreHidden shows a reference instead of the cause, which is logged.
func TestFaultsAreHidden(t *testing.T) {
	f := servertest.New(t)
	engine := f.Engine()
	engine.GET("/test/fault", f.Page(func(*gin.Context) (web.Page, error) { return nil, errors.New("cause of the fault") }))
	engine.GET("/test/panic", f.Page(func(*gin.Context) (web.Page, error) { panic("cause of the panic") }))
	for _, kind := range []string{"fault", "panic"} {
		w := f.Ask(http.MethodGet, "/test/"+kind, nil)
		body := w.Body.String()
		if w.Code != 500 || strings.Contains(body, "cause of") {
			t.Errorf("%s: status %d; the cause is shown: %v", kind, w.Code, strings.Contains(body, "cause of"))
		}
		if !strings.Contains(f.Log.String(), "cause of the "+kind) {
			t.Errorf("%s: the cause is not in the log", kind)
		}
	}
}

func TestMetricsNames(t *testing.T) {
	f := servertest.New(t)
	f.File(1)
	f.Ask(http.MethodGet, "/wears/1", nil)
	problems, err := testutil.GatherAndLint(f.Registry)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
	body := f.Ask(http.MethodGet, "/metrics", nil).Body.String()
	for _, want := range []string{`wearround_open_wears 1`, `route="/wears/:id"`} {
		if !strings.Contains(body, want) {
			t.Errorf("the counts do not hold %s", want)
		}
	}
	if strings.Contains(body, storetest.Patient(1).Code) {
		t.Error("a count names a patient")
	}
}
