package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"math"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// Span is a stretch of time. To is excluded.
type Span struct{ From, To time.Time }

// YearAudit counts, for each span, what was found in the wears first received
// in it and what came of it by the minute of now: all on one view of the data,
// and without a name. Whole days, as of a due day, are those of zone. What it
// gives is shared and not to be changed.
func (s *Store) YearAudit(ctx context.Context, now time.Time, zone *time.Location, spans ...Span) ([]wear.Audit, error) {
	return s.countAudits(ctx, now.Truncate(time.Minute), "", zone, spans)
}

// AuditAsOf counts the same as it stood at the end of a second that is over:
// whatever was recorded, changed or taken back later makes no difference.
func (s *Store) AuditAsOf(ctx context.Context, at time.Time, zone *time.Location, spans ...Span) ([]wear.Audit, error) {
	return s.countAudits(ctx, at, asOf(at.Unix()), zone, spans)
}

func (s *Store) countAudits(ctx context.Context, now time.Time, then string, zone *time.Location, spans []Span) ([]wear.Audit, error) {
	out := make([]wear.Audit, len(spans))
	by := s.judging.Load()
	err := s.read(ctx, "count for the audit", func(t *sql.Tx) error {
		var data string
		if err := t.QueryRowContext(ctx, "SELECT hex(sum) FROM seal_root").Scan(&data); err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		for i, span := range spans {
			key := auditKey{data, span.From.Unix(), span.To.Unix(), now.Unix(), zone.String(), then != "", by.hash}
			count := func() (wear.Audit, error) {
				y := yearAudit{
					Audit: wear.Audit{From: span.From, To: span.To, At: now}, zone: zone, then: then, by: by.Protocol,
					begin: span.From.Unix(), end: span.To.Unix(), now: now.Unix(), until: math.MaxInt64,
				}
				if then != "" {
					y.until = y.now
				}
				return y.read(ctx, t)
			}
			var err error
			if data == "" { // which data it is cannot be named
				out[i], err = count()
			} else {
				out[i], err = s.audits.Get(key, count)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	return out, err
}

// auditKey is all that an audit depends on. The seal of the data is another
// after every change of a record, whatever it is.
type auditKey struct {
	data          string // "" where nothing is sealed yet
	from, to, now int64
	zone          string
	then          bool
	basis         int64
}

// mostAudits is how many audits are kept: a year by months, and the years that
// it is compared with. Going through a year takes long, and a person who reads one
// asks for its parts one after the other.
const mostAudits = 32

// read counts one span.
func (y *yearAudit) read(ctx context.Context, t *sql.Tx) (wear.Audit, error) {
	y.today = y.day(y.now)
	for _, step := range []func(context.Context, *sql.Tx) error{
		y.wears, y.outcomes, y.claims, y.flags, y.results, y.recalls, y.letters, y.changes, y.files, y.outs, y.work,
	} {
		if err := step(ctx, t); err != nil {
			return y.Audit, err
		}
	}
	y.count()
	return y.Audit, nil
}

// yearAudit is an audit while it is made.
type yearAudit struct {
	wear.Audit
	then       string // what a query begins with, see asOf; "" for now
	by         *wear.Protocol
	zone       *time.Location
	begin, end int64
	now        int64
	until      int64 // the last second that counts
	today      int   // by [wear.DayNumber]
	list       []*audited
	byID       map[int64]*audited
}

// audited is one wear of the period.
type audited struct {
	id, patient   int64
	kind          string
	received, due int64
	began         int64 // first reading
	next          int64 // when the patient's next wear was received, or 0
	open          bool
	first         wear.Tier
	readings      int
	doubted       sql.NullInt64
	context       wear.Context
	figures       figures
	before        *audited // the patient's wear before, or nil
	claims        []int64  // when it was claimed
	flags         []string
	outcomes      []auditedOutcome // without those undone, in order

	results []Result // of the patient
	recall  struct { // of the tests ordered
		due    int64
		open   bool
		result int64
	}
}

type auditedOutcome struct {
	id        int64
	kind      OutcomeKind
	at        int64
	corrected bool
	flags     []string
}

func (y *yearAudit) day(at int64) int { return wear.DayNumber(time.Unix(at, 0).In(y.zone)) }

// inPeriod is a condition on rows of wears, with two arguments.
const inPeriod = "wears.joined_into IS NULL AND wears.received_at >= ? AND wears.received_at < ?"

// wears are those of the period, with what went before and came after of the
// same patient.
func (y *yearAudit) wears(ctx context.Context, t *sql.Tx) error {
	y.byID = map[int64]*audited{}
	rows, err := y.query(ctx, t, `SELECT wears.id, wears.patient_id, sensor_kind, first_at, received_at, due_at, open, first_tier, readings, doubted,
			birth_date, context, coalesce(ledger, '{}')
		FROM wears JOIN patients ON patients.id = patient_id LEFT JOIN reports ON wear_id = wears.id
		WHERE joined_into IS NULL AND patient_id IN (SELECT patient_id FROM wears WHERE `+inPeriod+") ORDER BY patient_id, first_at, wears.id", y.begin, y.end)
	var before *audited
	return each(rows, err, func(rows *sql.Rows) error {
		w := new(audited)
		var born string
		err := rows.Scan(&w.id, &w.patient, &w.kind, &w.began, &w.received, &w.due, &w.open, &w.first, &w.readings, &w.doubted, &born, into(&w.context), into(&w.figures))
		w.context.BirthDate = born
		if before != nil && before.patient == w.patient {
			w.before = before
			for b := before; b != nil; b = b.before {
				if b.next == 0 || w.received < b.next {
					b.next = w.received
				}
			}
		}
		before = w
		if w.received >= y.begin && w.received < y.end {
			y.list, y.byID[w.id] = append(y.list, w), w
		}
		return err
	})
}

func (y *yearAudit) outcomes(ctx context.Context, t *sql.Tx) error {
	rows, err := y.query(ctx, t, `SELECT wear_id, outcomes.id, kind, made_at, flags, EXISTS (SELECT * FROM outcomes later WHERE later.corrects = outcomes.id)
		FROM wears JOIN outcomes ON wear_id = wears.id WHERE undone_at IS NULL AND `+inPeriod+" ORDER BY outcomes.id", y.begin, y.end)
	return each(rows, err, func(rows *sql.Rows) error {
		var wearID int64
		var o auditedOutcome
		err := rows.Scan(&wearID, &o.id, &o.kind, &o.at, into(&o.flags), &o.corrected)
		w := y.byID[wearID]
		w.outcomes = append(w.outcomes, o)
		return err
	})
}

// query asks for what stood then. A question about wears names the log as
// main.audit, which only grows.
func (y *yearAudit) query(ctx context.Context, t *sql.Tx, query string, args ...any) (*sql.Rows, error) {
	return t.QueryContext(ctx, y.then+query, args...)
}

// claims are told by the log alone: a wear keeps no more than who has it now.
func (y *yearAudit) claims(ctx context.Context, t *sql.Tx) error {
	rows, err := y.query(ctx, t, `SELECT wears.id, at FROM wears JOIN main.audit INDEXED BY audit_claims
			ON object_id = wears.id AND action = 'claim a wear' AND outcome = 'done'
		WHERE at <= ? AND `+inPeriod+" ORDER BY at", y.until, y.begin, y.end)
	return each(rows, err, func(rows *sql.Rows) error {
		var wearID, at int64
		err := rows.Scan(&wearID, &at)
		y.byID[wearID].claims = append(y.byID[wearID].claims, at)
		return err
	})
}

// flags are those that a wear was closed with, or that stand on it now.
func (y *yearAudit) flags(ctx context.Context, t *sql.Tx) error {
	for _, w := range y.list {
		if o := w.outcome(); o != nil && !w.open {
			w.flags = o.flags
		}
	}
	rows, err := y.query(ctx, t, `SELECT wears.id, coalesce((SELECT flags FROM judgements WHERE wear_id = wears.id ORDER BY id DESC LIMIT 1),
			(SELECT json_group_array(code) FROM (SELECT code FROM main.wear_flags WHERE wear_id = wears.id ORDER BY place)))
		FROM wears WHERE open = 1 AND `+inPeriod, y.begin, y.end)
	return each(rows, err, func(rows *sql.Rows) error {
		var wearID int64
		var codes []string
		err := rows.Scan(&wearID, into(&codes))
		y.byID[wearID].flags = codes
		return err
	})
}

// results are read of all patients of the period, with the recall that waits
// for those of tests ordered.
func (y *yearAudit) results(ctx context.Context, t *sql.Tx) error {
	byOutcome, byPatient := map[int64]*audited{}, map[int64][]*audited{}
	for _, w := range y.list {
		byPatient[w.patient] = append(byPatient[w.patient], w)
		if o := w.tests(); o != nil {
			byOutcome[o.id] = w
		}
	}
	const ordered = " IN (SELECT outcomes.id FROM wears JOIN outcomes ON wear_id = wears.id WHERE kind = 'tests_ordered' AND " + inPeriod + ")"
	rows, err := y.query(ctx, t, "SELECT outcome_id, due_at, closed_at IS NULL, coalesce(result_id, 0) FROM recalls WHERE kind = 'result' AND outcome_id"+ordered+" ORDER BY id", y.begin, y.end)
	err = each(rows, err, func(rows *sql.Rows) error {
		var outcome, due, result int64
		var open bool
		err := rows.Scan(&outcome, &due, &open, &result)
		if w := byOutcome[outcome]; w != nil {
			w.recall.due, w.recall.open, w.recall.result = due, open, result
		}
		return err
	})
	if err != nil {
		return err
	}
	rows, err = y.query(ctx, t, `SELECT results.id, patient_id, coalesce(wear_id, 0), coalesce(recall, 0), kind, value, unit, taken_at, criteria, class, note, 0, '', made_at, 0, '', 0, ''
		FROM results LEFT JOIN (SELECT result_id, min(id) recall FROM recalls WHERE result_id IS NOT NULL GROUP BY result_id) ON result_id = results.id
		WHERE withdrawn_at IS NULL AND patient_id IN (SELECT patient_id FROM wears WHERE `+inPeriod+") ORDER BY results.id", y.begin, y.end)
	list, err := collect(rows, err, scanResult)
	for _, r := range list {
		for _, w := range byPatient[r.PatientID] {
			w.results = append(w.results, r)
		}
	}
	return err
}

// recalls are those due in the period whose day has passed, but for those that
// were taken back with the outcome that set them or the result they were about.
func (y *yearAudit) recalls(ctx context.Context, t *sql.Tx) error {
	counts := map[string]*wear.AuditRecall{}
	rows, err := y.query(ctx, t, `SELECT kind, state, due_at, coalesce(closed_at, 0) FROM recalls WHERE due_at >= ? AND due_at < ?
		AND NOT (state = 'cancelled' AND (coalesce(outcome_id, 0) IN (SELECT o.id FROM outcomes o WHERE undone_at IS NOT NULL OR EXISTS (SELECT * FROM outcomes WHERE corrects = o.id))
			OR coalesce(about_result, 0) IN (SELECT id FROM results WHERE withdrawn_at IS NOT NULL)))`,
		y.begin, min(y.end, y.now))
	err = each(rows, err, func(rows *sql.Rows) error {
		var kind string
		var state RecallState
		var due, closed int64
		if err := rows.Scan(&kind, &state, &due, &closed); err != nil || y.day(due) >= y.today {
			return err
		}
		if counts[kind] == nil {
			counts[kind] = &wear.AuditRecall{Kind: kind}
		}
		n := counts[kind]
		n.Due++
		switch {
		case state == RecallCancelled:
			n.Cancelled++
		case state != RecallDone:
			n.Missed++
			if state == RecallDue {
				n.Untried++
			}
		case y.day(closed) <= y.day(due):
			n.InTime++
		default:
			n.Late++
		}
		return nil
	})
	y.Recalls = []wear.AuditRecall{}
	for _, kind := range RecallKinds() {
		if n := counts[string(kind)]; n != nil {
			y.Recalls = append(y.Recalls, *n)
		}
	}
	return err
}

func (y *yearAudit) letters(ctx context.Context, t *sql.Tx) error {
	rows, err := y.query(ctx, t, `SELECT kind, count(*), coalesce(sum(sent_at IS NOT NULL AND discarded_at IS NULL), 0), coalesce(sum(discarded_at IS NOT NULL), 0)
		FROM letters WHERE opened_at >= ? AND opened_at < ? GROUP BY kind ORDER BY kind`, y.begin, y.end)
	y.Letters = []wear.AuditLetters{}
	return each(rows, err, func(rows *sql.Rows) error {
		var l wear.AuditLetters
		err := rows.Scan(&l.Kind, &l.Written, &l.Sent, &l.Discarded)
		l.Unsent = l.Written - l.Sent - l.Discarded
		y.Letters = append(y.Letters, l)
		return err
	})
}

func (y *yearAudit) changes(ctx context.Context, t *sql.Tx) error {
	c := &y.Changes
	err := t.QueryRowContext(ctx, y.then+`SELECT count(*), coalesce(sum(undone_at IS NOT NULL), 0),
			coalesce(sum(undone_at IS NULL AND EXISTS (SELECT * FROM outcomes WHERE corrects = o.id)), 0)
		FROM outcomes o WHERE made_at >= ? AND made_at < ?`, y.begin, y.end).Scan(&c.Outcomes, &c.Undone, &c.Corrected)
	c.Standing = c.Outcomes - c.Undone - c.Corrected
	return err
}

// files counts the contents received, and by the log how long those waited that
// were held at some time: from the first time held to the first end after it.
func (y *yearAudit) files(ctx context.Context, t *sql.Tx) error {
	f := &y.Files
	err := t.QueryRowContext(ctx, y.then+`SELECT count(*), coalesce(sum(state = 'filed'), 0), coalesce(sum(state = 'held'), 0), coalesce(sum(state = 'refused'), 0)
		FROM files WHERE received_at >= ? AND received_at < ?`, y.begin, y.end).Scan(&f.Received, &f.Filed, &f.Held, &f.Refused)
	if err != nil {
		return err
	}
	held, ever := map[int64]int64{}, 0
	var waits []float64
	rows, err := y.query(ctx, t, `SELECT files.id, action = 'hold a file', at FROM files JOIN main.audit ON object = 'file' AND object_id = files.id
		WHERE received_at >= ? AND received_at < ? AND at <= ? AND action IN ('hold a file', 'file a wear', 'refuse a file') AND outcome = 'done' ORDER BY seq`, y.begin, y.end, y.until)
	err = each(rows, err, func(rows *sql.Rows) error {
		var id, at int64
		var hold bool
		if err := rows.Scan(&id, &hold, &at); err != nil {
			return err
		}
		since, had := held[id]
		switch {
		case hold && !had:
			held[id] = at
			ever++
		case !hold && since != 0:
			held[id] = 0
			waits = append(waits, float64(at-since))
		}
		return nil
	})
	f.Wait = wear.NewAuditWait(wear.WaitHeld, "", ever, waits)
	return err
}

// outcome is the one in force, or nil.
func (w *audited) outcome() *auditedOutcome {
	for i := range w.outcomes {
		if o := &w.outcomes[len(w.outcomes)-1-i]; !o.corrected {
			return o
		}
	}
	return nil
}

// tests is the last outcome in force that ordered tests, or nil.
func (w *audited) tests() *auditedOutcome {
	for i := range w.outcomes {
		if o := &w.outcomes[len(w.outcomes)-1-i]; o.kind == TestsOrdered && !o.corrected {
			return o
		}
	}
	return nil
}

// count makes the tables out of the wears.
func (y *yearAudit) count() {
	for _, tier := range wear.Tiers() {
		y.Tiers = append(y.Tiers, wear.AuditTier{Tier: tier})
	}
	y.Months = []wear.AuditMonth{}
	for m := firstOfMonth(y.From.In(y.zone)); m.Before(y.To) && !m.After(y.At); m = m.AddDate(0, 1, 0) {
		y.Months = append(y.Months, wear.AuditMonth{Month: m.Format(monthLayout)})
	}
	kinds := map[string]*wear.AuditKind{}
	ends := map[OutcomeKind]int{}
	flags, flagEnds := map[string]*wear.AuditFlag{"": {Outcomes: []wear.AuditCount{}}}, map[string]map[OutcomeKind]int{"": {}}
	pairs, otherKind := map[[2]wear.Tier]int{}, 0
	for _, w := range y.list {
		y.countTier(w)
		y.countMonth(w)
		countKind(kinds, w)
		o := w.outcome()
		if o != nil && !w.open {
			ends[o.kind]++
		}
		codes := w.flags
		if len(codes) == 0 {
			codes = []string{""}
		}
		for _, code := range codes {
			if flags[code] == nil {
				flags[code], flagEnds[code] = &wear.AuditFlag{Code: code}, map[OutcomeKind]int{}
			}
			f := flags[code]
			f.Wears++
			switch {
			case w.open:
				f.Open++
			case o != nil:
				flagEnds[code][o.kind]++
			}
		}
		if w.before != nil {
			pairs[[2]wear.Tier{w.before.first, w.first}]++
			if w.kind == "" || w.kind != w.before.kind {
				otherKind++
			}
		}
		if tests := w.tests(); tests != nil {
			c := &y.Tests
			if w.first == wear.Routine {
				c = &y.Routine
			}
			y.countTests(c, w, tests)
		}
	}
	y.Outcomes = outcomeCounts(ends)
	y.Flags = []wear.AuditFlag{}
	for code, f := range flags {
		f.Outcomes = outcomeCounts(flagEnds[code])
		if code != "" {
			y.Flags = append(y.Flags, *f)
		}
	}
	y.Unflagged = *flags[""]
	slices.SortFunc(y.Flags, func(a, b wear.AuditFlag) int {
		return cmp.Or(cmp.Compare(b.Wears, a.Wears), strings.Compare(a.Code, b.Code))
	})
	y.Kinds = []wear.AuditKind{}
	for _, k := range kinds {
		y.Kinds = append(y.Kinds, *k)
	}
	slices.SortFunc(y.Kinds, func(a, b wear.AuditKind) int { return strings.Compare(a.Kind, b.Kind) })
	y.Again = wear.NewAuditAgain(pairs, otherKind)
	y.waits()
	y.worth()
}

const monthLayout = "2006-01"

func firstOfMonth(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), 1, 0, 0, 0, 0, t.Location())
}

// outcomeCounts lists outcomes, the most frequent first and else in the order of
// their buttons.
func outcomeCounts(n map[OutcomeKind]int) []wear.AuditCount {
	list := []wear.AuditCount{}
	for _, r := range rules {
		if n[r.Kind] > 0 {
			list = append(list, wear.AuditCount{Code: string(r.Kind), N: n[r.Kind]})
		}
	}
	slices.SortStableFunc(list, func(a, b wear.AuditCount) int { return cmp.Compare(b.N, a.N) })
	return list
}

func (y *yearAudit) countTier(w *audited) {
	n := &y.Tiers[min(w.first.Rank(), len(y.Tiers)-1)]
	n.Read++
	switch {
	case !w.open && len(w.outcomes) == 0:
		n.Lost++
	case !w.open && y.day(w.outcomes[0].at) <= y.day(w.due):
		n.InTime++
		if y.today <= y.day(w.due) {
			n.Early++
		}
	case !w.open:
		n.Late++
	case y.today > y.day(w.due):
		n.Overdue++
	default:
		n.NotDue++
	}
	if w.open {
		n.OldestDays = max(n.OldestDays, int((y.now-w.received)/daySeconds))
		if len(w.outcomes) > 0 {
			n.Again++
		}
	}
}

func (y *yearAudit) countMonth(w *audited) {
	month := time.Unix(w.received, 0).In(y.zone).Format(monthLayout)
	i := slices.IndexFunc(y.Months, func(m wear.AuditMonth) bool { return m.Month == month })
	if i < 0 {
		return // a clock that was set back
	}
	m, done := &y.Months[i], !w.open && len(w.outcomes) > 0
	m.Read++
	if done {
		m.Done++
	}
	if w.first != wear.Routine {
		m.FollowUp++
		if done {
			m.FollowUpDone++
		}
	}
}

func countKind(kinds map[string]*wear.AuditKind, w *audited) {
	if kinds[w.kind] == nil {
		kinds[w.kind] = &wear.AuditKind{Kind: w.kind}
	}
	k := kinds[w.kind]
	k.Wears++
	if slices.Contains(w.flags, wear.FlagSensorDoubt) {
		k.SensorDoubt++
	}
	if slices.Contains(w.flags, wear.FlagTooLittle) {
		k.TooLittle++
	}
	if slices.ContainsFunc(w.outcomes, func(o auditedOutcome) bool { return o.kind == SensorReplaced && !o.corrected }) {
		k.Replaced++
	}
	if w.doubted.Valid {
		k.Readings += w.readings
		k.Doubted += int(w.doubted.Int64)
	}
}

// answers reports whether a result says what a wear was: it was recorded for the
// wear or the recall of its tests, or for no wear at all, of a sample taken since
// a day and before the patient's next wear was read.
func (y *yearAudit) answers(r *Result, w *audited, since int64) bool {
	if r.WearID == w.id || r.ID == w.recall.result {
		return true
	}
	taken := r.TakenAt.Unix()
	return r.WearID == 0 && r.RecallID == 0 && y.day(taken) >= y.day(since) && (w.next == 0 || taken < w.next)
}

// countTests puts a wear under the most serious of the results that came back.
func (y *yearAudit) countTests(n *wear.AuditTests, w *audited, tests *auditedOutcome) {
	n.Ordered++
	classes := map[wear.Class]bool{}
	confirmed := false
	for i := range w.results {
		if r := &w.results[i]; y.answers(r, w, tests.at) {
			class := wear.Class(r.Class)
			classes[class] = true
			confirmed = confirmed || class == wear.ClassDiabetes && r.ConfirmedBy(w.results)
		}
	}
	switch {
	case confirmed:
		n.Confirmed++
	case classes[wear.ClassDiabetes]:
		n.InRange++
	case classes[wear.ClassOvert], classes[wear.ClassGestational]:
		n.Pregnancy++
	case classes[wear.ClassIntermediate]:
		n.Intermediate++
	case classes[wear.ClassReview]:
		n.LookAgain++
	case classes[wear.ClassNormal]:
		n.Below++
	case len(classes) > 0:
		n.NotCompared++
	case w.recall.open && y.today > y.day(w.recall.due):
		n.Overdue++
	case w.recall.open:
		n.Waiting++
	default:
		n.GivenUp++
	}
}

// waits measures what happened between a wear's being read and its outcome.
func (y *yearAudit) waits() {
	var toClaim, fromClaim []float64
	toOutcome := map[wear.Tier][]float64{}
	for _, w := range y.list {
		var outcome int64
		if len(w.outcomes) > 0 {
			outcome = w.outcomes[0].at
			toOutcome[w.first] = append(toOutcome[w.first], float64(max(0, outcome-w.received)))
		}
		if w.first == wear.Routine || len(w.claims) == 0 {
			continue
		}
		claimed := w.claims[0]
		toClaim = append(toClaim, float64(max(0, claimed-w.received)))
		if outcome >= claimed {
			fromClaim = append(fromClaim, float64(outcome-claimed))
		}
	}
	n := y.FollowUp().Read
	var all []float64
	for tier, list := range toOutcome {
		if tier != wear.Routine {
			all = append(all, list...)
		}
	}
	y.Waits = []wear.AuditWait{
		wear.NewAuditWait(wear.WaitToClaim, "", n, toClaim),
		wear.NewAuditWait(wear.WaitClaimToOutcome, "", n, fromClaim),
		wear.NewAuditWait(wear.WaitToOutcome, "", n, all),
	}
	for _, t := range y.Tiers {
		y.Waits = append(y.Waits, wear.NewAuditWait(wear.WaitToOutcome, t.Tier, t.Read, toOutcome[t.Tier]))
	}
}
