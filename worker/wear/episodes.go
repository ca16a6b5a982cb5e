package wear

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// span is an episode as places in the trace.
type span struct {
	kind     string
	lo, hi   int   // first reading past the limit; one after the last
	from, to int64 // to as in [Episode.To]
	gap      bool
	doubted  bool // holds readings that the measures leave out
}

// mayBeLow are the doubts under which a low may be a true one all the same: a
// sensor that is lain on, that fails or that reads low looks like a low.
const mayBeLow = 1<<causePressure | 1<<causeTail | 1<<causeLowStart | 1<<causeFlat

// limits are the limits whose episodes are reported.
var limits = [...]struct {
	kind string
	past past
}{
	{EpisodeAbove7_8, pastAbove7_8},
	{EpisodeAbove10, pastAbove10},
	{EpisodeAbove13_9, pastAbove13_9},
	{EpisodeBelow3_9, pastBelow3_9},
	{EpisodeBelow3_0, pastBelow3_0},
}

// spans finds the episodes past one limit among believed readings. An episode
// begins when consecutive readings past the limit cover 15 minutes and ends
// when consecutive readings back on the safe side do; its end is the first of
// those. Each reading stands for one interval, and two are always needed. A
// gap ends an episode and never joins two runs.
// Source: Diabetes Care 2017;40:1631 and Lancet Diabetes Endocrinol 2023;11:42
// (doi:10.1016/S2213-8587(22)00319-9); the rule of two is a proposal.
// Readings that are doubted for a cause in with count as believed.
func (t *trace) spans(limit past, e *EpisodeRules, kind string, with uint, out []span) []span {
	if t.seen&limit == 0 {
		return out
	}
	need := max(int(math.Ceil(e.Minutes*60/float64(t.step))), int(e.MinReadings))
	begun, open := -1, false // begun: first reading of the run under way
	pastRun, safeRun := 0, 0
	safe, before := -1, -1 // first safe reading of this recovery; the reading before
	end := func(gap bool) {
		if open {
			s := span{kind: kind, lo: begun, hi: before + 1, from: t.r[begun].At, to: t.r[before].At + t.step, gap: gap}
			if safe >= 0 {
				s.hi, s.to = safe, t.r[safe].At
			}
			out = append(out, s)
		}
		begun, open, pastRun, safeRun, safe = -1, false, 0, 0, -1
	}
	for i := range t.r {
		if t.why[i] != 0 && with>>t.why[i]&1 == 0 {
			continue
		}
		if before >= 0 && t.r[i].At-t.r[before].At > t.widest {
			end(true)
		}
		if t.past[i]&limit != 0 {
			if begun < 0 {
				begun = i
			}
			pastRun++
			safeRun, safe = 0, -1
			open = open || pastRun >= need
		} else if open {
			if safe < 0 {
				safe = i
			}
			safeRun++
			if safeRun >= need {
				end(false)
			}
		} else {
			begun, pastRun = -1, 0
		}
		before = i
	}
	end(true)
	return out
}

// lows are the episodes below a limit: those of believed readings, and in their
// place the longer ones with doubted readings where something stands beside
// them that a low explains: words, low blood, a medicine that causes lows or that
// nobody has read, or an operation after which lows come.
func (t *trace) lows(in *Input, said []saying, limit past, kind string, out []span) []span {
	e := &in.Protocol.Episode
	believed := t.spans(limit, e, kind, 0, nil)
	if t.doubted&mayBeLow == 0 {
		return append(out, believed...)
	}
	counts := lowers(in.Context, said) || in.Context.BariatricSurgery || unreadMedicine(said) != ""
	var beside []span
	for _, s := range t.spans(limit, e, kind, mayBeLow, nil) {
		s.doubted = slices.ContainsFunc(t.why[s.lo:s.hi], func(c cause) bool { return c != 0 })
		from, to := in.Protocol.Symptom.window(s)
		if s.doubted && (counts || len(nearBy(said, from, to)) > 0 || len(sticksBetween(in.Events, from, to, Limit3_9.Below)) > 0) {
			beside = append(beside, s)
		}
	}
	for _, s := range believed {
		if !slices.ContainsFunc(beside, func(b span) bool { return b.lo < s.hi && s.lo < b.hi }) {
			out = append(out, s)
		}
	}
	return append(out, beside...)
}

// episodes finds the episodes of every limit, numbered in order of time.
func (t *trace) episodes(in *Input, said []saying) ([]Episode, []span) {
	spans := make([]span, 0, 32)
	for _, c := range t.why {
		t.doubted |= 1 << c
	}
	for _, l := range limits {
		if l.past&(pastBelow3_9|pastBelow3_0) != 0 {
			spans = t.lows(in, said, l.past, l.kind, spans)
			continue
		}
		spans = t.spans(l.past, &in.Protocol.Episode, l.kind, 0, spans)
	}
	slices.SortFunc(spans, func(a, b span) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.kind, b.kind))
	})
	episodes := make([]Episode, 0, len(spans))
	for i, s := range spans {
		episodes = append(episodes, Episode{
			Number: i + 1, Kind: s.kind, From: t.cal.time(s.from), To: t.cal.time(s.to),
			Minutes: int((s.to - s.from + 30) / 60), ExtremeMmol: t.extreme(s), EndedByGap: s.gap, Doubted: s.doubted,
			Asked: slices.ContainsFunc(in.Asked, func(a Asked) bool { return a.From >= s.from && a.From <= s.to }),
			After: after(in.Events, s.from, in.Protocol.Episode.AfterHours),
		})
	}
	return episodes, spans
}

// extreme is the value furthest past the limit.
func (t *trace) extreme(s span) Figure {
	low := s.kind == EpisodeBelow3_9 || s.kind == EpisodeBelow3_0
	var f Figure
	for i := s.lo; i < s.hi; i++ {
		if g := t.mmol[i]; (t.why[i] == 0 || s.doubted && mayBeLow>>t.why[i]&1 != 0) && (!f.OK || low == (g < f.V)) {
			f = Of(g)
		}
	}
	return f
}

// after says what was logged in the hours before an instant, at most the last
// three entries. The events are in order of time.
func after(events []Event, at int64, hours float64) string {
	var labels []string
	for i := len(events) - 1; i >= 0 && len(labels) < 3; i-- {
		e := events[i]
		if e.At > at {
			continue
		}
		if float64(at-e.At) > hours*3600 {
			break
		}
		switch e.Kind {
		case Meal, Exercise, Medicine, Note:
			label := strings.TrimSpace(e.Label)
			if label == "" {
				label = string(e.Kind)
			}
			if !slices.Contains(labels, label) {
				labels = append(labels, label)
			}
		}
	}
	slices.Reverse(labels)
	return strings.Join(labels, ", ")
}
