package server

import (
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// people lists who may sign in.
func (s *Server) people(c *gin.Context) (web.Page, error) {
	open, _ := strconv.ParseInt(c.Query("open"), 10, 64) // 0 where it is none
	return s.peoplePage(c, web.PeoplePage{Open: open})
}

// peoplePage fills in the list around what a change has to say.
func (s *Server) peoplePage(c *gin.Context, p web.PeoplePage) (web.Page, error) {
	ctx := c.Request.Context()
	users, err := s.Store.Users(ctx)
	if err != nil {
		return nil, err
	}
	p.Layout = s.layout(c)
	for _, u := range users {
		row := web.Person{
			ID: u.ID, Name: u.Name, Login: u.Login, Roles: roleNames(u.Roles),
			Disabled: u.Disabled, FactorSet: u.SecondFactor, Me: u.ID == me(c),
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
		return again(p), nil
	}
	return p, nil
}

func roleNames(roles []store.Role) []string {
	var out []string
	for _, r := range roles {
		out = append(out, string(r))
	}
	return out
}

func storeRoles(names []string) []store.Role {
	var out []store.Role
	for _, n := range names {
		out = append(out, store.Role(n))
	}
	return out
}

// addPerson adds somebody and gives the link by which they choose a password.
func (s *Server) addPerson(c *gin.Context) (web.Page, error) {
	who, wrong := web.ParsePerson(c.Request.PostForm)
	if len(wrong) > 0 {
		return s.peoplePage(c, web.PeoplePage{Form: taskForm(c, "add", wrong)})
	}
	u, link, err := s.invite(c, store.NewUser{Login: who.Login, Name: who.Name, Roles: storeRoles(who.Roles)})
	if code := store.CodeOf(err); err != nil && (code == store.Invalid || code == store.Conflict) {
		return s.peoplePage(c, web.PeoplePage{Form: taskForm(c, "add", []web.FieldError{{Field: "login", Text: store.Words(err)}})})
	}
	if err != nil {
		return nil, err
	}
	return s.peoplePage(c, web.PeoplePage{Link: link, Done: u.Name + " was added."})
}

// invite adds a user who has no password yet, only a one-time link.
func (s *Server) invite(c *gin.Context, n store.NewUser) (store.User, *web.OneTimeLink, error) {
	i := NewInvitation()
	n.Password, n.Temporary = i.Password, true
	u, err := s.Store.AddUser(c.Request.Context(), actor(c), n)
	if err != nil {
		return u, nil, err
	}
	return u, s.link(c, u, i), nil
}

func (s *Server) link(c *gin.Context, u store.User, i Invitation) *web.OneTimeLink {
	base := url.URL{Scheme: "http", Host: c.Request.Host}
	if s.secure() {
		base.Scheme = "https"
	}
	return &web.OneTimeLink{For: u.Name, Until: s.Now().Add(linkLife), Address: i.Address(base.String(), u.ID)}
}

// taskForm is what was typed into one of a page's several forms.
func taskForm(c *gin.Context, task string, wrong []web.FieldError) web.Form {
	f := form(c, wrong)
	f.Task = task
	return f
}

// change runs a change of one person and shows the list again.
func (s *Server) change(c *gin.Context, task, done string, wrong []web.FieldError, f func(store.User) error) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	u, err := s.Store.User(c.Request.Context(), id)
	if err != nil {
		return nil, err
	}
	if len(wrong) == 0 {
		err = f(u)
		wrong = said(err)
	}
	if len(wrong) > 0 {
		return s.peoplePage(c, web.PeoplePage{Form: taskForm(c, task, wrong), Open: id})
	}
	if err != nil {
		return nil, err
	}
	return s.peoplePage(c, web.PeoplePage{Done: u.Name + " " + done})
}

// changeRoles gives a person other roles. Their sessions end, so that the next
// one begins with what they may do now.
func (s *Server) changeRoles(c *gin.Context) (web.Page, error) {
	roles, wrong := web.ParseRoles(c.Request.PostForm)
	return s.change(c, "roles", "has other roles now and signs in anew.", wrong, func(u store.User) error {
		return s.Store.EditUser(c.Request.Context(), actor(c), u.ID, u.Name, storeRoles(roles), u.Disabled, "")
	})
}

// disable closes a person's sign-in.
func (s *Server) disable(c *gin.Context) (web.Page, error) {
	reason, wrong := web.ParseReason(c.Request.PostForm)
	return s.change(c, "disable", "can no longer sign in.", wrong, func(u store.User) error {
		return s.Store.EditUser(c.Request.Context(), actor(c), u.ID, u.Name, u.Roles, true, reason)
	})
}

// enable opens it again.
func (s *Server) enable(c *gin.Context) (web.Page, error) {
	return s.change(c, "enable", "can sign in again.", nil, func(u store.User) error {
		return s.Store.EditUser(c.Request.Context(), actor(c), u.ID, u.Name, u.Roles, false, "")
	})
}

// resetFactor takes away the second factor of somebody who lost it; another
// lead than they themselves must do so.
func (s *Server) resetFactor(c *gin.Context) (web.Page, error) {
	reason, wrong := web.ParseReason(c.Request.PostForm)
	return s.change(c, "reset-factor", "sets up a new second factor at the next sign-in.", wrong, func(u store.User) error {
		return s.Store.ClearSecondFactor(c.Request.Context(), actor(c), u.ID, reason)
	})
}

// inviteAgain makes a new one-time link, which takes the place of the password.
func (s *Server) inviteAgain(c *gin.Context) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	_, link, err := s.newLink(c, id)
	if wrong := said(err); wrong != nil {
		return s.peoplePage(c, web.PeoplePage{Form: taskForm(c, "link", wrong), Open: id})
	}
	if err != nil {
		return nil, err
	}
	return s.peoplePage(c, web.PeoplePage{Link: link})
}

// newLink makes it. One's own password is changed on the page of one's account.
func (s *Server) newLink(c *gin.Context, id int64) (store.User, *web.OneTimeLink, error) {
	if id == me(c) {
		return store.User{}, nil, invalid("Change your own password on the page of your account.")
	}
	ctx := c.Request.Context()
	u, err := s.Store.User(ctx, id)
	if err != nil {
		return u, nil, err
	}
	i := NewInvitation()
	if err := s.Store.SetPassword(ctx, actor(c), id, i.Password, 0); err != nil {
		return u, nil, err
	}
	return u, s.link(c, u, i), nil
}
