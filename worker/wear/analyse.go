package wear

import (
	"cmp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Analyse makes the report of one wear. Readings and events may lie in any
// order and are left as they were. A nil protocol stands for [DefaultProtocol],
// a nil zone for UTC. No list in the report is nil.
func Analyse(in Input) *Report {
	j := weigh(in, false)
	r, t, p := j.r, j.t, j.in.Protocol
	r.Meals, r.Exercise = t.meals(j.in), t.exercise(j.in)
	r.MealGroups, r.Uncertainty = mealGroups(r.Meals, &p.Meal), t.uncertainty()
	r.Near = j.near()
	r.Confidence = j.confidence()
	r.Quality = j.quality()
	j.may, _ = MayReassure(r)
	r.NotFlagged, r.Explained = j.notFlagged(), j.explained()
	r.Headline = j.headline()
	r.Priority = j.priority()
	return r
}

// Verdict is [Analyse] as far as the flags and the tier, which are the same:
// nothing else of its report is to be read. It takes some two thirds of the time.
func Verdict(in Input) *Report {
	r := weigh(in, true).r
	r.Priority.Tier = tierOf(r.Flags)
	return r
}

// weigh fills in the flags and all that they are raised by. Brief leaves out the
// measures that raise none.
func weigh(in Input, brief bool) *judge {
	if in.Protocol == nil {
		in.Protocol = DefaultProtocol()
	}
	if in.Zone == nil {
		in.Zone = time.UTC
	}
	in.Events = orderedEvents(cleanEvents(in.Events))
	in.Labs, in.Notes = orderedLabs(in.Labs), cleanNotes(in.Notes)
	in.SensorKind = strings.ToValidUTF8(in.SensorKind, "\uFFFD")
	p := in.Protocol
	t := newTrace(&in)
	t.believe(&in)
	t.brief = brief

	r := &Report{Engine: EngineVersion, Protocol: p.Version, IntervalS: t.interval, Unit: t.unit(), SensorKind: in.SensorKind}
	if len(in.Overrides) > 0 {
		alone := t.measure(p, false)
		r.MetricsEngine = &alone
	}
	r.Overrides = t.overrule(in.Overrides)
	t.describe(r)
	t.unsettled = t.deepFalls(p)
	r.Suspect, r.Gaps = t.stretches(), t.gaps()
	words := t.gather(&in)
	r.Words = words.list
	r.RedFlags, r.AskedOn, r.Age = redFlags(&in), askedOn(in.Context, r.Start), in.Context.ageOn(r.End)
	r.Labs, r.HomaIR = t.labs(&in, p.LabRules(in.Context, r.End))
	r.AskedAfter = r.AskedOn != "" && r.AskedOn >= r.End.Format(time.DateOnly)
	for _, w := range r.Words {
		if w.ReadAs == Unread {
			r.Unread++
		}
	}

	said := sayings(&in, words)
	in.Events = withBloodInWords(in.Events, said)
	j := t.find(&in, r, said)
	r.MetricsAll = r.Metrics
	if r.Believed != r.Readings {
		r.MetricsAll = t.measure(p, true)
	}
	r.Context = contextRules(&in, r)
	j.nameDoubtedLows()
	r.Flags = j.flags()
	return j
}

// find fills in what the flags are judged by, from the readings that count as
// believed.
func (t *trace) find(in *Input, r *Report, said []saying) *judge {
	p := in.Protocol
	r.Metrics = t.measure(p, false)
	var spans []span
	r.Episodes, spans = t.episodes(in, said)
	r.Nights, r.Matches = t.nights(in), t.matches(in, said, spans)
	r.Mornings, r.Swings = t.mornings(r.Nights, &p.Night), t.swings(in, spans)
	r.Days = t.dayFigures(p, spans, r.Matches)
	j := &judge{in: in, t: t, r: r, spans: spans, said: said}
	j.tally()
	return j
}

// cleanEvents makes labels valid text, so that a report reads back from JSON as
// it was written.
func cleanEvents(events []Event) []Event {
	bad := func(e Event) bool { return !utf8.ValidString(e.Label) || !utf8.ValidString(string(e.Kind)) }
	if !slices.ContainsFunc(events, bad) {
		return events
	}
	events = slices.Clone(events)
	for i := range events {
		events[i].Label = strings.ToValidUTF8(events[i].Label, "\uFFFD")
		events[i].Kind = EventKind(strings.ToValidUTF8(string(events[i].Kind), "\uFFFD"))
	}
	return events
}

// cleanNotes does the same for notes.
func cleanNotes(notes []NoteText) []NoteText {
	notes = slices.Clone(notes)
	for i, n := range notes {
		notes[i].Text, notes[i].Kind = strings.ToValidUTF8(n.Text, "\uFFFD"), strings.ToValidUTF8(n.Kind, "\uFFFD")
	}
	return notes
}

// askedOn is the day on which the context was asked about, "" unless it is one
// and less than a year before the wear began: what was asked earlier says
// nothing of it. The year is a proposal.
func askedOn(c Context, start time.Time) string {
	on, err := time.ParseInLocation(time.DateOnly, c.AskedOn, start.Location())
	if err != nil || on.Before(start.AddDate(-1, 0, 0)) {
		return ""
	}
	return c.AskedOn
}

// redFlags are the boxes ticked, those that are known, in order of time.
func redFlags(in *Input) []RedFlagFig {
	ticked := slices.Clone(in.RedFlags)
	slices.SortFunc(ticked, func(a, b RedFlag) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Code, b.Code)) })
	figures := make([]RedFlagFig, 0, len(ticked))
	for _, f := range slices.Compact(ticked) {
		if text := RedFlagWords(f.Code); text != "" && f.At >= earliest && f.At < latest {
			figures = append(figures, RedFlagFig{Code: f.Code, Text: text, At: clockTime(f.At, in.Zone)})
		}
	}
	return figures
}

// clockTime writes an instant on a clock, as RFC 3339.
func clockTime(at int64, zone *time.Location) string {
	return time.Unix(at, 0).In(zone).Format(time.RFC3339)
}

// orderedEvents sorts events by time and then by everything else, so that
// their order in a file can never show in a report.
func orderedEvents(events []Event) []Event {
	compare := func(a, b Event) int {
		return cmp.Or(
			cmp.Compare(a.At, b.At), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Label, b.Label),
			cmp.Compare(a.Minutes, b.Minutes), cmp.Compare(a.Carbs, b.Carbs), compareReadings(a.Value, b.Value),
		)
	}
	if slices.IsSortedFunc(events, compare) {
		return events
	}
	events = slices.Clone(events)
	slices.SortFunc(events, compare)
	return events
}

// unit is the unit the readings were recorded in.
func (t *trace) unit() string {
	if len(t.r) == 0 {
		return UnitUnknown.String()
	}
	for _, r := range t.r {
		if r.Unit != t.r[0].Unit {
			return "mixed"
		}
	}
	return t.r[0].Unit.String()
}

// describe fills in the counts and times.
func (t *trace) describe(r *Report) {
	r.Readings, r.Believed = len(t.r), t.believed()
	r.Duplicates, r.Conflicts = t.duplicates, len(t.conflicts)
	for _, x := range t.r {
		switch x.Bound {
		case Below:
			r.CensoredLow++
		case Above:
			r.CensoredHigh++
		}
	}
	if len(t.r) == 0 {
		return
	}
	first, last := t.r[0].At, t.r[len(t.r)-1].At
	r.Start, r.End = t.cal.time(first), t.cal.time(last)
	r.Expected = int((last-first)/t.step) + 1
	held := float64(r.Readings)
	if t.cover != nil {
		held, _ = sum(t.cover)
	}
	r.CapturedPct = Of(min(100, 100*held/float64(r.Expected)))
}

// gaps lists the times without readings.
func (t *trace) gaps() []Gap {
	gaps := make([]Gap, 0, 8)
	for i := 1; i < len(t.r); i++ {
		if !t.joined(i) {
			from, to := t.r[i-1].At, t.r[i].At
			gaps = append(gaps, Gap{From: t.cal.time(from), To: t.cal.time(to), Minutes: int((to - from) / 60)})
		}
	}
	return gaps
}
