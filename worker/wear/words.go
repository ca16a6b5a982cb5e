package wear

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// Words are what the wearer or a caller wrote or said, kept as written. They
// are unread until a person has said what they are: no list of words decides
// that something is nothing. A wear with unread words cannot be told from one
// that needs somebody.
//
// The label of a meal, of exercise or of sleep is words too. Such labels repeat
// and are many, so those that say the same are one entry and are read together.
type Words struct {
	// Key names the words for as long as they are there: the same time, kind and
	// text give the same key. Labels that are read together share theirs.
	Key         string `json:"key"`
	Kind        string `json:"kind"`         // an [EventKind], or [WordsCall] or [WordsStaff]
	Text        string `json:"text"`         // as written; "" where something was ticked and no more
	At          string `json:"at"`           // RFC 3339 on the wearer's clock; of the first, where several are read together; "" where no time is given
	Times       int    `json:"times"`        // how often, where labels are read together
	GlucoseMmol Figure `json:"glucose_mmol"` // the sensor's nearest value then, believed or not; null without one within 20 min
	Suggestion  ReadAs `json:"suggestion"`   // what lists of words make of it; never a decision
	Why         string `json:"why,omitempty"`
	ReadAs      ReadAs `json:"read_as"` // what a person said it is; "" is unread
	ReadOn      string `json:"read_on,omitempty"`
}

// Kinds of words that are no event of the file.
const (
	WordsCall  = "call"  // said on the telephone
	WordsStaff = "staff" // written by somebody of the practice
)

// ReadAs is what a person said that words are.
type ReadAs string

// ReadChange is what a person says that words are, in the place of what they saw
// said of them.
type ReadChange struct{ Seen, As ReadAs }

// What words can be read as.
const (
	Unread       ReadAs = ""
	ReadNothing  ReadAs = "nothing"
	ReadSymptom  ReadAs = "symptom"
	ReadSevere   ReadAs = "severe"
	ReadThirst   ReadAs = "thirst"
	ReadRelief   ReadAs = "relief"
	ReadMedicine ReadAs = "medicine"
	ReadAlcohol  ReadAs = "alcohol"
	ReadMeal     ReadAs = "meal"
)

// Reading choices, in the order of their keys.
var readChoices = []ReadChoice{
	{ReadNothing, "nothing of concern", "read, and no concern"},
	{ReadSymptom, "a symptom", "shaky, sweaty, dizzy, unwell: it is held against the glucose at the time"},
	{ReadSevere, "severe", "fainted, confused, could not be woken, needed help: Today, whatever the glucose"},
	{ReadThirst, "thirst or weight loss", "thirst, passing much water, losing weight, blurred sight: go with high glucose"},
	{ReadRelief, "better after sugar", "the symptom passed after food or drink"},
	{ReadMedicine, "a medicine that can cause lows", "insulin, a sulfonylurea and the like: the wear is judged as if it were on record"},
	{ReadAlcohol, "alcohol", "it lowers glucose for many hours: a fall in the night after it is not put down to the sensor"},
	{ReadMeal, "food, drink or doings", "a meal, a drink, exercise, sleep"},
}

// ReadChoice is one thing that words can be read as.
type ReadChoice struct {
	As    ReadAs
	Words string // on the button
	Means string // what follows
}

// ReadChoices lists what words can be read as.
func ReadChoices() []ReadChoice { return slices.Clone(readChoices) }

// Known reports whether words can be read as a.
func (a ReadAs) Known() bool {
	return slices.ContainsFunc(readChoices, func(c ReadChoice) bool { return c.As == a })
}

// Words is what stands on the button, or the code where there is none.
func (a ReadAs) Words() string {
	for _, c := range readChoices {
		if c.As == a {
			return c.Words
		}
	}
	return string(a)
}

// WordsRead is what a person said that words are.
type WordsRead struct {
	Key string `json:"key"`
	As  ReadAs `json:"as"`
	On  int64  `json:"on"` // when, in seconds since 1970-01-01 UTC; of two about the same words the later holds
}

// NoteText is text about the wearer that is no event of the file: what was said on
// a call, what somebody of the practice wrote.
type NoteText struct {
	At   int64  // seconds since 1970-01-01 UTC
	Kind string // [WordsCall] or [WordsStaff]
	Text string
}

// RedFlag is an answer on the telephone that needs somebody this minute.
type RedFlag struct {
	Code string `json:"code"` // of [RedFlagKinds]
	At   int64  `json:"at"`   // when it was said, in seconds since 1970-01-01 UTC
}

// RedFlagKind is one box of the call sheet.
type RedFlagKind struct {
	Code  string
	Words string // the question's box
	Do    string // what to do this minute
}

// redFlagKinds are asked first on every call. Level 3 of Diabetes Care
// 2017;40:155 for the first four; drowsy or vomiting from Australian
// urgent-referral text; chest pain is common practice of any call.
var redFlagKinds = []RedFlagKind{
	{"fainted", "Fainted, collapsed or had a fit", doCall},
	{"confused", "Was confused or not themselves", doCall},
	{"not_woken", "Could not be woken", doCall},
	{"needed_help", "Needed somebody’s help", doCall},
	{"drowsy_vomiting", "Drowsy, or vomiting", doCall},
	{"chest_pain", "Chest pain", doCall},
}

const doCall = "If it is going on now: emergency care at once, and stay on the line. If it is over: speak with a clinician before this call ends."

// RedFlagKinds lists the boxes in the order in which they are asked.
func RedFlagKinds() []RedFlagKind { return slices.Clone(redFlagKinds) }

// RedFlagWords is a red flag in words, or "" for no such code.
func RedFlagWords(code string) string {
	for _, k := range redFlagKinds {
		if k.Code == code {
			return k.Words
		}
	}
	return ""
}

// together reports whether equal labels of a kind are read at once.
func together(kind EventKind) bool { return kind == Meal || kind == Exercise || kind == Sleep }

// gathered are the words of a wear.
type gathered struct {
	list   []Words
	texts  []*plain // of each
	places []int    // in the list, of each event and then of each note; -1 for one without words
}

// gather lists every text of the wear, whatever it is called, in order of time,
// with what people said of it.
func (t *trace) gather(in *Input) gathered {
	read := map[string]WordsRead{}
	for _, r := range in.Read {
		if old, ok := read[r.Key]; r.As.Known() && (!ok || r.On >= old.On) {
			read[r.Key] = r
		}
	}
	list, times, place := make([]Words, 0, len(in.Events)), make([]int64, 0, len(in.Events)), map[string]int{}
	texts := make([]*plain, 0, len(in.Events))
	var slab []plain // many at once are one thing to allocate
	add := func(at int64, kind, text string, shared bool) int {
		text = strings.TrimSpace(text)
		key := wordsKey(at, kind, text, shared)
		if i, known := place[key]; known {
			if shared {
				list[i].Times++
			}
			return i
		}
		place[key] = len(list)
		w := Words{Key: key, Kind: kind, Text: text, Times: 1}
		if kind != string(Undated) {
			w.GlucoseMmol = t.beside20(at)
			if at >= earliest && at < latest {
				w.At = clockTime(at, in.Zone)
			}
		}
		if len(slab) == 0 {
			slab = make([]plain, min(8, len(in.Events)+len(in.Notes)))
		}
		words := &slab[0]
		slab = slab[1:]
		words.set(text)
		w.Suggestion, w.Why = in.Protocol.Symptom.suggest(EventKind(kind), words)
		if r, ok := read[key]; ok {
			w.ReadAs = r.As
			if r.On >= earliest && r.On < latest {
				w.ReadOn = clockTime(r.On, in.Zone)[:len("2006-01-02")]
			}
		}
		list, times, texts = append(list, w), append(times, at), append(texts, words)
		return len(list) - 1
	}
	type label struct {
		kind EventKind
		text string
	}
	labels := map[label]int{} // of those that are read together: most come many times
	places := make([]int, 0, len(in.Events)+len(in.Notes))
	for _, e := range in.Events {
		i, shared := -1, together(e.Kind)
		if known, ok := labels[label{e.Kind, e.Label}]; ok {
			i = known
			list[i].Times++
		} else if e.Kind == Symptom || e.Kind == Medicine || strings.TrimSpace(e.Label) != "" {
			i = add(e.At, string(e.Kind), e.Label, shared)
			if shared {
				labels[label{e.Kind, e.Label}] = i
			}
		}
		places = append(places, i)
	}
	for _, n := range in.Notes {
		i := -1
		if strings.TrimSpace(n.Text) != "" {
			i = add(n.At, cmp.Or(n.Kind, WordsStaff), n.Text, false)
		}
		places = append(places, i)
	}
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(times[a], times[b]), cmp.Compare(list[a].Key, list[b].Key))
	})
	sorted := gathered{make([]Words, 0, len(list)), make([]*plain, 0, len(list)), places}
	moved := make([]int, len(list))
	for to, i := range order {
		sorted.list, sorted.texts = append(sorted.list, list[i]), append(sorted.texts, texts[i])
		moved[i] = to
	}
	for i, p := range places {
		if p >= 0 {
			places[i] = moved[p]
		}
	}
	return sorted
}

// beside20 is the sensor's value nearest to an instant, believed or not.
func (t *trace) beside20(at int64) (f Figure) {
	best := int64(20*60 + 1)
	for i := t.from(at - 20*60); i < len(t.r) && t.r[i].At <= at+20*60; i++ {
		if d := max(t.r[i].At-at, at-t.r[i].At); d < best {
			best, f = d, Of(t.mmol[i])
		}
	}
	return f
}

// wordsKey names words by time, kind and text; labels that are read together
// by kind and text alone, whatever their case.
func wordsKey(at int64, kind, text string, shared bool) string {
	if shared {
		return "all-" + sum64(kind, strings.ToLower(oneSpaced(text)))
	}
	return strconv.FormatInt(at, 10) + "-" + sum64(kind, text)
}

// oneSpaced is a text with one space between its words; most are so already.
func oneSpaced(text string) string {
	between := true
	for _, r := range text {
		space := unicode.IsSpace(r)
		if space && (between || r != ' ') {
			return strings.Join(strings.Fields(text), " ")
		}
		between = space
	}
	if between {
		return strings.TrimSpace(text)
	}
	return text
}

// sum64 is FNV-1a of texts kept apart: short, and the same for ever.
func sum64(texts ...string) string {
	h := uint64(14695981039346656037)
	for _, s := range texts {
		for i := range len(s) {
			h = (h ^ uint64(s[i])) * 1099511628211
		}
		h = (h ^ 0xff) * 1099511628211
	}
	return strconv.FormatUint(h, 36)
}
