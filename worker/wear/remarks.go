package wear

import (
	"slices"
	"strconv"
)

// notFlagged says in words that a nurse can read out what was seen and raised no
// flag. Each is a fact, and where [MayReassure] lets it what the fact is worth:
// until then nobody has looked at all that could change it. What a raised flag
// silences is left out.
func (j *judge) notFlagged() []Remark {
	remarks := make([]Remark, 0, 4)
	// What is open to ask is asked only of a wear that may not be called well.
	add := func(on bool, code, fact, comfort, ask string) {
		if !on || j.silenced(code) {
			return
		}
		x := Remark{Code: code, Text: fact + "."}
		if !j.may && ask != "" {
			x.Text += " " + ask + "."
		}
		if j.may && comfort != "" {
			x.Text, x.Reassures = fact+": "+comfort+".", true
		}
		remarks = append(remarks, x)
	}
	if j.r.Believed == 0 {
		return remarks
	}
	p, m := j.in.Protocol, &j.r.Metrics
	if quiet := j.quietDips(); len(quiet) > 0 {
		asked, ask := j.askedQuiet(quiet)
		add(true, "dip_without_symptom", countWords(len(quiet), "dip")+" below 3.9, down to "+j.least(quiet)+j.extended(quiet)+
			", without words beside "+itOrThem(len(quiet))+asked, j.quietWords(quiet), ask)
	}
	n, on := j.askedSwings()
	add(n > 0, "swing_asked", "Rises above 10 followed by dips below 3.9, "+Times(n)+": asked on "+on+", nothing was felt", "", "")
	lain := max(0, j.pressure-len(j.t.unsettled))
	ask := "Ask whether anything was felt then"
	if !j.alcohol() {
		ask += ", and about alcohol the evening before"
	}
	add(lain > 0, "pressure_dip", countWords(lain, "sudden fall")+" in the night with an equally sudden return: more like lying on the sensor than like low glucose, and left out of the measures", "", ask)
	agree := j.fingerstick - len(j.disagree)
	add(agree > 0, "fingerstick_agrees", countWords(agree, "fingerstick")+" within "+fixed(p.Believe.FingerstickPct, 0)+" % of the sensor ("+
		fixed(p.Believe.FingerstickLowMmol, 2)+" mmol/L where low): such differences are usual between sensor and blood", "", "")
	morning := j.r.Mornings.MedianMmol
	add(morning.OK && atLeast(morning.V, p.Night.MorningNoteMmol) && !atLeast(morning.V, p.Night.HighMmol), "morning_slightly_high",
		"Mornings are slightly high, about "+morning.Fixed(1)+" mmol/L by the sensor. In some people glucose rises a little before they wake; only the laboratory's fasting value counts", "", "")
	rises := j.risesUnder10()
	add(rises > 0, "rise_under_10", countWords(rises, "rise")+" above 7.8 that stayed under 10 and came back", "most people have these after meals", "")
	seldom, why := "Above 10 on "+plural(j.days10, "day")+" only: under the practice's limit of "+fixed(j.mostDays10(), 0)+" days", "some healthy people have that after large meals"
	if j.onlyFirstDay10() {
		seldom, why = seldom+". It was the first day of the wear, when sensors are least accurate", ""
	}
	add(j.days10 > 0, "above_10_seldom", seldom, why, "")
	add(m.CVPct.OK && m.CVPct.V > p.Flag.HighCVPct, "high_cv", "Glucose varies more than in the healthy reference (CV "+m.CVPct.Fixed(0)+" % against "+fixed(p.Flag.HighCVPct, 0)+" %); no rule follows from it alone", "", "")
	add(j.in.Context.LowCarbohydrate, "low_carbohydrate", "On low-carbohydrate eating some people see slightly higher mornings, and a larger rise when carbohydrate is eaten is usual. It explains no finding away", "", "")
	n = j.inExercise(EpisodeAbove7_8)
	add(n > 0, "exercise_rise", countWords(n, "rise")+" above 7.8 in exercise or soon after: hard exercise can lift glucose for an hour or two, most exercise lowers it", "", "")
	n = j.inExercise(EpisodeBelow3_9)
	add(n > 0, "exercise_dip", countWords(n, "dip")+" below 3.9 in exercise or soon after", "", "Ask whether anything was felt")
	return remarks
}

// silenced reports whether a raised flag would be contradicted by a remark.
func (j *judge) silenced(code string) bool {
	return slices.ContainsFunc(flagKinds, func(k FlagKind) bool { return j.flagged(k.Code) && slices.Contains(k.Silences, code) })
}

// above7_8Words sets a share above 7.8 beside what is published.
func (j *judge) above7_8Words() string {
	if float64(j.r.Age) >= j.in.Protocol.Flag.OlderAge {
		return "seen in many people of this age"
	}
	return "more than in most healthy people"
}

// quietWords says what dips without a symptom are worth, "" where a question is
// open.
func (j *judge) quietWords(quiet []span) string {
	for _, d := range quiet {
		if d.doubted || j.t.anyPast(d.lo, d.hi, pastBelow3_0) && j.asked(d.from, d.to) == "" {
			return ""
		}
	}
	return "such dips are common in healthy people, and no reason for follow-up in somebody who was asked and takes no medicine that lowers glucose"
}

// askedQuiet says of how many of these dips the patient was asked, and what is
// to be asked still.
func (j *judge) askedQuiet(quiet []span) (asked, ask string) {
	n, on := 0, ""
	deep := false
	for _, d := range quiet {
		day := j.asked(d.from, d.to)
		if day != "" {
			n, on = n+1, day
		}
		deep = deep || day == "" && j.t.anyPast(d.lo, d.hi, pastBelow3_0)
	}
	switch {
	case n == 0 && deep:
		return "", "Ask whether anything was felt: a sensor that reads low and true lows that are not felt look alike"
	case n == 0:
		return ". Nobody has asked what was felt", ""
	case n == len(quiet):
		return ". Asked on " + on + ", nothing was felt", ""
	}
	return ". Asked about " + strconv.Itoa(n) + " of them on " + on + ", nothing was felt", ""
}

// onlyFirstDay10 reports whether all episodes above 10 begin on the first day of
// the wear.
func (j *judge) onlyFirstDay10() bool {
	end := j.t.r[0].At + seconds(j.in.Protocol.Wear.FirstDayHours*3600)
	return !slices.ContainsFunc(j.spans, func(s span) bool { return s.kind == EpisodeAbove10 && s.from >= end })
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
// the time after it.
func (j *judge) inExercise(kind string) int {
	n := 0
	for _, s := range j.spans {
		if s.kind == kind && j.exercised(s) {
			n++
		}
	}
	return n
}

// quality are the doubts about the data.
func (j *judge) quality() []Remark {
	remarks := make([]Remark, 0, 4)
	add := func(code, text string) { remarks = append(remarks, Remark{Code: code, Text: text}) }
	add("caution", "The absence of a flag is not reassurance, and symptoms override the sensor. Sensors can read high or low, and can overstate time above 7.8.")
	t, r, p := j.t, j.r, j.in.Protocol
	if n := len(r.Days); n > 0 && j.usable < n {
		text := strconv.Itoa(j.usable) + " of " + plural(n, "calendar day") + " usable (at least " + fixed(p.Wear.DayUsablePct, 0) + " % of the day's readings)"
		if j.endsAlone() {
			text += ": only the first and the last are not, of which the wear holds a part"
		}
		add("usable_days", text+".")
	}
	if r.Believed < r.Readings {
		add("suspect", plural(r.Readings-r.Believed, "reading")+" ("+notNone(j.suspectPct)+") not believed and left out of the measures.")
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
	if d := j.doubtedLows(); d > 0 {
		add("doubted_lows", countWords(d, "low")+" with readings that are left out of the measures "+areOrIs(d)+" counted all the same, because of what was written down, measured in blood or is on record.")
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
	w, with := &j.in.Protocol.Wear, j.r.Metrics.Above7_8Pct
	without := j.withoutFirstDay(pastAbove7_8)
	if !with.OK || !without.OK || max(with.V-without.V, without.V-with.V) <= w.FirstDayPoints {
		return "", false
	}
	return "Without the first " + duration(seconds(w.FirstDayHours*3600)) + " the share above 7.8 would be " + percent(without) + " in place of " + percent(with) + ".", true
}

// withoutFirstDay is the share past a limit after the first day.
func (j *judge) withoutFirstDay(limit past) Figure {
	t, n, beyond := j.t, 0.0, 0.0
	if len(t.r) == 0 {
		return Figure{}
	}
	for i := t.from(t.r[0].At + seconds(j.in.Protocol.Wear.FirstDayHours*3600)); i < len(t.r); i++ {
		if t.why[i] == 0 {
			n += t.weight(i)
			if t.past[i]&limit != 0 {
				beyond += t.weight(i)
			}
		}
	}
	return Of(100 * beyond / n)
}

// endsAlone reports whether all that is missing of days is before the wear began
// and after it ended.
func (j *judge) endsAlone() bool {
	t, days := j.t, j.r.Days
	n := len(days)
	for i, d := range days {
		if !d.Usable && i > 0 && i < n-1 {
			return false
		}
	}
	c := t.cal.days
	part := func(usable bool, missing int64) bool { return usable || missing > t.step }
	return n > 1 && n == len(c) && part(days[0].Usable, t.r[0].At-c[0].start) && part(days[n-1].Usable, c[n-1].end-t.r[len(t.r)-1].At)
}

// doubtedLows counts the dips that hold doubted readings.
func (j *judge) doubtedLows() int {
	n := 0
	for _, d := range j.dips {
		if d.doubted {
			n++
		}
	}
	return n
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
