package review

import (
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
	return s.roundPage(c, s.roundFilter(c.Request.URL.Query()), "")
}

// roundQuery is the page of the round that a filter names.
func (s *Review) roundQuery(f web.RoundFilter) store.RoundQuery {
	q := store.RoundQuery{
		Flag: f.Flag, Text: f.Text, Now: s.Now().In(s.Zone),
		Offset: (max(f.Page, 1) - 1) * roundPageSize, Limit: roundPageSize,
	}
	if f.Tier != "" {
		q.Tiers = []wear.Tier{f.Tier}
	}
	return q
}

// roundPage is the round; problem says why the last press did nothing.
func (s *Review) roundPage(c *gin.Context, f web.RoundFilter, problem string) (web.Page, error) {
	r, err := s.Store.Round(c.Request.Context(), s.roundQuery(f))
	if err != nil {
		return nil, err
	}
	p := web.RoundPage{
		Layout: s.Layout(c), Filter: f, Matching: r.Matching, Total: r.Total,
		PerTier: r.PerTier, PerFlag: r.PerFlag, Kinds: r.Kinds, PageSize: roundPageSize, Problem: problem,
	}
	p.Version = r.Version // of what is shown, not of what came since
	for _, row := range r.Rows {
		p.Rows = append(p.Rows, web.RoundRow{
			Rank: row.Rank, WearID: row.WearID, Patient: view.Patient(row.Patient), SensorKind: row.SensorKind,
			Start: row.Start, End: row.End, ReceivedAt: row.ReceivedAt, DueAt: row.DueAt,
			Headline: row.Headline, Confidence: row.Confidence, Unread: row.Unread, Priority: row.Priority, Flags: row.Flags, Days: row.Days,
			InDoubt: row.InDoubt, Attempts: row.Attempts, NextTry: row.NextTry, Handed: s.Handed(row.HandedTo, row.HandedDue, row.HandedWhy),
			Claim: web.Claim{By: row.ClaimedBy.Name, Mine: row.ClaimedBy.ID != 0 && row.ClaimedBy.ID == door.Me(c), Until: row.ClaimedUntil},
		})
	}
	if c.GetHeader("X-Fragment") == "rows" {
		return web.RoundRows{RoundPage: p}, nil
	}
	if p.Saved, err = s.savedFilters(c); err != nil {
		return nil, err
	}
	return p, nil
}
