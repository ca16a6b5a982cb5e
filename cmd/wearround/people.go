package main

import (
	"context"
	"fmt"
	"io"
	"sync"

	"wearround/server/door"
	"wearround/server/password"
	"wearround/store"
)

// demoPassword is everybody's in an invented practice. It is printed, so it is
// no secret.
const demoPassword = "ludo bema tavi 7 rosu"

// demoPeople are the people of an invented practice, the one who works through
// the round first.
var demoPeople = []store.NewUser{
	{Login: "nurse", Name: "Tavi Morel", Roles: []store.Role{store.RoleNurse}},
	{Login: "clinician", Name: "Sulo Bemar", Roles: []store.Role{store.RoleClinician}},
	{Login: "lead", Name: "Rosu Kelin", Roles: []store.Role{store.RoleLead, store.RoleClinician}},
	{Login: "auditor", Name: "Nemi Dorval", Roles: []store.Role{store.RoleAuditor}},
}

// demoHash is the hash of their password, which takes a moment and is no secret.
var demoHash = sync.OnceValues(func() (string, error) {
	return password.New(password.Strong).Hash(context.Background(), demoPassword)
})

// addDemoPeople makes them. A practice that is kept has them already.
func addDemoPeople(ctx context.Context, s *store.Store) error {
	none, err := s.NoUsers(ctx)
	if err != nil || !none {
		return err
	}
	hash, err := demoHash()
	if err != nil {
		return err
	}
	_, token := door.SetupLink("")
	if _, err := s.SetSetupToken(ctx, token); err != nil {
		return err
	}
	first := demoPeople[2]
	first.Password = hash
	lead, err := s.Setup(ctx, token, first)
	if err != nil {
		return err
	}
	for _, u := range demoPeople {
		if u.Login == first.Login {
			continue
		}
		u.Password = hash
		if _, err := s.AddUser(ctx, store.Actor{UserID: lead.ID, Request: "demo"}, u); err != nil {
			return err
		}
	}
	return nil
}

// printSignIn says how to come in.
func printSignIn(w io.Writer, url string) {
	fmt.Fprintf(w, "Sign in at\n  %s\nas %q with the password\n  %s\n(or as %q, %q, %q: the same password). This practice is invented, so no\nsecond factor is asked for; a real one asks everybody. A tour in ten steps: %shelp/tour\n",
		url, demoPeople[0].Login, demoPassword, demoPeople[1].Login, demoPeople[2].Login, demoPeople[3].Login, url)
}
