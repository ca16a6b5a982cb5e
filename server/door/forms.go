package door

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// TaskForm is what was typed into one of a page's several forms.
func TaskForm(c *gin.Context, task string, wrong []form.FieldError) form.Form {
	f := Form(c, wrong)
	f.Task = task
	return f
}

// Form is what was typed, without passwords and codes.
func Form(c *gin.Context, wrong []form.FieldError) form.Form {
	v := url.Values{}
	for k, list := range c.Request.PostForm {
		switch k {
		case "password", "again", "current", "code", "csrf", "once":
		default:
			v[k] = list
		}
	}
	return form.Form{Values: v, Errors: wrong}
}

// Apply runs a change of the thing in the address and leads on. Where it is
// not taken, again shows the page once more with what is wrong.
func (s *Door) Apply(c *gin.Context, wrong []form.FieldError, change func(id int64) error,
	again func(id int64, wrong []form.FieldError) (web.Page, error), on func(id int64) string,
) (web.Page, error) {
	id, err := PathID(c)
	if err != nil {
		return nil, err
	}
	if len(wrong) == 0 {
		err = change(id)
		wrong = Said(err)
	}
	if len(wrong) > 0 {
		return again(id, wrong)
	}
	if err != nil {
		return nil, err
	}
	return GoTo(c, on(id))
}

// Said is what a store's refusal says to the person who asked, as an error of
// the form as a whole; nil for an error that is not about the request.
func Said(err error) []form.FieldError {
	if p, ok := errors.AsType[*Problem](err); ok && p.Status == http.StatusUnprocessableEntity {
		return []form.FieldError{{Text: p.Sentence}}
	}
	if errors.Is(err, store.ErrRepeat) {
		return nil // not a fault of the form; see Page
	}
	switch store.CodeOf(err) {
	case store.Invalid, store.Conflict, store.Forbidden:
		return []form.FieldError{{Text: store.Words(err)}}
	}
	return nil
}

// PathID reads the number in an address; anything else is a page that does not
// exist.
func PathID(c *gin.Context) (int64, error) {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil || id < 1 {
		return 0, ErrNoPage
	}
	return id, nil
}

// FormID reads a number in a form; 0 where there is none.
func FormID(c *gin.Context, name string) int64 {
	id, err := strconv.ParseInt(c.PostForm(name), 10, 64)
	if err != nil {
		return 0
	}
	return id
}

// GoTo redirects a form that was taken.
func GoTo(c *gin.Context, address string) (web.Page, error) {
	c.Redirect(http.StatusSeeOther, address)
	return nil, nil
}
