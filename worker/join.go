package worker

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// joined is one wear of a file together with the wears already there that it
// is another export of.
type joined struct {
	part          // of this file; empty for a wear that only goes on without it
	ids   []int64 // the wears there
	had   trace   // theirs
	moves bool    // some of them are another patient's until now

	prefers, yields bool          // where the two differ in a run past a limit, this file's readings hold, or the others
	who             store.Patient // where it is not whose part this is
}

// trace is what a wear holds.
type trace struct {
	readings []wear.Reading // in time order
	events   []wear.Event
	kind     string // of the sensor
	zone     string // of the wearer's clock, as [store.Wear.Zone]
	holds    said   // against a file that is read again
}

// said is what was answered before about readings there that differ from those
// of a file that is read again.
type said int

const (
	unsaid said = iota
	holds       // those there hold
	yields      // those of the file hold
)

// overlapCode is the question whether two exports at one time are one sensor's.
const overlapCode = "overlap"

// standing is a wear that a part of a file may have to be joined with.
type standing struct {
	id    int64
	trace trace
}

// joins finds what each wear of a file is to be joined with. Where the patient
// already has a wear at that time, the same readings mean a second export of
// it. Different readings mean a second sensor, which stays a wear of its own. A
// mixture is asked about. Readings before, after or in a hole of it mean that
// it goes on: two files are one wear where one file with both would be. kind is
// the sensor's, "" where that is not known; another kind is another sensor. Parts
// of the file that belong to one wear there (this export has a hole that the other
// has not) become one.
func (w *Worker) joins(ctx context.Context, j job, p *wearer, kind string, before earlier) ([]joined, *wear.Question, error) {
	var list []joined
	for _, part := range p.parts {
		x := joined{part: part}
		for _, o := range part.moved {
			x.take(o)
		}
		x.moves = part.stolen
		old, err := w.overlapping(ctx, p.patient.ID, part.readings, before)
		if err != nil {
			return nil, nil, err
		}
		for _, o := range old {
			if slices.Contains(part.apart, o.id) || slices.ContainsFunc(part.moved, func(m standing) bool { return m.id == o.id }) {
				continue
			}
			answer, err := w.overlapAnswer(ctx, j, o.id, len(before) > 0)
			if err != nil {
				return nil, nil, err
			}
			_, _, same, conflicts := wear.Merge(o.trace.readings, part.readings)
			if corrected := same == 0 && conflicts >= alikeAtLeast && conflicts*10 >= 9*min(len(part.readings), len(o.trace.readings)); corrected {
				switch {
				case answer == "two_sensors":
					continue
				case answer == "replace", o.trace.holds != unsaid:
					x.take(o)
					x.prefers, x.yields = o.trace.holds != holds, o.trace.holds == holds
					continue
				}
				return nil, correctedQuestion(conflicts, w.sample(o.trace.readings, 0), w.sample(part.readings, 0)), nil
			}
			apart := kind != "" && o.trace.kind != "" && kind != o.trace.kind || !near(o.trace.readings, part.readings, w.mostGap())
			if same == 0 && apart || answer == "two_sensors" {
				continue
			}
			if same == 0 && lengthOf(o.trace.readings, part.readings) > longestWorn && answer != "one_sensor" {
				return nil, nearQuestion(lengthOf(o.trace.readings, part.readings)), nil
			}
			if conflicts*100 > same+conflicts && answer != "one_sensor" {
				return nil, overlapQuestion(same, conflicts), nil
			}
			if run := differing(o.trace.readings, part.readings); run != nil {
				switch is := j.answers[valuesCode]; {
				case is == "these", is == "" && o.trace.holds == yields:
					x.prefers = true
				case is == "those", is == "" && o.trace.holds == holds:
					x.yields = true
				default:
					return nil, w.valuesQuestion(run), nil
				}
			}
			if n := len(list) - 1; n >= 0 && slices.Contains(list[n].ids, o.id) {
				last := list[n]
				list = list[:n]
				last.readings = append(slices.Clone(last.readings), part.readings...)
				last.events = mergeEvents(last.events, part.events)
				x = last
				continue
			}
			x.take(o)
		}
		list = append(list, x)
	}
	return list, nil, nil
}

// overlapAnswer gives what somebody said of a file and a wear that is there. Where
// a file is read again that was there when the wear's files were called another
// sensor's, that was said of the two.
func (w *Worker) overlapAnswer(ctx context.Context, j job, wearID int64, again bool) (string, error) {
	answer := j.answers[overlapCode]
	if answer != "" || !again {
		return answer, nil
	}
	there, err := w.store.Wear(ctx, wearID)
	if err != nil {
		return "", err
	}
	for _, f := range there.Files {
		if f.Answers[overlapCode] == "two_sensors" {
			answer = "two_sensors"
		}
	}
	return answer, nil
}

// take adds a wear that is there to what a part is joined with.
func (x *joined) take(o standing) {
	x.ids = append(x.ids, o.id)
	x.had.readings, _, _, _ = wear.Merge(x.had.readings, o.trace.readings)
	x.had.events = mergeEvents(x.had.events, o.trace.events)
	x.had.kind = cmp.Or(x.had.kind, o.trace.kind)
	x.had.zone = cmp.Or(x.had.zone, o.trace.zone)
}

// overlapping gives the wears of a patient at the time of some readings, or so
// near to it that they can be one wear with them. Of a file that is read again, its
// own wears are taken as they are without it.
func (w *Worker) overlapping(ctx context.Context, patient int64, readings []wear.Reading, before earlier) ([]standing, error) {
	first, last := readings[0].At, readings[len(readings)-1].At
	old, err := w.store.OverlappingWears(ctx, patient, time.Unix(first-w.mostGap(), 0), time.Unix(last+w.mostGap(), 0))
	if err != nil {
		return nil, err
	}
	var list []standing
	for _, o := range old {
		if _, own := before[o.ID]; own {
			continue
		}
		t, err := w.trace(ctx, o)
		if err != nil {
			return nil, err
		}
		list = append(list, standing{o.ID, t})
	}
	for _, id := range before.ids() {
		if b := before[id]; b.patient.ID == patient && len(b.rest.readings) > 0 {
			list = append(list, standing{id, b.rest})
		}
	}
	return list, nil
}

func (w *Worker) trace(ctx context.Context, s store.WearSummary) (trace, error) {
	readings, events, err := w.store.FileTrace(ctx, s.ID)
	return trace{readings: readings, events: events, kind: s.SensorKind, zone: s.Zone}, err
}

// longestWorn is the longest time that one sensor is worn, in seconds: those for
// two weeks last 14 to 15 days (common practice), and a day more is nobody's
// fault. Exports that would be longer together may be of two sensors in turn.
const longestWorn = 16 * 24 * 60 * 60

// mostGap is the longest gap inside a wear, in seconds: [wear.Split] cuts at a
// longer one.
func (w *Worker) mostGap() int64 { return int64(w.store.Judging().Protocol.Wear.SplitGapHours * 3600) }

// near reports whether two traces that share no instant would be one wear in one
// file: nowhere further apart than most seconds, and neither with readings where
// the other has its own, as two sensors worn at once have.
func near(a, b []wear.Reading, most int64) bool {
	if inside(a, b) || inside(b, a) {
		return false
	}
	for len(a) > 0 && len(b) > 0 {
		if a[0].At > b[0].At {
			a, b = b, a
		}
		n := 1
		for n < len(a) && a[n].At < b[0].At {
			n++
		}
		if b[0].At-a[n-1].At <= most {
			return true
		}
		a = a[n:]
	}
	return false
}

// inside reports whether a reading of b stands at one of a's, or between two of
// a's with no hole between them: within two of its intervals.
func inside(a, b []wear.Reading) bool {
	hole := 2 * intervalOf(a)
	for _, r := range b {
		i, same := slices.BinarySearchFunc(a, r.At, func(x wear.Reading, at int64) int { return cmp.Compare(x.At, at) })
		if same || i > 0 && i < len(a) && a[i].At-a[i-1].At <= hole {
			return true
		}
	}
	return false
}

// lengthOf is the time from the first reading of two traces to the last, in
// seconds.
func lengthOf(a, b []wear.Reading) int64 {
	return max(a[len(a)-1].At, b[len(b)-1].At) - min(a[0].At, b[0].At)
}

// intervalOf is the median time between readings, in seconds.
func intervalOf(readings []wear.Reading) int64 {
	if len(readings) < 2 {
		return 0
	}
	gaps := make([]int64, 0, len(readings)-1)
	for i, r := range readings[1:] {
		gaps = append(gaps, r.At-readings[i].At)
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}

// valuesCode is the question asked where two exports differ in a run past a
// limit: nobody guesses which of them is right.
const valuesCode = "overlap_values"

// run is a stretch of instants at which two exports lie on different sides of a
// limit.
type run struct {
	from, to     int64
	n            int
	these, those wear.Reading // the first of each
}

// shortestRun is what makes a run, in seconds: the 15 minutes of an episode.
const shortestRun = 15 * 60

// differing gives the first run in which the readings there and those of a file
// lie on different sides of a limit; nil where there is none.
func differing(there, here []wear.Reading) *run {
	step := intervalOf(here)
	at := make(map[int64]wear.Reading, len(there))
	for _, r := range there {
		at[r.At] = r
	}
	var x *run
	for _, r := range here {
		o, both := at[r.At]
		switch {
		case !both:
			continue
		case sides(o) == sides(r):
			x = nil
			continue
		case x == nil:
			x = &run{from: r.At, these: r, those: o}
		}
		x.to, x.n = r.At, x.n+1
		if x.to-x.from+step >= shortestRun {
			return x
		}
	}
	return nil
}

// sides says on which side of each limit a reading lies.
func sides(r wear.Reading) (s [5]bool) {
	for i, l := range []wear.Limit{wear.Limit3_0, wear.Limit3_9} {
		s[i] = l.Below(r)
	}
	for i, l := range []wear.Limit{wear.Limit7_8, wear.Limit10_0, wear.Limit13_9} {
		s[2+i] = l.Above(r)
	}
	return s
}

func (w *Worker) valuesQuestion(x *run) *wear.Question {
	return &wear.Question{
		Code: valuesCode,
		Text: fmt.Sprintf("This patient already has readings at that time, and from %s on the two differ past a limit: %s %s here, %s %s there. Which are right?",
			w.moment(x.from), x.these.Text(), x.these.Unit, x.those.Text(), x.those.Unit),
		Choices: []wear.Choice{
			{Value: "these", Text: "Those in this file", Effect: "where the two differ, the values of this file hold"},
			{Value: "those", Text: "Those filed first", Effect: "where the two differ, the values filed first hold"},
		},
	}
}

// correctedQuestion asks about a file that has other values at the very times of
// a wear that is there: two sensors seldom read at the same minutes for days.
func correctedQuestion(n int, was, is []string) *wear.Question {
	return &wear.Question{
		Code: overlapCode,
		Text: fmt.Sprintf("This patient already has a wear with readings at the same %d moments, and all have other values. Is this a corrected export of it?", n),
		Choices: []wear.Choice{
			{Value: "replace", Text: "Yes: these values replace the earlier ones", Effect: "at each moment that both have, the value of this file holds; the earlier file is kept", Rows: is},
			{Value: "two_sensors", Text: "No, two sensors worn at once", Effect: "this file becomes a wear of its own", Rows: was},
		},
	}
}

// over is the union of two traces in which the first holds where they differ.
func over(first, second []wear.Reading) []wear.Reading {
	has := make(map[int64]bool, len(first))
	for _, r := range first {
		has[r.At] = true
	}
	rest := slices.DeleteFunc(slices.Clone(second), func(r wear.Reading) bool { return has[r.At] })
	all, _, _, _ := wear.Merge(first, rest)
	return all
}

// nearQuestion asks about a file that goes on soon before or after a wear that is
// there, where the two together would be longer than a sensor lasts.
func nearQuestion(seconds int64) *wear.Question {
	return &wear.Question{
		Code: overlapCode,
		Text: fmt.Sprintf("This patient already has a wear that ends or begins close to this file. Together they would be %s long. Is it the same sensor?", span(seconds/86400*86400)),
		Choices: []wear.Choice{
			{Value: "one_sensor", Text: "Yes, one sensor in two exports", Effect: "the two are joined to one wear"},
			{Value: "two_sensors", Text: "No, two sensors, one after the other", Effect: "this file becomes a wear of its own"},
		},
	}
}

func overlapQuestion(same, conflicts int) *wear.Question {
	return &wear.Question{
		Code: overlapCode,
		Text: fmt.Sprintf("This patient already has a wear at that time: %d readings are the same and %d differ. Is it the same sensor?", same, conflicts),
		Choices: []wear.Choice{
			{Value: "one_sensor", Text: "Yes, a second export of the same sensor", Effect: "the two are joined; where they differ the greater value is kept, but for a run past a limit, about which you are asked"},
			{Value: "two_sensors", Text: "No, two sensors worn at once", Effect: "this file becomes a wear of its own"},
		},
	}
}

// EventsOf shares the events of a file among its wears, whose readings are in
// time order and not empty: each goes to the wear that is nearest to it, the
// earlier of two. None is left out: what somebody wrote the day before the sensor
// was put on is read by a person too.
func EventsOf(wears [][]wear.Reading, events []wear.Event) [][]wear.Event {
	out := make([][]wear.Event, len(wears))
	away := func(i int, at int64) int64 {
		return max(0, wears[i][0].At-at, at-wears[i][len(wears[i])-1].At)
	}
	for _, e := range events {
		nearest := 0
		for i := range wears {
			if away(i, e.At) < away(nearest, e.At) {
				nearest = i
			}
		}
		out[nearest] = append(out[nearest], e)
	}
	return out
}

// mergeEvents is the union of two exports' events; the same one is kept once.
func mergeEvents(had, add []wear.Event) []wear.Event {
	seen := make(map[wear.Event]bool, len(had))
	out := slices.Clone(had)
	for _, e := range had {
		seen[e] = true
	}
	for _, e := range add {
		if !seen[e] {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b wear.Event) int { return cmp.Compare(a.At, b.At) })
	return out
}
