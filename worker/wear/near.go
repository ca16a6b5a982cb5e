package wear

import (
	"slices"
	"strconv"
)

// NearKind is a limit that a wear can be near, with all that is said of it.
type NearKind struct {
	Code   string
	Letter string // to the patient: without a measurement, for a letter gives one at most

	rule func(*judge) string // what is near, "" for nothing
}

// Codes that more than the table asks for; see [judge.nearDoubted].
const (
	nearDeep        = "below_3"
	nearDoubtedDips = "doubted_dips"
)

// NearOf is the kind of a code; false for no such kind.
func NearOf(code string) (NearKind, bool) {
	i := slices.IndexFunc(nearKinds, func(k NearKind) bool { return k.Code == code })
	if i < 0 {
		return NearKind{}, false
	}
	return nearKinds[i], true
}

// NearKinds lists them in the order in which they are told.
func NearKinds() []NearKind { return slices.Clone(nearKinds) }

// nearPct is how much of a limit is near it: nine tenths, a proposal. It is about
// what one wear of a person differs from the next by.
const nearPct = 0.9

// nearly reports whether a value is at least nine tenths of a limit.
func nearly(v, limit float64) bool { return limit > 0 && v >= nearPct*limit-hair }

// oneShort reports whether a count is one under a limit, or nine tenths of it.
func oneShort(n int, limit float64) bool {
	return n > 0 && (float64(n+1) >= limit || nearly(float64(n), limit))
}

const letterMore = " A finger-prick test at such a time would tell us more."

// nearKinds are the limits that are not met and that a wear cannot be told from:
// where leaving out a single day would reach one, where one day more would, where
// one half of a rule of two is met, or where readings that are set aside would.
// Near is a state of its own between met and far: the wear stays Routine, stands
// before the others there, and is not called well.
var nearKinds = []NearKind{
	{"above_7_8", "The time above 7.8 is near our limit.", (*judge).near7_8},
	{"above_10", "The time above 10 is near our limit.", (*judge).near10},
	{"above_10_days", "The number of days with a time above 10 is near our limit.", (*judge).nearDays10},
	{"high_episodes", "On some days glucose was above 11 for a time. That is near our limit.", (*judge).nearHighEpisodes},
	{"very_high_brief", "Glucose was far above 10 for a short time, by the sensor." + letterMore, (*judge).nearVeryHigh},
	{"set_aside", "Some readings that we did not count were far outside our limits." + letterMore, (*judge).nearSetAside},
	{"at_limit_10", "Glucose was at one of our limits for a time.", (*judge).nearAt10},
	{"high_fingerstick", "A finger-prick test was high. A blood test tells us more.", (*judge).nearHighStick},
	{"low_fingerstick", "A finger-prick test was low. We would like to ask you what you felt.", (*judge).nearLowStick},
	{nearDeep, "Glucose was very low for a time, by the sensor." + letterMore, (*judge).nearBelow3},
	{"long_dips", "Glucose was low for a long time at least once, by the sensor." + letterMore, (*judge).nearLong},
	{"low_share", "Glucose was low for more of the time than in most people, by the sensor." + letterMore, (*judge).nearLowShare},
	{"pressure_often", "Glucose fell in the night. Lying on the sensor can do that." + letterMore, (*judge).nearPressure},
	{nearDoubtedDips, "Glucose may have been low for a time. We do not know if the sensor was right." + letterMore, func(*judge) string { return "" }},
	{"night_fall_alcohol", "Glucose fell in the night. Alcohol in the evening can do that.", (*judge).nearAlcohol},
	{"high_nights", "The number of nights with high glucose is near our limit.", (*judge).nearNights},
	{"high_mornings", "By the sensor, glucose was high on most mornings. Only a blood test can tell.", (*judge).nearMornings},
	{"swing", "Glucose rose above 10 and soon after fell low. That is near our limit.", (*judge).nearSwing},
	{"sensor", "The sensor may not read as it should. Another sensor would tell us more.", (*judge).nearDoubt},
	{"fingerstick_differs", "A finger-prick test and the sensor did not agree. Another sensor would tell us more.", (*judge).nearDisagree},
	{"laboratory", "A blood test was just inside our limit. We will look at it again.", (*judge).nearLab},
	{"laboratory_before", "A blood test was past our limit before. The newest one is not. We will look at it again.", (*judge).nearOldLab},
}

// near lists the limits that the wear is near.
func (j *judge) near() []Remark {
	out := make([]Remark, 0, 2)
	if j.r.Believed == 0 {
		return out
	}
	for _, k := range nearKinds {
		if text := k.rule(j); text != "" {
			out = append(out, Remark{Code: k.Code, Text: text})
		}
	}
	if j.inner {
		return out
	}
	return j.nearDoubted(out)
}

// anyFlagged reports whether one of some flags was raised.
func (j *judge) anyFlagged(codes ...string) bool { return slices.ContainsFunc(codes, j.flagged) }

// deepElsewhere reports whether an episode below 3.0 holds no reading that looks
// like lying on the sensor.
func (j *judge) deepElsewhere() bool {
	return slices.ContainsFunc(j.deep, func(s span) bool { return !slices.Contains(j.t.believedAs[s.lo:s.hi], causePressure) })
}

func (j *judge) near7_8() string {
	f, m := &j.in.Protocol.Flag, &j.r.Metrics
	if !j.adultLimits() || j.flagged(FlagAbove7_8) || !m.Above7_8Pct.OK {
		return ""
	}
	text := "Above 7.8 for " + percent(m.Above7_8Pct) + " of the time, "
	high := max(m.Above7_8Pct.V, j.r.Uncertainty.Above7_8Pct.High.V) // without one of the days
	switch {
	case j.much7_8():
		return text + "over the limit of " + fixed(f.Above7_8Pct, 0) + " %, but on " + of(j.days7_8, j.usable, "usable day") + " and not on most."
	case high >= f.Above7_8Pct:
		return text + "and " + Of(high).Fixed(1) + " % without one of the days: near the limit of " + fixed(f.Above7_8Pct, 0) + " %."
	case high >= f.Above7_8NotePct || nearly(high, f.Above7_8Pct):
		return text + j.above7_8Words() + ", and under the limit of " + fixed(f.Above7_8Pct, 0) + " %. Sensors can overstate this time."
	}
	return ""
}

func (j *judge) near10() string {
	f, m, u := &j.in.Protocol.Flag, &j.r.Metrics, &j.r.Uncertainty
	if !j.adultLimits() || j.anyFlagged(FlagAbove10, FlagVeryHigh) || !j.enoughForShares() {
		return ""
	}
	text := "Above 10 for " + percent(m.Above10Pct) + " of the time, near the limit of " + fixed(f.Above10Pct, 0) + " %"
	switch high := u.Above10Pct.High; {
	case j.much10():
		return text + ": it is over it, but not without the first day, when sensors are least accurate."
	case high.OK && high.V >= f.Above10Pct:
		return text + ": without one of the days it would be " + high.Fixed(1) + " %."
	case m.Above10Pct.OK && nearly(m.Above10Pct.V, f.Above10Pct):
		return text + "."
	}
	return ""
}

func (j *judge) nearDays10() string {
	if !j.adultLimits() || j.anyFlagged(FlagAbove10, FlagVeryHigh) || !oneShort(j.days10, j.mostDays10()) {
		return ""
	}
	return "Above 10 on " + plural(j.days10, "day") + ", just under the limit of " + fixed(j.mostDays10(), 0) + "."
}

func (j *judge) nearHighEpisodes() string {
	if j.highDays == 0 || j.flagged(FlagVeryHigh) {
		return ""
	}
	return "At or above " + j.in.Protocol.Flag.HighEpisode.String() + " for 15 minutes or more on " + plural(j.highDays, "day") +
		": one more is over the limit, and thirst or losing weight beside it would be pressing."
}

func (j *judge) nearVeryHigh() string {
	if !(j.r.MetricsAll.Above13_9Pct.V > 0) || j.anyFlagged(FlagVeryHigh, FlagDoubted) {
		return ""
	}
	return "Above 13.9 in readings that are doubted, or for less than 15 minutes: a fingerstick at such a time would tell what they are."
}

// nearSetAside is about what would be flagged were all readings believed that
// are not: those too that the file marks as in error or as of the warm-up, and
// those that look like lying on the sensor.
func (j *judge) nearSetAside() string {
	if j.flagged(FlagDoubted) || j.t.doubted&(setAside|tooFast|wholeSensor) == 0 && len(j.t.unsettled) == 0 { // alone: see nearPressure
		return ""
	}
	if other := j.asIf(world{with: anyDoubt}); other != nil {
		for _, f := range other.r.Flags {
			if j.lacks(f) {
				return "In readings that are not counted, because the file marks them or because they are doubted: " + lowerFirst(f.Text) + " A fingerstick tells what they were."
			}
		}
	}
	return ""
}

// nearDoubted adds what the wear would be near were the readings believed that
// are not, but for what lying on the sensor may explain: doubt never lowers.
func (j *judge) nearDoubted(out []Remark) []Remark {
	all := world{with: anyDoubt, settled: true}
	swapped := all
	swapped.others = true
	for _, w := range []world{all, swapped} {
		other := j.asIf(w)
		if other == nil {
			continue
		}
		other.r.Uncertainty = other.t.uncertainty()
		found := other.near()
		if n := other.r.unaskedDips(); n > j.r.unaskedDips() {
			found = append(found, Remark{Code: nearDoubtedDips, Text: countWords(n, "dip") + " below 3.9 that nobody has asked about."})
		}
		for _, x := range found {
			if x.Code == nearDeep && !other.deepElsewhere() {
				continue // said of the falls that lying on the sensor does not explain
			}
			if !slices.ContainsFunc(out, func(y Remark) bool { return x.Code == y.Code }) {
				x.Text = "Were the doubted readings believed: " + lowerFirst(x.Text)
				out = append(out, x)
			}
		}
	}
	return out
}

// onLimit is how near to a limit a reading lies on it: within 1 %, less than any
// sensor can tell apart (a proposal).
const onLimit = 0.99

// nearAt10 is about an episode that lies on the limit of 10 and does not pass
// it: the sensor cannot tell the two apart.
func (j *judge) nearAt10() string {
	if highest := j.r.MetricsAll.MaxMmol; j.days10 > 0 || !highest.OK || highest.V < Limit10_0.Mmol()*onLimit {
		return ""
	}
	run := 0
	need := max(2, j.t.count(j.in.Protocol.Episode.Minutes))
	for i, r := range j.t.r {
		if j.t.why[i] == 0 && (Limit10_0.AtLeast(r) || j.t.mmol[i] >= Limit10_0.Mmol()*onLimit) {
			if run++; run >= need {
				return "At about 10.0 for 15 minutes or more, on the limit and not above it."
			}
			continue
		}
		run = 0
	}
	return ""
}

func (j *judge) nearHighStick() string {
	sticks := j.sticks(Limit10_0.Above)
	if len(sticks) == 0 || j.flagged(FlagVeryHigh) {
		return ""
	}
	return j.stickWords(sticks, "above "+Limit10_0.String())
}

func (j *judge) nearLowStick() string {
	sticks := j.sticks(Limit3_9.Below)
	if len(sticks) == 0 || j.anyFlagged(FlagDipSymptom, FlagVeryLow, FlagLowMedicine, FlagLongLow) {
		return ""
	}
	return j.stickWords(sticks, "below 3.9") + " Ask what was felt."
}

func (j *judge) nearBelow3() string {
	if len(j.deep) == 0 || j.anyFlagged(FlagVeryLow, FlagLowMedicine, FlagLongLow, FlagDipSymptom, FlagSensorDoubt) {
		return ""
	}
	return countWords(len(j.deep), "dip") + " below 3.0 for 15 minutes or more: ask what was felt; a fingerstick at such a time would tell what they are."
}

// nearLong is about lows of about two hours, in one piece or in pieces of one
// night: one is not yet a flag and may be a true low that is not felt.
func (j *judge) nearLong() string {
	l := &j.longs
	if l.near == 0 || j.flagged(FlagLongLow) {
		return ""
	}
	text := "Below 3.9 for " + duration(l.nearMost) + map[bool]string{true: " in one night", false: " at one time"}[l.atNight]
	if l.near > 1 {
		text = countWords(l.near, "time") + " below 3.9 for about " + duration(seconds(j.in.Protocol.Episode.ExtendedMinutes*60)) + " or longer, up to " + duration(l.nearMost)
	}
	return text + ": a fingerstick at such a time, or another wear, would tell what it is."
}

func (j *judge) nearLowShare() string {
	low, limit := j.r.MetricsAll.Below3_9Pct, j.in.Protocol.Flag.DoubtLowPct
	if j.anyFlagged(FlagSensorDoubt, FlagLongLow, FlagVeryLow, FlagLowMedicine) || !low.OK || !nearly(low.V, limit) {
		return ""
	}
	return percent(low) + " of readings are below 3.9, just under the limit of " + fixed(limit, 0) + " %: a sensor that reads low and true lows that are not felt look alike."
}

// oftenPressure is how many falls taken for pressure on the sensor make a wear
// near: every third night of a fortnight, a proposal.
const oftenPressure = 5

func (j *judge) nearPressure() string {
	if j.flagged(FlagLongLow) {
		return ""
	}
	if text := j.unsettledFalls(); text != "" {
		if slices.ContainsFunc(j.r.Flags, func(f Flag) bool { return f.Text == text }) {
			return ""
		}
		return text
	}
	if j.pressure < oftenPressure {
		return ""
	}
	return countWords(j.pressure, "fall") + " in the night that are more like lying on the sensor than like low glucose: so often, ask how the nights were; a fingerstick at such a time would tell."
}

// unsettledFalls says which falls lying on the sensor does not explain, "" for none.
func (j *judge) unsettledFalls() string {
	deep := j.t.unsettled
	if len(deep) == 0 {
		return ""
	}
	var why []string
	for _, f := range deep {
		if !slices.Contains(why, f.why) {
			why = append(why, f.why)
		}
	}
	return countWords(len(deep), "fall") + " below 3.0 in the night, as when the sensor is lain on. That alone does not explain " + itOrThem(len(deep)) + ": " + someOf(why) +
		". Ask what was felt; a fingerstick at such a time, or another wear, tells."
}

func (j *judge) nearAlcohol() string {
	if j.pressure == 0 || !j.alcohol() {
		return ""
	}
	return countWords(j.pressure, "sudden fall") + " in the night, and alcohol is written down: it lowers glucose for many hours."
}

// alcohol reports whether a person read words as alcohol, or unread ones name it.
func (j *judge) alcohol() bool {
	for _, w := range j.r.Words {
		if w.ReadAs == ReadAlcohol {
			return true
		}
	}
	return slices.ContainsFunc(j.said, func(x saying) bool {
		if !x.unread {
			return false
		}
		_, sure := x.words.find(alcoholWords)
		return sure
	})
}

func (j *judge) nearNights() string {
	n, all := &j.in.Protocol.Night, len(j.r.Nights)
	if !j.adultLimits() || j.flagged(FlagHighNights) {
		return ""
	}
	enough := func(nights int) bool { return 100*float64(nights) >= n.HighNightsPct*float64(all) }
	almost := 0
	for _, x := range j.r.Nights {
		if nearly(x.MeanMmol.V, n.HighMmol) {
			almost++
		}
	}
	switch {
	case oneShort(j.highNights, n.HighNights) && enough(j.highNights+1), float64(j.highNights) >= n.HighNights && nearly(100*float64(j.highNights+1), n.HighNightsPct*float64(all)):
		return "High nights, near the limit: " + of(j.highNights, all, "night") + " average " + fixed(n.HighMmol, 1) + " or more."
	case float64(almost) >= n.HighNights && enough(almost):
		return of(almost, all, "night") + " average " + fixed(nearPct*n.HighMmol, 1) + " or more, near the limit of " + fixed(n.HighMmol, 1) + "."
	}
	return ""
}

func (j *judge) nearMornings() string {
	morning := j.r.Mornings.MedianMmol
	if !morning.OK || !nearly(morning.V, j.in.Protocol.Night.HighMmol) || j.flagged(FlagHighNights) {
		return ""
	}
	return "Mornings are about " + morning.Fixed(1) + " mmol/L by the sensor: only the laboratory's fasting glucose tells."
}

func (j *judge) nearSwing() string {
	n := len(j.r.Swings)
	if asked, _ := j.askedSwings(); asked == n {
		n = 0
	}
	n += j.pressedSwings()
	if n == 0 || j.anyFlagged(FlagSwingSymptom, FlagDipSymptom, FlagVeryLow) {
		return ""
	}
	return "A rise above 10 followed by a dip below 3.9, " + Times(n) + ": ask what was felt."
}

// pressedSwings counts the swings whose dip looks like lying on the sensor.
func (j *judge) pressedSwings() int {
	if j.pressure == 0 || j.t.seen&pastAbove10 == 0 {
		return 0
	}
	with := slices.DeleteFunc(slices.Clone(j.spans), func(s span) bool { return s.kind != EpisodeAbove10 })
	with = j.t.spans(pastBelow3_9, &j.in.Protocol.Episode, EpisodeBelow3_9, 1<<causePressure, with)
	return max(0, len(j.t.swings(j.in, with))-len(j.r.Swings))
}

func (j *judge) nearDoubt() string {
	f := &j.in.Protocol.Flag
	if j.flagged(FlagSensorDoubt) {
		return ""
	}
	switch median := j.r.Metrics.MedianMmol; {
	case nearly(j.t.noise, f.DoubtJitterMmol):
		return "Readings jump about by " + fixed(j.t.noise, 1) + " mmol/L even at night, near the limit of " + fixed(f.DoubtJitterMmol, 1) + ": another sensor would tell."
	case nearly(j.suspectPct, f.DoubtPct):
		return fixed(j.suspectPct, 0) + " % of readings are not believed, just under the limit of " + fixed(f.DoubtPct, 0) + " %."
	case median.OK && !atLeast(median.V, f.LongLowMedianMmol):
		return "Half of the readings are below " + median.Fixed(1) + " mmol/L: few people live so low, and the sensor may read low. A fingerstick beside it would tell."
	}
	return ""
}

func (j *judge) nearDisagree() string {
	if len(j.disagree) == 0 || j.flagged(FlagSensorDoubt) {
		return ""
	}
	d := j.disagree[0]
	return countWords(len(j.disagree), "fingerstick") + " of " + strconv.Itoa(j.fingerstick) + " did not agree with the sensor: " + fixed(d.blood, 1) + " by blood and " + fixed(d.sensor, 1) + " by the sensor on " + j.moment(d.at) + "."
}

// labVariation is by how much the same blood may be told apart on another day
// or in another laboratory: 3 %, a proposal (common practice: a few per cent).
const labVariation = 1.03

// nearLab names the newest results of a kind that are normal and would not be
// with the variation of a laboratory, and a HOMA-IR just under its limit.
func (j *judge) nearLab() string {
	var texts []string
	for _, l := range j.r.Labs {
		with := Lab{Kind: l.Kind, Value: l.Value.V * labVariation, Unit: l.Unit}
		if l.Newest && l.Class == ClassNormal && with.Class(j.in.Protocol.LabRules(j.in.Context, j.r.End)) != ClassNormal {
			texts = append(texts, labText(l))
		}
	}
	if h, limit := j.r.HomaIR, j.in.Protocol.Risk.HomaIR; h.OK && h.V < limit && nearly(h.V, limit) {
		texts = append(texts, "HOMA-IR of "+h.Fixed(1))
	}
	if len(texts) == 0 {
		return ""
	}
	return listed(texts) + ": normal, and just under the limit."
}

// nearOldLab names results past their limit that a newer one of the same kind
// has taken the place of: it lowers, and does not undo what was.
func (j *judge) nearOldLab() string {
	for i := len(j.r.Labs) - 1; i >= 0; i-- {
		old := j.r.Labs[i]
		if old.Newest || old.Class != ClassDiabetes && old.Class != ClassOvert && old.Class != ClassGestational {
			continue
		}
		for _, l := range j.r.Labs {
			if l.Kind == old.Kind && l.Newest && (l.Class == ClassNormal || l.Class == "") {
				return labText(old) + " (" + string(old.Class) + ") is no longer counted because of the newer " + labText(l) + ": one result does not undo the other, so decide when to test again."
			}
		}
	}
	return ""
}

// labText names a result with its date.
func labText(l LabFig) string {
	bound := ""
	if l.Bound != "" {
		bound = string(l.Bound) + " "
	}
	return labNames[l.Kind] + " of " + bound + trimmed(l.Value.V) + " " + l.Unit + " on " + l.At.Format("2 January 2006")
}
