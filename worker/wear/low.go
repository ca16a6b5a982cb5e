package wear

import (
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// The flags about low glucose and symptoms.

const meansDip = "This may be a sign that your glucose falls too far, for example after some meals. It may also come from the sensor, which can read too low. It is not a diagnosis. We need to know more before we can say."

// lowOnMedicine flags any low of somebody whose medicine can cause it.
func (j *judge) lowOnMedicine() (Flag, bool) {
	p := j.in.Protocol
	sticks := j.sticks(Limit3_9.Below)
	named := unreadMedicine(j.said)
	if len(j.dips)+len(sticks) == 0 || !j.lowers && named == "" {
		return Flag{}, false
	}
	f := Flag{Tier: p.Tier.LowMedicine, Text: countWords(len(j.dips), "dip") + " below 3.9 in someone on glucose-lowering medicine."}
	if !j.lowers {
		f.Tier = p.Tier.LowMedicineUnread
		f.Text = countWords(len(j.dips), "dip") + " below 3.9 beside a medicine that nobody has read yet: “" + named + "”."
	}
	f.Evidence = "On medicine that can cause lows one dip of 15 minutes or more is enough."
	if len(j.dips) > 0 {
		f.Evidence = "The lowest is " + j.least(j.dips) + " mmol/L; " + lowerFirst(f.Evidence)
	}
	if len(sticks) > 0 {
		f.Text += " " + j.stickWords(sticks, "below 3.9")
	}
	return f, true
}

// veryLow is about fingersticks below 3.0, and episodes below 3.0 with a symptom
// or words that may be one. Without either a sensor low is not a finding here.
func (j *judge) veryLow() (Flag, bool) {
	p := j.in.Protocol
	f := Flag{Tier: p.Tier.VeryLow}
	n, symptoms, brain, open := 0, 0, 0, 0
	for _, s := range j.deep {
		from, to := p.Symptom.window(s)
		beside := nearBy(j.said, from, to)
		count := func(into *int, is func(saying) bool) {
			if slices.ContainsFunc(beside, is) {
				*into++
			}
		}
		count(&n, func(saying) bool { return true })
		count(&symptoms, func(x saying) bool { return x.symptom })
		count(&brain, func(x saying) bool { return x.brain })
		// Words that nobody knows stay open whatever else lies beside the dip, and
		// whatever the wearer called them.
		count(&open, func(x saying) bool { return x.open && (!x.symptom || x.unknown || x.told) && !s.doubted })
	}
	if n > 0 {
		f.Text = countWords(n, "dip") + " below 3.0 with words beside " + itOrThem(n) + ": " + strconv.Itoa(symptoms) + " with a symptom"
		if brain > 0 {
			f.Text += ", " + strconv.Itoa(brain) + " of them of the brain"
		}
		if open > 0 {
			f.Text += ", " + strconv.Itoa(open) + " with words that nobody has read and that may be of the brain"
		}
		if brain+open > 0 {
			f.Tier = p.Tier.VeryLowBrain
		}
		f.Text += "."
		f.Evidence = "The lowest is " + j.least(j.deep) + " mmol/L; one dip below 3.0 of 15 minutes or more with a symptom is enough."
	}
	if sticks := j.sticks(Limit3_0.Below); len(sticks) > 0 {
		if n == 0 || p.Tier.VeryLowBlood.Rank() < f.Tier.Rank() {
			f.Tier = p.Tier.VeryLowBlood
		}
		f.Text = strings.TrimSpace(j.stickWords(sticks, "below 3.0") + " " + f.Text)
		f.Evidence = strings.TrimSpace("One fingerstick below 3.0 is enough, with or without a symptom. " + f.Evidence)
	}
	return f, f.Text != ""
}

// dipWithSymptom is about dips and low fingersticks with a symptom beside them.
func (j *judge) dipWithSymptom() (Flag, bool) {
	p := j.in.Protocol
	sticks := j.sticksWithSymptom()
	f := Flag{Tier: p.Tier.DipSymptom}
	press := func(on bool, tier Tier) {
		if on && tier.Rank() < f.Tier.Rank() {
			f.Tier = tier
		}
	}
	press(j.in.Context.BariatricSurgery, p.Tier.DipSymptomSurgery)
	press(len(sticks) > 0, p.Tier.DipSymptomBlood)
	symptom := slices.ContainsFunc(j.matched, j.symptomBeside)
	unknown := (symptom || len(sticks) > 0) && slices.ContainsFunc(j.said, func(x saying) bool { return x.unknown })
	press(unknown, p.Tier.DipSymptomSurgery)
	if len(j.matched) > 0 {
		unfed := ""
		if slices.ContainsFunc(j.matched, j.unfed) {
			unfed = " In the night or early morning, where few have eaten: no meal that a person has read explains it."
			press(true, p.Tier.DipSymptomFasting)
		}
		press(slices.ContainsFunc(j.matched, j.exercised), p.Tier.DipSymptomFasting) // no meal's doing either
		what := " with a matching symptom."
		switch {
		case !j.r.datedMatch():
			what = ", and words that state no time, which may be of " + itOrThem(len(j.matched)) + "."
		case !symptom:
			what = " with words beside " + itOrThem(len(j.matched)) + " that nobody has read."
		}
		f.Text = countWords(len(j.matched), "dip") + " below 3.9" + j.extended(j.matched) + what
		f.Evidence = "The lowest is " + j.least(j.matched) + " mmol/L; a symptom counts from " + fixed(p.Symptom.BeforeMinutes, 0) +
			" min before to " + fixed(p.Symptom.AfterMinutes, 0) + " min after. " + j.triad() + unfed + j.unlabelled()
	}
	if len(sticks) > 0 {
		f.Text = strings.TrimSpace(f.Text + " " + strings.TrimSuffix(j.stickWords(sticks, "below 3.9"), ".") + ", with a symptom beside it.")
		f.Evidence = strings.TrimSpace(f.Evidence + " A low fingerstick with a symptom is two facts of three; relief by sugar is the third" + j.relieved(sticks) + ".")
	}
	if unknown {
		f.Evidence += " There are words that nobody has read and no list knows: they may be of an operation after which lows are more pressing, or of something severe."
	}
	return f, f.Text != ""
}

// symptomBeside reports whether what lies beside a dip is a symptom, read or as
// the wearer called it, and not only words that may be one.
func (j *judge) symptomBeside(s span) bool {
	from, to := j.in.Protocol.Symptom.window(s)
	return slices.ContainsFunc(nearBy(j.said, from, to), func(x saying) bool { return x.symptom })
}

// sticksWithSymptom are the fingersticks below 3.9 with a symptom in the window.
func (j *judge) sticksWithSymptom() (out []Event) {
	for _, e := range j.sticks(Limit3_9.Below) {
		from, to := j.in.Protocol.Symptom.window(span{from: e.At, to: e.At})
		if len(nearBy(j.said, from, to)) > 0 {
			out = append(out, e)
		}
	}
	return out
}

// relieved says whether relief is written down after low fingersticks.
func (j *judge) relieved(sticks []Event) string {
	s := &j.in.Protocol.Symptom
	for _, e := range sticks {
		if from, _ := s.window(span{from: e.At, to: e.At}); relief(j.said, from, s) == "written down" {
			return ", and is written down"
		}
	}
	return ", and is to be asked"
}

// unfed reports whether a dip came in the night or early morning, and not after
// a meal that a person has read as one: such a low is not a meal's doing. Meals
// that nobody has read take nothing away. In shift work the clock says nothing,
// so nothing is taken away either.
func (j *judge) unfed(s span) bool {
	n := &j.in.Protocol.Night
	k := j.t.cal.dayOf(s.from)
	if k < 0 || float64(j.t.cal.minuteOf(&j.t.cal.days[k], s.from)) >= n.EarlyToHour*60 {
		return false
	}
	return !j.ate(s.from-seconds(j.in.Protocol.Symptom.LaterHours*3600), s.from+1)
}

// longLow is about lows that no word and no medicine explains and that are too
// long, or too plain, to pass over. A sensor that reads low as a whole is a
// matter of doubt, not of this flag. Long ones are counted by believed readings
// alone, so that words beside a low move it to a more pressing flag and never
// away.
func (j *judge) longLow() (Flag, bool) {
	p, l := j.in.Protocol, &j.longs
	f := Flag{Tier: p.Tier.LongLowOnce, Text: j.longLowText()}
	if j.low(l.days) || j.low(l.nights) || l.exercise > 0 || l.endured > 1 {
		f.Tier = p.Tier.LongLow
	}
	if !j.lives() && l.blood == 0 && p.Tier.SensorDoubt.Rank() > f.Tier.Rank() {
		f.Tier = p.Tier.SensorDoubt
	}
	if j.in.Context.BariatricSurgery && len(j.quietDips()) > 0 && p.Tier.DipSymptomSurgery.Rank() < f.Tier.Rank() {
		f.Tier = p.Tier.DipSymptomSurgery
	}
	f.Evidence = "True lows that are not felt and a sensor that reads low look alike. A fingerstick at such a time, or another wear, settles it."
	raised := f.Text != ""
	f.Text += "."
	return f, raised
}

// longLowText says which lows there are that nothing explains, "" for none.
func (j *judge) longLowText() string {
	p, l := j.in.Protocol, &j.longs
	f := &p.Flag
	var parts []string
	switch {
	case j.low(l.days):
		parts = append(parts, "below 3.0 for "+duration(seconds(f.LongLowMinutes*60))+" or more on "+plural(l.days, "day"))
	case j.low(l.pressed):
		parts = append(parts, "below 3.0 for "+duration(seconds(f.LongLowMinutes*60))+" or more on "+plural(l.pressed, "night")+", which lying on the sensor alone seldom explains")
	}
	long := duration(seconds(p.Episode.ExtendedMinutes*60)) + " or more on "
	switch {
	case j.low(l.nights):
		parts = append(parts, "about "+fixed(f.NightLowMmol, 1)+" or less for "+long+plural(l.nights, "night"))
	case j.low(l.shallow):
		parts = append(parts, "about "+fixed(f.NightDipMmol, 1)+" or less for "+long+plural(l.shallow, "night"))
	}
	if l.longest > 0 {
		parts = append(parts, "below 3.0 for "+duration(l.longest)+" at one time")
	}
	if l.longest == 0 && l.awake > 0 {
		parts = append(parts, "below "+p.Believe.PressureDeepest.String()+" for "+duration(l.awake)+" by day")
	}
	if l.exercise > 0 {
		parts = append(parts, "below 3.0 in exercise or soon after, "+Times(l.exercise))
	}
	if l.blood > 0 {
		parts = append(parts, "below 3.9 with a fingerstick that says so, "+Times(l.blood))
	}
	if n := len(j.quietDips()); n > 0 && j.in.Context.BariatricSurgery {
		parts = append(parts, "below 3.9 after bariatric surgery, "+Times(n))
	}
	if len(parts) == 0 {
		return ""
	}
	return capital(listed(parts)) + j.down(slices.Concat(j.dips, l.spans))
}

// low reports whether a count of days or nights with long lows makes a flag.
func (j *judge) low(n int) bool { return float64(n) >= j.in.Protocol.Flag.LongLowDays }

// lives reports whether the wear does not read low as a whole.
func (j *judge) lives() bool {
	return atLeast(j.r.Metrics.MedianMmol.V, j.in.Protocol.Flag.LongLowMedianMmol)
}

// longs are the lows of a wear that nothing explains.
type longs struct {
	days     int   // with so long an episode below 3.0; twice as long where it looks like lying on the sensor
	pressed  int   // nights with so long a one that looks like lying on the sensor
	nights   int   // with an extended low below 3.9 that lies deep on average
	shallow  int   // with one that lies less deep
	longest  int64 // seconds of the longest extended low below 3.0; 0 for none
	endured  int   // lows below 3.0 half as long again as an extended one
	exercise int   // episodes below 3.0 in exercise
	awake    int64 // seconds of the longest that is deep and long, while most are awake, with no words and no fingerstick against it beside it; 0 for none
	blood    int   // dips below 3.9 with a low fingerstick

	spans []span // the extended lows, to say how low they go

	near     int   // lows below 3.9 nearly as long as an extended one, doubted readings believed
	nearMost int64 // seconds of the longest of them,
	atNight  bool  // which is of a night
}

// longLow is one low: an episode, or several that little parts.
type longLow struct {
	span
	night   bool
	seconds int64 // past the limit, what parts it left out
	sum     float64
	n       int
	mean    float64 // the least of what of it is extended, doubted readings included; none: infinite
}

// weigh takes the mean of the whole where it is extended, at least that many
// seconds, and lower than that of a part.
func (l *longLow) weigh(extended float64) {
	if float64(l.seconds) >= extended {
		l.mean = min(l.mean, l.sum/float64(l.n))
	}
}

// longLows are the episodes of a limit, taken together where a return or a gap of
// no more than the protocol's parts them, or wholeNight where they are of one night:
// neither undoes a long low. Readings doubted for a cause in with count.
func (j *judge) longLows(limit past, kind string, with uint, wholeNight bool) []longLow {
	var out []longLow
	bridge := seconds(j.in.Protocol.Episode.BridgeMinutes * 60)
	extended, day := j.in.Protocol.Episode.ExtendedMinutes*60, j.t.cal.dayOf
	for _, s := range j.t.spans(limit, &j.in.Protocol.Episode, kind, with, nil) {
		l := longLow{span: s, night: j.ofNight(s), seconds: s.to - s.from, n: s.hi - s.lo, mean: math.Inf(1)}
		for _, g := range j.t.mmol[s.lo:s.hi] {
			l.sum += g
		}
		l.weigh(extended)
		if n := len(out); n > 0 {
			last := &out[n-1]
			if s.from-last.to <= bridge || wholeNight && l.night && last.night && day(s.to-1) == day(last.to-1) {
				last.hi, last.to = s.hi, s.to
				last.seconds, last.sum, last.n = last.seconds+l.seconds, last.sum+l.sum, last.n+l.n
				last.night, last.mean = last.night || l.night, min(last.mean, l.mean)
				last.weigh(extended)
				continue
			}
		}
		out = append(out, l)
	}
	return out
}

// measureLongs counts them. What looks like lying on the sensor counts where it
// is too long for that to be all: a sensor that is lain on and a true low look
// alike, and nobody lies still on one arm for hours night after night.
func (j *judge) measureLongs() (l longs) {
	p, t := j.in.Protocol, j.t
	for _, d := range j.dips {
		if from, to := p.Symptom.window(d); len(sticksBetween(j.in.Events, from, to, Limit3_9.Below)) > 0 {
			l.blood++
		}
	}
	if t.seen&pastBelow3_9 == 0 {
		return l
	}
	extended := p.Episode.ExtendedMinutes * 60
	var nights, shallow dayCount
	for _, s := range j.longLows(pastBelow3_9, EpisodeBelow3_9, 1<<causePressure, true) {
		if float64(s.seconds) < extended || !s.night {
			continue
		}
		l.add(s)
		k := t.cal.dayOf(s.to)
		nights.on(k, atMost(s.mean, p.Flag.NightLowMmol))
		shallow.on(k, atMost(s.mean, p.Flag.NightDipMmol))
	}
	l.nights, l.shallow = nights.n, shallow.n
	for _, s := range j.longLows(pastBelow3_9, EpisodeBelow3_9, anyDoubt, true) {
		if nearly(float64(s.seconds), extended) {
			l.near++
			if s.seconds > l.nearMost {
				l.nearMost, l.atNight = s.seconds, s.night
			}
		}
	}
	if t.seen&pastBelow3_0 != 0 {
		j.measureDeep(&l)
	}
	return l
}

// add keeps a low to say how low it goes.
func (l *longs) add(s longLow) {
	s.doubted = true // whatever it holds
	l.spans = append(l.spans, s.span)
}

// measureDeep counts the long lows below 3.0.
func (j *judge) measureDeep(l *longs) {
	p, t := j.in.Protocol, j.t
	extended := p.Episode.ExtendedMinutes * 60
	var days, pressed dayCount
	for _, s := range j.longLows(pastBelow3_0, EpisodeBelow3_0, 1<<causePressure, false) {
		length, k := float64(s.seconds), t.cal.dayOf(s.from)
		least := p.Flag.LongLowMinutes * 60
		if t.pressed(s.lo, s.hi) {
			pressed.on(k, length >= least)
			least *= 2
		}
		days.on(k, length >= least)
		l.add(s)
		if length >= extended {
			l.longest = max(l.longest, s.seconds)
		}
		if length >= 1.5*extended {
			l.endured++
		}
	}
	l.days, l.pressed = days.n, pressed.n
	for _, s := range t.spans(pastBelow3_0, &p.Episode, EpisodeBelow3_0, 0, nil) {
		if j.exercised(s) {
			l.exercise++
		}
		_, length, _ := t.below(deepFall{lo: s.lo, hi: s.hi}, p.Believe.PressureDeepest.Below)
		from, to := p.Symptom.window(s)
		if float64(length) >= p.Flag.LongLowAwakeMinutes*60 && t.awake(s.lo, p) && t.awake(s.hi-1, p) && len(nearBy(j.said, from, to)) == 0 && !j.refuted(from, to) {
			l.awake = max(l.awake, length)
		}
	}
}

// refuted reports whether a fingerstick in [from, to] was not low.
func (j *judge) refuted(from, to int64) bool {
	return slices.ContainsFunc(j.in.Events, func(e Event) bool {
		return e.Kind == Fingerstick && e.At >= from && e.At <= to && usable(e.blood()) && !Limit3_9.Below(e.Value)
	})
}

// dayCount counts days, each once, in order.
type dayCount struct{ n, last int }

func (d *dayCount) on(day int, counts bool) {
	if counts && (d.n == 0 || day != d.last) {
		d.n, d.last = d.n+1, day
	}
}

// ofNight reports whether an episode ends in the night or early morning, or
// begins before its end. In shift work every hour may be of the night.
func (j *judge) ofNight(s span) bool {
	k := j.t.cal.dayOf(s.to - 1)
	if k < 0 {
		return false
	}
	d := &j.t.cal.days[k]
	early := j.in.Protocol.Night.EarlyToHour * 60
	return j.in.Context.ShiftWork || float64(j.t.cal.minuteOf(d, s.to-1)) < early || s.from >= d.start && float64(j.t.cal.minuteOf(d, s.from)) < early
}

// exercised reports whether an episode begins in logged exercise or in the time
// after it that the protocol gives.
func (j *judge) exercised(s span) bool {
	return slices.ContainsFunc(j.in.Events, func(e Event) bool {
		if e.Kind != Exercise {
			return false
		}
		from, until := bout(e, &j.in.Protocol.Exercise)
		return s.from >= from && s.from <= until
	})
}

// quietDips are the dips without a symptom or unread words beside them.
func (j *judge) quietDips() []span {
	var quiet []span
	for _, d := range j.dips {
		if from, to := j.in.Protocol.Symptom.window(d); len(nearBy(j.said, from, to)) == 0 {
			quiet = append(quiet, d)
		}
	}
	return quiet
}

// extended says how many of some dips are longer than the protocol calls usual.
func (j *judge) extended(dips []span) string {
	longest, n := j.in.Protocol.Episode.ExtendedMinutes, 0
	for _, d := range dips {
		if float64(d.to-d.from) > longest*60 {
			n++
		}
	}
	if n == 0 {
		return ""
	}
	return " (" + strconv.Itoa(n) + " longer than " + duration(seconds(longest*60)) + ")"
}

// down says how low some dips go.
func (j *judge) down(spans []span) string {
	if len(spans) == 0 {
		return ""
	}
	return ", lowest sensor value " + j.least(spans)
}

// least is the lowest value of some episodes, with one decimal.
func (j *judge) least(spans []span) string {
	var f Figure
	bound := ""
	for _, s := range spans {
		if x := j.t.extreme(s); !f.OK || x.V < f.V {
			f = x
		}
		if j.t.beyond(s.lo, s.hi, Below) {
			bound = "at most "
		}
	}
	return bound + f.Fixed(1)
}

func sawDip(r *Report, _ int, glucose string) string {
	seen := map[int]bool{}
	for _, m := range r.Matches {
		seen[m.Episode] = seen[m.Episode] || m.SymptomAt != nil
	}
	if len(seen) > 0 && !r.datedMatch() {
		return sentenceCase(Times(len(seen))) + ", " + glucose + " went below 3.9 mmol/L, and something was written down without its time."
	}
	maps.DeleteFunc(seen, func(_ int, dated bool) bool { return !dated })
	return sentenceCase(Times(max(1, len(seen)))) + ", " + glucose + " went below 3.9 mmol/L close to a time when a symptom was written down."
}

// datedMatch reports whether what lies beside a dip states its time.
func (r *Report) datedMatch() bool {
	return slices.ContainsFunc(r.Matches, func(m Match) bool { return m.SymptomAt != nil })
}

func sawVeryLow(r *Report, usable int, glucose string) string {
	if len(r.Matches) == 0 {
		return sentenceCase(glucose) + " was far below 3.9 mmol/L at least once."
	}
	return sawDip(r, usable, glucose)
}

// dips counts the runs below 3.9.
func (r *Report) dips() int {
	n := 0
	for _, e := range r.Episodes {
		if e.Kind == EpisodeBelow3_9 {
			n++
		}
	}
	return n
}
