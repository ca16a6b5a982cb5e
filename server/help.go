package server

import (
	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

func (s *Server) look(c *gin.Context) (web.Page, error) {
	return web.LookPage{Layout: s.layout(c)}, nil
}

func (s *Server) help(c *gin.Context) (web.Page, error) {
	return web.HelpPage{Layout: s.layout(c)}, nil
}

// tour is the way through the practice as it is now: the wear that it shows is
// the first of the round.
func (s *Server) tour(c *gin.Context) (web.Page, error) {
	r, err := s.Store.Round(c.Request.Context(), store.RoundQuery{Limit: 1, Now: s.Now()})
	if err != nil {
		return nil, err
	}
	p := web.TourPage{Layout: s.layout(c), Step: web.ParseStep(c.Request.URL.Query())}
	if len(r.Rows) > 0 {
		p.WearID = r.Rows[0].WearID
	}
	return p, nil
}
