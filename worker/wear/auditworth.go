package wear

import "time"

// Worth is whether the year was worth it: what each step from a sensor handed
// out to a confirmed result kept, lost and left unknown; what each flag, outcome
// and group of wears turned out to be; and the work that it took.
type Worth struct {
	Chain  []AuditStep  `json:"chain" doc:"from a sensor handed out to a confirmed result"`
	Yield  []AuditYield `json:"yield" doc:"by flag; a wear with several flags stands under each"`
	After  []AuditYield `json:"after" doc:"by outcome in force"`
	Missed AuditYield   `json:"missed" doc:"of the wears without a flag: what later results of the patient said"`
	Groups []AuditGroup `json:"groups" doc:"of all wears"`
	Work   []AuditWork  `json:"work" doc:"by tier when first read"`
	Shifts []AuditShift `json:"shifts" doc:"second wears against the one before, within one sensor kind"`
}

// AuditStep is one step of the chain. Of is the sum of the four below it: what
// went on to the next step, what ended there as it should, what was lost, and
// what nobody knows yet.
type AuditStep struct {
	Code    string `json:"code" enum:"handed_out|files|read|tested|confirmed"`
	Of      int    `json:"of"`
	On      int    `json:"on"`
	Ended   int    `json:"ended"`
	Lost    int    `json:"lost"`
	Unknown int    `json:"unknown"`
}

// The steps of the chain.
const (
	StepHandedOut = "handed_out" // sensors handed out: file came, -, cancelled, still out
	StepFiles     = "files"      // contents received: filed, -, cannot be read, held
	StepRead      = "read"       // wears read: followed up, told all is well, nobody could reach them, no outcome
	StepTested    = "tested"     // wears followed up: with a result, no test ordered, given up, waiting
	StepConfirmed = "confirmed"  // wears with a result: confirmed, below the diabetes range, -, in it and not confirmed
)

// AuditYield is what wears turned out to be by the results of their patients:
// those recorded for the wear or its tests, or for no wear, of a sample taken
// from the day on which it was read and before the patient's next wear was.
// Wears is Confirmed, NotConfirmed and Unknown together.
type AuditYield struct {
	Code         string `json:"code"`
	Wears        int    `json:"wears"`
	Confirmed    int    `json:"confirmed" doc:"in the diabetes range, confirmed"`
	NotConfirmed int    `json:"not_confirmed" doc:"a result came, and none is confirmed"`
	InRange      int    `json:"in_range" doc:"of those not confirmed, in the diabetes range once"`
	Unknown      int    `json:"unknown" doc:"no result"`
}

// Known is how many have a result.
func (y AuditYield) Known() int { return y.Confirmed + y.NotConfirmed }

// Share is how many of those with a result are confirmed, in per cent with its
// interval.
func (y AuditYield) Share() Range { return Wilson(y.Confirmed, y.Known()) }

// AuditGroup counts the wears of one group: an age band, a sex, a sensor kind,
// or a day of the week on which they were read.
type AuditGroup struct {
	By       string `json:"by" enum:"age|sex|kind|day"`
	FollowUp int    `json:"follow_up" doc:"needed follow-up when first read"`
	AuditYield
}

// The groups of an audit. Ages stand in decades, open at both ends.
const (
	GroupAge  = "age"
	GroupSex  = "sex"
	GroupKind = "kind"
	GroupDay  = "day"
)

// GroupCodes are the codes that a group can have, "" being not recorded; none
// for sensor kinds, which are the practice's own.
func GroupCodes(by string) []string {
	switch by {
	case GroupAge:
		return []string{"under 18", "18-29", "30-39", "40-49", "50-59", "60-69", "70-79", "80 and over", ""}
	case GroupSex:
		return []string{"female", "male", ""}
	case GroupDay:
		return []string{"1", "2", "3", "4", "5", "6", "7"}
	}
	return nil
}

// AgeBand is the band of somebody's age at a time; "" where their age is not on
// record.
func (c Context) AgeBand(at time.Time) string {
	bands := GroupCodes(GroupAge)
	switch years := c.ageOn(at); {
	case years < 0:
		return ""
	case years < 18:
		return bands[0]
	case years >= 80:
		return bands[7]
	default:
		return bands[max(1, years/10-1)]
	}
}

// AuditWork is the work on wears of one tier.
type AuditWork struct {
	Tier     Tier `json:"tier"`
	Outcomes int  `json:"outcomes" doc:"first outcomes of these wears"`
	Claimed  int  `json:"claimed" doc:"of those, claimed before on the same day"`
	Minutes  int  `json:"minutes" doc:"of those claimed, from the first claim of that day to the outcome, together"`
	MedianS  int  `json:"median_s" doc:"half took no longer"`
	Attempts int  `json:"attempts" doc:"to reach the patient of such a wear"`
	Reached  int  `json:"reached" doc:"of those"`
	Calls    int  `json:"calls" doc:"call sheets"`
	Letters  int  `json:"letters" doc:"sent"`
}

// AuditShift counts second wears by how one measure moved from the wear before.
// Of is the sum of the four below it.
type AuditShift struct {
	Code    string  `json:"code" enum:"mean|above_7_8|above_10"`
	Least   float64 `json:"least" doc:"a smaller change is expected variation, by the protocol in force"`
	Of      int     `json:"of" doc:"second wears of the same sensor kind as the one before"`
	Fall    int     `json:"fall" doc:"beyond expected variation"`
	Within  int     `json:"within"`
	Rise    int     `json:"rise" doc:"beyond expected variation"`
	Unknown int     `json:"unknown" doc:"low confidence, or not enough data"`
}

// Count puts one second wear under the way that its measure moved.
func (s *AuditShift) Count(before, after Figure, sure bool) {
	s.Of++
	c := Change{Before: before, After: after, Least: s.Least}
	switch {
	case !sure || !c.known():
		s.Unknown++
	case !c.Beyond():
		s.Within++
	case after.V > before.V:
		s.Rise++
	default:
		s.Fall++
	}
}

// NewShifts are the measures that an audit compares two wears by, none counted.
func (p *Protocol) NewShifts() []AuditShift {
	c := &p.Compare
	return []AuditShift{{Code: "mean", Least: c.MeanMmol}, {Code: "above_7_8", Least: c.Points}, {Code: "above_10", Least: c.LowPoints}}
}

// SetMinutes fills in what the minutes of the work show, given in seconds.
func (w *AuditWork) SetMinutes(seconds []float64) {
	w.Claimed = len(seconds)
	sum := 0.0
	for _, s := range seconds {
		sum += s
	}
	w.Minutes = int(sum/60 + 0.5)
	if len(seconds) > 0 {
		w.MedianS = int(quantile(seconds, 0.5))
	}
}
