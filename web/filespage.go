package web

import (
	"strconv"

	"wearround/worker/wear"
)

// Sentence says how much of the list is shown, and by which filter.
func (p FilesPage) Sentence() string {
	s := number(len(p.Rows)) + " of " + count(p.Total, "file") + " shown"
	if p.Filter.Outcome == "" {
		return s + ": every file that came, newest first."
	}
	return s + ": files with the outcome “" + outcomes[p.Filter.Outcome].words + "”, newest first."
}

// Outcomes are the links of the outcome filter.
func (p FilesPage) Outcomes() []Choice {
	out := []Choice{{Words: "All", Address: FilesFilter{}.Address(), Count: p.Total, Current: p.Filter.Outcome == ""}}
	for _, o := range outcomeOrder {
		out = append(out, Choice{
			Words: sentenceCase(outcomes[o].words), Value: o, Address: FilesFilter{Outcome: o}.Address(),
			Count: p.Counts[o], Current: p.Filter.Outcome == o,
		})
	}
	return out
}

// Paging is the way through the list's pages.
func (p FilesPage) Paging() Paging {
	return paging(p.Filter.Page, p.PageSize, p.Matching, func(n int) string {
		return FilesFilter{Outcome: p.Filter.Outcome, Page: n}.Address()
	})
}

// OutcomeWords is what became of the file, as people read it.
func (r FileRow) OutcomeWords() string {
	if w := outcomes[r.Outcome].words; w != "" {
		return sentenceCase(w)
	}
	return "Not known"
}

// Shape is the class of the outcome's shape.
func (r FileRow) Shape() string { return outcomes[r.Outcome].shape }

// AnswerAddress is where an answer about the file is sent.
func (r FileRow) AnswerAddress() string {
	return "/files/" + strconv.FormatInt(r.FileID, 10) + "/answer"
}

// FormQuestion is one open question as a form asks it.
type FormQuestion struct {
	wear.Question
	ID      string // unique on the page
	Address string
	Typed   bool // the answer is typed, not chosen: a patient's code
}

// Asked are the row's open questions; an answer is sent one at a time.
func (r FileRow) Asked() []FormQuestion {
	var out []FormQuestion
	for _, q := range r.Questions {
		out = append(out, FormQuestion{
			Question: q, Typed: q.Code == "patient", Address: r.AnswerAddress(),
			ID: "q-" + strconv.FormatInt(r.DropID, 10) + "-" + strconv.Itoa(len(out)+1),
		})
	}
	return out
}

// WearAddress is the page of a wear.
func (r FileRow) WearAddress(id int64) string { return wearAddress(id, Window{}) }
