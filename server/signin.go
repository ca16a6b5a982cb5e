package server

import (
	"crypto/subtle"
	"net/http"
	"net/url"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// Addresses of the way in.
const (
	signInPath = "/sign-in"
	secondPath = "/sign-in/second"
	factorPath = "/sign-in/factor"
)

// pending is a sign-in whose password was right and whose second factor is
// still to come. It lives in memory: a restart asks for the password again.
type pending struct {
	userID int64
	login  string
	next   string
	secret string // of a new second factor that is being set up, or ""
	tries  int
	until  time.Time
}

// Bounds on pending sign-ins.
const (
	pendingLife  = 10 * time.Minute
	pendingTries = 5
	pendingMost  = 500
)

// lobby holds the pending sign-ins by the digest of their cookie.
type lobby struct {
	mu   sync.Mutex
	list map[store.Digest]pending
}

// add lets somebody wait and gives the secret of their cookie.
func (l *lobby) add(p pending, now time.Time) string {
	secret := newSecret()
	l.mu.Lock()
	defer l.mu.Unlock()
	for k, old := range l.list {
		if now.After(old.until) || len(l.list) >= pendingMost {
			delete(l.list, k)
		}
	}
	p.until = now.Add(pendingLife)
	l.list[digest(secret)] = p
	return secret
}

// get gives a pending sign-in that has not ended.
func (l *lobby) get(secret string, now time.Time) (pending, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	p, ok := l.list[digest(secret)]
	return p, ok && now.Before(p.until)
}

// try counts one guess at the second factor; the last one ends the sign-in.
func (l *lobby) try(secret string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	k := digest(secret)
	if p, ok := l.list[k]; ok {
		if p.tries++; p.tries >= pendingTries {
			delete(l.list, k)
			return
		}
		l.list[k] = p
	}
}

func (l *lobby) drop(secret string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.list, digest(secret))
}

// signInPage asks who is there.
func (s *Server) signInPage(c *gin.Context) (web.Page, error) {
	if visitorOf(c) != nil {
		c.Redirect(http.StatusSeeOther, local(c.Query("next"), s.home(c)))
		return nil, nil
	}
	p := web.SignInPage{Layout: s.layout(c), Next: local(c.Query("next"), "")}
	switch {
	case c.Query("out") != "":
		p.Notice = "You are signed out."
	case p.Next != "" && p.Next != "/":
		p.Notice = "Sign in to go on. After 15 minutes without use, and after 10 hours in any case, you are signed out."
	}
	none, err := s.Store.NoUsers(c.Request.Context())
	if none {
		p.Notice = "Nobody can sign in yet. The program printed a one-time link when it started: open that."
	}
	return p, err
}

// signIn checks a name and a password. A name that nobody has, a wrong
// password and a disabled account look the same and take as long.
func (s *Server) signIn(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	login, password, next := c.PostForm("login"), c.PostForm("password"), local(c.PostForm("next"), "")
	refuse := func(status int, field, text string) (web.Page, error) {
		return refused{web.SignInPage{
			Layout: s.layout(c), Next: next,
			Form: web.Form{Values: url.Values{"login": {login}}, Errors: []web.FieldError{{Field: field, Text: text}}},
		}, status}, nil
	}
	if login == "" || password == "" || len(password) > maxPassword {
		return refuse(http.StatusUnprocessableEntity, "login", "Write your sign-in name and your password.")
	}
	wait, err := s.Store.TrySignIn(ctx, login, s.address(c))
	if err != nil {
		return nil, err
	}
	if !wait.IsZero() {
		c.Header("Retry-After", seconds(wait.Sub(s.Now())))
		return refuse(http.StatusTooManyRequests, "", "Too many tries went wrong. Try again at "+wait.In(s.Zone).Format("15:04:05")+"; the password was not looked at.")
	}
	who, err := s.Store.Credentials(ctx, login)
	if err != nil && store.CodeOf(err) != store.NotFound {
		return nil, err
	}
	hash := who.Password
	if who.Disabled || who.Temporary { // a one-time link is no password
		hash = ""
	}
	ok, stale, err := s.Passwords.Check(ctx, password, hash)
	if err != nil {
		return nil, err
	}
	if !ok {
		if err := s.Store.SignInFailed(ctx, who.ID, c.GetString(reference)); err != nil {
			return nil, err
		}
		return refuse(http.StatusUnauthorized, "login", "This name and password do not belong together. Check both; small and capital letters differ in the password.")
	}
	if stale {
		if err := s.rehash(c, who, password); err != nil {
			return nil, err
		}
	}
	return nil, s.proved(c, who.User, next)
}

// rehash keeps a password under today's cost.
func (s *Server) rehash(c *gin.Context, who store.Credentials, password string) error {
	hash, err := s.Passwords.Hash(c.Request.Context(), password)
	if err != nil {
		return err
	}
	return s.Store.Rehash(c.Request.Context(), who.ID, who.Password, hash)
}

// proved goes on from a right password: to the second factor, to setting one
// up where it is required and there is none, or in.
func (s *Server) proved(c *gin.Context, u store.User, next string) error {
	if !u.SecondFactor && !s.FactorRequired {
		if err := s.begin(c, u.ID); err != nil {
			return err
		}
		c.Redirect(http.StatusSeeOther, local(next, s.home(c)))
		return nil
	}
	p := pending{userID: u.ID, login: u.Login, next: next}
	to := secondPath
	if !u.SecondFactor {
		p.secret, to = newFactor(), factorPath
	}
	s.setCookie(c, pendingCookie, s.lobby.add(p, s.Now()))
	c.Redirect(http.StatusSeeOther, to)
	return nil
}

// waiting gives the pending sign-in of a request; without one it leads back to
// the beginning.
func (s *Server) waiting(c *gin.Context) (pending, string, bool) {
	secret := s.cookieValue(c, pendingCookie)
	p, ok := s.lobby.get(secret, s.Now())
	if !ok {
		s.setCookie(c, pendingCookie, "")
		c.Redirect(http.StatusSeeOther, signInPath)
	}
	return p, secret, ok
}

// enrolling gives the pending sign-in of somebody who must set up a second
// factor first; who has one is led to where it is asked for.
func (s *Server) enrolling(c *gin.Context) (pending, string, bool) {
	p, secret, ok := s.waiting(c)
	if ok && p.secret == "" {
		c.Redirect(http.StatusSeeOther, secondPath)
		return p, secret, false
	}
	return p, secret, ok
}

// secondPage asks for the second factor.
func (s *Server) secondPage(c *gin.Context) (web.Page, error) {
	p, _, ok := s.waiting(c)
	if !ok {
		return nil, nil
	}
	return web.SecondFactorPage{Layout: s.layout(c), Next: p.next}, nil
}

// second takes a code of the second factor or a recovery code. Each code of
// either kind is good once.
func (s *Server) second(c *gin.Context) (web.Page, error) {
	p, secret, ok := s.waiting(c)
	if !ok {
		return nil, nil
	}
	s.lobby.try(secret)
	ctx := c.Request.Context()
	err := s.takeCode(c, p, c.PostForm("code"))
	if store.CodeOf(err) == store.Forbidden && err != nil {
		if e := s.Store.SignInFailed(ctx, p.userID, c.GetString(reference)); e != nil {
			return nil, e
		}
		return refused{web.SecondFactorPage{Layout: s.layout(c), Next: p.next, Form: web.Form{
			Errors: []web.FieldError{{Field: "code", Text: "This code is not right, or was used before. Take the newest one, or one of your recovery codes."}},
		}}, http.StatusUnauthorized}, nil
	}
	if err != nil {
		return nil, err
	}
	s.lobby.drop(secret)
	if err := s.begin(c, p.userID); err != nil {
		return nil, err
	}
	c.Redirect(http.StatusSeeOther, local(p.next, s.home(c)))
	return nil, nil
}

// takeCode uses up a code; one that is wrong or was used gives
// [store.Forbidden].
func (s *Server) takeCode(c *gin.Context, p pending, code string) error {
	ctx := c.Request.Context()
	who, err := s.Store.Credentials(ctx, p.login)
	if err != nil {
		return err
	}
	if step, ok := factorAt(who.TOTPSecret, code, s.Now()); ok {
		return s.Store.UseTOTPStep(ctx, p.userID, step)
	}
	_, err = s.Store.UseRecoveryCode(ctx, p.userID, codeHash(code))
	return err
}

// newFactorPage shows the secret of a second factor that must be set up before
// the person comes in.
func (s *Server) newFactorPage(c *gin.Context) (web.Page, error) {
	p, _, ok := s.enrolling(c)
	if !ok {
		return nil, nil
	}
	return s.showFactor(c, factorPath, p.login, p.secret, true, nil), nil
}

func (s *Server) showFactor(c *gin.Context, action, login, secret string, setup bool, wrong []web.FieldError) web.FactorPage {
	return web.FactorPage{
		Layout: s.layout(c), Form: web.Form{Errors: wrong}, Action: action,
		Secret: secret, QR: factorQR(secret, login), Setup: setup,
	}
}

var wrongFactor = []web.FieldError{{Field: "code", Text: "This code does not fit the secret above. Check that the clock of your telephone is right, and type the newest code."}}

// takeFactor confirms the new second factor, lets the person in and shows the
// recovery codes.
func (s *Server) takeFactor(c *gin.Context) (web.Page, error) {
	p, secret, ok := s.enrolling(c)
	if !ok {
		return nil, nil
	}
	step, right := factorAt(p.secret, c.PostForm("code"), s.Now())
	if !right {
		s.lobby.try(secret)
		return again(s.showFactor(c, factorPath, p.login, p.secret, true, wrongFactor)), nil
	}
	codes, err := s.keepFactor(c, p.userID, p.secret, step)
	if err != nil {
		return nil, err
	}
	s.lobby.drop(secret)
	if err := s.begin(c, p.userID); err != nil {
		return nil, err
	}
	return web.CodesPage{Layout: s.layout(c), Codes: codes, Next: local(p.next, s.home(c))}, nil
}

// keepFactor saves a second factor that was shown to work, uses up the code
// that showed it, and gives new recovery codes.
func (s *Server) keepFactor(c *gin.Context, userID int64, secret string, step int64) ([]string, error) {
	ctx := c.Request.Context()
	codes, hashes := newCodes()
	if err := s.Store.SetSecondFactor(ctx, store.Actor{UserID: userID, Request: c.GetString(reference)}, secret, hashes); err != nil {
		return nil, err
	}
	return codes, s.Store.UseTOTPStep(ctx, userID, step)
}

// setUpPage is the first start: whoever holds the printed link becomes the
// first lead.
func (s *Server) setUpPage(c *gin.Context) (web.Page, error) {
	none, err := s.Store.NoUsers(c.Request.Context())
	if err != nil || !none {
		return nil, orNoPage(err)
	}
	return web.SetUpPage{Layout: s.layout(c), Action: c.Request.URL.Path, First: true}, nil
}

func orNoPage(err error) error {
	if err != nil {
		return err
	}
	return errNoPage
}

// setUp makes the first lead.
func (s *Server) setUp(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	none, err := s.Store.NoUsers(ctx)
	if err != nil || !none {
		return nil, orNoPage(err)
	}
	c.Request.PostForm.Set("role", web.RoleLead)
	who, wrong := web.ParsePerson(c.Request.PostForm)
	wrong = append(wrong, newPassword(c, who.Name, who.Login)...)
	page := web.SetUpPage{Layout: s.layout(c), Action: c.Request.URL.Path, First: true, Form: form(c, wrong)}
	if len(wrong) > 0 {
		return again(page), nil
	}
	hash, err := s.Passwords.Hash(ctx, c.PostForm("password"))
	if err != nil {
		return nil, err
	}
	u, err := s.Store.Setup(ctx, digest(c.Param("token")), store.NewUser{Login: who.Login, Name: who.Name, Password: hash})
	if store.CodeOf(err) == store.Invalid {
		page.Errors = []web.FieldError{{Text: store.Words(err)}}
		return again(page), nil
	}
	if err != nil {
		return nil, err
	}
	return nil, s.proved(c, u, "/")
}

// newPassword checks the fields password and again of a form.
func newPassword(c *gin.Context, names ...string) []web.FieldError {
	password := c.PostForm("password")
	if text := weakness(password, append(names, factorIssuer)...); text != "" {
		return []web.FieldError{{Field: "password", Text: text}}
	}
	if password != c.PostForm("again") {
		return []web.FieldError{{Field: "again", Text: "The two passwords differ. Type the same one twice."}}
	}
	return nil
}

// form is what was typed, without passwords and codes.
func form(c *gin.Context, wrong []web.FieldError) web.Form {
	v := url.Values{}
	for k, list := range c.Request.PostForm {
		switch k {
		case "password", "again", "current", "code", "csrf":
		default:
			v[k] = list
		}
	}
	return web.Form{Values: v, Errors: wrong}
}

// linkLife is how long a one-time link to choose a password is good. A
// proposal: somebody who starts on Monday gets it on Friday.
const linkLife = 4 * 24 * time.Hour

// linkHash is what is stored in place of a password while a one-time link is
// out. It is no PHC text, so no password can match it; the link has 256 random
// bits, so a plain hash of it gives nothing away.
func linkHash(secret string) string { return "link$" + tokenHash(secret) }

// invited gives the person that a one-time link lets in.
func (s *Server) invited(c *gin.Context) (store.Credentials, error) {
	id, err := pathID(c)
	if err != nil {
		return store.Credentials{}, err
	}
	ctx := c.Request.Context()
	u, err := s.Store.User(ctx, id)
	if err != nil {
		return store.Credentials{}, noLink(err)
	}
	who, err := s.Store.Credentials(ctx, u.Login)
	if err != nil {
		return store.Credentials{}, noLink(err)
	}
	same := subtle.ConstantTimeCompare([]byte(linkHash(c.Param("secret"))), []byte(who.Password)) == 1
	if !same || !who.Temporary || who.Disabled || s.Now().After(who.PasswordAt.Add(linkLife)) {
		return store.Credentials{}, errLink
	}
	return who, nil
}

var errLink = &problem{status: http.StatusNotFound, sentence: "This link is not good any more.", toDo: "Ask a lead of the practice for a new one."}

func noLink(err error) error {
	if store.CodeOf(err) == store.NotFound {
		return errLink
	}
	return err
}

// welcomePage lets somebody with a one-time link choose a password.
func (s *Server) welcomePage(c *gin.Context) (web.Page, error) {
	who, err := s.invited(c)
	if err != nil {
		return nil, err
	}
	return web.SetUpPage{Layout: s.layout(c), Action: c.Request.URL.Path, Name: who.Name, Login: who.Login}, nil
}

// welcome takes the chosen password, which ends the link.
func (s *Server) welcome(c *gin.Context) (web.Page, error) {
	who, err := s.invited(c)
	if err != nil {
		return nil, err
	}
	if wrong := newPassword(c, who.Name, who.Login); wrong != nil {
		return again(web.SetUpPage{Layout: s.layout(c), Action: c.Request.URL.Path, Name: who.Name, Login: who.Login, Form: form(c, wrong)}), nil
	}
	ctx := c.Request.Context()
	hash, err := s.Passwords.Hash(ctx, c.PostForm("password"))
	if err != nil {
		return nil, err
	}
	if err := s.Store.SetPassword(ctx, store.Actor{UserID: who.ID, Request: c.GetString(reference)}, who.ID, hash, 0); err != nil {
		return nil, err
	}
	return nil, s.proved(c, who.User, "/")
}
