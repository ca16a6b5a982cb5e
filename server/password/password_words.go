package password

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/trustelem/zxcvbn"
)

// Bounds on a password. Fifteen characters and more are advised; there is no
// rule about what they are and no forced change. Source: ASVS 5.0 6.2.1-6.2.9.
const (
	minLength = 8
	Max       = 256 // bytes; argon2id takes any length, a request does not

	// Guesses that a password must stand, as zxcvbn estimates them (USENIX
	// Security 2016: from 10^8 "safely unguessable", where the hash is slow).
	leastGuesses = 1e8

	// Letters that are judged: what comes after can only make it harder, and
	// costs time to look at.
	judged = 48
)

// Weakness says in a sentence why a password will not do, or gives "". The
// names are words that anybody would try first for this person and place.
func Weakness(password string, names ...string) string {
	switch n := utf8.RuneCountInString(password); {
	case !utf8.ValidString(password) || len(password) > Max:
		return "This password is too long. 64 letters are plenty."
	case n < minLength:
		return "This password is too short. Take at least 8 letters; 15 and more are better, such as four or five words."
	}
	head := []rune(password)
	head = head[:min(len(head), judged)]
	if zxcvbn.PasswordStrength(string(head), names).Guesses < leastGuesses {
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
