package wear_test

import (
	"maps"
	"math"
	"slices"
	"strconv"
	"testing"

	"wearround/worker/wear"
)

// The cohort of PLoS Biol 2018;16:e2005143 (doi:10.1371/journal.pbio.2005143)
// against figures computed independently in plain Python.
func TestHall2018AgreesWithIndependentFigures(t *testing.T) {
	_, readings := cohort(t, "hall2018", "glucose_mgdl", wear.MgdL)
	people, rows := 0, 0
	for _, want := range table(t, "hall2018/stats.csv") {
		r := readings[want["subject"]]
		people++
		rows += len(r)
		m := wear.Analyse(wear.Input{Readings: r}).MetricsAll
		if got := strconv.Itoa(m.Readings); got != want["readings"] {
			t.Errorf("%s: %s readings, want %s", want["subject"], got, want["readings"])
		}
		for _, c := range []struct {
			column string
			got    float64
			half   float64 // half of the last printed digit
		}{
			{"mean", m.MeanMmol.V * wear.MgdlPerMmol, 0.005},
			{"sd", m.SDMmol.V * wear.MgdlPerMmol, 0.005},
			{"cv", m.CVPct.V, 0.005},
			{"gmin", m.MinMmol.V * wear.MgdlPerMmol, 0.05},
			{"gmax", m.MaxMmol.V * wear.MgdlPerMmol, 0.05},
			{"pct_gt140", m.Above7_8Pct.V, 0.0005},
			{"pct_gt180", m.Above10Pct.V, 0.0005},
			{"pct_70_140", m.Within3_9To7_8.V, 0.0005},
			{"pct_lt70", m.Below3_9Pct.V, 0.0005},
			{"pct_lt54", m.Below3_0Pct.V, 0.0005},
		} {
			w, err := strconv.ParseFloat(want[c.column], 64)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(c.got-w) > c.half+1e-6 {
				t.Errorf("%s %s: %v, want %v", want["subject"], c.column, c.got, w)
			}
		}
	}
	if people != 57 || rows != 105426 {
		t.Errorf("%d people and %d readings, want 57 and 105,426", people, rows)
	}
}

// suspects counts readings by reason over wears.
type suspects struct {
	readings int
	by       map[string]int
}

func (s *suspects) add(r *wear.Report) {
	s.readings += r.Readings
	for _, x := range r.Suspect {
		s.by[x.Kind] += x.Readings
	}
}

// check logs the shares and holds the total under 3 %.
func (s *suspects) check(t *testing.T) {
	t.Helper()
	total := 0
	for _, kind := range slices.Sorted(maps.Keys(s.by)) {
		t.Logf("%-16s %5d readings, %.3f %%", kind, s.by[kind], 100*float64(s.by[kind])/float64(s.readings))
		total += s.by[kind]
	}
	share := 100 * float64(total) / float64(s.readings)
	t.Logf("%-16s %5d of %d readings, %.2f %%", "all", total, s.readings, share)
	if share > 3 {
		t.Errorf("%.2f %% of readings are suspect, want at most 3", share)
	}
}

func TestHall2018(t *testing.T) {
	subjects, readings := cohort(t, "hall2018", "glucose_mgdl", wear.MgdL)
	label := map[string]string{}
	for _, row := range table(t, "hall2018/subjects.csv") {
		label[row["subject"]] = row["diagnosis"]
	}
	p := wear.DefaultProtocol()
	s := suspects{by: map[string]int{}}
	first, longest, joined := map[string]*wear.Report{}, map[string]*wear.Report{}, map[string]*wear.Report{}
	split := 0
	for _, name := range subjects {
		joined[name] = wear.Analyse(wear.Input{Readings: readings[name], Protocol: p})
		wears := wear.Split(readings[name], p)
		if len(wears) > 1 {
			split++
		}
		for i, w := range wears {
			r := wear.Analyse(wear.Input{Readings: w, Protocol: p})
			s.add(r)
			if i == 0 {
				first[name] = r
			}
			if l := longest[name]; l == nil || r.Readings > l.Readings {
				longest[name] = r
			}
			t.Logf("%-14s %-13s %-11s %5.1f  %s", name, label[name], r.Priority.Tier, r.Priority.Score, r.Headline)
		}
	}
	// Twelve people have a gap of more than a day; in three of them it is
	// shorter than the 72 h that begin another wear.
	if split != 9 {
		t.Errorf("%d people have more than one wear, want 9", split)
	}
	s.check(t)

	// Nothing below is fitted to these people; the figures are evidence only.
	abnormal := func(name string) bool { return label[name] != "non-diabetic" }
	measures := []struct {
		name string
		of   func(*wear.Report) float64
	}{
		{"score", func(r *wear.Report) float64 { return r.Priority.Score }},
		{"mean", func(r *wear.Report) float64 { return r.MetricsAll.MeanMmol.V }},
		{"above 7.8", func(r *wear.Report) float64 { return r.Metrics.Above7_8Pct.V }},
		{"above 10", func(r *wear.Report) float64 { return r.Metrics.Above10Pct.V }},
		{"night mean", func(r *wear.Report) float64 { return r.Metrics.NightMeanMmol.V }},
		{"day mean", func(r *wear.Report) float64 { return r.Metrics.DayMeanMmol.V }},
		{"median", func(r *wear.Report) float64 { return r.Metrics.MedianMmol.V }},
		{"SD", func(r *wear.Report) float64 { return r.Metrics.SDMmol.V }},
		{"MAGE", func(r *wear.Report) float64 { return r.Metrics.MAGEMmol.V }},
		{"MODD", func(r *wear.Report) float64 { return r.Metrics.MODDMmol.V }},
		{"MAG", func(r *wear.Report) float64 { return r.Metrics.MAGMmolH.V }},
		{"HBGI", func(r *wear.Report) float64 { return r.Metrics.HBGI.V }},
		{"max", func(r *wear.Report) float64 { return r.Metrics.MaxMmol.V }},
	}
	for _, m := range measures {
		t.Logf("AUC abnormal against normal, %-10s first wear %.3f, longest wear %.3f, all wears joined %.3f",
			m.name, auc(first, abnormal, m.of), auc(longest, abnormal, m.of), auc(joined, abnormal, m.of))
	}
	for _, choice := range []map[string]*wear.Report{first, longest, joined} {
		if score, mean := auc(choice, abnormal, measures[0].of), auc(choice, abnormal, measures[1].of); score < mean {
			t.Errorf("the score separates worse (%.3f) than plain mean glucose (%.3f)", score, mean)
		}
	}
}

// auc is the chance that an abnormal person has the larger value, ties half.
func auc(reports map[string]*wear.Report, abnormal func(string) bool, of func(*wear.Report) float64) float64 {
	wins, pairs := 0.0, 0.0
	for a := range reports {
		for b := range reports {
			if !abnormal(a) || abnormal(b) {
				continue
			}
			pairs++
			switch x, y := of(reports[a]), of(reports[b]); {
			case x > y:
				wins++
			case x == y:
				wins += 0.5
			}
		}
	}
	return wins / pairs
}

// Healthy volunteers of Cell Rep Methods 2023;3:100545
// (doi:10.1016/j.crmeth.2023.100545). On that sensor they spend about 12 % of
// readings below 3.9, which is no finding.
func TestMSS2023(t *testing.T) {
	subjects, readings := cohort(t, "mss2023", "glucose_mmol", wear.MmolL)
	p := wear.DefaultProtocol()
	s := suspects{by: map[string]int{}}
	rows, below := 0, 0
	edges := map[string]int{}
	for _, name := range subjects {
		above7_8, above10 := 0, 0
		for _, r := range readings[name] {
			rows++
			switch text := r.Text(); text {
			case "7.8", "10.0":
				edges[text]++
			}
			if r.Native() > 7.8 {
				above7_8++
			}
			if r.Native() > 10 {
				above10++
			}
			if r.Native() < 3.9 {
				below++
			}
		}
		whole := wear.Analyse(wear.Input{Readings: readings[name], Protocol: p})
		n := float64(len(readings[name]))
		if got := whole.MetricsAll.Above7_8Pct.V * n / 100; math.Abs(got-float64(above7_8)) > 1e-6 {
			t.Errorf("%s: %v readings above 7.8, want %d", name, got, above7_8)
		}
		if got := whole.MetricsAll.Above10Pct.V * n / 100; math.Abs(got-float64(above10)) > 1e-6 {
			t.Errorf("%s: %v readings above 10, want %d", name, got, above10)
		}
		for _, w := range wear.Split(readings[name], p) {
			r := wear.Analyse(wear.Input{Readings: w, Protocol: p})
			s.add(r)
			t.Logf("%-9s %-11s %5.1f  %s", name, r.Priority.Tier, r.Priority.Score, r.Headline)
			for _, f := range r.Flags {
				switch f.Code {
				case wear.FlagVeryLow, wear.FlagLowMedicine, wear.FlagDipSymptom, wear.FlagSwingSymptom:
					t.Errorf("%s: low flag %s", name, f.Code)
				}
			}
			if r.Priority.Tier != wear.Routine && len(r.Flags) == 0 {
				t.Errorf("%s: %s without a flag", name, r.Priority.Tier)
			}
			if r.Priority.Tier == wear.Today || r.Priority.Tier == wear.ThisWeek {
				t.Errorf("%s: a healthy volunteer in %s: %v", name, r.Priority.Tier, r.Flags)
			}
		}
	}
	if len(subjects) != 31 || rows != 34616 {
		t.Errorf("%d records and %d readings, want 31 and 34,616", len(subjects), rows)
	}
	if edges["7.8"] == 0 {
		t.Error("no reading of exactly 7.8: the check of the edge checks nothing")
	}
	t.Logf("exactly at a limit: %v; below 3.9: %.1f %%", edges, 100*float64(below)/float64(rows))
	s.check(t)
}
