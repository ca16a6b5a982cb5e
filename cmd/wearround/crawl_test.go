package main

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"io"
	"maps"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/sim"
)

// visit opens an address and waits until the page is whole.
func visit(t *testing.T, ctx context.Context, address string) {
	t.Helper()
	if err := chromedp.Do(ctx, chromedp.Navigate(address)); err != nil {
		t.Fatalf("%s: %v", address, err)
	}
}

// signIn begins a session of somebody who leads the practice and opens the
// round. Where the round is open to all there is nothing to do.
func signIn(t *testing.T, ctx context.Context, p practiceApp) {
	t.Helper()
	visit(t, ctx, p.url())
	if evaluate[bool](t, ctx, asksPassword) {
		signInAs(t, ctx, p, p.lead(ctx))
	}
}

const asksPassword = `!!document.querySelector("input[type=password]")`

// signInAs begins somebody's session, with the store and a cookie, and opens the
// round. The way through the sign-in page has a test of its own.
func signInAs(t *testing.T, ctx context.Context, p practiceApp, who store.User) {
	t.Helper()
	secret := rand.Text()
	if _, err := p.store.StartSession(ctx, who.ID, storetest.Proof(t, p.store, who.ID), sha256.Sum256([]byte(secret)), "127.0.0.1", "test"); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, network.SetCookie, network.SetCookieParams{Name: "s", Value: secret, URL: p.url()}); err != nil {
		t.Fatal(err)
	}
	visit(t, ctx, p.url())
	if evaluate[bool](t, ctx, asksPassword) {
		t.Fatal("the session is not taken: the round still asks for a password")
	}
}

// lead gives somebody who may do everything, added where nobody is.
func (p practiceApp) lead(ctx context.Context) store.User {
	p.t.Helper()
	users, err := p.store.Users(ctx)
	if err != nil {
		p.t.Fatal(err)
	}
	for _, u := range users {
		if u.Has(store.RoleLead) {
			return u
		}
	}
	token := store.Digest(sha256.Sum256([]byte("set up")))
	if _, err := p.store.SetSetupToken(ctx, token); err != nil {
		p.t.Fatal(err)
	}
	u, err := p.store.Setup(ctx, token, store.NewUser{Login: "trilwo", Name: "Trilwo Vashen", Password: "never compared"})
	if err != nil {
		p.t.Fatal(err)
	}
	return u
}

// evaluate gives the value that an expression has on the page now; of a
// promise, the value that it comes to.
func evaluate[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%.80s: %v", expression, err)
	}
	return v
}

// mostPages bounds a walk: more kinds of pages than this means that two
// addresses of one kind are taken for two kinds.
const mostPages = 80

// crawl follows the links of the pages from those given and gives the address
// of one page of each kind, in the order found. Links that leave the program
// or give a file are not followed.
func crawl(t *testing.T, ctx context.Context, from ...string) []string {
	t.Helper()
	var pages []string
	seen := map[string]bool{}
	for _, address := range from {
		seen[kind(address)] = true
	}
	for todo := from; len(todo) > 0; todo = todo[1:] {
		if len(pages) == mostPages {
			t.Fatalf("more than %d kinds of pages: %v", mostPages, slices.Sorted(maps.Keys(seen)))
		}
		visit(t, ctx, todo[0])
		if evaluate[string](t, ctx, `document.contentType`) != "text/html" {
			continue
		}
		pages = append(pages, todo[0])
		for _, link := range evaluate[[]string](t, ctx, `[...document.querySelectorAll("a[href]:not([download])")].filter((a) => a.origin === location.origin).map((a) => a.href.split("#")[0])`) {
			if k := kind(link); !seen[k] {
				seen[k] = true
				todo = append(todo, link)
			}
		}
	}
	return pages
}

var digits = regexp.MustCompile(`\d+`)

// kind is what the addresses of pages of one kind have in common: the path
// without its numbers, and the names of what it asks for.
func kind(address string) string {
	u, err := url.Parse(address)
	if err != nil {
		return address
	}
	return digits.ReplaceAllString(u.Path, "0") + " " + strings.Join(slices.Sorted(maps.Keys(u.Query())), " ")
}

// pathOf is what an address has after its host.
func pathOf(address string) string {
	u, err := url.Parse(address)
	if err != nil {
		return address
	}
	return u.RequestURI()
}

// arriveAll drops the files of all wears and the odd files, and waits until
// each has been dealt with.
func (p practiceApp) arriveAll(ctx context.Context) {
	p.t.Helper()
	odd := sim.Oddities(11, p.at, time.UTC)
	wears := make([]int, p.Len())
	for i := range wears {
		wears[i] = i
	}
	if err := dropAll(ctx, p.drop, p.drop, p.Practice, wears, odd); err != nil {
		p.t.Fatal(err)
	}
	progress(ctx, p.store, p.Len()+len(odd), io.Discard, io.Discard)
	if err := ctx.Err(); err != nil {
		p.t.Fatal("not every file was dealt with:", err)
	}
}

// inHand claims the wear at the top of the round, opens a letter about it and
// sends another, and gives the addresses of all three, for the pages that only
// such work leads to.
func (p practiceApp) inHand(ctx context.Context) []string {
	p.t.Helper()
	visit(p.t, ctx, p.url())
	submit(p.t, ctx, `form[action="/claims/next"] [type=submit]`)
	claimed := address(p.t, ctx)
	draft := p.letter(ctx, claimed)
	p.letter(ctx, claimed)
	click(p.t, ctx, `form[action$="/send"] input[type=checkbox]`)
	submit(p.t, ctx, `form[action$="/send"] [type=submit]`)
	return []string{claimed, draft, address(p.t, ctx)}
}

// letter opens a letter of the first kind that a wear allows.
func (p practiceApp) letter(ctx context.Context, wear string) string {
	p.t.Helper()
	visit(p.t, ctx, wear+"/letters")
	click(p.t, ctx, `main input[type=radio]:not([disabled])`)
	submit(p.t, ctx, `main form [type=submit]`)
	return address(p.t, ctx)
}

// address is that of the page, without what it asks for.
func address(t *testing.T, ctx context.Context) string {
	t.Helper()
	return evaluate[string](t, ctx, `location.origin + location.pathname`)
}

func click(t *testing.T, ctx context.Context, selector string) {
	t.Helper()
	if err := chromedp.Do(ctx, chromedp.Click(chromedp.CSS(selector))); err != nil {
		t.Fatalf("%s: %v", selector, err)
	}
}

// submit presses a button and waits for the page that comes of it.
func submit(t *testing.T, ctx context.Context, selector string) {
	t.Helper()
	if _, err := chromedp.RunResponse(ctx, chromedp.Click(chromedp.CSS(selector))); err != nil {
		t.Fatalf("%s: %v", selector, err)
	}
}
