package store

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// figures are what two wears of a patient are compared by, out of the ledger.
type figures struct {
	Confidence string      `json:"confidence"`
	MeanMmol   wear.Figure `json:"mean_mmol"`
	Above7_8   wear.Figure `json:"above_7_8_pct"`
	Above10    wear.Figure `json:"above_10_pct"`
}

// outs counts what became of the sensors handed out in the period.
func (y *yearAudit) outs(ctx context.Context, t *sql.Tx) error {
	step := wear.AuditStep{Code: wear.StepHandedOut}
	err := t.QueryRowContext(ctx, y.then+`SELECT count(*), coalesce(sum(state = 'done'), 0), coalesce(sum(state = 'cancelled'), 0)
		FROM recalls WHERE kind = 'out' AND given_at >= ? AND given_at < ?`, y.begin, y.end).Scan(&step.Of, &step.On, &step.Lost)
	step.Unknown = step.Of - step.On - step.Lost
	y.Worth.Chain = []wear.AuditStep{step}
	return err
}

// work counts attempts to reach patients, call sheets and letters sent, by the
// tier of their wear when first read.
func (y *yearAudit) work(ctx context.Context, t *sql.Tx) error {
	for _, tier := range wear.Tiers() {
		y.Worth.Work = append(y.Worth.Work, wear.AuditWork{Tier: tier})
	}
	rows, err := y.query(ctx, t, `SELECT wears.id, what, n, m FROM wears JOIN (
			SELECT wear_id, 1 what, count(*) n, sum(reached) m FROM contacts GROUP BY wear_id
			UNION ALL SELECT wear_id, 2, count(*), 0 FROM calls GROUP BY wear_id
			UNION ALL SELECT wear_id, 3, count(*), 0 FROM letters WHERE sent_at IS NOT NULL AND discarded_at IS NULL GROUP BY wear_id)
		ON wear_id = wears.id WHERE `+inPeriod, y.begin, y.end)
	return each(rows, err, func(rows *sql.Rows) error {
		var id, what int64
		var n, m int
		err := rows.Scan(&id, &what, &n, &m)
		w := y.workOf(y.byID[id].first)
		switch what {
		case 1:
			w.Attempts += n
			w.Reached += m
		case 2:
			w.Calls += n
		default:
			w.Letters += n
		}
		return err
	})
}

func (y *yearAudit) workOf(tier wear.Tier) *wear.AuditWork {
	return &y.Worth.Work[min(tier.Rank(), len(y.Worth.Work)-1)]
}

// worth makes the tables that say whether the year was worth it.
func (y *yearAudit) worth() {
	by := &yields{list: map[string]*wear.AuditYield{}}
	after := &yields{list: map[string]*wear.AuditYield{}}
	groups := map[[2]string]*wear.AuditGroup{}
	y.Worth.Missed.Code = "unflagged"
	for _, w := range y.list {
		found := y.found(w)
		for _, code := range w.flags {
			found.add(by.of(code))
		}
		if len(w.flags) == 0 {
			found.add(&y.Worth.Missed)
		}
		if o := w.outcome(); o != nil && !w.open {
			found.add(after.of(string(o.kind)))
		}
		for _, g := range y.groupsOf(w) {
			if groups[g] == nil {
				groups[g] = &wear.AuditGroup{By: g[0], AuditYield: wear.AuditYield{Code: g[1]}}
			}
			found.add(&groups[g].AuditYield)
			if w.first != wear.Routine {
				groups[g].FollowUp++
			}
		}
	}
	y.Worth.Yield, y.Worth.After = by.sorted(), after.sorted()
	y.Worth.Groups = []wear.AuditGroup{}
	for _, g := range groups {
		y.Worth.Groups = append(y.Worth.Groups, *g)
	}
	slices.SortFunc(y.Worth.Groups, func(a, b wear.AuditGroup) int {
		return cmp.Or(strings.Compare(a.By, b.By), strings.Compare(a.Code, b.Code))
	})
	y.chain()
	y.minutes()
	y.shifts()
}

// found is what a wear turned out to be.
type found struct{ known, inRange, confirmed bool }

// found looks at the results that say what a wear was.
func (y *yearAudit) found(w *audited) (f found) {
	for i := range w.results {
		r := &w.results[i]
		if r.Kind == Insulin || !y.answers(r, w, w.received) {
			continue // insulin says nothing of diabetes
		}
		f.known = true
		if wear.Class(r.Class) == wear.ClassDiabetes {
			f.inRange = true
			f.confirmed = f.confirmed || r.ConfirmedBy(w.results)
		}
	}
	return f
}

func (f found) add(y *wear.AuditYield) {
	y.Wears++
	switch {
	case f.confirmed:
		y.Confirmed++
	case f.known:
		y.NotConfirmed++
		if f.inRange {
			y.InRange++
		}
	default:
		y.Unknown++
	}
}

// yields are counted by code.
type yields struct{ list map[string]*wear.AuditYield }

func (y *yields) of(code string) *wear.AuditYield {
	if y.list[code] == nil {
		y.list[code] = &wear.AuditYield{Code: code}
	}
	return y.list[code]
}

// sorted is the list, the most frequent first.
func (y *yields) sorted() []wear.AuditYield {
	out := []wear.AuditYield{}
	for _, x := range y.list {
		out = append(out, *x)
	}
	slices.SortFunc(out, func(a, b wear.AuditYield) int {
		return cmp.Or(cmp.Compare(b.Wears, a.Wears), strings.Compare(a.Code, b.Code))
	})
	return out
}

// groupsOf are the groups that a wear belongs to.
func (y *yearAudit) groupsOf(w *audited) [][2]string {
	read := time.Unix(w.received, 0).In(y.zone)
	return [][2]string{
		{wear.GroupAge, w.context.AgeBand(read)}, {wear.GroupSex, w.context.Sex}, {wear.GroupKind, w.kind},
		{wear.GroupDay, string(rune('1' + (int(read.Weekday())+6)%7))},
	}
}

// chain counts the steps after the hand-out, each of what went on from the one
// before.
func (y *yearAudit) chain() {
	f := &y.Files
	read, tested, confirmed := wear.AuditStep{Code: wear.StepRead}, wear.AuditStep{Code: wear.StepTested}, wear.AuditStep{Code: wear.StepConfirmed}
	for _, w := range y.list {
		read.Of++
		o := w.outcome()
		switch {
		case o == nil || w.open:
			read.Unknown++
			continue
		case o.kind == ToldWell:
			read.Ended++
			continue
		case o.kind == CouldNotReach:
			read.Lost++
			continue
		}
		read.On++
		tested.Of++
		found, tests := y.found(w), w.tests()
		switch {
		case !found.known && tests == nil:
			tested.Ended++
			continue
		case !found.known && !w.recall.open:
			tested.Lost++
			continue
		case !found.known:
			tested.Unknown++
			continue
		}
		tested.On++
		confirmed.Of++
		switch {
		case found.confirmed:
			confirmed.On++
		case found.inRange:
			confirmed.Unknown++
		default:
			confirmed.Ended++
		}
	}
	y.Worth.Chain = append(y.Worth.Chain, wear.AuditStep{Code: wear.StepFiles, Of: f.Received, On: f.Filed, Lost: f.Refused, Unknown: f.Held}, read, tested, confirmed)
}

// minutes measures the work from the first claim of the day to a first outcome.
func (y *yearAudit) minutes() {
	took := map[wear.Tier][]float64{}
	for _, w := range y.list {
		if len(w.outcomes) == 0 {
			continue
		}
		y.workOf(w.first).Outcomes++
		at := w.outcomes[0].at
		for _, c := range w.claims {
			if c <= at && y.day(c) == y.day(at) {
				took[w.first] = append(took[w.first], float64(at-c))
				break
			}
		}
	}
	for i := range y.Worth.Work {
		y.Worth.Work[i].SetMinutes(took[y.Worth.Work[i].Tier])
	}
}

// shifts compares second wears with the one before, where both were of one kind.
func (y *yearAudit) shifts() {
	s := y.by.NewShifts()
	for _, w := range y.list {
		b := w.before
		if b == nil || w.kind == "" || w.kind != b.kind {
			continue
		}
		sure := w.figures.Confidence != "low" && b.figures.Confidence != "low"
		for i, x := range [][2]wear.Figure{{b.figures.MeanMmol, w.figures.MeanMmol}, {b.figures.Above7_8, w.figures.Above7_8}, {b.figures.Above10, w.figures.Above10}} {
			s[i].Count(x[0], x[1], sure)
		}
	}
	y.Worth.Shifts = s
}
