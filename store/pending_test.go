package store_test

import (
	"strings"
	"testing"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// TestNobodyIsToldWhileSomethingIsPending: whatever has a wear read or judged
// anew keeps everybody from telling that all is well until that is done, and
// keeps a letter that did from going out.
func TestNobodyIsToldWhileSomethingIsPending(t *testing.T) {
	other := wear.DefaultProtocol()
	other.Version = "another"
	for name, test := range map[string]struct {
		pend   func(s *store.Store, nurse store.Actor, f store.Filing, fileID, wearID int64) error
		reason string
	}{
		"zone": {func(s *store.Store, nurse store.Actor, _ store.Filing, _, id int64) error {
			_, err := s.SetZone(ctx, nurse, id, "Australia/Perth")
			return err
		}, wear.ReasonWaiting},
		"an answer that was taken back": {func(s *store.Store, nurse store.Actor, f store.Filing, fileID, _ int64) error {
			_, err := s.Contest(ctx, fileID, "P00009")
			return err
		}, wear.ReasonWaiting},
		"refused when it was read again": {func(s *store.Store, nurse store.Actor, f store.Filing, fileID, _ int64) error {
			if _, err := s.Contest(ctx, fileID, "P00009"); err != nil {
				return err
			}
			d := f.Drop
			d.FileID, d.Fate, d.Code, d.Reason = fileID, store.Refused, "set_aside", "It is set aside."
			_, err := s.RefuseFile(ctx, d, f.SHA256)
			return err
		}, wear.ReasonRefused},
		"protocol": {func(s *store.Store, _ store.Actor, _ store.Filing, _, _ int64) error {
			return s.JudgeBy(store.Judging{Protocol: other, Zone: storetest.Start.Location(), Engine: storetest.Engine})
		}, wear.ReasonAnew},
	} {
		t.Run(name, func(t *testing.T) {
			s, clock := storetest.Open(t)
			nurse := storetest.AddUser(t, s, "nurse", store.RoleNurse)
			var wears, files [2]int64
			var filings [2]store.Filing
			for i := range wears { // one on the round, one told by a letter that is not posted
				f := storetest.Filing(i+1, storetest.AddPatient(t, s, i+1).ID, clock.Now(), 14, wear.Routine, 0)
				fileID, ids, err := s.File(ctx, f)
				if err != nil {
					t.Fatal(err)
				}
				wears[i], files[i], filings[i] = ids[0], fileID, f
				w, err := s.Wear(ctx, ids[0])
				if err != nil {
					t.Fatal(err)
				}
				if i == 1 {
					l := store.NewLetter{Kind: "patient_unremarkable", Text: "Nothing was found.", Named: w.Patient.Named()}
					if _, lines, err := s.SignSheet(ctx, nurse, []store.SheetLine{{WearID: w.ID, Evidence: w.Evidence, Letter: l}}); err != nil || lines[0].Refused != "" {
						t.Fatal(lines, err)
					}
				}
			}
			for i, id := range wears {
				if err := test.pend(s, nurse, filings[i], files[i], id); err != nil {
					t.Fatal(err)
				}
			}
			w, err := s.Wear(ctx, wears[0])
			if err != nil {
				t.Fatal(err)
			}
			_, why := wear.MayReassure(w.Report)
			if len(why) != 1 || why[0].Code != test.reason {
				t.Errorf("against telling: %+v, want %s", why, test.reason)
			}
			sheet, err := s.RoutineSheet(ctx, nurse, clock.Now(), 20)
			if err != nil || sheet.Ready != 0 || sheet.Against[test.reason] == 0 {
				t.Errorf("the sheet has %d ready, %v against: %v", sheet.Ready, sheet.Against, err)
			}
			box, err := s.Outbox(ctx, store.Unprinted, clock.Now())
			if err != nil || len(box.Rows) != 1 || box.Rows[0].Held != why[0].Text && !strings.HasPrefix(box.Rows[0].Held, "The wear is on the round.") {
				t.Errorf("the letter goes: %+v, %v", box.Rows, err)
			}
			if _, err := s.Claim(ctx, nurse, wears[0]); err != nil {
				t.Fatal(err)
			}
			_, err = s.RecordOutcome(ctx, nurse, store.NewOutcome{WearID: wears[0], Kind: store.ToldWell, Seen: w.Evidence})
			if store.CodeOf(err) != store.Conflict {
				t.Errorf("told meanwhile: %v", err)
			}
		})
	}
}
