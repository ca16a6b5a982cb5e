package wear_test

import (
	"math"
	"slices"
	"time"

	"wearround/worker/wear"
)

// monday is where hand-made wears begin: Monday 2 March 2026, 00:00.
var monday = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// mmol is one reading in mmol/L with one decimal.
func mmol(at time.Time, g float64) wear.Reading {
	return wear.Reading{At: at.Unix(), Num: int64(math.Round(g * 10)), Scale: 1, Unit: wear.MmolL}
}

// series is readings in mmol/L, minutes apart from 12:00 on Monday on.
func series(minutes int, values ...float64) []wear.Reading {
	out := make([]wear.Reading, 0, len(values))
	for i, g := range values {
		out = append(out, mmol(monday.Add(12*time.Hour+time.Duration(i*minutes)*time.Minute), g))
	}
	return out
}

// days makes whole days of readings from monday on, with two decimals so that
// nothing in them is flat. level gives the glucose at a time since the start.
func days(n, minutes int, level func(since time.Duration) float64) []wear.Reading {
	out := make([]wear.Reading, 0, n*1440/minutes)
	for i := range n * 1440 / minutes {
		since := time.Duration(i*minutes) * time.Minute
		g := level(since) + 0.12*math.Sin(float64(i)*1.7)
		out = append(out, wear.Reading{At: monday.Add(since).Unix(), Num: int64(math.Round(g * 100)), Scale: 2, Unit: wear.MmolL})
	}
	return out
}

// at is a time of the wear: day 0 is monday.
func at(day, hour, minute int) time.Duration {
	return time.Duration(day)*24*time.Hour + time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute
}

// clock is the time of day in hours.
func clock(since time.Duration) float64 { return math.Mod(since.Hours(), 24) }

// bump is a smooth rise and fall of a size around a middle, hours wide.
func bump(since, middle time.Duration, hours, size float64) float64 {
	x := (since - middle).Hours() / hours
	return size * math.Exp(-x*x)
}

// codes lists the codes of flags.
func codes(r *wear.Report) []string {
	out := make([]string, 0, len(r.Flags))
	for _, f := range r.Flags {
		out = append(out, f.Code)
	}
	return out
}

// event is one at a time of the wear.
func event(since time.Duration, kind wear.EventKind, label string) wear.Event {
	return wear.Event{At: monday.Add(since).Unix(), Kind: kind, Label: label}
}

// read has a person read every word as what the lists suggest, or as nothing.
func read(in wear.Input) wear.Input {
	for _, w := range wear.Analyse(in).Words {
		as := w.Suggestion
		if as == wear.Unread {
			as = wear.ReadNothing
		}
		in.Read = append(in.Read, wear.WordsRead{Key: w.Key, As: as})
	}
	return in
}

// asked has a person asked about everything after the wear, and the age known.
func asked(in wear.Input) wear.Input {
	in.Context.AskedOn, in.Context.BirthYear = "2026-12-31", 1985
	return in
}

// onCall has somebody say on a call that nothing was felt at each dip that no
// symptom stands beside.
func onCall(in wear.Input) wear.Input {
	r := wear.Analyse(in)
	for _, e := range r.Episodes {
		if e.Kind == wear.EpisodeBelow3_9 && !slices.ContainsFunc(r.Matches, func(m wear.Match) bool { return m.Episode == e.Number }) {
			in.Asked = append(slices.Clone(in.Asked), wear.Asked{From: e.From.Unix(), On: r.End.Unix()})
		}
	}
	return in
}
