package letter

import (
	"strings"
	"unicode"
)

// Grade is the United States school grade at which a text is read, by the
// Flesch-Kincaid formula:
//
//	0.39 × words ÷ sentences + 11.8 × syllables ÷ words − 15.59
//
// Source: Naval Technical Training Command, Research Branch Report 8-75, 1975.
// Syllables are counted by rule (see [syllables]), so the figure sorts texts
// and does not replace a reader. Headings, the address and whatever else ends
// in no full stop are left out: short lines would flatter the figure. A text
// without sentences has grade 0.
func Grade(text string) float64 {
	words, count, parts := 0, 0, 0
	for _, s := range sentences(text) {
		if !strings.ContainsAny(s[len(s)-1:], ".!?:") {
			continue
		}
		n := 0
		for w := range strings.FieldsSeq(s) {
			w = strings.TrimFunc(w, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
			if w == "" {
				continue
			}
			n++
			count += syllables(w)
		}
		if n > 0 {
			parts++
			words += n
		}
	}
	if words == 0 {
		return 0
	}
	return 0.39*float64(words)/float64(parts) + 11.8*float64(count)/float64(words) - 15.59
}

// sentences parts a text at full stops, question and exclamation marks, colons
// and the ends of headings, items and paragraphs. A point between digits ends
// nothing.
func sentences(text string) []string {
	var out []string
	var b strings.Builder
	end := func() {
		if s := strings.TrimSpace(b.String()); s != "" {
			out = append(out, s)
		}
		b.Reset()
	}
	for _, block := range Blocks(text) {
		if block.Heading != "" {
			b.WriteString(block.Heading)
			end()
		}
		for _, item := range block.Items {
			split(&b, item, end)
			end()
		}
		split(&b, strings.Join(block.Lines, " "), end)
		end()
	}
	return out
}

func split(b *strings.Builder, text string, end func()) {
	r := []rune(text)
	for i, c := range r {
		b.WriteRune(c)
		if strings.ContainsRune(".!?:", c) && (i+1 == len(r) || r[i+1] == ' ') {
			end()
		}
	}
}

// syllables counts runs of vowels, parts those that are said apart, leaves out
// a silent e at the end, and gives every word at least one. A number counts one
// syllable a digit.
func syllables(word string) int {
	n := 0
	var before rune // the vowel before, or 0
	low := []rune(strings.ToLower(word))
	for i, r := range low {
		switch {
		case !strings.ContainsRune("aeiouy", r):
			before = 0
			if unicode.IsDigit(r) {
				n++
			}
			continue
		case before == 0:
			n++
		case before == 'i' && (r == 'a' || r == 'o') && (i < 2 || !strings.ContainsRune("tcs", low[i-2])), // di-abetes, per-i-od; not na-tion
			before == 'e' && r == 'o', before == 'u' && r == 'a' && i > 1 && low[i-2] != 'q': // vid-e-o, us-u-al; not qual-i-ty
			n++
		}
		before = r
	}
	s := string(low)
	if strings.HasSuffix(s, "e") && !strings.HasSuffix(s, "le") && n > 1 || strings.HasSuffix(s, "ed") && !strings.HasSuffix(s, "ted") && !strings.HasSuffix(s, "ded") && n > 1 {
		n--
	}
	return max(n, 1)
}
