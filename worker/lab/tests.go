package lab

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// loinc are the tests that are kept, by LOINC code. A code is no witness for the
// unit. Names as published at loinc.org; those marked M are from memory, and the
// check digit of all was tried. An untimed glucose counts as one at random.
var loinc = map[string]string{
	"59261-8": "hba1c", "4548-4": "hba1c", "17856-6": "hba1c", // the last: M
	"14771-0": fasting, "77145-1": fasting, "1558-6": fasting, "76629-5": fasting, // all but the second: M
	"14749-6": random, "2345-7": random, "2339-0": random, "15074-8": random, // the last two: M
	"14995-5": "ogtt_2h", "1518-0": "ogtt_2h", // M
	"20448-7": insulin, "14796-7": insulin, // M
	"1986-9":  "c_peptide",                            // M
	"14647-2": "cholesterol", "2093-3": "cholesterol", // M, as are all below
	"14646-4": "hdl", "2085-9": "hdl",
	"39469-2": "ldl", "13457-7": "ldl", "69419-0": "ldl", "18262-6": "ldl", "22748-8": "ldl", "2089-1": "ldl",
	"70204-3": "non_hdl", "43396-1": "non_hdl",
	"14927-8": "triglycerides", "2571-8": "triglycerides",
}

// byMass and bySubstance are the codes whose names say mass or substance per
// volume. A unit of the other kind is asked about: one of the two is wrong. The
// codes of HbA1c are no witnesses.
var (
	byMass      = strings.Fields("1558-6 2345-7 2339-0 1518-0 1986-9 2093-3 2085-9 13457-7 18262-6 2089-1 43396-1 2571-8")
	bySubstance = strings.Fields("14771-0 77145-1 76629-5 14749-6 15074-8 14995-5 14796-7 14647-2 14646-4 39469-2 69419-0 22748-8 70204-3 14927-8")
	massUnits   = []string{"mg/dL", "ng/mL", "ug/L"}
)

// contradicts reports whether a unit cannot be the one that a code's name says.
func contradicts(code, unit string) bool {
	mass := slices.Contains(massUnits, unit)
	return mass && slices.Contains(bySubstance, code) || !mass && slices.Contains(byMass, code)
}

const (
	fasting = "fasting_glucose"
	random  = "random_glucose"
	insulin = "insulin_untimed" // not said to be fasting
)

// kinds are the kinds that somebody may say a local test is, with words.
var kinds = []struct{ kind, words string }{
	{"hba1c", "HbA1c"}, {fasting, "Fasting glucose"}, {random, "Glucose, not fasting"}, {"ogtt_2h", "Glucose two hours after a glucose drink"},
	{"insulin", "Fasting insulin"}, {insulin, "Insulin, not said to be fasting"}, {"c_peptide", "C-peptide"}, {"cholesterol", "Total cholesterol"}, {"hdl", "HDL cholesterol"},
	{"ldl", "LDL cholesterol"}, {"non_hdl", "Non-HDL cholesterol"}, {"triglycerides", "Triglycerides"},
}

var (
	glucoseUnits = []string{"mmol/L", "mg/dL"}
	insulinUnits = []string{"mU/L", "pmol/L"}
	lipidUnits   = []string{"mmol/L", "mg/dL"}
)

// unitsOf are the units that a kind is reported in.
var unitsOf = map[string][]string{
	"hba1c": {"mmol/mol", "%"}, fasting: glucoseUnits, random: glucoseUnits, "ogtt_2h": glucoseUnits,
	"insulin": insulinUnits, insulin: insulinUnits, "c_peptide": {"nmol/L", "pmol/L", "ng/mL", "ug/L"},
	"cholesterol": lipidUnits, "hdl": lipidUnits, "ldl": lipidUnits, "non_hdl": lipidUnits, "triglycerides": lipidUnits,
}

// spellings are other ways to write a unit, of the same size: UCUM's and those
// in common use.
var spellings = map[string]string{
	"mmol/mol{hb}": "mmol/mol", "mmol/mol hb": "mmol/mol", "mmol/molhb": "mmol/mol", "%{hb}": "%", "%{hba1c}": "%", "% hb": "%", "percent": "%",
	"m[iu]/l": "mU/L", "miu/l": "mU/L", "u[iu]/ml": "mU/L", "uiu/ml": "mU/L", "uu/ml": "mU/L", "m[u]/l": "mU/L",
	"ug/l": "ug/L", "mcg/l": "ug/L",
}

// unitOf is a unit as it is kept, or "" for one that no test here is reported in.
func unitOf(sent string) string {
	u := strings.ToLower(strings.NewReplacer("µ", "u", "μ", "u").Replace(strings.Join(strings.Fields(sent), " ")))
	if s, ok := spellings[u]; ok {
		return s
	}
	for _, list := range unitsOf {
		for _, k := range list {
			if strings.EqualFold(k, u) {
				return k
			}
		}
	}
	return ""
}

// timed are words beside an untimed glucose that say it was none at random;
// mentions are words of a test that may be one of those that are kept. Both only
// raise a question.
var (
	timed    = regexp.MustCompile(`(?i)fast|f\.?b\.?g|n[üu]chtern|jeun|ayun|digiun|post|toleran|g\.?t\.?t|\bhours?\b|\b[12] ?h\b`)
	saysFast = regexp.MustCompile(`(?i)^\W*(insulin\W+fasting|fasting\W+insulin)\W*$`)
	mentions = regexp.MustCompile(`(?i)glu[ck]|a1c|insulin|pept|cholest|\b[lh]dl\b|triglyc|lipid|sugar`)
)

// kindOf tells which test an observation is, "" with the reason where it is none
// that is kept or where that is asked.
func (l *ledger) kindOf(f *found, name string) (kind, why string) {
	kind = loinc[f.loinc]
	about := f.text + " " + f.context
	switch {
	case kind == random && timed.MatchString(about):
		return l.told(f, name, "asked about: whether it was fasting", []string{fasting, random, "ogtt_2h"})
	case kind == insulin && saysFast.MatchString(f.text):
		return "insulin", ""
	case kind != "":
		return kind, ""
	case f.loinc != "" && !mentions.MatchString(f.text):
		return "", "a test that is not kept here"
	case f.unit != "" && !f.anyUnit():
		return "", "in a unit that no test kept here is reported in"
	case !f.number && f.status != Cancelled:
		return "", "words beside the results" // the caller puts them with the results
	}
	var offer []string
	for _, k := range kinds {
		if f.unit == "" || slices.Contains(unitsOf[k.kind], unitOf(f.unit)) {
			offer = append(offer, k.kind)
		}
	}
	return l.told(f, name, "asked about: which test it is", offer)
}

func (f *found) anyUnit() bool { return unitOf(f.unit) != "" }

// told asks which of some kinds a test is.
func (l *ledger) told(f *found, name, why string, offer []string) (kind, reason string) {
	var choices []wear.Choice
	for _, k := range kinds {
		if slices.Contains(offer, k.kind) {
			choices = append(choices, wear.Choice{Value: k.kind, Text: k.words, Effect: "its results in this file are kept as that"})
		}
	}
	choices = append(choices, wear.Choice{Value: aside, Text: "None of these", Effect: "its results in this file are left out"})
	code := "test:" + mark(f.loinc, f.local, f.text, f.context)
	switch a := l.ask(code, fmt.Sprintf("What is the laboratory’s test “%s” (%s)? Its value is %s.", clip(name), cmp.Or(f.loinc, f.local, "no code"), clip(f.value+" "+f.unit)), choices...); a {
	case "":
		return "", why
	case aside:
		return "", "none of the tests kept here, as somebody said"
	default:
		return a, ""
	}
}
