package password

import (
	_ "embed"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Bounds on a password. Fifteen characters and more are advised; there is no
// rule about what they are and no forced change. Source: ASVS 5.0 6.2.1-6.2.9.
const (
	minPassword  = 8
	Max          = 256 // bytes; argon2id takes any length, a request does not
	longPassword = 15
)

//go:embed password_words.txt
var commonText string

// common are words that stand at the heart of the passwords people choose
// most, lower case and without digits or signs at either end.
var common = func() map[string]bool {
	m := map[string]bool{}
	for w := range strings.FieldsSeq(commonText) {
		m[w] = true
	}
	return m
}()

// Weakness says in a sentence why a password will not do, or gives "". The
// names are words that anybody would try first for this person and place.
func Weakness(password string, names ...string) string {
	switch n := utf8.RuneCountInString(password); {
	case !utf8.ValidString(password) || len(password) > Max:
		return "This password is too long. 64 letters are plenty."
	case n < minPassword:
		return "This password is too short. Take at least 8 letters; 15 and more are better, such as four or five words."
	case n >= longPassword && distinct(password) >= 6 && !runs(password):
		// Long and varied: only the names could still give it away.
	case guessable(password):
		return "This password is one of those that are tried first. Take another, such as four or five words that have nothing to do with each other."
	}
	bare := kernel(password)
	for _, name := range names {
		if k := kernel(name); utf8.RuneCountInString(k) >= 4 && strings.Contains(bare, k) && utf8.RuneCountInString(bare) < utf8.RuneCountInString(k)+6 {
			return "This password is nearly your name or that of this program. Take another."
		}
	}
	return ""
}

// guessable reports whether a password is a common word, perhaps twice, with
// the usual letters swapped for signs and the usual digits put before or after.
func guessable(password string) bool {
	lower := strings.ToLower(password)
	trimmed := strings.TrimFunc(lower, func(r rune) bool { return !unicode.IsLetter(r) })
	for _, k := range []string{lower, trimmed, kernel(password), strings.TrimFunc(kernel(password), func(r rune) bool { return !unicode.IsLetter(r) })} {
		half := k[:len(k)/2]
		if k == "" || common[k] || half+half == k && common[half] {
			return true
		}
	}
	return distinct(password) < 4 || runs(password)
}

// kernel is a password in lower case with signs read as the letters they stand for.
func kernel(s string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case '0':
			return 'o'
		case '1', '!', '|':
			return 'i'
		case '3':
			return 'e'
		case '4', '@':
			return 'a'
		case '5', '$':
			return 's'
		case '7', '+':
			return 't'
		case ' ', '-', '_', '.':
			return -1
		}
		return unicode.ToLower(r)
	}, s)
}

func distinct(s string) int {
	seen := map[rune]bool{}
	for _, r := range s {
		seen[r] = true
	}
	return len(seen)
}

// keyboard are the runs that fingers find by themselves.
var keyboard = []string{"abcdefghijklmnopqrstuvwxyz", "01234567890", "qwertyuiop", "asdfghjkl", "zxcvbnm", "1qaz2wsx3edc4rfv5tgb6yhn7ujm", "qazwsxedcrfvtgbyhnujm"}

// runs reports whether most of a password follows the alphabet, the digits or
// a row of keys, forwards or backwards.
func runs(password string) bool {
	p := []rune(strings.ToLower(password))
	steps := 0
	for i := 1; i < len(p); i++ {
		pair, back := string(p[i-1:i+1]), string([]rune{p[i], p[i-1]})
		for _, k := range keyboard {
			if strings.Contains(k, pair) || strings.Contains(k, back) {
				steps++
				break
			}
		}
	}
	return steps*4 >= len(p)*3
}
