package server

import (
	"fmt"
	"hash/fnv"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

// evidence stands for what a report says. A form about a wear carries it, so
// that nobody decides on what is no longer so.
func evidence(r *wear.Report) int64 {
	h := fnv.New64a()
	fmt.Fprint(h, r.Engine, r.Protocol, r.Start.Unix(), r.End.Unix(), r.Readings, r.Believed, r.Headline, r.Priority.Tier, r.Priority.Score)
	for _, f := range r.Flags {
		fmt.Fprint(h, f.Code, f.Evidence)
	}
	return int64(h.Sum64() >> 11) // 53 bits: a JSON number holds them exactly
}

// outcomePage asks for the outcome of a wear.
func (s *Server) outcomePage(c *gin.Context) (web.Page, error) { return s.outcomeForm(c) }

func (s *Server) outcomeForm(c *gin.Context) (web.OutcomePage, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return web.OutcomePage{}, err
	}
	v, err := s.Store.Review(c.Request.Context(), w.ID)
	if err != nil {
		return web.OutcomePage{}, err
	}
	p := web.OutcomePage{
		Layout: s.layout(c), WearID: w.ID, Patient: patient(w.Patient), Headline: w.Report.Headline, Tier: w.Report.Priority.Tier,
		Version: evidence(w.Report), Attempts: tries(v.Contacts), Choices: s.choices(c, w.Report),
	}
	if !v.Open {
		p.Correcting = s.recorded(v, me(c))
	}
	return p, nil
}

// choices are the outcomes that may be recorded, with what each asks for and
// what follows it.
func (s *Server) choices(c *gin.Context, r *wear.Report) []web.OutcomeChoice {
	clinician := has(c, access{store.RoleClinician, store.RoleLead})
	standing := store.Standing(r)
	var out []web.OutcomeChoice
	for _, rule := range store.Rules() {
		why := rule.Barred(standing)
		x := web.OutcomeChoice{
			Code: string(rule.Kind), Words: rule.Words, Follows: rule.Follows, Recall: string(rule.Recall), Optional: rule.Optional, Asks: rule.Wants(why),
		}
		if rule.Recall != "" && rule.Days > 0 {
			x.RecallBy = s.today().AddDate(0, 0, rule.Days)
		}
		if why != "" && !clinician {
			x.Refused = "A clinician must decide this: the wear has " + why
		}
		out = append(out, x)
	}
	return out
}

// outcome records how the work on a wear ended, or puts right what was
// recorded before.
func (s *Server) outcome(c *gin.Context) (web.Page, error) {
	p, err := s.outcomeForm(c)
	if err != nil {
		return nil, err
	}
	d, wrong := web.ParseOutcome(c.Request.PostForm, s.Zone, s.Now(), p.Choices)
	if len(wrong) == 0 && d.Version != p.Version {
		wrong = []web.FieldError{{Text: "The wear has changed since you opened this page. Look at what it says now, then record the outcome."}}
	}
	if len(wrong) == 0 {
		ctx, a := c.Request.Context(), actor(c)
		o := s.newOutcome(p.WearID, d.Code, d.Reason, d.RecallBy)
		if p.Correcting != nil {
			_, err = s.Store.CorrectOutcome(ctx, a, p.Correcting.ID, o)
		} else {
			_, err = s.Store.RecordOutcome(ctx, a, o)
		}
		wrong = said(err)
	}
	if len(wrong) > 0 {
		p.Form = form(c, wrong)
		return again(p), nil
	}
	if err != nil {
		return nil, err
	}
	return goTo(c, wearAddress(p.WearID)+"#main")
}

// newOutcome is an outcome as the store takes it, with what the protocol wants.
func (s *Server) newOutcome(wearID int64, kind, reason string, recall time.Time) store.NewOutcome {
	return store.NewOutcome{WearID: wearID, Kind: store.OutcomeKind(kind), Reason: reason, Recall: recall, Attempts: int(s.Protocol.Contact.Attempts)}
}

// undoOutcome takes an outcome back within its half minute.
func (s *Server) undoOutcome(c *gin.Context) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	o, err := s.Store.WearOutcome(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := s.Store.UndoOutcome(ctx, actor(c), id); err != nil {
		return nil, err
	}
	return goTo(c, wearAddress(o.WearID)+"#main")
}
