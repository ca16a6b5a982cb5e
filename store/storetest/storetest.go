// Package storetest gives tests a store on a temporary file and rows to put
// into it. All its patients and readings are invented.
package storetest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// Clock is a clock that stands until it is moved.
type Clock struct {
	mu       sync.Mutex
	now      time.Time
	tampered bool
}

// Tampered says that a test changes the data by other means than the store, so
// that they will not fit their seals in the end.
func (c *Clock) Tampered() { c.tampered = true }

// Start is where a new clock stands: 09:00 UTC on 1 June 2026.
var Start = time.Date(2026, time.June, 1, 9, 0, 0, 0, time.UTC)

// NewClock makes a clock that stands at [Start].
func NewClock() *Clock { return &Clock{now: Start} }

// Now is the time the clock shows.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

// Advance moves the clock on.
func (c *Clock) Advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// Open makes a migrated store in a temporary folder that goes with the test,
// and the clock it runs by.
func Open(t testing.TB) (*store.Store, *Clock) {
	t.Helper()
	clock := NewClock()
	path := filepath.Join(t.TempDir(), "data", "wearround.db")
	if err := Empty(path); err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(context.Background(), path, clock.Now)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.SetLogKey(AuditKey()); err != nil {
		t.Fatal(err)
	}
	Judge(t, s, time.UTC)
	t.Cleanup(func() {
		// Whatever a test did through the store, everything fits its seal.
		if c, err := s.VerifyData(context.Background(), true); !t.Failed() && err == nil && !c.OK() && !clock.tampered {
			t.Errorf("the data do not fit their seals: %s", c.String())
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s, clock
}

// Empty puts a database of the newest schema and without a row at path. Its
// schema is made once a program: to make it takes longer than most tests.
func Empty(path string) error {
	data, err := empty()
	return errors.Join(err, os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, data, 0o600))
}

var empty = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "wearround")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "wearround.db")
	s, err := store.Open(context.Background(), path, func() time.Time { return Start })
	if err != nil {
		return nil, err
	}
	if err := s.Close(); err != nil { // which folds the write-ahead log in
		return nil, err
	}
	return os.ReadFile(path)
})

// Judge has a store judge by [Engine], in the zone of a practice.
func Judge(t testing.TB, s *store.Store, zone *time.Location) {
	t.Helper()
	if err := s.JudgeBy(store.Judging{Zone: zone, Engine: Engine}); err != nil {
		t.Fatal(err)
	}
}

// AuditKey is the key of the audit log in tests.
func AuditKey() []byte { return bytes.Repeat([]byte{7}, store.LogKeySize) }

// Proof is what a sign-in of a user is asked for now.
func Proof(t testing.TB, s *store.Store, userID int64) store.Digest {
	t.Helper()
	u, err := s.User(context.Background(), userID)
	if err != nil {
		t.Fatal(err)
	}
	c, err := s.Credentials(context.Background(), u.Login)
	if err != nil {
		t.Fatal(err)
	}
	return c.Proof
}

// AddUser adds a user with the given roles and a login of their name in lower
// case, and gives who acts for them.
func AddUser(t testing.TB, s *store.Store, name string, roles ...store.Role) store.Actor {
	t.Helper()
	ctx := context.Background()
	n := store.NewUser{Login: strings.ToLower(name), Name: name, Roles: roles, Password: "$invented$"}
	none, err := s.NoUsers(ctx)
	if err != nil {
		t.Fatal(err)
	}
	var u store.User
	if none {
		token := sha256.Sum256([]byte("set up"))
		if _, err := s.SetSetupToken(ctx, token); err != nil {
			t.Fatal(err)
		}
		u, err = s.Setup(ctx, token, store.NewUser{Login: "first.lead", Name: "Fima Losen", Password: "$invented$"})
		if err != nil {
			t.Fatal(err)
		}
	}
	all, err := s.Users(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range all {
		if x.Login == "first.lead" {
			u, err = s.AddUser(ctx, store.Actor{UserID: x.ID}, n)
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	return store.Actor{UserID: u.ID}
}

// Patient makes the nth invented patient, not yet on the register.
func Patient(n int) store.Patient {
	syllables := []string{"Ba", "Do", "Ki", "Lu", "Me", "Na", "Pi", "Ro", "Su", "Ta", "Ve", "Zo"}
	word := func(n int) string {
		return syllables[n%12] + map[bool]string{true: "rin", false: "len"}[n/12%2 == 0] + string(rune('a'+n/24%26))
	}
	return store.Patient{
		Code: fmt.Sprintf("P%05d", n), Name: word(n) + " " + word(n*7+3),
		BirthDate: fmt.Sprintf("%04d-%02d-%02d", 1945+n%50, 1+n%12, 1+n%28),
		Context:   wear.Context{BirthYear: 1945 + n%50},
	}
}

// AddPatient puts the nth invented patient on the register.
func AddPatient(t testing.TB, s *store.Store, n int) store.Patient {
	t.Helper()
	ctx := context.Background()
	p := Patient(n)
	if err := s.AddPatients(ctx, []store.Patient{p}); err != nil {
		t.Fatal(err)
	}
	p, err := s.PatientByCode(ctx, p.Code)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Readings makes a plain trace in mmol/L with one decimal: three meals a day,
// from the given start for the given days.
func Readings(start time.Time, days int, every time.Duration) []wear.Reading {
	n := int(time.Duration(days) * 24 * time.Hour / every)
	list := make([]wear.Reading, n)
	for i := range list {
		at := start.Add(time.Duration(i) * every)
		hour := float64(at.Unix()%86400) / 3600
		v := 5.2 + 0.4*math.Sin(float64(i)/17) + 0.2*math.Sin(float64(i)*2.1)
		for _, meal := range []float64{7.5, 12.5, 18.5} {
			if h := hour - meal; h > 0 {
				v += 2.4 * h / 0.8 * math.Exp(1-h/0.8)
			}
		}
		list[i] = wear.Reading{At: at.Unix(), Num: int64(math.Round(v * 10)), Scale: 1, Unit: wear.MmolL}
	}
	return list
}

// Report makes a plausible report of readings with a tier, a score of one part
// and flags.
func Report(readings []wear.Reading, tier wear.Tier, score float64, flags ...string) *wear.Report {
	start, end := time.Unix(readings[0].At, 0).UTC(), time.Unix(readings[len(readings)-1].At, 0).UTC()
	r := &wear.Report{
		Engine: wear.EngineVersion, Protocol: wear.DefaultProtocol().Version, Unit: "mmol/L", IntervalS: 300,
		Start: start, End: end, Readings: len(readings), Believed: len(readings), Expected: len(readings),
		CapturedPct: wear.Of(100), Confidence: "high", AskedOn: start.Format(time.DateOnly), Age: 50, Headline: "Glucose stays below 7.8 mmol/L for most of each day.",
		Priority: wear.Priority{
			Tier: tier, Score: score, DueDays: map[wear.Tier]int{wear.Today: 0, wear.ThisWeek: 7, wear.ThisMonth: 28, wear.CannotTell: 14, wear.Routine: 28}[tier],
			Parts: []wear.Part{{Code: "above_7_8", Name: "time above 7.8", Points: score, How: "share of readings, 1 point each"}},
		},
	}
	for i := 0; i < len(readings); {
		date := time.Unix(readings[i].At, 0).UTC().Format(time.DateOnly)
		d := wear.Day{Date: date, Expected: 288, Usable: true, CapturedPct: wear.Of(98.6), MeanMmol: wear.Of(5.9), MinMmol: wear.Of(4.1), MaxMmol: wear.Of(8.2), Met7_8: len(flags) > 0}
		for ; i < len(readings) && time.Unix(readings[i].At, 0).UTC().Format(time.DateOnly) == date; i++ {
			d.Readings++
		}
		r.Days = append(r.Days, d)
		r.Nights = append(r.Nights, wear.Night{Date: date, Readings: 72, MeanMmol: wear.Of(5.2), LowMmol: wear.Of(4.4)})
		for h := range 3 {
			at := start.AddDate(0, 0, len(r.Days)-1).Add(time.Duration(h) * 5 * time.Hour)
			r.Meals = append(r.Meals, wear.MealFig{At: at, Label: "meal", Judged: true, BaselineMmol: wear.Of(5.1), PeakMmol: wear.Of(7.9), RiseMmol: wear.Of(2.8), PeakAfterMin: wear.Of(50), At2hMmol: wear.Of(6.2), IAUC2h: wear.Of(170.5)})
		}
	}
	for _, f := range flags {
		r.Flags = append(r.Flags, wear.Flag{Code: f, Tier: tier, Text: "A finding for the test.", Evidence: "12 of 14 days"})
	}
	return r
}

// Hash is the hash of the nth invented file.
func Hash(n int) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "invented file %d", n))
	return hex.EncodeToString(sum[:])
}

// Filing makes the filing of the nth invented file: one wear of the given days
// at five minutes, with three meals a day, received at seen.
func Filing(n int, patientID int64, seen time.Time, days int, tier wear.Tier, score float64, flags ...string) store.Filing {
	start := seen.Add(-time.Duration(days)*24*time.Hour - time.Duration(n%5)*24*time.Hour).Truncate(5 * time.Minute)
	readings := Readings(start.Add(time.Duration(n%300)*time.Second), days, 5*time.Minute)
	for i := range readings { // no two people's readings are alike
		readings[i].Num += int64(n / 300 % 7)
	}
	var events []wear.Event
	for d := range days {
		for _, h := range []int{7, 12, 18} {
			events = append(events, wear.Event{At: start.Unix() + int64(d)*86400 + int64(h)*3600, Kind: wear.Meal, Label: "meal", Carbs: 45})
		}
	}
	f := store.Filing{
		Drop: store.Drop{
			Path: fmt.Sprintf("ward/export-%05d.csv", n), Size: int64(20 * len(readings)),
			ModTime: seen.Add(-time.Minute), SeenAt: seen,
		},
		SHA256: Hash(n), Layout: "time,glucose", PatientID: patientID, Rows: len(readings),
		Decisions: []wear.Decision{{Code: "unit", Answer: "mmol/L", Evidence: "values from 3 to 12", RunnerUp: "mg/dL", Margin: 0.98, By: "values"}},
		Wears: []store.WearFiling{{
			SensorKind: "A", Readings: readings, Events: events, New: len(readings),
		}},
	}
	Says(&f.Wears[0], Report(readings, tier, score, flags...))
	return f
}

// Says has the engine of tests give this report of a wear while nobody adds
// anything to it: it goes with the wear's events, as the first of them.
func Says(w *store.WearFiling, r *wear.Report) {
	text, err := json.Marshal(r)
	if err != nil {
		panic(err)
	}
	if len(w.Events) > 0 && strings.HasPrefix(w.Events[0].Label, saidWord) {
		w.Events = w.Events[1:]
	}
	said := wear.Event{At: w.Readings[0].At - 3*3600, Kind: wear.Note, Label: fmt.Sprintf("%s%d %s", saidWord, len(w.Events), text)}
	w.Events = append([]wear.Event{said}, w.Events...)
}

// Said gives the report that [Says] was told.
func Said(w *store.WearFiling) *wear.Report {
	r, _ := said(w.Events)
	return r
}

// Change changes it.
func Change(w *store.WearFiling, f func(*wear.Report)) {
	r := Said(w)
	f(r)
	Says(w, r)
}

// Unsay leaves the judging of a wear to the real engine.
func Unsay(w *store.WearFiling) {
	w.Events = slices.DeleteFunc(slices.Clone(w.Events), func(e wear.Event) bool { return strings.HasPrefix(e.Label, saidWord) })
}

// Verdict is an event that somebody adds to have the engine of tests judge the
// wear so, whatever else there is.
func Verdict(at int64, tier wear.Tier, score float64, flags ...string) wear.Event {
	return wear.Event{At: at, Kind: wear.Note, Label: fmt.Sprintf("%s%s %g %s", verdictWord, tier, score, strings.Join(flags, ","))}
}

const saidWord, verdictWord = "report ", "verdict "

// said gives the report that the events of a wear say, and how many there were
// beside it.
func said(events []wear.Event) (*wear.Report, int) {
	for _, e := range events {
		if words, ok := strings.CutPrefix(e.Label, saidWord); ok {
			count, text, _ := strings.Cut(words, " ")
			n, err := strconv.Atoi(count)
			r := new(wear.Report)
			if err := errors.Join(err, json.Unmarshal([]byte(text), r)); err != nil {
				panic(err)
			}
			return r, n
		}
	}
	return nil, 0
}

// Engine is the engine of tests. Where a wear says its own report ([Says]) and
// people added nothing but verdicts ([Verdict]) and results, that is it, with the last
// verdict; anything else goes to the real one.
func Engine(in wear.Input) *wear.Report {
	r, own := said(in.Events)
	real := in
	real.Events = nil
	verdict := false
	for _, e := range in.Events {
		if words, ok := strings.CutPrefix(e.Label, verdictWord); ok && r != nil {
			part := strings.SplitN(words, " ", 3)
			score, err := strconv.ParseFloat(part[1], 64)
			if err != nil {
				panic(err)
			}
			was := *r
			r = Report(in.Readings, wear.Tier(part[0]), score, strings.FieldsFunc(part[2], func(c rune) bool { return c == ',' })...)
			r.Days, r.Start, r.End = was.Days, was.Start, was.End
			verdict = true
		} else if !strings.HasPrefix(e.Label, saidWord) {
			real.Events = append(real.Events, e)
		}
	}
	untouched := len(real.Events) == own && len(in.Asked)+len(in.Overrides) == 0
	if r == nil || !verdict && !untouched {
		return wear.Analyse(real)
	}
	return r
}

// File files f and gives the id of its first wear.
func File(t testing.TB, s *store.Store, f store.Filing) int64 {
	t.Helper()
	_, wears, err := s.File(context.Background(), f)
	if err != nil {
		t.Fatal(err)
	}
	return wears[0]
}
