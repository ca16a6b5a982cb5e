package store

import (
	"slices"
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

// Fate is what became of one file in the watched folder.
type Fate string

// Outcomes of a drop.
const (
	Filed   Fate = "filed"   // its wears are on the round
	Held    Fate = "held"    // waits for a person's answer
	Already Fate = "already" // same bytes were received before
	Refused Fate = "refused" // cannot be read, and why
)

// Drop is one look at one name in the watched folder: the row of the Files
// page. Path, Size and ModTime together say which look it was; recording the
// same three again replaces the earlier row.
type Drop struct {
	ID      int64
	Path    string // relative to the watched folder, slashes
	Size    int64  // bytes, or [SizeUnread]
	ModTime time.Time
	SeenAt  time.Time
	Fate    Fate
	Code    string // of the reason: "empty", "binary", "link", ...
	Reason  string // plain sentence
	ToDo    string // plain sentence: what a person does next
	FileID  int64  // 0 where the bytes were never taken
}

// SizeUnread stands for the size of a file that could not be opened, so that
// the same file counts as not seen yet once it can be.
const SizeUnread = -1

// File is one distinct content ever received, known by its hash.
type File struct {
	ID         int64
	SHA256     string // 64 hex digits
	Path       string // where it was first seen, as in [Drop]
	Size       int64
	ReceivedAt time.Time
	State      Fate // Filed, Held or Refused
	Layout     string
	Questions  []wear.Question   // open ones, while Held
	Decisions  []wear.Decision   // how it was read
	Answers    map[string]string // what people answered so far
	PatientID  int64             // 0 until known
	Rows       int
	Skipped    int
	Answered   int64        // stamp of the newest answer, for [Filing] and [Holding]; 0 while there is none
	Pending    bool         // held, and answered since it was last read: the worker reads it again
	RecipeID   int64        // the recipe it was filed with; 0 while there is none
	InDoubt    bool         // that recipe was withdrawn
	Account    wear.Account // what became of every filled cell
	AnsweredAt time.Time    // when a person last answered about it; zero for never
}

// WearFile is a file that a wear's readings came from, and what it brought.
type WearFile struct {
	File
	New       int // readings that were not there before
	Same      int // readings that were there already
	Conflicts int // same instant, another value: the earlier one was kept
}

// Filing is everything one readable file brings; it is saved in one
// transaction. Where the file was filed before, the wears that it brought then
// must all be replaced or taken in by those it brings now.
type Filing struct {
	Drop      Drop // with its FileID set where a known file was read again: then no new look is recorded
	SHA256    string
	Layout    string
	Decisions []wear.Decision
	PatientID int64 // 0 where the file holds several people; then each wear names its own
	Rows      int
	Skipped   int
	Wears     []WearFiling

	RecipeID int64    // the recipe in force that it was read by, or 0
	Learned  *Learned // what reading it without a recipe taught, or nil
	Recipes  int64    // the [RecipeBook.Version] it was read with: a newer recipe of the layout makes [Store.File] give [ErrStale]

	// By is the protocol by which the file was divided into wears. Another in
	// force makes [Store.File] give [ErrStale]. Nil is not checked.
	By *wear.Protocol

	// Compared are wears of other patients that share readings with this file
	// and that somebody has looked at. Any other gives [ErrStale].
	Compared []int64

	Account wear.Account // what became of every filled cell

	// Questions are still asked about the file, if any: it is held, and what it
	// brought stays where this puts it until they are answered.
	Questions []wear.Question

	// Answered is the [File.Answered] that the file was read with. A newer
	// answer makes [Store.File] give [ErrStale]. 0 is not checked.
	Answered int64
}

// Holding is a file that waits for a person, with the questions it waits for.
type Holding struct {
	Drop      Drop // as in [Filing]
	SHA256    string
	Layout    string
	Questions []wear.Question // at least one
	Decisions []wear.Decision
	PatientID int64 // 0 while unknown
	Rows      int
	Skipped   int
	Answered  int64 // the [File.Answered] it was read with; 0 takes every answer so far as seen
	Account   wear.Account
}

// WearFiling is one wear to be saved, new or joined with one already there.
type WearFiling struct {
	PatientID  int64   // where it is not that of the [Filing], or 0
	WearID     int64   // an existing wear to replace by the joined one, or 0
	Absorbs    []int64 // further existing wears that the joined one takes in, where a file bridges them
	Moves      bool    // the existing wears may be another patient's: they become this patient's, with the files that brought only them
	SensorKind string
	Zone       string         // of the wearer's clock, as [Wear.Zone]
	Readings   []wear.Reading // in time order
	Events     []wear.Event   // of the files alone
	New        int            // readings that were not there before
	Same       int            // readings that were there already
	Conflicts  int            // same instant, different value: the earlier one was kept
}

// Wear is one stored wear with its report.
type Wear struct {
	ID         int64
	Patient    Patient
	SensorKind string
	Zone       string    // IANA name of the zone of the wearer's clock; "" is the practice's
	ReceivedAt time.Time // when its first file arrived
	DueAt      time.Time
	Report     *wear.Report
	Evidence   int64 // version of all that the report was made from; acts carry it as it was seen
	Files      []WearFile
	Waiting    []int64 // files that are held and may change the wear
}

// InDoubt reports whether some file of the wear was read by a recipe that was
// withdrawn.
func (w *Wear) InDoubt() bool {
	return slices.ContainsFunc(w.Files, func(f WearFile) bool { return f.InDoubt })
}

// WearSummary is one wear of a patient in short.
type WearSummary struct {
	ID         int64
	SensorKind string
	Start, End time.Time // first and last reading
	Readings   int
	ReceivedAt time.Time
	DueAt      time.Time
	Open       bool // on the round
	Tier       wear.Tier
	Headline   string
	InDoubt    bool   // as [Wear.InDoubt]
	Zone       string // as [Wear.Zone]
}

// RoundQuery chooses a page of the round.
type RoundQuery struct {
	Tiers  []wear.Tier // none = all
	Flag   string      // a flag code, or ""
	Text   string      // part of a patient's code or name, or ""
	View   RoundView
	Sort   RoundSort
	For    int64  // who asks, by whom the views are told
	Roles  []Role // of whoever asks
	Offset int
	Limit  int       // 1 to 200
	Now    time.Time // on the practice's clock, which the days are counted on
}

// RoundPage is one page of the ranked list of open wears.
type RoundPage struct {
	Rows     []RoundRow
	Matching int               // open wears that the query matches
	Total    int               // open wears in all
	PerTier  map[wear.Tier]int // open wears in all, by tier
	PerFlag  map[string]int    // open wears in all, by flag code
	PerView  map[RoundView]int // open wears in all, by view
	Kinds    int               // how many sensor kinds the matching wears mix; "not recorded" counts as one
	Version  int64             // of the data; rises with every change
}

// RoundRow is one wear on the round.
type RoundRow struct {
	Rank         int   // 1-based place among all open wears, whatever the filter
	Version      int64 // of the data when the wear's report was last another
	WearID       int64
	Patient      Patient
	SensorKind   string
	Start, End   time.Time
	ReceivedAt   time.Time
	DueAt        time.Time
	OverdueDays  int
	Headline     string
	Confidence   string
	Unread       int // texts that nobody has read
	Priority     wear.Priority
	Flags        []string
	Days         []wear.Day // shared, not to be changed; only Date, Usable, CapturedPct, Readings, Met7_8, Met10, DipWithSymptom
	InDoubt      bool       // as [Wear.InDoubt]
	ClaimedBy    Person     // who works on it; zero while nobody does
	ClaimedUntil time.Time  // when that lapses unless it is renewed; zero likewise
	NextTry      time.Time  // when to try to reach the patient again; zero where no try has failed
	Attempts     int        // times somebody tried without reaching the patient
	HandedTo     Role       // to whom it was handed over, who have not taken it yet; "" otherwise
	HandedDue    time.Time  // by when they should
	HandedWhy    string
}

// Beat is the worker's sign of life.
type Beat struct {
	At       time.Time
	FolderOK bool   // the folder itself can be read
	Message  string // why the folder cannot be read or files in it do not reach the round, or ""
	Looked   int64  // looks since start
	Seen     int    // files in the folder at the last look
	Waiting  int    // of those, not yet dealt with
}

// Job is the last run of one scheduled job.
type Job struct {
	Name   string
	At     time.Time     // when the last run began
	Took   time.Duration // to the millisecond
	Err    string        // why it failed, or ""
	GoodAt time.Time     // when the last run that did not fail began; zero if none
}

// DropQuery chooses a page of the Files page.
type DropQuery struct {
	Fate   Fate // "" = all
	Offset int
	Limit  int // 1 to 200
}

// DropPage is one page of drops, newest first; held ones alone come in the order
// in which they need a person.
type DropPage struct {
	Rows     []DropRow
	Matching int          // drops that the query matches
	Total    int          // drops in all
	Counts   map[Fate]int // drops in all, by outcome; shared, not to be changed
	Version  int64        // of the data; rises with every change
}

// DropRow is one drop with what became of it.
type DropRow struct {
	Drop
	File    *File    // without its decisions and, but for Messages, its account; nil where the bytes were never taken
	Patient *Patient // nil while unknown
	WearIDs []int64  // wears that the file brought or joined, in time order

	New, Same, Conflicts int // readings in all those wears, as in [WearFiling]

	Messages bool // of a laboratory, not a wear
	Results  int  // that came with them and count
}

// Counts are the sizes of things, for the system line and the metrics.
type Counts struct {
	Patients     int
	Drops        int
	FiledFiles   int // distinct contents
	HeldFiles    int
	RefusedFiles int
	Wears        int
	OpenWears    int
	Readings     int64
}
