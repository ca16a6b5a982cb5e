package web

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// OutcomePage takes the outcome of a wear. Posts to /wears/ID/outcome;
// [form.ParseOutcome] reads it.
type OutcomePage struct {
	Layout
	form.Form
	WearID     int64
	Patient    form.Patient
	Headline   string
	Tier       wear.Tier
	Version    int64
	Choices    []form.OutcomeChoice
	Attempts   []form.Attempt // to reach the patient, newest first
	Correcting *Recorded      // the outcome that this one corrects, or nil
	Unread     int            // texts that nobody has read: all is well cannot be said
}

// UnreadWords counts the texts that nobody has read.
func (p OutcomePage) UnreadWords() string { return count(p.Unread, "text") + " not read yet" }

// WordsAddress is the page where they are read.
func (p OutcomePage) WordsAddress() string { return taskAddress(p.WearID, "words") }

func (OutcomePage) view() (set, block string) { return "outcome", "page" }

// WearAddress is the page of the wear that the outcome is about.
func (p OutcomePage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// Address is where the outcome is sent.
func (p OutcomePage) Address() string { return taskAddress(p.WearID, "outcome") }

// Way is one outcome as the form offers it.
type Way struct {
	form.OutcomeChoice
	ID     string
	Chosen bool
	By     *form.Input // by what day something is to be back, or nil
	Reason *form.Input // nil where none can be given
}

// byWords ask for the day of a recall, by its kind.
var byWords = map[string]string{
	"result": "Result to be back by", "new_wear": "New wear to be in by", "review": "Look at it again on",
	"appointment": "Day of the appointment", "urgent": "Make sure by then that the patient was seen",
}

// Barred reports whether some outcome is not for this person to record.
func (p OutcomePage) Barred() bool {
	return slices.ContainsFunc(p.Choices, func(c form.OutcomeChoice) bool { return c.Refused != "" })
}

// Ways are the outcomes with the fields that each needs.
func (p OutcomePage) Ways() []Way {
	out := make([]Way, len(p.Choices))
	for i, c := range p.Choices {
		w := Way{OutcomeChoice: c, ID: "outcome", Chosen: p.Value("outcome") == c.Code}
		if i > 0 { // the first carries the id that an error points to
			w.ID += "-" + strconv.Itoa(i+1)
		}
		if c.Recall != "" {
			proposed := "value="
			if !c.RecallBy.IsZero() && !c.Optional {
				proposed += p.in(c.RecallBy).Format(time.DateOnly)
			}
			hint := ""
			if c.Optional {
				hint = "hint=May be left out"
				if !c.RecallBy.IsZero() {
					hint += "; " + p.in(c.RecallBy).Format("2 January 2006") + " is usual"
				}
			} else {
				hint = "hint=Proposed; change it where another day is right"
				if c.RecallBy.IsZero() {
					hint = "hint="
				}
			}
			by := p.Input("date", c.Code+"-by", cmp.Or(byWords[c.Recall], "To be back by"), proposed, hint)
			w.By = &by
		}
		label := "Note"
		if c.Asks != "" {
			label = c.Asks
		}
		reason := p.Input("textarea", c.Code+"-reason", label, "most="+strconv.Itoa(form.MostNote), "rows=2")
		w.Reason = &reason
		out[i] = w
	}
	return out
}
