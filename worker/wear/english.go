package wear

import (
	"strconv"
	"strings"
	"unicode/utf8"
)

// Small pieces of plain English that reports are made of.

// fixed writes a number with n decimals, rounded half up.
func fixed(v float64, n int) string { return FormatHalfUp(v, n) }

// trimmed writes a setting without needless zeros.
func trimmed(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// percent writes a share with one decimal.
func percent(f Figure) string { return f.Fixed(1) + " %" }

// wholePercent writes a share without decimals. What is not all is never
// written as all, nor what is not none as none.
func wholePercent(f Figure) string {
	switch {
	case f.OK && f.V < 100 && f.V >= 99.5:
		return "over 99 %"
	case f.OK && f.V > 0 && f.V < 0.5:
		return "under 1 %"
	}
	return f.Fixed(0) + " %"
}

// notNone writes a share with one decimal that is not none: "under 0.1 %".
func notNone(v float64) string {
	if v < 0.1 {
		return "under 0.1 %"
	}
	return fixed(v, 1) + " %"
}

// of writes "11 of 13 days".
func of(n, all int, noun string) string { return strconv.Itoa(n) + " of " + plural(all, noun) }

// lowerFirst gives a sentence a small first letter.
func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// sentenceCase gives a sentence a capital first letter.
func sentenceCase(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// plural writes "1 day", "2 days".
func plural(n int, noun string) string {
	s := strconv.Itoa(n) + " " + noun
	if n != 1 {
		s += "s"
	}
	return s
}

// these writes "this reading" or "these 4 readings".
func these(n int) string {
	if n == 1 {
		return "this reading"
	}
	return "these " + strconv.Itoa(n) + " readings"
}

// countWords writes small numbers as words, capital first: "Two dips".
func countWords(n int, noun string) string {
	words := [...]string{"No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine"}
	if n >= len(words) {
		return plural(n, noun)
	}
	if n != 1 {
		noun += "s"
	}
	return words[n] + " " + noun
}

// duration writes seconds as "45 min", "2 h", "1 h 10 min" or "3 days".
func duration(s int64) string {
	minutes := (s + 30) / 60
	switch h, m := minutes/60, minutes%60; {
	case h >= 48:
		return plural(int((h+12)/24), "day")
	case h == 0:
		return strconv.FormatInt(m, 10) + " min"
	case m == 0:
		return strconv.FormatInt(h, 10) + " h"
	default:
		return strconv.FormatInt(h, 10) + " h " + strconv.FormatInt(m, 10) + " min"
	}
}

// listed joins with commas and a final "and".
func listed(items []string) string {
	if len(items) < 2 {
		return strings.Join(items, "")
	}
	return strings.Join(items[:len(items)-1], ", ") + " and " + items[len(items)-1]
}

// capital gives a text a capital first letter.
func capital(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if size == 0 || r == utf8.RuneError {
		return s
	}
	return strings.ToUpper(string(r)) + s[size:]
}

// Times writes "once", "twice", "3 times".
func Times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return strconv.Itoa(n) + " times"
}
