package door

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
)

// visitor is who a request comes from: a person at a page, or a program with a
// token.
type visitor struct {
	User    store.User
	Session store.Session // zero for a program
	secret  string        // of the session
	scopes  []string      // of the token
}

// visitorKey is the key under which a request's visitor is kept.
const visitorKey = "visitor"

// VisitorOf is who the request comes from; nil is nobody.
func VisitorOf(c *gin.Context) *visitor {
	v, _ := c.Value(visitorKey).(*visitor)
	return v
}

// Actor is who the store is told acts.
func Actor(c *gin.Context) store.Actor {
	a := store.Actor{Request: c.GetString(Reference)}
	if v := VisitorOf(c); v != nil {
		a.UserID = v.User.ID
	}
	return a
}

// Me is the id of whoever is signed in, or 0.
func Me(c *gin.Context) int64 { return Actor(c).UserID }

// Has reports whether the visitor has one of the roles of a.
func Has(c *gin.Context, a Access) bool {
	v := VisitorOf(c)
	return v != nil && a.admits(v.User.Roles)
}

// Cookie is a cookie's name. The prefix makes browsers insist that it came over
// TLS, from this host, for all of it; plain HTTP is served on loopback alone,
// where browsers do not accept the prefix.
func (s *Door) Cookie(name string) string {
	if s.Secure() {
		return "__Host-" + name
	}
	return name
}

// Names of cookies, before [Door.Cookie].
const (
	SessionCookie = "s"
	PendingCookie = "p" // between the password and the second factor
)

// SetCookie gives a cookie that ends with the browser; an empty value takes it
// away. No script can read it and no other site's page can make it be sent.
func (s *Door) SetCookie(c *gin.Context, name, value string) {
	k := &http.Cookie{Name: s.Cookie(name), Value: value, Path: "/", HttpOnly: true, Secure: s.Secure(), SameSite: http.SameSiteStrictMode}
	if value == "" {
		k.MaxAge = -1
	}
	http.SetCookie(c.Writer, k)
}

// CookieValue is what a request brought of a cookie, or "".
func (s *Door) CookieValue(c *gin.Context, name string) string {
	k, err := c.Request.Cookie(s.Cookie(name))
	if err != nil {
		return ""
	}
	return k.Value
}

// NewSecret makes the 256 random bits of a cookie, a link or an API token.
func NewSecret() string {
	b := make([]byte, 32)
	_, _ = rand.Read(b) // never fails
	return base64.RawURLEncoding.EncodeToString(b)
}

// Digest is what is stored of a secret.
func Digest(secret string) store.Digest { return sha256.Sum256([]byte(secret)) }

// FormToken is what every form of a session carries: only whoever can read the
// session's own pages knows it. It is the session's key under a pad of chance,
// another text each time it is asked for, so that the lengths of packed pages
// that also hold what somebody typed cannot give it away byte by byte.
func FormToken(secret string) string {
	pad := make([]byte, sha256.Size, 2*sha256.Size)
	_, _ = rand.Read(pad) // never fails
	return base64.RawURLEncoding.EncodeToString(append(pad, xor(pad, formKey(Digest(secret)))...))
}

// ownToken reports whether a token is one of the session's.
func ownToken(token, secret string) bool {
	return secret != "" && tokenOf(token, Digest(secret))
}

// tokenOf reports whether a token is one of the session that is kept under a
// digest.
func tokenOf(token string, session store.Digest) bool {
	b, err := base64.RawURLEncoding.DecodeString(token)
	return err == nil && len(b) == 2*sha256.Size && hmac.Equal(xor(b[:sha256.Size], b[sha256.Size:]), formKey(session))
}

// formKey hangs on the digest, so that a form still tells of which session it is
// once the browser has given up the session's secret.
func formKey(session store.Digest) []byte {
	m := hmac.New(sha256.New, session[:])
	m.Write([]byte("wearround form"))
	return m.Sum(nil)
}

func xor(a, b []byte) []byte {
	out := make([]byte, len(a))
	subtle.XORBytes(out, a, b)
	return out
}

// background reports whether a request is one that an open page makes by
// itself. It does not keep a session alive.
func background(c *gin.Context) bool {
	return c.FullPath() == LivePath || c.GetHeader("X-Fragment") != ""
}

// identify finds out who the request comes from. Nobody is no error.
func (s *Door) identify(c *gin.Context) error {
	ctx := c.Request.Context()
	if kind, secret, _ := strings.Cut(c.GetHeader("Authorization"), " "); forPrograms(c.FullPath()) && strings.EqualFold(kind, "Bearer") {
		token, user, err := s.Store.UseToken(ctx, Digest(strings.TrimSpace(secret)))
		if err == nil {
			if wait := s.tokens.wait(token.ID, time.Now()); wait > 0 {
				c.Header("Retry-After", Seconds(wait))
				return errTooOften
			}
			c.Set(visitorKey, &visitor{User: user, scopes: token.Scopes})
		}
		return unlessSignedOut(err)
	}
	if forPrograms(c.FullPath()) && c.FullPath() != OpenAPIPath {
		return nil // a cookie is no token: a browser sends it by itself
	}
	secret := s.CookieValue(c, SessionCookie)
	if secret == "" {
		return nil
	}
	session, user, err := s.Store.Session(ctx, Digest(secret), !background(c))
	if err == nil {
		c.Set(visitorKey, &visitor{User: user, Session: session, secret: secret})
	}
	return unlessSignedOut(err)
}

func unlessSignedOut(err error) error {
	if errors.Is(err, store.ErrSignedOut) {
		return nil
	}
	return err
}

// Begin starts a session under a new secret, whatever cookie came with the
// request, so that nobody can prepare one for somebody else. was is what the
// person was asked for: where that has changed since, nobody comes in.
func (s *Door) Begin(c *gin.Context, userID int64, was store.Digest) error {
	ctx := c.Request.Context()
	if old := s.CookieValue(c, SessionCookie); old != "" {
		if err := s.Store.EndSession(ctx, Digest(old), c.GetString(Reference)); err != nil {
			return err
		}
	}
	secret := NewSecret()
	session, err := s.Store.StartSession(ctx, userID, was, Digest(secret), s.Address(c), c.GetString(Reference))
	if err != nil {
		return err
	}
	user, err := s.Store.User(ctx, userID)
	if err != nil {
		return err
	}
	s.Log.Info("signed in", "user", userID, "session", session.ID, "ref", c.GetString(Reference))
	s.SetCookie(c, SessionCookie, secret)
	s.SetCookie(c, PendingCookie, "")
	c.Set(visitorKey, &visitor{User: user, Session: session, secret: secret})
	return nil
}

// Secure reports whether browsers reach this server by TLS.
func (s *Door) Secure() bool { return s.TLS != nil || s.Proxy }

// Address is where a request comes from, for the count of failed sign-ins and
// the list of sessions. A proxy's word is taken only where one is set.
func (s *Door) Address(c *gin.Context) string {
	host, _, err := net.SplitHostPort(c.Request.RemoteAddr)
	if err != nil {
		host = c.Request.RemoteAddr
	}
	if !s.Proxy || !s.proxied(host) {
		return host
	}
	// The last that is no proxy of ours is the one that ours has seen itself.
	hops := strings.Split(strings.Join(c.Request.Header.Values("X-Forwarded-For"), ","), ",")
	for _, hop := range slices.Backward(hops) {
		a, err := netip.ParseAddr(strings.TrimSpace(hop))
		if err != nil {
			return host
		}
		host = a.Unmap().String()
		if !s.proxied(host) {
			return host
		}
	}
	return host
}

// proxied reports whether an address is one that the practice's proxy speaks
// from.
func (s *Door) proxied(host string) bool {
	a, err := netip.ParseAddr(host)
	if err != nil {
		return false
	}
	a = a.Unmap()
	return len(s.ProxyFrom) == 0 && a.IsLoopback() || slices.ContainsFunc(s.ProxyFrom, func(p netip.Prefix) bool { return p.Contains(a) })
}

// fromProxy refuses whoever goes past the proxy: what they send is not
// protected, and what they say of where they are is not to be believed.
func (s *Door) fromProxy(c *gin.Context) {
	host, _, err := net.SplitHostPort(c.Request.RemoteAddr)
	if p := c.FullPath(); s.Proxy && p != HealthPath && p != ReadyPath && (err != nil || !s.proxied(host) && !Loopback(host)) {
		s.Fail(c, errProxy)
		return
	}
	c.Next()
}

// Local is an address of this server to go on to; anything else gives the
// fallback.
func Local(next, fallback string) string {
	if len(next) > 500 || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsFunc(next, func(r rune) bool { return r < ' ' || r == '\\' }) {
		return fallback
	}
	return next
}

// Home is the first page of whoever is signed in: an auditor sees no wears.
func (s *Door) Home(c *gin.Context) string {
	if v := VisitorOf(c); v != nil && !Staff.admits(v.User.Roles) {
		return "/audit"
	}
	return "/"
}

func (v *visitor) may(sc string) bool { return slices.Contains(v.scopes, sc) }
