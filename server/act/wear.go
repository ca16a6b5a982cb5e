package act

import (
	"context"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
)

// SetZone says in which zone the wearer's clock was, and gives how many wears
// that concerns.
func (s *Acts) SetZone(c *gin.Context, wearID int64, name string) (wears int, err error) {
	wears, err = s.Store.SetZone(c.Request.Context(), door.Actor(c), wearID, name)
	if err == nil {
		s.Worker.Look()
	}
	return wears, err
}

// NewOutcome is an outcome as the store takes it, with what the protocol wants.
func (s *Acts) NewOutcome(wearID int64, kind, reason string, recall time.Time, seen int64) store.NewOutcome {
	return store.NewOutcome{Seen: seen, WearID: wearID, Kind: store.OutcomeKind(kind), Reason: reason, Recall: recall, Attempts: int(s.Protocol().Contact.Attempts)}
}

// WithdrawEvent takes an event that a person added to a wear back.
func (s *Acts) WithdrawEvent(wearID, id int64, reason string) Addition {
	return func(ctx context.Context, a store.Actor) error {
		v, err := s.Store.Review(ctx, wearID)
		if err != nil {
			return err
		}
		if !hasID(v.Events, id, func(e store.AddedEvent) int64 { return e.ID }) {
			return door.ErrNoPage
		}
		return s.Store.WithdrawEvent(ctx, a, id, reason)
	}
}

// WithdrawAnswer takes back what a patient said on a call about a wear, by the
// moment that was asked about.
func (s *Acts) WithdrawAnswer(wearID, callID int64, asked time.Time, reason string) Addition {
	return func(ctx context.Context, a store.Actor) error {
		v, err := s.Store.Review(ctx, wearID)
		if err != nil {
			return err
		}
		if !hasID(v.Calls, callID, func(x store.Call) int64 { return x.ID }) {
			return door.ErrNoPage
		}
		return s.Store.WithdrawAnswer(ctx, a, callID, asked.Unix(), reason)
	}
}

// WithdrawOverride takes a person's word on a stretch of a wear back.
func (s *Acts) WithdrawOverride(wearID, id int64, reason string) Addition {
	return func(ctx context.Context, a store.Actor) error {
		v, err := s.Store.Review(ctx, wearID)
		if err != nil {
			return err
		}
		if !hasID(v.Overrides, id, func(o store.Override) int64 { return o.ID }) {
			return door.ErrNoPage
		}
		return s.Store.WithdrawOverride(ctx, a, id, reason)
	}
}

// hasID reports whether a thing is one of those that the address says it
// belongs to.
func hasID[T any](rows []T, id int64, of func(T) int64) bool {
	for _, r := range rows {
		if of(r) == id {
			return true
		}
	}
	return false
}
