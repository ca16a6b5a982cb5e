package server

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// account is a person's own sign-in.
func (s *Server) account(c *gin.Context) (web.Page, error) {
	return s.accountPage(c, map[string]string{
		"password": "Your password is changed, and you are signed out everywhere else.",
		"session":  "That session has ended.",
		"sessions": "You are signed out everywhere else.",
	}[c.Query("done")], "", nil)
}

// accountPage is that page, with what was just changed or with what is wrong
// with one of its forms.
func (s *Server) accountPage(c *gin.Context, done, task string, wrong []web.FieldError) (web.Page, error) {
	v := visitorOf(c)
	sessions, err := s.Store.Sessions(c.Request.Context(), v.user.ID)
	if err != nil {
		return nil, err
	}
	p := web.AccountPage{
		Layout: s.layout(c), Form: web.Form{Task: task, Errors: wrong}, Login: v.user.Login, PasswordChanged: v.user.PasswordAt,
		FactorSet: v.user.SecondFactor, CodesLeft: v.user.Recovery, Done: done,
	}
	for _, n := range sessions {
		p.Sessions = append(p.Sessions, web.Session{
			ID: n.ID, Current: n.ID == v.session.ID, Began: n.StartedAt, LastSeen: n.SeenAt, From: n.Address,
		})
	}
	if wrong != nil {
		return again(p), nil
	}
	return p, nil
}

// confirm checks the current password before something of the sign-in changes,
// under the same waits as a sign-in. It gives what is wrong, in words, or nil.
func (s *Server) confirm(c *gin.Context) ([]web.FieldError, error) {
	ctx, user := c.Request.Context(), visitorOf(c).user
	wait, err := s.Store.TrySignIn(ctx, user.Login, s.address(c))
	if err != nil {
		return nil, err
	}
	if !wait.IsZero() {
		return []web.FieldError{{Field: "current", Text: "Too many tries went wrong. Try again at " + wait.In(s.Zone).Format("15:04:05") + "."}}, nil
	}
	who, err := s.Store.Credentials(ctx, user.Login)
	if err != nil {
		return nil, err
	}
	ok, _, err := s.Passwords.Check(ctx, c.PostForm("current"), who.Password)
	if err != nil || ok {
		return nil, err
	}
	if err := s.Store.SignInFailed(ctx, user.ID, c.GetString(reference)); err != nil {
		return nil, err
	}
	return []web.FieldError{{Field: "current", Text: "This is not your current password."}}, nil
}

// changePassword takes a new password; every other session ends and this one
// goes on under a new secret.
func (s *Server) changePassword(c *gin.Context) (web.Page, error) {
	v := visitorOf(c)
	wrong, err := s.confirm(c)
	if err != nil {
		return nil, err
	}
	if wrong == nil {
		wrong = newPassword(c, v.user.Name, v.user.Login)
	}
	if wrong != nil {
		return s.accountPage(c, "", "password", wrong)
	}
	ctx := c.Request.Context()
	hash, err := s.Passwords.Hash(ctx, c.PostForm("password"))
	if err != nil {
		return nil, err
	}
	if err := s.Store.SetPassword(ctx, actor(c), v.user.ID, hash, v.session.ID); err != nil {
		return nil, err
	}
	if err := s.begin(c, v.user.ID); err != nil {
		return nil, err
	}
	c.Redirect(http.StatusSeeOther, "/account?done=password")
	return nil, nil
}

// offerFactor shows a new second factor; the old one is good until the new one
// is confirmed.
func (s *Server) offerFactor(c *gin.Context) (web.Page, error) {
	wrong, err := s.confirm(c)
	if err != nil {
		return nil, err
	}
	if wrong != nil {
		return s.accountPage(c, "", "factor", wrong)
	}
	user := visitorOf(c).user
	if err := s.begin(c, user.ID); err != nil {
		return nil, err
	}
	p := pending{userID: user.ID, login: user.Login, secret: newFactor()}
	s.setCookie(c, pendingCookie, s.lobby.add(p, s.Now()))
	return s.showFactor(c, confirmFactorPath, p.login, p.secret, false, nil), nil
}

const confirmFactorPath = "/account/factor/confirm"

// changeFactor puts the new second factor in the place of the old one.
func (s *Server) changeFactor(c *gin.Context) (web.Page, error) {
	secret := s.cookieValue(c, pendingCookie)
	p, ok := s.lobby.get(secret, s.Now())
	if !ok || p.userID != me(c) || p.secret == "" {
		return s.accountPage(c, "", "factor", []web.FieldError{{Text: "This took too long. Begin again with a new second factor."}})
	}
	step, right := factorAt(p.secret, c.PostForm("code"), s.Now())
	if !right {
		s.lobby.try(secret)
		return again(s.showFactor(c, confirmFactorPath, p.login, p.secret, false, wrongFactor)), nil
	}
	codes, err := s.keepFactor(c, p.userID, p.secret, step)
	if err != nil {
		return nil, err
	}
	s.lobby.drop(secret)
	s.setCookie(c, pendingCookie, "")
	return web.CodesPage{Layout: s.layout(c), Codes: codes, Next: "/account"}, nil
}

// newRecovery gives new recovery codes in place of the old ones.
func (s *Server) newRecovery(c *gin.Context) (web.Page, error) {
	wrong, err := s.confirm(c)
	if err != nil {
		return nil, err
	}
	user := visitorOf(c).user
	if wrong == nil && !user.SecondFactor {
		wrong = []web.FieldError{{Text: "Set up a second factor first; its recovery codes come with it."}}
	}
	if wrong != nil {
		return s.accountPage(c, "", "codes", wrong)
	}
	who, err := s.Store.Credentials(c.Request.Context(), user.Login)
	if err != nil {
		return nil, err
	}
	codes, err := s.keepFactor(c, user.ID, who.TOTPSecret, max(who.TOTPStep, 1))
	if err != nil {
		return nil, err
	}
	if err := s.begin(c, user.ID); err != nil {
		return nil, err
	}
	return web.CodesPage{Layout: s.layout(c), Codes: codes, Next: "/account"}, nil
}

// revokeSession ends one of the person's own sessions. Another's does not exist
// here.
func (s *Server) revokeSession(c *gin.Context) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	sessions, err := s.Store.Sessions(ctx, me(c))
	if err != nil {
		return nil, err
	}
	if !containsID(sessions, id) {
		return nil, errNoPage
	}
	if err := s.Store.RevokeSession(ctx, actor(c), id); err != nil {
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

// revokeOthers ends all of the person's sessions but this one.
func (s *Server) revokeOthers(c *gin.Context) (web.Page, error) {
	v := visitorOf(c)
	if err := s.Store.RevokeSessions(c.Request.Context(), actor(c), v.user.ID, v.session.ID); err != nil {
		return nil, err
	}
	c.Redirect(http.StatusSeeOther, "/account?done=sessions")
	return nil, nil
}
