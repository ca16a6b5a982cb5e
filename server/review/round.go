package review

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

// roundPageSize is how many wears a page of the round shows.
const roundPageSize = 50

// Round is the ranked list. With the header "X-Fragment: rows" it gives only
// the part that an open page swaps when the data changed.
func (s *Review) Round(c *gin.Context) (web.Page, error) {
	f := s.roundFilter(c.Request.URL.Query())
	s.keepLast(c, f)
	return s.roundPage(c, f, "")
}

// lastCookie holds the filter of the round that its reader looked at last, so
// that the next wear and the way back are those of the same list.
const lastCookie = "f"

// keepLast keeps a filter for whoever reads by it, and for nobody else at the
// same browser.
func (s *Review) keepLast(c *gin.Context, f web.RoundFilter) {
	f.Page = 0
	_, query, _ := strings.Cut(f.Address(), "?")
	value := ""
	if query != "" {
		value = door.IDText(door.Me(c)) + "&" + query
	}
	if value != s.CookieValue(c, lastCookie) {
		s.SetCookie(c, lastCookie, value)
	}
}

// lastFilter is the filter that the reader looked at last.
func (s *Review) lastFilter(c *gin.Context) web.RoundFilter {
	who, query, _ := strings.Cut(s.CookieValue(c, lastCookie), "&")
	q, err := url.ParseQuery(query)
	if err != nil || who != door.IDText(door.Me(c)) {
		return web.RoundFilter{}
	}
	f := s.roundFilter(q)
	f.Page = 0
	return f
}

// RoundList is all that a filter leaves of the round, as a list to take along.
func (s *Review) RoundList(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	p := web.RoundPage{Layout: s.Layout(c), Filter: s.roundFilter(c.Request.URL.Query())}
	q := s.roundQuery(c, p.Filter)
	for q.Offset, q.Limit = 0, 200; ; q.Offset += q.Limit {
		r, err := s.Store.Round(ctx, q)
		if err != nil {
			return nil, err
		}
		for _, row := range r.Rows {
			line := s.roundRow(c, row)
			rec, err := s.Store.PatientRecord(ctx, row.Patient.ID)
			if err != nil {
				return nil, err
			}
			line.Phone = rec.Contact.Telephone
			p.Rows = append(p.Rows, line)
		}
		if len(r.Rows) < q.Limit {
			break
		}
	}
	if err := s.Store.RecordView(ctx, door.Actor(c), "round", 0); err != nil { // it leaves the house
		return nil, err
	}
	c.Header("Content-Disposition", `attachment; filename="round-`+s.Now().In(s.Zone).Format("2006-01-02")+`.csv"`)
	c.Data(http.StatusOK, "text/csv; charset=utf-8; header=present", p.List())
	return nil, nil
}

// roundQuery is the page of the round that a filter names.
func (s *Review) roundQuery(c *gin.Context, f web.RoundFilter) store.RoundQuery {
	q := store.RoundQuery{
		Flag: f.Flag, Text: f.Text, View: store.RoundView(f.View), Sort: store.RoundSort(f.Sort), Now: s.Now().In(s.Zone),
		Offset: (max(f.Page, 1) - 1) * roundPageSize, Limit: roundPageSize,
	}
	if v := door.VisitorOf(c); v != nil {
		q.For, q.Roles = v.User.ID, v.User.Roles
	}
	if f.Tier != "" {
		q.Tiers = []wear.Tier{f.Tier}
	}
	return q
}

// roundPage is the round; problem says why the last press did nothing.
func (s *Review) roundPage(c *gin.Context, f web.RoundFilter, problem string) (web.Page, error) {
	r, err := s.Store.Round(c.Request.Context(), s.roundQuery(c, f))
	if err != nil {
		return nil, err
	}
	p := web.RoundPage{
		Layout: s.Layout(c), Filter: f, Matching: r.Matching, Total: r.Total,
		PerTier: r.PerTier, PerFlag: r.PerFlag, PerView: map[string]int{}, Kinds: r.Kinds, PageSize: roundPageSize, Problem: problem,
		Keep: s.rows.Get,
	}
	p.Version = r.Version // of what is shown, not of what came since
	for _, row := range r.Rows {
		p.Rows = append(p.Rows, s.roundRow(c, row))
	}
	for v, n := range r.PerView {
		p.PerView[string(v)] = n
	}
	if c.GetHeader("X-Fragment") == "rows" {
		return web.RoundRows{RoundPage: p}, nil
	}
	if p.Saved, err = s.savedFilters(c); err != nil {
		return nil, err
	}
	return p, nil
}

func (s *Review) roundRow(c *gin.Context, row store.RoundRow) web.RoundRow {
	return web.RoundRow{
		Rank: row.Rank, Version: row.Version, WearID: row.WearID, Patient: view.Patient(row.Patient), SensorKind: row.SensorKind,
		Start: row.Start, End: row.End, ReceivedAt: row.ReceivedAt, DueAt: row.DueAt,
		Headline: row.Headline, Confidence: row.Confidence, Unread: row.Unread, Priority: row.Priority, Flags: row.Flags, Days: row.Days,
		InDoubt: row.InDoubt, Attempts: row.Attempts, NextTry: row.NextTry, Handed: s.Handed(row.HandedTo, row.HandedDue, row.HandedWhy),
		Claim: web.Claim{By: row.ClaimedBy.Name, Mine: row.ClaimedBy.ID != 0 && row.ClaimedBy.ID == door.Me(c), Until: row.ClaimedUntil},
	}
}
