package intake

import "wearround/worker/wear"

// ledger keeps every choice made about a file and every choice still open.
type ledger struct {
	answers   map[string]string
	decisions []wear.Decision
	questions []wear.Question
}

// Limits for a choice to be made without a person, as a share of the best
// possible score. Proposal.
const (
	scoreSure     = 0.98 // the answer must reach this
	scoreRunnerUp = 0.60 // and no other may pass this
)

// sure reports whether a choice may be made without a person.
func sure(best, runnerUp float64) bool { return best >= scoreSure && runnerUp <= scoreRunnerUp }

// note records a choice that was made.
func (l *ledger) note(code, answer, evidence, by string) {
	l.decisions = append(l.decisions, wear.Decision{Code: code, Answer: answer, Evidence: evidence, Margin: 1, By: by})
}

// ask gives the person's answer if there is one among the choices. Otherwise it
// leaves the question open and gives "".
func (l *ledger) ask(code, text string, choices ...wear.Choice) string {
	if given, ok := l.answers[code]; ok {
		for _, c := range choices {
			if c.Value == given {
				l.note(code, given, "a person answered: "+c.Text, "person")
				return given
			}
		}
	}
	for _, q := range l.questions {
		if q.Code == code {
			return ""
		}
	}
	l.questions = append(l.questions, wear.Question{Code: code, Text: text, Choices: choices})
	return ""
}
