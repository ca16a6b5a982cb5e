package review

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// ClaimNext claims the first wear of the round, as it is filtered, that nobody
// has and opens it. Somebody else may press at the same moment: then it is the
// next one.
func (s *Review) ClaimNext(c *gin.Context) (web.Page, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	f := s.roundFilter(c.Request.PostForm)
	for {
		id, err := s.nextWear(c, a, f)
		if err != nil {
			return nil, err
		}
		if id == 0 {
			return s.roundPage(c, f, "Every wear that is shown here is with somebody, or is to be tried again later.")
		}
		if _, err = s.Store.Claim(ctx, a, id); err == nil {
			return door.GoTo(c, door.WearAddress(id))
		}
		if store.CodeOf(err) != store.Conflict { // taken a moment ago: it is not offered again
			return nil, err
		}
	}
}

// nextWear is the first wear to be claimed: of the whole round, or of what a
// filter leaves of it.
func (s *Review) nextWear(c *gin.Context, a store.Actor, f web.RoundFilter) (int64, error) {
	ctx := c.Request.Context()
	f.Page = 0
	if f == (web.RoundFilter{}) {
		return s.Store.NextWear(ctx, a, 0)
	}
	q := s.roundQuery(c, f)
	for q.Limit = 200; ; q.Offset += q.Limit {
		r, err := s.Store.Round(ctx, q)
		if err != nil || len(r.Rows) == 0 {
			return 0, err
		}
		for _, row := range r.Rows {
			taken := row.ClaimedBy.ID != 0 && row.ClaimedBy.ID != a.UserID
			if !taken && !row.NextTry.After(q.Now) {
				return row.WearID, nil
			}
		}
	}
}

// Claim claims one wear. Whoever comes second is told who has it.
func (s *Review) Claim(c *gin.Context) (web.Page, error) {
	return s.onWear(c, "claim", nil, func(id int64) error {
		_, err := s.Store.Claim(c.Request.Context(), door.Actor(c), id)
		return err
	})
}

// Renew keeps a claim while its page is in use. The script of an open page asks
// for no page in return.
func (s *Review) Renew(c *gin.Context) (web.Page, error) {
	change := func(id int64) error {
		_, err := s.Store.RenewClaim(c.Request.Context(), door.Actor(c), id)
		return err
	}
	if !strings.Contains(c.GetHeader("Accept"), "json") {
		return s.onWear(c, "renew", nil, change)
	}
	id, err := door.PathID(c)
	if err == nil {
		err = change(id)
	}
	if err == nil {
		c.Status(http.StatusNoContent)
	}
	return nil, err
}

// Release gives a wear back to the round.
func (s *Review) Release(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	if err := s.Store.Release(c.Request.Context(), door.Actor(c), id); err != nil {
		return nil, err
	}
	return door.GoTo(c, s.lastFilter(c).Address())
}

// HandOver gives a wear to people of another role.
func (s *Review) HandOver(c *gin.Context) (web.Page, error) {
	h, wrong := form.ParseHandover(c.Request.PostForm, s.Zone)
	return s.onWear(c, "hand-over", wrong, func(id int64) error {
		_, err := s.Store.HandOver(c.Request.Context(), door.Actor(c), id, store.NewHandover{To: store.Role(h.To), Reason: h.Reason, DueAt: h.By})
		return err
	})
}

// TakeOver takes a wear from whoever has it.
func (s *Review) TakeOver(c *gin.Context) (web.Page, error) {
	reason, wrong := form.ParseReason(c.Request.PostForm)
	return s.onWear(c, "take-over", wrong, func(id int64) error {
		_, err := s.Store.TakeOver(c.Request.Context(), door.Actor(c), id, reason)
		return err
	})
}
