package web

import (
	"net/url"
	"time"

	"wearround/web/letter"
	"wearround/worker/wear"
)

// The roles a person at the practice may have.
const (
	RoleClinician = "clinician"
	RoleNurse     = "nurse"
	RoleAuditor   = "auditor"
	RoleLead      = "lead" // sets the protocol and the people
)

// User is who is signed in. The zero User is nobody.
type User struct {
	ID     int64
	Name   string // as others see it
	Roles  []string
	CSRF   string    // the session's token, in every form as "csrf"
	IdleAt time.Time // the session ends then if nothing is done before; zero: it does not
}

// Daily is what would be lost if nobody counted it.
type Daily struct {
	CountedAt             time.Time // zero: could not be counted, which is not the same as nothing
	UnclaimedOverdue      int       // open wears past due that nobody has claimed
	HeldOverDay           int       // files held for more than a day
	RecallsWithoutContact int       // recalls past due that nobody has tried to keep
	ChainProblem          string    // where the audit log does not hold together, a plain sentence, or ""
}

// FieldError is one thing wrong with a form, beside the field it concerns.
type FieldError struct {
	Field string // name of the form field, which is also its id on the page; "" concerns the form as a whole
	Text  string // plain sentence that says what to do
}

// Form is what was typed, so that a form refused comes back as it was, and
// what is wrong with it. The zero Form is an empty one.
type Form struct {
	Task   string // which of a page's several forms it is; "" where there is one
	Values url.Values
	Errors []FieldError
}

// Claim says who is working on a wear. The zero Claim is nobody.
type Claim struct {
	By    string // display name, or ""
	Mine  bool
	Until time.Time // end of the lease
}

// Entry is one line of what was done, in plain sentences.
type Entry struct {
	At   time.Time
	By   string // display name, or "the program"
	Text string
}

// SignInPage asks who is there. Posts login, password and next to /sign-in.
type SignInPage struct {
	Layout
	Form
	Next   string // local address to go on to
	Notice string // why the page is shown: "You were signed out because …", or ""
}

// SecondFactorPage asks for the code. Posts code and next to /sign-in/second.
type SecondFactorPage struct {
	Layout
	Form
	Next string
}

// SetUpPage makes the first lead's sign-in, or takes a one-time link. Posts
// name, login, password and again to Action.
type SetUpPage struct {
	Layout
	Form
	Action string
	First  bool   // of the whole practice; else a person invited, whose Name and Login stand
	Name   string // of the person invited
	Login  string
}

// FactorPage shows the secret of a new second factor. Posts code to Action.
type FactorPage struct {
	Layout
	Form
	Action string
	Secret string   // base 32, shown in groups of four
	QR     [][]bool // modules, true = dark, quiet zone not included; nil shows the text alone
	Setup  bool     // part of setting up, before the person has come in
}

// CodesPage shows recovery codes, once.
type CodesPage struct {
	Layout
	Codes []string
	Next  string // local address to go on to
}

// AccountPage is a person's own sign-in. Posts to /account/password (current,
// password, again), /account/factor (current), /account/codes (current),
// /account/sessions/ID/revoke and /account/sessions/revoke (all others). Task is
// "password", "factor" or "codes".
type AccountPage struct {
	Layout
	Form
	Login           string
	PasswordChanged time.Time
	FactorSet       bool
	CodesLeft       int
	Sessions        []Session
	Done            string // what was just changed, a plain sentence, or ""
}

// Session is one place where a person is signed in.
type Session struct {
	ID       int64
	Current  bool
	Began    time.Time
	LastSeen time.Time
	From     string // network address
}

// PeoplePage lists who may sign in. Posts to /people (name, login, role…),
// /people/ID/roles (role…), /people/ID/disable (reason), /people/ID/enable,
// /people/ID/reset-factor (reason) and /people/ID/link. Task is "add", "roles",
// "disable" or "reset-factor".
type PeoplePage struct {
	Layout
	Form
	Open   int64 // the person whose forms are shown, or 0
	People []Person
	Link   *OneTimeLink // just made, shown once
	Done   string
}

// Person is one who may sign in.
type Person struct {
	ID        int64
	Name      string
	Login     string
	Roles     []string
	Disabled  bool
	FactorSet bool
	LastSeen  time.Time
	Me        bool
}

// OneTimeLink lets one person in once, to choose a password.
type OneTimeLink struct {
	For     string // display name
	Address string // whole address
	Until   time.Time
}

// SavedFilter is a filter of the round that somebody named.
type SavedFilter struct {
	ID     int64
	Name   string
	Filter RoundFilter
	By     string // whose, where it is shared by another
	Mine   bool
	Shared bool
}

// Work is what a person may do with a wear and what was done. A WearPage
// without one shows the evidence alone. It posts to /wears/ID/claim, /release,
// /take-over (reason), /attempt (means, reached, at, next_try, note), /overrule
// (from, to, believe, reason), /fingerstick (at, value, unit), /results (test,
// value, unit, taken, note), /note (note), /zone (zone), /reopen (reason) and /take-back (what,
// item, reason), and to /outcomes/ID/undo. The file workforms.go reads each.
type Work struct {
	Form            // Task is the last part of the address it posts to: "take-over", "attempt", "overrule", "fingerstick", "results", "note", "zone" or "reopen", or as [Taken.Task]
	Version   int64 // of the wear: each form carries it as "version"
	Claim     Claim
	Attempts  []Attempt // to reach the patient, newest first
	NextTry   time.Time
	Overrules []Overrule
	Added     []Added
	Results   []Result
	Letters   []LetterLine
	Outcome   *Recorded // nil while the wear is on the round
	Before    string    // what the place was before the last answers: "This month, 30.4 points", or ""
	Next      string    // address of the next wear on the round after an outcome, or ""
	PatientID int64
	Trail     []Entry // newest first
}

// Attempt is one try to reach a patient.
type Attempt struct {
	At      time.Time
	By      string
	Means   string // "telephone", "message", "mail", "post" or "in_person"
	Reached bool
	Note    string
	NextTry time.Time // midnight of the day to try again, or zero
}

// Overrule is a person's word on a stretch of readings.
type Overrule struct {
	ID       int64
	From, To time.Time
	Believe  bool
	Reason   string
	By       string
	At       time.Time
}

// Recorded is the outcome of a wear.
type Recorded struct {
	ID        int64
	Code      string // see [OutcomeChoice]
	Words     string // as the button said it
	By        string
	At        time.Time
	Note      string
	Follows   string    // what must follow, a plain sentence, or ""
	UndoUntil time.Time // zero where it can no longer be undone
	Corrected bool      // a later one stands in its place
}

// CallPage is the sheet for a call: it asks about the episodes found. Posts to
// /wears/ID/call; [ParseCall] reads the answers.
type CallPage struct {
	Layout
	Form
	WearID    int64
	PatientID int64
	Patient   Patient
	Contact   Contact
	Report    *wear.Report
	Events    []wear.Event // what is written down already
	Version   int64
	Claim     Claim
}

// OutcomePage takes the outcome of a wear. Posts to /wears/ID/outcome;
// [ParseOutcome] reads it.
type OutcomePage struct {
	Layout
	Form
	WearID     int64
	Patient    Patient
	Headline   string
	Tier       wear.Tier
	Version    int64
	Choices    []OutcomeChoice
	Attempts   []Attempt // to reach the patient, newest first
	Correcting *Recorded // the outcome that this one corrects, or nil
}

// OutcomeChoice is one outcome that may be recorded, and what must follow it.
type OutcomeChoice struct {
	// Code is "told_well", "advice", "tests_ordered", "appointment",
	// "urgent_contact", "sensor_replaced", "wear_again", "could_not_reach" or
	// "off_pathway".
	Code     string
	Words    string    // as the button says it
	Follows  string    // what must follow, one plain sentence
	Recall   string    // kind of the recall that follows, or ""
	RecallBy time.Time // proposed; zero where there is no sensible guess
	Optional bool      // the recall may be left out
	Asks     string    // what the reason is to say; "" where no reason is needed
	Refused  string    // why this person cannot record it now, a plain sentence, or ""
}

// Contact is how a patient can be reached.
type Contact struct {
	Phone   string
	Email   string
	Address string // several lines
	Prefers string // a means as in [Attempt], or ""
	Note    string // "rings back after six"
}

// PatientPage is all that the practice holds of one person. Posts to
// /patients/ID/results as on a wear, /note (note), /recalls (kind, by, note) and
// /take-back (what, item, reason), each with its last part as the Task, and to
// /merges/ID/undo.
type PatientPage struct {
	Layout
	Form
	ID      int64
	Patient Patient
	Contact Contact
	Context wear.Context
	Wears   []PatientWear // newest first
	Results []Result      // newest first
	Recalls []Recall
	Letters []LetterLine
	Merges  []Merge // of other records into this one
	Trail   []Entry // everything ever decided, newest first
}

// PatientWear is one wear in the list of a patient's.
type PatientWear struct {
	WearID     int64
	SensorKind string
	Start, End time.Time
	Headline   string
	Tier       wear.Tier
	Confidence string
	Days       []wear.Day
	Above7_8   wear.Figure // % of believed readings
	Above10    wear.Figure // % of believed readings
	Outcome    string      // code, or "" while on the round
	OutcomeAt  time.Time
}

// Merge is another record of the same person, joined with this one.
type Merge struct {
	ID       int64
	Code     string // of the record that was taken in
	Name     string
	By       string
	At       time.Time
	Undone   bool
	Moved    string // "2 wears, 1 result", or ""
	CanUndo  bool
	UndoNote string // why it cannot be undone, or ""
}

// PatientFormPage edits or adds a patient. Posts to /patients (new) or
// /patients/ID; [ParsePatient] reads it, [PatientRecord.Values] fills it.
type PatientFormPage struct {
	Layout
	Form
	ID int64 // 0: new
}

// RegisterPage lists the practice's patients.
type RegisterPage struct {
	Layout
	Filter   RegisterFilter
	Rows     []RegisterRow
	Matching int
	Total    int
	PageSize int
}

// RegisterRow is one patient on the register.
type RegisterRow struct {
	ID       int64
	Patient  Patient
	Wears    int
	LastWear time.Time // end of the newest wear, zero without one
	Open     int       // wears on the round
	RecallAt time.Time // earliest recall that is not done, or zero
}

// ImportPage reads a delimited list onto the register. Posts to
// /patients/import (list, a file; or text) for a preview and to
// /patients/import/confirm (text) to carry it out.
type ImportPage struct {
	Layout
	Form
	Text    string // the list as read; given back with the confirmation
	Rows    []ImportRow
	Ignored []string // headings that nothing was done with
	Done    string   // what was imported, a plain sentence, or ""
}

// ImportRow is one line of a list and what would become of it.
type ImportRow struct {
	Line    int
	Code    string
	Name    string
	Result  string   // "new", "changed", "same" or "problem"
	Changes []string // "birth date: 3 Mar 1961 → 4 Mar 1961"
	Problem string   // plain sentence
}

// MergePage joins two records of one person. Posts code to
// /patients/ID/merge/preview, then other and reason to /patients/ID/merge.
type MergePage struct {
	Layout
	Form
	ID     int64
	Keep   Patient
	Other  *MergeOther // nil: not chosen yet
	Fields []MergeField
}

// MergeOther is the record that would be taken in.
type MergeOther struct {
	ID                               int64
	Patient                          Patient
	Wears, Results, Recalls, Letters int
}

// MergeField is one thing on which two records differ.
type MergeField struct {
	Name  string
	Keep  string // what stands afterwards
	Other string
}

// Result is one laboratory result, or several values of one.
type Result struct {
	ID       int64
	WearID   int64  // 0: of no wear
	Test     string // "hba1c", "fasting_glucose", "ogtt_2h", "random_glucose" or "insulin"
	Value    string // as reported, "<" or ">" before it where the report has one
	Unit     string // as reported
	TakenAt  time.Time
	Class    string // in words: "in the diabetes range"
	Criteria string // name of the criteria set
	Confirm  string // the confirmatory rule in words, or ""
	Note     string
	By       string
	At       time.Time
}

// RecallsPage lists recalls, overdue first. Posts to /recalls/ID/attempt
// (means, reached, at, note), /recalls/ID/done (reason), /recalls/ID/move (by,
// reason), /recalls/ID/cancel (reason) and /recalls/ID/results (as /wears/ID/results). Task is the last part
// of that address.
type RecallsPage struct {
	Layout
	Form
	Filter   RecallsFilter
	Open     int64 // the recall whose forms are shown open, or 0
	Rows     []Recall
	Counts   map[string]int // recalls in each list of [RecallsFilter]
	Matching int
	PageSize int
	Answered *Result // a result just entered, with what it says
}

// Recall is something promised: a person comes back, or a result does.
type Recall struct {
	ID        int64
	WearID    int64 // 0: of no wear
	PatientID int64
	Patient   Patient
	Contact   Contact
	Kind      string // "result", "new_wear", "review", "appointment" or "urgent"
	Due       time.Time
	State     string // "due", "contacted", "done" or "cancelled"
	Outcome   string // code of the wear's outcome that asked for it, or ""
	Note      string
	Attempts  []Attempt // newest first
	ClosedBy  string    // what closed it, a plain sentence, or ""
	ClosedAt  time.Time
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
// /wears/ID/letters; [ParseLetter] reads it.
type NewLetterPage struct {
	Layout
	Form
	WearID  int64
	Patient Patient
	Report  *wear.Report
}

// LetterPage is a letter that is open: its sender reads it, changes it where
// need be, and confirms it. Posts text to /letters/ID/preview, to show the
// change; text, how and read to /letters/ID/send ([ParseSending]); and to
// /letters/ID/discard.
type LetterPage struct {
	Layout
	Form
	ID      int64
	WearID  int64
	Patient Patient
	Kind    letter.Kind
	Text    string // plain text of package letter, as it stands now
}

// SentPage is a letter as sent at /letters/ID, or a sheet at
// /letters/sheets/KIND, for paper.
type SentPage struct {
	Layout
	ID       int64
	Kind     letter.Kind
	Patient  Patient // zero for a sheet
	WearID   int64
	Text     string
	Protocol string // version when it was sent
	By       string
	At       time.Time
	How      string // a means as in [Attempt]; "" for a sheet
	Template int    // version; 0: as shipped
	Practice string // name, for the head of the paper
}

// LetterLine is one letter in a list.
type LetterLine struct {
	ID   int64
	Kind letter.Kind
	At   time.Time
	By   string
	How  string
}

// TemplatePage edits the text of one kind of letter and shows it filled in for
// an invented patient. Posts text to /letters/templates/KIND/preview, to show
// the change, and to /letters/templates/KIND to keep it; and to
// /letters/templates/KIND/shipped to go back to the text that ships.
type TemplatePage struct {
	Layout
	Form
	Kind    letter.Kind
	Version int // 0: as shipped
	Text    string
	Done    string
}

// LogPage shows the audit log.
type LogPage struct {
	Layout
	Filter  LogFilter
	People  []Choice // who may be chosen; Value is the user's id
	Actions []Choice
	Rows    []LogRow // newest first
	More    bool     // older lines match too
	Total   int      // lines in all
	Chain   Chain
}

// Chain is the state of the audit log as a whole.
type Chain struct {
	CheckedAt time.Time // zero: not yet checked
	Rows      int64
	Problem   string // plain sentence, or ""
}

// LogRow is one line of the audit log.
type LogRow struct {
	Seq      int64
	At       time.Time
	By       string
	Role     string
	Action   string // "view", "claim", …
	Object   string // "wear", "patient", …
	ObjectID int64
	Outcome  string // "done", "refused" or "failed"
	Reason   string
	Request  string
}

func (SignInPage) view() (set, block string)       { return "signin", "page" }
func (SecondFactorPage) view() (set, block string) { return "second", "page" }
func (SetUpPage) view() (set, block string)        { return "setup", "page" }
func (FactorPage) view() (set, block string)       { return "factor", "page" }
func (CodesPage) view() (set, block string)        { return "codes", "page" }
func (AccountPage) view() (set, block string)      { return "account", "page" }
func (PeoplePage) view() (set, block string)       { return "people", "page" }
func (CallPage) view() (set, block string)         { return "call", "page" }
func (OutcomePage) view() (set, block string)      { return "outcome", "page" }
func (PatientPage) view() (set, block string)      { return "patient", "page" }
func (PatientFormPage) view() (set, block string)  { return "patientform", "page" }
func (RegisterPage) view() (set, block string)     { return "register", "page" }
func (ImportPage) view() (set, block string)       { return "import", "page" }
func (MergePage) view() (set, block string)        { return "merge", "page" }
func (RecallsPage) view() (set, block string)      { return "recalls", "page" }
func (LettersPage) view() (set, block string)      { return "letters", "page" }
func (NewLetterPage) view() (set, block string)    { return "newletter", "page" }
func (LetterPage) view() (set, block string)       { return "letter", "page" }
func (SentPage) view() (set, block string)         { return "sent", "page" }
func (TemplatePage) view() (set, block string)     { return "template", "page" }
func (LogPage) view() (set, block string)          { return "log", "page" }
