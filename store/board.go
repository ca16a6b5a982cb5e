package store

import (
	"cmp"
	"context"
	"database/sql"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"wearround/worker/wear"
)

// board is the order of the round in memory. Days past due change with the
// clock, so no index holds that order; and sorting all open wears for every
// page would cost more than the page. The board reads only what changed since
// the current standing, and sorts only what moved.
type board struct {
	mu      sync.Mutex
	words   map[string][]string // flag lists, one copy of each
	current *standing
}

// place is what ranks and filters one open wear. It never changes: a wear that
// moves gets a new one.
type place struct {
	id       int64
	tier     wear.Tier
	rank     int // of the tier
	overdue  int // calendar days past due, 0 before
	score    float64
	received int64
	due      int64
	dueDay   int // [wear.DayNumber] of it
	kind     string
	flags    []string
	text     string // code and name of the patient in lower case
}

// standing is the round between two changes. It never changes, so it may be
// read without a lock.
type standing struct {
	version int64
	today   int // [wear.DayNumber]
	ranked  []*place
	perTier map[wear.Tier]int
	perFlag map[string]int
	perKind map[string]int
}

// order is that of the round: tier, then calendar days past due, then score, then
// the earlier received. The id makes it the same every time.
func (p *place) order(q *place) int {
	return cmp.Or(
		cmp.Compare(p.rank, q.rank),
		cmp.Compare(q.overdue, p.overdue),
		cmp.Compare(q.score, p.score),
		cmp.Compare(p.received, q.received),
		cmp.Compare(p.id, q.id),
	)
}

// at gives the round as t sees it. Days are those of now's own clock, which
// must be the same at every call. The view of t must not have been read from
// before: then each caller in turn sees the same version as the one before it
// or a later one.
func (b *board) at(ctx context.Context, t *sql.Tx, now time.Time) (*standing, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	version, err := dataVersion(ctx, t)
	if err != nil {
		return nil, err
	}
	if b.current == nil || version < b.current.version {
		b.words = map[string][]string{}
		b.current = &standing{perTier: map[wear.Tier]int{}, perFlag: map[string]int{}, perKind: map[string]int{}}
	}
	var changed map[int64]*place
	if version != b.current.version {
		if changed, err = b.changes(ctx, t, now.Location()); err != nil {
			return nil, err
		}
	}
	if s, today := b.current, wear.DayNumber(now); s.version != version || s.today != today {
		b.current = s.next(version, today, changed)
	}
	return b.current, nil
}

// changes gives the wears that changed, or whose patient did, since the
// current standing; nil for one that is not open.
func (b *board) changes(ctx context.Context, t *sql.Tx, zone *time.Location) (map[int64]*place, error) {
	// UNION would sort and CROSS JOIN fixes the order of the join: both parts
	// then use an index on changed and cost what changed, not what is there.
	moved := map[int64]*place{}
	which, args := `IN (
			SELECT id FROM wears WHERE changed > ?1
			UNION ALL SELECT wears.id FROM patients CROSS JOIN wears ON patient_id = patients.id WHERE patients.changed > ?1)`, []any{b.current.version}
	if b.current.version == 0 { // at first only what is open counts, of however many there were
		which, args = "IN (SELECT id FROM wears WHERE open = 1)", nil
	}
	rows, err := t.QueryContext(ctx, `SELECT wears.id, open, tier, score, received_at, due_at, sensor_kind, code, name,
			coalesce((SELECT group_concat(code, char(10) ORDER BY place) FROM wear_flags WHERE wear_id = wears.id), '')
		FROM wears JOIN patients ON patients.id = patient_id
		WHERE wears.id `+which, args...)
	err = each(rows, err, func(rows *sql.Rows) error {
		var p place
		var open bool
		var code, name, flags string
		if err := rows.Scan(&p.id, &open, &p.tier, &p.score, &p.received, &p.due, &p.kind, &code, &name, &flags); err != nil {
			return err
		}
		if !open {
			moved[p.id] = nil
			return nil
		}
		p.rank, p.dueDay = p.tier.Rank(), wear.DayNumber(time.Unix(p.due, 0).In(zone))
		p.text = strings.ToLower(code + "\n" + name)
		p.flags = b.flags(flags)
		moved[p.id] = &p
		return nil
	})
	return moved, err
}

// flags gives the one copy of a list of flags, which many wears share.
func (b *board) flags(lines string) []string {
	list, ok := b.words[lines]
	if !ok && lines != "" {
		list = strings.Split(lines, "\n")
		b.words[lines] = list
	}
	return list
}

// next makes the standing of today out of an earlier one, which may still be
// read, and what changed since.
func (s *standing) next(version int64, today int, changed map[int64]*place) *standing {
	n := &standing{
		version: version, today: today,
		perTier: maps.Clone(s.perTier), perFlag: maps.Clone(s.perFlag), perKind: maps.Clone(s.perKind),
	}
	stay := make([]*place, 0, len(s.ranked)+len(changed))
	var move []*place
	for _, p := range s.ranked {
		if _, ok := changed[p.id]; ok {
			n.count(p, -1)
			continue
		}
		if overdue := max(0, today-p.dueDay); overdue != p.overdue {
			later := *p
			later.overdue = overdue
			move = append(move, &later)
			continue
		}
		stay = append(stay, p)
	}
	for _, p := range changed {
		if p != nil {
			n.count(p, 1)
			p.overdue = max(0, today-p.dueDay)
			move = append(move, p)
		}
	}
	slices.SortFunc(move, (*place).order)
	n.ranked = merge(stay, move)
	return n
}

// count adds a place to the counts, or takes it off them.
func (s *standing) count(p *place, by int) {
	add(s.perTier, p.tier, by)
	add(s.perKind, p.kind, by)
	for _, f := range p.flags {
		add(s.perFlag, f, by)
	}
}

// add keeps no zeros: a kind that is gone is not mixed in any more.
func add[K comparable](counts map[K]int, key K, by int) {
	counts[key] += by
	if counts[key] == 0 {
		delete(counts, key)
	}
}

// merge makes one sorted list of two.
func merge(a, b []*place) []*place {
	if len(b) == 0 {
		return a
	}
	out := make([]*place, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if a[0].order(b[0]) <= 0 {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return append(append(out, a...), b...)
}
