package wear_test

import (
	"flag"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

var strangers = flag.Int("strangers", 4, "judge one in so many of the hand-made wears; 1 judges all")

// inputOf is what the engine is given of a hand-made wear.
func inputOf(c Case) wear.Input {
	if c.Trace.IntervalMin == 0 {
		c.Trace.IntervalMin = 5
	}
	unit, scale := wear.MmolL, uint8(1)
	if c.Trace.mg() {
		unit, scale = wear.MgdL, 0
	}
	in := wear.Input{SensorKind: c.Trace.SensorKind}
	reading := func(at time.Time, v float64) wear.Reading {
		return wear.Reading{At: at.Unix(), Num: int64(math.Round(v * math.Pow10(int(scale)))), Scale: scale, Unit: unit}
	}
	end := c.Trace.start()
	for _, r := range Expand(c) {
		x := reading(r.Time, r.Value)
		switch r.Text {
		case "LO":
			x.Bound = wear.Below
		case "HI":
			x.Bound = wear.Above
		}
		in.Readings = append(in.Readings, x)
		end = r.Time
	}
	p := c.Person
	in.Context = wear.Context{
		Sex: map[string]string{"f": "female", "m": "male"}[p.Sex], Pregnant: p.Pregnant, BariatricSurgery: p.Bariatric,
		Steroid: p.Steroid, LowCarbohydrate: p.LowCarb, ShiftWork: p.ShiftWork,
	}
	if p.Age > 0 {
		in.Context.BirthDate = end.AddDate(-p.Age, 0, -100).Format(time.DateOnly)
	}
	// Asked at the end of the wear: by a call about what was felt too. Asked before
	// it began: about all but that.
	switch {
	case p.Asked && (p.SymptomsAsked == nil || *p.SymptomsAsked):
		in.Context.AskedOn = end.Format(time.DateOnly)
	case p.Asked:
		in.Context.AskedOn = c.Trace.start().AddDate(0, 0, -1).Format(time.DateOnly)
	}
	for _, m := range p.Medicines {
		switch m = strings.ToLower(m); {
		case strings.Contains(m, "insulin"):
			in.Context.Insulin = true
		case strings.HasPrefix(m, "gli") || strings.HasPrefix(m, "gly") || strings.Contains(m, "glinide"):
			in.Context.Sulfonylurea = true
		case strings.Contains(m, "metformin") || strings.Contains(m, "gliflozin") || strings.Contains(m, "glutide") || strings.Contains(m, "gliptin"):
			in.Context.Masking = true
		case strings.Contains(m, "predniso"), strings.Contains(m, "dexameth"):
			in.Context.Steroid = true
		}
	}
	kinds := map[string]string{"hba1c": wear.LabHbA1c, "fasting": wear.LabFastingGlucose, "random": wear.LabRandomGlucose, "ogtt2h": wear.LabTwoHourGlucose}
	for _, r := range c.Results {
		in.Labs = append(in.Labs, wear.Lab{At: end.AddDate(0, 0, -r.DaysBeforeEnd).Truncate(24 * time.Hour).Unix(), Kind: kinds[r.Kind], Value: r.Value, Unit: r.Unit, Source: "letter"})
	}
	for _, e := range c.Events {
		at := c.Trace.start().Add(time.Duration(c.Trace.when(e.Day, e.At)) * time.Minute)
		x := wear.Event{At: at.Unix(), Minutes: e.Minutes, Kind: wear.EventKind(e.Kind), Label: e.Text}
		if e.Kind == "other" {
			x.Kind = wear.EventKind(e.RawKind)
		}
		if e.Kind == "fingerstick" {
			x.Value = wear.Reading{At: x.At, Num: int64(math.Round(e.Value * 10)), Scale: 1, Unit: wear.ParseUnit(e.Unit)}
		}
		in.Events = append(in.Events, x)
	}
	for i, n := range c.Notes {
		in.Notes = append(in.Notes, wear.NoteText{At: noteAt(end, i), Kind: wear.WordsCall, Text: n})
	}
	for _, f := range c.RedFlags {
		in.RedFlags = append(in.RedFlags, wear.RedFlag{Code: redFlagCode(f), At: end.Unix()})
	}
	said := wear.Analyse(in)
	for _, r := range c.Read {
		as := wear.ReadAs(r.As)
		if !as.Known() { // exercise
			as = wear.ReadMeal
		}
		if key := keyOf(in, said, r); key != "" {
			in.Read = append(in.Read, wear.WordsRead{Key: key, As: as})
		}
	}
	return in
}

func noteAt(end time.Time, i int) int64 { return end.Add(time.Duration(i+60) * time.Minute).Unix() }

// redFlagCode is the box of the call sheet that a box in words stands for.
func redFlagCode(s string) string {
	s = strings.ToLower(s)
	for _, x := range [][2]string{{"faint", "fainted"}, {"seiz", "fainted"}, {"collaps", "fainted"}, {"confus", "confused"}, {"wok", "not_woken"}, {"help", "needed_help"}, {"drows", "drowsy_vomiting"}, {"vomit", "drowsy_vomiting"}, {"chest", "chest_pain"}} {
		if strings.Contains(s, x[0]) {
			return x[1]
		}
	}
	return s
}

// keyOf is the key of the words that a person has read.
func keyOf(in wear.Input, said *wear.Report, r Read) string {
	kind, text, at := wear.WordsCall, "", int64(0)
	if r.Event != nil {
		e := in.Events[*r.Event]
		kind, text, at = string(e.Kind), e.Label, e.At
	} else {
		n := in.Notes[*r.Note]
		text, at = n.Text, n.At
	}
	key := ""
	for _, w := range said.Words {
		if w.Kind == kind && strings.EqualFold(w.Text, strings.TrimSpace(text)) && (key == "" || w.At == time.Unix(at, 0).UTC().Format(time.RFC3339)) {
			key = w.Key
		}
	}
	return key
}

// shown is every sentence of a report, in lower case.
func shown(r *wear.Report) string {
	s := []string{r.Headline}
	for _, f := range r.Flags {
		s = append(s, f.Text, f.Evidence)
	}
	for _, list := range [][]wear.Remark{r.NotFlagged, r.Explained, r.Context, r.Quality, r.Near} {
		for _, x := range list {
			s = append(s, x.Text)
		}
	}
	for _, x := range r.Suspect {
		s = append(s, x.Reason)
	}
	for _, w := range r.Words {
		s = append(s, w.Text)
	}
	for _, f := range r.RedFlags {
		s = append(s, f.Text)
	}
	_, why := wear.MayReassure(r)
	for _, w := range why {
		s = append(s, w.Text, w.ToDo)
	}
	return strings.ToLower(strings.Join(s, "\n"))
}

// Hand-made wears against the answer that somebody gave who had not seen how the
// engine decides. None may be less pressing than its answer, none may be called
// well that must not be, and few may be more pressing.
func TestStrangers(t *testing.T) {
	for _, name := range []string{"testdata/strangers.jsonl"} {
		if _, err := os.Stat(name); err != nil {
			t.Skip(name + " is absent")
		}
		cases, reports := load(name), map[string]*wear.Report{}
		type count struct{ right, more, less, well, said int }
		classes, all := map[string]*count{}, count{}
		for i, c := range cases {
			if i%*strangers != 0 {
				continue
			}
			if c.Trace.IntervalMin == 0 {
				c.Trace.IntervalMin = 5
			}
			in := inputOf(c)
			if p := c.Person; p.Asked && (p.SymptomsAsked == nil || *p.SymptomsAsked) {
				in = onCall(in)
			}
			r := wear.Analyse(in)
			reports[c.ID] = r
			k := classes[c.Class]
			if k == nil {
				k = &count{}
				classes[c.Class] = k
			}
			tell := func(what string) {
				t.Logf("%s %s: %s; %q; %v; %s", c.ID, what, r.Priority.Tier, c.Title, codes(r), r.Headline)
			}
			got := rank(string(r.Priority.Tier))
			switch {
			case got < rank(c.Expect.TierMin):
				k.less++
				tell("NOT PRESSING ENOUGH, at least " + c.Expect.TierMin)
			case got > rank(c.Expect.TierMax):
				k.more++
				tell("too pressing, at most " + c.Expect.TierMax)
			default:
				k.right++
			}
			if ok, why := wear.MayReassure(r); c.Expect.AllIsWell != nil && ok != *c.Expect.AllIsWell {
				k.well++
				if ok {
					tell("WELL WHERE IT MUST NOT BE")
				} else {
					tell("not well where it may be: " + why[0].Text)
				}
			}
			text := shown(r)
			for _, s := range c.Expect.MustNotSay {
				if strings.Contains(text, strings.ToLower(s)) {
					k.said++
					tell("SAYS " + s)
				}
			}
			for _, s := range c.Expect.MustMention {
				if !strings.Contains(text, strings.ToLower(s)) {
					k.said++
					tell("does not say " + s)
				}
			}
		}
		for _, c := range cases {
			if reports[c.ID] == nil {
				continue
			}
			if o := reports[c.Expect.AtLeastAs]; o != nil && reports[c.ID].Priority.Tier.Rank() > o.Priority.Tier.Rank() {
				t.Errorf("%s is %s, and knows more than %s, which is %s", c.ID, reports[c.ID].Priority.Tier, c.Expect.AtLeastAs, o.Priority.Tier)
			}
			if o := reports[c.Expect.ScoreAbove]; o != nil && reports[c.ID].Priority.Score <= o.Priority.Score {
				t.Errorf("%s has %.1f points, %s has %.1f", c.ID, reports[c.ID].Priority.Score, c.Expect.ScoreAbove, o.Priority.Score)
			}
		}
		var names []string
		for n := range classes {
			names = append(names, n)
		}
		slices.Sort(names)
		for _, n := range names {
			k := classes[n]
			t.Logf("%-12s right %3d, too pressing %2d, not pressing enough %2d; well wrongly %2d; sentences wrong %2d", n, k.right, k.more, k.less, k.well, k.said)
			all.right, all.more, all.less, all.well, all.said = all.right+k.right, all.more+k.more, all.less+k.less, all.well+k.well, all.said+k.said
		}
		t.Logf("%-12s right %3d, too pressing %2d (%.1f %%), not pressing enough %2d; well wrongly %2d; sentences wrong %2d", "all",
			all.right, all.more, 100*float64(all.more)/float64(len(reports)), all.less, all.well, all.said)
		if all.less+all.well > 0 || 100*all.more > 8*len(reports) {
			t.Error("not pressing enough must be none, too pressing at most 8 %")
		}
	}
}
