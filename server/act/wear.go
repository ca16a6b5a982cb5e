package act

import (
	"context"
	"fmt"
	"hash/fnv"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/worker/wear"
)

// SaveCall saves what a call brought: answers about episodes, other things
// that were told, and a note. Each may be missing.
func (s *Acts) SaveCall(ctx context.Context, a store.Actor, wearID int64, answers []store.CallAnswer, others []wear.Event, note string) error {
	if len(answers) > 0 {
		if _, err := s.Store.RecordCall(ctx, a, wearID, answers); err != nil {
			return err
		}
	}
	if len(others) > 0 {
		if err := s.Store.AddEvents(ctx, a, wearID, others); err != nil {
			return err
		}
	}
	if note != "" {
		if _, err := s.Store.AddNote(ctx, a, wearID, note); err != nil {
			return err
		}
	}
	return nil
}

// SetZone says in which zone the wearer's clock was, and gives how many wears
// that concerns.
func (s *Acts) SetZone(c *gin.Context, wearID int64, name string) (wears int, err error) {
	wears, err = s.Store.SetZone(c.Request.Context(), door.Actor(c), wearID, name)
	if err == nil {
		s.Worker.Look()
	}
	return wears, err
}

// Evidence stands for what a report says. A form about a wear carries it, so
// that nobody decides on what is no longer so.
func Evidence(r *wear.Report) int64 {
	h := fnv.New64a()
	fmt.Fprint(h, r.Engine, r.Protocol, r.Start.Unix(), r.End.Unix(), r.Readings, r.Believed, r.Headline, r.Priority.Tier, r.Priority.Score)
	for _, f := range r.Flags {
		fmt.Fprint(h, f.Code, f.Evidence)
	}
	return int64(h.Sum64() >> 11) // 53 bits: a JSON number holds them exactly
}

// NewOutcome is an outcome as the store takes it, with what the protocol wants.
func (s *Acts) NewOutcome(wearID int64, kind, reason string, recall time.Time) store.NewOutcome {
	return store.NewOutcome{WearID: wearID, Kind: store.OutcomeKind(kind), Reason: reason, Recall: recall, Attempts: int(s.Protocol.Contact.Attempts)}
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
