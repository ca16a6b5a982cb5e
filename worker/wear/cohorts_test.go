package wear_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"slices"
	"strconv"
	"testing"

	"wearround/worker/wear"
)

// evidenceTable is a table of the page of evidence.
type evidenceTable struct {
	Title string     `json:"title"`
	Says  string     `json:"says"`
	Head  []string   `json:"head"`
	Rows  [][]string `json:"rows"`
}

// evidenceFile is what the page of evidence shows, made by
//
//	go test ./worker/wear -run TestEvidence -update
//
// from the open cohorts, and held here to what the engine now makes of them.
const evidenceFile = "../../web/evidence.json"

// known is an open cohort with what its laboratory results say of its people.
type known struct {
	name, paper, column string
	unit                wear.Unit
	abnormal            func(row map[string]string) bool
	groups              [2]string // normal, abnormal
}

var knownCohorts = []known{
	{"mss2023", "Cell Rep Methods 2023;3:100545", "glucose_mmol", wear.MmolL, func(map[string]string) bool { return false }, [2]string{"healthy volunteers", ""}},
	{"hall2018", "PLoS Biol 2018;16:e2005143", "glucose_mgdl", wear.MgdL, func(row map[string]string) bool { return row["diagnosis"] != "non-diabetic" }, [2]string{"normal laboratory tests", "prediabetes or diabetes by laboratory tests"}},
	{"bigideas", "npj Digit Med 2021;4:89", "glucose_mgdl", wear.MgdL, func(row map[string]string) bool { return row["group"] != "normal" }, [2]string{"HbA1c below 5.7 %", "HbA1c 5.7 to 6.4 %"}},
}

func TestEvidence(t *testing.T) {
	where := evidenceTable{
		Title: "Where the wears of the open cohorts fall", Head: []string{"Cohort", "People", "Wears", "Today", "This week", "This month", "Cannot tell", "Routine", "Routine, near a limit"},
		Says: "Read with nothing known of the people but their readings: nobody was asked, no words and no blood. A wear is for a person to look at unless it is Routine and near no limit.",
	}
	flags := evidenceTable{
		Title: "Each flag against the laboratory", Head: []string{"Flag", "Cohort", "Raised, of those with abnormal tests", "Not raised, of those with normal tests"},
		Says: "One wear a person, the longest. The numbers are small and say no more than their size; laboratory tests on one day miss people too.",
	}
	believed := evidenceTable{
		Title: "Readings not believed", Head: []string{"Cohort", "Readings", "Not believed", "By reason"},
		Says: "Left out of the measures and shown. Nobody knows which of them were wrong.",
	}
	var separation evidenceTable
	for _, c := range knownCohorts {
		subjects, readings := cohort(t, c.name, c.column, c.unit)
		ill := map[string]bool{}
		for _, row := range table(t, c.name+"/subjects.csv") {
			ill[row["subject"]] = c.abnormal(row)
		}
		longest, tiers, people := map[string]*wear.Report{}, [2]map[string]int{{}, {}}, [2]map[string]bool{{}, {}}
		s := suspects{by: map[string]int{}}
		for _, name := range subjects {
			g, person := 0, name
			if ill[name] {
				g = 1
			}
			if c.name == "mss2023" {
				person = name[:5] // two sensors of one person have two records
			}
			people[g][person] = true
			for _, w := range wear.Split(readings[name], wear.DefaultProtocol()) {
				r := wear.Analyse(wear.Input{Readings: w})
				s.add(r)
				tiers[g]["wears"]++
				tiers[g][string(r.Priority.Tier)]++
				if r.Priority.Near {
					tiers[g]["near"]++
				}
				if l := longest[name]; l == nil || r.Readings > l.Readings {
					longest[name] = r
				}
			}
		}
		for g, n := range tiers {
			if n["wears"] > 0 {
				where.Rows = append(where.Rows, []string{c.paper + ": " + c.groups[g], strconv.Itoa(len(people[g])), strconv.Itoa(n["wears"]),
					strconv.Itoa(n["today"]), strconv.Itoa(n["this_week"]), strconv.Itoa(n["this_month"]), strconv.Itoa(n["cannot_tell"]), strconv.Itoa(n["routine"]), strconv.Itoa(n["near"])})
			}
		}
		reasons, all := "", 0
		for _, kind := range slices.Sorted(maps.Keys(s.by)) {
			reasons += fmt.Sprintf("%s %d; ", kind, s.by[kind])
			all += s.by[kind]
		}
		believed.Rows = append(believed.Rows, []string{c.paper, strconv.Itoa(s.readings), fmt.Sprintf("%.2f %%", 100*float64(all)/float64(s.readings)), reasons[:len(reasons)-2]})
		if len(people[1]) == 0 {
			continue
		}
		for _, k := range wear.Flags() {
			var hit, of [2]int
			for _, name := range subjects {
				g := 0
				if ill[name] {
					g = 1
				}
				of[g]++
				if raised := slices.Contains(codes(longest[name]), k.Code); raised == (g == 1) {
					hit[g]++
				}
			}
			if hit[1] > 0 || hit[0] < of[0] {
				flags.Rows = append(flags.Rows, []string{k.Name, c.paper, fmt.Sprintf("%d of %d", hit[1], of[1]), fmt.Sprintf("%d of %d", hit[0], of[0])})
			}
		}
		if c.name == "hall2018" {
			separation = separating(subjects, longest, func(name string) bool { return ill[name] })
		}
	}
	slices.SortStableFunc(flags.Rows, func(a, b []string) int { return flagPlace(a[0]) - flagPlace(b[0]) })
	out := &bytes.Buffer{}
	e := json.NewEncoder(out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "\t")
	if err := e.Encode([]evidenceTable{where, flags, separation, believed}); err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile(evidenceFile, out.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(evidenceFile)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(want, out.Bytes()) {
		t.Errorf("%s is not what the engine makes of the cohorts; run with -update if that is meant", evidenceFile)
	}
}

// methodName is a measure as the list of methods names it.
func methodName(key string) string {
	for _, m := range wear.Methods() {
		if m.Key == key {
			return m.Name
		}
	}
	return key
}

func flagPlace(name string) int {
	return slices.IndexFunc(wear.Flags(), func(k wear.FlagKind) bool { return k.Name == name })
}

// separating says how well the score and every single measure tell the people
// with abnormal tests from the others.
func separating(subjects []string, reports map[string]*wear.Report, abnormal func(string) bool) evidenceTable {
	t := evidenceTable{
		Title: "How well the score and single measures separate", Head: []string{"Measure", "Area under the curve", "Middle 95 % of 2,000 draws"},
		Says: "PLoS Biol 2018;16:e2005143, 19 people with abnormal and 38 with normal tests, the longest wear of each. The score ranks about as well as mean glucose and no better: use it to put lists in order, not to tell who is ill. What the tiers add is what a mean cannot show: single very high values, lows with symptoms, words, blood and doubt. An area under a half means that the measure is lower in abnormal people.",
	}
	add := func(name string, of func(*wear.Report) float64) {
		v := values(subjects, reports, abnormal, of)
		low, high := v.bootstrap(2000)
		t.Rows = append(t.Rows, []string{name, fmt.Sprintf("%.2f", v.auc()), fmt.Sprintf("%.2f to %.2f", low, high)})
	}
	add("score", func(r *wear.Report) float64 { return r.Priority.Score })
	for _, m := range metricsOf(reports[subjects[0]].Metrics) {
		if m.key != "gmi_pct" { // the mean in other words
			add(methodName(m.key), func(r *wear.Report) float64 { return metricsOf(r.Metrics)[m.place].figure.V })
		}
	}
	return t
}
