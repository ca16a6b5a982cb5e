package audit

import (
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web"
)

// logPageSize is how many lines a page of the log shows.
const logPageSize = 100

// LogPage shows who did and saw what, and whether the log holds together.
func (s *Audit) LogPage(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	f := web.ParseLogFilter(c.Request.URL.Query())
	q := store.LogQuery{UserID: f.Person, Action: f.Action, From: s.dayOf(f.From), Before: f.Before, Limit: logPageSize + 1}
	if to := s.dayOf(f.To); !to.IsZero() {
		q.To = to.AddDate(0, 0, 1)
	}
	rows, err := s.Store.LogRows(ctx, q)
	if err != nil {
		return nil, err
	}
	users, err := s.Store.Users(ctx)
	if err != nil {
		return nil, err
	}
	line, err := s.Store.Daily(ctx, s.Now().In(s.Zone))
	if err != nil {
		return nil, err
	}
	actions, err := s.Store.LogActions(ctx)
	if err != nil {
		return nil, err
	}
	head, err := s.Store.LogHead(ctx)
	if err != nil {
		return nil, err
	}
	p := web.LogPage{Layout: s.Layout(c), Filter: f, More: len(rows) > logPageSize, Total: int(head.Seq)}
	for _, r := range rows[:min(len(rows), logPageSize)] {
		p.Rows = append(p.Rows, web.LogRow{
			Seq: r.Seq, At: r.At, By: r.Actor.Name, Role: r.Role, Action: r.Action, Object: r.Object, ObjectID: r.ObjectID,
			Ended: r.Ended, Reason: r.Reason, Request: r.Request,
		})
	}
	p.People = append(p.People, web.Choice{Words: "anyone of the practice", Value: strconv.Itoa(web.AnyPerson), Current: f.Person == web.AnyPerson})
	for _, u := range users {
		p.People = append(p.People, web.Choice{Words: u.Name, Value: strconv.FormatInt(u.ID, 10), Current: u.ID == f.Person})
	}
	for _, a := range actions {
		p.Actions = append(p.Actions, web.Choice{Words: strings.ReplaceAll(a, "_", " "), Value: a, Current: a == f.Action})
	}
	p.Chain = chain(line.Chain)
	return p, nil
}

// chain is the state of the log as it was found last; nil is not yet.
func chain(k *store.LogCheck) web.Chain {
	if k == nil {
		return web.Chain{}
	}
	out := web.Chain{CheckedAt: k.At, Rows: k.Rows}
	if !k.OK() {
		out.Problem = door.ChainWords(k)
	}
	return out
}

// dayOf is midnight of a day on the practice's clock, or the zero time.
func (s *Audit) dayOf(text string) time.Time {
	t, err := time.ParseInLocation(time.DateOnly, text, s.Zone)
	if err != nil {
		return time.Time{}
	}
	return t
}
