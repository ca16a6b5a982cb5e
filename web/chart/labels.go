package chart

import (
	"cmp"
	"slices"
	"strconv"
)

// label is a text that wants a place on a track.
type label struct {
	at    float64  // where it belongs, in pixels
	texts []string // from the fullest to the shortest; "" is the mark alone
	mark  float64  // room for its mark, left of the text
	noun  string   // what several of its sort are called: "meal"
	first int      // lower finds its place sooner
	index int      // the caller's
}

// placed is a label with its place: line 0 or more, left edge x.
type placed struct {
	label
	line int
	x    float64
	text string
}

// leftOver stands for labels that found no place: "3 meals".
type leftOver struct {
	x    float64
	text string
}

// labelSpace is the least free room between two labels on one line, in pixels.
const labelSpace = 5.0

// stagger gives each label a place between left and right on one of so many
// lines, so that no two overlap: first all in their shortest text, then each
// in the fullest for which there is still room. Those that find no place are
// counted; their counts stand on a line of their own and do not overlap either.
func stagger(labels []label, lines int, left, right float64) ([]placed, []leftOver) {
	labels = slices.Clone(labels)
	slices.SortStableFunc(labels, func(a, b label) int {
		return cmp.Or(cmp.Compare(a.first, b.first), cmp.Compare(a.at, b.at))
	})
	room := make([]spans, lines)
	fit := func(l label, text string) (placed, bool) {
		w := l.mark + textWidth(text, fontSize)
		x := max(left, min(l.at-l.mark/2, right-w))
		if x+w > right+0.5 {
			return placed{}, false
		}
		for line := range room {
			if room[line].take(x, x+w+labelSpace) {
				return placed{l, line, x, text}, true
			}
		}
		return placed{}, false
	}
	var done []placed
	var rest []label
	for _, l := range labels {
		if p, ok := fit(l, l.texts[len(l.texts)-1]); ok {
			done = append(done, p)
		} else {
			rest = append(rest, l)
		}
	}
	for i, p := range done {
		for _, text := range p.texts[:len(p.texts)-1] {
			room[p.line].free(p.x)
			if fuller, ok := fit(p.label, text); ok {
				done[i] = fuller
				break
			}
			room[p.line].take(p.x, p.x+p.mark+textWidth(p.text, fontSize)+labelSpace)
		}
	}
	slices.SortStableFunc(done, func(a, b placed) int { return cmp.Compare(a.at, b.at) })
	slices.SortStableFunc(rest, func(a, b label) int { return cmp.Compare(a.at, b.at) })
	return done, tally(rest, left, right)
}

// tally counts labels that stand near each other.
func tally(rest []label, left, right float64) []leftOver {
	room := textWidth("999 fingersticks", fontSize) + labelSpace
	var out []leftOver
	for i := 0; i < len(rest); {
		x := max(left, min(rest[i].at, right-room))
		j := i
		for j < len(rest) && (rest[j].at < x+room || x+2*room > right) {
			j++
		}
		noun := rest[i].noun
		for _, l := range rest[i:j] {
			if l.noun != noun {
				noun = ""
			}
		}
		text := strconv.Itoa(j-i) + " more"
		if noun != "" {
			text = count(j-i, noun)
		}
		out = append(out, leftOver{x, text})
		i = j
	}
	return out
}

// span is a taken part of a line.
type span struct{ from, to float64 }

// spans are the taken parts of a line, in order, none touching another.
type spans []span

func (s spans) find(from float64) int {
	i, _ := slices.BinarySearchFunc(s, from, func(e span, v float64) int { return cmp.Compare(e.from, v) })
	return i
}

// take marks from-to as taken, unless a part of it already is.
func (s *spans) take(from, to float64) bool {
	i := s.find(from)
	if i > 0 && (*s)[i-1].to > from || i < len(*s) && (*s)[i].from < to {
		return false
	}
	*s = slices.Insert(*s, i, span{from, to})
	return true
}

// free gives back the part that begins at from.
func (s *spans) free(from float64) {
	i := s.find(from)
	*s = slices.Delete(*s, i, i+1)
}
