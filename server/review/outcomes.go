package review

import (
	"cmp"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/worker/wear"
)

// OutcomePage asks for the outcome of a wear.
func (s *Review) OutcomePage(c *gin.Context) (web.Page, error) { return s.outcomeForm(c) }

func (s *Review) outcomeForm(c *gin.Context) (web.OutcomePage, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return web.OutcomePage{}, err
	}
	v, err := s.Store.Review(c.Request.Context(), w.ID)
	if err != nil {
		return web.OutcomePage{}, err
	}
	p := web.OutcomePage{
		Layout: s.Layout(c), WearID: w.ID, Patient: view.Patient(w.Patient), Headline: w.Report.Headline, Tier: w.Report.Priority.Tier,
		Version: w.Evidence, Attempts: view.Tries(v.Contacts), Choices: s.choices(c, w.Report), Unread: w.Report.Unread,
	}
	if !v.Open {
		p.Correcting = s.recorded(v, door.Me(c))
		for i := range p.Choices {
			p.Choices[i].Asks = cmp.Or(p.Choices[i].Asks, "Why the outcome is put right")
		}
	}
	return p, nil
}

// choices are the outcomes that may be recorded, with what each asks for and
// what follows it.
func (s *Review) choices(c *gin.Context, r *wear.Report) []form.OutcomeChoice {
	clinician := door.Has(c, door.Access{store.RoleClinician, store.RoleLead})
	var out []form.OutcomeChoice
	for _, rule := range store.Rules() {
		why, nobody := rule.Against(r)
		x := form.OutcomeChoice{
			Code: string(rule.Kind), Words: rule.Words, Follows: rule.Follows, Recall: string(rule.Recall), Optional: rule.Optional, Asks: rule.Wants(why),
		}
		if rule.Recall != "" && rule.Days > 0 {
			x.RecallBy = workingDay(s.Today(), rule.Days)
		}
		if nobody {
			x.Refused = "Nobody can say this yet: the wear has " + why
		} else if why != "" && !clinician {
			x.Refused = "A clinician must decide this: the wear has " + why
		}
		out = append(out, x)
	}
	return out
}

// workingDay is the day so many days on, on which somebody is there to see what
// came back: the next one from Monday to Friday. What is for the next day is for
// the day itself where that is the last before the week ends; nobody urgent
// waits over a week's end.
func workingDay(today time.Time, days int) time.Time {
	weekend := func(t time.Time) bool { return t.Weekday() == time.Saturday || t.Weekday() == time.Sunday }
	day := today.AddDate(0, 0, days)
	if days == 1 && weekend(day) && !weekend(today) {
		return today
	}
	for weekend(day) {
		day = day.AddDate(0, 0, 1)
	}
	return day
}

// Outcome records how the work on a wear ended, or puts right what was
// recorded before.
func (s *Review) Outcome(c *gin.Context) (web.Page, error) {
	p, err := s.outcomeForm(c)
	if err != nil {
		return nil, err
	}
	d, wrong := form.ParseOutcome(c.Request.PostForm, s.Zone, s.Now(), p.Choices)
	if len(wrong) == 0 {
		ctx, a := c.Request.Context(), door.Actor(c)
		o := s.NewOutcome(p.WearID, d.Code, d.Reason, d.RecallBy, d.Version)
		if p.Correcting != nil {
			_, err = s.Store.CorrectOutcome(ctx, a, p.Correcting.ID, o)
		} else {
			_, err = s.Store.RecordOutcome(ctx, a, o)
		}
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		p.Form = door.Form(c, wrong)
		return door.Again(p), nil
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, door.WearAddress(p.WearID)+"#main")
}

// UndoOutcome takes an outcome back within its half minute.
func (s *Review) UndoOutcome(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	o, err := s.Store.WearOutcome(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := s.Store.UndoOutcome(ctx, door.Actor(c), id); err != nil {
		return nil, err
	}
	return door.GoTo(c, door.WearAddress(o.WearID)+"#main")
}
