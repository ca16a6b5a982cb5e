package register

import (
	"bytes"
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/export"
	"wearround/web"
)

// ExportPatient gives all that is held of a patient as an archive, and logs it.
func (s *Register) ExportPatient(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	p, err := s.Store.Patient(ctx, id)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := (&export.Source{Store: s.Store, Zone: s.Zone, Now: s.Now}).Person(ctx, p.ID, &b); err != nil {
		return nil, err
	}
	if err := s.Store.RecordExport(ctx, p.ID, "all that is held"); err != nil {
		return nil, err
	}
	c.Header("Content-Disposition", `attachment; filename="person.zip"`)
	c.Data(http.StatusOK, "application/zip", b.Bytes())
	return nil, nil
}
