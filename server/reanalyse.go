package server

import (
	"context"
	"errors"
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/worker/wear"
)

// reanalyse makes the report of a wear anew from everything that is known of it
// now, so that whoever added something sees at once what it changed. Somebody
// else, or the worker, may change the wear meanwhile: then it begins again.
func (s *Server) reanalyse(ctx context.Context, a store.Actor, wearID int64) error {
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

// reanalyseOpen makes the reports of a patient's wears on the round anew.
func (s *Server) reanalyseOpen(ctx context.Context, a store.Actor, patientID int64) error {
	wears, err := s.Store.WearsOf(ctx, patientID)
	if err != nil {
		return err
	}
	for _, w := range wears {
		if w.Open {
			if err := s.reanalyse(ctx, a, w.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

// changed runs f, which adds something to a wear, makes the report anew and
// gives the wear's address with its place before.
func (s *Server) changed(c *gin.Context, before store.Wear, f addition) (string, error) {
	ctx, a := c.Request.Context(), actor(c)
	if err := f(ctx, a); err != nil {
		return "", err
	}
	if err := s.reanalyse(ctx, a, before.ID); err != nil {
		return "", err
	}
	p := before.Report.Priority
	q := url.Values{"before": {string(p.Tier)}, "points": {strconv.FormatFloat(p.Score, 'f', -1, 64)}}
	return wearAddress(before.ID) + "?" + q.Encode() + "#main", nil
}

// placeBefore reads back what changed wrote: "This month, 30.4 points".
func placeBefore(q url.Values) string {
	tier := wear.Tier(q.Get("before"))
	score, err := strconv.ParseFloat(q.Get("points"), 64)
	if err != nil || tier.Rank() == len(wear.Tiers()) {
		return ""
	}
	return tier.Words() + ", " + wear.FormatHalfUp(score, 1) + " points"
}
