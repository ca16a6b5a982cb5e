package signin

import (
	"strconv"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// People lists who may sign in.
func (s *Desk) People(c *gin.Context) (web.Page, error) {
	open, _ := strconv.ParseInt(c.Query("open"), 10, 64) // 0 where it is none
	return s.peoplePage(c, web.PeoplePage{Open: open})
}

// peoplePage fills in the list around what a change has to say.
func (s *Desk) peoplePage(c *gin.Context, p web.PeoplePage) (web.Page, error) {
	ctx := c.Request.Context()
	users, err := s.Store.Users(ctx)
	if err != nil {
		return nil, err
	}
	p.Layout = s.Layout(c)
	for _, u := range users {
		row := web.Person{
			ID: u.ID, Name: u.Name, Login: u.Login, Roles: door.RoleNames(u.Roles),
			Disabled: u.Disabled, FactorSet: u.SecondFactor, Me: u.ID == door.Me(c),
		}
		sessions, err := s.Store.Sessions(ctx, u.ID)
		if err != nil {
			return nil, err
		}
		for _, n := range sessions {
			if n.SeenAt.After(row.LastSeen) {
				row.LastSeen = n.SeenAt
			}
		}
		p.People = append(p.People, row)
	}
	if len(p.Errors) > 0 {
		return door.Again(p), nil
	}
	return p, nil
}

// AddPerson adds somebody and gives the link by which they choose a password.
func (s *Desk) AddPerson(c *gin.Context) (web.Page, error) {
	who, wrong := form.ParsePerson(c.Request.PostForm)
	if len(wrong) > 0 {
		return s.peoplePage(c, web.PeoplePage{Form: door.TaskForm(c, "add", wrong)})
	}
	u, link, err := s.Invite(c, store.NewUser{Login: who.Login, Name: who.Name, Roles: act.StoreRoles(who.Roles)})
	if code := store.CodeOf(err); err != nil && (code == store.Invalid || code == store.Conflict) {
		return s.peoplePage(c, web.PeoplePage{Form: door.TaskForm(c, "add", []form.FieldError{{Field: "login", Text: store.Words(err)}})})
	}
	if err != nil {
		return nil, err
	}
	return s.peoplePage(c, web.PeoplePage{Link: link, Done: u.Name + " was added."})
}

// change runs a change of one person and shows the list again.
func (s *Desk) change(c *gin.Context, task, done string, wrong []form.FieldError, f func(store.User) error) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	u, err := s.Store.User(c.Request.Context(), id)
	if err != nil {
		return nil, err
	}
	if len(wrong) == 0 {
		err = f(u)
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		return s.peoplePage(c, web.PeoplePage{Form: door.TaskForm(c, task, wrong), Open: id})
	}
	if err != nil {
		return nil, err
	}
	return s.peoplePage(c, web.PeoplePage{Done: u.Name + " " + done})
}

// ChangeRoles gives a person other roles. Their sessions end, so that the next
// one begins with what they may do now.
func (s *Desk) ChangeRoles(c *gin.Context) (web.Page, error) {
	roles, wrong := form.ParseRoles(c.Request.PostForm)
	return s.change(c, "roles", "has other roles now and signs in anew.", wrong, func(u store.User) error {
		return s.Store.EditUser(c.Request.Context(), door.Actor(c), u.ID, u.Name, act.StoreRoles(roles), u.Disabled, "")
	})
}

// Disable closes a person's sign-in.
func (s *Desk) Disable(c *gin.Context) (web.Page, error) {
	reason, wrong := form.ParseReason(c.Request.PostForm)
	return s.change(c, "disable", "can no longer sign in.", wrong, func(u store.User) error {
		return s.Store.EditUser(c.Request.Context(), door.Actor(c), u.ID, u.Name, u.Roles, true, reason)
	})
}

// Enable opens it again.
func (s *Desk) Enable(c *gin.Context) (web.Page, error) {
	return s.change(c, "enable", "can sign in again.", nil, func(u store.User) error {
		return s.Store.EditUser(c.Request.Context(), door.Actor(c), u.ID, u.Name, u.Roles, false, "")
	})
}

// ResetFactor takes away the second factor of somebody who lost it; another
// lead than they themselves must do so.
func (s *Desk) ResetFactor(c *gin.Context) (web.Page, error) {
	reason, wrong := form.ParseReason(c.Request.PostForm)
	return s.change(c, "reset-factor", "sets up a new second factor at the next sign-in.", wrong, func(u store.User) error {
		return s.Store.ClearSecondFactor(c.Request.Context(), door.Actor(c), u.ID, reason)
	})
}

// InviteAgain makes a new one-time link, which takes the place of the password.
func (s *Desk) InviteAgain(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	_, link, err := s.NewLink(c, id)
	if wrong := door.Said(err); wrong != nil {
		return s.peoplePage(c, web.PeoplePage{Form: door.TaskForm(c, "link", wrong), Open: id})
	}
	if err != nil {
		return nil, err
	}
	return s.peoplePage(c, web.PeoplePage{Link: link})
}
