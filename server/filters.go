package server

import (
	"github.com/gin-gonic/gin"

	"wearround/web"
)

// savedFilters are the filters that the person kept, and those that are shared.
func (s *Server) savedFilters(c *gin.Context) ([]web.SavedFilter, error) {
	list, err := s.Store.SavedFilters(c.Request.Context(), me(c))
	if err != nil {
		return nil, err
	}
	var out []web.SavedFilter
	for _, f := range list {
		filter, err := web.SavedRoundFilter(f.Query)
		if err != nil {
			continue // written by an older release: it would show the whole round under a name that says otherwise
		}
		filter.Veiled = s.veil.cover(filter.Text)
		out = append(out, web.SavedFilter{
			ID: f.ID, Name: f.Name, Filter: filter, By: f.By.Name, Mine: f.By.ID == me(c), Shared: f.Shared,
		})
	}
	return out, nil
}

// keepFilter keeps the filter of the form under a name.
func (s *Server) keepFilter(c *gin.Context) (web.Page, error) {
	f := s.roundFilter(c.Request.PostForm)
	f.Page = 0
	if err := s.Store.SaveFilter(c.Request.Context(), actor(c), c.PostForm("name"), f.Saved(), c.PostForm("shared") == "yes"); err != nil {
		return nil, err
	}
	return goTo(c, f.Address())
}

// forgetFilter takes one of the person's own filters away.
func (s *Server) forgetFilter(c *gin.Context) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	if err := s.Store.ForgetFilter(c.Request.Context(), actor(c), id); err != nil {
		return nil, err
	}
	return goTo(c, "/")
}
