// Package signin lets people in: passwords, second factors, one-time links, one's
// own account and who may sign in.
package signin

import (
	"crypto/subtle"
	"errors"
	"net/http"
	"net/url"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/server/password"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// Addresses of the rest of the way in.
const (
	SecondPath = "/sign-in/second"
	FactorPath = "/sign-in/factor"
)

// pending is a sign-in whose password was right and whose second factor is
// still to come. It lives in memory: a restart asks for the password again.
type pending struct {
	userID int64
	login  string
	next   string
	secret string       // of a new second factor that is being set up, or ""
	proof  store.Digest // of the password and factor that it began with
	tries  int
	until  time.Time
}

// Bounds on pending sign-ins.
const (
	pendingLife  = 10 * time.Minute
	pendingTries = 5
	pendingMost  = 500
)

// Desk is where people sign in.
type Desk struct {
	*door.Door
	*act.Acts
	lobby *lobby
	turns chan struct{} // attempts at a password that are looked at at once
}

// atOnce is how many: fewer than an account's free failures in a row.
const atOnce = 4

// New makes a desk at which nobody waits.
func New(d *door.Door, acts *act.Acts) *Desk {
	return &Desk{Door: d, Acts: acts, lobby: &lobby{list: map[store.Digest]pending{}}, turns: make(chan struct{}, atOnce)}
}

// lobby holds the pending sign-ins by the digest of their cookie.
type lobby struct {
	mu   sync.Mutex
	list map[store.Digest]pending
}

// add lets somebody wait and gives the secret of their cookie.
func (l *lobby) add(p pending, now time.Time) string {
	secret := door.NewSecret()
	l.mu.Lock()
	defer l.mu.Unlock()
	for k, old := range l.list {
		if now.After(old.until) || len(l.list) >= pendingMost {
			delete(l.list, k)
		}
	}
	p.until = now.Add(pendingLife)
	l.list[door.Digest(secret)] = p
	return secret
}

// get gives a pending sign-in that has not ended.
func (l *lobby) get(secret string, now time.Time) (pending, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	p, ok := l.list[door.Digest(secret)]
	return p, ok && now.Before(p.until)
}

// try counts one guess at the second factor; the last one ends the sign-in.
func (l *lobby) try(secret string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	k := door.Digest(secret)
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
	delete(l.list, door.Digest(secret))
}

// SignInPage asks who is there.
func (s *Desk) SignInPage(c *gin.Context) (web.Page, error) {
	if door.VisitorOf(c) != nil {
		c.Redirect(http.StatusSeeOther, door.Local(c.Query("next"), s.Home(c)))
		return nil, nil
	}
	p := web.SignInPage{Layout: s.Layout(c), Next: door.Local(c.Query("next"), "")}
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

// SignIn checks a name and a password. A name that nobody has, a wrong
// password and a disabled account look the same and take as long.
func (s *Desk) SignIn(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	login, typed, next := c.PostForm("login"), c.PostForm("password"), door.Local(c.PostForm("next"), "")
	refuse := func(status int, field, text string) (web.Page, error) {
		return door.Refuse(status, web.SignInPage{
			Layout: s.Layout(c), Next: next,
			Form: form.Form{Values: url.Values{"login": {login}}, Errors: []form.FieldError{{Field: field, Text: text}}},
		}), nil
	}
	if login == "" || typed == "" || len(typed) > password.Max {
		return refuse(http.StatusUnprocessableEntity, "login", "Write your sign-in name and your password.")
	}
	// A few are looked at at once and the others wait their turn: an attempt counts
	// as failed until it is known to be right, and a shared desk must not shut
	// itself out.
	select {
	case s.turns <- struct{}{}:
		defer func() { <-s.turns }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	wait, err := s.Store.TrySignIn(ctx, login, s.Address(c))
	if err != nil {
		return nil, err
	}
	if !wait.IsZero() {
		c.Header("Retry-After", door.Seconds(wait.Sub(s.Now())))
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
	ok, stale, err := s.Passwords.Check(ctx, typed, hash)
	if err != nil {
		return nil, err
	}
	if !ok {
		if err := s.Store.SignInFailed(ctx, who.ID, c.GetString(door.Reference)); err != nil {
			return nil, err
		}
		return refuse(http.StatusUnauthorized, "login", "This name and password do not belong together. Check both; small and capital letters differ in the password.")
	}
	if stale {
		if err := s.rehash(c, who, typed); err != nil {
			return nil, err
		}
		if who, err = s.Store.Credentials(ctx, login); err != nil {
			return nil, err
		}
	}
	return nil, s.proved(c, who, next)
}

// rehash keeps a password under today's cost.
func (s *Desk) rehash(c *gin.Context, who store.Credentials, password string) error {
	hash, err := s.Passwords.Hash(c.Request.Context(), password)
	if err != nil {
		return err
	}
	return s.Store.Rehash(c.Request.Context(), who.ID, who.Password, hash)
}

// proved goes on from a right password: to the second factor, to setting one
// up where it is required and there is none, or in.
func (s *Desk) proved(c *gin.Context, u store.Credentials, next string) error {
	if !u.SecondFactor && !s.FactorRequired {
		if err := s.Begin(c, u.ID, u.Proof); err != nil {
			return err
		}
		c.Redirect(http.StatusSeeOther, door.Local(next, s.Home(c)))
		return nil
	}
	p := pending{userID: u.ID, login: u.Login, next: next, proof: u.Proof}
	to := SecondPath
	if !u.SecondFactor {
		p.secret, to = newFactor(), FactorPath
	}
	s.SetCookie(c, door.PendingCookie, s.lobby.add(p, s.Now()))
	c.Redirect(http.StatusSeeOther, to)
	return nil
}

// waiting gives the pending sign-in of a request; without one it leads back to
// the beginning.
func (s *Desk) waiting(c *gin.Context) (pending, string, bool) {
	secret := s.CookieValue(c, door.PendingCookie)
	p, ok := s.lobby.get(secret, s.Now())
	if !ok {
		s.SetCookie(c, door.PendingCookie, "")
		c.Redirect(http.StatusSeeOther, door.SignInPath)
	}
	return p, secret, ok
}

// enrolling gives the pending sign-in of somebody who must set up a second
// factor first; who has one is led to where it is asked for.
func (s *Desk) enrolling(c *gin.Context) (pending, string, bool) {
	p, secret, ok := s.waiting(c)
	if ok && p.secret == "" {
		c.Redirect(http.StatusSeeOther, SecondPath)
		return p, secret, false
	}
	return p, secret, ok
}

// SecondPage asks for the second factor.
func (s *Desk) SecondPage(c *gin.Context) (web.Page, error) {
	p, _, ok := s.waiting(c)
	if !ok {
		return nil, nil
	}
	return web.SecondFactorPage{Layout: s.Layout(c), Next: p.next}, nil
}

// Second takes a code of the second factor or a recovery code. Each code of
// either kind is good once.
func (s *Desk) Second(c *gin.Context) (web.Page, error) {
	p, secret, ok := s.waiting(c)
	if !ok {
		return nil, nil
	}
	s.lobby.try(secret)
	ctx := c.Request.Context()
	err := s.takeCode(c, p, c.PostForm("code"))
	if errors.Is(err, store.ErrSignedOut) {
		s.beginAgain(c, secret)
		return nil, nil
	}
	if store.CodeOf(err) == store.Forbidden && err != nil {
		if e := s.Store.SignInFailed(ctx, p.userID, c.GetString(door.Reference)); e != nil {
			return nil, e
		}
		return door.Refuse(http.StatusUnauthorized, web.SecondFactorPage{Layout: s.Layout(c), Next: p.next, Form: form.Form{
			Errors: []form.FieldError{{Field: "code", Text: "This code is not right, or was used before. Take the newest one, or one of your recovery codes."}},
		}}), nil
	}
	if err != nil {
		return nil, err
	}
	s.lobby.drop(secret)
	if err := s.Begin(c, p.userID, p.proof); err != nil {
		return nil, err
	}
	c.Redirect(http.StatusSeeOther, door.Local(p.next, s.Home(c)))
	return nil, nil
}

// beginAgain ends a sign-in whose password, factor or access has changed since
// it began, and leads back to the beginning.
func (s *Desk) beginAgain(c *gin.Context, secret string) {
	s.lobby.drop(secret)
	s.SetCookie(c, door.PendingCookie, "")
	c.Redirect(http.StatusSeeOther, door.SignInPath)
}

// takeCode uses up a code; one that is wrong or was used gives
// [store.Forbidden].
func (s *Desk) takeCode(c *gin.Context, p pending, code string) error {
	ctx := c.Request.Context()
	who, err := s.Store.Credentials(ctx, p.login)
	if err != nil {
		return err
	}
	if who.Proof != p.proof {
		return store.ErrSignedOut
	}
	if step, ok := password.CodeAt(who.TOTPSecret, code, s.Now()); ok {
		return s.Store.UseTOTPStep(ctx, p.userID, step)
	}
	_, err = s.Store.UseRecoveryCode(ctx, p.userID, codeHash(code))
	return err
}

// NewFactorPage shows the secret of a second factor that must be set up before
// the person comes in.
func (s *Desk) NewFactorPage(c *gin.Context) (web.Page, error) {
	p, _, ok := s.enrolling(c)
	if !ok {
		return nil, nil
	}
	return s.showFactor(c, FactorPath, p.login, p.secret, true, nil), nil
}

func (s *Desk) showFactor(c *gin.Context, action, login, secret string, setup bool, wrong []form.FieldError) web.FactorPage {
	return web.FactorPage{
		Layout: s.Layout(c), Form: form.Form{Errors: wrong}, Action: action,
		Secret: secret, QR: factorQR(secret, login), Setup: setup,
	}
}

var wrongFactor = []form.FieldError{{Field: "code", Text: "This code does not fit the secret above. Check that the clock of your telephone is right, and type the newest code."}}

// TakeFactor confirms the new second factor, lets the person in and shows the
// recovery codes.
func (s *Desk) TakeFactor(c *gin.Context) (web.Page, error) {
	p, secret, ok := s.enrolling(c)
	if !ok {
		return nil, nil
	}
	step, right := password.CodeAt(p.secret, c.PostForm("code"), s.Now())
	if !right {
		s.lobby.try(secret)
		return door.Again(s.showFactor(c, FactorPath, p.login, p.secret, true, wrongFactor)), nil
	}
	codes, err := s.keepFactor(c, p.userID, p.proof, p.secret, step)
	if errors.Is(err, store.ErrSignedOut) {
		s.beginAgain(c, secret)
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	s.lobby.drop(secret)
	who, err := s.Store.Credentials(c.Request.Context(), p.login)
	if err != nil {
		return nil, err
	}
	if err := s.Begin(c, p.userID, who.Proof); err != nil {
		return nil, err
	}
	return web.CodesPage{Layout: s.Layout(c), Codes: codes, Next: door.Local(p.next, s.Home(c))}, nil
}

// keepFactor saves a second factor that was shown to work, uses up the code
// that showed it, and gives new recovery codes.
func (s *Desk) keepFactor(c *gin.Context, userID int64, was store.Digest, secret string, step int64) ([]string, error) {
	codes, hashes := newCodes()
	who := store.Actor{UserID: userID, Request: c.GetString(door.Reference)}
	return codes, s.Store.SetSecondFactor(c.Request.Context(), who, was, secret, step, hashes)
}

// SetUpPage is the first start: whoever holds the printed link becomes the
// first lead.
func (s *Desk) SetUpPage(c *gin.Context) (web.Page, error) {
	none, err := s.Store.NoUsers(c.Request.Context())
	if err != nil || !none {
		return nil, door.OrNoPage(err)
	}
	return web.SetUpPage{Layout: s.Layout(c), Action: c.Request.URL.Path, First: true}, nil
}

// SetUp makes the first lead.
func (s *Desk) SetUp(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	none, err := s.Store.NoUsers(ctx)
	if err != nil || !none {
		return nil, door.OrNoPage(err)
	}
	c.Request.PostForm.Set("role", form.RoleLead)
	who, wrong := form.ParsePerson(c.Request.PostForm)
	wrong = append(wrong, newPassword(c, who.Name, who.Login)...)
	page := web.SetUpPage{Layout: s.Layout(c), Action: c.Request.URL.Path, First: true, Form: door.Form(c, wrong)}
	if len(wrong) > 0 {
		return door.Again(page), nil
	}
	hash, err := s.Passwords.Hash(ctx, c.PostForm("password"))
	if err != nil {
		return nil, err
	}
	u, err := s.Store.Setup(ctx, door.Digest(c.Param("token")), store.NewUser{Login: who.Login, Name: who.Name, Password: hash})
	if store.CodeOf(err) == store.Invalid {
		page.Errors = []form.FieldError{{Text: store.Words(err)}}
		return door.Again(page), nil
	}
	if err != nil {
		return nil, err
	}
	return nil, s.chosen(c, u.Login, hash)
}

// newPassword checks the fields password and again of a form.
func newPassword(c *gin.Context, names ...string) []form.FieldError {
	typed := c.PostForm("password")
	if text := password.Weakness(typed, append(names, factorIssuer)...); text != "" {
		return []form.FieldError{{Field: "password", Text: text}}
	}
	if typed != c.PostForm("again") {
		return []form.FieldError{{Field: "again", Text: "The two passwords differ. Type the same one twice."}}
	}
	return nil
}

// invited gives the person that a one-time link lets in.
func (s *Desk) invited(c *gin.Context) (store.Credentials, error) {
	id, err := door.PathID(c)
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
	same := subtle.ConstantTimeCompare([]byte(door.LinkHash(c.Param("secret"))), []byte(who.Password)) == 1
	if !same || !who.Temporary || who.Disabled || s.Now().After(who.PasswordAt.Add(door.LinkLife)) || who.PasswordAt.After(s.Now().Add(time.Hour)) {
		return store.Credentials{}, errLink
	}
	return who, nil
}

var errLink = &door.Problem{Status: http.StatusNotFound, Sentence: "This link is not good any more.", ToDo: "Ask a lead of the practice for a new one."}

func noLink(err error) error {
	if store.CodeOf(err) == store.NotFound {
		return errLink
	}
	return err
}

// WelcomePage lets somebody with a one-time link choose a password.
func (s *Desk) WelcomePage(c *gin.Context) (web.Page, error) {
	who, err := s.invited(c)
	if err != nil {
		return nil, err
	}
	return web.SetUpPage{Layout: s.Layout(c), Action: c.Request.URL.Path, Name: who.Name, Login: who.Login}, nil
}

// Welcome takes the chosen password, which ends the link.
func (s *Desk) Welcome(c *gin.Context) (web.Page, error) {
	who, err := s.invited(c)
	if err != nil {
		return nil, err
	}
	if wrong := newPassword(c, who.Name, who.Login); wrong != nil {
		return door.Again(web.SetUpPage{Layout: s.Layout(c), Action: c.Request.URL.Path, Name: who.Name, Login: who.Login, Form: door.Form(c, wrong)}), nil
	}
	ctx := c.Request.Context()
	hash, err := s.Passwords.Hash(ctx, c.PostForm("password"))
	if err != nil {
		return nil, err
	}
	err = s.Store.TakeLink(ctx, who.ID, who.Password, hash, c.GetString(door.Reference))
	if store.CodeOf(err) == store.Forbidden && err != nil {
		return nil, errLink
	}
	if err != nil {
		return nil, err
	}
	return nil, s.chosen(c, who.Login, hash)
}

// chosen goes on from a password that was just chosen.
func (s *Desk) chosen(c *gin.Context, login, hash string) error {
	who, err := s.Store.Credentials(c.Request.Context(), login)
	if err == nil && who.Password != hash {
		err = errLink // somebody has put another in its place meanwhile
	}
	if err != nil {
		return err
	}
	return s.proved(c, who, "/")
}
