package server

import (
	"strconv"

	"github.com/gin-gonic/gin"

	"wearround/web"
)

// wear is the page of one wear with its whole trace.
func (s *Server) wear(c *gin.Context) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	w, err := s.Store.Wear(ctx, id)
	if err != nil {
		return nil, err
	}
	readings, events, err := s.Store.Trace(ctx, id)
	if err != nil {
		return nil, err
	}
	p := web.WearPage{
		Layout: s.layout(c), WearID: w.ID, Patient: patient(w.Patient), SensorKind: w.SensorKind,
		ReceivedAt: w.ReceivedAt, DueAt: w.DueAt, Report: w.Report, Readings: readings, Events: events,
		Window: web.ParseWindow(c.Request.URL.Query()),
	}
	for _, f := range w.Files {
		p.Files = append(p.Files, web.WearFile{
			SHA256: f.SHA256, ReceivedAt: f.ReceivedAt, Layout: f.Layout,
			Rows: f.Rows, Skipped: f.Skipped, Decisions: f.Decisions,
		})
	}
	return p, nil
}

// pathID reads the number in an address; anything else is a page that does not
// exist.
func pathID(c *gin.Context) (int64, error) {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil || id < 1 {
		return 0, errNoPage
	}
	return id, nil
}
