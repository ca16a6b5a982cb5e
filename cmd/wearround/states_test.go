package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"wearround/store"
	"wearround/store/storetest"
)

// TestNoViolationInAnyState judges pages in states that no link leads to: a wear
// that somebody else has, an outcome that can still be undone and one taken
// back, forms that are refused, a worker that stands still, a folder that
// cannot be read.
func TestNoViolationInAnyState(t *testing.T) {
	axe := axeSource(t)
	ctx := chromiumFor(t, 10*time.Minute)
	p := openPractice(t, 20)
	signIn(t, ctx, p)
	p.arriveAll(ctx)
	lead := store.Actor{UserID: p.lead(ctx).ID}
	other, err := p.store.AddUser(ctx, lead, store.NewUser{Login: "sorul", Name: "Sorul Bavink", Roles: []store.Role{store.RoleClinician}, Password: "never compared"})
	if err != nil {
		t.Fatal(err)
	}
	round, err := p.store.Round(ctx, store.RoundQuery{Limit: 200, Now: time.Now()})
	if err != nil || len(round.Rows) < 3 {
		t.Fatalf("%d wears on the round, %v", len(round.Rows), err)
	}
	free := func() int64 {
		for i, r := range round.Rows {
			if r.ClaimedBy.ID == 0 {
				round.Rows[i].ClaimedBy.ID = lead.UserID
				return r.WearID
			}
		}
		t.Fatal("every wear is claimed")
		return 0
	}

	t.Run("with somebody else", func(t *testing.T) {
		id := free()
		if _, err := p.store.Claim(ctx, store.Actor{UserID: other.ID}, id); err != nil {
			t.Fatal(err)
		}
		judgeAll(t, ctx, axe, p.wear(id))
		shows(t, ctx, "#work", "With Sorul Bavink")
		judgeAll(t, ctx, axe, p.url())
	})
	t.Run("recorded and taken back", func(t *testing.T) {
		id := free()
		if _, err := p.store.Claim(ctx, lead, id); err != nil {
			t.Fatal(err)
		}
		o, err := p.store.RecordOutcome(ctx, lead, store.NewOutcome{WearID: id, Kind: store.OffPathway, Reason: "looked after elsewhere", Seen: storetest.Seen(t, p.store, id)})
		if err != nil {
			t.Fatal(err)
		}
		visit(t, ctx, p.wear(id))
		shows(t, ctx, "#work form.undo", "Undo")
		judgeHere(t, ctx, axe, "a wear with an outcome that can be undone")
		if err := p.store.UndoOutcome(ctx, lead, o.ID); err != nil {
			t.Fatal(err)
		}
		judgeAll(t, ctx, axe, p.wear(id))
		shows(t, ctx, "#work", "Yours until")
	})
	t.Run("refused", func(t *testing.T) {
		id := free()
		if _, err := p.store.Claim(ctx, lead, id); err != nil {
			t.Fatal(err)
		}
		for _, page := range []string{p.wear(id) + "/outcome", p.url() + "patients/new", p.url() + "patients/import"} {
			visit(t, ctx, page)
			sendEmpty(t, ctx, "main form.task")
			shows(t, ctx, "main .errors", "put right")
			judgeHere(t, ctx, axe, pathOf(page)+" refused")
		}
		visit(t, ctx, p.url()+"people")
		sendEmpty(t, ctx, `main form.task[action="/people"]`)
		shows(t, ctx, "main .errors", "put right")
		judgeHere(t, ctx, axe, "/people refused")
		visit(t, ctx, p.wear(id))
		sendEmpty(t, ctx, `main form.task[action$="/fingerstick"]`)
		shows(t, ctx, "main .errors", "put right")
		judgeHere(t, ctx, axe, "a fingerstick refused")
	})
	t.Run("stalled", func(t *testing.T) {
		visit(t, ctx, p.url())
		evaluate[bool](t, ctx, `(() => {
  const banner = document.getElementById("banner");
  banner.querySelector("p").textContent = "The watched folder was last looked at an hour ago. The round may be incomplete.";
  banner.hidden = false;
  return true;
})()`)
		judge(t, ctx, axe, "the banner", false)
	})
	t.Run("folder gone", func(t *testing.T) {
		away := p.drop + ".away"
		if err := os.Rename(p.drop, away); err != nil {
			t.Fatal(err)
		}
		defer func() {
			if err := os.Rename(away, p.drop); err != nil {
				t.Fatal(err)
			}
		}()
		waitFor(t, ctx, p.url(), "#banner", "watched folder")
		judgeHere(t, ctx, axe, "the round while the folder is gone")
		judgeAll(t, ctx, axe, p.url()+"files", p.url()+"system")
	})
}

// wear is the address of a wear's page.
func (p practiceApp) wear(id int64) string { return fmt.Sprintf("%swears/%d", p.url(), id) }

// shows fails where what a selector names does not say something.
func shows(t *testing.T, ctx context.Context, selector, want string) {
	t.Helper()
	got := evaluate[string](t, ctx, fmt.Sprintf(`document.querySelector(%q)?.innerText ?? "nothing"`, selector))
	if !strings.Contains(got, want) {
		t.Fatalf("%s: %s says %.300q, want %q", evaluate[string](t, ctx, `document.title + " " + location.pathname`), selector, got, want)
	}
}

// sendEmpty sends a form as it stands, past what the browser itself would ask for.
func sendEmpty(t *testing.T, ctx context.Context, form string) {
	t.Helper()
	evaluate[bool](t, ctx, fmt.Sprintf(`(() => {
  const form = document.querySelector(%q);
  for (const d of document.querySelectorAll("details")) if (d.contains(form)) d.open = true;
  form.noValidate = true;
  return true;
})()`, form))
	submit(t, ctx, form+" [type=submit]")
}

// waitFor opens a page until what a selector names says something.
func waitFor(t *testing.T, ctx context.Context, page, selector, want string) {
	t.Helper()
	for ctx.Err() == nil {
		visit(t, ctx, page)
		if strings.Contains(evaluate[string](t, ctx, fmt.Sprintf(`document.querySelector(%q)?.textContent ?? ""`, selector)), want) {
			return
		}
		if err := chromedp.Do(ctx, chromedp.Evaluate[chromedp.Void](`new Promise((done) => setTimeout(done, 100))`, chromedp.EvalAwaitPromise)); err != nil {
			t.Fatal(err)
		}
	}
	t.Fatalf("%s never says %q", selector, want)
}
