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

// AddPatients puts patients on the register. One whose code is there already
// is brought up to date; the ID field is not read. All are saved or none. Held
// files that ask whose they are, are read again.
func (s *Store) AddPatients(ctx context.Context, patients []Patient) error {
	for i := range patients {
		if err := checkPatient(&patients[i], s.now()); err != nil {
			return err
		}
	}
	if len(patients) == 0 {
		return nil
	}
	return s.actAs(ctx, staff, "add patients", onData, func(t *tx) error {
		if err := t.bump(ctx); err != nil {
			return err
		}
		add, err := t.PrepareContext(ctx, `INSERT INTO patients (code, name, birth_date, context, changed) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (code) DO UPDATE SET name = excluded.name, birth_date = excluded.birth_date,
				context = excluded.context, changed = excluded.changed WHERE merged_into IS NULL RETURNING id`)
		if err != nil {
			return err
		}
		defer add.Close()
		for _, p := range patients {
			known, err := text(p.Context)
			if err != nil {
				return err
			}
			var id int64
			err = add.QueryRowContext(ctx, p.Code, p.Name, p.BirthDate, known, t.version).Scan(&id)
			if errors.Is(err, sql.ErrNoRows) {
				return conflict("One of these codes was merged into another entry. Use the code of that entry.")
			}
			if err != nil {
				return err
			}
			if err := t.judgePatient(ctx, id); err != nil {
				return err
			}
			if err := t.log(ctx, onPatient(id), ""); err != nil {
				return err
			}
		}
		return t.askWhoseAgain(ctx)
	})
}

// Named is how a letter names the patient, name and date of birth: one that was
// written for another is not theirs.
func (p *Patient) Named() string { return p.Name + "\n" + p.BirthDate }

const patientColumns = "patients.id, patients.code, patients.name, patients.birth_date, patients.context"

// targets are where a row of patientColumns is scanned to.
func (p *Patient) targets() []any {
	return []any{&p.ID, &p.Code, &p.Name, &p.BirthDate, into(&p.Context)}
}

// live is the id of a patient's entry, or of the one that it was merged into;
// the condition that finds the entry stands for %s.
const live = `(WITH RECURSIVE chain (id, next) AS (
		SELECT id, merged_into FROM patients WHERE %s
		UNION SELECT patients.id, merged_into FROM chain JOIN patients ON patients.id = chain.next)
	SELECT id FROM chain WHERE next IS NULL)`

// PatientByCode gives the patient with the practice's own code. For an entry
// that was merged into another it gives that other; so does [Store.Patient].
func (s *Store) PatientByCode(ctx context.Context, code string) (Patient, error) {
	p, err := s.patient(ctx, "SELECT "+patientColumns+" FROM patients WHERE id = "+fmt.Sprintf(live, "code = ?"), code)
	if CodeOf(err) != NotFound {
		return p, err
	}
	// P-0412 and p-0412 are the same, unless both are on the register.
	return s.patient(ctx, "SELECT "+patientColumns+" FROM patients WHERE id = "+
		fmt.Sprintf(live, "upper(code) = upper(?1) AND (SELECT count(*) FROM patients WHERE upper(code) = upper(?1)) = 1"), code)
}

// FoldCode gives what two codes have in common that differ in the case of A to
// Z alone, as [Store.PatientByCode] compares them.
func FoldCode(code string) string {
	return strings.Map(func(r rune) rune {
		if 'a' <= r && r <= 'z' {
			return r - 'a' + 'A'
		}
		return r
	}, code)
}

// Patient gives one patient.
func (s *Store) Patient(ctx context.Context, id int64) (Patient, error) {
	return s.patient(ctx, "SELECT "+patientColumns+" FROM patients WHERE id = "+fmt.Sprintf(live, "id = ?"), id)
}

// readPatient reads an entry of the register, also one that was merged into another.
func readPatient(ctx context.Context, t *sql.Tx, id int64) (p Patient, err error) {
	err = t.QueryRowContext(ctx, "SELECT "+patientColumns+" FROM patients WHERE id = ?", id).Scan(p.targets()...)
	return p, err
}

func (s *Store) patient(ctx context.Context, query string, arg any) (Patient, error) {
	var p Patient
	err := s.reader.QueryRowContext(ctx, query, arg).Scan(p.targets()...)
	return p, fail("read a patient", err)
}

// KnownCodes says which of some codes are on the register.
func (s *Store) KnownCodes(ctx context.Context, codes []string) (map[string]bool, error) {
	list, err := text(codes)
	if err != nil {
		return nil, fail("look for codes", err)
	}
	known := map[string]bool{}
	rows, err := s.reader.QueryContext(ctx, "SELECT code FROM patients WHERE code IN (SELECT value FROM json_each(?))", list)
	err = each(rows, err, func(rows *sql.Rows) error {
		var code string
		err := rows.Scan(&code)
		known[code] = true
		return err
	})
	return known, fail("look for codes", err)
}

// Patients gives the whole register in the order of the codes.
func (s *Store) Patients(ctx context.Context) ([]Patient, error) {
	var list []Patient
	rows, err := s.reader.QueryContext(ctx, "SELECT "+patientColumns+" FROM patients WHERE merged_into IS NULL ORDER BY code")
	err = each(rows, err, func(rows *sql.Rows) error {
		var p Patient
		err := rows.Scan(p.targets()...)
		list = append(list, p)
		return err
	})
	return slices.Clip(list), fail("read the register", err)
}

// RegisterPage gives some of the register in the order of the codes, and how many
// are on it.
func (s *Store) RegisterPage(ctx context.Context, offset, limit int) (list []Patient, total int, err error) {
	if err := checkPage(offset, limit); err != nil {
		return nil, 0, err
	}
	rows, err := s.reader.QueryContext(ctx, "SELECT "+patientColumns+" FROM patients WHERE merged_into IS NULL ORDER BY code LIMIT ? OFFSET ?", limit, offset)
	list, err = collect(rows, err, func(rows *sql.Rows) (p Patient, err error) {
		err = rows.Scan(p.targets()...)
		return p, err
	})
	if err != nil {
		return nil, 0, fail("read the register", err)
	}
	n, err := s.Counts(ctx)
	return list, n.Patients, err
}

// RegisterSummary is what the register says beside a patient.
type RegisterSummary struct {
	Wears, Open int       // of those joined into another, the other counts
	LastWear    time.Time // end of the latest, zero where there is none
	RecallAt    time.Time // when the first open recall is due, zero where there is none
}

// RegisterSummaries gives it for some patients, by id.
func (s *Store) RegisterSummaries(ctx context.Context, patients []int64) (map[int64]RegisterSummary, error) {
	list, err := text(append([]int64{}, patients...))
	if err != nil {
		return nil, fail("read the register", err)
	}
	out := map[int64]RegisterSummary{}
	rows, err := s.reader.QueryContext(ctx, `SELECT value,
			coalesce(count(wears.id), 0), coalesce(sum(open), 0), coalesce(max(last_at), 0),
			coalesce((SELECT min(due_at) FROM recalls WHERE recalls.patient_id = value AND closed_at IS NULL), 0)
		FROM json_each(?) LEFT JOIN wears ON wears.patient_id = value AND joined_into IS NULL GROUP BY value`, list)
	err = each(rows, err, func(rows *sql.Rows) error {
		var id, last, recall int64
		var r RegisterSummary
		err := rows.Scan(&id, &r.Wears, &r.Open, &last, &recall)
		r.LastWear, r.RecallAt = when(last), when(recall)
		out[id] = r
		return err
	})
	return out, fail("read the register", err)
}
