package store_test

import (
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// byVersion is an engine that finds nothing by the protocol that ships, and
// something to follow up by any other.
func byVersion(in wear.Input) *wear.Report {
	tier, flags := wear.Routine, []string{}
	if in.Protocol.Version != wear.DefaultProtocol().Version {
		tier, flags = wear.ThisWeek, []string{wear.FlagAbove7_8}
	}
	r := storetest.Report(in.Readings, tier, 1, flags...)
	r.Protocol = in.Protocol.Version
	return r
}

// sign drafts a version and signs it, to hold from a time on.
func sign(t *testing.T, s *store.Store, a store.Actor, version string, from time.Time) {
	t.Helper()
	p := wear.DefaultProtocol()
	p.Version = version
	id, err := s.DraftProtocol(ctx, a, p)
	must(t, err)
	k, err := s.KeptProtocol(ctx, id)
	must(t, err)
	must(t, s.SignProtocol(ctx, a, id, k.At, from))
}

// What is signed holds without a new start: here at once, in another process
// with its next change, and a later day's by itself on that day. Where two are
// signed the one with the later day holds, however they were signed.
func TestSignedProtocolHolds(t *testing.T) {
	w := newWard(t)
	must(t, w.JudgeBy(store.Judging{Zone: time.UTC, Engine: byVersion}))
	beside, err := store.Open(ctx, filepath.Clean(w.Path()), w.clock.Now)
	must(t, err)
	defer func() { must(t, beside.Close()) }()
	must(t, beside.SetLogKey(storetest.AuditKey()))
	inForce := func(s *store.Store, want string) {
		t.Helper()
		must(t, s.Beat(ctx, store.Beat{At: w.clock.Now(), FolderOK: true})) // a look of the worker
		if got := s.Judging().Protocol.Version; got != want {
			t.Errorf("in force: %s, want %s", got, want)
		}
	}
	shipped := wear.DefaultProtocol().Version
	inForce(beside, shipped)
	sign(t, w.Store, w.clinician, "of new year", w.clock.Now().Add(10*day))
	inForce(w.Store, shipped)
	sign(t, w.Store, w.clinician, "of today", w.clock.Now())
	if got := w.Judging().Protocol.Version; got != "of today" {
		t.Errorf("signed for today, and %s is in force", got)
	}
	inForce(beside, "of today")
	w.clock.Advance(9 * day)
	inForce(w.Store, "of today")
	w.clock.Advance(day)
	inForce(w.Store, "of new year")
	inForce(beside, "of new year")
	if k, err := w.SignedProtocol(ctx, w.clock.Now()); err != nil || k.Protocol.Version != "of new year" {
		t.Errorf("said to be in force: %v, %v", k, err)
	}
}

// While wears wait to be judged by the protocol that was signed, none is told
// that all is well: not by a person, not on a sheet, not by a letter.
func TestNothingIsToldWellBeforeItIsJudgedAnew(t *testing.T) {
	w := newWard(t)
	must(t, w.JudgeBy(store.Judging{Zone: time.UTC, Engine: byVersion}))
	w.wear = storetest.File(t, w.Store, storetest.Filing(9, storetest.AddPatient(t, w.Store, 9).ID, w.clock.Now(), 2, wear.Routine, 1))
	well := func() []wear.Reason {
		t.Helper()
		x, err := w.Wear(ctx, w.wear)
		must(t, err)
		_, why := wear.MayReassure(x.Report)
		return why
	}
	if why := well(); why != nil {
		t.Fatalf("against it: %v", why)
	}
	sign(t, w.Store, w.clinician, "strict", w.clock.Now())
	if why := well(); len(why) != 1 || why[0].Code != wear.ReasonAnew {
		t.Errorf("against it while it waits: %v", why)
	}
	sheet, err := w.RoutineSheet(ctx, w.clinician, w.clock.Now(), 20)
	if must(t, err); len(sheet.Rows) != 0 || sheet.Against[wear.ReasonAnew] != 1 {
		t.Errorf("on the sheet: %d, kept off %v", len(sheet.Rows), sheet.Against)
	}
	w.claim(t, w.clinician, w.wear)
	o := w.outcome(store.ToldWell)
	o.Reason = "it looks so"
	if _, err := w.RecordOutcome(ctx, w.clinician, o); err == nil {
		t.Error("a clinician told that all is well of a wear that waits to be judged anew")
	}
	judgeAll(t, w.Store)
	if why := well(); len(why) != 1 || why[0].Code != wear.ReasonFlagged {
		t.Errorf("against it once judged: %v", why)
	}
}

// A practice files, judges anew and tells patients that all is well while a
// clinician signs a protocol by which nothing is well. The log decides: after the
// signature nobody was told so, and in the end every wear, whenever it was filed,
// is judged by what was signed and stands on the round.
func TestSigningWhileThePracticeWorks(t *testing.T) {
	w := newWard(t)
	must(t, w.JudgeBy(store.Judging{Zone: time.UTC, Engine: byVersion}))
	const before, after = 40, 40
	var ids []int64
	filings := make([]store.Filing, after)
	for n := range before + after {
		p := storetest.AddPatient(t, w.Store, 100+n)
		f := storetest.Filing(100+n, p.ID, w.clock.Now(), 1, wear.Routine, 1)
		if n < before {
			ids = append(ids, storetest.File(t, w.Store, f))
		} else {
			filings[n-before] = f
		}
	}
	w.clock.Advance(time.Hour)
	p := wear.DefaultProtocol()
	p.Version = "strict"
	draft, err := w.DraftProtocol(ctx, w.clinician, p)
	must(t, err)
	k, err := w.KeptProtocol(ctx, draft)
	must(t, err)

	var wg, tried sync.WaitGroup
	tried.Add(3)
	var mu sync.Mutex // over ids and told
	told := 0
	half, signed := make(chan struct{}), make(chan struct{})
	for hand := range 3 {
		nurse := []store.Actor{w.nurse, w.other, w.clinician}[hand]
		wg.Go(func() {
			first := sync.OnceFunc(tried.Done)
			defer first()
			for i := hand; ; i += 3 {
				mu.Lock()
				if i >= before {
					mu.Unlock()
					return
				}
				id := ids[i]
				mu.Unlock()
				if i >= before*3/4 {
					<-signed // one of these before any wear is judged anew, the others meanwhile
				}
				x, err := w.Wear(ctx, id)
				if err != nil {
					t.Error(err)
					return
				}
				if _, err := w.Claim(ctx, nurse, id); err != nil {
					t.Error(err)
				}
				_, err = w.Store.RecordOutcome(ctx, nurse, store.NewOutcome{WearID: id, Kind: store.ToldWell, Seen: x.Evidence, Attempts: 3})
				if i >= before*3/4 {
					first()
				}
				if err == nil {
					mu.Lock()
					if told++; told == before/4 {
						close(half)
					}
					mu.Unlock()
				} else if c := store.CodeOf(err); c == store.Internal {
					t.Error(err)
				}
			}
		})
	}
	wg.Go(func() {
		for _, f := range filings {
			_, made, err := w.File(ctx, f)
			if err != nil {
				t.Error(err)
				continue
			}
			mu.Lock()
			ids = append(ids, made...)
			mu.Unlock()
		}
	})
	wg.Go(func() {
		<-half
		if err := w.SignProtocol(ctx, w.clinician, draft, k.At, w.clock.Now()); err != nil {
			t.Error(err)
		}
		close(signed)
		tried.Wait()
		for last := int64(0); ; {
			next, failed, err := w.JudgeAnew(ctx, last)
			if err != nil || len(failed) > 0 {
				t.Error(failed, err)
				return
			}
			if last = next; last == 0 {
				return
			}
		}
	})
	wg.Wait()
	judgeAll(t, w.Store)

	rows, err := w.LogRows(ctx, store.LogQuery{Action: "sign a protocol", Limit: 1})
	must(t, err)
	signature := rows[0].Seq
	rows, err = w.LogRows(ctx, store.LogQuery{Action: "record an outcome", Limit: 200})
	must(t, err)
	was := 0
	for _, r := range rows {
		switch {
		case r.Ended != "done":
		case r.Seq > signature:
			t.Errorf("line %d: told that all is well after line %d, the signature", r.Seq, signature)
		default:
			was++
		}
	}
	if was != told || told < before/4 {
		t.Errorf("%d of %d told before the signature", was, told)
	}
	page, err := w.Round(ctx, store.RoundQuery{Limit: 200, Now: w.clock.Now()})
	must(t, err)
	for _, id := range ids {
		x, err := w.Wear(ctx, id)
		must(t, err)
		on := slices.ContainsFunc(page.Rows, func(r store.RoundRow) bool { return r.WearID == id })
		if x.Report.Protocol != "strict" || !on {
			t.Errorf("wear %d: judged by %s, on the round %t", id, x.Report.Protocol, on)
		}
	}
	d, err := w.Daily(ctx, w.clock.Now())
	if must(t, err); d.Stale != 0 {
		t.Errorf("%d wait to be judged anew", d.Stale)
	}
}

// A file that was divided by one protocol is not filed under another.
func TestFileOfAnotherProtocolIsStale(t *testing.T) {
	w := newWard(t)
	f := storetest.Filing(9, w.patient.ID, w.clock.Now(), 1, wear.Routine, 1)
	f.By = w.Judging().Protocol
	sign(t, w.Store, w.clinician, "strict", w.clock.Now())
	if _, _, err := w.File(ctx, f); err != store.ErrStale {
		t.Errorf("filed: %v", err)
	}
	f.By = w.Judging().Protocol
	must(t, second2(w.File(ctx, f)))
}
