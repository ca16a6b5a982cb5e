package store

import (
	"crypto/sha256"
	"slices"
	"time"

	"wearround/worker/wear"
)

// Role is what a user may do. A user has one or more.
type Role string

// The roles. What each may do is written beside the method that asks for it.
const (
	RoleNurse     Role = "nurse"     // works through the round
	RoleClinician Role = "clinician" // triages; may close what a nurse may not
	RoleLead      Role = "lead"      // a clinician who also keeps the people, the templates and the protocol
	RoleAuditor   Role = "auditor"   // sees tables, not people
)

// Roles lists the roles in the order in which they are offered.
func Roles() []Role { return []Role{RoleNurse, RoleClinician, RoleLead, RoleAuditor} }

// Actor says who makes a change or looks at a record.
type Actor struct {
	UserID int64
	// Role is the one the user acts in; it must be one that the user has. Left
	// empty, it is the one of the user's roles that may do the most here.
	Role    Role
	Request string // id of the request, as in the log
}

// Person is a user as others see them. The zero value is the program itself.
type Person struct {
	ID   int64
	Name string // display name
}

// Digest is the SHA-256 of a secret that is never stored itself.
type Digest = [sha256.Size]byte

// User is someone who works here.
type User struct {
	ID           int64
	Login        string // in lower case, unique
	Name         string // as others see it
	Roles        []Role
	Disabled     bool
	Temporary    bool // the password was set by somebody else and must be changed first
	SecondFactor bool // a second factor is set up
	Recovery     int  // recovery codes not yet used
	CreatedAt    time.Time
	PasswordAt   time.Time // when the password was set
}

// Has reports whether the user has a role.
func (u *User) Has(r Role) bool { return slices.Contains(u.Roles, r) }

// Credentials are what a sign-in is checked against. The strings are the
// caller's own; nothing here reads them.
type Credentials struct {
	User
	Password   string // PHC string
	TOTPSecret string // "" while there is none
	Proof      Digest // of password, factor and access, as they are now; see [Store.StartSession]
}

// NewUser is someone to be added.
type NewUser struct {
	Login     string // 2 to 64 letters, digits, points and hyphens
	Name      string
	Roles     []Role
	Password  string // PHC string
	Temporary bool   // must be changed at the first sign-in
}

// Session is one sign-in of one user.
type Session struct {
	ID        int64
	UserID    int64
	Address   string
	StartedAt time.Time
	SeenAt    time.Time // to within a quarter of a minute
	IdleAt    time.Time // when it ends unless it is used
	ExpiresAt time.Time // when it ends in any case
}

// Token lets a program use the API in a user's name.
type Token struct {
	ID        int64
	Name      string
	Owner     Person
	Scopes    []string
	MadeAt    time.Time
	ExpiresAt time.Time
	UsedAt    time.Time // to within a minute; zero if never
	RevokedAt time.Time // zero while it is good
}

// Claim is a lease on a wear: while it lasts only its holder records an outcome.
type Claim struct {
	WearID int64
	Holder Person
	Until  time.Time
}

// OutcomeKind is how the work on a wear ended; see [Rules].
type OutcomeKind string

// The outcomes.
const (
	ToldWell       OutcomeKind = "told_well"
	AdviceGiven    OutcomeKind = "advice"
	TestsOrdered   OutcomeKind = "tests_ordered"
	Appointment    OutcomeKind = "appointment"
	UrgentContact  OutcomeKind = "urgent_contact"
	SensorReplaced OutcomeKind = "sensor_replaced"
	WearAgain      OutcomeKind = "wear_again"
	CouldNotReach  OutcomeKind = "could_not_reach"
	OffPathway     OutcomeKind = "off_pathway"
)

// NewOutcome is how the work on a wear is to end.
type NewOutcome struct {
	WearID   int64
	Kind     OutcomeKind
	Reason   string    // where the [Rule] needs one
	Recall   time.Time // when to come back; zero where the rule needs none
	Attempts int       // how many the protocol wants before a patient counts as not reached
	Seen     int64     // the [Wear.Evidence] that was on the screen
}

// WearOutcome is one recorded outcome.
type WearOutcome struct {
	ID          int64
	WearID      int64
	Kind        OutcomeKind
	Reason      string
	By          Person
	Role        Role // they acted in
	At          time.Time
	Tier        wear.Tier // of the wear at that moment
	Flags       []string  // of the wear at that moment
	Corrects    int64     // the outcome that this one puts right, or 0
	CorrectedBy int64     // the outcome that puts this one right, or 0
	UndoneAt    time.Time // zero unless it was undone
}

// InForce reports whether the outcome stands: not undone, not corrected.
func (o *WearOutcome) InForce() bool { return o.CorrectedBy == 0 && o.UndoneAt.IsZero() }

// Means is how somebody is contacted.
type Means string

// The means.
const (
	ByTelephone Means = "telephone"
	ByMessage   Means = "message"
	ByMail      Means = "mail"
	ByPost      Means = "post"
	InPerson    Means = "in_person"
)

// NewContact is one attempt to reach a patient.
type NewContact struct {
	At      time.Time // zero stands for now
	Means   Means
	Reached bool
	Note    string
	NextTry time.Time // when to try again; needed where a wear's patient was not reached
}

// Contact is one recorded attempt.
type Contact struct {
	ID       int64
	WearID   int64 // 0 where it was not about a wear
	RecallID int64 // 0 where it was not about a recall
	At       time.Time
	Means    Means
	Reached  bool
	Note     string
	NextTry  time.Time
	By       Person
}

// Note is something a person wrote about a wear or a patient.
type Note struct {
	ID       int64
	WearID   int64 // 0 for the patient
	Text     string
	By       Person
	At       time.Time
	Corrects int64 // the note that this one puts right, or 0
}

// Felt is the answer to "did you feel anything then?".
type Felt string

// The answers.
const (
	FeltYes    Felt = "yes"
	FeltNo     Felt = "no"
	FeltUnsure Felt = "unsure"
)

// CallAnswer is what a patient said about one episode or moment.
type CallAnswer struct {
	Asked    int64  `json:"asked"`              // moment asked about, in seconds since 1970-01-01 UTC: the start of an episode
	Felt     Felt   `json:"felt"`               //
	At       int64  `json:"at,omitempty"`       // when it was felt, in the same seconds
	Words    string `json:"words,omitempty"`    // what was felt, in the patient's words
	Minutes  int    `json:"minutes,omitempty"`  // how long it lasted, 0 where not known
	Relieved Felt   `json:"relieved,omitempty"` // whether food relieved it, or "" where not asked
}

// CallSheet is what a call brought. Each part may be missing, but not all.
type CallSheet struct {
	Answers []CallAnswer
	Events  []wear.Event // further things that were told
	Note    string
	Seen    int64 // the [Wear.Evidence] that was on the screen; 0 where none was
}

// Call is one conversation about a wear with the answers of the call sheet.
type Call struct {
	ID      int64
	WearID  int64
	Answers []CallAnswer
	By      Person
	At      time.Time

	withdrawn map[int64]int64
}

// TakenBack is when what a patient said about a moment was taken back; zero
// while it counts.
func (c *Call) TakenBack(asked int64) time.Time { return when(c.withdrawn[asked]) }

// AddedEvent is an event that a person added to a wear.
type AddedEvent struct {
	ID        int64
	WearID    int64
	CallID    int64 // the call that it came from, or 0
	Event     wear.Event
	By        Person
	At        time.Time // when it was added
	Withdrawn time.Time // zero while it counts
}

// NewOverride is a person's word on a stretch of readings.
type NewOverride struct {
	WearID   int64
	From, To time.Time // both included
	Believe  bool
	Reason   string
	Seen     int64 // the [Wear.Evidence] that was on the screen; 0 where none was
}

// Override is a recorded one. Of two that overlap the later counts.
type Override struct {
	ID        int64
	WearID    int64
	From, To  time.Time
	Believe   bool
	Reason    string
	By        Person
	At        time.Time
	Withdrawn time.Time // zero while it counts
}

// WearInputs is everything that the report of a wear is made from.
type WearInputs struct {
	WearID     int64
	Patient    Patient
	SensorKind string
	Zone       *time.Location // of the wearer's clock; nil is the practice's
	Readings   []wear.Reading
	Events     []wear.Event // from files, in time order
	Added      []wear.Event // that people added and did not take back
	Overrides  []Override   // those that count, earliest made first
	Results    []Result     // of the patient, those that count, newest first
	Asked      []wear.Asked // episodes at which the patient felt nothing, as they said in calls
	Notes      []wear.NoteText
	Read       []wear.WordsRead // what people said that words are, earliest first
	RedFlags   []wear.RedFlag   // boxes ticked on calls
}

// ResultKind is what a laboratory measured, by the engine's name for it.
type ResultKind string

// The kinds of result.
const (
	HbA1c    ResultKind = wear.LabHbA1c
	Fasting  ResultKind = wear.LabFastingGlucose
	OGTT2h   ResultKind = wear.LabTwoHourGlucose
	RandomGl ResultKind = wear.LabRandomGlucose
	Insulin  ResultKind = wear.LabFastingInsulin

	// Kept for the record: no criteria here read them.
	InsulinUntimed ResultKind = "insulin_untimed" // not said to be fasting
	CPeptide       ResultKind = "c_peptide"
	Cholesterol    ResultKind = "cholesterol"
	HDL            ResultKind = "hdl"
	LDL            ResultKind = "ldl"
	NonHDL         ResultKind = "non_hdl"
	Triglycerides  ResultKind = "triglycerides"
)

// read reports whether the engine reads such results; the others are kept for
// the record.
func (k ResultKind) read() bool {
	return k == HbA1c || k == Fasting || k == OGTT2h || k == RandomGl || k == Insulin
}

// NewResult is a laboratory result to be recorded.
type NewResult struct {
	PatientID int64
	WearID    int64 // the wear that it answers, or 0
	RecallID  int64 // the recall that it closes, or 0
	Kind      ResultKind
	Value     string // as reported: a plain decimal number, "<" or ">" before it where the report has one
	Unit      string // as reported; see [ResultUnits]
	TakenAt   time.Time
	Criteria  string // the set that Class was read by, or ""
	Class     string // what the set calls it, worked out by the caller in the reported unit, or ""
	Note      string
	Key       string // what the laboratory knows it by, where a message brought it; otherwise ""
}

// Result is a recorded one.
type Result struct {
	ID int64
	NewResult
	By        Person
	At        time.Time
	Withdrawn time.Time // zero while it counts
	FileID    int64     // the message that it came with, or 0
	From      string    // the name of that, as in [Drop]
}

// RecallKind is what a recall waits for.
type RecallKind string

// The kinds of recall.
const (
	RecallResult      RecallKind = "result"      // a laboratory result
	RecallNewWear     RecallKind = "new_wear"    // another wear; its file closes the recall
	RecallReview      RecallKind = "review"      // a look at how things go
	RecallAppointment RecallKind = "appointment" // the appointment itself
	RecallUrgent      RecallKind = "urgent"      // word that the patient was seen
	RecallOut         RecallKind = "out"         // the file of a sensor that was handed out; the file closes it
	RecallDecide      RecallKind = "decide"      // a clinician's decision on a result
)

// RecallState is where a recall stands.
type RecallState string

// The states of a recall.
const (
	RecallDue       RecallState = "due"       // nobody has tried yet
	RecallContacted RecallState = "contacted" // somebody tried or reached the patient; it still waits
	RecallDone      RecallState = "done"
	RecallCancelled RecallState = "cancelled"
)

// NewRecall is a recall to be set by hand; outcomes set their own.
type NewRecall struct {
	PatientID int64
	WearID    int64 // 0 where it is not about a wear
	Kind      RecallKind
	DueAt     time.Time
	Note      string
}

// Recall is something that must come back.
type Recall struct {
	ID          int64
	Patient     Patient
	WearID      int64 // the wear that it began with, or 0
	OutcomeID   int64 // the outcome that set it, or 0
	Kind        RecallKind
	State       RecallState
	DueAt       time.Time
	Note        string
	By          Person
	MadeAt      time.Time
	ClosedAt    time.Time // zero while it is open
	ClosedBy    Person    // the program where a file closed it
	Reason      string    // why it was cancelled or put off
	ResultID    int64     // the result that closed it, or 0
	AboutResult int64     // the result that is to be decided on, or 0
	NewWearID   int64     // the wear that closed it, or 0
	GivenAt     time.Time // when the sensor was handed out; zero unless it is [RecallOut]
	SensorKind  string    // of that sensor, or ""
	Serial      string    // of that sensor, or ""
	Contacts    int       // attempts
	LastContact time.Time // zero without one
}

// RecallQuery chooses a page of recalls, the earliest due first.
type RecallQuery struct {
	PatientID int64     // 0 = all
	Outs      bool      // the sensors that are out in place of all other recalls; one patient has both
	Closed    bool      // also those done or cancelled
	DueBefore time.Time // due before then; zero = all
	Untried   bool      // only those without a contact
	Offset    int
	Limit     int // 1 to 200
}

// RecallPage is one page of recalls.
type RecallPage struct {
	Rows     []Recall
	Matching int
}

// LetterTemplate is one version of the practice's text for a kind of letter.
type LetterTemplate struct {
	Kind    string
	Version int // 1, 2, ... of this kind
	Text    string
	By      Person
	At      time.Time
}

// NewLetter is a letter as it is opened for its sender to read.
type NewLetter struct {
	PatientID int64
	WearID    int64 // 0 where it is not about a wear
	Kind      string
	Template  int    // version of the template; 0 for the one that ships
	Protocol  string // version that the finding was made by
	Text      string
	Seen      int64  // the [Wear.Evidence] that it was written from; 0 without a wear
	Named     string // whom it was written for: [Patient.Named] as it was then
}

// Letter is one letter. Once sent it never changes.
type Letter struct {
	ID int64
	NewLetter
	OpenedBy  Person
	OpenedAt  time.Time
	SentBy    Person // who confirmed it
	SentAt    time.Time
	How       Means     // how it went
	Discarded time.Time // zero unless it was thrown away unsent
}

// Review is everything that people recorded about one wear, oldest first.
type Review struct {
	WearID    int64
	Open      bool
	Claim     *Claim    // nil while nobody has it
	NextTry   time.Time // when to try the patient again; zero where none is set
	Outcomes  []WearOutcome
	Handovers []Handover
	Contacts  []Contact
	Calls     []Call
	Events    []AddedEvent
	Overrides []Override
	Notes     []Note
	Read      []ReadWords
	RedFlags  []RedFlag
	Results   []Result // of the patient
	Recalls   []Recall // of the patient
	Letters   []Letter // of the patient
	Version   int64    // of the data, as [Store.DataVersion]
}

// InForce is the outcome that holds, or "" while the wear is on the round.
func (v *Review) InForce() OutcomeKind {
	var last WearOutcome
	for _, o := range v.Outcomes {
		if o.InForce() && o.ID > last.ID {
			last = o
		}
	}
	if v.Open {
		return ""
	}
	return last.Kind
}

// PatientContact is how a patient is reached.
type PatientContact struct {
	Telephone string `json:"telephone,omitempty"`
	Mail      string `json:"mail,omitempty"`
	Address   string `json:"address,omitempty"`
	Preferred Means  `json:"preferred,omitempty"`
	Language  string `json:"language,omitempty"`
	Note      string `json:"note,omitempty"` // "rings back after six"
}

// PatientRecord is a patient's entry with what is needed to change it.
type PatientRecord struct {
	Patient
	Contact    PatientContact
	MergedInto int64 // the entry that took this one in, or 0
	Version    int64 // of the entry, for [Store.EditPatient]
}

// RegisterLine is one line of a list to be imported. An empty field says
// nothing and leaves what is there.
type RegisterLine struct {
	Code, Name, BirthDate, Sex string
	Contact                    PatientContact
}

// RegisterState is what importing a line does.
type RegisterState string

// The states of a line.
const (
	LineNew     RegisterState = "new"
	LineChanged RegisterState = "changed"
	LineSame    RegisterState = "same"
	LineProblem RegisterState = "problem" // left out
)

// RegisterCheck is what became, or would become, of one line.
type RegisterCheck struct {
	State   RegisterState
	Fields  []string // that change
	Problem string   // plain sentence where State is [LineProblem]
	Twin    string   // code of another entry of the same name and birth date, or ""
}

// Merge is two entries of one patient made one.
type Merge struct {
	ID       int64
	Kept     int64
	Dropped  int64
	Reason   string
	By       Person
	At       time.Time
	UndoneAt time.Time // zero while it stands
}

// LogRow is one line of the log.
type LogRow struct {
	Seq      int64
	At       time.Time
	Actor    Person // the program for the zero value
	Role     string // "" for the program
	Action   string
	Object   string // what kind of thing: "wear", "patient", "user", ...
	ObjectID int64
	Ended    string // "done" or "refused"
	Reason   string // as somebody gave it, or which fields changed; never values
	Request  string
}

// AnyPerson stands for everybody but the program itself.
const AnyPerson = -1

// LogQuery chooses rows of the log, newest first.
type LogQuery struct {
	UserID    int64     // who did it; 0 = all, [AnyPerson] = all but the program
	Object    string    // kind of thing; "" = all
	ObjectID  int64     // 0 = all of that kind
	PatientID int64     // about this patient or one of their wears; 0 = all
	Action    string    // "" = all
	From, To  time.Time // zero = open end; To excluded
	Before    int64     // only rows with a smaller Seq; 0 = from the newest
	Limit     int       // 1 to 200
}

// Anchor is the newest line of the log at some moment, to be kept in a
// second place: it shows later that nothing was cut off.
type Anchor struct {
	Seq int64
	MAC Digest
	At  time.Time // when it was written there; zero for one that is not yet
}

// LogCheck is the result of walking the whole chain.
type LogCheck struct {
	At     time.Time
	Rows   int64
	Head   Anchor
	Broken int64  // Seq of the first row that is wrong or missing, 0 where none is
	Why    string // in words, "" where the chain is whole
}

// OK reports whether the chain is whole.
func (c *LogCheck) OK() bool { return c.Broken == 0 }

// DailyLine is what must not be forgotten, in numbers.
type DailyLine struct {
	Open             int       // wears on the round
	UnclaimedOverdue int       // of those, due on an earlier day and with nobody
	TryAgain         int       // of those, whose next try is due
	Stale            int       // wears whose report is to be made anew
	Held             int       // files held
	HeldLong         int       // of those, for more than a day
	RecallsUntried   int       // open recalls due on an earlier day that nobody has tried
	RecallsOverdue   int       // open recalls due on an earlier day
	OutsOverdue      int       // sensors whose file should have come on an earlier day
	LettersOpen      int       // letters opened more than a day ago and neither sent nor thrown away
	Chain            *LogCheck // the last check of the log; nil before the first
}
