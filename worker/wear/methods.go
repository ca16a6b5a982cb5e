package wear

import "slices"

// Method says how one thing in a report comes about, for the methods page and
// the command's help. Numbers that a practice may change are not repeated
// here: Settings names the group of the protocol that holds them.
type Method struct {
	Part       string `json:"part"` // see [MethodParts]
	Key        string `json:"key"`  // its key or code in the report
	Name       string `json:"name"`
	Definition string `json:"definition"`
	Formula    string `json:"formula,omitempty"`
	Unit       string `json:"unit,omitempty"`
	Source     string `json:"source"`
	Status     string `json:"status"` // as in [Setting]
	Settings   string `json:"settings,omitempty"`
}

// The parts of the work, in the order it is done.
const (
	PartBelieve = "Believe"
	PartMeasure = "Measure"
	PartExplain = "Explain"
	PartFlag    = "Flag"
	PartRank    = "Rank"
	PartCompare = "Compare"
)

// MethodParts lists the parts in the order of the work.
func MethodParts() []string {
	return []string{PartBelieve, PartMeasure, PartExplain, PartFlag, PartRank, PartCompare}
}

// Methods lists every definition and formula with its source and how sure it
// is, in the order of the work.
func Methods() []Method {
	return slices.Concat(believeMethods, measureMethods, explainMethods, flagMethods(), rankMethods, compareMethods)
}

const (
	consensus = "Diabetes Care 2017;40:1631 and 2019;42:1593"
	riskPaper = "Diabetes Care 1997;20:1655 (doi:10.2337/diacare.20.11.1655); constants from memory, derived again from its conditions"
)

var believeMethods = []Method{
	{PartBelieve, SuspectMarked, "Marked in the file", "The file itself marks the reading as in error.", "", "", "the file", isPublished, ""},
	{PartBelieve, SuspectWarmUp, "Warm-up", "The file itself marks the reading as taken while the sensor warmed up.", "", "", "the file", isPublished, ""},
	{PartBelieve, SuspectRange, "Outside what a sensor reports", "A value that no sensor can measure.", "value < least or value > greatest plausible", "mmol/L", judgement, proposal, "believe.lowest_plausible, believe.highest_plausible"},
	{PartBelieve, SuspectConflict, "Two values at once", "The file gives different values for one moment; none of them is used.", "", "", judgement, proposal, ""},
	{PartBelieve, SuspectClock, "Clock trouble", "Two series of readings lie over each other, as when a clock was set back: every step is shorter than the interval and every two make one. Many conflicts on end are the same trouble with both series on the same moments.", "t(i + 1) − t(i − 1) = interval ± 15 % for so many readings on end", "", judgement, proposal, "believe.clock_readings"},
	{PartBelieve, SuspectFlat, "Flat line", "One value on end for longer than living glucose keeps it (longer where values come in steps of 0.1 mmol/L), or next to no spread for two hours.", "all values equal; or SD < least", "min; mmol/L", judgement, proposal, "believe.flat"},
	{PartBelieve, SuspectSpike, "Spike", "One value that stands alone between neighbours that agree with each other: it leaves both faster than glucose can.", "min(|g − before|, |g − after|) > rate × step, and > step limit or |g − median of 4 neighbours| > limit", "mmol/L", judgement, proposal, "believe.spike_mmol, believe.step_mmol_per_min"},
	{PartBelieve, SuspectPressure, "Pressure dip", "At night: a sudden fall to below 3.9 or by a quarter, out of proportion to the sensor's own jitter, an equally sudden return to the level before, and no low fingerstick beside it. It is more like lying on the sensor than a low, not known to be: below 3.0 for 15 minutes or more, at length, on several nights, at an hour when many are awake, or too low for the sensor to say, it is near a limit, and a person settles it. Beside words, low blood or a medicine that causes lows it counts as a low all the same.", "fall ≥ max(least fall, ratio × median |second difference| of nights) within its time; rise likewise; medians of the half or the quarter hour on each side within the level limit", "mmol/L", "J Diabetes Sci Technol 2014;8:1091 (doi:10.1177/1932296814553267): detection in type 1, 88 % found, 1.7 % false; its settings are not given", proposal, "believe.pressure"},
	{PartBelieve, SuspectRate, "Impossible rate", "Glucose would have had to change faster than it can for 10 to 15 minutes on end.", "|g(t) − g(t − dt)| > rate × dt", "mmol/L per min", judgement, proposal, "believe.rate"},
	{PartBelieve, SuspectTail, "Failing sensor", "The last days lie far below the days when the sensor worked, at a level where nobody lives; or readings jump far more than usual; or most are missing. A rise is never marked, because illness and steroids raise glucose too.", "mean of 24 h < (1 − fall) × median; or < (1 − fall) × upper quartile and < least lived-in mean; or mean |second difference| > ratio × usual; or captured < least", "mmol/L; %", judgement, proposal, "believe.tail"},
	{PartBelieve, SuspectLowStart, "Low from the start", "Whole days from the first on with most readings below 3.9. True lows that are not felt look the same, so a symptom beside one counts.", "share below 3.9 of 24 h ≥ limit", "%", judgement, proposal, "believe.low_start"},
	{PartBelieve, SuspectPerson, "A person's decision", "A person decided to believe or not to believe a stretch; the measures without that decision are given too.", "", "", "the person named in the record", proposal, ""},
	{PartBelieve, "fingerstick", "Fingerstick that disagrees", "No believed reading from just before a fingerstick to the end of the delay after it agrees with it. Said, and enough of them put the sensor in doubt; nothing is corrected.", "|sensor − blood| > max(20 % of blood, 0.83 mmol/L)", "mmol/L", "ISO 15197:2003, made for meters; delay of sensors 4 to 10 min (Diabetes 2003;52:2790)", proposal, "believe.fingerstick"},
	{PartBelieve, "laboratory", "Laboratory value that disagrees", "A timed laboratory value differs from the sensor by more than a meter may: a clue that this sensor reads high or low. Nothing is corrected.", "|sensor − blood| > 15 % from 5.55 mmol/L, > 0.83 mmol/L below", "mmol/L", "ISO 15197:2013", isPublished, "believe.laboratory_pct"},
	{PartBelieve, "first_day", "First day", "Sensors are least accurate on the first day. Where leaving it out would move the share above 7.8, that is said; the day stays in.", "|share without − share with| > limit", "percentage points", "worse accuracy in the first 12 to 24 h is widely reported; size not verified", proposal, "wear.first_day"},
	{PartBelieve, "gaps", "Gap", "A step longer than two intervals. Gaps are never filled in; they end an episode and join nothing.", "step > 2 × interval", "min", judgement, proposal, "wear.gap_intervals"},
	{PartBelieve, "censored", "“Low” and “high”", "A word in place of a number lies beyond what the sensor can report: it counts past every limit on its side, so shares stay exact; means become bounds, and spread is not given where there are too many.", "", "", "no consensus rule found", proposal, "censored"},
	{PartBelieve, "interval_s", "Interval", "The middle step between readings, taken as 1, 5 or 15 min where within 15 %. Where a file changes from one to another, the longest is meant and each reading is weighted by the time it stands for.", "weight = min(time to the next reading ÷ interval, 1.5)", "s", judgement, proposal, "wear.mixed_pct"},
}

var measureMethods = []Method{
	{PartMeasure, "readings", "Readings", "Distinct readings on the clock; repeated rows count once.", "", "", consensus, isPublished, ""},
	{PartMeasure, "mean_mmol", "Mean", "Sum of the readings over their number.", "Σg ÷ n", "mmol/L", consensus, isPublished, ""},
	{PartMeasure, "median_mmol", "Median", "Half of the readings lie below it.", "Hyndman and Fan definition 7: linear between the order statistics around (n − 1)q", "mmol/L", "The American Statistician 1996;50:361", isPublished, ""},
	{PartMeasure, "min_mmol", "Lowest", "The lowest single reading.", "", "mmol/L", "common practice", isPublished, ""},
	{PartMeasure, "max_mmol", "Highest", "The highest single reading.", "", "mmol/L", "common practice", isPublished, ""},
	{PartMeasure, "above_7_8_pct", "Above 7.8", "Share of readings above 7.8 mmol/L (140 mg/dL), compared in the file's own unit before any rounding; one at the limit is not above it.", "100 × readings above ÷ readings", "%", consensus, isPublished, ""},
	{PartMeasure, "above_10_pct", "Above 10.0", "Share above 10.0 mmol/L (180 mg/dL).", "100 × readings above ÷ readings", "%", consensus, isPublished, ""},
	{PartMeasure, "above_13_9_pct", "Above 13.9", "Share above 13.9 mmol/L (250 mg/dL).", "100 × readings above ÷ readings", "%", consensus, isPublished, ""},
	{PartMeasure, "below_3_9_pct", "Below 3.9", "Share below 3.9 mmol/L (70 mg/dL).", "100 × readings below ÷ readings", "%", consensus, isPublished, ""},
	{PartMeasure, "below_3_0_pct", "Below 3.0", "Share below 3.0 mmol/L (54 mg/dL).", "100 × readings below ÷ readings", "%", consensus, isPublished, ""},
	{PartMeasure, "within_3_9_7_8_pct", "3.9 to 7.8", "Share from 3.9 to 7.8 mmol/L, both included.", "100 − above 7.8 − below 3.9", "%", consensus, isPublished, ""},
	{PartMeasure, "within_3_9_10_pct", "3.9 to 10.0", "Share from 3.9 to 10.0 mmol/L, both included.", "100 − above 10 − below 3.9", "%", consensus, isPublished, ""},
	{PartMeasure, "night_mean_mmol", "Night mean", "Mean of 00:00 to 06:00 by the wearer's clock.", "", "mmol/L", consensus, isPublished, ""},
	{PartMeasure, "day_mean_mmol", "Day mean", "Mean of 06:00 to 24:00.", "", "mmol/L", consensus, isPublished, ""},
	{PartMeasure, "night_above_7_8_pct", "Above 7.8 at night", "Share above 7.8 of 00:00 to 06:00.", "", "%", consensus, isPublished, ""},
	{PartMeasure, "day_above_7_8_pct", "Above 7.8 by day", "Share above 7.8 of 06:00 to 24:00.", "", "%", consensus, isPublished, ""},
	{PartMeasure, "sd_mmol", "SD", "Standard deviation of all readings pooled.", "√(Σ(g − mean)² ÷ (n − 1))", "mmol/L", consensus, isPublished, ""},
	{PartMeasure, "cv_pct", "CV", "Standard deviation over mean.", "100 × SD ÷ mean", "%", consensus, isPublished, ""},
	{PartMeasure, "mage_mmol", "MAGE", "Mean size of the moves between turning points that exceed one SD of the whole wear, in the direction of the first that does; a reversal of one SD or less belongs to the move around it. Methods differ: compare only with this one.", "", "mmol/L", "Diabetes 1970;19:644; the rule of direction from memory", fromMemory, ""},
	{PartMeasure, "modd_mmol", "MODD", "Mean difference from the reading 24 hours before.", "mean |g(t) − g(t − 24 h)|", "mmol/L", "Diabetologia 1972;8:342 (from memory)", fromMemory, ""},
	{PartMeasure, "mag_mmol_h", "MAG", "Mean change in an hour, up and down added.", "Σ|g(i) − g(i − 1)| ÷ hours", "mmol/L an hour", "Crit Care Med 2010;38:838 (from memory)", fromMemory, ""},
	{PartMeasure, "conga_1_mmol", "CONGA, 1 h", "Spread of the differences from the reading one hour before.", "SD of g(t) − g(t − 1 h)", "mmol/L", "Diabetes Technol Ther 2005;7:253 (doi:10.1089/dia.2005.7.253)", isPublished, ""},
	{PartMeasure, "lbgi", "LBGI", "Low blood glucose index: the risk of the low side, over all readings, in mg/dL.", "f = 1.509 × (ln(g)^1.084 − 5.381); mean of 10f² where f < 0, else 0", "", riskPaper, derived, ""},
	{PartMeasure, "hbgi", "HBGI", "High blood glucose index: the risk of the high side, over all readings, in mg/dL.", "as LBGI where f > 0", "", riskPaper, derived, ""},
	{PartMeasure, "adrr", "ADRR", "Average daily risk range: each day's largest risk on either side, added, and averaged over the days with three readings or more.", "mean over days of (max 10f² where f < 0 + max 10f² where f > 0)", "", "Diabetes Care 2006;29:2433 (from memory)", fromMemory, ""},
	{PartMeasure, "j_index", "J-index", "Mean and spread in one number.", "0.324 × (mean + SD)²", "", "Horm Metab Res 1995;27:41 (from memory)", fromMemory, ""},
	{PartMeasure, "grade", "GRADE", "Median of a score for each reading, at most 50.", "425 × (log10 log10 g + 0.16)², g in mmol/L", "", "Diabet Med 2007;24:753, as in Diabetes Technol Ther 2011;13:921; the cap from memory", isPublished, ""},
	{PartMeasure, "gvp_pct", "GVP", "How much longer the trace is than a flat one.", "100 × (Σ√(dt² + dg²) ÷ Σdt − 1), min and mg/dL", "%", "Diabetes Technol Ther 2018;20:6 (doi:10.1089/dia.2017.0187); units from memory", fromMemory, ""},
	{PartMeasure, "m_value", "M-value", "Mean cubed distance from 120 mg/dL on a logarithmic scale.", "mean |10 log10(g ÷ 120)|³", "", "Acta Med Scand 1965;177:95 (from memory)", fromMemory, ""},
	{PartMeasure, "lability", "Lability index", "Squared changes from one hour to the next, a week. Made for four weeks of meter records, hours apart; so a sensor is read by the hour, from every minute at which the hours can begin.", "mean of (g(t) − g(t − 1 h))² × 168", "(mmol/L)² an hour and week", "Diabetes 2004;53:955 (from memory)", fromMemory, ""},
	{PartMeasure, "auc_above_7_8_mmol_h_day", "Area above 7.8", "Area between the trace and 7.8, where above, a day.", "trapezoids with crossing triangles", "mmol/L × h a day", consensus, isPublished, ""},
	{PartMeasure, "gmi_pct", "GMI", "Glucose management indicator. It was made from people with diabetes, is not an HbA1c, and healthy means read as prediabetes on it: given only where the protocol asks for it.", "3.31 + 0.02392 × mean in mg/dL", "%", "Diabetes Care 2018;41:2275 (doi:10.2337/dc18-1581)", isPublished, "measure.gmi"},
	{PartMeasure, "uncertainty", "Uncertainty", "The least and greatest that a share or the mean comes to when every day in turn is left out.", "min and max over days of the figure without that day", "%; mmol/L", "leave-one-out, common practice", isPublished, ""},
}

var explainMethods = []Method{
	{PartExplain, "episodes", "Episode", "Begins when consecutive believed readings past a limit cover 15 minutes, ends when consecutive readings back on the safe side do, timed at the first of those. Each reading stands for one interval and two are always needed.", "", "min", "Diabetes Care 2017;40:1631; ends from memory of Lancet Diabetes Endocrinol 2023;11:42 (doi:10.1016/S2213-8587(22)00319-9)", fromMemory, "episode"},
	{PartExplain, "baseline_mmol", "Meal: baseline", "Mean of the half hour before the meal.", "", "mmol/L", "Nat Metab 2021 (doi:10.1038/s42255-021-00383-x)", isPublished, "meal.baseline"},
	{PartExplain, "rise_mmol", "Meal: peak, rise, time to peak", "Highest believed reading in the two hours after, less the baseline, and when it came. Not judged where another meal, a gap or too few readings lie in the way.", "peak − baseline", "mmol/L; min", "J Diabetes Sci Technol 2007;1:695 for everyday values", isPublished, "meal"},
	{PartExplain, "iauc_2h_mmol_min", "Meal: area", "Incremental area above the baseline over two and over three hours by trapezoids; area below is left out, crossings count as triangles.", "Σ positive part of (g − baseline) × dt", "mmol/L × min", "Br J Nutr 2004;91:295 (doi:10.1079/bjn20031054)", isPublished, "meal.window_minutes, meal.long_minutes"},
	{PartExplain, "return_min", "Meal: return", "First of two readings on end after the peak that are back within the tolerance of the baseline, within three hours.", "g ≤ baseline + tolerance", "min", judgement, proposal, "meal.return"},
	{PartExplain, "meal_groups", "Like meals", "Meals of the same name, whatever the order of their items. Averaged and compared from three each; what was eaten in the hour before belongs to the name. A difference counts beyond two standard errors.", "|Δ| > 2 × √(s₁² ÷ n₁ + s₂² ÷ n₂)", "mmol/L", "the same meal repeats poorly, ICC 0.14 to 0.31 (pmc.ncbi.nlm.nih.gov/articles/PMC10371100)", proposal, "meal.like_meals"},
	{PartExplain, "matches", "Dip with a symptom", "An episode below 3.9 with a symptom, or with words that nobody has read, within 20 minutes of it. Blood glucose at the time and relief are kept as facts of their own, and a sensor never fills in the first.", "", "", "triad: J Clin Endocrinol Metab 2009;94:709 (doi:10.1210/jc.2008-1410), a guideline that its society lists as retired; the window is a proposal", proposal, "symptom"},
	{PartExplain, "timing", "Timing of a dip", "After a meal from two to five hours after one (sooner after bariatric surgery); fasting only after five hours in a day with a complete log; else unknown, because a missing log is not a fast.", "", "", "J Pers Med 2021;11:276; the bounds differ between authors", proposal, "symptom.soon_minutes, symptom.later_hours"},
	{PartExplain, "swings", "Swing", "A steep rise to a peak above 10 and a dip below 3.9 that begins within hours of its end.", "", "mmol/L", judgement, proposal, "flag.swing"},
	{PartExplain, "nights", "Dawn rise", "The quarter hour before the first logged intake (06:00 to 07:00 without one) less the lowest running median of 00:00 to 06:00. A night with food, too few readings, a low or a pressure dip does not count; the median needs five nights.", "morning − nadir", "mmol/L", "Diabetes Care 2013;36:4057 (doi:10.2337/dc12-2127); no consensus", isPublished, "night"},
	{PartExplain, "mornings", "Fasting values", "The quarter hour before breakfast where intake was logged and none for eight hours.", "", "mmol/L", "ADA Standards of Care 2025 (doi:10.2337/dc25-S002) for the eight hours", isPublished, "night.fasting_hours"},
	{PartExplain, "exercise", "Exercise", "Mean of the half hour before a logged bout; lowest and highest in it and in the two hours after.", "", "mmol/L", judgement, proposal, "exercise"},
	{PartExplain, "labs", "Laboratory results", "Read by published bands in the unit they were reported in, never converted or rounded first.", "", "", "ADA Standards of Care 2025; WHO/IDF 2006; Australian text; NICE PH38 (from memory); in pregnancy Med J Aust 2025;223:161 (doi:10.5694/mja2.52696)", isPublished, "risk.criteria"},
	{PartExplain, "homa_ir", "HOMA-IR", "Resistance to insulin from fasting laboratory values drawn within a day. No cut-off is agreed and assays differ.", "glucose in mmol/L × insulin in mU/L ÷ 22.5", "", "Diabetologia 1985;28:412 (from memory)", fromMemory, "risk.homa_ir"},
	{PartExplain, "context_rules", "Context", "Age, pregnancy, medicines, surgery, diet, shift work and risk factors on record change which rules apply; each change is said in the report. Sex changes none: no published limit by sex was found.", "", "", "J Clin Endocrinol Metab 2009;94:709; Med J Aust 2025;223:161; the rest common practice", proposal, ""},
}

// flagMethods are those of the table of flags.
func flagMethods() []Method {
	out := make([]Method, 0, len(flagKinds))
	for _, k := range flagKinds {
		out = append(out, Method{Part: PartFlag, Key: k.Code, Name: k.Name, Definition: k.Definition, Source: k.Source, Status: k.Standing, Settings: k.Settings})
	}
	return out
}

var rankMethods = []Method{
	{PartRank, "tier", "Tier", "The most pressing tier of the wear's flags; Routine without one. Cannot tell stands before Routine.", "", "", triage, proposal, "tier, due"},
	{PartRank, "score", "Score", "A plain sum of named parts: time above 7.8, time above 10 and the mean, each none at the usual and ten points at the upper limit of normal; dips with a symptom; time below 3.9 on a glucose-lowering medicine. It orders wears within a tier and waiting time, never across tiers.", "Σ points; points = 10 × (value − usual) ÷ (upper − usual), at most the cap", "points", "scales from published norms: Diabetes Care 2009;32:1188 and J Clin Endocrinol Metab 2019;104:4356", proposal, "score"},
	{PartRank, "confidence", "Confidence", "High, some or low, by usable days, readings not believed and fingersticks. Doubt never lowers a place; it is said in words.", "", "", judgement, proposal, "flag.confidence_pct, wear.full_usable_days"},
}

var compareMethods = []Method{
	{PartCompare, "between_wears", "First and later wear", "A change of the mean or of a share counts where it is beyond expected variation; across sensor kinds it may be the sensor's, and that is said.", "|now − then| ≥ limit", "mmol/L; percentage points", "Sci Rep 2023;13:13987; doi:10.1093/clinchem/hvac192", proposal, "compare"},
	{PartCompare, "within_kind", "Percentile within a sensor kind", "The share of the practice's wears of the same sensor kind that lie below, equal ones half; only from enough wears. " + MixedKinds, "100 × (below + equal ÷ 2) ÷ wears", "%", "0.7 mmol/L root mean square between two kinds worn together by 172 people with type 2 (doi:10.1093/clinchem/hvac192); the 1.7 computed from two kinds on the same arms of 45 people of an open cohort", proposal, "compare.kind_wears"},
}
