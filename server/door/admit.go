package door

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// Route is one line of the map: what is asked for, who may ask, what answers.
type Route struct {
	Method, Path string
	Who          Access
	Handle       gin.HandlerFunc
	Scope        Scope // that a token needs; "" for a page
	Body         int64 // the most bytes it takes; 0 stands for maxBody

	// Reply gives a program the answer to what was done, the first time and when
	// the same is sent again.
	Reply func(c *gin.Context, answer []byte)
}

// ForPrograms reports whether the route answers programs.
func (r *Route) ForPrograms() bool { return forPrograms(r.Path) }

// forPrograms reports whether what lies at a path answers programs, in JSON.
func forPrograms(path string) bool { return strings.HasPrefix(path, APIBase+"/") }

// page reports whether the route answers people's browsers with pages.
func (r *Route) page() bool { return !r.ForPrograms() && r.Path != LivePath }

// unsafe reports whether the route may change something.
func (r *Route) unsafe() bool { return r.Method != http.MethodGet }

// Admit lets a request through to its handler, or not: who asks, whether they
// may, whether a form came from one of our own pages. It is the only place
// that decides by role; the store decides about the single wear.
func (s *Door) Admit(r Route) gin.HandlerFunc {
	most := r.Body
	if most == 0 {
		most = maxBody
	}
	return func(c *gin.Context) {
		c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, most)
		if err := s.identify(c); err != nil {
			s.Fail(c, err)
			return
		}
		v := VisitorOf(c)
		c.Request = c.Request.WithContext(store.As(c.Request.Context(), Actor(c))) // for changes by methods that take no actor
		switch {
		case r.Who == nil:
			if err := s.readForm(c, r); err != nil {
				s.Fail(c, err)
			}
			return
		case v == nil:
			s.signInFirst(c, r)
			return
		case !r.Who.admits(v.User.Roles):
			s.refuseRole(c, r)
			return
		case r.Scope != "" && !v.may(string(r.Scope)):
			c.Header("WWW-Authenticate", `Bearer realm="wearround", error="insufficient_scope", scope="`+string(r.Scope)+`"`)
			s.Fail(c, &Problem{Status: http.StatusForbidden, Sentence: "This token is not for that: it lacks the scope " + string(r.Scope) + "."})
			return
		}
		if err := s.readForm(c, r); err != nil {
			s.Fail(c, err)
			return
		}
		if r.unsafe() && !r.ForPrograms() && !ownToken(c.PostForm("csrf"), v.secret) {
			s.Fail(c, errOrigin)
			return
		}
		if r.unsafe() {
			s.onlyOnce(c, r)
		}
	}
}

// onlyOnce sees to it that a post is done once: each form carries a key of its
// own, and a program sends one as Idempotency-Key. A repeat is answered as the
// first one was, as far as that is known.
func (s *Door) onlyOnce(c *gin.Context, r Route) {
	key, bound := c.PostForm("once"), ""
	if key != "" {
		bound = typed(c)
	}
	if r.ForPrograms() {
		key = c.GetHeader("Idempotency-Key")
	}
	if key == "" {
		return
	}
	if r.ForPrograms() {
		var err error
		if bound, err = asked(c); err != nil {
			s.Fail(c, err)
			return
		}
	}
	ctx := c.Request.Context()
	answer, done, err := s.Store.Posted(ctx, Me(c), key, bound)
	switch {
	case errors.Is(err, store.ErrOtherPost) && !r.ForPrograms():
		s.keepTyped(c, Me(c))
		s.Fail(c, errOther)
	case err != nil:
		s.Fail(c, err)
	case !done:
		c.Request = c.Request.WithContext(store.Once(ctx, key, bound))
	case !r.ForPrograms():
		c.Redirect(http.StatusSeeOther, cameFrom(c))
		c.Abort()
	case answer == nil:
		s.Fail(c, store.ErrRepeat)
	default:
		c.Header("Idempotency-Replayed", "true")
		r.Reply(c, answer)
		c.Abort()
	}
}

// typed stands for what somebody typed into a form and where it goes, without
// what is secret.
func typed(c *gin.Context) string {
	h := sha256.Sum256([]byte(c.Request.URL.RequestURI() + "\n" + draftOf(c.Request.PostForm)))
	return hex.EncodeToString(h[:])
}

// asked stands for all that a request asks for: how, where, and with what.
func asked(c *gin.Context) (string, error) {
	body, err := io.ReadAll(c.Request.Body)
	c.Request.Body = io.NopCloser(bytes.NewReader(body))
	h := sha256.New()
	fmt.Fprintf(h, "%s %s\n", c.Request.Method, c.Request.URL.RequestURI())
	h.Write(body)
	return hex.EncodeToString(h.Sum(nil)), err
}

// KeepAnswer keeps what a program was answered, where it gave the post a key.
func (s *Door) KeepAnswer(c *gin.Context, answer []byte) {
	key := c.GetHeader("Idempotency-Key")
	if key == "" || c.Request.Method == http.MethodGet {
		return
	}
	if err := s.Store.KeepAnswer(c.Request.Context(), Me(c), key, append([]byte{}, answer...)); err != nil {
		s.Log.Error("an answer is not kept for a repeat", "ref", c.GetString(Reference), "err", err)
	}
}

// cameFrom is the page of ours that a form was sent from.
func cameFrom(c *gin.Context) string {
	u, err := url.Parse(c.GetHeader("Referer"))
	if err != nil || u.Host != c.Request.Host {
		return "/"
	}
	return Local(u.RequestURI(), "/")
}

// readForm reads a posted form, whole or not at all.
func (s *Door) readForm(c *gin.Context, r Route) error {
	if !r.unsafe() || r.ForPrograms() {
		return nil
	}
	err := c.Request.ParseForm()
	if err == nil && c.ContentType() == "multipart/form-data" {
		err = c.Request.ParseMultipartForm(maxBody)
	}
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return ErrTooLong
	}
	if err != nil {
		return Invalid("The form could not be read.")
	}
	return nil
}

// signInFirst answers nobody: a page is led to the sign-in and back, a form and
// a program are told.
func (s *Door) signInFirst(c *gin.Context, r Route) {
	switch {
	case r.ForPrograms():
		challenge := `Bearer realm="wearround"`
		if c.GetHeader("Authorization") != "" {
			challenge += `, error="invalid_token"`
		}
		c.Header("WWW-Authenticate", challenge)
		s.Fail(c, errNobody)
	case !r.page() || c.GetHeader("X-Fragment") != "":
		c.AbortWithStatus(http.StatusUnauthorized)
	case r.unsafe():
		c.Abort()
		kept := s.keepPosted(c)
		notice := "You were signed out before this was saved. Sign in, then do it again."
		if kept {
			notice = "You were signed out before this was saved. Sign in: what you typed is still there, to be sent again."
		}
		s.show(c, http.StatusUnauthorized, web.SignInPage{Layout: s.Layout(c), Notice: notice, Next: cameFrom(c)})
	default:
		to := SignInPath
		if next := c.Request.URL.RequestURI(); next != "/" {
			to += "?" + url.Values{"next": {next}}.Encode()
		}
		c.Redirect(http.StatusSeeOther, to)
		c.Abort()
	}
}

// refuseRole answers somebody whose role does not include this, and logs it. A
// single thing that they may not see does not exist for them.
func (s *Door) refuseRole(c *gin.Context, r Route) {
	if r.Path == "/" {
		c.Redirect(http.StatusSeeOther, s.Home(c))
		c.Abort()
		return
	}
	err := errRole
	if strings.Contains(r.Path, ":") && !Has(c, Staff) {
		err = ErrNoPage
	}
	if e := s.Store.RecordRefusal(c.Request.Context(), Actor(c), "open "+r.Path, "page", 0); e != nil {
		s.Fail(c, e)
		return
	}
	s.Fail(c, err)
}

// APIBase is where the API of this version lies.
const APIBase = "/api/v1"

// Scope is what a token may be used for; see [store.Scopes]. What its owner may
// not do, the token may not either.
type Scope string

const (
	LivePath    = "/live"
	OpenAPIPath = APIBase + "/openapi.json"
)

// Limits on what a request may cost.
const (
	maxBody     = 64 << 10 // of a form
	MaxAPIBody  = 2 << 20  // of one API request: a register of some thousand lines
	MaxFileBody = 32 << 20 // of an export file sent in
	MaxListBody = 4 << 20  // of a register sent as a file
)

// SignInPath is where nobody is led.
const SignInPath = "/sign-in"
