package wear

import (
	"cmp"
	"slices"
	"strings"
)

// saying is words as the rules take them: as a person has read them, and until
// then as the most that they may be. One is at one moment: of labels that are
// read together each counts where it stands.
type saying struct {
	at    int64
	kind  EventKind
	text  string
	words *plain // the text as lists look through it

	unread  bool
	open    bool // unread, and of a kind that may be anything
	unknown bool // open, and no list knows a word of it: it may be the gravest thing
	told    bool // open, and says more than the word that a list knows: it may be graver
	symptom bool
	severe  bool
	thirst  bool // goes with high glucose
	brain   bool // the brain is short of glucose
	relief  bool
	blood   Reading // a meter's value that they name, unless a person read them as nothing or as food; no unit for none
	lowers  bool    // a medicine that can cause a low
	ketones float64 // mmol/L in blood that they name, unless a person read them as nothing; 0 for none
}

// sayings are the words of the wear as the rules take them, in the order of
// events and notes.
func sayings(in *Input, g gathered) []saying {
	out := make([]saying, 0, len(g.places))
	taken := make([]saying, len(g.list)) // what is said twice is read once
	read := make([]bool, len(g.list))
	add := func(i int, at int64, kind EventKind, shared bool) {
		if i < 0 || !shared && read[i] {
			return
		}
		if !read[i] {
			taken[i], read[i] = in.Protocol.Symptom.take(&g.list[i], g.texts[i], kind, shared), true
		}
		x := taken[i]
		x.at = at
		out = append(out, x)
	}
	for i, e := range in.Events {
		add(g.places[i], e.At, e.Kind, together(e.Kind))
	}
	for i, n := range in.Notes {
		add(g.places[len(in.Events)+i], n.At, EventKind(cmp.Or(n.Kind, WordsStaff)), false)
	}
	return out
}

// fewWords is how many words a text may have that a list understands by one of
// them: “very shaky before lunch” says little more than shaky (a proposal).
const fewWords = 4

// take reads one entry as the rules do.
func (s *SymptomRules) take(w *Words, text *plain, kind EventKind, shared bool) saying {
	x := saying{kind: kind, text: w.Text, words: text}
	has := func(list []string) bool { _, sure := text.find(list); return sure }
	if w.ReadAs != ReadNothing {
		x.ketones = ketonesIn(text)
		if w.ReadAs != ReadMeal {
			x.blood = bloodIn(text)
		}
	}
	if w.ReadAs != Unread {
		x.severe = w.ReadAs == ReadSevere
		x.symptom = x.severe || w.ReadAs == ReadSymptom || w.ReadAs == ReadThirst
		x.thirst = w.ReadAs == ReadThirst || x.symptom && has(s.HighWords)
		x.brain = x.severe || x.symptom && has(s.BrainWords)
		x.relief = w.ReadAs == ReadRelief || x.symptom && !x.severe && has(s.ReliefWords)
		x.lowers = w.ReadAs == ReadMedicine
		return x
	}
	x.unread, x.open, x.unknown = true, !shared, !shared && w.Why == ""
	x.severe = w.Suggestion == ReadSevere
	x.symptom = kind == Symptom || x.severe || w.Suggestion == ReadSymptom || w.Suggestion == ReadThirst
	x.thirst = has(s.HighWords)
	x.told = x.open && len(strings.Fields(w.Text)) > fewWords
	// "Could not think": a no before a word of the brain may be the symptom.
	word, _ := text.find(s.BrainWords)
	x.brain = x.severe || word != ""
	x.relief = !x.severe && has(s.ReliefWords)
	x.lowers = w.Suggestion == ReadMedicine
	return x
}

// momentary reports whether words belong to the moment that they stand at. What
// was said on a call is about some other time, and what states no time may be of any.
func (x saying) momentary() bool {
	return x.kind != WordsCall && x.kind != WordsStaff && x.kind != Undated
}

// nearBy are the symptoms of [from, to], and the unread words that may be one.
// What states no time may be of this one.
func nearBy(said []saying, from, to int64) (out []saying) {
	for _, x := range said {
		if (x.kind == Undated || x.at >= from && x.at <= to && x.momentary()) && (x.symptom || x.open && x.kind != Medicine) {
			out = append(out, x)
		}
	}
	return out
}

// lowers reports whether a medicine on record, or one that was written down,
// can itself cause a low.
func lowers(c Context, said []saying) bool {
	return c.HypoglycaemiaRisk() || slices.ContainsFunc(said, func(x saying) bool { return x.lowers })
}

// unreadMedicine is the first medicine that was written down and that nobody has
// read, "" for none.
func unreadMedicine(said []saying) string {
	for _, x := range said {
		if x.kind == Medicine && x.unread {
			return cmp.Or(x.text, "a medicine without words")
		}
	}
	return ""
}

// window is the time in which a symptom belongs to an episode.
func (s *SymptomRules) window(x span) (from, to int64) {
	return x.from - seconds(s.BeforeMinutes*60), x.to + seconds(s.AfterMinutes*60)
}
