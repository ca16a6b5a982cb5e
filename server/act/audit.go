package act

import (
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

// ViewAudit gives the numbers of periods and logs that somebody looked.
func (s *Acts) ViewAudit(c *gin.Context, periods ...web.AuditFilter) ([]wear.Audit, error) {
	ctx := c.Request.Context()
	if err := s.Store.RecordView(ctx, door.Actor(c), "audit", 0); err != nil {
		return nil, err
	}
	return s.Store.YearAudit(ctx, s.Now(), s.Zone, door.Each(periods, func(f web.AuditFilter) store.Span {
		from, to := f.Days(s.Zone)
		return store.Span{From: from, To: to}
	})...)
}
