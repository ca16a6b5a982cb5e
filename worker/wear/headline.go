package wear

import "strings"

// headline is the finding in one sentence: what a colleague would say first.
func (j *judge) headline() string {
	s := capital(j.finding())
	if j.flagged(FlagSevere) {
		s = "A severe symptom is written down; " + strings.ToLower(s[:1]) + s[1:]
	}
	if n := j.r.Unread; n > 0 {
		s += "; " + plural(n, "text") + " not read yet"
	}
	if j.r.Believed == 0 {
		return s + "."
	}
	if j.flagged(FlagTooLittle) {
		s += ", but only " + plural(j.usable, "usable day") + ": confidence low"
	} else if j.flagged(FlagSensorDoubt) {
		s += ", but the sensor is in doubt: confidence low"
	}
	return s + "."
}

// finding is the headline without its doubt: that of the first flag that leads
// one, then what is near, then the shares.
func (j *judge) finding() string {
	switch {
	case j.r.Readings == 0:
		return "No readings that can be used"
	case j.r.Believed == 0:
		return "None of " + plural(j.r.Readings, "reading") + " can be believed"
	}
	for _, k := range flagKinds {
		if k.headline != nil && j.flagged(k.Code) {
			return k.headline(j)
		}
	}
	if len(j.r.Near) > 0 {
		return strings.TrimSuffix(j.r.Near[0].Text, ".")
	}
	return j.within()
}

// within says how much lies between the limits, and how far above it went.
func (j *judge) within() string {
	s := wholePercent(j.r.Metrics.Within3_9To7_8) + " of readings between 3.9 and 7.8"
	above := j.r.MetricsAll.Above10Pct
	switch {
	case j.days10 > 0:
		return s + "; above 10 on " + plural(j.days10, "day")
	case above.OK && above.V == 0 && len(j.sticks(Limit10_0.Above)) == 0:
		return s + "; none above 10"
	}
	return s
}

// dipFinding is the headline of lows with a symptom.
func (j *judge) dipFinding() string {
	if len(j.matched) == 0 {
		low := "3.9"
		if len(j.sticks(Limit3_0.Below)) > 0 {
			low = "3.0"
		}
		return "Below " + low + " by fingerstick; " + j.timeAbove()
	}
	s := countWords(len(j.matched), "dip") + " below 3.9 with a matching symptom note" + j.down(j.matched)
	if j.flagged(FlagAbove7_8) || j.flagged(FlagAbove10) {
		return s + j.alsoPersistent()
	}
	return s + "; " + j.timeAbove()
}

// highFinding is the headline of time above 7.8 and above 10.
func (j *judge) highFinding() string {
	s := "Above 7.8 on " + of(j.days7_8, j.usable, "usable day") + j.mostly()
	if j.days7_8 == 0 {
		s = percent(j.r.Metrics.Above7_8Pct) + " of readings above 7.8"
	}
	if j.days10 > 0 {
		s += "; above 10 on " + plural(j.days10, "day")
	}
	return s
}

// veryHighFinding says how high, and by what.
func (j *judge) veryHighFinding() string {
	p := &j.in.Protocol.Flag
	s := ""
	switch {
	case len(j.sticks(p.VeryHighReading.Above)) > 0:
		s = "Above " + p.VeryHighReading.String() + " by fingerstick, up to " + j.highest() + " by the sensor"
	case j.r.Metrics.Above13_9Pct.V > 0:
		s = "Very high, up to " + j.highest() + ", on " + plural(max(1, j.highDays), "day")
	case j.highDays > 0:
		s = "At or above " + p.HighEpisode.String() + " on " + plural(j.highDays, "day") + ", up to " + j.highest()
	case len(j.sticks(p.HighEpisode.AtLeast)) > 0:
		s = "At or above " + p.HighEpisode.String() + " by fingerstick, up to " + j.highest() + " by the sensor"
	case j.in.Context.Pregnant:
		s = "High in the morning for a pregnancy, up to " + j.highest()
	default:
		f, _ := j.veryHigh()
		s = strings.TrimSuffix(f.Text, ".")
	}
	return s + j.alsoPersistent()
}

// alsoPersistent adds the time above 7.8 where it is a finding of its own.
func (j *judge) alsoPersistent() string {
	if j.days7_8 == 0 {
		return ""
	}
	return "; above 7.8 on " + of(j.days7_8, j.usable, "usable day")
}

// timeAbove says how much time lies above 7.8. "Little" is a word for adults who
// are not pregnant.
func (j *judge) timeAbove() string {
	share := j.r.Metrics.Above7_8Pct
	if j.adultLimits() && j.days7_8 == 0 && share.V < littleAbove7_8 {
		return "little time above 7.8"
	}
	return percent(share) + " of readings above 7.8"
}

// littleAbove7_8 is the share above 7.8 in per cent under which it is called
// little: twice the median of 153 healthy volunteers (J Clin Endocrinol Metab
// 2019;104:4356), a proposal.
const littleAbove7_8 = 4.2

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
