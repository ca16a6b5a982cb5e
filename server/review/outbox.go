package review

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/letter"
)

// Outbox lists the letters that go by post.
func (s *Review) Outbox(c *gin.Context) (web.Page, error) {
	p := web.OutboxPage{Layout: s.Layout(c), List: web.ParseBoxList(c.Query("list")), Counts: map[string]int{}, Ready: map[string]int{}}
	if c.Query("done") == "posted" {
		p.Done = "What was printed is in the post."
	}
	box, err := s.Store.Outbox(c.Request.Context(), store.BoxList(p.List), s.Now().In(s.Zone))
	if err != nil {
		return nil, err
	}
	for l, n := range box.Counts {
		p.Counts[string(l)] = n
		p.Ready[string(l)] = box.Ready[l]
	}
	for _, b := range box.Rows {
		p.Rows = append(p.Rows, boxRow(b))
	}
	return p, nil
}

func boxRow(b store.BoxLetter) web.BoxRow {
	return web.BoxRow{
		ID: b.ID, WearID: b.WearID, Kind: letter.Kind(b.Kind), Patient: view.Patient(b.Patient.Patient), Address: b.Patient.Contact.Address,
		SentAt: b.SentAt, By: b.SentBy.Name, PrintedAt: b.PrintedAt, PostedAt: b.PostedAt, Held: b.Held,
	}
}

// PrintLetters takes all letters that wait for it into one print run.
func (s *Review) PrintLetters(c *gin.Context) (web.Page, error) {
	at, n, err := s.Store.PrintLetters(c.Request.Context(), door.Actor(c))
	if err != nil {
		return nil, err
	}
	if n == 0 {
		return door.GoTo(c, "/outbox")
	}
	return door.GoTo(c, web.RunAddress(at))
}

// PostLetters says that what was printed is in the post.
func (s *Review) PostLetters(c *gin.Context) (web.Page, error) {
	if _, err := s.Store.PostLetters(c.Request.Context(), door.Actor(c)); err != nil {
		return nil, err
	}
	return door.GoTo(c, "/outbox?list=posted&done=posted")
}

// PrintRun is the letters that were printed together, for paper, each with the
// wearer's own page behind it where it may have one.
func (s *Review) PrintRun(c *gin.Context) (web.Page, error) {
	at, err := strconv.ParseInt(c.Query("at"), 10, 64)
	if err != nil {
		return nil, door.ErrNoPage
	}
	ctx := c.Request.Context()
	rows, err := s.Store.PrintRun(ctx, time.Unix(at, 0))
	if err != nil {
		return nil, err
	}
	from, err := s.Sender(ctx)
	if err != nil {
		return nil, err
	}
	p := web.PrintRunPage{Layout: s.Layout(c), Practice: from.Name, From: from.Address}
	for _, b := range rows {
		if err := s.Store.RecordView(ctx, door.Actor(c), "patient", b.PatientID); err != nil {
			return nil, err
		}
		l := web.RunLetter{BoxRow: boxRow(b), Text: b.Text, Protocol: b.Protocol}
		if kind := letter.Kind(b.Kind); b.Held == "" && b.WearID != 0 && kind.ToPatient() {
			w, err := s.Store.Wear(ctx, b.WearID)
			if err != nil {
				return nil, err
			}
			page, err := s.twoWeeks(ctx, p.Layout, w, kind, from)
			if why, ok := errors.AsType[*letter.Problem](err); ok {
				l.NoPage = why.Text
			} else if err != nil {
				return nil, err
			} else {
				l.TwoWeeks = &page
			}
		}
		p.Letters = append(p.Letters, l)
	}
	return p, nil
}

// TwoWeeks is the wearer's own page about a wear, as it would go with the letter
// that fits the wear.
func (s *Review) TwoWeeks(c *gin.Context) (web.Page, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	from, err := s.Sender(ctx)
	if err != nil {
		return nil, err
	}
	p := web.TwoWeeksPage{Layout: s.Layout(c)}
	if p.Kind, err = letter.PageKind(w.Report); err == nil {
		p.TwoWeeks, err = s.twoWeeks(ctx, p.Layout, w, p.Kind, from)
	}
	if why, ok := errors.AsType[*letter.Problem](err); ok {
		return nil, &door.Problem{Status: http.StatusConflict, Sentence: why.Text, ToDo: "Go back to the wear."}
	}
	return p, err
}

// twoWeeks writes the wearer's page that goes with a letter of a kind.
func (s *Review) twoWeeks(ctx context.Context, l web.Layout, w store.Wear, kind letter.Kind, from letter.Practice) (p web.TwoWeeks, err error) {
	own, err := store.Location(w.Zone, s.Zone)
	if err != nil {
		return p, err
	}
	p.Practice = from.Name
	if p.Words, err = letter.WriteTwoWeeks(kind, letter.Facts{Practice: from, Report: w.Report, Zone: own}); err != nil {
		return p, err
	}
	p.WearPage = web.WearPage{Layout: l.On(own), WearID: w.ID, Patient: view.Patient(w.Patient), Report: w.Report}
	p.Readings, _, err = s.Store.Trace(ctx, w.ID)
	return p, err
}
