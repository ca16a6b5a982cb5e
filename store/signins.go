package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"time"
)

// The waiting rule of the sign-in: after some failures in a row a wait of one
// minute, which doubles with each further one up to a quarter of an hour and is
// never for good. Failures further apart than the longest wait are not "in a
// row". Shape: common practice (authentication cheat sheets); the numbers are a
// proposal.
//
// An account under attack must stay open to the person it belongs to. So the
// failures of an account from everywhere, and those of an address against all
// accounts, make nobody wait at an address that the account has signed in from
// before; there only the failures of the two together count.
const (
	firstWait   = time.Minute
	longestWait = 15 * time.Minute
	placeLife   = 90 * 24 * time.Hour // how long an address stays known
)

// failuresFree is how many failures in a row are without a wait.
var failuresFree = map[string]int{"pair": 5, "account": 20, "address": 20}

// waitAfter is the wait after n failures in a row.
func waitAfter(scope string, n int) time.Duration {
	over := n - failuresFree[scope]
	if over < 0 {
		return 0
	}
	return min(firstWait<<min(over, 10), longestWait)
}

// scopes gives the keys under which failures are counted.
func scopes(login, address string) map[string][]byte {
	key := func(parts ...string) []byte {
		h := sha256.New()
		for _, p := range parts {
			writeField(h, p)
		}
		return h.Sum(nil)
	}
	login = normal(login)
	return map[string][]byte{"account": key(login), "address": key(address), "pair": key(login, address)}
}

// TrySignIn must be asked before a password is looked at. It gives the zero
// time where the attempt may go on, which counts as failed from then on until
// [Store.StartSession] says otherwise: so many attempts at once cannot slip
// through. Otherwise it gives when to try again; asking does not prolong that.
func (s *Store) TrySignIn(ctx context.Context, login, address string) (wait time.Time, err error) {
	err = s.write(ctx, "try to sign in", func(t *tx) error {
		keys := scopes(login, address)
		var known bool
		if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM signin_places WHERE pair = ? AND last_at > ?)",
			keys["pair"], t.now-int64(placeLife/time.Second)).Scan(&known); err != nil {
			return err
		}
		next := map[string]int{}
		for scope, key := range keys {
			n, last, err := t.failures(ctx, scope, key)
			if err != nil {
				return err
			}
			until := fromUnix(last).Add(waitAfter(scope, n))
			if (scope == "pair" || !known) && until.Unix() > t.now && until.After(wait) {
				wait = until
			}
			next[scope] = n + 1
		}
		if !wait.IsZero() {
			return nil
		}
		for scope, key := range keys {
			if _, err := t.ExecContext(ctx, "INSERT OR REPLACE INTO signin_failures (scope, key, n, last_at) VALUES (?, ?, ?, ?)",
				scope, key, next[scope], t.now); err != nil {
				return err
			}
		}
		return nil
	})
	return wait, err
}

// failures gives how many failures in a row there are, and when the last was.
func (t *tx) failures(ctx context.Context, scope string, key []byte) (n int, last int64, err error) {
	err = t.QueryRowContext(ctx, "SELECT n, last_at FROM signin_failures WHERE scope = ? AND key = ?", scope, key).Scan(&n, &last)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, 0, nil
	}
	last = min(last, t.now) // of a clock that was ahead: it must bar nobody until then
	if fromUnix(last).Add(waitAfter(scope, n)+longestWait).Unix() <= t.now {
		n = 0
	}
	return n, last, err
}

// SignInFailed logs an attempt that failed. userID is whose account it was, or
// 0 where there is none of that name.
func (s *Store) SignInFailed(ctx context.Context, userID int64, request string) error {
	return s.RecordRefusal(ctx, Actor{Request: request}, "sign in", onUser(0).object, userID)
}

// succeeded forgets the failures of an account and of the two together. Those
// of the address stay: its owner may have an account of their own.
func (t *tx) succeeded(ctx context.Context, login, address string) error {
	keys := scopes(login, address)
	for _, scope := range []string{"account", "pair"} {
		if _, err := t.ExecContext(ctx, "DELETE FROM signin_failures WHERE scope = ? AND key = ?", scope, keys[scope]); err != nil {
			return err
		}
	}
	// The attempt itself was counted against the address.
	if _, err := t.ExecContext(ctx, "UPDATE signin_failures SET n = max(0, n - 1) WHERE scope = 'address' AND key = ?", keys["address"]); err != nil {
		return err
	}
	if _, err := t.ExecContext(ctx, "INSERT OR REPLACE INTO signin_places (pair, last_at) VALUES (?, ?)", keys["pair"], t.now); err != nil {
		return err
	}
	// What counts no more goes: an attacker must not fill the disk.
	_, err := t.ExecContext(ctx, "DELETE FROM signin_failures WHERE last_at < ?", t.now-daySeconds)
	return err
}
