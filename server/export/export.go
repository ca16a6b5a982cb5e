// Package export is what leaves the practice in open formats: one wear, all that
// is held of one person, the practice. It reads and formats; who may have it, and
// that it is logged, is the caller's.
package export

import (
	"context"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// Source is where what leaves is read.
type Source struct {
	Store *store.Store
	Zone  *time.Location // of the practice
	Now   func() time.Time

	// Original gives the bytes of a file as it was received; nil leaves them out.
	Original func(sha256 string) ([]byte, error)
}

// Wear is one wear as it leaves.
type Wear struct {
	store.Wear
	Place    *time.Location // of the wearer's clock
	Readings []wear.Reading
	Events   []wear.Event
}

// Wear reads one wear, with the events that people added.
func (s *Source) Wear(ctx context.Context, id int64) (*Wear, error) {
	w, err := s.Store.Wear(ctx, id)
	if err != nil {
		return nil, err
	}
	out := &Wear{Wear: w}
	if out.Place, err = store.Location(w.Zone, s.Zone); err != nil {
		return nil, err
	}
	out.Readings, out.Events, err = s.Store.Trace(ctx, w.ID)
	return out, err
}

// Formats of a wear.
const (
	CSV    = "csv"
	FHIR   = "fhir"
	NDJSON = "ndjson"
)

// Media gives the media type of a format and the end of a file's name, or "" for
// one that there is not.
func Media(format string) (media, end string) {
	switch format {
	case CSV:
		return "text/csv; charset=utf-8; header=present", ".csv"
	case FHIR:
		return "application/fhir+json", ".fhir.json"
	case NDJSON:
		return "application/fhir+ndjson", ".ndjson"
	}
	return "", ""
}

// Write gives the wear in a format.
func (w *Wear) Write(format string) ([]byte, error) {
	switch format {
	case CSV:
		return w.csv(), nil
	case FHIR:
		return bundle(w.resources())
	}
	return lines(w.resources())
}
