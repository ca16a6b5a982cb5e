package files

import (
	"errors"
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/web"
	"wearround/web/form"
)

// Upload takes export files from a person and puts them into the watched folder.
func (s *Files) Upload(c *gin.Context) (web.Page, error) {
	m, err := c.MultipartForm()
	if err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return nil, err
	}
	if err != nil || len(m.File["file"]) == 0 {
		return s.uploaded(c, nil, []form.FieldError{{Field: "file", Text: "Choose one file or several."}})
	}
	acts := &act.Acts{Door: s.Door}
	var names []string
	for _, f := range m.File["file"] {
		r, err := f.Open()
		if err != nil {
			return nil, err
		}
		data, err := io.ReadAll(r)
		if err = errors.Join(err, r.Close()); err != nil {
			return nil, err
		}
		name, err := acts.TakeFile(c, f.Filename, data)
		if p, ok := errors.AsType[*door.Problem](err); ok && len(p.Fields) > 0 {
			return s.uploaded(c, names, p.Fields)
		} else if ok && p.Status == http.StatusServiceUnavailable {
			return s.refused(c, p.Status, names, []form.FieldError{{Field: "file", Text: p.Sentence + " " + p.ToDo}})
		}
		if wrong := door.Said(err); len(wrong) > 0 {
			return s.uploaded(c, names, wrong)
		}
		if err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	return s.uploaded(c, names, nil)
}

// uploaded is the Files page with what became of what was sent in.
func (s *Files) uploaded(c *gin.Context, names []string, wrong []form.FieldError) (web.Page, error) {
	return s.refused(c, http.StatusUnprocessableEntity, names, wrong)
}

// refused does so under a status, where something is wrong.
func (s *Files) refused(c *gin.Context, status int, names []string, wrong []form.FieldError) (web.Page, error) {
	p, err := s.Files(c)
	page, ok := p.(web.FilesPage)
	if err != nil || !ok {
		return p, err
	}
	page.Sent, page.Form = names, door.Form(c, wrong)
	if len(wrong) > 0 {
		return door.Refuse(status, page), nil
	}
	return page, nil
}
