package review

import (
	"context"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/store"
	"wearround/web"
)

// TakeWearBack takes back what a person added to a wear: an event, or a word on
// a stretch.
func (s *Review) TakeWearBack(c *gin.Context) (web.Page, error) {
	t, wrong := web.ParseTakeBack(c.Request.PostForm)
	return s.addTo(c, t.Task(), func(w store.Wear, _ *time.Location) (act.Addition, []web.FieldError) {
		switch t.What {
		case web.TakeEvent:
			return s.WithdrawEvent(w.ID, t.ID, t.Reason), wrong
		case web.TakeOverrule:
			return s.WithdrawOverride(w.ID, t.ID, t.Reason), wrong
		}
		return func(context.Context, store.Actor) error { return door.ErrNoPage }, wrong
	})
}

// Reopen puts a wear that has an outcome back on the round.
func (s *Review) Reopen(c *gin.Context) (web.Page, error) {
	reason, wrong := web.ParseReason(c.Request.PostForm)
	return s.onWear(c, "reopen", wrong, func(id int64) error {
		return s.Store.Reopen(c.Request.Context(), door.Actor(c), id, reason)
	})
}
