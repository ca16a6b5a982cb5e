package worker

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"wearround/store"
	"wearround/worker/wear"
)

// TestEveryClaimantIsOffered: of a file that came under several patients' names,
// each of them can be chosen.
func TestEveryClaimantIsOffered(t *testing.T) {
	codes := []string{"P-0417", "P-0500", "P-0501", "P-0502", "P-0503"}
	b := newBench(t, codes...)
	data := export(1, 8, 0)
	for _, c := range codes {
		write(t, b.Drop, c+"_a.csv", data)
		b.settleAndLook()
	}
	b.look(context.Background())
	held, err := b.store.FileByID(context.Background(), b.drops()["P-0417_a.csv"].FileID)
	if err != nil || held.State != store.Held || len(held.Questions) != 1 {
		t.Fatalf("%s with %+v, %v", held.State, held.Questions, err)
	}
	var offered []string
	for _, c := range held.Questions[0].Choices {
		offered = append(offered, c.Value)
	}
	for _, c := range codes {
		if !strings.Contains(strings.Join(offered, " "), c) {
			t.Errorf("%s is not offered: %q", c, offered)
		}
	}
}

// TestAFileThatContradictsTheRegister: a sex, a birth date or a code inside a file
// that is not the patient's is asked about, and what a person answers holds.
func TestAFileThatContradictsTheRegister(t *testing.T) {
	for i, c := range []struct {
		above string
		asked bool
	}{
		{"Sex: male", true}, {"Sex: female", false}, {"Geschlecht: m", true}, {"Sex: f", false}, {"Born: 1961-02-03", false}, {"Born: 1975-08-09", true}, {"Date of birth: 03/02/1961", false},
		{"Born: 1961", false}, {"Born: 1962", true}, {"Patient: P-0999", true}, {"Patient: P-0417", false}, {"Patient: 17", false}, {"Sex: male\nPatient: P-0417", true},
	} {
		b := newBench(t)
		ctx := context.Background()
		if err := b.store.AddPatients(ctx, []store.Patient{{Code: "P-0417", BirthDate: "1961-02-03", Context: wear.Context{Sex: "female"}}}); err != nil {
			t.Fatal(err)
		}
		name := fmt.Sprintf("P-0417_%d.csv", i)
		write(t, b.Drop, name, c.above+"\n"+export(1, 8, 0))
		b.settleAndLook()
		d := b.drops()[name]
		if asked := d.Fate == store.Held && d.Code == "patient"; asked != c.asked || !asked && d.Fate != store.Filed {
			t.Errorf("%q: %s (%s)", c.above, d.Fate, d.Reason)
		}
		if !c.asked {
			continue
		}
		b.answer(name, "patient", "P-0417")
		b.look(ctx)
		if d := b.drops()[name]; d.Fate != store.Filed {
			t.Errorf("%q answered: %s (%s)", c.above, d.Fate, d.Reason)
		}
	}
}

// TestHeldFileStandsAgainstThePatientsWears: a file whose name says whose it is
// waits against that patient's wears, whatever is asked about it.
func TestHeldFileStandsAgainstThePatientsWears(t *testing.T) {
	b := newBench(t, "P-0417", "P-0500")
	write(t, b.Drop, "P-0417_a.csv", export(1, 3, 0))
	write(t, b.Drop, "P-0500_a.csv", export(1, 3, 4))
	b.settleAndLook()
	write(t, b.Drop, "P-0417_q.csv", strings.Replace(export(8, 3, 0), "glucose mmol/L", "quantity", 1))
	b.settleAndLook()
	b.want("P-0417_q.csv", store.Held, "glucose_column")
	for name, want := range map[string]int{"P-0417_a.csv": 1, "P-0500_a.csv": 0} {
		if n := b.wearOf(b.want(name, store.Filed, "")).Report.Around.Waiting; n != want {
			t.Errorf("%s: %d files wait that may change it, want %d", name, n, want)
		}
	}
}
