package web

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
	"wearround/web/letter"
)

// OutboxPage lists the letters that go by post, on their way. Posts nothing to
// /outbox/print, which prints all that wait for it, and to /outbox/posted.
type OutboxPage struct {
	Layout
	List   string // one of boxOrder
	Rows   []BoxRow
	Counts map[string]int
	Ready  map[string]int // of those to be printed and to be posted, those that are not held
	Done   string         // what was done last, a plain sentence, or ""
}

// BoxRow is a letter on its way.
type BoxRow struct {
	ID        int64
	WearID    int64
	Kind      letter.Kind
	Patient   form.Patient
	Address   string // postal, several lines, or ""
	SentAt    time.Time
	By        string
	PrintedAt time.Time
	PostedAt  time.Time
	Held      string // why it may not go out as things stand now, or ""
}

// PrintRunPage is the letters of one print run, each on sheets of its own.
type PrintRunPage struct {
	Layout
	Practice string
	From     string // the practice's own address, several lines, or ""
	Letters  []RunLetter
}

// RunLetter is one of them.
type RunLetter struct {
	BoxRow
	Text     string
	Protocol string
	TwoWeeks *TwoWeeks // the page that goes with it, or nil
	NoPage   string    // why there is none, or ""
}

func (OutboxPage) view() (set, block string) { return "outbox", "page" }

func (PrintRunPage) view() (set, block string) { return "printrun", "page" }

var boxOrder = []string{"unprinted", "printed", "posted", "today"}

var boxWords = map[string]string{"unprinted": "To print", "printed": "Printed, not posted", "posted": "Posted", "today": "Sent today"}

// ParseBoxList reads the list of the outbox's address.
func ParseBoxList(list string) string {
	if boxWords[list] == "" {
		return boxOrder[0]
	}
	return list
}

// Lists are the links of the outbox's lists.
func (p OutboxPage) Lists() []Choice {
	var out []Choice
	for _, l := range boxOrder {
		out = append(out, Choice{Words: boxWords[l], Address: "/outbox?list=" + l, Count: p.Counts[l], Current: p.List == l})
	}
	return out
}

// Sentence says how much is shown.
func (p OutboxPage) Sentence() string {
	return number(len(p.Rows)) + " of " + count(p.Counts[p.List], "letter") + " shown, the newest first."
}

// LetterAddress is the letter.
func (r BoxRow) LetterAddress() string { return "/letters/" + strconv.FormatInt(r.ID, 10) }

// RunAddress is the print run that the letter was in.
func (r BoxRow) RunAddress() string { return RunAddress(r.PrintedAt) }

// RunAddress is the page of the letters that were printed together.
func RunAddress(at time.Time) string { return "/outbox/run?at=" + strconv.FormatInt(at.Unix(), 10) }

// Envelope is whom the letter goes to, as it shows in a window: name and postal
// address, a line each.
func (r BoxRow) Envelope() []string {
	lines := []string{r.Patient.Name}
	for l := range strings.Lines(r.Address) {
		lines = append(lines, strings.TrimSpace(l))
	}
	return lines
}

// Blocks are the letter's parts.
func (l RunLetter) Blocks() []letter.Block { return letter.Blocks(l.Text) }

// FromLine is the practice's address on one line.
func (p PrintRunPage) FromLine() string {
	return strings.Join(strings.FieldsFunc(p.Practice+"\n"+p.From, func(r rune) bool { return r == '\n' || r == '\r' }), ", ")
}

// Going are the letters of the run that may go out.
func (p PrintRunPage) Going() []RunLetter {
	return slices.DeleteFunc(slices.Clone(p.Letters), func(l RunLetter) bool { return l.Held != "" })
}

// Held are those that may not, or not any more.
func (p PrintRunPage) Held() []RunLetter {
	return slices.DeleteFunc(slices.Clone(p.Letters), func(l RunLetter) bool { return l.Held == "" })
}

// Bare are the letters to wearers that go without the page.
func (p PrintRunPage) Bare() []RunLetter {
	return slices.DeleteFunc(p.Going(), func(l RunLetter) bool { return l.NoPage == "" })
}

// Sheets says how many letters there are.
func (p PrintRunPage) Sheets() string {
	going := p.Going()
	s := count(len(going), "letter") + " to print"
	if with := len(going) - len(slices.DeleteFunc(slices.Clone(going), func(l RunLetter) bool { return l.TwoWeeks != nil })); with > 0 {
		s += ", " + number(with) + " with the wearer’s page"
	}
	return s
}

// WearAddress is the wear that the letter is about.
func (r BoxRow) WearAddress() string { return wearAddress(r.WearID, Window{}) }
