package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// KeptAudit is an audit that was closed: what it says stays as it was said.
type KeptAudit struct {
	ID       int64
	From, To time.Time // To is excluded
	AsOf     time.Time
	Engine   string
	Protocol string
	Change   string // what the practice will do otherwise
	By       Person
	At       time.Time
	Body     []byte // JSON of a [wear.Audit], byte for byte
}

// Audit reads the body.
func (k *KeptAudit) Audit() (a wear.Audit, err error) {
	err = json.Unmarshal(k.Body, &a)
	return a, fail("read a kept audit", err)
}

// Differences says where an audit of today differs from the kept one, which a
// later correction can bring about: "tiers, today: in_time" with both values.
func (k *KeptAudit) Differences(now wear.Audit) ([]AuditDifference, error) {
	text, err := json.Marshal(now)
	if err != nil {
		return nil, fail("compare audits", err)
	}
	var was, is any
	if err := firstErr(json.Unmarshal(k.Body, &was), json.Unmarshal(text, &is)); err != nil {
		return nil, fail("compare audits", err)
	}
	a, b := map[string]string{}, map[string]string{}
	flatten(a, "", was)
	flatten(b, "", is)
	var out []AuditDifference
	for path, v := range a {
		if b[path] != v {
			out = append(out, AuditDifference{path, v, b[path]})
		}
	}
	for path, v := range b {
		if _, both := a[path]; !both {
			out = append(out, AuditDifference{path, "", v})
		}
	}
	out = slices.DeleteFunc(out, func(d AuditDifference) bool { return d.What == "at" })
	slices.SortFunc(out, func(x, y AuditDifference) int { return strings.Compare(x.What, y.What) })
	return out, nil
}

// AuditDifference is one value that is not as it was kept.
type AuditDifference struct {
	What      string `json:"what"`
	Kept, Now string // "" where there was none
}

// flatten lists the values of a JSON text by where they stand; what stands in a
// list goes by what names it, so that another order or length moves nothing.
func flatten(out map[string]string, path string, v any) {
	switch v := v.(type) {
	case map[string]any:
		for key, x := range v {
			flatten(out, strings.TrimPrefix(path+", "+key, ", "), x)
		}
	case []any:
		for i, x := range v {
			name := fmt.Sprint(i + 1)
			if m, ok := x.(map[string]any); ok {
				var names []string
				for _, key := range []string{"by", "code", "tier", "kind", "month", "before", "after"} {
					if s, ok := m[key].(string); ok {
						names = append(names, s)
					}
				}
				if names != nil {
					name = strings.TrimSpace(strings.Join(names, " "))
				}
			}
			flatten(out, path+" "+name, x)
		}
	default:
		out[path] = fmt.Sprint(v)
	}
}

// auditors may keep an audit.
var auditors = []Role{RoleClinician, RoleLead, RoleAuditor}

// KeepAudit closes the audit of a span as it stood at the end of a second that
// is over. Another of the same span and time is not kept.
func (s *Store) KeepAudit(ctx context.Context, a Actor, span Span, at time.Time, zone *time.Location, change string) (id int64, err error) {
	change = strings.TrimSpace(change)
	if err := checkText(change); err != nil {
		return 0, err
	}
	if !at.Before(s.now().Truncate(time.Second)) {
		return 0, invalid("An audit is kept as of a time that is over: choose yesterday or an earlier day.")
	}
	if !span.From.Before(span.To) || at.Before(span.From) {
		return 0, invalid("The audit begins after the day that it is of. Choose the days again.")
	}
	audits, err := s.AuditAsOf(ctx, at, zone, span)
	if err != nil {
		return 0, err
	}
	body, err := json.Marshal(audits[0])
	if err != nil {
		return 0, fail("keep an audit", err)
	}
	err = s.act(ctx, a, auditors, "keep an audit", onData, func(t *tx) error {
		var kept bool
		err := t.QueryRowContext(ctx, "SELECT EXISTS (SELECT * FROM kept_audits WHERE from_at = ? AND to_at = ? AND as_of = ?)", span.From.Unix(), span.To.Unix(), at.Unix()).Scan(&kept)
		if err != nil {
			return err
		}
		if kept {
			return conflict("The audit of these days as of that day is kept already. Look there.")
		}
		err = t.QueryRowContext(ctx, `INSERT INTO kept_audits (from_at, to_at, as_of, engine, protocol, change, body, made_by, made_at)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`, span.From.Unix(), span.To.Unix(), at.Unix(), wear.EngineVersion, t.by.Protocol.Version,
			change, string(body), a.UserID, t.now).Scan(&id)
		if err != nil {
			return err
		}
		return t.log(ctx, target{"audit", id}, "")
	})
	return id, err
}

const keptAuditColumns = `kept_audits.id, from_at, to_at, as_of, engine, protocol, change, body, users.id, users.name, made_at
	FROM kept_audits JOIN users ON users.id = made_by`

func scanKeptAudit(rows *sql.Rows) (k KeptAudit, err error) {
	var from, to, asOf, at int64
	var body string
	err = rows.Scan(&k.ID, &from, &to, &asOf, &k.Engine, &k.Protocol, &k.Change, &body, &k.By.ID, &k.By.Name, &at)
	k.From, k.To, k.AsOf, k.At, k.Body = fromUnix(from), fromUnix(to), fromUnix(asOf), fromUnix(at), []byte(body)
	return k, err
}

// KeptAudits gives the audits that were kept, the newest first.
func (s *Store) KeptAudits(ctx context.Context) ([]KeptAudit, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT "+keptAuditColumns+" ORDER BY kept_audits.id DESC")
	list, err := collect(rows, err, scanKeptAudit)
	return list, fail("list the kept audits", err)
}

// KeptAudit gives one of them.
func (s *Store) KeptAudit(ctx context.Context, id int64) (KeptAudit, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT "+keptAuditColumns+" WHERE kept_audits.id = ?", id)
	list, err := collect(rows, err, scanKeptAudit)
	if err == nil && len(list) == 0 {
		err = sql.ErrNoRows
	}
	if err != nil {
		return KeptAudit{}, fail("read a kept audit", err)
	}
	return list[0], nil
}
