package register

import (
	"context"
	"errors"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// merges are the other entries of a patient that were taken into this one.
func (s *Register) merges(ctx context.Context, patientID int64) ([]web.Merge, error) {
	list, err := s.Store.Merges(ctx, patientID)
	if err != nil {
		return nil, err
	}
	var out []web.Merge
	for _, m := range list {
		if m.Kept != patientID {
			continue
		}
		other, err := s.Store.PatientRecord(ctx, m.Dropped)
		if err != nil {
			return nil, err
		}
		out = append(out, web.Merge{
			ID: m.ID, Code: other.Code, Name: other.Name, By: m.By.Name, At: m.At,
			Undone: !m.UndoneAt.IsZero(), CanUndo: m.UndoneAt.IsZero(),
		})
	}
	return out, nil
}

// MergePage asks which other entry is the same person's.
func (s *Register) MergePage(c *gin.Context) (web.Page, error) {
	who, err := s.viewPatient(c)
	if err != nil {
		return nil, err
	}
	return web.MergePage{Layout: s.Layout(c), ID: who.ID, Keep: view.Patient(who.Patient)}, nil
}

// PreviewMerge shows what would move, and moves nothing.
func (s *Register) PreviewMerge(c *gin.Context) (web.Page, error) {
	other, err := s.Store.PatientByCode(c.Request.Context(), strings.TrimSpace(c.PostForm("code")))
	if store.CodeOf(err) == store.NotFound && err != nil {
		return s.mergeAgain(c, 0, []form.FieldError{{Field: "code", Text: "No patient on the register has this code. Check it in the register."}})
	}
	if err != nil {
		return nil, err
	}
	return s.mergeAgain(c, other.ID, nil)
}

// mergeAgain shows the page with the other entry chosen, or with what is wrong.
func (s *Register) mergeAgain(c *gin.Context, otherID int64, wrong []form.FieldError) (web.Page, error) {
	who, err := s.viewPatient(c)
	if err != nil {
		return nil, err
	}
	p := web.MergePage{Layout: s.Layout(c), ID: who.ID, Keep: view.Patient(who.Patient), Form: door.Form(c, wrong)}
	if otherID == who.ID {
		p.Errors = []form.FieldError{{Field: "code", Text: "This is the same entry. Write the code of the other one."}}
	} else if otherID != 0 {
		if err := s.fillMerge(c, &p, who, otherID); err != nil {
			return nil, err
		}
	}
	if len(p.Errors) > 0 {
		return door.Again(p), nil
	}
	return p, nil
}

func (s *Register) fillMerge(c *gin.Context, p *web.MergePage, who store.PatientRecord, otherID int64) error {
	ctx := c.Request.Context()
	other, err := s.Store.PatientRecord(ctx, otherID)
	if err != nil {
		return err
	}
	wears, err1 := s.Store.WearsOf(ctx, otherID)
	results, err2 := s.Store.Results(ctx, otherID)
	recalls, err3 := s.Store.Recalls(ctx, store.RecallQuery{PatientID: otherID, Closed: true, Limit: 1})
	letters, err4 := s.Store.Letters(ctx, otherID)
	if err := errors.Join(err1, err2, err3, err4, s.Store.RecordView(ctx, door.Actor(c), "patient", otherID)); err != nil {
		return err
	}
	p.Other = &web.MergeOther{
		ID: other.ID, Patient: view.Patient(other.Patient), Wears: len(wears), Results: len(results), Recalls: recalls.Matching, Letters: len(letters),
	}
	after, err := store.Together(who.Patient, other.Patient)
	if wrong := door.Said(err); len(wrong) > 0 {
		p.Errors = wrong // the same that joining them is refused for
	} else if err != nil {
		return err
	}
	for _, f := range []struct{ name, keep, other, after string }{
		{"name", who.Name, other.Name, who.Name},
		{"date of birth", who.BirthDate, other.BirthDate, after.BirthDate},
		{"telephone", who.Contact.Telephone, other.Contact.Telephone, who.Contact.Telephone},
		{"email", who.Contact.Mail, other.Contact.Mail, who.Contact.Mail},
		{"address", who.Contact.Address, other.Contact.Address, who.Contact.Address},
		{"sex", who.Context.Sex, other.Context.Sex, after.Context.Sex},
		{"last asked about medicines and circumstances", who.Context.AskedOn, other.Context.AskedOn, after.Context.AskedOn},
	} {
		if f.keep != f.other {
			p.Fields = append(p.Fields, web.MergeField{Name: f.name, Keep: f.after, Other: f.other})
		}
	}
	yes := map[bool]string{true: "yes"}
	for _, f := range form.ContextFields {
		if *f.Of(&who.Context) != *f.Of(&other.Context) {
			p.Fields = append(p.Fields, web.MergeField{Name: strings.ToLower(f.Words[:1]) + f.Words[1:], Keep: yes[*f.Of(&after.Context)], Other: yes[*f.Of(&other.Context)]})
		}
	}
	return nil
}

// Merge makes the two entries one.
func (s *Register) Merge(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	other := door.FormID(c, "other")
	ctx, a := c.Request.Context(), door.Actor(c)
	reason, wrong := form.ParseReason(c.Request.PostForm)
	if len(wrong) == 0 {
		_, err = s.Store.Merge(ctx, a, id, other, reason)
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		return s.mergeAgain(c, other, wrong)
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, door.PatientAddress(id))
}

// UndoMerge takes a merge back.
func (s *Register) UndoMerge(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	ctx, a := c.Request.Context(), door.Actor(c)
	m, err := s.Store.PatientMerge(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := s.Store.UndoMerge(ctx, a, id, "taken out again on the patient's page"); err != nil {
		return nil, err
	}
	return door.GoTo(c, door.PatientAddress(m.Kept))
}
