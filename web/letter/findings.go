package letter

import (
	"slices"
	"strconv"
	"strings"

	"wearround/worker/wear"
)

// lead is the finding that a letter is about: it gives the letter's one
// measurement, and what else was found is named without a number.
func (f Facts) lead() (wear.FlagKind, bool) {
	for _, x := range wear.Flags() {
		if x.Saw != nil && f.has(x.Code) {
			return x, true
		}
	}
	return wear.FlagKind{}, false
}

// near says which limit a wear is near.
func (f Facts) near() string {
	if len(f.Report.Near) == 0 {
		return ""
	}
	k, _ := wear.NearOf(f.Report.Near[0].Code)
	return k.Letter
}

// saw says what was seen, in counts, with one measurement at most. glucose is
// whose: "your glucose", or "glucose" in a letter to a colleague.
func (f Facts) saw(glucose string) string {
	all, usable, past10 := f.days()
	enough := "The sensor gave enough readings on " + of(usable, all) + "."
	x, found := f.lead()
	if !found {
		if past10 == 0 {
			return enough + " On none of them did " + glucose + " stay above 10 mmol/L by the sensor."
		}
		return enough + " On " + strconv.Itoa(past10) + " of them " + glucose + " was above 10 mmol/L for a time, which is within our limits."
	}
	s := enough + " " + x.Saw(f.Report, usable, glucose)
	for _, y := range wear.Flags() {
		switch {
		case y.Saw == nil || !f.has(y.Code) || x.Turn == wear.Neither || y.Turn == x.Turn:
		case y.Turn == wear.High:
			return s + " It was also high more often than our limits allow."
		case y.Turn == wear.Low:
			return s + " It also went low at times."
		}
	}
	return s
}

// ignored are the remarks on what was seen and is no reason for follow-up, as a
// patient reads them. Sources: see the remarks of package wear.
var ignored = map[string]string{
	"dip_without_symptom": "Small dips that you do not feel are common in healthy people.",
	"rise_under_10":       "Most people have a rise after meals that comes back by itself.",
	"above_10_seldom":     "Some healthy people have a short high after a large meal.",
}

// ignoredOrder is the order in which they are told; two are enough.
var ignoredOrder = []string{"dip_without_symptom", "rise_under_10", "above_10_seldom"}

// ignore says what the patient need not mind: only what the report itself says
// needs no follow-up.
func (f Facts) ignore() string {
	var out []string
	for _, code := range ignoredOrder {
		for _, r := range f.Report.NotFlagged {
			if r.Code == code && r.Reassures && len(out) < 2 {
				out = append(out, ignored[code])
			}
		}
	}
	return strings.Join(append(out, "A single high or low number says little. Sensor and blood can differ, most of all while glucose is changing."), " ")
}

// testWords are the tests as a patient is told of them, with what to mind. A
// fast of 8 hours is the definition in Diabetes Care 2025;48 Suppl 1:S27, DOI
// 10.2337/dc25-S002. The drink test wants at least 150 g of carbohydrate a day
// for three days before it (the same, since 2022): after low-carbohydrate eating
// it can come out falsely high (PMC8059359). A letter gives no grams to weigh.
var testWords = map[string]string{
	"hba1c":           "A blood test called HbA1c. You may eat before it.",
	"fasting_glucose": "A blood test for glucose in the morning. Eat nothing for 8 hours before it, and drink only water.",
	"ogtt_2h":         "A sugar drink test, which takes two hours. For three days before it, eat some bread, rice, pasta or fruit at every meal, even if you usually do not. Then eat nothing for 8 hours, and drink only water.",
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
	all, usable, _ := f.days()
	enough := "The sensor gave enough readings on only " + of(usable, all) + "."
	if f.has(wear.FlagSensorDoubt) || f.has(wear.FlagDoubted) {
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
