package wear_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// text gives the sentence of a code, or "".
func text(remarks []wear.Remark, code string) string {
	for _, r := range remarks {
		if r.Code == code {
			return r.Text
		}
	}
	return ""
}

// believeAll is the decision to believe every reading.
var believeAll = []wear.Override{{From: 0, To: math.MaxInt64, Believe: true}}

// breakfasts is eight mornings of porridge, the last four after a shake, each
// with its own rise in mmol/L.
func breakfasts(rises ...float64) wear.Input {
	level := func(s time.Duration) float64 {
		g := 5.2
		for day, rise := range rises {
			g += bump(s, at(day, 8, 50), 0.5, rise)
		}
		return g
	}
	in := wear.Input{Readings: days(len(rises), 5, level)}
	for day := range rises {
		label := "Porridge"
		if day%2 == 1 {
			label = "porridge "
		}
		in.Events = append(in.Events, event(at(day, 8, 0), wear.Meal, label))
		if day >= 4 {
			in.Events = append(in.Events, event(at(day, 7, 30), wear.Meal, "Protein shake"))
		}
	}
	return in
}

func TestLikeMealsAreComparedFromThreeEach(t *testing.T) {
	r := wear.Analyse(breakfasts(3, 3.2, 2.8, 3.1, 1.6, 1.8, 1.5, 1.7))
	if len(r.MealGroups) != 2 || r.MealGroups[0].Like != "porridge" || r.MealGroups[1].Like != "porridge after protein shake" {
		t.Fatalf("groups %+v", r.MealGroups)
	}
	near(t, "rise of the plain breakfast", r.MealGroups[0].RiseMmol.V, 3.0, 0.15)
	got := text(r.Explained, "like_meals")
	if !strings.HasPrefix(got, "Porridge (4 times) raised glucose by 3.") || !strings.Contains(got, "less, more than the same meal differs") {
		t.Errorf("got %q", got)
	}
	// The same difference within a wide scatter is no difference.
	r = wear.Analyse(breakfasts(1, 5, 1.5, 4.5, 0.8, 4, 1, 4))
	if got := text(r.Explained, "like_meals"); !strings.Contains(got, "no more apart than the same meal") {
		t.Errorf("got %q", got)
	}
	// Two after the shake are too few to be compared.
	in := breakfasts(3, 3.2, 2.8, 3.1, 1.6, 1.8)
	if r = wear.Analyse(in); len(r.MealGroups) != 1 || text(r.Explained, "like_meals") != "" {
		t.Errorf("groups %+v", r.MealGroups)
	}
}

func TestMealReturnAndThreeHourArea(t *testing.T) {
	r := wear.Analyse(breakfasts(3, 3, 3))
	m := r.Meals[0]
	// Half the width of the bump is 30 min: within 0.5 from 40 min after its top.
	if !m.ReturnMin.OK || math.Abs(m.ReturnMin.V-90) > 6 || !m.IAUC3h.OK || m.IAUC3h.V < m.IAUC2h.V {
		t.Errorf("return %v, areas %v and %v", m.ReturnMin, m.IAUC2h, m.IAUC3h)
	}
	in := breakfasts(3, 3, 3)
	in.Events = append(in.Events, event(at(0, 10, 30), wear.Meal, "apple"))
	if m = wear.Analyse(in).Meals[0]; !m.IAUC2h.OK || m.IAUC3h.OK || m.ReturnMin.OK {
		t.Errorf("with an apple after two and a half hours: %+v", m)
	}
}

// mornings rises by a size from five to seven o'clock.
func mornings(rise float64) func(time.Duration) float64 {
	return func(s time.Duration) float64 {
		h := clock(s)
		return 5 + rise*max(0, min(1, (h-4)/3))*max(0, min(1, 12-h))
	}
}

func TestDawnRise(t *testing.T) {
	breakfast := func(n int) (events []wear.Event) {
		for d := range n {
			events = append(events, event(at(d, 7, 15), wear.Meal, "toast"), event(at(d, 19, 0), wear.Meal, "soup"))
		}
		return events
	}
	r := wear.Analyse(wear.Input{Readings: days(7, 5, mornings(1.6)), Events: breakfast(7)})
	m := r.Mornings
	if m.Nights != 7 || math.Abs(m.MedianRiseMmol.V-1.7) > 0.15 || m.RisePct.V != 100 || m.Fasting != 6 || math.Abs(m.FastingMmol.V-6.6) > 0.1 {
		t.Errorf("%+v", m)
	}
	if got := text(r.Explained, "dawn"); !strings.Contains(got, "on 100 % of nights by 1.11 or more") {
		t.Errorf("got %q", got)
	}
	// Four nights are too few for a median.
	if m = wear.Analyse(wear.Input{Readings: days(4, 5, mornings(1.6)), Events: breakfast(4)}).Mornings; m.MedianRiseMmol.OK || m.Nights != 4 {
		t.Errorf("four nights: %+v", m)
	}
	for _, c := range []struct {
		name, why string
		change    func(*wear.Input)
	}{
		{"shift work", "Shift work", func(in *wear.Input) { in.Context.ShiftWork = true }},
		{"eaten at two", "eaten in the night", func(in *wear.Input) {
			for d := range 7 {
				in.Events = append(in.Events, event(at(d, 2, 0), wear.Meal, "biscuits"))
			}
		}},
		{"half of the night missing", "missing or not believed", func(in *wear.Input) {
			in.Readings = slices.DeleteFunc(in.Readings, func(r wear.Reading) bool { return time.Unix(r.At, 0).UTC().Hour() < 3 })
		}},
		{"from a low", "answer to the low", func(in *wear.Input) {
			in.Readings = days(7, 5, func(s time.Duration) float64 {
				return mornings(1.6)(s) - bump(s, at(int(s.Hours()/24), 2, 30), 1.2, 1.6)
			})
		}},
	} {
		in := wear.Input{Readings: days(7, 5, mornings(1.6)), Events: breakfast(7)}
		c.change(&in)
		r := wear.Analyse(in)
		for _, n := range r.Nights {
			if n.RiseMmol.OK || !strings.Contains(n.WhyNot, c.why) {
				t.Errorf("%s: %+v", c.name, n)
			}
		}
		if r.Mornings.MedianRiseMmol.OK {
			t.Errorf("%s: a median all the same", c.name)
		}
	}
	// Without a diary nobody knows who fasted.
	if m = wear.Analyse(wear.Input{Readings: days(7, 5, mornings(1.6))}).Mornings; m.Fasting != 0 || m.FastingMmol.OK || !m.MedianMmol.OK {
		t.Errorf("without a diary: %+v", m)
	}
}

func TestSlightlyHighMorningIsSaid(t *testing.T) {
	r := wear.Analyse(wear.Input{Readings: days(10, 5, mornings(1.2))})
	if got := text(r.NotFlagged, "morning_slightly_high"); !strings.Contains(got, "only the laboratory's fasting value counts") {
		t.Errorf("got %q", got)
	}
}

func TestExerciseWindow(t *testing.T) {
	level := func(s time.Duration) float64 { return usual(s) + bump(s, at(3, 16, 20), 0.4, 3) }
	e := event(at(3, 16, 0), wear.Exercise, "hill running")
	e.Minutes = 40
	r := wear.Analyse(wear.Input{Readings: days(10, 5, level), Events: []wear.Event{e}})
	if len(r.Exercise) != 1 {
		t.Fatalf("%+v", r.Exercise)
	}
	x := r.Exercise[0]
	if x.Minutes != 40 || !x.BeforeMmol.OK || x.HighestMmol.V < 7 || x.LowestMmol.V > x.BeforeMmol.V {
		t.Errorf("%+v", x)
	}
	if got := text(r.Explained, "exercise"); !strings.HasPrefix(got, "Hill running on 5 March at 16:00: ") {
		t.Errorf("got %q", got)
	}
}

func TestSwingsNeedASteepRise(t *testing.T) {
	dips := func(s time.Duration) float64 {
		return -bump(s, at(2, 18, 40), 0.6, 2.4) - bump(s, at(6, 18, 40), 0.6, 2.4)
	}
	steep := func(s time.Duration) float64 {
		return usual(s) + bump(s, at(2, 16, 30), 0.7, 5.5) + bump(s, at(6, 16, 30), 0.7, 5.5) + dips(s)
	}
	r := wear.Analyse(wear.Input{Readings: days(10, 5, steep), Events: []wear.Event{event(at(2, 15, 30), wear.Meal, "rice pudding")}})
	if len(r.Swings) != 2 || r.Swings[0].After != "rice pudding" || r.Swings[0].PeakMmol.V < 10 || r.Swings[0].DipMmol.V > 3.9 {
		t.Fatalf("%+v", r.Swings)
	}
	if !slices.Contains(codes(r), wear.FlagSwingSymptom) || !strings.Contains(text(r.Explained, "swing"), "after rice pudding") {
		t.Errorf("flags %v, %q", codes(r), text(r.Explained, "swing"))
	}
	// A whole afternoon just above 10 has no steep rise before its end.
	plateau := func(s time.Duration) float64 {
		g := usual(s) + dips(s)
		for _, d := range []int{2, 6} {
			if x := (s - at(d, 8, 0)).Hours(); x > 0 && x < 9.2 {
				g += 4.6*min(1, x/5) + 0.08*min(9.2, x)*min(1, (9.2-x)/0.6)
			}
		}
		return g
	}
	if r = wear.Analyse(wear.Input{Readings: days(10, 5, plateau)}); len(r.Swings) != 0 {
		t.Errorf("%+v", r.Swings)
	}
}

func TestThreeFactsAreKeptApart(t *testing.T) {
	level := func(s time.Duration) float64 { return usual(s) - bump(s, at(4, 16, 0), 0.8, 2.1) }
	stick := event(at(4, 16, 5), wear.Fingerstick, "")
	stick.Value = wear.Reading{At: stick.At, Num: 31, Scale: 1, Unit: wear.MmolL}
	base := []wear.Event{event(at(4, 13, 0), wear.Meal, "bread"), event(at(4, 16, 10), wear.Symptom, "shaky")}
	relief := event(at(4, 16, 30), wear.Note, "felt better after juice")
	for _, c := range []struct {
		name   string
		events []wear.Event
		blood  bool
		relief string
		says   string
	}{
		{"symptom only", base, false, "not written down", "still to be asked"},
		{"with a fingerstick", append(slices.Clone(base), stick), true, "not written down", "ask whether sugar brought relief"},
		{"with relief", append(slices.Clone(base), relief), false, "written down", "blood glucose at the time is not"},
		{"all three", append(slices.Clone(base), stick, relief), true, "written down", "all written down once"},
	} {
		r := wear.Analyse(read(wear.Input{Readings: days(10, 5, level), Events: c.events}))
		if len(r.Matches) != 1 || r.Matches[0].Unread || r.Matches[0].BloodMmol.OK != c.blood || r.Matches[0].Relief != c.relief || r.Matches[0].Timing != "after a meal" {
			t.Errorf("%s: %+v", c.name, r.Matches)
			continue
		}
		if !strings.Contains(r.Flags[0].Evidence, c.says) {
			t.Errorf("%s: %q", c.name, r.Flags[0].Evidence)
		}
	}
	// Without a complete log nobody knows of a fast.
	r := wear.Analyse(wear.Input{Readings: days(10, 5, level), Events: []wear.Event{event(at(4, 9, 0), wear.Meal, "bread"), event(at(4, 16, 10), wear.Symptom, "shaky")}})
	if len(r.Matches) != 1 || r.Matches[0].Timing != "unknown" {
		t.Errorf("seven hours after the only meal: %+v", r.Matches)
	}
}

// Where one dip had a symptom, the others are asked about and not waved away.
func TestOtherDipsAreAskedAbout(t *testing.T) {
	level := func(s time.Duration) float64 {
		return usual(s) - bump(s, at(4, 16, 0), 0.8, 2.1) - bump(s, at(6, 16, 0), 0.8, 2.2)
	}
	r := wear.Analyse(read(wear.Input{Readings: days(10, 5, level), Events: []wear.Event{event(at(4, 16, 10), wear.Symptom, "shaky")}}))
	if text(r.NotFlagged, "dip_without_symptom") != "" || !strings.Contains(r.Flags[0].Evidence, "One more dip, lowest sensor value 3.0, without words beside it: ask about it too.") {
		t.Errorf("%q; %v", r.Flags[0].Evidence, r.NotFlagged)
	}
	r = wear.Analyse(onCall(asked(wear.Input{Readings: days(10, 5, level)})))
	if got := text(r.NotFlagged, "dip_without_symptom"); !strings.Contains(got, "no reason for follow-up") {
		t.Errorf("without a symptom at all: %q", got)
	}
	r = wear.Analyse(wear.Input{Readings: days(10, 5, level)})
	if got := text(r.NotFlagged, "dip_without_symptom"); strings.Contains(got, "no reason") || got == "" {
		t.Errorf("with nobody asked: %q", got)
	}
}

func TestOverrides(t *testing.T) {
	level := func(s time.Duration) float64 {
		if within(s, at(3, 2, 0), at(3, 2, 45)) {
			return 3.2
		}
		return usual(s)
	}
	readings := days(10, 5, level)
	from, to := monday.Add(at(3, 1, 55)).Unix(), monday.Add(at(3, 2, 50)).Unix()
	plain := wear.Analyse(wear.Input{Readings: readings})
	dip := marks(plain, wear.SuspectPressure)[0].Readings

	r := wear.Analyse(wear.Input{Readings: readings, Overrides: []wear.Override{{From: from, To: to, Believe: true}}})
	if len(marks(r, wear.SuspectPressure)) != 0 || r.Overrides[0].Readings < dip || r.Metrics.Below3_9Pct.V == 0 {
		t.Errorf("believed by decision: %+v %+v", r.Suspect, r.Overrides)
	}
	if r.MetricsEngine == nil || r.MetricsEngine.Below3_9Pct != plain.Metrics.Below3_9Pct || r.Metrics != r.MetricsAll {
		t.Errorf("the figures without the decision are not those of the engine alone")
	}
	if text(r.Quality, "override") == "" || plain.MetricsEngine != nil {
		t.Error("the decision is not said, or one is said that nobody took")
	}

	// The other way round, and a later decision over an earlier one.
	noon := wear.Override{From: monday.Add(at(5, 12, 0)).Unix(), To: monday.Add(at(5, 14, 0)).Unix()}
	r = wear.Analyse(wear.Input{Readings: readings, Overrides: []wear.Override{noon}})
	if s := marks(r, wear.SuspectPerson); len(s) != 1 || s[0].Readings != 25 || r.Believed != plain.Believed-25 {
		t.Errorf("not believed by decision: %+v", s)
	}
	back := noon
	back.Believe = true
	r = wear.Analyse(wear.Input{Readings: readings, Overrides: []wear.Override{noon, back}})
	if r.Believed != plain.Believed || r.Metrics != plain.Metrics {
		t.Error("a decision taken back leaves a trace in the measures")
	}
}

func TestUncertaintyLeavesOutADay(t *testing.T) {
	level := func(s time.Duration) float64 {
		if within(s, at(2, 0, 0), at(3, 0, 0)) {
			return usual(s) + 4
		}
		return usual(s)
	}
	// The made edges are steep, hence the decision to believe them.
	r := wear.Analyse(wear.Input{Readings: days(5, 5, level), Overrides: believeAll})
	u, share := r.Uncertainty.Above7_8Pct, r.Metrics.Above7_8Pct.V
	// Without the high day only the others are left, without another its weight is 1 of 4.
	if !u.Low.OK || u.Low.V != 0 || math.Abs(u.High.V-share*5/4) > 1e-9 {
		t.Errorf("above 7.8: %v of %v", u, share)
	}
	if one := wear.Analyse(wear.Input{Readings: days(1, 5, usual)}).Uncertainty.Above7_8Pct; one.Low.OK {
		t.Errorf("one day: %v", one)
	}
}

// Ten days, the second half read every minute: each half counts for its time.
func TestMixedIntervalsAreWeighted(t *testing.T) {
	level := func(s time.Duration) float64 {
		if s < at(5, 0, 0) {
			return 6
		}
		return 9
	}
	var mixed []wear.Reading
	for _, r := range days(10, 5, level) {
		if r.At < monday.Add(at(5, 0, 0)).Unix() {
			mixed = append(mixed, r)
		}
	}
	for _, r := range days(10, 1, level) {
		if r.At >= monday.Add(at(5, 0, 0)).Unix() {
			mixed = append(mixed, r)
		}
	}
	r := wear.Analyse(wear.Input{Readings: mixed, Overrides: believeAll})
	near(t, "above 7.8", r.Metrics.Above7_8Pct.V, 50, 0.1)
	near(t, "mean", r.Metrics.MeanMmol.V, 7.5, 0.01)
	near(t, "captured", r.CapturedPct.V, 100, 0.1)
	if r.IntervalS != 300 || text(r.Quality, "mixed_intervals") == "" || math.Abs(r.Days[7].Above7_8Min.V-1440) > 1e-6 || !r.Days[7].Usable {
		t.Errorf("interval %d, %v, day %+v", r.IntervalS, r.Quality, r.Days[7])
	}
	if len(r.Gaps) != 0 {
		t.Errorf("gaps %v", r.Gaps)
	}
	// A few readings missed are no other interval.
	sparse := slices.DeleteFunc(days(10, 5, usual), func(r wear.Reading) bool { return r.At/300%7 == 0 })
	if r = wear.Analyse(wear.Input{Readings: sparse}); text(r.Quality, "mixed_intervals") != "" || r.IntervalS != 300 {
		t.Errorf("interval %d, %v", r.IntervalS, r.Quality)
	}
}

func TestLaboratoryResults(t *testing.T) {
	day := monday.Add(at(2, 8, 0)).Unix()
	lab := func(kind string, value float64, unit string) wear.Lab {
		return wear.Lab{At: day, Kind: kind, Value: value, Unit: unit, Source: "letter"}
	}
	ada := wear.DefaultProtocol()
	ada.Risk.Criteria = "ada"
	for _, c := range []struct {
		lab  wear.Lab
		p    *wear.Protocol
		want wear.Class
	}{
		{lab(wear.LabHbA1c, 41, "mmol/mol"), nil, wear.ClassNormal},
		{lab(wear.LabHbA1c, 41, "mmol/mol"), ada, wear.ClassIntermediate},
		{lab(wear.LabHbA1c, 47, "mmol/mol"), nil, wear.ClassReview}, // prints as 6.5 % and is below 48
		{lab(wear.LabHbA1c, 48, "mmol/mol"), nil, wear.ClassDiabetes},
		{lab(wear.LabHbA1c, 6.4, "%"), nil, wear.ClassIntermediate},
		{lab(wear.LabHbA1c, 6.5, "%"), nil, wear.ClassDiabetes},
		{lab(wear.LabFastingGlucose, 5.8, "mmol/L"), nil, wear.ClassNormal},
		{lab(wear.LabFastingGlucose, 5.8, "mmol/L"), ada, wear.ClassIntermediate},
		{lab(wear.LabFastingGlucose, 126, "mg/dL"), nil, wear.ClassDiabetes},
		{lab(wear.LabFastingGlucose, 125, "mg/dL"), nil, wear.ClassIntermediate},
		{lab(wear.LabFastingGlucose, 109, "mg/dL"), nil, wear.ClassNormal}, // 6.05 mmol/L, which rounds to 6.1
		{lab(wear.LabFastingGlucose, 110, "mg/dL"), nil, wear.ClassIntermediate},
		{lab(wear.LabFastingGlucose, 99, "mg/dL"), ada, wear.ClassNormal},
		{lab(wear.LabFastingGlucose, 100, "mg/dL"), ada, wear.ClassIntermediate},
		{lab(wear.LabFastingGlucose, 6.96, "mmol/L"), nil, wear.ClassIntermediate}, // rounds to 7.0 and is below it
		{lab(wear.LabTwoHourGlucose, 140, "mg/dL"), nil, wear.ClassIntermediate},   // 7.77 mmol/L
		{lab(wear.LabRandomGlucose, 11.0, "mmol/L"), nil, ""},
		{lab(wear.LabRandomGlucose, 200, "mg/dL"), nil, wear.ClassDiabetes},
		{lab(wear.LabHbA1c, 47.9, "mmol/mol"), nil, wear.ClassReview},
		{lab(wear.LabTwoHourGlucose, 7.8, "mmol/L"), nil, wear.ClassIntermediate},
		{lab(wear.LabFastingGlucose, 5.8, "stone"), nil, ""},
		{lab(wear.LabFastingInsulin, 12, "mU/L"), nil, ""},
	} {
		r := wear.Analyse(wear.Input{Readings: days(8, 5, usual), Labs: []wear.Lab{c.lab}, Protocol: c.p})
		if len(r.Labs) != 1 || r.Labs[0].Class != c.want {
			t.Errorf("%+v: %+v", c.lab, r.Labs)
		}
		flagged := slices.Contains(codes(r), wear.FlagRisk)
		if flagged != (c.want != "" && c.want != wear.ClassNormal) {
			t.Errorf("%+v: flags %v", c.lab, codes(r))
		}
		want := wear.ThisMonth
		if c.lab.Kind == wear.LabRandomGlucose {
			want = wear.ThisWeek
		}
		if c.want == wear.ClassDiabetes && r.Priority.Tier != want {
			t.Errorf("%+v: %s, want %s", c.lab, r.Priority.Tier, want)
		}
	}
	for _, c := range []struct {
		lab  wear.Lab
		want wear.Class
		tier wear.Tier
	}{
		{past(wear.Above, lab(wear.LabHbA1c, 130, "mmol/mol")), wear.ClassDiabetes, wear.Today},
		{past(wear.Above, lab(wear.LabHbA1c, 30, "mmol/mol")), wear.ClassReview, wear.Routine},
		{past(wear.Below, lab(wear.LabHbA1c, 42, "mmol/mol")), wear.ClassReview, wear.Routine},
		{past(wear.Below, lab(wear.LabFastingGlucose, 3.0, "mmol/L")), wear.ClassLow, wear.Today},
		{past(wear.Below, lab(wear.LabFastingGlucose, 5.6, "mmol/L")), wear.ClassReview, wear.Routine},
		{past(wear.Above, lab(wear.LabFastingGlucose, 7.0, "mmol/L")), wear.ClassDiabetes, wear.ThisMonth},
		{past(wear.Above, lab(wear.LabRandomGlucose, 10, "mmol/L")), wear.ClassReview, wear.Routine},
		{past(wear.Above, lab(wear.LabRandomGlucose, 600, "mg/dL")), wear.ClassDiabetes, wear.Today},
		{past(wear.Below, lab(wear.LabRandomGlucose, 2.2, "mmol/L")), wear.ClassLow, wear.Today},
		{past(wear.Below, lab(wear.LabFastingInsulin, 1, "mU/L")), "", wear.Routine},
	} {
		r := wear.Analyse(wear.Input{Readings: days(8, 5, usual), Labs: []wear.Lab{c.lab}})
		if len(r.Labs) != 1 || r.Labs[0].Class != c.want || r.Priority.Tier != c.tier ||
			slices.Contains(codes(r), wear.FlagRisk) != (c.want != "") {
			t.Errorf("%+v: %+v, %s, flags %v", c.lab, r.Labs, r.Priority.Tier, codes(r))
		}
	}
	// HOMA-IR by hand: 5.0 × 9 ÷ 22.5 = 2.0; 54 pmol/L are 9 mU/L.
	near(t, "HOMA-IR", wear.HomaIR(5, 9).V, 2, 1e-12)
	r := wear.Analyse(wear.Input{Readings: days(8, 5, usual), Labs: []wear.Lab{lab(wear.LabFastingInsulin, 54, "pmol/L"), lab(wear.LabFastingGlucose, 5, "mmol/L")}})
	near(t, "HOMA-IR in the report", r.HomaIR.V, 2, 1e-12)
	if slices.Contains(codes(r), wear.FlagRisk) {
		t.Error("a HOMA-IR of 2.0 is flagged")
	}
	r = wear.Analyse(wear.Input{Readings: days(8, 5, usual), Labs: []wear.Lab{lab(wear.LabFastingInsulin, 15, "mU/L"), lab(wear.LabFastingGlucose, 5, "mmol/L")}})
	if !slices.Contains(codes(r), wear.FlagRisk) || !strings.Contains(r.Flags[0].Text, "HOMA-IR 3.3") {
		t.Errorf("a HOMA-IR of 3.3: %+v", r.Flags)
	}
	// A timed value far from the sensor is a clue, and corrects nothing.
	timed := lab(wear.LabFastingGlucose, 4.2, "mmol/L")
	timed.At, timed.Timed = monday.Add(at(2, 6, 0)).Unix(), true
	r = wear.Analyse(wear.Input{Readings: days(8, 5, usual), Labs: []wear.Lab{timed}})
	if got := text(r.Quality, "laboratory"); !strings.Contains(got, "may be reading high") {
		t.Errorf("got %q", got)
	}
}

func TestContextIsSaidAndChangesTheRules(t *testing.T) {
	for code, c := range map[string]wear.Context{
		"glucose_lowering": {Sulfonylurea: true}, "masking_medicine": {Masking: true}, "steroid": {Steroid: true}, "raising_medicine": {Raising: true},
		"pregnant": {Pregnant: true}, "bariatric_surgery": {BariatricSurgery: true}, "low_carbohydrate": {LowCarbohydrate: true},
		"shift_work": {ShiftWork: true}, "older": {BirthYear: 1950}, "child": {BirthDate: "2010-01-01"}, "asked": {AskedOn: "2026-03-01"}, "not_asked": {}, "risk_factors": {PolycysticOvary: true},
	} {
		r := wear.Analyse(wear.Input{Readings: days(10, 5, usual), Context: c})
		if text(r.Context, code) == "" {
			t.Errorf("nothing said for %s: %v", code, r.Context)
		}
	}
	if r := wear.Analyse(wear.Input{Readings: days(10, 5, usual)}); len(r.Context) != 1 || len(r.Flags) != 0 {
		t.Errorf("nothing is on record: %v %v", r.Context, r.Flags)
	}
	r := wear.Analyse(wear.Input{Readings: days(10, 5, usual), Context: wear.Context{GestationalDiabetes: true}})
	if !slices.Equal(codes(r), []string{wear.FlagRisk}) || r.Priority.Tier != wear.Routine || !strings.Contains(r.Flags[0].Evidence, "Insulin is not measured") {
		t.Errorf("%+v", r.Flags)
	}
	// Where the trace has a finding of its own, that speaks.
	r = wear.Analyse(wear.Input{Readings: days(10, 5, func(s time.Duration) float64 { return usual(s) + 3 }), Context: wear.Context{GestationalDiabetes: true}})
	if slices.Contains(codes(r), wear.FlagRisk) {
		t.Errorf("%v", codes(r))
	}
}

func TestGMIOnlyWhereAskedFor(t *testing.T) {
	p := wear.DefaultProtocol()
	if r := wear.Analyse(wear.Input{Readings: days(8, 5, usual), Protocol: p}); r.Metrics.GMIPct.OK || text(r.Quality, "gmi") != "" {
		t.Error("GMI without being asked for")
	}
	p.Measure.GMI = 1
	r := wear.Analyse(wear.Input{Readings: days(8, 5, usual), Protocol: p})
	near(t, "GMI", r.Metrics.GMIPct.V, 3.31+0.02392*r.Metrics.MeanMmol.V*wear.MgdlPerMmol, 1e-9)
	if !strings.Contains(text(r.Quality, "gmi"), "not an HbA1c") {
		t.Error("GMI without its warning")
	}
}

func TestWithinKind(t *testing.T) {
	p := wear.DefaultProtocol()
	var wears []wear.Metrics
	for i := range 40 {
		m := wear.Metrics{MeanMmol: wear.Of(5 + float64(i)/20), Above7_8Pct: wear.Of(float64(i)), Above10Pct: wear.Of(0), CVPct: wear.Of(18)}
		wears = append(wears, m)
	}
	if wear.NewNorms("A", wears[1:], p) != nil || wear.NewNorms("", wears, p) != nil {
		t.Error("norms from too few wears, or of no kind")
	}
	norms := wear.NewNorms("A", wears, p)
	m := wear.Analyse(wear.Input{Readings: days(10, 5, usual), SensorKind: "A"}).Metrics
	k := norms.Standing("A", &m)
	if k == nil || k.Wears != 40 || k.Above10Pct.V != 50 || k.Above7_8Pct.V != 1.25 {
		t.Fatalf("%+v", k)
	}
	if got := k.Words(); !strings.Contains(got, "40 wears of sensor kind A") || !strings.Contains(got, "Other kinds are not comparable") {
		t.Errorf("got %q", got)
	}
	if k := norms.Standing("B", &m); k != nil {
		t.Errorf("across kinds: %+v", k)
	}
}

func TestCompare(t *testing.T) {
	wearOf := func(shift float64, kind string) *wear.Report {
		return wear.Analyse(wear.Input{Readings: days(12, 5, func(s time.Duration) float64 { return usual(s) + shift }), SensorKind: kind})
	}
	first, later := wearOf(2.4, "A"), wearOf(0, "A")
	got := wear.Compare(first, later, nil)
	if s := text(got, "mean"); !strings.HasSuffix(s, "a fall beyond expected variation (0.7).") {
		t.Errorf("mean: %q", s)
	}
	if s := text(got, "flags_gone"); !strings.Contains(s, "above 7.8 on most days") {
		t.Errorf("flags: %q", s)
	}
	if s := text(got, "kinds_differ"); s != "" {
		t.Errorf("one kind: %q", s)
	}
	for _, m := range wear.Compare(wearOf(0.3, "A"), later, nil) {
		if !strings.Contains(m.Text, "within expected variation") {
			t.Errorf("a small change: %q", m.Text)
		}
	}
	if got = wear.Compare(first, wearOf(0, "B"), nil); got[0].Code != "kinds_differ" || !strings.Contains(got[0].Text, "1.7 mmol/L") {
		t.Errorf("two kinds: %v", got)
	}
	short := wear.Analyse(wear.Input{Readings: days(3, 5, usual), SensorKind: "A"})
	if got = wear.Compare(first, short, nil); len(got) != 1 || got[0].Code != "low_confidence" || !strings.Contains(got[0].Text, "the later wear") {
		t.Errorf("a short wear: %v", got)
	}
	if len(wear.Compare(nil, later, nil)) != 0 {
		t.Error("a comparison with nothing")
	}
}

// What ranks a wear says what would lower it.
func TestWhatWouldLowerIt(t *testing.T) {
	r := wear.Analyse(wear.Input{Readings: days(10, 5, func(s time.Duration) float64 { return usual(s) + 3 })})
	all := strings.Join(r.Priority.Lower, " ")
	if !strings.Contains(all, "under 17 % of readings") || strings.Contains(all, "points") {
		t.Errorf("got %q", all)
	}
	if r = wear.Analyse(wear.Input{Readings: days(10, 5, func(s time.Duration) float64 { return 5 })}); len(r.Priority.Lower) != 0 {
		t.Errorf("nothing to lower: %v", r.Priority.Lower)
	}
}

// A failed stretch that leaves too few full days is said at the head.
func TestFailedSensorIsNotRoutine(t *testing.T) {
	level := func(s time.Duration) float64 {
		if s >= at(8, 0, 0) {
			return 2.3 + 0.1*math.Sin(s.Hours())
		}
		return usual(s)
	}
	for _, minutes := range []int{5, 15} {
		r := wear.Analyse(wear.Input{Readings: days(13, minutes, level)})
		if !slices.Contains(codes(r), wear.FlagSensorDoubt) || r.Priority.Tier != wear.CannotTell {
			t.Errorf("every %d min: %s %v", minutes, r.Priority.Tier, codes(r))
		}
	}
}

// Two results confirm each other by the criteria in force: not a glucose at
// random, not years apart, and of one sample under one set only.
func TestConfirms(t *testing.T) {
	lab := func(kind string, value float64, unit string, day int) wear.Lab {
		return wear.Lab{Kind: kind, Value: value, Unit: unit, At: monday.AddDate(0, 0, day).Unix()}
	}
	hba1c, fasting := lab(wear.LabHbA1c, 50, "mmol/mol", 0), lab(wear.LabFastingGlucose, 7.4, "mmol/L", 0)
	for _, c := range []struct {
		name     string
		a, b     wear.Lab
		criteria string
		want     bool
	}{
		{"two tests of one sample", hba1c, fasting, "ada", true},
		{"the same elsewhere", hba1c, fasting, "australia", false},
		{"the same in the UK", hba1c, fasting, "uk", false},
		{"one test twice on one day", hba1c, hba1c, "ada", false},
		{"a week apart", hba1c, lab(wear.LabHbA1c, 49, "mmol/mol", 7), "australia", true},
		{"eight years apart", hba1c, lab(wear.LabHbA1c, 49, "mmol/mol", 8*365), "australia", false},
		{"two at random", lab(wear.LabRandomGlucose, 12, "mmol/L", 0), lab(wear.LabRandomGlucose, 13, "mmol/L", 7), "ada", false},
		{"one under the limit", hba1c, lab(wear.LabHbA1c, 47, "mmol/mol", 7), "ada", false},
	} {
		if got := c.a.Confirms(c.b, c.criteria); got != c.want || c.b.Confirms(c.a, c.criteria) != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
	if (wear.Lab{Kind: wear.LabHbA1c, Value: 47, Unit: "mmol/mol"}).Class(wear.LabRules{Criteria: "uk"}) != wear.ClassIntermediate || (wear.Lab{Kind: wear.LabFastingGlucose, Value: 5.5, Unit: "mmol/L"}).Class(wear.LabRules{Criteria: "uk"}) != wear.ClassIntermediate {
		t.Error("the UK bands")
	}
}

// past is a result of which only a bound is known.
func past(bound wear.Bound, l wear.Lab) wear.Lab {
	l.Bound = bound
	return l
}
