package audit

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/web"
)

// Audit shows what was found in a period and what came of it.
func (s *Audit) Audit(c *gin.Context) (web.Page, error) {
	f, wrong := s.AuditFilter(c.Query("from"), c.Query("to"))
	p, err := s.auditPage(c, f)
	p.Problem = wrong
	return p, err
}

// AuditList gives the same tables to pass on.
func (s *Audit) AuditList(c *gin.Context) (web.Page, error) {
	f, wrong := s.AuditFilter(c.Query("from"), c.Query("to"))
	if wrong != "" {
		return nil, door.Invalid(wrong)
	}
	p, err := s.auditPage(c, f)
	if err != nil {
		return nil, err
	}
	c.Header("Content-Disposition", `attachment; filename="audit-`+f.From+`-`+f.To+`.csv"`)
	c.Data(http.StatusOK, "text/csv; charset=utf-8; header=present", p.List())
	return nil, nil
}

func (s *Audit) auditPage(c *gin.Context, f web.AuditFilter) (web.AuditPage, error) {
	p := web.AuditPage{Layout: s.Layout(c), Filter: f}
	both, err := s.ViewAudit(c, f, f.Before())
	if err == nil {
		p.Found, p.Before = both[0], both[1]
	}
	return p, err
}
