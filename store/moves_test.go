package store_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
)

// whole is whose everything is, and where each wear stands.
func (w *ward) whole(t *testing.T) (lines []string) {
	t.Helper()
	_, reader := w.Pools()
	for _, query := range []string{
		"SELECT json_array('wear', id, patient_id, open, due_at, back_at, tier, first_tier, evidence) FROM wears ORDER BY id",
		"SELECT json_array('recall', id, patient_id, state, due_at, about_result) FROM recalls ORDER BY id",
		"SELECT json_array('result', id, patient_id) FROM results ORDER BY id",
		"SELECT json_array('note', id, patient_id) FROM notes ORDER BY id",
		"SELECT json_array('contact', id, patient_id) FROM contacts ORDER BY id",
		"SELECT json_array('file', id, patient_id, state) FROM files ORDER BY id",
		"SELECT json_array('answer', file_id, code, value) FROM answers ORDER BY file_id, code",
	} {
		lines = append(lines, column(t, reader, query)...)
	}
	return lines
}

// A wear that is not this patient's goes to whose it is, with what was recorded
// of it and, where somebody says so, the results; its outcome was of somebody
// else. A letter about it can no longer go. Moved back, all is as it was.
func TestMoveWear(t *testing.T) {
	for _, results := range []bool{false, true} {
		w := newWard(t)
		other := storetest.AddPatient(t, w.Store, 7)
		w.claim(t, w.clinician, w.wear)
		n := w.hba1c(0)
		n.WearID, n.Value = w.wear, "97"
		id, err := w.AddResult(ctx, w.clinician, n)
		must(t, err)
		must(t, second(w.AddNote(ctx, w.clinician, w.wear, "rang at noon")))
		must(t, second(w.RecordOutcome(ctx, w.clinician, w.outcome(store.TestsOrdered))))
		letter, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "tests", Text: "Dear"})
		must(t, err)
		w.clock.Advance(day)
		before := w.whole(t)

		wants(t, second(w.MoveWear(ctx, w.nurse, store.NewMove{WearID: w.wear, To: other.ID})), store.Invalid, "reason")
		wants(t, second(w.MoveWear(ctx, w.nurse, store.NewMove{WearID: w.wear, To: w.patient.ID, Reason: "mixed up"})), store.Conflict, "already")
		moved, err := w.MoveWear(ctx, w.nurse, store.NewMove{WearID: w.wear, To: other.ID, Reason: "the nurse of the day mixed them up", Results: results})
		if must(t, err); moved != 1 {
			t.Errorf("%d wears moved", moved)
		}
		v := w.review(t)
		if !v.Open || len(v.Notes) != 1 {
			t.Errorf("after the move: %+v", v)
		}
		theirs, err := w.Results(ctx, other.ID)
		if must(t, err); (len(theirs) == 1) != results {
			t.Errorf("results moved: %d, asked for: %t", len(theirs), results)
		}
		list, err := w.Recalls(ctx, store.RecallQuery{PatientID: w.patient.ID, Limit: 10})
		must(t, err)
		stays := 0
		for _, r := range list.Rows {
			if r.AboutResult == id {
				stays++
			}
		}
		if (stays == 1) == results {
			t.Errorf("a decision on the result is with whose it was not: %+v", list.Rows)
		}
		wants(t, w.SendLetter(ctx, w.nurse, letter, "Dear", store.ByPost), store.Conflict, "moved")
		f, _, err := w.KnownFile(ctx, storetest.Hash(1))
		must(t, err)
		if f.Answers["patient"] != "" && f.Answers["patient"] != other.Code {
			t.Errorf("read again, its file would be %s's", f.Answers["patient"])
		}

		must(t, second(w.MoveWear(ctx, w.nurse, store.NewMove{WearID: w.wear, To: w.patient.ID, Reason: "it was right", Results: results})))
		if diff := cmp.Diff(before, w.whole(t)); diff != "" {
			t.Errorf("moved back (-before +after):\n%s", diff)
		}
		moves, err := w.Moves(ctx, w.wear)
		if must(t, err); len(moves) != 1 || moves[0].UndoneAt.IsZero() || moves[0].From.ID != w.patient.ID || moves[0].To.ID != other.ID {
			t.Errorf("moves: %+v", moves)
		}
		must(t, w.SendLetter(ctx, w.nurse, letter, "Dear", store.ByPost))
	}
}

// What is about an entry that was merged away is refused: nobody would find it.
func TestNothingIsRecordedOfAMergedEntry(t *testing.T) {
	w := newWard(t)
	other := w.twinEntry(t)
	must(t, second(w.Merge(ctx, w.lead, w.patient.ID, other.ID, "entered twice")))
	n := w.hba1c(0)
	n.PatientID = other.ID
	wants(t, second(w.AddResult(ctx, w.nurse, n)), store.Conflict, "joined")
	wants(t, second(w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: other.ID, Kind: store.RecallReview, DueAt: w.clock.Now().Add(day)})), store.Conflict, "joined")
	wants(t, second(w.AddPatientNote(ctx, w.nurse, other.ID, "x")), store.Conflict, "joined")
	wants(t, second(w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: other.ID, Kind: "tests", Text: "Dear"})), store.Conflict, "joined")
}
