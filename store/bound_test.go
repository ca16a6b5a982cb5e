package store_test

import (
	"errors"
	"strings"
	"testing"

	"wearround/store"
	"wearround/store/storetest"
)

// TestSignInIsBoundToWhatItBeganWith: a sign-in in two steps ends where password,
// factor or access became others meanwhile, whatever changed them.
func TestSignInIsBoundToWhatItBeganWith(t *testing.T) {
	changes := map[string]func(w *ward) error{
		"password": func(w *ward) error { return w.SetPassword(ctx, w.lead, w.nurse.UserID, "another hash", 0) },
		"factor": func(w *ward) error {
			return w.SetSecondFactor(ctx, w.nurse, storetest.Proof(t, w.Store, w.nurse.UserID), "secret", 0, []string{"h"})
		},
		"access": func(w *ward) error {
			u, err := w.User(ctx, w.nurse.UserID)
			return errors.Join(err, w.EditUser(ctx, w.lead, u.ID, u.Name, u.Roles, true, "left"))
		},
	}
	for what, change := range changes {
		t.Run(what, func(t *testing.T) {
			w := newWard(t)
			began := storetest.Proof(t, w.Store, w.nurse.UserID)
			must(t, change(w))
			if _, err := w.StartSession(ctx, w.nurse.UserID, began, digest("n"), "10.0.0.1", "r"); err == nil {
				t.Error("a session began on what held before")
			}
			if err := w.SetSecondFactor(ctx, w.nurse, began, "other secret", 0, []string{"h"}); err == nil {
				t.Error("a second factor was set on what held before")
			}
			if _, _, err := w.Session(ctx, digest("n"), false); !errors.Is(err, store.ErrSignedOut) {
				t.Errorf("the session: %v", err)
			}
		})
	}
}

// TestFactorSecretIsHidden: the database alone tells nobody's secret, and one
// that is put down to somebody else is none.
func TestFactorSecretIsHidden(t *testing.T) {
	w := newWard(t)
	const secret = "JBSWY3DPEHPK3PXP"
	must(t, w.SetSecondFactor(ctx, w.nurse, storetest.Proof(t, w.Store, w.nurse.UserID), secret, 0, []string{"h"}))
	nurse, err := w.User(ctx, w.nurse.UserID)
	must(t, err)
	lead, err := w.User(ctx, w.lead.UserID)
	must(t, err)
	if c, err := w.Credentials(ctx, nurse.Login); err != nil || c.TOTPSecret != secret {
		t.Errorf("the secret comes back as %q, %v", c.TOTPSecret, err)
	}
	writer, _ := w.Pools()
	var stored string
	must(t, writer.QueryRow("SELECT totp_secret FROM users WHERE id = ?", nurse.ID).Scan(&stored))
	if stored == "" || strings.Contains(stored, secret) {
		t.Errorf("the database tells the secret: %q", stored)
	}
	w.clock.Tampered()
	must(t, second(writer.Exec("UPDATE users SET totp_secret = ? WHERE id = ?", stored, lead.ID)))
	if c, err := w.Credentials(ctx, lead.Login); err == nil {
		t.Errorf("somebody else's secret is taken for the lead's: %q", c.TOTPSecret)
	}
}
