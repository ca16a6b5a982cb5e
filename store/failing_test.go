package store_test

import (
	"crypto/sha256"
	"database/sql"
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// act is something that a person does, on a ward made ready for it.
type act struct {
	name  string
	ready func(*testing.T, *ward)
	do    func(*ward) error
}

func acts() []act {
	claimed := func(t *testing.T, w *ward) { w.claim(t, w.nurse, w.wear) }
	var result, event, override, recall, outcome, merge, letter int64
	return []act{
		{"file a wear", nil, func(w *ward) error {
			_, _, err := w.File(ctx, storetest.Filing(77, w.patient.ID, w.clock.Now(), 2, wear.ThisWeek, 4))
			return err
		}},
		{"claim", nil, func(w *ward) error { _, err := w.Claim(ctx, w.nurse, w.wear); return err }},
		{"take over", claimed, func(w *ward) error { _, err := w.TakeOver(ctx, w.other, w.wear, "went home"); return err }},
		{"release", claimed, func(w *ward) error { return w.Release(ctx, w.nurse, w.wear) }},
		{"outcome with a recall", claimed, func(w *ward) error {
			_, err := w.RecordOutcome(ctx, w.nurse, w.outcome(store.TestsOrdered))
			return err
		}},
		{"another outcome", func(t *testing.T, w *ward) {
			claimed(t, w)
			o, err := w.RecordOutcome(ctx, w.nurse, w.outcome(store.TestsOrdered))
			must(t, err)
			outcome = o.ID
		}, func(w *ward) error {
			_, err := w.CorrectOutcome(ctx, w.nurse, outcome, store.NewOutcome{WearID: w.wear, Kind: store.OffPathway, Reason: "looked after elsewhere"})
			return err
		}},
		{"outcome undone", func(t *testing.T, w *ward) {
			claimed(t, w)
			o, err := w.RecordOutcome(ctx, w.nurse, w.outcome(store.TestsOrdered))
			must(t, err)
			outcome = o.ID
		}, func(w *ward) error { return w.UndoOutcome(ctx, w.nurse, outcome) }},
		{"reopen", func(t *testing.T, w *ward) {
			claimed(t, w)
			_, err := w.RecordOutcome(ctx, w.nurse, w.outcome(store.TestsOrdered))
			must(t, err)
		}, func(w *ward) error { return w.Reopen(ctx, w.nurse, w.wear, "rang back") }},
		{"add events", nil, func(w *ward) error {
			return w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{{At: w.first(), Kind: wear.Meal, Label: "rice"}})
		}},
		{"take an event back", func(t *testing.T, w *ward) {
			must(t, w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{{At: w.first(), Kind: wear.Meal, Label: "rice"}}))
			event = w.review(t).Events[0].ID
		}, func(w *ward) error { return w.WithdrawEvent(ctx, w.nurse, event, "another's") }},
		{"overrule", nil, func(w *ward) error { _, err := w.AddOverride(ctx, w.nurse, w.doubt()); return err }},
		{"take a word on readings back", func(t *testing.T, w *ward) {
			id, err := w.AddOverride(ctx, w.nurse, w.doubt())
			must(t, err)
			override = id
		}, func(w *ward) error { return w.WithdrawOverride(ctx, w.nurse, override, "was awake") }},
		{"result that closes a recall", func(t *testing.T, w *ward) { recall = w.recallOf(t, store.TestsOrdered).ID },
			func(w *ward) error { _, err := w.AddResult(ctx, w.nurse, w.hba1c(recall)); return err }},
		{"take a result back", func(t *testing.T, w *ward) {
			id, err := w.AddResult(ctx, w.nurse, w.hba1c(w.recallOf(t, store.TestsOrdered).ID))
			must(t, err)
			result = id
		}, func(w *ward) error { return w.WithdrawResult(ctx, w.nurse, result, "another's") }},
		{"merge", func(t *testing.T, w *ward) { w.twin(t) }, func(w *ward) error {
			_, err := w.Merge(ctx, w.nurse, w.patient.ID, w.patient.ID+1, "entered twice")
			return err
		}},
		{"merge undone", func(t *testing.T, w *ward) {
			w.twin(t)
			id, err := w.Merge(ctx, w.nurse, w.patient.ID, w.patient.ID+1, "entered twice")
			must(t, err)
			merge = id
		}, func(w *ward) error { return w.UndoMerge(ctx, w.nurse, merge, "two people") }},
		{"contact", claimed, func(w *ward) error {
			_, err := w.RecordContact(ctx, w.nurse, w.wear, store.NewContact{At: w.clock.Now(), Means: store.ByTelephone, Reached: true})
			return err
		}},
		{"note", nil, func(w *ward) error { _, err := w.AddNote(ctx, w.nurse, w.wear, "left word"); return err }},
		{"recall by hand", nil, func(w *ward) error {
			_, err := w.AddRecall(ctx, w.nurse, store.NewRecall{PatientID: w.patient.ID, Kind: store.RecallReview, DueAt: w.clock.Now().Add(day)})
			return err
		}},
		{"close a recall", func(t *testing.T, w *ward) { recall = w.recallOf(t, store.TestsOrdered).ID },
			func(w *ward) error { return w.CloseRecall(ctx, w.nurse, recall, "came by post", 0) }},
		{"write a letter", nil, func(w *ward) error {
			_, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "tests", Text: "Dear"})
			return err
		}},
		{"throw a letter away", func(t *testing.T, w *ward) {
			id, err := w.OpenLetter(ctx, w.nurse, store.NewLetter{PatientID: w.patient.ID, WearID: w.wear, Kind: "tests", Text: "Dear"})
			must(t, err)
			letter = id
		}, func(w *ward) error { return w.DiscardLetter(ctx, w.nurse, letter) }},
		{"import a list", nil, func(w *ward) error {
			_, err := w.ImportRegister(ctx, w.nurse, []store.RegisterLine{{Code: "P-9", Name: "Dova Remi", BirthDate: "1961-04-09"}})
			return err
		}},
	}
}

func (w *ward) first() int64 {
	in, err := w.WearInputs(ctx, w.wear)
	if err != nil {
		panic(err)
	}
	return in.Readings[0].At
}

func (w *ward) doubt() store.NewOverride {
	from := time.Unix(w.first(), 0)
	return store.NewOverride{WearID: w.wear, From: from, To: from.Add(day / 24), Reason: "slept on it"}
}

// twin adds another entry of the patient with a wear of its own.
func (w *ward) twin(t *testing.T) {
	one := w.patient
	w.patient = w.twinEntry(t)
	w.file(t)
	w.patient = one
}

// twinEntry adds another entry of the patient.
func (w *ward) twinEntry(t *testing.T) store.Patient {
	t.Helper()
	p := storetest.Patient(2)
	p.BirthDate, p.Context.BirthYear = w.patient.BirthDate, w.patient.Context.BirthYear
	must(t, w.AddPatients(ctx, []store.Patient{p}))
	p, err := w.PatientByCode(ctx, p.Code)
	must(t, err)
	return p
}

// A statement that fails, whichever it is, fails the whole act and leaves
// everything as it was: no act is done by halves, and none says that it was done.
func TestWhicheverStatementFails(t *testing.T) {
	for _, a := range acts() {
		t.Run(a.name, func(t *testing.T) {
			ready := func() *ward {
				w := newWard(t, wear.FlagAbove7_8)
				if a.ready != nil {
					a.ready(t, w)
				}
				return w
			}
			w := ready()
			changes := watch(t, w)
			if must(t, a.do(w)); len(changes()) < 2 { // it and its line of the log
				t.Fatalf("it changes %v", changes())
			}
			w = ready()
			writer, _ := w.Pools()
			before := everything(t, w.Store)
			for _, c := range changes() {
				op, table, _ := strings.Cut(c, " ")
				must(t, exec(writer, fmt.Sprintf("CREATE TEMP TRIGGER fails BEFORE %s ON main.%s BEGIN SELECT RAISE(ABORT, 'no room'); END", op, table)))
				err := a.do(w)
				must(t, exec(writer, "DROP TRIGGER fails"))
				if err == nil {
					t.Fatalf("%s fails, and it says that it was done", c)
				}
				if everything(t, w.Store) != before {
					t.Fatalf("%s fails, and half of it is done", c)
				}
			}
		})
	}
}

// watch gives what the writer changes from now on: "INSERT notes", each once.
func watch(t *testing.T, w *ward) (changes func() []string) {
	t.Helper()
	writer, _ := w.Pools()
	must(t, exec(writer, "CREATE TEMP TABLE seen (what TEXT)"))
	for _, table := range tables(t, w.Store) {
		for _, op := range []string{"INSERT", "UPDATE", "DELETE"} {
			must(t, exec(writer, fmt.Sprintf("CREATE TEMP TRIGGER sees_%s_%s AFTER %s ON main.%s BEGIN INSERT INTO seen VALUES ('%s %s'); END", op, table, op, table, op, table)))
		}
	}
	var list []string
	return func() []string {
		if list == nil {
			list = column(t, writer, "SELECT what FROM temp.seen GROUP BY what ORDER BY min(rowid)")
		}
		return list
	}
}

// tables are those that hold the practice's data.
func tables(t *testing.T, s *store.Store) []string {
	t.Helper()
	_, reader := s.Pools()
	return column(t, reader, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
}

// everything is a hash of all rows of all tables.
func everything(t *testing.T, s *store.Store) [sha256.Size]byte {
	t.Helper()
	_, reader := s.Pools()
	h := sha256.New()
	for _, table := range tables(t, s) {
		columns := column(t, reader, "SELECT group_concat('quote(' || name || ')', ' || ') FROM pragma_table_info('"+table+"')")
		for _, row := range column(t, reader, "SELECT "+columns[0]+" FROM "+table+" ORDER BY 1") {
			fmt.Fprintln(h, table, row)
		}
	}
	return [sha256.Size]byte(h.Sum(nil))
}

func column(t *testing.T, db *sql.DB, query string) []string {
	t.Helper()
	rows, err := db.Query(query)
	must(t, err)
	defer rows.Close()
	var out []string
	for rows.Next() {
		var v string
		must(t, rows.Scan(&v))
		out = append(out, v)
	}
	must(t, rows.Err())
	return out
}

func exec(db *sql.DB, query string) error {
	_, err := db.Exec(query)
	return err
}
