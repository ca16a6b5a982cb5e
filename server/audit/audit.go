package audit

import (
	"net/http"
	"net/url"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// Audit shows what was found in a period and what came of it.
func (s *Audit) Audit(c *gin.Context) (web.Page, error) {
	p, wrong, err := s.auditPage(c, c.Request.URL.Query())
	p.Problem = wrong
	return p, err
}

// AuditList gives the same tables to pass on.
func (s *Audit) AuditList(c *gin.Context) (web.Page, error) {
	p, wrong, err := s.auditPage(c, c.Request.URL.Query())
	if wrong != "" {
		return nil, door.Invalid(wrong)
	}
	if err != nil {
		return nil, err
	}
	c.Header("Content-Disposition", `attachment; filename="audit-`+p.Filter.From+`-`+p.Filter.To+`.csv"`)
	c.Data(http.StatusOK, "text/csv; charset=utf-8; header=present", p.List())
	return nil, nil
}

// auditPage is the audit of the days that v asks for: from, to and as_of.
func (s *Audit) auditPage(c *gin.Context, v url.Values) (p web.AuditPage, wrong string, err error) {
	f, wrong := s.AuditFilter(v.Get("from"), v.Get("to"))
	at, late := s.EndOf(v.Get("as_of"))
	if wrong == "" {
		wrong = late
	}
	p = web.AuditPage{Layout: s.Layout(c), Filter: f}
	if !at.IsZero() {
		p.AsOf = v.Get("as_of")
	}
	both, err := s.ViewAudit(c, at, f, f.Before())
	if err != nil {
		return p, wrong, err
	}
	p.Found, p.Before = both[0], both[1]
	list, err := s.Store.KeptAudits(c.Request.Context())
	for i := range list {
		p.KeptAudits = append(p.KeptAudits, keptAudit(&list[i]))
	}
	return p, wrong, err
}

func keptAudit(k *store.KeptAudit) web.KeptAudit {
	return web.KeptAudit{ID: k.ID, From: k.From, To: k.To, AsOf: k.AsOf, Engine: k.Engine, Protocol: k.Protocol, Change: k.Change, By: k.By.Name, At: k.At}
}

// Keep closes an audit: what it says stays.
func (s *Audit) Keep(c *gin.Context) (web.Page, error) {
	v := c.Request.PostForm
	p, wrong, err := s.auditPage(c, v)
	if err != nil {
		return nil, err
	}
	if wrong == "" && p.AsOf == "" {
		wrong = "Choose first as of which day it is kept."
	}
	var id int64
	if wrong == "" {
		from, to := p.Filter.Days(s.Zone)
		at, _ := s.EndOf(p.AsOf)
		id, err = s.Store.KeepAudit(c.Request.Context(), door.Actor(c), store.Span{From: from, To: to}, at, s.Zone, v.Get("change"))
		if said := door.Said(err); said != nil {
			wrong = said[0].Text
		} else if err != nil {
			return nil, err
		}
	}
	if wrong != "" {
		p.Form = door.Form(c, []form.FieldError{{Text: wrong}})
		return door.Again(p), nil
	}
	return door.GoTo(c, web.KeptAudit{ID: id}.Address())
}

// Kept shows an audit as it was closed, and where a count of today differs.
func (s *Audit) Kept(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	k, err := s.Store.KeptAudit(ctx, id)
	if err != nil {
		return nil, err
	}
	day := func(t time.Time) string { return t.In(s.Zone).Format(time.DateOnly) }
	shown := keptAudit(&k)
	p := web.AuditPage{Layout: s.Layout(c), Filter: web.AuditFilter{From: day(k.From), To: day(k.To.Add(-time.Second))}, AsOf: day(k.AsOf), Kept: &shown}
	now, err := s.ViewAudit(c, time.Time{}, p.Filter)
	if err != nil {
		return nil, err
	}
	if p.Found, err = k.Audit(); err != nil {
		return nil, err
	}
	list, err := k.Differences(now[0])
	for _, d := range list {
		p.Differences = append(p.Differences, web.AuditDifference(d))
	}
	return p, err
}
