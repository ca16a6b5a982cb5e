package web

import (
	"strconv"
	"time"

	"wearround/web/form"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// LetterWay is a kind of letter as the form offers it.
type LetterWay struct {
	Kind    letter.Kind
	ID      string
	Chosen  bool
	Refused string // why the findings do not allow it, or ""
	Tests   *form.Pick
	Fields  []form.Input
}

// testsWanted are the tests as a sender chooses them.
func testsWanted() []form.Option {
	words := map[string]string{"talk": "a talk about symptoms"}
	for code, w := range form.TestWords {
		words[code] = w
	}
	return form.Options(letter.TestCodes(), words)
}

// Ways are the kinds of letter with what each asks for. Those that the findings
// do not allow are shown with the reason.
func (p NewLetterPage) Ways() []LetterWay {
	chosen := p.Value("kind")
	var out []LetterWay
	for _, kind := range letter.Kinds() {
		if kind.Sheet() {
			continue
		}
		w := LetterWay{Kind: kind, ID: "kind"}
		if len(out) > 0 { // the first carries the id that an error points to
			w.ID += "-" + strconv.Itoa(len(out)+1)
		}
		if err := letter.Allowed(kind, p.Report); err != nil {
			w.Refused = form.ProblemWords(err)
		} else {
			w.Refused = p.Denied[kind]
		}
		w.Chosen = w.Refused == "" && chosen == string(kind)
		for _, field := range form.Asked[kind] {
			name := string(kind) + "-" + field
			switch field {
			case "tests":
				pick := p.Pick("checkbox", name, "What is wanted", testsWanted(), "hba1c")
				w.Tests = &pick
			case "by":
				w.Fields = append(w.Fields, p.Input("date", name, "By what day", "value="+p.in(p.Now).AddDate(0, 0, askedWithin).Format(time.DateOnly)))
			case "to":
				w.Fields = append(w.Fields, p.Input("text", name, "To whom", "most=200", "hint=As the letter addresses them"))
			case "serial":
				w.Fields = append(w.Fields, p.Input("text", name, "Serial number of the sensor", "mono", "most=80"))
			case "fault":
				w.Fields = append(w.Fields, p.Input("text", name, "What failed", "most=200"))
			}
		}
		out = append(out, w)
	}
	return out
}

// askedWithin is how many days a letter gives where its sender says nothing
// else. Proposal.
const askedWithin = 14

// WearAddress is the page of the wear.
func (p NewLetterPage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// Address is where the choice is sent.
func (p NewLetterPage) Address() string { return taskAddress(p.WearID, "letters") }

// WearAddress is the page of the wear.
func (p LetterPage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// Address is the page of the letter.
func (p LetterPage) Address() string { return "/letters/" + strconv.FormatInt(p.ID, 10) }

// Blocks are the letter's parts.
func (p LetterPage) Blocks() []letter.Block { return letter.Blocks(p.Text) }

// Warnings are what the letter may not say.
func (p LetterPage) Warnings() []string {
	if len(p.Errors) > 0 { // the same, said above
		return nil
	}
	return letter.Check(p.Kind, p.Text)
}

// Grade is the school grade of the letter, with one decimal.
func (p LetterPage) Grade() string { return grade(p.Text) }

func grade(text string) string { return wear.FormatHalfUp(letter.Grade(text), 1) }

// TextField is the text to be changed.
func (p LetterPage) TextField() form.Input {
	return p.Input("textarea", "text", "Text of the letter", "rows=24", "most="+strconv.Itoa(form.MostLetter), "value="+p.Text, "hint="+markHint)
}

const markHint = "An empty line parts paragraphs; # begins a heading, - an item of a list"

// ReadPick is the sender's word that the letter was read.
func (p LetterPage) ReadPick() form.Pick {
	return p.Pick("checkbox", "read", "Before it goes", []form.Option{{Value: "yes", Words: "I have read it, and it is for " + p.Patient.Called()}})
}

// Blocks are the letter's parts.
func (p SentPage) Blocks() []letter.Block { return letter.Blocks(p.Text) }

// WearAddress is the page of the wear.
func (p SentPage) WearAddress() string { return wearAddress(p.WearID, Window{}) }

// RunningHead stands on every page of the paper: whose letter it is. A letter to
// a supplier and a sheet name nobody.
func (p SentPage) RunningHead() string {
	if p.Kind.Sheet() || p.Kind == letter.SensorFailed || p.Patient == (form.Patient{}) {
		return ""
	}
	s := p.Patient.Called()
	if p.Patient.Name != "" && p.Patient.Code != "" {
		s += " · " + p.Patient.Code
	}
	if p.Patient.BirthDate != "" {
		s += " · born " + birthWords(p.Patient.BirthDate)
	}
	return s
}

// FootWords stands at the end of the paper: what it was made by, and when.
func (p SentPage) FootWords() string {
	s := "Written with wearround, which orders work and does not diagnose."
	if p.Protocol != "" {
		s += " Protocol " + p.Protocol + "."
	}
	if !p.At.IsZero() {
		s += " " + p.in(p.At).Format("2 January 2006") + "."
	}
	return s
}

// Sheets are the kinds that go to everyone.
func (p LettersPage) Sheets() []letter.Kind {
	return []letter.Kind{letter.StartSheet, letter.SendSheet}
}

// Lines are the texts of every kind, those that the practice wrote and those as
// shipped.
func (p LettersPage) Lines() []TemplateLine {
	out := make([]TemplateLine, 0, len(letter.Kinds()))
	for _, kind := range letter.Kinds() {
		line := TemplateLine{Kind: kind}
		for _, t := range p.Templates {
			if t.Kind == kind {
				line = t
			}
		}
		out = append(out, line)
	}
	return out
}

// Grade is the school grade of the shipped text.
func (t TemplateLine) Grade() string { return grade(letter.Shipped(t.Kind)) }

// Address is where the text is sent.
func (p TemplatePage) Address() string { return "/letters/templates/" + string(p.Kind) }

// TextField is the text to be changed.
func (p TemplatePage) TextField() form.Input {
	return p.Input("textarea", "text", "Text", "rows=28", "most="+strconv.Itoa(form.MostLetter), "value="+p.Text, "hint="+markHint)
}

// Fields are the fields that a text may name.
func (p TemplatePage) Fields() []letter.Field { return letter.Fields() }

// Warnings are what the text may not say.
func (p TemplatePage) Warnings() []string {
	if len(p.Errors) > 0 { // the same, said above
		return nil
	}
	return letter.CheckTemplate(p.Kind, p.Text)
}

// Blocks are the parts of the letter for an invented patient.
func (p TemplatePage) Blocks() []letter.Block {
	l, _ := p.example()
	return letter.Blocks(l.Text)
}

// PreviewProblem is why there is no such letter, or "".
func (p TemplatePage) PreviewProblem() string {
	if _, err := p.example(); err != nil {
		return form.ProblemWords(err)
	}
	return ""
}

// Grade is the school grade of that letter, or of the bare text.
func (p TemplatePage) Grade() string {
	if l, err := p.example(); err == nil {
		return grade(l.Text)
	}
	return grade(p.Text)
}

func (p TemplatePage) example() (letter.Letter, error) {
	return letter.ComposeFrom(p.Kind, p.Text, letter.Example(p.Kind))
}

// LettersPage lists the kinds of letter with their templates and the sheets.
type LettersPage struct {
	Layout
	Templates []TemplateLine
}

// TemplateLine is one kind of letter with its template in force.
type TemplateLine struct {
	Kind    letter.Kind
	Version int // 0: as shipped
	By      string
	At      time.Time
}

// NewLetterPage chooses the kind of letter for a wear. Posts to
// /wears/ID/letters; [form.ParseLetter] reads it.
type NewLetterPage struct {
	Layout
	form.Form
	WearID  int64
	Patient form.Patient
	Report  *wear.Report
	Denied  map[letter.Kind]string // why a kind may not go beside the outcome in force
}

// LetterPage is a letter that is open: its sender reads it, changes it where
// need be, and confirms it. Posts text to /letters/ID/preview, to show the
// change; text, how and read to /letters/ID/send ([form.ParseSending]); and to
// /letters/ID/discard.
type LetterPage struct {
	Layout
	form.Form
	ID      int64
	WearID  int64
	Patient form.Patient
	Kind    letter.Kind
	Text    string // plain text of package letter, as it stands now
}

// SentPage is a letter as sent at /letters/ID, or a sheet at
// /letters/sheets/KIND, for paper.
type SentPage struct {
	Layout
	ID       int64
	Kind     letter.Kind
	Patient  form.Patient // zero for a sheet
	WearID   int64
	Text     string
	Protocol string // version when it was sent
	By       string
	At       time.Time
	How      string // a means as in [form.Attempt]; "" for a sheet
	Template int    // version; 0: as shipped
	Practice string // name, for the head of the paper
}

// TemplatePage edits the text of one kind of letter and shows it filled in for
// an invented patient. Posts text to /letters/templates/KIND/preview, to show
// the change, and to /letters/templates/KIND to keep it; and to
// /letters/templates/KIND/shipped to go back to the text that ships.
type TemplatePage struct {
	Layout
	form.Form
	Kind    letter.Kind
	Version int // 0: as shipped
	Text    string
	Done    string
}

func (LettersPage) view() (set, block string) { return "letters", "page" }

func (NewLetterPage) view() (set, block string) { return "newletter", "page" }

func (LetterPage) view() (set, block string) { return "letter", "page" }

func (SentPage) view() (set, block string) { return "sent", "page" }

func (TemplatePage) view() (set, block string) { return "template", "page" }
