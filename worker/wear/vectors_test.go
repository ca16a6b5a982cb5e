package wear_test

import (
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wearround/worker/wear"
)

// Every row of the published values and hand-computed examples, by the
// function it names.
func TestVectors(t *testing.T) {
	rows := table(t, "vectors.csv")
	if len(rows) < 100 {
		t.Fatalf("only %d rows", len(rows))
	}
	for _, row := range rows {
		t.Run(row["id"]+"_"+row["function"], func(t *testing.T) {
			t.Logf("%s; expected %s; source: %s (%s)", row["input"], row["expected"], row["source"], row["status"])
			check := vectorChecks[row["function"]]
			if check == nil {
				t.Fatalf("no function for %q", row["function"])
			}
			check(t, vector{row["input"], row["expected"], row["rounding_or_tolerance"]})
		})
	}
}

// standing says what a row is evidence of: a value that was published, one that
// a published formula or criterion gives, or an example worked by hand.
func standing(row map[string]string) string {
	switch {
	case strings.HasPrefix(row["source"], "own"):
		return "hand example"
	case row["status"] == "published pair + [D]", row["status"] == "[V]+[D]":
		return "published value"
	case row["status"] == "[V2]+[D]":
		return "published value, seen on a secondary page"
	case row["status"] == "[D]+[M]":
		return "published value from memory, agrees with its formula"
	case row["source"] == "trap", strings.HasPrefix(row["source"], "TRAP"):
		return "hand example"
	case strings.HasPrefix(row["status"], "[D]"), strings.HasPrefix(row["status"], "[V]/[P]"):
		return "by a published formula or criterion"
	}
	return ""
}

// The list of which rows are published values and which are hand examples.
func TestVectorsAreListed(t *testing.T) {
	list := map[string][]string{}
	for _, row := range table(t, "vectors.csv") {
		s := standing(row)
		if s == "" {
			t.Errorf("%s: neither published nor worked by hand: %s", row["id"], row["status"])
		}
		list[s] = append(list[s], row["id"])
	}
	for _, s := range slices.Sorted(maps.Keys(list)) {
		t.Logf("%s (%d): %s", s, len(list[s]), strings.Join(list[s], " "))
	}
}

// vector is one row: texts that hold numbers.
type vector struct{ input, expected, tolerance string }

var (
	numberPattern = regexp.MustCompile(`-?\d+(\.\d+)?`)
	listPattern   = regexp.MustCompile(`\[[^\]]*\]`)
)

// numbers gives every number in a text.
func numbers(t *testing.T, text string) []float64 {
	t.Helper()
	var out []float64
	for _, s := range numberPattern.FindAllString(text, -1) {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// lists gives the numbers of each bracketed list.
func lists(t *testing.T, text string) [][]float64 {
	t.Helper()
	var out [][]float64
	for _, s := range listPattern.FindAllString(text, -1) {
		out = append(out, numbers(t, strings.ReplaceAll(s, ",", " ")))
	}
	return out
}

// printed checks a value against "raw -> rounded" or "rounded": each number of
// the text with the decimals it is written with.
func printed(t *testing.T, got float64, expected string) {
	t.Helper()
	checked := 0
	for part := range strings.SplitSeq(expected, "->") {
		s := numberPattern.FindString(part)
		decimals := 0
		if _, after, ok := strings.Cut(s, "."); ok {
			decimals = len(after)
		}
		if text := wear.FormatHalfUp(got, decimals); text != s {
			t.Errorf("got %s, want %s", text, s)
		}
		checked++
	}
	if checked == 0 {
		t.Error("nothing to check")
	}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tolerance {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

// single puts the first number of the input through f and compares as printed.
func single(f func(float64) float64) func(*testing.T, vector) {
	return func(t *testing.T, v vector) {
		t.Helper()
		printed(t, f(numbers(t, v.input)[0]), v.expected)
	}
}

func risk(f func(float64) (float64, float64)) func(*testing.T, vector) {
	return func(t *testing.T, v vector) {
		t.Helper()
		want := numbers(t, v.expected)
		gotF, gotR := f(numbers(t, v.input)[0])
		near(t, "f", gotF, want[0], 0.001)
		near(t, "r", gotR, want[1], 0.001)
	}
}

// parts splits "a / b; c / d" into its parts.
func parts(text string) []string {
	var out []string
	for _, s := range regexp.MustCompile(`[/;,]`).Split(text, -1) {
		out = append(out, strings.TrimSpace(s))
	}
	return out
}

// classify runs each number of a text through f and compares with the words.
func classify(t *testing.T, values []float64, f func(float64) wear.Class, words []string, meaning map[string]wear.Class) {
	t.Helper()
	if len(values) != len(words) {
		t.Fatalf("%d values and %d words", len(values), len(words))
	}
	for i, v := range values {
		want, known := meaning[words[i]]
		if !known {
			t.Fatalf("unknown word %q", words[i])
		}
		if got := f(v); got != want {
			t.Errorf("%v: got %q, want %q", v, got, want)
		}
	}
}

var classWords = map[string]wear.Class{
	"normal": wear.ClassNormal, "below": wear.ClassNormal, "prediabetes": wear.ClassIntermediate,
	"IFG": wear.ClassIntermediate, "IGT": wear.ClassIntermediate, "diabetes-range": wear.ClassDiabetes,
	"GAP: treat as below 48 and review": wear.ClassReview,
	"no":                                wear.ClassNormal, "GDM": wear.ClassGestational, "overt": wear.ClassOvert,
}

func classified(f func(float64) wear.Class) func(*testing.T, vector) {
	return func(t *testing.T, v vector) {
		t.Helper()
		classify(t, numbers(t, v.input), f, parts(v.expected), classWords)
	}
}

// afterArrow is the last number after "->".
func afterArrow(t *testing.T, text string) float64 {
	t.Helper()
	_, after, ok := strings.Cut(text, "->")
	if !ok {
		t.Fatalf("no arrow in %q", text)
	}
	n := numbers(t, after)
	return n[len(n)-1]
}

func conga(lag int) func(*testing.T, vector) {
	return func(t *testing.T, v vector) {
		t.Helper()
		near(t, "CONGA", wear.CONGA(lists(t, v.input)[0], lag).V, afterArrow(t, strings.ReplaceAll(v.expected, "(n-1)", "")), 1e-4)
	}
}

// sameSeries is the series that the J-index row refers to.
var sameSeries = []float64{4, 5, 6, 7, 8}

var vectorChecks = map[string]func(*testing.T, vector){
	"mgdl_to_mmol":          single(wear.MmolFromMgdl),
	"mmol_to_mgdl":          single(wear.MgdlFromMmol),
	"gmi_percent_from_mgdl": single(wear.GMI),
	"gmi_mmolmol_from_mmol": single(wear.GMIMmolMol),
	"ifcc_to_ngsp":          single(wear.NGSPFromIFCC),
	"ngsp_to_ifcc":          single(wear.IFCCFromNGSP),
	"eag_from_hba1c": func(t *testing.T, v vector) {
		mgdl, mmol := wear.EstimatedAverage(numbers(t, v.input)[0])
		mg, mm, _ := strings.Cut(v.expected, ";")
		printed(t, mgdl, mg)
		printed(t, mmol, mm)
	},
	"risk_mgdl": risk(wear.Risk),
	"risk_mmol": risk(wear.RiskMmol),
	"lbgi_hbgi": func(t *testing.T, v vector) {
		low, high := wear.RiskIndices(lists(t, v.input)[0])
		want := numbers(t, v.expected)
		near(t, "LBGI", low.V, want[0], 0.001)
		near(t, "HBGI", high.V, want[1], 0.001)
		near(t, "BGRI", low.V+high.V, want[2], 0.001)
	},
	"adrr": func(t *testing.T, v vector) {
		days, want := lists(t, v.input), numbers(t, v.expected)
		near(t, "first day", wear.DailyRiskRange(days[:1]).V, want[0], 0.001)
		near(t, "second day", wear.DailyRiskRange(days[1:]).V, want[1], 0.001)
		near(t, "both", wear.DailyRiskRange(days).V, want[2], 0.001)
	},
	"sd_cv": func(t *testing.T, v vector) {
		g := lists(t, v.input)[0]
		near(t, "mean", wear.Mean(g).V, 6.0, 1e-9)
		near(t, "SD", wear.SD(g).V, 1.5811, 1e-4)
		near(t, "CV", wear.CV(g).V, 26.352, 1e-3)
		for _, s := range []string{"6.0", "1.5811", "26.352"} {
			if !strings.Contains(v.expected, s) {
				t.Errorf("the row no longer says %s", s)
			}
		}
	},
	"j_index": func(t *testing.T, v vector) {
		near(t, "J", wear.JIndex(wear.Mean(sameSeries).V, wear.SD(sameSeries).V), numbers(t, v.expected)[0], 1e-4)
	},
	"mage": func(t *testing.T, v vector) {
		g, want := lists(t, v.input)[0], afterArrow(t, regexp.MustCompile(`[;(].*`).ReplaceAllString(v.expected[strings.Index(v.expected, "->"):], ""))
		near(t, "SD", wear.SD(g).V, numbers(t, v.expected)[0], 1e-4)
		near(t, "MAGE", wear.MAGE(g).V, want, 1e-9)
	},
	"modd": func(t *testing.T, v vector) {
		days := lists(t, v.input)
		near(t, "MODD", wear.MODD(append(days[0], days[1]...), len(days[0])).V, numbers(t, v.expected)[0], 1e-9)
	},
	"conga1": conga(1),
	"conga2": conga(2),
	"mag": func(t *testing.T, v vector) {
		near(t, "MAG", wear.MAG(lists(t, v.input)[0], 60).V, 1.125, 1e-9)
		if !strings.Contains(v.expected, "1.125") {
			t.Error("the row no longer says 1.125")
		}
	},
	"gvp": func(t *testing.T, v vector) {
		steps := []float64{12}
		if l := lists(t, v.input); len(l) > 0 {
			steps = l[0]
		}
		g := []float64{100}
		for _, s := range steps {
			g = append(g, g[len(g)-1]+s)
		}
		_, want, _ := strings.Cut(v.expected, "=")
		near(t, "GVP", wear.GVP(g, 5).V, numbers(t, want)[0], 1e-9)
	},
	"m_value": func(t *testing.T, v vector) {
		g, want := lists(t, v.input)[0], numbers(t, v.expected)
		for i, x := range g {
			near(t, "one value", wear.MValue([]float64{x}, false).V, want[i], 1e-4)
		}
		near(t, "mean", wear.MValue(g, false).V, want[3], 1e-4)
		near(t, "with width", wear.MValue(g, true).V, want[len(want)-1], 1e-4)
	},
	"grade": func(t *testing.T, v vector) {
		want := numbers(t, v.expected)
		in := numbers(t, v.input)
		if len(in) == 1 {
			want = want[len(want)-1:]
		}
		for i, g := range in {
			near(t, "GRADE", wear.GRADE(g).V, want[i], 1e-4)
		}
	},
	"iauc": func(t *testing.T, v vector) {
		minutes := []float64{0, 15, 30, 45, 60, 90, 120}
		g := []float64{4.5, 5.5, 7.0, 6.5, 6.0, 4.5, 4.0}
		if strings.Contains(v.input, "90-min value 5.0") {
			g[5] = 5.0
		}
		want := numbers(t, v.expected)
		near(t, "iAUC", wear.IAUC(minutes, g, g[0]).V, want[0], 1e-9)
		_, net, _ := strings.Cut(v.expected, "net ")
		near(t, "net", wear.NetArea(minutes, g, g[0]).V, numbers(t, net)[0], 1e-9)
		if _, total, ok := strings.Cut(v.expected, "total "); ok {
			near(t, "total", wear.NetArea(minutes, g, 0).V, numbers(t, total)[0], 1e-9)
		}
	},
	"percent_to_min_per_day": single(wear.MinutesPerDay),
	"min_to_percent":         single(wear.PercentOfDay),
	"expected_readings": func(t *testing.T, v vector) {
		in := numbers(t, v.input)
		counts, shares, _ := strings.Cut(v.expected, ";")
		_, shares, _ = strings.Cut(shares, "=")
		want, seventy := numbers(t, counts), numbers(t, shares)
		for i, minutes := range in[1:] {
			n := wear.ExpectedReadings(in[0], minutes)
			if n != int(want[i]) {
				t.Errorf("%v min: %d, want %v", minutes, n, want[i])
			}
			near(t, "70 %", 0.7*float64(n), seventy[i], 1e-9)
		}
	},
	"episodes_lt_3_9": func(t *testing.T, v vector) {
		r := wear.Analyse(wear.Input{Readings: series(5, lists(t, v.input)[0]...)})
		var dips []wear.Episode
		for _, e := range r.Episodes {
			if e.Kind == wear.EpisodeBelow3_9 {
				dips = append(dips, e)
			}
		}
		switch {
		case strings.HasPrefix(v.expected, "none"):
			if len(dips) != 0 {
				t.Errorf("got %v, want none", dips)
			}
		case len(dips) != 1:
			t.Errorf("%d episodes, want one", len(dips))
		case strings.Contains(v.expected, "15 min (") && dips[0].Minutes != 15:
			t.Errorf("%d minutes, want 15", dips[0].Minutes)
		}
	},
	"classify_fasting_ADA":    classified(wear.FastingADA),
	"classify_fasting_WHO_AU": classified(wear.FastingWHO),
	"classify_2h":             classified(wear.TwoHour),
	"classify_hba1c_AU":       classified(wear.HbA1cAustralia),
	"gdm_ADIPS2025": func(t *testing.T, v vector) {
		in, want := strings.Split(v.input, ";"), strings.Split(v.expected, ";")
		tests := []func(float64) wear.Class{wear.PregnancyFasting, wear.PregnancyOneHour, wear.PregnancyTwoHour}
		for i, f := range tests {
			values := numbers(t, in[i])
			if i > 0 {
				values = values[1:] // "1 h", "2 h"
			}
			classify(t, values, f, parts(want[i]), classWords)
		}
	},
	"tar_boundary_mgdl": func(t *testing.T, v vector) {
		above140, above180, _ := strings.Cut(v.expected, ";")
		for _, c := range []struct {
			limit wear.Limit
			words string
		}{{wear.Limit7_8, above140}, {wear.Limit10_0, above180}} {
			_, words, _ := strings.Cut(c.words, ":")
			want := parts(words)
			for i, g := range numbers(t, v.input) {
				r := wear.Reading{Num: int64(g), Unit: wear.MgdL}
				if c.limit.Above(r) != (want[i] == "yes") {
					t.Errorf("%v mg/dL above %v: want %s", g, c.limit, want[i])
				}
			}
		}
	},
	// The trap shown: rounding first loses both readings.
	"tar_boundary_after_rounding": func(t *testing.T, v vector) {
		in, want := numbers(t, v.input), numbers(t, v.expected)
		for i, limit := range []wear.Limit{wear.Limit7_8, wear.Limit10_0} {
			num, scale, ok := wear.ParseValue(wear.FormatHalfUp(wear.MmolFromMgdl(in[i]), 1))
			rounded := wear.Reading{Num: num, Scale: scale, Unit: wear.MmolL}
			if !ok || rounded.Native() != want[i] || limit.Above(rounded) {
				t.Errorf("%v mg/dL rounded: %v", in[i], rounded.Text())
			}
			if !limit.Above(wear.Reading{Num: int64(in[i]), Unit: wear.MgdL}) {
				t.Errorf("%v mg/dL as recorded is not above %v", in[i], limit)
			}
		}
	},
	"dawn": func(t *testing.T, v vector) {
		in := numbers(t, strings.ReplaceAll(v.input, "pre-breakfast", ""))
		for i, want := range []struct {
			rise    float64
			present bool
		}{{1.2, true}, {1.1, false}} {
			rise, present := wear.DawnRise(in[0], in[i+1])
			near(t, "rise", rise, want.rise, 1e-9)
			if present != want.present {
				t.Errorf("rise of %v: present %v", rise, present)
			}
		}
		if !strings.Contains(v.expected, "+1.2 -> present; +1.1") {
			t.Error("the row says something else now")
		}
	},
}
