package worker

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"wearround/store"
	"wearround/worker/intake"
	"wearround/worker/wear"
)

// unitless is an export whose heading and values disagree about the unit, so
// that a person must say which is right.
func unitless(firstDay, days, shift int) string {
	return strings.Replace(export(firstDay, days, shift), "glucose mmol/L", "glucose mg/dL", 1)
}

// worded is an export in which some values are a word that a person must
// explain.
func worded(firstDay, days, shift int) string {
	lines := strings.SplitAfter(export(firstDay, days, shift), "\n")
	for i := 40; i < len(lines)-1; i += 500 {
		at, _, _ := strings.Cut(lines[i], ",")
		lines[i] = at + ",qux\n"
	}
	return strings.Join(lines, "")
}

// answer answers one question of the file and has it read again.
func (b *bench) answer(path, code, value string) {
	b.t.Helper()
	if err := b.store.Answer(context.Background(), b.drops()[path].FileID, map[string]string{code: value}); err != nil {
		b.t.Fatal(err)
	}
	b.look(context.Background())
}

// want fails the test unless the file has come to the given end.
func (b *bench) want(path string, outcome store.Fate, code string) store.DropRow {
	b.t.Helper()
	d, ok := b.drops()[path]
	if !ok || d.Fate != outcome || outcome != store.Filed && d.Code != code {
		b.t.Fatalf("%s: %s (%s) %q, want %s (%s)", path, d.Fate, d.Code, d.Reason, outcome, code)
	}
	return d
}

// recipeList gives all recipes, oldest first.
func (b *bench) recipeList() []store.Recipe {
	b.t.Helper()
	list, err := b.store.Recipes(context.Background())
	if err != nil {
		b.t.Fatal(err)
	}
	byID := make([]store.Recipe, len(list))
	for _, r := range list {
		byID[r.ID-1] = r
	}
	return byID
}

func (b *bench) wearOf(d store.DropRow) store.Wear {
	b.t.Helper()
	if len(d.WearIDs) != 1 {
		b.t.Fatalf("%s brought %d wears, want 1", d.Path, len(d.WearIDs))
	}
	w, err := b.store.Wear(context.Background(), d.WearIDs[0])
	if err != nil {
		b.t.Fatal(err)
	}
	return w
}

func TestAnAnswerServesTheWholeLayout(t *testing.T) {
	b := newBench(t, "P-1", "P-2", "P-3")
	write(t, b.Drop, "P-1_a.csv", unitless(1, 8, 0))
	write(t, b.Drop, "P-2_b.csv", unitless(1, 8, 1))
	b.settleAndLook()
	b.want("P-1_a.csv", store.Held, "unit")
	b.want("P-2_b.csv", store.Held, "unit")

	b.answer("P-1_a.csv", "unit", "mmol/L")
	a := b.want("P-1_a.csv", store.Filed, "")
	second := b.want("P-2_b.csv", store.Filed, "") // by itself
	write(t, b.Drop, "P-3_c.csv", unitless(1, 8, 2))
	b.settleAndLook()
	third := b.want("P-3_c.csv", store.Filed, "")

	list := b.recipeList()
	if len(list) != 1 || list[0].State != store.InForce || list[0].Files != 3 || list[0].Wears != 3 || list[0].FileID != a.FileID {
		t.Fatalf("recipes: %+v", list)
	}
	if got := list[0].Answers; len(got) != 1 || got[0].Code != "unit" || got[0].Answer != "mmol/L" {
		t.Errorf("the recipe remembers %+v", got)
	}
	for _, d := range []store.DropRow{second, third} {
		if d.File.RecipeID != list[0].ID || d.File.Answers["unit"] != "" {
			t.Errorf("%s: recipe %d, answers %v; want the recipe and no answer of its own", d.Path, d.File.RecipeID, d.File.Answers)
		}
	}
	// Nothing of a person is in it.
	if text := fmt.Sprint(string(list[0].Body), list[0].Answers); strings.Contains(text, "P-1") || strings.Contains(text, "5.6") {
		t.Errorf("the recipe holds a patient's code or reading: %s", text)
	}
}

// TestAnAnswerBesideARecipe has the second file of a layout ask something that
// the first did not: the recipe then knows both answers.
func TestAnAnswerBesideARecipe(t *testing.T) {
	b := newBench(t, "P-1", "P-2", "P-3")
	write(t, b.Drop, "P-1_a.csv", unitless(1, 8, 0))
	b.settleAndLook()
	b.answer("P-1_a.csv", "unit", "mmol/L")
	both := strings.Replace(worded(1, 8, 1), "mmol/L", "mg/dL", 1)
	write(t, b.Drop, "P-2_b.csv", both)
	b.settleAndLook()
	d := b.want("P-2_b.csv", store.Held, "word:qux")
	if len(d.File.Questions) != 1 {
		t.Errorf("%d questions, want only the new one", len(d.File.Questions))
	}
	b.answer("P-2_b.csv", "word:qux", "above")
	b.want("P-2_b.csv", store.Filed, "")
	write(t, b.Drop, "P-3_c.csv", strings.Replace(worded(1, 8, 2), "mmol/L", "mg/dL", 1))
	b.settleAndLook()
	b.want("P-3_c.csv", store.Filed, "")
	list := b.recipeList()
	if len(list) != 2 || list[0].State != store.Replaced || list[1].State != store.InForce || len(list[1].Answers) != 2 {
		t.Errorf("recipes: %+v", list)
	}
}

func TestRecipeLearnedWithoutAQuestion(t *testing.T) {
	b := newBench(t, "P-1", "P-2")
	write(t, b.Drop, "P-1_a.csv", export(1, 8, 0))
	b.settleAndLook()
	write(t, b.Drop, "P-2_b.csv", export(1, 8, 1))
	b.settleAndLook()
	list := b.recipeList()
	if len(list) != 1 || len(list[0].Answers) != 0 || list[0].Files != 2 {
		t.Errorf("recipes: %+v, want one without answers used by both files", list)
	}
}

func TestSensorKindReachesEveryWearOfTheRecipe(t *testing.T) {
	b := newBench(t, "P-1", "P-2")
	ctx := context.Background()
	write(t, b.Drop, "P-1_a.csv", export(1, 8, 0))
	b.settleAndLook()
	recipe := b.recipeList()[0].ID
	for _, bad := range []string{"Two Words", "thirteenchars", "é", "<b>"} {
		if err := b.store.SetSensorKind(ctx, recipe, bad); store.CodeOf(err) != store.Invalid {
			t.Errorf("kind %q: %v, want it refused", bad, err)
		}
	}
	if err := b.store.SetSensorKind(ctx, recipe, "B2"); err != nil {
		t.Fatal(err)
	}
	before := b.wearOf(b.want("P-1_a.csv", store.Filed, ""))
	if before.SensorKind != "B2" {
		t.Errorf("the wear filed before is of kind %q", before.SensorKind)
	}
	if got := before.Report.SensorKind; got != "B2" {
		t.Errorf("its report says %q", got)
	}
	write(t, b.Drop, "P-2_b.csv", export(1, 8, 1))
	b.settleAndLook()
	if w := b.wearOf(b.want("P-2_b.csv", store.Filed, "")); w.SensorKind != "B2" {
		t.Errorf("the wear filed after is of kind %q", w.SensorKind)
	}
}

func TestWithdrawnRecipe(t *testing.T) {
	b := newBench(t, "P-1", "P-2", "P-3")
	ctx := context.Background()
	write(t, b.Drop, "P-1_a.csv", worded(1, 8, 0))
	b.settleAndLook()
	b.answer("P-1_a.csv", "word:qux", "below") // wrong
	write(t, b.Drop, "P-2_b.csv", worded(1, 8, 1))
	b.settleAndLook()
	first := b.wearOf(b.want("P-1_a.csv", store.Filed, ""))
	if first.Report.CensoredLow == 0 || first.Report.CensoredHigh != 0 {
		t.Fatalf("%d low and %d high", first.Report.CensoredLow, first.Report.CensoredHigh)
	}
	recipe := b.recipeList()[0].ID

	if err := b.store.Withdraw(ctx, recipe, " "); store.CodeOf(err) != store.Invalid {
		t.Errorf("withdrawn without a reason: %v", err)
	}
	if _, err := b.store.ReadAgain(ctx, recipe); store.CodeOf(err) != store.Conflict {
		t.Errorf("files of a recipe in force are read again: %v", err)
	}
	if err := b.store.Withdraw(ctx, recipe, "the word means high"); err != nil {
		t.Fatal(err)
	}
	if err := b.store.Withdraw(ctx, recipe, "once more"); store.CodeOf(err) != store.Conflict {
		t.Errorf("withdrawn twice: %v", err)
	}
	wears, err := b.store.RecipeWears(ctx, recipe)
	if err != nil || len(wears) != 2 || !wears[0].InDoubt || !wears[1].InDoubt {
		t.Fatalf("wears filed with it: %+v, %v; want both, in doubt", wears, err)
	}
	page, err := b.store.Round(ctx, store.RoundQuery{Limit: 10, Now: b.clock()})
	if err != nil || len(page.Rows) != 2 || !page.Rows[0].InDoubt {
		t.Fatalf("the round does not say that they are in doubt: %+v, %v", page.Rows, err)
	}
	// It is not used any more.
	write(t, b.Drop, "P-3_c.csv", worded(1, 8, 2))
	b.settleAndLook()
	b.want("P-3_c.csv", store.Held, "word:qux")

	if n, err := b.store.ReadAgain(ctx, recipe); err != nil || n != 2 {
		t.Fatalf("%d files are read again, %v; want 2", n, err)
	}
	b.look(ctx)
	b.want("P-1_a.csv", store.Held, "word:qux")
	b.want("P-2_b.csv", store.Held, "word:qux")
	if w, err := b.store.Wear(ctx, first.ID); err != nil || !w.InDoubt() {
		t.Fatalf("until then the wear stays where it is, in doubt: %v", err)
	}
	b.answer("P-2_b.csv", "word:qux", "above")
	for i, path := range []string{"P-1_a.csv", "P-2_b.csv", "P-3_c.csv"} {
		w := b.wearOf(b.want(path, store.Filed, ""))
		if w.Report.CensoredLow != 0 || w.Report.CensoredHigh == 0 || w.InDoubt() || len(w.Files) != 1 {
			t.Errorf("%s: %d low and %d high from %d files, in doubt %t", path, w.Report.CensoredLow, w.Report.CensoredHigh, len(w.Files), w.InDoubt())
		}
		if i == 0 && (w.ID != first.ID || !w.ReceivedAt.Equal(first.ReceivedAt)) {
			t.Errorf("the wear was %d and is now %d: its place must stay its own", first.ID, w.ID)
		}
	}
	if n, _ := b.store.Counts(ctx); n.OpenWears != 3 || n.Readings != 3*8*288 {
		t.Errorf("%d wears with %d readings, want 3 with %d", n.OpenWears, n.Readings, 3*8*288)
	}
}

func TestReadingAgainKeepsWhatOtherFilesBrought(t *testing.T) {
	b := newBench(t, "P-1", "P-2")
	ctx := context.Background()
	lines := strings.SplitAfter(export(1, 12, 0), "\n")
	days := func(from, to int) string { return strings.Join(lines[1+from*288:1+to*288], "") }
	write(t, b.Drop, "P-1_right.csv", lines[0]+days(0, 8))
	b.settleAndLook()
	// The same sensor in another layout, whose recipe will be withdrawn.
	write(t, b.Drop, "P-1_doubt.csv", "clock;glucose\n"+strings.ReplaceAll(days(6, 12), ",", ";"))
	b.settleAndLook()
	both := b.wearOf(b.want("P-1_doubt.csv", store.Filed, ""))
	if both.Report.Readings != 12*288 || len(both.Files) != 2 || both.Files[1].Same != 2*288 || both.Files[1].New != 4*288 {
		t.Fatalf("joined: %d readings of %d files: %+v", both.Report.Readings, len(both.Files), both.Files)
	}
	doubtful := both.Files[1].RecipeID
	if err := b.store.Withdraw(ctx, doubtful, "wrong column"); err != nil {
		t.Fatal(err)
	}
	if _, err := b.store.ReadAgain(ctx, doubtful); err != nil {
		t.Fatal(err)
	}
	b.look(ctx)
	// Read by its values it comes out just as before: that is asked about.
	b.want("P-1_doubt.csv", store.Held, distrustCode)
	b.answer("P-1_doubt.csv", distrustCode, "read_so")
	again := b.wearOf(b.want("P-1_doubt.csv", store.Filed, ""))
	if again.ID != both.ID || again.Report.Readings != 12*288 || again.InDoubt() {
		t.Errorf("wear %d with %d readings, in doubt %t; want %d with %d", again.ID, again.Report.Readings, again.InDoubt(), both.ID, 12*288)
	}
	if f := again.Files[1]; f.New != 4*288 || f.Same != 2*288 || f.Conflicts != 0 {
		t.Errorf("counted as %d new, %d same, %d conflicting", f.New, f.Same, f.Conflicts)
	}
	// The next file of the layout is not asked about again.
	write(t, b.Drop, "P-2_next.csv", "clock;glucose\n"+strings.ReplaceAll(strings.Join(strings.SplitAfter(export(1, 8, 3), "\n")[1:], ""), ",", ";"))
	b.settleAndLook()
	b.want("P-2_next.csv", store.Filed, "")
}

func TestSetAside(t *testing.T) {
	b := newBench(t, "P-1", "P-2")
	ctx := context.Background()
	write(t, b.Drop, "P-1_a.csv", export(1, 8, 0))
	b.settleAndLook()
	if err := b.store.Withdraw(ctx, b.recipeList()[0].ID, "wrong column"); err != nil {
		t.Fatal(err)
	}
	write(t, b.Drop, "P-2_b.csv", export(1, 8, 1))
	b.settleAndLook()
	b.want("P-2_b.csv", store.Held, distrustCode)
	b.answer("P-2_b.csv", distrustCode, "set_aside")
	b.want("P-2_b.csv", store.Refused, "set_aside")
}

// TestRecipeWithdrawnWhileReading withdraws the recipe after the file was read
// with it and before it is filed.
func TestRecipeWithdrawnWhileReading(t *testing.T) {
	b := newBench(t, "P-1", "P-2")
	ctx := context.Background()
	write(t, b.Drop, "P-1_a.csv", unitless(1, 8, 0))
	b.settleAndLook()
	b.answer("P-1_a.csv", "unit", "mmol/L")
	once := true
	b.reader = func(data []byte, o intake.Options) *intake.Result {
		res := intake.Read(data, o)
		if once && res.ByRecipe {
			once = false
			if err := b.store.Withdraw(ctx, 1, "wrong after all"); err != nil {
				t.Error(err)
			}
		}
		return res
	}
	write(t, b.Drop, "P-2_b.csv", unitless(1, 8, 1))
	b.settleAndLook()
	if once {
		t.Fatal("the recipe was not used")
	}
	b.want("P-2_b.csv", store.Held, "unit")
}

func TestNameRuleSetInTheBrowser(t *testing.T) {
	b := newBench(t, "P-1")
	ctx := context.Background()
	write(t, b.Drop, "march of P-1.csv", export(1, 8, 0))
	b.settleAndLook()
	b.want("march of P-1.csv", store.Held, "patient")
	codes, err := TryNameRule("* of {code}", []string{"march of P-1.csv", "P-1_a.csv", "x.csv"})
	if err != nil || fmt.Sprint(codes) != "[P-1  x]" {
		t.Errorf("tried: %q, %v", codes, err)
	}
	if err := b.store.SetNameRule(ctx, "* of {code}"); err != nil {
		t.Fatal(err)
	}
	b.look(ctx)
	b.want("march of P-1.csv", store.Filed, "")
}

func TestNewPatientSettlesWhatWaits(t *testing.T) {
	b := newBench(t)
	write(t, b.Drop, "P-7_a.csv", export(1, 8, 0))
	b.settleAndLook()
	b.want("P-7_a.csv", store.Held, "patient")
	if err := b.store.AddPatients(context.Background(), []store.Patient{{Code: "P-7"}}); err != nil {
		t.Fatal(err)
	}
	b.look(context.Background())
	b.want("P-7_a.csv", store.Filed, "")
}

// TestSeveralPeople links each person of a file to a patient, and files them
// together or not at all.
func TestSeveralPeople(t *testing.T) {
	b := newBench(t, "P-1", "P-2")
	two := func(data []byte, o intake.Options) *intake.Result {
		res := intake.Read(data, o)
		other := make([]wear.Reading, len(res.Readings))
		for i, r := range res.Readings {
			r.Num += 3
			other[i] = r
		}
		res.People = []intake.Person{{Hint: "P-1", Readings: res.Readings, Events: res.Events}, {Readings: other}, {Hint: "nobody"}}
		res.Readings, res.Events = nil, nil
		return res
	}
	b.reader = two
	write(t, b.Drop, "list.csv", export(1, 8, 0))
	b.settleAndLook()
	d := b.want("list.csv", store.Held, "person:P-1") // even one named by a code on the register
	if q := d.File.Questions; len(q) != 2 || q[0].Choices[0].Value != "P-1" || q[1].Code != "person:#2" {
		t.Fatalf("questions: %+v", q)
	}
	b.answer("list.csv", "person:P-1", "P-2") // somebody knows better
	d = b.want("list.csv", store.Held, "person:#2")
	if n, _ := b.store.Counts(context.Background()); n.Wears != 0 {
		t.Errorf("%d wears are filed while one person is not known", n.Wears)
	}
	b.answer("list.csv", "person:#2", "P-1")
	d = b.want("list.csv", store.Filed, "")
	whose := map[string]int64{}
	for _, id := range d.WearIDs {
		w, err := b.store.Wear(context.Background(), id)
		if err != nil {
			t.Fatal(err)
		}
		readings, _, err := b.store.Trace(context.Background(), id)
		if err != nil {
			t.Fatal(err)
		}
		whose[w.Patient.Code] = readings[0].Num
	}
	if fmt.Sprint(whose) != "map[P-1:59 P-2:56]" {
		t.Errorf("first readings by patient: %v", whose)
	}
	if r := b.recipeList(); len(r) != 1 {
		t.Fatalf("%d recipes", len(r))
	} else if text, _ := json.Marshal(r[0]); strings.Contains(string(text), "P-1") || strings.Contains(string(text), "P-2") {
		t.Errorf("the recipe remembers a person: %s", text)
	}
}

// TestPeopleWithoutNames: two people of a file whom it calls the same have a question
// each, and one patient for both is no answer until somebody says so.
func TestPeopleWithoutNames(t *testing.T) {
	b := newBench(t, "P-1", "P-2")
	b.reader = func(data []byte, o intake.Options) *intake.Result {
		res := intake.Read(data, o)
		other := slices.Clone(res.Readings)
		for i := range other {
			other[i].Num += 3
			other[i].At += 40 * 86400
		}
		res.People = []intake.Person{{Hint: "rows", Readings: res.Readings}, {Hint: "rows", Readings: other}}
		res.Readings, res.Events = nil, nil
		return res
	}
	write(t, b.Drop, "two.csv", export(1, 8, 0))
	b.settleAndLook()
	b.want("two.csv", store.Held, "person:rows")
	b.answer("two.csv", "person:rows", "P-1")
	b.want("two.csv", store.Held, "person:rows #2")
	b.answer("two.csv", "person:rows #2", "P-1")
	b.want("two.csv", store.Held, "same:rows #2:P-1")
	b.answer("two.csv", "same:rows #2:P-1", "no")
	b.want("two.csv", store.Held, "person:rows #2")
	b.answer("two.csv", "person:rows #2", "P-2")
	d := b.want("two.csv", store.Filed, "")
	whose := map[string]bool{}
	for _, id := range d.WearIDs {
		w, err := b.store.Wear(context.Background(), id)
		if err != nil {
			t.Fatal(err)
		}
		whose[w.Patient.Code] = true
	}
	if len(d.WearIDs) != 2 || len(whose) != 2 {
		t.Errorf("%d wears, of %v", len(d.WearIDs), whose)
	}
}
