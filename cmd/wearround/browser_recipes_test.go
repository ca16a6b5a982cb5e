package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"wearround/worker/sim"
)

// puzzle drops the file of one wear in a layout whose heading and values
// disagree about the unit.
func (p practiceApp) puzzle(i int) {
	p.t.Helper()
	w := p.Wear(i)
	var b strings.Builder
	b.WriteString("moment,sensor glucose mg/dL\n")
	for _, r := range w.Readings {
		fmt.Fprintf(&b, "%s,%.1f\n", time.Unix(r.At, 0).UTC().Format("2006-01-02 15:04:05"), r.Mmol())
	}
	name, _ := sim.Render(w, w.Layout)
	if err := os.WriteFile(filepath.Join(p.drop, name), []byte(b.String()), 0o600); err != nil {
		p.t.Fatal(err)
	}
}

// press sends keys to whatever has the focus.
func press(t *testing.T, ctx context.Context, keys ...string) {
	t.Helper()
	for _, k := range keys {
		if err := chromedp.Do(ctx, chromedp.KeyEvent(k)); err != nil {
			t.Fatal(err)
		}
	}
}

// send presses Enter and waits for the page that comes of it.
func send(t *testing.T, ctx context.Context) {
	t.Helper()
	if _, err := chromedp.RunResponse(ctx, chromedp.KeyEvent(kb.Enter)); err != nil {
		t.Fatal(err)
	}
}

// TestRecipesInTheBrowser answers a held file with the keyboard alone, sees the
// next file of its layout filed by itself, withdraws the recipe, and finds the
// wears that it filed.
func TestRecipesInTheBrowser(t *testing.T) {
	ctx := chromium(t)
	p := openPractice(t, 20)
	signIn(t, ctx, p)
	p.puzzle(0)
	p.puzzle(1)
	if err := chromedp.Do(ctx, chromedp.Navigate(p.url()+"files?outcome=held")); err != nil {
		t.Fatal(err)
	}
	// Both come by themselves on the open page, each with its question.
	js[bool](t, ctx, `document.querySelectorAll("form.ask").length === 2`)
	for _, want := range []string{"look like mmol/L", "median would be", "An answer is due by"} {
		if text := js[string](t, ctx, `document.querySelector("#rows").innerText`); !strings.Contains(text, want) {
			t.Errorf("the held files do not say %q:\n%s", want, text)
		}
	}
	if n := js[int](t, ctx, `document.querySelectorAll("form.ask .lines").length`); n != 2 {
		t.Errorf("sample rows stand under %d answers, want both of the possible ones", n)
	}

	// From the top of the page with the Tab key to the first answer; the arrow
	// keys choose, Enter sends.
	first := js[string](t, ctx, `document.querySelector("form.ask input[type=radio]").id`)
	reached := false
	for range 40 {
		press(t, ctx, kb.Tab)
		if js[string](t, ctx, `document.activeElement.id || "none"`) == first {
			reached = true
			break
		}
	}
	if !reached {
		t.Fatal("the Tab key does not reach the first answer")
	}
	press(t, ctx, kb.ArrowDown, kb.ArrowUp)
	if chosen := js[string](t, ctx, `document.querySelector("form.ask input:checked").value`); chosen != "mmol/L" {
		t.Fatalf("the arrow keys chose %s", chosen)
	}
	send(t, ctx)

	// The focus has gone on to the next held file, or, where that was settled by
	// the answer in the meantime, to the page; nothing is left to answer.
	js[bool](t, ctx, `location.search === "?outcome=held" && location.hash !== ""`)
	if where := js[string](t, ctx, `document.activeElement.id || document.activeElement.tagName`); !strings.HasPrefix(where, "ask-") && where != "BODY" && where != "main" {
		t.Errorf("after the answer the focus is on %s", where)
	}
	js[bool](t, ctx, `document.querySelector("#rows").innerText.includes("No file waits for an answer")`)

	// A third file of the layout asks nothing.
	p.puzzle(2)
	if err := chromedp.Do(ctx, chromedp.Navigate(p.url()+"files?outcome=filed")); err != nil {
		t.Fatal(err)
	}
	js[bool](t, ctx, `document.querySelectorAll(".files tbody tr").length === 3`)

	if err := chromedp.Do(ctx, chromedp.Navigate(p.url()+"recipes")); err != nil {
		t.Fatal(err)
	}
	text := js[string](t, ctx, `document.querySelector("main").innerText`)
	for _, want := range []string{"Answered by people", "Unit. A person answered: mmol/L.", "3 files, 3 wears"} {
		if !strings.Contains(text, want) {
			t.Errorf("the recipes do not say %q:\n%s", want, text)
		}
	}
	address := js[string](t, ctx, `document.querySelector("main tbody a").href`)
	if err := chromedp.Do(ctx, chromedp.Navigate(address)); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.Focus(chromedp.ID("reason"))); err != nil {
		t.Fatal(err)
	}
	press(t, ctx, "mg/dL after all")
	send(t, ctx)
	js[bool](t, ctx, `document.querySelector(".wearhead").innerText.includes("withdrawn on")`)
	text = js[string](t, ctx, `document.querySelector("main").innerText`)
	for i := range 3 {
		who := p.Wear(i).Person
		if !strings.Contains(text, who.Code) {
			t.Errorf("the wear of %s is not listed:\n%s", who.Code, text)
		}
	}
	if n := strings.Count(text, "Read by a withdrawn recipe."); n != 3 {
		t.Errorf("%d wears are in doubt, want 3", n)
	}
	if err := chromedp.Do(ctx, chromedp.Navigate(p.url())); err != nil {
		t.Fatal(err)
	}
	if n := js[int](t, ctx, `document.querySelector("#rows").innerText.split("read by a withdrawn recipe").length - 1`); n != 3 {
		t.Errorf("the round marks %d wears, want 3", n)
	}

	// Read again, they ask anew.
	if err := chromedp.Do(ctx, chromedp.Navigate(address)); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.Focus(chromedp.CSS("form[action$=again] button"))); err != nil {
		t.Fatal(err)
	}
	send(t, ctx)
	js[bool](t, ctx, `document.querySelector("h1").innerText.startsWith("Recipe")`)
	if err := chromedp.Do(ctx, chromedp.Navigate(p.url()+"files?outcome=held")); err != nil {
		t.Fatal(err)
	}
	js[bool](t, ctx, `document.querySelectorAll("form.ask").length === 3`)
	for _, width := range []int64{1366, 390} {
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 844)); err != nil {
			t.Fatal(err)
		}
		if over := js[string](t, ctx, `String(document.documentElement.scrollWidth - innerWidth)`); over != "0" && !strings.HasPrefix(over, "-") {
			t.Errorf("at %d px the held files are %s px too wide", width, over)
		}
	}
}
