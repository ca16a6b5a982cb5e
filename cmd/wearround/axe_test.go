package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"wearround/worker/wear"
)

// axeSource is the text of axe-core, which judges pages by WCAG; the test is
// skipped where it is not installed.
func axeSource(t *testing.T) string {
	t.Helper()
	path := os.Getenv("WEARROUND_AXE")
	if path == "" {
		if os.Getenv("WEARROUND_REQUIRE_AXE") != "" {
			t.Fatal("axe-core is required here: set WEARROUND_AXE to its axe.min.js")
		}
		t.Skip("WEARROUND_AXE does not name axe-core's axe.min.js: the pages are not judged for accessibility")
	}
	source, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(source)
}

// violation is a rule that a page breaks, and the elements that break it.
type violation struct {
	ID    string `json:"id"`
	Help  string `json:"help"`
	Nodes []struct {
		HTML    string `json:"html"`
		Summary string `json:"failureSummary"`
	} `json:"nodes"`
}

// judge runs axe-core with all its rules, those of WCAG 2.2 and of good
// practice among them, on the page as it stands, everything unfolded. Paper
// has nothing to press and no headings to go by, so a letter on it needs neither
// large targets nor a main heading.
func judge(t *testing.T, ctx context.Context, axe, where string, paper bool) {
	t.Helper()
	if !evaluate[bool](t, ctx, `"axe" in window`) {
		if err := chromedp.Do(ctx, chromedp.Evaluate[chromedp.Void](axe+"; undefined")); err != nil {
			t.Fatalf("%s: axe-core does not start: %v", where, err)
		}
	}
	found := evaluate[string](t, ctx, `(async () => {
  for (const d of document.querySelectorAll("details")) d.open = true;
  const screen = { enabled: `+strconv.FormatBool(!paper)+` };
  const result = await axe.run(document, { resultTypes: ["violations"], rules: { "target-size": screen, "page-has-heading-one": screen } });
  return JSON.stringify(result.violations);
})()`)
	var violations []violation
	if err := json.Unmarshal([]byte(found), &violations); err != nil {
		t.Fatal(err)
	}
	for _, v := range violations {
		t.Errorf("%s: %s (%s), %d times, first in %.160s\n%s", where, v.Help, v.ID, len(v.Nodes), v.Nodes[0].HTML, v.Nodes[0].Summary)
	}
}

// judgeAll judges pages.
func judgeAll(t *testing.T, ctx context.Context, axe string, pages ...string) {
	t.Helper()
	for _, page := range pages {
		visit(t, ctx, page)
		judgeHere(t, ctx, axe, pathOf(page))
	}
}

// judgeHere judges the page that is shown on a desk and a telephone, on the
// screen and in print, and sees that nothing is wider than the narrowest screen.
func judgeHere(t *testing.T, ctx context.Context, axe, where string) {
	t.Helper()
	for _, layout := range []string{"screen", "print"} {
		media(t, ctx, layout)
		for _, width := range []int64{1366, 390} {
			if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 768)); err != nil {
				t.Fatal(err)
			}
			judge(t, ctx, axe, fmt.Sprintf("%s (%s, %d px)", where, layout, width), layout == "print")
		}
	}
	media(t, ctx, "")
	// WCAG 2.2, success criterion 1.4.10: no scrolling in two directions at 320 px.
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(320, 568)); err != nil {
		t.Fatal(err)
	}
	if wide := evaluate[int](t, ctx, `document.documentElement.scrollWidth`); wide > 320 {
		t.Errorf("%s is %d px wide on a screen of 320 px", where, wide)
	}
}

// TestNoAccessibilityViolation walks through the whole program, first while it
// is empty and then with a small practice of which some files are held, and
// judges every kind of page it finds. The states that no link leads to have a
// test of their own.
func TestNoAccessibilityViolation(t *testing.T) {
	axe := axeSource(t)
	ctx := chromiumFor(t, 15*time.Minute)
	p := openPractice(t, 20)
	t.Run("before sign-in", func(t *testing.T) { judgeAll(t, ctx, axe, p.url()) })
	signIn(t, ctx, p)
	t.Run("empty", func(t *testing.T) { judgeAll(t, ctx, axe, crawl(t, ctx, p.url())...) })

	p.arriveAll(ctx)
	pages := crawl(t, ctx, append(p.inHand(ctx), p.url())...)
	t.Logf("%d kinds of pages: %v", len(pages), pages)
	t.Run("full", func(t *testing.T) { judgeAll(t, ctx, axe, pages...) })
	t.Run("held", func(t *testing.T) { judgeAll(t, ctx, axe, p.url()+"files?outcome=held") })
	t.Run("not found", func(t *testing.T) { judgeAll(t, ctx, axe, p.url()+"wears/999999") })
	t.Run("nothing matches", func(t *testing.T) { judgeAll(t, ctx, axe, p.url()+"?tier=routine&flag="+wear.FlagVeryHigh) })
}

// focus is where the keyboard is.
type focus struct {
	End     bool   `json:"end"`     // back in the browser's own controls
	Name    string `json:"name"`    // to tell a person which element it is
	Order   int    `json:"order"`   // place among all elements of the page
	Visible bool   `json:"visible"` // it has a ring, within the window
}

// nowFocused tells where the keyboard is after a press of Tab. A ring is an
// outline that can be seen.
const nowFocused = `(() => {
  const e = document.activeElement;
  if (!e || e === document.body) return { end: true };
  const style = getComputedStyle(e);
  const b = e.getBoundingClientRect();
  const ring = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  const inside = b.bottom > 0 && b.top < innerHeight && b.right > 0 && b.left < innerWidth && b.width > 0;
  return { end: false, name: e.outerHTML.slice(0, 90), order: [...document.querySelectorAll("*")].indexOf(e), visible: ring && inside };
})()`

// fromTheTop lets Tab begin at the top: a page whose work is to read a list
// begins with the focus on its first line.
const fromTheTop = `(() => {
  document.body.tabIndex = -1;
  document.body.focus();
  document.body.removeAttribute("tabindex");
  return true;
})()`

// reachable counts what Tab should reach. Of the choices of one group Tab
// reaches one; the arrow keys go to the others.
const reachable = `(() => {
  const groups = new Set();
  return [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']")].filter((e) => {
    if (e.disabled || !e.checkVisibility() || e.closest("[inert]")) return false;
    if (e.type !== "radio") return true;
    const group = (e.form?.id ?? "") + "/" + [...document.forms].indexOf(e.form) + "/" + e.name;
    return !groups.has(group) && groups.add(group);
  }).length;
})()`

// mostStops is how often Tab may stop in one element: a field for a moment
// lets day, month, year, hour and minute be set apart.
const mostStops = 8

// tabThrough goes through a page with Tab alone: the focus can be seen wherever
// it is, moves in the order of the page, reaches everything that can be pressed,
// and is never caught.
func tabThrough(t *testing.T, ctx context.Context, page string) {
	t.Helper()
	visit(t, ctx, page)
	where := pathOf(page)
	evaluate[bool](t, ctx, fromTheTop)
	all := evaluate[int](t, ctx, reachable)
	last, reached, ended := -1, 0, false
	for range mostStops * (all + 1) {
		if err := chromedp.Do(ctx, chromedp.KeyEvent(kb.Tab)); err != nil {
			t.Fatal(err)
		}
		f := evaluate[focus](t, ctx, nowFocused)
		if ended = f.End; ended {
			break
		}
		if f.Order > last && !f.Visible { // further stops in a field have the browser's own marks
			t.Errorf("%s: the focus cannot be seen on %s", where, f.Name)
		}
		if f.Order < last {
			t.Errorf("%s: the focus goes back to %s", where, f.Name)
			break
		}
		if f.Order > last {
			reached++
		}
		last = f.Order
	}
	if !ended || reached < all {
		t.Errorf("%s: Tab reaches %d of %d things that can be pressed, and the end of the page: %v", where, reached, all, ended)
	}
}
