package wear

import (
	"slices"
	"strings"
)

// Reason is why a wear may not be called well, and what would change that.
type Reason struct {
	Code string `json:"code"` // see the Reason constants
	Text string `json:"text"` // one sentence
	ToDo string `json:"to_do"`
}

// Codes of reasons.
const (
	ReasonNoData  = "no_data"
	ReasonFlagged = "flagged"
	ReasonDoubt   = "low_confidence"
	ReasonUnread  = "unread_words"
	ReasonUnasked = "not_asked"
	ReasonAge     = "age_unknown"
	ReasonNear    = "near_limit"
	ReasonSymptom = "symptom"
	ReasonDips    = "dips_not_asked"
	ReasonShort   = "provisional"
	ReasonWaiting = "file_waits"
	ReasonRecipe  = "recipe_withdrawn"
	ReasonRefused = "file_refused"
	ReasonAnew    = "judged_anew"
	ReasonFirst   = "other_wear_first"
	ReasonOther   = "other_wear"
	ReasonAwaited = "awaited"
)

// MayReassure reports whether anybody may be told that all is well with a wear,
// by whatever route, and all that stands against it: a held file that may change
// it, a recipe that was withdrawn, a file that was refused since, a protocol it was
// not judged by yet, another wear of the patient, a result that is awaited ([Around]),
// a flag, doubt, words that nobody has read, a record that nobody has asked about, a
// limit that is near. It is the one place that decides; a nil report gives no.
func MayReassure(r *Report) (ok bool, why []Reason) {
	if r == nil || r.Believed == 0 || !slices.ContainsFunc(r.Days, func(d Day) bool { return d.Usable }) {
		return false, []Reason{{ReasonNoData, "There is no usable day to judge by.", "Ask for another wear."}}
	}
	add := func(code, text, toDo string) { why = append(why, Reason{code, text, toDo}) }
	for _, x := range r.Around.against(r.Priority.Tier) {
		add(x.Code, x.Text, x.ToDo)
	}
	for _, f := range r.Flags {
		if f.Code != FlagUnread { // said below, with what to do
			add(ReasonFlagged, f.Text, "Follow it up, and record what came of it.")
		}
	}
	if r.Confidence == "low" && len(r.Flags) == 0 {
		add(ReasonDoubt, "Confidence in the record is low.", "Ask for another wear.")
	}
	if n := r.Unread; n > 0 {
		add(ReasonUnread, countWords(n, "text")+" of the wearer or of a call "+areOrIs(n)+" not read yet.", "Read the words: one key each.")
	}
	if r.AskedOn == "" {
		add(ReasonUnasked, "Nobody has asked about medicines, pregnancy and surgery: nothing on record is not the same as asked, none.", "Ask, and record the answer with its date.")
	}
	if slices.ContainsFunc(r.Words, func(w Words) bool { return w.ReadAs == ReadSymptom || w.ReadAs == ReadThirst || w.ReadAs == ReadSevere }) {
		add(ReasonSymptom, "A symptom is written down.", "Ask about it, and record what came of it.")
	}
	if n := r.unaskedDips(); n > 0 {
		add(ReasonDips, countWords(n, "dip")+" below 3.9 that nobody has asked about.", "Ask on a call what was felt.")
	}
	for _, q := range r.Quality {
		if q.Code == "provisional" {
			add(ReasonShort, q.Text, "Say that it is provisional, or ask for another wear.")
		}
	}
	if r.Age < 0 {
		add(ReasonAge, "The age is not known, and the limits are those of adults.", "Add the date of birth to the register.")
	}
	for _, n := range r.Near {
		toDo := "Send the letter for a wear near a limit, and decide when to look again."
		if len(r.Flags) > 0 { // no letter comforts beside a flag
			toDo = "See to what is flagged first."
		}
		add(ReasonNear, n.Text, toDo)
	}
	return len(why) == 0, why
}

// against is what stands around a wear of this tier. The more pressing of two
// wears is answered first, so that no two keep each other waiting.
func (a *Around) against(tier Tier) (why []Reason) {
	if a.Waiting > 0 {
		why = append(why, Reason{ReasonWaiting, "A file that may change this waits for an answer.", "Answer it on the page Files."})
	}
	if a.InDoubt {
		why = append(why, Reason{ReasonRecipe, "A file of this wear was read by a recipe that was withdrawn since.", "Have it read again on the page of the recipe."})
	}
	if a.Refused {
		why = append(why, Reason{ReasonRefused, "A file of this wear was refused when it was read again, so what it says is not borne out.", "Take the answers about the file back on the page Files, or record another outcome."})
	}
	if a.Anew {
		why = append(why, Reason{ReasonAnew, "The protocol in force, or the program, is another than this was judged by, and it waits to be judged anew.", "Wait: that happens by itself. Load the page again in a minute."})
	}
	first := func(o OtherWear) bool { return o.Unread > 0 || o.Tier.Rank() < tier.Rank() }
	if i := slices.IndexFunc(a.Others, first); i >= 0 {
		o := a.Others[i]
		text := "Another wear of this patient is on the round, under “" + o.Tier.Words() + "”."
		if o.Unread > 0 {
			text = "Another wear of this patient is on the round, under “" + o.Tier.Words() + "”, with words that nobody has read."
		}
		why = append(why, Reason{ReasonFirst, text, "See to that one first, and record its outcome."})
	} else if len(a.Others) > 0 {
		why = append(why, Reason{ReasonOther, "Another wear of this patient is on the round too, under “" + a.Others[0].Tier.Words() + "”.", "See to that one too."})
	}
	if len(a.Awaited) > 0 {
		why = append(why, Reason{ReasonAwaited, "About this patient something is still awaited: " + strings.Join(a.Awaited, ", ") + ".", "See to it on the page Recalls first."})
	}
	return why
}

// unaskedDips counts the dips below 3.9 at which nobody has asked what was felt,
// and beside which nothing is written down: that is flagged.
func (r *Report) unaskedDips() int {
	n := 0
	for _, e := range r.Episodes {
		if e.Kind == EpisodeBelow3_9 && !e.Asked && !slices.ContainsFunc(r.Matches, func(m Match) bool { return m.Episode == e.Number }) {
			n++
		}
	}
	return n
}
