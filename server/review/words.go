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
)

// WordsPage is where the words of a wear are read.
func (s *Review) WordsPage(c *gin.Context) (web.Page, error) { return s.wordsPage(c, form.Form{}) }

func (s *Review) wordsPage(c *gin.Context, f form.Form) (web.Page, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return nil, err
	}
	v, err := s.Store.Review(c.Request.Context(), w.ID)
	if err != nil {
		return nil, err
	}
	own, err := store.Location(w.Zone, nil)
	if err != nil {
		return nil, err
	}
	p := web.WordsPage{Layout: s.Layout(c).On(own), Form: f, WearID: w.ID, Patient: view.Patient(w.Patient), Report: w.Report}
	for _, r := range slices.Backward(v.Read) {
		if r.Withdrawn.IsZero() {
			text, as := web.SaidWords(w.Report, r.Key, r.As)
			p.Said = append(p.Said, web.Said{ID: r.ID, Text: text, As: as, By: r.By.Name, At: r.At})
		}
	}
	if len(f.Errors) > 0 {
		return door.Again(p), nil
	}
	return p, nil
}

// ReadWords takes what a person says that words are. The report is made anew,
// and the wear shows where its place was before.
func (s *Review) ReadWords(c *gin.Context) (web.Page, error) {
	w, _, err := s.addressed(c)
	if err != nil {
		return nil, err
	}
	var to string
	said, wrong := form.ParseRead(c.Request.PostForm)
	if len(wrong) == 0 {
		to, err = s.changed(c, w, func(ctx context.Context, a store.Actor) error {
			_, err := s.Store.Read(ctx, a, w.ID, said)
			return err
		})
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		return s.wordsPage(c, door.Form(c, wrong))
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, to)
}
