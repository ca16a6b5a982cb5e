package web

import (
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// wearSite serves the page of one wear and, to the script, its window.
func wearSite(t *testing.T, page WearPage) (address string, windows *atomic.Int64) {
	t.Helper()
	windows = new(atomic.Int64)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", policy)
		if strings.HasPrefix(r.URL.Path, assetPath) {
			Assets().ServeHTTP(w, r)
			return
		}
		if r.URL.Path == "/live" {
			http.NotFound(w, r)
			return
		}
		shown := page
		shown.Window = ParseWindow(r.URL.Query())
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		if r.Header.Get("X-Fragment") == "tracks" {
			windows.Add(1)
			_ = Render(w, WearTracks{shown})
			return
		}
		_ = Render(w, shown)
	}))
	t.Cleanup(server.Close)
	return server.URL + page.Path(), windows
}

// claimedWear is an invented wear of eight days that its reader works on.
func claimedWear() WearPage {
	p := LookPage{Layout: fullLayout("")}.Wear()
	p.WearID, p.Work = 9, &Work{Claim: Claim{Mine: true, By: "Velo Tarim", Until: p.Now}}
	return p
}

func key(t *testing.T, ctx context.Context, keys string, held ...chromedp.Modifier) {
	t.Helper()
	do(t, ctx, chromedp.KeyEvent(keys, chromedp.KeyModifiers(held...)))
}

// until waits for an expression to give what is wanted, and fails with what it
// gave instead.
func until(t *testing.T, ctx context.Context, expression, want string) {
	t.Helper()
	got := get(t, ctx, chromedp.Evaluate[string](`new Promise((done) => {
  const end = performance.now() + 15000;
  const look = () => { const v = String(`+expression+`); v === `+quoted(want)+` || performance.now() > end ? done(v) : requestAnimationFrame(look); };
  look();
})`, chromedp.EvalAwaitPromise))
	if got != want {
		t.Errorf("%s gives %q, want %q", expression, got, want)
	}
}

func quoted(s string) string { return `"` + strings.ReplaceAll(s, `"`, `\"`) + `"` }

const (
	saidText   = `document.getElementById("cursor-said").textContent`
	shownTitle = `document.getElementById("tracks-title").textContent`
	inForm     = `["from", "to"].map((n) => document.querySelector("#overrule [name=" + n + "]").value).join(" ")`
)

// With the keys alone: single values are read out, days change around the
// cursor, and a marked stretch fills the form that overrules.
func TestTracksByKeyboard(t *testing.T) {
	ctx := browser(t)
	address, windows := wearSite(t, claimedWear())
	do(t, ctx, chromedp.EmulateViewport(1366, 768), chromedp.Navigate(address), chromedp.Focus(css("#scope")))

	key(t, ctx, kb.ArrowRight)
	until(t, ctx, saidText, "Mon 2 Mar 00:00 · 5.0 mmol/L")
	key(t, ctx, kb.ArrowUp)
	until(t, ctx, saidText, "Mon 2 Mar 01:00 · 4.9 mmol/L")
	until(t, ctx, `document.querySelectorAll("#scope path.cursor").length`, "1")

	key(t, ctx, "+")
	until(t, ctx, shownTitle, "7 days, 2 – 8 Mar 2026")
	key(t, ctx, "+")
	until(t, ctx, shownTitle, "3 days, 2 – 4 Mar 2026")
	until(t, ctx, `document.activeElement.id`, "scope")
	key(t, ctx, "+")
	until(t, ctx, shownTitle, "Mon 2 Mar 2026")
	until(t, ctx, saidText, "Mon 2 Mar 01:00 · 4.9 mmol/L")
	key(t, ctx, kb.PageDown)
	until(t, ctx, shownTitle, "Tue 3 Mar 2026")
	until(t, ctx, `location.search`, "?days=1&from=2026-03-03")

	key(t, ctx, kb.End)
	until(t, ctx, saidText+`.slice(0, 15)`, "Tue 3 Mar 23:45")
	for range 8 {
		key(t, ctx, kb.ArrowDown)
	}
	until(t, ctx, saidText+`.split(" · ").slice(0, 2).join(" · ")`, "Tue 3 Mar 15:45 · 3.4 mmol/L, below 3.9")
	if said := get(t, ctx, chromedp.Evaluate[string](saidText)); !strings.Contains(said, "below 3.9 for 45 min") || !strings.Contains(said, "symptom: shaky at 15:45") {
		t.Errorf("at the dip it says %q", said)
	}
	key(t, ctx, kb.ArrowRight, chromedp.ModifierShift)
	key(t, ctx, kb.ArrowRight, chromedp.ModifierShift)
	until(t, ctx, saidText, "Tue 3 Mar 15:45 to Tue 3 Mar 16:15: 3 readings marked")
	key(t, ctx, kb.Enter)
	until(t, ctx, inForm, "2026-03-03T15:45 2026-03-03T16:15")
	until(t, ctx, `document.querySelector("#overrule").open + " " + document.querySelector("#overrule [name=believe]:checked").value + " " + document.activeElement.name`, "true no reason")

	do(t, ctx, chromedp.Focus(css("#scope")))
	key(t, ctx, kb.Escape)
	until(t, ctx, `document.querySelectorAll("#scope .marked").length`, "0")
	key(t, ctx, "-")
	until(t, ctx, shownTitle, "3 days, 2 – 4 Mar 2026")
	until(t, ctx, `document.querySelectorAll(".overview-strip svg").length`, "3")
	if n := windows.Load(); n != 5 {
		t.Errorf("%d windows were fetched, want 5", n)
	}
}

// With the pointer: the value under it is read out, a drag marks, the button
// fills the form, and the overview leads to other days.
func TestTracksByPointer(t *testing.T) {
	ctx := browser(t)
	address, _ := wearSite(t, claimedWear())
	do(t, ctx, chromedp.EmulateViewport(1366, 1200), chromedp.Navigate(address+"?from=2026-03-03&days=1"), chromedp.ScrollIntoView(css("#scope")))
	// place gives the spot of an hour of the day, in the window.
	place := func(hour float64) (x, y float64) {
		t.Helper()
		spot := get(t, ctx, chromedp.Evaluate[[]float64](`(() => {
  const svg = [...document.querySelectorAll("#scope svg")].find((e) => e.getClientRects().length), box = svg.getBoundingClientRect();
  const { left, right } = svg.querySelector(".layer").dataset, scale = box.width / svg.viewBox.baseVal.width;
  return [box.left + Number(left) * scale, (Number(right) - Number(left)) * scale, box.top + box.height / 2];
})()`))
		return spot[0] + spot[1]*hour/24, spot[2]
	}
	x, y := place(10)
	do(t, ctx, chromedp.MouseEvent(chromedp.MouseMoved, x, y))
	until(t, ctx, saidText+`.slice(0, 15)`, "Tue 3 Mar 10:00")
	do(t, ctx, chromedp.MouseEvent(chromedp.MousePressed, x, y, chromedp.ButtonLeft, chromedp.ClickCount(1)))
	x, y = place(12)
	do(t, ctx, chromedp.MouseEvent(chromedp.MouseMoved, x, y, chromedp.ButtonLeft), chromedp.MouseEvent(chromedp.MouseReleased, x, y, chromedp.ButtonLeft, chromedp.ClickCount(1)))
	until(t, ctx, saidText, "Tue 3 Mar 10:00 to Tue 3 Mar 12:00: 9 readings marked")
	do(t, ctx, chromedp.Click(css(".picked .take")))
	until(t, ctx, inForm, "2026-03-03T10:00 2026-03-03T12:00")
	do(t, ctx, chromedp.Click(css(".picked .drop")))
	until(t, ctx, `document.querySelector(".picked").hidden`, "true")

	do(t, ctx, chromedp.Click(css(`.zoom a[rel="next"]`)))
	until(t, ctx, shownTitle, "Wed 4 Mar 2026")
	until(t, ctx, `document.activeElement.textContent`, "Later")
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`(() => {
  const svg = [...document.querySelectorAll(".overview-strip svg")].find((e) => e.getClientRects().length), box = svg.getBoundingClientRect();
  for (const [type, part] of [["pointerdown", 0.1], ["pointerup", 0.35]]) {
    svg.dispatchEvent(new PointerEvent(type, { bubbles: true, clientX: box.left + box.width * part, clientY: box.top + 30 }));
  }
})()`))
	until(t, ctx, shownTitle, "3 days, 2 – 4 Mar 2026")
	do(t, ctx, chromedp.Click(css(`.daypicks li:nth-child(2) a`)))
	until(t, ctx, shownTitle, "Tue 3 Mar 2026")
	until(t, ctx, `document.activeElement.textContent`, "Tue 3 March 2026")
}

// Whoever has not claimed the wear may look, and is told what marking is for.
func TestTracksOfAnOnlooker(t *testing.T) {
	ctx := browser(t)
	p := claimedWear()
	p.Work.Claim = Claim{}
	address, _ := wearSite(t, p)
	do(t, ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(address), chromedp.Focus(css("#scope")))
	key(t, ctx, kb.ArrowRight)
	key(t, ctx, kb.ArrowRight, chromedp.ModifierShift)
	until(t, ctx, saidText, "Mon 2 Mar 00:00 to Mon 2 Mar 00:15: 2 readings marked. Claim this wear to overrule them")
	until(t, ctx, `document.querySelector(".picked").hidden`, "true")
	key(t, ctx, kb.Enter)
	until(t, ctx, `document.querySelector("#overrule").open`, "false")
}
