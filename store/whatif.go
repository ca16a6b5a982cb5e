package store

import (
	"cmp"
	"context"
	"database/sql"
	"runtime"
	"slices"
	"sync"
	"time"

	"wearround/worker/wear"
)

// Tried is what another protocol would say of one wear.
type Tried struct {
	WearID             int64
	PatientID          int64
	Was, Now           wear.Tier
	WasFlags, NowFlags []string
	Failed             bool // the engine failed on it: it would stay as it is
}

// Moves reports whether the wear would stand in another tier.
func (t *Tried) Moves() bool { return !t.Failed && t.Was != t.Now }

// TryProtocol judges wears by another protocol and keeps nothing: those after
// the wear with the given id, as many as most. It gives the last that it looked
// at, 0 once there is none left; call it again with that, now or later.
func (s *Store) TryProtocol(ctx context.Context, p *wear.Protocol, after int64, most int) (list []Tried, last int64, err error) {
	in := s.judging.Load()
	by, err := in.with(p, 0)
	if err != nil {
		return nil, 0, fail("try a protocol", err)
	}
	var ids []int64
	var plain map[int64]bool
	err = s.read(ctx, "look for wears to be tried", func(t *sql.Tx) error {
		rows, err := t.QueryContext(ctx, "SELECT id FROM wears WHERE joined_into IS NULL AND id > ? ORDER BY id LIMIT ?", after, most)
		if ids, err = collect(rows, err, scanID); err != nil || len(ids) == 0 {
			return err
		}
		plain, err = plainWears(ctx, t, ids[0], ids[len(ids)-1])
		return err
	})
	if err != nil || len(ids) == 0 {
		return nil, 0, err
	}
	list = make([]Tried, len(ids))
	hands := min(runtime.GOMAXPROCS(0), len(ids))
	errs := make([]error, hands)
	var wg sync.WaitGroup
	for h := range hands {
		wg.Go(func() {
			errs[h] = s.read(ctx, "try a protocol", func(t *sql.Tx) error {
				for i := h; i < len(ids); i += hands {
					var err error
					if list[i], err = tryOne(ctx, t, by, ids[i], plain[ids[i]]); err != nil {
						return err
					}
				}
				return nil
			})
		})
	}
	wg.Wait()
	return list, ids[len(ids)-1], firstErr(errs...)
}

// plainWears are those, of a range of ids, of which nothing is known but what
// files brought: most. To read nothing of them saves half of the time.
func plainWears(ctx context.Context, t *sql.Tx, first, last int64) (map[int64]bool, error) {
	rows, err := t.QueryContext(ctx, `SELECT id FROM wears WHERE id BETWEEN ?1 AND ?2
		AND id NOT IN (SELECT wear_id FROM added_events UNION SELECT wear_id FROM overrides UNION SELECT wear_id FROM calls
			UNION SELECT wear_id FROM words_read UNION SELECT wear_id FROM red_flags UNION SELECT wear_id FROM notes WHERE wear_id IS NOT NULL)
		AND patient_id NOT IN (SELECT patient_id FROM results)`, first, last)
	list, err := collect(rows, err, scanID)
	out := make(map[int64]bool, len(list))
	for _, id := range list {
		out[id] = true
	}
	return out, err
}

func tryOne(ctx context.Context, t *sql.Tx, by *basis, id int64, plain bool) (r Tried, err error) {
	r = Tried{WearID: id}
	in := WearInputs{WearID: id}
	var zone string
	err = t.QueryRowContext(ctx, `SELECT tier, (SELECT json_group_array(code) FROM (SELECT code FROM wear_flags WHERE wear_id = wears.id ORDER BY place)), sensor_kind, wears.zone, `+patientColumns+`
		FROM wears JOIN patients ON patients.id = patient_id WHERE wears.id = ?`, id).
		Scan(append([]any{&r.Was, into(&r.WasFlags), &in.SensorKind, &zone}, in.Patient.targets()...)...)
	if err != nil {
		return r, err
	}
	r.PatientID = in.Patient.ID
	if plain {
		in.Zone, err = Location(zone, nil)
	} else {
		err = in.readFacts(ctx, t, zone)
	}
	if err == nil {
		err = in.load(ctx, t)
	}
	if err != nil {
		return r, err
	}
	report, failed := by.report(&in)
	if r.Failed = failed; failed {
		return r, nil
	}
	r.Now = report.Priority.Tier
	for _, f := range report.Flags {
		r.NowFlags = append(r.NowFlags, f.Code)
	}
	return r, nil
}

// report makes one, as far as its flags and tier; a fault of the engine is told, never passed on.
func (b *basis) report(in *WearInputs) (r *wear.Report, failed bool) {
	defer func() {
		if p := recover(); p != nil {
			r, failed = nil, true
		}
	}()
	return b.verdict(b.input(in)), false
}

// WhatIf sums up what a protocol would change over all wears of the practice.
type WhatIf struct {
	Protocol string        `json:"protocol"`
	Wears    int           `json:"wears"`
	Failed   int           `json:"failed" doc:"the engine failed; they would stay as they are"`
	Tiers    []WhatIfTier  `json:"tiers"`
	Work     []WhatIfWork  `json:"work" doc:"outcomes a month that each role would record, by who recorded them so far"`
	Yield    [2]WhatIfSeen `json:"yield" doc:"wears with known results: now, and by the draft"`
	Moved    []Tried       `json:"moved" doc:"the wears that would stand in another tier, in order of their number"`
	Missed   []int64       `json:"missed" doc:"confirmed in the diabetes range, followed up now and routine by the draft"`
	Gained   []int64       `json:"gained" doc:"confirmed, routine now and followed up by the draft"`
}

// WhatIfTier counts wears of one tier now and by the draft.
type WhatIfTier struct {
	Tier wear.Tier `json:"tier"`
	Was  int       `json:"was"`
	Now  int       `json:"now"`
}

// WhatIfWork is the work of one role a month.
type WhatIfWork struct {
	Role string  `json:"role"`
	Was  float64 `json:"was"`
	Now  float64 `json:"now"`
}

// WhatIfSeen is what following up the flagged wears would find, of those whose
// result is known.
type WhatIfSeen struct {
	FollowedUp int `json:"followed_up"`
	Confirmed  int `json:"confirmed"`
	Routine    int `json:"routine"`
	Missed     int `json:"missed" doc:"of the routine ones, confirmed"`
}

// Trial is what was tried so far, so that it can be gone on with later.
type Trial struct {
	Last int64
	List []Tried
}

// TryAll goes on with a trial until every wear was tried, and says after each
// step how many were.
func (s *Store) TryAll(ctx context.Context, p *wear.Protocol, w *Trial, progress func(done int)) error {
	const step = 256
	for {
		list, last, err := s.TryProtocol(ctx, p, w.Last, step)
		if err != nil || last == 0 {
			return err
		}
		w.Last, w.List = last, append(w.List, list...)
		progress(len(w.List))
	}
}

// SumUp says what the whole of a trial means.
func (s *Store) SumUp(ctx context.Context, p *wear.Protocol, w *Trial, zone *time.Location) (out WhatIf, err error) {
	out = WhatIf{Protocol: p.Version, Wears: len(w.List), Moved: []Tried{}, Missed: []int64{}, Gained: []int64{}}
	for _, tier := range wear.Tiers() {
		out.Tiers = append(out.Tiers, WhatIfTier{Tier: tier})
	}
	found, months, err := s.known(ctx, zone)
	if err != nil {
		return out, err
	}
	for i := range w.List {
		t := &w.List[i]
		now := t.Now
		if t.Failed {
			out.Failed++
			now = t.Was
		}
		out.Tiers[min(t.Was.Rank(), len(out.Tiers)-1)].Was++
		out.Tiers[min(now.Rank(), len(out.Tiers)-1)].Now++
		if t.Moves() {
			out.Moved = append(out.Moved, *t)
		}
		f := found[t.WearID]
		if !f.known {
			continue
		}
		for k, tier := range []wear.Tier{t.Was, now} {
			seen := &out.Yield[k]
			switch {
			case tier != wear.Routine:
				seen.FollowedUp++
				if f.confirmed {
					seen.Confirmed++
				}
			default:
				seen.Routine++
				if f.confirmed {
					seen.Missed++
				}
			}
		}
		switch {
		case f.confirmed && t.Was != wear.Routine && now == wear.Routine:
			out.Missed = append(out.Missed, t.WearID)
		case f.confirmed && t.Was == wear.Routine && now != wear.Routine:
			out.Gained = append(out.Gained, t.WearID)
		}
	}
	out.Work, err = s.workByRole(ctx, out.Tiers, months)
	return out, err
}

// known is what the results say of each wear, and over how many months wears
// came in.
func (s *Store) known(ctx context.Context, zone *time.Location) (map[int64]found, float64, error) {
	out := map[int64]found{}
	months := 1.0
	err := s.read(ctx, "read what wears turned out to be", func(t *sql.Tx) error {
		y := yearAudit{zone: zone, end: 1 << 40, now: s.now().Unix()}
		for _, step := range []func(context.Context, *sql.Tx) error{y.wears, y.outcomes, y.results} {
			if err := step(ctx, t); err != nil {
				return err
			}
		}
		first, last := int64(1<<40), int64(0)
		for _, w := range y.list {
			out[w.id] = y.found(w)
			first, last = min(first, w.received), max(last, w.received)
		}
		months = max(1, float64(last-first)/(365.25/12*daySeconds))
		return nil
	})
	return out, months, err
}

// workByRole shares the wears of each tier out among roles as their outcomes
// were recorded so far.
func (s *Store) workByRole(ctx context.Context, tiers []WhatIfTier, months float64) ([]WhatIfWork, error) {
	shares, all := map[wear.Tier]map[string]float64{}, map[wear.Tier]float64{}
	rows, err := s.reader.QueryContext(ctx, "SELECT tier, role, count(*) FROM outcomes WHERE undone_at IS NULL GROUP BY tier, role")
	err = each(rows, err, func(rows *sql.Rows) error {
		var tier wear.Tier
		var role string
		var n float64
		err := rows.Scan(&tier, &role, &n)
		if shares[tier] == nil {
			shares[tier] = map[string]float64{}
		}
		shares[tier][role], all[tier] = n, all[tier]+n
		return err
	})
	if err != nil {
		return nil, fail("count the work by role", err)
	}
	byRole := map[string]*WhatIfWork{}
	for _, t := range tiers {
		list := shares[t.Tier]
		if list == nil { // nobody ended one of that tier yet
			list, all[t.Tier] = map[string]float64{"not known": 1}, 1
		}
		for role, n := range list {
			if byRole[role] == nil {
				byRole[role] = &WhatIfWork{Role: role}
			}
			byRole[role].Was += float64(t.Was) * n / all[t.Tier] / months
			byRole[role].Now += float64(t.Now) * n / all[t.Tier] / months
		}
	}
	out := []WhatIfWork{}
	for _, w := range byRole {
		out = append(out, *w)
	}
	slices.SortFunc(out, func(a, b WhatIfWork) int { return cmp.Compare(a.Role, b.Role) })
	return out, nil
}
