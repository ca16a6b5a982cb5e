package wear

import "time"

// EngineVersion names this arithmetic. It is stored with every report and
// rises whenever a report could change for the same input and protocol.
const EngineVersion = "8"

// Tier is how soon a wear needs a person.
type Tier string

// Tiers, most pressing first. CannotTell is not the least: a wear that cannot
// be judged needs a telephone call, so it stands before Routine on the round.
const (
	Today      Tier = "today"
	ThisWeek   Tier = "this_week"
	ThisMonth  Tier = "this_month"
	CannotTell Tier = "cannot_tell"
	Routine    Tier = "routine"
)

// Tiers lists the tiers in the order of the round.
func Tiers() []Tier { return []Tier{Today, ThisWeek, ThisMonth, CannotTell, Routine} }

// Rank is the tier's place in [Tiers], 0 first.
func (t Tier) Rank() int {
	for i, x := range Tiers() {
		if x == t {
			return i
		}
	}
	return len(Tiers())
}

// Words is the tier as a person reads it.
func (t Tier) Words() string {
	switch t {
	case Today:
		return "Today"
	case ThisWeek:
		return "This week"
	case ThisMonth:
		return "This month"
	case CannotTell:
		return "Cannot tell"
	case Routine:
		return "Routine"
	}
	return "Unknown"
}

// Input is everything a report depends on.
type Input struct {
	Readings   []Reading // in any order
	Events     []Event   // in any order; those before and after the readings count too
	Zone       *time.Location
	Context    Context
	Labs       []Lab       // laboratory results on record, in any order
	Overrides  []Override  // what people decided about stretches; of two that overlap the later in the list holds
	Asked      []Asked     // episodes at which the patient felt nothing, as they said
	Notes      []NoteText  // what was said on calls and written by the practice
	Read       []WordsRead // what people said that words are; in any order
	RedFlags   []RedFlag   // boxes ticked on a call
	SensorKind string      // opaque code set by the practice, or ""
	Protocol   *Protocol
}

// Asked is a patient's answer that nothing was felt at an episode.
type Asked struct {
	From int64 // start of the episode, in seconds since 1970-01-01 UTC
	On   int64 // when they were asked, in the same seconds
}

// Override is a person's decision about a stretch of readings: to believe what
// the engine doubts, or not to believe what it believes.
type Override struct {
	From    int64 `json:"from"` // seconds since 1970-01-01 UTC
	To      int64 `json:"to"`   // last reading that it is about
	Believe bool  `json:"believe"`
}

// Around is what stands around a wear when its report is read, and no part of
// the report: a person is told that all is well, not a wear.
type Around struct {
	Waiting int         // files that are held for a person and may change the wear
	InDoubt bool        // the recipe of some file was withdrawn, and the file was not read again
	Refused bool        // some file that brought readings was read again since, and refused
	Anew    bool        // what is judged by is another than the report was made by: it waits to be made anew
	Others  []OtherWear // the patient's other wears on the round that are not routine
	Awaited []string    // what is still awaited about the patient that all being well denies, in words
}

// OtherWear is another wear of the patient that is on the round.
type OtherWear struct {
	Tier   Tier `json:"tier"`
	Unread int  `json:"unread"` // texts that nobody has read
}

// Report is all that is said about one wear. Its JSON form is a published
// interface: keys are stable, times are RFC 3339 with offset, a figure that
// cannot be given is null.
type Report struct {
	Around `json:"-"`

	Engine   string `json:"engine"`
	Protocol string `json:"protocol"`

	Unit         string    `json:"unit"` // "mmol/L", "mg/dL" or "mixed"
	IntervalS    int       `json:"interval_s"`
	Start        time.Time `json:"start"`
	End          time.Time `json:"end"`
	Readings     int       `json:"readings"` // distinct timed readings, suspect ones included
	Believed     int       `json:"believed"` // readings that the measures use
	Expected     int       `json:"expected"`
	CapturedPct  Figure    `json:"captured_pct"`
	CensoredLow  int       `json:"censored_low"`
	CensoredHigh int       `json:"censored_high"`
	Duplicates   int       `json:"duplicates"` // same instant, same value: counted once
	Conflicts    int       `json:"conflicts"`  // same instant, different values: in no measure

	SensorKind string `json:"sensor_kind,omitempty"`

	Metrics    Metrics `json:"metrics"`     // over believed readings
	MetricsAll Metrics `json:"metrics_all"` // over all readings
	// MetricsEngine is over the readings that the engine alone would believe;
	// nil where no person overruled it.
	MetricsEngine *Metrics      `json:"metrics_engine,omitempty"`
	Uncertainty   Uncertainty   `json:"uncertainty"`
	Overrides     []OverrideFig `json:"overrides"`

	Suspect    []Stretch     `json:"suspect"`
	Gaps       []Gap         `json:"gaps"`
	Days       []Day         `json:"days"`
	Episodes   []Episode     `json:"episodes"`
	Meals      []MealFig     `json:"meals"`
	MealGroups []MealGroup   `json:"meal_groups"` // like meals, where there are enough
	Nights     []Night       `json:"nights"`
	Mornings   Mornings      `json:"mornings"`
	Exercise   []ExerciseFig `json:"exercise"`
	Swings     []Swing       `json:"swings"`
	Matches    []Match       `json:"matches"` // dips with a symptom inside the window
	Labs       []LabFig      `json:"labs"`
	Words      []Words       `json:"words"`       // every text, in order of time; see [Words]
	Unread     int           `json:"unread"`      // words that no person has read
	RedFlags   []RedFlagFig  `json:"red_flags"`   // boxes ticked on a call
	AskedOn    string        `json:"asked_on"`    // the day on which the patient was asked about the context; "" for never
	AskedAfter bool          `json:"asked_after"` // asked so on the last day of the wear or later; what was felt is asked on a call, and is no part of it
	Age        int           `json:"age"`         // years at the end of the wear; -1 where not known
	Near       []Remark      `json:"near"`        // limits not met, and within the day-to-day uncertainty of the wear
	HomaIR     Figure        `json:"homa_ir"`

	Flags      []Flag   `json:"flags"`
	NotFlagged []Remark `json:"not_flagged"`   // what was seen and is not a reason for follow-up, in words to read out
	Explained  []Remark `json:"explained"`     // meals, mornings, exercise and swings in words
	Context    []Remark `json:"context_rules"` // which rules what is on record changed
	Quality    []Remark `json:"quality"`       // doubts about the data, in words
	Confidence string   `json:"confidence"`    // "high", "some" or "low"
	Headline   string   `json:"headline"`      // one sentence: the finding
	Priority   Priority `json:"priority"`
}

// RedFlagFig is a red flag as the report shows it.
type RedFlagFig struct {
	Code string `json:"code"`
	Text string `json:"text"`
	At   string `json:"at"` // RFC 3339 on the wearer's clock
}

// OverrideFig is a person's decision and how many readings it changed.
type OverrideFig struct {
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	Believe  bool      `json:"believe"`
	Readings int       `json:"readings"`
}

// Stretch is a run of readings that are not believed.
type Stretch struct {
	Kind     string    `json:"kind"` // see the Suspect constants
	From     time.Time `json:"from"`
	To       time.Time `json:"to"` // last suspect reading
	Readings int       `json:"readings"`
	Reason   string    `json:"reason"` // in words
}

// Kinds of suspect stretch.
const (
	SuspectWarmUp   = "warm_up"
	SuspectFlat     = "flat_line"
	SuspectSpike    = "spike"
	SuspectRate     = "impossible_rate"
	SuspectPressure = "pressure_dip"
	SuspectTail     = "failing_tail"
	SuspectLowStart = "low_from_start"
	SuspectMarked   = "marked_in_file"
	SuspectRange    = "outside_range"
	SuspectConflict = "conflict"
	SuspectPerson   = "person" // a person decided so
	SuspectClock    = "clock"
)

// Gap is a time without readings, longer than two intervals.
type Gap struct {
	From    time.Time `json:"from"` // last reading before
	To      time.Time `json:"to"`   // first reading after
	Minutes int       `json:"minutes"`
}

// Day is one calendar day of the wear in its own zone, by believed readings.
type Day struct {
	Date           string `json:"date"` // 2006-01-02
	Readings       int    `json:"readings"`
	Expected       int    `json:"expected"` // of the whole day; 23 or 25 h on a clock change
	CapturedPct    Figure `json:"captured_pct"`
	Usable         bool   `json:"usable"` // enough believed readings to judge the day
	MeanMmol       Figure `json:"mean_mmol"`
	MinMmol        Figure `json:"min_mmol"`
	MaxMmol        Figure `json:"max_mmol"`
	Above7_8Pct    Figure `json:"above_7_8_pct"`
	Above7_8Min    Figure `json:"above_7_8_min"`
	Above10Min     Figure `json:"above_10_min"`
	Below3_9Min    Figure `json:"below_3_9_min"`
	Met7_8         bool   `json:"met_7_8"` // the day met the protocol's 7.8 rule
	Met10          bool   `json:"met_10"`  // the day had an episode above 10
	DipWithSymptom bool   `json:"dip_with_symptom"`
}

// Episode is a run past a limit by the 15-minute rule.
type Episode struct {
	Number      int       `json:"number"` // 1, 2, ... in time order
	Kind        string    `json:"kind"`   // see the Episode constants
	From        time.Time `json:"from"`
	To          time.Time `json:"to"` // first reading back on the safe side, or last reading + one interval
	Minutes     int       `json:"minutes"`
	ExtremeMmol Figure    `json:"extreme_mmol"`
	EndedByGap  bool      `json:"ended_by_gap"`
	Asked       bool      `json:"asked"`           // the patient said that nothing was felt
	Doubted     bool      `json:"doubted"`         // a low with readings that the measures leave out, counted because of what stands beside it
	After       string    `json:"after,omitempty"` // what was logged in the three hours before it, in the wearer's words
}

// Kinds of episode.
const (
	EpisodeAbove7_8  = "above_7_8"
	EpisodeAbove10   = "above_10"
	EpisodeAbove13_9 = "above_13_9"
	EpisodeBelow3_9  = "below_3_9"
	EpisodeBelow3_0  = "below_3_0"
)

// Match is a dip below 3.9 with a symptom, or words that nobody has read and
// that may be one, inside the window.
type Match struct {
	Episode   int        `json:"episode"`    // number of the episode
	SymptomAt *time.Time `json:"symptom_at"` // null where the words state no time, and so may be of this dip
	Symptom   string     `json:"symptom"`
	Unread    bool       `json:"unread"` // words that nobody has read yet
	// The two other facts of the triad of J Clin Endocrinol Metab 2009;94:709
	// (doi:10.1210/jc.2008-1410), kept apart. A sensor never fills in the first.
	BloodMmol Figure `json:"blood_mmol"` // a fingerstick in the window
	Relief    string `json:"relief"`     // "written down" or "not written down"
	Timing    string `json:"timing"`     // "after a meal", "fasting" or "unknown"
}

// Flag is a finding that the protocol says needs review.
type Flag struct {
	Code     string `json:"code"` // see flags.go
	Tier     Tier   `json:"tier"`
	Text     string `json:"text"`     // one sentence for a person
	Evidence string `json:"evidence"` // the numbers and the limit they passed
}

// Remark is a sentence with a stable code.
type Remark struct {
	Code string `json:"code"`
	Text string `json:"text"`
	// Reassures reports whether the sentence says that something needs no
	// follow-up. None does unless [MayReassure] lets it.
	Reassures bool `json:"reassures"`
}

// Priority is the wear's place on the round: tier first, then days past due,
// then score. Score is the sum of Parts, nothing else.
type Priority struct {
	Tier  Tier    `json:"tier"`
	Near  bool    `json:"near"` // Routine, and near a limit: due before the others there
	Score float64 `json:"score"`
	Parts []Part  `json:"parts"`
	// DueDays is the shortest time limit of the tiers of its flags, and of words
	// that nobody has read, in days from the day the file arrived.
	DueDays int `json:"due_days"`
	// Lower says, in words, what would give the wear a lower place.
	Lower []string `json:"lower"`
}

// Part is one named summand of a score.
type Part struct {
	Code   string  `json:"code"`
	Name   string  `json:"name"`   // "time above 7.8"
	Points float64 `json:"points"` // rounded to one decimal before summing
	How    string  `json:"how"`    // the arithmetic in words: "18.4 % of readings, 1 point each"
}
