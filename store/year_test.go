package store_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// year is a practice at work: what it was told is done, it must find again,
// whatever crashed meanwhile.
type year struct {
	*testing.T
	s     *store.Store
	look  storetest.Looking // the same for people, who look before they act
	path  string
	clock *storetest.Clock

	staff    []store.Actor // the last two are a clinician and a lead
	patients []store.Patient

	mu       sync.Mutex
	wears    []int64
	outcomes map[int64]store.NewOutcome // that were confirmed, by id
	undone   map[int64]bool
	letters  map[int64]string // that were sent, by id
	notes    int
	anchors  []store.Anchor
	done     map[string]int // actions that were confirmed
}

func (y *year) open() {
	y.Helper()
	s, err := store.Open(ctx, y.path, y.clock.Now)
	must(y.T, err)
	must(y.T, s.SetLogKey(storetest.AuditKey()))
	// The disk is not what is tried here: a crash of the program loses nothing
	// that the system has.
	writer, _ := s.Pools()
	_, err = writer.Exec("PRAGMA synchronous = OFF")
	must(y.T, err)
	y.s, y.look = s, storetest.Looking{Store: s, T: y.T}
}

// crash goes on with the files as they lie there in the middle of a change, as
// they do when the program is killed. The files of the running store are
// copied: closing it would tidy them up.
func (y *year) crash() {
	y.Helper()
	writer, _ := y.s.Pools()
	tx, err := writer.Begin()
	must(y.T, err)
	for _, query := range []string{
		"UPDATE wears SET open = 0, claimed_by = NULL", "UPDATE recalls SET state = 'cancelled', closed_at = 1", "UPDATE audit_head SET seq = seq + 1",
	} {
		_, err := tx.Exec(query)
		must(y.T, err)
	}
	to := filepath.Join(y.TempDir(), "wearround.db")
	for _, end := range []string{"", "-wal"} {
		b, err := os.ReadFile(y.path + end)
		must(y.T, err)
		must(y.T, os.WriteFile(to+end, b, 0o600))
	}
	must(y.T, tx.Rollback())
	must(y.T, y.s.Close())
	y.path = to
	y.open()
}

// file files a wear, or another export that joins two of a patient.
func (y *year) file(r *rand.Rand, n int) {
	y.Helper()
	p := y.patients[r.IntN(len(y.patients))]
	var flags []string
	if r.IntN(6) == 0 {
		flags = []string{wear.FlagDipSymptom}
	}
	f := storetest.Filing(n, p.ID, y.clock.Now(), 1, wear.Tiers()[r.IntN(5)], float64(r.IntN(40)), flags...)
	if old, err := y.s.WearsOf(ctx, p.ID); err == nil && len(old) > 1 && r.IntN(8) == 0 {
		f.Wears[0].WearID, f.Wears[0].Absorbs, f.Wears[0].New = old[0].ID, []int64{old[1].ID}, r.IntN(2)
	}
	_, ids, err := y.s.File(ctx, f)
	if err != nil {
		if store.CodeOf(err) != store.Conflict { // merged away meanwhile
			y.Error(err)
		}
		return
	}
	y.mu.Lock()
	defer y.mu.Unlock()
	y.done["file"]++
	if f.Wears[0].WearID == 0 {
		y.wears = append(y.wears, ids...)
	}
}

// step is one thing that one person does, sensible or not.
func (y *year) step(r *rand.Rand) {
	who := y.staff[r.IntN(len(y.staff))]
	y.mu.Lock()
	id := y.wears[max(0, len(y.wears)-1-r.IntN(80))]
	y.mu.Unlock()
	if r.IntN(3) > 0 {
		if next, err := y.s.NextWear(ctx, who, 0); err == nil && next != 0 {
			id = next
		}
	}
	soon := y.clock.Now().Add(time.Duration(1+r.IntN(40)) * day)
	what, err := "", error(nil)
	switch n := r.IntN(24); {
	case n < 9:
		what, err = "outcome", y.work(r, who, id, soon)
	case n == 9:
		what = "take over"
		_, err = y.s.TakeOver(ctx, who, id, "it was urgent")
	case n == 10:
		what = "contact"
		if _, err = y.s.Claim(ctx, who, id); err == nil {
			_, err = y.s.RecordContact(ctx, who, id, store.NewContact{Means: store.ByTelephone, Reached: r.IntN(2) == 0, NextTry: soon})
		}
	case n == 11:
		what, err = "call", y.call(who, id)
	case n == 12:
		what, err = "undo", y.undo(r)
	case n == 13:
		what, err = "correct", y.correct(r, who, soon)
	case n == 14:
		what = "reopen"
		if r.IntN(4) == 0 {
			err = y.s.Reopen(ctx, who, id, "rang back")
		}
	case n == 15:
		what, err = "letter", y.letter(who, id, r.IntN(4) > 0)
	case n == 16:
		what, err = "recall", y.recall(r, who)
	case n == 17:
		what = "note"
		if _, err = y.s.AddNote(ctx, who, id, "a note"); err == nil {
			y.mu.Lock()
			y.notes++
			y.mu.Unlock()
		}
	case n == 18:
		what = "release"
		err = y.s.Release(ctx, who, id)
	case n == 19:
		what, err = "merge", y.merge(r, who)
	case n == 20:
		what, err = "result", y.result(r, who, id)
	case n == 21:
		what, err = "hand over", y.handOver(who, id)
	default:
		what, err = "take back", y.takeBack(r, who, id)
	}
	y.mu.Lock()
	defer y.mu.Unlock()
	if err == nil {
		y.done[what]++
	} else if store.CodeOf(err) == store.Internal {
		y.Errorf("%s: %v", what, err)
	}
}

// work claims a wear and records an outcome, now and then without what it asks for.
func (y *year) work(r *rand.Rand, who store.Actor, id int64, soon time.Time) error {
	if _, err := y.s.Claim(ctx, who, id); err != nil {
		return err
	}
	o := y.random(r, soon)
	o.WearID = id
	made, err := y.look.RecordOutcome(ctx, who, o)
	if err == nil {
		y.mu.Lock()
		y.outcomes[made.ID] = o
		y.mu.Unlock()
	}
	return err
}

// random makes an outcome that asks for nothing more in most cases.
func (y *year) random(r *rand.Rand, soon time.Time) store.NewOutcome {
	rules := store.Rules()
	rule := rules[r.IntN(len(rules))]
	o := store.NewOutcome{Kind: rule.Kind, Reason: "as agreed", Attempts: 3}
	if rule.Recall != "" && r.IntN(10) > 0 {
		o.Recall = soon
	}
	return o
}

func (y *year) call(who store.Actor, id int64) error {
	in, err := y.s.WearInputs(ctx, id)
	if err != nil {
		return err
	}
	at := in.Readings[0].At
	if _, err := y.s.RecordCall(ctx, who, id, store.CallSheet{Answers: []store.CallAnswer{{Asked: at, Felt: store.FeltYes, At: at, Words: "shaky"}}}); err != nil {
		return err
	}
	return y.s.AddEvents(ctx, who, id, []wear.Event{storetest.Verdict(at, wear.ThisWeek, 12, wear.FlagDipSymptom)})
}

// pick gives one of the outcomes that were confirmed, mostly a late one.
func (y *year) pick(r *rand.Rand) int64 {
	y.mu.Lock()
	defer y.mu.Unlock()
	last := int64(0)
	for id := range y.outcomes {
		last = max(last, id)
	}
	return max(1, last-int64(r.IntN(4)))
}

func (y *year) undo(r *rand.Rand) error {
	id := y.pick(r)
	for _, who := range y.staff {
		if err := y.s.UndoOutcome(ctx, who, id); store.CodeOf(err) != store.Forbidden || err == nil {
			if err == nil {
				y.mu.Lock()
				y.undone[id] = true
				y.mu.Unlock()
			}
			return err
		}
	}
	return nil
}

func (y *year) correct(r *rand.Rand, who store.Actor, soon time.Time) error {
	o := y.random(r, soon)
	made, err := y.look.CorrectOutcome(ctx, who, y.pick(r), o)
	if err == nil {
		y.mu.Lock()
		y.outcomes[made.ID] = o
		y.mu.Unlock()
	}
	return err
}

// result records a laboratory result, normal or not.
func (y *year) result(r *rand.Rand, who store.Actor, id int64) error {
	w, err := y.s.Wear(ctx, id)
	if err != nil {
		return err
	}
	value := []string{"36", "44", "52", "97", ">60"}[r.IntN(5)]
	_, err = y.s.AddResult(ctx, who, store.NewResult{
		PatientID: w.Patient.ID, Kind: store.HbA1c, Value: value, Unit: "mmol/mol", TakenAt: y.clock.Now().Add(-time.Duration(r.IntN(3)) * day),
	})
	return err
}

func (y *year) handOver(who store.Actor, id int64) error {
	_, err := y.s.HandOver(ctx, who, id, store.NewHandover{To: store.RoleClinician, Reason: "I cannot judge this"})
	return err
}

// takeBack takes back what somebody added to a wear or a result of its patient.
func (y *year) takeBack(r *rand.Rand, who store.Actor, id int64) error {
	v, err := y.s.Review(ctx, id)
	if err != nil {
		return err
	}
	if len(v.Results) > 0 && r.IntN(2) == 0 {
		return y.s.WithdrawResult(ctx, who, v.Results[r.IntN(len(v.Results))].ID, "another patient's")
	}
	if len(v.Events) > 0 {
		return y.s.WithdrawEvent(ctx, who, v.Events[r.IntN(len(v.Events))].ID, "another day")
	}
	return nil
}

func (y *year) letter(who store.Actor, id int64, send bool) error {
	w, err := y.s.Wear(ctx, id)
	if err != nil {
		return err
	}
	letter, err := y.look.OpenLetter(ctx, who, store.NewLetter{PatientID: w.Patient.ID, WearID: w.ID, Kind: "tests", Protocol: w.Report.Protocol, Text: "Dear"})
	if err != nil {
		return err
	}
	if !send {
		return y.s.DiscardLetter(ctx, who, letter)
	}
	words := fmt.Sprint("Dear patient, letter ", letter)
	if err := y.s.SendLetter(ctx, who, letter, words, store.ByPost); err != nil {
		return err
	}
	y.mu.Lock()
	defer y.mu.Unlock()
	y.letters[letter] = words
	return nil
}

func (y *year) recall(r *rand.Rand, who store.Actor) error {
	page, err := y.s.Recalls(ctx, store.RecallQuery{DueBefore: y.clock.Now(), Limit: 20})
	if err != nil || len(page.Rows) == 0 {
		return err
	}
	c := page.Rows[r.IntN(len(page.Rows))]
	switch r.IntN(4) {
	case 0:
		_, err = y.s.ContactRecall(ctx, who, c.ID, store.NewContact{Means: store.ByMessage})
	case 1:
		err = y.s.MoveRecall(ctx, who, c.ID, y.clock.Now().Add(14*day), "away", 0)
	case 2:
		err = y.s.CloseRecall(ctx, who, c.ID, "seen", 0)
	default:
		n := store.NewResult{PatientID: c.Patient.ID, Kind: store.HbA1c, Value: "41", Unit: "mmol/mol", TakenAt: y.clock.Now()}
		if c.Kind == store.RecallResult {
			n.RecallID = c.ID
		}
		_, err = y.s.AddResult(ctx, who, n)
	}
	return err
}

func (y *year) merge(r *rand.Rand, who store.Actor) error {
	if r.IntN(6) > 0 {
		return nil
	}
	a, b := y.patients[r.IntN(len(y.patients))], y.patients[r.IntN(len(y.patients))]
	id, err := y.s.Merge(ctx, who, a.ID, b.ID, "entered twice")
	if err != nil || r.IntN(3) == 0 {
		return err
	}
	return y.s.UndoMerge(ctx, who, id, "two people after all")
}

// A year of a practice: two thousand wears, some people at once, crashes in
// the middle of changes. Afterwards nothing is lost. Under the race detector a
// quarter of the days is enough to try everybody against everybody.
func TestNothingIsLostInAYear(t *testing.T) {
	const seed = 20260601
	wears, days := 2000, 365
	if raceDetector {
		wears, days = 300, 90
	}
	y := &year{
		T: t, path: filepath.Join(t.TempDir(), "wearround.db"), clock: storetest.NewClock(),
		outcomes: map[int64]store.NewOutcome{}, undone: map[int64]bool{}, letters: map[int64]string{}, done: map[string]int{},
	}
	y.open()
	t.Cleanup(func() { must(t, y.s.Close()) })
	for i, role := range []store.Role{store.RoleNurse, store.RoleNurse, store.RoleNurse, store.RoleClinician, store.RoleLead} {
		y.staff = append(y.staff, storetest.AddUser(t, y.s, fmt.Sprint("Person", i), role))
	}
	for n := range 300 {
		p := storetest.Patient(n)
		p.BirthDate, p.Context.BirthYear = "", 0 // any two may turn out to be one person
		y.patients = append(y.patients, p)
	}
	must(t, y.s.AddPatients(ctx, y.patients))
	var err error
	y.patients, err = y.s.Patients(ctx)
	must(t, err)

	r := rand.New(rand.NewPCG(seed, 0))
	filed, crashes := 0, 0
	for d := range days {
		for ; filed*days < wears*(d+1); filed++ {
			y.file(r, filed)
		}
		var people sync.WaitGroup
		for p := range 3 {
			mine := rand.New(rand.NewPCG(seed, uint64(1+d*3+p)))
			people.Go(func() {
				for range 6 {
					y.step(mine)
				}
			})
		}
		people.Wait()
		y.clock.Advance(10 * time.Second)
		if r.IntN(40) == 0 {
			anchor, err := y.s.LogHead(ctx)
			must(t, err)
			y.anchors = append(y.anchors, anchor)
			y.crash()
			crashes++
		}
		y.clock.Advance(day - 10*time.Second)
	}
	t.Logf("%d wears, %d crashes, done: %v", filed, crashes, y.done)
	for _, what := range []string{"outcome", "take over", "contact", "call", "undo", "correct", "reopen", "letter", "recall", "note", "merge", "result", "hand over", "take back"} {
		if y.done[what] == 0 {
			t.Errorf("nobody ever did this: %s", what)
		}
	}
	if crashes == 0 {
		t.Error("nothing crashed")
	}
	y.check()
	y.checkLog()
}

// check looks for everything that was confirmed.
func (y *year) check() {
	y.Helper()
	_, reader := y.s.Pools()
	count := func(query string, args ...any) (n int) {
		y.Helper()
		must(y.T, reader.QueryRow(query, args...).Scan(&n))
		return n
	}
	for _, fault := range []struct{ what, query string }{
		{"wears off the round without an outcome", `SELECT count(*) FROM wears WHERE open = 0 AND joined_into IS NULL AND NOT EXISTS (
			SELECT * FROM outcomes o WHERE o.wear_id = wears.id AND undone_at IS NULL AND NOT EXISTS (SELECT * FROM outcomes WHERE corrects = o.id))`},
		{"joined wears on the round", "SELECT count(*) FROM wears WHERE open = 1 AND joined_into IS NOT NULL"},
		{"closed wears that somebody has", "SELECT count(*) FROM wears WHERE open = 0 AND claimed_by IS NOT NULL"},
		{"open recalls of outcomes that do not stand", `SELECT count(*) FROM recalls JOIN outcomes o ON o.id = outcome_id
			WHERE closed_at IS NULL AND (undone_at IS NOT NULL OR EXISTS (SELECT * FROM outcomes WHERE corrects = o.id))`},
		{"things left with a wear that was joined into another", `SELECT count(*) FROM outcomes JOIN wears ON wears.id = wear_id WHERE joined_into IS NOT NULL`},
		{"wears of an entry that was merged", "SELECT count(*) FROM wears JOIN patients ON patients.id = patient_id WHERE merged_into IS NOT NULL"},
		{"wears without a report", "SELECT count(*) FROM wears WHERE joined_into IS NULL AND id NOT IN (SELECT wear_id FROM reports)"},
		{"results that are not normal, and that nobody has to decide on or has", `SELECT count(*) FROM results WHERE withdrawn_at IS NULL
			AND class <> 'normal' AND NOT EXISTS (SELECT * FROM recalls WHERE about_result = results.id)`},
		{"decisions on results that were taken back", `SELECT count(*) FROM recalls JOIN results ON results.id = about_result
			WHERE closed_at IS NULL AND withdrawn_at IS NOT NULL`},
		{"first tiers that are not those of the first judgement", `SELECT count(*) FROM wears WHERE joined_into IS NULL
			AND NOT EXISTS (SELECT * FROM wears j WHERE j.joined_into = wears.id)
			AND first_tier <> (SELECT tier FROM judgements WHERE wear_id = wears.id ORDER BY id LIMIT 1)`},
		{"outcomes on evidence that was never judged", `SELECT count(*) FROM outcomes o WHERE NOT EXISTS (
			SELECT * FROM judgements WHERE wear_id = o.wear_id AND evidence = o.evidence)`},
		{"wears that came back without a reason", `SELECT count(*) FROM wears WHERE open = 1 AND back_at <> 0
			AND NOT EXISTS (SELECT * FROM reopenings WHERE wear_id = wears.id) AND NOT EXISTS (SELECT * FROM judgements j WHERE j.wear_id = wears.id AND id <> (SELECT min(id) FROM judgements WHERE wear_id = j.wear_id))`},
		{"nurses who told that all is well over a flag", `SELECT count(*) FROM outcomes
			WHERE kind = 'told_well' AND role = 'nurse' AND flags <> '[]'`},
	} {
		if n := count(fault.query); n != 0 {
			y.Errorf("%s: %d", fault.what, n)
		}
	}
	for _, id := range y.wears {
		v, err := y.s.Review(ctx, id)
		must(y.T, err)
		if !v.Open && !slices.ContainsFunc(v.Outcomes, func(o store.WearOutcome) bool { return o.InForce() }) {
			y.Errorf("wear %d is lost", id)
		}
	}
	for id, o := range y.outcomes {
		if n := count("SELECT count(*) FROM outcomes WHERE id = ? AND kind = ? AND (undone_at IS NOT NULL) = ?", id, o.Kind, y.undone[id]); n != 1 {
			y.Errorf("outcome %d (%s) is not as it was confirmed", id, o.Kind)
		}
		if n := count("SELECT count(*) FROM recalls WHERE outcome_id = ?", id); (n == 1) != !o.Recall.IsZero() {
			y.Errorf("outcome %d (%s) is followed by %d recalls", id, o.Kind, n)
		}
	}
	if n := count("SELECT count(*) FROM outcomes"); n != len(y.outcomes) {
		y.Errorf("%d outcomes, %d were confirmed", n, len(y.outcomes))
	}
	for id, words := range y.letters {
		if l, err := y.s.Letter(ctx, id); err != nil || l.Text != words || l.SentAt.IsZero() {
			y.Errorf("letter %d: %v", id, err)
		}
	}
	if n := count("SELECT count(*) FROM notes"); n != y.notes {
		y.Errorf("%d notes, %d were confirmed", n, y.notes)
	}
	if n := count("SELECT count(*) FROM audit WHERE action IN ('record an outcome', 'correct an outcome') AND outcome = 'done'"); n != len(y.outcomes) {
		y.Errorf("%d outcomes in the log, %d were confirmed", n, len(y.outcomes))
	}
	page, err := y.s.Round(ctx, store.RoundQuery{Limit: 1, Now: y.clock.Now()})
	must(y.T, err)
	if n := count("SELECT count(*) FROM wears WHERE open = 1"); page.Total != n {
		y.Errorf("the round has %d wears, the database %d", page.Total, n)
	}
	now := y.clock.Now()
	audits, err := y.s.YearAudit(ctx, now, clinic, store.Span{From: storetest.Start.AddDate(0, -6, 0), To: now.AddDate(0, 0, 1)})
	must(y.T, err)
	audit := audits[0]
	checkSums(y.T, audit)
	if n := count("SELECT count(*) FROM wears WHERE joined_into IS NULL"); audit.All().Read != n || audit.Changes.Outcomes != len(y.outcomes) || audit.Changes.Undone != len(y.undone) {
		y.Errorf("the audit has %d wears and %+v, the database %d wears and %d outcomes", audit.All().Read, audit.Changes, n, len(y.outcomes))
	}
}

// checkLog verifies the log, then flips single bits in every column of lines
// all over it, and in the note of the newest.
func (y *year) checkLog() {
	y.Helper()
	if c := check(y.T, y.s, y.anchors...); !c.OK() {
		y.Fatalf("the log: %+v", c)
	}
	rows := check(y.T, y.s).Rows
	run := unlock(y.T, y.s)
	r := rand.New(rand.NewPCG(1, 1))
	columns := []string{"at", "actor", "role", "action", "object", "object_id", "outcome", "reason", "request", "prev", "mac"}
	for i := range 2 * len(columns) {
		column, seq := columns[i%len(columns)], 1+r.Int64N(rows)
		undo := flip(y.T, y.s, run, r, "audit", column, seq)
		if c := check(y.T, y.s); c.Broken != seq {
			y.Errorf("a flipped bit in %s of %d of %d: %+v", column, seq, rows, c)
		}
		undo()
	}
	for _, column := range []string{"seq", "mac", "seal"} {
		undo := flip(y.T, y.s, run, r, "audit_head", column, rows)
		if c := check(y.T, y.s); c.OK() {
			y.Errorf("a flipped bit in %s of the note of the newest line is not found", column)
		}
		undo()
	}
	if c := check(y.T, y.s, y.anchors...); !c.OK() {
		y.Errorf("the log after it was put right: %+v", c)
	}
}

// flip flips one bit of one column of a line, and gives what puts it right. A
// text that is empty becomes one of a letter.
func flip(t *testing.T, s *store.Store, run func(string, ...any), r *rand.Rand, table, column string, seq int64) (undo func()) {
	t.Helper()
	_, reader := s.Pools()
	var was any
	var row int64
	must(t, reader.QueryRow(fmt.Sprintf("SELECT rowid, %s FROM %s WHERE seq = ?", column, table), seq).Scan(&row, &was))
	var now any
	switch v := was.(type) {
	case int64:
		now = v ^ 1<<r.IntN(40)
	case string:
		b := []byte(v)
		if len(b) == 0 {
			b = []byte{0}
		}
		b[r.IntN(len(b))] ^= 1 << r.IntN(6)
		now = string(b)
	case []byte:
		b := slices.Clone(v)
		b[r.IntN(len(b))] ^= 1 << r.IntN(8)
		now = b
	default:
		t.Fatalf("%s.%s holds a %T", table, column, was)
	}
	set := fmt.Sprintf("UPDATE %s SET %s = ? WHERE rowid = ?", table, column)
	run(set, now, row)
	return func() { run(set, was, row) }
}
