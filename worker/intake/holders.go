package intake

import (
	"fmt"
	"hash/fnv"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"wearround/worker/wear"
)

// holderWords make up the names of what a table lies in and that say nothing of it:
// a sheet, a list or its key, an element, a caption, a folder. They explain such a
// name alone, never a title or a remark.
var holderWords = titleWords.with(linkWords + "sheets worksheet workbook arbeitsblatt blatt feuil feuille hoja foglio planilha folha blad ark taul taulukko munka munkalap arkusz hárok лист аркуш sayfa φύλλο 工作表 シート 시트 ورقة גיליון แผ่นงาน trang tính lembar tabel " +
	"entries entry items item object objects element elements node nodes array stream streams content contents payload body request response root document doc bundle collection set sets dataset datasets group groups block blocks section sections " +
	"segment segments trace traces track tracks feed timeline timeseries history diary journal archive event events observation observations session sessions wears day date months month year weekly monthly raw original main default untitled unnamed new copy print output input download downloads upload uploads " +
	"about line lines inbox drop temp tmp folder files dir backup attachments attachment rows row rec recs obs vals val pt pts samples tab tbl db json xml csv html xlsx txt text info meta metadata header headers head details detail settings config general page pages hidden final v version ward clinic practice praxis room type types plain decimal comma point delimiter semicolon tab encoding utf preamble")

// personHolders may stand in the name of what holds one person's table; with a
// number they tell several people apart.
var personHolders = holderWords.with("person persons patient patients subject wearer participant client user users profile owner people patientin patienten")

// holderCode is how codes of people look: letters and digits with a mark between
// them or at least three digits, or digits alone that are no date.
var holderCode = regexp.MustCompile(`^(\pL{1,8}[-_.#/]\d{2,}[\pL\d-]*|\pL{1,5}\d{3,}\pL?|\d+[-_]?\pL{1,3}\d*|\d{4,})$`)

// holderSense is what the name of what a table lies in says.
type holderSense uint8

const (
	holderPlain   holderSense = iota // nothing of the table
	holderPerson                     // a code
	holderUnknown                    // it must be asked
)

// senseOfHolder tells what a name says. With of, words for people are plain.
func senseOfHolder(name string, of *vocabulary) holderSense {
	if date, rest := dateInName(name); date != "" && rest != "" {
		return senseOfHolder(rest, of)
	}
	if !strings.ContainsFunc(path.Ext(name), unicode.IsSpace) {
		name = strings.TrimSuffix(name, path.Ext(name))
	}
	if name = strings.TrimSpace(name); strings.Contains(name, " ") {
		for w := range strings.FieldsSeq(name) {
			if strings.ContainsFunc(w, unicode.IsLetter) && senseOfHolder(w, of) == holderPerson {
				return holderPerson
			}
		}
	}
	words := splitWords(name)
	rest, foreign := withoutUnit(words)
	rest = strings.Map(noDigit, rest)
	switch {
	case foreign != "" || strings.ContainsAny(name, "°%"):
		return holderUnknown
	case strings.TrimSpace(rest) == "" || datesIn(name) || allCalendar(rest, of):
		if holderCode.MatchString(name) && !dateDigits(name) {
			return holderPerson
		}
		return holderPlain
	case holderCode.MatchString(name) && !of.understands(rest):
		return holderPerson
	}
	return holderUnknown
}

// allCalendar reports a name of plain words, months and weekdays. One or two letters
// of ours are a weekday in some language and begin many codes.
func allCalendar(name string, of *vocabulary) bool {
	for w := range strings.FieldsSeq(plain(name)) {
		if !of.understands(w) && monthIn(w) == 0 && (len(w) < 3 || !weekdayWords()[w]) {
			return false
		}
	}
	return true
}

// dateDigits reports digits and marks that are a year, a month or a day.
func dateDigits(s string) bool {
	digits := strings.Map(func(r rune) rune {
		if unicode.IsDigit(r) {
			return r
		}
		return -1
	}, s)
	year := len(digits) >= 4 && (strings.HasPrefix(digits, "19") || strings.HasPrefix(digits, "20"))
	return len(digits) < 4 || datesIn(s) || year && len(digits) <= len("20060102")
}

// splitWords puts blanks between the words of "glucoseReadings" and "raw_values".
func splitWords(name string) string {
	var b strings.Builder
	last := ' '
	for _, r := range name {
		if unicode.IsUpper(r) && unicode.IsLower(last) || unicode.IsDigit(r) != unicode.IsDigit(last) {
			b.WriteByte(' ')
		}
		if r == '_' || r == '-' || r == '.' || r == '/' {
			r = ' '
		}
		b.WriteRune(r)
		last = r
	}
	return b.String()
}

// called names a table by what is not plain of its holders, or by its name.
func (s *sheet) called() string {
	var own []string
	for _, name := range s.holders {
		if senseOfHolder(name, holderWords) != holderPlain {
			own = append(own, name)
		}
	}
	if len(own) == 0 {
		return s.name
	}
	return strings.Join(own, " / ")
}

// hearHolders keeps the names of what the one table of a file lies in, as far as
// they say something.
func (l *ledger) hearHolders(names []string) {
	for _, name := range names {
		if senseOfHolder(name, personHolders) != holderPlain && !slices.Contains(l.holders, name) {
			l.holders = append(l.holders, name)
			l.account.before++
		}
	}
}

// codesOfHolders are the people whom names of what the table lies in, or of a
// packed file, give by a code.
func (l *ledger) codesOfHolders() (named []saying) {
	for _, name := range l.holders {
		if senseOfHolder(name, personHolders) == holderPerson {
			named = append(named, saying{holderKey, strings.TrimSuffix(name, path.Ext(name))})
		}
	}
	if l.packed != "" {
		named = append(named, saying{packedKey, l.packed})
	}
	return named
}

// codeInName finds a code in the name of a packed file, or gives "".
func codeInName(name string) string {
	for part := range strings.FieldsFuncSeq(strings.TrimSuffix(name, path.Ext(name)), func(r rune) bool { return r == '_' || r == ' ' }) {
		if packedCode.MatchString(part) {
			return part
		}
	}
	return ""
}

// packedCode is a code in the name of a packed file, which may have other numbers
// too.
var packedCode = regexp.MustCompile(`^\pL{1,4}-\d{2,}$`)

// Keys of what the names of holders say of whose a table is.
const (
	holderKey = "the name of what the table lies in"
	packedKey = "the name of the packed file"
)

// askHolders asks once about names that no reader knows. who is what somebody says
// is the person's.
func (l *ledger) askHolders() (who string) {
	var unknown []string
	h := fnv.New32a()
	for _, name := range l.holders {
		if senseOfHolder(name, personHolders) == holderUnknown {
			unknown = append(unknown, strconv.Quote(short(name)))
			h.Write([]byte(plain(name) + "\n"))
		}
	}
	if len(unknown) == 0 {
		return ""
	}
	l.nameFate = part{wear.FateAside, "waits for an answer"}
	answer := l.ask(fmt.Sprintf("named:%08x", h.Sum32()), fmt.Sprintf("The readings lie in what the file calls %s. What does that say of them?", strings.Join(unknown, ", ")),
		wear.Choice{Value: holdsAside, Text: "Nothing; they are the sensor's own readings", Effect: "the name is set aside"},
		wear.Choice{Value: "remark", Text: "Something of the wear", Effect: "it is kept as words that a person reads"},
		wear.Choice{Value: holdsPerson, Text: "Whose they are", Effect: "the readings would be this person's"},
		wear.Choice{Value: "stop", Text: "Another substance, a forecast, a statistic, another person's, or not known", Effect: "the file is set aside; nothing of it is filed"})
	switch answer {
	case "stop":
		l.aside = true
	case holdsPerson:
		for _, name := range l.holders {
			if senseOfHolder(name, personHolders) == holderUnknown {
				who = name
			}
		}
		l.nameFate = part{wear.FateFact, "names the person"}
	case "remark":
		l.nameFate = part{wear.FateEvent, keptAsWords}
	case holdsAside:
		l.nameFate = part{wear.FateAside, "a person said that it says nothing of the wear"}
	}
	return who
}

// tellHolders gives the wear the names that somebody said are words, and says what
// became of all.
func (l *ledger) tellHolders(f *facts) {
	for _, name := range l.holders {
		fate := part{wear.FateFact, "names the person"}
		if senseOfHolder(name, personHolders) == holderUnknown {
			if fate = l.nameFate; fate.fate == wear.FateEvent {
				f.keep(name)
			}
		}
		if !l.holdersTold {
			l.account.add(placeOther, fate.fate, fate.why, 1)
		}
	}
	l.holdersTold = true
}
