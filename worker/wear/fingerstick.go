package wear

import "math"

// pair is a fingerstick and the sensor's nearest value within the lag.
type pair struct {
	at            int64
	blood, sensor float64 // mmol/L
}

// fingersticks compares each fingerstick with the believed readings from
// shortly before it to the end of the lag after it, and lists those that no
// such reading agrees with: within 20 % or, for low values, 0.83 mmol/L
// (ISO 15197:2003 allowed a meter that much). Shown, never used to correct.
func (t *trace) fingersticks(in *Input) (disagree []pair, compared int) {
	b := &in.Protocol.Believe
	for _, e := range in.Events {
		if e.Kind != Fingerstick || !usable(e.blood()) || e.Value.Bound != Exact {
			continue
		}
		blood := e.Value.Mmol()
		allowed := max(blood*b.FingerstickPct/100, b.FingerstickLowMmol)
		closest, found := t.closest(e.At, blood, b)
		if !found {
			continue
		}
		compared++
		if math.Abs(closest-blood) > allowed {
			disagree = append(disagree, pair{e.At, blood, closest})
		}
	}
	return disagree, compared
}

// closest is the believed reading nearest in value to a blood glucose drawn at
// an instant, from shortly before it to the end of the lag after it.
func (t *trace) closest(at int64, blood float64, b *BelieveRules) (mmol float64, found bool) {
	for i := t.from(at - t.step); i < len(t.r) && t.r[i].At <= at+seconds(b.FingerstickLagMinutes*60); i++ {
		if g := t.mmol[i]; t.why[i] == 0 && (!found || math.Abs(g-blood) < math.Abs(mmol-blood)) {
			mmol, found = g, true
		}
	}
	return mmol, found
}

// sticks are the fingersticks that are past a limit, those before and after the
// readings too.
func (j *judge) sticks(past func(Reading) bool) []Event {
	if len(j.t.r) == 0 {
		return nil
	}
	return sticksBetween(j.in.Events, math.MinInt64, math.MaxInt64, past)
}

// sticksBetween are the fingersticks in [from, to] that are past a limit.
func sticksBetween(events []Event, from, to int64, past func(Reading) bool) (out []Event) {
	for _, e := range events {
		if e.isBlood() && e.At >= from && e.At <= to && usable(e.blood()) && past(e.Value) {
			out = append(out, e)
		}
	}
	return out
}

// stickWords names the fingersticks past a limit by the first of them.
func (j *judge) stickWords(sticks []Event, limit string) string {
	v := sticks[0].Value
	value := v.Text()
	if v.Num > 0 { // not a bare "low" or "high"
		value += " " + v.Unit.String()
	}
	if sticks[0].Kind == bloodInWords {
		value += " in words, “" + sticks[0].Label + "”,"
	}
	return countWords(len(sticks), "fingerstick") + " " + limit + ": " + value + " on " + j.moment(sticks[0].At) + "."
}

// biasClues are the timed laboratory values that the sensor differs from by
// more than a meter may: 15 %, or 0.83 mmol/L below 5.55 (ISO 15197:2013).
func (t *trace) biasClues(in *Input) (clues []pair) {
	for _, l := range in.Labs {
		blood := l.mmol()
		if !l.Timed || !blood.OK || l.At < earliest || l.At >= latest {
			continue
		}
		allowed := in.Protocol.Believe.FingerstickLowMmol
		if blood.V >= 5.55 {
			allowed = blood.V * in.Protocol.Believe.LaboratoryPct / 100
		}
		if sensor, ok := t.closest(l.At, blood.V, &in.Protocol.Believe); ok && math.Abs(sensor-blood.V) > allowed {
			clues = append(clues, pair{l.At, blood.V, sensor})
		}
	}
	return clues
}
