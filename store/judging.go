package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"sync"
	"sync/atomic"
	"time"

	"wearround/worker/wear"
)

// Judging is what every report is made by.
type Judging struct {
	// Protocol is in force. For [Store.JudgeBy] nil stands for the signed one that
	// holds, or the one that ships where none does, whichever that is at the time.
	Protocol *wear.Protocol
	// Zone is the practice's: due days are counted on it, and the days of a
	// wear that has no zone of its own.
	Zone *time.Location
	// Engine makes the report; nil stands for [wear.Analyse].
	Engine func(wear.Input) *wear.Report
}

// basis is a judging with its hash.
type basis struct {
	Judging
	verdict func(wear.Input) *wear.Report // the engine as far as flags and tier
	hash    int64
	follows bool  // what is signed, see [basis.at]
	signed  int64 // the id of that, 0 for the protocol that ships
}

// JudgeBy says what reports are made by from now on. What was judged by
// anything else is judged anew by [Store.JudgeAnew]. Without a call it is the
// signed protocol that holds, in UTC.
func (s *Store) JudgeBy(j Judging) error {
	if j.Zone == nil {
		return invalid("The zone of the practice is needed to judge by.")
	}
	verdict := j.Engine
	if j.Engine == nil {
		j.Engine, verdict = wear.Analyse, wear.Verdict
	}
	ctx := context.Background()
	err := s.read(ctx, "take the protocol", func(t *sql.Tx) error {
		b := &basis{Judging: j, verdict: verdict, follows: j.Protocol == nil, signed: -1}
		b, err := b.at(ctx, t, s.now().Unix())
		if err == nil && !b.follows {
			b, err = b.with(j.Protocol, 0)
		}
		s.judging.Store(b)
		return err
	})
	return err
}

// Judging gives what reports are made by. A transaction asks anew, see
// [basis.at]: what another process signed, or whose day has come, is seen here
// after the next change of anything, and the worker changes something at each
// look.
func (s *Store) Judging() Judging { return s.judging.Load().Judging }

// at is what is judged by at a time. Every transaction begins with it and holds
// the writer, so none judges by a protocol that no longer holds, whoever signed
// the next and however its day came.
func (b *basis) at(ctx context.Context, t *sql.Tx, now int64) (*basis, error) {
	if !b.follows {
		return b, nil
	}
	var id int64
	err := t.QueryRowContext(ctx, "SELECT id FROM protocols "+holding, now).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		id, err = 0, nil
	}
	if err != nil || id == b.signed {
		return b, err
	}
	p := wear.DefaultProtocol()
	if id != 0 {
		p = new(wear.Protocol)
		if err := t.QueryRowContext(ctx, "SELECT body FROM protocols WHERE id = ?", id).Scan(into(p)); err != nil {
			return b, err
		}
	}
	return b.with(p, id)
}

// with is the same judging by a protocol.
func (b basis) with(p *wear.Protocol, signed int64) (_ *basis, err error) {
	b.Protocol, b.signed = p, signed
	b.hash, err = hashOf(evidenceForm, wear.EngineVersion, b.Zone.String(), p)
	return &b, err
}

// judgingBox holds what is judged by.
type judgingBox = atomic.Pointer[basis]

// hashOf is a hash of the JSON of some values in 53 bits, which a number in
// JSON holds exactly. It is never 0, which stands for "none yet".
func hashOf(parts ...any) (int64, error) {
	h := fnv.New64a()
	e := json.NewEncoder(h)
	for _, p := range parts {
		if err := e.Encode(p); err != nil {
			return 0, err
		}
	}
	return max(1, int64(h.Sum64()>>11)), nil
}

// input is what the engine makes the report from.
func (b *basis) input(in *WearInputs) wear.Input { return in.Input(b.Zone, b.Protocol) }

// evidenceForm rises with what the hash of the evidence takes in, so that
// reports are made anew that were made while something was left out.
const evidenceForm = 2

// evidence is a hash of everything that a report is made from. What the files
// brought is in trace.
func (b *basis) evidence(in *WearInputs, trace int64) (int64, error) {
	known := b.input(in)
	known.Readings, known.Events = nil, in.Added
	return evidenceOf(b.hash, trace, in.Patient.ID, known)
}

// evidenceOf names by hand what the JSON of the input leaves out.
func evidenceOf(basis, trace, patientID int64, known wear.Input) (int64, error) {
	zone := known.Zone.String()
	known.Zone, known.Protocol = nil, nil // the protocol is in basis
	return hashOf(basis, trace, patientID, zone, known.Context.BirthDate, known)
}

// errEngine stands for a fault of the engine on one wear.
var errEngine = errors.New("the engine failed on a wear")

// judgement is a report with what it was made from, in stored form.
type judgement struct {
	evidence int64
	basis    int64
	report   *wear.Report
	packed   []byte
	ledger   string
}

// make makes it. A fault of the engine is an error, so that one poisonous wear
// never takes the program with it.
func (b *basis) make(in *WearInputs, evidence int64) (_ *judgement, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%w: %T", errEngine, p)
		}
	}()
	j := &judgement{evidence: evidence, basis: b.hash, report: b.Engine(b.input(in))}
	j.packed, j.ledger, err = packReport(j.report)
	return j, err
}

// ready is judgements that were made before a transaction, so that it holds
// the writer shortly; by evidence.
type ready map[int64]*judgement

// judge makes the report of a wear anew from everything in force and saves it
// with the wear's tier, flags, score, first tier and place on the round. It is
// the one place where that is done. Whatever changes something that a report
// is made from calls it in the same transaction: write your row, then
// t.judge(ctx, wearID), or t.judgePatient where it is about the patient. A new
// kind of input is read in inputs and handed on in [WearInputs.Input].
func (t *tx) judge(ctx context.Context, wearID int64, made ready) error {
	if err := t.bump(ctx); err != nil {
		return err
	}
	if _, err := t.ExecContext(ctx, "UPDATE wears SET changed = ? WHERE id = ?", t.version, wearID); err != nil {
		return err
	}
	return t.rejudge(ctx, wearID, made, nil)
}

// judgePatient judges all wears of a patient anew.
func (t *tx) judgePatient(ctx context.Context, patientID int64) error {
	if err := t.bump(ctx); err != nil {
		return err
	}
	ids, err := t.wearsOf(ctx, patientID)
	if err != nil {
		return err
	}
	for _, id := range ids {
		if err := t.rejudge(ctx, id, nil, nil); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) wearsOf(ctx context.Context, patientID int64) ([]int64, error) {
	rows, err := t.QueryContext(ctx, "SELECT id FROM wears WHERE patient_id = ? AND joined_into IS NULL ORDER BY id", patientID)
	return collect(rows, err, scanID)
}

// rejudge judges a wear that itself did not change. Evidence that is as it was
// leaves the report as it is. closed is the outcome of a closed wear that is
// judged anew because the rules are others, or nil.
func (t *tx) rejudge(ctx context.Context, wearID int64, made ready, closed *answered) error {
	in, trace, err := inputs(ctx, t.Tx, wearID)
	if err != nil {
		return err
	}
	evidence, err := t.by.evidence(&in, trace)
	if err != nil {
		return err
	}
	var had, basis int64
	var tier wear.Tier
	if err := t.QueryRowContext(ctx, "SELECT evidence, basis, tier FROM wears JOIN reports ON wear_id = id WHERE id = ?", wearID).Scan(&had, &basis, &tier); err != nil {
		return err
	}
	if had == evidence && basis == t.by.hash {
		return t.settle(ctx, wearID)
	}
	j := made[evidence]
	if j == nil {
		if err := in.load(ctx, t.Tx); err != nil {
			return err
		}
		if j, err = t.by.make(&in, evidence); err != nil {
			return err
		}
	}
	if now := j.report.Priority.Tier; had != 0 && now != tier {
		if err := t.append(ctx, LogRow{Action: string(MovesTier), Object: "wear", ObjectID: wearID, Ended: done, Reason: string(tier) + " to " + string(now)}); err != nil {
			return err
		}
	}
	if err := t.saveJudgement(ctx, wearID, j, had != evidence); err != nil {
		return err
	}
	if closed != nil {
		if err := t.answersToo(ctx, wearID, j.report, closed); err != nil {
			return err
		}
	}
	return t.settle(ctx, wearID)
}

// saveJudgement puts a judgement in the place of the one before; where the wear
// stands by it is still to be settled. differs says that it was made from
// something else.
func (t *tx) saveJudgement(ctx context.Context, wearID int64, j *judgement, differs bool) error {
	if err := t.bump(ctx); err != nil {
		return err
	}
	r := j.report
	codes := []string{}
	for _, f := range r.Flags {
		codes = append(codes, f.Code)
	}
	flags, err := text(codes)
	if err != nil {
		return err
	}
	p := r.Priority
	for _, q := range []struct {
		query string
		args  []any
	}{
		{`UPDATE wears SET tier = ?1, first_tier = iif(first_tier = '', ?1, first_tier), score = ?2, doubted = ?3, evidence = ?4, changed = ?5 WHERE id = ?6`,
			[]any{p.Tier, p.Score, r.Doubted(), j.evidence, t.version, wearID}},
		{"UPDATE reports SET engine = ?, protocol = ?, basis = ?, ledger = ?, report = ? WHERE wear_id = ?",
			[]any{r.Engine, r.Protocol, j.basis, j.ledger, j.packed, wearID}},
		{"DELETE FROM wear_flags WHERE wear_id = ?", []any{wearID}},
		{"INSERT INTO judgements (wear_id, at, evidence, tier, flags, headline) SELECT ?1, ?2, ?3, ?4, ?5, ?6 WHERE ?7",
			[]any{wearID, t.now, j.evidence, p.Tier, flags, r.Headline, differs}},
	} {
		if _, err := t.ExecContext(ctx, q.query, q.args...); err != nil {
			return err
		}
	}
	return insert(ctx, t, "INSERT INTO wear_flags (wear_id, place, code, tier) VALUES (?, ?, ?, ?)", r.Flags, func(i int, f wear.Flag) []any {
		return []any{wearID, i, f.Code, f.Tier}
	})
}

// correctFirst puts the first tier of a wear right that was filed before first
// reports knew of the laboratory results on record: by what the results that
// were there when it was received add to what the wear alone says. The log
// lists what was corrected.
func (t *tx) correctFirst(ctx context.Context, wearID int64) error {
	var basis, received int64
	var first wear.Tier
	err := t.QueryRowContext(ctx, "SELECT basis, received_at, first_tier FROM wears JOIN reports ON wear_id = id WHERE id = ?", wearID).Scan(&basis, &received, &first)
	if err != nil || basis != 0 || first == "" {
		return err
	}
	in, _, err := inputs(ctx, t.Tx, wearID)
	if err != nil {
		return err
	}
	rows, err := t.QueryContext(ctx, "SELECT "+resultColumns+` WHERE patient_id = ?1 AND made_at <= ?2 AND coalesce(withdrawn_at, ?2 + 1) > ?2
		ORDER BY taken_at DESC, results.id DESC`, in.Patient.ID, received)
	there, err := collect(rows, err, scanResult)
	if err != nil || len(there) == 0 {
		return err
	}
	if err := in.load(ctx, t.Tx); err != nil {
		return err
	}
	alone := WearInputs{WearID: wearID, Patient: in.Patient, SensorKind: in.SensorKind, Zone: in.Zone, Readings: in.Readings, Events: in.Events}
	with := alone
	with.Results = there
	var tiers [2]wear.Tier
	for i, x := range []*WearInputs{&alone, &with} {
		j, err := t.by.make(x, 0)
		if err != nil {
			return err
		}
		tiers[i] = j.report.Priority.Tier
	}
	if now := tiers[1]; now.Rank() >= tiers[0].Rank() || now.Rank() >= first.Rank() {
		return nil
	}
	if _, err := t.ExecContext(ctx, "UPDATE wears SET first_tier = ? WHERE id = ?", tiers[1], wearID); err != nil {
		return err
	}
	return t.append(ctx, LogRow{Action: string(CorrectsFirstTier), Object: "wear", ObjectID: wearID, Ended: done, Reason: string(first) + " to " + string(tiers[1])})
}

// foresee makes the judgements of what is to be filed before the writer is
// held. What changes meanwhile only makes them worthless: judge then makes the
// report again.
func (s *Store) foresee(ctx context.Context, f *Filing, packed []packedWear) (ready, error) {
	by := s.judging.Load()
	made := ready{}
	for i := range f.Wears {
		w := &f.Wears[i]
		if len(w.Absorbs) > 0 {
			continue // what people recorded of several comes together then
		}
		in := WearInputs{WearID: w.WearID, SensorKind: w.SensorKind, Readings: w.Readings, Events: w.Events}
		err := s.read(ctx, "read what a report is made from", func(t *sql.Tx) error {
			var err error
			in.Patient, err = readPatient(ctx, t, f.patient(i))
			if errors.Is(err, sql.ErrNoRows) {
				return invalid("This refers to a patient who is not on the register. Go back and look again.")
			}
			if err != nil {
				return err
			}
			return in.readFacts(ctx, t, w.Zone)
		})
		if err != nil {
			return nil, err
		}
		evidence, err := by.evidence(&in, packed[i].trace)
		if err != nil {
			return nil, err
		}
		if made[evidence], err = by.make(&in, evidence); err != nil {
			return nil, fail("judge a wear", err)
		}
	}
	return made, nil
}

// JudgeAnew judges a few wears anew whose reports were made by another engine,
// protocol or zone than those in force, beginning after the wear with the given
// id. It gives the last one that it looked at, 0 once there is none left; call
// it again with that. It may stop anywhere: what is done stays done. A closed
// wear comes back to the round only if it would now have to be seen today or
// this week, which nobody has answered; otherwise it keeps its outcome. Wears
// on which the engine fails are told to the caller and left as they were.
func (s *Store) JudgeAnew(ctx context.Context, after int64) (last int64, failed []int64, err error) {
	const batch = 24
	by := s.judging.Load()
	var list []WearInputs
	var traces []int64
	err = s.read(ctx, "look for wears to be judged anew", func(t *sql.Tx) error {
		// Each look at the folder asks this: by the index it costs what is to be
		// done, where "<>" would go through every report there is.
		rows, err := t.QueryContext(ctx, `SELECT wear_id FROM (SELECT wear_id FROM reports INDEXED BY reports_basis WHERE basis < ?1 AND wear_id > ?2
			UNION ALL SELECT wear_id FROM reports INDEXED BY reports_basis WHERE basis > ?1 AND wear_id > ?2) ORDER BY wear_id LIMIT ?3`, by.hash, after, batch)
		ids, err := collect(rows, err, scanID)
		for _, id := range ids {
			in, trace, err := inputs(ctx, t, id)
			if err == nil {
				err = in.load(ctx, t)
			}
			if err != nil {
				return err
			}
			list, traces = append(list, in), append(traces, trace)
		}
		return err
	})
	if err != nil || len(list) == 0 {
		return 0, nil, err
	}
	made := make([]*judgement, len(list))
	errs := make([]error, len(list))
	var wg sync.WaitGroup
	for i := range list {
		wg.Go(func() {
			var evidence int64
			if evidence, errs[i] = by.evidence(&list[i], traces[i]); errs[i] == nil {
				made[i], errs[i] = by.make(&list[i], evidence)
			}
		})
	}
	wg.Wait()
	all, ids := ready{}, []int64{}
	for i, in := range list {
		if errs[i] != nil {
			failed = append(failed, in.WearID)
			continue
		}
		all[made[i].evidence] = made[i]
		ids = append(ids, in.WearID)
	}
	last = list[len(list)-1].WearID
	return last, failed, s.write(ctx, string(JudgesAnew), func(t *tx) error {
		for _, id := range ids {
			if err := t.judgeAnew(ctx, id, all); err != nil {
				return err
			}
		}
		return nil
	})
}

func (t *tx) judgeAnew(ctx context.Context, wearID int64, made ready) error {
	var joined bool
	err := t.QueryRowContext(ctx, "SELECT joined_into IS NOT NULL FROM wears WHERE id = ?", wearID).Scan(&joined)
	if err != nil || joined {
		return err
	}
	if err := t.correctFirst(ctx, wearID); err != nil {
		return err
	}
	var open bool
	if err := t.QueryRowContext(ctx, "SELECT open FROM wears WHERE id = ?", wearID).Scan(&open); err != nil {
		return err
	}
	var closed *answered
	if !open {
		if closed, err = t.standingOutcome(ctx, wearID); err != nil {
			return err
		}
	}
	return t.rejudge(ctx, wearID, made, closed)
}

// answersToo has the outcome of a closed wear answer what other rules make of
// the same, unless that is more pressing and must be seen today or this week:
// then the wear is put on the round again for it.
func (t *tx) answersToo(ctx context.Context, wearID int64, r *wear.Report, o *answered) error {
	tier := r.Priority.Tier
	if o.risen(tier, nil) && tier.Rank() <= wear.ThisWeek.Rank() {
		_, err := t.ExecContext(ctx, "INSERT INTO reopenings (wear_id, outcome_id, reason, made_by, made_at) VALUES (?, ?, ?, 0, ?)",
			wearID, o.id, "judged anew by protocol "+t.by.Protocol.Version, t.now)
		return err
	}
	_, err := t.ExecContext(ctx, `UPDATE outcomes SET rules_tier = ?1, rules_flags = (SELECT json_group_array(code) FROM wear_flags WHERE wear_id = ?2)
		WHERE id = ?3`, tier, wearID, o.id)
	return err
}

func packReport(r *wear.Report) (whole []byte, short string, err error) {
	if whole, err = deflate(r); err != nil {
		return nil, "", err
	}
	short, err = text(ledgerOf(r))
	return whole, short, err
}
