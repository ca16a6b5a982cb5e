package main

import (
	"context"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"wearround/store/storetest"
	"wearround/web/letter"
	"wearround/worker"
	"wearround/worker/sim"
)

// chromium starts one real browser for a test, or skips the test where there
// is none and none is required.
func chromium(t *testing.T) context.Context {
	t.Helper()
	return chromiumFor(t, 2*time.Minute)
}

// chromiumFor is chromium for a test that may take so long.
func chromiumFor(t *testing.T, most time.Duration) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("WEARROUND_REQUIRE_BROWSER") != "" {
			t.Fatal("a Chromium is required here and none is found")
		}
		t.Skip("no Chromium is found: the screens are not tried in a real browser")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]),
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WindowSize(1366, 768), chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-gpu", true))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, most)
	t.Cleanup(cancel)
	return ctx
}

// practice is a whole program in this process, with an invented practice of
// which no file has been dropped yet.
type practiceApp struct {
	*app
	*sim.Practice
	at time.Time // the moment at which the practice stands
	t  *testing.T
}

func openPractice(t *testing.T, patients int) practiceApp {
	t.Helper()
	data := t.TempDir()
	if err := storetest.Empty(filepath.Join(data, "wearround.db")); err != nil {
		t.Fatal(err)
	}
	return openPracticeIn(t, data, patients)
}

// openPracticeIn is openPractice on a data folder that may hold wears already.
func openPracticeIn(t *testing.T, data string, patients int) practiceApp {
	t.Helper()
	rule, err := worker.ParseNameRule(worker.DefaultNameRule)
	if err != nil {
		t.Fatal(err)
	}
	a, err := open(context.Background(), config{
		data: data, drop: filepath.Join(data, "drop"), addr: "127.0.0.1:0", zone: time.UTC, rule: rule,
		settle: 50 * time.Millisecond, open: true,
		practice: letter.Practice{Name: "The invented practice", Phone: "5550 1000", Emergency: "000"},
	}, slog.New(slog.NewTextHandler(io.Discard, nil)))
	if err != nil {
		t.Fatal(err)
	}
	at := time.Now()
	p := sim.NewPractice(11, at, time.UTC, patients)
	if err := a.store.AddPatients(context.Background(), register(p)); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error)
	go func() { done <- a.run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return practiceApp{a, p, at, t}
}

// arrive drops the file of one wear.
func (p practiceApp) arrive(i int) {
	p.t.Helper()
	w := p.Wear(i)
	name, data := sim.Render(w, w.Layout)
	if err := os.WriteFile(filepath.Join(p.drop, name), data, 0o600); err != nil {
		p.t.Fatal(err)
	}
}

// js evaluates an expression on the page once it gives a value that counts as
// true, and gives that value.
func js[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Poll[T](expression, chromedp.WithPollingTimeout(40*time.Second)))
	if err != nil {
		t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// TestRealBrowser opens the round before any file has come, sees it fill by
// itself, and reads a wear: the sentence, the pips and the trace.
func TestRealBrowser(t *testing.T) {
	ctx := chromium(t)
	p := openPractice(t, 20)
	signIn(t, ctx, p)
	if empty := js[string](t, ctx, `document.querySelector("#rows .empty").innerText`); !strings.Contains(empty, "No wear is open") {
		t.Errorf("the empty round says %q", empty)
	}

	const wears = 6
	for i := range wears {
		p.arrive(i)
	}
	// No reload: the page swaps its own rows.
	js[bool](t, ctx, `document.querySelectorAll("tr.wear").length === 6`)
	if spoken := js[string](t, ctx, `document.querySelector("#announce").textContent`); !strings.Contains(spoken, "wear") {
		t.Errorf("a screen reader hears %q", spoken)
	}
	headline := js[string](t, ctx, `document.querySelector("tr.wear .finding p").innerText`)
	described := js[string](t, ctx, `document.querySelector("tr.wear svg.ledger desc").textContent`)
	if !strings.Contains(described, "usable day") {
		t.Errorf("the pips are described as %q", described)
	}
	// Two lines of pips, one a day: each shape is a subpath, closed by a z.
	shapes := js[int](t, ctx, `[...document.querySelectorAll("tr.wear svg.ledger path")].reduce((n, p) => n + p.getAttribute("d").split("z").length - 1, 0)`)
	if shapes < wears*2*10 {
		t.Errorf("%d pips for %d wears of two weeks", shapes, wears)
	}

	address := js[string](t, ctx, `document.querySelector("tr.wear a").href`)
	if err := chromedp.Do(ctx, chromedp.Navigate(address)); err != nil {
		t.Fatal(err)
	}
	if said := js[string](t, ctx, `document.querySelector(".headline").innerText`); said != headline {
		t.Errorf("the wear says %q, its row on the round %q", said, headline)
	}
	if n := js[int](t, ctx, `[...document.querySelectorAll("svg.tracks path.line-value")].reduce((n, p) => n + p.getAttribute("d").length, 0)`); n < 1000 {
		t.Errorf("the trace has %d characters of path", n)
	}
	for _, width := range []int64{1366, 390} {
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 844)); err != nil {
			t.Fatal(err)
		}
		if over := js[string](t, ctx, `String(document.documentElement.scrollWidth - innerWidth)`); over != "0" && !strings.HasPrefix(over, "-") {
			t.Errorf("at %d px the wear page is %s px too wide", width, over)
		}
	}
}
