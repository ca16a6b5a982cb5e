package api

import (
	"errors"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web/form"
	"wearround/worker/wear"
)

func apiListPatients(s *API, c *gin.Context, _ nothing) (apiPatients, error) {
	rows, err := s.Store.Patients(c.Request.Context())
	return apiPatients{door.Each(rows, apiPatientOf)}, err
}

type patientSearchIn struct {
	Text string `json:"text" doc:"words of a code, name or birth date"`
}

func apiSearchPatients(s *API, c *gin.Context, in patientSearchIn) (apiPatients, error) {
	rows, err := s.Store.SearchPatients(c.Request.Context(), in.Text, 200)
	return apiPatients{door.Each(rows, apiPatientOf)}, err
}

type patientIn struct {
	Code      string            `json:"code"`
	Name      string            `json:"name,omitempty"`
	BirthDate string            `json:"birth_date,omitempty" doc:"2006-01-02"`
	Context   wear.Context      `json:"context,omitzero"`
	Contact   apiContactDetails `json:"contact,omitzero"`
}

func apiAddPatient(s *API, c *gin.Context, in patientIn) (apiRecord, error) {
	ctx := c.Request.Context()
	if _, err := s.Store.PatientByCode(ctx, in.Code); err == nil {
		return apiRecord{}, &door.Problem{Status: 409, Sentence: "A patient with this code is on the register already."}
	} else if store.CodeOf(err) != store.NotFound {
		return apiRecord{}, err
	}
	id, err := s.SavePatient(ctx, door.Actor(c), form.PatientRecord{
		Patient: form.Patient{Code: in.Code, Name: in.Name, BirthDate: in.BirthDate}, Context: in.Context, Contact: view.Reach(in.Contact.stored()),
	})
	if err != nil {
		return apiRecord{}, err
	}
	r, err := s.Store.PatientRecord(ctx, id)
	return apiRecordOf(r), err
}

func apiGetPatient(s *API, c *gin.Context, in byID) (apiPatientFile, error) {
	ctx := c.Request.Context()
	live, err := s.Store.Patient(ctx, in.ID)
	if err != nil {
		return apiPatientFile{}, err
	}
	if err := s.Store.RecordView(ctx, door.Actor(c), "patient", live.ID); err != nil {
		return apiPatientFile{}, err
	}
	r, err0 := s.Store.PatientRecord(ctx, live.ID)
	wears, err1 := s.Store.WearsOf(ctx, live.ID)
	results, err2 := s.Store.Results(ctx, live.ID)
	recalls, err3 := s.Store.Recalls(ctx, store.RecallQuery{PatientID: live.ID, Closed: true, Limit: 200})
	letters, err4 := s.Store.Letters(ctx, live.ID)
	notes, err5 := s.Store.Notes(ctx, live.ID)
	merges, err6 := s.Store.Merges(ctx, live.ID)
	return apiPatientFile{
		apiRecord: apiRecordOf(r), Wears: door.Each(wears, apiSummaryOf), Results: door.Each(results, apiResultOf), Recalls: door.Each(recalls.Rows, apiRecallOf),
		Letters: door.Each(letters, apiLetterOf), Notes: door.Each(notes, apiNoteOf), Merges: door.Each(merges, apiMergeOf),
	}, errors.Join(err0, err1, err2, err3, err4, err5, err6)
}

type editIn struct {
	ID        int64             `path:"id" json:"-"`
	Code      string            `json:"code"`
	Name      string            `json:"name"`
	BirthDate string            `json:"birth_date" doc:"2006-01-02, or empty"`
	Context   wear.Context      `json:"context"`
	Contact   apiContactDetails `json:"contact"`
	Version   int64             `json:"version" doc:"of the entry as it was read"`
}

func apiEditPatient(s *API, c *gin.Context, in editIn) (apiRecord, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	rec, err := s.Store.PatientRecord(ctx, in.ID)
	if err != nil {
		return apiRecord{}, err
	}
	rec.Code, rec.Name, rec.BirthDate, rec.Context, rec.Contact, rec.Version = in.Code, in.Name, in.BirthDate, in.Context, in.Contact.stored(), in.Version
	if err := s.Store.EditPatient(ctx, a, rec); err != nil {
		return apiRecord{}, err
	}
	rec, err = s.Store.PatientRecord(ctx, in.ID)
	return apiRecordOf(rec), err
}

func apiAddPatientNote(s *API, c *gin.Context, in noteIn) (apiID, error) {
	id, err := s.Store.AddPatientNote(c.Request.Context(), door.Actor(c), in.ID, in.Text)
	return apiID{id}, err
}

type mergeIn struct {
	ID     int64  `path:"id" json:"-"`
	Other  int64  `json:"other" doc:"the entry that is taken in"`
	Reason string `json:"reason"`
}

func apiMergePatients(s *API, c *gin.Context, in mergeIn) (apiID, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	id, err := s.Store.Merge(ctx, a, in.ID, in.Other, in.Reason)
	return apiID{id}, err
}

func apiUndoMerge(s *API, c *gin.Context, in withReason) (none, error) {
	return none{}, s.Store.UndoMerge(c.Request.Context(), door.Actor(c), in.ID, in.Reason)
}

type registerIn struct {
	Lines []apiLine `json:"lines"`
}

func (in registerIn) stored() []store.RegisterLine {
	return door.Each(in.Lines, func(l apiLine) store.RegisterLine {
		return store.RegisterLine{Code: l.Code, Name: l.Name, BirthDate: l.BirthDate, Sex: l.Sex, Contact: l.Contact.stored()}
	})
}

func (in registerIn) checks(checks []store.RegisterCheck) apiChecks {
	out := apiChecks{Lines: []apiCheck{}}
	for i, k := range checks {
		out.Lines = append(out.Lines, apiCheck{in.Lines[i].Code, string(k.State), append([]string{}, k.Fields...), k.Problem, k.Twin})
	}
	return out
}

func apiPreviewRegister(s *API, c *gin.Context, in registerIn) (apiChecks, error) {
	checks, err := s.Store.PreviewRegister(c.Request.Context(), in.stored())
	return in.checks(checks), err
}

func apiImportRegister(s *API, c *gin.Context, in registerIn) (apiChecks, error) {
	checks, err := s.Store.ImportRegister(c.Request.Context(), door.Actor(c), in.stored())
	if err == nil {
		s.Worker.Look() // files that waited for a patient may find theirs now
	}
	return in.checks(checks), err
}

type resultIn struct {
	ID       int64     `path:"id" json:"-"`
	Kind     string    `json:"kind" enum:"hba1c|fasting_glucose|ogtt_2h|random_glucose|insulin|insulin_untimed|c_peptide|cholesterol|hdl|ldl|non_hdl|triglycerides"`
	Value    string    `json:"value" doc:"as reported: a plain decimal number, < or > before it where the report has one"`
	Unit     string    `json:"unit" enum:"mmol/mol|%|mmol/L|mg/dL|mU/L|pmol/L|nmol/L|ng/mL|ug/L" doc:"as reported; never converted"`
	TakenAt  time.Time `json:"taken_at"`
	WearID   int64     `json:"wear_id,omitempty"`
	RecallID int64     `json:"recall_id,omitempty" doc:"the recall that it closes"`
	Note     string    `json:"note,omitempty"`
}

func apiAddResult(s *API, c *gin.Context, in resultIn) (apiResult, error) {
	ctx := c.Request.Context()
	who, err := s.Store.Patient(ctx, in.ID)
	if err != nil {
		return apiResult{}, err
	}
	n := s.NewResult(who, form.Result{Test: in.Kind, Value: in.Value, Unit: in.Unit, TakenAt: in.TakenAt, Note: in.Note})
	n.WearID, n.RecallID = in.WearID, in.RecallID
	id, err := s.SaveResult(ctx, door.Actor(c), n)
	if err != nil {
		return apiResult{}, err
	}
	all, err := s.Store.Results(ctx, who.ID)
	if err != nil {
		return apiResult{}, err
	}
	for _, r := range all {
		if r.ID == id {
			return apiResultOf(r), nil
		}
	}
	return apiResult{}, door.ErrNoPage
}

type withdrawResultIn struct {
	ID     int64  `path:"id" json:"-"`
	Result int64  `path:"result" json:"-"`
	Reason string `json:"reason"`
}

func apiWithdrawResult(s *API, c *gin.Context, in withdrawResultIn) (none, error) {
	return none{}, s.WithdrawResult(c.Request.Context(), door.Actor(c), in.ID, in.Result, in.Reason)
}

type recallsIn struct {
	State  string `query:"state" json:"-" enum:"overdue|untried|all" doc:"left out: all that are open"`
	Offset int    `query:"offset" json:"-"`
}

func apiListRecalls(s *API, c *gin.Context, in recallsIn) (apiRecalls, error) {
	q := s.RecallQuery(in.State)
	q.Offset, q.Limit = in.Offset, apiPageSize
	p, err := s.Store.Recalls(c.Request.Context(), q)
	return apiRecalls{door.Each(p.Rows, apiRecallOf), p.Matching}, err
}

type recallIn struct {
	ID     int64     `path:"id" json:"-"`
	Kind   string    `json:"kind" enum:"result|new_wear|review|appointment|urgent"`
	DueAt  time.Time `json:"due_at"`
	WearID int64     `json:"wear_id,omitempty"`
	Note   string    `json:"note,omitempty"`
}

func apiAddRecall(s *API, c *gin.Context, in recallIn) (apiID, error) {
	id, err := s.Store.AddRecall(c.Request.Context(), door.Actor(c), store.NewRecall{
		PatientID: in.ID, WearID: in.WearID, Kind: store.RecallKind(in.Kind), DueAt: in.DueAt, Note: in.Note,
	})
	return apiID{id}, err
}

func apiContactRecall(s *API, c *gin.Context, in contactIn) (apiID, error) {
	id, err := s.Store.ContactRecall(c.Request.Context(), door.Actor(c), in.ID, in.stored())
	return apiID{id}, err
}

type endRecallIn struct {
	ID      int64  `path:"id" json:"-"`
	Reason  string `json:"reason"`
	Version int64  `json:"version,omitempty" doc:"of the recall as it was seen: one that changed since is a conflict"`
}

func apiCloseRecall(s *API, c *gin.Context, in endRecallIn) (none, error) {
	return none{}, s.Store.CloseRecall(c.Request.Context(), door.Actor(c), in.ID, in.Reason, in.Version)
}

func apiCancelRecall(s *API, c *gin.Context, in endRecallIn) (none, error) {
	return none{}, s.Store.CancelRecall(c.Request.Context(), door.Actor(c), in.ID, in.Reason, in.Version)
}

type moveIn struct {
	ID      int64     `path:"id" json:"-"`
	DueAt   time.Time `json:"due_at"`
	Reason  string    `json:"reason"`
	Version int64     `json:"version,omitempty" doc:"of the recall as it was seen: one that changed since is a conflict"`
}

func apiMoveRecall(s *API, c *gin.Context, in moveIn) (none, error) {
	return none{}, s.Store.MoveRecall(c.Request.Context(), door.Actor(c), in.ID, in.DueAt, in.Reason, in.Version)
}

func apiListPeople(s *API, c *gin.Context, _ nothing) (apiUsers, error) {
	users, err := s.Store.Users(c.Request.Context())
	return apiUsers{door.Each(users, apiUserOf)}, err
}

type personIn struct {
	Login string   `json:"login"`
	Name  string   `json:"name"`
	Roles []string `json:"roles" doc:"nurse, clinician, lead, auditor"`
}

func apiAddPerson(s *API, c *gin.Context, in personIn) (apiInvitation, error) {
	u, link, err := s.Invite(c, store.NewUser{Login: in.Login, Name: in.Name, Roles: act.StoreRoles(in.Roles)})
	if err != nil {
		return apiInvitation{}, err
	}
	return apiInvitation{apiUserOf(u), link.Address, link.Until}, nil
}

type editPersonIn struct {
	ID       int64    `path:"id" json:"-"`
	Name     string   `json:"name"`
	Roles    []string `json:"roles"`
	Disabled bool     `json:"disabled"`
	Reason   string   `json:"reason,omitempty"`
}

func apiEditPerson(s *API, c *gin.Context, in editPersonIn) (apiUser, error) {
	ctx := c.Request.Context()
	if err := s.Store.EditUser(ctx, door.Actor(c), in.ID, in.Name, act.StoreRoles(in.Roles), in.Disabled, in.Reason); err != nil {
		return apiUser{}, err
	}
	u, err := s.Store.User(ctx, in.ID)
	return apiUserOf(u), err
}

func apiInvite(s *API, c *gin.Context, in byID) (apiInvitation, error) {
	u, link, err := s.NewLink(c, in.ID)
	if err != nil {
		return apiInvitation{}, err
	}
	return apiInvitation{apiUserOf(u), link.Address, link.Until}, nil
}

func apiResetFactor(s *API, c *gin.Context, in withReason) (none, error) {
	return none{}, s.Store.ClearSecondFactor(c.Request.Context(), door.Actor(c), in.ID, in.Reason)
}

type logIn struct {
	Person int64  `query:"person" json:"-" doc:"id of who did it"`
	Action string `query:"action" json:"-"`
	Before int64  `query:"before" json:"-" doc:"only lines with a smaller number"`
}

func apiGetLog(s *API, c *gin.Context, in logIn) (apiLog, error) {
	rows, err := s.Store.LogRows(c.Request.Context(), store.LogQuery{UserID: in.Person, Action: in.Action, Before: in.Before, Limit: apiPageSize})
	return apiLog{door.Each(rows, apiLogRowOf)}, err
}

func apiVerifyLog(s *API, c *gin.Context, _ nothing) (apiChain, error) {
	anchors, err := s.Anchors()
	if err != nil {
		return apiChain{}, err
	}
	k, err := s.Store.VerifyLog(c.Request.Context(), anchors...)
	return apiChain{k.At, k.Rows, k.OK(), k.Broken, k.Why}, err
}

type auditIn struct {
	From string `query:"from" json:"-" doc:"first day, 2006-01-02; left out with to: this calendar year so far"`
	To   string `query:"to" json:"-" doc:"last day, 2006-01-02; at most five years after the first"`
}

func apiGetAudit(s *API, c *gin.Context, in auditIn) (wear.Audit, error) {
	f, wrong := s.AuditFilter(in.From, in.To)
	if wrong != "" {
		return wear.Audit{}, door.Invalid(wrong)
	}
	found, err := s.ViewAudit(c, time.Time{}, f)
	if err != nil {
		return wear.Audit{}, err
	}
	return found[0], nil
}
