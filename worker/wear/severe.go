package wear

import "slices"

// severe flags a symptom or note that somebody needed help or was not
// themselves. It has no glucose limit and no time window: symptoms override
// the sensor, and what lies behind it need not be glucose.
func (j *judge) severe() (Flag, bool) {
	p := j.in.Protocol
	i := slices.IndexFunc(j.in.Events, func(e Event) bool {
		return (e.Kind == Symptom || e.Kind == Note) && j.t.beside(e.At) && containsAny(e.Label, p.Symptom.SevereWords)
	})
	if i < 0 {
		return Flag{}, false
	}
	e := j.in.Events[i]
	return Flag{
		Code: FlagSevere, Tier: p.Tier.SevereSymptom,
		Text:     "A severe symptom is written down: “" + e.Label + "” on " + j.moment(e.At) + ".",
		Evidence: "One is enough, whatever the glucose was: speak with the person. If it is going on, it is an emergency.",
	}, true
}

// beside reports whether an event of an instant belongs to the wear.
func (t *trace) beside(at int64) bool {
	return len(t.r) > 0 && at >= t.r[0].At-EventSlack && at <= t.r[len(t.r)-1].At+EventSlack
}

// moment writes an instant of the wear on the wearer's clock.
func (j *judge) moment(at int64) string { return j.t.cal.time(at).Format("2 January at 15:04") }
