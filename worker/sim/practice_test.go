package sim_test

import (
	"bytes"
	"slices"
	"testing"
	"time"

	"wearround/worker/sim"
)

const patients = 120

func TestPracticeSpread(t *testing.T) {
	zone := time.FixedZone("", 10*60*60)
	end := time.Date(2026, 3, 20, 12, 0, 0, 0, zone)
	p := sim.NewPractice(42, end, zone, patients)
	if len(p.People) != patients || p.Len() < patients {
		t.Fatalf("%d people, %d wears", len(p.People), p.Len())
	}
	codes := map[string]bool{}
	for _, x := range p.People {
		codes[x.Code] = true
		if born, err := time.Parse(time.DateOnly, x.BirthDate); err != nil || born.Year() != x.Context.BirthYear {
			t.Errorf("%s was born %q, birth year %d", x.Code, x.BirthDate, x.Context.BirthYear)
		}
	}
	if len(codes) != patients {
		t.Errorf("%d distinct codes", len(codes))
	}

	kinds := map[sim.Kind]int{}
	layouts := map[string]int{}
	months := map[string]int{}
	names := map[string]bool{}
	last := map[string]int64{} // by code: end of the latest wear so far
	twice := 0
	for i := range p.Len() {
		w := p.Wear(i)
		kinds[w.Kind]++
		layouts[w.Layout.Name]++
		from, to := w.Readings[0].At, w.Readings[len(w.Readings)-1].At
		months[time.Unix(from, 0).In(zone).Format("2006-01")]++
		if to > end.Unix() || end.Unix()-to > 366*24*60*60 {
			t.Errorf("wear %d ends %v, outside the year", i, time.Unix(to, 0))
		}
		if !codes[w.Person.Code] {
			t.Errorf("wear %d belongs to nobody on the register", i)
		}
		if before, ok := last[w.Person.Code]; ok {
			twice++
			if from-before < 90*24*60*60 {
				t.Errorf("second wear of %s begins %d days after the first", w.Person.Code, (from-before)/86400)
			}
		}
		last[w.Person.Code] = to
		name, _ := sim.Render(w, w.Layout)
		if names[name] {
			t.Errorf("two files are called %s", name)
		}
		names[name] = true
	}
	t.Logf("%d wears, %d second ones, kinds %v, layouts %v, months %v", p.Len(), twice, kinds, layouts, months)
	if len(last) != patients {
		t.Errorf("%d of %d patients have a wear", len(last), patients)
	}
	if twice < patients/10 || len(months) < 12 || len(layouts) != len(sim.Layouts()) || len(kinds) != len(sim.Kinds()) {
		t.Errorf("%d second wears, %d months, %d layouts, %d kinds", twice, len(months), len(layouts), len(kinds))
	}
	if share := float64(kinds[sim.Unremarkable]) / float64(p.Len()); share < 0.5 || share > 0.7 {
		t.Errorf("%.2f of the wears are unremarkable, want about 0.6", share)
	}
}

// TestPracticeRepeats asks twice, the second time backwards: the bytes are the
// same. Another seed gives other people.
func TestPracticeRepeats(t *testing.T) {
	zone := time.FixedZone("", -3*60*60)
	end := time.Date(2025, 11, 2, 0, 0, 0, 0, time.UTC)
	p, q := sim.NewPractice(9, end, zone, 12), sim.NewPractice(9, end, zone, 12)
	if !slices.Equal(p.People, q.People) {
		t.Error("the same seed gave other people")
	}
	for i := p.Len() - 1; i >= 0; i-- {
		a, b := p.Wear(i), q.Wear(i)
		nameA, dataA := sim.Render(a, a.Layout)
		nameB, dataB := sim.Render(b, b.Layout)
		if nameA != nameB || !bytes.Equal(dataA, dataB) {
			t.Errorf("wear %d differs: %s and %s", i, nameA, nameB)
		}
	}
	if slices.Equal(p.People, sim.NewPractice(10, end, zone, 12).People) {
		t.Error("another seed gave the same people")
	}
}

func TestSmallPractice(t *testing.T) {
	end := time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
	for n := 1; n <= 60; n++ {
		if p := sim.NewPractice(1, end, time.UTC, n); len(p.People) != n || p.Len() < n {
			t.Errorf("%d patients asked for: %d people, %d wears", n, len(p.People), p.Len())
		}
	}
}
