package server

import (
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// logPageSize is how many lines a page of the log shows.
const logPageSize = 100

// log shows who did and saw what, and whether the log holds together.
func (s *Server) log(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	f := web.ParseLogFilter(c.Request.URL.Query())
	q := store.AuditQuery{UserID: f.Person, Action: f.Action, From: s.dayOf(f.From), Before: f.Before, Limit: logPageSize + 1}
	if to := s.dayOf(f.To); !to.IsZero() {
		q.To = to.AddDate(0, 0, 1)
	}
	rows, err := s.Store.AuditLog(ctx, q)
	if err != nil {
		return nil, err
	}
	users, err := s.Store.Users(ctx)
	if err != nil {
		return nil, err
	}
	line, err := s.Store.Daily(ctx, s.Now())
	if err != nil {
		return nil, err
	}
	p := web.LogPage{Layout: s.layout(c), Filter: f, More: len(rows) > logPageSize}
	for _, r := range rows[:min(len(rows), logPageSize)] {
		p.Rows = append(p.Rows, web.LogRow{
			Seq: r.Seq, At: r.At, By: r.Actor.Name, Role: r.Role, Action: r.Action, Object: r.Object, ObjectID: r.ObjectID,
			Outcome: r.Outcome, Reason: r.Reason, Request: r.Request,
		})
	}
	for _, u := range users {
		p.People = append(p.People, web.Choice{Words: u.Name, Value: strconv.FormatInt(u.ID, 10), Current: u.ID == f.Person})
	}
	if k := line.Chain; k != nil {
		p.Chain = web.Chain{CheckedAt: k.At, Rows: k.Rows}
		if !k.OK() {
			p.Chain.Problem = chainWords(k)
		}
	}
	return p, nil
}

// dayOf is midnight of a day on the practice's clock, or the zero time.
func (s *Server) dayOf(text string) time.Time {
	t, err := time.ParseInLocation(time.DateOnly, text, s.Zone)
	if err != nil {
		return time.Time{}
	}
	return t
}
