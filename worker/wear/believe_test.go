package wear_test

import (
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// usual is a steady person with three meals a day.
func usual(since time.Duration) float64 {
	g := 5.3
	for _, meal := range []float64{8, 13, 19.5} {
		if x := clock(since) - meal; x > 0 {
			g += bump(time.Duration(x*float64(time.Hour)), time.Hour, 0.8, 1.8)
		}
	}
	return g
}

// within reports whether since lies in [from, to).
func within(since, from, to time.Duration) bool { return since >= from && since < to }

// marks gives the stretches of one kind.
func marks(r *wear.Report, kind string) []wear.Stretch {
	var out []wear.Stretch
	for _, s := range r.Suspect {
		if s.Kind == kind {
			out = append(out, s)
		}
	}
	return out
}

func TestBelieve(t *testing.T) {
	for _, minutes := range []int{5, 15} {
		for _, c := range []struct {
			name   string
			level  func(time.Duration) float64
			events []wear.Event
			in     wear.Context
			kind   string        // what should be found, or "" for nothing at all
			from   time.Duration // first suspect reading, give or take an interval
			length time.Duration
		}{
			{name: "a usual fortnight", level: usual},
			{
				name: "lying on the sensor",
				level: func(s time.Duration) float64 {
					if within(s, at(3, 2, 0), at(3, 2, 45)) {
						return 3.2
					}
					return usual(s)
				},
				kind: wear.SuspectPressure, from: at(3, 2, 0), length: 45 * time.Minute,
			},
			{
				name: "the same with a symptom is doubted all the same",
				level: func(s time.Duration) float64 {
					if within(s, at(3, 2, 0), at(3, 2, 45)) {
						return 3.2
					}
					return usual(s)
				},
				events: []wear.Event{event(at(3, 2, 15), wear.Symptom, "woke shaky")},
				kind:   wear.SuspectPressure, from: at(3, 2, 0), length: 40 * time.Minute,
			},
			{
				name: "the same on insulin is doubted all the same",
				level: func(s time.Duration) float64 {
					if within(s, at(3, 2, 0), at(3, 2, 45)) {
						return 3.2
					}
					return usual(s)
				},
				in:   wear.Context{Insulin: true},
				kind: wear.SuspectPressure, from: at(3, 2, 0), length: 40 * time.Minute,
			},
			{
				name: "the same by day is believed",
				level: func(s time.Duration) float64 {
					if within(s, at(3, 16, 0), at(3, 16, 45)) {
						return 3.3
					}
					return usual(s)
				},
			},
			{
				name: "a slow low in the night is believed",
				level: func(s time.Duration) float64 {
					return usual(s) - bump(s, at(4, 3, 0), 1.2, 2.0)
				},
			},
			{
				name: "a lone value",
				level: func(s time.Duration) float64 {
					if s == at(5, 15, 0) {
						return 11.5
					}
					return usual(s)
				},
				kind: wear.SuspectSpike, from: at(5, 15, 0), length: 0,
			},
			{
				name: "a quick meal is believed",
				level: func(s time.Duration) float64 {
					return usual(s) + bump(s, at(5, 16, 30), 0.6, 4.5)
				},
			},
			{
				name: "a last day that sinks",
				level: func(s time.Duration) float64 {
					if s >= at(9, 0, 0) {
						return usual(s) - 2.4
					}
					return usual(s)
				},
				kind: wear.SuspectTail, from: at(9, 0, 0), length: 24 * time.Hour,
			},
			{
				name: "low from the start for two days",
				level: func(s time.Duration) float64 {
					if s < at(2, 0, 0) {
						return usual(s) - 2.4
					}
					return usual(s)
				},
				kind: wear.SuspectLowStart, from: 0, length: 48 * time.Hour,
			},
			{
				name: "a rise of the last days is believed",
				level: func(s time.Duration) float64 {
					if s >= at(8, 0, 0) {
						return usual(s) + min(4, (s-at(8, 0, 0)).Hours())
					}
					return usual(s)
				},
			},
		} {
			t.Run(c.name+" at "+time.Duration(minutes*int(time.Minute)).String(), func(t *testing.T) {
				r := wear.Analyse(wear.Input{Readings: days(10, minutes, c.level), Events: c.events, Context: c.in})
				if c.kind == "" {
					for _, s := range r.Suspect {
						if s.Kind != wear.SuspectRate { // the made edges are steep
							t.Errorf("suspect: %s %s", s.Kind, s.Reason)
						}
					}
					return
				}
				found := marks(r, c.kind)
				if len(found) != 1 {
					t.Fatalf("%d stretches of %s, want one: %v", len(found), c.kind, r.Suspect)
				}
				interval := time.Duration(minutes) * time.Minute
				if d := found[0].From.Sub(monday.Add(c.from)); d.Abs() > 2*interval { // the edge itself may be too steep
					t.Errorf("begins %v from where it was made", d)
				}
				if d := found[0].To.Sub(found[0].From) - c.length; d.Abs() > 3*interval {
					t.Errorf("lasts %v, made %v", found[0].To.Sub(found[0].From), c.length)
				}
				if found[0].Reason == "" {
					t.Error("no reason")
				}
			})
		}
	}
}

func TestFlatLine(t *testing.T) {
	readings := days(5, 5, usual)
	for i := 600; i < 620; i++ {
		readings[i].Num = 531
	}
	r := wear.Analyse(wear.Input{Readings: readings})
	if found := marks(r, wear.SuspectFlat); len(found) != 1 || found[0].Readings != 20 {
		t.Errorf("got %v", r.Suspect)
	}
	if r.Believed != r.Readings-20 {
		t.Errorf("%d of %d believed", r.Believed, r.Readings)
	}
}

// A clock that is set back by 22 minutes lays two series over each other; by
// 25, which is five intervals, it makes conflicts instead.
func TestClockTrouble(t *testing.T) {
	set := func(back int64) *wear.Report {
		readings := days(8, 5, usual)
		for i := range readings {
			if i >= 1000 {
				readings[i].At -= back * 60
			}
		}
		return wear.Analyse(wear.Input{Readings: readings})
	}
	if found := marks(set(22), wear.SuspectClock); len(found) != 1 || found[0].Readings < 8 || found[0].Readings > 10 {
		t.Errorf("22 minutes: %+v", found)
	}
	r := set(25)
	if got := text(r.Quality, "conflicts"); r.Conflicts != 5 || !strings.Contains(got, "a clock that was set back") {
		t.Errorf("25 minutes: %d conflicts, %q", r.Conflicts, got)
	}
	if found := marks(set(0), wear.SuspectClock); len(found) != 0 {
		t.Errorf("a clock that was left alone: %+v", found)
	}
}

func TestWhatTheFileSays(t *testing.T) {
	readings := days(5, 5, usual)
	for i := range 12 {
		readings[i].Mark = wear.MarkWarmUp
	}
	readings[500].Mark = wear.MarkError
	readings[700].Num = 9000 // 90 mmol/L
	readings = append(readings, readings[900])
	other := readings[901]
	other.Num += 30
	readings = append(readings, other)
	onDemand := readings[950]
	onDemand.At += 60
	onDemand.Mark = wear.MarkOnDemand
	noUnit := readings[960]
	noUnit.Unit = wear.UnitUnknown
	noUnit.At += 30
	readings = append(readings, onDemand, noUnit)

	r := wear.Analyse(wear.Input{Readings: readings})
	for kind, n := range map[string]int{wear.SuspectWarmUp: 12, wear.SuspectMarked: 1, wear.SuspectRange: 1, wear.SuspectConflict: 2} {
		if found := marks(r, kind); len(found) != 1 || found[0].Readings != n {
			t.Errorf("%s: %v", kind, found)
		}
	}
	// The instant in conflict is in no measure; the two odd rows are not on the clock.
	if r.Readings != 5*288-1 || r.Duplicates != 1 || r.Conflicts != 1 || r.Believed != r.Readings-14 {
		t.Errorf("%d readings, %d believed, %d duplicates, %d conflicts", r.Readings, r.Believed, r.Duplicates, r.Conflicts)
	}
	got := map[string]bool{}
	for _, q := range r.Quality {
		got[q.Code] = true
	}
	for _, code := range []string{"suspect", "conflicts", "on_demand", "unusable"} {
		if !got[code] {
			t.Errorf("nothing said about %s: %v", code, r.Quality)
		}
	}
}

func TestFingerstickThatDisagrees(t *testing.T) {
	stick := func(since time.Duration, g int64) wear.Event {
		e := event(since, wear.Fingerstick, "")
		e.Value = wear.Reading{At: e.At, Num: g, Scale: 1, Unit: wear.MmolL}
		return e
	}
	in := wear.Input{Readings: days(10, 5, usual), Events: []wear.Event{stick(at(1, 6, 0), 54), stick(at(2, 6, 0), 74), stick(at(3, 6, 0), 38)}}
	r := wear.Analyse(in)
	n := 0
	for _, q := range r.Quality {
		if q.Code == "fingerstick" {
			n++
		}
	}
	if n != 2 {
		t.Errorf("%d disagreements, want 2: %v", n, r.Quality)
	}
	if len(r.Flags) == 0 || r.Flags[0].Code != wear.FlagSensorDoubt || r.Priority.Tier != wear.CannotTell {
		t.Errorf("got %v", r.Flags)
	}
}
