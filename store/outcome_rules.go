package store

import "slices"

// UsualAttempts is how many times somebody tries to reach a patient before a
// letter is sent, where the protocol does not say. "Three attempts, then a
// letter" is common practice; no standard fixes a number.
const UsualAttempts = 3

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
	Days     int
	Optional bool   // the recall may be left out
	Reason   bool   // a reason is needed
	Asks     string // what the reason is to say
	Source   string // of Days
}

// The recall dates are proposals where nothing else is said; a clinician
// changes them with the rest of the protocol.
var rules = []Rule{
	{
		Kind: ToldWell, Words: "Told all is well", Follows: "Nothing, or a date to check the risk of diabetes again.",
		Recall: RecallReview, Days: 3 * 365, Optional: true, Source: "three-yearly risk assessment in general practice (national preventive guideline)",
	},
	{
		Kind: AdviceGiven, Words: "Advice given", Follows: "A look at how it goes.",
		Recall: RecallReview, Days: 84, Optional: true, Reason: true, Asks: "What was advised", Source: "proposal: a change is judged no sooner than after three months",
	},
	{
		Kind: TestsOrdered, Words: "Tests ordered", Follows: "The laboratory result, by a date.",
		Recall: RecallResult, Days: 14, Reason: true, Asks: "Which tests", Source: "proposal; the audit asks for a result within six weeks",
	},
	{
		Kind: Appointment, Words: "Appointment made", Follows: "The appointment.",
		Recall: RecallAppointment, Source: "the day of the appointment",
	},
	{
		Kind: UrgentContact, Words: "Urgent contact", Follows: "Word that the patient was seen.",
		Recall: RecallUrgent, Days: 1, Reason: true, Asks: "Who was spoken to and where the patient was sent", Source: "proposal: the next day",
	},
	{
		Kind: SensorReplaced, Words: "Sensor to be replaced", Follows: "The file of the new sensor.",
		Recall: RecallNewWear, Days: 28, Source: "proposal: two weeks of wear and two to get the sensor",
	},
	{
		Kind: WearAgain, Words: "Wear again", Follows: "The file of the next wear.",
		Recall: RecallNewWear, Days: 91, Source: "proposal: no published interval; not before three months after a change",
	},
	{
		Kind: CouldNotReach, Words: "Could not reach", Follows: "A letter once the attempts are used up; until then another try.",
		Reason: true, Asks: "What was tried, or why no more is tried", Source: "three attempts, then a letter: common practice",
	},
	{
		Kind: OffPathway, Words: "Off this pathway", Follows: "Nothing here: the patient is looked after elsewhere.",
		Reason: true, Asks: "Where the patient is looked after",
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
