package view

import (
	"context"
	"sync"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// normsKept is how long the measures of a sensor kind are good for: percentiles
// move slowly and decide nothing, and reading those of 10,000 wears takes long
// beside a page.
const normsKept = 10 * time.Minute

// norms are the practice's own wears of each sensor kind, as last read.
type norms struct {
	mu   sync.Mutex
	kind map[string]keptNorms
}

type keptNorms struct {
	norms *wear.Norms // nil where there are too few wears
	until time.Time
	by    *wear.Protocol
}

// Among sets a wear among the practice's wears of its sensor kind; nil where
// there are too few, or the kind is not set.
func (s *View) Among(ctx context.Context, w store.Wear) (*wear.WithinKind, error) {
	if w.SensorKind == "" {
		return nil, nil
	}
	s.norms.mu.Lock()
	defer s.norms.mu.Unlock()
	kept, by := s.norms.kind[w.SensorKind], s.Protocol()
	if kept.by != by || !s.Now().Before(kept.until) {
		list, err := s.Store.KindMeasures(ctx, w.SensorKind)
		if err != nil {
			return nil, err
		}
		kept = keptNorms{wear.NewNorms(w.SensorKind, list, by), s.Now().Add(normsKept), by}
		s.norms.kind[w.SensorKind] = kept
	}
	return kept.norms.Standing(w.SensorKind, &w.Report.Metrics), nil
}
