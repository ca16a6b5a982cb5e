package store_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// clinic is where the hand-made history is: its days begin at 14:00 UTC.
var clinic = time.FixedZone("", 10*3600)

// june is 09:00 on a day of June 2026 at the clinic; july counts on.
func june(day int) time.Time { return time.Date(2026, time.June, day, 9, 0, 0, 0, clinic) }

const july = 30

// past is a hand-made history. Its clock is set by each step.
type past struct {
	*testing.T
	storetest.Looking
	clock     *storetest.Clock
	clinician store.Actor
	people    []store.Patient
	files     int
}

func newPast(t *testing.T) *past {
	s, clock := storetest.Open(t)
	p := &past{T: t, Looking: storetest.Looking{Store: s, T: t}, clock: clock, clinician: storetest.AddUser(t, s, "Dosu", store.RoleClinician)}
	for n := range 9 {
		p.people = append(p.people, storetest.AddPatient(t, s, n))
	}
	return p
}

func (p *past) at(when time.Time) { p.clock.Advance(when.Sub(p.clock.Now())) }

// wear files one, read on a day of June.
func (p *past) wear(day, who int, kind string, tier wear.Tier, flags ...string) int64 {
	p.Helper()
	p.at(june(day))
	p.files += 5
	f := storetest.Filing(p.files, p.people[who].ID, june(day), 2, tier, 1, flags...)
	f.Wears[0].SensorKind = kind
	if kind == "B" {
		storetest.Change(&f.Wears[0], func(r *wear.Report) { r.Believed -= 50 })
	}
	return storetest.File(p.T, p.Store, f)
}

func (p *past) claim(when time.Time, id int64) {
	p.Helper()
	p.at(when)
	_, err := p.Claim(ctx, p.clinician, id)
	must(p.T, err)
}

// end claims a wear and records an outcome at once.
func (p *past) end(when time.Time, id int64, kind store.OutcomeKind, recall time.Time) store.WearOutcome {
	p.Helper()
	p.claim(when, id)
	o, err := p.RecordOutcome(ctx, p.clinician, store.NewOutcome{WearID: id, Kind: kind, Reason: "as agreed", Recall: recall, Attempts: 3})
	must(p.T, err)
	return o
}

func (p *past) recall(outcome int64) store.Recall {
	p.Helper()
	page, err := p.Recalls(ctx, store.RecallQuery{Closed: true, Limit: 200})
	must(p.T, err)
	for _, r := range page.Rows {
		if r.OutcomeID == outcome {
			return r
		}
	}
	p.Fatalf("outcome %d has no recall", outcome)
	return store.Recall{}
}

func (p *past) result(when time.Time, n store.NewResult) {
	p.Helper()
	p.at(when)
	_, err := p.AddResult(ctx, p.clinician, n)
	must(p.T, err)
}

// TestYearAudit counts a June whose figures were worked out by hand.
func TestYearAudit(t *testing.T) {
	p := newPast(t)
	p.end(june(-49), p.wear(-50, 1, "A", wear.ThisMonth), store.AdviceGiven, time.Time{}) // the wear before; of no June

	a := p.wear(2, 1, "A", wear.Routine)
	b := p.wear(2, 2, "A", wear.ThisWeek, wear.FlagAbove7_8)
	well := p.end(june(3), a, store.ToldWell, june(28))
	must(t, p.CancelRecall(ctx, p.clinician, p.recall(well.ID).ID, "moved away", 0))
	must(t, second(p.OpenLetter(ctx, p.clinician, store.NewLetter{PatientID: p.people[1].ID, WearID: a, Kind: "unremarkable", Text: "Dear patient"})))

	p.claim(june(4), b)
	tests := p.end(june(4).Add(time.Hour), b, store.TestsOrdered, june(18))
	letter, err := p.OpenLetter(ctx, p.clinician, store.NewLetter{PatientID: p.people[2].ID, WearID: b, Kind: "tests", Text: "Dear patient"})
	must(t, err)
	must(t, p.SendLetter(ctx, p.clinician, letter, "Dear patient", store.ByPost))

	c := p.wear(5, 3, "A", wear.ThisMonth, wear.FlagAbove7_8, wear.FlagAbove10)
	p.claim(june(5), c)
	d := p.wear(6, 4, "B", wear.CannotTell, wear.FlagSensorDoubt)
	e := p.wear(8, 5, "A", wear.Today, wear.FlagVeryHigh)
	urgent := p.end(june(8), e, store.UrgentContact, june(9))
	f := p.wear(9, 6, "A", wear.Routine)
	must(t, p.UndoOutcome(ctx, p.clinician, p.end(june(9), f, store.ToldWell, time.Time{}).ID))
	p.end(june(9), f, store.ToldWell, time.Time{})
	must(t, second(p.ContactRecall(ctx, p.clinician, p.recall(urgent.ID).ID, store.NewContact{Means: store.ByTelephone})))
	g := p.wear(10, 7, "A", wear.ThisMonth, wear.FlagAbove10)
	p.end(june(10), d, store.SensorReplaced, june(25))
	advice := p.end(june(11), g, store.AdviceGiven, june(20))
	_, err = p.CorrectOutcome(ctx, p.clinician, advice.ID, store.NewOutcome{Kind: store.Appointment, Reason: "the wrong button", Recall: june(july + 5)})
	must(t, err)
	p.wear(12, 8, "A", wear.ThisWeek, wear.FlagDipSymptom)

	// A file that is held for two days and then read, one that is still held,
	// and one that cannot be read.
	p.at(june(13))
	p.files += 5
	k := storetest.Filing(p.files, p.people[0].ID, june(13), 2, wear.Routine, 1)
	question := []wear.Question{{Code: "unit", Text: "Which unit?"}}
	must(t, second(p.Hold(ctx, store.Holding{Drop: k.Drop, SHA256: k.SHA256, Questions: question})))
	must(t, second(p.Hold(ctx, store.Holding{Drop: store.Drop{Path: "held.csv", ModTime: june(13), SeenAt: june(13)}, SHA256: storetest.Hash(9001), Questions: question})))
	must(t, second(p.RefuseFile(ctx, store.Drop{Path: "refused.csv", ModTime: june(13), SeenAt: june(13)}, storetest.Hash(9002))))
	p.at(june(15))
	_, wears, err := p.File(ctx, k)
	must(t, err)
	risk := p.end(june(15), wears[0], store.TestsOrdered, june(29))

	hba1c := store.NewResult{Kind: store.HbA1c, Value: "52", Unit: "mmol/mol", Class: string(wear.ClassDiabetes)}
	first, other, normal := hba1c, hba1c, hba1c
	first.PatientID, first.WearID, first.RecallID, first.TakenAt = p.people[2].ID, b, p.recall(tests.ID).ID, june(19)
	other.PatientID, other.TakenAt = p.people[2].ID, june(24) // recorded for no wear
	normal.PatientID, normal.WearID, normal.RecallID, normal.TakenAt, normal.Class = p.people[0].ID, wears[0], p.recall(risk.ID).ID, june(27), string(wear.ClassNormal)
	normal.Value = "38"
	p.result(june(20), first)
	p.result(june(25), other)
	p.result(june(28), normal)
	letter, err = p.OpenLetter(ctx, p.clinician, store.NewLetter{PatientID: p.people[0].ID, Kind: "unremarkable", Text: "Dear patient"})
	must(t, err)
	must(t, p.DiscardLetter(ctx, p.clinician, letter))
	p.wear(28, 8, "A", wear.CannotTell, wear.FlagTooLittle)
	p.wear(29, 2, "B", wear.Routine)
	p.at(june(july + 1))
	must(t, p.Reopen(ctx, p.clinician, f, "rang again"))
	p.end(june(july+10), c, store.TestsOrdered, june(july+14))

	from, to, now := time.Date(2026, time.June, 1, 0, 0, 0, 0, clinic), time.Date(2026, time.July, 1, 0, 0, 0, 0, clinic), june(july+20)
	both, err := p.YearAudit(ctx, now, clinic, store.Span{From: from, To: to}, store.Span{From: from.AddDate(-3, 0, 0), To: to.AddDate(-3, 0, 0)})
	must(t, err)
	got, empty := both[0], both[1]

	const hour, day = 3600, 24 * 3600
	ends := func(n int, kinds ...store.OutcomeKind) []wear.AuditCount {
		list := []wear.AuditCount{}
		for _, k := range kinds {
			list, n = append(list, wear.AuditCount{Code: string(k), N: n}), 1
		}
		return list
	}
	want := wear.Audit{
		From: from, To: to, At: now,
		Files: wear.AuditFiles{Received: 13, Filed: 11, Held: 1, Refused: 1, Wait: wear.AuditWait{Code: wear.WaitHeld, N: 1, Of: 2, MedianS: 2 * day, NinetyS: 2 * day, LongestS: 2 * day}},
		Tiers: []wear.AuditTier{
			{Tier: wear.Today, Read: 1, InTime: 1},
			{Tier: wear.ThisWeek, Read: 2, InTime: 1, Overdue: 1, OldestDays: 38},
			{Tier: wear.ThisMonth, Read: 2, InTime: 1, Late: 1},
			{Tier: wear.CannotTell, Read: 2, InTime: 1, Overdue: 1, OldestDays: 22},
			// The limit of one that was put back counts from then.
			{Tier: wear.Routine, Read: 4, InTime: 2, NotDue: 2, Again: 1, OldestDays: 41},
		},
		Months: []wear.AuditMonth{{Month: "2026-06", Read: 11, FollowUp: 7, FollowUpDone: 5, Done: 7}},
		Flags: []wear.AuditFlag{
			{Code: wear.FlagAbove10, Wears: 2, Outcomes: ends(1, store.TestsOrdered, store.Appointment)},
			{Code: wear.FlagAbove7_8, Wears: 2, Outcomes: ends(2, store.TestsOrdered)},
			{Code: wear.FlagDipSymptom, Wears: 1, Open: 1, Outcomes: ends(0)},
			{Code: wear.FlagSensorDoubt, Wears: 1, Outcomes: ends(1, store.SensorReplaced)},
			{Code: wear.FlagTooLittle, Wears: 1, Open: 1, Outcomes: ends(0)},
			{Code: wear.FlagVeryHigh, Wears: 1, Outcomes: ends(1, store.UrgentContact)},
		},
		Unflagged: wear.AuditFlag{Wears: 4, Open: 2, Outcomes: ends(1, store.ToldWell, store.TestsOrdered)},
		Outcomes:  ends(3, store.TestsOrdered, store.ToldWell, store.Appointment, store.UrgentContact, store.SensorReplaced),
		Waits: []wear.AuditWait{
			// 0, 0, 1, 2 and 4 days
			{Code: wear.WaitToClaim, N: 5, Of: 7, MedianS: day, NinetyS: 3.2 * day, LongestS: 4 * day},
			// three times 0, an hour, 35 days
			{Code: wear.WaitClaimToOutcome, N: 5, Of: 7, NinetyS: hour + 6*(35*day-hour)/10, LongestS: 35 * day},
			// 0, 1 day, 2 days and an hour, 4 days, 35 days
			{Code: wear.WaitToOutcome, N: 5, Of: 7, MedianS: 2*day + hour, NinetyS: 4*day + 6*31*day/10, LongestS: 35 * day},
			{Code: wear.WaitToOutcome, Tier: wear.Today, N: 1, Of: 1},
			{Code: wear.WaitToOutcome, Tier: wear.ThisWeek, N: 1, Of: 2, MedianS: 2*day + hour, NinetyS: 2*day + hour, LongestS: 2*day + hour},
			{Code: wear.WaitToOutcome, Tier: wear.ThisMonth, N: 2, Of: 2, MedianS: 18 * day, NinetyS: day + 9*34*day/10, LongestS: 35 * day},
			{Code: wear.WaitToOutcome, Tier: wear.CannotTell, N: 1, Of: 2, MedianS: 4 * day, NinetyS: 4 * day, LongestS: 4 * day},
			// 0, 1 day and 2 days
			{Code: wear.WaitToOutcome, Tier: wear.Routine, N: 3, Of: 4, MedianS: day, NinetyS: 1.8 * day, LongestS: 2 * day},
		},
		Tests:   wear.AuditTests{Ordered: 2, Confirmed: 1, Overdue: 1},
		Routine: wear.AuditTests{Ordered: 1, Below: 1},
		Kinds: []wear.AuditKind{
			{Kind: "A", Wears: 9, TooLittle: 1, Readings: 9 * 576},
			{Kind: "B", Wears: 2, SensorDoubt: 1, Replaced: 1, Readings: 2 * 576, Doubted: 100},
		},
		Again: wear.AuditAgain{Wears: 3, Less: 2, Unclear: 1, Other: 1, Pairs: []wear.AuditPair{
			{Before: wear.ThisWeek, After: wear.CannotTell, N: 1}, {Before: wear.ThisWeek, After: wear.Routine, N: 1}, {Before: wear.ThisMonth, After: wear.Routine, N: 1},
		}},
		Recalls: []wear.AuditRecall{
			{Kind: string(store.RecallResult), Due: 2, InTime: 1, Late: 1},
			{Kind: string(store.RecallNewWear), Due: 1, Missed: 1, Untried: 1},
			{Kind: string(store.RecallReview), Due: 1, Cancelled: 1},
			{Kind: string(store.RecallUrgent), Due: 1, Missed: 1},
			{Kind: string(store.RecallDecide), Due: 2, Missed: 2, Untried: 2},
		},
		Letters: []wear.AuditLetters{{Kind: "tests", Written: 1, Sent: 1}, {Kind: "unremarkable", Written: 2, Discarded: 1, Unsent: 1}},
		Changes: wear.AuditChanges{Outcomes: 9, Standing: 7, Corrected: 1, Undone: 1},
	}
	checkWorth(t, got.Worth)
	want.Worth = got.Worth
	if d := gocmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	checkSums(t, got)
	if n := got.FollowUp(); n.Read != 7 || n.Done() != 5 || n.Open() != 2 || n.OldestDays != 38 {
		t.Errorf("follow-up: %+v", n)
	}

	if empty.All() != (wear.AuditTier{}) || empty.Files.Received != 0 || len(empty.Months) != 1 {
		t.Errorf("a June before everything: %+v", empty)
	}
}

// checkWorth holds the same June against what was worked out by hand.
func checkWorth(t *testing.T, got wear.Worth) {
	t.Helper()
	unknown := func(code string, n int) wear.AuditYield { return wear.AuditYield{Code: code, Wears: n, Unknown: n} }
	want := wear.Worth{
		Chain: []wear.AuditStep{
			{Code: wear.StepHandedOut}, {Code: wear.StepFiles, Of: 13, On: 11, Lost: 1, Unknown: 1},
			// a was told all is well; f is on the round again, and three never left it.
			{Code: wear.StepRead, Of: 11, On: 6, Ended: 1, Unknown: 4},
			// b and k have results, c waits; nobody ordered a test for d, e and g.
			{Code: wear.StepTested, Of: 6, On: 2, Ended: 3, Unknown: 1}, {Code: wear.StepConfirmed, Of: 2, On: 1, Ended: 1},
		},
		Yield: []wear.AuditYield{
			unknown(wear.FlagAbove10, 2), {Code: wear.FlagAbove7_8, Wears: 2, Confirmed: 1, Unknown: 1}, unknown(wear.FlagDipSymptom, 1),
			unknown(wear.FlagSensorDoubt, 1), unknown(wear.FlagTooLittle, 1), unknown(wear.FlagVeryHigh, 1),
		},
		After: []wear.AuditYield{
			{Code: string(store.TestsOrdered), Wears: 3, Confirmed: 1, NotConfirmed: 1, Unknown: 1}, unknown(string(store.Appointment), 1),
			unknown(string(store.SensorReplaced), 1), unknown(string(store.ToldWell), 1), unknown(string(store.UrgentContact), 1),
		},
		Missed: wear.AuditYield{Code: "unflagged", Wears: 4, NotConfirmed: 1, Unknown: 3},
		Work: []wear.AuditWork{
			{Tier: wear.Today, Outcomes: 1, Claimed: 1}, {Tier: wear.ThisWeek, Outcomes: 1, Claimed: 1, Minutes: 60, MedianS: 3600, Letters: 1},
			{Tier: wear.ThisMonth, Outcomes: 2, Claimed: 2}, {Tier: wear.CannotTell, Outcomes: 1, Claimed: 1}, {Tier: wear.Routine, Outcomes: 3, Claimed: 3},
		},
		Shifts: []wear.AuditShift{{Code: "mean", Least: 0.7, Of: 2, Unknown: 2}, {Code: "above_7_8", Least: 8, Of: 2, Unknown: 2}, {Code: "above_10", Least: 2, Of: 2, Unknown: 2}},
		Groups: got.Groups, // the recount of a year has them
	}
	if d := gocmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// checkSums holds each table of an audit against its own totals.
func checkSums(t *testing.T, a wear.Audit) {
	t.Helper()
	same := func(what string, parts, whole int) {
		t.Helper()
		if parts != whole {
			t.Errorf("%s: the parts make %d, the whole is %d", what, parts, whole)
		}
	}
	all, follow := a.All(), a.FollowUp()
	for _, n := range a.Tiers {
		same(string(n.Tier), n.Done()+n.Open()+n.Lost, n.Read)
	}
	same("lost", all.Lost, 0)
	months, kinds := wear.AuditMonth{}, 0
	for _, m := range a.Months {
		months.Read += m.Read
		months.FollowUp += m.FollowUp
		months.FollowUpDone += m.FollowUpDone
		months.Done += m.Done
	}
	same("months", months.Read, all.Read)
	same("months, follow-up", months.FollowUp, follow.Read)
	same("months, follow-up done", months.FollowUpDone, follow.Done())
	same("months, done", months.Done, all.Done())
	sum := func(list []wear.AuditCount) (n int) {
		for _, c := range list {
			n += c.N
		}
		return n
	}
	same("outcomes", sum(a.Outcomes), all.Done())
	for _, f := range append(a.Flags, a.Unflagged) {
		same("flag "+f.Code, f.Open+sum(f.Outcomes), f.Wears)
	}
	for _, k := range a.Kinds {
		kinds += k.Wears
	}
	same("sensor kinds", kinds, all.Read)
	for _, n := range []wear.AuditTests{a.Tests, a.Routine} {
		same("tests", n.Confirmed+n.InRange+n.Pregnancy+n.Intermediate+n.LookAgain+n.Below+n.NotCompared+n.Missing(), n.Ordered)
		same("results", n.Back()+n.Missing(), n.Ordered)
	}
	pairs := 0
	for _, p := range a.Again.Pairs {
		pairs += p.N
	}
	same("pairs", pairs, a.Again.Wears)
	same("second wears", a.Again.Less+a.Again.Same+a.Again.More+a.Again.Unclear, a.Again.Wears)
	for _, r := range a.Recalls {
		same("recalls "+r.Kind, r.InTime+r.Late+r.Cancelled+r.Missed, r.Due)
	}
	for _, l := range a.Letters {
		same("letters "+l.Kind, l.Sent+l.Discarded+l.Unsent, l.Written)
	}
	for _, c := range a.Worth.Chain {
		same("step "+c.Code, c.On+c.Ended+c.Lost+c.Unknown, c.Of)
	}
	for _, y := range slices.Concat(a.Worth.Yield, a.Worth.After, []wear.AuditYield{a.Worth.Missed}) {
		same("yield "+y.Code, y.Known()+y.Unknown, y.Wears)
	}
	groups := map[string]int{}
	for _, g := range a.Worth.Groups {
		groups[g.By] += g.Wears
		same("group "+g.By+" "+g.Code, g.Known()+g.Unknown, g.Wears)
	}
	for by, n := range groups {
		same("groups by "+by, n, all.Read)
	}
	for _, s := range a.Worth.Shifts {
		same("shifts "+s.Code, s.Fall+s.Within+s.Rise+s.Unknown, s.Of)
	}
	same("changes", a.Changes.Standing+a.Changes.Corrected+a.Changes.Undone, a.Changes.Outcomes)
	same("files", a.Files.Filed+a.Files.Held+a.Files.Refused, a.Files.Received)
	for _, w := range append(a.Waits, a.Files.Wait) {
		if w.N > w.Of || w.MedianS > w.NinetyS || w.NinetyS > w.LongestS {
			t.Errorf("wait %+v", w)
		}
	}
}

// BenchmarkYearAudit counts 10,000 wears, nearly all with an outcome, beside a
// log of a hundred thousand lines.
func BenchmarkYearAudit(b *testing.B) {
	const n = 10_000
	s, clock := fill(b, n)
	storetest.AddUser(b, s, "Dosu", store.RoleClinician)
	writer, _ := s.Pools()
	for _, query := range []string{
		`INSERT INTO outcomes (wear_id, kind, reason, made_by, role, made_at, tier, flags)
			SELECT id, iif(id % 7, 'told_well', 'tests_ordered'), '', 1, 'clinician', received_at + id % 900000, tier, '["a","b"]' FROM wears WHERE id % 20`,
		`UPDATE wears SET open = 0 WHERE id % 20`,
		`INSERT INTO audit (seq, at, actor, role, action, object, object_id, outcome, reason, request, prev, mac)
			SELECT (SELECT max(seq) FROM audit) + row_number() OVER (), received_at, 1, '', iif(value = 3, 'claim a wear', 'view'), 'wear', wears.id, 'done', '', '', x'', x''
			FROM wears, json_each('[1,2,3,4,5,6,7,8,9,10]')`,
	} {
		if _, err := writer.Exec(query); err != nil {
			b.Fatal(fmt.Errorf("%s: %w", query, err))
		}
	}
	now := clock.Now()
	for b.Loop() {
		a, err := s.YearAudit(ctx, now, clinic, store.Span{From: now.AddDate(-1, 0, 0), To: now.AddDate(0, 0, 1)})
		if err != nil || a[0].All().Read != n || a[0].Tests.Ordered == 0 || a[0].Waits[0].N == 0 {
			b.Fatal(a, err)
		}
	}
}
