package intake

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"path"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"wearround/worker/wear"
)

// Every text by which data are found or routed is looked at as words too: names
// of files, folders and packed files, what an archive notes beside them, and
// headings. Two words in one that are no code, date, number, unit or word of headings
// and exports make all of it words of the wear, which a person reads; so does one that
// a list of words knows, or that stands after a blank as people write. One more,
// "P-1007_mijnlijst", only names the file in some language.

// nameOf is a name without its extension, if that looks like one.
func nameOf(name string) string {
	if e := path.Ext(name); len(e) > 1 && len(e) <= 5 && !strings.Contains(e, " ") {
		return strings.TrimSuffix(name, e)
	}
	return name
}

// chunkCode is how a code of a person or of a device looks within a name: a few
// letters with digits behind them.
var chunkCode = regexp.MustCompile(`^\pL{1,4}[-.#]?\d[\pL\d-]*$`)

// unaccounted counts the words of a text that nothing explains.
func unaccounted(text string, known func(string) bool) (n int) {
	if rest, foreign := withoutUnit(text); foreign == "" {
		text = rest
	}
	for chunk := range strings.FieldsFuncSeq(text, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune("_(),;+&=[]{}", r) }) {
		if chunkCode.MatchString(chunk) && !tellsSymptom(strings.Map(noDigit, chunk)) || datesIn(chunk) || known != nil && known(chunk) {
			continue
		}
		for w := range strings.FieldsFuncSeq(splitWords(chunk), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) }) {
			w = plain(w)
			if utf8.RuneCountInString(w) < 2 && w < "\u0250" || explains(w) || known != nil && known(w) {
				continue
			}
			n++
		}
	}
	return n
}

// explains reports a word of headings, exports and calendars that says nothing of
// how the wearer was.
func explains(w string) bool {
	switch r := roleOf(w); {
	case tellsSymptom(w) || r == roleMedicine && !personHolders.understands(w):
		return false
	default:
		return r != roleUnknown || personHolders.understands(w) || codeWords.understands(w) || dateWords.understands(w) || unitWords.understands(w) || otherMatter.whole[w] || monthIn(w) != 0 || weekdayWords()[w]
	}
}

// emptyHeading is what the heading of a column without any cell says, where it is
// more than a name: somebody wrote it there.
func emptyHeading(heading string) []saying {
	n := len(strings.Fields(heading))
	if unaccounted(heading, nil) < 3 && (n < 3 || n < 5 && roleOf(heading) != roleUnknown) {
		return nil
	}
	return []saying{sayingIn(heading)}
}

// hearHeading keeps what a heading says beyond naming its column. What a filled
// column holds is known otherwise, so that a few words more name it too.
func (l *ledger) hearHeading(f *facts, heading string, filled int) {
	switch {
	case filled == 0:
		l.hear(f, emptyHeading(heading), part{})
	case unaccounted(heading, nil) >= 4:
		f.keep(heading)
	}
}

// namesWithin are the names and notes that a packed file holds beside its data.
func namesWithin(data []byte) (names []string) {
	if z, err := zip.NewReader(bytes.NewReader(data), int64(len(data))); z != nil && err == nil {
		names = append(names, z.Comment)
		for _, f := range z.File {
			if f.Name == "[Content_Types].xml" || f.Name == "mimetype" {
				return names[:1] // a workbook's parts are its own
			}
			names = append(names, f.Comment)
			if !clutter(f.Name) {
				names = append(names, strings.Split(strings.TrimSuffix(f.Name, "/"), "/")...)
			}
		}
		return names
	}
	if z, err := gzip.NewReader(bytes.NewReader(data)); err == nil {
		names = append(names, z.Name, z.Comment)
	}
	return names
}

// tellNames gives the wear what the names say of it.
func (l *ledger) tellNames(names []string, o Options, res *Result) {
	hint := plain(res.PatientHint)
	known := func(w string) bool {
		return hint != "" && strings.Contains(" "+hint+" ", " "+plain(w)+" ") || o.Known != nil && o.Known(w)
	}
	var words []string
	for _, name := range names {
		name = strings.ToValidUTF8(strings.TrimSpace(name), "\uFFFD")
		if name == "" || slices.Contains(words, name) || slices.Contains(l.holders, name) {
			continue
		}
		if n := unaccounted(nameOf(name), known); n > 1 || n == 1 && (strings.Contains(name, " ") || wear.Raises(splitWords(name))) {
			words = append(words, name)
		}
	}
	add := func(readings []wear.Reading, events []wear.Event) []wear.Event {
		f := &facts{readings: readings, words: words}
		return f.speak(events)
	}
	res.Events = add(res.Readings, res.Events)
	for i := range res.People {
		p := &res.People[i]
		p.Events = add(p.Readings, p.Events)
	}
}
