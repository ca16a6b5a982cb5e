package review

import (
	"context"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
)

// tracks is the window of a wear that its open page asks for.
func (s *Review) tracks(c *gin.Context) (web.Page, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	own, err := store.Location(w.Zone, nil)
	if err != nil {
		return nil, err
	}
	p := web.WearPage{
		Layout: web.Layout{Now: s.Now(), Zone: s.Zone}.On(own), WearID: w.ID, Report: w.Report, Window: web.ParseWindow(c.Request.URL.Query()),
	}
	if p.Readings, p.Events, err = s.Store.Trace(ctx, w.ID); err != nil {
		return nil, err
	}
	if p.Beside, err = s.beside(ctx, w); err != nil {
		return nil, err
	}
	v, err := s.Store.Review(ctx, w.ID)
	if err != nil {
		return nil, err
	}
	p.Work = &web.Work{Claim: view.Claimed(v.Claim, door.Me(c))}
	return web.WearTracks{WearPage: p}, nil
}

// beside are the patient's other wears at the same time: two sensors worn at
// once.
func (s *Review) beside(ctx context.Context, w store.Wear) ([]web.Beside, error) {
	others, err := s.Store.OverlappingWears(ctx, w.Patient.ID, w.Report.Start, w.Report.End)
	if err != nil {
		return nil, err
	}
	var out []web.Beside
	for _, x := range others {
		if x.ID == w.ID {
			continue
		}
		other, err := s.Store.Wear(ctx, x.ID)
		if err != nil {
			return nil, err
		}
		readings, _, err := s.Store.Trace(ctx, x.ID)
		if err != nil {
			return nil, err
		}
		out = append(out, web.Beside{WearID: x.ID, SensorKind: x.SensorKind, Evidence: other.Evidence, Report: other.Report, Readings: readings})
	}
	return out, nil
}
