package web

import (
	"time"
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
	Anew          int       // wears that wait to be judged anew
	Stalled       bool      // the last look is longer ago than it should be
	Unknown       bool      // some of what stands on every page could not be read
	FolderProblem string    // why the folder cannot be read, a plain sentence, or ""
	Trouble       string    // what stands against relying on the data themselves, plain sentences, or ""
	FilesProblem  string    // why some files do not reach the round although it can, plain sentences, or ""
}

// AboutPage says how the program decides, by what limits, and what it cannot do.
type AboutPage struct {
	Layout
	Engine  string // version of the arithmetic
	Notices []Notice
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

func (AboutPage) view() (set, block string) { return "about", "page" }

func (ErrorPage) view() (set, block string) { return "error", "page" }
