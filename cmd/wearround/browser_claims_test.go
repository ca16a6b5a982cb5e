package main

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"wearround/store"
	"wearround/store/storetest"
)

// TestTwoBrowsersClaimTheSameWear has two people in two browsers press Claim at
// once, 200 times (40 with the race detector): each time one of them has the wear, and the page of the other
// says who.
func TestTwoBrowsersClaimTheSameWear(t *testing.T) {
	times := 200
	if storetest.RaceDetector {
		times = 40
	}
	first, second := chromiumFor(t, 5*time.Minute), chromiumFor(t, 5*time.Minute)
	p := openPractice(t, 20)
	people := []store.User{p.lead(first)}
	other, err := p.store.AddUser(first, store.Actor{UserID: people[0].ID}, store.NewUser{Login: "sorul", Name: "Sorul Bavink", Roles: []store.Role{store.RoleNurse}, Password: "never compared"})
	if err != nil {
		t.Fatal(err)
	}
	people = append(people, other)
	p.arrives(0, false)
	browsers := []context.Context{first, second}
	for i, ctx := range browsers {
		signInAs(t, ctx, p, people[i])
		visit(t, ctx, js[string](t, ctx, `document.querySelector("tr.wear a[href^='/wears/']")?.href`))
	}
	id := js[int64](t, first, `Number(location.pathname.split("/").pop())`)
	press := func(ctx context.Context, button string) string { // what the page would show next, or "" for the wear itself
		said, err := chromedp.Run(ctx, chromedp.Evaluate[string](fmt.Sprintf(`(async () => {
  const body = new URLSearchParams({ csrf: document.querySelector("input[name=csrf]").value });
  const answer = await fetch(location.pathname + "/%s", { method: "POST", body, redirect: "manual" });
  return answer.type === "opaqueredirect" ? "" : answer.status + " " + await answer.text();
})()`, button), chromedp.EvalAwaitPromise))
		if err != nil {
			t.Error(err)
		}
		return said
	}
	for n := range times {
		var said [2]string
		var both sync.WaitGroup
		for i, ctx := range browsers {
			both.Go(func() { said[i] = press(ctx, "claim") })
		}
		both.Wait()
		winner := 0
		if said[0] != "" {
			winner = 1
		}
		loser := 1 - winner
		holder := people[winner].Name
		if said[winner] != "" || !strings.HasPrefix(said[loser], "422 ") || !strings.Contains(said[loser], holder+" has this wear for another 30 minutes") {
			t.Fatalf("press %d: %.80q and %.80q", n, said[0], said[1])
		}
		if v, err := p.store.Review(first, id); err != nil || v.Claim == nil || v.Claim.Holder.ID != people[winner].ID {
			t.Fatalf("press %d: the claim is %+v, %v; %s should have it", n, v.Claim, err, holder)
		}
		if said := press(browsers[winner], "release"); said != "" {
			t.Fatalf("press %d: not released: %.80q", n, said)
		}
	}
}
