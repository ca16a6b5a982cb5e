package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// resultRange is what a value in a unit can plausibly be: outside it the unit
// or a digit is wrong. HbA1c from memory, the others proposals.
type resultRange struct {
	unit        string
	least, most float64
}

var resultRanges = map[ResultKind][]resultRange{
	HbA1c:    {{"mmol/mol", 10, 200}, {"%", 3, 20}},
	Fasting:  glucoseRanges,
	OGTT2h:   glucoseRanges,
	RandomGl: glucoseRanges,
	Insulin:  insulinRanges, InsulinUntimed: insulinRanges,
	CPeptide:    {{"nmol/L", 0, 20}, {"pmol/L", 0, 20000}, {"ng/mL", 0, 60}, {"ug/L", 0, 60}},
	Cholesterol: {{"mmol/L", 0.5, 40}, {"mg/dL", 20, 1500}}, NonHDL: {{"mmol/L", 0, 40}, {"mg/dL", 0, 1500}},
	HDL: {{"mmol/L", 0.05, 8}, {"mg/dL", 2, 300}}, LDL: {{"mmol/L", 0, 30}, {"mg/dL", 0, 1200}}, Triglycerides: {{"mmol/L", 0.05, 120}, {"mg/dL", 5, 10600}},
}

var insulinRanges = []resultRange{{"mU/L", 0, 1000}, {"pmol/L", 0, 7000}}

var glucoseRanges = []resultRange{{"mmol/L", 0.5, 80}, {"mg/dL", 10, 1450}}

// ResultUnits gives the units that a kind of result is reported in.
func ResultUnits(kind ResultKind) []string {
	var units []string
	for _, r := range resultRanges[kind] {
		units = append(units, r.unit)
	}
	return units
}

// check refuses what no laboratory reports. The unit is never guessed: 5.9 can
// be a per cent and 59 cannot.
func (n *NewResult) check() error {
	ranges, ok := resultRanges[n.Kind]
	if !ok {
		return invalid("Choose what was measured.")
	}
	i := slices.IndexFunc(ranges, func(r resultRange) bool { return r.unit == n.Unit })
	if i < 0 {
		return invalid("Choose the unit as the laboratory reports it: %s.", strings.Join(ResultUnits(n.Kind), " or "))
	}
	number := n.Value
	if number != "" && strings.Contains("<>", number[:1]) {
		number = strings.TrimPrefix(number[1:], "=")
	}
	num, scale, ok := wear.ParseValue(number)
	if !ok {
		return invalid("Write the value as the laboratory reports it: a plain number such as 41 or 5.8.")
	}
	v := wear.Reading{Num: num, Scale: scale}.Native()
	if v < ranges[i].least || v > ranges[i].most {
		return invalid("%s %s cannot be right. Check the number and the unit.", n.Value, n.Unit)
	}
	if n.TakenAt.IsZero() {
		return invalid("Give the date on which the sample was taken.")
	}
	return checkText(n.Note)
}

// How many years back something may have been done: a date from before is
// likelier a slip of the hand. Proposals.
const (
	oldestSample = 30 // taken, wherever that was
	oldestAct    = 2  // of the practice with a sensor
)

// CheckTaken refuses a sample of a day to come, from before the patient was
// born, or from too long ago. Days are those of now's own clock.
func CheckTaken(taken time.Time, p *Patient, now time.Time) error {
	return happened("A sample", taken, p, now, oldestSample)
}

// happened refuses a day on which what concerns a patient cannot have been done.
func happened(what string, at time.Time, p *Patient, now time.Time, years int) error {
	born := p.BirthDate
	if born == "" && p.Context.BirthYear != 0 {
		born = fmt.Sprintf("%d-01-01", p.Context.BirthYear)
	}
	switch day := at.UTC().AddDate(0, 0, 1).Format(time.DateOnly); {
	case wear.DayNumber(at.In(now.Location())) > wear.DayNumber(now):
		return invalid("%s cannot lie in the future. Correct its date.", what)
	case born != "" && day < born:
		return invalid("%s cannot lie before the patient was born. Correct its date, or the date of birth on the register.", what)
	case at.Before(now.AddDate(-years, 0, 0)):
		return invalid("%s would be more than %d years back. Correct its date.", what, years)
	}
	return nil
}

// ResultKinds lists what can be recorded.
func ResultKinds() []ResultKind { return slices.Sorted(maps.Keys(resultRanges)) }

// AddResult records a laboratory result and closes the recall that it answers,
// if one is named. One that is not plainly normal leaves a clinician a decision
// with a date, whatever list it was entered from. It is read by the criteria of
// the protocol in force.
func (s *Store) AddResult(ctx context.Context, a Actor, n NewResult) (id int64, err error) {
	n.Value = strings.TrimSpace(n.Value)
	if err := n.check(); err != nil {
		return 0, err
	}
	err = s.act(ctx, a, staff, "record a result", onPatient(n.PatientID), func(t *tx) error {
		if err := firstErr(t.ofLive(ctx, n.PatientID), t.ownWear(ctx, n.PatientID, n.WearID)); err != nil {
			return err
		}
		p, err := readPatient(ctx, t.Tx, n.PatientID)
		if err != nil {
			return err
		}
		if err := CheckTaken(n.TakenAt, &p, t.clock()); err != nil {
			return err
		}
		if id, err = t.addResult(ctx, &n, ""); err != nil {
			return err
		}
		if err := t.judgePatient(ctx, n.PatientID); err != nil {
			return err
		}
		if err := t.hear(ctx, n.PatientID, n.WearID, n.Note); err != nil {
			return err
		}
		return t.log(ctx, onPatient(n.PatientID), string(n.Kind))
	})
	return id, err
}

// addResult saves a result with what follows from it: the recall that it answers
// is closed, and somebody is given a date to decide on it or to look at it. What
// a message brought has no author, so somebody must see it unless it answers a
// recall and is plainly normal; soonest is how soon, whatever its value, or "".
func (t *tx) addResult(ctx context.Context, n *NewResult, soonest wear.Tier) (id int64, err error) {
	by := cmp.Or(t.actor.UserID, laboratory)
	var known wear.Context
	var born string // written beside the context, and not in it
	if err := t.QueryRowContext(ctx, "SELECT context, birth_date FROM patients WHERE id = ?", n.PatientID).Scan(into(&known), &born); err != nil {
		return 0, err
	}
	known.BirthDate = born
	n.Classify(t.by.Protocol.LabRules(known, n.TakenAt))
	err = t.QueryRowContext(ctx, `INSERT INTO results (patient_id, wear_id, kind, value, unit, taken_at, criteria, class, note, made_by, made_at, key, file_id)
		VALUES (?1, nullif(?2, 0), ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12,
			(SELECT file_id FROM statements WHERE key = ?12 AND patient_id = ?1 AND value = ?4 ORDER BY file_id LIMIT 1)) RETURNING id`,
		n.PatientID, n.WearID, n.Kind, n.Value, n.Unit, n.TakenAt.Unix(), n.Criteria, n.Class, strings.TrimSpace(n.Note), by, t.now, n.Key).Scan(&id)
	if err != nil {
		return 0, err
	}
	tier, _ := n.Pressing()
	if tier = moreUrgent(tier, soonest); tier == "" && n.Key != "" && n.RecallID == 0 {
		tier = wear.Routine
	}
	if tier != "" {
		if err := t.askDecision(ctx, id, n, tier, by); err != nil {
			return 0, err
		}
	}
	if n.RecallID == 0 {
		return id, nil
	}
	if all, err := t.answersAll(ctx, n); err != nil || !all {
		return id, err
	}
	r, err := t.ExecContext(ctx, `UPDATE recalls SET state = 'done', closed_at = ?, closed_by = ?, result_id = ?
		WHERE id = ? AND patient_id = ? AND kind = ? AND closed_at IS NULL`, t.now, by, id, n.RecallID, n.PatientID, RecallResult)
	return id, one(r, err, conflict("The recall that this result was to close is closed already, or is another patient's. Look again."))
}

// answersAll reports whether with a result each test that its recall names has
// one whose sample was taken since the recall was made, or the day before. A
// recall that names no test is answered by whatever reads glucose. What is not
// all leaves it due. A recall that is closed, or is another's, is left to be
// refused.
func (t *tx) answersAll(ctx context.Context, n *NewResult) (bool, error) {
	r, err := scanRecall(t.QueryRowContext(ctx, "SELECT "+recallColumns+" WHERE recalls.id = ?", n.RecallID))
	if errors.Is(err, sql.ErrNoRows) {
		return true, nil
	}
	if err != nil || !r.ClosedAt.IsZero() || r.Kind != RecallResult || r.Patient.ID != n.PatientID {
		return err == nil, err
	}
	from := r.MadeAt.Unix() - daySeconds
	named := testsIn(r.Note)
	if len(named) == 0 {
		return n.TakenAt.Unix() >= from && n.Kind.read() && n.Kind != Insulin, nil
	}
	rows, err := t.QueryContext(ctx, "SELECT DISTINCT kind FROM results WHERE patient_id = ? AND taken_at >= ? AND withdrawn_at IS NULL", n.PatientID, from)
	came, err := collect(rows, err, func(rows *sql.Rows) (k ResultKind, err error) { return k, rows.Scan(&k) })
	return !slices.ContainsFunc(named, func(k ResultKind) bool { return !slices.Contains(came, k) }), err
}

// WithdrawResult takes a result back that was recorded wrongly. It stays on
// record; the recall that it closed is open again.
func (s *Store) WithdrawResult(ctx context.Context, a Actor, resultID int64, reason string) error {
	if err := checkReason(reason); err != nil {
		return err
	}
	var patientID int64
	if err := s.reader.QueryRowContext(ctx, "SELECT patient_id FROM results WHERE id = ?", resultID).Scan(&patientID); err != nil {
		return fail("withdraw a result", err)
	}
	return s.act(ctx, a, staff, "withdraw a result", onPatient(patientID), func(t *tx) error {
		r, err := t.ExecContext(ctx, "UPDATE results SET withdrawn_at = ? WHERE id = ? AND withdrawn_at IS NULL", t.now, resultID)
		if err := one(r, err, conflict("This was taken back already. Look again.")); err != nil {
			return err
		}
		if err := t.unanswer(ctx, resultID); err != nil {
			return err
		}
		if err := t.judgePatient(ctx, patientID); err != nil {
			return err
		}
		return t.log(ctx, onPatient(patientID), strings.TrimSpace(reason))
	})
}

// unanswer undoes what a result brought about: the recall that it closed waits
// again, unless the outcome that set it no longer stands; and nobody has to
// decide on it.
func (t *tx) unanswer(ctx context.Context, resultID int64) error {
	const stands = `(outcome_id IS NULL OR EXISTS (SELECT * FROM outcomes o WHERE o.id = outcome_id AND ` + outcomeStands + "))"
	for _, q := range []struct {
		query string
		args  []any
	}{
		{"UPDATE recalls SET closed_at = NULL, closed_by = NULL, result_id = NULL, state = " + openState + " WHERE result_id = ? AND " + stands, []any{resultID}},
		{"UPDATE recalls SET state = 'cancelled', result_id = NULL, reason = 'the result was taken back' WHERE result_id = ?", []any{resultID}},
		{"UPDATE recalls SET state = 'cancelled', closed_at = ?, closed_by = ?, reason = 'the result was taken back' WHERE about_result = ? AND closed_at IS NULL",
			[]any{t.now, t.actor.UserID, resultID}},
	} {
		if _, err := t.ExecContext(ctx, q.query, q.args...); err != nil {
			return err
		}
	}
	return nil
}

// Pressing is how soon somebody must decide on a result, and whether anybody
// must: one that is not plainly normal, or that nothing here can read.
func (n *NewResult) Pressing() (wear.Tier, bool) {
	l, _ := n.Lab()
	value := l.Known()
	if !n.Kind.read() || n.Kind == Insulin { // no criteria to read it by
		far, known := farFrom[n.Kind]
		switch from := far.from[n.Unit]; {
		case !known:
			return wear.Routine, true
		case from > 0 && value >= from:
			return far.tier, true
		}
		return "", false
	}
	severe := severeFrom[n.Unit]
	switch {
	case n.Kind == HbA1c && value >= severe.high, n.Kind != HbA1c && (value >= severe.high || value < severe.veryLow):
		return wear.Today, true
	case l.Bound != wear.Exact, n.Kind != HbA1c && value < severe.low:
		return wear.ThisWeek, true
	}
	switch wear.Class(n.Class) {
	case wear.ClassNormal:
		return "", false
	case wear.ClassDiabetes, wear.ClassOvert, wear.ClassGestational:
		return wear.ThisWeek, true
	case wear.ClassIntermediate, wear.ClassReview:
		return wear.ThisMonth, true
	}
	if n.Kind == RandomGl && value < severe.random {
		return "", false
	}
	return wear.ThisWeek, true // read by no criteria
}

// severeFrom are values at which a result is decided on the same day or the
// same week, by its unit. Glucose 11.1 at random and 3.9 and 3.0 as low: the
// limits of the protocol's sources. Glucose from 16.7 mmol/L (300 mg/dL) and
// HbA1c from 86 mmol/mol (10 %) after what guidelines treat as severe (ADA
// Standards of Care, section 9: insulin early); the same day is a proposal.
var severeFrom = map[string]struct{ high, random, low, veryLow float64 }{
	"mmol/L":   {16.7, 11.1, 3.9, 3.0},
	"mg/dL":    {300, 200, 70, 54},
	"mmol/mol": {high: 86},
	"%":        {high: 10},
}

// farFrom are values from which a result that no criteria here read is decided
// on, by its kind and unit: triglycerides that endanger the pancreas, a fasting
// insulin past what laboratories report as usual, and cholesterol as high as in
// families that inherit it. From memory, and proposals. Below them a lipid is
// for whoever ordered it: this program is about glucose.
var farFrom = map[ResultKind]struct {
	tier wear.Tier
	from map[string]float64
}{
	Insulin:       {wear.ThisWeek, map[string]float64{"mU/L": 25, "pmol/L": 150}},
	Triglycerides: {wear.ThisWeek, map[string]float64{"mmol/L": 10, "mg/dL": 885}},
	LDL:           {wear.ThisMonth, map[string]float64{"mmol/L": 4.9, "mg/dL": 190}},
	NonHDL:        {wear.ThisMonth, map[string]float64{"mmol/L": 5.7, "mg/dL": 220}},
	Cholesterol:   {wear.ThisMonth, map[string]float64{"mmol/L": 7.5, "mg/dL": 290}},
	HDL:           {},
}

// askDecision sets a clinician a date to decide on a result.
func (t *tx) askDecision(ctx context.Context, resultID int64, n *NewResult, tier wear.Tier, by int64) error {
	due := t.days(t.now, t.by.Protocol.Due.Days(tier))
	note := strings.TrimSpace(labWords[n.Kind] + " " + n.Value + " " + n.Unit)
	_, err := t.ExecContext(ctx, `INSERT INTO recalls (patient_id, wear_id, kind, state, due_at, note, made_by, made_at, about_result)
		VALUES (?, nullif(?, 0), ?, 'due', ?, ?, ?, ?, ?)`, n.PatientID, n.WearID, RecallDecide, due, note, by, t.now, resultID)
	return err
}

var labWords = map[ResultKind]string{
	HbA1c: "HbA1c", Fasting: "Fasting glucose", OGTT2h: "Glucose two hours after a glucose drink", RandomGl: "Random glucose", Insulin: "Fasting insulin",
	InsulinUntimed: "Insulin", CPeptide: "C-peptide", Cholesterol: "Total cholesterol", HDL: "HDL cholesterol", LDL: "LDL cholesterol",
	NonHDL: "Non-HDL cholesterol", Triglycerides: "Triglycerides",
}

// namedTests are words by which a note names a test that reads glucose.
var namedTests = []struct {
	kind  ResultKind
	words *regexp.Regexp
}{
	{HbA1c, regexp.MustCompile(`(?i)a1c`)}, {Fasting, regexp.MustCompile(`(?i)fasting`)},
	{OGTT2h, regexp.MustCompile(`(?i)toleran|ogtt|gtt|2 ?h|two.hour|drink`)}, {RandomGl, regexp.MustCompile(`(?i)random`)},
}

// testsIn are the tests that a note names.
func testsIn(note string) (list []ResultKind) {
	for _, n := range namedTests {
		if n.words.MatchString(note) {
			list = append(list, n.kind)
		}
	}
	return list
}

const resultColumns = `results.id, patient_id, coalesce(wear_id, 0), coalesce((SELECT recalls.id FROM recalls WHERE result_id = results.id), 0),
	kind, value, unit, taken_at, criteria, class, note, users.id, users.name, made_at, coalesce(withdrawn_at, 0), key, coalesce(file_id, 0),
	coalesce((SELECT path FROM drops WHERE drops.file_id = results.file_id ORDER BY drops.id LIMIT 1), '')
	FROM results JOIN users ON users.id = made_by`

func scanResult(rows *sql.Rows) (Result, error) {
	var r Result
	var taken, at, withdrawn int64
	err := rows.Scan(&r.ID, &r.PatientID, &r.WearID, &r.RecallID, &r.Kind, &r.Value, &r.Unit, &taken, &r.Criteria, &r.Class, &r.Note,
		&r.By.ID, &r.By.Name, &at, &withdrawn, &r.Key, &r.FileID, &r.From)
	r.TakenAt, r.At, r.Withdrawn = time.Unix(taken, 0).UTC(), fromUnix(at), when(withdrawn)
	return r, err
}

// Results gives a patient's results, the newest sample first, with those that
// were withdrawn.
func (s *Store) Results(ctx context.Context, patientID int64) ([]Result, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT "+resultColumns+" WHERE patient_id = ? ORDER BY taken_at DESC, results.id DESC", patientID)
	list, err := collect(rows, err, scanResult)
	return list, fail("read the results", err)
}

// ConfirmedBy reports whether another result confirms this one by the criteria
// that it was read by ([wear.Lab.Confirms]).
func (r *Result) ConfirmedBy(all []Result) bool {
	lab, ok := r.Lab()
	for _, o := range all {
		other, known := o.Lab()
		if ok && known && o.ID != r.ID && o.Withdrawn.IsZero() && lab.Confirms(other, criteriaOf(r.Criteria)) {
			return true
		}
	}
	return false
}
