package store

import (
	"context"
	"database/sql"
	"maps"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// Round gives one page of the open wears in the order of the round: tier, then
// calendar days past due, then score, then the earlier received, then the id. A
// rank is the place among all open wears, so it stays what it is under a filter.
func (s *Store) Round(ctx context.Context, q RoundQuery) (RoundPage, error) {
	if err := checkPage(q.Offset, q.Limit); err != nil {
		return RoundPage{}, err
	}
	var page RoundPage
	err := s.read(ctx, "read the round", func(t *sql.Tx) error {
		now, err := s.board.at(ctx, t, q.Now)
		if err != nil {
			return err
		}
		page = RoundPage{
			Total: len(now.ranked), Version: now.version,
			PerTier: maps.Clone(now.perTier), PerFlag: maps.Clone(now.perFlag),
		}
		v, err := views(ctx, t, q)
		if err != nil {
			return err
		}
		page.PerView = v.sizes(now)
		places := now.find(q, v, &page)
		page.Rows, err = s.rowsAt(ctx, t, places, q.Now.Unix())
		for i := range page.Rows {
			if r := &page.Rows[i]; s.isDamaged(r.WearID) {
				r.Headline, r.Confidence = "What is kept of this wear is damaged: nothing of it can be relied on until it is brought back from a backup.", ""
				r.Flags, r.Days, r.Priority.Parts = nil, nil, nil
			}
		}
		return err
	})
	return page, err
}

// ranked is a place with its number.
type ranked struct {
	number int
	*place
}

// find gives the places on the page that q asks for, and counts what matches.
// Of a view only its wears match.
func (s *standing) find(q RoundQuery, v *viewed, page *RoundPage) []ranked {
	if len(q.Tiers) == 0 && q.Flag == "" && q.Text == "" && q.View == WholeRound && q.Sort == ByPlace {
		page.Matching, page.Kinds = len(s.ranked), len(s.perKind)
		first := min(q.Offset, len(s.ranked))
		var found []ranked
		for i, p := range s.ranked[first:min(first+q.Limit, len(s.ranked))] {
			found = append(found, ranked{first + i + 1, p})
		}
		return found
	}
	var found []ranked
	part := strings.ToLower(q.Text)
	kinds := map[string]bool{}
	for i, p := range s.ranked {
		if len(q.Tiers) > 0 && !slices.Contains(q.Tiers, p.tier) ||
			q.Flag != "" && !slices.Contains(p.flags, q.Flag) ||
			!v.has(q.View, p) ||
			!strings.Contains(p.text, part) {
			continue
		}
		found = append(found, ranked{i + 1, p})
		kinds[p.kind] = true
	}
	page.Matching, page.Kinds = len(found), len(kinds)
	q.Sort.sorted(found)
	first := min(q.Offset, len(found))
	return found[first:min(first+q.Limit, len(found))]
}

// rowsAt reads what the rows show beyond their place.
func (s *Store) rowsAt(ctx context.Context, t *sql.Tx, places []ranked, now int64) ([]RoundRow, error) {
	if len(places) == 0 {
		return nil, nil
	}
	ids := make([]int64, len(places))
	index := make(map[int64]int, len(places))
	for i, p := range places {
		ids[i], index[p.id] = p.id, i
	}
	list, err := text(ids)
	if err != nil {
		return nil, err
	}
	out := make([]RoundRow, len(places))
	rows, err := t.QueryContext(ctx, `SELECT wears.id, wears.changed, ledger, `+inDoubt+`,
			coalesce(claimer.id, 0), coalesce(claimer.name, ''), iif(claimer.id IS NULL, 0, claimed_until), coalesce(next_try, 0),
			(SELECT count(*) FROM contacts WHERE contacts.wear_id = wears.id AND reached = 0),
			coalesce(to_role, ''), coalesce(handovers.due_at, 0), coalesce(handovers.reason, ''), `+patientColumns+`
		FROM wears JOIN reports ON reports.wear_id = wears.id JOIN patients ON patients.id = wears.patient_id
			LEFT JOIN users claimer ON claimer.id = claimed_by AND claimed_until > ?2
			LEFT JOIN handovers ON handovers.id = (SELECT max(id) FROM handovers h WHERE h.wear_id = wears.id AND taken_at IS NULL)
		WHERE wears.id IN (SELECT value FROM json_each(?1))`, list, now)
	err = each(rows, err, func(rows *sql.Rows) error {
		var id, version int64
		var stored string
		var doubt bool
		var who Patient
		var claimer Person
		var till, next int64
		var attempts int
		var to Role
		var handedDue int64
		var why string
		if err := rows.Scan(append([]any{&id, &version, &stored, &doubt, &claimer.ID, &claimer.Name, &till, &next, &attempts, &to, &handedDue, &why}, who.targets()...)...); err != nil {
			return err
		}
		l, err := s.ledgers.Get(wearAt{id, version}, func() (*row, error) { return readRow(stored) })
		if err != nil {
			return err
		}
		p := places[index[id]]
		out[index[id]] = RoundRow{
			Rank: p.number, Version: version, WearID: id, Patient: who, SensorKind: p.kind, Start: l.Start, End: l.End,
			ReceivedAt: fromUnix(p.received), DueAt: fromUnix(p.due), OverdueDays: p.overdue,
			Headline: l.Headline, Confidence: l.Confidence, Unread: l.Unread, Flags: slices.Clone(p.flags), Days: l.shown, InDoubt: doubt,
			ClaimedBy: claimer, ClaimedUntil: when(till), NextTry: when(next), Attempts: attempts,
			HandedTo: to, HandedDue: when(handedDue), HandedWhy: why,
			Priority: wear.Priority{Tier: p.tier, Score: p.score, Parts: l.Parts, DueDays: l.DueDays},
		}
		return nil
	})
	return out, err
}
