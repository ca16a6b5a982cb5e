package store

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"
	"time"
)

// The scopes that an API token can have.
const (
	ScopeRead  = "read"  // see what its owner may see
	ScopeWrite = "write" // do what its owner may do on the round
	ScopeDrop  = "drop"  // send files in
)

// Scopes lists them.
func Scopes() []string { return []string{ScopeRead, ScopeWrite, ScopeDrop} }

// longestToken is how long a token may be good.
const longestToken = 366 * 24 * time.Hour

const tokenColumns = "tokens.id, tokens.name, users.id, users.name, scopes, made_at, expires_at, coalesce(used_at, 0), coalesce(revoked_at, 0)"

func scanToken(row interface{ Scan(...any) error }) (Token, error) {
	var k Token
	var made, expires, used, revoked int64
	err := row.Scan(&k.ID, &k.Name, &k.Owner.ID, &k.Owner.Name, into(&k.Scopes), &made, &expires, &used, &revoked)
	k.MadeAt, k.ExpiresAt, k.UsedAt, k.RevokedAt = fromUnix(made), fromUnix(expires), when(used), when(revoked)
	return k, err
}

// AddToken lets a program act in the user's own name within scopes until a
// time at most a year away. token is the hash of a new random token. Leads only.
func (s *Store) AddToken(ctx context.Context, a Actor, name string, token Digest, scopes []string, until time.Time) (id int64, err error) {
	if strings.TrimSpace(name) == "" || len(name) > 100 {
		return 0, invalid("Say in a few words what the token is for.")
	}
	if len(scopes) == 0 || slices.ContainsFunc(scopes, func(x string) bool { return !slices.Contains(Scopes(), x) }) {
		return 0, invalid("Choose at least one of the scopes offered.")
	}
	err = s.act(ctx, a, leads, "add a token", onToken(0), func(t *tx) error {
		if ends := until.Unix(); ends <= t.now || ends > t.now+int64(longestToken/time.Second) {
			return invalid("A token must end some day within the next year.")
		}
		list, err := text(scopes)
		if err != nil {
			return err
		}
		err = t.QueryRowContext(ctx, "INSERT INTO tokens (hash, name, user_id, scopes, made_at, expires_at) VALUES (?, ?, ?, ?, ?, ?) RETURNING id",
			token[:], strings.TrimSpace(name), a.UserID, list, t.now, until.Unix()).Scan(&id)
		if err != nil {
			return err
		}
		return t.log(ctx, onToken(id), strings.Join(scopes, ", "))
	})
	return id, err
}

// UseToken gives the token of a hash and its owner, and notes that it was used.
// [ErrSignedOut] stands for every reason why it is not good.
func (s *Store) UseToken(ctx context.Context, token Digest) (Token, User, error) {
	var k Token
	var u User
	err := s.read(ctx, "look for a token", func(t *sql.Tx) error {
		var err error
		k, err = scanToken(t.QueryRowContext(ctx, "SELECT "+tokenColumns+" FROM tokens JOIN users ON users.id = user_id WHERE hash = ? AND disabled = 0", token[:]))
		if err != nil {
			return err
		}
		u, err = scanUser(t.QueryRowContext(ctx, "SELECT "+userColumns+" FROM users WHERE id = ?", k.Owner.ID))
		return err
	})
	now := s.now()
	if err != nil && CodeOf(err) == NotFound || err == nil && (!k.RevokedAt.IsZero() || !now.Before(k.ExpiresAt)) {
		return Token{}, User{}, ErrSignedOut
	}
	if err != nil || now.Sub(k.UsedAt) < time.Minute {
		return k, u, err
	}
	err = s.write(ctx, "use a token", func(t *tx) error {
		k.UsedAt = fromUnix(t.now)
		_, err := t.ExecContext(ctx, "UPDATE tokens SET used_at = ? WHERE id = ?", t.now, k.ID)
		return err
	})
	if CodeOf(err) == Broken { // the disk takes nothing: reading goes on
		err = nil
	}
	return k, u, err
}

// RevokeToken ends a token. Leads only.
func (s *Store) RevokeToken(ctx context.Context, a Actor, id int64) error {
	return s.act(ctx, a, leads, "revoke a token", onToken(id), func(t *tx) error {
		r, err := t.ExecContext(ctx, "UPDATE tokens SET revoked_at = coalesce(revoked_at, ?) WHERE id = ?", t.now, id)
		if err := one(r, err, sql.ErrNoRows); err != nil {
			return err
		}
		return t.log(ctx, onToken(id), "")
	})
}

// Tokens gives every token that there ever was, the newest first.
func (s *Store) Tokens(ctx context.Context) ([]Token, error) {
	var list []Token
	rows, err := s.reader.QueryContext(ctx, "SELECT "+tokenColumns+" FROM tokens JOIN users ON users.id = user_id ORDER BY tokens.id DESC")
	err = each(rows, err, func(rows *sql.Rows) error {
		k, err := scanToken(rows)
		list = append(list, k)
		return err
	})
	return list, fail("list the tokens", errors.Join(err))
}

// when is the time of a stored number of seconds, or the zero time for 0.
func when(s int64) time.Time {
	if s == 0 {
		return time.Time{}
	}
	return fromUnix(s)
}
