package wear

import "slices"

// cause is why a reading is not believed; 0 for believed. Earlier causes win:
// what the file itself says comes first.
type cause uint8

const (
	causeMarked cause = iota + 1
	causeWarmUp
	causeRange
	causeClock
	causeFlat
	causeSpike
	causePressure
	causeRate
	causeTail
	causeLowStart
	causePerson
)

// kinds are the Suspect constants by cause.
var kinds = [...]string{
	causeMarked: SuspectMarked, causeWarmUp: SuspectWarmUp, causeRange: SuspectRange,
	causeClock: SuspectClock, causeFlat: SuspectFlat, causeSpike: SuspectSpike, causePressure: SuspectPressure,
	causeRate: SuspectRate, causeTail: SuspectTail, causeLowStart: SuspectLowStart,
	causePerson: SuspectPerson,
}

// believe marks the readings that are not to be believed. Nothing is deleted:
// a mark leaves a reading out of the measures and is shown with its reason.
// Only the readings themselves, blood and a person's decision have a say: what
// was written down or is on record makes no reading more or less believable, so
// that no word can lift a share under its limit. What words and medicines do is
// make a doubted low count as a low; see [trace.lows].
func (t *trace) believe(in *Input) {
	b := &in.Protocol.Believe
	for i, r := range t.r {
		switch {
		case r.Mark&MarkError != 0:
			t.why[i] = causeMarked
		case r.Mark&MarkWarmUp != 0:
			t.why[i] = causeWarmUp
		case t.past[i]&pastPlausible != 0:
			t.why[i] = causeRange
		}
	}
	t.markClock(b)
	t.markFlat(b)
	// Before the dips, so that a lone value in one does not hide its shape.
	t.markSpikes(b)
	t.markPressure(b, in.Events)
	t.markRates(b)
	t.markTail(b, &in.Protocol.Wear)
	t.markLowStart(b)
}

// mark gives the readings from i up to but not including j a cause, where they
// have none yet.
func (t *trace) mark(i, j int, c cause) {
	for ; i < j; i++ {
		if t.why[i] == 0 {
			t.why[i] = c
		}
	}
}

// stretches turns marks into runs with a reason, conflicts included, in order
// of time.
func (t *trace) stretches() []Stretch {
	s := make([]Stretch, 0, 8)
	for i := 0; i < len(t.r); {
		j := i + 1
		for j < len(t.r) && t.why[j] == t.why[i] && (t.joined(j) || t.why[i] == causeTail || t.why[i] == causeLowStart) {
			j++
		}
		if t.why[i] != 0 {
			s = append(s, Stretch{
				Kind: kinds[t.why[i]], From: t.cal.time(t.r[i].At), To: t.cal.time(t.r[j-1].At),
				Readings: j - i, Reason: t.reason(i, j),
			})
		}
		i = j
	}
	for _, c := range t.conflicts {
		at := t.cal.time(c.at)
		s = append(s, Stretch{
			Kind: SuspectConflict, From: at, To: at, Readings: c.rows,
			Reason: "The file gives different values for this moment: " + c.text + ".",
		})
	}
	slices.SortStableFunc(s, func(a, b Stretch) int { return a.From.Compare(b.From) })
	return s
}

// reason says in words why the readings from i to j are not believed.
func (t *trace) reason(i, j int) string {
	length := t.r[j-1].At - t.r[i].At
	switch t.why[i] {
	case causeMarked:
		return "The file marks " + these(j-i) + " as in error."
	case causeWarmUp:
		return "The file says that the sensor was still warming up."
	case causeRange:
		return "No sensor can measure a value like " + t.r[i].Text() + " " + t.r[i].Unit.String() + "."
	case causeClock:
		return "Two series of readings lie over each other here, as when a clock was set back: nobody can say which has the right time."
	case causeFlat:
		stays := "The value stays at "
		if slices.Max(t.mmol[i:j]) > slices.Min(t.mmol[i:j]) {
			stays = "The value hardly moves from "
		}
		return stays + fixed(t.mmol[i], 1) + " for " + duration(length) + ": living glucose moves."
	case causePressure:
		text := "A sudden fall to " + fixed(t.lowest(i, j), 1) + " in the night and an equally sudden return to the same level after " + duration(length+t.step)
		if f, unsettled := t.unsettledAt(i); unsettled {
			return text + ": as when the sensor is lain on. That alone does not explain it: " + f.why + ". A fingerstick at such a time, or another wear, tells."
		}
		return text + ": more like lying on the sensor than like low glucose."
	case causeSpike:
		return "One value, " + fixed(t.mmol[i], 1) + ", stands alone between neighbours that agree with each other."
	case causeRate:
		return "The value changes faster than glucose in the body can."
	case causeTail:
		return "The last " + duration(length) + " of the wear do not fit the rest: the picture of a failing sensor."
	case causePerson:
		return "A person decided not to believe " + these(j-i) + "."
	default:
		return "Most values are below 3.9 from the start: more like a sensor that reads low, but true lows that are not felt look the same. A fingerstick beside it would tell."
	}
}

// lowest is the least value of the readings from i to j.
func (t *trace) lowest(i, j int) float64 { return slices.Min(t.mmol[i:j]) }
