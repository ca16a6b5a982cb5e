package server

import (
	"context"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
	"wearround/web/letter"
)

// registerPageSize is how many patients a page of the register shows.
const registerPageSize = 50

// register lists the practice's patients.
func (s *Server) register(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	f := web.ParseRegisterFilter(c.Request.URL.Query())
	f.Text = s.veil.uncover(f.Veiled)
	all, err := s.Store.Patients(ctx)
	if err != nil {
		return nil, err
	}
	found := all
	if f.Text != "" {
		if found, err = s.Store.SearchPatients(ctx, f.Text, 200); err != nil {
			return nil, err
		}
	}
	p := web.RegisterPage{Layout: s.layout(c), Filter: f, Matching: len(found), Total: len(all), PageSize: registerPageSize}
	from := min((max(f.Page, 1)-1)*registerPageSize, len(found))
	for _, who := range found[from:min(from+registerPageSize, len(found))] {
		row, err := s.registerRow(ctx, who)
		if err != nil {
			return nil, err
		}
		p.Rows = append(p.Rows, row)
	}
	return p, nil
}

func (s *Server) registerRow(ctx context.Context, who store.Patient) (web.RegisterRow, error) {
	row := web.RegisterRow{ID: who.ID, Patient: patient(who)}
	wears, err := s.Store.WearsOf(ctx, who.ID)
	if err != nil {
		return row, err
	}
	row.Wears = len(wears)
	for _, w := range wears {
		if w.Open {
			row.Open++
		}
		if w.End.After(row.LastWear) {
			row.LastWear = w.End
		}
	}
	recalls, err := s.Store.Recalls(ctx, store.RecallQuery{PatientID: who.ID, Limit: 1})
	if err != nil {
		return row, err
	}
	if len(recalls.Rows) > 0 {
		row.RecallAt = recalls.Rows[0].DueAt
	}
	return row, nil
}

// patientPage is all that the practice holds of one person.
func (s *Server) patientPage(c *gin.Context) (web.Page, error) { return s.onePatient(c, web.Form{}) }

// patientAgain shows a patient once more with a form that was not taken.
func (s *Server) patientAgain(c *gin.Context, task string, wrong []web.FieldError) (web.Page, error) {
	f := form(c, wrong)
	f.Task = task
	return s.onePatient(c, f)
}

func (s *Server) onePatient(c *gin.Context, f web.Form) (web.Page, error) {
	who, err := s.viewPatient(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	p := web.PatientPage{Layout: s.layout(c), Form: f, ID: who.ID, Patient: patient(who.Patient), Contact: reach(who.Contact), Context: who.Context}
	if p.Wears, err = s.patientWears(ctx, who.ID); err != nil {
		return nil, err
	}
	list, err := s.Store.Results(ctx, who.ID)
	if err != nil {
		return nil, err
	}
	p.Results = results(list)
	recalls, err := s.Store.Recalls(ctx, store.RecallQuery{PatientID: who.ID, Closed: true, Limit: 200})
	if err != nil {
		return nil, err
	}
	if p.Recalls, err = s.recallRows(c, recalls.Rows); err != nil {
		return nil, err
	}
	letters, err := s.Store.Letters(ctx, who.ID)
	if err != nil {
		return nil, err
	}
	p.Letters = letterLines(letters, 0)
	if p.Merges, err = s.merges(ctx, who.ID); err != nil {
		return nil, err
	}
	if p.Trail, err = s.patientTrail(ctx, who.ID); err != nil {
		return nil, err
	}
	if len(f.Errors) > 0 {
		return again(p), nil
	}
	return p, nil
}

// onPatient runs a change of the patient in the address and shows the patient at
// a place of the page.
func (s *Server) onPatient(c *gin.Context, task, place string, wrong []web.FieldError, change func(id int64) error) (web.Page, error) {
	return s.apply(c, wrong, change,
		func(_ int64, wrong []web.FieldError) (web.Page, error) { return s.patientAgain(c, task, wrong) },
		func(id int64) string { return patientAddress(id) + place })
}

// patientNote writes a note about a patient.
func (s *Server) patientNote(c *gin.Context) (web.Page, error) {
	text, wrong := web.ParseNote(c.Request.PostForm)
	return s.onPatient(c, "note", "#note", wrong, func(id int64) error {
		_, err := s.Store.AddPatientNote(c.Request.Context(), actor(c), id, text)
		return err
	})
}

// viewPatient gives the patient in the address and logs that they were looked
// at. An entry that was merged into another leads to that.
func (s *Server) viewPatient(c *gin.Context) (store.PatientRecord, error) {
	id, err := pathID(c)
	if err != nil {
		return store.PatientRecord{}, err
	}
	ctx := c.Request.Context()
	live, err := s.Store.Patient(ctx, id)
	if err != nil {
		return store.PatientRecord{}, err
	}
	who, err := s.Store.PatientRecord(ctx, live.ID)
	if err != nil {
		return store.PatientRecord{}, err
	}
	return who, s.Store.RecordView(ctx, actor(c), "patient", who.ID)
}

func (s *Server) patientWears(ctx context.Context, patientID int64) ([]web.PatientWear, error) {
	list, err := s.Store.WearsOf(ctx, patientID)
	if err != nil {
		return nil, err
	}
	outcomes, err := s.Store.Outcomes(ctx, patientID)
	if err != nil {
		return nil, err
	}
	var out []web.PatientWear
	for _, x := range list {
		w, err := s.Store.Wear(ctx, x.ID)
		if err != nil {
			return nil, err
		}
		row := web.PatientWear{
			WearID: x.ID, SensorKind: x.SensorKind, Start: x.Start, End: x.End, Headline: x.Headline, Tier: x.Tier,
			Confidence: w.Report.Confidence, Days: w.Report.Days, Above7_8: w.Report.Metrics.Above7_8Pct, Above10: w.Report.Metrics.Above10Pct,
		}
		for _, o := range outcomes {
			if o.WearID == x.ID && o.InForce() && !x.Open {
				row.Outcome, row.OutcomeAt = string(o.Kind), o.At
			}
		}
		out = append(out, row)
	}
	return out, nil
}

// reach is how a patient can be reached.
func reach(c store.PatientContact) web.Contact {
	return web.Contact{Phone: c.Telephone, Email: c.Mail, Address: c.Address, Prefers: string(c.Preferred), Note: c.Note}
}

// letterLines are the letters that were sent, newest first; of one wear where
// one is given.
func letterLines(list []store.Letter, wearID int64) []web.LetterLine {
	var out []web.LetterLine
	for _, l := range list {
		if !l.SentAt.IsZero() && (wearID == 0 || l.WearID == wearID) {
			out = append(out, web.LetterLine{ID: l.ID, Kind: letter.Kind(l.Kind), At: l.SentAt, By: l.SentBy.Name, How: string(l.How)})
		}
	}
	return out
}

// newPatient asks for a patient to be added.
func (s *Server) newPatient(c *gin.Context) (web.Page, error) {
	return web.PatientFormPage{Layout: s.layout(c)}, nil
}

// addPatient puts one patient on the register. A code that is there already is
// not written over.
func (s *Server) addPatient(c *gin.Context) (web.Page, error) {
	ctx, a := c.Request.Context(), actor(c)
	r, wrong := web.ParsePatient(c.Request.PostForm, s.Now().In(s.Zone))
	if len(wrong) == 0 {
		if _, err := s.Store.PatientByCode(ctx, r.Patient.Code); err == nil {
			wrong = []web.FieldError{{Field: "code", Text: "A patient with this code is on the register already. Look there, or correct the code."}}
		} else if store.CodeOf(err) != store.NotFound {
			return nil, err
		}
	}
	var id int64
	if len(wrong) == 0 {
		var err error
		id, err = s.savePatient(ctx, a, r)
		if wrong = said(err); wrong == nil && err != nil {
			return nil, err
		}
	}
	if len(wrong) > 0 {
		return again(web.PatientFormPage{Layout: s.layout(c), Form: form(c, wrong)}), nil
	}
	return goTo(c, patientAddress(id))
}

// savePatient adds a patient whose code is not on the register.
func (s *Server) savePatient(ctx context.Context, a store.Actor, r web.PatientRecord) (int64, error) {
	line := store.RegisterLine{Code: r.Patient.Code, Name: r.Patient.Name, BirthDate: r.Patient.BirthDate, Sex: r.Context.Sex}
	checks, err := s.Store.ImportRegister(ctx, a, []store.RegisterLine{line})
	if err != nil {
		return 0, err
	}
	if checks[0].State == store.LineProblem {
		return 0, invalid(checks[0].Problem)
	}
	who, err := s.Store.PatientByCode(ctx, r.Patient.Code)
	if err != nil {
		return 0, err
	}
	rec, err := s.Store.PatientRecord(ctx, who.ID)
	if err != nil {
		return 0, err
	}
	return who.ID, s.Store.EditPatient(ctx, a, edited(rec, r))
}

// edited is a stored entry with what a form says. What the form does not ask
// about stays.
func edited(rec store.PatientRecord, r web.PatientRecord) store.PatientRecord {
	rec.Code, rec.Name, rec.BirthDate, rec.Context = r.Patient.Code, r.Patient.Name, r.Patient.BirthDate, r.Context
	rec.Contact.Telephone, rec.Contact.Mail, rec.Contact.Address = r.Contact.Phone, r.Contact.Email, r.Contact.Address
	rec.Contact.Preferred, rec.Contact.Note = store.Means(r.Contact.Prefers), r.Contact.Note
	return rec
}

// editPatient asks for what is to be different.
func (s *Server) editPatient(c *gin.Context) (web.Page, error) {
	who, err := s.viewPatient(c)
	if err != nil {
		return nil, err
	}
	v := web.PatientRecord{Patient: patient(who.Patient), Contact: reach(who.Contact), Context: who.Context}.Values()
	v.Set("version", idText(who.Version))
	return web.PatientFormPage{Layout: s.layout(c), Form: web.Form{Values: v}, ID: who.ID}, nil
}

// changePatient saves an edited entry. Where that changes the rules that apply,
// the reports of the patient's wears on the round are made anew.
func (s *Server) changePatient(c *gin.Context) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	ctx, a := c.Request.Context(), actor(c)
	rec, err := s.Store.PatientRecord(ctx, id)
	if err != nil {
		return nil, err
	}
	r, wrong := web.ParsePatient(c.Request.PostForm, s.Now().In(s.Zone))
	if v := c.PostForm("version"); v != "" && v != idText(rec.Version) {
		wrong = append(wrong, web.FieldError{Text: "Somebody else changed this entry meanwhile. Open it again and repeat your change."})
	}
	if len(wrong) == 0 {
		err = s.Store.EditPatient(ctx, a, edited(rec, r))
		if err == nil && rec.Context != r.Context {
			err = s.reanalyseOpen(ctx, a, id)
		}
		wrong = said(err)
	}
	if len(wrong) > 0 {
		return again(web.PatientFormPage{Layout: s.layout(c), Form: form(c, wrong), ID: id}), nil
	}
	if err != nil {
		return nil, err
	}
	return goTo(c, patientAddress(id))
}

func patientAddress(id int64) string { return "/patients/" + idText(id) }
