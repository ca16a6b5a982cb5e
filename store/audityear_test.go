package store_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// TestAuditOfAYear plays a practice and audits it now and then: each figure is
// that of a plain recount of what stands then (recount), and what an audit says
// of a time that is over is what one said then. YEAR_WEARS=2000 plays a whole
// year; nothing happens at once here, so that under the race detector fewer days
// are enough.
func TestAuditOfAYear(t *testing.T) {
	const seed = 20261127
	wears, days := 80, 54
	if raceDetector {
		wears, days = 40, 27
	}
	if n, err := strconv.Atoi(os.Getenv("YEAR_WEARS")); err == nil {
		wears, days = n, 365
	}
	y := &year{
		T: t, path: filepath.Join(t.TempDir(), "wearround.db"), clock: storetest.NewClock(),
		outcomes: map[int64]store.NewOutcome{}, undone: map[int64]bool{}, letters: map[int64]string{}, done: map[string]int{},
	}
	y.open()
	t.Cleanup(func() { must(t, y.s.Close()) })
	storetest.Judge(t, y.s, clinic)
	for i, role := range []store.Role{store.RoleNurse, store.RoleNurse, store.RoleNurse, store.RoleClinician, store.RoleLead} {
		y.staff = append(y.staff, storetest.AddUser(t, y.s, fmt.Sprint("Person", i), role))
	}
	for n := range max(20, wears/6) {
		p := storetest.Patient(n)
		p.Context.Sex = []string{"female", "male", ""}[n%3]
		y.patients = append(y.patients, p)
	}
	must(t, y.s.AddPatients(ctx, y.patients))
	var err error
	y.patients, err = y.s.Patients(ctx)
	must(t, err)

	r := rand.New(rand.NewPCG(seed, 0))
	from := storetest.Start.AddDate(0, 0, -1)
	spans := []store.Span{{From: from, To: from.AddDate(0, 0, days+9)}, {From: from.AddDate(0, 0, days/3), To: from.AddDate(0, 0, 2*days/3)}}
	type kept struct {
		at    time.Time
		audit []byte
	}
	var during []kept
	filed := 0
	for d := range days {
		for ; filed*days < wears*(d+1); filed++ {
			y.fileMeasured(r, filed)
			y.clock.Advance(time.Second)
		}
		for range 2 + 6*wears/days {
			if id, err := y.s.NextWear(ctx, y.staff[0], 0); err == nil && id != 0 && r.IntN(2) == 0 {
				_, _ = y.s.Claim(ctx, y.staff[r.IntN(len(y.staff))], id) // and does the work later
				y.clock.Advance(time.Duration(1+r.IntN(40)) * time.Minute)
			}
			y.step(r)
			if r.IntN(6) == 0 {
				y.second(r)
			}
			y.clock.Advance(time.Duration(1+r.IntN(900)) * time.Second)
		}
		if d%(days/9) == days/9-1 {
			at := y.clock.Now()
			audits, err := y.s.AuditAsOf(ctx, at, clinic, spans...)
			must(t, err)
			for i, a := range audits {
				want := y.recount(spans[i], at)
				if diff := gocmp.Diff(want, a); diff != "" {
					t.Fatalf("day %d: the recount has -, the audit +:\n%s", d, diff)
				}
				checkSums(t, a)
			}
			text, err := json.Marshal(audits)
			must(t, err)
			during = append(during, kept{at, text})
		}
		y.clock.Advance(18 * time.Hour)
	}
	for _, k := range during {
		audits, err := y.s.AuditAsOf(ctx, k.at, clinic, spans...)
		must(t, err)
		text, err := json.Marshal(audits)
		must(t, err)
		if string(text) != string(k.audit) {
			var was []wear.Audit
			must(t, json.Unmarshal(k.audit, &was))
			t.Errorf("as of %s, then and now:\n%s", k.at, gocmp.Diff(was, audits))
		}
	}
	a, err := y.s.YearAudit(ctx, y.clock.Now(), clinic, spans[0])
	must(t, err)
	w := a[0].Worth
	t.Logf("%d wears, %d audits taken twice, done: %v; chain %+v", filed, 2*len(during), y.done, w.Chain)
	if len(w.Yield) == 0 || w.Missed.Confirmed+w.Missed.InRange == 0 || w.Chain[0].On == 0 || w.Chain[4].On == 0 || w.Shifts[0].Rise == 0 || w.Work[0].Minutes == 0 {
		t.Errorf("too little happened to count: %+v", w)
	}
}

// fileMeasured files a wear with figures, of one of two kinds, and now and then
// a content that nobody can read.
func (y *year) fileMeasured(r *rand.Rand, n int) {
	y.Helper()
	p := y.patients[r.IntN(len(y.patients))]
	flags := [][]string{nil, nil, nil, {wear.FlagAbove7_8}, {wear.FlagAbove7_8, wear.FlagAbove10}, {wear.FlagDipSymptom}}[r.IntN(6)]
	tier := wear.Routine
	if flags != nil {
		tier = wear.Tiers()[r.IntN(4)]
	}
	f := storetest.Filing(n, p.ID, y.clock.Now(), 1, tier, float64(r.IntN(40)), flags...)
	f.Wears[0].SensorKind = []string{"A", "A", "B", ""}[r.IntN(4)]
	mean := 5.4 + r.Float64()*2
	storetest.Change(&f.Wears[0], func(r *wear.Report) {
		r.Metrics.MeanMmol, r.Metrics.Above7_8Pct, r.Metrics.Above10Pct = wear.Of(mean), wear.Of(10*(mean-5)), wear.Of(mean-5)
	})
	if old, err := y.s.WearsOf(ctx, p.ID); err == nil && len(old) > 1 && r.IntN(8) == 0 {
		f.Wears[0].WearID, f.Wears[0].Absorbs, f.Wears[0].New = old[0].ID, []int64{old[1].ID}, r.IntN(2)
	}
	question := []wear.Question{{Code: "unit", Text: "Which unit?"}}
	switch r.IntN(12) {
	case 0:
		must(y.T, second(y.s.Hold(ctx, store.Holding{Drop: f.Drop, SHA256: f.SHA256, Questions: question})))
		y.clock.Advance(time.Duration(r.IntN(90)) * time.Minute)
	case 1:
		must(y.T, second(y.s.RefuseFile(ctx, store.Drop{Path: f.Drop.Path + "x", ModTime: f.Drop.ModTime, SeenAt: f.Drop.SeenAt}, storetest.Hash(90000+n))))
	}
	_, ids, err := y.s.File(ctx, f)
	if err != nil {
		if store.CodeOf(err) != store.Conflict {
			y.Error(err)
		}
		return
	}
	if f.Wears[0].WearID == 0 {
		y.wears = append(y.wears, ids...)
	}
	y.done["file"]++
}

// second is what the other played year does not do: sensors handed out, results
// of a second sample, corrections of the register.
func (y *year) second(r *rand.Rand) {
	who, p := y.staff[r.IntN(len(y.staff))], y.patients[r.IntN(len(y.patients))]
	record, err := y.s.PatientRecord(ctx, p.ID)
	if err != nil || record.MergedInto != 0 {
		return
	}
	now := y.clock.Now()
	what := ""
	switch r.IntN(4) {
	case 0:
		what = "hand out"
		_, _, err = y.s.HandOut(ctx, who, store.NewOut{Patient: record, GivenAt: now, DueAt: now.Add(20 * day), SensorKind: "A"})
	case 1:
		what = "correct the register"
		record.BirthDate, record.Context.BirthYear = fmt.Sprintf("%d-03-04", 1940+r.IntN(60)), 0
		err = y.s.EditPatient(ctx, who, record)
	default:
		what = "second sample"
		for i := range 2 {
			_, err = y.s.AddResult(ctx, who, store.NewResult{PatientID: record.ID, Kind: store.HbA1c, Value: []string{"52", "61"}[i], Unit: "mmol/mol", TakenAt: now.Add(-time.Duration(i*30) * time.Hour)})
		}
	}
	if err == nil {
		y.done[what]++
	} else if store.CodeOf(err) == store.Internal {
		y.Errorf("%s: %v", what, err)
	}
}

// recounted is one wear with all that hangs on it, as the rows say now.
type recounted struct {
	id, patient, began, received, due int64
	kind, first, born, context        string
	confidence                        string
	mean, above7_8, above10           *float64
	open                              bool
	readings                          int
	doubted                           *int

	flags            []string
	outcomes         []recountedOutcome
	claims           []int64
	before           *recounted
	next             int64
	calls, attempts  int
	reached, letters int
}

type recountedOutcome struct {
	id, at    int64
	kind      string
	corrected bool
	flags     []string
}

type recountedResult struct {
	id, patient, wear, recall, taken int64
	kind, class                      string
}

// recount counts an audit anew from rows as they stand, one question after the
// other and without any of the code that counts audits.
func (y *year) recount(span store.Span, at time.Time) wear.Audit {
	y.Helper()
	p := plain{year: y, span: span, at: at}
	p.load()
	a := wear.Audit{From: span.From, To: span.To, At: at}
	p.tables(&a)
	p.rows(&a)
	p.worth(&a)
	return a
}

type plain struct {
	*year
	span    store.Span
	at      time.Time
	all     []*recounted // by patient and time
	in      []*recounted // of the period, by id
	results []recountedResult
	recall  map[int64][3]int64 // of an outcome: due, closed, result
}

func (p *plain) day(at int64) int {
	return wear.DayNumber(time.Unix(at, 0).In(clinic))
}

// scan reads rows of a query; each is given as pointers by f.
func (p *plain) scan(query string, f func(scan func(...any))) {
	p.Helper()
	_, reader := p.s.Pools()
	rows, err := reader.Query(query)
	must(p.T, err)
	defer rows.Close()
	for rows.Next() {
		f(func(to ...any) { p.Helper(); must(p.T, rows.Scan(to...)) })
	}
	must(p.T, rows.Err())
}

func (p *plain) load() {
	p.Helper()
	byID := map[int64]*recounted{}
	p.scan(`SELECT w.id, w.patient_id, first_at, received_at, due_at, sensor_kind, first_tier, birth_date, context ->> '$.sex', ledger ->> '$.confidence',
		ledger ->> '$.mean_mmol', ledger ->> '$.above_7_8_pct', ledger ->> '$.above_10_pct', open, readings, doubted
		FROM wears w JOIN patients ON patients.id = w.patient_id JOIN reports ON wear_id = w.id WHERE joined_into IS NULL`, func(scan func(...any)) {
		w := new(recounted)
		var sex *string
		scan(&w.id, &w.patient, &w.began, &w.received, &w.due, &w.kind, &w.first, &w.born, &sex, &w.confidence, &w.mean, &w.above7_8, &w.above10, &w.open, &w.readings, &w.doubted)
		if sex != nil {
			w.context = *sex
		}
		byID[w.id] = w
		p.all = append(p.all, w)
	})
	slices.SortFunc(p.all, func(a, b *recounted) int {
		return cmp.Or(cmp.Compare(a.patient, b.patient), cmp.Compare(a.began, b.began), cmp.Compare(a.id, b.id))
	})
	for i, w := range p.all {
		for _, later := range p.all[i+1:] {
			if later.patient == w.patient && (w.next == 0 || later.received < w.next) {
				w.next = later.received
			}
		}
		if i > 0 && p.all[i-1].patient == w.patient {
			w.before = p.all[i-1]
		}
		if w.received >= p.span.From.Unix() && w.received < p.span.To.Unix() {
			p.in = append(p.in, w)
		}
	}
	p.scan(`SELECT id, wear_id, made_at, kind, flags, id IN (SELECT corrects FROM outcomes WHERE corrects IS NOT NULL) FROM outcomes WHERE undone_at IS NULL ORDER BY id`, func(scan func(...any)) {
		var o recountedOutcome
		var id int64
		var flags string
		scan(&o.id, &id, &o.at, &o.kind, &flags, &o.corrected)
		must(p.T, json.Unmarshal([]byte(flags), &o.flags))
		byID[id].outcomes = append(byID[id].outcomes, o)
	})
	p.scan("SELECT wear_id, code FROM wear_flags ORDER BY wear_id, place", func(scan func(...any)) {
		var id int64
		var code string
		scan(&id, &code)
		if w := byID[id]; w != nil && w.open {
			w.flags = append(w.flags, code)
		}
	})
	for _, w := range p.all {
		if o := w.inForce(); o != nil && !w.open {
			w.flags = o.flags
		}
	}
	p.scan("SELECT object_id, at FROM audit WHERE action = 'claim a wear' AND outcome = 'done' ORDER BY seq", func(scan func(...any)) {
		var id, at int64
		scan(&id, &at)
		if w := byID[id]; w != nil {
			w.claims = append(w.claims, at)
		}
	})
	for i, query := range []string{"SELECT wear_id, reached FROM contacts", "SELECT wear_id, 0 FROM calls", "SELECT wear_id, 0 FROM letters WHERE sent_at IS NOT NULL AND discarded_at IS NULL"} {
		p.scan(query, func(scan func(...any)) {
			var id *int64
			var reached int
			scan(&id, &reached)
			if id == nil || byID[*id] == nil {
				return
			}
			w := byID[*id]
			[]func(){func() { w.attempts++; w.reached += reached }, func() { w.calls++ }, func() { w.letters++ }}[i]()
		})
	}
	p.scan(`SELECT id, patient_id, coalesce(wear_id, 0), coalesce((SELECT c.id FROM recalls c WHERE c.result_id = results.id), 0), taken_at, kind, class
		FROM results WHERE withdrawn_at IS NULL`, func(scan func(...any)) {
		var r recountedResult
		scan(&r.id, &r.patient, &r.wear, &r.recall, &r.taken, &r.kind, &r.class)
		p.results = append(p.results, r)
	})
	p.recall = map[int64][3]int64{}
	p.scan("SELECT outcome_id, due_at, coalesce(closed_at, 0), coalesce(result_id, 0) FROM recalls WHERE kind = 'result' AND outcome_id IS NOT NULL", func(scan func(...any)) {
		var id int64
		var c [3]int64
		scan(&id, &c[0], &c[1], &c[2])
		p.recall[id] = c
	})
}

// inForce is the last outcome that nothing was put in the place of.
func (w *recounted) inForce() *recountedOutcome {
	return w.last(func(recountedOutcome) bool { return true })
}

func (w *recounted) ordered() *recountedOutcome {
	return w.last(func(o recountedOutcome) bool { return o.kind == "tests_ordered" })
}

func (w *recounted) last(f func(recountedOutcome) bool) (out *recountedOutcome) {
	for i, o := range w.outcomes {
		if !o.corrected && f(o) {
			out = &w.outcomes[i]
		}
	}
	return out
}

func (w *recounted) ended() bool { return !w.open && len(w.outcomes) > 0 }

func (p *plain) count(f func(*recounted) bool) (n int) {
	for _, w := range p.in {
		if f(w) {
			n++
		}
	}
	return n
}

// said are the results that say what a wear was since a day.
func (p *plain) said(w *recounted, since int64) (out []recountedResult) {
	var own int64
	if o := w.ordered(); o != nil {
		own = p.recall[o.id][2]
	}
	for _, r := range p.results {
		if r.patient != w.patient {
			continue
		}
		loose := r.wear == 0 && r.recall == 0 && p.day(r.taken) >= p.day(since) && (w.next == 0 || r.taken < w.next)
		if r.wear == w.id || own != 0 && r.id == own || loose {
			out = append(out, r)
		}
	}
	return out
}

// confirmed reports whether one is in the diabetes range, and so is another of
// the patient of a sample at least 20 hours and at most a year apart.
func (p *plain) confirmed(list []recountedResult) bool {
	for _, r := range list {
		for _, other := range p.results {
			apart := max(r.taken-other.taken, other.taken-r.taken)
			if r.class == string(wear.ClassDiabetes) && other.class == string(wear.ClassDiabetes) && other.patient == r.patient && other.id != r.id && apart >= 20*3600 && apart <= 366*86400 {
				return true
			}
		}
	}
	return false
}

func has(list []recountedResult, class string) bool {
	return slices.ContainsFunc(list, func(r recountedResult) bool { return r.class == class })
}

func (p *plain) byCode(list []string, f func(code string) int) []wear.AuditCount {
	out := []wear.AuditCount{}
	for _, code := range list {
		if n := f(code); n > 0 {
			out = append(out, wear.AuditCount{Code: code, N: n})
		}
	}
	slices.SortStableFunc(out, func(a, b wear.AuditCount) int { return b.N - a.N })
	return out
}

func outcomeCodes() (out []string) {
	for _, r := range store.Rules() {
		out = append(out, string(r.Kind))
	}
	return out
}

func (p *plain) flagCodes() []string {
	seen := map[string]int{}
	for _, w := range p.in {
		for _, c := range w.flags {
			seen[c]++
		}
	}
	var out []string
	for c := range seen {
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b string) int { return cmp.Or(seen[b]-seen[a], cmp.Compare(a, b)) })
	return out
}

// tables counts what there was before it was asked whether it was worth it.
func (p *plain) tables(a *wear.Audit) {
	today := p.day(p.at.Unix())
	for _, tier := range wear.Tiers() {
		of := func(f func(*recounted) bool) int {
			return p.count(func(w *recounted) bool { return w.first == string(tier) && f(w) })
		}
		inTime := func(w *recounted) bool { return w.ended() && p.day(w.outcomes[0].at) <= p.day(w.due) }
		n := wear.AuditTier{
			Tier: tier, Read: of(func(*recounted) bool { return true }), InTime: of(inTime),
			Late:    of(func(w *recounted) bool { return w.ended() && !inTime(w) }),
			NotDue:  of(func(w *recounted) bool { return w.open && today <= p.day(w.due) }),
			Overdue: of(func(w *recounted) bool { return w.open && today > p.day(w.due) }),
			Early:   of(func(w *recounted) bool { return inTime(w) && today <= p.day(w.due) }),
			Again:   of(func(w *recounted) bool { return w.open && len(w.outcomes) > 0 }),
		}
		for _, w := range p.in {
			if w.open && w.first == string(tier) {
				n.OldestDays = max(n.OldestDays, int(p.at.Sub(time.Unix(w.received, 0)).Hours()/24))
			}
		}
		a.Tiers = append(a.Tiers, n)
	}
	a.Months = []wear.AuditMonth{}
	first := p.span.From.In(clinic)
	for m := time.Date(first.Year(), first.Month(), 1, 0, 0, 0, 0, clinic); ; m = m.AddDate(0, 0, 1) {
		name := m.Format("2006-01")
		if !m.Before(p.span.To) || m.After(p.at) {
			break
		}
		if len(a.Months) > 0 && a.Months[len(a.Months)-1].Month == name {
			continue
		}
		in := func(f func(*recounted) bool) int {
			return p.count(func(w *recounted) bool { return time.Unix(w.received, 0).In(clinic).Format("2006-01") == name && f(w) })
		}
		follow := func(w *recounted) bool { return w.first != "routine" }
		a.Months = append(a.Months, wear.AuditMonth{
			Month: name, Read: in(func(*recounted) bool { return true }), FollowUp: in(follow), Done: in((*recounted).ended),
			FollowUpDone: in(func(w *recounted) bool { return follow(w) && w.ended() }),
		})
	}
	ends := func(f func(*recounted) bool) []wear.AuditCount {
		return p.byCode(outcomeCodes(), func(code string) int {
			return p.count(func(w *recounted) bool { o := w.inForce(); return o != nil && !w.open && o.kind == code && f(w) })
		})
	}
	flag := func(code string, f func(*recounted) bool) wear.AuditFlag {
		return wear.AuditFlag{Code: code, Wears: p.count(f), Open: p.count(func(w *recounted) bool { return f(w) && w.open }), Outcomes: ends(f)}
	}
	a.Flags = []wear.AuditFlag{}
	for _, code := range p.flagCodes() {
		a.Flags = append(a.Flags, flag(code, func(w *recounted) bool { return slices.Contains(w.flags, code) }))
	}
	a.Unflagged = flag("", func(w *recounted) bool { return len(w.flags) == 0 })
	a.Outcomes = ends(func(*recounted) bool { return true })
	p.waits(a)
	for _, routine := range []bool{false, true} {
		of := func(f func(list []recountedResult, w *recounted) bool) int {
			return p.count(func(w *recounted) bool {
				o := w.ordered()
				return o != nil && (w.first == "routine") == routine && f(p.said(w, o.at), w)
			})
		}
		none := func(list []recountedResult, w *recounted) bool { return len(list) == 0 }
		waits := func(w *recounted) bool { c, ok := p.recall[w.ordered().id]; return ok && c[1] == 0 }
		over := func(w *recounted) bool { return today > p.day(p.recall[w.ordered().id][0]) }
		t := wear.AuditTests{
			Ordered:   of(func([]recountedResult, *recounted) bool { return true }),
			Confirmed: of(func(l []recountedResult, _ *recounted) bool { return p.confirmed(l) }),
			InRange: of(func(l []recountedResult, _ *recounted) bool {
				return has(l, string(wear.ClassDiabetes)) && !p.confirmed(l)
			}),
			Intermediate: of(func(l []recountedResult, _ *recounted) bool {
				return has(l, string(wear.ClassIntermediate)) && !has(l, string(wear.ClassDiabetes))
			}),
			LookAgain: of(func(l []recountedResult, _ *recounted) bool {
				return has(l, string(wear.ClassReview)) && !has(l, string(wear.ClassDiabetes)) && !has(l, string(wear.ClassIntermediate))
			}),
			Below: of(func(l []recountedResult, _ *recounted) bool {
				return has(l, string(wear.ClassNormal)) && !has(l, string(wear.ClassDiabetes)) && !has(l, string(wear.ClassIntermediate)) && !has(l, string(wear.ClassReview))
			}),
			NotCompared: of(func(l []recountedResult, _ *recounted) bool {
				return len(l) > 0 && !slices.ContainsFunc(l, func(r recountedResult) bool { return r.class != "" })
			}),
			Waiting: of(func(l []recountedResult, w *recounted) bool { return none(l, w) && waits(w) && !over(w) }),
			Overdue: of(func(l []recountedResult, w *recounted) bool { return none(l, w) && waits(w) && over(w) }),
			GivenUp: of(func(l []recountedResult, w *recounted) bool { return none(l, w) && !waits(w) }),
		}
		*map[bool]*wear.AuditTests{false: &a.Tests, true: &a.Routine}[routine] = t
	}
	p.kinds(a)
	p.again(a)
}

func (p *plain) waits(a *wear.Audit) {
	follow := func(w *recounted) bool { return w.first != "routine" }
	wait := func(code string, tier wear.Tier, f func(*recounted) bool, took func(*recounted) (int64, bool)) wear.AuditWait {
		var list []float64
		for _, w := range p.in {
			if s, ok := took(w); ok && f(w) {
				list = append(list, float64(s))
			}
		}
		return wear.NewAuditWait(code, tier, p.count(f), list)
	}
	toOutcome := func(w *recounted) (int64, bool) {
		if len(w.outcomes) == 0 {
			return 0, false
		}
		return max(0, w.outcomes[0].at-w.received), true
	}
	a.Waits = []wear.AuditWait{
		wait("to_claim", "", follow, func(w *recounted) (int64, bool) {
			if len(w.claims) == 0 {
				return 0, false
			}
			return max(0, slices.Min(w.claims)-w.received), true
		}),
		wait("claim_to_outcome", "", follow, func(w *recounted) (int64, bool) {
			if len(w.claims) == 0 || len(w.outcomes) == 0 || w.outcomes[0].at < slices.Min(w.claims) {
				return 0, false
			}
			return w.outcomes[0].at - slices.Min(w.claims), true
		}),
		wait("to_outcome", "", follow, toOutcome),
	}
	for _, tier := range wear.Tiers() {
		a.Waits = append(a.Waits, wait("to_outcome", tier, func(w *recounted) bool { return w.first == string(tier) }, toOutcome))
	}
}

func (p *plain) kinds(a *wear.Audit) {
	a.Kinds = []wear.AuditKind{}
	for _, kind := range []string{"", "A", "B"} {
		of := func(f func(*recounted) bool) int {
			return p.count(func(w *recounted) bool { return w.kind == kind && f(w) })
		}
		k := wear.AuditKind{
			Kind: kind, Wears: of(func(*recounted) bool { return true }),
			SensorDoubt: of(func(w *recounted) bool { return slices.Contains(w.flags, wear.FlagSensorDoubt) }),
			TooLittle:   of(func(w *recounted) bool { return slices.Contains(w.flags, wear.FlagTooLittle) }),
			Replaced: of(func(w *recounted) bool {
				return w.last(func(o recountedOutcome) bool { return o.kind == "sensor_replaced" }) != nil
			}),
		}
		for _, w := range p.in {
			if w.kind == kind && w.doubted != nil {
				k.Readings, k.Doubted = k.Readings+w.readings, k.Doubted+*w.doubted
			}
		}
		if k.Wears > 0 {
			a.Kinds = append(a.Kinds, k)
		}
	}
}

func (p *plain) again(a *wear.Audit) {
	pairs, other := map[[2]wear.Tier]int{}, 0
	for _, w := range p.in {
		if w.before != nil {
			pairs[[2]wear.Tier{wear.Tier(w.before.first), wear.Tier(w.first)}]++
			if w.kind == "" || w.kind != w.before.kind {
				other++
			}
		}
	}
	a.Again = wear.NewAuditAgain(pairs, other)
}

// rows counts what is no wear: recalls, letters, outcomes and files.
func (p *plain) rows(a *wear.Audit) {
	today, from, to := p.day(p.at.Unix()), p.span.From.Unix(), p.span.To.Unix()
	byKind := map[string]*wear.AuditRecall{}
	p.scan(`SELECT c.kind, c.state, c.due_at, coalesce(c.closed_at, 0), coalesce(o.undone_at IS NOT NULL OR EXISTS (SELECT * FROM outcomes l WHERE l.corrects = o.id), 0)
			OR coalesce(r.withdrawn_at, 0) > 0
		FROM recalls c LEFT JOIN outcomes o ON o.id = c.outcome_id LEFT JOIN results r ON r.id = c.about_result`, func(scan func(...any)) {
		var kind, state string
		var due, closed int64
		var gone bool
		scan(&kind, &state, &due, &closed, &gone)
		if due < from || due >= to || p.day(due) >= today || state == "cancelled" && gone {
			return
		}
		if byKind[kind] == nil {
			byKind[kind] = &wear.AuditRecall{Kind: kind}
		}
		n := byKind[kind]
		n.Due++
		switch state {
		case "cancelled":
			n.Cancelled++
		case "done":
			if p.day(closed) <= p.day(due) {
				n.InTime++
			} else {
				n.Late++
			}
		case "due":
			n.Untried++
			n.Missed++
		default:
			n.Missed++
		}
	})
	a.Recalls = []wear.AuditRecall{}
	for _, kind := range store.RecallKinds() {
		if n := byKind[string(kind)]; n != nil {
			a.Recalls = append(a.Recalls, *n)
		}
	}
	letters := map[string]*wear.AuditLetters{}
	p.scan("SELECT kind, opened_at, sent_at IS NOT NULL, discarded_at IS NOT NULL FROM letters", func(scan func(...any)) {
		var kind string
		var opened int64
		var sent, discarded bool
		scan(&kind, &opened, &sent, &discarded)
		if opened < from || opened >= to {
			return
		}
		if letters[kind] == nil {
			letters[kind] = &wear.AuditLetters{Kind: kind}
		}
		l := letters[kind]
		l.Written++
		switch {
		case discarded:
			l.Discarded++
		case sent:
			l.Sent++
		default:
			l.Unsent++
		}
	})
	a.Letters = []wear.AuditLetters{}
	for _, l := range letters {
		a.Letters = append(a.Letters, *l)
	}
	slices.SortFunc(a.Letters, func(a, b wear.AuditLetters) int { return cmp.Compare(a.Kind, b.Kind) })
	p.scan("SELECT made_at, undone_at IS NOT NULL, id IN (SELECT corrects FROM outcomes WHERE corrects IS NOT NULL) FROM outcomes", func(scan func(...any)) {
		var made int64
		var undone, corrected bool
		scan(&made, &undone, &corrected)
		if made < from || made >= to {
			return
		}
		a.Changes.Outcomes++
		switch {
		case undone:
			a.Changes.Undone++
		case corrected:
			a.Changes.Corrected++
		default:
			a.Changes.Standing++
		}
	})
	held := map[int64]int64{}
	var waits []float64
	p.scan("SELECT id, state, received_at FROM files", func(scan func(...any)) {
		var id, received int64
		var state string
		scan(&id, &state, &received)
		if received < from || received >= to {
			return
		}
		a.Files.Received++
		*map[string]*int{"filed": &a.Files.Filed, "held": &a.Files.Held, "refused": &a.Files.Refused}[state]++
		p.scan(fmt.Sprintf("SELECT action, at FROM audit WHERE object = 'file' AND object_id = %d AND outcome = 'done' AND action IN ('hold a file', 'file a wear', 'refuse a file') ORDER BY seq", id), func(scan func(...any)) {
			var action string
			var at int64
			scan(&action, &at)
			switch since, was := held[id]; {
			case action == "hold a file" && !was:
				held[id] = at
			case action != "hold a file" && since != 0:
				held[id] = 0
				waits = append(waits, float64(at-since))
			}
		})
	})
	a.Files.Wait = wear.NewAuditWait("held", "", len(held), waits)
}

// worth counts whether it was worth it.
func (p *plain) worth(a *wear.Audit) {
	known := func(w *recounted) bool { return len(p.said(w, w.received)) > 0 }
	confirmed := func(w *recounted) bool { return p.confirmed(p.said(w, w.received)) }
	inRange := func(w *recounted) bool { return has(p.said(w, w.received), string(wear.ClassDiabetes)) }
	yield := func(code string, f func(*recounted) bool) wear.AuditYield {
		and := func(g func(*recounted) bool) int {
			return p.count(func(w *recounted) bool { return f(w) && g(w) })
		}
		return wear.AuditYield{
			Code: code, Wears: p.count(f), Confirmed: and(confirmed), Unknown: and(func(w *recounted) bool { return !known(w) }),
			NotConfirmed: and(func(w *recounted) bool { return known(w) && !confirmed(w) }),
			InRange:      and(func(w *recounted) bool { return inRange(w) && !confirmed(w) }),
		}
	}
	x := &a.Worth
	x.Yield, x.After, x.Groups = []wear.AuditYield{}, []wear.AuditYield{}, []wear.AuditGroup{}
	for _, code := range p.flagCodes() {
		x.Yield = append(x.Yield, yield(code, func(w *recounted) bool { return slices.Contains(w.flags, code) }))
	}
	for _, code := range outcomeCodes() {
		n := yield(code, func(w *recounted) bool { o := w.inForce(); return o != nil && !w.open && o.kind == code })
		if n.Wears > 0 {
			x.After = append(x.After, n)
		}
	}
	slices.SortFunc(x.After, func(a, b wear.AuditYield) int { return cmp.Or(b.Wears-a.Wears, cmp.Compare(a.Code, b.Code)) })
	x.Missed = yield("unflagged", func(w *recounted) bool { return len(w.flags) == 0 })
	bands := []string{"", "18-29", "30-39", "40-49", "50-59", "60-69", "70-79", "80 and over", "under 18"}
	age := func(w *recounted) string {
		read := time.Unix(w.received, 0).In(clinic)
		born, err := time.Parse(time.DateOnly, w.born)
		if err != nil {
			return ""
		}
		years := 0
		for born.AddDate(years+1, 0, 0).Format(time.DateOnly) <= read.Format(time.DateOnly) {
			years++
		}
		for _, b := range bands[1:7] {
			if to, _ := strconv.Atoi(b[3:]); years >= 18 && years <= to {
				return b
			}
		}
		return map[bool]string{true: "under 18", false: "80 and over"}[years < 18]
	}
	for _, g := range []struct {
		by    string
		codes []string
		of    func(*recounted) string
	}{
		{"age", bands, age},
		{"day", []string{"1", "2", "3", "4", "5", "6", "7"}, func(w *recounted) string {
			return map[time.Weekday]string{1: "1", 2: "2", 3: "3", 4: "4", 5: "5", 6: "6", 0: "7"}[time.Unix(w.received, 0).In(clinic).Weekday()]
		}},
		{"kind", []string{"", "A", "B"}, func(w *recounted) string { return w.kind }},
		{"sex", []string{"", "female", "male"}, func(w *recounted) string { return w.context }},
	} {
		for _, code := range g.codes {
			n := wear.AuditGroup{By: g.by, AuditYield: yield(code, func(w *recounted) bool { return g.of(w) == code })}
			n.FollowUp = p.count(func(w *recounted) bool { return g.of(w) == code && w.first != "routine" })
			if n.Wears > 0 {
				x.Groups = append(x.Groups, n)
			}
		}
	}
	followed := func(w *recounted) bool {
		return w.ended() && w.inForce() != nil && !slices.Contains([]string{"told_well", "could_not_reach"}, w.inForce().kind)
	}
	out := wear.AuditStep{Code: "handed_out"}
	p.scan("SELECT given_at, state FROM recalls WHERE kind = 'out'", func(scan func(...any)) {
		var given int64
		var state string
		scan(&given, &state)
		if given < p.span.From.Unix() || given >= p.span.To.Unix() {
			return
		}
		out.Of++
		*map[string]*int{"done": &out.On, "cancelled": &out.Lost, "due": &out.Unknown, "contacted": &out.Unknown}[state]++
	})
	ended := func(kind string) int {
		return p.count(func(w *recounted) bool { return w.ended() && w.inForce() != nil && w.inForce().kind == kind })
	}
	and := func(f func(*recounted) bool) int {
		return p.count(func(w *recounted) bool { return followed(w) && f(w) })
	}
	waits := func(w *recounted) bool { c, ok := p.recall[w.ordered().id]; return ok && c[1] == 0 }
	x.Chain = []wear.AuditStep{
		out, {Code: "files", Of: a.Files.Received, On: a.Files.Filed, Lost: a.Files.Refused, Unknown: a.Files.Held},
		{Code: "read", Of: len(p.in), On: p.count(followed), Ended: ended("told_well"), Lost: ended("could_not_reach"), Unknown: p.count(func(w *recounted) bool { return w.open || w.inForce() == nil })},
		{
			Code: "tested", Of: p.count(followed), On: and(known), Ended: and(func(w *recounted) bool { return !known(w) && w.ordered() == nil }),
			Lost:    and(func(w *recounted) bool { return !known(w) && w.ordered() != nil && !waits(w) }),
			Unknown: and(func(w *recounted) bool { return !known(w) && w.ordered() != nil && waits(w) }),
		},
		{
			Code: "confirmed", Of: and(known), On: and(confirmed), Ended: and(func(w *recounted) bool { return known(w) && !inRange(w) }),
			Unknown: and(func(w *recounted) bool { return inRange(w) && !confirmed(w) }),
		},
	}
	for _, tier := range wear.Tiers() {
		n := wear.AuditWork{Tier: tier}
		var took []float64
		for _, w := range p.in {
			if w.first != string(tier) {
				continue
			}
			n.Attempts, n.Reached, n.Calls, n.Letters = n.Attempts+w.attempts, n.Reached+w.reached, n.Calls+w.calls, n.Letters+w.letters
			if len(w.outcomes) == 0 {
				continue
			}
			n.Outcomes++
			at, first := w.outcomes[0].at, int64(math.MaxInt64)
			for _, c := range w.claims {
				if c <= at && p.day(c) == p.day(at) {
					first = min(first, c)
				}
			}
			if first <= at {
				took = append(took, float64(at-first))
			}
		}
		n.SetMinutes(took)
		x.Work = append(x.Work, n)
	}
	x.Shifts = wear.DefaultProtocol().NewShifts()
	for _, w := range p.in {
		if w.before == nil || w.kind == "" || w.before.kind != w.kind {
			continue
		}
		for i, m := range [][2]*float64{{w.before.mean, w.mean}, {w.before.above7_8, w.above7_8}, {w.before.above10, w.above10}} {
			s := &x.Shifts[i]
			s.Of++
			switch {
			case m[0] == nil || m[1] == nil || w.confidence == "low" || w.before.confidence == "low":
				s.Unknown++
			case *m[1]-*m[0] >= s.Least-1e-9:
				s.Rise++
			case *m[0]-*m[1] >= s.Least-1e-9:
				s.Fall++
			default:
				s.Within++
			}
		}
	}
}
