package store

import (
	"time"

	"wearround/worker/wear"
)

// Patient is one person on the practice's register.
type Patient struct {
	ID        int64
	Code      string // the practice's own code, unique
	Name      string // may be empty
	BirthDate string // 2006-01-02, or ""
	Context   wear.Context
}

// Outcome is what became of one file in the watched folder.
type Outcome string

// Outcomes of a drop.
const (
	Filed   Outcome = "filed"   // its wears are on the round
	Held    Outcome = "held"    // waits for a person's answer
	Already Outcome = "already" // same bytes were received before
	Refused Outcome = "refused" // cannot be read, and why
)

// Drop is one look at one name in the watched folder: the row of the Files page.
type Drop struct {
	ID      int64
	Path    string // relative to the watched folder, slashes
	Size    int64
	ModTime time.Time
	SeenAt  time.Time
	Outcome Outcome
	Code    string // of the reason: "empty", "binary", "link", ...
	Reason  string // plain sentence
	ToDo    string // plain sentence: what a person does next
	FileID  int64  // 0 where the bytes were never taken
}

// File is one distinct content ever received, known by its hash.
type File struct {
	ID         int64
	SHA256     string // 64 hex digits
	Size       int64
	ReceivedAt time.Time
	State      Outcome // Filed, Held or Refused
	Layout     string
	Questions  []wear.Question   // open ones, while Held
	Decisions  []wear.Decision   // how it was read
	Answers    map[string]string // what people answered so far
	PatientID  int64             // 0 until known
	Rows       int
	Skipped    int
}

// Filing is everything one readable file brings; it is saved in one transaction.
type Filing struct {
	Drop      Drop
	SHA256    string
	Layout    string
	Decisions []wear.Decision
	PatientID int64
	Rows      int
	Skipped   int
	Wears     []WearFiling
}

// WearFiling is one wear to be saved, new or joined with one already there.
type WearFiling struct {
	WearID     int64 // an existing wear to replace by the joined one, or 0
	SensorKind string
	Readings   []wear.Reading // in time order
	Events     []wear.Event
	Report     *wear.Report
	New        int // readings that were not there before
	Same       int // readings that were there already
	Conflicts  int // same instant, different value: the earlier one was kept
}

// Wear is one stored wear with its report.
type Wear struct {
	ID         int64
	Patient    Patient
	SensorKind string
	ReceivedAt time.Time // when its first file arrived
	DueAt      time.Time
	Report     *wear.Report
	Files      []File
}

// RoundQuery chooses a page of the round.
type RoundQuery struct {
	Tiers  []wear.Tier // none = all
	Flag   string      // a flag code, or ""
	Text   string      // part of a patient's code or name, or ""
	Offset int
	Limit  int // 1 to 200
	Now    time.Time
}

// RoundPage is one page of the ranked list of open wears.
type RoundPage struct {
	Rows     []RoundRow
	Matching int               // open wears that the query matches
	Total    int               // open wears in all
	PerTier  map[wear.Tier]int // open wears in all, by tier
	PerFlag  map[string]int    // open wears in all, by flag code
	Kinds    int               // how many sensor kinds the matching wears mix
	Version  int64             // of the data; rises with every change
}

// RoundRow is one wear on the round.
type RoundRow struct {
	Rank        int // 1-based place among all open wears, whatever the filter
	WearID      int64
	Patient     Patient
	SensorKind  string
	Start, End  time.Time
	ReceivedAt  time.Time
	DueAt       time.Time
	OverdueDays int
	Headline    string
	Confidence  string
	Priority    wear.Priority
	Flags       []string
	Days        []wear.Day // only Date, Usable, CapturedPct, Readings, Met7_8, Met10, DipWithSymptom
}

// Beat is the worker's sign of life.
type Beat struct {
	At       time.Time
	FolderOK bool
	Message  string // why the folder cannot be read, or ""
	Looked   int64  // looks since start
	Seen     int    // files in the folder at the last look
	Waiting  int    // of those, not yet dealt with
}
