package wear_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"

	"wearround/worker/wear"
)

// The two laws of what is said of a wear, over every input there is: events of
// every kind with any text, notes, red flags, results, context, fingersticks,
// gaps and doubted readings.
//
//  1. Knowing more never makes a wear less pressing: a fact never lowers the
//     tier, never takes a flag away but for one at least as pressing, and never
//     adds a sentence that reassures. Only a person's reading, a measurement in
//     blood or a newer result of the same kind may.
//  2. No sentence that reassures stands beside what it denies.
//
// WEARROUND_LAWS=1000000 go test ./worker/wear -run Laws -timeout 24h hunts
// through as many cases; WEARROUND_LAWS_SEED moves to others.
func TestLaws(t *testing.T) {
	cases, seed := lawCases(t, 1500)
	tiers, broken := map[wear.Tier]int{}, 0
	well := 0
	for i := range cases {
		rng := rand.New(rand.NewPCG(seed, uint64(i)))
		in := lawWear(rng)
		before := wear.Analyse(in)
		tiers[before.Priority.Tier]++
		if ok, _ := wear.MayReassure(before); ok {
			well++
		}
		problems := denials(in, before)
		more, what := lawFact(rng, in)
		after := wear.Analyse(more)
		problems = append(problems, lessPressing(before, after)...)
		problems = append(problems, denials(more, after)...)
		for _, p := range problems {
			broken++
			t.Errorf("case %d, with %s: %s", i, what, p)
		}
		if broken > 20 {
			t.Fatal("enough")
		}
	}
	t.Logf("%d cases; %v; %d may be called well", cases, tiers, well)
	if cases > 1000 && (well == 0 || len(tiers) < 5) {
		t.Error("the cases do not reach what they are about")
	}
}

// lawCases is how many cases to look at, and which.
func lawCases(t *testing.T, usual int) (cases int, seed uint64) {
	cases, seed = usual, 1
	if s := os.Getenv("WEARROUND_LAWS"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		cases = n
	}
	if s := os.Getenv("WEARROUND_LAWS_SEED"); s != "" {
		seed, _ = strconv.ParseUint(s, 10, 64)
	}
	return cases, seed
}

// lessPressing says where a report with one fact more is less pressing.
func lessPressing(before, after *wear.Report) (out []string) {
	if after.Priority.Tier.Rank() > before.Priority.Tier.Rank() {
		out = append(out, fmt.Sprintf("from %s to %s: %v, then %v", before.Priority.Tier, after.Priority.Tier, before.Flags, after.Flags))
	}
	for _, f := range before.Flags {
		if !slices.ContainsFunc(after.Flags, func(g wear.Flag) bool { return g.Code == f.Code || g.Tier.Rank() <= f.Tier.Rank() }) {
			out = append(out, fmt.Sprintf("%s is gone: %v", f.Code, after.Flags))
		}
	}
	for _, x := range after.NotFlagged {
		if x.Reassures && !slices.ContainsFunc(before.NotFlagged, func(y wear.Remark) bool { return y.Code == x.Code && y.Reassures }) {
			out = append(out, "reassures: "+x.Text)
		}
	}
	was, _ := wear.MayReassure(before)
	if now, _ := wear.MayReassure(after); now && !was {
		out = append(out, "may be called well, and might not before")
	}
	return out
}

// comforts are ways of saying that something needs no follow-up.
var comforts = []string{"no reason for follow-up", "common in healthy", "most people have these", "some healthy people have that", "no symptom", "no glucose-lowering medicine", "expected", "all is well"}

// denials says where a report says what its facts deny.
func denials(in wear.Input, r *wear.Report) (out []string) {
	ok, why := wear.MayReassure(r)
	if ok == (len(why) > 0) {
		out = append(out, "may be called well and has reasons against it, or neither")
	}
	severe, unread := len(r.RedFlags) > 0, 0
	for _, w := range r.Words {
		severe = severe || w.ReadAs == wear.ReadSevere
		if w.ReadAs == wear.Unread {
			unread++
		}
	}
	if unread != r.Unread || ok && (unread > 0 || severe || r.AskedOn == "" || len(r.Flags)+len(r.Near) > 0) {
		out = append(out, "called well although something stands against it")
	}
	if severe && r.Priority.Tier != wear.Today {
		out = append(out, "severe, and not for today")
	}
	if unread > 0 && r.Priority.Tier == wear.Routine {
		out = append(out, "unread, and Routine")
	}
	if under := r.Age >= 0 && r.Age < 18; (under || in.Context.Pregnant) && r.Priority.Tier == wear.Routine {
		out = append(out, "off the pathway, and Routine")
	}
	b, _ := json.Marshal([]any{r.Headline, r.Flags, r.NotFlagged, r.Near, r.Context, r.Quality, r.Explained})
	text := strings.ToLower(string(b))
	for _, c := range comforts {
		if !ok && strings.Contains(text, c) {
			out = append(out, fmt.Sprintf("says %q, and may not reassure: %v", c, why[0]))
		}
	}
	out = append(out, leadsAstray(r)...)
	for _, x := range slices.Concat(r.NotFlagged, r.Near) {
		if len(in.Asked) == 0 && (strings.Contains(x.Text, "nothing was felt") || strings.Contains(x.Text, "nothing else was felt")) {
			out = append(out, "nobody was asked what was felt, and it says: "+x.Text)
		}
		if ok && strings.Contains(strings.ToLower(x.Text), "ask ") {
			out = append(out, "called well, and still asks: "+x.Text)
		}
	}
	for _, w := range why {
		if len(r.Flags) > 0 && w.Code == wear.ReasonNear && strings.Contains(w.ToDo, "letter") {
			out = append(out, "a letter for a near limit beside a flag: "+w.ToDo)
		}
	}
	for _, f := range r.Flags {
		if strings.Contains(f.Text, "symptom is written down") && len(r.RedFlags) == 0 && !slices.ContainsFunc(r.Words, func(w wear.Words) bool { return w.ReadAs == wear.ReadSevere }) {
			out = append(out, "says as a fact what nobody has read: "+f.Text)
		}
		if strings.Contains(f.Text, "On record") && strings.Contains(f.Text, "“") && !strings.Contains(f.Text, "not on record") {
			out = append(out, "on record, and only written down: "+f.Text)
		}
	}
	for _, w := range r.Words {
		if w.Kind == string(wear.Undated) && (w.At != "" || w.GlucoseMmol.OK) {
			out = append(out, fmt.Sprintf("a time made up: %+v", w))
		}
	}
	if strings.Contains(r.Headline, "none above 10") && r.MetricsAll.Above10Pct.V > 0 || strings.Contains(r.Headline, "100 % of ") && r.Metrics.Within3_9To7_8.V < 100 ||
		strings.Contains(r.Headline, " between 3.9 and 7.8") && r.MetricsAll.Within3_9To7_8.V < r.Metrics.Within3_9To7_8.V && !strings.Contains(r.Headline, "left out") {
		out = append(out, "headline: "+r.Headline)
	}
	for _, w := range r.Words {
		if w.Text != "" && w.Key == "" {
			out = append(out, "words without a key")
		}
	}
	return out
}

// leadsAstray says where the headline does not open with what made the tier: its
// first clause shares a figure or a word of that flag, and comforts nobody.
func leadsAstray(r *wear.Report) (out []string) {
	if r.Priority.Tier.Rank() >= wear.CannotTell.Rank() {
		return nil
	}
	first, _, _ := strings.Cut(r.Headline, ";")
	for _, comfort := range []string{"between 3.9 and 7.8", "none above", "little time"} {
		if strings.Contains(first, comfort) && !strings.Contains(r.Flags[0].Text, comfort) {
			out = append(out, fmt.Sprintf("%s opens with %q: %s", r.Priority.Tier, first, r.Flags[0].Text))
		}
	}
	telling := func(text string) map[string]bool {
		list := map[string]bool{}
		for w := range strings.FieldsFuncSeq(strings.ToLower(text), func(r rune) bool { return r != '.' && !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			if w = strings.Trim(w, "."); len(w) > 4 || strings.ContainsAny(w, "0123456789") {
				list[w] = true
			}
		}
		return list
	}
	said := telling(first)
	for w := range telling(r.Flags[0].Text) {
		if said[w] {
			return out
		}
	}
	return append(out, fmt.Sprintf("%q does not tell of %q", r.Headline, r.Flags[0].Text))
}

// lawTexts are words of every sort; others are made of letters at random.
var lawTexts = []string{
	"", "toast", "shaky", "felt better after juice", "my wife could not wake me", "never passed out", "very thirsty", "lost 4 kg", "tired", "insulin 12 units", "gliclazide 80 mg",
	"half a pint of cider", "hands like leaves", "zittrig", "saw an ambulance outside", "confused", "couldn't think", "prednisolone", "ibuprofen", "brisk walk", "all good", "коллапс", "手が震えた", "16 weeks pregnant", "\xff\xfe",
}

func lawText(rng *rand.Rand) string {
	if rng.IntN(8) > 0 {
		return lawTexts[rng.IntN(len(lawTexts))]
	}
	b := make([]byte, rng.IntN(20))
	for i := range b {
		b[i] = " abcdefghijklmnop'.,*äß"[rng.IntN(22)]
	}
	return string(b)
}

// lawWear makes a wear with any facts beside it. Its readings are few, so that
// many wears can be looked at.
func lawWear(rng *rand.Rand) wear.Input {
	days := 1 + rng.IntN(11)
	unit, factor, scale := wear.MmolL, 10.0, uint8(1)
	if rng.IntN(2) == 0 {
		unit, factor, scale = wear.MgdL, wear.MgdlPerMmol, 0
	}
	level, size := 4.2+3*rng.Float64()*rng.Float64(), 4*rng.Float64()*rng.Float64()
	type dip struct{ from, length, to float64 }
	var dips []dip
	for range rng.IntN(6) {
		to := 2 + 2.2*rng.Float64()
		if rng.IntN(3) == 0 {
			to = 8 + 8*rng.Float64()*rng.Float64()*rng.Float64()
		}
		for range 1 + rng.IntN(4) {
			dips = append(dips, dip{rng.Float64() * float64(days) * 24, 0.25 + 4*rng.Float64()*rng.Float64(), to})
		}
	}
	var in wear.Input
	for i := range days * 96 {
		if rng.IntN(300) == 0 || rng.IntN(40) == 0 && rng.IntN(10) == 0 {
			continue
		}
		hours := float64(i) / 4
		clock := hours - 24*float64(int(hours/24))
		g := level + 0.15*rng.NormFloat64()
		if clock > 12 && clock < 14 || clock > 18 && clock < 20 {
			g += size
		}
		for _, d := range dips {
			if hours >= d.from && hours < d.from+d.length {
				g = d.to + 0.05*rng.NormFloat64()
			}
		}
		r := wear.Reading{At: monday.Unix() + int64(i)*900, Num: int64(max(1, g)*factor + 0.5), Scale: scale, Unit: unit}
		switch rng.IntN(6000) {
		case 0:
			if rng.IntN(8) > 0 {
				break
			}
			r.Bound, r.Num, r.Scale = wear.Above, 0, 0
		case 1, 2:
			r.Bound, r.Num, r.Scale = wear.Below, 0, 0
		case 3:
			r.Mark = wear.MarkError
		case 4:
			r.Num *= 4
		}
		in.Readings = append(in.Readings, r)
	}
	for range rng.IntN(3) {
		in, _ = lawFact(rng, in)
	}
	in = lawNight(rng, in)
	if rng.IntN(3) == 0 {
		in = onCall(in)
	}
	// Half of the people were asked, and what they wrote was read.
	if rng.IntN(2) == 0 {
		in.Context.AskedOn, in.Context.BirthYear = "2026-12-31", 1980
		read := []wear.ReadAs{wear.ReadNothing, wear.ReadNothing, wear.ReadNothing, wear.ReadMeal, wear.ReadMeal, wear.ReadSymptom, wear.ReadThirst, wear.ReadMedicine, wear.ReadAlcohol, wear.ReadRelief}
		for _, w := range wear.Analyse(in).Words {
			in.Read = append(in.Read, wear.WordsRead{Key: w.Key, As: read[rng.IntN(len(read))]})
		}
	}
	return in
}

// lawNight puts a low with a symptom into a night of some wears: what was eaten
// before it, and when it was, decides how pressing it is.
func lawNight(rng *rand.Rand, in wear.Input) wear.Input {
	if rng.IntN(4) > 0 || len(in.Readings) < 200 {
		return in
	}
	start := in.Readings[0].At/86400*86400 + 86400 + int64(1+rng.IntN(5))*3600
	for i := range in.Readings {
		r := &in.Readings[i]
		if m := (r.At - start) / 60; m > -75 && m < 105 && r.Bound == wear.Exact {
			low := 3.3 + 0.02*float64(max(0, -m, m-30)) // slowly down and up again
			if r.Unit == wear.MgdL {
				low *= wear.MgdlPerMmol
			} else {
				low *= 10
			}
			r.Num = min(r.Num, int64(low+0.5))
		}
	}
	in.Events = append(slices.Clone(in.Events), wear.Event{At: start + 600, Kind: wear.Symptom, Label: "shaky"})
	return in
}

// lawFact adds one fact that may only raise.
func lawFact(rng *rand.Rand, in wear.Input) (wear.Input, string) {
	span := int64(4 * 86400)
	if n := len(in.Readings); n > 0 {
		span = in.Readings[n-1].At - in.Readings[0].At + 8*3600
	}
	at := monday.Unix() - 4*3600 + rng.Int64N(span)
	if rng.IntN(3) == 0 { // beside something
		for _, e := range wear.Analyse(wear.Input{Readings: in.Readings}).Episodes {
			if rng.IntN(2) == 0 {
				at = e.From.Unix() + rng.Int64N(5*3600) - 4*3600
				if rng.IntN(2) == 0 {
					at = e.From.Unix() + rng.Int64N(3600) - 1200
				}
				break
			}
		}
	}
	switch rng.IntN(12) {
	case 0:
		n := wear.NoteText{At: at, Kind: wear.WordsCall, Text: lawText(rng)}
		in.Notes = append(slices.Clone(in.Notes), n)
		return in, fmt.Sprintf("%+v", n)
	case 1:
		if rng.IntN(4) > 0 {
			return lawFact(rng, in)
		}
		f := wear.RedFlag{Code: wear.RedFlagKinds()[rng.IntN(len(wear.RedFlagKinds()))].Code, At: at}
		in.RedFlags = append(slices.Clone(in.RedFlags), f)
		return in, fmt.Sprintf("%+v", f)
	case 2:
		c, name := in.Context, ""
		for name == "" {
			for i, set := range []*bool{&c.Insulin, &c.Sulfonylurea, &c.GlucoseLowering, &c.Steroid, &c.Pregnant, &c.BariatricSurgery, &c.LowCarbohydrate, &c.ShiftWork, &c.Masking, &c.Raising, &c.Overweight} {
				if rng.IntN(11) == 0 {
					*set, name = true, "context "+strconv.Itoa(i)
					break
				}
			}
		}
		if rng.IntN(6) == 0 {
			c.BirthDate, name = time.Unix(at, 0).AddDate(-rng.IntN(17)-1, 0, 0).UTC().Format(time.DateOnly), "a child"
		}
		in.Context = c
		return in, name
	case 3:
		kinds := []string{wear.LabHbA1c, wear.LabFastingGlucose, wear.LabTwoHourGlucose, wear.LabRandomGlucose, wear.LabFastingInsulin}
		l := wear.Lab{At: at - rng.Int64N(200*86400), Kind: kinds[rng.IntN(len(kinds))], Value: 2 + 25*rng.Float64()*rng.Float64(), Unit: "mmol/L"}
		if l.Kind == wear.LabHbA1c {
			l.Unit, l.Value = "mmol/mol", 30+90*rng.Float64()*rng.Float64()
		}
		for _, old := range in.Labs { // a newer one of its kind may lower
			if old.Kind == l.Kind && old.At <= l.At {
				l.At = old.At - 86400
			}
		}
		in.Labs = append(slices.Clone(in.Labs), l)
		return in, fmt.Sprintf("%+v", l)
	default:
		if rng.IntN(5) == 0 { // something eaten before a low, or a word of it
			for _, e := range in.Events {
				if e.Kind == wear.Symptom && rng.IntN(3) > 0 {
					at = e.At - rng.Int64N(5*3600)
					e := wear.Event{At: at, Kind: []wear.EventKind{wear.Meal, wear.Note, wear.Exercise}[rng.IntN(3)], Label: lawText(rng)}
					in.Events = append(slices.Clone(in.Events), e)
					return in, fmt.Sprintf("%+v", e)
				}
			}
		}
		kinds := []wear.EventKind{wear.Meal, wear.Symptom, wear.Symptom, wear.Exercise, wear.Sleep, wear.Medicine, wear.Note, wear.Note, wear.Undated, "mood", ""}
		e := wear.Event{At: at, Minutes: rng.IntN(500), Kind: kinds[rng.IntN(len(kinds))], Label: lawText(rng), Carbs: float64(rng.IntN(80))}
		in.Events = append(slices.Clone(in.Events), e)
		return in, fmt.Sprintf("%+v", e)
	}
}
