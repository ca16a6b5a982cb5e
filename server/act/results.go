package act

import (
	"context"

	"wearround/server/door"
	"wearround/store"
	"wearround/web/form"
)

// NewResult is a laboratory result as typed.
func (s *Acts) NewResult(who store.Patient, r form.Result) store.NewResult {
	return store.NewResult{PatientID: who.ID, Kind: store.ResultKind(r.Test), Value: r.Value, Unit: r.Unit, TakenAt: r.TakenAt, Note: r.Note}
}

// SaveResult records a result.
func (s *Acts) SaveResult(ctx context.Context, a store.Actor, n store.NewResult) (int64, error) {
	return s.Store.AddResult(ctx, a, n)
}

// WithdrawResult takes a laboratory result of a patient back.
func (s *Acts) WithdrawResult(ctx context.Context, a store.Actor, patientID, id int64, reason string) error {
	all, err := s.Store.Results(ctx, patientID)
	if err != nil {
		return err
	}
	if !hasID(all, id, func(r store.Result) int64 { return r.ID }) {
		return door.ErrNoPage
	}
	return s.Store.WithdrawResult(ctx, a, id, reason)
}
