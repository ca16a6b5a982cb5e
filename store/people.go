package store

import (
	"context"
	"crypto/hmac"
	"database/sql"
	"errors"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

const userColumns = `users.id, login, users.name, roles, disabled, temporary, totp_secret <> '',
	(SELECT count(*) FROM recovery_codes WHERE user_id = users.id AND used_at IS NULL), created_at, password_at`

// scanUser reads one row of userColumns, and what stands after them into more.
func scanUser(row interface{ Scan(...any) error }, more ...any) (User, error) {
	var u User
	var created, password int64
	err := row.Scan(append([]any{&u.ID, &u.Login, &u.Name, into(&u.Roles), &u.Disabled, &u.Temporary, &u.SecondFactor,
		&u.Recovery, &created, &password}, more...)...)
	u.CreatedAt, u.PasswordAt = fromUnix(created), fromUnix(password)
	return u, err
}

// Users gives everybody who works or worked here, by name.
func (s *Store) Users(ctx context.Context) ([]User, error) {
	var list []User
	rows, err := s.reader.QueryContext(ctx, "SELECT "+userColumns+" FROM users WHERE users.id > 0 ORDER BY users.name, users.id")
	err = each(rows, err, func(rows *sql.Rows) error {
		u, err := scanUser(rows)
		list = append(list, u)
		return err
	})
	return list, fail("list the users", err)
}

// User gives one of them.
func (s *Store) User(ctx context.Context, id int64) (User, error) {
	u, err := scanUser(s.reader.QueryRowContext(ctx, "SELECT "+userColumns+" FROM users WHERE id = ?", id))
	return u, fail("read a user", err)
}

// Credentials gives what a sign-in under this name is checked against, also
// for a user who is disabled. [NotFound] must look like a wrong password to
// whoever asks, and take as long.
func (s *Store) Credentials(ctx context.Context, login string) (Credentials, error) {
	var c Credentials
	var err error
	c.User, err = scanUser(s.reader.QueryRowContext(ctx, "SELECT "+userColumns+", password, totp_secret FROM users WHERE login = ?", normal(login)),
		&c.Password, &c.TOTPSecret)
	if err == nil {
		c.Proof = proof(&c, c.TOTPSecret)
		c.TOTPSecret, err = s.showFactor(c.ID, c.TOTPSecret)
	}
	return c, fail("read credentials", err)
}

// NoUsers reports whether nobody has been added yet: the first start.
func (s *Store) NoUsers(ctx context.Context) (none bool, err error) {
	err = s.reader.QueryRowContext(ctx, "SELECT NOT EXISTS (SELECT * FROM users WHERE id > 0)").Scan(&none)
	return none, fail("look for users", err)
}

// SetupLife is how long the one-time link of the first start is good.
const SetupLife = 15 * time.Minute

// SetSetupToken saves the hash of the one-time link of the first start in place
// of the one before, and gives when it ends. It is a [Conflict] once somebody
// was added.
func (s *Store) SetSetupToken(ctx context.Context, token Digest) (until time.Time, err error) {
	err = s.write(ctx, "offer the set-up", func(t *tx) error {
		if err := t.nobody(ctx); err != nil {
			return err
		}
		ends := t.now + int64(SetupLife/time.Second)
		until = fromUnix(ends)
		if _, err := t.ExecContext(ctx, "INSERT OR REPLACE INTO setup_token (id, hash, expires_at) VALUES (1, ?, ?)", token[:], ends); err != nil {
			return err
		}
		return t.log(ctx, onData, "")
	})
	return until, err
}

// Setup adds the first user, who leads, in exchange for the one-time link. It
// works once.
func (s *Store) Setup(ctx context.Context, token Digest, u NewUser) (User, error) {
	u.Roles = []Role{RoleLead, RoleClinician}
	if err := u.check(); err != nil {
		return User{}, err
	}
	var made User
	err := s.write(ctx, "set up", func(t *tx) error {
		if err := t.nobody(ctx); err != nil {
			return err
		}
		var hash []byte
		var ends int64
		err := t.QueryRowContext(ctx, "SELECT hash, expires_at FROM setup_token").Scan(&hash, &ends)
		if errors.Is(err, sql.ErrNoRows) || err == nil && (ends <= t.now || !hmac.Equal(hash, token[:])) {
			return forbidden("This set-up link is not good any more. Start the program again; it prints a new one.")
		}
		if err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "DELETE FROM setup_token"); err != nil {
			return err
		}
		made, err = t.addUser(ctx, u)
		return err
	})
	return made, err
}

// nobody refuses where there are users.
func (t *tx) nobody(ctx context.Context) error {
	var some bool
	if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM users WHERE id > 0)").Scan(&some); err != nil {
		return err
	}
	if some {
		return conflict("This practice is set up already. Sign in instead.")
	}
	return nil
}

// AddUser adds somebody. Leads only.
func (s *Store) AddUser(ctx context.Context, a Actor, u NewUser) (User, error) {
	if err := u.check(); err != nil {
		return User{}, err
	}
	var made User
	err := s.act(ctx, a, leads, "add a user", onUser(0), func(t *tx) error {
		var err error
		made, err = t.addUser(ctx, u)
		return err
	})
	return made, err
}

func (t *tx) addUser(ctx context.Context, u NewUser) (User, error) {
	var taken bool
	if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM users WHERE login = ?)", normal(u.Login)).Scan(&taken); err != nil {
		return User{}, err
	}
	if taken {
		return User{}, conflict("Somebody signs in by this name already. Choose another.")
	}
	roles, err := text(u.Roles)
	if err != nil {
		return User{}, err
	}
	made, err := scanUser(t.QueryRowContext(ctx, `INSERT INTO users (id, login, name, roles, password, password_at, temporary, created_at)
		VALUES ((SELECT max(0, max(id)) + 1 FROM users), ?1, ?2, ?3, ?4, ?5, ?6, ?5) RETURNING `+strings.ReplaceAll(userColumns, "users.", ""),
		normal(u.Login), strings.TrimSpace(u.Name), roles, u.Password, t.now, u.Temporary))
	if err != nil {
		return User{}, err
	}
	return made, t.log(ctx, onUser(made.ID), "")
}

var loginName = regexp.MustCompile(`^[\pL\pN][\pL\pN.-]{1,63}$`)

func (u *NewUser) check() error {
	if !loginName.MatchString(u.Login) {
		return invalid("A sign-in name has 2 to 64 letters, digits, points and hyphens, and begins with a letter or a digit.")
	}
	if u.Password == "" {
		return invalid("Choose a password.")
	}
	if err := checkName(u.Name); err != nil {
		return err
	}
	return checkRoles(u.Roles)
}

func checkName(name string) error {
	if n := utf8.RuneCountInString(strings.TrimSpace(name)); n == 0 || n > 100 {
		return invalid("Give the name that others are to see, of up to 100 letters.")
	}
	return nil
}

// normal is the form of a sign-in name that is stored and compared.
func normal(login string) string { return strings.ToLower(strings.TrimSpace(login)) }

// EditUser changes a user's name, roles and whether they may sign in. Their
// sessions end where roles or access change. Leads only; somebody always leads.
// A reason may be given and is logged.
func (s *Store) EditUser(ctx context.Context, a Actor, id int64, name string, roles []Role, disabled bool, reason string) error {
	if err := firstErr(checkName(name), checkRoles(roles), checkText(reason)); err != nil {
		return err
	}
	return s.act(ctx, a, leads, "edit a user", onUser(id), func(t *tx) error {
		u, err := scanUser(t.QueryRowContext(ctx, "SELECT "+userColumns+" FROM users WHERE id = ?", id))
		if err != nil {
			return err
		}
		list, err := text(roles)
		if err != nil {
			return err
		}
		if _, err := t.ExecContext(ctx, "UPDATE users SET name = ?, roles = ?, disabled = ? WHERE id = ?", strings.TrimSpace(name), list, disabled, id); err != nil {
			return err
		}
		var led bool
		if err := t.QueryRowContext(ctx, `SELECT EXISTS (SELECT * FROM users, json_each(roles) WHERE disabled = 0 AND value = ?)`, RoleLead).Scan(&led); err != nil {
			return err
		}
		if !led {
			return conflict("Somebody must lead the practice. Make somebody else a lead first.")
		}
		var fields []string
		if u.Name != strings.TrimSpace(name) {
			fields = append(fields, "name")
		}
		if !slices.Equal(u.Roles, roles) {
			fields = append(fields, "roles")
		}
		if u.Disabled != disabled {
			fields = append(fields, "disabled")
		}
		if !slices.Equal(u.Roles, roles) || disabled {
			if err := t.endSessions(ctx, id, 0); err != nil {
				return err
			}
		}
		if err := t.bump(ctx); err != nil { // names stand on open screens
			return err
		}
		return t.log(ctx, onUser(id), joinReason(strings.Join(fields, ", "), reason))
	})
}

// firstErr is the first error that there is.
func firstErr(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// joinReason puts a person's reason behind what the log says anyway.
func joinReason(what, reason string) string {
	switch reason = strings.TrimSpace(reason); {
	case reason == "":
		return what
	case what == "":
		return reason
	}
	return what + ": " + reason
}
