package server

import (
	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

// roundPageSize is how many wears a page of the round shows.
const roundPageSize = 50

// round is the ranked list. With the header "X-Fragment: rows" it gives only
// the part that an open page swaps when the data changed.
func (s *Server) round(c *gin.Context) (web.Page, error) {
	f := web.ParseRoundFilter(c.Request.URL.Query())
	q := store.RoundQuery{
		Flag: f.Flag, Text: f.Text, Now: s.Now(),
		Offset: (max(f.Page, 1) - 1) * roundPageSize, Limit: roundPageSize,
	}
	if f.Tier != "" {
		q.Tiers = []wear.Tier{f.Tier}
	}
	r, err := s.Store.Round(c.Request.Context(), q)
	if err != nil {
		return nil, err
	}
	p := web.RoundPage{
		Layout: s.layout(c), Filter: f, Matching: r.Matching, Total: r.Total,
		PerTier: r.PerTier, PerFlag: r.PerFlag, Kinds: r.Kinds, PageSize: roundPageSize,
	}
	p.Version = r.Version // of what is shown, not of what came since
	for _, row := range r.Rows {
		p.Rows = append(p.Rows, web.RoundRow{
			Rank: row.Rank, WearID: row.WearID, Patient: patient(row.Patient), SensorKind: row.SensorKind,
			Start: row.Start, End: row.End, ReceivedAt: row.ReceivedAt, DueAt: row.DueAt,
			Headline: row.Headline, Confidence: row.Confidence, Priority: row.Priority, Flags: row.Flags, Days: row.Days,
		})
	}
	if c.GetHeader("X-Fragment") == "rows" {
		return web.RoundRows{RoundPage: p}, nil
	}
	return p, nil
}

func patient(p store.Patient) web.Patient {
	return web.Patient{Code: p.Code, Name: p.Name, BirthDate: p.BirthDate}
}
