package intake

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/worker/sim/messy"
	"wearround/worker/wear"
)

// The one-pass reader must give what the full way gives, for every file whose
// layout has a plan, whether the plan comes from the file or from its recipe as
// it was stored.
func TestPlanAgrees(t *testing.T) {
	at := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	classes := messy.Classes()
	filed, planned, taken := 0, 0, 0
	try := func(seed uint64, numbers ...int) {
		m := messy.New(seed, numbers...)
		o := Options{Zone: m.Zone, Now: at, Answers: m.Answers}
		text, _, ref := new(ledger).decode(m.Data)
		if ref != nil {
			return
		}
		head, ok := sketchOf(text)
		if !ok {
			return
		}
		full := &ledger{zone: o.Zone, answers: o.Answers, head: &head}
		table, ref := full.dialect(string(text), at.Unix())
		if ref != nil {
			return
		}
		if line, _ := table.swallowed(); line > 0 {
			return
		}
		want := &Result{}
		if ref := full.readTable(table, o, at.Unix(), want); ref != nil || len(full.questions) > 0 {
			return
		}
		filed++
		full.remember(nil, want.Recipe.Plan, want)
		if want.Recipe.Plan == nil {
			return
		}
		planned++
		stored, err := json.Marshal(want.Recipe)
		if err != nil {
			t.Fatal(err)
		}
		var recipe Recipe
		if err := json.Unmarshal(stored, &recipe); err != nil {
			t.Fatal(err)
		}
		quick := &ledger{zone: o.Zone, recipe: recipe.Answers, head: &head}
		got := &Result{}
		if !quick.byPlan(text, recipe.Plan, o, got) {
			return
		}
		taken++
		type outcome struct {
			Unit          wear.Unit
			Hint          string
			Rows, Skipped int
			Readings      []wear.Reading
			Events        []wear.Event
		}
		of := func(r *Result) outcome {
			return outcome{r.Unit, r.PatientHint, r.Rows, r.Skipped, r.Readings, r.Events}
		}
		if d := cmp.Diff(of(want), of(got)); d != "" {
			t.Errorf("%v seed %d: the plan gives something else (-full +plan):\n%.1500s", numbers, seed, d)
		}
	}
	pairs := 2
	if testing.Short() || RaceDetector {
		pairs = 0
	}
	for i := range classes {
		for s := range 3 {
			try(uint64(500000+10*i+s), classes[i].Number)
		}
		for j := i + 1; j < len(classes); j++ {
			for s := range pairs {
				try(uint64(600000+1000*i+20*j+s), classes[i].Number, classes[j].Number)
			}
		}
	}
	t.Logf("%d files filed in full, %d of them with a plan, %d read by it", filed, planned, taken)
	if taken*4 < filed {
		t.Errorf("only %d of %d files were read by a plan", taken, filed)
	}
}
