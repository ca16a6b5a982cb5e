package review

import (
	"net/url"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/web"
)

// savedFilters are the filters that the person kept, and those that are shared.
func (s *Review) savedFilters(c *gin.Context) ([]web.SavedFilter, error) {
	list, err := s.Store.SavedFilters(c.Request.Context(), door.Me(c))
	if err != nil {
		return nil, err
	}
	var out []web.SavedFilter
	for _, f := range list {
		filter, err := web.SavedRoundFilter(f.Query)
		if err != nil {
			continue // written by an older release: it would show the whole round under a name that says otherwise
		}
		filter.Veiled = s.Veil.Cover(filter.Text)
		out = append(out, web.SavedFilter{
			ID: f.ID, Name: f.Name, Filter: filter, By: f.By.Name, Mine: f.By.ID == door.Me(c), Shared: f.Shared,
		})
	}
	return out, nil
}

// KeepFilter keeps the filter of the form under a name.
func (s *Review) KeepFilter(c *gin.Context) (web.Page, error) {
	f := s.roundFilter(c.Request.PostForm)
	f.Page = 0
	if err := s.Store.SaveFilter(c.Request.Context(), door.Actor(c), c.PostForm("name"), f.Saved(), c.PostForm("shared") == "yes"); err != nil {
		return nil, err
	}
	return door.GoTo(c, f.Address())
}

// ForgetFilter takes one of the person's own filters away.
func (s *Review) ForgetFilter(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	if err := s.Store.ForgetFilter(c.Request.Context(), door.Actor(c), id); err != nil {
		return nil, err
	}
	return door.GoTo(c, "/")
}

// roundFilter is the filter of the round in an address or a form.
func (s *Review) roundFilter(v url.Values) web.RoundFilter {
	f := web.ParseRoundFilter(v)
	if f.Text = s.Veil.Uncover(f.Veiled); f.Text == "" {
		f.Veiled = ""
	}
	return f
}

// SearchRound shows the round as the form filters it.
func (s *Review) SearchRound(c *gin.Context) (web.Page, error) {
	f := web.ParseRoundFilter(c.Request.PostForm)
	f.Text = web.ParseSearch(c.Request.PostForm)
	f.Veiled = s.Veil.Cover(f.Text)
	return door.GoTo(c, f.Address())
}
