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

// viewed says which wears are in each view for somebody who asks.
type viewed struct {
	mine, handed map[int64]bool
	claimed      map[int64]bool // by anybody
}

// has reports whether a place is in a view.
func (v *viewed) has(view RoundView, p *place) bool {
	switch view {
	case Mine:
		return v.mine[p.id]
	case Handed:
		return v.handed[p.id]
	case Unclaimed:
		return p.overdue > 0 && !v.claimed[p.id]
	}
	return true
}

// views finds the views as t sees them.
func views(ctx context.Context, t *sql.Tx, q RoundQuery) (*viewed, error) {
	out := &viewed{mine: map[int64]bool{}, handed: map[int64]bool{}, claimed: map[int64]bool{}}
	rows, err := t.QueryContext(ctx, "SELECT id, claimed_by FROM wears WHERE open = 1 AND claimed_until > ?", q.Now.Unix())
	err = each(rows, err, func(rows *sql.Rows) error {
		var id, by int64
		err := rows.Scan(&id, &by)
		out.claimed[id] = true
		if by == q.For {
			out.mine[id] = true
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
		out.handed[id] = true
		return err
	})
	return out, err
}

// sizes counts the views.
func (v *viewed) sizes(s *standing) map[RoundView]int {
	n := map[RoundView]int{Mine: len(v.mine), Handed: len(v.handed), Unclaimed: 0}
	for _, p := range s.ranked {
		if v.has(Unclaimed, p) {
			n[Unclaimed]++
		}
	}
	return n
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
