package register

import (
	"context"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
)

// registerPageSize is how many patients a page of the register shows.
const registerPageSize = 50

// Register lists the practice's patients.
func (s *Register) Register(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	f := web.ParseRegisterFilter(c.Request.URL.Query())
	f.Text = s.Veil.Uncover(f.Veiled)
	from := (max(f.Page, 1) - 1) * registerPageSize
	shown, total, err := s.Store.RegisterPage(ctx, from, registerPageSize)
	if err != nil {
		return nil, err
	}
	p := web.RegisterPage{Layout: s.Layout(c), Filter: f, Matching: total, Total: total, PageSize: registerPageSize}
	if f.Text != "" {
		found, err := s.Store.SearchPatients(ctx, f.Text, 200)
		if err != nil {
			return nil, err
		}
		p.Matching = len(found)
		from = min(from, len(found))
		shown = found[from:min(from+registerPageSize, len(found))]
	}
	known, err := s.Store.RegisterSummaries(ctx, door.Each(shown, func(p store.Patient) int64 { return p.ID }))
	if err != nil {
		return nil, err
	}
	for _, who := range shown {
		k := known[who.ID]
		p.Rows = append(p.Rows, web.RegisterRow{
			ID: who.ID, Patient: view.Patient(who), Wears: k.Wears, Open: k.Open, LastWear: k.LastWear, RecallAt: k.RecallAt,
		})
	}
	return p, nil
}

// PatientPage is all that the practice holds of one person.
func (s *Register) PatientPage(c *gin.Context) (web.Page, error) { return s.onePatient(c, form.Form{}) }

// patientAgain shows a patient once more with a form that was not taken.
func (s *Register) patientAgain(c *gin.Context, task string, wrong []form.FieldError) (web.Page, error) {
	f := door.Form(c, wrong)
	f.Task = task
	return s.onePatient(c, f)
}

func (s *Register) onePatient(c *gin.Context, f form.Form) (web.Page, error) {
	who, err := s.viewPatient(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	p := web.PatientPage{Layout: s.Layout(c), Form: f, ID: who.ID, Patient: view.Patient(who.Patient), Contact: view.Reach(who.Contact), Context: who.Context}
	if p.Wears, err = s.patientWears(ctx, who.ID); err != nil {
		return nil, err
	}
	list, err := s.Store.Results(ctx, who.ID)
	if err != nil {
		return nil, err
	}
	p.Results = view.Results(list)
	recalls, err := s.Store.Recalls(ctx, store.RecallQuery{PatientID: who.ID, Closed: true, Limit: 200})
	if err != nil {
		return nil, err
	}
	if p.Recalls, err = s.RecallRows(c, recalls.Rows); err != nil {
		return nil, err
	}
	letters, err := s.Store.Letters(ctx, who.ID)
	if err != nil {
		return nil, err
	}
	p.Letters = view.LetterLines(letters, 0)
	if p.Merges, err = s.merges(ctx, who.ID); err != nil {
		return nil, err
	}
	if p.Trail, err = s.PatientTrail(ctx, who.ID); err != nil {
		return nil, err
	}
	if len(f.Errors) > 0 {
		return door.Again(p), nil
	}
	return p, nil
}

// onPatient runs a change of the patient in the address and shows the patient at
// an anchor of the page.
func (s *Register) onPatient(c *gin.Context, task, anchor string, wrong []form.FieldError, change func(id int64) error) (web.Page, error) {
	return s.Apply(c, wrong, change,
		func(_ int64, wrong []form.FieldError) (web.Page, error) { return s.patientAgain(c, task, wrong) },
		func(id int64) string { return door.PatientAddress(id) + anchor })
}

// PatientNote writes a note about a patient.
func (s *Register) PatientNote(c *gin.Context) (web.Page, error) {
	text, wrong := form.ParseNote(c.Request.PostForm)
	return s.onPatient(c, "note", "#note", wrong, func(id int64) error {
		_, err := s.Store.AddPatientNote(c.Request.Context(), door.Actor(c), id, text)
		return err
	})
}

// viewPatient gives the patient in the address and logs that they were looked
// at. An entry that was merged into another leads to that.
func (s *Register) viewPatient(c *gin.Context) (store.PatientRecord, error) {
	id, err := door.PathID(c)
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
	return who, s.Store.RecordView(ctx, door.Actor(c), "patient", who.ID)
}

func (s *Register) patientWears(ctx context.Context, patientID int64) ([]web.PatientWear, error) {
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

// NewPatient asks for a patient to be added.
func (s *Register) NewPatient(c *gin.Context) (web.Page, error) {
	return web.PatientFormPage{Layout: s.Layout(c)}, nil
}

// AddPatient puts one patient on the register. A code that is there already is
// not written over.
func (s *Register) AddPatient(c *gin.Context) (web.Page, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	r, wrong := form.ParsePatient(c.Request.PostForm, s.Now().In(s.Zone))
	if len(wrong) == 0 {
		if _, err := s.Store.PatientByCode(ctx, r.Patient.Code); err == nil {
			wrong = []form.FieldError{{Field: "code", Text: "A patient with this code is on the register already. Look there, or correct the code."}}
		} else if store.CodeOf(err) != store.NotFound {
			return nil, err
		}
	}
	var id int64
	if len(wrong) == 0 {
		var err error
		id, err = s.SavePatient(ctx, a, r)
		if wrong = door.Said(err); wrong == nil && err != nil {
			return nil, err
		}
	}
	if len(wrong) > 0 {
		return door.Again(web.PatientFormPage{Layout: s.Layout(c), Form: door.Form(c, wrong)}), nil
	}
	return door.GoTo(c, door.PatientAddress(id))
}

// EditPatient asks for what is to be different.
func (s *Register) EditPatient(c *gin.Context) (web.Page, error) {
	who, err := s.viewPatient(c)
	if err != nil {
		return nil, err
	}
	v := form.PatientRecord{Patient: view.Patient(who.Patient), Contact: view.Reach(who.Contact), Context: who.Context}.Values()
	v.Set("version", door.IDText(who.Version))
	return web.PatientFormPage{Layout: s.Layout(c), Form: form.Form{Values: v}, ID: who.ID}, nil
}

// ChangePatient saves an edited entry. Where that changes the rules that apply,
// the reports of the patient's wears on the round are made anew.
func (s *Register) ChangePatient(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	ctx, a := c.Request.Context(), door.Actor(c)
	rec, err := s.Store.PatientRecord(ctx, id)
	if err != nil {
		return nil, err
	}
	r, wrong := form.ParsePatient(c.Request.PostForm, s.Now().In(s.Zone))
	if v := c.PostForm("version"); v != "" && v != door.IDText(rec.Version) {
		wrong = append(wrong, form.FieldError{Text: "Somebody else changed this entry meanwhile. Open it again and repeat your change."})
	}
	if len(wrong) == 0 {
		err = s.Store.EditPatient(ctx, a, act.Edited(rec, r))
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		return door.Again(web.PatientFormPage{Layout: s.Layout(c), Form: door.Form(c, wrong), ID: id}), nil
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, door.PatientAddress(id))
}

// AddRecall sets a recall by hand.
func (s *Register) AddRecall(c *gin.Context) (web.Page, error) {
	n, wrong := form.ParseNewRecall(c.Request.PostForm, s.Zone, s.Now())
	return s.onPatient(c, "recalls", "#recalls", wrong, func(id int64) error {
		_, err := s.Store.AddRecall(c.Request.Context(), door.Actor(c), store.NewRecall{PatientID: id, Kind: store.RecallKind(n.Kind), DueAt: n.By, Note: n.Note})
		return err
	})
}

// PatientResult records a result on a patient's page.
func (s *Register) PatientResult(c *gin.Context) (web.Page, error) {
	r, wrong := form.ParseResult(c.Request.PostForm, s.Zone, s.Now())
	return s.onPatient(c, "results", "#results", wrong, func(id int64) error {
		ctx := c.Request.Context()
		who, err := s.Store.Patient(ctx, id)
		if err != nil {
			return err
		}
		_, err = s.SaveResult(ctx, door.Actor(c), s.NewResult(who, r))
		return err
	})
}

// SearchRegister shows the part of the register that matches.
func (s *Register) SearchRegister(c *gin.Context) (web.Page, error) {
	f := web.RegisterFilter{Text: web.ParseSearch(c.Request.PostForm)}
	f.Veiled = s.Veil.Cover(f.Text)
	return door.GoTo(c, f.Address())
}

// TakePatientBack takes a laboratory result back.
func (s *Register) TakePatientBack(c *gin.Context) (web.Page, error) {
	t, wrong := form.ParseTakeBack(c.Request.PostForm)
	return s.onPatient(c, t.Task(), "#results", wrong, func(id int64) error {
		if t.What != form.TakeResult {
			return door.ErrNoPage
		}
		return s.WithdrawResult(c.Request.Context(), door.Actor(c), id, t.ID, t.Reason)
	})
}
