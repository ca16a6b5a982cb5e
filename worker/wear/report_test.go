package wear_test

import (
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/stat"

	"wearround/worker/wear"
)

var update = flag.Bool("update", false, "write the golden files anew")

func TestSecondOpinionOnStatistics(t *testing.T) {
	readings, _ := twoWeeks(wear.MgdL)
	var g []float64
	for _, r := range readings {
		g = append(g, r.Mmol())
	}
	m := wear.Analyse(wear.Input{Readings: readings}).MetricsAll
	near(t, "mean", m.MeanMmol.V, stat.Mean(g, nil), 1e-9)
	near(t, "SD", m.SDMmol.V, stat.StdDev(g, nil), 1e-9)
	near(t, "CV", m.CVPct.V, 100*stat.StdDev(g, nil)/stat.Mean(g, nil), 1e-9)
	sort.Float64s(g)
	// gonum's LinInterp is definition 4 of Hyndman and Fan, h = nq, where ours
	// is 7, h = (n-1)q + 1: the same at a q that makes both meet.
	n := float64(len(g))
	for _, q := range []float64{0.05, 0.25, 0.5, 0.75, 0.95} {
		near(t, "quantile", wear.Quantile(g, q).V, stat.Quantile(((n-1)*q+1)/n, stat.LinInterp, g, nil), 1e-9)
	}
	near(t, "median", m.MedianMmol.V, wear.Quantile(g, 0.5).V, 1e-9)
	if wear.Quantile(g, 0).V != g[0] || wear.Quantile(g, 1).V != g[len(g)-1] || wear.Quantile(nil, 0.5).OK || wear.Quantile(g, math.NaN()).OK {
		t.Error("the ends of the quantiles are wrong")
	}
}

// The measures of a report against the public functions on the plain series.
func TestReportUsesThePublishedMeasures(t *testing.T) {
	readings := days(4, 5, usual)
	var g, mg []float64
	for _, r := range readings {
		g, mg = append(g, r.Mmol()), append(mg, r.Mgdl())
	}
	m := wear.Analyse(wear.Input{Readings: readings}).Metrics
	low, high := wear.RiskIndices(mg)
	hourly := 0.0
	for phase := range 12 { // of a series of whole hours each begins as often
		var one []float64
		for i := phase; i < len(g); i += 12 {
			one = append(one, g[i])
		}
		hourly += wear.Lability(one, 60).V
	}
	for _, c := range []struct {
		name      string
		got, want wear.Figure
	}{
		{"MAGE", m.MAGEMmol, wear.MAGE(g)},
		{"MODD", m.MODDMmol, wear.MODD(g, 288)},
		{"MAG", m.MAGMmolH, wear.MAG(g, 5)},
		{"GVP", m.GVPPct, wear.GVP(mg, 5)},
		{"M value", m.MValue, wear.MValue(mg, false)},
		{"lability", m.Lability, wear.Of(hourly / 12)},
		{"LBGI", m.LBGI, low},
		{"HBGI", m.HBGI, high},
	} {
		if !c.got.OK || math.Abs(c.got.V-c.want.V) > 1e-6 {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
}

// minuteByMinute is n readings above 10 between others just under it.
func minuteByMinute(n int) []wear.Reading {
	under, over := slices.Repeat([]float64{9.6}, 20), slices.Repeat([]float64{10.4}, n)
	return series(1, slices.Concat(under, over, under)...)
}

func TestEpisodes(t *testing.T) {
	gap := series(5, 3.5, 3.5, 3.5, 3.5)
	gap = append(gap, mmol(time.Unix(gap[3].At, 0).Add(11*time.Minute), 3.5), mmol(time.Unix(gap[3].At, 0).Add(16*time.Minute), 3.5))
	for _, c := range []struct {
		name     string
		readings []wear.Reading
		kind     string
		want     []int // minutes
		byGap    bool
	}{
		{"three readings at 5 minutes", series(5, 5, 3.8, 3.8, 3.8, 4, 4, 4), wear.EpisodeBelow3_9, []int{15}, false},
		{"two are too short", series(5, 5, 3.8, 3.8, 4, 4, 4, 4), wear.EpisodeBelow3_9, nil, false},
		{"exactly at the limit is not past it", series(5, 5, 3.9, 3.9, 3.9, 3.9, 4, 4), wear.EpisodeBelow3_9, nil, false},
		{"7.8 is not above", series(5, 5, 7.8, 7.8, 7.8, 7.8, 5, 5), wear.EpisodeAbove7_8, nil, false},
		{"one reading at 15 minutes is not enough", series(15, 5, 5, 8.2, 5, 5, 5), wear.EpisodeAbove7_8, nil, false},
		{"two are", series(15, 5, 5, 8.2, 8.2, 5, 5, 5), wear.EpisodeAbove7_8, []int{30}, false},
		{"fifteen at one minute", minuteByMinute(15), wear.EpisodeAbove10, []int{15}, false},
		{"fourteen are too short", minuteByMinute(14), wear.EpisodeAbove10, nil, false},
		{"the end is the first safe reading", series(5, 8, 8, 8, 8, 7, 7, 8, 8, 7, 7, 7, 7), wear.EpisodeAbove7_8, []int{40}, false},
		{"a gap ends it and joins nothing", gap, wear.EpisodeBelow3_9, []int{20}, true},
		{"data that stop end it", series(5, 7, 7, 8, 8, 8, 8), wear.EpisodeAbove7_8, []int{20}, true},
	} {
		r := wear.Analyse(wear.Input{Readings: c.readings})
		var got []int
		for _, e := range r.Episodes {
			if e.Kind == c.kind {
				got = append(got, e.Minutes)
				if e.EndedByGap != c.byGap {
					t.Errorf("%s: ended by gap %v", c.name, e.EndedByGap)
				}
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: minutes %v, want %v", c.name, got, c.want)
		}
	}
}

func TestDaysOnAClockChange(t *testing.T) {
	zone, err := time.LoadLocation("Australia/Sydney")
	if err != nil {
		t.Skipf("no time zone data on this machine: %v", err)
	}
	for _, c := range []struct {
		name     string
		start    time.Time
		expected int
	}{
		{"25 hours", time.Date(2026, 4, 5, 0, 0, 0, 0, zone), 300},
		{"23 hours", time.Date(2026, 10, 4, 0, 0, 0, 0, zone), 276},
		{"24 hours", time.Date(2026, 6, 4, 0, 0, 0, 0, zone), 288},
	} {
		var readings []wear.Reading
		end := c.start.AddDate(0, 0, 1)
		night := 0
		for i, at := 0, c.start; at.Before(end); i, at = i+1, at.Add(5*time.Minute) {
			readings = append(readings, mmol(at, 5+float64(i%7)/10))
			if at.Hour() < 6 {
				night++
			}
		}
		r := wear.Analyse(wear.Input{Readings: readings, Zone: zone})
		if len(r.Days) != 1 || r.Days[0].Expected != c.expected || r.Days[0].Readings != c.expected || r.Days[0].CapturedPct.V != 100 {
			t.Errorf("%s: %+v", c.name, r.Days)
		}
		if len(r.Nights) != 1 || r.Nights[0].Readings != night {
			t.Errorf("%s: nights %+v, want %d readings", c.name, r.Nights, night)
		}
	}
}

// In some zones a day begins at 01:00 because midnight was skipped.
func TestDayWithoutMidnight(t *testing.T) {
	zone, err := time.LoadLocation("America/Santiago")
	if err != nil {
		t.Skipf("no time zone data on this machine: %v", err)
	}
	start := time.Date(2024, 9, 7, 0, 0, 0, 0, zone)
	var readings []wear.Reading
	for i := range 3*288 - 12 {
		readings = append(readings, mmol(start.Add(time.Duration(i)*5*time.Minute), 5+float64(i%5)/10))
	}
	r := wear.Analyse(wear.Input{Readings: readings, Zone: zone})
	var got []int
	for _, d := range r.Days {
		got = append(got, d.Expected)
	}
	if !slices.Equal(got, []int{288, 276, 288}) {
		t.Errorf("expected readings of the days: %v", got)
	}
}

func TestMeals(t *testing.T) {
	readings := days(2, 5, func(s time.Duration) float64 {
		return 5.2 + bump(s, at(0, 12, 50), 0.5, 3) + bump(s, at(1, 9, 0), 0.5, 2)
	})
	readings = slices.DeleteFunc(readings, func(r wear.Reading) bool { // a gap after breakfast on the second day
		since := time.Duration(r.At-monday.Unix()) * time.Second
		return within(since, at(1, 8, 30), at(1, 9, 30))
	})
	r := wear.Analyse(wear.Input{Readings: readings, Events: []wear.Event{
		event(at(0, 12, 0), wear.Meal, "rice"), event(at(0, 12, 5), wear.Meal, "dal"),
		event(at(0, 18, 0), wear.Meal, "soup"), event(at(0, 19, 0), wear.Meal, "apple"),
		event(at(1, 8, 0), wear.Meal, "toast"),
	}})
	if len(r.Meals) != 4 {
		t.Fatalf("%d meals, want 4: %v", len(r.Meals), r.Meals)
	}
	m := r.Meals[0]
	if m.Label != "rice, dal" || !m.Judged || !m.IAUC2h.OK || !m.Nadir5hMmol.OK {
		t.Errorf("first meal: %+v", m)
	}
	near(t, "baseline", m.BaselineMmol.V, 5.25, 0.1)
	near(t, "rise", m.RiseMmol.V, 3, 0.15)
	near(t, "peak after", m.PeakAfterMin.V, 50, 5)
	for i, want := range map[int]string{1: "Something else was eaten", 3: "readings in the 2 h after"} {
		if r.Meals[i].Judged || !strings.Contains(r.Meals[i].WhyNot, want) {
			t.Errorf("meal %d: %+v", i, r.Meals[i])
		}
	}
	for _, e := range r.Episodes {
		if e.Kind == wear.EpisodeAbove7_8 && e.From.Day() == 2 && e.After != "rice, dal" {
			t.Errorf("episode after %q", e.After)
		}
	}
}

func TestCensored(t *testing.T) {
	in := days(3, 5, usual)
	one := slices.Clone(in)
	one[300] = wear.Reading{At: one[300].At, Unit: wear.MmolL, Bound: wear.Below}
	r := wear.Analyse(wear.Input{Readings: one})
	if !r.Metrics.SDMmol.OK || r.CensoredLow != 1 || r.Metrics.MinMmol.V != 2.2 || r.Metrics.Below3_0Pct.V == 0 {
		t.Errorf("one \"low\": %+v", r.Metrics)
	}
	two := slices.Clone(one)
	two[301] = wear.Reading{At: two[301].At, Unit: wear.MmolL, Bound: wear.Above}
	r = wear.Analyse(wear.Input{Readings: two})
	if m := r.Metrics; m.SDMmol.OK || m.CVPct.OK || m.MAGEMmol.OK || m.LBGI.OK || !m.MeanMmol.OK {
		t.Errorf("two in a row: %+v", m)
	}
	if r.Priority.Tier != wear.Today {
		t.Errorf("a \"high\" is urgent here, got %s", r.Priority.Tier)
	}
}

func TestFlags(t *testing.T) {
	dip := func(low float64) func(time.Duration) float64 {
		return func(s time.Duration) float64 { return usual(s) - bump(s, at(4, 16, 0), 0.8, 5.3-low) }
	}
	symptom := func(label string) []wear.Event {
		return []wear.Event{event(at(4, 16, 10), wear.Symptom, label)}
	}
	high := func(top float64, days ...int) func(time.Duration) float64 {
		return func(s time.Duration) float64 {
			g := usual(s)
			for _, d := range days {
				g += bump(s, at(d, 16, 30), 0.7, top-5.3)
			}
			return g
		}
	}
	for _, c := range []struct {
		name   string
		level  func(time.Duration) float64
		days   int
		events []wear.Event
		in     wear.Context
		flags  []string
		tier   wear.Tier
	}{
		{name: "usual", level: usual, tier: wear.Routine},
		{name: "low, no symptom", level: dip(2.6), tier: wear.Routine},
		{name: "low, symptom an hour later", level: dip(3.3), events: []wear.Event{event(at(4, 18, 30), wear.Symptom, "shaky")}, tier: wear.Routine},
		{name: "low with a symptom", level: dip(3.3), events: symptom("shaky"), flags: []string{wear.FlagDipSymptom}, tier: wear.ThisMonth},
		{name: "the same after surgery", level: dip(3.3), events: symptom("shaky"), in: wear.Context{BariatricSurgery: true}, flags: []string{wear.FlagDipSymptom}, tier: wear.ThisWeek},
		{name: "very low with a symptom", level: dip(2.4), events: symptom("shaky"), flags: []string{wear.FlagVeryLow, wear.FlagDipSymptom}, tier: wear.ThisWeek},
		{name: "very low and confused", level: dip(2.4), events: symptom("Confused"), flags: []string{wear.FlagSevere, wear.FlagVeryLow, wear.FlagDipSymptom}, tier: wear.Today},
		{name: "low on medicine", level: dip(3.3), in: wear.Context{GlucoseLowering: true}, flags: []string{wear.FlagLowMedicine, wear.FlagOffPathway}, tier: wear.Today},
		{name: "low on insulin", level: dip(3.3), in: wear.Context{Insulin: true}, flags: []string{wear.FlagLowMedicine, wear.FlagOffPathway}, tier: wear.Today},
		{name: "high throughout", level: func(s time.Duration) float64 { return usual(s) + 2 }, flags: []string{wear.FlagAbove7_8, wear.FlagHighNights}, tier: wear.ThisMonth},
		{name: "above 10 on three days", level: high(10.6, 1, 3, 5), tier: wear.Routine},
		{name: "above 10 on four days", level: high(10.6, 1, 3, 5, 7), flags: []string{wear.FlagAbove10}, tier: wear.ThisMonth},
		{name: "above 11.1 on one day", level: high(12, 1), tier: wear.Routine},
		{name: "above 11.1 on two days", level: high(12, 1, 3), flags: []string{wear.FlagVeryHigh}, tier: wear.ThisMonth},
		{name: "with thirst", level: high(12, 1, 3), events: symptom("very thirsty"), flags: []string{wear.FlagVeryHigh}, tier: wear.Today},
		{name: "in pregnancy", level: high(12, 1, 3), in: wear.Context{Pregnant: true}, flags: []string{wear.FlagVeryHigh, wear.FlagOffPathway}, tier: wear.Today},
		{name: "above 11.1 on three days", level: high(12, 1, 3, 5), flags: []string{wear.FlagVeryHigh}, tier: wear.ThisWeek},
		{name: "above 13.9 once", level: high(15, 3), flags: []string{wear.FlagVeryHigh}, tier: wear.Today},
		{name: "pregnant", level: usual, in: wear.Context{Pregnant: true}, flags: []string{wear.FlagOffPathway}, tier: wear.ThisMonth},
		{name: "steroid", level: usual, in: wear.Context{Steroid: true}, flags: []string{wear.FlagOffPathway}, tier: wear.ThisMonth},
		{name: "short", level: usual, days: 6, flags: []string{wear.FlagTooLittle}, tier: wear.CannotTell},
		{name: "short and high", level: func(s time.Duration) float64 { return usual(s) + 3 }, days: 5, flags: []string{wear.FlagAbove7_8, wear.FlagAbove10, wear.FlagHighNights, wear.FlagTooLittle}, tier: wear.ThisMonth},
		{name: "sensor reads low throughout", level: func(s time.Duration) float64 { return usual(s) - 2.4 }, flags: []string{wear.FlagSensorDoubt, wear.FlagDoubted, wear.FlagTooLittle}, tier: wear.CannotTell},
		{name: "rises then dips, no diary", level: func(s time.Duration) float64 {
			return high(10.8, 2, 6)(s) - bump(s, at(2, 18, 40), 0.6, 2.4) - bump(s, at(6, 18, 40), 0.6, 2.4)
		}, flags: []string{wear.FlagSwingSymptom}, tier: wear.ThisMonth},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := c.days
			if n == 0 {
				n = 10
			}
			r := wear.Analyse(read(wear.Input{Readings: days(n, 5, c.level), Events: c.events, Context: c.in}))
			if d := cmp.Diff(append([]string{}, c.flags...), codes(r)); d != "" {
				t.Errorf("flags (-want +got):\n%s%v", d, r.Suspect)
			}
			if r.Priority.Tier != c.tier || r.Priority.DueDays != dueDays(r) {
				t.Errorf("tier %s, due in %d days; want %s", r.Priority.Tier, r.Priority.DueDays, c.tier)
			}
			for _, f := range r.Flags {
				if f.Text == "" || f.Evidence == "" {
					t.Errorf("flag without words: %+v", f)
				}
			}
			t.Log(r.Headline)
		})
	}
}

func TestNotFlaggedIsSaid(t *testing.T) {
	level := func(s time.Duration) float64 {
		if within(s, at(3, 2, 0), at(3, 2, 45)) {
			return 3.2
		}
		return usual(s) - bump(s, at(4, 16, 30), 0.8, 2.2) + bump(s, at(6, 16, 0), 0.7, 3.5)
	}
	r := wear.Analyse(wear.Input{Readings: days(10, 5, level)})
	got := map[string]string{}
	for _, m := range r.NotFlagged {
		got[m.Code] = m.Text
	}
	for _, code := range []string{"dip_without_symptom", "pressure_dip", "rise_under_10"} {
		if got[code] == "" {
			t.Errorf("nothing said about %s: %v", code, r.NotFlagged)
		}
	}
	if r.Priority.Tier != wear.Routine {
		t.Errorf("tier %s: %v", r.Priority.Tier, r.Flags)
	}
}

func TestEmpty(t *testing.T) {
	r := wear.Analyse(wear.Input{})
	if r.Readings != 0 || r.Metrics.MeanMmol.OK || r.Priority.Tier != wear.CannotTell || r.Headline != "No readings that can be used." {
		t.Errorf("%+v", r)
	}
	checkReport(t, r)
}

// goldenWear is small and has one of most things.
func goldenWear() wear.Input {
	level := func(s time.Duration) float64 {
		if within(s, at(2, 3, 0), at(2, 3, 45)) {
			return 3.3
		}
		return usual(s) + bump(s, at(1, 20, 30), 0.8, 3.5) + bump(s, at(3, 20, 30), 0.8, 3.6) - bump(s, at(4, 16, 0), 0.7, 1.9)
	}
	readings := slices.DeleteFunc(days(8, 15, level), func(r wear.Reading) bool {
		since := time.Duration(r.At-monday.Unix()) * time.Second
		return since < at(0, 10, 0) || within(since, at(5, 9, 0), at(5, 18, 0))
	})
	readings[0].Mark = wear.MarkWarmUp
	readings = append(readings, readings[40])
	events := []wear.Event{
		event(at(1, 19, 30), wear.Meal, "rice and dal"), event(at(3, 19, 30), wear.Meal, "rice and dal"),
		event(at(4, 16, 0), wear.Symptom, "shaky, sweaty"), event(at(4, 13, 0), wear.Meal, "bread"),
	}
	return wear.Input{Readings: readings, Events: events, Zone: time.FixedZone("", 3600), SensorKind: "A"}
}

func TestGoldenReport(t *testing.T) {
	got, err := json.MarshalIndent(wear.Analyse(goldenWear()), "", "\t")
	if err != nil {
		t.Fatal(err)
	}
	got = append(got, '\n')
	name := filepath.Join("testdata", "report.golden.json")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatalf("%v (run with -update to write it)", err)
	}
	if d := cmp.Diff(string(want), string(got)); d != "" {
		t.Errorf("the report changed (-want +got); run with -update if that is meant:\n%s", d)
	}
}

// dueDays is the time limit of a report's place.
func dueDays(r *wear.Report) int {
	if len(r.Near) > 0 && r.Priority.Tier == wear.Routine {
		return 28
	}
	limits := map[wear.Tier]int{wear.Today: 0, wear.ThisWeek: 5, wear.ThisMonth: 28, wear.CannotTell: 14, wear.Routine: 42}
	soonest := limits[r.Priority.Tier]
	for _, f := range r.Flags {
		soonest = min(soonest, limits[f.Tier])
		if f.Code == wear.FlagUnread {
			soonest = min(soonest, 3)
		}
	}
	return soonest
}
