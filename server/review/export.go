package review

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/export"
	"wearround/web"
)

// ExportWear gives a wear as a file in an open format, and logs it.
func (s *Review) ExportWear(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	format := c.Param("format")
	media, end := export.Media(format)
	if media == "" {
		return nil, door.ErrNoPage
	}
	ctx := c.Request.Context()
	w, err := (&export.Source{Store: s.Store, Zone: s.Zone, Now: s.Now}).Wear(ctx, id)
	if err != nil {
		return nil, err
	}
	data, err := w.Write(format)
	if err != nil {
		return nil, err
	}
	if err := s.Store.RecordExport(ctx, w.Patient.ID, fmt.Sprintf("wear %d, %s", w.ID, format)); err != nil {
		return nil, err
	}
	c.Header("Content-Disposition", fmt.Sprintf(`attachment; filename="wear-%d%s"`, w.ID, end))
	c.Data(http.StatusOK, media, data)
	return nil, nil
}
