package wear

import (
	"strings"
	"unicode/utf8"
)

// suggest says what lists of words make of a text of some kind, and by which
// word. It only helps whoever reads, and raises a wear that waits to be read: a
// text that no list knows is unread all the same. A no before the word, or word
// of somebody else, makes the suggestion less and leaves the need to read.
func (s *SymptomRules) suggest(kind EventKind, text *plain) (ReadAs, string) {
	switch word, sure := text.find(s.SevereWords); {
	case sure:
		return ReadSevere, word
	case word != "":
		return ReadSymptom, word
	}
	if word, sure := text.find(s.MedicineWords); sure || kind == Medicine && word != "" {
		return ReadMedicine, word
	}
	if word, sure := text.find(s.HighWords); sure {
		return ReadThirst, word
	}
	for _, list := range [][]string{s.BrainWords, s.LowWords} {
		if word, sure := text.find(list); sure || word != "" && kind != Meal {
			return ReadSymptom, word
		}
	}
	if word, sure := text.find(s.ReliefWords); sure {
		return ReadRelief, word
	}
	switch {
	case kind == Symptom:
		return ReadSymptom, ""
	case kind == Meal:
		return ReadMeal, ""
	}
	return Unread, ""
}

// plain is a text to look for words in, with the runs of three bytes that it
// holds: a word whose first three bytes are not among them is not in it. Nearly
// all words of the lists are passed over by that. What was found is kept: the
// same lists are asked for more than once.
type plain struct {
	text  string
	runs  [16]uint64 // one bit for some runs, all that are in the text being set
	found [6]finding
	known int // findings
}

// finding is what was found of a list, which is told by its first word.
type finding struct {
	list *string
	word string
	sure bool
}

// set makes ready a text in lower case with one kind of apostrophe, between
// spaces, so that a part that begins with one is the beginning of a word.
func (p *plain) set(text string) {
	text = strings.ToLower(text)
	if strings.ContainsAny(text, "’`´_\n\t") {
		text = oneMark.Replace(text)
	}
	p.text = " " + text + " "
	for i := range len(p.text) - 2 {
		bit := runOf(p.text[i:])
		p.runs[bit/64] |= 1 << (bit % 64)
	}
}

// runOf is the bit of the first three bytes of a text.
func runOf(s string) uint { return (uint(s[0])*37 + uint(s[1])*101 + uint(s[2])*5) % 1024 }

// lacks reports that a part of a word is certainly not in the text.
func (p *plain) lacks(part string) bool {
	if len(part) < 3 || part[0] == '*' || part[1] == '*' || part[2] == '*' {
		return false
	}
	bit := runOf(part)
	return p.runs[bit/64]&(1<<(bit%64)) == 0
}

var oneMark = strings.NewReplacer("’", "'", "`", "'", "´", "'", "_", " ", "\n", " ", "\t", " ")

// find looks for the first of some parts of words. sure is false where each time
// a no or word of somebody else stands before it. A star in a part stands for a
// few words between, or none.
func (p *plain) find(words []string) (word string, sure bool) {
	if len(words) == 0 {
		return "", false
	}
	for _, f := range p.found[:p.known] {
		if f.list == &words[0] {
			return f.word, f.sure
		}
	}
	word, sure = p.search(words)
	if p.known < len(p.found) {
		p.found[p.known] = finding{&words[0], word, sure}
		p.known++
	}
	return word, sure
}

// search looks for what [plain.find] finds.
func (p *plain) search(words []string) (word string, sure bool) {
	text := p.text
	for _, w := range words {
		if p.lacks(w) {
			continue
		}
		for from := 0; w != ""; {
			i, end := indexPart(text[from:], w)
			if i < 0 {
				break
			}
			if before := text[:from+i]; !denied(before) && !elsewhere(before, text) {
				return w, true
			}
			if word == "" {
				word = w
			}
			from += end
		}
	}
	return word, false
}

// starReach is how many bytes a star may stand for.
const starReach = 30

// indexPart finds a part of a word, at the beginning of a word where it begins
// with a space, and gives where it begins and ends; -1 where it is not there.
func indexPart(text, part string) (from, to int) {
	first, rest, starred := strings.Cut(part, "*")
	if !starred {
		if from = strings.Index(text, part); from < 0 {
			return -1, -1
		}
		return from, from + len(part)
	}
	for at := 0; ; {
		i := strings.Index(text[at:], first)
		if i < 0 {
			return -1, -1
		}
		from, to = at+i, at+i+len(first)
		if strings.HasSuffix(first, " ") && strings.HasPrefix(rest, " ") {
			to-- // the star stands for no word
		}
		// What is left may hold a star of its own.
		if _, end := indexPart(text[to:min(len(text), to+starReach+len(rest))], rest); end >= 0 {
			return from, to + end
		}
		_, size := utf8.DecodeRuneInString(text[from:])
		at = from + size
	}
}

// noes stand before what did not happen, or what happened to somebody else. The
// list can be as short as it likes: it lowers a suggestion and nothing more.
var noes = []string{
	"no", "not", "never", "without", "nor", "kein", "keine", "keinen", "nicht", "nie", "ohne", "pas", "jamais", "sans",
	"sin", "nunca", "ni", "niet", "geen", "nooit", "non", "mai", "senza", "sem", "não", "nunca", "ingen", "ikke", "inte", "aldri",
	"saw", "heard", "watched", "seen",
}

// others are whom a severe word may be about. Who acts on the wearer is not
// among them: a husband rings for help.
var others = []string{
	" dog ", " cat ", " horse ", "grandfather", "grandmother", "grandad", "granddad", " gran ", " father ", " dad ", " mother ", " mum ", " uncle ", " aunt ",
	" brother ", " sister ", " cousin ", " colleague ", " film ", " movie ", " telly ", " programme ", " book ",
}

// elsewhere reports whether the clause before something speaks of somebody else
// and the text never of the writer.
func elsewhere(before, text string) bool {
	if strings.Contains(text, " i ") || strings.Contains(text, " me ") || strings.Contains(text, " i'") {
		return false
	}
	for _, o := range others {
		if strings.Contains(before, o) {
			return true
		}
	}
	return false
}

// denied reports whether one of the last three words of the clause before
// something is a no.
func denied(before string) bool {
	if i := strings.LastIndexAny(before, ".,;:!?()\n–—"); i >= 0 {
		before = before[i+1:]
	}
	words := strings.Fields(before)
	if before != "" && len(words) > 0 && !strings.HasSuffix(before, " ") {
		words = words[:len(words)-1] // the word that the find lies in
	}
	for _, w := range words[max(0, len(words)-3):] {
		if strings.HasSuffix(w, "n't") {
			return true
		}
		for _, n := range noes {
			if w == n {
				return true
			}
		}
	}
	return false
}

// Raises reports whether a list of words that ships knows something in a text,
// whatever it was written for.
func Raises(text string) bool {
	var p plain
	p.set(text)
	as, _ := shipped.suggest(Note, &p)
	return as != Unread
}

var shipped = &DefaultProtocol().Symptom

// Severe reports whether the lists of words take a text for a severe symptom,
// whatever it was written for.
func (s *SymptomRules) Severe(text string) bool {
	var p plain
	p.set(text)
	as, _ := s.suggest(Note, &p)
	return as == ReadSevere
}
