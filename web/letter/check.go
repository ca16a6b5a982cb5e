package letter

import (
	"fmt"
	"regexp"
	"strings"
)

// banned is a way of saying what no letter may say.
type banned struct {
	pattern *regexp.Regexp
	unless  *regexp.Regexp // allowed in a sentence that has this, or nil
	why     string
}

// denied finds a sentence that says no.
var denied = regexp.MustCompile(`\b(no|not|cannot|never|nor|neither|without)\b|n[’']t\b`)

const (
	whyDiagnosis = "names an illness as found: a sensor does not diagnose, laboratory tests do"
	whyDose      = "speaks of a dose or of changing a medicine: that belongs in a consultation"
	whyComfort   = "gives comfort that the evidence does not carry"
)

// bans are matched against each sentence in lower case.
var bans = []banned{
	{regexp.MustCompile(`\bdiagnos`), denied, whyDiagnosis},
	{regexp.MustCompile(`\b(you|he|she|they|patient|who) (now |already |clearly |probably |may |might |could )*(have|has|had|suffers?|suffer from) (early |mild |type \d )*(pre-?)?diabetes\b`), nil, whyDiagnosis},
	{regexp.MustCompile(`\b(pre-?)?diabetic\b|\bpre-?diabetes\b|\binsulin resistan|\bhypoglyc|\bhyperglyc|\bmetabolic syndrome\b`), nil, whyDiagnosis},
	{regexp.MustCompile(`\b(you are|you have become|is|are) (now )?(ill|sick|diseased)\b`), nil, whyDiagnosis},
	{regexp.MustCompile(`\d ?(mg|mcg|µg|g|grams?|units?|ml|tablets?|capsules?|drops?)\b`), regexp.MustCompile(`\d ?mg/dl`), whyDose},
	{regexp.MustCompile(`\b(start|stop|double|halve|increase|reduce|lower|raise|skip|inject|change)\b[^.]*\b(medicines?|medication|tablets?|insulin|dose|doses)\b`), denied, whyDose},
	{regexp.MustCompile(`\b(dose|doses|dosage)\b`), nil, whyDose},
	{regexp.MustCompile(`\b(all clear|all is well|nothing (is )?wrong|no cause for|perfectly|completely|entirely|totally|guarantee|no risk|low risk|safe|healthy glucose|do not worry|don[’']t worry|no need to worry|nothing to worry|relax|rest assured|good news|fine)\b`), nil, whyComfort},
	{regexp.MustCompile(`\b(is|are|was|were|looks?|remains?|stayed|entirely|within) (quite |very )?normal\b|\bnormal (glucose|result|record|sugar|readings?|wear)\b|\bwithin the normal\b`), nil, whyComfort},
	{regexp.MustCompile(`\b(rules?|ruled|ruling) out\b`), denied, whyComfort},
	{regexp.MustCompile(`\byou (are|will be|will stay|stay|remain) (healthy|well|free)\b`), nil, whyComfort},
	{regexp.MustCompile(`\byou (do not|don[’']t|cannot|will not|won[’']t) (have|get|develop) (pre-?)?diabetes\b`), nil, whyComfort},
}

// measurement finds a glucose or a share with its unit.
var measurement = regexp.MustCompile(`\d+(?:[.,]\d+)?\s?(?:mmol/l|mg/dl|mmol/mol|%|percent|per cent)`)

// unfilled finds a field that was not filled.
var unfilled = regexp.MustCompile(`\{[^{}\n]*\}`)

// Check says, in plain sentences, what a letter of this kind may not say and
// this one says, or nil. It reads the text as it will be sent.
func Check(kind Kind, text string) []string {
	var out []string
	if m := unfilled.FindString(text); m != "" {
		out = append(out, "The field "+m+" is not one that a letter can fill.")
	}
	out = append(out, forbidden(text)...)
	if n := len(measurement.FindAllString(strings.ToLower(text), -1)); n > 1 && !kind.Sheet() {
		out = append(out, fmt.Sprintf("The letter gives %d measurements; one is enough, because more are hard to weigh.", n))
	}
	if strings.TrimSpace(text) == "" {
		out = append(out, "The letter is empty.")
	}
	return out
}

// forbidden says which sentences no words to a wearer may hold.
func forbidden(text string) []string {
	var out []string
	for _, s := range sentences(text) {
		low := strings.ToLower(s)
		for _, b := range bans {
			if b.pattern.MatchString(low) && (b.unless == nil || !b.unless.MatchString(low)) {
				out = append(out, fmt.Sprintf("“%s” %s. Write it otherwise.", s, b.why))
			}
		}
	}
	return out
}

// CheckTemplate is Check for a text whose fields are not filled yet.
func CheckTemplate(kind Kind, text string) []string {
	known := text
	for _, f := range fields {
		known = strings.ReplaceAll(known, "{"+f.Name+"}", "…")
	}
	return Check(kind, known)
}
