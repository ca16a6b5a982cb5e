package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

const recordColumns = patientColumns + ", contact, coalesce(merged_into, 0), patients.changed"

func scanRecord(row interface{ Scan(...any) error }) (PatientRecord, error) {
	var r PatientRecord
	err := row.Scan(append(r.targets(), into(&r.Contact), &r.MergedInto, &r.Version)...)
	return r, err
}

// PatientRecord gives a patient's entry as it is to be edited, also one that
// was merged into another.
func (s *Store) PatientRecord(ctx context.Context, id int64) (PatientRecord, error) {
	r, err := scanRecord(s.reader.QueryRowContext(ctx, "SELECT "+recordColumns+" FROM patients WHERE id = ?", id))
	return r, fail("read a patient", err)
}

// EditPatient saves an entry as it was read by [Store.PatientRecord] and then
// changed. [ErrStale] means that somebody else changed it meanwhile. The log
// says which fields changed, never what they hold. The patient's wears are
// judged anew.
func (s *Store) EditPatient(ctx context.Context, a Actor, r PatientRecord) error {
	if err := firstErr(checkPatient(&r.Patient, s.now()), r.Contact.check()); err != nil {
		return err
	}
	return s.act(ctx, a, staff, "edit a patient", onPatient(r.ID), func(t *tx) error {
		old, err := scanRecord(t.QueryRowContext(ctx, "SELECT "+recordColumns+" FROM patients WHERE id = ?", r.ID))
		if err != nil {
			return err
		}
		if old.Version != r.Version || old.MergedInto != 0 {
			return ErrStale
		}
		var taken bool
		if err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM patients WHERE code = ? AND id <> ?)", r.Code, r.ID).Scan(&taken); err != nil {
			return err
		}
		if taken {
			return conflict("Another patient has this code already. Choose another, or merge the two.")
		}
		return t.saveRecord(ctx, old, r)
	})
}

// saveRecord saves what is different and logs which fields are.
func (t *tx) saveRecord(ctx context.Context, old, r PatientRecord) error {
	fields := changed(old, r)
	if len(fields) == 0 {
		return nil
	}
	if err := t.bump(ctx); err != nil {
		return err
	}
	known, err := text(r.Context)
	if err != nil {
		return err
	}
	contact, err := text(r.Contact)
	if err != nil {
		return err
	}
	if _, err := t.ExecContext(ctx, "UPDATE patients SET code = ?, name = ?, birth_date = ?, context = ?, contact = ?, changed = ? WHERE id = ?",
		r.Code, r.Name, r.BirthDate, known, contact, t.version, r.ID); err != nil {
		return err
	}
	if old.Context != r.Context || old.BirthDate != r.BirthDate {
		if err := t.judgePatient(ctx, r.ID); err != nil {
			return err
		}
	}
	if old.Contact.Note != r.Contact.Note {
		if err := t.hear(ctx, r.ID, 0, r.Contact.Note); err != nil {
			return err
		}
	}
	return t.log(ctx, onPatient(r.ID), strings.Join(fields, ", "))
}

// changed names the fields that differ.
func changed(old, r PatientRecord) []string {
	var fields []string
	for _, f := range []struct {
		name string
		same bool
	}{
		{"code", old.Code == r.Code},
		{"name", old.Name == r.Name},
		{"birth date", old.BirthDate == r.BirthDate},
		{"context", old.Context == r.Context},
		{"contact", old.Contact == r.Contact},
	} {
		if !f.same {
			fields = append(fields, f.name)
		}
	}
	return fields
}

// oldest is older than anybody has become, in years.
const oldest = 125

// CheckKnown refuses what the register would not have taken of a patient: the
// entry, what is known of the person, or a result.
func CheckKnown(p *Patient, results []Result, now time.Time) error {
	if err := checkPatient(p, now); err != nil {
		return err
	}
	if asked, err := time.Parse(time.DateOnly, p.Context.AskedOn); p.Context.AskedOn != "" && (err != nil || asked.After(now.AddDate(0, 0, 1))) {
		return invalid("asked_on must be a day that has been, written as year-month-day, for example 2026-03-04.")
	}
	for i := range results {
		if e, ok := errors.AsType[*Error](firstErr(results[i].check(), CheckTaken(results[i].TakenAt, p, now))); ok {
			return invalid("Result %d: %s", i+1, e.Public)
		}
	}
	return nil
}

// checkPatient refuses an entry that could not be found again, and what cannot
// be known of anybody.
func checkPatient(p *Patient, now time.Time) error {
	if p.Code == "" || p.Code != strings.TrimSpace(p.Code) {
		return invalid("A patient's code must not be empty, nor begin or end with a space.")
	}
	c := &p.Context
	if p.BirthDate != "" {
		born, err := time.Parse(time.DateOnly, p.BirthDate)
		if err != nil {
			return invalid("A date of birth must be written as year-month-day, for example 1980-04-03.")
		}
		if born.After(now) || born.Before(now.AddDate(-oldest, 0, 0)) {
			return invalid("Nobody alive was born on %s. Check the year.", born.Format("2 January 2006"))
		}
		if c.BirthYear != 0 && c.BirthYear != born.Year() {
			return invalid("The date of birth is in %d and the year of birth says %d. Correct the one that is wrong, or leave the year out.", born.Year(), c.BirthYear)
		}
	}
	if c.BirthYear != 0 && (c.BirthYear > now.Year() || c.BirthYear < now.Year()-oldest) {
		return invalid("Nobody alive was born in %d. Check the year.", c.BirthYear)
	}
	if !slices.Contains([]string{"", "female", "male"}, c.Sex) {
		return invalid("The sex must be female, male or left empty.")
	}
	return checkText(p.Name)
}

func (c *PatientContact) check() error {
	if c.Preferred != "" && !slices.Contains(AllMeans(), c.Preferred) {
		return invalid("Choose how the patient prefers to be contacted.")
	}
	for _, s := range []string{c.Telephone, c.Mail, c.Address, c.Language, c.Note} {
		if err := checkText(s); err != nil {
			return err
		}
	}
	return nil
}

// SearchPatients gives up to limit patients, by code, in whose code, name or
// birth date every word of the text is found. Case does not matter.
func (s *Store) SearchPatients(ctx context.Context, words string, limit int) ([]Patient, error) {
	if err := checkPage(0, limit); err != nil {
		return nil, err
	}
	all, err := s.Patients(ctx)
	if err != nil {
		return nil, err
	}
	// Not in SQL: its lower() knows the letters A to Z only.
	parts := strings.Fields(strings.ToLower(words))
	var found []Patient
	for _, p := range all {
		entry := strings.ToLower(p.Code + "\n" + p.Name + "\n" + p.BirthDate)
		if !slices.ContainsFunc(parts, func(part string) bool { return !strings.Contains(entry, part) }) {
			if found = append(found, p); len(found) == limit {
				break
			}
		}
	}
	return found, nil
}

// stillThere gives [ErrStale] for a patient whose entry was merged away.
func (t *tx) stillThere(ctx context.Context, patientID int64) error {
	var merged bool
	err := t.QueryRowContext(ctx, "SELECT merged_into IS NOT NULL FROM patients WHERE id = ?", patientID).Scan(&merged)
	if errors.Is(err, sql.ErrNoRows) {
		return invalid("This refers to a patient who is not on the register. Go back and look again.")
	}
	if err == nil && merged {
		return ErrStale
	}
	return err
}

// ofLive refuses what is about an entry that was merged into another since it
// was looked at: on that one nobody would find it.
func (t *tx) ofLive(ctx context.Context, patientID int64) error {
	err := t.stillThere(ctx, patientID)
	if errors.Is(err, ErrStale) {
		return conflict("This entry was joined with another one meanwhile. Open the patient again, then do it there.")
	}
	return err
}

// recordByCode gives the entry of a code, and whether there is one.
func recordByCode(ctx context.Context, t *sql.Tx, code string) (PatientRecord, bool, error) {
	r, err := scanRecord(t.QueryRowContext(ctx, fmt.Sprintf("SELECT %s FROM patients WHERE code = ?", recordColumns), code))
	if errors.Is(err, sql.ErrNoRows) {
		return PatientRecord{}, false, nil
	}
	return r, err == nil, err
}
