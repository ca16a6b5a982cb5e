package store_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// A severe symptom is heard wherever staff type it: it stands among the words of
// the wear that it is judged by.
func TestSevereWordsAreHeardWhereverTheyAreTyped(t *testing.T) {
	w := newWard(t)
	recall := func() int64 {
		id, err := w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallReview, DueAt: w.clock.Now().Add(7 * day)})
		must(t, err)
		return id
	}
	readings := func() wear.Reading {
		in, err := w.WearInputs(ctx, w.wear)
		must(t, err)
		return in.Readings[300]
	}
	reached := func(text string) store.NewContact {
		return store.NewContact{Means: store.ByTelephone, Reached: true, Note: text}
	}
	for i, act := range []struct {
		name string
		do   func(text string) error
	}{
		{"note of the wear", func(s string) error { _, err := w.AddNote(ctx, w.nurse, w.wear, s); return err }},
		{"note of the patient", func(s string) error { _, err := w.AddPatientNote(ctx, w.nurse, w.patient.ID, s); return err }},
		{"note of a call", func(s string) error {
			_, err := w.RecordCall(ctx, w.nurse, w.wear, store.CallSheet{Note: s})
			return err
		}},
		{"try of a recall", func(s string) error { _, err := w.ContactRecall(ctx, w.nurse, recall(), reached(s)); return err }},
		{"note of a recall", func(s string) error {
			_, err := w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallReview, DueAt: w.clock.Now().Add(day), Note: s})
			return err
		}},
		{"recall done", func(s string) error { return w.CloseRecall(ctx, w.nurse, recall(), s, 0) }},
		{"recall cancelled", func(s string) error { return w.CancelRecall(ctx, w.nurse, recall(), s, 0) }},
		{"recall moved", func(s string) error { return w.MoveRecall(ctx, w.nurse, recall(), w.clock.Now().Add(day), s, 0) }},
		{"result", func(s string) error {
			n := w.hba1c(0)
			n.Note = s
			_, err := w.AddResult(ctx, w.nurse, n)
			return err
		}},
		{"override", func(s string) error {
			at := time.Unix(readings().At, 0)
			_, err := w.AddOverride(ctx, w.nurse, store.NewOverride{WearID: w.wear, From: at, To: at, Reason: s})
			return err
		}},
		{"contact on the register", func(s string) error {
			r, err := w.PatientRecord(ctx, w.patient.ID)
			must(t, err)
			r.Contact.Note = s
			return w.EditPatient(ctx, w.nurse, r)
		}},
		{"take-over", func(s string) error {
			w.claim(t, w.other, w.wear)
			_, err := w.TakeOver(ctx, w.clinician, w.wear, s)
			return err
		}},
		{"try of the wear", func(s string) error { _, err := w.RecordContact(ctx, w.clinician, w.wear, reached(s)); return err }},
		{"hand-over", func(s string) error {
			_, err := w.HandOver(ctx, w.clinician, w.wear, store.NewHandover{To: store.RoleClinician, Reason: s})
			return err
		}},
		{"outcome", func(s string) error {
			w.claim(t, w.clinician, w.wear)
			o := w.outcome(store.AdviceGiven)
			o.Reason = s
			_, err := w.RecordOutcome(ctx, w.clinician, o)
			return err
		}},
		{"reopening", func(s string) error { return w.Reopen(ctx, w.nurse, w.wear, s) }},
	} {
		text := fmt.Sprintf("she collapsed, %d", i)
		if err := act.do(text); err != nil {
			t.Errorf("%s: %v", act.name, err)
			continue
		}
		in, err := w.WearInputs(ctx, w.wear)
		must(t, err)
		if !slices.ContainsFunc(in.Notes, func(n wear.NoteText) bool { return strings.Contains(n.Text, text) }) {
			t.Errorf("%s: what was typed is no word of the wear", act.name)
		}
	}
}

// Each column that people fill freely is heard, or says why it is not.
func TestEveryTextColumnIsHeardOrSaysWhy(t *testing.T) {
	const heard = ""
	why := map[string]string{
		"calls.answers": heard, "contacts.note": heard, "notes.text": heard, "handovers.reason": heard, "outcomes.reason": heard, "overrides.reason": heard,
		"recalls.note": heard, "recalls.reason": heard, "results.note": heard, "reopenings.reason": heard, "patients.contact": heard,
		"added_events.event": heard, "merges.reason": heard, "moves.reason": heard,
		"audit.reason":          "tells again what stands elsewhere",
		"drops.reason":          "the program's words about a file",
		"letters.text":          "composed from what is on record, and sent to the patient",
		"letter_templates.text": "of no patient",
		"recipes.answers":       "of a layout, and of no patient",
		"recipes.reason":        "of a layout, and of no patient",
		"statements.note":       "what a laboratory wrote; no staff",
	}
	w := newWard(t)
	_, reader := w.Pools()
	rows, err := reader.Query(`SELECT m.name || '.' || c.name FROM sqlite_schema m JOIN pragma_table_info(m.name) c
		WHERE m.type = 'table' AND c.type = 'TEXT' AND c.name IN ('reason', 'note', 'text', 'answers', 'contact', 'event', 'remark', 'comment', 'words')`)
	must(t, err)
	defer rows.Close()
	for rows.Next() {
		var column string
		must(t, rows.Scan(&column))
		if _, known := why[column]; !known {
			t.Errorf("%s: is what people type there heard? See (*tx).hear; or give the reason here", column)
		}
	}
	must(t, rows.Err())
}
