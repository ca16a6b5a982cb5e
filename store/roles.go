package store

import (
	"context"
	"database/sql"
	"errors"
	"slices"
)

// Who may do what. The order is the one in which a user with several roles
// gets one where the request names none: the most first.
var (
	leads      = []Role{RoleLead}
	clinicians = []Role{RoleLead, RoleClinician}
	staff      = []Role{RoleLead, RoleClinician, RoleNurse}
	everyone   = []Role{RoleLead, RoleClinician, RoleNurse, RoleAuditor}
)

type actorKey struct{}

// As gives a context in which changes by a method that takes no [Actor] are
// put down to a, who needs the role for them as for any other. Without one they
// are put down to the program.
func As(ctx context.Context, a Actor) context.Context { return context.WithValue(ctx, actorKey{}, a) }

func actorOf(ctx context.Context) Actor {
	a, _ := ctx.Value(actorKey{}).(Actor)
	return a
}

// act runs f in one write transaction in the name of a user who must have one
// of the allowed roles at that moment. What is forbidden is logged too.
func (s *Store) act(ctx context.Context, a Actor, allowed []Role, doing string, on target, f func(*tx) error) error {
	err := s.write(As(ctx, a), doing, func(t *tx) error {
		var err error
		if t.actor.Role, err = t.role(ctx, a, allowed); err != nil {
			return err
		}
		if doing != viewing {
			if err := t.once(ctx); err != nil {
				return err
			}
		}
		return f(t)
	})
	if CodeOf(err) != Forbidden {
		return err
	}
	if unlogged := s.RecordRefusal(ctx, a, doing, on.object, on.id); unlogged != nil {
		return unlogged
	}
	return err
}

// actAs is act for a method that takes no [Actor]: the context says who acts
// ([As]). Where it names nobody it is the program, which may.
func (s *Store) actAs(ctx context.Context, allowed []Role, doing string, on target, f func(*tx) error) error {
	if a := actorOf(ctx); a.UserID != 0 {
		return s.act(ctx, a, allowed, doing, on, f)
	}
	return s.write(ctx, doing, f)
}

// role gives the role that the user acts in.
func (t *tx) role(ctx context.Context, a Actor, allowed []Role) (Role, error) {
	var has []Role
	err := t.QueryRowContext(ctx, "SELECT roles FROM users WHERE id = ? AND disabled = 0", a.UserID).Scan(into(&has))
	if errors.Is(err, sql.ErrNoRows) {
		return "", forbidden("Sign in to do this.")
	}
	if err != nil {
		return "", err
	}
	for _, r := range allowed {
		if slices.Contains(has, r) && (a.Role == "" || a.Role == r) {
			return r, nil
		}
	}
	return "", forbidden("Your role does not allow this. Ask a clinician or the lead of the practice.")
}

// checkRoles refuses a list without a role or with one that does not exist.
func checkRoles(roles []Role) error {
	if len(roles) == 0 {
		return invalid("Choose at least one role.")
	}
	for _, r := range roles {
		if !slices.Contains(Roles(), r) {
			return invalid("There is no such role. Choose from the list.")
		}
	}
	return nil
}
