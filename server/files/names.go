package files

import (
	"cmp"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// namesShown is how many of the latest file names a rule is tried on.
const namesShown = 30

// Names shows what the file-name rule finds.
func (s *Files) Names(c *gin.Context) (web.Page, error) {
	p, err := s.namesPage(c, "")
	p.Saved = c.Query("saved") == "1"
	return p, err
}

// TryNames shows what another rule would find, and changes nothing. With the
// header "X-Fragment: rows" it gives only that part.
func (s *Files) TryNames(c *gin.Context) (web.Page, error) {
	p, err := s.namesPage(c, strings.TrimSpace(c.PostForm("rule")))
	if err == nil && c.GetHeader("X-Fragment") == "rows" {
		return web.NameRows{NamesPage: p}, nil
	}
	return p, err
}

// SetNames saves a file-name rule.
func (s *Files) SetNames(c *gin.Context) (web.Page, error) {
	rule := strings.TrimSpace(c.PostForm("rule"))
	p, err := s.namesPage(c, rule)
	if err != nil || p.Problem != "" || rule == "" {
		return p, err
	}
	if err := s.Store.SetNameRule(c.Request.Context(), rule); err != nil {
		return nil, err
	}
	s.Worker.Look()
	c.Redirect(http.StatusSeeOther, "/files/names?saved=1")
	return nil, nil
}

func (s *Files) namesPage(c *gin.Context, tried string) (web.NamesPage, error) {
	ctx := c.Request.Context()
	p := web.NamesPage{Layout: s.Layout(c), Tried: tried}
	rule, _, err := s.Store.Setting(ctx, store.NameRule)
	if err != nil {
		return p, err
	}
	p.Rule = cmp.Or(rule, s.NameRule)
	d, err := s.Store.Drops(ctx, store.DropQuery{Limit: namesShown})
	if err != nil {
		return p, err
	}
	paths := make([]string, len(d.Rows))
	for i, r := range d.Rows {
		paths[i] = r.Path
	}
	now, err := s.TryNameRule(p.Rule, paths)
	if err != nil {
		return p, err
	}
	then, err := s.TryNameRule(cmp.Or(tried, p.Rule), paths)
	if err != nil { // its words are for people: what was typed is no rule
		p.Problem, then = err.Error(), make([]string, len(paths))
	}
	known, err := s.Store.KnownCodes(ctx, append(now, then...))
	if err != nil {
		return p, err
	}
	for i, path := range paths {
		p.Rows = append(p.Rows, web.NameRow{
			Path: path, Now: web.FoundCode{Code: now[i], Known: known[now[i]]}, Then: web.FoundCode{Code: then[i], Known: known[then[i]]},
		})
	}
	return p, nil
}
