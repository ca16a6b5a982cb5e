package act

import (
	"context"

	"wearround/server/door"
	"wearround/store"
	"wearround/web/form"
)

// SavePatient adds a patient whose code is not on the register.
func (s *Acts) SavePatient(ctx context.Context, a store.Actor, r form.PatientRecord) (int64, error) {
	line := store.RegisterLine{Code: r.Patient.Code, Name: r.Patient.Name, BirthDate: r.Patient.BirthDate, Sex: r.Context.Sex}
	checks, err := s.Store.ImportRegister(ctx, a, []store.RegisterLine{line})
	if err != nil {
		return 0, err
	}
	if checks[0].State == store.LineProblem {
		return 0, door.Invalid(checks[0].Problem)
	}
	who, err := s.Store.PatientByCode(ctx, r.Patient.Code)
	if err != nil {
		return 0, err
	}
	rec, err := s.Store.PatientRecord(ctx, who.ID)
	if err != nil {
		return 0, err
	}
	return who.ID, s.Store.EditPatient(ctx, a, Edited(rec, r))
}

// Edited is a stored entry with what a form says. What the form does not ask
// about stays.
func Edited(rec store.PatientRecord, r form.PatientRecord) store.PatientRecord {
	rec.Code, rec.Name, rec.BirthDate, rec.Context = r.Patient.Code, r.Patient.Name, r.Patient.BirthDate, r.Context
	rec.Contact.Telephone, rec.Contact.Mail, rec.Contact.Address = r.Contact.Phone, r.Contact.Email, r.Contact.Address
	rec.Contact.Preferred, rec.Contact.Note = store.Means(r.Contact.Prefers), r.Contact.Note
	return rec
}
