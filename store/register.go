package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"
)

// maxRegister is the most lines of one list.
const maxRegister = 100_000

// PreviewRegister says what importing a list would do, line by line, and
// changes nothing.
func (s *Store) PreviewRegister(ctx context.Context, lines []RegisterLine) ([]RegisterCheck, error) {
	if len(lines) > maxRegister {
		return nil, invalid("The list is too long. Import it in parts of up to %d lines.", maxRegister)
	}
	var checks []RegisterCheck
	err := s.read(ctx, "preview a list", func(t *sql.Tx) error {
		plan, err := planRegister(ctx, t, lines, s.now())
		for _, p := range plan {
			checks = append(checks, p.RegisterCheck)
		}
		return err
	})
	return checks, err
}

// ImportRegister puts a list on the register, all of it in one transaction but
// for the lines with a problem, which are left out. It gives what became of
// each line. Held files that ask whose they are, are read again.
func (s *Store) ImportRegister(ctx context.Context, a Actor, lines []RegisterLine) ([]RegisterCheck, error) {
	if len(lines) > maxRegister {
		return nil, invalid("The list is too long. Import it in parts of up to %d lines.", maxRegister)
	}
	var checks []RegisterCheck
	err := s.act(ctx, a, staff, "import a list", onData, func(t *tx) error {
		checks = nil
		plan, err := planRegister(ctx, t.Tx, lines, s.now())
		if err != nil {
			return err
		}
		for _, p := range plan {
			checks = append(checks, p.RegisterCheck)
			switch p.State {
			case LineNew:
				err = t.addRecord(ctx, p.new)
			case LineChanged:
				err = t.saveRecord(ctx, p.old, p.new)
			}
			if err != nil {
				return err
			}
		}
		if t.version == 0 {
			return nil // nothing changed
		}
		return t.askWhoseAgain(ctx)
	})
	return checks, err
}

func (t *tx) addRecord(ctx context.Context, r PatientRecord) error {
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
	var id int64
	err = t.QueryRowContext(ctx, "INSERT INTO patients (code, name, birth_date, context, contact, changed) VALUES (?, ?, ?, ?, ?, ?) RETURNING id",
		r.Code, r.Name, r.BirthDate, known, contact, t.version).Scan(&id)
	if err != nil {
		return err
	}
	return t.log(ctx, onPatient(id), "")
}

// planned is a line with the entry before and after it.
type planned struct {
	RegisterCheck
	old, new PatientRecord
}

// person is what makes two entries look like one patient's.
type person struct{ name, birthDate string }

func planRegister(ctx context.Context, t *sql.Tx, lines []RegisterLine, now time.Time) ([]planned, error) {
	twins := map[person]string{}
	rows, err := t.QueryContext(ctx, "SELECT code, name, birth_date FROM patients WHERE merged_into IS NULL AND name <> '' AND birth_date <> '' ORDER BY id DESC")
	err = each(rows, err, func(rows *sql.Rows) error {
		var code string
		var who person
		err := rows.Scan(&code, &who.name, &who.birthDate)
		who.name = strings.ToLower(who.name)
		twins[who] = code
		return err
	})
	if err != nil {
		return nil, err
	}
	plan := make([]planned, len(lines))
	seen := map[string]int{}
	for i, line := range lines {
		p := &plan[i]
		code := strings.TrimSpace(line.Code)
		if first, ok := seen[code]; ok && code != "" {
			p.problem("The list has this code on line %d already. Keep one of the two.", first+1)
			continue
		}
		seen[code] = i
		old, found, err := recordByCode(ctx, t, code)
		if err != nil {
			return nil, err
		}
		p.old = old
		if p.new, err = line.onto(old, now); err != nil {
			p.problem("%s", Words(err))
			continue
		}
		if old.MergedInto != 0 {
			p.problem("This code was merged into another entry. Use the code of that entry.")
			continue
		}
		who := person{strings.ToLower(p.new.Name), p.new.BirthDate}
		if twin := twins[who]; twin != code {
			p.Twin = twin
		}
		switch p.Fields = changed(old, p.new); {
		case !found:
			p.State = LineNew
		case len(p.Fields) > 0:
			p.State = LineChanged
		default:
			p.State = LineSame
		}
	}
	return plan, nil
}

func (p *planned) problem(format string, args ...any) {
	var e *Error
	errors.As(invalid(format, args...), &e)
	p.State, p.Problem = LineProblem, e.Public
}

// onto gives an entry with what the line says about it.
func (l *RegisterLine) onto(r PatientRecord, now time.Time) (PatientRecord, error) {
	put := func(field *string, value string) {
		if value = strings.TrimSpace(value); value != "" {
			*field = value
		}
	}
	put(&r.Code, l.Code)
	put(&r.Name, l.Name)
	put(&r.BirthDate, l.BirthDate)
	put(&r.Contact.Telephone, l.Contact.Telephone)
	put(&r.Contact.Mail, l.Contact.Mail)
	put(&r.Contact.Address, l.Contact.Address)
	put((*string)(&r.Contact.Preferred), string(l.Contact.Preferred))
	put(&r.Contact.Language, l.Contact.Language)
	put(&r.Contact.Note, l.Contact.Note)
	switch sex := strings.ToLower(strings.TrimSpace(l.Sex)); sex {
	case "":
	case "female", "f", "woman", "w":
		r.Context.Sex = "female"
	case "male", "m", "man":
		r.Context.Sex = "male"
	default:
		return r, invalid("The sex must be female or male, F or M, or left empty.")
	}
	if born, err := time.Parse(time.DateOnly, r.BirthDate); err == nil {
		r.Context.BirthYear = born.Year()
	}
	return r, firstErr(checkPatient(&r.Patient, now), r.Contact.check())
}
