package review

import (
	"context"
	"slices"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/worker/wear"
)

// Wear is the page of one wear with its whole trace. With the header
// "X-Fragment: tracks" it gives only the part that an open page swaps when other
// days are to be shown.
func (s *Review) Wear(c *gin.Context) (web.Page, error) {
	if c.GetHeader("X-Fragment") == "tracks" {
		return s.tracks(c)
	}
	return s.wearPage(c, form.Form{Task: c.Query("open")})
}

// wearAgain shows the wear once more with a form that was not taken.
func (s *Review) wearAgain(c *gin.Context, task string, wrong []form.FieldError) (web.Page, error) {
	f := door.Form(c, wrong)
	f.Task = task
	p, err := s.wearPage(c, f)
	if err != nil {
		return nil, err
	}
	return door.Again(p), nil
}

func (s *Review) wearPage(c *gin.Context, f form.Form) (web.Page, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	work, err := s.work(c, w)
	if err != nil {
		return nil, err
	}
	work.Form = f
	own, err := store.Location(w.Zone, nil)
	if err != nil {
		return nil, err
	}
	p := web.WearPage{
		Layout: s.Layout(c).On(own), WearID: w.ID, Patient: view.Patient(w.Patient), SensorKind: w.SensorKind,
		ReceivedAt: w.ReceivedAt, DueAt: w.DueAt, Report: w.Report, Evidence: w.Evidence,
		Read: func() ([]wear.Reading, []wear.Event, error) { return s.Store.Trace(ctx, w.ID) }, Keep: s.stories.Get,
		Window: web.ParseWindow(c.Request.URL.Query()), Work: work, LikeMeals: int(s.Protocol().Meal.LikeMeals),
	}
	if p.Before, err = s.before(ctx, w); err != nil {
		return nil, err
	}
	if p.Beside, err = s.beside(ctx, w); err != nil {
		return nil, err
	}
	if p.Among, err = s.Among(ctx, w); err != nil {
		return nil, err
	}
	for _, f := range w.Files {
		p.Files = append(p.Files, web.WearFile{
			SHA256: f.SHA256, ReceivedAt: f.ReceivedAt, Layout: f.Layout,
			Rows: f.Rows, Skipped: f.Skipped, Decisions: f.Decisions,
			Brought:  web.Brought{New: f.New, Same: f.Same, Conflicts: f.Conflicts},
			RecipeID: f.RecipeID, InDoubt: f.InDoubt, Account: f.Account,
		})
		p.Rereading = p.Rereading || f.Pending
	}
	return p, nil
}

// before says what changed since the patient's wear before this one; nil where
// there is none that had ended when this one began.
func (s *Review) before(ctx context.Context, w store.Wear) (*web.Before, error) {
	wears, err := s.Store.WearsOf(ctx, w.Patient.ID)
	if err != nil {
		return nil, err
	}
	for _, x := range wears { // newest first
		if x.End.After(w.Report.Start) || x.ID == w.ID {
			continue
		}
		first, err := s.Store.Wear(ctx, x.ID)
		if err != nil {
			return nil, err
		}
		return &web.Before{WearID: x.ID, Start: x.Start, End: x.End, Changes: wear.Compare(first.Report, w.Report, s.Protocol()), Measures: wear.Changes(first.Report, w.Report, s.Protocol())}, nil
	}
	return nil, nil
}

// viewWear gives the wear in the address and logs that it was looked at.
func (s *Review) viewWear(c *gin.Context) (store.Wear, error) {
	id, err := door.PathID(c)
	if err != nil {
		return store.Wear{}, err
	}
	ctx := c.Request.Context()
	w, err := s.Store.Wear(ctx, id)
	if err != nil {
		return store.Wear{}, err
	}
	return w, s.Store.RecordView(ctx, door.Actor(c), "wear", w.ID)
}

// work is what the person may do with a wear, and what was done. Looking at a
// wear that one has claimed is use, and renews the claim.
func (s *Review) work(c *gin.Context, w store.Wear) (*web.Work, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	v, err := s.Store.Review(ctx, w.ID)
	if err != nil {
		return nil, err
	}
	p := &web.Work{
		Version: w.Evidence, PatientID: w.Patient.ID, NextTry: v.NextTry, Handed: s.handed(v), Before: placeBefore(c.Request.URL.Query()), Answered: answered(v),
		Claim: view.Claimed(v.Claim, a.UserID), Results: view.Results(v.Results), Letters: view.LetterLines(v.Letters, w.ID), Attempts: view.Tries(v.Contacts),
	}
	// One who was reached was not tried in vain: the trail tells of it.
	p.Attempts = slices.DeleteFunc(p.Attempts, func(t form.Attempt) bool { return t.Reached })
	if p.Claim.Mine {
		renewed, err := s.Store.RenewClaim(ctx, a, w.ID)
		if err != nil && store.CodeOf(err) != store.Conflict { // lost a moment ago: whatever is pressed says so
			return nil, err
		}
		if err == nil {
			p.Claim.Until = renewed.Until
		}
	}
	for _, o := range v.Overrides {
		if o.Withdrawn.IsZero() {
			p.Overrules = append(p.Overrules, web.Overrule{ID: o.ID, From: o.From, To: o.To, Believe: o.Believe, Reason: o.Reason, By: o.By.Name, At: o.At})
		}
	}
	own, err := store.Location(w.Zone, s.Zone)
	if err != nil {
		return nil, err
	}
	for _, e := range v.Events {
		if e.Withdrawn.IsZero() {
			p.Added = append(p.Added, web.Added{ID: e.ID, Words: view.EventWords(e.Event, own), By: e.By.Name, At: e.At})
		}
	}
	for _, call := range v.Calls {
		for _, x := range call.Answers {
			if x.Felt != store.FeltYes && call.TakenBack(x.Asked).IsZero() { // what was felt is among the events
				p.Added = append(p.Added, web.Added{ID: call.ID, Asked: x.Asked, Words: view.AnswerWords(x, own), By: call.By.Name, At: call.At})
			}
		}
	}
	if !v.Open {
		p.Outcome = s.recorded(v, a.UserID)
		p.Round = s.lastFilter(c)
		next, err := s.nextWear(c, a, p.Round)
		if err != nil {
			return nil, err
		}
		if next != 0 {
			p.Next = door.WearAddress(next)
		}
	}
	p.Trail, err = s.WearTrail(ctx, v)
	return p, err
}

// recorded is the outcome in force, or nil.
func (s *Review) recorded(v store.Review, me int64) *web.Recorded {
	for _, o := range v.Outcomes {
		if !o.InForce() {
			continue
		}
		r := &web.Recorded{ID: o.ID, Code: string(o.Kind), Words: view.OutcomeWords(o.Kind), By: o.By.Name, At: o.At, Note: o.Reason}
		for _, x := range v.Recalls {
			if x.OutcomeID == o.ID {
				r.Follows = s.RecallWords(x)
			}
		}
		if until := o.At.Add(store.UndoTime); o.By.ID == me && o.Corrects == 0 && s.Now().Before(until) {
			r.UndoUntil = until
		}
		return r
	}
	return nil
}

// handed is the newest hand-over that nobody has taken, in a sentence.
func (s *Review) handed(v store.Review) string {
	if n := len(v.Handovers); n > 0 && v.Handovers[n-1].TakenAt.IsZero() {
		h := v.Handovers[n-1]
		return s.Handed(h.To, h.DueAt, h.Reason)
	}
	return ""
}

// contact is a typed attempt as the store takes it.
func contact(t form.Attempt) store.NewContact {
	return store.NewContact{At: t.At, Means: store.Means(t.Means), Reached: t.Reached, Note: t.Note, NextTry: t.NextTry}
}

// Attempt writes down one try to reach the patient of a wear.
func (s *Review) Attempt(c *gin.Context) (web.Page, error) {
	t, wrong := form.ParseAttempt(c.Request.PostForm, s.Zone, s.Now(), true)
	return s.onWear(c, "attempt", wrong, func(id int64) error {
		_, err := s.Store.RecordContact(c.Request.Context(), door.Actor(c), id, contact(t))
		return err
	})
}

// Note writes a note about a wear.
func (s *Review) Note(c *gin.Context) (web.Page, error) {
	text, wrong := form.ParseNote(c.Request.PostForm)
	return s.onWear(c, "note", wrong, func(id int64) error {
		_, err := s.Store.AddNote(c.Request.Context(), door.Actor(c), id, text)
		return err
	})
}

// onWear runs a change of the wear in the address and shows the wear. What was
// wrong with the form, or what the store refuses for a reason that a person can
// act on, is said there.
func (s *Review) onWear(c *gin.Context, task string, wrong []form.FieldError, change func(id int64) error) (web.Page, error) {
	return s.Apply(c, wrong, change,
		func(_ int64, wrong []form.FieldError) (web.Page, error) { return s.wearAgain(c, task, wrong) },
		func(id int64) string { return door.WearAddress(id) + "#main" })
}
