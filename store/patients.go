package store

import (
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"
)

// AddPatients puts patients on the register. One whose code is there already
// is brought up to date; the ID field is not read. All are saved or none.
func (s *Store) AddPatients(ctx context.Context, patients []Patient) error {
	for _, p := range patients {
		if p.Code == "" || p.Code != strings.TrimSpace(p.Code) {
			return invalid("A patient's code must not be empty, nor begin or end with a space.")
		}
		if p.BirthDate != "" {
			if _, err := time.Parse(time.DateOnly, p.BirthDate); err != nil {
				return invalid("A date of birth must be written as year-month-day, for example 1980-04-03.")
			}
		}
	}
	if len(patients) == 0 {
		return nil
	}
	return s.write(ctx, "add patients", func(t *tx) error {
		if err := t.bump(ctx); err != nil {
			return err
		}
		add, err := t.PrepareContext(ctx, `INSERT INTO patients (code, name, birth_date, context, changed) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (code) DO UPDATE SET name = excluded.name, birth_date = excluded.birth_date,
				context = excluded.context, changed = excluded.changed`)
		if err != nil {
			return err
		}
		defer add.Close()
		for _, p := range patients {
			known, err := text(p.Context)
			if err != nil {
				return err
			}
			if _, err := add.ExecContext(ctx, p.Code, p.Name, p.BirthDate, known, t.version); err != nil {
				return err
			}
		}
		return nil
	})
}

const patientColumns = "patients.id, patients.code, patients.name, patients.birth_date, patients.context"

// targets are where a row of patientColumns is scanned to.
func (p *Patient) targets() []any {
	return []any{&p.ID, &p.Code, &p.Name, &p.BirthDate, into(&p.Context)}
}

// PatientByCode gives the patient with the practice's own code.
func (s *Store) PatientByCode(ctx context.Context, code string) (Patient, error) {
	return s.patient(ctx, "SELECT "+patientColumns+" FROM patients WHERE code = ?", code)
}

// Patient gives one patient.
func (s *Store) Patient(ctx context.Context, id int64) (Patient, error) {
	return s.patient(ctx, "SELECT "+patientColumns+" FROM patients WHERE id = ?", id)
}

func (s *Store) patient(ctx context.Context, query string, arg any) (Patient, error) {
	var p Patient
	err := s.reader.QueryRowContext(ctx, query, arg).Scan(p.targets()...)
	return p, fail("read a patient", err)
}

// Patients gives the whole register in the order of the codes.
func (s *Store) Patients(ctx context.Context) ([]Patient, error) {
	var list []Patient
	rows, err := s.reader.QueryContext(ctx, "SELECT "+patientColumns+" FROM patients ORDER BY code")
	err = each(rows, err, func(rows *sql.Rows) error {
		var p Patient
		err := rows.Scan(p.targets()...)
		list = append(list, p)
		return err
	})
	return slices.Clip(list), fail("read the register", err)
}
