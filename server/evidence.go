package server

import (
	"context"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

// callPage is the sheet for a call: it asks about the episodes found.
func (s *Server) callPage(c *gin.Context) (web.Page, error) { return s.callSheet(c, web.Form{}) }

func (s *Server) callSheet(c *gin.Context, f web.Form) (web.Page, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	_, events, err := s.Store.Trace(ctx, w.ID)
	if err != nil {
		return nil, err
	}
	v, err := s.Store.Review(ctx, w.ID)
	if err != nil {
		return nil, err
	}
	who, err := s.Store.PatientRecord(ctx, w.Patient.ID)
	if err != nil {
		return nil, err
	}
	own, err := store.Location(w.Zone, nil)
	if err != nil {
		return nil, err
	}
	p := web.CallPage{
		Layout: s.layout(c).On(own), Form: f, WearID: w.ID, PatientID: w.Patient.ID, Patient: patient(w.Patient), Contact: reach(who.Contact),
		Report: w.Report, Events: events, Version: evidence(w.Report), Claim: claimed(v.Claim, me(c)),
	}
	if len(f.Errors) > 0 {
		return again(p), nil
	}
	return p, nil
}

// call takes the answers of a call sheet. What was felt goes in as events, the
// report is made anew, and the wear shows where its place was before.
func (s *Server) call(c *gin.Context) (web.Page, error) {
	w, own, err := s.addressed(c)
	if err != nil {
		return nil, err
	}
	sheet, wrong := web.ParseCall(c.Request.PostForm, own, w.Report.Start, w.Report.End)
	if len(wrong) > 0 {
		return s.callSheet(c, form(c, wrong))
	}
	var answers []store.CallAnswer
	for _, x := range sheet.Answers {
		answers = append(answers, store.CallAnswer{Asked: x.Asked, Felt: store.Felt(x.Felt), At: x.At, Words: x.Words, Relieved: store.Felt(x.Relieved)})
	}
	to, err := s.changed(c, w, func(ctx context.Context, a store.Actor) error {
		return s.saveCall(ctx, a, w.ID, answers, sheet.Events, sheet.Note)
	})
	if wrong := said(err); wrong != nil {
		return s.callSheet(c, form(c, wrong))
	}
	if err != nil {
		return nil, err
	}
	return goTo(c, to)
}

// saveCall saves what a call brought: answers about episodes, other things
// that were told, and a note. Each may be missing.
func (s *Server) saveCall(ctx context.Context, a store.Actor, wearID int64, answers []store.CallAnswer, others []wear.Event, note string) error {
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

// addressed gives the wear in the address and the clock of its wearer.
func (s *Server) addressed(c *gin.Context) (store.Wear, *time.Location, error) {
	id, err := pathID(c)
	if err != nil {
		return store.Wear{}, nil, err
	}
	w, err := s.Store.Wear(c.Request.Context(), id)
	if err != nil {
		return store.Wear{}, nil, err
	}
	own, err := store.Location(w.Zone, s.Zone)
	return w, own, err
}

// addition is what a form adds to a wear.
type addition func(ctx context.Context, a store.Actor) error

// addTo takes a form that adds to a wear something that its report is made
// from. Its times are by the wearer's clock, own.
func (s *Server) addTo(c *gin.Context, task string, parse func(w store.Wear, own *time.Location) (addition, []web.FieldError)) (web.Page, error) {
	w, own, err := s.addressed(c)
	if err != nil {
		return nil, err
	}
	var to string
	add, wrong := parse(w, own)
	if len(wrong) == 0 {
		to, err = s.changed(c, w, add)
		wrong = said(err)
	}
	if len(wrong) > 0 {
		return s.wearAgain(c, task, wrong)
	}
	if err != nil {
		return nil, err
	}
	return goTo(c, to)
}

// overrule takes a person's word on a stretch of readings.
func (s *Server) overrule(c *gin.Context) (web.Page, error) {
	return s.addTo(c, "overrule", func(w store.Wear, own *time.Location) (addition, []web.FieldError) {
		o, wrong := web.ParseOverrule(c.Request.PostForm, own, w.Report.Start, w.Report.End)
		return func(ctx context.Context, a store.Actor) error {
			_, err := s.Store.AddOverride(ctx, a, store.NewOverride{WearID: w.ID, From: o.From, To: o.To, Believe: o.Believe, Reason: o.Reason})
			return err
		}, wrong
	})
}

// fingerstick adds a blood value that the file does not have.
func (s *Server) fingerstick(c *gin.Context) (web.Page, error) {
	return s.addTo(c, "fingerstick", func(w store.Wear, own *time.Location) (addition, []web.FieldError) {
		e, wrong := web.ParseFingerstick(c.Request.PostForm, own, w.Report.Start, w.Report.End)
		return func(ctx context.Context, a store.Actor) error {
			return s.Store.AddEvents(ctx, a, w.ID, []wear.Event{e})
		}, wrong
	})
}

// wearResult adds a laboratory result that answers a wear.
func (s *Server) wearResult(c *gin.Context) (web.Page, error) {
	return s.addTo(c, "results", func(w store.Wear, _ *time.Location) (addition, []web.FieldError) {
		r, wrong := web.ParseResult(c.Request.PostForm, s.Zone, s.Now())
		return func(ctx context.Context, a store.Actor) error {
			n := s.newResult(w.Patient, r)
			n.WearID = w.ID
			_, err := s.saveResult(ctx, a, n)
			return err
		}, wrong
	})
}

// zone takes in which zone the wearer's clock was. The files of the wear are
// read again by it within seconds.
func (s *Server) zone(c *gin.Context) (web.Page, error) {
	name, wrong := web.ParseZone(c.Request.PostForm)
	return s.onWear(c, "zone", wrong, func(id int64) error {
		_, err := s.setZone(c, id, name)
		return err
	})
}

func (s *Server) setZone(c *gin.Context, wearID int64, name string) (wears int, err error) {
	wears, err = s.Store.SetZone(c.Request.Context(), actor(c), wearID, name)
	if err == nil {
		s.Worker.Look()
	}
	return wears, err
}
