package door

import (
	"context"
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

func (p *Problem) Error() string { return p.Sentence }

// Problems that do not come from the store.
var (
	ErrNoPage   = &Problem{Status: http.StatusNotFound, Sentence: "There is no such page.", ToDo: "Go back to the round and choose from there."}
	errPanic    = &Problem{Status: http.StatusInternalServerError, Sentence: "The page could not be made.", ToDo: "Try again. If it happens again, give the reference below to whoever looks after this program."}
	errHost     = &Problem{Status: http.StatusForbidden, Sentence: "This address is not served.", ToDo: "Open the address that the program printed when it started."}
	errOrigin   = &Problem{Status: http.StatusForbidden, Sentence: "The change was refused because it did not come from one of these pages.", ToDo: "Open the page again here and repeat it."}
	errRole     = &Problem{Status: http.StatusForbidden, Sentence: "Your role does not include this.", ToDo: "Ask a lead of the practice if it should."}
	errOther    = &Problem{Status: http.StatusConflict, Sentence: "This form was sent before with something else in it. That was saved; this was not.", ToDo: "Open the page again: what you typed stands there. Look at what is saved by now, and send it."}
	errNobody   = &Problem{Status: http.StatusUnauthorized, Sentence: "You are not signed in.", ToDo: "Sign in and repeat it."}
	errProxy    = &Problem{Status: http.StatusForbidden, Sentence: "This address is served through the practice's proxy alone.", ToDo: "Open the address that you were given. Whoever looks after the proxy names its address with --proxy-from."}
	errMethod   = &Problem{Status: http.StatusMethodNotAllowed, Sentence: "This cannot be asked for in this way.", ToDo: "Go back to the round and choose from there."}
	errTooOften = &Problem{Status: http.StatusTooManyRequests, Sentence: "This token asks too often.", ToDo: "Wait as long as Retry-After says."}
	ErrTooLong  = &Problem{Status: http.StatusRequestEntityTooLarge, Sentence: "What was sent is too long.", ToDo: "Send less at once."}
)

// Handler makes one page, or says why not.
type Handler func(*gin.Context) (web.Page, error)

// Page runs a handler and shows what it gives. A handler that redirects gives
// no page and no error.
func (s *Door) Page(h Handler) gin.HandlerFunc {
	return func(c *gin.Context) {
		p, err := h(c)
		switch {
		case errors.Is(err, store.ErrRepeat): // it is saved: on, as the first one went
			c.Redirect(http.StatusSeeOther, cameFrom(c))
		case err != nil:
			s.Fail(c, err)
		case p == nil:
			s.sent(c, "")
		default:
			status := http.StatusOK
			if r, ok := p.(refused); ok {
				status, p = r.status, r.Page
				if status == http.StatusUnprocessableEntity {
					s.sent(c, draftOf(c.Request.PostForm))
				}
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

// Again shows a form once more, with what is wrong with it.
func Again(p web.Page) web.Page { return Refuse(http.StatusUnprocessableEntity, p) }

// Refuse shows a page under a status that says what was asked was not done.
func Refuse(status int, p web.Page) web.Page { return refused{p, status} }

// show renders the page whole before the status is sent.
func (s *Door) show(c *gin.Context, status int, p web.Page) {
	if err := web.Render(&answer{c, status}, p); err != nil {
		if _, failing := p.(web.ErrorPage); failing { // the error page itself cannot be made
			s.Log.Error("error page not rendered", "ref", c.GetString(Reference), "err", err)
			c.String(http.StatusInternalServerError, "The page could not be made. Reference: %s", c.GetString(Reference))
			return
		}
		s.Fail(c, err)
	}
}

// answer sends a page, which comes whole.
type answer struct {
	c      *gin.Context
	status int
}

func (a *answer) Write(b []byte) (int, error) {
	a.c.Data(a.status, "text/html; charset=utf-8", b) // fails only where the reader has gone
	return len(b), nil
}

// Fail shows an error page, or tells a program, and ends the request. The cause
// goes to the log, never to whoever asked.
func (s *Door) Fail(c *gin.Context, err error) {
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
	if p.Status >= 500 {
		ref = c.GetString(Reference)
	}
	s.show(c, p.Status, web.ErrorPage{
		Layout: s.Layout(c), Status: p.Status, Sentence: p.Sentence, ToDo: p.ToDo, Reference: ref,
	})
}

// explain finds the words for an error, and logs it where it is a fault of ours.
func (s *Door) explain(c *gin.Context, err error) *Problem {
	p := AsProblem(err)
	if p.Status >= 500 {
		s.Log.Error("request failed", "ref", c.GetString(Reference), "route", c.FullPath(), "err", err)
	}
	return p
}

// NotAllowed answers a method that a route does not have.
func NotAllowed(*gin.Context) (web.Page, error) { return nil, errMethod }

// NotFound answers what no route has.
func NotFound(*gin.Context) (web.Page, error) { return nil, ErrNoPage }
