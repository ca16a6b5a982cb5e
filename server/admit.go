package server

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// route is one line of the map: what is asked for, who may ask, what answers.
type route struct {
	method, path string
	who          access
	handle       gin.HandlerFunc
	scope        scope // that a token needs; "" for a page
	body         int64 // the most bytes it takes; 0 stands for maxBody
}

// api reports whether the route answers programs.
func (r *route) api() bool { return forPrograms(r.path) }

// forPrograms reports whether what lies at a path answers programs, in JSON.
func forPrograms(path string) bool { return strings.HasPrefix(path, apiBase+"/") }

// page reports whether the route answers people's browsers with pages.
func (r *route) page() bool { return !r.api() && r.path != livePath }

// unsafe reports whether the route may change something.
func (r *route) unsafe() bool { return r.method != http.MethodGet }

// admit lets a request through to its handler, or not: who asks, whether they
// may, whether a form came from one of our own pages. It is the only place
// that decides by role; the store decides about the single wear.
func (s *Server) admit(r route) gin.HandlerFunc {
	most := r.body
	if most == 0 {
		most = maxBody
	}
	return func(c *gin.Context) {
		c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, most)
		if err := s.identify(c); err != nil {
			s.fail(c, err)
			return
		}
		v := visitorOf(c)
		c.Request = c.Request.WithContext(store.As(c.Request.Context(), actor(c))) // for changes by methods that take no actor
		switch {
		case r.who == nil:
			if err := s.readForm(c, r); err != nil {
				s.fail(c, err)
			}
			return
		case v == nil:
			s.signInFirst(c, r)
			return
		case !r.who.admits(v.user.Roles):
			s.refuseRole(c, r)
			return
		case r.scope != "" && !v.may(string(r.scope)):
			s.fail(c, &problem{status: http.StatusForbidden, sentence: "This token is not for that: it lacks the scope " + string(r.scope) + "."})
			return
		}
		if err := s.readForm(c, r); err != nil {
			s.fail(c, err)
			return
		}
		if r.unsafe() && !r.api() && !ownToken(c.PostForm("csrf"), v.secret) {
			s.fail(c, errOrigin)
		}
	}
}

// readForm reads a posted form, whole or not at all.
func (s *Server) readForm(c *gin.Context, r route) error {
	if !r.unsafe() || r.api() {
		return nil
	}
	err := c.Request.ParseForm()
	if err == nil && c.ContentType() == "multipart/form-data" {
		err = c.Request.ParseMultipartForm(maxBody)
	}
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return errTooLong
	}
	if err != nil {
		return invalid("The form could not be read.")
	}
	return nil
}

// signInFirst answers nobody: a page is led to the sign-in and back, a form and
// a program are told.
func (s *Server) signInFirst(c *gin.Context, r route) {
	switch {
	case r.api():
		c.Header("WWW-Authenticate", `Bearer realm="wearround"`)
		s.fail(c, errNobody)
	case !r.page() || c.GetHeader("X-Fragment") != "":
		c.AbortWithStatus(http.StatusUnauthorized)
	case r.unsafe():
		c.Abort()
		s.show(c, http.StatusUnauthorized, web.SignInPage{Layout: s.layout(c), Notice: "You were signed out before this was saved. Sign in, then do it again."})
	default:
		to := signInPath
		if next := c.Request.URL.RequestURI(); next != "/" {
			to += "?" + url.Values{"next": {next}}.Encode()
		}
		c.Redirect(http.StatusSeeOther, to)
		c.Abort()
	}
}

// refuseRole answers somebody whose role does not include this, and logs it. A
// single thing that they may not see does not exist for them.
func (s *Server) refuseRole(c *gin.Context, r route) {
	if r.path == "/" {
		c.Redirect(http.StatusSeeOther, s.home(c))
		c.Abort()
		return
	}
	err := errRole
	if strings.Contains(r.path, ":") && !has(c, staff) {
		err = errNoPage
	}
	if e := s.Store.RecordRefusal(c.Request.Context(), actor(c), "open "+r.path, "page", 0); e != nil {
		s.fail(c, e)
		return
	}
	s.fail(c, err)
}
