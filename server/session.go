package server

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

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// visitor is who a request comes from: a person at a page, or a program with a
// token.
type visitor struct {
	user    store.User
	session store.Session // zero for a program
	secret  string        // of the session
	scopes  []string      // of the token
}

// visitorKey is the key under which a request's visitor is kept.
const visitorKey = "visitor"

// visitorOf is who the request comes from; nil is nobody.
func visitorOf(c *gin.Context) *visitor {
	v, _ := c.Value(visitorKey).(*visitor)
	return v
}

// actor is who the store is told acts.
func actor(c *gin.Context) store.Actor {
	a := store.Actor{Request: c.GetString(reference)}
	if v := visitorOf(c); v != nil {
		a.UserID = v.user.ID
	}
	return a
}

// me is the id of whoever is signed in, or 0.
func me(c *gin.Context) int64 { return actor(c).UserID }

// has reports whether the visitor has one of the roles of a.
func has(c *gin.Context, a access) bool {
	v := visitorOf(c)
	return v != nil && a.admits(v.user.Roles)
}

// cookie is a cookie's name. The prefix makes browsers insist that it came over
// TLS, from this host, for all of it; plain HTTP is served on loopback alone,
// where browsers do not accept the prefix.
func (s *Server) cookie(name string) string {
	if s.secure() {
		return "__Host-" + name
	}
	return name
}

// Names of cookies, before [Server.cookie].
const (
	sessionCookie = "s"
	pendingCookie = "p" // between the password and the second factor
)

// setCookie gives a cookie that ends with the browser; an empty value takes it
// away. No script can read it and no other site's page can make it be sent.
func (s *Server) setCookie(c *gin.Context, name, value string) {
	k := &http.Cookie{Name: s.cookie(name), Value: value, Path: "/", HttpOnly: true, Secure: s.secure(), SameSite: http.SameSiteStrictMode}
	if value == "" {
		k.MaxAge = -1
	}
	http.SetCookie(c.Writer, k)
}

func (s *Server) cookieValue(c *gin.Context, name string) string {
	k, err := c.Request.Cookie(s.cookie(name))
	if err != nil {
		return ""
	}
	return k.Value
}

// newSecret makes the 256 random bits of a cookie, a link or an API token.
func newSecret() string {
	b := make([]byte, 32)
	_, _ = rand.Read(b) // never fails
	return base64.RawURLEncoding.EncodeToString(b)
}

func digest(secret string) store.Digest { return sha256.Sum256([]byte(secret)) }

// formToken is what every form of a session carries: only whoever can read the
// session's own pages knows it. It is the session's key under a pad of chance,
// another text each time it is asked for, so that the lengths of packed pages
// that also hold what somebody typed cannot give it away byte by byte.
func formToken(secret string) string {
	pad := make([]byte, sha256.Size, 2*sha256.Size)
	_, _ = rand.Read(pad) // never fails
	return base64.RawURLEncoding.EncodeToString(append(pad, xor(pad, formKey(secret))...))
}

// ownToken reports whether a token is one of the session's.
func ownToken(token, secret string) bool {
	b, err := base64.RawURLEncoding.DecodeString(token)
	return err == nil && secret != "" && len(b) == 2*sha256.Size && hmac.Equal(xor(b[:sha256.Size], b[sha256.Size:]), formKey(secret))
}

func formKey(secret string) []byte {
	m := hmac.New(sha256.New, []byte(secret))
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
	return c.FullPath() == livePath || c.GetHeader("X-Fragment") != ""
}

// identify finds out who the request comes from. Nobody is no error.
func (s *Server) identify(c *gin.Context) error {
	ctx := c.Request.Context()
	if kind, secret, _ := strings.Cut(c.GetHeader("Authorization"), " "); forPrograms(c.FullPath()) && strings.EqualFold(kind, "Bearer") {
		token, user, err := s.Store.UseToken(ctx, digest(strings.TrimSpace(secret)))
		if err == nil {
			c.Set(visitorKey, &visitor{user: user, scopes: token.Scopes})
		}
		return unlessSignedOut(err)
	}
	if forPrograms(c.FullPath()) && c.FullPath() != openAPIPath {
		return nil // a cookie is no token: a browser sends it by itself
	}
	secret := s.cookieValue(c, sessionCookie)
	if secret == "" {
		return nil
	}
	session, user, err := s.Store.Session(ctx, digest(secret), !background(c))
	if err == nil {
		c.Set(visitorKey, &visitor{user: user, session: session, secret: secret})
	}
	return unlessSignedOut(err)
}

func unlessSignedOut(err error) error {
	if errors.Is(err, store.ErrSignedOut) {
		return nil
	}
	return err
}

// begin starts a session under a new secret, whatever cookie came with the
// request, so that nobody can prepare one for somebody else.
func (s *Server) begin(c *gin.Context, userID int64) error {
	ctx := c.Request.Context()
	if old := s.cookieValue(c, sessionCookie); old != "" {
		if err := s.Store.EndSession(ctx, digest(old), c.GetString(reference)); err != nil {
			return err
		}
	}
	secret := newSecret()
	session, err := s.Store.StartSession(ctx, userID, digest(secret), s.address(c), c.GetString(reference))
	if err != nil {
		return err
	}
	user, err := s.Store.User(ctx, userID)
	if err != nil {
		return err
	}
	s.setCookie(c, sessionCookie, secret)
	s.setCookie(c, pendingCookie, "")
	c.Set(visitorKey, &visitor{user: user, session: session, secret: secret})
	return nil
}

// signOut ends the session here and in the browser, with what the browser kept.
func (s *Server) signOut(c *gin.Context) (web.Page, error) {
	if err := s.Store.EndSession(c.Request.Context(), digest(s.cookieValue(c, sessionCookie)), c.GetString(reference)); err != nil {
		return nil, err
	}
	s.setCookie(c, sessionCookie, "")
	c.Header("Clear-Site-Data", `"cache", "cookies", "storage"`)
	c.Redirect(http.StatusSeeOther, signInPath+"?out=1")
	return nil, nil
}

// extend answers the one press that keeps a session alive: coming here has
// used it. A page with a script asks in place and gets the new limit.
func (s *Server) extend(c *gin.Context) (web.Page, error) {
	if strings.Contains(c.GetHeader("Accept"), "json") {
		c.JSON(http.StatusOK, s.layout(c).Live())
		return nil, nil
	}
	c.Redirect(http.StatusSeeOther, local(c.PostForm("next"), s.home(c)))
	return nil, nil
}

// secure reports whether browsers reach this server by TLS.
func (s *Server) secure() bool { return s.TLS != nil || s.Proxy }

// address is where a request comes from, for the count of failed sign-ins and
// the list of sessions. A proxy's word is taken only where one is set.
func (s *Server) address(c *gin.Context) string {
	host, _, err := net.SplitHostPort(c.Request.RemoteAddr)
	if err != nil {
		host = c.Request.RemoteAddr
	}
	if s.Proxy {
		hops := strings.Split(c.GetHeader("X-Forwarded-For"), ",")
		if a, err := netip.ParseAddr(strings.TrimSpace(hops[len(hops)-1])); err == nil {
			host = a.String()
		}
	}
	return host
}

// local is an address of this server to go on to; anything else gives the
// fallback.
func local(next, fallback string) string {
	if len(next) > 500 || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsFunc(next, func(r rune) bool { return r < ' ' || r == '\\' }) {
		return fallback
	}
	return next
}

// home is the first page of whoever is signed in: an auditor sees no wears.
func (s *Server) home(c *gin.Context) string {
	if v := visitorOf(c); v != nil && !staff.admits(v.user.Roles) {
		return "/audit"
	}
	return "/"
}

func (v *visitor) may(sc string) bool { return slices.Contains(v.scopes, sc) }
