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
	fields   []web.FieldError // what is wrong with a form, where that is known
}

func (p *problem) Error() string { return p.sentence }

// Problems that do not come from the store.
var (
	errNoPage  = &problem{status: http.StatusNotFound, sentence: "There is no such page.", toDo: "Go back to the round and choose from there."}
	errPanic   = &problem{status: http.StatusInternalServerError, sentence: "The page could not be made.", toDo: "Try again. If it happens again, give the reference below to whoever looks after this program."}
	errHost    = &problem{status: http.StatusForbidden, sentence: "This address is not served.", toDo: "Open the address that the program printed when it started."}
	errOrigin  = &problem{status: http.StatusForbidden, sentence: "The change was refused because it did not come from one of these pages.", toDo: "Open the page again here and repeat it."}
	errRole    = &problem{status: http.StatusForbidden, sentence: "Your role does not include this.", toDo: "Ask a lead of the practice if it should."}
	errNobody  = &problem{status: http.StatusUnauthorized, sentence: "You are not signed in.", toDo: "Sign in and repeat it."}
	errTooLong = &problem{status: http.StatusRequestEntityTooLarge, sentence: "What was sent is too long.", toDo: "Send less at once."}
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
			status := http.StatusOK
			if r, ok := p.(refused); ok {
				status, p = r.status, r.Page
			}
			s.show(c, status, p)
		}
	}
}

// refused is a page that is shown because what was asked was not done.
type refused struct {
	web.Page
	status int
}

// again shows a form once more, with what is wrong with it.
func again(p web.Page) web.Page { return refused{p, http.StatusUnprocessableEntity} }

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

// fail shows an error page, or tells a program, and ends the request. The cause
// goes to the log, never to whoever asked.
func (s *Server) fail(c *gin.Context, err error) {
	c.Abort()
	if errors.Is(err, context.Canceled) && c.Request.Context().Err() != nil {
		c.Status(499) // the reader has gone; nobody sees this
		return
	}
	if forPrograms(c.Request.URL.Path) {
		s.failAPI(c, err)
		return
	}
	p := s.explain(c, err)
	ref := ""
	if p.status >= 500 {
		ref = c.GetString(reference)
	}
	s.show(c, p.status, web.ErrorPage{
		Layout: s.layout(c), Status: p.status, Sentence: p.sentence, ToDo: p.toDo, Reference: ref,
	})
}

// explain finds the words for an error, and logs it where it is a fault of ours.
func (s *Server) explain(c *gin.Context, err error) *problem {
	p := asProblem(err)
	if p.status >= 500 {
		s.Log.Error("request failed", "ref", c.GetString(reference), "route", c.FullPath(), "err", err)
	}
	return p
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
		return &problem{status: http.StatusNotFound, sentence: e.Public, toDo: "It may have been joined with another. Go back to the round and choose from there."}
	case store.Conflict:
		return &problem{status: http.StatusConflict, sentence: e.Public, toDo: "Someone else may have changed it a moment ago. " + back}
	case store.Forbidden:
		return &problem{status: http.StatusForbidden, sentence: e.Public, toDo: back}
	case store.Invalid:
		return &problem{status: http.StatusUnprocessableEntity, sentence: e.Public, toDo: back}
	}
	return errPanic
}

func notFound(*gin.Context) (web.Page, error) { return nil, errNoPage }
