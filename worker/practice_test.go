package worker

import (
	"context"
	"database/sql"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

var (
	yearWears = flag.Int("year", 60, "wears of TestYearAgainstAPlainModel; a long hunt takes 2000")
	yearSeed  = flag.Uint64("yearseed", 1, "where its chance begins")
)

// practice is a practice at work on real files: its store, its worker and the
// people in it.
type practice struct {
	testing.TB
	dir, drop string
	clock     *storetest.Clock
	by        store.Judging
	hook      func()          // runs when the next report is made
	ctx       context.Context // that people act in
	request   int

	w  *Worker
	s  *store.Store
	db *sql.DB // for looking, by other ways than the store's own

	nurse, other, clinician, lead store.Actor
}

func (p *practice) open() {
	p.Helper()
	s, err := store.Open(context.Background(), filepath.Join(p.dir, "w.db"), p.clock.Now)
	p.must(err)
	p.must(s.SetLogKey(storetest.AuditKey()))
	p.by.Engine = func(in wear.Input) *wear.Report {
		if f := p.hook; f != nil {
			p.hook = nil
			f()
		}
		return wear.Analyse(in)
	}
	p.must(s.JudgeBy(p.by))
	archive, err := OpenArchive(filepath.Join(p.drop, "..", "archive"))
	p.must(err)
	rule, err := ParseNameRule(DefaultNameRule)
	p.must(err)
	p.s = s
	p.w = New(Config{
		Drop: p.drop, Archive: archive, Settle: settle, Zone: p.by.Zone, Rule: rule,
		Now: p.clock.Now, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Metrics: NewMetrics(prometheus.NewRegistry()),
	}, s)
	p.db, err = sql.Open("sqlite", "file:"+filepath.Join(p.dir, "w.db")+"?mode=ro")
	p.must(err)
}

func (p *practice) close() {
	p.must(p.db.Close())
	p.must(p.s.Close())
}

func (p *practice) must(err error) {
	p.Helper()
	if err != nil {
		p.Fatal(err)
	}
}

// copied copies the files of the database as they lie there, as they are found
// when the program was killed.
func (p *practice) copied() (dir string) {
	p.Helper()
	dir, err := os.MkdirTemp(p.TempDir(), "")
	p.must(err)
	for _, name := range []string{"w.db", "w.db-wal"} {
		b, err := os.ReadFile(filepath.Join(p.dir, name))
		if !os.IsNotExist(err) {
			p.must(err)
			p.must(os.WriteFile(filepath.Join(dir, name), b, 0o600))
		}
	}
	return dir
}

// twin is the same practice once more.
func (p *practice) twin() *practice {
	q := &practice{TB: p.TB, dir: p.copied(), drop: p.drop, clock: storetest.NewClock(), by: p.by, ctx: context.Background(), nurse: p.nurse, other: p.other, clinician: p.clinician, lead: p.lead}
	q.clock.Advance(p.clock.Now().Sub(q.clock.Now()))
	q.open()
	return q
}

// rows gives what a query finds, a line each.
func (p *practice) rows(query string, args ...any) (lines []string) {
	p.Helper()
	rows, err := p.db.Query(query, args...)
	p.must(err)
	defer rows.Close()
	columns, err := rows.Columns()
	p.must(err)
	for rows.Next() {
		cells, to := make([]sql.NullString, len(columns)), make([]any, len(columns))
		for i := range cells {
			to[i] = &cells[i]
		}
		p.must(rows.Scan(to...))
		line := make([]string, len(cells))
		for i, c := range cells {
			line[i] = c.String
		}
		lines = append(lines, strings.Join(line, " | "))
	}
	p.must(rows.Err())
	return lines
}

func (p *practice) number(query string, args ...any) (n int64) {
	p.Helper()
	p.must(p.db.QueryRow(query, args...).Scan(&n))
	return n
}

const (
	wearName = "(SELECT p.code || ' ' || w.sensor_kind || ' ' || w.first_at FROM wears w JOIN patients p ON p.id = w.patient_id WHERE w.id = %s)"
	inForce  = "undone_at IS NULL AND NOT EXISTS (SELECT * FROM outcomes c WHERE c.corrects = o.id)"
)

// state is everything that holds now, in names that are the same whatever else
// happened before: what was taken back is not in it.
func (p *practice) state() (list []string) {
	p.Helper()
	for _, q := range []struct{ what, query string }{
		{"wear", `SELECT ` + fmt.Sprintf(wearName, "wears.id") + `, last_at, wears.readings, received_at, due_at, open, tier, first_tier, score, doubted, back_at,
			coalesce(next_try, ''), wears.zone, trace, evidence, substr(hex(report), 1, 40), basis, (SELECT group_concat(code, ',' ORDER BY place) FROM wear_flags WHERE wear_id = wears.id)
			FROM wears JOIN reports ON wear_id = wears.id WHERE joined_into IS NULL`},
		{"patient", "SELECT code, name, birth_date, context, contact, (SELECT code FROM patients k WHERE k.id = patients.merged_into) FROM patients"},
		{"file", "SELECT sha256, state, coalesce((SELECT code FROM patients WHERE id = patient_id), ''), (SELECT group_concat(code, ',') FROM (SELECT json_extract(value, '$.code') code FROM json_each(questions))) FROM files"},
		{"link", "SELECT (SELECT sha256 FROM files WHERE id = file_id), " + fmt.Sprintf(wearName, "wear_id") + " FROM file_wears"},
		{"outcome", "SELECT " + fmt.Sprintf(wearName, "wear_id") + ", kind, tier, flags, made_at, due_at FROM outcomes o WHERE " + inForce},
		{"recall", `SELECT (SELECT code FROM patients WHERE id = patient_id), ` + fmt.Sprintf(wearName, "wear_id") + `, kind, state, due_at, note, coalesce(closed_at, ''), coalesce(closed_by, ''),
			coalesce((SELECT value FROM results WHERE id = result_id), ''), coalesce((SELECT value FROM results WHERE id = about_result), ''), ` + fmt.Sprintf(wearName, "new_wear_id") + `
			FROM recalls WHERE NOT (state = 'cancelled' AND (coalesce((SELECT withdrawn_at FROM results WHERE id = about_result), 0)
				OR NOT coalesce((SELECT ` + inForce + ` FROM outcomes o WHERE id = outcome_id), 1)))`},
		{"result", "SELECT (SELECT code FROM patients WHERE id = patient_id), " + fmt.Sprintf(wearName, "wear_id") + ", kind, value, taken_at FROM results WHERE withdrawn_at IS NULL"},
		{"event", "SELECT " + fmt.Sprintf(wearName, "wear_id") + ", event FROM added_events WHERE withdrawn_at IS NULL"},
		{"override", "SELECT " + fmt.Sprintf(wearName, "wear_id") + ", from_at, to_at, believe FROM overrides WHERE withdrawn_at IS NULL"},
		{"red flag", "SELECT " + fmt.Sprintf(wearName, "wear_id") + ", code FROM red_flags WHERE withdrawn_at IS NULL"},
		{"words", "SELECT " + fmt.Sprintf(wearName, "wear_id") + ", key, said FROM words_read WHERE withdrawn_at IS NULL"},
		{"note", "SELECT (SELECT code FROM patients WHERE id = patient_id), " + fmt.Sprintf(wearName, "wear_id") + ", text FROM notes"},
		{"contact", "SELECT (SELECT code FROM patients WHERE id = patient_id), " + fmt.Sprintf(wearName, "wear_id") + ", at, means, reached, note FROM contacts"},
		{"letter", "SELECT (SELECT code FROM patients WHERE id = patient_id), " + fmt.Sprintf(wearName, "wear_id") + ", text, coalesce(sent_at, '') FROM letters WHERE discarded_at IS NULL"},
		{"hand-over", "SELECT " + fmt.Sprintf(wearName, "wear_id") + ", to_role, due_at, coalesce(taken_by, '') FROM handovers"},
	} {
		lines := p.rows(q.query)
		slices.Sort(lines)
		for _, l := range lines {
			list = append(list, q.what+": "+l)
		}
	}
	now := p.clock.Now()
	audits, err := p.s.YearAudit(context.Background(), now, p.by.Zone, store.Span{From: now.AddDate(-2, 0, 0), To: now.AddDate(0, 0, 1)})
	p.must(err)
	audits[0].Changes, audits[0].Letters = wear.Audit{}.Changes, wear.Audit{}.Letters // they count what was taken back too
	audits[0].Files.Wait = wear.AuditWait{}                                           // a file that is read again waits once more
	return append(list, fmt.Sprintf("audit: %+v", audits[0]))
}

// worn is a truth from which files are cut: a sensor worn for some days.
type worn struct {
	n        int
	begin    time.Time
	days     int
	class    int // 0 plain, 1 high, 2 peaks, 3 dips, 4 nights low
	noted    bool
	moved    int // tenths by which all values are corrected
	misnamed string
}

const wornStep = 15 * time.Minute

// text is an export of some of its days.
func (x worn) text(from, to int) string {
	var b strings.Builder
	b.WriteString("time,glucose mmol/L,notes\n")
	r := rand.New(rand.NewPCG(uint64(x.n), 7))
	perDay := int(24 * time.Hour / wornStep)
	for i := range x.days * perDay {
		tenths, note := 52+r.IntN(9), ""
		hour := float64(i%perDay) * 24 / float64(perDay)
		switch {
		case x.class == 1 && hour > 8 && hour < 21:
			tenths += 34
		case x.class == 2 && hour >= 12 && hour < 13.5:
			tenths += 55
		case x.class == 3 && i/perDay%4 == 1 && hour >= 15 && hour < 16:
			if tenths -= 27; x.noted && hour == 15 {
				note = "shaky, had juice"
			}
		case x.class == 4 && hour < 3:
			tenths = 24 + r.IntN(4)
		}
		if x.noted && i == 40 {
			note = "walked the dog"
		}
		if tenths += x.moved; i >= from*perDay && i < to*perDay {
			fmt.Fprintf(&b, "%s,%d.%d,%s\n", x.begin.Add(time.Duration(i)*wornStep).Format("2006-01-02 15:04"), tenths/10, tenths%10, note)
		}
	}
	return b.String()
}

// coming is a file that is to come.
type coming struct {
	on   int // day of the year
	name string
	text string
}

// files are those of a year, by the day on which they come: whole, in parts that
// overlap or touch, late, corrected, twice, under another's name.
func files(r *rand.Rand, wears int, codes []string, begin time.Time) []coming {
	var list []coming
	for n := range wears {
		code := codes[r.IntN(len(codes))]
		day := 20 + n*330/wears
		x := worn{n: n, begin: begin.AddDate(0, 0, day-14).Add(time.Duration(n%90) * time.Minute), days: 14, class: r.IntN(5), noted: r.IntN(3) == 0}
		if r.IntN(12) == 0 {
			x.days = 1
		}
		add := func(late int, code, text string) {
			list = append(list, coming{day + late, fmt.Sprintf("%s_%04d_%d.csv", code, n, len(list)), text})
		}
		whole := x.text(0, x.days)
		switch r.IntN(10) {
		case 0: // parts that touch
			add(r.IntN(9), code, x.text(0, 6))
			add(r.IntN(9), code, x.text(6, x.days))
		case 1: // parts that overlap
			add(r.IntN(9), code, x.text(0, 8))
			add(r.IntN(9), code, x.text(5, 11))
			add(r.IntN(9), code, x.text(10, x.days))
		case 2: // corrected
			add(0, code, whole)
			x.moved = 5
			add(1+r.IntN(20), code, x.text(0, x.days))
		case 3: // under the wrong name, then under the right one
			add(0, codes[r.IntN(len(codes))], whole)
			add(1+r.IntN(9), code, whole)
		case 4: // twice
			add(0, code, whole)
			add(3, code, whole)
		default:
			add(0, code, whole)
		}
	}
	slices.SortStableFunc(list, func(a, b coming) int { return a.on - b.on })
	return list
}

// newPractice makes a practice with its people and patients.
func newPractice(t testing.TB, zone *time.Location, patients int) (*practice, []string) {
	t.Helper()
	dir := t.TempDir()
	p := &practice{TB: t, dir: filepath.Join(dir, "data"), drop: filepath.Join(dir, "drop"), clock: storetest.NewClock(), ctx: context.Background()}
	p.by = store.Judging{Protocol: wear.DefaultProtocol(), Zone: zone}
	p.must(os.Mkdir(p.drop, 0o700))
	p.open()
	p.nurse, p.other = storetest.AddUser(t, p.s, "Nurse", store.RoleNurse), storetest.AddUser(t, p.s, "Other", store.RoleNurse)
	p.clinician, p.lead = storetest.AddUser(t, p.s, "Clinician", store.RoleClinician), storetest.AddUser(t, p.s, "Lead", store.RoleLead)
	var people []store.Patient
	var codes []string
	for n := range patients {
		x := storetest.Patient(n)
		x.BirthDate, x.Context.BirthYear = "1961-04-09", 1961 // any two may turn out to be one person
		if n%2 == 0 {
			x.Context.AskedOn = storetest.Start.AddDate(0, -1, 0).Format(time.DateOnly)
		}
		people, codes = append(people, x), append(codes, x.Code)
	}
	p.must(p.s.AddPatients(context.Background(), people))
	return p, codes
}

// TestYearAgainstAPlainModel plays a year of a practice, one act after the
// other, and after each holds the store against a plain recount. What can be
// taken back is: then all must be as in a twin of the practice where it was
// never done, whatever others did meanwhile.
func TestYearAgainstAPlainModel(t *testing.T) {
	zone, err := time.LoadLocation("Australia/Perth")
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(*yearSeed, 1))
	p, codes := newPractice(t, zone, max(20, *yearWears/5))
	defer func() { p.close() }()
	m := newModel(p)
	list := files(r, *yearWears, codes, p.clock.Now())
	done, taken, crashes, repeats := map[string]int{}, map[string]int{}, 0, 0
	for day := 0; (day < 365 || len(list) > 0) && !t.Failed(); day++ {
		for len(list) > 0 && list[0].on <= day {
			x := list[0]
			list = list[1:]
			p.must(os.WriteFile(filepath.Join(p.drop, x.name), []byte(x.text), 0o600))
			a := arrival(x.name)
			p.must(m.run(p, a))
			done[a.name]++
		}
		for range *yearWears*4*(day+1)/365 - *yearWears*4*day/365 {
			a := plan(p, r)
			if a.do == nil || t.Failed() {
				continue
			}
			var err error
			switch n := r.IntN(40); {
			case n == 0 && a.undo == nil:
				crashes++
				err = m.crash(p, a)
			case n < 4 && a.undo == nil && a.name != "answer":
				repeats++
				err = m.twice(p, a)
			case n < 24 && a.undo != nil:
				var others []act
				for range r.IntN(4) {
					if o := fact(p, r); o.do != nil && !(a.alone && o.near(p, a)) {
						others = append(others, o)
					}
				}
				if err = m.takenBack(p, a, others); err == nil {
					taken[a.name]++
				}
			default:
				err = m.run(p, a)
			}
			if err == nil {
				done[a.name]++
			} else if err != errNothing && store.CodeOf(err) == store.Internal {
				t.Errorf("%s: %v", a.name, err)
			}
			p.clock.Advance(time.Duration(1+r.IntN(20)) * time.Minute)
		}
		p.clock.Advance(storetest.Start.AddDate(0, 0, day+1).Sub(p.clock.Now()))
	}
	m.checkReports(p, 1)
	t.Logf("%d wears filed, %d crashes, %d repeats; done: %v; taken back: %v", p.number("SELECT count(*) FROM wears"), crashes, repeats, done, taken)
	if t.Failed() {
		return
	}
	for _, name := range actNames {
		if done[name] == 0 && *yearWears >= 150 {
			t.Errorf("nobody ever did this: %s", name)
		}
	}
	c, err := p.s.VerifyData(context.Background(), true)
	if p.must(err); !c.OK() {
		t.Errorf("the data do not fit their seals: %s", c.String())
	}
	if c, err := p.s.VerifyLog(context.Background()); err != nil || !c.OK() {
		t.Errorf("the log: %+v, %v", c, err)
	}
}

// model is what is known of the practice by counting plainly.
type model struct {
	first   map[int64]wear.Tier // of each wear, as its first judgement said
	at      map[int64]int64     // when that was received
	open    map[int64]bool
	excused map[int64]bool // closed wears that another protocol calls more pressing
	acts    int64
}

func newModel(*practice) *model {
	return &model{first: map[int64]wear.Tier{}, at: map[int64]int64{}, open: map[int64]bool{}, excused: map[int64]bool{}}
}

// near reports whether an act is about what another is about.
func (o act) near(p *practice, a act) bool {
	about := func(a act) (list []int64) {
		list = slices.Clone(a.patients)
		for _, id := range a.wears {
			list = append(list, p.number("SELECT patient_id FROM wears WHERE id = ?", id))
		}
		return list
	}
	theirs := about(a)
	return slices.ContainsFunc(about(o), func(id int64) bool { return slices.Contains(theirs, id) })
}

// differ gives the lines that only one of two states has.
func differ(was, is []string) string {
	var out []string
	for _, l := range was {
		if !slices.Contains(is, l) {
			out = append(out, "- "+l)
		}
	}
	for _, l := range is {
		if !slices.Contains(was, l) {
			out = append(out, "+ "+l)
		}
	}
	if len(out) == 0 && len(was) != len(is) {
		out = append(out, fmt.Sprintf("%d lines, then %d", len(was), len(is)))
	}
	slices.Sort(out)
	return strings.Join(out, "\n")
}

// run does an act and checks.
func (m *model) run(p *practice, a act) error {
	p.Helper()
	if a.ready != nil && a.ready(p) != nil {
		return nil
	}
	var before []string
	if a.refusable {
		before = p.state()
	}
	err := a.do(p)
	if err != nil && before != nil {
		if diff := differ(before, p.state()); diff != "" {
			p.Errorf("%s was refused (%v) and yet:\n%s", a.name, err, diff)
		}
	}
	m.check(p, a)
	return err
}

// takenBack does an act, lets others act, takes the act back, and compares with
// a twin in which it was never done.
func (m *model) takenBack(p *practice, a act, others []act) error {
	p.Helper()
	twin := p.twin()
	defer twin.close()
	if a.ready != nil {
		for _, q := range []*practice{p, twin} {
			if a.ready(q) != nil {
				return nil
			}
		}
	}
	if err := a.do(p); err != nil {
		return err
	}
	m.check(p, a)
	var names []string
	refused := map[int]int{}
	for _, q := range []*practice{p, twin} {
		for i, o := range others {
			if !a.brief {
				q.clock.Advance(time.Hour)
			}
			err := o.do(q)
			if q == p {
				m.check(p, o)
				names = append(names, fmt.Sprintf("%s (%v)", o.name, err))
			}
			if err != nil {
				refused[i]++
			}
		}
		q.clock.Advance(5 * time.Second)
	}
	if err := a.undo(p); err != nil {
		if a.mayStay {
			return err
		}
		p.Errorf("%s, others did %v, and it cannot be taken back: %v", a.name, names, err)
		return err
	}
	m.check(p, act{name: "take back: " + a.name})
	for _, n := range refused {
		if n == 1 { // by right: a claim ended, or whom it was about is another's meanwhile
			return nil
		}
	}
	if diff := differ(twin.state(), p.state()); diff != "" {
		p.Errorf("%s, others did %v, and taking back leaves (-never done +taken back):\n%s", a.name, names, diff)
	}
	return nil
}

// twice does an act by a post that is repeated.
func (m *model) twice(p *practice, a act) error {
	p.Helper()
	if a.ready != nil && a.ready(p) != nil {
		return nil
	}
	key := fmt.Sprint("post ", p.clock.Now().UnixNano())
	defer func() { p.ctx = context.Background() }()
	p.ctx = store.Once(p.ctx, key, "")
	err := a.do(p)
	m.check(p, a)
	if err != nil {
		return err
	}
	before := p.state()
	p.request++
	again := a.do(p)
	if diff := differ(before, p.state()); diff != "" {
		p.Errorf("%s, posted again (%v):\n%s", a.name, again, diff)
	}
	return nil
}

// crash kills the program in the middle of an act, at the first report that is
// made in it, and goes on with what lies there: the act was not done.
func (m *model) crash(p *practice, a act) error {
	p.Helper()
	if a.ready != nil && a.ready(p) != nil {
		return nil
	}
	before := p.state()
	dir := ""
	p.hook = func() { dir = p.copied() }
	err := a.do(p)
	if p.hook = nil; dir == "" {
		m.check(p, a)
		return err // nothing was judged in it
	}
	p.close()
	p.dir = dir
	p.open()
	if a.several {
		p.w.Reread(context.Background())
	} else if diff := differ(before, p.state()); diff != "" {
		p.Errorf("%s, killed in the middle, left half of it:\n%s", a.name, diff)
	}
	return m.run(p, a)
}
