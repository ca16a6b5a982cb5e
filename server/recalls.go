package server

import (
	"strconv"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// recallsPageSize is how many recalls a page of the list shows.
const recallsPageSize = 50

// recalls lists what must come back, the earliest due first.
func (s *Server) recalls(c *gin.Context) (web.Page, error) {
	open, _ := strconv.ParseInt(c.Query("open"), 10, 64) // 0 where it is none
	return s.recallsPage(c, web.RecallsPage{Open: open})
}

// recallQuery is the list that a filter names.
func (s *Server) recallQuery(state string) store.RecallQuery {
	switch state {
	case "overdue":
		return store.RecallQuery{DueBefore: s.today()}
	case "untried":
		return store.RecallQuery{DueBefore: s.today(), Untried: true}
	case "all":
		return store.RecallQuery{Closed: true}
	}
	return store.RecallQuery{}
}

// recallsPage fills in the list around what a change has to say.
func (s *Server) recallsPage(c *gin.Context, p web.RecallsPage) (web.Page, error) {
	ctx := c.Request.Context()
	p.Layout, p.PageSize = s.layout(c), recallsPageSize
	p.Filter = web.ParseRecallsFilter(c.Request.URL.Query())
	p.Counts = map[string]int{}
	for _, state := range []string{"", "overdue", "untried", "all"} {
		q := s.recallQuery(state)
		q.Limit = 1
		list, err := s.Store.Recalls(ctx, q)
		if err != nil {
			return nil, err
		}
		p.Counts[state] = list.Matching
	}
	q := s.recallQuery(p.Filter.State)
	q.Offset, q.Limit = (max(p.Filter.Page, 1)-1)*recallsPageSize, recallsPageSize
	list, err := s.Store.Recalls(ctx, q)
	if err != nil {
		return nil, err
	}
	p.Matching = list.Matching
	if p.Rows, err = s.recallRows(c, list.Rows); err != nil {
		return nil, err
	}
	if len(p.Errors) > 0 {
		return again(p), nil
	}
	return p, nil
}

func (s *Server) recallRows(c *gin.Context, list []store.Recall) ([]web.Recall, error) {
	ctx := c.Request.Context()
	ids := make([]int64, len(list))
	for i, r := range list {
		ids[i] = r.ID
	}
	contacts, err := s.Store.RecallContacts(ctx, ids)
	if err != nil {
		return nil, err
	}
	var out []web.Recall
	for _, r := range list {
		who, err := s.Store.PatientRecord(ctx, r.Patient.ID)
		if err != nil {
			return nil, err
		}
		row := web.Recall{
			ID: r.ID, WearID: r.WearID, PatientID: r.Patient.ID, Patient: patient(r.Patient), Contact: reach(who.Contact),
			Kind: string(r.Kind), Due: r.DueAt, State: string(r.State), Note: r.Note, Attempts: tries(contacts[r.ID]), ClosedAt: r.ClosedAt,
		}
		if !r.ClosedAt.IsZero() {
			row.ClosedBy = closedWords(r)
		}
		if r.OutcomeID != 0 {
			o, err := s.Store.WearOutcome(ctx, r.OutcomeID)
			if err != nil {
				return nil, err
			}
			row.Outcome = string(o.Kind)
		}
		out = append(out, row)
	}
	return out, nil
}

// onRecall runs a change of the recall in the address and shows the list.
func (s *Server) onRecall(c *gin.Context, task string, wrong []web.FieldError, change func(id int64) error) (web.Page, error) {
	return s.apply(c, wrong, change,
		func(id int64, wrong []web.FieldError) (web.Page, error) { return s.recallAgain(c, id, task, wrong) },
		func(id int64) string { return "/recalls#recall-" + idText(id) })
}

// recallAgain shows the list once more with a form that was not taken.
func (s *Server) recallAgain(c *gin.Context, id int64, task string, wrong []web.FieldError) (web.Page, error) {
	p := web.RecallsPage{Form: form(c, wrong), Open: id}
	p.Task = task
	return s.recallsPage(c, p)
}

// tryRecall writes down an attempt to reach the patient about a recall.
func (s *Server) tryRecall(c *gin.Context) (web.Page, error) {
	t, wrong := web.ParseAttempt(c.Request.PostForm, s.Zone, s.Now(), false)
	return s.onRecall(c, "attempt", wrong, func(id int64) error {
		_, err := s.Store.ContactRecall(c.Request.Context(), actor(c), id, contact(t))
		return err
	})
}

// closeRecall says that what a recall waited for has come.
func (s *Server) closeRecall(c *gin.Context) (web.Page, error) {
	reason, wrong := web.ParseReason(c.Request.PostForm)
	return s.onRecall(c, "done", wrong, func(id int64) error {
		return s.Store.CloseRecall(c.Request.Context(), actor(c), id, reason)
	})
}

// addRecall sets a recall by hand.
func (s *Server) addRecall(c *gin.Context) (web.Page, error) {
	n, wrong := web.ParseNewRecall(c.Request.PostForm, s.Zone, s.Now())
	return s.onPatient(c, "recalls", "#recalls", wrong, func(id int64) error {
		_, err := s.Store.AddRecall(c.Request.Context(), actor(c), store.NewRecall{PatientID: id, Kind: store.RecallKind(n.Kind), DueAt: n.By, Note: n.Note})
		return err
	})
}

// moveRecall gives a recall another day.
func (s *Server) moveRecall(c *gin.Context) (web.Page, error) {
	by, reason, wrong := web.ParseRecallDay(c.Request.PostForm, s.Zone, s.Now())
	return s.onRecall(c, "move", wrong, func(id int64) error {
		return s.Store.MoveRecall(c.Request.Context(), actor(c), id, by, reason)
	})
}

// cancelRecall gives a recall up.
func (s *Server) cancelRecall(c *gin.Context) (web.Page, error) {
	reason, wrong := web.ParseReason(c.Request.PostForm)
	return s.onRecall(c, "cancel", wrong, func(id int64) error {
		return s.Store.CancelRecall(c.Request.Context(), actor(c), id, reason)
	})
}

// recallResult enters the result that a recall waits for, closes it, and shows
// what the result says.
func (s *Server) recallResult(c *gin.Context) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	r, wrong := web.ParseResult(c.Request.PostForm, s.Zone, s.Now())
	var entered *web.Result
	if len(wrong) == 0 {
		entered, err = s.answerRecall(c, id, r)
		wrong = said(err)
	}
	if len(wrong) > 0 {
		return s.recallAgain(c, id, "results", wrong)
	}
	if err != nil {
		return nil, err
	}
	return s.recallsPage(c, web.RecallsPage{Answered: entered})
}

// answerRecall records a result that closes a recall and gives it as it reads.
func (s *Server) answerRecall(c *gin.Context, recallID int64, r web.ResultForm) (*web.Result, error) {
	ctx, a := c.Request.Context(), actor(c)
	recall, err := s.Store.Recall(ctx, recallID)
	if err != nil {
		return nil, err
	}
	n := s.newResult(recall.Patient, r)
	n.RecallID, n.WearID = recallID, recall.WearID
	id, err := s.saveResult(ctx, a, n)
	if err != nil {
		return nil, err
	}
	list, err := s.Store.Results(ctx, recall.Patient.ID)
	if err != nil {
		return nil, err
	}
	for _, x := range results(list) {
		if x.ID == id {
			return &x, nil
		}
	}
	return nil, errNoPage
}
