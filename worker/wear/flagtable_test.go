package wear_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// raising is a wear for each flag that raises it, and nothing more pressing than
// it where that can be. A flag without one fails the test below.
func raising() map[string]wear.Input {
	high := func(level float64, on ...int) wear.Input {
		return wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
			for _, d := range on {
				if within(s, at(d, 15, 0), at(d, 15, 40)) {
					return level
				}
			}
			return usual(s)
		})}
	}
	dip := func(to float64, text string) wear.Input {
		in := high(to, 4)
		in.Events = []wear.Event{event(at(4, 15, 10), wear.Symptom, text)}
		return read(in)
	}
	long := wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
		for d := 2; d < 8; d++ {
			if within(s, at(d, 1, 0), at(d, 3, 0)) {
				return 2.6 + 0.002*float64(int(s.Minutes())%60)
			}
			if g := (s - at(d, 0, 0)).Minutes(); g > 0 && g < 60 {
				return usual(s) - (usual(s)-2.7)*g/60
			}
			if g := (at(d, 4, 0) - s).Minutes(); g > 0 && g <= 60 {
				return usual(s) - (usual(s)-2.7)*g/60
			}
		}
		return usual(s)
	})}
	swing := wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
		g := usual(s)
		for _, d := range []int{2, 6} {
			g += bump(s, at(d, 16, 30), 0.7, 5.3) - bump(s, at(d, 18, 40), 0.6, 2.0)
		}
		return g
	})}
	on := func(in wear.Input, c wear.Context) wear.Input { in.Context = c; return in }
	words := high(0)
	words.Events = []wear.Event{event(at(4, 15, 10), wear.Note, "hands like leaves")}
	ketones := high(0)
	ketones.Events = []wear.Event{event(at(4, 15, 10), wear.Note, "Ketones: 3.4 mmol/L")}
	severe := high(0)
	severe.RedFlags = []wear.RedFlag{{Code: "fainted", At: monday.Unix()}}
	return map[string]wear.Input{
		wear.FlagKetones: ketones,
		wear.FlagDoubted: {Readings: days(14, 5, func(s time.Duration) float64 {
			if within(s, at(5, 15, 0), at(5, 15, 15)) {
				return 15 // there and back faster than glucose can
			}
			return usual(s)
		})},
		wear.FlagSevere: severe, wear.FlagVeryHigh: high(15, 5), wear.FlagLowMedicine: on(high(3.4, 4), wear.Context{Insulin: true}),
		wear.FlagVeryLow: dip(2.5, "shaky"), wear.FlagDipSymptom: dip(3.4, "shaky"), wear.FlagLongLow: long,
		wear.FlagAbove7_8: {Readings: days(14, 5, func(s time.Duration) float64 {
			return usual(s) + bump(time.Duration(clock(s)*float64(time.Hour)), 15*time.Hour, 4, 4)
		})},
		wear.FlagAbove10: high(10.8, 1, 3, 5, 7, 9), wear.FlagSwingSymptom: swing,
		wear.FlagHighNights: {Readings: days(14, 5, func(s time.Duration) float64 {
			if clock(s) < 6 {
				return 7.4
			}
			return 5.4
		})},
		wear.FlagOffPathway: on(high(0), wear.Context{Pregnant: true}), wear.FlagRisk: on(high(0), wear.Context{GestationalDiabetes: true}),
		wear.FlagUnread: words, wear.FlagTooLittle: {Readings: days(5, 5, usual)},
		wear.FlagSensorDoubt: {Readings: days(14, 5, func(s time.Duration) float64 { return usual(s) - 1.5 })},
	}
}

// Every flag has every part, and with it raised no headline, remark, comparison
// or reason says anything against it.
func TestEveryFlagStandsEverywhere(t *testing.T) {
	inputs := raising()
	methods := map[string]bool{}
	for _, m := range wear.Methods() {
		methods[m.Key] = m.Part == wear.PartFlag && m.Definition != "" && m.Source != "" && m.Status != ""
	}
	settings := wear.DefaultProtocol().Settings()
	plain := wear.Analyse(asked(wear.Input{Readings: days(14, 5, usual)}))
	if ok, why := wear.MayReassure(plain); !ok {
		t.Fatalf("a plain wear may not be called well: %v", why)
	}
	for _, k := range wear.Flags() {
		t.Run(k.Code, func(t *testing.T) {
			for _, part := range []string{k.Name, k.Words, k.Short, k.Definition, k.Source, k.Standing, k.Settings} {
				if part == "" {
					t.Errorf("a part is missing: %+v", k)
				}
			}
			for name := range strings.SplitSeq(k.Settings, ", ") {
				if !slices.ContainsFunc(settings, func(s wear.Setting) bool { return strings.HasPrefix(s.Name, name) }) {
					t.Errorf("no setting begins with %s", name)
				}
			}
			if !methods[k.Code] {
				t.Error("no method")
			}
			if (k.Turn == wear.Doubt) != (k.Saw == nil) || (k.Saw == nil) != (k.Means == "") {
				t.Error("a letter can be about every flag but doubt, and says what it may mean")
			}
			in, ok := inputs[k.Code]
			if !ok {
				t.Fatal("no wear raises it here")
			}
			in = asked(in)
			in.Context.AskedOn = "2026-03-01" // before the wear: what was felt in it is still open
			r := wear.Analyse(in)
			i := slices.IndexFunc(r.Flags, func(f wear.Flag) bool { return f.Code == k.Code })
			if i < 0 {
				t.Fatalf("not raised: %v; %s", codes(r), r.Headline)
			}
			if f := r.Flags[i]; f.Text == "" || f.Evidence == "" || !strings.HasSuffix(f.Text, ".") || len(r.Priority.Lower) == 0 {
				t.Errorf("%+v, %v", f, r.Priority.Lower)
			}
			if ok, why := wear.MayReassure(r); ok || len(why) == 0 {
				t.Error("may be called well")
			}
			for _, x := range r.NotFlagged {
				if x.Reassures || slices.Contains(k.Silences, x.Code) {
					t.Errorf("beside it: %+v", x)
				}
			}
			if r.Headline == plain.Headline {
				t.Errorf("the headline says nothing of it: %q", r.Headline)
			}
			if got := text(wear.Compare(r, plain, nil), "flags_gone"); r.Confidence != "low" && !strings.Contains(got, k.Short) {
				t.Errorf("the comparison says %q", got)
			}
			if problems := denials(in, r); len(problems) > 0 {
				t.Error(problems)
			}
			t.Log(r.Headline)
		})
	}
	for code := range inputs {
		if _, known := wear.FlagOf(code); !known {
			t.Errorf("%s is no flag", code)
		}
	}
}

// TestTheHeadlineTellsWhatMadeTheTier: every flag alone and with each rule of the
// record, a result, blood and words beside it.
func TestTheHeadlineTellsWhatMadeTheTier(t *testing.T) {
	beside := map[string]func(in *wear.Input){
		"nothing": func(*wear.Input) {},
		"a wet bed at 8": func(in *wear.Input) {
			in.Context.BirthDate = "2018-01-15"
			in.Events = append(in.Events, event(at(4, 8, 0), wear.Note, "wet the bed again, always thirsty"))
		},
		"mornings of a pregnancy": func(in *wear.Input) {
			in.Context.Pregnant = true
			in.Readings = slices.Clone(in.Readings)
			for i := range in.Readings {
				r := &in.Readings[i]
				if h := clock(time.Duration(r.At-monday.Unix()) * time.Second); h >= 6 && h < 7 {
					r.Num, r.Scale, r.Unit, r.Bound = 66, 1, wear.MmolL, wear.Exact
				}
			}
		},
		"HbA1c 115": func(in *wear.Input) {
			in.Labs = []wear.Lab{{At: monday.AddDate(0, 0, 10).Unix(), Kind: wear.LabHbA1c, Value: 115, Unit: "mmol/mol"}}
		},
		"a fingerstick 2.8": func(in *wear.Input) { in.Events = append(in.Events, stick(at(4, 11, 0), 28, 1, wear.MmolL)) },
		"fingerstick 14.2 and thirst": func(in *wear.Input) {
			in.Events = append(in.Events, stick(at(4, 11, 0), 142, 1, wear.MmolL), event(at(4, 11, 5), wear.Note, "so thirsty, lost 6 kg"))
		},
		"insulin written down": func(in *wear.Input) {
			in.Events = append(in.Events, event(at(3, 21, 0), wear.Medicine, "insulin 12 units"))
		},
		"an unread note": func(in *wear.Input) {
			in.Events = append(in.Events, event(at(3, 21, 0), wear.Note, "hands like leaves"))
		},
		"a listed phrase": func(in *wear.Input) {
			in.Events = append(in.Events, event(at(3, 21, 0), wear.Undated, "found me on the floor"))
		},
		"insulin on record": func(in *wear.Input) { in.Context.Insulin = true },
		"surgery on record": func(in *wear.Input) { in.Context.BariatricSurgery = true },
	}
	must := map[string]string{"mornings of a pregnancy": "laboratory test is due", "HbA1c 115": "115", "fingerstick 14.2 and thirst": "thirsty", "a wet bed at 8": "wet the bed", "a listed phrase": "may say something severe"}
	for code, in := range raising() {
		for name, add := range beside {
			for other, more := range beside {
				in := asked(in)
				in.Events = slices.Clone(in.Events)
				add(&in)
				more(&in)
				r := wear.Analyse(in)
				for _, problem := range denials(in, r) {
					t.Errorf("%s, %s, %s: %s", code, name, other, problem)
				}
				if other == "nothing" && code == wear.FlagUnread && !strings.Contains(r.Headline, must[name]) {
					t.Errorf("%s: %q", name, r.Headline)
				}
			}
		}
	}
}
