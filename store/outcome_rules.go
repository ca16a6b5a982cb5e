package store

import (
	"slices"

	"wearround/worker/wear"
)

// Rule is what an outcome asks for and what must follow it, as data: the form,
// the check and the recall all come from here.
type Rule struct {
	Kind    OutcomeKind
	Words   string // as the button says it
	Follows string // what must follow, one plain sentence
	// Recall is what comes back, or "" where nothing does.
	Recall RecallKind
	// Days is the recall date that is proposed, in days from now; 0 where there
	// is no sensible guess and a date must be given.
	Days int
	// Most is in how many days what follows must be back at the latest, and Soon
	// the same where no date is proposed and the wear is for today or this week;
	// see [Rule.Within].
	Most, Soon int
	Optional   bool   // the recall may be left out
	Reason     bool   // a reason is needed
	Asks       string // what the reason is to say
	Bars       []Bar  // what leaves it to a clinician, the weightiest first
	Reassures  bool   // it tells a patient that all is well; see [Rule.Against]
	Source     string // of Days
}

// Bar leaves an outcome to a clinician, who says why it is enough, where a
// certain flag stands on a wear. A flag stands until its evidence goes: by an
// answer of the patient, a fingerstick, a stretch overruled.
type Bar struct {
	Flag  string    // code of the flag, or "" for any of a tier
	Tier  wear.Tier // of the flag, where Flag is ""
	Words string    // what the wear has
}

// Who may leave a flag at that is a proposal, as the tiers are.
var (
	dipBar   = Bar{Flag: wear.FlagDipSymptom, Words: "a dip with a symptom"}
	todayBar = Bar{Tier: wear.Today, Words: "a flag to be acted on today"}
	weekBar  = Bar{Tier: wear.ThisWeek, Words: "a flag to be acted on this week"}
	monthBar = Bar{Tier: wear.ThisMonth, Words: "a flag to be acted on this month"}
	doubtBar = Bar{Tier: wear.CannotTell, Words: "data that cannot be judged"}

	// pressing bars what does something, but no test and no visit.
	pressing = []Bar{todayBar, weekBar}
)

// Barred says what a wear has that leaves the outcome to a clinician, given the
// flags that stand on it ([Standing]): "a dip with a symptom". It is "" where
// whoever works on the wear may record it.
func (r *Rule) Barred(standing []wear.Flag) string {
	for _, b := range r.Bars {
		if slices.ContainsFunc(standing, b.fits) {
			return b.Words
		}
	}
	return ""
}

func (b *Bar) fits(f wear.Flag) bool {
	if b.Flag == "" {
		return f.Tier == b.Tier
	}
	return f.Code == b.Flag
}

// unearned are the reasons of [wear.MayReassure] in the words of a [Bar]. Those
// with never leave it to nobody: they go by looking or asking, never by a
// decision.
var unearned = map[string]struct {
	words string
	never bool
}{
	wear.ReasonNoData:  {"no usable day to judge by", true},
	wear.ReasonWaiting: {"a file that may change it and waits for an answer", true},
	wear.ReasonRecipe:  {"a file whose recipe was withdrawn and that was not read again", true},
	wear.ReasonRefused: {"a file that was refused when it was read again", true},
	wear.ReasonAnew:    {"a report that waits to be made anew by the protocol in force", true},
	wear.ReasonFirst:   {"beside it another wear of the patient that is more pressing or has words that nobody has read", true},
	wear.ReasonUnread:  {"words that nobody has read", true},
	wear.ReasonUnasked: {"a patient whom nobody has asked about medicines, pregnancy and surgery", true},
	wear.ReasonOther:   {"beside it another wear of the patient with something to follow up", false},
	wear.ReasonAwaited: {"beside it a result, a decision or a word that is still awaited about the patient", false},
	wear.ReasonAge:     {"a patient whose age is not on record", false},
	wear.ReasonDoubt:   {"a record of low confidence", false},
	wear.ReasonNear:    {"a limit that is near", false},
	wear.ReasonFlagged: {"something to follow up", false},
}

// Against says what stands against an outcome of a wear with this report, in
// the words of a [Bar], and whether nobody may record it all the same; where
// somebody may it is a clinician, who says why it is enough. It is "" where
// whoever works on the wear may. Every way to an outcome asks here: a page, a
// sheet, a program.
func (r *Rule) Against(report *wear.Report) (why string, nobody bool) {
	var reasons []wear.Reason
	if r.Reassures {
		_, reasons = wear.MayReassure(report)
	}
	for _, x := range reasons {
		if u := unearned[x.Code]; u.never {
			return u.words, true
		}
	}
	if why := r.Barred(Standing(report)); why != "" || len(reasons) == 0 {
		return why, false
	}
	for _, x := range reasons {
		if u := unearned[x.Code]; u.words != "" {
			return u.words, false
		}
	}
	return "", false
}

// Wants is what the reason is to say where [Rule.Barred] gives why and a
// clinician records the outcome all the same; "" where none is asked for.
func (r *Rule) Wants(why string) string {
	switch {
	case why == "":
		return r.Asks
	case r.Asks == "":
		return "Why this is enough, although the wear has " + why
	}
	return r.Asks + ", and why this is enough although the wear has " + why
}

// Standing gives the flags that stand on a wear. A day with a dip and a symptom
// counts as that flag, whether or not the protocol raises it.
func Standing(r *wear.Report) []wear.Flag {
	flags := slices.Clone(r.Flags)
	if slices.ContainsFunc(r.Days, func(d wear.Day) bool { return d.DipWithSymptom }) {
		flags = append(flags, wear.Flag{Code: wear.FlagDipSymptom})
	}
	return flags
}

// The recall dates are proposals where nothing else is said; a clinician
// changes them with the rest of the protocol.
var rules = []Rule{
	{
		Kind: ToldWell, Words: "Told all is well", Follows: "Nothing, or a date to check the risk of diabetes again.",
		Recall: RecallReview, Days: 3 * 365, Most: mostByHand, Optional: true, Reassures: true, Bars: []Bar{dipBar, todayBar, weekBar, monthBar, doubtBar},
		Source: "three-yearly risk assessment in general practice (national preventive guideline)",
	},
	{
		Kind: AdviceGiven, Words: "Advice given", Follows: "A look at how it goes.",
		Recall: RecallReview, Days: 84, Most: 366, Optional: true, Reason: true, Asks: "What was advised", Bars: pressing,
		Source: "proposal: a change is judged no sooner than after three months",
	},
	{
		Kind: TestsOrdered, Words: "Tests ordered", Follows: "The laboratory result, by a date.",
		Recall: RecallResult, Days: 14, Most: 42, Reason: true, Asks: "Which tests", Source: "proposal; the audit asks for a result within six weeks",
	},
	{
		Kind: Appointment, Words: "Appointment made", Follows: "The appointment.",
		Recall: RecallAppointment, Most: 91, Soon: 14, Source: "the day of the appointment",
	},
	{
		Kind: UrgentContact, Words: "Urgent contact", Follows: "Word that the patient was seen.",
		Recall: RecallUrgent, Days: 1, Most: mostUrgent, Reason: true, Asks: "Who was spoken to and where the patient was sent", Source: "proposal: the next day",
	},
	{
		Kind: SensorReplaced, Words: "Sensor to be replaced", Follows: "The file of the new sensor.",
		Recall: RecallNewWear, Days: 28, Most: 91, Bars: pressing, Source: "proposal: two weeks of wear and two to get the sensor",
	},
	{
		Kind: WearAgain, Words: "Wear again", Follows: "The file of the next wear.",
		Recall: RecallNewWear, Days: 91, Most: 366, Bars: pressing, Source: "proposal: no published interval; not before three months after a change",
	},
	{
		Kind: CouldNotReach, Words: "Could not reach", Follows: "A letter once the attempts are used up; until then another try.",
		Reason: true, Asks: "What was tried, or why no more is tried", Bars: []Bar{todayBar},
	},
	{
		Kind: OffPathway, Words: "Off this pathway", Follows: "Nothing here: the patient is looked after elsewhere.",
		Reason: true, Asks: "Where the patient is looked after", Bars: pressing,
	},
}

// Rules gives the outcomes in the order of their buttons.
func Rules() []Rule { return slices.Clone(rules) }

// RuleOf gives the rule of an outcome, and whether there is such an outcome.
func RuleOf(kind OutcomeKind) (Rule, bool) {
	i := slices.IndexFunc(rules, func(r Rule) bool { return r.Kind == kind })
	if i < 0 {
		return Rule{}, false
	}
	return rules[i], true
}
