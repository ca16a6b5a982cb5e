package review_test

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"wearround/server"
	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
)

// TestTwoClaimTheSameWear has two people press at once, 200 times, through the
// real server on a real connection: each time exactly one has it and the other
// is told who.
func TestTwoClaimTheSameWear(t *testing.T) {
	const times = 200
	f := servertest.New(t)
	id := f.File(1)
	l, err := server.Listen("127.0.0.1:0", false)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	served := make(chan error, 1)
	go func() { served <- f.Serve(ctx, l) }()
	defer func() {
		stop()
		if err := <-served; err != nil {
			t.Error(err)
		}
	}()
	base := "http://" + l.Addr().String()
	roles := []store.Role{store.RoleNurse, store.RoleClinician}
	press := func(role store.Role, path string) (status int, body string) {
		form := url.Values{"csrf": {door.FormToken(f.Sessions[role])}}
		r, err := http.NewRequestWithContext(ctx, http.MethodPost, base+path, strings.NewReader(form.Encode()))
		if err != nil {
			t.Error(err)
			return 0, ""
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", base)
		r.AddCookie(&http.Cookie{Name: "s", Value: f.Sessions[role]})
		client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		resp, err := client.Do(r)
		if err != nil {
			t.Error(err)
			return 0, ""
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Error(err)
		}
		return resp.StatusCode, string(b)
	}
	path := "/wears/" + door.IDText(id)
	won := map[store.Role]int{}
	for i := range times {
		var status [2]int
		var body [2]string
		var both sync.WaitGroup
		for k, role := range roles {
			both.Go(func() { status[k], body[k] = press(role, path+"/claim") })
		}
		both.Wait()
		winner := 0
		if status[0] != http.StatusSeeOther {
			winner = 1
		}
		loser := 1 - winner
		if status[winner] != http.StatusSeeOther || status[loser] != http.StatusUnprocessableEntity {
			t.Fatalf("both pressed: status %v", status)
		}
		holder := f.People[roles[winner]].Name
		if !strings.Contains(body[loser], holder+" has this wear for another 30 minutes") {
			t.Fatalf("who came second is not told that %s has it", holder)
		}
		v, err := f.Store.Review(ctx, id)
		if err != nil || v.Claim == nil || v.Claim.Holder.Name != holder {
			t.Fatalf("the claim is %+v, %v, want %s", v.Claim, err, holder)
		}
		if first, last, _ := strings.Cut(holder, " "); i == 0 && !strings.Contains(f.AskAs(roles[loser], http.MethodGet, "/", nil).Body.String(), "with "+first[:1]+". "+last) {
			t.Errorf("the round does not say that %s has it", holder)
		}
		won[roles[winner]]++
		if s, _ := press(roles[winner], path+"/release"); s != http.StatusSeeOther {
			t.Fatalf("release: status %d", s)
		}
	}
	if won[roles[0]]+won[roles[1]] != times {
		t.Errorf("won: %v", won)
	}
}

// TestClaimNext goes down the round, past what others have, and says so at its
// end.
func TestClaimNext(t *testing.T) {
	f := servertest.New(t)
	one, two := f.File(1), f.File(2) // the second has more points
	if to := f.Must(store.RoleNurse, "/claims/next", nil); to != door.WearAddress(two) {
		t.Errorf("the first to claim is %s, want %s", to, door.WearAddress(two))
	}
	if to := f.Must(store.RoleClinician, "/claims/next", nil); to != door.WearAddress(one) {
		t.Errorf("the second to claim is %s, want %s", to, door.WearAddress(one))
	}
	if w := f.Ask(http.MethodPost, "/claims/next", nil); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "is with somebody") {
		t.Errorf("nothing left: status %d", w.Code)
	}
	if w := f.Ask(http.MethodPost, "/claims/next", url.Values{"tier": {"today"}}); !strings.Contains(w.Body.String(), "is with somebody") {
		t.Errorf("a filter that leaves nothing: status %d", w.Code)
	}
	f.Must(store.RoleClinician, door.WearAddress(one)+"/release", nil)
	if to := f.Must(store.RoleLead, "/claims/next", url.Values{"s": {f.Veil.Cover("P00001")}}); to != door.WearAddress(one) {
		t.Errorf("filtered, the first is %s, want %s", to, door.WearAddress(one))
	}
	f.Clock.Advance(10 * time.Minute)
	f.SignIn(store.RoleClinician)
	quiet := func(r *http.Request) { r.Header.Set("Accept", "application/json") }
	for role, want := range map[store.Role]int{store.RoleLead: http.StatusNoContent, store.RoleClinician: http.StatusConflict} {
		if w := f.AskAs(role, http.MethodPost, door.WearAddress(one)+"/renew", nil, quiet); w.Code != want {
			t.Errorf("the page of %s renews: status %d, want %d", role, w.Code, want)
		}
	}
	if v, err := f.Store.Review(t.Context(), one); err != nil || v.Claim == nil || !v.Claim.Until.Equal(f.Clock.Now().Add(store.Lease)) {
		t.Errorf("after it was renewed the claim is %+v, %v", v.Claim, err)
	}
	if w := f.AskAs(store.RoleClinician, http.MethodPost, door.WearAddress(one)+"/take-over", url.Values{"reason": {""}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("taken over without a reason: status %d", w.Code)
	}
	if w := f.AskAs(store.RoleClinician, http.MethodGet, door.WearAddress(one)+"/call", nil); !strings.Contains(w.Body.String(), "has this wear until") || strings.Contains(w.Body.String(), "data-renew") {
		t.Error("the call sheet does not say that somebody else has the wear")
	}
	f.Must(store.RoleClinician, door.WearAddress(one)+"/take-over", url.Values{"reason": {"the patient rang me"}})
	for role, has := range map[store.Role]string{store.RoleClinician: "data-renew", store.RoleLead: "has this wear until"} { // it was the lead's
		if w := f.AskAs(role, http.MethodGet, door.WearAddress(one)+"/call", nil); !strings.Contains(w.Body.String(), has) {
			t.Errorf("taken over, the call sheet of %s does not say %q", role, has)
		}
	}
	if w := f.AskAs(store.RoleClinician, http.MethodGet, door.WearAddress(one), nil); !strings.Contains(w.Body.String(), "took the wear over") && !strings.Contains(w.Body.String(), "Took the wear over") {
		t.Error("the trail does not tell of it")
	}
}
