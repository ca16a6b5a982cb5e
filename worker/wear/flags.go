package wear

import (
	"slices"
	"strings"
)

// Flag codes.
const (
	FlagAbove7_8     = "above_7_8_persistent"
	FlagAbove10      = "above_10_frequent"
	FlagDipSymptom   = "dip_with_symptom"
	FlagVeryHigh     = "very_high"
	FlagLowMedicine  = "low_on_medicine"
	FlagTooLittle    = "too_little_data"
	FlagSensorDoubt  = "sensor_in_doubt"
	FlagVeryLow      = "very_low"
	FlagOffPathway   = "off_pathway"
	FlagSwingSymptom = "swing_ask_symptoms"
	FlagHighNights   = "high_nights"
	FlagRisk         = "risk_on_record"
	FlagSevere       = "severe_symptom"
	FlagUnread       = "words_unread"
	FlagLongLow      = "long_low"
	FlagKetones      = "ketones"
	FlagDoubted      = "doubted_readings"
)

// Turn is the way in which a finding goes.
type Turn int

// Turns.
const (
	Neither Turn = iota
	High
	Low
	Doubt // about the data, not about glucose
)

// FlagKind is a flag with everything that is said of it anywhere: adding a flag
// is adding one of these, with its rule and the tier that it reads.
type FlagKind struct {
	Code  string
	Name  string // as a heading
	Words string // as a filter names it
	Short string // in the middle of a sentence that compares two wears
	Turn  Turn

	Definition string // for the page of methods
	Source     string
	Standing   string // as in [Setting]
	Settings   string // names or beginnings of names, with commas

	// Saw says in a letter what was seen, with one measurement at most: usable is
	// the number of usable days, glucose is whose ("your glucose"). nil where no
	// letter can be about the flag, as for doubt.
	Saw   func(r *Report, usable int, glucose string) string
	Means string // what it may mean, as widely as the evidence goes and no wider

	// Silences are the remarks that would contradict it, and so are left out.
	Silences []string

	rule     func(*judge) (Flag, bool)
	headline func(*judge) string // nil where it leads no headline
	undo     func(*judge) string // what would take it away
}

// Flags lists the kinds of flag, the most pressing first: the order of
// headlines, of letters and of lists to choose from.
func Flags() []FlagKind { return slices.Clone(flagKinds) }

// FlagOf is the kind of a code; false for no such flag.
func FlagOf(code string) (FlagKind, bool) {
	i := slices.IndexFunc(flagKinds, func(k FlagKind) bool { return k.Code == code })
	if i < 0 {
		return FlagKind{}, false
	}
	return flagKinds[i], true
}

var (
	lowRemarks  = []string{"dip_without_symptom", "exercise_dip"}
	highRemarks = []string{"rise_under_10", "morning_slightly_high"}
)

var flagKinds = []FlagKind{
	{
		Code: FlagSevere, Name: "Severe symptom", Words: "severe symptom", Short: "a severe symptom", Turn: Neither,
		Definition: "A person read words as severe, a red flag was ticked on a call, or unread words hold a sign that the wearer was not themselves or needed help, whatever the glucose: symptoms override the sensor.",
		Source:     "level 3, Diabetes Care 2017;40:155", Standing: proposal, Settings: "symptom.severe_words, tier.severe_symptom",
		Saw:      func(*Report, int, string) string { return "A symptom was written down that we want to ask you about." },
		Means:    "It need not come from glucose. It is not a diagnosis. We would like to hear what happened. If it comes back, call for help at once.",
		Silences: slices.Concat(lowRemarks, highRemarks, []string{"above_10_seldom"}),
		rule:     (*judge).severe, headline: (*judge).severeFinding, undo: says("Not flagged as severe once a person has read the words as something else."),
	},
	{
		Code: FlagKetones, Name: "Ketones", Words: "ketones", Short: "raised ketones", Turn: High,
		Definition: "Words name a blood ketone value at or above the limit, whatever the glucose; or a raised one, more pressing with glucose at or above 11.1, with a medicine on record under which ketones rise at normal glucose, or in pregnancy. It stands until a person has read the words as nothing of concern.",
		Source:     triage, Standing: proposal, Settings: "flag.ketones, tier.ketones",
		Saw:      func(*Report, int, string) string { return "A ketone test that was written down was high." },
		Means:    "High ketones can make you very ill. We want to speak with you today. If you feel unwell, vomit or are short of breath, get help at once.",
		Silences: slices.Concat(highRemarks, []string{"above_10_seldom"}), rule: (*judge).ketones,
		headline: func(j *judge) string {
			f, _ := j.ketones()
			return strings.TrimSuffix(f.Text, ".") + "; " + j.timeAbove()
		},
		undo: says("Not flagged for ketones once a person has read the words and found nothing of concern."),
	},
	{
		Code: FlagVeryHigh, Name: "Very high", Words: "very high", Short: "very high", Turn: High,
		Definition: "One reading or fingerstick above the very high limit, or one beyond the sensor; or 15 minutes above 13.9; or 15 minutes, or a fingerstick, at or above 11.1: on several days, with a symptom of high glucose or with words nobody has read, in pregnancy, under 18; or in pregnancy a high fasting morning.",
		Source:     triage, Standing: proposal, Settings: "flag.very_high_reading, flag.high_episode, flag.pregnant_fasting, tier.high, tier.very_high",
		Saw: sawVeryHigh, Means: meansHigh, Silences: slices.Concat(highRemarks, []string{"above_10_seldom"}),
		rule: (*judge).veryHigh, headline: (*judge).veryHighFinding,
		undo: says("Not flagged as very high without values at that height, or if they were found to be wrong."),
	},
	{
		Code: FlagLowMedicine, Name: "Low on a glucose-lowering medicine", Words: "low while on a glucose-lowering medicine", Short: "lows on a glucose-lowering medicine", Turn: Low,
		Definition: "Any dip or fingerstick below 3.9 in someone whose medicine can cause it: on record, read in their words, or named there and not read yet. Less pressing where the words name a medicine that no list knows.",
		Source:     "J Clin Endocrinol Metab 2009;94:709", Standing: proposal, Settings: "symptom.medicine_words, tier.low_medicine",
		Saw: func(r *Report, _ int, glucose string) string {
			return sentenceCase(Times(max(1, r.dips()))) + ", " + glucose + " went below 3.9 mmol/L. A medicine on record can lower glucose."
		},
		Means:    "Some medicines can make glucose fall too far. It may also come from the sensor, which can read too low. It is not a diagnosis. Please do not change your medicine on your own: talk to us first.",
		Silences: lowRemarks, rule: (*judge).lowOnMedicine,
		headline: func(j *judge) string {
			return countWords(len(j.dips), "dip") + " below 3.9 on glucose-lowering medicine" + j.down(j.dips)
		},
		undo: says("Not flagged for lows if there were no dip below 3.9, or if a person found that no medicine can have caused it."),
	},
	{
		Code: FlagVeryLow, Name: "Very low", Words: "very low", Short: "very low with a symptom", Turn: Low,
		Definition: "A dip below 3.0 with a symptom, more pressing where the symptom is of the brain, or the words are not read and may be, whatever the wearer called them; or a fingerstick below 3.0, in words too.",
		Source:     "level 2, Diabetes Care 2017;40:155", Standing: proposal, Settings: "symptom.brain_words, tier.very_low",
		Saw: sawVeryLow, Means: meansDip, Silences: lowRemarks, rule: (*judge).veryLow, headline: (*judge).dipFinding,
		undo: says("Not flagged as very low without values below 3.0 beside a symptom or by fingerstick, or if they were found to be wrong."),
	},
	{
		Code: FlagDipSymptom, Name: "Dip with a symptom", Words: "dip with a symptom", Short: "dips with a symptom", Turn: Low,
		Definition: "A dip below 3.9 with a symptom, or with words nobody has read, within the window; or a fingerstick below 3.9 with one. More pressing by fingerstick, after bariatric surgery or with words in the wear that nobody has read and no list knows, in the night or early morning, and in exercise or soon after. Words alone count until they are read.",
		Source:     triage, Standing: proposal, Settings: "symptom, tier.dip_symptom",
		Saw: sawDip, Means: meansDip, Silences: lowRemarks, rule: (*judge).dipWithSymptom, headline: (*judge).dipFinding,
		undo: says("Not flagged for dips once a person has read that what stands beside them is no symptom, or if a person found that the sensor and not the glucose was low."),
	},
	{
		Code: FlagLongLow, Name: "Lows, not explained", Words: "lows, not explained", Short: "lows that nothing explains", Turn: Low,
		Definition: "Below 3.0 for long on several days, for longer at one time, or in exercise; deep below 3.9 for longer still on several nights, all that a night holds taken together and short returns and gaps left out; falls that look like lying on the sensor, where they are too long for that; or below 3.9 with a low fingerstick, or after bariatric surgery. Less pressing in a sensor that reads low as a whole. True or not, a fingerstick at the time or another wear settles it.",
		Source:     "unexplained fasting or overnight lows are looked into within days: triage list of this practice, after J Clin Endocrinol Metab 2009;94:709", Standing: proposal, Settings: "flag.long_low, tier.long_low",
		Saw: func(_ *Report, _ int, glucose string) string {
			return sentenceCase(glucose) + " was below 3.9 mmol/L for a long time at least once."
		},
		Means:    "This may come from the sensor, which can read too low. It may also be that your glucose falls without your feeling it. It is not a diagnosis. A finger-prick test at such a time, or another sensor, tells us more.",
		Silences: lowRemarks, rule: (*judge).longLow,
		headline: func(j *judge) string { return j.longLowText() },
		undo:     says("Not flagged for long lows once a fingerstick at the time, or another wear, has shown what they are."),
	},
	{
		Code: FlagAbove7_8, Name: "Above 7.8 persistently", Words: "above 7.8 on most days", Short: "above 7.8 on most days", Turn: High,
		Definition: "The share above 7.8 reaches its limit over the wear, and on at least half of the usable days.",
		Source:     "17.1 % is the 95th centile of 434 adults in China over three days, 7.8 and more counted (Diabetes Care 2009;32:1188); no society gives an action limit", Standing: proposal, Settings: "flag.above_7_8, tier.above_7_8",
		Saw: sawAbove7_8, Means: meansHigh, Silences: highRemarks, rule: (*judge).above7_8, headline: (*judge).highFinding,
		undo: func(j *judge) string {
			f := &j.in.Protocol.Flag
			return "Not flagged for time above 7.8 if it were under " + fixed(f.Above7_8Pct, 0) + " % of readings, or if fewer than " + fixed(f.Above7_8DaysPct, 0) + " % of usable days reached that."
		},
	},
	{
		Code: FlagAbove10, Name: "Above 10 frequently", Words: "above 10 often", Short: "above 10 often", Turn: High,
		Definition: "The share above 10 reaches its limit, with and without the first day, or episodes above 10 come on several days of two weeks.",
		Source:     "community average 1.2 % (560 people of a town, mean age 58, seven days or more; doi:10.1210/clinem/dgae626); no society gives an action limit", Standing: proposal, Settings: "flag.above_10, tier.above_10",
		Saw: sawAbove10, Means: meansHigh, Silences: []string{"above_10_seldom", "rise_under_10"}, rule: (*judge).above10, headline: (*judge).highFinding,
		undo: func(j *judge) string {
			return "Not flagged for time above 10 if it were under " + fixed(j.in.Protocol.Flag.Above10Pct, 0) + " % of readings with episodes on fewer than " + fixed(j.mostDays10(), 0) + " days."
		},
	},
	{
		Code: FlagSwingSymptom, Name: "Swings, symptoms not asked about", Words: "big swings, symptoms not yet asked about", Short: "big swings", Turn: High,
		Definition: "Swings with no symptom beside their dip, that the patient has not been asked about.",
		Source:     judgement, Standing: proposal, Settings: "flag.swing, tier.swing",
		Saw: func(_ *Report, _ int, glucose string) string {
			return sentenceCase(glucose) + " rose above 10 mmol/L and soon after fell low, at least once."
		},
		Means:    "Such swings often mean little. They matter more if you felt unwell at the time. It is not a diagnosis. We would like to ask you what you felt.",
		Silences: []string{"dip_without_symptom", "swing_asked"}, rule: (*judge).swing,
		headline: func(j *judge) string {
			return "Rises above 10 followed by dips below 3.9, " + Times(len(j.r.Swings)) + ", not asked about"
		},
		undo: func(j *judge) string {
			return "Not flagged for swings if there were fewer than " + fixed(j.in.Protocol.Flag.SwingCount, 0) + ", or once the patient was asked about them."
		},
	},
	{
		Code: FlagHighNights, Name: "High nights", Words: "high nights", Short: "high nights", Turn: High,
		Definition: "Night means at or above the limit on several nights and on half of them.",
		Source:     "healthy nights average 5.3 mmol/L (74 people of 9 to 65 years; Diabetes Care 2010;33:1297); the limit is the laboratory's for fasting glucose, used as a trigger only", Standing: proposal, Settings: "night.high, tier.high_nights",
		Saw: func(_ *Report, _ int, glucose string) string {
			return sentenceCase(glucose) + " was high on more nights than our limit allows."
		},
		Means: meansHigh, Silences: []string{"morning_slightly_high"}, rule: (*judge).nights,
		headline: func(j *judge) string {
			return "Nights are high: " + of(j.highNights, len(j.r.Nights), "night") + " average " + fixed(j.in.Protocol.Night.HighMmol, 1) + " or more; " + j.timeAbove()
		},
		undo: func(j *judge) string {
			n := &j.in.Protocol.Night
			return "Not flagged for nights if fewer than " + fixed(n.HighNights, 0) + " averaged " + fixed(n.HighMmol, 1) + " or more."
		},
	},
	{
		Code: FlagOffPathway, Name: "Off the pathway", Words: "outside this pathway", Short: "off the pathway", Turn: Neither,
		Definition: "Pregnancy, an age under 18, insulin, a sulfonylurea or another medicine that can cause lows, a steroid: on record; or a medicine that can cause lows in words of the wearer. The limits for adults without diabetes do not fit. Under 18 it is more pressing with words that nobody has read, and most with thirst, a wet bed or losing weight, whatever the glucose.",
		Source:     triage, Standing: proposal, Settings: "flag.adult_age, tier.off_pathway, tier.high_symptom",
		Saw: func(*Report, int, string) string {
			return "Something on the health record means that our usual limits do not fit."
		},
		Means:    "The limits that we use were not made for you. So we would like to look at this with you in person.",
		Silences: slices.Concat(lowRemarks, highRemarks, []string{"above_10_seldom", "high_cv"}), rule: (*judge).offPathway,
		headline: func(j *judge) string {
			if due := j.pregnantMornings(); due != "" {
				return due + "; " + j.timeAbove()
			}
			f, _ := j.offPathway()
			why, _, _ := strings.Cut(f.Text, ". The limits")
			if text, _ := j.thirst(); j.child() && text != "" {
				why += ", with a symptom of high glucose (“" + text + "”)"
			}
			return why + ", where the usual limits do not fit; " + j.timeAbove()
		},
		undo: says("Not flagged for the record once what is on it, or written down, was found not to hold."),
	},
	{
		Code: FlagUnread, Name: "Words not read", Words: "words not read yet", Short: "words not read", Turn: Doubt,
		Definition: "Somebody wrote or said something that no person has read yet, the label of a meal, of exercise or of sleep too: such labels are read together. What no list of words knows is taken as the most that it may be until it is read.",
		Source:     judgement, Standing: proposal, Settings: "tier.words_unread",
		rule: (*judge).unread, undo: says("Read the words, one key each: what they are decides."),
	},
	{
		Code: FlagSensorDoubt, Name: "Sensor in doubt", Words: "sensor in doubt", Short: "sensor in doubt", Turn: Doubt,
		Definition: "Many readings not believed, a failed stretch that leaves too few full days, so much time below 3.9 that the sensor may read low, or fingersticks that disagree.",
		Source:     judgement, Standing: proposal, Settings: "flag.doubt, tier.sensor_doubt",
		rule: (*judge).sensorDoubt, undo: says("A wear with a sensor that holds, or a fingerstick beside it, would settle it."),
	},
	{
		Code: FlagDoubted, Name: "Doubted readings", Words: "readings doubted that would be flagged", Short: "doubted readings past a limit", Turn: Doubt,
		Definition: "Were the readings believed that the engine doubts, a flag would stand. A rise or fall that is only too fast leaves the tier of that flag, where it lasts half an hour; other doubts leave a wear that cannot be told. Left out of this are what the file itself marks, warm-up, and falls that look like lying on the sensor.",
		Source:     judgement, Standing: proposal, Settings: "tier.doubted, believe",
		rule: func(j *judge) (Flag, bool) { return j.would() }, headline: func(j *judge) string { return j.textOf(FlagDoubted) }, undo: says("A fingerstick at such a time, another wear, or a person's decision about these readings would settle it."),
	},
	{
		Code: FlagTooLittle, Name: "Too little data", Words: "too little data", Short: "too little data", Turn: Doubt,
		Definition: "Fewer usable days than the protocol asks for. Not the same as normal.",
		Source:     "published norms used seven complete days or more (doi:10.1210/clinem/dgae626)", Standing: proposal, Settings: "wear.min_usable_days, tier.too_little",
		rule: (*judge).tooLittle,
		undo: func(j *judge) string {
			return "A wear with at least " + fixed(j.in.Protocol.Wear.MinUsableDays, 0) + " usable days would settle it."
		},
	},
	{
		Code: FlagRisk, Name: "Risk on record", Words: "risk on record", Short: "risk on record", Turn: Neither,
		Definition: "The newest laboratory result of a kind past its limit, whatever the trace shows, more pressing the further past; or nothing in a believable trace passed a limit, but the record holds a risk factor that calls for a laboratory test by itself, two parts of a risk score, a result outside the normal band or a high HOMA-IR. Insulin is not measured by a sensor.",
		Source:     "risk groups and recalls of the RACGP Red Book", Standing: proposal, Settings: "risk, tier.risk, tier.laboratory",
		Saw: func(_ *Report, _ int, _ string) string {
			return "Something on the health record, or a blood test, needs a further look, whatever the sensor showed."
		},
		Means: "A sensor can miss what blood tests find. It is not a diagnosis. Blood tests tell us more.", rule: (*judge).riskOnRecord,
		headline: func(j *judge) string { return j.riskWords + "; " + j.within() },
		undo:     says("Not flagged for the record once what is on it is settled."),
	},
}

// says is a sentence that needs no figures.
func says(text string) func(*judge) string { return func(*judge) string { return text } }

// flags are the findings that the protocol says need review, the most pressing
// first. Two things are never a flag: a low without a symptom in someone on no
// glucose-lowering medicine, unless it is long, and a high that the sensor alone
// is the cause of.
func (j *judge) flags() []Flag {
	flags := make([]Flag, 0, 4)
	j.would = j.wouldFlag // the table cannot name what ranges over it
	for _, k := range flagKinds {
		if f, raised := k.rule(j); raised {
			f.Code = k.Code
			flags = append(flags, f)
			j.r.Flags = flags // for rules that ask how pressing the others are
			j.raised = append(j.raised, k.Code)
		}
	}
	slices.SortStableFunc(flags, func(a, b Flag) int { return a.Tier.Rank() - b.Tier.Rank() })
	return flags
}

// textOf is what a raised flag says, without its full stop.
func (j *judge) textOf(code string) string {
	i := slices.IndexFunc(j.r.Flags, func(f Flag) bool { return f.Code == code })
	return strings.TrimSuffix(j.r.Flags[i].Text, ".")
}

// flagged reports whether a flag was raised.
func (j *judge) flagged(code string) bool { return slices.Contains(j.raised, code) }

func (r *Report) flagged(code string) bool {
	return slices.ContainsFunc(r.Flags, func(f Flag) bool { return f.Code == code })
}
