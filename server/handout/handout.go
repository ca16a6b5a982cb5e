// Package handout is the front of the loop: a sensor is handed out, and its
// wearer stands on a list until the file has come.
package handout

import (
	"cmp"
	"fmt"
	"strconv"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/web/letter"
)

// HandOut hands sensors out and shows which are out.
type HandOut struct {
	*door.Door
	*act.Acts
	*view.View
}

// List shows the sensors that are out, the most overdue first.
func (s *HandOut) List(c *gin.Context) (web.Page, error) {
	open, _ := strconv.ParseInt(c.Query("open"), 10, 64) // 0 where it is none
	p := web.OutPage{Layout: s.Layout(c), Open: open}
	var err error
	p.Rows, err = s.Outs(c)
	return p, err
}

// Form asks for what is to be written down at a hand-out; of the patient in the
// query, where one is named.
func (s *HandOut) Form(c *gin.Context) (web.Page, error) {
	id, err := strconv.ParseInt(c.Query("patient"), 10, 64)
	if err != nil {
		return s.form(c, web.HandOutPage{})
	}
	who, err := s.Store.Patient(c.Request.Context(), id) // of an entry that was merged, the one it became
	if err != nil {
		return nil, err
	}
	return s.known(c, who.ID, form.Form{})
}

// known is the form with what the register says of a patient.
func (s *HandOut) known(c *gin.Context, id int64, f form.Form) (web.Page, error) {
	ctx := c.Request.Context()
	rec, err := s.Store.PatientRecord(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := s.Store.RecordView(ctx, door.Actor(c), "patient", id); err != nil {
		return nil, err
	}
	v := form.PatientRecord{Patient: view.Patient(rec.Patient), Contact: view.Reach(rec.Contact), Context: rec.Context}.Values()
	v["context"] = form.AskedValues(&rec.Context)
	for _, k := range []string{"given", "due", "kind", "serial", "note", "asked", "asked_on"} {
		if typed := f.Values[k]; len(typed) > 0 {
			v[k] = typed
		}
	}
	f.Values = v
	return s.form(c, web.HandOutPage{Form: f, PatientID: id, Patient: view.Patient(rec.Patient), AskedOn: rec.Context.AskedOn})
}

func (s *HandOut) form(c *gin.Context, p web.HandOutPage) (web.Page, error) {
	p.Layout = s.Layout(c)
	list, err := s.Store.Recipes(c.Request.Context())
	if err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	for _, r := range list {
		if k := r.SensorKind; k != "" && !seen[k] {
			seen[k] = true
			p.Kinds = append(p.Kinds, k)
		}
	}
	if len(p.Errors) > 0 {
		return door.Again(p), nil
	}
	return p, nil
}

// Take hands a sensor out. A code of the register that was typed is confirmed
// first: the form comes back with the name and the birth date.
func (s *HandOut) Take(c *gin.Context) (web.Page, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	h, wrong := form.ParseHandOut(c.Request.PostForm, s.Now().In(s.Zone))
	if h.Patient.Code == "" {
		return s.form(c, web.HandOutPage{Form: door.Form(c, wrong)})
	}
	who, err := s.Store.PatientByCode(ctx, h.Patient.Code)
	found := err == nil
	switch {
	case found && who.ID != h.PatientID:
		return s.known(c, who.ID, form.Form{Values: c.Request.PostForm, Errors: append(wrong, form.FieldError{
			Field: "code", Text: "This code is on the register: check the name and the date of birth with the patient, then hand the sensor out.",
		})})
	case !found && store.CodeOf(err) != store.NotFound:
		return nil, err
	case !found && h.PatientID != 0:
		wrong = append(wrong, form.FieldError{Field: "code", Text: "No patient has this code. Leave the code as it was, or change it on the patient's page."})
	}
	var id int64
	if len(wrong) == 0 {
		var n store.NewOut
		if n, err = s.newOut(c, &h); err != nil {
			return nil, err
		}
		id, _, err = s.Store.HandOut(ctx, a, n)
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		p := web.HandOutPage{Form: door.Form(c, wrong)}
		if found {
			p.PatientID, p.Patient, p.AskedOn = who.ID, view.Patient(who), who.Context.AskedOn
		}
		return s.form(c, p)
	}
	if err != nil {
		return nil, err
	}
	s.Worker.Look() // a file that waited for its patient may find them now
	return door.GoTo(c, fmt.Sprintf("/out/%d/sheet", id))
}

// newOut is the hand-out as the store takes it. What the form leaves empty of a
// patient on the register stays as it is there.
func (s *HandOut) newOut(c *gin.Context, h *form.HandOut) (store.NewOut, error) {
	n := store.NewOut{GivenAt: h.Given, DueAt: h.Due, SensorKind: h.Kind, Serial: h.Serial, Note: h.Note}
	if h.PatientID != 0 {
		var err error
		if n.Patient, err = s.Store.PatientRecord(c.Request.Context(), h.PatientID); err != nil {
			return n, err
		}
	}
	p := &n.Patient
	p.Code, p.Name, p.BirthDate = h.Patient.Code, cmp.Or(h.Patient.Name, p.Name), cmp.Or(h.Patient.BirthDate, p.BirthDate)
	p.Contact.Telephone, p.Contact.Address = cmp.Or(h.Phone, p.Contact.Telephone), cmp.Or(h.Address, p.Contact.Address)
	h.SetAsked(&p.Context)
	if p.BirthDate != "" {
		p.Context.BirthYear, _ = strconv.Atoi(p.BirthDate[:4]) // the form gives no other
	}
	return n, nil
}

// Sheet is the start sheet of a sensor that was handed out.
func (s *HandOut) Sheet(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	r, err := s.Store.Recall(ctx, id)
	if err != nil {
		return nil, err
	}
	if r.Kind != store.RecallOut {
		return nil, door.ErrNoPage
	}
	if err := s.Store.RecordView(ctx, door.Actor(c), "patient", r.Patient.ID); err != nil {
		return nil, err
	}
	made, _, err := s.ComposeSheet(ctx, letter.StartSheet)
	if err != nil {
		return nil, err
	}
	rows, err := s.RecallRows(c, []store.Recall{r})
	if err != nil {
		return nil, err
	}
	return web.StartPage{Layout: s.Layout(c), Out: rows[0], Text: made.Text}, nil
}
