package wear

// Protocol is the practice's limits as data. Every number that a clinician
// must agree to stands here and nowhere else; a report carries its Version.
// [Protocol.Settings] lists each with its unit, source and standing.
type Protocol struct {
	Version string `json:"version"`
	Status  string `json:"status"` // "unsigned proposal" until a clinician signs
	// ProposedBy says who put forward the values that no published source
	// gives; Proposers names, by setting, whoever put forward a single one.
	ProposedBy string            `json:"proposed_by"`
	Proposers  map[string]string `json:"proposers,omitempty"`

	Wear     WearRules     `json:"wear"`
	Censored CensoredRules `json:"censored"`
	Believe  BelieveRules  `json:"believe"`
	Episode  EpisodeRules  `json:"episode"`
	Measure  MeasureRules  `json:"measure"`
	Meal     MealRules     `json:"meal"`
	Night    NightRules    `json:"night"`
	Exercise ExerciseRules `json:"exercise"`
	Symptom  SymptomRules  `json:"symptom"`
	Risk     RiskRules     `json:"risk"`
	Compare  CompareRules  `json:"compare"`
	Flag     FlagRules     `json:"flag"`
	Tier     TierRules     `json:"tier"`
	Due      DueRules      `json:"due"`
	Score    ScoreRules    `json:"score"`
	Contact  ContactRules  `json:"contact"`
}

// WearRules say what one wear is and how much of it is enough.
type WearRules struct {
	SplitGapHours      float64 `json:"split_gap_hours"`      // a longer gap begins another wear
	GapIntervals       float64 `json:"gap_intervals"`        // a longer step is a gap
	LongGapHours       float64 `json:"long_gap_hours"`       // a longer gap is named in the quality notes
	DayUsablePct       float64 `json:"day_usable_pct"`       // share of a calendar day's readings that makes it usable
	MinUsableDays      float64 `json:"min_usable_days"`      // fewer: too little data
	FullUsableDays     float64 `json:"full_usable_days"`     // fewer: confidence is not high
	MinDaysForShares   float64 `json:"min_days_for_shares"`  // fewer: shares raise no flag
	MinVariabilityHour float64 `json:"min_variability_hour"` // shorter: no variability measure
	FirstDayHours      float64 `json:"first_day_hours"`      // what is left out to see whether the first day leads
	FirstDayPoints     float64 `json:"first_day_points"`     // a larger move of the share above 7.8 is said
	MixedPct           float64 `json:"mixed_pct"`            // share of the time at another interval from which readings are weighted
}

// CensoredRules say what to do with "low" and "high" in place of a number.
type CensoredRules struct {
	AssumedLow  Limit   `json:"assumed_low"`  // value of a bare "low" in means
	AssumedHigh Limit   `json:"assumed_high"` // value of a bare "high" in means
	MaxPct      float64 `json:"max_pct"`      // above this share no spread measure is given
	MaxRun      float64 `json:"max_run"`      // a longer run: no spread measure is given
}

// BelieveRules say which readings are suspect.
type BelieveRules struct {
	LowestPlausible  Limit `json:"lowest_plausible"`
	HighestPlausible Limit `json:"highest_plausible"`

	ClockReadings float64 `json:"clock_readings"` // of two series over each other that make clock trouble

	FlatMinutes       float64 `json:"flat_minutes"`
	FlatReadings      float64 `json:"flat_readings"`
	FlatCoarseMinutes float64 `json:"flat_coarse_minutes"` // where values come in steps of 0.1 mmol/L
	FlatSDMmol        float64 `json:"flat_sd_mmol"`        // less spread than this is flat too,
	FlatSDMinutes     float64 `json:"flat_sd_minutes"`     // for so long; not where values come in steps of 0.1 mmol/L

	SpikeMmol       float64 `json:"spike_mmol"`
	StepMmolPerMin  float64 `json:"step_mmol_per_min"`
	RateMmolPerMin  float64 `json:"rate_mmol_per_min"`
	RateFromMinutes float64 `json:"rate_from_minutes"`
	RateToMinutes   float64 `json:"rate_to_minutes"`

	PressureFromHour        float64 `json:"pressure_from_hour"`
	PressureToHour          float64 `json:"pressure_to_hour"`
	PressureFallMmol        float64 `json:"pressure_fall_mmol"`
	PressureFallMinutes     float64 `json:"pressure_fall_minutes"`
	PressureFallPct         float64 `json:"pressure_fall_pct"`
	PressureRecoveryMinutes float64 `json:"pressure_recovery_minutes"`
	PressureMinMinutes      float64 `json:"pressure_min_minutes"`
	PressureMaxMinutes      float64 `json:"pressure_max_minutes"`
	PressureLevelMmol       float64 `json:"pressure_level_mmol"`
	PressureMedianMinutes   float64 `json:"pressure_median_minutes"`
	PressureGapMinutes      float64 `json:"pressure_gap_minutes"`
	PressureNoiseRatio      float64 `json:"pressure_noise_ratio"`      // a fall is also this many times the sensor's own jitter
	PressureDeepMinutes     float64 `json:"pressure_deep_minutes"`     // of a fall under 3.0: longer below 3.9, a person settles it,
	PressureDeepest         Limit   `json:"pressure_deepest"`          // below it for as long as an episode, likewise; by day longer makes a flag
	PressureAsleepFromHour  float64 `json:"pressure_asleep_from_hour"` // and so outside the hours
	PressureAsleepToHour    float64 `json:"pressure_asleep_to_hour"`   // in which most people sleep

	TailHours      float64 `json:"tail_hours"`
	TailFallPct    float64 `json:"tail_fall_pct"`
	TailMeanMmol   float64 `json:"tail_mean_mmol"` // a day's mean below this is not lived in
	TailNoiseRatio float64 `json:"tail_noise_ratio"`
	TailCapturePct float64 `json:"tail_capture_pct"`

	LowStartHours float64 `json:"low_start_hours"`
	LowStartPct   float64 `json:"low_start_pct"` // share below 3.9 that makes a day implausible

	FingerstickPct        float64 `json:"fingerstick_pct"`
	FingerstickLowMmol    float64 `json:"fingerstick_low_mmol"`
	FingerstickLagMinutes float64 `json:"fingerstick_lag_minutes"`
	LaboratoryPct         float64 `json:"laboratory_pct"` // a larger difference from the laboratory is said
}

// EpisodeRules say what a run past a limit is.
type EpisodeRules struct {
	Minutes         float64 `json:"minutes"`          // to enter and to leave
	MinReadings     float64 `json:"min_readings"`     // never fewer, however long the interval
	ExtendedMinutes float64 `json:"extended_minutes"` // a longer low is called extended
	BridgeMinutes   float64 `json:"bridge_minutes"`   // a return or a gap of no more parts no long low
	AfterHours      float64 `json:"after_hours"`      // how far back "after" looks
}

// MeasureRules say which measures are given beside the usual ones.
type MeasureRules struct {
	GMI float64 `json:"gmi"` // 1: give the glucose management indicator with its warning; 0: do not
}

// MealRules say how a meal is measured and when it is judged.
type MealRules struct {
	MergeMinutes     float64 `json:"merge_minutes"` // intake logged within this is one meal
	BaselineMinutes  float64 `json:"baseline_minutes"`
	BaselineReadings float64 `json:"baseline_readings"`
	WindowMinutes    float64 `json:"window_minutes"`
	NadirToMinutes   float64 `json:"nadir_to_minutes"`
	MinCapturedPct   float64 `json:"min_captured_pct"`
	MaxGapMinutes    float64 `json:"max_gap_minutes"`
	LongMinutes      float64 `json:"long_minutes"`    // window of the longer area, for slow meals
	ReturnMmol       float64 `json:"return_mmol"`     // back at the baseline within this
	ReturnReadings   float64 `json:"return_readings"` // for so many readings on end
	PreloadMinutes   float64 `json:"preload_minutes"` // what was eaten this long before belongs to the meal's name
	LikeMeals        float64 `json:"like_meals"`      // fewer like meals are not compared
}

// NightRules say how nights, mornings and fasting values are read.
type NightRules struct {
	DawnMmol        float64 `json:"dawn_mmol"`         // rise from the nadir to breakfast that counts
	DawnMinNights   float64 `json:"dawn_min_nights"`   // fewer: no median
	MaxMissingPct   float64 `json:"max_missing_pct"`   // more missing readings: the night is left out
	MedianMinutes   float64 `json:"median_minutes"`    // running median that the nadir is taken from
	BeforeMinutes   float64 `json:"before_minutes"`    // before breakfast
	BreakfastHour   float64 `json:"breakfast_hour"`    // intake from here on is breakfast, earlier it is night eating
	BreakfastToHour float64 `json:"breakfast_to_hour"` // a first meal later than this was not written down
	EarlyToHour     float64 `json:"early_to_hour"`     // a dip before it came in the night or early morning
	NoLogFromHour   float64 `json:"no_log_from_hour"`  // without a logged breakfast the morning is
	NoLogToHour     float64 `json:"no_log_to_hour"`    // between these hours
	FastingHours    float64 `json:"fasting_hours"`     // without logged intake
	HighMmol        float64 `json:"high_mmol"`         // night mean from which a night is high
	HighNights      float64 `json:"high_nights"`       // such nights that make a flag,
	HighNightsPct   float64 `json:"high_nights_pct"`   // and their share of all nights
	MorningNoteMmol float64 `json:"morning_note_mmol"` // median morning from which a slightly high one is said
}

// ExerciseRules say what belongs to a bout of exercise.
type ExerciseRules struct {
	BeforeMinutes float64 `json:"before_minutes"`
	AfterMinutes  float64 `json:"after_minutes"`
	UsualMinutes  float64 `json:"usual_minutes"` // length where none was logged
}

// RiskRules say which results on record count as metabolic risk.
type RiskRules struct {
	Criteria           string  `json:"criteria"`              // "australia", "ada" or "uk": which bands laboratory results are read by
	HomaIR             float64 `json:"homa_ir"`               // from here insulin resistance is said
	UrgentGlucose      Limit   `json:"urgent_glucose"`        // a laboratory glucose from here is for the same day, and so is one below 3.0
	UrgentHbA1cMmolMol float64 `json:"urgent_hba1c_mmol_mol"` // an HbA1c from here likewise, in mmol/mol
	UrgentHbA1cPct     float64 `json:"urgent_hba1c_pct"`      // and in %
	CurrentDays        float64 `json:"current_days"`          // an older result than this before the end of the wear is not urgent
}

// CompareRules say what counts as a change: between two wears of one patient,
// and how many wears of one sensor kind make percentiles.
type CompareRules struct {
	MeanMmol  float64 `json:"mean_mmol"`  // smaller changes of the mean are expected variation
	Points    float64 `json:"points"`     // smaller changes of a share, in percentage points
	LowPoints float64 `json:"low_points"` // of a share below 3.9 or above 10, which are small
	KindWears float64 `json:"kind_wears"` // fewer wears of a sensor kind give no percentile
}

// SymptomRules say when a symptom belongs to a dip, and which words change a
// tier while they wait to be read. A part of a word matches anywhere in a text,
// whatever the case; a star in it stands for a few words between.
type SymptomRules struct {
	BeforeMinutes float64  `json:"before_minutes"`
	AfterMinutes  float64  `json:"after_minutes"`
	SevereWords   []string `json:"severe_words"`   // the wearer was not themselves or needed help, at whatever glucose
	BrainWords    []string `json:"brain_words"`    // the brain is short of glucose
	HighWords     []string `json:"high_words"`     // go with high glucose
	LowWords      []string `json:"low_words"`      // other symptoms, of a low and in general
	MedicineWords []string `json:"medicine_words"` // medicines that can cause a low
	ReliefWords   []string `json:"relief_words"`   // a note that the symptom passed
	ReliefMinutes float64  `json:"relief_minutes"` // how long after a symptom such a note counts
	SoonMinutes   float64  `json:"soon_minutes"`   // a dip is after a meal from so long after it,
	SoonSurgery   float64  `json:"soon_surgery"`   // sooner after bariatric surgery
	LaterHours    float64  `json:"later_hours"`    // and until then; later without intake it may be fasting
}

// FlagRules say what is a reason for follow-up.
type FlagRules struct {
	Above7_8NotePct     float64 `json:"above_7_8_note_pct"`     // from here it is near, not flagged
	Above7_8Pct         float64 `json:"above_7_8_pct"`          // of the wear, and of a day that counts
	Above7_8DaysPct     float64 `json:"above_7_8_days_pct"`     // of usable days that must count
	Above10Pct          float64 `json:"above_10_pct"`           // of the wear
	Above10Days         float64 `json:"above_10_days"`          // days with an episode,
	Above10OfDays       float64 `json:"above_10_of_days"`       // of so many usable days; more days in proportion in a longer wear
	VeryHighReading     Limit   `json:"very_high_reading"`      // one reading above this
	HighEpisode         Limit   `json:"high_episode"`           // an episode at or above this
	HighEpisodeDays     float64 `json:"high_episode_days"`      // days with one that make it repeated
	PregnantFasting     float64 `json:"pregnant_fasting"`       // mmol/L; a fasting morning from here is too high in pregnancy
	PregnantFastingNote float64 `json:"pregnant_fasting_note"`  // mmol/L; fasting mornings from here are said in pregnancy
	AdultAge            float64 `json:"adult_age"`              // years; under it the limits for adults are not used
	LongLowMinutes      float64 `json:"long_low_minutes"`       // below 3.0 on end from which a day counts,
	LongLowAwakeMinutes float64 `json:"long_low_awake_minutes"` // or so deep by day for this long once,
	LongLowDays         float64 `json:"long_low_days"`          // and such days that make a flag
	LongLowMedianMmol   float64 `json:"long_low_median_mmol"`   // a wear whose median is lower may read low as a whole: a matter of doubt
	NightLowMmol        float64 `json:"night_low_mmol"`         // an extended low of the night whose mean is at most this counts as a long one,
	NightDipMmol        float64 `json:"night_dip_mmol"`         // and less pressing at most this
	SwingHours          float64 `json:"swing_hours"`            // from an episode above 10 to a dip
	SwingCount          float64 `json:"swing_count"`            // swings that make a flag
	SwingRiseMmol       float64 `json:"swing_rise_mmol"`        // a swing begins with a rise of this much
	SwingRiseMinutes    float64 `json:"swing_rise_minutes"`     // within this time of its peak
	DoubtPct            float64 `json:"doubt_pct"`              // suspect share that puts the sensor in doubt
	DoubtLowPct         float64 `json:"doubt_low_pct"`          // time below 3.9 without any symptom that does so
	DoubtMedianMmol     float64 `json:"doubt_median_mmol"`      // a wear whose median is lower puts the sensor in doubt
	DoubtJitterMmol     float64 `json:"doubt_jitter_mmol"`      // a wear whose readings move more at night does so too
	DoubtFingersticks   float64 `json:"doubt_fingersticks"`     // disagreeing fingersticks that do so
	DoubtFailedHours    float64 `json:"doubt_failed_hours"`     // a failed stretch that does so where too few full days are left
	HighCVPct           float64 `json:"high_cv_pct"`            // above the healthy reference: said, not flagged
	Ketones             float64 `json:"ketones"`                // mmol/L in blood from which somebody is an emergency
	KetonesRaised       float64 `json:"ketones_raised"`         // and from which they are raised: an emergency with high glucose
	OlderAge            float64 `json:"older_age"`              // from here the words are softer
	ConfidencePct       float64 `json:"confidence_pct"`         // suspect share above which confidence is not high
}

// TierRules say how pressing each flag is.
type TierRules struct {
	Above7_8          Tier `json:"above_7_8"`
	Above10           Tier `json:"above_10"`
	DipSymptom        Tier `json:"dip_symptom"`
	DipSymptomSurgery Tier `json:"dip_symptom_surgery"` // after bariatric surgery
	DipSymptomFasting Tier `json:"dip_symptom_fasting"` // in the night or early morning, and in exercise
	DipSymptomBlood   Tier `json:"dip_symptom_blood"`   // by a fingerstick
	WordsUnread       Tier `json:"words_unread"`
	LongLow           Tier `json:"long_low"`      // on several nights, or in exercise
	LongLowOnce       Tier `json:"long_low_once"` // for long on end and no more
	SevereSymptom     Tier `json:"severe_symptom"`
	VeryLow           Tier `json:"very_low"`
	VeryLowBrain      Tier `json:"very_low_brain"`
	VeryLowBlood      Tier `json:"very_low_blood"` // by a fingerstick
	LowMedicine       Tier `json:"low_medicine"`
	LowMedicineUnread Tier `json:"low_medicine_unread"` // a medicine is written down that nobody has read
	VeryHigh          Tier `json:"very_high"`
	HighRepeated      Tier `json:"high_repeated"`
	HighTwice         Tier `json:"high_twice"` // on one day fewer
	Doubted           Tier `json:"doubted"`    // what would be flagged were readings believed that are not
	Ketones           Tier `json:"ketones"`
	KetonesRaised     Tier `json:"ketones_raised"` // without high glucose
	FastingBlood      Tier `json:"fasting_blood"`  // fingersticks before breakfast
	HighSymptom       Tier `json:"high_symptom"`
	HighPregnant      Tier `json:"high_pregnant"`
	HighChild         Tier `json:"high_child"` // under the adult age
	HighBlood         Tier `json:"high_blood"` // by a fingerstick
	Swing             Tier `json:"swing"`
	HighNights        Tier `json:"high_nights"`
	RiskOnRecord      Tier `json:"risk_on_record"`
	RiskLaboratory    Tier `json:"risk_laboratory"`   // a result on record lies in the diabetes range
	LaboratoryUrgent  Tier `json:"laboratory_urgent"` // far past its limit, or past it with a symptom
	LaboratorySoon    Tier `json:"laboratory_soon"`   // a low one, or a random one past its limit
	TooLittle         Tier `json:"too_little"`
	SensorDoubt       Tier `json:"sensor_doubt"`
	OffPathway        Tier `json:"off_pathway"`         // a medicine that can cause lows
	OffPathwayLimits  Tier `json:"off_pathway_limits"`  // pregnancy, under the adult age
	OffPathwaySteroid Tier `json:"off_pathway_steroid"` // steroid course
}

// DueRules are the time limits of the tiers, in days from arrival.
type DueRules struct {
	Today      int `json:"today"`
	ThisWeek   int `json:"this_week"`
	ThisMonth  int `json:"this_month"`
	CannotTell int `json:"cannot_tell"`
	Words      int `json:"words"` // of any tier, while words are unread
	Near       int `json:"near"`  // of Routine, near a limit
	Routine    int `json:"routine"`
}

// Days is the time limit of a tier.
func (d DueRules) Days(t Tier) int {
	switch t {
	case Today:
		return d.Today
	case ThisWeek:
		return d.ThisWeek
	case ThisMonth:
		return d.ThisMonth
	case CannotTell:
		return d.CannotTell
	}
	return d.Routine
}

// ScoreRules say how the score is added up: the two limits that the protocol
// flags by and the mean, each on the scale of published values, and what the
// lows add. Measures of spread and of the night are shown but not added: they
// say the same again, less surely.
type ScoreRules struct {
	PointsAtUpper float64   `json:"points_at_upper"` // points of a measure at its upper reference value
	MostPoints    float64   `json:"most_points"`     // no part gives more
	Above7_8      ScoreNorm `json:"above_7_8"`
	Above10       ScoreNorm `json:"above_10"`
	Mean          ScoreNorm `json:"mean"`
	PerMatch      float64   `json:"per_match"`        // points for each dip with a symptom
	PerLowPct     float64   `json:"per_low_medicine"` // points per % below 3.9 on glucose-lowering medicine
	Severe        float64   `json:"severe"`           // points for a severe symptom
}

// ScoreNorm is the published pair that a part of the score is measured by: no
// points at Usual or less, PointsAtUpper at Upper, in proportion between and
// beyond.
type ScoreNorm struct {
	Usual float64 `json:"usual"`
	Upper float64 `json:"upper"`
}

// ContactRules say when a patient counts as not to be reached.
type ContactRules struct {
	Attempts float64 `json:"attempts"` // and then a letter
}

// DefaultProtocol is the protocol that ships: a proposal, not yet signed.
func DefaultProtocol() *Protocol {
	return &Protocol{
		Version:    "2026.6",
		Status:     "unsigned proposal",
		ProposedBy: "the makers of wearround; no clinician has agreed yet",
		Wear: WearRules{
			SplitGapHours: 72, GapIntervals: 2, LongGapHours: 2,
			DayUsablePct: 70, MinUsableDays: 7, FullUsableDays: 10, MinDaysForShares: 3,
			MinVariabilityHour: 24, FirstDayHours: 24, FirstDayPoints: 3, MixedPct: 10,
		},
		Censored: CensoredRules{
			AssumedLow: Limit{22, 40}, AssumedHigh: Limit{222, 400}, MaxPct: 1, MaxRun: 1,
		},
		Believe: BelieveRules{
			LowestPlausible: Limit{11, 20}, HighestPlausible: Limit{333, 600}, ClockReadings: 8,
			FlatMinutes: 60, FlatReadings: 6, FlatCoarseMinutes: 135, FlatSDMmol: 0.025, FlatSDMinutes: 120,
			SpikeMmol: 2.0, StepMmolPerMin: 0.33,
			RateMmolPerMin: 0.22, RateFromMinutes: 10, RateToMinutes: 15,
			PressureFromHour: 22, PressureToHour: 8,
			PressureFallMmol: 1.1, PressureFallMinutes: 15, PressureFallPct: 25,
			PressureRecoveryMinutes: 20, PressureMinMinutes: 15, PressureMaxMinutes: 150,
			PressureLevelMmol: 1.1, PressureMedianMinutes: 30, PressureGapMinutes: 30, PressureNoiseRatio: 2.5,
			PressureDeepMinutes: 30, PressureDeepest: Limit{28, 50}, PressureAsleepFromHour: 23, PressureAsleepToHour: 7,
			TailHours: 24, TailFallPct: 30, TailMeanMmol: 4.5, TailNoiseRatio: 3, TailCapturePct: 50,
			LowStartHours: 24, LowStartPct: 75,
			FingerstickPct: 20, FingerstickLowMmol: 0.83, FingerstickLagMinutes: 20, LaboratoryPct: 15,
		},
		Episode: EpisodeRules{Minutes: 15, MinReadings: 2, ExtendedMinutes: 120, BridgeMinutes: 45, AfterHours: 3},
		Meal: MealRules{
			MergeMinutes: 15, BaselineMinutes: 30, BaselineReadings: 3,
			WindowMinutes: 120, NadirToMinutes: 300, MinCapturedPct: 80, MaxGapMinutes: 30,
			LongMinutes: 180, ReturnMmol: 0.5, ReturnReadings: 2, PreloadMinutes: 60, LikeMeals: 3,
		},
		Night: NightRules{
			DawnMmol: 1.11, DawnMinNights: 5, MaxMissingPct: 20, MedianMinutes: 15, BeforeMinutes: 15,
			BreakfastHour: 4, BreakfastToHour: 12, EarlyToHour: 8, NoLogFromHour: 6, NoLogToHour: 7, FastingHours: 8,
			HighMmol: 7.0, HighNights: 5, HighNightsPct: 50, MorningNoteMmol: 5.6,
		},
		Exercise: ExerciseRules{BeforeMinutes: 30, AfterMinutes: 120, UsualMinutes: 30},
		Risk: RiskRules{
			Criteria: "australia", HomaIR: 2.5, UrgentGlucose: Limit{167, 300}, UrgentHbA1cMmolMol: 86, UrgentHbA1cPct: 10, CurrentDays: 90,
		},
		Compare: CompareRules{MeanMmol: 0.7, Points: 8, LowPoints: 2, KindWears: 40},
		Symptom: SymptomRules{
			BeforeMinutes: 20, AfterMinutes: 20,
			SevereWords: severeWords, BrainWords: brainWords, HighWords: highWords, LowWords: lowWords,
			ReliefWords: reliefWords, MedicineWords: medicineWords, ReliefMinutes: 60,
			SoonMinutes: 120, SoonSurgery: 60, LaterHours: 5,
		},
		Flag: FlagRules{
			Above7_8NotePct: 11, Above7_8Pct: 17, Above7_8DaysPct: 50,
			Above10Pct: 2, Above10Days: 4, Above10OfDays: 14, PregnantFasting: 7.0, PregnantFastingNote: 5.8, AdultAge: 18,
			LongLowMinutes: 60, LongLowAwakeMinutes: 30, LongLowDays: 3, LongLowMedianMmol: 4.5, NightLowMmol: 3.3, NightDipMmol: 3.5,
			VeryHighReading: Limit{200, 360}, HighEpisode: Limit11_1, HighEpisodeDays: 3,
			SwingHours: 4, SwingCount: 2, SwingRiseMmol: 3.5, SwingRiseMinutes: 120,
			Ketones: 3.0, KetonesRaised: 1.5,
			DoubtPct: 30, DoubtLowPct: 12, DoubtMedianMmol: 4.2, DoubtJitterMmol: 0.6, DoubtFingersticks: 2, DoubtFailedHours: 48, HighCVPct: 23, OlderAge: 60, ConfidencePct: 5,
		},
		Tier: TierRules{
			Above7_8: ThisMonth, Above10: ThisMonth,
			DipSymptom: ThisMonth, DipSymptomSurgery: ThisWeek, DipSymptomFasting: ThisWeek, DipSymptomBlood: ThisWeek, SevereSymptom: Today,
			WordsUnread: CannotTell, LongLow: ThisWeek, LongLowOnce: ThisMonth,
			VeryLow: ThisWeek, VeryLowBrain: Today, VeryLowBlood: Today, LowMedicine: Today, LowMedicineUnread: ThisWeek,
			VeryHigh: Today, HighRepeated: ThisWeek, HighTwice: ThisMonth, Doubted: CannotTell, Ketones: Today, KetonesRaised: ThisWeek, FastingBlood: ThisMonth, HighSymptom: Today, HighPregnant: Today, HighChild: Today, HighBlood: ThisWeek,
			LaboratoryUrgent: Today, LaboratorySoon: ThisWeek,
			Swing: ThisMonth, HighNights: ThisMonth, RiskOnRecord: Routine, RiskLaboratory: ThisMonth, TooLittle: CannotTell, SensorDoubt: CannotTell,
			OffPathway: ThisWeek, OffPathwayLimits: ThisMonth, OffPathwaySteroid: ThisMonth,
		},
		Due: DueRules{Today: 0, ThisWeek: 5, ThisMonth: 28, CannotTell: 14, Words: 3, Near: 28, Routine: 42},
		Score: ScoreRules{
			PointsAtUpper: 10, MostPoints: 60,
			Above7_8: ScoreNorm{0, 17.1},
			Above10:  ScoreNorm{0, 2},
			Mean:     ScoreNorm{5.5, 6.6},
			PerMatch: 10, PerLowPct: 2, Severe: 30,
		},
		Contact: ContactRules{Attempts: 3},
	}
}
