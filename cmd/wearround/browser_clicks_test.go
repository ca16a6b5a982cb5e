package main

import (
	"context"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"wearround/store"
)

// tally counts keys, clicks and filled fields of a way through the pages.
type tally struct {
	t   *testing.T
	ctx context.Context
	n   int
}

// goes presses what leads to another page.
func (c *tally) goes(selector string) {
	c.t.Helper()
	c.n++
	if _, err := chromedp.RunResponse(c.ctx, chromedp.Click(chromedp.CSS(selector))); err != nil {
		c.t.Fatalf("%s: %v; the page reads %.400q", selector, err, js[string](c.t, c.ctx, `document.querySelector("main").innerText`))
	}
}

// ticks presses what changes the page alone.
func (c *tally) ticks(selector string) {
	c.t.Helper()
	c.n++
	if err := chromedp.Do(c.ctx, chromedp.Click(chromedp.CSS(selector))); err != nil {
		c.t.Fatalf("%s: %v", selector, err)
	}
}

// fills types one field: one act, however long the text.
func (c *tally) fills(selector, text string) {
	c.t.Helper()
	c.n++
	if err := chromedp.Do(c.ctx, chromedp.SendKeys(chromedp.CSS(selector), text)); err != nil {
		c.t.Fatalf("%s: %v", selector, err)
	}
}

func (c *tally) key(key string) {
	c.t.Helper()
	c.n++
	if err := chromedp.Do(c.ctx, chromedp.KeyEvent(key)); err != nil {
		c.t.Fatal(err)
	}
}

// is closes a way: what it took, and the most that it may.
func (c *tally) is(way string, most int) {
	c.t.Helper()
	c.t.Logf("%s: %d", way, c.n)
	if c.n > most {
		c.t.Errorf("%s takes %d keys, clicks and fields, want at most %d", way, c.n, most)
	}
	c.n = 0
}

// TestKeysAndClicks goes the commonest ways of a day and counts what each takes.
// The table of DEVELOPERS.md holds the figures.
func TestKeysAndClicks(t *testing.T) {
	ctx := chromium(t)
	p := openPractice(t, 20)
	p.plain(1)
	lead := p.lead(ctx)
	signInAs(t, ctx, p, p.nurse(lead))
	c := &tally{t: t, ctx: ctx}

	// One routine wear, told with a letter, which then waits in the outbox.
	c.goes(`nav a[href="/sheet"]`)
	js[bool](t, ctx, `!!document.querySelector("tr.current")`) // the keys are heard
	c.key("j")
	js[bool](t, ctx, `document.activeElement.id === "sign"`)
	c.n++
	if _, err := chromedp.RunResponse(ctx, chromedp.KeyEvent(kb.Enter)); err != nil {
		t.Fatal(err)
	}
	if said := js[string](t, ctx, `document.querySelector(".signed").innerText`); !strings.Contains(said, "1 letter in the outbox") {
		t.Errorf("signed: %q", said)
	}
	c.is("a routine wear with letter", 3)

	// Handed over, and picked up by a clinician.
	p.arrives(0, true)
	visit(t, ctx, p.url())
	js[bool](t, ctx, `document.querySelectorAll("tr.wear").length === 1`)
	c.goes(`form[action="/claims/next"] [type=submit]`)
	c.n = 0
	c.ticks(`#hand-over > summary`)
	c.fills(`#hand-over [name="reason"]`, "Six dips, please ring.")
	c.goes(`#hand-over [type=submit]`)
	c.is("hand-over", 3)
	signInAs(t, ctx, p, lead)
	c.goes(`a[href="/?view=handed"]`)
	c.goes(`form[action="/claims/next"] [type=submit]`)
	if bar := js[string](t, ctx, `document.querySelector("#work").innerText`); !strings.Contains(bar, "Yours until") {
		t.Errorf("picked up: %q", bar)
	}
	c.is("pick-up", 2)

	// From the claim to the outcome, by the call sheet. The claim is the press above.
	c.n = 1
	c.goes(`#work a[href$="/call"]`)
	c.ticks(`input[name="felt-1"][value="yes"]`)
	c.ticks(`input[name="what-1"][value="shaky"]`)
	c.goes(`form.callsheet [type=submit]`)
	c.goes(`#work a[href$="/outcome"]`)
	c.ticks(`input[name="outcome"][value="tests_ordered"]`)
	c.fills(`[name="tests_ordered-reason"]`, "HbA1c")
	c.goes(`form.outcomes [type=submit]`)
	c.is("claim to outcome with call sheet", 9)

	// A sensor handed out to somebody on the register.
	c.goes(`nav a[href="/out"]`)
	c.goes(`a[href="/out/new"]`)
	c.fills(`[name="code"]`, "R-001")
	c.ticks(`input[name="asked"][value="yes"]`)
	c.goes(`form[action="/out"] [type=submit]`)
	if head := js[string](t, ctx, `document.body.innerText`); !strings.Contains(head, "start") {
		t.Errorf("handed out: %.300q", head)
	}
	c.is("hand-out", 5)
}

// nurse adds somebody who is a nurse and nothing else.
func (p practiceApp) nurse(lead store.User) store.User {
	p.t.Helper()
	ctx := context.Background()
	u, err := p.store.AddUser(ctx, store.Actor{UserID: lead.ID}, store.NewUser{Login: "tevo", Name: "Tevo Masul", Roles: []store.Role{store.RoleNurse}, Password: "x"})
	if err != nil {
		p.t.Fatal(err)
	}
	return u
}
