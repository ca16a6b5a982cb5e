package register

import (
	"errors"
	"fmt"
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// ImportPage asks for a list of patients.
func (s *Register) ImportPage(c *gin.Context) (web.Page, error) {
	return web.ImportPage{Layout: s.Layout(c)}, nil
}

// PreviewImport shows what a list would do, line by line, and does nothing.
func (s *Register) PreviewImport(c *gin.Context) (web.Page, error) {
	text := c.PostForm("text")
	if f, err := c.FormFile("list"); err == nil && f.Size > 0 {
		r, err := f.Open()
		if err != nil {
			return nil, err
		}
		defer r.Close()
		b, err := io.ReadAll(r)
		if err != nil {
			return nil, err
		}
		if text, err = listOf(b); err != nil {
			p := web.ImportPage{Layout: s.Layout(c), Dates: c.PostForm("dates")}
			p.Form = door.Form(c, listFaults(err))
			return door.Again(p), nil
		}
	} else if err != nil && !errors.Is(err, http.ErrMissingFile) && !errors.Is(err, http.ErrNotMultipart) {
		return nil, err
	}
	return s.imported(c, text, func(l patientList) ([]store.RegisterCheck, error) {
		return s.Store.PreviewRegister(c.Request.Context(), l.lines)
	})
}

// ConfirmImport puts a list on the register, as its preview said.
func (s *Register) ConfirmImport(c *gin.Context) (web.Page, error) {
	text := c.PostForm("text")
	p, err := s.imported(c, text, func(l patientList) ([]store.RegisterCheck, error) {
		return s.Store.ImportRegister(c.Request.Context(), door.Actor(c), l.lines)
	})
	page, ok := p.(web.ImportPage)
	if err != nil || !ok {
		return p, err
	}
	n := map[string]int{}
	for _, r := range page.Rows {
		n[r.Result]++
	}
	s.Worker.Look() // files that waited for a patient may find theirs now
	return web.ImportPage{Layout: page.Layout, Done: fmt.Sprintf(
		"Patients added: %d. Changed: %d. As they were: %d. Left out because of a problem: %d.", n["new"], n["changed"], n["same"], n["problem"])}, nil
}

func (s *Register) imported(c *gin.Context, text string, check func(patientList) ([]store.RegisterCheck, error)) (web.Page, error) {
	p := web.ImportPage{Layout: s.Layout(c), Text: text, Dates: c.PostForm("dates")}
	l, err := readList(text, c.PostForm("dates"))
	if err == nil {
		var checks []store.RegisterCheck
		checks, err = check(l)
		p.Rows, p.Ignored = importRows(l, checks), l.ignored
	}
	p.Errors = listFaults(err)
	switch {
	case len(p.Errors) > 0:
		p.Form = door.Form(c, p.Errors)
		return door.Again(p), nil
	case err != nil:
		return nil, err
	}
	return p, nil
}

// listFaults are what is wrong with a list, all at once.
func listFaults(err error) []form.FieldError {
	if e, ok := errors.AsType[*door.Problem](err); ok && len(e.Fields) > 0 {
		return e.Fields
	}
	return door.Said(err)
}

func importRows(l patientList, checks []store.RegisterCheck) []web.ImportRow {
	var out []web.ImportRow
	for i, k := range checks {
		row := web.ImportRow{Line: l.numbers[i], Code: l.lines[i].Code, Name: l.lines[i].Name, Result: string(k.State), Problem: k.Problem}
		if k.State == store.LineChanged {
			row.Changes = k.Fields
		}
		if k.Twin != "" {
			row.Changes = append(row.Changes, "has the name and birth date of "+k.Twin)
		}
		out = append(out, row)
	}
	return out
}
