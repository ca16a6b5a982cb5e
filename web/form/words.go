package form

import (
	"regexp"
	"strings"
	"time"
)

// The roles a person at the practice may have.
const (
	RoleClinician = "clinician"
	RoleNurse     = "nurse"
	RoleAuditor   = "auditor"
	RoleLead      = "lead" // sets the protocol and the people
)

// RoleOrder are the roles in the order in which they are offered.
var RoleOrder = []string{RoleNurse, RoleClinician, RoleLead, RoleAuditor}

// RoleWords are the roles as people read them.
var RoleWords = map[string]string{RoleNurse: "nurse", RoleClinician: "clinician", RoleLead: "lead", RoleAuditor: "auditor"}

// roleMeans says what a role may do.
var roleMeans = map[string]string{
	RoleNurse:     "works through the round: claims, rings, records outcomes, sends letters",
	RoleClinician: "as a nurse, and closes what only a clinician may close",
	RoleLead:      "as a clinician, and sets the protocol, the letters and the people",
	RoleAuditor:   "sees totals and the log, no wears",
}

// meansOrder and meansWords are the ways to reach a patient.
var meansOrder = []string{"telephone", "message", "mail", "post", "in_person"}

// MeansWords are the ways to reach a patient.
var MeansWords = map[string]string{
	"telephone": "telephone", "message": "text message", "mail": "email", "post": "post", "in_person": "in person",
}

// testOrder and testWords are the laboratory tests.
var testOrder = []string{"hba1c", "fasting_glucose", "ogtt_2h", "random_glucose", "insulin", "insulin_untimed", "c_peptide", "cholesterol", "hdl", "ldl", "non_hdl", "triglycerides"}

// TestWords are the laboratory tests.
var TestWords = map[string]string{
	"hba1c": "HbA1c", "fasting_glucose": "fasting glucose", "ogtt_2h": "glucose 2 h after 75 g", "random_glucose": "random glucose", "insulin": "insulin, fasting",
	"insulin_untimed": "insulin, not said to be fasting", "c_peptide": "C-peptide", "cholesterol": "total cholesterol", "hdl": "HDL cholesterol", "ldl": "LDL cholesterol",
	"non_hdl": "non-HDL cholesterol", "triglycerides": "triglycerides",
}

// unitOrder are the units in which a result may be reported.
var unitOrder = []string{"mmol/mol", "%", "mmol/L", "mg/dL", "mU/L", "pmol/L", "nmol/L", "ng/mL", "ug/L"}

// RecallStates are the lists of recalls, as a filter names them.
var RecallStates = map[string]string{
	"overdue": "overdue", "untried": "overdue with no try yet", "all": "open or closed",
}

// RecallStateOrder is the order of those lists.
var RecallStateOrder = []string{"overdue", "untried", "all"}

// RecallWords are the kinds of recall.
var RecallWords = map[string]string{
	"result": "a laboratory result", "new_wear": "another wear", "review": "a review", "appointment": "an appointment", "urgent": "word that the patient was seen",
	"out": "the file of a sensor handed out", "decide": "a clinician’s decision on a result",
}

// OutcomeWords are the outcomes of a wear as a list names them.
var OutcomeWords = map[string]string{
	"told_well": "told all is well", "advice": "advice given", "tests_ordered": "tests ordered", "appointment": "appointment made",
	"urgent_contact": "urgent contact", "sensor_replaced": "sensor to be replaced", "wear_again": "wear again",
	"could_not_reach": "could not reach", "off_pathway": "off this pathway",
}

// WordsOf gives the words for a code, or the code itself where it is new.
func WordsOf(words map[string]string, code string) string {
	if w := words[code]; w != "" {
		return w
	}
	return code
}

// SentenceCase gives s a capital first letter.
func SentenceCase(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return string(s[0]-'a'+'A') + s[1:]
	}
	return s
}

// Sentence gives s a capital first letter, a full stop, and the dates and
// apostrophes of a printed text. What stands in quotation marks is somebody's own
// words and stays as written.
func Sentence(s string) string {
	if s == "" {
		return ""
	}
	var b strings.Builder
	for _, part := range strings.SplitAfter(SentenceCase(s), "”") {
		ours, theirs, quoted := strings.Cut(part, "“")
		b.WriteString(typeset(ours))
		if quoted {
			b.WriteString("“" + theirs)
		}
	}
	s = b.String()
	if !strings.ContainsAny(s[len(s)-1:], ".!?") {
		s += "."
	}
	return s
}

var (
	isoDates   = regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b`)
	apostrophe = regexp.MustCompile(`(\pL)'(\pL|\s|$)`)
)

// typeset writes dates as people do and apostrophes as printers do.
func typeset(s string) string {
	s = isoDates.ReplaceAllStringFunc(s, func(d string) string {
		t, err := time.Parse(time.DateOnly, d)
		if err != nil {
			return d
		}
		return t.Format("2 January 2006")
	})
	return apostrophe.ReplaceAllString(s, "$1’$2")
}
