package letter

import (
	"slices"
	"strconv"
	"strings"

	"wearround/worker/wear"
)

// finding is what a flag is called in a letter. A letter speaks of the first
// that applies and gives its one measurement; the others it names without a
// number.
type finding struct {
	flag  string
	turn  turn
	saw   func(f Facts, usable int, glucose string) string
	means string
}

// turn is the way in which a finding goes.
type turn int

const (
	neither turn = iota
	high
	low
)

// findings are those that a letter can be about, the most pressing first. What
// each may mean is said as widely as the evidence goes and no wider.
var findings = []finding{
	{wear.FlagVeryHigh, high, sawVeryHigh, meansHigh},
	{wear.FlagLowMedicine, low, sawLowMedicine, meansLowMedicine},
	{wear.FlagVeryLow, low, sawVeryLow, meansDip},
	{wear.FlagDipSymptom, low, sawDip, meansDip},
	{wear.FlagAbove10, high, sawAbove10, meansHigh},
	{wear.FlagAbove7_8, high, sawAbove7_8, meansHigh},
	{wear.FlagSwingSymptom, high, sawSwing, meansSwing},
	{wear.FlagHighNights, high, sawHighNights, meansHigh},
	{wear.FlagSevere, neither, sawSevere, meansSevere},
	{wear.FlagOffPathway, neither, sawOffPathway, meansOffPathway},
	{wear.FlagRisk, neither, sawRisk, meansRisk},
}

const (
	meansHigh        = "This may be a sign that your body handles sugar less well than before. It may also come from an illness, stress, poor sleep, a medicine or the sensor itself. It is not a diagnosis. Blood tests tell us more."
	meansDip         = "This may be a sign that your glucose falls too far, for example after some meals. It may also come from the sensor, which can read too low. It is not a diagnosis. We need to know more before we can say."
	meansLowMedicine = "Some medicines can make glucose fall too far. It may also come from the sensor, which can read too low. It is not a diagnosis. Please do not change your medicine on your own: talk to us first."
	meansSwing       = "Such swings often mean little. They matter more if you felt unwell at the time. It is not a diagnosis. We would like to ask you what you felt."
	meansSevere      = "It need not come from glucose. It is not a diagnosis. We would like to hear what happened. If it comes back, call for help at once."
	meansRisk        = "A sensor can miss what blood tests find. It is not a diagnosis. Blood tests tell us more."
	meansOffPathway  = "The limits that we use were not made for you. So we would like to look at this with you in person."
)

func sawVeryHigh(f Facts, usable int, glucose string) string {
	_, _, _, past10 := f.days()
	if past10 == 0 {
		return sentenceCase(glucose) + " was far above 10 mmol/L at least once."
	}
	return "On " + of(past10, usable) + " " + glucose + " was above 10 mmol/L, at times far above."
}

func sawLowMedicine(f Facts, _ int, glucose string) string {
	return sentenceCase(wear.Times(f.dips())) + ", " + glucose + " went below 3.9 mmol/L. A medicine on record can lower glucose."
}

func sawDip(f Facts, _ int, glucose string) string {
	return sentenceCase(wear.Times(max(1, f.matched()))) + ", " + glucose + " went below 3.9 mmol/L close to a time when a symptom was written down."
}

func sawVeryLow(f Facts, usable int, glucose string) string {
	if f.matched() == 0 {
		return sentenceCase(glucose) + " was far below 3.9 mmol/L at least once."
	}
	return sawDip(f, usable, glucose)
}

func sawAbove10(f Facts, usable int, glucose string) string {
	_, _, _, past10 := f.days()
	if past10 == 0 {
		return sentenceCase(glucose) + " was above 10 mmol/L more than our limit allows."
	}
	return "On " + of(past10, usable) + " " + glucose + " was above 10 mmol/L for a time."
}

func sawAbove7_8(f Facts, usable int, glucose string) string {
	_, _, past7_8, _ := f.days()
	return "On " + of(past7_8, usable) + " " + glucose + " was above 7.8 mmol/L for a good part of the day."
}

func sawSwing(_ Facts, _ int, glucose string) string {
	return sentenceCase(glucose) + " rose above 10 mmol/L and soon after fell low, at least once."
}

func sawHighNights(_ Facts, _ int, glucose string) string {
	return sentenceCase(glucose) + " was high on more nights than our limit allows."
}

func sawSevere(Facts, int, string) string {
	return "A symptom was written down that we want to ask you about."
}

func sawRisk(_ Facts, _ int, glucose string) string {
	return sentenceCase(glucose) + " passed none of our limits. But something on the health record makes high glucose more likely."
}

func sawOffPathway(Facts, int, string) string {
	return "Something on the health record means that our usual limits do not fit."
}

// lead is the finding that a letter is about.
func (f Facts) lead() (finding, bool) {
	for _, x := range findings {
		if f.has(x.flag) {
			return x, true
		}
	}
	return finding{}, false
}

// saw says what was seen, in counts, with one measurement at most. glucose is
// whose: "your glucose", or "glucose" in a letter to a colleague.
func (f Facts) saw(glucose string) string {
	all, usable, _, past10 := f.days()
	enough := "The sensor gave enough readings on " + of(usable, all) + "."
	x, found := f.lead()
	if !found {
		if past10 == 0 {
			return enough + " On none of them did " + glucose + " stay above 10 mmol/L."
		}
		return enough + " On " + strconv.Itoa(past10) + " of them " + glucose + " was above 10 mmol/L for a time, which is within our limits."
	}
	s := enough + " " + x.saw(f, usable, glucose)
	for _, y := range findings {
		switch {
		case !f.has(y.flag) || x.turn == neither || y.turn == x.turn:
		case y.turn == high:
			return s + " It was also high more often than our limits allow."
		case y.turn == low:
			return s + " It also went low at times."
		}
	}
	return s
}

// ignored are the remarks on what was seen and is no reason for follow-up, as a
// patient reads them. Sources: see the remarks of package wear.
var ignored = map[string]string{
	"dip_without_symptom":   "Small dips that you do not feel are common in healthy people.",
	"pressure_dip":          "A sudden fall in the night that ends as fast is often from lying on the sensor.",
	"rise_under_10":         "Most people have a rise after meals that comes back by itself.",
	"exercise":              "Glucose often moves during exercise and for a while after it.",
	"morning_slightly_high": "In many people glucose rises a little before they wake.",
	"low_carbohydrate":      "If you eat few starchy foods, a slightly higher morning is to be expected.",
	"above_10_seldom":       "A short high after a large meal is common.",
}

// ignoredOrder is the order in which they are told; two are enough.
var ignoredOrder = []string{"pressure_dip", "dip_without_symptom", "rise_under_10", "exercise", "morning_slightly_high", "low_carbohydrate", "above_10_seldom"}

// highRemarks are not told beside a finding that glucose is high.
var highRemarks = []string{"rise_under_10", "above_10_seldom", "morning_slightly_high"}

// ignore says what the patient need not mind. A dip is not waved away where a
// dip is what the letter is about.
func (f Facts) ignore() string {
	x, found := f.lead()
	var out []string
	for _, code := range ignoredOrder {
		if found && (x.turn == low && code == "dip_without_symptom" || x.turn == high && slices.Contains(highRemarks, code)) {
			continue
		}
		for _, r := range f.Report.NotFlagged {
			if r.Code == code && len(out) < 2 {
				out = append(out, ignored[code])
			}
		}
	}
	return strings.Join(append(out, "A single high or low number says little. Sensor and blood can differ, most of all while glucose is changing."), " ")
}

// testWords are the tests as a patient is told of them, with what to mind. A
// fast of 8 hours is the definition in Diabetes Care 2025;48 Suppl 1:S27, DOI
// 10.2337/dc25-S002; eating as usual beforehand likewise.
var testWords = map[string]string{
	"hba1c":           "A blood test called HbA1c. You may eat before it.",
	"fasting_glucose": "A blood test for glucose in the morning. Eat nothing for 8 hours before it, and drink only water.",
	"ogtt_2h":         "A sugar drink test, which takes two hours. Eat as usual for three days before it. Then eat nothing for 8 hours, and drink only water.",
	"random_glucose":  "A blood test for glucose. You may eat before it.",
	"insulin":         "A blood test for insulin. Eat nothing for 8 hours before it, and drink only water.",
	"talk":            "A talk with us about what you felt. Bring your notes.",
}

// TestCodes lists the codes that [Facts.Tests] may hold, in the order in which
// a letter gives them.
func TestCodes() []string {
	return []string{"talk", "hba1c", "fasting_glucose", "ogtt_2h", "random_glucose", "insulin"}
}

// tests lists what is wanted.
func (f Facts) tests() string {
	var out []string
	for _, code := range TestCodes() {
		if slices.Contains(f.Tests, code) {
			out = append(out, "- "+testWords[code])
		}
	}
	return strings.Join(out, "\n")
}

// doubt says why a wear cannot be judged.
func (f Facts) doubt() string {
	all, usable, _, _ := f.days()
	enough := "The sensor gave enough readings on only " + of(usable, all) + "."
	if f.has(wear.FlagSensorDoubt) {
		return "Many of the readings do not look right, and we think the sensor is at fault. This is not your doing."
	}
	return enough + " That is too little for us to judge."
}

// of writes "11 of 13 days", or "1 of 1 day".
func of(n, all int) string {
	s := strconv.Itoa(n) + " of " + strconv.Itoa(all) + " day"
	if all != 1 {
		s += "s"
	}
	return s
}

func sentenceCase(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
