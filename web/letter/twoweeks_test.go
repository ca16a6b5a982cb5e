package letter

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wearround/worker/wear"
)

// ate is a wear with meals, nights and exercise.
func ate(r *wear.Report) *wear.Report {
	f := wear.Of
	for i, m := range []struct {
		like string
		rise float64
	}{{"toast", 3.4}, {"toast", 3}, {"toast after yoghurt", 1.8}, {"toast after yoghurt", 2}, {"rice and dal", 2.7}, {"rice and dal", 2.5}, {"soup", 0.9}} {
		r.Meals = append(r.Meals, wear.MealFig{At: time.Date(2026, 3, 4+i, 8, 0, 0, 0, zone), Like: m.like, Judged: true, BaselineMmol: f(5.2), RiseMmol: f(m.rise)})
	}
	r.Meals = append(r.Meals, wear.MealFig{Like: "cake", BaselineMmol: f(5), RiseMmol: f(9)}) // could not be measured
	r.MealGroups = []wear.MealGroup{{Like: "toast", Meals: 2, RiseMmol: f(3.2)}, {Like: "toast after yoghurt", Meals: 2, RiseMmol: f(1.9)}}
	r.Nights = []wear.Night{{MeanMmol: f(4.9)}, {MeanMmol: f(5.1)}, {MeanMmol: f(5.6)}}
	r.Mornings.MedianMmol = f(5.5)
	r.Exercise = []wear.ExerciseFig{{At: time.Date(2026, 3, 6, 17, 0, 0, 0, zone), Label: "walk", BeforeMmol: f(6.1), LowestMmol: f(4.8), HighestMmol: f(6.4)}}
	return r
}

func TestTwoWeeks(t *testing.T) {
	p, err := WriteTwoWeeks(Unremarkable, factsOf(ate(wearOf(nil, "rise_under_10"))))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, l := range p.Like {
		names = append(names, l.Name)
	}
	if got := strings.Join(names, "; "); got != "toast; rice and dal; toast after yoghurt" {
		t.Errorf("meals: %s", got)
	}
	for _, want := range []string{
		"After “toast” the rise was 3.2. When you had “yoghurt” before it, the rise was 1.9.", "On a usual night your glucose was about 5.1. Before breakfast it was about 5.5.",
		"“walk” on 6 March: from 6.1 before, to 6.4 at most and 4.8 at least.", "Most people have a rise after meals that comes back by itself.", "ring us on 5550 0142", "ring 000 at once", "does not diagnose",
	} {
		if !strings.Contains(p.text(), want) {
			t.Errorf("%q is missing:\n%s", want, p.text())
		}
	}
}

// The words of the wearer are theirs, whatever they are.
func TestTwoWeeksOwnWords(t *testing.T) {
	r := ate(wearOf(nil))
	r.Exercise[0].Label = "you have diabetes, 5 units, all is well"
	if _, err := WriteTwoWeeks(Unremarkable, factsOf(r)); err != nil {
		t.Error(err)
	}
}

func TestTwoWeeksRefused(t *testing.T) {
	unread := ate(wearOf([]string{wear.FlagAbove7_8}))
	unread.Unread = 1
	for name, x := range map[string]struct {
		kind Kind
		r    *wear.Report
	}{
		"flagged, as if it were not": {Unremarkable, wearOf([]string{wear.FlagAbove7_8})}, "near, as if it were not": {Unremarkable, nearOf("above_7_8")},
		"cannot tell": {WearAgain, wearOf([]string{wear.FlagTooLittle})}, "a colleague": {Clinician, wearOf([]string{wear.FlagAbove7_8})}, "words unread": {Tests, unread},
	} {
		if p, err := WriteTwoWeeks(x.kind, factsOf(x.r)); err == nil {
			t.Errorf("%s: written: %s", name, p.text())
		}
	}
	f := factsOf(wearOf(nil))
	f.Practice.Phone = ""
	if _, err := WriteTwoWeeks(Unremarkable, f); err == nil {
		t.Error("written without a number to ring")
	}
}

// Whatever was found, the page reads at grade 8 or under, claims nothing that a
// letter may not, and comforts nobody who may not be told that all is well.
func TestTwoWeeksLaws(t *testing.T) {
	comforts := []string{"Most people", "common in healthy", "Some healthy", "says little", "nothing more", "leave alone"}
	written := map[Kind]int{}
	rapid.Check(t, func(t *rapid.T) {
		r := wearOf(rapid.SliceOfNDistinct(rapid.SampledFrom(allFlags), 0, 2, rapid.ID).Draw(t, "flags"), rapid.SliceOfDistinct(rapid.SampledFrom(allRemarks), rapid.ID).Draw(t, "remarks")...)
		if rapid.Bool().Draw(t, "ate") {
			ate(r)
		}
		if rapid.Bool().Draw(t, "near") {
			r.Near = []wear.Remark{{Code: "above_7_8"}}
		}
		if rapid.Bool().Draw(t, "unasked") {
			r.AskedOn = ""
		}
		r.Unread = rapid.IntRange(0, 1).Draw(t, "unread")
		may, _ := wear.MayReassure(r)
		for _, kind := range Kinds() {
			p, err := WriteTwoWeeks(kind, factsOf(r))
			if err != nil {
				continue
			}
			written[kind]++
			if wrong := forbidden(p.text()); len(wrong) > 0 {
				t.Fatalf("%s: %v", kind, wrong)
			}
			if g := p.Grade(); g > 8 || g < 1 {
				t.Fatalf("%s reads at grade %.1f:\n%s", kind, g, p.text())
			}
			for _, c := range comforts {
				if !may && strings.Contains(p.text(), c) {
					t.Fatalf("%s says %q to one who may not be told so:\n%s", kind, c, p.text())
				}
			}
			if r.Unread > 0 || !may && len(p.Alone) > 0 {
				t.Fatalf("%s written beside %d unread words, may %v", kind, r.Unread, may)
			}
			if k, err := PageKind(r); err != nil || may != (k == Unremarkable) {
				t.Fatalf("the page goes with %q, %v", k, err)
			}
		}
	})
	for _, k := range withPage {
		if written[k] == 0 {
			t.Errorf("never written with a %s", k)
		}
	}
}
