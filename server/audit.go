package server

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

// audit shows what was found in a period and what came of it.
func (s *Server) audit(c *gin.Context) (web.Page, error) {
	f, wrong := s.auditFilter(c.Query("from"), c.Query("to"))
	p, err := s.auditPage(c, f)
	p.Problem = wrong
	return p, err
}

// auditList gives the same tables to pass on.
func (s *Server) auditList(c *gin.Context) (web.Page, error) {
	f, wrong := s.auditFilter(c.Query("from"), c.Query("to"))
	if wrong != "" {
		return nil, invalid(wrong)
	}
	p, err := s.auditPage(c, f)
	if err != nil {
		return nil, err
	}
	c.Header("Content-Disposition", `attachment; filename="audit-`+f.From+`-`+f.To+`.csv"`)
	c.Data(http.StatusOK, "text/csv; charset=utf-8; header=present", p.List())
	return nil, nil
}

func (s *Server) auditFilter(from, to string) (f web.AuditFilter, wrong string) {
	return web.ParseAuditFilter(from, to, s.Now().In(s.Zone))
}

func (s *Server) auditPage(c *gin.Context, f web.AuditFilter) (web.AuditPage, error) {
	p := web.AuditPage{Layout: s.layout(c), Filter: f}
	both, err := s.viewAudit(c, f, f.Before())
	if err == nil {
		p.Found, p.Before = both[0], both[1]
	}
	return p, err
}

// viewAudit gives the numbers of periods and logs that somebody looked.
func (s *Server) viewAudit(c *gin.Context, periods ...web.AuditFilter) ([]wear.Audit, error) {
	ctx := c.Request.Context()
	if err := s.Store.RecordView(ctx, actor(c), "audit", 0); err != nil {
		return nil, err
	}
	return s.Store.YearAudit(ctx, s.Now(), s.Zone, list(periods, func(f web.AuditFilter) store.Span {
		from, to := f.Days(s.Zone)
		return store.Span{From: from, To: to}
	})...)
}

type auditIn struct {
	From string `query:"from" json:"-" doc:"first day, 2006-01-02; left out with to: this calendar year so far"`
	To   string `query:"to" json:"-" doc:"last day, 2006-01-02; at most five years after the first"`
}

func apiGetAudit(s *Server, c *gin.Context, in auditIn) (wear.Audit, error) {
	f, wrong := s.auditFilter(in.From, in.To)
	if wrong != "" {
		return wear.Audit{}, invalid(wrong)
	}
	found, err := s.viewAudit(c, f)
	if err != nil {
		return wear.Audit{}, err
	}
	return found[0], nil
}
