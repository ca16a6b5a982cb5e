package server

import (
	"context"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// withdrawEvent takes an event that a person added to a wear back.
func (s *Server) withdrawEvent(wearID, id int64, reason string) addition {
	return func(ctx context.Context, a store.Actor) error {
		v, err := s.Store.Review(ctx, wearID)
		if err != nil {
			return err
		}
		if !hasID(v.Events, id, func(e store.AddedEvent) int64 { return e.ID }) {
			return errNoPage
		}
		return s.Store.WithdrawEvent(ctx, a, id, reason)
	}
}

// withdrawOverride takes a person's word on a stretch of a wear back.
func (s *Server) withdrawOverride(wearID, id int64, reason string) addition {
	return func(ctx context.Context, a store.Actor) error {
		v, err := s.Store.Review(ctx, wearID)
		if err != nil {
			return err
		}
		if !hasID(v.Overrides, id, func(o store.Override) int64 { return o.ID }) {
			return errNoPage
		}
		return s.Store.WithdrawOverride(ctx, a, id, reason)
	}
}

// withdrawResult takes a laboratory result of a patient back, and makes the
// reports anew that it was part of.
func (s *Server) withdrawResult(ctx context.Context, a store.Actor, patientID, id int64, reason string) error {
	all, err := s.Store.Results(ctx, patientID)
	if err != nil {
		return err
	}
	if !hasID(all, id, func(r store.Result) int64 { return r.ID }) {
		return errNoPage
	}
	if err := s.Store.WithdrawResult(ctx, a, id, reason); err != nil {
		return err
	}
	return s.reanalyseOpen(ctx, a, patientID)
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

// takeWearBack takes back what a person added to a wear: an event, or a word on
// a stretch.
func (s *Server) takeWearBack(c *gin.Context) (web.Page, error) {
	t, wrong := web.ParseTakeBack(c.Request.PostForm)
	return s.addTo(c, t.Task(), func(w store.Wear, _ *time.Location) (addition, []web.FieldError) {
		switch t.What {
		case web.TakeEvent:
			return s.withdrawEvent(w.ID, t.ID, t.Reason), wrong
		case web.TakeOverrule:
			return s.withdrawOverride(w.ID, t.ID, t.Reason), wrong
		}
		return func(context.Context, store.Actor) error { return errNoPage }, wrong
	})
}

// takePatientBack takes a laboratory result back.
func (s *Server) takePatientBack(c *gin.Context) (web.Page, error) {
	t, wrong := web.ParseTakeBack(c.Request.PostForm)
	return s.onPatient(c, t.Task(), "#results", wrong, func(id int64) error {
		if t.What != web.TakeResult {
			return errNoPage
		}
		return s.withdrawResult(c.Request.Context(), actor(c), id, t.ID, t.Reason)
	})
}

// reopen puts a wear that has an outcome back on the round.
func (s *Server) reopen(c *gin.Context) (web.Page, error) {
	reason, wrong := web.ParseReason(c.Request.PostForm)
	return s.onWear(c, "reopen", wrong, func(id int64) error {
		return s.Store.Reopen(c.Request.Context(), actor(c), id, reason)
	})
}
