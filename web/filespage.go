package web

import (
	"hash/fnv"
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// Sentence says how much of the list is shown, and by which filter.
func (p FilesPage) Sentence() string {
	s := number(len(p.Rows)) + " of " + count(p.Total, "file") + " shown"
	switch p.Filter.Fate {
	case "":
		return s + ": every file that came, newest first."
	case "held":
		return s + ": files that wait for an answer; first those that may lie under the wrong patient, then the one that waits longest."
	}
	return s + ": files that are “" + fates[p.Filter.Fate].words + "”, newest first."
}

// Fates are the links of the filter by what became of a file.
func (p FilesPage) Fates() []Choice {
	out := []Choice{{Words: "All", Address: FilesFilter{}.Address(), Count: p.Total, Current: p.Filter.Fate == ""}}
	for _, o := range fateOrder {
		out = append(out, Choice{
			Words: form.SentenceCase(fates[o].words), Value: o, Address: FilesFilter{Fate: o}.Address(),
			Count: p.Counts[o], Current: p.Filter.Fate == o,
		})
	}
	return out
}

// Paging is the way through the list's pages.
func (p FilesPage) Paging() Paging {
	return paging(p.Filter.Page, p.PageSize, p.Matching, func(n int) string {
		return FilesFilter{Fate: p.Filter.Fate, Page: n}.Address()
	})
}

// AnswerWithin is how long a held file may wait for its answer: the data are
// days old already when they come. Proposal.
const AnswerWithin = 24 * time.Hour

// Waiting says by when a held file needs its answer, or for how long it has
// waited too long.
func (p FilesPage) Waiting(r FileRow) string {
	if r.SeenAt.IsZero() {
		return ""
	}
	due := p.When(r.SeenAt.Add(AnswerWithin))
	if !p.late(r) {
		return "An answer is due by " + due + "."
	}
	return "It has waited for " + length(int(p.Now.Sub(r.SeenAt).Hours())*60) + ": an answer was due by " + due + "."
}

// WaitingClass marks a file that has waited too long.
func (p FilesPage) WaitingClass(r FileRow) string {
	if p.late(r) {
		return "overdue"
	}
	return "todo"
}

func (p FilesPage) late(r FileRow) bool { return p.Now.Sub(r.SeenAt) > AnswerWithin }

// FateWords is what became of the file, as people read it.
func (r FileRow) FateWords() string {
	if w := fates[r.Fate].words; w != "" {
		return form.SentenceCase(w)
	}
	return "Not known"
}

// Shape is the class of the fate's shape.
func (r FileRow) Shape() string { return fates[r.Fate].shape }

// Held reports whether the file waits for an answer.
func (r FileRow) Held() bool { return r.Fate == "held" }

// AnswerAddress is where the answers about the file are sent.
func (r FileRow) AnswerAddress() string {
	return "/files/" + strconv.FormatInt(r.FileID, 10) + "/answer"
}

// messageWords say what became of the fields of a laboratory's message.
var messageWords = map[wear.Fate]string{
	wear.FateReading: "of results, kept or asked about", wear.FateFact: "about the person, the order and the message, and words", wear.FateRepeat: "say again what others say", wear.FateAside: "set aside",
}

// FieldsTold says in one line how the fields of a laboratory's message were used.
func (r FileRow) FieldsTold() string { return cellsTold(r.Message, "filled field", messageWords) }

// FieldsAside are the fields of a message that gave nothing, each with its reason.
func (r FileRow) FieldsAside() []string { return setAside(r.Message, "field") }

// Words says what a file brought: "4 032 new readings", or that and how many
// were there already.
func (b Brought) Words() string {
	if b == (Brought{}) {
		return ""
	}
	if b.Results > 0 {
		return count(b.Results, "laboratory result") + " on record"
	}
	s := count(b.New, "new reading")
	if b.Same > 0 || b.Conflicts > 0 {
		s += ", " + number(b.Same) + " the same as before"
	}
	if b.Conflicts > 0 {
		s += ", " + number(b.Conflicts) + " differing from before (the earlier value was kept)"
	}
	return s
}

// FormQuestion is one open question as a form asks it.
type FormQuestion struct {
	wear.Question
	Number int    // its place in the form, from 0
	ID     string // unique on the page, and the same for as long as the question is
	Typed  bool   // the answer may be typed: a patient's code
	Alone  bool   // it is the only question of the form
	Sure   string // the typed code that waits to be confirmed
}

// Asked are the row's open questions; they are answered in one form.
func (r FileRow) Asked() []FormQuestion {
	var out []FormQuestion
	for i, q := range r.Questions {
		out = append(out, FormQuestion{
			Question: q, Number: i, ID: AskID(r.FileID) + "-" + mark(q.Code), Alone: len(r.Questions) == 1,
			Typed: q.Code == "patient" || strings.HasPrefix(q.Code, "person:"), Sure: r.Sure[q.Code],
		})
	}
	return out
}

// AskID is the id of the form of a held file: its address on the page.
func AskID(fileID int64) string { return "ask-" + strconv.FormatInt(fileID, 10) }

// AskID is the id of the row's form.
func (r FileRow) AskID() string { return AskID(r.FileID) }

// ChoiceID is the id of one of the choices.
func (q FormQuestion) ChoiceID(c wear.Choice) string { return q.ID + "-" + mark(c.Value) }

// mark makes a short id of any text. An open page keeps what was chosen by id
// while its rows are swapped, so another question must never have the same.
func mark(text string) string {
	h := fnv.New64a()
	h.Write([]byte(text))
	return strconv.FormatUint(h.Sum64(), 36)
}

// WearAddress is the page of a wear.
func (r FileRow) WearAddress(id int64) string { return wearAddress(id, Window{}) }

// FilesPage lists what came through the watched folder.
type FilesPage struct {
	Layout
	form.Form
	Sent     []string // names under which files were just taken in
	Filter   FilesFilter
	Rows     []FileRow
	Matching int
	Total    int
	Counts   map[string]int // drops in all, by outcome
	PageSize int
}

// FileRow is one look at one name in the watched folder.
type FileRow struct {
	DropID    int64
	FileID    int64 // 0 where the bytes were never taken
	SeenAt    time.Time
	Path      string // relative to the watched folder
	Size      int64
	Fate      string // "filed", "held", "already" or "refused"
	Reason    string // plain sentence
	ToDo      string // plain sentence
	Questions []wear.Question
	WearIDs   []int64 // the wears it brought, where it was filed
	Brought   Brought
	Pending   bool         // held, and being read with the answer just given
	InDoubt   bool         // it was filed with a recipe that was withdrawn
	Problem   string       // why the last answer was not taken, or ""
	TakeBack  bool         // its answers can still be taken back
	Message   wear.Account // what became of the fields of a laboratory's message

	// Sure are typed patient codes, by question, that were shown with name and
	// birth date and wait to be confirmed.
	Sure map[string]string
}

// TakeBackAddress is where taking the answers back is sent.
func (r FileRow) TakeBackAddress() string {
	return "/files/" + strconv.FormatInt(r.FileID, 10) + "/takeback"
}

// FilesRows is the part of a [FilesPage] that changes while it is open.
type FilesRows struct{ FilesPage }

func (FilesPage) view() (set, block string) { return "files", "page" }

func (FilesRows) view() (set, block string) { return "files", "rows" }
