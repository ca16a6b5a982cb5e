package server

import (
	"net/url"

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
		q, err := url.ParseQuery(f.Query)
		if err != nil {
			continue // written by an older release: it would show the whole round under a name that says otherwise
		}
		out = append(out, web.SavedFilter{
			ID: f.ID, Name: f.Name, Filter: web.ParseRoundFilter(q), By: f.By.Name, Mine: f.By.ID == me(c), Shared: f.Shared,
		})
	}
	return out, nil
}

// keepFilter keeps the filter of the form under a name.
func (s *Server) keepFilter(c *gin.Context) (web.Page, error) {
	f := web.ParseRoundFilter(c.Request.PostForm)
	f.Page = 0
	address := f.Address()
	u, err := url.Parse(address)
	if err != nil {
		return nil, err
	}
	if err := s.Store.SaveFilter(c.Request.Context(), actor(c), c.PostForm("name"), u.RawQuery, c.PostForm("shared") == "yes"); err != nil {
		return nil, err
	}
	return goTo(c, address)
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
