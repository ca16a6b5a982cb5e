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
// (ISO 15197:2013 allows a meter that much). Shown, never used to correct.
func (t *trace) fingersticks(in *Input) (disagree []pair, compared int) {
	b := &in.Protocol.Believe
	for _, e := range in.Events {
		if e.Kind != Fingerstick || !usable(Reading{At: e.At, Num: e.Value.Num, Scale: e.Value.Scale, Unit: e.Value.Unit}) || e.Value.Bound != Exact {
			continue
		}
		blood := e.Value.Mmol()
		allowed := max(blood*b.FingerstickPct/100, b.FingerstickLowMmol)
		closest, found := 0.0, false
		for i := t.from(e.At - t.step); i < len(t.r) && t.r[i].At <= e.At+seconds(b.FingerstickLagMinutes*60); i++ {
			if g := t.mmol[i]; t.why[i] == 0 && (!found || math.Abs(g-blood) < math.Abs(closest-blood)) {
				closest, found = g, true
			}
		}
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
