package audit

import (
	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// Look is the page of every element.
func (s *Audit) Look(c *gin.Context) (web.Page, error) {
	return web.LookPage{Layout: s.Layout(c)}, nil
}

// Help is the page of all topics.
func (s *Audit) Help(c *gin.Context) (web.Page, error) {
	return web.HelpPage{Layout: s.Layout(c)}, nil
}

// Tour is the way through the practice as it is now: the wear that it shows is
// the first of the round.
func (s *Audit) Tour(c *gin.Context) (web.Page, error) {
	r, err := s.Store.Round(c.Request.Context(), store.RoundQuery{Limit: 1, Now: s.Now()})
	if err != nil {
		return nil, err
	}
	p := web.TourPage{Layout: s.Layout(c), Step: web.ParseStep(c.Request.URL.Query())}
	if len(r.Rows) > 0 {
		p.WearID = r.Rows[0].WearID
	}
	return p, nil
}
