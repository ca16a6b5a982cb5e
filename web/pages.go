package web

import (
	"time"

	"wearround/worker/wear"
)

// Page is one of the page structs of this package, ready to [Render].
type Page interface {
	// view names the template set and the block in it that shows the page.
	view() (set, block string)
}

// Layout is what every page shows around its own matter.
type Layout struct {
	Now            time.Time      // when the page was made
	Zone           *time.Location // the practice's, or a wearer's; nil means that of each time itself
	Home           *time.Location // the practice's where Zone is a wearer's; see [Layout.On]
	Version        int64          // of the data: rises with every change
	Protocol       string         // version of the protocol in force
	ProtocolStatus string         // "unsigned proposal" until a clinician signs
	System         System
	User           User
	Daily          Daily
}

// System is the worker's state as people need to know it.
type System struct {
	LastLook      time.Time // zero: the worker has not looked yet
	Seen          int       // files in the folder at the last look
	Waiting       int       // of those, not yet dealt with
	Held          int       // files that wait for a person's answer
	Stalled       bool      // the last look is longer ago than it should be
	FolderProblem string    // why the folder cannot be read, a plain sentence, or ""
	FilesProblem  string    // why some files do not reach the round although it can, plain sentences, or ""
}

// Patient is who a wear belongs to, as far as a page shows it.
type Patient struct {
	Code      string // the practice's own code
	Name      string // may be empty
	BirthDate string // 2006-01-02, or ""
}

// RoundPage is the ranked list of wears to follow up.
type RoundPage struct {
	Layout
	Filter   RoundFilter
	Rows     []RoundRow        // one page of them, in rank order
	Matching int               // wears that the filter matches
	Total    int               // open wears in all
	PerTier  map[wear.Tier]int // open wears in all, by tier
	PerFlag  map[string]int    // open wears in all, by flag code
	Kinds    int               // how many sensor kinds the matching wears mix
	PageSize int               // rows to a page
	Saved    []SavedFilter
	Problem  string // why the last press did nothing: "Velo Tarim has it until 10:54.", or ""
}

// RoundRows is the part of a [RoundPage] that changes while it is open: what
// the script fetches when the data's version rose.
type RoundRows struct{ RoundPage }

// RoundRow is one wear on the round.
type RoundRow struct {
	Rank       int // place among all open wears, 1 first, whatever the filter
	WearID     int64
	Patient    Patient
	SensorKind string
	Start, End time.Time
	ReceivedAt time.Time
	DueAt      time.Time
	Headline   string
	Confidence string // "high", "some" or "low"
	Priority   wear.Priority
	Flags      []string   // flag codes
	Days       []wear.Day // Date, Usable, Met7_8, Met10 and DipWithSymptom are used
	InDoubt    bool       // some file of the wear was read by a recipe that was withdrawn
	Claim      Claim
	Attempts   int       // to reach the patient
	NextTry    time.Time // when to try again, or zero
}

// WearPage is all that is said about one wear.
type WearPage struct {
	Layout
	WearID     int64
	Patient    Patient
	SensorKind string
	ReceivedAt time.Time
	DueAt      time.Time
	Report     *wear.Report   // nil shows "not analysed yet"
	Readings   []wear.Reading // in time order, suspect ones included
	Events     []wear.Event
	Files      []WearFile
	Rereading  bool // a file of it waits to be read again
	Window     Window
	LikeMeals  int              // like meals that are compared, by the protocol
	Beside     []Beside         // other wears of the patient at the same time
	Before     *Before          // nil where the patient had no wear before this one
	Among      *wear.WithinKind // nil where the practice has too few wears of the sensor kind
	Work       *Work            // nil: the reader may look but not work
}

// Before is the patient's wear before this one, and what changed since.
type Before struct {
	WearID     int64
	Start, End time.Time
	Changes    []wear.Remark
	Measures   []wear.Change // nil where none can be drawn
}

// WearFile is one file that a wear's readings came from.
type WearFile struct {
	SHA256     string // only its first digits are shown
	ReceivedAt time.Time
	Layout     string
	Rows       int
	Skipped    int
	Decisions  []wear.Decision // how the file was read, and why
	Brought    Brought
	RecipeID   int64 // the recipe it was filed with, or 0
	InDoubt    bool  // that recipe was withdrawn
}

// Brought counts the readings of a file by what was there before.
type Brought struct {
	New       int // not there before
	Same      int // there already
	Conflicts int // same instant, another value: the earlier one was kept
}

// FilesPage lists what came through the watched folder.
type FilesPage struct {
	Layout
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
	Outcome   string // "filed", "held", "already" or "refused"
	Reason    string // plain sentence
	ToDo      string // plain sentence
	Questions []wear.Question
	WearIDs   []int64 // the wears it brought, where it was filed
	Brought   Brought
	Pending   bool   // held, and being read with the answer just given
	InDoubt   bool   // it was filed with a recipe that was withdrawn
	Problem   string // why the last answer was not taken, or ""
}

// FilesRows is the part of a [FilesPage] that changes while it is open.
type FilesRows struct{ FilesPage }

// AboutPage says how the program decides, by what limits, and what it cannot do.
type AboutPage struct {
	Layout
	Engine  string // version of the arithmetic
	Notices []Notice
}

// Setting is one number of the protocol in force.
type Setting struct {
	Name   string
	Value  string
	Unit   string
	Source string // published source, "common practice" or "proposal"
	Status string

	ProposedBy string
}

// Notice names another's work inside the program and its licence.
type Notice struct {
	Name    string
	Version string
	Licence string
}

// ErrorPage says that something could not be shown and what to do.
type ErrorPage struct {
	Layout
	Status    int    // of the HTTP answer
	Sentence  string // what is wrong, plain and safe
	ToDo      string
	Reference string // also in the log line, or ""
}

func (RoundPage) view() (set, block string) { return "round", "page" }
func (RoundRows) view() (set, block string) { return "round", "rows" }
func (WearPage) view() (set, block string)  { return "wear", "page" }
func (FilesPage) view() (set, block string) { return "files", "page" }
func (FilesRows) view() (set, block string) { return "files", "rows" }
func (AboutPage) view() (set, block string) { return "about", "page" }
func (ErrorPage) view() (set, block string) { return "error", "page" }
