package act

import (
	"context"
	"errors"

	"wearround/store"
	"wearround/worker/wear"
)

// Addition is what a form adds to a wear.
type Addition func(ctx context.Context, a store.Actor) error

// Reanalyse makes the report of a wear anew from everything that is known of it
// now, so that whoever added something sees at once what it changed. Somebody
// else, or the worker, may change the wear meanwhile: then it begins again.
func (s *Acts) Reanalyse(ctx context.Context, a store.Actor, wearID int64) error {
	const tries = 5
	for range tries {
		in, err := s.Store.WearInputs(ctx, wearID)
		if err != nil {
			return err
		}
		_, _, err = s.Store.Reanalysed(ctx, a, in.WearID, in.Version, wear.Analyse(in.Input(s.Zone, s.Protocol)))
		if !errors.Is(err, store.ErrStale) {
			return err
		}
	}
	// What was added is saved, and the worker makes the report within seconds.
	s.Log.Warn("report not made anew at once: the wear keeps changing", "wear", wearID)
	s.Worker.Look()
	return nil
}

// ReanalyseOpen makes the reports of a patient's wears on the round anew.
func (s *Acts) ReanalyseOpen(ctx context.Context, a store.Actor, patientID int64) error {
	wears, err := s.Store.WearsOf(ctx, patientID)
	if err != nil {
		return err
	}
	for _, w := range wears {
		if w.Open {
			if err := s.Reanalyse(ctx, a, w.ID); err != nil {
				return err
			}
		}
	}
	return nil
}
