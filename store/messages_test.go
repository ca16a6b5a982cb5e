package store_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// statement is a file with one statement of a laboratory.
func statement(hash string, e store.Statement) store.Messages {
	return store.Messages{
		Drop: store.Drop{Path: hash + ".hl7", Size: 1, ModTime: storetest.Start, SeenAt: storetest.Start}, SHA256: strings.Repeat(hash, 64), Layout: "HL7 v2", Rows: 1, Statements: []store.Statement{e},
	}
}

// TestMessageAnswersItsRecall: a result that came by itself closes the recall
// that waits for it, or else somebody is given a date to look at it; what is not
// plainly normal is decided on either way.
func TestMessageAnswersItsRecall(t *testing.T) {
	ctx := context.Background()
	taken := storetest.Start.Add(24 * time.Hour)
	for name, tt := range map[string]struct {
		recall, kind, value, unit string
		tier                      wear.Tier // of the statement
		closes                    bool
		decide                    int // days within which somebody must look; -1: nobody
	}{
		"normal, waited for":             {"tests", "hba1c", "34", "mmol/mol", "", true, -1},
		"normal, with words":             {"tests", "hba1c", "34", "mmol/mol", wear.ThisMonth, true, 30},
		"in the diabetes range":          {"tests", "hba1c", "52", "mmol/mol", "", true, 7},
		"severe":                         {"tests", "random_glucose", "24.0", "mmol/L", "", true, 0},
		"another test than the one":      {"fasting glucose, please", "hba1c", "34", "mmol/mol", "", false, 90},
		"a test that reads no glucose":   {"tests", "hdl", "1.2", "mmol/L", "", false, 90},
		"nobody waits for it":            {"", "hba1c", "34", "mmol/mol", "", false, 90},
		"critical by the laboratory":     {"", "triglycerides", "30", "mmol/L", wear.Today, false, 0},
		"beyond a bound, waited for too": {"tests", "random_glucose", ">=33.3", "mmol/L", "", true, 0},
	} {
		t.Run(name, func(t *testing.T) {
			s, clock := storetest.Open(t)
			a := storetest.AddUser(t, s, "Nurse", store.RoleNurse)
			p := storetest.Patient(1)
			if err := s.AddPatients(ctx, []store.Patient{p}); err != nil {
				t.Fatal(err)
			}
			p, err := s.PatientByCode(ctx, p.Code)
			if err != nil {
				t.Fatal(err)
			}
			if tt.recall != "" {
				if _, err := s.AddRecall(ctx, a, store.NewRecall{PatientID: p.ID, Kind: store.RecallResult, DueAt: taken, Note: tt.recall}); err != nil {
					t.Fatal(err)
				}
			}
			clock.Advance(48 * time.Hour)
			m := statement("a", store.Statement{
				PatientID: p.ID, Key: "k", Status: store.StatementFinal, Issued: taken, Kind: store.ResultKind(tt.kind), Value: tt.value, Unit: tt.unit, Taken: taken, Tier: tt.tier,
			})
			if _, err := s.FileMessages(ctx, m); err != nil {
				t.Fatal(err)
			}
			page, err := s.Recalls(ctx, store.RecallQuery{PatientID: p.ID, Closed: true, Limit: 10})
			if err != nil {
				t.Fatal(err)
			}
			closed, decide := false, -1
			for _, r := range page.Rows {
				if r.Kind == store.RecallResult && r.State == store.RecallDone {
					closed = r.ResultID != 0
				}
				if r.Kind == store.RecallDecide && r.ClosedAt.IsZero() {
					decide = int(r.DueAt.Sub(clock.Now()).Hours() / 24)
				}
			}
			if closed != tt.closes || (decide < 0) != (tt.decide < 0) || decide > tt.decide {
				t.Errorf("the recall is closed: %v, to be looked at within %d days; want %v, %d", closed, decide, tt.closes, tt.decide)
			}
			if list, err := s.Results(ctx, p.ID); err != nil || len(list) != 1 || list[0].Kind == store.HDL && list[0].Class != "" {
				t.Errorf("on record: %+v, %v", list, err)
			}
			cancelled := statement("b", store.Statement{PatientID: p.ID, Key: "k", Status: store.StatementCancelled, Issued: taken.Add(time.Hour), Kind: store.ResultKind(tt.kind)})
			if _, err := s.FileMessages(ctx, cancelled); err != nil {
				t.Fatal(err)
			}
			page, err = s.Recalls(ctx, store.RecallQuery{PatientID: p.ID, Limit: 10})
			if err != nil {
				t.Fatal(err)
			}
			open := 0
			if tt.recall != "" {
				open = 1
			}
			if len(page.Rows) != open || open > 0 && page.Rows[0].Kind != store.RecallResult {
				t.Errorf("after the laboratory took it back these recalls are open: %+v", page.Rows)
			}
		})
	}
}

// TestTypedResultIsNotDoubled: what was typed from paper and then comes as a
// message is one result.
func TestTypedResultIsNotDoubled(t *testing.T) {
	ctx := context.Background()
	s, _ := storetest.Open(t)
	a := storetest.AddUser(t, s, "Nurse", store.RoleNurse)
	p := storetest.Patient(1)
	if err := s.AddPatients(ctx, []store.Patient{p}); err != nil {
		t.Fatal(err)
	}
	p, err := s.PatientByCode(ctx, p.Code)
	if err != nil {
		t.Fatal(err)
	}
	day := storetest.Start.Truncate(24 * time.Hour)
	typed, err := s.AddResult(ctx, a, store.NewResult{PatientID: p.ID, Kind: store.HbA1c, Value: "41", Unit: "mmol/mol", TakenAt: day})
	if err != nil {
		t.Fatal(err)
	}
	e := store.Statement{PatientID: p.ID, Key: "k", Status: store.StatementFinal, Issued: storetest.Start, Kind: store.HbA1c, Value: "41", Unit: "mmol/mol", Taken: day.Add(8 * time.Hour)}
	if _, err := s.FileMessages(ctx, statement("a", e)); err != nil {
		t.Fatal(err)
	}
	list, err := s.Results(ctx, p.ID)
	if err != nil || len(list) != 1 || list[0].ID != typed || list[0].FileID == 0 || list[0].From != "a.hl7" {
		t.Fatalf("on record: %+v, %v", list, err)
	}
	// Taken back by a person, it is not brought back by a repeat.
	if err := s.WithdrawResult(ctx, a, typed, "another's"); err != nil {
		t.Fatal(err)
	}
	e.Issued = e.Issued.Add(time.Hour)
	if _, err := s.FileMessages(ctx, statement("b", e)); err != nil {
		t.Fatal(err)
	}
	list, err = s.Results(ctx, p.ID)
	if err != nil || len(list) != 1 || list[0].Withdrawn.IsZero() {
		t.Fatalf("after it was taken back: %+v, %v", list, err)
	}
}
