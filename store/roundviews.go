package store

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strings"
)

// RoundView is a part of the round by who is to work on it.
type RoundView string

// The views. Handed is what was handed over to the asker's roles by somebody
// else and not taken; Unclaimed is what is overdue with nobody working on it.
const (
	WholeRound RoundView = ""
	Mine       RoundView = "mine"
	Handed     RoundView = "handed"
	Unclaimed  RoundView = "unclaimed"
)

// RoundSort is another order than the round's own.
type RoundSort string

// The orders.
const (
	ByPlace RoundSort = ""
	ByDue   RoundSort = "due"   // the soonest due first
	ByAge   RoundSort = "age"   // the first received first
	ByName  RoundSort = "names" // by the patient's name
)

// views gives the wears of each view as t sees them, for somebody who asks.
func (s *standing) views(ctx context.Context, t *sql.Tx, q RoundQuery) (map[RoundView]map[int64]bool, error) {
	out := map[RoundView]map[int64]bool{Mine: {}, Handed: {}, Unclaimed: {}}
	claimed := map[int64]bool{}
	rows, err := t.QueryContext(ctx, "SELECT id, claimed_by FROM wears WHERE open = 1 AND claimed_until > ?", q.Now.Unix())
	err = each(rows, err, func(rows *sql.Rows) error {
		var id, by int64
		err := rows.Scan(&id, &by)
		claimed[id] = true
		if by == q.For {
			out[Mine][id] = true
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	roles := slices.Clone(q.Roles)
	if slices.Contains(roles, RoleLead) { // a lead counts as a clinician
		roles = append(roles, RoleClinician)
	}
	list, err := text(roles)
	if err != nil {
		return nil, err
	}
	rows, err = t.QueryContext(ctx, `SELECT wear_id FROM handovers JOIN wears ON wears.id = wear_id AND open = 1
		WHERE taken_at IS NULL AND to_role IN (SELECT value FROM json_each(?)) AND made_by <> ?`, list, q.For)
	err = each(rows, err, func(rows *sql.Rows) error {
		var id int64
		err := rows.Scan(&id)
		out[Handed][id] = true
		return err
	})
	for _, p := range s.ranked {
		if p.overdue > 0 && !claimed[p.id] {
			out[Unclaimed][p.id] = true
		}
	}
	return out, err
}

// sorted puts places into another order than the round's own; what is equal
// stays in the round's.
func (o RoundSort) sorted(list []ranked) {
	switch o {
	case ByDue:
		slices.SortStableFunc(list, func(a, b ranked) int { return cmp.Compare(a.dueDay, b.dueDay) })
	case ByAge:
		slices.SortStableFunc(list, func(a, b ranked) int { return cmp.Compare(a.received, b.received) })
	case ByName:
		slices.SortStableFunc(list, func(a, b ranked) int { return cmp.Compare(a.name(), b.name()) })
	}
}

// name is the patient's in lower case, or the code where there is none.
func (p *place) name() string {
	code, name, _ := strings.Cut(p.text, "\n")
	return cmp.Or(name, code)
}
