package intake

import (
	"bytes"
	"fmt"
	"slices"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	utf16 "golang.org/x/text/encoding/unicode"

	"wearround/worker/wear"
)

// decode turns bytes into text: byte-order mark first, then zero bytes for
// UTF-16, then strict UTF-8, then for the bytes that are not UTF-8 the page in which
// most words are known, else Windows-1252.
func decode(data []byte) ([]byte, wear.Decision, *wear.Refusal) {
	d := wear.Decision{Code: "encoding", Margin: 1, By: "values"}
	switch {
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		data = data[3:]
		d.Answer, d.Evidence = "UTF-8", "byte-order mark"
	case bytes.HasPrefix(data, []byte("\xff\xfe")):
		return decode16(data[2:], utf16.LittleEndian, "byte-order mark")
	case bytes.HasPrefix(data, []byte("\xfe\xff")):
		return decode16(data[2:], utf16.BigEndian, "byte-order mark")
	case bytes.IndexByte(data, 0) >= 0:
		even, odd := zeros(data)
		half := len(data) / 2
		switch {
		case odd*5 > half*2 && even*20 < half:
			return decode16(data, utf16.LittleEndian, "every second byte is zero")
		case even*5 > half*2 && odd*20 < half:
			return decode16(data, utf16.BigEndian, "every second byte is zero")
		}
		return nil, d, refuseBinary()
	default:
		d.Answer, d.Evidence = "UTF-8", "every byte is valid"
	}
	if controls(data[:min(len(data), controlBytes)])*100 > min(len(data), controlBytes) || bytes.IndexByte(data, 0) >= 0 {
		return nil, d, refuseBinary()
	}
	if utf8.Valid(data) {
		return data, d, nil
	}
	if endsInRune(data) {
		return nil, d, refuseCutShort(bytes.Count(data, []byte("\n")) + 1)
	}
	page, words := codePageOf(data)
	text, replaced := decodePage(data, page.of)
	if replaced*10 > len(data)*3 && words == 0 {
		return nil, d, refuseBinary()
	}
	d.Answer, d.RunnerUp, d.Margin = page.name, "UTF-8", 0.5
	d.Evidence = fmt.Sprintf("%d bytes are not UTF-8 and read as letters or marks of %s", replaced, page.name)
	if words > 0 {
		d.Evidence += fmt.Sprintf(", in which %d words are known", words)
	}
	return text, d, nil
}

// codePage is one of the encodings with a byte a letter.
type codePage struct {
	name string
	of   *charmap.Charmap
}

// codePages are those in use for spreadsheets' text files, the commonest first.
var codePages = []codePage{
	{"Windows-1252", charmap.Windows1252}, {"Windows-1250", charmap.Windows1250}, {"Windows-1251", charmap.Windows1251}, {"Windows-1253", charmap.Windows1253},
	{"Windows-1254", charmap.Windows1254}, {"Windows-1257", charmap.Windows1257}, {"KOI8-R", charmap.KOI8R},
}

// codePageOf finds the encoding in which most words of the head of a text are known
// that it makes a difference to, and how many they are.
func codePageOf(data []byte) (best codePage, words int) {
	best = codePages[0]
	var beyond [][]byte
	for line := range bytes.Lines(headOf(data, headLines, headBytes)) {
		for w := range bytes.FieldsFuncSeq(line, func(r rune) bool { return r != utf8.RuneError && r < utf8.RuneSelf && !unicode.IsLetter(r) }) {
			if !utf8.Valid(w) && len(beyond) < maxSeen {
				beyond = append(beyond, w)
			}
		}
	}
	for _, page := range codePages {
		known := 0
		for _, w := range beyond {
			text, _ := decodePage(w, page.of)
			if knownWord(string(text)) {
				known++
			}
		}
		if known > words {
			best, words = page, known
		}
	}
	return best, words
}

// knownWord reports a word of headings, or a month or weekday, of any language. Short
// ones are words in any page.
func knownWord(w string) bool {
	return utf8.RuneCountInString(w) > 3 && (sensorWords.understands(w) || roleOf(w) != roleUnknown || monthIn(w) > 0 || weekdayWords()[plain(w)])
}

func decode16(data []byte, order utf16.Endianness, why string) ([]byte, wear.Decision, *wear.Refusal) {
	d := wear.Decision{Code: "encoding", Answer: "UTF-16", Evidence: why, Margin: 1, By: "values"}
	if len(data)%2 == 1 {
		return nil, d, refuseCutShort(bytes.Count(data, []byte("\n")) + 1)
	}
	out, err := utf16.UTF16(order, utf16.IgnoreBOM).NewDecoder().Bytes(data)
	if err != nil || bytes.IndexByte(out, 0) >= 0 || controls(out[:min(len(out), controlBytes)])*100 > min(len(out), controlBytes) {
		return nil, d, refuseBinary()
	}
	return out, d, nil
}

// endsInRune reports UTF-8 that breaks off in the middle of a character. In a
// text that has no other one the last byte may be a letter of Windows-1252.
func endsInRune(data []byte) bool {
	whole := len(data) - 1
	for whole > 0 && len(data)-whole < utf8.UTFMax && !utf8.RuneStart(data[whole]) {
		whole--
	}
	return !utf8.FullRune(data[whole:]) && utf8.Valid(data[:whole]) && utf8.RuneCount(data[:whole]) < whole
}

// zeros counts zero bytes at even and at odd places.
func zeros(data []byte) (even, odd int) {
	for i, c := range data {
		if c == 0 {
			if i%2 == 0 {
				even++
			} else {
				odd++
			}
		}
	}
	return even, odd
}

// controlBytes is how much of a file is looked at to tell text from other bytes.
const controlBytes = 16 << 10

// controls counts the control characters that text does not use.
func controls(data []byte) (n int) {
	for _, c := range data {
		if c < ' ' && c != '\n' && c != '\r' && c != '\t' && c != '\f' {
			n++
		}
	}
	return n
}

// decodePage reads each byte by a page. By Windows-1252 it keeps what is UTF-8, so
// that one stray degree sign does not spoil the rest of a UTF-8 file.
func decodePage(data []byte, page *charmap.Charmap) (text []byte, replaced int) {
	text = make([]byte, 0, len(data)+len(data)/8)
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && size == 1 || size > 1 && page != charmap.Windows1252 {
			size = 1
			r = page.DecodeByte(data[i])
			replaced++
		}
		text = utf8.AppendRune(text, r)
		i += size
	}
	return text, replaced
}

// zeros10 are the noughts of the other scripts whose digits are read; each is
// followed by its one to nine.
const zeros10 = "٠۰०০੦૦୦௦౦೦൦๐໐၀០０"

// digitOf gives the value of a digit of another script.
func digitOf(r rune) (d byte, ok bool) {
	if r < '٠' {
		return 0, false
	}
	for _, zero := range zeros10 {
		if r >= zero && r <= zero+9 {
			return '0' + byte(r-zero), true
		}
	}
	return 0, false
}

// asciiDigits writes times and numbers in digits of other scripts with our own.
// A cell that holds letters too stays as it is.
func asciiDigits(text []byte) []byte {
	head := headOf(text, headLines, headBytes)
	beyond := slices.IndexFunc(head, func(c byte) bool { return c >= utf8.RuneSelf })
	if beyond < 0 || !bytes.ContainsFunc(head[beyond:], func(r rune) bool { _, ok := digitOf(r); return ok }) {
		return text
	}
	out := make([]byte, 0, len(text))
	for len(text) > 0 {
		end := bytes.IndexAny(text, ",;\t|\"\n\r")
		if end < 0 {
			end = len(text)
		}
		if cell := text[:end]; bytes.ContainsFunc(cell, unicode.IsLetter) {
			out = append(out, cell...)
		} else {
			for _, r := range string(cell) {
				if d, ok := digitOf(r); ok {
					r = rune(d)
				} else if r == '٫' { // the decimal mark that goes with the Arabic digits
					r = '.'
				}
				out = utf8.AppendRune(out, r)
			}
		}
		if text = text[end:]; len(text) > 0 {
			out, text = append(out, text[0]), text[1:]
		}
	}
	return out
}

// longLine reports whether some line is longer than maxLine bytes.
func longLine(text []byte) bool {
	for len(text) > maxLine {
		i := bytes.LastIndexAny(text[:maxLine+1], "\n\r")
		if i < 0 {
			return true
		}
		text = text[i+1:]
	}
	return false
}
