package intake

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/japanese"
	"golang.org/x/text/encoding/korean"
	"golang.org/x/text/encoding/simplifiedchinese"
	"golang.org/x/text/encoding/traditionalchinese"
	utf16 "golang.org/x/text/encoding/unicode"

	"wearround/worker/wear"
)

// decode turns bytes into text: byte-order mark first, then zero bytes for
// UTF-16, then strict UTF-8, then for the bytes that are not UTF-8 the page in which
// most words are known. Where none is, Windows-1252 is taken for marks and for letters
// inside words of ours, and what is a word of its own is asked about.
func (l *ledger) decode(data []byte) ([]byte, wear.Decision, *wear.Refusal) {
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
	if wide, known := wideOf(data); known > words {
		d.Answer, d.Evidence = wide.name, fmt.Sprintf("the bytes that are not UTF-8 are %d known words of %s", known, wide.name)
		text, _ := wide.read(data)
		return text, d, nil
	}
	if words == 0 {
		if text, name, open := l.askPage(data); text != nil || open {
			d.Answer, d.Evidence, d.By = name, "a person read the words", "person"
			if open {
				text, _ = decodePage(data, page.of)
			}
			return text, d, nil
		}
	}
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
			if s := string(text); lettersOnly(s) && knownWord(s) {
				known++
			}
		}
		if known > words {
			best, words = page, known
		}
	}
	return best, words
}

// lettersOnly tells a word from what the wrong page makes of one.
func lettersOnly(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) })
}

// dateSigns stand behind the numbers of dates and clocks.
var dateSigns = []string{"年", "月", "日", "時", "时", "点", "分", "년", "월", "일", "시", "분"}

// widePage is one of the encodings with two bytes a letter.
type widePage struct {
	name string
	of   encoding.Encoding
}

var widePages = []widePage{{"Shift-JIS", japanese.ShiftJIS}, {"GB18030", simplifiedchinese.GB18030}, {"Big5", traditionalchinese.Big5}, {"EUC-KR", korean.EUCKR}, {"EUC-JP", japanese.EUCJP}}

// read reads a text by the page; false where bytes of it are no letters there.
func (p widePage) read(data []byte) ([]byte, bool) {
	text, err := p.of.NewDecoder().Bytes(data)
	return text, err == nil && !bytes.ContainsRune(text, utf8.RuneError)
}

// foreignWords are the words of a text that are not wholly ASCII, each once.
func foreignWords(text []byte) (list []string) {
	for w := range bytes.FieldsFuncSeq(text, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsMark(r) && r != utf8.RuneError && r != 'ー'
	}) {
		if s := string(w); len(list) < maxSeen && bytes.ContainsFunc(w, func(r rune) bool { return r >= utf8.RuneSelf }) && !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	return list
}

// wideOf finds the encoding with two bytes a letter in which most words of the head
// of a text are known. Two that know as many settle nothing.
func wideOf(data []byte) (best widePage, words int) {
	tied := false
	for _, page := range widePages {
		if text, ok := page.read(headOf(data, headLines, headBytes)); ok {
			known := 0
			for _, w := range foreignWords(text) {
				if knownWord(w) || slices.Contains(dateSigns, w) || utf8.RuneCountInString(w) > 1 && len(w) > 2*utf8.RuneCountInString(w) && (sensorWords.understands(w) || roleOf(w) != roleUnknown) {
					known++
				}
			}
			if tied = tied && known <= words || known == words; known > words {
				best, words = page, known
			}
		}
	}
	if words == 0 || tied {
		return best, 0
	}
	if _, whole := best.read(data); !whole {
		return best, 0
	}
	return best, words
}

// askPage asks in which encoding a text is written, by the words that each makes of
// it. It gives nothing where no word stands in letters of which it does not know the
// script: a letter inside a word of ours leaves that word readable.
func (l *ledger) askPage(data []byte) (text []byte, name string, open bool) {
	lines := bytes.FieldsFunc(data, func(r rune) bool { return r == '\n' || r == '\r' })
	var beyond []byte
	for _, line := range lines {
		if !utf8.Valid(line) && len(beyond) < headBytes {
			beyond = append(append(beyond, line...), '\n')
		}
	}
	plainly, _ := decodePage(beyond, charmap.Windows1252)
	strange := false
	for _, w := range strings.FieldsFunc(string(plainly), func(r rune) bool { return r < utf8.RuneSelf && !unicode.IsLetter(r) }) {
		n := 0
		for _, r := range w {
			if r >= utf8.RuneSelf {
				n++
			}
		}
		strange = strange || n >= 3 && n*2 > utf8.RuneCountInString(w)
	}
	if !strange {
		return nil, "", false
	}
	texts := make(map[string][]byte)
	var choices []wear.Choice
	seen := make(map[string]bool)
	add := func(name string, shown, whole []byte) {
		words := foreignWords(shown)
		says := strings.Join(words[:min(len(words), 4)], ", ")
		if says == "" || seen[says] || !oneScript(words) {
			return
		}
		seen[says], texts[name] = true, whole
		choices = append(choices, wear.Choice{Value: name, Text: "“" + says + "”", Effect: "read as " + name})
	}
	for _, p := range widePages {
		if shown, ok := p.read(beyond); ok {
			if whole, ok := p.read(data); ok {
				add(p.name, shown, whole)
			}
		}
	}
	for _, p := range codePages {
		shown, _ := decodePage(beyond, p.of)
		whole, _ := decodePage(data, p.of)
		add(p.name, shown, whole)
	}
	if len(choices) == 0 {
		return nil, "", false
	}
	choices = append(choices, wear.Choice{Value: "stop", Text: "none of these can be read, or not known", Effect: "the file is set aside; export it again in UTF-8"})
	name = l.askOnce("code_page", "The file does not say how its letters are written. Which of these are its words?", choices...)
	if name == "stop" {
		l.aside = true
	}
	return texts[name], name, texts[name] == nil
}

// oneScript reports whether the letters of each word are of scripts that stand
// together in one language.
func oneScript(words []string) bool {
	for _, w := range words {
		scripts := make(map[int]bool)
		for _, r := range w {
			switch {
			case r == utf8.RuneError || unicode.Is(unicode.Co, r):
				return false
			case unicode.In(r, unicode.Han, unicode.Hiragana, unicode.Katakana, unicode.Hangul) || r == 'ー':
				scripts[1] = true
			case unicode.Is(unicode.Latin, r):
				scripts[2] = true
			case unicode.Is(unicode.Cyrillic, r):
				scripts[3] = true
			case unicode.Is(unicode.Greek, r):
				scripts[4] = true
			}
		}
		if len(scripts) > 1 {
			return false
		}
	}
	return true
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
