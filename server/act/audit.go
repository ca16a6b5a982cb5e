package act

import (
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

// AuditFilter reads the days of an audit, or says what is wrong with them.
func (s *Acts) AuditFilter(from, to string) (f web.AuditFilter, wrong string) {
	return web.ParseAuditFilter(from, to, s.Now().In(s.Zone))
}

// EndOf reads a day that is over and gives its last second: what was known then
// is what an audit as of that day counts. Without a day it gives the zero time,
// which stands for now.
func (s *Acts) EndOf(day string) (at time.Time, wrong string) {
	if day == "" {
		return at, ""
	}
	t, err := time.ParseInLocation(time.DateOnly, day, s.Zone)
	if at = t.AddDate(0, 0, 1).Add(-time.Second); err != nil || !at.Before(s.Now()) {
		return time.Time{}, "An audit can be had as of a day that is over: yesterday or an earlier one."
	}
	return at, ""
}

// ViewAudit gives the numbers of periods, as they are now or were at a time that
// is over, and logs that somebody looked.
func (s *Acts) ViewAudit(c *gin.Context, at time.Time, periods ...web.AuditFilter) ([]wear.Audit, error) {
	ctx := c.Request.Context()
	if err := s.Store.RecordView(ctx, door.Actor(c), "audit", 0); err != nil {
		return nil, err
	}
	spans := door.Each(periods, func(f web.AuditFilter) store.Span {
		from, to := f.Days(s.Zone)
		return store.Span{From: from, To: to}
	})
	if at.IsZero() {
		return s.Store.YearAudit(ctx, s.Now(), s.Zone, spans...)
	}
	return s.Store.AuditAsOf(ctx, at, s.Zone, spans...)
}
