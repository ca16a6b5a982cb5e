package review

import (
	"context"
	"net/url"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/worker/wear"
)

// CallPage is the sheet for a call: it asks about the episodes found.
func (s *Review) CallPage(c *gin.Context) (web.Page, error) { return s.callSheet(c, form.Form{}) }

func (s *Review) callSheet(c *gin.Context, f form.Form) (web.Page, error) {
	p, err := s.callData(c, f)
	if err != nil {
		return nil, err
	}
	if len(f.Errors) > 0 {
		return door.Again(p), nil
	}
	return p, nil
}

func (s *Review) callData(c *gin.Context, f form.Form) (web.CallPage, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return web.CallPage{}, err
	}
	ctx := c.Request.Context()
	_, events, err := s.Store.Trace(ctx, w.ID)
	if err != nil {
		return web.CallPage{}, err
	}
	v, err := s.Store.Review(ctx, w.ID)
	if err != nil {
		return web.CallPage{}, err
	}
	who, err := s.Store.PatientRecord(ctx, w.Patient.ID)
	if err != nil {
		return web.CallPage{}, err
	}
	own, err := store.Location(w.Zone, nil)
	if err != nil {
		return web.CallPage{}, err
	}
	p := web.CallPage{
		Layout: s.Layout(c).On(own), Form: f, WearID: w.ID, PatientID: w.Patient.ID, Patient: view.Patient(w.Patient), Contact: view.Reach(who.Contact),
		Report: w.Report, Events: events, Version: w.Evidence, Claim: view.Claimed(v.Claim, door.Me(c)), Answered: answered(v),
	}
	for _, r := range v.RedFlags {
		if r.Withdrawn.IsZero() {
			p.Raised = append(p.Raised, web.Raised{ID: r.ID, Code: r.Code, By: r.By.Name, At: r.At})
		}
	}
	return p, nil
}

// answered are the newest answers about each episode that count.
func answered(v store.Review) map[int64]web.Answered {
	out := map[int64]web.Answered{}
	for _, call := range v.Calls {
		for _, x := range call.Answers {
			if !call.TakenBack(x.Asked).IsZero() {
				continue
			}
			out[x.Asked] = web.Answered{
				Answer: form.Answer{Asked: x.Asked, Felt: string(x.Felt), At: x.At, Words: x.Words, Relieved: string(x.Relieved)}, By: call.By.Name, On: call.At,
			}
		}
	}
	return out
}

// RedFlags takes the boxes of the call sheet that need somebody this minute. The
// sheet then says what to do, and the call goes on.
func (s *Review) RedFlags(c *gin.Context) (web.Page, error) {
	return s.Apply(c, nil,
		func(id int64) error {
			return s.Store.AddRedFlags(c.Request.Context(), door.Actor(c), id, c.Request.PostForm["red"])
		},
		func(_ int64, wrong []form.FieldError) (web.Page, error) { return s.callSheet(c, door.Form(c, wrong)) },
		func(id int64) string { return door.WearAddress(id) + "/call" })
}

// Call takes the answers of a call sheet. What was felt goes in as events, the
// report is made anew, and the wear shows where its place was before.
func (s *Review) Call(c *gin.Context) (web.Page, error) {
	w, own, err := s.addressed(c)
	if err != nil {
		return nil, err
	}
	sheet, wrong := form.ParseCall(c.Request.PostForm, own, w.Report.Start, w.Report.End)
	before, err := s.callData(c, form.Form{})
	if err != nil {
		return nil, err
	}
	wrong = append(wrong, before.Contradicts(sheet.Answers)...)
	if len(wrong) > 0 {
		return s.callSheet(c, door.Form(c, wrong))
	}
	if sheet.None {
		sheet.Answers = append(sheet.Answers, before.Others(sheet.Answers)...)
	}
	sheet.Answers = before.NewAnswers(sheet.Answers)
	var answers []store.CallAnswer
	for _, x := range sheet.Answers {
		answers = append(answers, store.CallAnswer{Asked: x.Asked, Felt: store.Felt(x.Felt), At: x.At, Words: x.Words, Relieved: store.Felt(x.Relieved)})
	}
	to, err := s.changed(c, w, func(ctx context.Context, a store.Actor) error {
		_, err := s.Store.RecordCall(ctx, a, w.ID, store.CallSheet{Answers: answers, Events: sheet.Events, Note: sheet.Note, Seen: sheet.Version})
		return err
	})
	if wrong := door.Said(err); wrong != nil {
		return s.callSheet(c, door.Form(c, wrong))
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, to)
}

// addressed gives the wear in the address and the clock of its wearer.
func (s *Review) addressed(c *gin.Context) (store.Wear, *time.Location, error) {
	id, err := door.PathID(c)
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

// addTo takes a form that adds to a wear something that its report is made
// from. Its times are by the wearer's clock, own.
func (s *Review) addTo(c *gin.Context, task string, parse func(w store.Wear, own *time.Location) (act.Addition, []form.FieldError)) (web.Page, error) {
	w, own, err := s.addressed(c)
	if err != nil {
		return nil, err
	}
	var to string
	add, wrong := parse(w, own)
	if len(wrong) == 0 {
		to, err = s.changed(c, w, add)
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		return s.wearAgain(c, task, wrong)
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, to)
}

// Overrule takes a person's word on a stretch of readings.
func (s *Review) Overrule(c *gin.Context) (web.Page, error) {
	return s.addTo(c, "overrule", func(w store.Wear, own *time.Location) (act.Addition, []form.FieldError) {
		o, wrong := form.ParseOverrule(c.Request.PostForm, own, w.Report.Start, w.Report.End)
		return func(ctx context.Context, a store.Actor) error {
			_, err := s.Store.AddOverride(ctx, a, store.NewOverride{WearID: w.ID, From: o.From, To: o.To, Believe: o.Believe, Reason: o.Reason, Seen: o.Version})
			return err
		}, wrong
	})
}

// Fingerstick adds a blood value that the file does not have.
func (s *Review) Fingerstick(c *gin.Context) (web.Page, error) {
	return s.addTo(c, "fingerstick", func(w store.Wear, own *time.Location) (act.Addition, []form.FieldError) {
		e, wrong := form.ParseFingerstick(c.Request.PostForm, own, w.Report.Start, w.Report.End)
		return func(ctx context.Context, a store.Actor) error {
			return s.Store.AddEvents(ctx, a, w.ID, []wear.Event{e})
		}, wrong
	})
}

// WearResult adds a laboratory result that answers a wear.
func (s *Review) WearResult(c *gin.Context) (web.Page, error) {
	return s.addTo(c, "results", func(w store.Wear, _ *time.Location) (act.Addition, []form.FieldError) {
		r, wrong := form.ParseResult(c.Request.PostForm, s.Zone, s.Now())
		return func(ctx context.Context, a store.Actor) error {
			n := s.NewResult(w.Patient, r)
			n.WearID = w.ID
			_, err := s.SaveResult(ctx, a, n)
			return err
		}, wrong
	})
}

// TakeZone takes in which zone the wearer's clock was. The files of the wear are
// read again by it within seconds.
func (s *Review) TakeZone(c *gin.Context) (web.Page, error) {
	name, wrong := form.ParseZone(c.Request.PostForm)
	return s.onWear(c, "zone", wrong, func(id int64) error {
		_, err := s.SetZone(c, id, name)
		return err
	})
}

// changed runs f, which adds something to a wear, and gives the wear's address
// with its place before.
func (s *Review) changed(c *gin.Context, before store.Wear, f act.Addition) (string, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	if err := f(ctx, a); err != nil {
		return "", err
	}
	p := before.Report.Priority
	q := url.Values{"before": {string(p.Tier)}, "points": {strconv.FormatFloat(p.Score, 'f', -1, 64)}}
	return door.WearAddress(before.ID) + "?" + q.Encode() + "#main", nil
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
