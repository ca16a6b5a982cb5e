package intake

import (
	"strings"

	"wearround/worker/wear"
)

// kind is what one cell looks like on its own.
type kind uint8

const (
	blank   kind = iota // nothing, or a mark that stands for nothing
	integer             // digits only
	decimal             // digits with one decimal point or comma
	epoch               // 10, 13 or 16 digits: may count seconds, ms or µs since 1970
	limit               // "<2.2" or ">25"
	odd                 // a number in a form that a glucose value never needs: signed, exponent, grouped
	moment              // date and clock
	day                 // date alone
	clock               // clock alone
	word                // anything else
	kinds
)

func (k kind) number() bool { return k == integer || k == decimal }

// blanks are cells that stand for "no value", in lower case.
var blanks = map[string]bool{
	"-": true, "--": true, "---": true, "----": true, "–": true, "—": true,
	"n/a": true, "na": true, "nan": true, "null": true, "nil": true, "none": true, "#n/a": true, ".": true,
}

// kindOf tells what a cell without surrounding space looks like.
func kindOf(s string) kind {
	if s == "" {
		return blank
	}
	c := s[0]
	if c >= '0' && c <= '9' {
		if k := numberKind(s); k != word {
			return k
		}
		return stampKind(s)
	}
	switch {
	case c == '<' || c == '>' || strings.HasPrefix(s, "≤") || strings.HasPrefix(s, "≥"):
		if _, _, ok := splitLimit(s); ok {
			return limit
		}
	case (c == '-' || c == '+' || c == '.' || c == ',') && len(s) > 1 && numberKind(s[1:]) != word:
		return odd
	}
	if len(s) <= 5 && blanks[strings.ToLower(s)] {
		return blank
	}
	return stampKind(s)
}

// numberKind classes text that begins with a digit and holds only a number;
// word means that it is not one.
func numberKind(s string) kind {
	marks, digits := 0, 0
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			digits++
		case c == '.' || c == ',':
			marks++
		case (c == 'e' || c == 'E') && i+1 < len(s) && marks <= 1 && onlyDigits(strings.TrimLeft(s[i+1:], "+-")):
			return odd
		case (c == ' ' || c == '\'') && i+4 == len(s) && marks == 0 && onlyDigits(s[i+1:]):
			return odd
		default:
			return word
		}
	}
	switch {
	case marks == 0 && (digits == 8 || digits == 12 || digits == 14) && stampKind(s) != word:
		return stampKind(s)
	case marks == 0 && (digits == 10 || digits == 13 || digits == 16):
		return epoch
	case marks == 0:
		return integer
	case marks == 1 && s[len(s)-1] != '.' && s[len(s)-1] != ',':
		return decimal
	case stampKind(s) != word: // 3.4.2026
		return stampKind(s)
	}
	return odd
}

func onlyDigits(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

func stampKind(s string) kind {
	st, ok := parseStamp(s)
	switch {
	case !ok:
		return word
	case st.form == noDate:
		return clock
	case st.secs < 0:
		return day
	}
	return moment
}

// splitLimit takes "<2.2" apart into its direction and its number text.
func splitLimit(s string) (b wear.Bound, number string, ok bool) {
	switch {
	case strings.HasPrefix(s, "<") || strings.HasPrefix(s, "≤"):
		b = wear.Below
	case strings.HasPrefix(s, ">") || strings.HasPrefix(s, "≥"):
		b = wear.Above
	default:
		return wear.Exact, "", false
	}
	number = strings.TrimLeft(s, "<>≤≥= \u00a0\u202f")
	if number == "" || number[0] < '0' || number[0] > '9' {
		return wear.Exact, "", false
	}
	k := numberKind(number)
	return b, number, k.number()
}

// parseNumber reads a plain decimal number with a point or a comma as its
// decimal mark, by the strict grammar of [wear.ParseValue].
func parseNumber(s string) (num int64, scale uint8, ok bool) {
	if num, scale, ok = wear.ParseValue(s); ok {
		return num, scale, true
	}
	i := strings.IndexByte(s, ',')
	if i < 0 || len(s) > wear.MaxDigits+1 {
		return 0, 0, false
	}
	var buf [wear.MaxDigits + 1]byte
	copy(buf[:], s)
	buf[i] = '.'
	return wear.ParseValue(string(buf[:len(s)]))
}
