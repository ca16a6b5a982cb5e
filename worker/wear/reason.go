package wear

import "unicode"

// HasWords reports whether a text holds a word, in whatever language: two letters
// or digits beside each other, one of them a letter, or a sign that is a word by
// itself. A full stop, or a lone letter to get past the field, is no reason.
func HasWords(s string) bool {
	run, letter := 0, false
	for _, r := range s {
		switch {
		case unicode.Is(unicode.Ideographic, r) || unicode.Is(unicode.Hangul, r):
			return true
		case unicode.IsLetter(r) || unicode.IsMark(r):
			run, letter = run+1, true
		case unicode.IsDigit(r):
			run++
		default:
			run, letter = 0, false
		}
		if run > 1 && letter {
			return true
		}
	}
	return false
}
