package wear

import (
	"slices"
	"strconv"
	"strings"
)

// The flags about words: severe ones, and those that nobody has read.

// severe flags that somebody needed help or was not themselves: as a person read
// it, as it was ticked on a call, or as unread words have it. It has no glucose
// limit and no time window: symptoms override the sensor, and what lies behind
// it need not be glucose.
func (j *judge) severe() (Flag, bool) {
	f := Flag{
		Tier:     j.in.Protocol.Tier.SevereSymptom,
		Evidence: "One is enough, whatever the glucose was. Speak with the person now, and with a clinician today. If it is going on, it is an emergency.",
	}
	var texts []string
	known := len(j.r.RedFlags) > 0
	for _, x := range j.r.RedFlags {
		texts = append(texts, "on a call: "+strings.ToLower(x.Text[:1])+x.Text[1:])
	}
	for _, x := range j.said {
		if x.severe {
			text := "“" + x.text + "”" + j.when(x)
			if x.unread {
				text += " (not read by a person yet)"
			}
			known = known || !x.unread
			texts = append(texts, text)
		}
	}
	if len(texts) == 0 {
		return f, false
	}
	f.Text = "A severe symptom is written down: " + someOf(texts) + "."
	if !known { // a list of words knows no meaning
		f.Text = "What is written down may say something severe: " + someOf(texts) + "."
		f.Evidence = "Read it now. If it does, one is enough, whatever the glucose was: " + lowerFirst(strings.TrimPrefix(f.Evidence, "One is enough, whatever the glucose was. "))
	}
	return f, true
}

// severeFinding is the headline of a severe symptom, with its first words.
func (j *judge) severeFinding() string {
	s := "A severe symptom is written down"
	for _, x := range j.said {
		if x.severe && x.unread && len(j.r.RedFlags) == 0 && !slices.ContainsFunc(j.said, func(y saying) bool { return y.severe && !y.unread }) {
			return "Words may say something severe, read them now: “" + x.text + "”; " + j.timeAbove()
		}
	}
	return s + "; " + j.timeAbove()
}

// namedTexts is how many texts a sentence names.
const namedTexts = 3

// someOf names the first of some texts.
func someOf(texts []string) string { return someOfMany(texts, len(texts)) }

// someOfMany names the first of so many texts, of which the first at least are given.
func someOfMany(texts []string, many int) string {
	if n := many - namedTexts; n > 0 {
		return listed(append(slices.Clone(texts[:namedTexts]), strconv.Itoa(n)+" more"))
	}
	return listed(texts)
}

// unread flags words that wait to be read.
func (j *judge) unread() (Flag, bool) {
	var texts []string // the first, for a sentence names no more
	for i := 0; i < len(j.r.Words) && len(texts) < namedTexts; i++ {
		w := &j.r.Words[i]
		if w.ReadAs != Unread {
			continue
		}
		text := "“" + w.Text + "”"
		if w.Text == "" {
			text = "a " + w.Kind + " without words"
		}
		texts = append(texts, text)
	}
	return Flag{
		Tier:     j.in.Protocol.Tier.WordsUnread,
		Text:     plural(j.r.Unread, "text") + " " + areOrIs(j.r.Unread) + " not read by a person yet: " + someOfMany(texts, j.r.Unread) + ".",
		Evidence: "What nobody has read may be anything. Reading takes one key each.",
	}, j.r.Unread > 0
}
