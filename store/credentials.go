package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
)

// SetPassword saves a new password, as a PHC string, and ends the user's other
// sessions. Users set their own; a lead may set anybody's, which is temporary
// then and must be changed at the next sign-in. keep is the session that goes
// on, or 0.
func (s *Store) SetPassword(ctx context.Context, a Actor, userID int64, password string, keep int64) error {
	if password == "" {
		return invalid("Choose a password.")
	}
	return s.act(ctx, a, ownOr(leads, a, userID), "set a password", onUser(userID), func(t *tx) error {
		own := a.UserID == userID
		if err := t.changeUser(ctx, "UPDATE users SET password = ?, password_at = ?, temporary = ? WHERE id = ?", password, t.now, !own, userID); err != nil {
			return err
		}
		if !own {
			keep = 0
		}
		if err := t.endSessions(ctx, userID, keep); err != nil {
			return err
		}
		return t.log(ctx, onUser(userID), "")
	})
}

// TakeLink chooses a password in exchange for a one-time link, which link is
// the stored form of. The same statement ends the link: of several who come with
// it at once, one is let in, and the others get [Forbidden].
func (s *Store) TakeLink(ctx context.Context, userID int64, link, password, request string) error {
	return s.act(ctx, Actor{UserID: userID, Request: request}, everyone, "set a password", onUser(userID), func(t *tx) error {
		r, err := t.ExecContext(ctx, "UPDATE users SET password = ?1, password_at = ?2, temporary = 0 WHERE id = ?3 AND password = ?4 AND temporary = 1 AND disabled = 0",
			password, t.now, userID, link)
		if err := one(r, err, forbidden("This link was used already. Ask a lead of the practice for a new one.")); err != nil {
			return err
		}
		if err := t.endSessions(ctx, userID, 0); err != nil {
			return err
		}
		return t.log(ctx, onUser(userID), "")
	})
}

// Rehash replaces the stored form of the same password, after a sign-in that
// proved it, unless it was changed meanwhile.
func (s *Store) Rehash(ctx context.Context, userID int64, from, to string) error {
	return s.write(ctx, "hash a password anew", func(t *tx) error {
		_, err := t.ExecContext(ctx, "UPDATE users SET password = ? WHERE id = ? AND password = ?", to, userID, from)
		return err
	})
}

// SetSecondFactor saves the secret of the user's second factor and the hashes
// of its recovery codes in place of those before, and uses up the step that
// showed it to work (0 for none). was is the [Credentials.Proof] that it began
// with: where password or factor are others now it gives [ErrSignedOut]. Users
// set their own.
func (s *Store) SetSecondFactor(ctx context.Context, a Actor, was Digest, secret string, step int64, recovery []string) error {
	if secret == "" || len(recovery) == 0 {
		return invalid("A second factor needs its secret and recovery codes.")
	}
	hidden, err := s.hideFactor(a.UserID, secret)
	if err != nil {
		return fail("set the second factor", err)
	}
	return s.act(ctx, a, everyone, "set the second factor", onUser(a.UserID), func(t *tx) error {
		if err := t.still(ctx, a.UserID, was); err != nil {
			return err
		}
		if err := t.setFactor(ctx, a.UserID, hidden, recovery, ""); err != nil {
			return err
		}
		return t.useStep(ctx, a.UserID, step)
	})
}

// ClearSecondFactor takes away the second factor of somebody who lost it, and
// ends their sessions. It takes a lead other than the user. The reason is logged.
func (s *Store) ClearSecondFactor(ctx context.Context, a Actor, userID int64, reason string) error {
	if err := checkText(reason); err != nil {
		return err
	}
	return s.act(ctx, a, leads, "clear a second factor", onUser(userID), func(t *tx) error {
		if a.UserID == userID {
			return forbidden("Another lead must do this for you.")
		}
		if err := t.endSessions(ctx, userID, 0); err != nil {
			return err
		}
		return t.setFactor(ctx, userID, "", nil, reason)
	})
}

func (t *tx) setFactor(ctx context.Context, userID int64, secret string, recovery []string, reason string) error {
	if err := t.changeUser(ctx, "UPDATE users SET totp_secret = ? WHERE id = ?", secret, userID); err != nil {
		return err
	}
	if _, err := t.ExecContext(ctx, "DELETE FROM recovery_codes WHERE user_id = ?", userID); err != nil {
		return err
	}
	err := insert(ctx, t, "INSERT INTO recovery_codes (user_id, hash) VALUES (?, ?)", recovery, func(_ int, hash string) []any {
		return []any{userID, hash}
	})
	if err != nil {
		return err
	}
	return t.log(ctx, onUser(userID), strings.TrimSpace(reason))
}

// UseTOTPStep takes one time step of a user's second factor, which the caller
// has found right and near now. A step is good once: a used one is [Forbidden].
func (s *Store) UseTOTPStep(ctx context.Context, userID, step int64) error {
	return s.write(ctx, "use a second factor", func(t *tx) error { return t.useStep(ctx, userID, step) })
}

// useStep takes a step, and forgets those that are too old to be right again.
// What was used while the clock was ahead stays until its time has passed.
func (t *tx) useStep(ctx context.Context, userID, step int64) error {
	if step == 0 {
		return nil
	}
	const keep = 20 // steps of half a minute
	if _, err := t.ExecContext(ctx, "DELETE FROM factor_steps WHERE user_id = ? AND step < ?", userID, step-keep); err != nil {
		return err
	}
	r, err := t.ExecContext(ctx, "INSERT INTO factor_steps (user_id, step) SELECT id, ? FROM users WHERE id = ? AND totp_secret <> '' ON CONFLICT DO NOTHING", step, userID)
	return one(r, err, forbidden("This code was used already. Wait for the next one."))
}

// UseRecoveryCode takes one of a user's recovery codes by its hash and gives
// how many are left. Each is good once: anything else is [Forbidden].
func (s *Store) UseRecoveryCode(ctx context.Context, userID int64, hash string) (left int, err error) {
	err = s.write(ctx, "use a recovery code", func(t *tx) error {
		r, err := t.ExecContext(ctx, "UPDATE recovery_codes SET used_at = ? WHERE user_id = ? AND hash = ? AND used_at IS NULL", t.now, userID, hash)
		if err := one(r, err, forbidden("This recovery code is not right or was used already.")); err != nil {
			return err
		}
		if err := t.QueryRowContext(ctx, "SELECT count(*) FROM recovery_codes WHERE user_id = ? AND used_at IS NULL", userID).Scan(&left); err != nil {
			return err
		}
		t.actor.UserID = userID
		return t.log(ctx, onUser(userID), "")
	})
	return left, err
}

// ownOr is who may do something: everyone for themselves, others for anybody.
func ownOr(others []Role, a Actor, userID int64) []Role {
	if a.UserID == userID {
		return everyone
	}
	return others
}

// changeUser runs an update of one user.
func (t *tx) changeUser(ctx context.Context, query string, args ...any) error {
	r, err := t.ExecContext(ctx, query, args...)
	return one(r, err, sql.ErrNoRows)
}

// one gives the error none where a statement changed nothing.
func one(r sql.Result, err, none error) error {
	if err != nil {
		return err
	}
	n, err := r.RowsAffected()
	if err == nil && n == 0 {
		return none
	}
	return errors.Join(err)
}
