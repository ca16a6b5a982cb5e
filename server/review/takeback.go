package review

import (
	"context"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// TakeWearBack takes back what a person added to a wear: an event, or a word on
// a stretch.
func (s *Review) TakeWearBack(c *gin.Context) (web.Page, error) {
	t, wrong := form.ParseTakeBack(c.Request.PostForm)
	return s.addTo(c, t.Task(), func(w store.Wear, _ *time.Location) (act.Addition, []form.FieldError) {
		switch t.What {
		case form.TakeEvent:
			return s.WithdrawEvent(w.ID, t.ID, t.Reason), wrong
		case form.TakeAnswer:
			return s.WithdrawAnswer(w.ID, t.ID, time.Unix(t.Asked, 0), t.Reason), wrong
		case form.TakeOverrule:
			return s.WithdrawOverride(w.ID, t.ID, t.Reason), wrong
		case form.TakeRead:
			return func(ctx context.Context, a store.Actor) error { return s.Store.WithdrawRead(ctx, a, t.ID, t.Reason) }, wrong
		case form.TakeRedFlag:
			return func(ctx context.Context, a store.Actor) error { return s.Store.WithdrawRedFlag(ctx, a, t.ID, t.Reason) }, wrong
		}
		return func(context.Context, store.Actor) error { return door.ErrNoPage }, wrong
	})
}

// Reopen puts a wear that has an outcome back on the round.
func (s *Review) Reopen(c *gin.Context) (web.Page, error) {
	reason, wrong := form.ParseReason(c.Request.PostForm)
	return s.onWear(c, "reopen", wrong, func(id int64) error {
		return s.Store.Reopen(c.Request.Context(), door.Actor(c), id, reason)
	})
}
