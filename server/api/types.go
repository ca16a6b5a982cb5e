package api

import (
	"time"

	"wearround/server/door"
	"wearround/store"
	"wearround/worker/wear"
)

// What the API sends and takes. Field names are snake_case and stable; a moment
// that there is not is left out. Lists are never null.

type apiID struct {
	ID int64 `json:"id"`
}

type apiPerson struct {
	ID   int64  `json:"id" doc:"0 is the program itself"`
	Name string `json:"name"`
}

type apiPatient struct {
	ID        int64  `json:"id"`
	Code      string `json:"code" doc:"the practice's own"`
	Name      string `json:"name"`
	BirthDate string `json:"birth_date" doc:"2006-01-02, or empty"`
}

type apiContactDetails struct {
	Telephone string `json:"telephone,omitempty"`
	Mail      string `json:"mail,omitempty"`
	Address   string `json:"address,omitempty"`
	Preferred string `json:"preferred,omitempty" enum:"telephone|message|mail|post|in_person"`
	Language  string `json:"language,omitempty"`
	Note      string `json:"note,omitempty"`
}

type apiRecord struct {
	apiPatient
	Context wear.Context      `json:"context"`
	Contact apiContactDetails `json:"contact"`
	Version int64             `json:"version" doc:"to be sent back with a change"`
}

type apiClaim struct {
	WearID int64     `json:"wear_id"`
	Holder apiPerson `json:"holder"`
	Until  time.Time `json:"until"`
}

type apiRoundRow struct {
	Rank        int        `json:"rank" doc:"place among all wears on the round, whatever was asked for"`
	WearID      int64      `json:"wear_id"`
	Patient     apiPatient `json:"patient"`
	SensorKind  string     `json:"sensor_kind"`
	Start       time.Time  `json:"start"`
	End         time.Time  `json:"end"`
	ReceivedAt  time.Time  `json:"received_at"`
	DueAt       time.Time  `json:"due_at"`
	OverdueDays int        `json:"overdue_days"`
	Headline    string     `json:"headline"`
	Confidence  string     `json:"confidence"`
	Tier        string     `json:"tier" enum:"today|this_week|this_month|cannot_tell|routine"`
	Score       float64    `json:"score"`
	Flags       []string   `json:"flags"`
	Claim       *apiClaim  `json:"claim"`
	Attempts    int        `json:"attempts"`
	NextTry     time.Time  `json:"next_try,omitzero"`
	HandedTo    string     `json:"handed_to,omitempty" doc:"the role that it was handed over to and that has not taken it yet"`
	HandedDue   time.Time  `json:"handed_due,omitzero" doc:"by when they should take it"`
	HandedWhy   string     `json:"handed_reason,omitempty"`
}

type apiRound struct {
	Rows     []apiRoundRow `json:"rows"`
	Matching int           `json:"matching"`
	Total    int           `json:"total"`
	Version  int64         `json:"version" doc:"of the data; rises with every change"`
}

type apiPlace struct {
	WearID   int64    `json:"wear_id"`
	Tier     string   `json:"tier" enum:"today|this_week|this_month|cannot_tell|routine"`
	Score    float64  `json:"score"`
	Flags    []string `json:"flags"`
	Headline string   `json:"headline"`
	Evidence int64    `json:"evidence" doc:"stands for what the report says; to be sent with an outcome"`
}

type apiWear struct {
	ID         int64            `json:"id"`
	Patient    apiPatient       `json:"patient"`
	SensorKind string           `json:"sensor_kind"`
	Zone       string           `json:"zone" doc:"IANA name of the zone of the wearer's clock, where a person said that it is another than the practice's; or empty"`
	ReceivedAt time.Time        `json:"received_at"`
	DueAt      time.Time        `json:"due_at"`
	Open       bool             `json:"open" doc:"on the round"`
	Evidence   int64            `json:"evidence" doc:"stands for what the report says; to be sent with an outcome"`
	Report     *wear.Report     `json:"report"`
	WithinKind *wear.WithinKind `json:"within_kind" doc:"among the practice's wears of the same sensor kind, as percentiles; null where there are too few"`
	Claim      *apiClaim        `json:"claim"`
	NextTry    time.Time        `json:"next_try,omitzero"`
	Outcomes   []apiOutcome     `json:"outcomes"`
	Contacts   []apiContact     `json:"contacts"`
	Calls      []apiCall        `json:"calls"`
	Events     []apiAdded       `json:"added_events"`
	Overrides  []apiOverride    `json:"overrides"`
	Notes      []apiNote        `json:"notes"`
}

type apiOutcome struct {
	ID          int64     `json:"id"`
	WearID      int64     `json:"wear_id"`
	Kind        string    `json:"kind" enum:"told_well|advice|tests_ordered|appointment|urgent_contact|sensor_replaced|wear_again|could_not_reach|off_pathway"`
	Reason      string    `json:"reason"`
	By          apiPerson `json:"by"`
	At          time.Time `json:"at"`
	Tier        string    `json:"tier"`
	Flags       []string  `json:"flags"`
	Corrects    int64     `json:"corrects,omitempty"`
	CorrectedBy int64     `json:"corrected_by,omitempty"`
	UndoneAt    time.Time `json:"undone_at,omitzero"`
}

type apiRule struct {
	Kind     string   `json:"kind"`
	Words    string   `json:"words"`
	Follows  string   `json:"follows" doc:"what must follow"`
	Recall   string   `json:"recall" doc:"kind of the recall that follows, or empty"`
	Days     int      `json:"days" doc:"until then, as proposed; 0 where a date must be given"`
	Optional bool     `json:"optional" doc:"the recall may be left out"`
	Reason   bool     `json:"reason" doc:"a reason is needed"`
	Asks     string   `json:"asks" doc:"what the reason is to say"`
	Bars     []string `json:"bars" doc:"what a wear may have that leaves this outcome to a clinician, who gives a reason"`
}

type apiRules struct {
	Outcomes []apiRule `json:"outcomes"`
}

type apiContact struct {
	ID       int64     `json:"id"`
	WearID   int64     `json:"wear_id,omitempty"`
	RecallID int64     `json:"recall_id,omitempty"`
	At       time.Time `json:"at"`
	Means    string    `json:"means"`
	Reached  bool      `json:"reached"`
	Note     string    `json:"note"`
	NextTry  time.Time `json:"next_try,omitzero"`
	By       apiPerson `json:"by"`
}

type apiAnswer struct {
	Asked    time.Time `json:"asked" doc:"start of the episode that was asked about"`
	Felt     string    `json:"felt" enum:"yes|no|unsure"`
	At       time.Time `json:"at,omitzero" doc:"when it was felt"`
	Words    string    `json:"words,omitempty" doc:"what was felt, in the patient's words"`
	Minutes  int       `json:"minutes,omitempty"`
	Relieved string    `json:"relieved,omitempty" enum:"yes|no|unsure" doc:"whether food relieved it"`
}

type apiAnswered struct {
	apiAnswer
	Withdrawn time.Time `json:"withdrawn_at,omitzero"`
}

type apiCall struct {
	ID      int64         `json:"id"`
	Answers []apiAnswered `json:"answers"`
	By      apiPerson     `json:"by"`
	At      time.Time     `json:"at"`
}

type apiEvent struct {
	At      time.Time `json:"at"`
	Kind    string    `json:"kind" enum:"meal|symptom|exercise|sleep|fingerstick|medicine|note"`
	Label   string    `json:"label,omitempty"`
	Minutes int       `json:"minutes,omitempty"`
	Carbs   float64   `json:"carbs,omitempty" doc:"grams"`
	Value   string    `json:"value,omitempty" doc:"of a fingerstick, a plain decimal number"`
	Unit    string    `json:"unit,omitempty" enum:"mmol/L|mg/dL"`
}

type apiAdded struct {
	apiEvent
	ID        int64     `json:"id"`
	By        apiPerson `json:"by"`
	AddedAt   time.Time `json:"added_at"`
	Withdrawn time.Time `json:"withdrawn_at,omitzero"`
}

type apiOverride struct {
	ID        int64     `json:"id"`
	From      time.Time `json:"from"`
	To        time.Time `json:"to"`
	Believe   bool      `json:"believe"`
	Reason    string    `json:"reason"`
	By        apiPerson `json:"by"`
	At        time.Time `json:"at"`
	Withdrawn time.Time `json:"withdrawn_at,omitzero"`
}

type apiNote struct {
	ID       int64     `json:"id"`
	Text     string    `json:"text"`
	By       apiPerson `json:"by"`
	At       time.Time `json:"at"`
	Corrects int64     `json:"corrects,omitempty"`
}

type apiReading struct {
	At    time.Time `json:"at"`
	Value float64   `json:"value" doc:"in the unit it was recorded in"`
	Unit  string    `json:"unit"`
	Bound string    `json:"bound" enum:"exact|below|above" doc:"below and above: only known to lie past the value"`
}

type apiTrace struct {
	Readings []apiReading `json:"readings"`
	Events   []apiEvent   `json:"events"`
}

type apiResult struct {
	ID        int64     `json:"id"`
	WearID    int64     `json:"wear_id,omitempty"`
	RecallID  int64     `json:"recall_id,omitempty"`
	Kind      string    `json:"kind"`
	Value     string    `json:"value" doc:"as reported"`
	Unit      string    `json:"unit" doc:"as reported"`
	TakenAt   time.Time `json:"taken_at"`
	Criteria  string    `json:"criteria" doc:"the set that class was read by, or empty"`
	Class     string    `json:"class" doc:"a range, never a diagnosis; empty where no set has one"`
	Note      string    `json:"note"`
	By        apiPerson `json:"by"`
	At        time.Time `json:"at"`
	Withdrawn time.Time `json:"withdrawn_at,omitzero"`
}

type apiRecall struct {
	ID        int64      `json:"id"`
	Patient   apiPatient `json:"patient"`
	WearID    int64      `json:"wear_id,omitempty"`
	OutcomeID int64      `json:"outcome_id,omitempty"`
	Kind      string     `json:"kind" enum:"result|new_wear|review|appointment|urgent|out|decide"`
	State     string     `json:"state" enum:"due|contacted|done|cancelled"`
	DueAt     time.Time  `json:"due_at"`
	Note      string     `json:"note"`
	By        apiPerson  `json:"by"`
	Contacts  int        `json:"contacts"`
	ClosedAt  time.Time  `json:"closed_at,omitzero"`
	Reason    string     `json:"reason,omitempty"`
	Version   int64      `json:"version" doc:"of the recall as it is; ending or moving it sends the version that was seen"`
}

type apiRecalls struct {
	Rows     []apiRecall `json:"rows"`
	Matching int         `json:"matching"`
}

type apiLetter struct {
	ID          int64     `json:"id"`
	PatientID   int64     `json:"patient_id"`
	WearID      int64     `json:"wear_id,omitempty"`
	Kind        string    `json:"kind"`
	Template    int       `json:"template" doc:"version; 0 is the one that ships"`
	Protocol    string    `json:"protocol"`
	Text        string    `json:"text"`
	OpenedBy    apiPerson `json:"opened_by"`
	OpenedAt    time.Time `json:"opened_at"`
	SentBy      apiPerson `json:"sent_by"`
	SentAt      time.Time `json:"sent_at,omitzero"`
	How         string    `json:"how"`
	DiscardedAt time.Time `json:"discarded_at,omitzero"`
}

type apiTemplate struct {
	Kind    string `json:"kind"`
	Version int    `json:"version" doc:"0 is the one that ships"`
	Text    string `json:"text"`
}

type apiTemplates struct {
	Templates []apiTemplate `json:"templates"`
}

type apiSummary struct {
	ID         int64     `json:"id"`
	SensorKind string    `json:"sensor_kind"`
	Start      time.Time `json:"start"`
	End        time.Time `json:"end"`
	Open       bool      `json:"open"`
	Tier       string    `json:"tier"`
	Headline   string    `json:"headline"`
}

type apiWears struct {
	Wears []apiSummary `json:"wears"`
	Next  string       `json:"next,omitempty" doc:"address of the next page, also in the Link header; left out on the last"`
}

type apiPatientFile struct {
	apiRecord
	Wears   []apiSummary `json:"wears"`
	Results []apiResult  `json:"results"`
	Recalls []apiRecall  `json:"recalls"`
	Letters []apiLetter  `json:"letters"`
	Notes   []apiNote    `json:"notes"`
	Merges  []apiMerge   `json:"merges"`
}

type apiMerge struct {
	ID       int64     `json:"id"`
	Kept     int64     `json:"kept"`
	Dropped  int64     `json:"dropped"`
	Reason   string    `json:"reason"`
	By       apiPerson `json:"by"`
	At       time.Time `json:"at"`
	UndoneAt time.Time `json:"undone_at,omitzero"`
}

type apiPatients struct {
	Rows []apiPatient `json:"rows"`
}

type apiLine struct {
	Code      string            `json:"code"`
	Name      string            `json:"name,omitempty"`
	BirthDate string            `json:"birth_date,omitempty"`
	Sex       string            `json:"sex,omitempty" enum:"female|male"`
	Contact   apiContactDetails `json:"contact,omitzero"`
}

type apiCheck struct {
	Code    string   `json:"code"`
	State   string   `json:"state" enum:"new|changed|same|problem"`
	Fields  []string `json:"fields" doc:"that change"`
	Problem string   `json:"problem,omitempty"`
	Twin    string   `json:"twin,omitempty" doc:"code of another entry with the same name and birth date"`
}

type apiChecks struct {
	Lines []apiCheck `json:"lines"`
}

type apiUser struct {
	ID           int64    `json:"id"`
	Login        string   `json:"login"`
	Name         string   `json:"name"`
	Roles        []string `json:"roles"`
	Disabled     bool     `json:"disabled"`
	SecondFactor bool     `json:"second_factor"`
}

type apiUsers struct {
	People []apiUser `json:"people"`
}

type apiInvitation struct {
	Person apiUser   `json:"person"`
	Link   string    `json:"link" doc:"lets the person in once, to choose a password"`
	Until  time.Time `json:"until"`
}

type apiLogRow struct {
	Seq      int64     `json:"seq"`
	At       time.Time `json:"at"`
	Actor    apiPerson `json:"actor"`
	Role     string    `json:"role"`
	Action   string    `json:"action"`
	Object   string    `json:"object"`
	ObjectID int64     `json:"object_id"`
	Ended    string    `json:"outcome"`
	Reason   string    `json:"reason"`
	Request  string    `json:"request"`
}

type apiLog struct {
	Rows []apiLogRow `json:"rows"`
}

type apiChain struct {
	CheckedAt time.Time `json:"checked_at"`
	Rows      int64     `json:"rows"`
	Whole     bool      `json:"whole"`
	Broken    int64     `json:"broken,omitempty" doc:"the first line that is wrong"`
	Why       string    `json:"why,omitempty"`
}

type apiDaily struct {
	Open             int  `json:"open" doc:"wears on the round"`
	UnclaimedOverdue int  `json:"unclaimed_overdue"`
	TryAgain         int  `json:"try_again"`
	HeldLong         int  `json:"held_over_a_day"`
	RecallsUntried   int  `json:"recalls_untried"`
	RecallsOverdue   int  `json:"recalls_overdue"`
	LettersOpen      int  `json:"letters_open"`
	LogWhole         bool `json:"log_whole" doc:"as last checked; false also before the first check"`
}

func apiPersonOf(p store.Person) apiPerson { return apiPerson{p.ID, p.Name} }

func apiPatientOf(p store.Patient) apiPatient { return apiPatient{p.ID, p.Code, p.Name, p.BirthDate} }

func apiRecordOf(r store.PatientRecord) apiRecord {
	c := r.Contact
	return apiRecord{
		apiPatient: apiPatientOf(r.Patient), Context: r.Context, Version: r.Version,
		Contact: apiContactDetails{c.Telephone, c.Mail, c.Address, string(c.Preferred), c.Language, c.Note},
	}
}

func (c apiContactDetails) stored() store.PatientContact {
	return store.PatientContact{Telephone: c.Telephone, Mail: c.Mail, Address: c.Address, Preferred: store.Means(c.Preferred), Language: c.Language, Note: c.Note}
}

func apiClaimOf(c store.Claim) apiClaim { return apiClaim{c.WearID, apiPersonOf(c.Holder), c.Until} }

func apiClaimOrNil(c *store.Claim) *apiClaim {
	if c == nil {
		return nil
	}
	out := apiClaimOf(*c)
	return &out
}

func apiRowOf(r store.RoundRow) apiRoundRow {
	out := apiRoundRow{
		Rank: r.Rank, WearID: r.WearID, Patient: apiPatientOf(r.Patient), SensorKind: r.SensorKind, Start: r.Start, End: r.End,
		ReceivedAt: r.ReceivedAt, DueAt: r.DueAt, OverdueDays: r.OverdueDays, Headline: r.Headline, Confidence: r.Confidence,
		Tier: string(r.Priority.Tier), Score: r.Priority.Score, Flags: append([]string{}, r.Flags...), Attempts: r.Attempts, NextTry: r.NextTry,
		HandedTo: string(r.HandedTo), HandedDue: r.HandedDue, HandedWhy: r.HandedWhy,
	}
	if r.ClaimedBy.ID != 0 {
		out.Claim = &apiClaim{r.WearID, apiPersonOf(r.ClaimedBy), r.ClaimedUntil}
	}
	return out
}

func apiPlaceOf(w store.Wear) apiPlace {
	r := w.Report
	return apiPlace{
		WearID: w.ID, Tier: string(r.Priority.Tier), Score: r.Priority.Score, Headline: r.Headline, Evidence: w.Evidence,
		Flags: door.Each(r.Flags, func(f wear.Flag) string { return f.Code }),
	}
}

func apiOutcomeOf(o store.WearOutcome) apiOutcome {
	return apiOutcome{
		ID: o.ID, WearID: o.WearID, Kind: string(o.Kind), Reason: o.Reason, By: apiPersonOf(o.By), At: o.At, Tier: string(o.Tier),
		Flags: append([]string{}, o.Flags...), Corrects: o.Corrects, CorrectedBy: o.CorrectedBy, UndoneAt: o.UndoneAt,
	}
}

func apiContactOf(x store.Contact) apiContact {
	return apiContact{x.ID, x.WearID, x.RecallID, x.At, string(x.Means), x.Reached, x.Note, x.NextTry, apiPersonOf(x.By)}
}

func apiAnswerOf(a store.CallAnswer) apiAnswer {
	out := apiAnswer{Asked: time.Unix(a.Asked, 0).UTC(), Felt: string(a.Felt), Words: a.Words, Minutes: a.Minutes, Relieved: string(a.Relieved)}
	if a.At != 0 {
		out.At = time.Unix(a.At, 0).UTC()
	}
	return out
}

func (a apiAnswer) stored() store.CallAnswer {
	out := store.CallAnswer{Asked: a.Asked.Unix(), Felt: store.Felt(a.Felt), Words: a.Words, Minutes: a.Minutes, Relieved: store.Felt(a.Relieved)}
	if !a.At.IsZero() {
		out.At = a.At.Unix()
	}
	return out
}

func apiCallOf(x store.Call) apiCall {
	said := func(a store.CallAnswer) apiAnswered { return apiAnswered{apiAnswerOf(a), x.TakenBack(a.Asked)} }
	return apiCall{x.ID, door.Each(x.Answers, said), apiPersonOf(x.By), x.At}
}

func apiEventOf(e wear.Event) apiEvent {
	out := apiEvent{At: time.Unix(e.At, 0).UTC(), Kind: string(e.Kind), Label: e.Label, Minutes: e.Minutes, Carbs: e.Carbs}
	if e.Kind == wear.Fingerstick {
		out.Value, out.Unit = wear.FormatHalfUp(e.Value.Native(), int(e.Value.Scale)), e.Value.Unit.String()
	}
	return out
}

// stored is the event as the store takes it; false where its value cannot be
// read.
func (e apiEvent) stored() (wear.Event, bool) {
	out := wear.Event{At: e.At.Unix(), Kind: wear.EventKind(e.Kind), Label: e.Label, Minutes: e.Minutes, Carbs: e.Carbs}
	if out.Kind != wear.Fingerstick {
		return out, e.Value == ""
	}
	num, scale, ok := wear.ParseValue(e.Value)
	out.Value = wear.Reading{At: out.At, Num: num, Scale: scale, Unit: wear.ParseUnit(e.Unit)}
	return out, ok
}

func apiAddedOf(e store.AddedEvent) apiAdded {
	return apiAdded{apiEventOf(e.Event), e.ID, apiPersonOf(e.By), e.At, e.Withdrawn}
}

func apiOverrideOf(o store.Override) apiOverride {
	return apiOverride{o.ID, o.From, o.To, o.Believe, o.Reason, apiPersonOf(o.By), o.At, o.Withdrawn}
}

func apiNoteOf(n store.Note) apiNote {
	return apiNote{n.ID, n.Text, apiPersonOf(n.By), n.At, n.Corrects}
}

func apiReadingOf(r wear.Reading) apiReading {
	bound := map[wear.Bound]string{wear.Exact: "exact", wear.Below: "below", wear.Above: "above"}[r.Bound]
	return apiReading{time.Unix(r.At, 0).UTC(), r.Native(), r.Unit.String(), bound}
}

func apiResultOf(r store.Result) apiResult {
	return apiResult{
		r.ID, r.WearID, r.RecallID, string(r.Kind), r.Value, r.Unit, r.TakenAt, r.Criteria, r.Class, r.Note, apiPersonOf(r.By), r.At, r.Withdrawn,
	}
}

func (r apiResult) stored() store.Result {
	return store.Result{
		ID: r.ID, By: store.Person{ID: r.By.ID, Name: r.By.Name}, At: r.At, Withdrawn: r.Withdrawn,
		NewResult: store.NewResult{
			WearID: r.WearID, RecallID: r.RecallID, Kind: store.ResultKind(r.Kind), Value: r.Value, Unit: r.Unit, TakenAt: r.TakenAt,
			Criteria: r.Criteria, Class: r.Class, Note: r.Note,
		},
	}
}

func apiRecallOf(r store.Recall) apiRecall {
	return apiRecall{
		r.ID, apiPatientOf(r.Patient), r.WearID, r.OutcomeID, string(r.Kind), string(r.State), r.DueAt, r.Note, apiPersonOf(r.By), r.Contacts, r.ClosedAt, r.Reason, r.Version(),
	}
}

func apiLetterOf(l store.Letter) apiLetter {
	return apiLetter{
		l.ID, l.PatientID, l.WearID, l.Kind, l.Template, l.Protocol, l.Text, apiPersonOf(l.OpenedBy), l.OpenedAt, apiPersonOf(l.SentBy), l.SentAt, string(l.How), l.Discarded,
	}
}

func apiSummaryOf(w store.WearSummary) apiSummary {
	return apiSummary{w.ID, w.SensorKind, w.Start, w.End, w.Open, string(w.Tier), w.Headline}
}

func apiMergeOf(m store.Merge) apiMerge {
	return apiMerge{m.ID, m.Kept, m.Dropped, m.Reason, apiPersonOf(m.By), m.At, m.UndoneAt}
}

func apiUserOf(u store.User) apiUser {
	return apiUser{u.ID, u.Login, u.Name, door.RoleNames(u.Roles), u.Disabled, u.SecondFactor}
}

func apiLogRowOf(r store.LogRow) apiLogRow {
	return apiLogRow{r.Seq, r.At, apiPersonOf(r.Actor), r.Role, r.Action, r.Object, r.ObjectID, r.Ended, r.Reason, r.Request}
}
