package review

import (
	"strconv"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// recallsPageSize is how many recalls a page of the list shows.
const recallsPageSize = 50

// Recalls lists what must come back, the earliest due first.
func (s *Review) Recalls(c *gin.Context) (web.Page, error) {
	open, _ := strconv.ParseInt(c.Query("open"), 10, 64) // 0 where it is none
	return s.recallsPage(c, web.RecallsPage{Open: open})
}

// recallsPage fills in the list around what a change has to say.
func (s *Review) recallsPage(c *gin.Context, p web.RecallsPage) (web.Page, error) {
	ctx := c.Request.Context()
	p.Layout, p.PageSize = s.Layout(c), recallsPageSize
	p.Filter = web.ParseRecallsFilter(c.Request.URL.Query())
	p.Counts = map[string]int{}
	for _, state := range []string{"", "overdue", "untried", "all"} {
		q := s.RecallQuery(state)
		q.Limit = 1
		list, err := s.Store.Recalls(ctx, q)
		if err != nil {
			return nil, err
		}
		p.Counts[state] = list.Matching
	}
	q := s.RecallQuery(p.Filter.State)
	q.Offset, q.Limit = (max(p.Filter.Page, 1)-1)*recallsPageSize, recallsPageSize
	list, err := s.Store.Recalls(ctx, q)
	if err != nil {
		return nil, err
	}
	p.Matching = list.Matching
	if p.Rows, err = s.RecallRows(c, list.Rows); err != nil {
		return nil, err
	}
	if len(p.Errors) > 0 {
		return door.Again(p), nil
	}
	return p, nil
}

// onRecall runs a change of the recall in the address and shows the list.
func (s *Review) onRecall(c *gin.Context, task string, wrong []form.FieldError, change func(id int64) error) (web.Page, error) {
	return s.Apply(c, wrong, change,
		func(id int64, wrong []form.FieldError) (web.Page, error) { return s.recallAgain(c, id, task, wrong) },
		func(id int64) string { return s.recallList(c, id) + "#recall-" + door.IDText(id) })
}

// recallAgain shows the list once more with a form that was not taken.
func (s *Review) recallAgain(c *gin.Context, id int64, task string, wrong []form.FieldError) (web.Page, error) {
	f := door.TaskForm(c, task, wrong)
	if s.recallList(c, id) == outList {
		rows, err := s.Outs(c)
		return door.Again(web.OutPage{Layout: s.Layout(c), Form: f, Rows: rows, Open: id}), err
	}
	return s.recallsPage(c, web.RecallsPage{Form: f, Open: id})
}

const outList = "/out"

// recallList is the list that a recall stands on.
func (s *Review) recallList(c *gin.Context, id int64) string {
	if r, err := s.Store.Recall(c.Request.Context(), id); err == nil && r.Kind == store.RecallOut {
		return outList
	}
	return "/recalls"
}

// TryRecall writes down an attempt to reach the patient about a recall.
func (s *Review) TryRecall(c *gin.Context) (web.Page, error) {
	t, wrong := form.ParseAttempt(c.Request.PostForm, s.Zone, s.Now(), false)
	return s.onRecall(c, "attempt", wrong, func(id int64) error {
		_, err := s.Store.ContactRecall(c.Request.Context(), door.Actor(c), id, contact(t))
		return err
	})
}

// CloseRecall says that what a recall waited for has come.
func (s *Review) CloseRecall(c *gin.Context) (web.Page, error) {
	reason, wrong := form.ParseReason(c.Request.PostForm)
	return s.onRecall(c, "done", wrong, func(id int64) error {
		return s.Store.CloseRecall(c.Request.Context(), door.Actor(c), id, reason, door.FormID(c, "version"))
	})
}

// MoveRecall gives a recall another day.
func (s *Review) MoveRecall(c *gin.Context) (web.Page, error) {
	by, reason, wrong := form.ParseRecallDay(c.Request.PostForm, s.Zone, s.Now())
	return s.onRecall(c, "move", wrong, func(id int64) error {
		return s.Store.MoveRecall(c.Request.Context(), door.Actor(c), id, by, reason, door.FormID(c, "version"))
	})
}

// CancelRecall gives a recall up.
func (s *Review) CancelRecall(c *gin.Context) (web.Page, error) {
	reason, wrong := form.ParseReason(c.Request.PostForm)
	return s.onRecall(c, "cancel", wrong, func(id int64) error {
		return s.Store.CancelRecall(c.Request.Context(), door.Actor(c), id, reason, door.FormID(c, "version"))
	})
}

// RecallResult enters the result that a recall waits for, closes it, and shows
// what the result says.
func (s *Review) RecallResult(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	r, wrong := form.ParseResult(c.Request.PostForm, s.Zone, s.Now())
	var entered *web.Result
	if len(wrong) == 0 {
		entered, err = s.answerRecall(c, id, r)
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		return s.recallAgain(c, id, "results", wrong)
	}
	if err != nil {
		return nil, err
	}
	after, err := s.Store.Recall(c.Request.Context(), id)
	if err != nil {
		return nil, err
	}
	return s.recallsPage(c, web.RecallsPage{Answered: entered, StillDue: after.ClosedAt.IsZero()})
}

// answerRecall records a result that closes a recall and gives it as it reads.
func (s *Review) answerRecall(c *gin.Context, recallID int64, r form.Result) (*web.Result, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	recall, err := s.Store.Recall(ctx, recallID)
	if err != nil {
		return nil, err
	}
	n := s.NewResult(recall.Patient, r)
	n.RecallID, n.WearID = recallID, recall.WearID
	id, err := s.SaveResult(ctx, a, n)
	if err != nil {
		return nil, err
	}
	list, err := s.Store.Results(ctx, recall.Patient.ID)
	if err != nil {
		return nil, err
	}
	for _, x := range view.Results(list) {
		if x.ID == id {
			return &x, nil
		}
	}
	return nil, door.ErrNoPage
}
