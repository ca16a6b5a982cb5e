package intake_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/sim/messy"
	"wearround/worker/wear"
)

// book is what a practice remembers, by layout.
type book map[string]intake.Recipe

func (b book) lookUp(layout string) (intake.Recipe, bool) {
	r, ok := b[layout]
	return r, ok
}

// keep stores a recipe as it would be stored.
func (b book) keep(t *testing.T, r intake.Recipe) {
	t.Helper()
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var stored intake.Recipe
	if err := json.Unmarshal(text, &stored); err != nil {
		t.Fatal(err)
	}
	b[r.Layout] = stored
}

// An answer about a layout settles the next file of it, and only where that
// file's own values leave the choice open.
func TestRecipeAnswers(t *testing.T) {
	oneDay := func(day time.Time, layout string) []byte {
		return []byte("Date,Time,Glucose (mmol/L)\n" + lines(40, day, func(i int, at time.Time) string {
			return at.Format(layout+",15:04,") + value(i, wear.MmolL)
		}))
	}
	april := time.Date(2026, 4, 3, 9, 0, 0, 0, time.UTC)
	b := book{}
	o := intake.Options{Zone: time.UTC, Now: now, Recipe: b.lookUp}
	held := intake.Read(oneDay(april, "02/01/2006"), o)
	if len(held.Questions) != 1 || held.Questions[0].Code != "day_order" || held.Layout == "" {
		t.Fatalf("questions %+v, layout %q", held.Questions, held.Layout)
	}
	for _, c := range held.Questions[0].Choices {
		if c.Value != "none" && (len(c.Rows) == 0 || !strings.HasPrefix(c.Rows[0], "03/04/2026 is ")) {
			t.Errorf("rows under %s: %q", c.Value, c.Rows)
		}
	}
	o.Answers = map[string]string{"day_order": "day_month_year"}
	first := intake.Read(oneDay(april, "02/01/2006"), o)
	if len(first.Readings) != 40 || first.ByRecipe || first.Recipe.Layout != held.Layout || first.Recipe.Answers["day_order"] != "day_month_year" {
		t.Fatalf("%d readings, recipe %+v", len(first.Readings), first.Recipe)
	}
	b.keep(t, first.Recipe)
	o.Answers = nil
	next := time.Date(2026, 6, 5, 9, 0, 0, 0, time.UTC)
	second := intake.Read(oneDay(next, "02/01/2006"), o)
	if len(second.Questions) > 0 || !second.ByRecipe || second.Readings[0].At != next.Unix() || second.Recipe.Answers["day_order"] == "" {
		t.Errorf("the next file: questions %+v, by recipe %v", second.Questions, second.ByRecipe)
	}
	other := time.Date(2026, 6, 25, 9, 0, 0, 0, time.UTC)
	third := intake.Read(oneDay(other, "01/02/2006"), o) // its values say month first
	if len(third.Questions) > 0 || third.Readings[0].At != other.Unix() {
		t.Errorf("a file that decides otherwise: questions %+v, first reading %v", third.Questions, third.Readings)
	}
}

// A remembered unit never settles values that may have lost their decimal mark,
// and values that are surely in the other unit are read in it.
func TestRecipeUnit(t *testing.T) {
	file := func(from int) []byte {
		return []byte("time,glucose\n" + lines(60, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + fmt.Sprintf(",%d", from+i%9)
		}))
	}
	b := book{}
	o := intake.Options{Zone: time.UTC, Now: now, Recipe: b.lookUp, Answers: map[string]string{"unit": "mg/dL"}}
	low := intake.Read(file(55), o)
	if len(low.Readings) != 60 || low.Unit != wear.MgdL {
		t.Fatalf("%+v", low)
	}
	b.keep(t, low.Recipe)
	o.Answers = nil
	if res := intake.Read(file(56), o); len(res.Questions) != 1 || res.Questions[0].Code != "unit" {
		t.Errorf("values from 56 to 64 in the same layout: questions %+v", res.Questions)
	}
	if res := intake.Read(file(100), o); len(res.Readings) != 60 || res.Unit != wear.MgdL {
		t.Errorf("values from 100 to 108: questions %+v", res.Questions)
	}
}

// A recipe holds nothing of the person whose file it was made from.
func TestRecipeHoldsNoPerson(t *testing.T) {
	for seed := range uint64(40) {
		m := messy.New(seed, 31, 14)
		o := intake.Options{Zone: m.Zone, Now: now, Answers: m.Answers}
		text, err := json.Marshal(intake.Read(m.Data, o).Recipe)
		if err != nil {
			t.Fatal(err)
		}
		for _, own := range []string{m.People[0].Code, "shaky", "porridge", "rice"} {
			if strings.Contains(string(text), own) {
				t.Errorf("seed %d: the recipe holds %q: %s", seed, own, text)
			}
		}
	}
}

// A book of recipes without answers, made from every sort of messy file, files
// none of them wrong.
func TestRecipesFileNothingWrong(t *testing.T) {
	classes := messy.Classes()
	b := book{}
	byRecipe, filed := 0, 0
	step := 1
	if small {
		step = 4
	}
	for round := range 2 {
		for i := range classes {
			for j := i; j < len(classes); j += step + 3*round {
				m := messy.New(uint64(900000+10000*round+100*i+j), classes[i].Number, classes[j].Number)
				res := intake.Read(m.Data, intake.Options{Zone: m.Zone, Now: now, Recipe: b.lookUp})
				if res.Refusal != nil || len(res.Questions) > 0 {
					continue
				}
				filed++
				if res.ByRecipe {
					byRecipe++
				}
				if d := compare(m, res, false); d != "" {
					t.Errorf("%v and %v, by recipe %v: %s", classes[i], classes[j], res.ByRecipe, d)
				}
				if res.Recipe.Layout != "" {
					b.keep(t, intake.Recipe{Layout: res.Recipe.Layout, Plan: res.Recipe.Plan})
				}
			}
		}
	}
	t.Logf("%d files filed, %d of them by a recipe", filed, byRecipe)
	if byRecipe < filed/10 {
		t.Errorf("only %d of %d files by a recipe", byRecipe, filed)
	}
}

// A plan that came from elsewhere, or was tampered with, is checked and does no
// harm.
func TestRecipeTampered(t *testing.T) {
	data := twoWeeks()
	o := intake.Options{Zone: time.UTC, Now: now}
	right := intake.Read(data, o)
	for _, spoil := range []func(p *intake.Plan){
		func(p *intake.Plan) { p.Auto = 99 },
		func(p *intake.Plan) { p.Auto = -1 },
		func(p *intake.Plan) { p.When.Col = 2 },
		func(p *intake.Plan) { p.Columns = p.Columns[:1] },
		func(p *intake.Plan) { p.Version++ },
		func(p *intake.Plan) { p.Unit = wear.MgdL },
		func(p *intake.Plan) { p.Notes = []int{-5} },
		func(p *intake.Plan) { p.Notes = []int{1} },
		func(p *intake.Plan) { p.Kind = 1 },
		func(p *intake.Plan) { p.Scan, p.Finger, p.Person, p.UnitCol = 1, 1, 1, 2 },
	} {
		var recipe intake.Recipe
		text, err := json.Marshal(right.Recipe)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(text, &recipe); err != nil {
			t.Fatal(err)
		}
		spoil(recipe.Plan)
		o.Recipe = func(string) (intake.Recipe, bool) { return recipe, true }
		if res := intake.Read(data, o); res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) != len(right.Readings) {
			t.Errorf("%+v: %d readings, refusal %+v, questions %+v", recipe.Plan, len(res.Readings), res.Refusal, res.Questions)
		}
	}
}

func TestRemembered(t *testing.T) {
	for code, want := range map[string]bool{
		"unit": true, "day_order": true, "word:LOW": true, "type:6": true, "zone": true, "sheet": true,
		"people": false, "column:3": false, "repeated_hour": false, "clock_reset:2": false, "unreadable_rows": false,
		"conflicts": false, "cadence": false, "two_series": false, "cut_short": false, "status": false, "": false,
	} {
		if got := intake.Remembered(code); got != want {
			t.Errorf("Remembered(%q) = %v, want %v", code, got, want)
		}
	}
}
