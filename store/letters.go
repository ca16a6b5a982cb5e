package store

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"
	"unicode/utf8"
)

// maxLetter bounds the text of a letter or a template, in bytes.
const maxLetter = 64 << 10

func checkLetter(kind, words string) error {
	if kind == "" || len(kind) > 64 {
		return invalid("Choose what kind of letter it is.")
	}
	if strings.TrimSpace(words) == "" || len(words) > maxLetter || !utf8.ValidString(words) {
		return invalid("A letter needs some text, and no more than a few pages of it.")
	}
	return nil
}

// AddTemplate saves the practice's own text for a kind of letter as its next
// version. Earlier ones stay. Leads only.
func (s *Store) AddTemplate(ctx context.Context, a Actor, kind, words string) (version int, err error) {
	if err := checkLetter(kind, words); err != nil {
		return 0, err
	}
	err = s.act(ctx, a, leads, "edit a template", target{"template", 0}, func(t *tx) error {
		err := t.QueryRowContext(ctx, `INSERT INTO letter_templates (kind, version, text, made_by, made_at)
			SELECT ?1, coalesce(max(version), 0) + 1, ?2, ?3, ?4 FROM letter_templates WHERE kind = ?1 RETURNING version`, kind, words, a.UserID, t.now).Scan(&version)
		if err != nil {
			return err
		}
		return t.log(ctx, target{"template", int64(version)}, kind)
	})
	return version, err
}

const templateColumns = `kind, version, text, users.id, users.name, made_at FROM letter_templates JOIN users ON users.id = made_by`

func scanTemplate(row interface{ Scan(...any) error }) (LetterTemplate, error) {
	var l LetterTemplate
	var at int64
	err := row.Scan(&l.Kind, &l.Version, &l.Text, &l.By.ID, &l.By.Name, &at)
	l.At = fromUnix(at)
	return l, err
}

// Template gives the newest version of the practice's own text for a kind of
// letter, and whether there is one; where there is none the one that ships
// holds.
func (s *Store) Template(ctx context.Context, kind string) (LetterTemplate, bool, error) {
	l, err := scanTemplate(s.reader.QueryRowContext(ctx, "SELECT "+templateColumns+" WHERE kind = ? ORDER BY version DESC LIMIT 1", kind))
	if errors.Is(err, sql.ErrNoRows) {
		return LetterTemplate{}, false, nil
	}
	return l, err == nil, fail("read a template", err)
}

// Templates gives every version of every template, by kind and the newest
// first.
func (s *Store) Templates(ctx context.Context) ([]LetterTemplate, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT "+templateColumns+" ORDER BY kind, version DESC")
	list, err := collect(rows, err, func(rows *sql.Rows) (LetterTemplate, error) { return scanTemplate(rows) })
	return list, fail("list the templates", err)
}

// OpenLetter saves a letter as it is shown to its sender, who then confirms it
// with [Store.SendLetter] or throws it away with [Store.DiscardLetter].
func (s *Store) OpenLetter(ctx context.Context, a Actor, n NewLetter) (id int64, err error) {
	if err := checkLetter(n.Kind, n.Text); err != nil {
		return 0, err
	}
	on := onPatient(n.PatientID)
	if n.WearID != 0 {
		on = onWear(n.WearID)
	}
	err = s.act(ctx, a, staff, "open a letter", on, func(t *tx) error {
		if err := firstErr(t.ofLive(ctx, n.PatientID), t.ownWear(ctx, n.PatientID, n.WearID)); err != nil {
			return err
		}
		if err := t.stillNamed(ctx, &n); err != nil {
			return err
		}
		if n.WearID != 0 {
			if err := firstErr(t.seen(ctx, n.WearID, n.Seen, true), t.fits(ctx, n.Kind, n.WearID)); err != nil {
				return err
			}
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		err := t.QueryRowContext(ctx, `INSERT INTO letters (patient_id, wear_id, kind, template, protocol, text, opened_by, opened_at, evidence, named, version)
			VALUES (?, nullif(?, 0), ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
			n.PatientID, n.WearID, n.Kind, n.Template, n.Protocol, n.Text, a.UserID, t.now, n.Seen, n.Named, t.version).Scan(&id)
		if err != nil {
			return err
		}
		return t.log(ctx, on, n.Kind)
	})
	return id, err
}

// stillNamed refuses a letter that was written for somebody of another name or
// date of birth than the register has now. One of a release that did not keep
// whom it named still says so itself.
func (t *tx) stillNamed(ctx context.Context, l *NewLetter) error {
	p, err := readPatient(ctx, t.Tx, l.PatientID)
	if err != nil || l.names(&p) {
		return err
	}
	return conflict("The register has another name or date of birth for this patient now than when the letter was written. Throw it away and write another.")
}

// names reports whether a letter was written for this person.
func (l *NewLetter) names(p *Patient) bool {
	if l.Named == unkept {
		return p.Name != "" && strings.Contains(l.Text, p.Name)
	}
	return l.Named == p.Named()
}

// unkept stands for whom a letter named that was opened before that was kept.
const unkept = "\x00"

// stillSo refuses a letter to whom the register names otherwise by now, about a
// wear that has become somebody else's since it was written, or whose evidence
// has changed.
func (t *tx) stillSo(ctx context.Context, l Letter) error {
	if !l.SentAt.IsZero() || !l.Discarded.IsZero() {
		return nil
	}
	if err := t.stillNamed(ctx, &l.NewLetter); err != nil || l.WearID == 0 {
		return err
	}
	var owner int64
	if err := t.QueryRowContext(ctx, "SELECT patient_id FROM wears WHERE id = ?", l.WearID).Scan(&owner); err != nil {
		return err
	}
	if owner != l.PatientID {
		return conflict("This letter is to somebody else than the wear is of now: the wear was moved since it was written. Throw it away and write another.")
	}
	err := t.seen(ctx, l.WearID, l.Seen, true)
	if e, ok := errors.AsType[*Error](err); ok && e.Code == Conflict {
		return &Error{Code: Conflict, cause: e.cause, Public: "This letter was written before something changed. " + e.Public + " Throw it away and write another."}
	}
	return err
}

// SendLetter confirms an open letter: text is what was sent, to the letter, and
// never changes again. It is a [Conflict] where the register names the patient
// otherwise by now, or the wear that it is about says something else or is
// somebody else's, or an outcome says otherwise than a letter that comforts.
func (s *Store) SendLetter(ctx context.Context, a Actor, letterID int64, words string, how Means) error {
	if !slices.Contains(AllMeans(), how) {
		return invalid("Choose how the letter goes.")
	}
	return s.endLetter(ctx, a, letterID, "send a letter", func(t *tx, l Letter) (sql.Result, error) {
		if err := checkLetter(l.Kind, words); err != nil {
			return nil, err
		}
		if err := t.stillSo(ctx, l); err != nil {
			return nil, err
		}
		if err := t.fits(ctx, l.Kind, l.WearID); err != nil {
			return nil, err
		}
		return t.ExecContext(ctx, `UPDATE letters SET text = ?, sent_by = ?, sent_at = ?, how = ? WHERE id = ? AND sent_at IS NULL AND discarded_at IS NULL`,
			words, a.UserID, t.now, how, letterID)
	})
}

// DiscardLetter throws an open letter away. Its text stays on record.
func (s *Store) DiscardLetter(ctx context.Context, a Actor, letterID int64) error {
	return s.endLetter(ctx, a, letterID, "discard a letter", func(t *tx, _ Letter) (sql.Result, error) {
		return t.ExecContext(ctx, "UPDATE letters SET discarded_at = ? WHERE id = ? AND sent_at IS NULL AND discarded_at IS NULL", t.now, letterID)
	})
}

func (s *Store) endLetter(ctx context.Context, a Actor, id int64, doing string, f func(*tx, Letter) (sql.Result, error)) error {
	l, err := s.Letter(ctx, id)
	if err != nil {
		return err
	}
	on := onPatient(l.PatientID)
	if l.WearID != 0 {
		on = onWear(l.WearID)
	}
	return s.act(ctx, a, staff, doing, on, func(t *tx) error {
		l, err := scanLetter(t.QueryRowContext(ctx, "SELECT "+letterColumns+" WHERE letters.id = ?", id))
		if err != nil {
			return err
		}
		r, err := f(t, l)
		if err := one(r, err, conflict("This letter was sent or thrown away already. Look again.")); err != nil {
			return err
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		return t.log(ctx, on, l.Kind)
	})
}

const letterColumns = `letters.id, patient_id, coalesce(wear_id, 0), kind, template, protocol, text, opener.id, opener.name, opened_at,
	coalesce(sender.id, 0), coalesce(sender.name, ''), coalesce(sent_at, 0), how, coalesce(discarded_at, 0), evidence, coalesce(named, char(0))
	FROM letters JOIN users opener ON opener.id = opened_by LEFT JOIN users sender ON sender.id = sent_by`

func scanLetter(row interface{ Scan(...any) error }) (Letter, error) {
	var l Letter
	var opened, sent, discarded int64
	err := row.Scan(&l.ID, &l.PatientID, &l.WearID, &l.Kind, &l.Template, &l.Protocol, &l.Text, &l.OpenedBy.ID, &l.OpenedBy.Name, &opened,
		&l.SentBy.ID, &l.SentBy.Name, &sent, &l.How, &discarded, &l.Seen, &l.Named)
	l.OpenedAt, l.SentAt, l.Discarded = fromUnix(opened), when(sent), when(discarded)
	return l, err
}

func scanLetterRow(rows *sql.Rows) (Letter, error) { return scanLetter(rows) }

// Letter gives one letter.
func (s *Store) Letter(ctx context.Context, id int64) (Letter, error) {
	l, err := scanLetter(s.reader.QueryRowContext(ctx, "SELECT "+letterColumns+" WHERE letters.id = ?", id))
	return l, fail("read a letter", err)
}

// Letters gives the letters to or about a patient, the newest first.
func (s *Store) Letters(ctx context.Context, patientID int64) ([]Letter, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT "+letterColumns+" WHERE patient_id = ? ORDER BY letters.id DESC", patientID)
	list, err := collect(rows, err, scanLetterRow)
	return list, fail("read the letters", err)
}
