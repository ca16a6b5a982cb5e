package server

import (
	"context"
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// problem is an error whose words are safe to show.
type problem struct {
	status   int
	sentence string
	toDo     string
}

func (p *problem) Error() string { return p.sentence }

// Problems that do not come from the store.
var (
	errNoPage = &problem{http.StatusNotFound, "There is no such page.", "Go back to the round and choose from there."}
	errPanic  = &problem{http.StatusInternalServerError, "The page could not be made.", "Try again. If it happens again, give the reference below to whoever looks after this program."}
	errHost   = &problem{http.StatusForbidden, "This address is not served.", "Open the address that the program printed when it started."}
	errOrigin = &problem{http.StatusForbidden, "The change was refused because it did not come from one of these pages.", "Open the page again here and repeat it."}
)

// handler makes one page, or says why not.
type handler func(*gin.Context) (web.Page, error)

// page runs a handler and shows what it gives. A handler that redirects gives
// no page and no error.
func (s *Server) page(h handler) gin.HandlerFunc {
	return func(c *gin.Context) {
		p, err := h(c)
		switch {
		case err != nil:
			s.fail(c, err)
		case p != nil:
			s.show(c, http.StatusOK, p)
		}
	}
}

// show renders the page whole before the status is sent.
func (s *Server) show(c *gin.Context, status int, p web.Page) {
	var b buffer
	if err := web.Render(&b, p); err != nil {
		if _, failing := p.(web.ErrorPage); failing { // the error page itself cannot be made
			s.Log.Error("error page not rendered", "ref", c.GetString(reference), "err", err)
			c.String(http.StatusInternalServerError, "The page could not be made. Reference: %s", c.GetString(reference))
			return
		}
		s.fail(c, err)
		return
	}
	c.Data(status, "text/html; charset=utf-8", b.Bytes())
}

// fail shows an error page and ends the request. The cause goes to the log,
// never to the page.
func (s *Server) fail(c *gin.Context, err error) {
	c.Abort()
	if errors.Is(err, context.Canceled) && c.Request.Context().Err() != nil {
		c.Status(499) // the reader has gone; nobody sees this
		return
	}
	p := asProblem(err)
	ref := ""
	if p.status >= 500 {
		ref = c.GetString(reference)
		s.Log.Error("request failed", "ref", ref, "route", c.FullPath(), "err", err)
	}
	s.show(c, p.status, web.ErrorPage{
		Layout: s.layout(c), Status: p.status, Sentence: p.sentence, ToDo: p.toDo, Reference: ref,
	})
}

// asProblem finds the words for an error.
func asProblem(err error) *problem {
	var p *problem
	if errors.As(err, &p) {
		return p
	}
	var e *store.Error
	if !errors.As(err, &e) {
		return errPanic
	}
	back := "Go back and try again."
	switch e.Code {
	case store.NotFound:
		return &problem{http.StatusNotFound, e.Public, "It may have been joined with another. Go back to the round and choose from there."}
	case store.Conflict:
		return &problem{http.StatusConflict, e.Public, "Someone else may have changed it a moment ago. " + back}
	case store.Invalid:
		return &problem{http.StatusUnprocessableEntity, e.Public, back}
	}
	return errPanic
}

func notFound(*gin.Context) (web.Page, error) { return nil, errNoPage }
