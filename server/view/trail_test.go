package view_test

import (
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/server/servertest"
	"wearround/server/view"
	"wearround/store"
	"wearround/web/form"
	"wearround/worker/wear"
)

var update = flag.Bool("update", false, "write the golden file anew")

// Everything that can be done about a wear, each in each of its forms, as the
// trail tells it: no sentence changes unseen, and nothing is left out.
func TestTrail(t *testing.T) {
	f := servertest.New(t)
	v := view.New(f.Door)
	at := time.Date(2026, 3, 4, 15, 10, 0, 0, time.UTC)
	next := func() time.Time { at = at.Add(time.Minute); return at }
	who := store.Person{ID: 1, Name: "Oru Belvane"}
	const id = 4242
	r := store.Review{WearID: id, Open: true}
	for i, rule := range store.Rules() {
		o := store.WearOutcome{ID: int64(i + 1), WearID: id, Kind: rule.Kind, By: who, At: next()}
		switch i {
		case 0:
			o.Reason = "As agreed"
		case 1:
			o.Corrects = 1
		case 2:
			o.UndoneAt = next()
		}
		r.Outcomes = append(r.Outcomes, o)
	}
	for _, o := range form.OptionsOf("means") {
		means := store.Means(o.Value)
		r.Contacts = append(r.Contacts,
			store.Contact{WearID: id, At: next(), Means: means, Reached: true, By: who},
			store.Contact{WearID: id, At: next(), Means: means, Note: "Engaged", NextTry: at.AddDate(0, 0, 2), By: who},
			store.Contact{WearID: id, RecallID: 3, At: next(), Means: means, By: who}) // told by the recall
		r.Letters = append(r.Letters, store.Letter{NewLetter: store.NewLetter{WearID: id, Kind: "patient_tests"}, SentBy: who, SentAt: next(), How: means})
	}
	r.Letters = append(r.Letters, store.Letter{NewLetter: store.NewLetter{WearID: id, Kind: "patient_tests"}}, // not sent
		store.Letter{NewLetter: store.NewLetter{WearID: id + 1, Kind: "patient_tests"}, SentBy: who, SentAt: next()}) // another wear's
	asked := at.Unix()
	for _, a := range []store.CallAnswer{
		{Felt: store.FeltNo}, {Felt: store.FeltUnsure}, {Felt: store.FeltYes, Words: "shaky"},
		{Felt: store.FeltYes, Words: "shaky", Relieved: store.FeltYes}, {Felt: store.FeltYes, Words: "shaky", Relieved: store.FeltNo}, {Felt: store.FeltYes, Words: "shaky", Relieved: store.FeltUnsure},
	} {
		a.Asked = asked
		r.Calls = append(r.Calls, store.Call{WearID: id, Answers: []store.CallAnswer{a}, By: who, At: next()})
	}
	for _, e := range []wear.Event{
		{At: asked, Kind: wear.Meal, Label: "rice"}, {At: asked, Kind: wear.Symptom},
		{At: asked, Kind: wear.Fingerstick, Value: wear.Reading{At: asked, Num: 59, Scale: 1, Unit: wear.MmolL}},
	} {
		r.Events = append(r.Events, store.AddedEvent{WearID: id, Event: e, By: who, At: next()}, store.AddedEvent{WearID: id, CallID: 1, Event: e, By: who, At: next()})
	}
	r.Overrides = []store.Override{
		{WearID: id, From: at, To: at.Add(time.Hour), Believe: true, Reason: "Was awake", By: who, At: next()},
		{WearID: id, From: at, To: at.Add(time.Hour), By: who, At: next(), Withdrawn: next()},
	}
	r.Notes = []store.Note{{WearID: id, Text: "left word", By: who, At: next()}, {WearID: id, Text: "left word at home", Corrects: 1, By: who, At: next()}}
	for kind := range form.RecallWords {
		k := store.RecallKind(kind)
		r.Recalls = append(r.Recalls, store.Recall{WearID: id, Kind: k, DueAt: at.AddDate(0, 1, 0), By: who, MadeAt: at})
	}
	for _, c := range []store.Recall{{State: store.RecallCancelled, Reason: "Moved away"}, {State: store.RecallDone, ResultID: 3}, {State: store.RecallDone, NewWearID: 4}, {State: store.RecallDone, Reason: "Came by post"}} {
		c.WearID, c.Kind, c.DueAt, c.By, c.MadeAt, c.ClosedBy, c.ClosedAt = id, store.RecallReview, at.AddDate(0, 1, 0), who, next(), who, next()
		r.Recalls = append(r.Recalls, c)
	}
	for _, o := range form.OptionsOf("tests") {
		n := store.NewResult{WearID: id, Kind: store.ResultKind(o.Value), Value: "48", Unit: "mmol/mol", TakenAt: at, Note: "By post"}
		r.Results = append(r.Results, store.Result{NewResult: n, By: who, At: next()})
		n.Class = string(wear.ClassDiabetes)
		r.Results = append(r.Results, store.Result{NewResult: n, By: who, At: next(), Withdrawn: next()})
	}
	trail, err := v.WearTrail(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	last := at.Add(time.Hour)
	for _, e := range trail {
		if e.At.After(last) {
			t.Errorf("%q is told after what came before it", e.Text)
		}
		last = e.At
		if e.By != who.Name {
			t.Errorf("%q is told of %q", e.Text, e.By)
		}
	}
	lines := []string{}
	for _, e := range trail {
		lines = append(lines, e.Text)
	}
	slices.Sort(lines)
	fmt.Fprintln(&b, strings.Join(lines, "\n"))
	const file = "testdata/trail.golden"
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (run with -update to write it)", err)
	}
	if d := cmp.Diff(string(want), b.String()); d != "" {
		t.Errorf("the trail changed (-want +got); run with -update if that is meant:\n%s", d)
	}
}

// Results are shown newest sample first, without those taken back, each with
// what it means for what follows.
func TestResults(t *testing.T) {
	day := func(n int) time.Time { return time.Date(2026, 3, n, 0, 0, 0, 0, time.UTC) }
	make := func(id int64, kind store.ResultKind, value, unit string, class wear.Class, taken int) store.Result {
		return store.Result{ID: id, NewResult: store.NewResult{Kind: kind, Value: value, Unit: unit, Class: string(class), TakenAt: day(taken)}}
	}
	back := make(9, store.HbA1c, "90", "mmol/mol", wear.ClassDiabetes, 9)
	back.Withdrawn = day(10)
	list := []store.Result{
		make(1, store.HbA1c, "36", "mmol/mol", wear.ClassNormal, 1), back, make(2, store.HbA1c, "44", "mmol/mol", wear.ClassIntermediate, 3),
		make(3, store.RandomGl, "11.0", "mmol/L", "", 4), make(4, store.RandomGl, "11.1", "mmol/L", "", 5), make(5, store.RandomGl, "199", "mg/dL", "", 6), make(6, store.RandomGl, "200", "mg/dL", "", 7),
		make(7, store.Insulin, "9", "mU/L", "", 2), make(8, store.Fasting, "7.4", "mmol/L", wear.ClassDiabetes, 8), make(10, store.OGTT2h, "8.6", "mmol/L", wear.ClassGestational, 11),
	}
	want := map[int64]string{1: "", 2: "can find what HbA1c misses", 3: "", 4: "counts together with symptoms", 5: "", 6: "counts together with symptoms", 7: "Insulin does not diagnose", 8: "repeat it on another day", 10: "The criteria for pregnancy apply"}
	got := view.Results(list)
	if len(got) != len(want) {
		t.Errorf("%d results are shown, want %d", len(got), len(want))
	}
	for i, r := range got {
		if i > 0 && r.TakenAt.After(got[i-1].TakenAt) {
			t.Error("an older sample stands before a newer one")
		}
		if says := want[r.ID]; !strings.Contains(r.Confirm, says) || says == "" && r.Confirm != "" {
			t.Errorf("result %d: %q, want %q", r.ID, r.Confirm, says)
		}
	}
}

// Attempts are shown newest first, letters only those sent, of one wear or all.
func TestRows(t *testing.T) {
	at := time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)
	tries := view.Tries([]store.Contact{{At: at, Note: "first"}, {At: at.Add(time.Hour), Note: "second", Reached: true}})
	if len(tries) != 2 || tries[0].Note != "second" || tries[1].Note != "first" || !tries[0].Reached {
		t.Errorf("%+v", tries)
	}
	letters := []store.Letter{
		{ID: 1, NewLetter: store.NewLetter{WearID: 7}, SentAt: at}, {ID: 2, NewLetter: store.NewLetter{WearID: 8}, SentAt: at}, {ID: 3, NewLetter: store.NewLetter{WearID: 7}},
	}
	if one, all := view.LetterLines(letters, 7), view.LetterLines(letters, 0); len(one) != 1 || one[0].ID != 1 || len(all) != 2 {
		t.Errorf("of one wear %+v, of all %+v", one, all)
	}
	if c := view.Claimed(&store.Claim{Holder: store.Person{ID: 3, Name: "Oru"}, Until: at}, 3); !c.Mine || c.By != "Oru" || view.Claimed(&store.Claim{Holder: store.Person{ID: 3}}, 4).Mine || view.Claimed(nil, 0).Mine {
		t.Errorf("%+v", c)
	}
}
