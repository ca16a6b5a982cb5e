// Package intake turns the bytes of an export file into readings, events and
// open questions. It opens no file and never guesses: what the values do not
// settle becomes a question for a person.
package intake

import (
	"time"

	"wearround/worker/wear"
)

// Options is what reading a file depends on besides its bytes.
type Options struct {
	Zone    *time.Location    // where the wearer's clock was; never nil
	Now     time.Time         // no reading can be later than this plus a day
	Answers map[string]string // question code to choice value: settled by a person
}

// Result is what a file says. Exactly one of three holds: Refusal is set; or
// Questions is not empty (the file is held); or the readings may be filed.
type Result struct {
	Refusal   *wear.Refusal
	Questions []wear.Question
	Decisions []wear.Decision

	Layout      string // fingerprint of the arrangement, without any person's data
	Unit        wear.Unit
	Readings    []wear.Reading // in file order
	Events      []wear.Event
	PatientHint string // the one person's code or name that the file itself states, or ""

	Rows    int          // data rows seen
	Ignored []RowProblem // rows that gave neither a reading nor an event, the first 200
	Skipped int          // how many such rows in all
}

// RowProblem is a row that was left out, and why.
type RowProblem struct {
	Row  int    `json:"row"` // 1-based line of the file
	Text string `json:"text"`
}

// Read reads one whole file.
func Read(data []byte, o Options) *Result {
	return &Result{Refusal: &wear.Refusal{Code: "empty", Text: "The file is empty."}}
}
