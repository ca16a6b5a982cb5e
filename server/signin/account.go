package signin

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/password"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// Account is a person's own sign-in.
func (s *Desk) Account(c *gin.Context) (web.Page, error) {
	return s.accountPage(c, map[string]string{
		"password": "Your password is changed, and you are signed out everywhere else.",
		"session":  "That session has ended.",
		"sessions": "You are signed out everywhere else.",
	}[c.Query("done")], "", nil)
}

// accountPage is that page, with what was just changed or with what is wrong
// with one of its forms.
func (s *Desk) accountPage(c *gin.Context, done, task string, wrong []form.FieldError) (web.Page, error) {
	v := door.VisitorOf(c)
	sessions, err := s.Store.Sessions(c.Request.Context(), v.User.ID)
	if err != nil {
		return nil, err
	}
	p := web.AccountPage{
		Layout: s.Layout(c), Form: form.Form{Task: task, Errors: wrong}, Login: v.User.Login, PasswordChanged: v.User.PasswordAt,
		FactorSet: v.User.SecondFactor, CodesLeft: v.User.Recovery, Done: done,
	}
	for _, n := range sessions {
		p.Sessions = append(p.Sessions, web.Session{
			ID: n.ID, Current: n.ID == v.Session.ID, Began: n.StartedAt, LastSeen: n.SeenAt, From: n.Address,
		})
	}
	if wrong != nil {
		return door.Again(p), nil
	}
	return p, nil
}

// ChangePassword takes a new password; every other session ends and this one
// goes on under a new secret.
func (s *Desk) ChangePassword(c *gin.Context) (web.Page, error) {
	v := door.VisitorOf(c)
	// A new password that will not do costs no try at the old one.
	wrong := newPassword(c, v.User.Name, v.User.Login)
	if wrong == nil {
		var err error
		if wrong, err = s.Confirm(c); err != nil {
			return nil, err
		}
	}
	if wrong != nil {
		return s.accountPage(c, "", "password", wrong)
	}
	ctx := c.Request.Context()
	hash, err := s.Passwords.Hash(ctx, c.PostForm("password"))
	if err != nil {
		return nil, err
	}
	if err := s.Store.SetPassword(ctx, door.Actor(c), v.User.ID, hash, v.Session.ID); err != nil {
		return nil, err
	}
	if err := s.again(c); err != nil {
		return nil, err
	}
	c.Redirect(http.StatusSeeOther, "/account?done=password")
	return nil, nil
}

// again goes on with this session under a new secret.
func (s *Desk) again(c *gin.Context) error {
	user := door.VisitorOf(c).User
	who, err := s.Store.Credentials(c.Request.Context(), user.Login)
	if err != nil {
		return err
	}
	return s.Begin(c, user.ID, who.Proof)
}

// OfferFactor shows a new second factor; the old one is good until the new one
// is confirmed.
func (s *Desk) OfferFactor(c *gin.Context) (web.Page, error) {
	wrong, err := s.Confirm(c)
	if err != nil {
		return nil, err
	}
	if wrong != nil {
		return s.accountPage(c, "", "factor", wrong)
	}
	user := door.VisitorOf(c).User
	if err := s.again(c); err != nil {
		return nil, err
	}
	who, err := s.Store.Credentials(c.Request.Context(), user.Login)
	if err != nil {
		return nil, err
	}
	p := pending{userID: user.ID, login: user.Login, secret: newFactor(), proof: who.Proof}
	s.SetCookie(c, door.PendingCookie, s.lobby.add(p, s.Now()))
	return s.showFactor(c, confirmFactorPath, p.login, p.secret, false, nil), nil
}

const confirmFactorPath = "/account/factor/confirm"

// ChangeFactor puts the new second factor in the place of the old one.
func (s *Desk) ChangeFactor(c *gin.Context) (web.Page, error) {
	secret := s.CookieValue(c, door.PendingCookie)
	p, ok := s.lobby.get(secret, s.Now())
	if !ok || p.userID != door.Me(c) || p.secret == "" {
		return s.accountPage(c, "", "factor", []form.FieldError{{Text: "This took too long. Begin again with a new second factor."}})
	}
	step, right := password.CodeAt(p.secret, c.PostForm("code"), s.Now())
	if !right {
		s.lobby.try(secret)
		return door.Again(s.showFactor(c, confirmFactorPath, p.login, p.secret, false, wrongFactor)), nil
	}
	codes, err := s.keepFactor(c, p.userID, p.proof, p.secret, step)
	if err != nil {
		return nil, err
	}
	s.lobby.drop(secret)
	s.SetCookie(c, door.PendingCookie, "")
	return web.CodesPage{Layout: s.Layout(c), Codes: codes, Next: "/account"}, nil
}

// NewRecovery gives new recovery codes in place of the old ones.
func (s *Desk) NewRecovery(c *gin.Context) (web.Page, error) {
	wrong, err := s.Confirm(c)
	if err != nil {
		return nil, err
	}
	user := door.VisitorOf(c).User
	if wrong == nil && !user.SecondFactor {
		wrong = []form.FieldError{{Text: "Set up a second factor first; its recovery codes come with it."}}
	}
	if wrong != nil {
		return s.accountPage(c, "", "codes", wrong)
	}
	who, err := s.Store.Credentials(c.Request.Context(), user.Login)
	if err != nil {
		return nil, err
	}
	codes, err := s.keepFactor(c, user.ID, who.Proof, who.TOTPSecret, 0)
	if err != nil {
		return nil, err
	}
	if err := s.again(c); err != nil {
		return nil, err
	}
	return web.CodesPage{Layout: s.Layout(c), Codes: codes, Next: "/account"}, nil
}

// RevokeSession ends one of the person's own sessions. Another's does not exist
// here.
func (s *Desk) RevokeSession(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	sessions, err := s.Store.Sessions(ctx, door.Me(c))
	if err != nil {
		return nil, err
	}
	if !containsID(sessions, id) {
		return nil, door.ErrNoPage
	}
	if err := s.Store.RevokeSession(ctx, door.Actor(c), id); err != nil {
		return nil, err
	}
	c.Redirect(http.StatusSeeOther, "/account?done=session")
	return nil, nil
}

func containsID(sessions []store.Session, id int64) bool {
	for _, n := range sessions {
		if n.ID == id {
			return true
		}
	}
	return false
}

// RevokeOthers ends all of the person's sessions but this one.
func (s *Desk) RevokeOthers(c *gin.Context) (web.Page, error) {
	v := door.VisitorOf(c)
	if err := s.Store.RevokeSessions(c.Request.Context(), door.Actor(c), v.User.ID, v.Session.ID); err != nil {
		return nil, err
	}
	c.Redirect(http.StatusSeeOther, "/account?done=sessions")
	return nil, nil
}

// SignOut ends the session here and in the browser, with what the browser kept.
func (s *Desk) SignOut(c *gin.Context) (web.Page, error) {
	if err := s.Store.EndSession(c.Request.Context(), door.Digest(s.CookieValue(c, door.SessionCookie)), c.GetString(door.Reference)); err != nil {
		return nil, err
	}
	s.SetCookie(c, door.SessionCookie, "")
	c.Header("Clear-Site-Data", `"cache", "cookies", "storage"`)
	c.Redirect(http.StatusSeeOther, door.SignInPath+"?out=1")
	return nil, nil
}

// Extend answers the one press that keeps a session alive: coming here has
// used it. A page with a script asks in place and gets the new limit.
func (s *Desk) Extend(c *gin.Context) (web.Page, error) {
	if strings.Contains(c.GetHeader("Accept"), "json") {
		c.JSON(http.StatusOK, s.Layout(c).Live())
		return nil, nil
	}
	c.Redirect(http.StatusSeeOther, door.Local(c.PostForm("next"), s.Home(c)))
	return nil, nil
}
