package store

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"wearround/worker/wear"
)

// answered is the outcome in force of a wear, as far as its place depends on it.
type answered struct {
	id, at   int64
	version  int64 // of the data
	kind     OutcomeKind
	tier     wear.Tier
	flags    []string
	readings int64
	due      int64

	// What other rules said while it stood.
	rulesTier  wear.Tier
	rulesFlags []string
}

// position is where a wear stands: on the round or not, since when, by when.
type position struct {
	open   bool
	claim  bool // somebody has it
	backAt int64
	due    int64
	next   int64 // when to try again, or 0
}

// settle works out from what is in force where a wear stands, and saves it: the
// only code that writes open, due_at, back_at and next_try. A wear is on the
// round while it has no outcome in force; or while more is known than that
// outcome was recorded on: more readings, a more pressing tier or another flag
// (see risen), a file whose recipe was withdrawn or that was refused after the
// patient was told that all is well, or somebody put it back. What is taken back
// so leaves the wear where it would be had it never been done.
func (t *tx) settle(ctx context.Context, wearID int64) error {
	var had, now position
	var patient, received, readings, dueDays int64
	var tier wear.Tier
	err := t.QueryRowContext(ctx, `SELECT patient_id, received_at, readings, tier, open, claimed_by IS NOT NULL, back_at, due_at, coalesce(next_try, 0), ledger ->> '$.due_days'
		FROM wears JOIN reports ON wear_id = id WHERE id = ?`, wearID).
		Scan(&patient, &received, &readings, &tier, &had.open, &had.claim, &had.backAt, &had.due, &had.next, &dueDays)
	if err != nil {
		return err
	}
	o, err := t.standingOutcome(ctx, wearID)
	if err != nil {
		return err
	}
	from := received
	if now.open = o == nil; o != nil {
		if now.open, err = t.unanswered(ctx, wearID, patient, tier, readings, o); err != nil {
			return err
		}
	}
	if now.open && o != nil {
		if from, err = t.backSince(ctx, wearID, patient, tier, readings, o); err != nil {
			return err
		}
		from = cmp.Or(from, had.backAt, t.now)
	}
	if now.open {
		now.claim = had.claim
		now.due = t.days(from, int(dueDays))
		if o != nil {
			now.backAt = from
		}
		if now.next, err = t.nextTry(ctx, wearID, o); err != nil {
			return err
		}
	} else {
		now.due = o.due
	}
	if now == had {
		return nil
	}
	if err := t.bump(ctx); err != nil {
		return err
	}
	_, err = t.ExecContext(ctx, `UPDATE wears SET open = ?1, back_at = ?2, due_at = ?3, next_try = nullif(?4, 0), changed = ?5,
		claimed_by = iif(?1, claimed_by, NULL), claimed_until = iif(?1, claimed_until, 0) WHERE id = ?6`,
		now.open, now.backAt, now.due, now.next, t.version, wearID)
	if err == nil && now.open && !had.open && o != nil {
		err = t.append(ctx, LogRow{Action: string(ComesBack), Object: "wear", ObjectID: wearID, Ended: done, Reason: string(o.tier) + " to " + string(tier)})
	}
	return err
}

// days is so many calendar days later on the practice's clock.
func (t *tx) days(from int64, n int) int64 {
	return time.Unix(from, 0).In(t.by.Zone).AddDate(0, 0, n).Unix()
}

// outcomeStands is a condition over a row o of outcomes: it is in force.
const outcomeStands = "o.undone_at IS NULL AND NOT EXISTS (SELECT * FROM outcomes WHERE corrects = o.id)"

// standingOutcome gives the outcome of a wear that is in force, or nil.
func (t *tx) standingOutcome(ctx context.Context, wearID int64) (*answered, error) {
	var o answered
	err := t.QueryRowContext(ctx, `SELECT id, made_at, version, kind, tier, flags, readings, due_at, rules_tier, rules_flags FROM outcomes o WHERE wear_id = ?
		AND `+outcomeStands+" ORDER BY id DESC LIMIT 1", wearID).
		Scan(&o.id, &o.at, &o.version, &o.kind, &o.tier, into(&o.flags), &o.readings, &o.due, &o.rulesTier, into(&o.rulesFlags))
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return &o, err
}

// unanswered reports whether more is known of a wear than its outcome answers.
func (t *tx) unanswered(ctx context.Context, wearID, patientID int64, tier wear.Tier, readings int64, o *answered) (bool, error) {
	if readings > o.readings {
		return true, nil
	}
	if doubted, _, err := t.doubtedSince(ctx, wearID, o); err != nil || doubted {
		return doubted, err
	}
	var back bool
	err := t.QueryRowContext(ctx, `SELECT EXISTS (SELECT * FROM reopenings WHERE wear_id = ?1 AND outcome_id = ?2)
		OR EXISTS (SELECT * FROM moves WHERE wear_id = ?1 AND undone_at IS NULL AND version > ?3)`, wearID, o.id, o.version).Scan(&back)
	if err != nil || back {
		return back, err
	}
	flags, err := t.flagsOf(ctx, wearID)
	if err != nil || !o.risen(tier, flags) {
		return false, err
	}
	return t.standsAlone(ctx, wearID, patientID, o)
}

// doubtedSince reports whether a file of a wear whose patient was told that all
// is well was read by a recipe that was withdrawn, and when that was, or was read
// again and refused (0).
func (t *tx) doubtedSince(ctx context.Context, wearID int64, o *answered) (doubted bool, at int64, err error) {
	if rule, _ := RuleOf(o.kind); !rule.Reassures {
		return false, 0, nil
	}
	err = t.QueryRowContext(ctx, `SELECT count(*) > 0, coalesce(min(withdrawn_at), 0) FROM file_wears JOIN files ON files.id = file_wears.file_id LEFT JOIN recipes ON recipes.id = recipe_id
		WHERE wear_id = ? AND (recipes.state = 'withdrawn' OR files.state = 'refused')`, wearID).Scan(&doubted, &at)
	return doubted, at, err
}

func (t *tx) flagsOf(ctx context.Context, wearID int64) ([]string, error) {
	rows, err := t.QueryContext(ctx, "SELECT code FROM wear_flags WHERE wear_id = ? ORDER BY place", wearID)
	return collect(rows, err, func(rows *sql.Rows) (code string, err error) { return code, rows.Scan(&code) })
}

// standsAlone reports whether a wear that says more than its outcome answers
// must be answered itself. What is known of the patient alone counts for the
// newest wear: it stands for the others while it is on the round, and once it
// was answered with that.
func (t *tx) standsAlone(ctx context.Context, wearID, patientID int64, o *answered) (bool, error) {
	var newest int64
	var open bool
	err := t.QueryRowContext(ctx, "SELECT id, open FROM wears WHERE patient_id = ? AND joined_into IS NULL ORDER BY last_at DESC, id DESC LIMIT 1", patientID).Scan(&newest, &open)
	if err != nil || newest == wearID {
		return true, err
	}
	own, err := t.factsSince(ctx, ofWear, wearID, patientID, o.at-1)
	if err != nil || len(own) > 0 {
		return true, err
	}
	if open {
		return false, nil
	}
	came, err := t.factsSince(ctx, facts, wearID, patientID, o.at-1)
	if err != nil || len(came) == 0 {
		return false, err
	}
	last, err := t.standingOutcome(ctx, newest)
	return last == nil || last.at < came[0], err
}

// risen reports whether a judgement is more pressing than those that the outcome
// answers, or has a flag that none of them had.
func (o *answered) risen(tier wear.Tier, flags []string) bool {
	return tier.Rank() < o.tier.Rank() && (o.rulesTier == "" || tier.Rank() < o.rulesTier.Rank()) ||
		slices.ContainsFunc(flags, func(f string) bool { return !slices.Contains(o.flags, f) && !slices.Contains(o.rulesFlags, f) })
}

// fact is where rows lie that a wear is judged by, with a condition that finds
// those in force of wear ?1 or its patient ?2, and the column that says when
// they came.
type fact struct{ table, where, at string }

// Facts of a wear, and all.
var (
	ofWear = []fact{
		{"added_events", "wear_id = ?1 AND withdrawn_at IS NULL", "made_at"},
		{"overrides", "wear_id = ?1 AND withdrawn_at IS NULL", "made_at"},
		{"calls", `wear_id = ?1 AND EXISTS (SELECT * FROM json_each(answers) x WHERE x.value ->> 'felt' = 'no'
			AND withdrawn ->> ('$."' || (x.value ->> 'asked') || '"') IS NULL)`, "made_at"},
		{"words_read", "wear_id = ?1 AND withdrawn_at IS NULL", "made_at"},
		{"red_flags", "wear_id = ?1 AND withdrawn_at IS NULL", "made_at"},
		{"notes", "wear_id = ?1", "made_at"},
		{"contacts", "wear_id = ?1 AND note <> ''", "at"},
		{"file_wears JOIN files ON files.id = file_id", "wear_id = ?1", "received_at"},
		{"file_wears JOIN answers USING (file_id)", "wear_id = ?1 AND code = '" + ZoneOfWear + "'", "at"},
	}
	facts = append(slices.Clone(ofWear),
		fact{"results", "patient_id = ?2 AND withdrawn_at IS NULL", "made_at"},
		fact{"notes", "patient_id = ?2 AND wear_id IS NULL", "made_at"},
		fact{"merges", "kept = ?2 AND undone_at IS NULL", "made_at"})
)

// factsSince is when facts in force came after a moment, in order.
func (t *tx) factsSince(ctx context.Context, list []fact, wearID, patientID, after int64) (came []int64, err error) {
	for _, f := range list {
		rows, err := t.QueryContext(ctx, "SELECT "+f.at+" FROM "+f.table+" WHERE "+f.where+" AND "+f.at+" > ?3", wearID, patientID, after)
		at, err := collect(rows, err, scanID)
		if err != nil {
			return nil, err
		}
		came = append(came, at...)
	}
	if len(list) > len(ofWear) {
		at, err := t.contextSince(ctx, patientID, after)
		if err != nil {
			return nil, err
		}
		came = append(came, at...)
	}
	slices.Sort(came)
	return came, nil
}

// backSince is from when the time limit of a wear counts that is on the round
// again after an outcome: from the first of what keeps it there.
func (t *tx) backSince(ctx context.Context, wearID, patientID int64, tier wear.Tier, readings int64, o *answered) (first int64, err error) {
	earliest := func(at int64) {
		if at != 0 && (first == 0 || at < first) {
			first = at
		}
	}
	var reopened, moved, filed int64
	err = t.QueryRowContext(ctx, `SELECT coalesce((SELECT min(made_at) FROM reopenings WHERE wear_id = ?1 AND outcome_id = ?2), 0),
			coalesce((SELECT min(made_at) FROM moves WHERE wear_id = ?1 AND undone_at IS NULL AND version > ?3), 0),
			coalesce((SELECT min(received_at) FROM file_wears JOIN files ON files.id = file_id WHERE wear_id = ?1 AND received_at > ?4), 0)`,
		wearID, o.id, o.version, o.at).Scan(&reopened, &moved, &filed)
	if err != nil {
		return 0, err
	}
	_, doubted, err := t.doubtedSince(ctx, wearID, o)
	if err != nil {
		return 0, err
	}
	earliest(doubted)
	earliest(reopened)
	earliest(moved)
	if readings > o.readings {
		earliest(filed)
	}
	flags, err := t.flagsOf(ctx, wearID)
	if err != nil || !o.risen(tier, flags) {
		return first, err
	}
	since, err := t.risenSince(ctx, wearID, patientID, o)
	earliest(since)
	return first, err
}

// risenSince is when the first of the facts in force came with which the wear
// was judged as more than its outcome answers; where none was, that of the first
// fact in force. It is 0 without one.
func (t *tx) risenSince(ctx context.Context, wearID, patientID int64, o *answered) (int64, error) {
	came, err := t.factsSince(ctx, facts, wearID, patientID, o.at)
	if err != nil || len(came) == 0 {
		return 0, err
	}
	type judged struct {
		at    int64
		risen bool
	}
	rows, err := t.QueryContext(ctx, "SELECT at, tier, flags FROM judgements WHERE wear_id = ? AND at >= ? ORDER BY id", wearID, o.at)
	list, err := collect(rows, err, func(rows *sql.Rows) (j judged, err error) {
		var tier wear.Tier
		var flags []string
		err = rows.Scan(&j.at, &tier, into(&flags))
		j.risen = o.risen(tier, flags)
		return j, err
	})
	for _, at := range came {
		last := judged{}
		for _, j := range list {
			if j.at <= at {
				last = j
			}
		}
		if last.risen {
			return at, err
		}
	}
	return came[0], err
}

// contextSince is when those changes of what is known of a patient were made that
// came after a moment and still hold.
func (t *tx) contextSince(ctx context.Context, patientID, after int64) (list []int64, err error) {
	rows, err := t.QueryContext(ctx, `SELECT at, was FROM past WHERE kind = 'patients' AND row = ?1 AND at > ?2 AND was IS NOT NULL
		UNION ALL SELECT 1 << 60, json_array(birth_date, context) FROM patients WHERE id = ?1 AND EXISTS (SELECT * FROM past WHERE kind = 'patients' AND row = ?1 AND at > ?2)
		ORDER BY at`, patientID, after)
	type state struct {
		left   int64 // when it became the next
		fields map[string]string
	}
	states, err := collect(rows, err, func(rows *sql.Rows) (s state, err error) {
		var known [2]string
		err = rows.Scan(&s.left, into(&known))
		s.fields = contextFields(known)
		return s, err
	})
	if err != nil || len(states) == 0 {
		return nil, err
	}
	first, now := states[0].fields, states[len(states)-1].fields
	for _, field := range slices.Concat(slices.Collect(maps.Keys(first)), slices.Collect(maps.Keys(now))) {
		if first[field] == now[field] {
			continue
		}
		var at int64
		for i, s := range states[:len(states)-1] {
			if s.fields[field] == first[field] && states[i+1].fields[field] != first[field] {
				at = s.left
			}
		}
		list = append(list, at)
	}
	return list, nil
}

// contextFields are the fields of a birth date and a context that hold something.
func contextFields(known [2]string) map[string]string {
	fields, values := map[string]string{"birth_date": known[0]}, map[string]any{}
	if json.Unmarshal([]byte(known[1]), &values) == nil {
		for k, v := range values {
			fields[k] = fmt.Sprint(v)
		}
	}
	return fields
}

// nextTry is what the newest attempt since the outcome says, or 0.
func (t *tx) nextTry(ctx context.Context, wearID int64, o *answered) (next int64, err error) {
	since := int64(0)
	if o != nil {
		since = o.at
	}
	err = t.QueryRowContext(ctx, "SELECT coalesce(next_try, 0) FROM contacts WHERE wear_id = ? AND at >= ? ORDER BY id DESC LIMIT 1", wearID, since).Scan(&next)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return next, err
}
