package wear_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// artefacts puts things into a wear that the engine doubts: steep peaks and
// falls, values that stand alone or stand still, stretches that the file marks.
func artefacts(rng *rand.Rand, in wear.Input) wear.Input {
	r := slices.Clone(in.Readings)
	for range 1 + rng.IntN(4) {
		if len(r) < 50 {
			break
		}
		at, n := rng.IntN(len(r)-40), 1+rng.IntN(12)
		top := 2 + 22*rng.Float64()*rng.Float64()
		still, mark := rng.IntN(3) == 0, wear.Mark(0)
		if rng.IntN(6) == 0 {
			mark = []wear.Mark{wear.MarkError, wear.MarkWarmUp}[rng.IntN(2)]
		}
		for k := range n {
			g := top
			if edge := min(k, n-1-k); !still && edge < 3 {
				g = 5 + (top-5)*float64(edge+1)/4
			}
			x := &r[at+k]
			x.Num, x.Bound, x.Mark = int64(g*10+0.5), wear.Exact, mark
			x.Scale, x.Unit = 1, wear.MmolL
			if in.Readings[0].Unit == wear.MgdL {
				x.Num, x.Scale, x.Unit = int64(g*wear.MgdlPerMmol+0.5), 0, wear.MgdL
			}
		}
	}
	in.Readings = r
	return in
}

// passing reports whether the readings of a fall that looks like lying on the
// sensor may pass for that: not two on end are below 3.0, and none says only "low".
func passing(in wear.Input, s wear.Stretch) bool {
	deep := 0
	for _, r := range in.Readings {
		if at := r.At; at < s.From.Unix() || at > s.To.Unix() {
			continue
		}
		switch {
		case r.Bound == wear.Below:
			return false
		case !wear.Limit3_0.Below(r):
			deep = 0
		default:
			if deep++; deep > 1 {
				return false
			}
		}
	}
	return true
}

// What is near a limit, or would be flagged, or is to be asked about, were the
// doubted readings believed, is no less so because they are doubted. Only a brief
// fall that looks like lying on the sensor may pass for that.
func TestDoubtNeverReassures(t *testing.T) {
	cases, seed := lawCases(t, 1500)
	held := map[string]int{}
	for i := range cases {
		rng := rand.New(rand.NewPCG(seed, uint64(i)))
		in := artefacts(rng, jumpy(rng, lawWear(rng)))
		r := wear.Analyse(in)
		with := in
		for _, s := range r.Suspect {
			if s.Kind != wear.SuspectPerson && s.Kind != wear.SuspectConflict && !(s.Kind == wear.SuspectPressure && passing(in, s)) {
				with.Overrides = append(slices.Clone(with.Overrides), wear.Override{From: s.From.Unix(), To: s.To.Unix(), Believe: true})
			}
		}
		if len(with.Overrides) == 0 {
			continue
		}
		believed := wear.Analyse(with)
		_, against := wear.MayReassure(r)
		_, would := wear.MayReassure(believed)
		for _, x := range would {
			if x.Code != wear.ReasonNear && x.Code != wear.ReasonDips && x.Code != wear.ReasonFlagged {
				continue
			}
			held[x.Code]++
			if !slices.ContainsFunc(against, func(y wear.Reason) bool {
				return y.Code == wear.ReasonNear || y.Code == wear.ReasonDips || y.Code == wear.ReasonFlagged || y.Code == wear.ReasonNoData
			}) {
				t.Errorf("case %d: nothing stands against it, and believed it would: %v; %v; near %v", i, x, r.Suspect, r.Near)
			}
		}
		if t.Failed() && i > 3000 {
			break
		}
	}
	t.Logf("%d cases; %v", cases, held)
	if held[wear.ReasonNear] == 0 || held[wear.ReasonDips] == 0 {
		t.Error("the cases do not reach what they are about")
	}
}

// jumpy has every second reading of some hours far from its neighbours.
func jumpy(rng *rand.Rand, in wear.Input) wear.Input {
	if rng.IntN(3) > 0 || len(in.Readings) < 100 {
		return in
	}
	r := slices.Clone(in.Readings)
	by := 3 + 8*rng.Float64()
	for range 1 + rng.IntN(5) {
		at := rng.IntN(len(r) - 20)
		for k := at; k < at+4+rng.IntN(12); k += 2 {
			if r[k].Unit == wear.MgdL {
				r[k].Num += int64(by * wear.MgdlPerMmol)
			} else {
				r[k].Num += int64(by * 10)
			}
		}
	}
	in.Readings = r
	return in
}

// Doubt never lowers: whatever would be flagged were the readings believed that
// the engine doubts is looked at by a person; and whatever would be were those
// believed too that look like lying on the sensor, or that the file marks, is
// never called well.
func TestDoubtNeverLowers(t *testing.T) {
	cases, seed := lawCases(t, 1500)
	looked, barred := 0, 0
	for i := range cases {
		rng := rand.New(rand.NewPCG(seed, uint64(i)))
		in := artefacts(rng, lawWear(rng))
		r := wear.Analyse(in)
		for _, all := range []bool{false, true} {
			with := in
			for _, s := range r.Suspect {
				aside := s.Kind == wear.SuspectPressure || s.Kind == wear.SuspectMarked || s.Kind == wear.SuspectWarmUp
				if s.Kind != wear.SuspectConflict && s.Kind != wear.SuspectPerson && (all || !aside) {
					with.Overrides = append(slices.Clone(with.Overrides), wear.Override{From: s.From.Unix(), To: s.To.Unix(), Believe: true})
				}
			}
			for _, f := range wear.Analyse(with).Flags {
				k, _ := wear.FlagOf(f.Code)
				if k.Turn != wear.High && k.Turn != wear.Low || slices.ContainsFunc(r.Flags, func(g wear.Flag) bool { return g.Code == f.Code && g.Tier.Rank() <= f.Tier.Rank() }) {
					continue
				}
				if ok, _ := wear.MayReassure(r); ok || !all && r.Priority.Tier == wear.Routine {
					t.Errorf("case %d is %s, and would be flagged were it believed: %+v; %v; near %v", i, r.Priority.Tier, f, r.Suspect, r.Near)
				}
				if all {
					barred++
				} else {
					looked++
				}
			}
		}
		if t.Failed() && i > 3000 {
			break
		}
	}
	t.Logf("%d cases; %d flags that doubt took away, %d with what was set aside", cases, looked, barred)
	if looked == 0 || barred == 0 {
		t.Error("the cases do not reach what they are about")
	}
}

// A true peak with flanks too steep to be believed is as pressing as one without;
// a jump there and back, or a value that stands still, is looked at.
func TestDoubtedHighs(t *testing.T) {
	peak := func(top, up, stay float64) func(time.Duration) float64 { // minutes
		return func(s time.Duration) float64 {
			m := (s - at(5, 13, 0)).Minutes()
			switch {
			case m < 0 || m > 2*up+stay:
				return usual(s)
			case m < up:
				return 5.5 + (top-5.5)*m/up
			case m > up+stay:
				return 5.5 + (top-5.5)*(2*up+stay-m)/up
			}
			return top + 0.1*float64(int(m)%3)
		}
	}
	for _, c := range []struct {
		name  string
		level func(time.Duration) float64
		tier  wear.Tier
	}{
		{"steep flanks, 85 minutes above 13.9", peak(19.5, 50, 40), wear.Today},
		{"steep flanks and a short top", peak(16, 40, 10), wear.Today},
		{"a jump there and back", peak(15, 1, 14), wear.CannotTell},
	} {
		r := wear.Analyse(asked(wear.Input{Readings: days(14, 5, c.level)}))
		if r.Priority.Tier != c.tier {
			t.Errorf("%s: %s; %v; %v", c.name, r.Priority.Tier, r.Flags, r.Suspect)
		}
		if ok, _ := wear.MayReassure(r); ok {
			t.Errorf("%s may be called well", c.name)
		}
	}
}

// Lows of the night that are too long or too many to be the sensor's or a
// night's accident are looked into within days; those just under are not well.
func TestLongNights(t *testing.T) {
	nights := func(n int, to float64, minutes float64, steep bool) wear.Input {
		return asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
			ramp := 60.0
			if steep {
				ramp = 10
			}
			for d := 2; d < 2+n; d++ {
				m := (s - at(d, 1, 30)).Minutes()
				switch {
				case m > -ramp && m < 0:
					return 5.2 - (5.2-to)*(m+ramp)/ramp
				case m >= 0 && m < minutes:
					return to + 0.05*float64(int(m)/5%3)
				case m >= minutes && m < minutes+ramp:
					return to + (5.2-to)*(m-minutes)/ramp
				}
			}
			if clock(s) < 8 {
				return 5.2 + 0.1*float64(int(s.Minutes())/5%3)
			}
			return usual(s)
		})})
	}
	for _, c := range []struct {
		name  string
		in    wear.Input
		least wear.Tier
		near  bool
	}{
		{"eight nights of 2 h 20 at 2.6, as when lain on", nights(8, 2.6, 140, true), wear.ThisWeek, false},
		{"eight nights of 1 h 50 at 2.6, as when lain on", nights(8, 2.6, 110, true), wear.ThisMonth, false},
		{"six nights of more than 2 h at 3.0", nights(6, 3.0, 125, false), wear.ThisWeek, false},
		{"four nights of more than 2 h at 3.3", nights(4, 3.25, 125, false), wear.ThisMonth, false},
		{"four nights of 1 h 55 at 3.4", nights(4, 3.5, 80, false), wear.Routine, true},
		{"six nights of 1 h at 2.6", nights(6, 2.6, 75, false), wear.ThisWeek, false},
	} {
		r := wear.Analyse(c.in)
		if r.Priority.Tier.Rank() > c.least.Rank() || c.near != (r.Priority.Tier == wear.Routine) {
			t.Errorf("%s: %s; %v; near %v; %v", c.name, r.Priority.Tier, r.Flags, r.Near, r.Suspect)
		}
		if ok, _ := wear.MayReassure(r); ok {
			t.Errorf("%s may be called well: %v", c.name, r.NotFlagged)
		}
	}
}

func TestKetones(t *testing.T) {
	for _, c := range []struct {
		text string
		in   wear.Context
		high bool
		tier wear.Tier
	}{
		{"ketones 5.1 mmol/L", wear.Context{}, false, wear.Today},
		{"Ketone: 3,0", wear.Context{}, false, wear.Today},
		{"Ketonkörper 4.2", wear.Context{}, false, wear.Today},
		{"cétones 3.4 ce matin", wear.Context{}, false, wear.Today},
		{"3.2 ketones at 10:30", wear.Context{}, false, wear.Today},
		{"ketone strip 0.8, day 3 of my fast", wear.Context{}, false, wear.CannotTell},
		{"ketones 2 and then 3.8", wear.Context{}, false, wear.Today},
		{"ketones 1.6", wear.Context{}, false, wear.ThisWeek},
		{"ketones 1.6", wear.Context{Masking: true}, false, wear.Today},
		{"ketones 1.6", wear.Context{}, true, wear.Today},
		{"ketones 0.3 mmol/L", wear.Context{}, false, wear.CannotTell},
		{"ketones: none", wear.Context{}, false, wear.CannotTell},
	} {
		in := asked(wear.Input{Context: c.in, Readings: days(14, 5, func(s time.Duration) float64 {
			if c.high && within(s, at(6, 15, 0), at(6, 15, 10)) {
				return 12
			}
			return usual(s)
		})})
		in.Events = []wear.Event{event(at(4, 15, 10), wear.Note, c.text)}
		r := wear.Analyse(in)
		if r.Priority.Tier != c.tier {
			t.Errorf("%q: %s; %v", c.text, r.Priority.Tier, r.Flags)
		}
		in.Read = []wear.WordsRead{{Key: r.Words[0].Key, As: wear.ReadSymptom}}
		if c.tier == wear.Today && wear.Analyse(in).Priority.Tier != wear.Today {
			t.Errorf("%q read as a symptom is not for today", c.text)
		}
	}
}

// Results of the laboratory: a newer one of its kind lowers and says what it
// lowered, one too low to be right reassures nobody, and a child is read as one.
func TestLaboratoryReassuresNobodyWrongly(t *testing.T) {
	lab := func(kind string, daysBefore int, value float64, unit string) wear.Lab {
		return wear.Lab{At: monday.AddDate(0, 0, -daysBefore).Unix(), Kind: kind, Value: value, Unit: unit}
	}
	child := wear.Context{BirthDate: "2017-01-01"}
	for _, c := range []struct {
		name  string
		who   wear.Context
		labs  []wear.Lab
		least wear.Tier
		says  string
	}{
		{"an older one in the diabetes range", wear.Context{}, []wear.Lab{lab(wear.LabHbA1c, 200, 50, "mmol/mol"), lab(wear.LabHbA1c, 20, 38, "mmol/mol")}, wear.Routine, "hba1c of 50 mmol/mol"},
		{"a normal one of another kind", wear.Context{}, []wear.Lab{lab(wear.LabHbA1c, 60, 50, "mmol/mol"), lab(wear.LabFastingGlucose, 20, 5.0, "mmol/L")}, wear.ThisMonth, "hba1c of 50 mmol/mol"},
		{"too low to be right", wear.Context{}, []wear.Lab{lab(wear.LabHbA1c, 20, 18, "mmol/mol")}, wear.ThisMonth, "haemoglobin variant"},
		{"a child's at random", child, []wear.Lab{lab(wear.LabRandomGlucose, 3, 13, "mmol/L")}, wear.Today, "13 mmol/l"},
		{"a child's far in the range", child, []wear.Lab{lab(wear.LabHbA1c, 40, 96, "mmol/mol")}, wear.Today, ""},
		{"a child's fasting", child, []wear.Lab{lab(wear.LabFastingGlucose, 3, 5.8, "mmol/L")}, wear.ThisMonth, ""},
	} {
		in := wear.Input{Readings: days(14, 5, usual), Labs: c.labs}
		in = asked(in)
		in.Context.BirthDate = c.who.BirthDate
		r := wear.Analyse(in)
		if ok, _ := wear.MayReassure(r); ok || r.Priority.Tier.Rank() > c.least.Rank() || !strings.Contains(shown(r), c.says) {
			t.Errorf("%s: %s; %v; near %v", c.name, r.Priority.Tier, r.Flags, r.Near)
		}
		for _, l := range r.Labs {
			if c.who.BirthDate != "" && l.Class == wear.ClassNormal {
				t.Errorf("%s is called normal: %+v", c.name, l)
			}
		}
	}
}

// usualShift is a usual wear that reads so much lower or higher.
func usualShift(by float64) wear.Input {
	return asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 { return usual(s) + by })})
}

func TestLevelsThatFewLiveAt(t *testing.T) {
	flat := asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 { return 4.0 + 0.1*float64(int(s.Minutes())/5%2) })})
	mornings := asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
		if clock(s) < 8 {
			return 6.6 + 0.1*float64(int(s.Minutes())/5%3)
		}
		return usual(s)
	})})
	for name, in := range map[string]wear.Input{"a base of 4.0": flat, "mornings of 6.6": mornings, "a wear that reads low": usualShift(-0.9)} {
		r := wear.Analyse(in)
		if ok, _ := wear.MayReassure(r); ok {
			t.Errorf("%s may be called well: %s", name, fmt.Sprint(r.Metrics.MedianMmol.V))
		}
	}
}

// A value of a meter that somebody wrote in words counts until a person has read
// the words as nothing.
func TestBloodInWords(t *testing.T) {
	for _, c := range []struct {
		text string
		tier wear.Tier
	}{
		{"finger prick 2.5, had juice", wear.Today},
		{"Blutzucker 2,7", wear.Today},
		{"2.4 on the meter", wear.Today},
		{"blood sugar 45 mg/dl", wear.Today},
		{"finger prick 16.2", wear.Today},
		{"meter said 290", wear.Today},
		{"my blood sugar was 12.1 after cake", wear.Today}, // and the words may be thirst
		{"fingerstick: LO", wear.Today},
		{"BGL hi", wear.Today},
		{"finger prick 5.4", wear.CannotTell},
		{"finger prick at 10:30, 5.6", wear.CannotTell},
		{"pricked my finger on a thorn", wear.CannotTell},
		{"blood sugar 5.2 after 2 hours", wear.CannotTell},
	} {
		in := asked(wear.Input{Readings: days(14, 5, usual), Events: []wear.Event{event(at(4, 15, 10), wear.Note, c.text)}})
		r := wear.Analyse(in)
		if r.Priority.Tier != c.tier {
			t.Errorf("%q: %s; %v", c.text, r.Priority.Tier, r.Flags)
		}
		in.Read = []wear.WordsRead{{Key: r.Words[0].Key, As: wear.ReadNothing}}
		if r := wear.Analyse(in); r.Priority.Tier != wear.Routine {
			t.Errorf("%q read as nothing: %s; %v", c.text, r.Priority.Tier, r.Flags)
		}
	}
}

// A symptom beside a low below 3.0 closes no words that may be of the brain.
func TestKnownWordsCloseNoOthers(t *testing.T) {
	in := asked(raising()[wear.FlagVeryLow])
	in.Read = nil
	in.Events = []wear.Event{event(at(4, 15, 10), wear.Note, "talking nonsense")}
	before := wear.Analyse(in).Priority.Tier
	in.Events = append(in.Events, event(at(4, 15, 15), wear.Symptom, "shaky"))
	if after := wear.Analyse(in).Priority.Tier; before != wear.Today || after != wear.Today {
		t.Errorf("%s, and with a symptom more %s", before, after)
	}
}

// Words that nobody has read and no list knows are taken as the gravest that
// they may be at that moment and of that person; and a text that says more than
// the word that is known is not closed by it.
func TestWordsThatNobodyKnows(t *testing.T) {
	child := func(in wear.Input) wear.Input {
		in.Context.BirthYear = 2017
		return in
	}
	dipTo := func(low float64) wear.Input {
		return asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
			if within(s, at(4, 15, 0), at(4, 15, 30)) {
				return low
			}
			return usual(s)
		})})
	}
	quiet, dip, deep := asked(wear.Input{Readings: days(14, 5, usual)}), dipTo(3.4), asked(raising()[wear.FlagVeryLow])
	deep.Read = nil
	felt := func(text string) []wear.Event { return []wear.Event{event(at(4, 15, 10), wear.Symptom, text)} }
	noted := func(text string) []wear.Event { return []wear.Event{event(at(1, 9, 0), wear.Note, text)} }
	for _, c := range []struct {
		name   string
		in     wear.Input
		events []wear.Event
		tier   wear.Tier
	}{
		{"oblique beside a low below 3.0", deep, felt("on the bathroom floor until my neighbour came"), wear.Today},
		{"in a tongue that no list has", deep, felt("kaatuin keittiöön"), wear.Today},
		{"with one word that is known", deep, felt("sweaty, on the floor until my neighbour came"), wear.Today},
		{"a known symptom and no more", deep, felt("shaky"), wear.ThisWeek},
		{"a dip with a known symptom", dip, felt("sweaty"), wear.ThisMonth},
		{"and an operation in words", dip, append(noted("gastric bypass in 2019"), felt("sweaty")...), wear.ThisWeek},
		{"a child's, not known", child(quiet), noted("sheets changed again"), wear.ThisWeek},
		{"a child's thirst, at any glucose", child(quiet), noted("so thirsty"), wear.Today},
		{"a diary with no low", quiet, noted("sheets changed again"), wear.CannotTell},
	} {
		c.in.Events = c.events
		if r := wear.Analyse(c.in); r.Priority.Tier != c.tier {
			t.Errorf("%s: %s; %v", c.name, r.Priority.Tier, r.Flags)
		}
	}
}

// After an operation after which lows come, and with a medicine that nobody has
// read, a low that looks like lying on the sensor counts as it does on a
// medicine that causes lows.
func TestPressureShapeCounts(t *testing.T) {
	plain := asked(wear.Input{Readings: days(14, 5, func(s time.Duration) float64 {
		if within(s, at(4, 2, 0), at(4, 2, 30)) {
			return 3.4
		}
		return usual(s) + 0.1*float64(int(s.Minutes())/5%3)
	})})
	if r := wear.Analyse(plain); len(marks(r, wear.SuspectPressure)) != 1 || r.Priority.Tier != wear.Routine {
		t.Fatalf("%s; %v", r.Priority.Tier, r.Suspect)
	}
	surgery, tablets := plain, plain
	surgery.Context.BariatricSurgery = true
	tablets.Events = []wear.Event{event(at(4, 20, 0), wear.Medicine, "the white ones")}
	for _, in := range []wear.Input{surgery, tablets} {
		if r := wear.Analyse(in); r.Priority.Tier != wear.ThisWeek {
			t.Errorf("%s; %v; near %v", r.Priority.Tier, r.Flags, r.Near)
		}
	}
}
