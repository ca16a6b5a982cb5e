package wear

import (
	"strconv"
	"strings"
)

// headline is the finding in one sentence: what a colleague would say first. It
// opens with what made the tier, whatever that is: a flag that leads no sentence
// of its own is told as it stands, and nothing comforting comes before either.
func (j *judge) headline() string {
	s := capital(j.finding())
	if n := j.r.Unread; n > 0 {
		s += "; " + plural(n, "text") + " not read yet"
	}
	if j.r.Believed > 0 && j.r.Flags != nil && !j.flagged(FlagTooLittle) && j.flagged(FlagSensorDoubt) && !strings.HasPrefix(s, sensorInDoubt) {
		s += ", but the sensor is in doubt: confidence low"
	}
	if j.r.Believed > 0 && j.flagged(FlagTooLittle) && !strings.HasPrefix(s, "Only ") {
		s += ", but only " + plural(j.usable, "usable day") + ": confidence low"
	}
	return s + "."
}

const sensorInDoubt = "The sensor is in doubt"

// finding is the headline without its doubt: the flags that make the tier, the
// first in full, then what is near, then the shares.
func (j *judge) finding() string {
	if j.r.Readings == 0 || j.r.Believed == 0 {
		none := "No readings that can be used"
		if j.r.Readings > 0 {
			none = "None of " + plural(j.r.Readings, "reading") + " can be believed"
		}
		if lead := j.lead(); lead != "" {
			return lead + "; " + lowerFirst(none)
		}
		return none
	}
	if lead := j.lead(); lead != "" {
		return lead
	}
	s := j.within()
	if len(j.r.Near) > 0 {
		s = strings.TrimSuffix(j.r.Near[0].Text, ".")
	}
	switch {
	case j.flagged(FlagTooLittle):
		return "Only " + plural(j.usable, "usable day") + ", so confidence is low; " + lowerFirst(s)
	case j.flagged(FlagSensorDoubt):
		return sensorInDoubt + ", so confidence is low; " + lowerFirst(s)
	}
	return s
}

// lead tells the flags that make the tier: the first in full, the others by
// name. Doubt and words that wait lead nothing unless a flag has its own words
// for it.
func (j *judge) lead() string {
	s, tier := "", Routine
	var also []string
	for _, f := range j.r.Flags {
		k, _ := FlagOf(f.Code)
		switch {
		case k.headline == nil && f.Tier.Rank() >= CannotTell.Rank():
		case s == "":
			s, tier = strings.TrimSuffix(f.Text, "."), f.Tier
			if k.headline != nil {
				s = k.headline(j)
			}
		case f.Tier == tier && (k.headline == nil || k.headline(j) != s):
			also = append(also, k.Short)
		}
	}
	if len(also) > 0 {
		s += "; also " + listed(also)
	}
	return s
}

// within says how much lies between the limits, and how far above it went. What
// is left out of the count is said where it lies past a limit.
func (j *judge) within() string {
	s := wholePercent(j.r.Metrics.Within3_9To7_8) + " of " + j.counted() + " between 3.9 and 7.8"
	for _, x := range []struct {
		limit past
		words string
	}{{pastAbove7_8, "above 7.8"}, {pastBelow3_9, "below 3.9"}} {
		if n := j.leftOut(x.limit); n > 0 {
			s += "; " + strconv.Itoa(n) + " doubted " + x.words + " left out"
		}
	}
	above := j.r.MetricsAll.Above10Pct
	switch {
	case j.days10 > 0:
		return s + "; above 10 on " + plural(j.days10, "day")
	case above.OK && above.V == 0 && len(j.sticks(Limit10_0.Above)) == 0:
		return s + "; none above 10"
	}
	return s
}

// counted is what a share is of: where some readings are not believed it says so.
func (j *judge) counted() string {
	if j.r.Believed < j.r.Readings {
		return "believed readings"
	}
	return "readings"
}

// leftOut counts the readings past a limit that no measure uses.
func (j *judge) leftOut(limit past) int {
	n := 0
	for i, b := range j.t.past {
		if b&limit != 0 && j.t.why[i] != 0 {
			n++
		}
	}
	return n
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
	beside := " with a matching symptom note"
	if !j.r.datedMatch() {
		beside = ", and words that state no time"
	}
	s := countWords(len(j.matched), "dip") + " below 3.9" + beside + j.down(j.matched)
	if j.flagged(FlagAbove7_8) || j.flagged(FlagAbove10) {
		return s + j.alsoPersistent()
	}
	return s + "; " + j.timeAbove()
}

// highFinding is the headline of time above 7.8 and above 10.
func (j *judge) highFinding() string {
	s := "Above 7.8 on " + of(j.days7_8, j.usable, "usable day") + j.mostly()
	if j.days7_8 == 0 {
		s = percent(j.r.Metrics.Above7_8Pct) + " of " + j.counted() + " above 7.8"
	}
	if j.days10 > 0 {
		s += "; above 10 on " + plural(j.days10, "day")
	}
	return s
}

// veryHighFinding says how high, and by what.
func (j *judge) veryHighFinding() string {
	f, _ := j.veryHigh()
	s := strings.TrimSuffix(f.Text, ".")
	if text, _ := j.thirst(); text != "" && !strings.Contains(s, text) {
		s += ", with a symptom of high glucose (“" + text + "”)"
	}
	return s + "; up to " + j.highest() + " by the sensor" + j.alsoPersistent()
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
	if !share.OK {
		return "how much lies above 7.8 is not known"
	}
	if j.adultLimits() && j.days7_8 == 0 && share.V < littleAbove7_8 {
		return "little time above 7.8"
	}
	return percent(share) + " of " + j.counted() + " above 7.8"
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
