package review

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/web/letter"
)

// sheetSize is how many wears a sheet shows: what fits a person's attention
// before a signature. Proposal.
const sheetSize = 20

// SheetPage is the routine sheet, with what became of the one in the query.
func (s *Review) SheetPage(c *gin.Context) (web.Page, error) {
	p, err := s.sheet(c)
	if err != nil {
		return nil, err
	}
	if id, err := strconv.ParseInt(c.Query("signed"), 10, 64); err == nil {
		if p.Signed, err = s.signed(c, id); err != nil {
			return nil, err
		}
	}
	return p, nil
}

func (s *Review) sheet(c *gin.Context) (web.SheetPage, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	p := web.SheetPage{Layout: s.Layout(c)}
	list, err := s.Store.RoutineSheet(ctx, a, s.Now(), sheetSize)
	if err != nil {
		return p, err
	}
	p.Ready, p.Against, p.Taken = list.Ready, list.Against, list.Taken
	for _, r := range list.Rows {
		rec, err := s.Store.PatientRecord(ctx, r.Patient.ID)
		if err != nil {
			return p, err
		}
		row := web.SheetRow{
			WearID: r.ID, Mark: mark(r.ID, r.Evidence), Patient: view.Patient(r.Patient), SensorKind: r.SensorKind, Days: r.Report.Days,
			Report: r.Report, Limits: s.Protocol().Flag, NoAddress: strings.TrimSpace(rec.Contact.Address) == "",
		}
		if _, err := s.Compose(c, &r, form.Letter{Kind: letter.Unremarkable}); err != nil {
			wrong := door.Said(err)
			if len(wrong) == 0 {
				return p, err
			}
			row.Unwritten = wrong[0].Text
		}
		p.Rows = append(p.Rows, row)
	}
	if len(p.Rows) > 0 {
		if err := s.Store.RecordView(ctx, a, "sheet", 0); err != nil {
			return p, err
		}
	}
	return p, nil
}

// mark names a wear with the evidence that the sheet showed of it.
func mark(id, evidence int64) string { return fmt.Sprintf("%d:%d", id, evidence) }

// Sign tells the patients of the lines that were read that all is well.
func (s *Review) Sign(c *gin.Context) (web.Page, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	var lines []store.SheetLine
	var left []store.SignedLine // what could not even be written
	for _, m := range c.PostFormArray("told") {
		var l store.SheetLine
		if _, err := fmt.Sscanf(m, "%d:%d", &l.WearID, &l.Evidence); err != nil {
			continue // not a line of a sheet
		}
		if len(lines) == sheetSize {
			break
		}
		w, err := s.Store.Wear(ctx, l.WearID)
		if err == nil {
			l.Letter, err = s.Compose(c, &w, form.Letter{Kind: letter.Unremarkable})
		}
		if wrong := door.Said(err); len(wrong) > 0 {
			left = append(left, store.SignedLine{WearID: l.WearID, Refused: wrong[0].Text})
			continue
		}
		if err != nil {
			return nil, err
		}
		lines = append(lines, l)
	}
	id, done, err := s.Store.SignSheet(ctx, a, lines)
	if wrong := door.Said(err); len(wrong) > 0 {
		p, err := s.sheet(c)
		p.Form = door.Form(c, wrong)
		return door.Again(p), err
	}
	if err != nil {
		return nil, err
	}
	refused := 0
	for _, l := range append(done, left...) {
		if l.Refused != "" {
			refused++
		}
	}
	if refused == 0 {
		return door.GoTo(c, "/sheet?signed="+door.IDText(id))
	}
	p, err := s.sheet(c)
	if err != nil {
		return nil, err
	}
	if p.Signed, err = s.signed(c, id); err != nil {
		return nil, err
	}
	for _, l := range append(done, left...) {
		if l.Refused == "" {
			continue
		}
		line := web.SignedLine{WearID: l.WearID, Refused: l.Refused}
		if w, err := s.Store.Wear(ctx, l.WearID); err == nil {
			line.Patient = view.Patient(w.Patient)
		}
		p.Signed.Lines = append(p.Signed.Lines, line)
	}
	return p, nil
}

func (s *Review) signed(c *gin.Context, id int64) (*web.SignedSheet, error) {
	x, err := s.Store.SignedSheet(c.Request.Context(), id)
	if err != nil {
		return nil, err
	}
	out := &web.SignedSheet{ID: x.ID, Until: x.At.Add(store.SheetUndoTime), Mine: x.By.ID == door.Me(c)}
	for _, l := range x.Lines {
		out.Lines = append(out.Lines, web.SignedLine{WearID: l.Outcome.WearID, OutcomeID: l.Outcome.ID, Patient: view.Patient(l.Patient), Undone: !l.Outcome.InForce()})
	}
	return out, nil
}

// UndoSheet takes a sheet back, or the line that is named.
func (s *Review) UndoSheet(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	var only []int64
	if o := door.FormID(c, "outcome"); o != 0 {
		only = append(only, o)
	}
	if _, err := s.Store.UndoSheet(c.Request.Context(), door.Actor(c), id, only...); err != nil {
		return nil, err
	}
	return door.GoTo(c, "/sheet?signed="+door.IDText(id))
}
