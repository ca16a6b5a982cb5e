package intake

import (
	"slices"
	"time"

	"wearround/worker/wear"
)

// ledger keeps every choice made about a file and every choice still open.
type ledger struct {
	zone        *time.Location // where the wearer's clock was
	told        bool           // by a person, of this very file
	answers     map[string]string
	recipe      map[string]string // remembered answers about the layout
	used        map[string]string // the answers that settled something
	recalled    bool              // one of them was remembered
	head        *sketch           // the first look at the text, if there was one
	decisions   []wear.Decision
	questions   []wear.Question
	account     accounts
	clocks      []int   // columns with date and clock that somebody was asked to choose from
	whole       region  // of the whole file's table
	given       int     // the glucose column that is already known, or -1
	loose       bool    // what is read now need not look like a sensor's
	top         *Result // of the whole file
	about       About
	beside      []aside
	holders     []string // names of what the table lies in, that may say something of it
	nameFate    part     // what those of them are that no reader knows
	packed      string   // the code in the name of the one file of an archive
	holdersTold bool     // what became of them is in the account
	label       string   // the line over what is read now, which somebody said names a person
	aside       bool     // somebody said of a question that no answer is true
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

// ask gives the answer among the choices that a person gave for this file, or
// earlier for its layout. Otherwise it leaves the question open and gives "".
func (l *ledger) ask(code, text string, choices ...wear.Choice) string {
	if given := l.answered(code, "a person answered: ", l.answers[code], choices); given != "" {
		return given
	}
	if Remembered(code) {
		if given := l.answered(code, "answered for an earlier file of this layout: ", l.recipe[code], choices); given != "" {
			l.recalled = true
			return given
		}
	}
	return l.open(code, text, choices)
}

// askOnce is [ledger.ask] for a choice that a remembered answer must not settle.
func (l *ledger) askOnce(code, text string, choices ...wear.Choice) string {
	if given := l.answered(code, "a person answered: ", l.answers[code], choices); given != "" {
		return given
	}
	return l.open(code, text, choices)
}

func (l *ledger) answered(code, how, given string, choices []wear.Choice) string {
	if given == noneOfThese.Value {
		l.note(code, given, how+noneOfThese.Text, "person")
		l.aside = true
		return given
	}
	for _, c := range choices {
		if given != "" && c.Value == given {
			if l.used == nil {
				l.used = make(map[string]string)
			}
			if _, known := l.used[code]; !known {
				l.note(code, given, how+c.Text, "person")
			}
			l.used[code] = given
			return given
		}
	}
	return ""
}

// noneOfThese can be answered to every question that has no such choice of its
// own.
var noneOfThese = wear.Choice{Value: "none", Text: "None of these, or not known", Effect: "the file is set aside; nothing of it is filed"}

// setAside refuses a file because of what somebody answered.
func setAside() *wear.Refusal {
	return refuse("set_aside", "Somebody answered that this file is not what it was taken for, so nothing of it is filed.",
		"The original is kept. Take the answer back if it was wrong, or export the readings in another form.")
}

// open leaves a question open, once.
func (l *ledger) open(code, text string, choices []wear.Choice) string {
	if !slices.ContainsFunc(choices, func(c wear.Choice) bool { return c.Value == "stop" || c.Value == "unknown" }) {
		choices = append(slices.Clip(choices), noneOfThese)
	}
	for _, q := range l.questions {
		if q.Code == code {
			return ""
		}
	}
	l.questions = append(l.questions, wear.Question{Code: code, Text: text, Choices: choices})
	return ""
}
