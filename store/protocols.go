package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"time"

	"wearround/worker/wear"
)

// OpenByProtocol counts the wears on the round by the version of the protocol
// that their reports were made by.
func (s *Store) OpenByProtocol(ctx context.Context) (map[string]int, error) {
	out := map[string]int{}
	rows, err := s.reader.QueryContext(ctx, `SELECT r.protocol, count(*) FROM wears w JOIN reports r ON r.wear_id = w.id
		WHERE w.open = 1 GROUP BY r.protocol`)
	err = each(rows, err, func(rows *sql.Rows) error {
		var version string
		var n int
		err := rows.Scan(&version, &n)
		out[version] = n
		return err
	})
	return out, fail("count reports by protocol", err)
}

// KeptProtocol is a version of the practice's protocol: a draft, or signed.
type KeptProtocol struct {
	ID       int64
	Protocol *wear.Protocol
	By       Person
	At       time.Time
	SignedBy Person
	SignedAt time.Time // zero: a draft
	From     time.Time // from when it holds
}

// Signed reports whether a clinician signed it.
func (p *KeptProtocol) Signed() bool { return !p.SignedAt.IsZero() }

// drafters may draft a protocol, signers may sign one: a clinician answers for
// the limits.
var drafters, signers = []Role{RoleClinician, RoleLead}, []Role{RoleClinician}

// DraftProtocol keeps a draft under its version; a draft of that version is
// replaced.
func (s *Store) DraftProtocol(ctx context.Context, a Actor, p *wear.Protocol) (id int64, err error) {
	if err := p.Validate(); err != nil {
		return 0, invalid("The protocol cannot be used: %s.", err)
	}
	body, err := text(p)
	if err != nil {
		return 0, fail("draft a protocol", err)
	}
	err = s.act(ctx, a, drafters, "draft a protocol", onData, func(t *tx) error {
		var signed bool
		err := t.QueryRowContext(ctx, "SELECT signed_at IS NOT NULL FROM protocols WHERE version = ?", p.Version).Scan(&signed)
		switch {
		case err != nil && !errors.Is(err, sql.ErrNoRows):
			return err
		case signed:
			return conflict("Version %s is signed and does not change. Give the draft a version of its own.", p.Version)
		case p.Version == wear.DefaultProtocol().Version && len(p.Differences(wear.DefaultProtocol())) > 0:
			return invalid("Values differ from those that ship. Give the draft a version of its own.")
		}
		err = t.QueryRowContext(ctx, `INSERT INTO protocols (version, body, made_by, made_at) VALUES (?1, ?2, ?3, ?4)
			ON CONFLICT (version) DO UPDATE SET body = ?2, made_by = ?3, made_at = ?4 RETURNING id`, p.Version, body, a.UserID, t.now).Scan(&id)
		if err != nil {
			return err
		}
		return t.log(ctx, target{"protocol", id}, p.Version)
	})
	return id, err
}

// SignProtocol signs a draft, which then holds from a day on: with a password
// and a second factor the door has checked before. It says who signed and when
// in the protocol's own words, so that every report, letter and print names it.
// made is when the draft that was read was kept: another is not signed unread.
func (s *Store) SignProtocol(ctx context.Context, a Actor, id int64, made, from time.Time) error {
	return s.act(ctx, a, signers, "sign a protocol", target{"protocol", id}, func(t *tx) error {
		var body, name string
		var signed bool
		var at int64
		err := t.QueryRowContext(ctx, "SELECT body, made_at, signed_at IS NOT NULL, (SELECT name FROM users WHERE id = ?) FROM protocols WHERE id = ?", a.UserID, id).Scan(&body, &at, &signed, &name)
		if err != nil {
			return err
		}
		if at != made.Unix() {
			return conflict("The draft was changed meanwhile. Look at it again.")
		}
		if signed {
			return conflict("This version is signed already. Look again.")
		}
		if from.Unix() < t.now-daySeconds {
			return invalid("A protocol holds from today or a later day, never from one that is over.")
		}
		p := new(wear.Protocol)
		if err := json.Unmarshal([]byte(body), p); err != nil {
			return err
		}
		p.Status = "signed by " + name + " on " + time.Unix(t.now, 0).In(t.by.Zone).Format("2 January 2006")
		if body, err = text(p); err != nil {
			return err
		}
		_, err = t.ExecContext(ctx, "UPDATE protocols SET body = ?, signed_by = ?, signed_at = ?, holds_from = ? WHERE id = ?", body, a.UserID, t.now, from.Unix(), id)
		if err != nil {
			return err
		}
		if t.by, err = t.by.at(ctx, t.Tx, t.now); err != nil {
			return err
		}
		return firstErr(t.bump(ctx), t.log(ctx, target{"protocol", id}, p.Version))
	})
}

// holding picks of the protocols the one that holds at a time: of those whose
// day has come the one with the latest day, and of one day the one signed last.
const holding = `INDEXED BY protocols_holding WHERE signed_at IS NOT NULL AND holds_from <= ?
	ORDER BY holds_from DESC, signed_at DESC, id DESC LIMIT 1`

// KeptProtocols gives every version, the newest first.
func (s *Store) KeptProtocols(ctx context.Context) ([]KeptProtocol, error) {
	rows, err := s.reader.QueryContext(ctx, `SELECT protocols.id, body, m.id, m.name, made_at, coalesce(g.id, 0), coalesce(g.name, ''), coalesce(signed_at, 0), coalesce(holds_from, 0)
		FROM protocols JOIN users m ON m.id = made_by LEFT JOIN users g ON g.id = signed_by ORDER BY protocols.id DESC`)
	list, err := collect(rows, err, func(rows *sql.Rows) (k KeptProtocol, err error) {
		var body string
		var made, signed, from int64
		if err := rows.Scan(&k.ID, &body, &k.By.ID, &k.By.Name, &made, &k.SignedBy.ID, &k.SignedBy.Name, &signed, &from); err != nil {
			return k, err
		}
		k.At, k.SignedAt, k.From, k.Protocol = fromUnix(made), when(signed), when(from), new(wear.Protocol)
		return k, json.Unmarshal([]byte(body), k.Protocol)
	})
	return list, fail("list the protocols", err)
}

// KeptProtocol gives one version.
func (s *Store) KeptProtocol(ctx context.Context, id int64) (KeptProtocol, error) {
	list, err := s.KeptProtocols(ctx)
	if err != nil {
		return KeptProtocol{}, err
	}
	for _, k := range list {
		if k.ID == id {
			return k, nil
		}
	}
	return KeptProtocol{}, fail("read a protocol", sql.ErrNoRows)
}

// SignedProtocol gives the signed protocol that holds at a time; nil where there
// is none.
func (s *Store) SignedProtocol(ctx context.Context, at time.Time) (*KeptProtocol, error) {
	var id int64
	err := s.reader.QueryRowContext(ctx, "SELECT id FROM protocols "+holding, at.Unix()).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fail("read the protocol in force", err)
	}
	k, err := s.KeptProtocol(ctx, id)
	return &k, err
}
