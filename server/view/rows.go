package view

import (
	"fmt"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/web/letter"
)

// Reach is how a patient can be reached.
func Reach(c store.PatientContact) form.Contact {
	return form.Contact{Phone: c.Telephone, Email: c.Mail, Address: c.Address, Prefers: string(c.Preferred), Note: c.Note}
}

// LetterLines are the letters that were sent, newest first; of one wear where
// one is given.
func LetterLines(list []store.Letter, wearID int64) []web.LetterLine {
	var out []web.LetterLine
	for _, l := range list {
		if !l.SentAt.IsZero() && l.Discarded.IsZero() && (wearID == 0 || l.WearID == wearID) {
			out = append(out, web.LetterLine{ID: l.ID, Kind: letter.Kind(l.Kind), At: l.SentAt, By: l.SentBy.Name, How: string(l.How)})
		}
	}
	return out
}

// RecallRows are recalls with what was tried about each.
func (s *View) RecallRows(c *gin.Context, list []store.Recall) ([]web.Recall, error) {
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
			ID: r.ID, WearID: r.WearID, PatientID: r.Patient.ID, Patient: Patient(r.Patient), Contact: Reach(who.Contact),
			Kind: string(r.Kind), Due: r.DueAt, State: string(r.State), Version: r.Version(), Note: r.Note, Attempts: Tries(contacts[r.ID]), ClosedAt: r.ClosedAt,
			Given: r.GivenAt, SensorKind: r.SensorKind, Serial: r.Serial,
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

// Outs are the sensors that are out, the most overdue first.
func (s *View) Outs(c *gin.Context) ([]web.Recall, error) {
	var all []store.Recall
	for q := (store.RecallQuery{Outs: true, Limit: 200}); ; q.Offset += q.Limit {
		page, err := s.Store.Recalls(c.Request.Context(), q)
		if err != nil {
			return nil, err
		}
		if all = append(all, page.Rows...); len(page.Rows) < q.Limit {
			return s.RecallRows(c, all)
		}
	}
}

// Patient is a patient as pages name them.
func Patient(p store.Patient) form.Patient {
	return form.Patient{Code: p.Code, Name: p.Name, BirthDate: p.BirthDate}
}

// Claimed is who works on a wear, as the person with the id me sees it.
func Claimed(c *store.Claim, me int64) web.Claim {
	if c == nil {
		return web.Claim{}
	}
	return web.Claim{By: c.Holder.Name, Mine: c.Holder.ID == me, Until: c.Until}
}

// Tries are the attempts to reach a patient, newest first.
func Tries(list []store.Contact) []form.Attempt {
	var out []form.Attempt
	for i := len(list) - 1; i >= 0; i-- {
		x := list[i]
		out = append(out, form.Attempt{At: x.At, By: x.By.Name, Means: string(x.Means), Reached: x.Reached, Note: x.Note, NextTry: x.NextTry})
	}
	return out
}

// Handed says in a sentence to whom a wear was handed over who have not taken
// it yet; "" where it was not.
func (s *View) Handed(to store.Role, due time.Time, why string) string {
	if to == "" {
		return ""
	}
	return fmt.Sprintf("Handed over to a %s, to be taken by %s: %s", to, s.Day(due), why)
}
