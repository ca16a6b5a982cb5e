package storetest

import (
	"context"
	"testing"

	"wearround/store"
)

// Seen is the evidence of a wear as somebody sees it who looks at it now.
func Seen(t testing.TB, s *store.Store, wearID int64) int64 {
	t.Helper()
	w, err := s.Wear(context.Background(), wearID)
	if err != nil {
		return 0 // there is none to be seen
	}
	return w.Evidence
}

// Looking is a store whose users look at a wear before they act on it, where
// they do not say what they saw.
type Looking struct {
	*store.Store
	T testing.TB
}

// RecordOutcome is that of the store.
func (l Looking) RecordOutcome(ctx context.Context, a store.Actor, o store.NewOutcome) (store.WearOutcome, error) {
	if o.Seen == 0 {
		o.Seen = Seen(l.T, l.Store, o.WearID)
	}
	return l.Store.RecordOutcome(ctx, a, o)
}

// CorrectOutcome is that of the store.
func (l Looking) CorrectOutcome(ctx context.Context, a store.Actor, id int64, o store.NewOutcome) (store.WearOutcome, error) {
	if old, err := l.WearOutcome(ctx, id); err == nil && o.Seen == 0 {
		o.Seen = Seen(l.T, l.Store, old.WearID)
	}
	return l.Store.CorrectOutcome(ctx, a, id, o)
}

// OpenLetter is that of the store.
func (l Looking) OpenLetter(ctx context.Context, a store.Actor, n store.NewLetter) (int64, error) {
	if n.WearID != 0 && n.Seen == 0 {
		n.Seen = Seen(l.T, l.Store, n.WearID)
	}
	if n.Named == "" {
		n.Named = Named(l.T, l.Store, n.PatientID)
	}
	return l.Store.OpenLetter(ctx, a, n)
}

// Named is how a letter to a patient names them now.
func Named(t testing.TB, s *store.Store, patient int64) string {
	t.Helper()
	p, err := s.Patient(context.Background(), patient)
	if err != nil {
		t.Fatal(err)
	}
	return p.Named()
}
