package web

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"wearround/web/form"
)

type css = chromedp.CSS

// policy is the content security policy that pages must live under.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'"

// site serves pages as a server would; what it shows can be changed while a
// browser looks on.
type site struct {
	sync.Mutex
	pages map[string]Page // by path
	live  Live
	down  bool
}

func (s *site) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	s.Lock()
	defer s.Unlock()
	w.Header().Set("Content-Security-Policy", policy)
	page, ok := s.pages[r.URL.Path]
	switch {
	case strings.HasPrefix(r.URL.Path, assetPath):
		Assets().ServeHTTP(w, r)
	case r.URL.Path == "/live" && s.down:
		http.Error(w, "", http.StatusServiceUnavailable)
	case r.URL.Path == "/live":
		_ = json.NewEncoder(w).Encode(s.live)
	case !ok:
		http.NotFound(w, r)
	default:
		if r.Header.Get("X-Fragment") == "rows" {
			switch whole := page.(type) {
			case RoundPage:
				page = RoundRows{whole}
			case FilesPage:
				page = FilesRows{whole}
			}
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_ = Render(w, page)
	}
}

// browser starts a Chromium for one test, or skips it where none is installed.
// Anything that the browser complains of fails the test.
func browser(t *testing.T) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	found := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			found = p
			break
		}
	}
	if found == "" {
		if os.Getenv("WEARROUND_REQUIRE_BROWSER") != "" {
			t.Fatal("a Chromium is required here and none is found")
		}
		t.Skip("no Chromium is found: the pages are not tried in a real browser")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(found), chromedp.NoSandbox, chromedp.Flag("disable-quic", true), chromedp.UserDataDir(t.TempDir()))
	ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	t.Cleanup(stop)
	ctx, stop = context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(stop)
	if err := chromedp.Do(ctx); err != nil { // opens the tab, so that no event is missed
		t.Fatal(err)
	}
	if err := chromedp.Listen(ctx, func(event any) {
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			t.Errorf("script error: %s", e.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			if e.Entry.Source == "security" || e.Entry.Source == "javascript" {
				t.Errorf("browser: %s", e.Entry.Text)
			}
		}
	}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	return ctx
}

// do runs steps in the browser; get runs one and gives its value.
func do(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

func get[T any](t *testing.T, ctx context.Context, action chromedp.Action[T]) T {
	t.Helper()
	v, err := chromedp.Run(ctx, action)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// When the data's version rises, the rows change by themselves; the opened
// sum stays open, focus stays where it was, and the change is announced once.
func TestRoundChangesWhileOpen(t *testing.T) {
	ctx := browser(t)
	round := fullPages("")["round"].(RoundPage)
	round.System, round.Filter = System{LastLook: clock(18, 10, 42)}, RoundFilter{}
	s := &site{pages: map[string]Page{"/": round}, live: round.Live()}
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	do(t, ctx, chromedp.Navigate(server.URL+"/"), chromedp.Click(css("#why-s-9")), chromedp.WaitVisible(css("#why-9 table")), chromedp.Focus(css("#open-9")))

	s.Lock()
	added := round
	added.Version, added.Total = round.Version+1, round.Total+1
	added.Rows = append([]RoundRow{{Rank: 1, WearID: 77, Patient: form.Patient{Name: "Oskbre Zorlo"}}}, round.Rows...)
	s.pages["/"], s.live = added, added.Live()
	s.Unlock()
	do(t, ctx, chromedp.WaitVisible(css("#wear-77")))
	open := get(t, ctx, chromedp.Evaluate[bool](`document.getElementById("why-9").open`))
	focused := get(t, ctx, chromedp.Evaluate[string](`document.activeElement.id`))
	said := get(t, ctx, chromedp.Poll[string](`document.getElementById("announce").textContent`))
	if !open || focused != "open-9" || said != "1 wear added" {
		t.Errorf("sum open %v, focus on %q, said %q", open, focused, said)
	}

	s.Lock()
	stalled := added
	stalled.System.Stalled = true
	s.live = stalled.Live()
	s.Unlock()
	do(t, ctx, chromedp.WaitVisible(css("#banner")))

	s.Lock()
	s.down = true
	s.Unlock()
	do(t, ctx, chromedp.WaitVisible(css("#system.lost")))
}

// At each width no page is wider than the screen, nothing to press is smaller
// than 24 pixels, and no two labels of a picture overlap as the browser sets them.
func TestPagesFit(t *testing.T) {
	ctx := browser(t)
	pages := map[string]Page{}
	for name, page := range allPages("") {
		if _, block := page.view(); block == "page" {
			pages["/"+name] = page
		}
	}
	server := httptest.NewServer(&site{pages: pages})
	t.Cleanup(server.Close)
	const faults = `(() => {
  const out = [];
  if (document.documentElement.scrollWidth > innerWidth) out.push("page is " + document.documentElement.scrollWidth + " wide: " + [...document.querySelectorAll("main *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".scroll")).map((e) => e.outerHTML.slice(0, 60)).slice(0, 3));
  for (const e of document.querySelectorAll("a, button, input, select, summary")) {
    const b = e.getBoundingClientRect();
    const inline = getComputedStyle(e).display === "inline";
    if (b.width && !inline && !e.closest(".skip") && (b.width < 24 || b.height < 23.9)) out.push(e.outerHTML.slice(0, 80) + " is " + b.width + " by " + b.height);
  }
  for (const svg of document.querySelectorAll("svg")) {
    const texts = [...svg.querySelectorAll("text")].map((e) => [e.textContent, e.getBoundingClientRect()]).filter((e) => e[1].width);
    texts.forEach(([a, p], i) => texts.slice(0, i).forEach(([b, q]) => {
      const dx = Math.min(p.right, q.right) - Math.max(p.left, q.left), dy = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
      if (dx > 1 && dy > 3) out.push("label " + a + " lies on " + b);
    }));
  }
  return out;
})()`
	for path := range pages {
		do(t, ctx, chromedp.Navigate(server.URL+path))
		for _, width := range []int64{320, 390, 768, 1366} {
			do(t, ctx, chromedp.EmulateViewport(width, 768))
			found := get(t, ctx, chromedp.Evaluate[[]string](faults))
			for _, fault := range found {
				t.Errorf("%s at %d: %s", path, width, fault)
			}
		}
	}
}
