package web

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// WordsPage is where a person says what the words of a wear are: a text and a
// key each. Posts to its own address; see [form.ParseRead].
type WordsPage struct {
	Layout
	form.Form
	WearID  int64
	Patient form.Patient
	Report  *wear.Report
	Said    []Said // newest first
}

// Said is what somebody said that words are.
type Said struct {
	ID   int64
	Text string // of the words, or "" where they are gone
	As   string // in words
	By   string
	At   time.Time
}

func (WordsPage) view() (set, block string) { return "wordspage", "page" }

// WearAddress is the page of the wear.
func (p WordsPage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// Address is where the answers are sent.
func (p WordsPage) Address() string { return taskAddress(p.WearID, "words") }

// WordsItem is one text to be read.
type WordsItem struct {
	N int // place on the page, 1 first
	wear.Words
	Kind     string // in words
	When     string
	Glucose  string // "4.1 mmol/L", or "no reading then"
	Suggests string // "looks like severe: says “collapsed”", or ""
	Choices  []WordsChoice
}

// Field is the name of the field for what the text is.
func (w WordsItem) Field() string { return form.ReadField(w.Key, w.ReadAs) }

// WordsChoice is one thing that a text can be read as, with its key.
type WordsChoice struct {
	wear.ReadChoice
	Key    int
	Chosen bool
}

// Unread are the texts to be read one by one.
func (p WordsPage) Unread() []WordsItem {
	unread, _, _ := p.sorted()
	return unread
}

// Labels are plain labels of meals, exercise and sleep that nobody has read:
// they are read at one go.
func (p WordsPage) Labels() []WordsItem {
	_, labels, _ := p.sorted()
	return labels
}

// Done are the texts that were read.
func (p WordsPage) Done() []WordsItem {
	_, _, done := p.sorted()
	return done
}

// Plain reports whether words are the label of a meal, of exercise or of sleep
// in which no list of words finds anything else: such are read at one go.
func Plain(w wear.Words) bool {
	switch wear.EventKind(w.Kind) {
	case wear.Meal, wear.Exercise, wear.Sleep:
		return w.Suggestion == wear.ReadMeal || w.Suggestion == wear.ReadNothing || w.Suggestion == wear.Unread
	}
	return false
}

// sorted puts each text where it is read. Those read one by one are numbered in
// the order of the report, so that a form finds its texts again.
func (p WordsPage) sorted() (unread, labels, done []WordsItem) {
	if p.Report == nil {
		return nil, nil, nil
	}
	n := 0
	for _, w := range p.Report.Words {
		it := wordsItem(p.Layout, w)
		if w.ReadAs == wear.Unread && Plain(w) {
			labels = append(labels, it)
			continue
		}
		n++
		it.N, it.Choices = n, choicesOf(w.ReadAs, p.Value(it.Field()))
		if w.ReadAs == wear.Unread {
			unread = append(unread, it)
		} else {
			done = append(done, it)
		}
	}
	return unread, labels, done
}

// Meal is how labels are read at one go.
func (p WordsPage) Meal() WordsChoice {
	for _, c := range choicesOf(wear.Unread, "") {
		if c.As == wear.ReadMeal {
			return c
		}
	}
	return WordsChoice{}
}

func choicesOf(as wear.ReadAs, typed string) []WordsChoice {
	var out []WordsChoice
	for i, c := range wear.ReadChoices() {
		out = append(out, WordsChoice{c, i + 1, typed == string(c.As) || typed == "" && as == c.As})
	}
	return out
}

// wordsItem is a text with what stands beside it.
func wordsItem(l Layout, w wear.Words) WordsItem {
	it := WordsItem{Words: w, Kind: wordsKinds[w.Kind], Glucose: "no reading then"}
	if it.Kind == "" {
		it.Kind = w.Kind
	}
	if at, err := time.Parse(time.RFC3339, w.At); err == nil {
		it.When = l.When(at)
	}
	if w.GlucoseMmol.OK {
		it.Glucose = w.GlucoseMmol.Fixed(1) + " mmol/L"
	}
	if w.Suggestion != wear.Unread && w.Suggestion != wear.ReadNothing {
		it.Suggests = "Looks like: " + w.Suggestion.Words()
		if w.Why != "" {
			it.Suggests += " (" + w.Why + ")"
		}
	}
	return it
}

// wordsKinds say where words come from.
var wordsKinds = map[string]string{
	wear.WordsCall: "told on a call", wear.WordsStaff: "noted by the practice", string(wear.Symptom): "symptom", string(wear.Note): "note", string(wear.Undated): "in the file, no time given",
	string(wear.Meal): "meal", string(wear.Exercise): "exercise", string(wear.Sleep): "sleep", string(wear.Medicine): "medicine", string(wear.Fingerstick): "beside a fingerstick",
}

// Reads is what the text was read as, in words.
func (w WordsItem) Reads() string { return w.ReadAs.Words() }

// SaidWords is what somebody said of words, for lists of what was done.
func SaidWords(r *wear.Report, key string, as wear.ReadAs) (text, words string) {
	if i := slices.IndexFunc(r.Words, func(w wear.Words) bool { return w.Key == key }); i >= 0 {
		text = strings.TrimSpace(r.Words[i].Text)
	}
	return text, as.Words()
}

// Choices lists what words can be read as, with what follows.
func (p WordsPage) Choices() []WordsChoice { return choicesOf(wear.Unread, "") }

// TakeBack is the form that takes back what somebody said.
func (p WordsPage) TakeBack(s Said) TakeBack {
	return takeBack(p.Layout, p.Form, wearAddress(p.WearID, Window{}), form.Taken{What: form.TakeRead, ID: s.ID}, s.Text)
}

// mostTold is how many texts stand on top of a wear before the rest is folded.
const mostTold = 4

// pressingWords are what words may be, the most pressing first. Words that
// nobody has read and no list knows may be anything, so they stand before what
// a list takes for a medicine or a drink.
var pressingWords = []wear.ReadAs{wear.ReadSevere, wear.ReadSymptom, wear.ReadThirst, wear.Unread, wear.ReadMedicine, wear.ReadAlcohol, wear.ReadRelief}

// Told are the words of the wear for its page, as many as fit: the most
// pressing first by what they were read as or else may be, of two alike the one
// not read. The rest is on the page of the words.
func (p WearPage) Told() []WordsItem {
	var words []wear.Words
	for _, w := range p.Report.Words {
		if w.ReadAs == wear.Unread && !Plain(w) || slices.Contains(pressingWords, w.ReadAs) && w.ReadAs != wear.Unread {
			words = append(words, w)
		}
	}
	slices.SortStableFunc(words, func(a, b wear.Words) int {
		return cmp.Or(cmp.Compare(pressure(a), pressure(b)), cmp.Compare(min(1, len(a.ReadAs)), min(1, len(b.ReadAs))))
	})
	var out []WordsItem
	for _, w := range words[:min(mostTold, len(words))] {
		out = append(out, wordsItem(p.Layout, w))
	}
	return out
}

// pressure is the place of some words in [pressingWords].
func pressure(w wear.Words) int {
	if i := slices.Index(pressingWords, cmp.Or(w.ReadAs, w.Suggestion)); i >= 0 {
		return i
	}
	return len(pressingWords)
}

// WordsAddress is the page where the words of the wear are read.
func (p WearPage) WordsAddress() string { return taskAddress(p.WearID, "words") }

// WordsCount says how many texts there are and how many nobody has read.
func (p WearPage) WordsCount() string {
	s := count(len(p.Report.Words), "text")
	if n := p.Report.Unread; n > 0 {
		s += ", " + number(n) + " not read"
	}
	return s
}

// Urgent is what to do this minute where a severe symptom or a box of the call
// sheet stands on the wear, or "".
func (p WearPage) Urgent() string {
	r := p.Report
	if len(r.RedFlags) == 0 && !slices.ContainsFunc(r.Flags, func(f wear.Flag) bool { return f.Code == wear.FlagSevere }) {
		return ""
	}
	return wear.RedFlagKinds()[0].Do
}
