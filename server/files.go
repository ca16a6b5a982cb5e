package server

import (
	"net/http"
	"regexp"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// filesPageSize is how many files a page of the list shows.
const filesPageSize = 50

// files lists what came through the watched folder, newest first.
func (s *Server) files(c *gin.Context) (web.Page, error) {
	return s.filesPage(c, 0, "")
}

// filesPage is the list; an answer that was not taken is explained beside its file.
func (s *Server) filesPage(c *gin.Context, fileID int64, problem string) (web.Page, error) {
	f := web.ParseFilesFilter(c.Request.URL.Query())
	d, err := s.Store.Drops(c.Request.Context(), store.DropQuery{
		Outcome: store.Outcome(f.Outcome), Offset: (max(f.Page, 1) - 1) * filesPageSize, Limit: filesPageSize,
	})
	if err != nil {
		return nil, err
	}
	p := web.FilesPage{
		Layout: s.layout(c), Filter: f, Matching: d.Total,
		Counts: map[string]int{}, PageSize: filesPageSize,
	}
	p.Version = d.Version
	for o, n := range d.Counts {
		p.Counts[string(o)] = n
		p.Total += n
	}
	for _, row := range d.Rows {
		r := web.FileRow{
			DropID: row.ID, FileID: row.FileID, SeenAt: row.SeenAt, Path: row.Path, Size: row.Size,
			Outcome: string(row.Outcome), Reason: row.Reason, ToDo: row.ToDo, WearIDs: row.WearIDs,
		}
		if row.Outcome == store.Held {
			r.Questions = row.File.Questions
			if row.FileID == fileID {
				r.Problem = problem
			}
		}
		p.Rows = append(p.Rows, r)
	}
	return p, nil
}

// answer takes a person's answer to one question about a held file. A patient
// code that is not on the register yet is added to it when the person says so.
func (s *Server) answer(c *gin.Context) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	code, value := c.PostForm("code"), strings.TrimSpace(c.PostForm("value"))
	ctx := c.Request.Context()
	if code == "patient" && c.PostForm("add") == "1" {
		if !patientCode.MatchString(value) {
			return s.filesPage(c, id, "A patient code is up to 40 letters, digits, points and hyphens. Write it as it stands in the practice's records.")
		}
		if _, err := s.Store.PatientByCode(ctx, value); store.CodeOf(err) == store.NotFound {
			err = s.Store.AddPatients(ctx, []store.Patient{{Code: value}})
			if err != nil {
				return nil, err
			}
		} else if err != nil {
			return nil, err
		}
	}
	if err := s.Store.Answer(ctx, id, code, value); store.CodeOf(err) == store.Invalid {
		return s.filesPage(c, id, store.Words(err))
	} else if err != nil {
		return nil, err
	}
	s.Worker.Look()
	c.Redirect(http.StatusSeeOther, "/files?outcome=held")
	return nil, nil
}

var patientCode = regexp.MustCompile(`^[\pL\pN][\pL\pN.-]{0,39}$`)
