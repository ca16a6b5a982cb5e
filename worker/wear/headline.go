package wear

import (
	"strconv"
	"strings"
)

// headline is the finding in one sentence: what a colleague would say first.
func (j *judge) headline() string {
	if j.r.Readings == 0 {
		return "No readings that can be used."
	}
	if j.r.Believed == 0 {
		return "None of " + plural(j.r.Readings, "reading") + " can be believed."
	}
	s := j.finding()
	if j.flagged(FlagSevere) {
		s = "A severe symptom is written down; " + strings.ToLower(s[:1]) + s[1:]
	}
	if j.flagged(FlagTooLittle) {
		s += ", but only " + plural(j.usable, "usable day") + ": confidence low"
	} else if j.flagged(FlagSensorDoubt) {
		s += ", but the sensor is in doubt: confidence low"
	}
	return s + "."
}

// finding is the headline without its doubt.
func (j *judge) finding() string {
	switch {
	case j.flagged(FlagVeryHigh):
		return j.veryHighFinding() + j.alsoPersistent()
	case j.flagged(FlagLowMedicine):
		return countWords(len(j.dips), "dip") + " below 3.9 on glucose-lowering medicine, lowest " + j.least(j.dips)
	case j.flagged(FlagVeryLow) && len(j.matched) == 0:
		return "Below 3.0 by fingerstick; " + j.timeAbove()
	case j.flagged(FlagVeryLow), j.flagged(FlagDipSymptom):
		s := countWords(len(j.matched), "dip") + " below 3.9 with a matching symptom note, lowest " + j.least(j.matched)
		if j.flagged(FlagAbove7_8) || j.flagged(FlagAbove10) {
			return s + j.alsoPersistent()
		}
		return s + "; " + j.timeAbove()
	case j.in.Context.Pregnant:
		return "In pregnancy, where the usual limits do not fit; " + j.timeAbove()
	case j.flagged(FlagAbove7_8), j.flagged(FlagAbove10), j.days7_8 > 0 && 2*j.days7_8 >= j.usable:
		s := "Above 7.8 on " + strconv.Itoa(j.days7_8) + " of " + plural(j.usable, "usable day") + j.mostly()
		if j.days7_8 == 0 {
			s = "Little time above 7.8"
		}
		if j.days10 > 0 {
			s += "; above 10 on " + plural(j.days10, "day")
		}
		return s
	case j.flagged(FlagSwingSymptom):
		return "Rises above 10 followed by dips below 3.9, " + Times(len(j.r.Swings)) + ", with no symptom notes"
	case j.flagged(FlagHighNights):
		return "Nights are high: " + strconv.Itoa(j.highNights) + " of " + plural(len(j.r.Nights), "night") + " average " +
			fixed(j.in.Protocol.Night.HighMmol, 1) + " or more; " + j.timeAbove()
	case j.flagged(FlagOffPathway):
		return "Off the usual pathway; " + j.timeAbove()
	}
	s := j.r.Metrics.Within3_9To7_8.Fixed(0) + " % of readings between 3.9 and 7.8"
	if j.days10 > 0 {
		return s + "; above 10 on " + plural(j.days10, "day")
	}
	if j.r.Metrics.Above10Pct.V == 0 {
		s += "; none above 10"
	}
	if j.flagged(FlagRisk) {
		s += "; metabolic risk on record"
	}
	return s
}

// veryHighFinding says how high, and by what.
func (j *judge) veryHighFinding() string {
	p := &j.in.Protocol.Flag
	switch {
	case len(j.sticks(p.VeryHighReading.Above)) > 0:
		return "Above " + p.VeryHighReading.String() + " by fingerstick, up to " + j.highest() + " by the sensor"
	case j.t.seen&pastAbove13_9 != 0 && j.r.Metrics.Above13_9Pct.V > 0:
		return "Very high, up to " + j.highest() + ", on " + plural(max(1, j.highDays), "day")
	case j.highDays > 0:
		return "At or above " + p.HighEpisode.String() + " on " + plural(j.highDays, "day") + ", up to " + j.highest()
	}
	return "High in the morning for a pregnancy, up to " + j.highest()
}

// alsoPersistent adds the time above 7.8 where it is a finding of its own.
func (j *judge) alsoPersistent() string {
	if j.days7_8 == 0 {
		return ""
	}
	return "; above 7.8 on " + strconv.Itoa(j.days7_8) + " of " + plural(j.usable, "usable day")
}

// timeAbove says how much time lies above 7.8.
func (j *judge) timeAbove() string {
	if j.days7_8 == 0 && j.r.Metrics.Above7_8Pct.V < j.in.Protocol.Flag.Above7_8NotePct {
		return "little time above 7.8"
	}
	return percent(j.r.Metrics.Above7_8Pct) + " of readings above 7.8"
}

func (j *judge) flagged(code string) bool { return j.r.flagged(code) }

func (r *Report) flagged(code string) bool {
	for _, f := range r.Flags {
		if f.Code == code {
			return true
		}
	}
	return false
}

// parts of the day for the words "mostly after dinner". The hours are a
// convention of this program, not a measure.
var partsOfDay = [...]struct {
	from, to      int // hours
	logged, clock string
}{
	{5, 11, "after breakfast", "in the morning"},
	{11, 16, "after lunch", "around midday"},
	{16, 24, "after dinner", "in the evening"},
	{0, 5, "at night", "at night"},
}

// mostly says in which part of the day the readings above 7.8 lie, where more
// than half do: after a meal only if meals were logged before most of them.
func (j *judge) mostly() string {
	t := j.t
	var readings, fed [len(partsOfDay)]int
	total := 0
	meal := 0
	meals := j.r.Meals
	for k := range t.cal.days {
		d := &t.cal.days[k]
		for i := d.lo; i < d.hi; i++ {
			if t.why[i] != 0 || t.past[i]&pastAbove7_8 == 0 {
				continue
			}
			total++
			hour := t.cal.minuteOf(d, t.r[i].At) / 60
			for meal+1 < len(meals) && meals[meal+1].At.Unix() <= t.r[i].At {
				meal++
			}
			for p, part := range partsOfDay {
				if hour >= part.from && hour < part.to {
					readings[p]++
					if meal < len(meals) {
						if since := t.r[i].At - meals[meal].At.Unix(); since >= 0 && since <= 3*3600 {
							fed[p]++
						}
					}
				}
			}
		}
	}
	for p, part := range partsOfDay {
		if 2*readings[p] <= total {
			continue
		}
		if 2*fed[p] > readings[p] {
			return ", mostly " + part.logged
		}
		return ", mostly " + part.clock
	}
	return ""
}
