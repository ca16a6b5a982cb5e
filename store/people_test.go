package store_test

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
)

func digest(s string) store.Digest { return sha256.Sum256([]byte(s)) }

func TestSetup(t *testing.T) {
	s, clock := storetest.Open(t)
	none := func() bool {
		t.Helper()
		n, err := s.NoUsers(ctx)
		must(t, err)
		return n
	}
	lead := store.NewUser{Login: "Fima.Losen", Name: "Fima Losen", Password: "$x$"}
	_, err := s.Setup(ctx, digest("never offered"), lead)
	wants(t, err, store.Forbidden, "not good any more")
	until, err := s.SetSetupToken(ctx, digest("first"))
	if must(t, err); !until.Equal(clock.Now().Add(15 * time.Minute)) {
		t.Errorf("good until %v", until)
	}
	clock.Advance(15 * time.Minute)
	_, err = s.Setup(ctx, digest("first"), lead)
	wants(t, err, store.Forbidden, "not good any more")
	_, err = s.SetSetupToken(ctx, digest("second"))
	must(t, err)
	_, err = s.Setup(ctx, digest("first"), lead)
	wants(t, err, store.Forbidden, "not good any more")
	if !none() {
		t.Fatal("somebody was added")
	}
	u, err := s.Setup(ctx, digest("second"), lead)
	must(t, err)
	if u.Login != "fima.losen" || !u.Has(store.RoleLead) || none() {
		t.Errorf("set up: %+v", u)
	}
	_, err = s.Setup(ctx, digest("second"), lead)
	wants(t, err, store.Conflict, "set up already")
	_, err = s.SetSetupToken(ctx, digest("third"))
	wants(t, err, store.Conflict, "set up already")
}

func TestUsers(t *testing.T) {
	w := newWard(t)
	for name, u := range map[string]store.NewUser{
		"no login":    {Name: "Baru", Roles: store.Roles(), Password: "x"},
		"odd login":   {Login: "a b", Name: "Baru", Roles: store.Roles(), Password: "x"},
		"no name":     {Login: "baru", Name: "  ", Roles: store.Roles(), Password: "x"},
		"no role":     {Login: "baru", Name: "Baru", Password: "x"},
		"other role":  {Login: "baru", Name: "Baru", Roles: []store.Role{"queen"}, Password: "x"},
		"no password": {Login: "baru", Name: "Baru", Roles: store.Roles()},
	} {
		if _, err := w.AddUser(ctx, w.lead, u); store.CodeOf(err) != store.Invalid || err == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	good := store.NewUser{Login: "RILO", Name: "Another", Roles: []store.Role{store.RoleNurse}, Password: "x"}
	_, err := w.AddUser(ctx, w.lead, good)
	wants(t, err, store.Conflict, "already")
	good.Login = "zeru"
	_, err = w.AddUser(ctx, w.nurse, good)
	wants(t, err, store.Forbidden, "role")

	// Roles changed: signed out. The last lead stays.
	_, err = w.StartSession(ctx, w.nurse.UserID, storetest.Proof(t, w.Store, w.nurse.UserID), digest("n"), "10.0.0.1", "r")
	must(t, err)
	must(t, w.EditUser(ctx, w.lead, w.nurse.UserID, "Rilo Besk", []store.Role{store.RoleNurse}, false, ""))
	if _, u, err := w.Session(ctx, digest("n"), true); err != nil || u.Name != "Rilo Besk" {
		t.Errorf("a new name ended the session: %v", err)
	}
	must(t, w.EditUser(ctx, w.lead, w.nurse.UserID, "Rilo Besk", []store.Role{store.RoleAuditor}, false, ""))
	if _, _, err := w.Session(ctx, digest("n"), true); !errors.Is(err, store.ErrSignedOut) {
		t.Errorf("after a change of roles: %v", err)
	}
	users, err := w.Users(ctx)
	must(t, err)
	var leads []int64
	for _, u := range users {
		if u.Has(store.RoleLead) {
			leads = append(leads, u.ID)
		}
	}
	leads = slices.DeleteFunc(leads, func(id int64) bool { return id == w.lead.UserID })
	for _, id := range leads {
		must(t, w.EditUser(ctx, w.lead, id, "Gone", []store.Role{store.RoleLead}, true, ""))
	}
	wants(t, w.EditUser(ctx, w.lead, w.lead.UserID, "Kirul", []store.Role{store.RoleNurse}, false, ""), store.Conflict, "must lead")
	wants(t, w.EditUser(ctx, w.lead, w.lead.UserID, "Kirul", []store.Role{store.RoleLead}, true, ""), store.Conflict, "must lead")
	_, err = w.Claim(ctx, store.Actor{UserID: leads[0]}, w.wear)
	wants(t, err, store.Forbidden, "Sign in")
}

func TestPassword(t *testing.T) {
	w := newWard(t)
	for _, name := range []string{"a", "b"} {
		_, err := w.StartSession(ctx, w.nurse.UserID, storetest.Proof(t, w.Store, w.nurse.UserID), digest(name), "10.0.0.1", "r")
		must(t, err)
	}
	mine, _, err := w.Session(ctx, digest("a"), false)
	must(t, err)
	must(t, w.SetPassword(ctx, w.nurse, w.nurse.UserID, "$new$", mine.ID))
	if list, err := w.Sessions(ctx, w.nurse.UserID); err != nil || len(list) != 1 || list[0].ID != mine.ID {
		t.Errorf("sessions after a new password: %+v, %v", list, err)
	}
	wants(t, w.SetPassword(ctx, w.other, w.nurse.UserID, "$theirs$", 0), store.Forbidden, "role")
	must(t, w.SetPassword(ctx, w.lead, w.nurse.UserID, "$given$", mine.ID))
	c, err := w.Credentials(ctx, " Rilo ")
	must(t, err)
	if c.Password != "$given$" || !c.Temporary {
		t.Errorf("credentials: %+v", c)
	}
	if list, _ := w.Sessions(ctx, w.nurse.UserID); len(list) != 0 {
		t.Errorf("%d sessions go on under a password that somebody else set", len(list))
	}
	must(t, w.Rehash(ctx, w.nurse.UserID, "$old$", "$wrong$"))
	must(t, w.Rehash(ctx, w.nurse.UserID, "$given$", "$stronger$"))
	if c, _ := w.Credentials(ctx, "rilo"); c.Password != "$stronger$" || !c.Temporary {
		t.Errorf("after hashing anew: %+v", c)
	}
	_, err = w.Credentials(ctx, "nobody")
	wants(t, err, store.NotFound, "")
}

func TestSecondFactor(t *testing.T) {
	w := newWard(t)
	wants(t, w.UseTOTPStep(ctx, w.nurse.UserID, 5), store.Forbidden, "used already")
	must(t, w.SetSecondFactor(ctx, w.nurse, storetest.Proof(t, w.Store, w.nurse.UserID), "secret", 0, []string{"h1", "h2", "h3"}))
	must(t, w.UseTOTPStep(ctx, w.nurse.UserID, 5))
	wants(t, w.UseTOTPStep(ctx, w.nurse.UserID, 5), store.Forbidden, "used already")
	must(t, w.UseTOTPStep(ctx, w.nurse.UserID, 6))
	wants(t, w.UseTOTPStep(ctx, w.nurse.UserID, 5), store.Forbidden, "used already")

	// One code, many at once: one of them gets in.
	var wg sync.WaitGroup
	var in atomic.Int32
	for range 8 {
		wg.Go(func() {
			if left, err := w.UseRecoveryCode(ctx, w.nurse.UserID, "h2"); err == nil && left == 2 {
				in.Add(1)
			}
		})
	}
	wg.Wait()
	if in.Load() != 1 {
		t.Errorf("%d got in by one code", in.Load())
	}
	_, err := w.UseRecoveryCode(ctx, w.other.UserID, "h1")
	wants(t, err, store.Forbidden, "not right")
	if u, _ := w.User(ctx, w.nurse.UserID); !u.SecondFactor || u.Recovery != 2 {
		t.Errorf("user: %+v", u)
	}
	wants(t, w.ClearSecondFactor(ctx, w.clinician, w.nurse.UserID, "telephone lost"), store.Forbidden, "role")
	must(t, w.SetSecondFactor(ctx, w.lead, storetest.Proof(t, w.Store, w.lead.UserID), "secret", 0, []string{"x"}))
	wants(t, w.ClearSecondFactor(ctx, w.lead, w.lead.UserID, "telephone lost"), store.Forbidden, "Another lead")
	must(t, w.ClearSecondFactor(ctx, w.lead, w.nurse.UserID, "telephone lost"))
	if u, _ := w.User(ctx, w.nurse.UserID); u.SecondFactor || u.Recovery != 0 {
		t.Errorf("user: %+v", u)
	}
}

func TestSession(t *testing.T) {
	w := newWard(t)
	start := w.clock.Now()
	n, err := w.StartSession(ctx, w.nurse.UserID, storetest.Proof(t, w.Store, w.nurse.UserID), digest("n"), "10.0.0.1", "r")
	must(t, err)
	if !n.ExpiresAt.Equal(start.Add(10*time.Hour)) || !n.IdleAt.Equal(start.Add(15*time.Minute)) {
		t.Errorf("session: %+v", n)
	}
	w.clock.Advance(14 * time.Minute)
	if _, _, err := w.Session(ctx, digest("n"), false); err != nil {
		t.Errorf("a look: %v", err)
	}
	w.clock.Advance(time.Minute)
	if _, _, err := w.Session(ctx, digest("n"), true); !errors.Is(err, store.ErrSignedOut) {
		t.Errorf("after 15 minutes with a mere look: %v", err)
	}
	_, err = w.StartSession(ctx, w.nurse.UserID, storetest.Proof(t, w.Store, w.nurse.UserID), digest("m"), "10.0.0.1", "r")
	must(t, err)
	begun := w.clock.Now()
	for w.clock.Now().Before(begun.Add(10*time.Hour - 10*time.Minute)) {
		w.clock.Advance(10 * time.Minute)
		if _, _, err := w.Session(ctx, digest("m"), true); err != nil {
			t.Fatalf("in use for %v: %v", w.clock.Now().Sub(begun), err)
		}
	}
	w.clock.Advance(10 * time.Minute)
	if _, _, err := w.Session(ctx, digest("m"), true); !errors.Is(err, store.ErrSignedOut) {
		t.Errorf("after ten hours of use: %v", err)
	}

	for _, name := range []string{"p", "q"} {
		_, err := w.StartSession(ctx, w.nurse.UserID, storetest.Proof(t, w.Store, w.nurse.UserID), digest(name), "10.0.0.1", "r")
		must(t, err)
	}
	p, _, err := w.Session(ctx, digest("p"), true)
	must(t, err)
	wants(t, w.RevokeSession(ctx, w.other, p.ID), store.Forbidden, "role")
	must(t, w.RevokeSession(ctx, w.nurse, p.ID))
	must(t, w.EndSession(ctx, digest("q"), "r"))
	must(t, w.EndSession(ctx, digest("q"), "r"))
	for _, name := range []string{"p", "q", "unknown"} {
		if _, _, err := w.Session(ctx, digest(name), true); !errors.Is(err, store.ErrSignedOut) {
			t.Errorf("%s: %v", name, err)
		}
	}
	wants(t, w.RevokeSession(ctx, w.nurse, 999), store.NotFound, "")
	wants(t, w.RevokeSessions(ctx, w.other, w.nurse.UserID, 0), store.Forbidden, "role")
}

func TestToken(t *testing.T) {
	w := newWard(t)
	soon := w.clock.Now().Add(day)
	_, err := w.AddToken(ctx, w.nurse, "script", digest("k"), []string{store.ScopeRead}, soon)
	wants(t, err, store.Forbidden, "role")
	_, err = w.AddToken(ctx, w.lead, "script", digest("k"), []string{"everything"}, soon)
	wants(t, err, store.Invalid, "scopes")
	_, err = w.AddToken(ctx, w.lead, "script", digest("k"), []string{store.ScopeRead}, w.clock.Now().AddDate(5, 0, 0))
	wants(t, err, store.Invalid, "next year")
	id, err := w.AddToken(ctx, w.lead, "script", digest("k"), []string{store.ScopeRead}, soon)
	must(t, err)
	k, u, err := w.UseToken(ctx, digest("k"))
	if must(t, err); k.ID != id || u.ID != w.lead.UserID || !slices.Equal(k.Scopes, []string{"read"}) {
		t.Errorf("token %+v of %+v", k, u)
	}
	if list, _ := w.Tokens(ctx); len(list) != 1 || !list[0].UsedAt.Equal(w.clock.Now()) {
		t.Errorf("tokens: %+v", list)
	}
	must(t, w.RevokeToken(ctx, w.lead, id))
	if _, _, err := w.UseToken(ctx, digest("k")); !errors.Is(err, store.ErrSignedOut) {
		t.Errorf("revoked: %v", err)
	}
	_, err = w.AddToken(ctx, w.lead, "script", digest("l"), []string{store.ScopeRead}, soon)
	must(t, err)
	w.clock.Advance(day)
	for _, name := range []string{"l", "unknown"} {
		if _, _, err := w.UseToken(ctx, digest(name)); !errors.Is(err, store.ErrSignedOut) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// try makes an attempt and gives how long it was told to wait.
func (w *ward) try(t *testing.T, login, address string) time.Duration {
	t.Helper()
	until, err := w.TrySignIn(ctx, login, address)
	must(t, err)
	if until.IsZero() {
		return 0
	}
	return until.Sub(w.clock.Now())
}

func TestWaitDoubles(t *testing.T) {
	w := newWard(t)
	for n := range 5 {
		if wait := w.try(t, "rilo", "10.0.0.9"); wait != 0 {
			t.Fatalf("attempt %d waits %v", n+1, wait)
		}
	}
	for n, want := range []time.Duration{1, 2, 4, 8, 15, 15, 15} {
		want *= time.Minute
		if wait := w.try(t, "Rilo", "10.0.0.9"); wait != want {
			t.Fatalf("wait %d is %v, want %v", n+1, wait, want)
		}
		w.clock.Advance(want - time.Second)
		if wait := w.try(t, "rilo", "10.0.0.9"); wait != time.Second { // asking prolongs nothing
			t.Fatalf("a second before the end of wait %d: %v", n+1, wait)
		}
		w.clock.Advance(time.Second)
		if wait := w.try(t, "rilo", "10.0.0.9"); wait != 0 {
			t.Fatalf("after wait %d: %v", n+1, wait)
		}
	}
	w.clock.Advance(15 * time.Minute)
	_, err := w.StartSession(ctx, w.nurse.UserID, storetest.Proof(t, w.Store, w.nurse.UserID), digest("n"), "10.0.0.9", "r")
	must(t, err)
	for n := range 5 {
		if wait := w.try(t, "rilo", "10.0.0.9"); wait != 0 {
			t.Fatalf("attempt %d after a sign-in waits %v", n+1, wait)
		}
	}
	w.clock.Advance(2 * time.Hour)
	for range 5 {
		if wait := w.try(t, "rilo", "10.0.0.9"); wait != 0 {
			t.Errorf("hours later: %v", wait)
		}
	}
}

// Somebody who fails all day long at an account, from one address or many,
// cannot keep the person it belongs to out of their own desk.
func TestNobodyIsLockedOut(t *testing.T) {
	w := newWard(t)
	const desk = "10.0.0.1"
	w.try(t, "rilo", desk)
	_, err := w.StartSession(ctx, w.nurse.UserID, storetest.Proof(t, w.Store, w.nurse.UserID), digest("n"), desk, "r")
	must(t, err)
	through := 0
	for n := range 400 {
		if w.try(t, "rilo", fmt.Sprint("203.0.113.", n%50)) == 0 {
			through++
		}
		w.clock.Advance(20 * time.Second)
	}
	if through > 60 {
		t.Errorf("%d guesses got through in two hours", through)
	}
	if wait := w.try(t, "rilo", "198.51.100.7"); wait == 0 || wait > 15*time.Minute {
		t.Errorf("from elsewhere: %v", wait)
	}
	if wait := w.try(t, "rilo", desk); wait != 0 {
		t.Errorf("at the own desk: %v", wait)
	}

	// One address against many accounts waits too; a desk known to an account does not.
	var waited bool
	for n := range 40 {
		waited = waited || w.try(t, fmt.Sprint("guess", n), desk) > 0
	}
	if !waited {
		t.Error("one address may guess at any number of accounts")
	}
	if wait := w.try(t, "rilo", desk); wait != 0 {
		t.Errorf("at the own desk, where somebody guesses: %v", wait)
	}
}

// Attempts made at once cannot slip through between the look and the count.
func TestManyAttemptsAtOnce(t *testing.T) {
	w := newWard(t)
	var wg sync.WaitGroup
	var through atomic.Int32
	for range 30 {
		wg.Go(func() {
			if until, err := w.TrySignIn(ctx, "rilo", "10.0.0.9"); err == nil && until.IsZero() {
				through.Add(1)
			}
		})
	}
	wg.Wait()
	if through.Load() != 5 {
		t.Errorf("%d got through", through.Load())
	}
}
