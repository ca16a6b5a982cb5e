package wear

import "strconv"

// notFlagged says in words that a nurse can read out what was seen and is not
// a reason for follow-up.
func (j *judge) notFlagged() []Remark {
	remarks := make([]Remark, 0, 4)
	add := func(code, text string) { remarks = append(remarks, Remark{code, text}) }
	if j.r.Believed == 0 {
		return remarks
	}
	p, m := j.in.Protocol, &j.r.Metrics
	// Where a dip had a symptom, the flag asks about the others: no word here
	// may wave them away.
	lows := j.flagged(FlagDipSymptom) || j.flagged(FlagVeryLow) || j.flagged(FlagLowMedicine)
	adult := !j.in.Context.Pregnant // the limits below are not those of pregnancy
	if quiet := j.quietDips(); len(quiet) > 0 && !lows && adult {
		add("dip_without_symptom", countWords(len(quiet), "dip")+" below 3.9, down to "+j.least(quiet)+j.extended(quiet)+
			", with no symptom written down and no glucose-lowering medicine: "+j.quietWords(quiet)+j.askedQuiet(quiet))
	}
	if n, on := j.askedSwings(); n > 0 && !j.flagged(FlagSwingSymptom) && !lows {
		add("swing_asked", "Rises above 10 followed by dips below 3.9, "+Times(n)+": asked on "+on+", nothing was felt.")
	}
	switch {
	case j.pressure > 0 && lows:
		add("pressure_dip", countWords(j.pressure, "sudden fall")+" in the night with an equally sudden return, as from lying on the sensor: left out of the measures. Ask whether anything was felt then.")
	case j.pressure > 0:
		add("pressure_dip", countWords(j.pressure, "sudden fall")+" in the night with an equally sudden return: the picture of lying on the sensor, not of low glucose.")
	}
	if n := j.fingerstick - len(j.disagree); n > 0 {
		add("fingerstick_agrees", countWords(n, "fingerstick")+" within "+fixed(p.Believe.FingerstickPct, 0)+" % of the sensor ("+
			fixed(p.Believe.FingerstickLowMmol, 2)+" mmol/L where low): such differences are usual between sensor and blood.")
	}
	if morning := j.r.Mornings.MedianMmol; adult && !j.in.Context.ShiftWork && morning.OK && morning.V >= p.Night.MorningNoteMmol && morning.V < p.Night.HighMmol && !j.flagged(FlagHighNights) && !j.flagged(FlagAbove7_8) {
		add("morning_slightly_high", "Mornings are slightly high, about "+morning.Fixed(1)+" mmol/L by the sensor: glucose rises a little before waking in many people, and only the laboratory's fasting value counts.")
	}
	if rises := j.risesUnder10(); rises > 0 && adult && !j.flagged(FlagAbove7_8) && !j.flagged(FlagVeryHigh) {
		add("rise_under_10", countWords(rises, "rise")+" above 7.8 that stayed under 10 and came back: nearly everyone has these after meals.")
	}
	if share := m.Above7_8Pct; adult && share.V >= p.Flag.Above7_8NotePct && !j.flagged(FlagAbove7_8) {
		text := "Above 7.8 for " + percent(share) + " of the time: "
		switch {
		case share.V < p.Flag.Above7_8Pct && j.older():
			text += "usual at this age, and under the practice's limit of " + fixed(p.Flag.Above7_8Pct, 0) + " %."
		case share.V < p.Flag.Above7_8Pct:
			text += "more than in most healthy people, but under the practice's limit of " + fixed(p.Flag.Above7_8Pct, 0) + " %."
		case !j.enoughForShares():
			text += "over the practice's limit, but there are too few usable days to count it."
		default:
			text += "over the practice's limit, but on fewer than " + fixed(p.Flag.Above7_8DaysPct, 0) + " % of the usable days."
		}
		add("above_7_8_under_limit", text)
	}
	if j.days10 > 0 && adult && !j.flagged(FlagAbove10) && !j.flagged(FlagVeryHigh) {
		add("above_10_seldom", "Above 10 on "+plural(j.days10, "day")+" only: under the practice's limit of "+fixed(j.mostDays10(), 0)+" days.")
	}
	// 9 % of people without diabetes pass 11.1 at some time in twelve weeks
	// (Diabetologia 2010;53:1608, doi:10.1007/s00125-010-1741-9).
	if j.highDays > 0 && !j.flagged(FlagVeryHigh) {
		add("high_episode_seldom", "At or above "+p.Flag.HighEpisode.String()+" for 15 minutes or more on "+plural(j.highDays, "day")+": under the practice's limit of "+
			fixed(p.Flag.HighEpisodeDays, 0)+" days. Some healthy people reach that too; thirst or losing weight with it would change that.")
	}
	if c := m.CVPct; adult && c.OK && c.V > p.Flag.HighCVPct {
		add("high_cv", "Glucose varies more than in the healthy reference (CV "+c.Fixed(0)+" % against "+fixed(p.Flag.HighCVPct, 0)+" %): no action on its own.")
	}
	if j.in.Context.LowCarbohydrate {
		add("low_carbohydrate", "On low-carbohydrate eating a slightly higher morning, and a larger rise when carbohydrate is eaten, are expected.")
	}
	if n := j.inExercise(EpisodeAbove7_8); n > 0 {
		add("exercise", countWords(n, "rise")+" during exercise or soon after: expected.")
	}
	if n := j.inExercise(EpisodeBelow3_9); n > 0 && !lows {
		add("exercise", countWords(n, "dip")+" during exercise or soon after: expected.")
	}
	return remarks
}

// quietWords says why dips without a symptom are no finding. One below 3.0 is
// less common, and worth a question all the same.
func (j *judge) quietWords(quiet []span) string {
	if share := j.r.Metrics.Below3_9Pct; share.V >= j.in.Protocol.Flag.LowNotePct {
		return percent(share) + " of the time, more than in most healthy people. Sensors often read low: a fingerstick beside the sensor would tell. Ask once whether anything was felt."
	}
	for _, d := range quiet {
		if j.t.anyPast(d.lo, d.hi, pastBelow3_0) && j.asked(d.from, d.to) == "" {
			return "sensors often read low, and without a symptom this is no reason for follow-up. Ask once whether anything was felt."
		}
	}
	return "common in healthy people and no reason for follow-up."
}

// askedQuiet says of how many of these dips the patient was asked.
func (j *judge) askedQuiet(quiet []span) string {
	n, on := 0, ""
	for _, d := range quiet {
		if day := j.asked(d.from, d.to); day != "" {
			n, on = n+1, day
		}
	}
	switch {
	case n == 0:
		return ""
	case n == len(quiet):
		return " Asked on " + on + ": nothing was felt."
	}
	return " Asked about " + strconv.Itoa(n) + " of them on " + on + ": nothing was felt."
}

// quietDips are the dips that are no flag: no symptom, no medicine.
func (j *judge) quietDips() []span {
	if j.in.Context.HypoglycaemiaRisk() {
		return nil
	}
	var quiet []span
	for _, d := range j.dips {
		from, to := j.around(d)
		if !logged(j.in.Events, Symptom, from, to+1) {
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

// risesUnder10 counts the episodes above 7.8 that stayed under 10 and ended.
func (j *judge) risesUnder10() int {
	n := 0
	for _, s := range j.spans {
		if s.kind == EpisodeAbove7_8 && !s.gap && !j.t.anyPast(s.lo, s.hi, pastAbove10) {
			n++
		}
	}
	return n
}

// inExercise counts the episodes of a kind that begin in logged exercise or in
// the hour after it.
func (j *judge) inExercise(kind string) int {
	n := 0
	for _, s := range j.spans {
		if s.kind != kind {
			continue
		}
		for _, e := range j.in.Events {
			if e.Kind == Exercise && s.from >= e.At && s.from <= e.At+int64(e.Minutes)*60+3600 {
				n++
				break
			}
		}
	}
	return n
}

// older reports whether the patient's age makes the words softer.
func (j *judge) older() bool {
	return float64(j.in.Context.age(j.r.End)) >= j.in.Protocol.Flag.OlderAge
}

// quality are the doubts about the data.
func (j *judge) quality() []Remark {
	remarks := make([]Remark, 0, 4)
	add := func(code, text string) { remarks = append(remarks, Remark{code, text}) }
	t, r, p := j.t, j.r, j.in.Protocol
	if n := len(r.Days); n > 0 && j.usable < n {
		add("usable_days", strconv.Itoa(j.usable)+" of "+plural(n, "calendar day")+" usable (at least "+fixed(p.Wear.DayUsablePct, 0)+" % of the day's readings).")
	}
	if r.Believed < r.Readings {
		add("suspect", plural(r.Readings-r.Believed, "reading")+" ("+fixed(j.suspectPct, 1)+" %) not believed and left out of the measures.")
	}
	long := 0
	for _, g := range r.Gaps {
		if float64(g.Minutes) > p.Wear.LongGapHours*60 {
			long++
		}
	}
	if long > 0 {
		add("long_gaps", countWords(long, "gap")+" of more than "+fixed(p.Wear.LongGapHours, 0)+" h. Gaps are left empty, never filled in.")
	}
	if n := len(t.conflicts); n > 0 {
		text := "For " + plural(n, "moment") + " the file gives different values; none of them is used."
		if t.conflictsOnEnd() {
			text += " Several on end look like a clock that was set back."
		}
		add("conflicts", text)
	}
	if n := r.CensoredLow + r.CensoredHigh; n > 0 {
		add("censored", plural(n, "reading")+" "+areOrIs(n)+" only \"low\" or \"high\": shares are exact, the mean is "+j.meanBound()+".")
		if !r.Metrics.SDMmol.OK && r.Believed > 1 {
			add("no_spread", "Too many readings are only \"low\" or \"high\" for a measure of spread.")
		}
	}
	if t.cover != nil {
		add("mixed_intervals", "The time between readings changes within the file: each reading is weighted by the time it stands for.")
	}
	for _, o := range r.Overrides {
		if o.Readings == 0 {
			continue
		}
		what := "not to be believed"
		if o.Believe {
			what = "to be believed"
		}
		add("override", "A person decided that "+plural(o.Readings, "reading")+" from "+o.From.Format("2 January 15:04")+" to "+o.To.Format("2 January 15:04")+" "+areOrIs(o.Readings)+" "+what+"; the measures without that decision are given too.")
	}
	if text, ok := j.carriedByOneDay(); ok {
		add("one_day", text)
	}
	if r.Metrics.GMIPct.OK {
		add("gmi", "The glucose management indicator of "+r.Metrics.GMIPct.Fixed(1)+" % is not an HbA1c: it was made from people with diabetes, and healthy means read as prediabetes on it.")
	}
	for _, d := range j.bias {
		add("laboratory", "The laboratory's "+fixed(d.blood, 1)+" mmol/L on "+t.cal.time(d.at).Format("2 January at 15:04")+" while the sensor read "+fixed(d.sensor, 1)+": this sensor may be reading "+highOrLow(d)+". Nothing is corrected by it.")
	}
	if t.onDemand > 0 {
		add("on_demand", plural(t.onDemand, "reading")+" taken on demand "+areOrIs(t.onDemand)+" left out, because only readings on the clock measure time.")
	}
	if t.unusable > 0 {
		add("unusable", plural(t.unusable, "reading")+" without a unit, or with an impossible time or number, "+areOrIs(t.unusable)+" left out.")
	}
	if r.Unit == "mixed" {
		add("mixed_units", "The file mixes mmol/L and mg/dL; each reading is compared in its own unit.")
	}
	for _, d := range j.disagree {
		add("fingerstick", "A fingerstick of "+fixed(d.blood, 1)+" on "+t.cal.time(d.at).Format("2 January at 15:04")+" while the sensor read "+fixed(d.sensor, 1)+".")
	}
	if text, ok := j.firstDay(); ok {
		add("first_day", text)
	}
	if j.in.Context.ShiftWork {
		add("shift_work", "Shift work is on record: 00:00 to 06:00 need not be this person's night.")
	}
	if float64(j.usable) >= p.Wear.MinUsableDays && float64(j.usable) < p.Wear.FullUsableDays {
		// 14 days and 70 % of their readings: Diabetes Care 2019;42:1593.
		twoWeeks := r.CapturedPct.V * float64(r.Expected) * float64(t.step) / (14 * dayLength)
		text := "Fewer than " + fixed(p.Wear.FullUsableDays, 0) + " usable days: figures are provisional."
		if twoWeeks < 70 {
			text += " The readings cover " + fixed(twoWeeks, 0) + " % of two weeks; 70 % are recommended."
		}
		add("provisional", text)
	}
	return remarks
}

func areOrIs(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// meanBound says in which direction the mean is only a bound.
func (j *judge) meanBound() string {
	switch {
	case j.r.CensoredHigh == 0:
		return "at most what is given"
	case j.r.CensoredLow == 0:
		return "at least what is given"
	}
	return "approximate"
}

// firstDay says whether the first day alone moves the share above 7.8: sensors
// are least accurate then.
func (j *judge) firstDay() (string, bool) {
	t, w := j.t, &j.in.Protocol.Wear
	if len(t.r) == 0 || !j.r.Metrics.Above7_8Pct.OK {
		return "", false
	}
	n, above := 0.0, 0.0
	for i := t.from(t.r[0].At + seconds(w.FirstDayHours*3600)); i < len(t.r); i++ {
		if t.why[i] == 0 {
			n += t.weight(i)
			if t.past[i]&pastAbove7_8 != 0 {
				above += t.weight(i)
			}
		}
	}
	if n == 0 {
		return "", false
	}
	without, with := 100*above/n, j.r.Metrics.Above7_8Pct.V
	if max(with-without, without-with) <= w.FirstDayPoints {
		return "", false
	}
	return "Without the first " + duration(seconds(w.FirstDayHours*3600)) + " the share above 7.8 would be " + fixed(without, 1) + " % in place of " + fixed(with, 1) + " %.", true
}

// highOrLow says on which side of the blood a sensor reads.
func highOrLow(d pair) string {
	if d.sensor > d.blood {
		return "high"
	}
	return "low"
}

// carriedByOneDay says where leaving out a single day would bring the share
// above 7.8 or above 10 under its limit.
func (j *judge) carriedByOneDay() (string, bool) {
	f, u := &j.in.Protocol.Flag, &j.r.Uncertainty
	for _, x := range []struct {
		code, name string
		share      Figure
		r          Range
		limit      float64
	}{
		{FlagAbove7_8, "7.8", j.r.Metrics.Above7_8Pct, u.Above7_8Pct, f.Above7_8Pct},
		{FlagAbove10, "10", j.r.Metrics.Above10Pct, u.Above10Pct, f.Above10Pct},
	} {
		if j.flagged(x.code) && x.r.Low.OK && x.share.V >= x.limit && x.r.Low.V < x.limit {
			return "Time above " + x.name + " hangs on single days: without one of them it would be " + x.r.Low.Fixed(1) + " to " + x.r.High.Fixed(1) +
				" %, and the limit is " + fixed(x.limit, 0) + " %.", true
		}
	}
	return "", false
}

// confidence is "high", "some" or "low".
func (j *judge) confidence() string {
	p := j.in.Protocol
	switch {
	case j.flagged(FlagTooLittle) || j.flagged(FlagSensorDoubt):
		return "low"
	case float64(j.usable) < p.Wear.FullUsableDays || j.suspectPct > p.Flag.ConfidencePct || len(j.disagree) > 0:
		return "some"
	}
	return "high"
}
