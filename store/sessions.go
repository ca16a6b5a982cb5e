package store

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// How long a sign-in lasts. Proposals of the practice's security notes; the
// standards ask only that they be written down.
const (
	SessionIdle = 15 * time.Minute // without use
	SessionLife = 10 * time.Hour   // in any case
)

// sessionGrain is how exactly the last use of a session is kept.
const sessionGrain = 15 * time.Second

// ErrSignedOut says that a session or a token is not good any more.
var ErrSignedOut error = &Error{Code: Forbidden, Public: "You are signed out. Sign in again."}

// StartSession begins a session of a user who has proved who they are, and
// forgets their failed attempts. token is the hash of a new random token, was
// the [Credentials.Proof] that they were asked for: where password, factor or
// access are others now it gives [ErrSignedOut].
func (s *Store) StartSession(ctx context.Context, userID int64, was, token Digest, address, request string) (Session, error) {
	var n Session
	err := s.act(ctx, Actor{UserID: userID, Request: request}, everyone, "sign in", onUser(userID), func(t *tx) error {
		if err := t.still(ctx, userID, was); err != nil {
			return err
		}
		var login string
		if err := t.QueryRowContext(ctx, "SELECT login FROM users WHERE id = ?", userID).Scan(&login); err != nil {
			return err
		}
		if err := t.succeeded(ctx, login, address); err != nil {
			return err
		}
		var err error
		n, err = scanSession(t.QueryRowContext(ctx, `INSERT INTO sessions (hash, user_id, address, started_at, seen_at) VALUES (?1, ?2, ?3, ?4, ?4)
			RETURNING `+sessionColumns, token[:], userID, address, t.now))
		if err != nil {
			return err
		}
		return t.log(ctx, onUser(userID), "")
	})
	return n, err
}

const sessionColumns = "id, user_id, address, started_at, seen_at"

func scanSession(row interface{ Scan(...any) error }) (Session, error) {
	var n Session
	var started, seen int64
	err := row.Scan(&n.ID, &n.UserID, &n.Address, &started, &seen)
	n.StartedAt, n.SeenAt = fromUnix(started), fromUnix(seen)
	n.limit()
	return n, err
}

// clockSlack is how far the clock may be set back without anybody's noticing.
const clockSlack = 2 * time.Minute

// ahead reports whether a session is of a clock that was ahead of now: it would
// be good for as long as that was.
func (n *Session) ahead(now time.Time) bool {
	return n.StartedAt.After(now.Add(clockSlack)) || n.SeenAt.After(now.Add(clockSlack))
}

// limit works out when a session ends.
func (n *Session) limit() {
	n.ExpiresAt = n.StartedAt.Add(SessionLife)
	if n.IdleAt = n.SeenAt.Add(SessionIdle); n.IdleAt.After(n.ExpiresAt) {
		n.IdleAt = n.ExpiresAt
	}
}

// Session gives the session of a token and its user. With use it counts as
// used; a screen that only looks whether there is anything new does not use it.
// [ErrSignedOut] stands for every reason why it is not good.
func (s *Store) Session(ctx context.Context, token Digest, use bool) (Session, User, error) {
	var n Session
	var u User
	err := s.read(ctx, "look for a session", func(t *sql.Tx) error {
		var err error
		n, err = scanSession(t.QueryRowContext(ctx, "SELECT "+sessionColumns+" FROM sessions WHERE hash = ? AND ended_at IS NULL", token[:]))
		if err != nil {
			return err
		}
		u, err = scanUser(t.QueryRowContext(ctx, "SELECT "+userColumns+" FROM users WHERE id = ? AND disabled = 0", n.UserID))
		return err
	})
	if CodeOf(err) == NotFound && err != nil {
		return Session{}, User{}, ErrSignedOut
	}
	if err != nil {
		return Session{}, User{}, err
	}
	now := s.now()
	if used, ok := s.lastUse.Load(n.ID); ok && used.(time.Time).After(n.SeenAt) { // not saved yet
		n.SeenAt = used.(time.Time)
		n.limit()
	}
	if !now.Before(n.IdleAt) || n.ahead(now) {
		return Session{}, User{}, ErrSignedOut
	}
	if !use || now.Sub(n.SeenAt) < sessionGrain {
		return n, u, nil
	}
	kept := n
	err = s.write(ctx, "use a session", func(t *tx) error {
		n, err = scanSession(t.QueryRowContext(ctx, "UPDATE sessions SET seen_at = max(seen_at, ?) WHERE id = ? AND ended_at IS NULL RETURNING "+sessionColumns, t.now, n.ID))
		if errors.Is(err, sql.ErrNoRows) {
			return ErrSignedOut
		}
		return err
	})
	if CodeOf(err) == Broken { // the disk takes nothing: reading goes on, and the session with it
		n, err = kept, nil
		n.SeenAt = now
		n.limit()
		s.lastUse.Store(n.ID, now)
	}
	return n, u, err
}

// Sessions gives a user's sessions that have not ended, the newest first.
func (s *Store) Sessions(ctx context.Context, userID int64) ([]Session, error) {
	var list []Session
	now := s.now()
	rows, err := s.reader.QueryContext(ctx, "SELECT "+sessionColumns+" FROM sessions WHERE user_id = ? AND ended_at IS NULL ORDER BY id DESC", userID)
	err = each(rows, err, func(rows *sql.Rows) error {
		n, err := scanSession(rows)
		if now.Before(n.IdleAt) && !n.ahead(now) {
			list = append(list, n)
		}
		return err
	})
	return list, fail("list the sessions", err)
}

// EndedSession gives whose the session was that is told by its token, where it
// was in use not long ago; 0 where none is.
func (s *Store) EndedSession(ctx context.Context, is func(token Digest) bool) (userID int64, err error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT hash, user_id FROM sessions WHERE seen_at >= ? ORDER BY id DESC", s.now().Add(-draftLife).Unix())
	err = each(rows, err, func(rows *sql.Rows) error {
		var hash []byte
		var id int64
		err := rows.Scan(&hash, &id)
		if token := (Digest{}); userID == 0 && copy(token[:], hash) == len(token) && is(token) {
			userID = id
		}
		return err
	})
	return userID, fail("look for a session that ended", err)
}

// EndSession signs out. A session that has ended already is no error.
func (s *Store) EndSession(ctx context.Context, token Digest, request string) error {
	return s.write(ctx, "sign out", func(t *tx) error {
		var userID int64
		err := t.QueryRowContext(ctx, "UPDATE sessions SET ended_at = ? WHERE hash = ? AND ended_at IS NULL RETURNING user_id", t.now, token[:]).Scan(&userID)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		t.actor = Actor{UserID: userID, Request: request}
		return t.log(ctx, onUser(userID), "")
	})
}

// RevokeSession ends one session. Users end their own, a lead anybody's.
func (s *Store) RevokeSession(ctx context.Context, a Actor, sessionID int64) error {
	var userID int64
	if err := s.reader.QueryRowContext(ctx, "SELECT user_id FROM sessions WHERE id = ?", sessionID).Scan(&userID); err != nil {
		return fail("end a session", err)
	}
	return s.act(ctx, a, ownOr(leads, a, userID), "end a session", onUser(userID), func(t *tx) error {
		if _, err := t.ExecContext(ctx, "UPDATE sessions SET ended_at = ? WHERE id = ? AND ended_at IS NULL", t.now, sessionID); err != nil {
			return err
		}
		return t.log(ctx, onUser(userID), "")
	})
}

// RevokeSessions ends all sessions of a user but one; keep 0 ends all. Users end
// their own, a lead anybody's.
func (s *Store) RevokeSessions(ctx context.Context, a Actor, userID, keep int64) error {
	return s.act(ctx, a, ownOr(leads, a, userID), "end all sessions", onUser(userID), func(t *tx) error {
		if err := t.endSessions(ctx, userID, keep); err != nil {
			return err
		}
		return t.log(ctx, onUser(userID), "")
	})
}

func (t *tx) endSessions(ctx context.Context, userID, keep int64) error {
	_, err := t.ExecContext(ctx, "UPDATE sessions SET ended_at = ? WHERE user_id = ? AND ended_at IS NULL AND id <> ?", t.now, userID, keep)
	return err
}
