package web

import "wearround/web/form"

// Names that moved to package form, until everything says so itself.
type (
	Form          = form.Form
	FieldError    = form.FieldError
	Attempt       = form.Attempt
	Contact       = form.Contact
	Patient       = form.Patient
	OutcomeChoice = form.OutcomeChoice
	PatientRecord = form.PatientRecord
)
