package api

import (
	"context"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/store"
	"wearround/web/form"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// byID is what an operation on one thing takes.
type byID struct {
	ID int64 `path:"id" json:"-"`
}

// withReason is the same with a reason that must be given.
type withReason struct {
	ID     int64  `path:"id" json:"-"`
	Reason string `json:"reason"`
}

type nothing struct{}

func apiGetDaily(s *API, c *gin.Context, _ nothing) (apiDaily, error) {
	d, err := s.Store.Daily(c.Request.Context(), s.Now().In(s.Zone))
	return apiDaily{
		d.Open, d.UnclaimedOverdue, d.TryAgain, d.HeldLong, d.RecallsUntried, d.RecallsOverdue, d.LettersOpen, d.Chain != nil && d.Chain.OK(),
	}, err
}

type roundIn struct {
	Tier   string `query:"tier" json:"-" enum:"today|this_week|this_month|cannot_tell|routine"`
	Flag   string `query:"flag" json:"-" doc:"a flag code"`
	Offset int    `query:"offset" json:"-"`
}

// roundSearchIn is the same with a name in it, which must not stand in an address.
type roundSearchIn struct {
	Tier   string `json:"tier,omitempty" enum:"today|this_week|this_month|cannot_tell|routine"`
	Flag   string `json:"flag,omitempty" doc:"a flag code"`
	Text   string `json:"text" doc:"part of a patient's code or name"`
	Offset int    `json:"offset,omitempty"`
}

// apiPageSize is how many rows one answer of the API holds.
const apiPageSize = 100

func apiGetRound(s *API, c *gin.Context, in roundIn) (apiRound, error) {
	return apiSearchRound(s, c, roundSearchIn{Tier: in.Tier, Flag: in.Flag, Offset: in.Offset})
}

func apiSearchRound(s *API, c *gin.Context, in roundSearchIn) (apiRound, error) {
	q := store.RoundQuery{Flag: in.Flag, Text: in.Text, Offset: in.Offset, Limit: apiPageSize, Now: s.Now().In(s.Zone)}
	if in.Tier != "" {
		q.Tiers = []wear.Tier{wear.Tier(in.Tier)}
	}
	r, err := s.Store.Round(c.Request.Context(), q)
	return apiRound{door.Each(r.Rows, apiRowOf), r.Matching, r.Total, r.Version}, err
}

func apiClaimNext(s *API, c *gin.Context, _ nothing) (apiClaim, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	for {
		id, err := s.Store.NextWear(ctx, a, 0)
		if err != nil {
			return apiClaim{}, err
		}
		if id == 0 {
			return apiClaim{}, &door.Problem{Status: 404, Sentence: "Every wear on the round is with somebody, or is to be tried again later."}
		}
		claim, err := s.Store.Claim(ctx, a, id)
		if err == nil || store.CodeOf(err) != store.Conflict {
			return apiClaimOf(claim), err
		}
	}
}

type wearsIn struct {
	After int64 `query:"after" json:"-" doc:"begin after the wear with this id; follow next in its place"`
}

func apiListWears(s *API, c *gin.Context, in wearsIn) (apiWears, error) {
	list, err := s.Store.WearsAfter(c.Request.Context(), in.After, apiPageSize)
	out := apiWears{Wears: door.Each(list, apiSummaryOf)}
	if len(list) == apiPageSize { // a wear that comes meanwhile has a higher id
		out.Next = door.APIBase + "/wears?after=" + strconv.FormatInt(list[len(list)-1].ID, 10)
		c.Header("Link", "<"+out.Next+`>; rel="next"`)
	}
	return out, err
}

// seen gives a wear and logs that it was looked at.
func (s *API) seen(c *gin.Context, id int64) (store.Wear, error) {
	w, err := s.Store.Wear(c.Request.Context(), id)
	if err != nil {
		return w, err
	}
	return w, s.Store.RecordView(c.Request.Context(), door.Actor(c), "wear", w.ID)
}

func apiGetWear(s *API, c *gin.Context, in byID) (apiWear, error) {
	w, err := s.seen(c, in.ID)
	if err != nil {
		return apiWear{}, err
	}
	v, err := s.Store.Review(c.Request.Context(), w.ID)
	if err != nil {
		return apiWear{}, err
	}
	among, err := s.Among(c.Request.Context(), w)
	return apiWear{
		ID: w.ID, Patient: apiPatientOf(w.Patient), SensorKind: w.SensorKind, Zone: w.Zone, ReceivedAt: w.ReceivedAt, DueAt: w.DueAt,
		Open: v.Open, Evidence: w.Evidence, Report: w.Report, WithinKind: among, Claim: apiClaimOrNil(v.Claim), NextTry: v.NextTry,
		Outcomes: door.Each(v.Outcomes, apiOutcomeOf), Contacts: door.Each(v.Contacts, apiContactOf), Calls: door.Each(v.Calls, apiCallOf),
		Events: door.Each(v.Events, apiAddedOf), Overrides: door.Each(v.Overrides, apiOverrideOf), Notes: door.Each(v.Notes, apiNoteOf),
	}, err
}

func apiGetTrace(s *API, c *gin.Context, in byID) (apiTrace, error) {
	w, err := s.seen(c, in.ID)
	if err != nil {
		return apiTrace{}, err
	}
	readings, events, err := s.Store.Trace(c.Request.Context(), w.ID)
	return apiTrace{door.Each(readings, apiReadingOf), door.Each(events, apiEventOf)}, err
}

func apiClaimWear(s *API, c *gin.Context, in byID) (apiClaim, error) {
	claim, err := s.Store.Claim(c.Request.Context(), door.Actor(c), in.ID)
	return apiClaimOf(claim), err
}

func apiReleaseWear(s *API, c *gin.Context, in byID) (none, error) {
	return none{}, s.Store.Release(c.Request.Context(), door.Actor(c), in.ID)
}

func apiTakeOver(s *API, c *gin.Context, in withReason) (apiClaim, error) {
	claim, err := s.Store.TakeOver(c.Request.Context(), door.Actor(c), in.ID, in.Reason)
	return apiClaimOf(claim), err
}

type handOverIn struct {
	ID     int64     `path:"id" json:"-"`
	To     string    `json:"to" enum:"nurse|clinician"`
	Reason string    `json:"reason"`
	Due    time.Time `json:"due,omitzero" doc:"by when it must be taken; left out: as late as its tier allows"`
}

func apiHandOver(s *API, c *gin.Context, in handOverIn) (apiID, error) {
	id, err := s.Store.HandOver(c.Request.Context(), door.Actor(c), in.ID, store.NewHandover{To: store.Role(in.To), Reason: in.Reason, DueAt: in.Due})
	return apiID{id}, err
}

// place runs f, which adds something to a wear, and gives the place that it has
// now.
func (s *API) place(c *gin.Context, wearID int64, f act.Addition) (apiPlace, error) {
	ctx, a := c.Request.Context(), door.Actor(c)
	if err := f(ctx, a); err != nil {
		return apiPlace{}, err
	}
	w, err := s.Store.Wear(ctx, wearID)
	if err != nil {
		return apiPlace{}, err
	}
	return apiPlaceOf(w), nil
}

type callIn struct {
	ID      int64       `path:"id" json:"-"`
	Answers []apiAnswer `json:"answers"`
	Events  []apiEvent  `json:"events,omitempty" doc:"further things that were told"`
	Note    string      `json:"note,omitempty"`

	Evidence int64 `json:"evidence,omitempty" doc:"of the wear as it was looked at; left out, it is not compared"`
}

func apiRecordCall(s *API, c *gin.Context, in callIn) (apiPlace, error) {
	events, err := storedEvents(in.Events)
	if err != nil {
		return apiPlace{}, err
	}
	return s.place(c, in.ID, func(ctx context.Context, a store.Actor) error {
		_, err := s.Store.RecordCall(ctx, a, in.ID, store.CallSheet{Answers: door.Each(in.Answers, apiAnswer.stored), Events: events, Note: in.Note, Seen: in.Evidence})
		return err
	})
}

func storedEvents(in []apiEvent) ([]wear.Event, error) {
	var out []wear.Event
	for _, e := range in {
		x, ok := e.stored()
		if !ok {
			return nil, door.InvalidField("value", "A fingerstick has a value, a plain decimal number; other events have none.")
		}
		out = append(out, x)
	}
	return out, nil
}

type eventsIn struct {
	ID     int64      `path:"id" json:"-"`
	Events []apiEvent `json:"events"`
}

func apiAddEvents(s *API, c *gin.Context, in eventsIn) (apiPlace, error) {
	events, err := storedEvents(in.Events)
	if err != nil {
		return apiPlace{}, err
	}
	return s.place(c, in.ID, func(ctx context.Context, a store.Actor) error { return s.Store.AddEvents(ctx, a, in.ID, events) })
}

type withdrawEventIn struct {
	ID     int64  `path:"id" json:"-"`
	Event  int64  `path:"event" json:"-"`
	Reason string `json:"reason"`
}

func apiWithdrawEvent(s *API, c *gin.Context, in withdrawEventIn) (apiPlace, error) {
	return s.place(c, in.ID, s.WithdrawEvent(in.ID, in.Event, in.Reason))
}

type withdrawAnswerIn struct {
	ID     int64     `path:"id" json:"-"`
	Call   int64     `path:"call" json:"-"`
	Asked  time.Time `json:"asked" doc:"as the answer has it"`
	Reason string    `json:"reason"`
}

func apiWithdrawAnswer(s *API, c *gin.Context, in withdrawAnswerIn) (apiPlace, error) {
	return s.place(c, in.ID, s.WithdrawAnswer(in.ID, in.Call, in.Asked, in.Reason))
}

type overrideIn struct {
	ID      int64     `path:"id" json:"-"`
	From    time.Time `json:"from"`
	To      time.Time `json:"to"`
	Believe bool      `json:"believe"`
	Reason  string    `json:"reason"`

	Evidence int64 `json:"evidence,omitempty" doc:"of the wear as it was looked at; left out, it is not compared"`
}

func apiAddOverride(s *API, c *gin.Context, in overrideIn) (apiPlace, error) {
	return s.place(c, in.ID, func(ctx context.Context, a store.Actor) error {
		_, err := s.Store.AddOverride(ctx, a, store.NewOverride{WearID: in.ID, From: in.From, To: in.To, Believe: in.Believe, Reason: in.Reason, Seen: in.Evidence})
		return err
	})
}

type zoneIn struct {
	ID   int64  `path:"id" json:"-"`
	Zone string `json:"zone" doc:"IANA name, as in Australia/Perth; empty for the practice's own"`
}

type apiZoned struct {
	Wears int `json:"wears" doc:"how many share the files that are read again, this one included"`
}

func apiSetZone(s *API, c *gin.Context, in zoneIn) (apiZoned, error) {
	wears, err := s.SetZone(c, in.ID, in.Zone)
	return apiZoned{wears}, err
}

type withdrawOverrideIn struct {
	ID       int64  `path:"id" json:"-"`
	Override int64  `path:"override" json:"-"`
	Reason   string `json:"reason"`
}

func apiWithdrawOverride(s *API, c *gin.Context, in withdrawOverrideIn) (apiPlace, error) {
	return s.place(c, in.ID, s.WithdrawOverride(in.ID, in.Override, in.Reason))
}

type noteIn struct {
	ID   int64  `path:"id" json:"-"`
	Text string `json:"text"`
}

func apiAddNote(s *API, c *gin.Context, in noteIn) (apiID, error) {
	id, err := s.Store.AddNote(c.Request.Context(), door.Actor(c), in.ID, in.Text)
	return apiID{id}, err
}

type contactIn struct {
	ID      int64     `path:"id" json:"-"`
	Means   string    `json:"means" enum:"telephone|message|mail|post|in_person"`
	Reached bool      `json:"reached"`
	At      time.Time `json:"at,omitzero" doc:"left out: now"`
	Note    string    `json:"note,omitempty"`
	NextTry time.Time `json:"next_try,omitzero" doc:"needed about a wear where the patient was not reached"`
}

func (in contactIn) stored() store.NewContact {
	return store.NewContact{At: in.At, Means: store.Means(in.Means), Reached: in.Reached, Note: in.Note, NextTry: in.NextTry}
}

func apiRecordContact(s *API, c *gin.Context, in contactIn) (apiID, error) {
	id, err := s.Store.RecordContact(c.Request.Context(), door.Actor(c), in.ID, in.stored())
	return apiID{id}, err
}

func apiListOutcomes(*API, *gin.Context, nothing) (apiRules, error) {
	return apiRules{door.Each(store.Rules(), func(r store.Rule) apiRule {
		bars := door.Each(r.Bars, func(b store.Bar) string { return b.Words })
		return apiRule{string(r.Kind), r.Words, r.Follows, string(r.Recall), r.Days, r.Optional, r.Reason, r.Asks, bars}
	})}, nil
}

type outcomeIn struct {
	ID       int64     `path:"id" json:"-"`
	Kind     string    `json:"kind" enum:"told_well|advice|tests_ordered|appointment|urgent_contact|sensor_replaced|wear_again|could_not_reach|off_pathway"`
	Reason   string    `json:"reason,omitempty"`
	Recall   time.Time `json:"recall,omitzero" doc:"when what follows must be back"`
	Evidence int64     `json:"evidence" doc:"of the wear as it was looked at"`
}

func apiRecordOutcome(s *API, c *gin.Context, in outcomeIn) (apiOutcome, error) {
	ctx := c.Request.Context()
	w, err := s.Store.Wear(ctx, in.ID)
	if err != nil {
		return apiOutcome{}, err
	}
	o, err := s.Store.RecordOutcome(ctx, door.Actor(c), s.NewOutcome(w.ID, in.Kind, in.Reason, in.Recall, in.Evidence))
	return apiOutcomeOf(o), err
}

func apiUndoOutcome(s *API, c *gin.Context, in byID) (none, error) {
	return none{}, s.Store.UndoOutcome(c.Request.Context(), door.Actor(c), in.ID)
}

func apiCorrectOutcome(s *API, c *gin.Context, in outcomeIn) (apiOutcome, error) {
	ctx := c.Request.Context()
	old, err := s.Store.WearOutcome(ctx, in.ID)
	if err != nil {
		return apiOutcome{}, err
	}
	o, err := s.Store.CorrectOutcome(ctx, door.Actor(c), in.ID, s.NewOutcome(old.WearID, in.Kind, in.Reason, in.Recall, in.Evidence))
	return apiOutcomeOf(o), err
}

func apiReopen(s *API, c *gin.Context, in withReason) (none, error) {
	return none{}, s.Store.Reopen(c.Request.Context(), door.Actor(c), in.ID, in.Reason)
}

type letterIn struct {
	ID     int64     `path:"id" json:"-"`
	Kind   string    `json:"kind" enum:"patient_unremarkable|patient_near|patient_tests|patient_wear_again|clinician|sensor_failed"`
	Tests  []string  `json:"tests,omitempty" doc:"what is wanted"`
	By     time.Time `json:"by,omitzero" doc:"the day by which it is asked"`
	To     string    `json:"to,omitempty"`
	Serial string    `json:"serial,omitempty" doc:"of a sensor that failed"`
	Fault  string    `json:"fault,omitempty"`
}

func apiOpenLetter(s *API, c *gin.Context, in letterIn) (apiLetter, error) {
	id, err := s.WriteLetter(c, in.ID, form.Letter{Kind: letter.Kind(in.Kind), Tests: in.Tests, By: in.By, To: in.To, Serial: in.Serial, Fault: in.Fault})
	if err != nil {
		return apiLetter{}, err
	}
	l, err := s.Store.Letter(c.Request.Context(), id)
	return apiLetterOf(l), err
}

func apiGetLetter(s *API, c *gin.Context, in byID) (apiLetter, error) {
	l, err := s.Store.Letter(c.Request.Context(), in.ID)
	if err != nil {
		return apiLetter{}, err
	}
	return apiLetterOf(l), s.Store.RecordView(c.Request.Context(), door.Actor(c), "patient", l.PatientID)
}

type sendIn struct {
	ID   int64  `path:"id" json:"-"`
	Text string `json:"text" doc:"as it is sent, to the letter"`
	How  string `json:"how" enum:"telephone|message|mail|post|in_person"`
}

func apiSendLetter(s *API, c *gin.Context, in sendIn) (apiLetter, error) {
	ctx := c.Request.Context()
	l, err := s.Store.Letter(ctx, in.ID)
	if err != nil {
		return apiLetter{}, err
	}
	if err := act.CheckText(letter.Check(letter.Kind(l.Kind), in.Text)); err != nil {
		return apiLetter{}, err
	}
	if err := s.Store.SendLetter(ctx, door.Actor(c), in.ID, in.Text, store.Means(in.How)); err != nil {
		return apiLetter{}, err
	}
	l, err = s.Store.Letter(ctx, in.ID)
	return apiLetterOf(l), err
}

func apiDiscardLetter(s *API, c *gin.Context, in byID) (none, error) {
	return none{}, s.Store.DiscardLetter(c.Request.Context(), door.Actor(c), in.ID)
}

func apiListTemplates(s *API, c *gin.Context, _ nothing) (apiTemplates, error) {
	out := apiTemplates{Templates: []apiTemplate{}}
	for _, kind := range letter.Kinds() {
		text, version, err := s.Template(c.Request.Context(), kind)
		if err != nil {
			return out, err
		}
		out.Templates = append(out.Templates, apiTemplate{string(kind), version, text})
	}
	return out, nil
}

type templateIn struct {
	Kind string `path:"kind" json:"-" doc:"kind of letter, as listed"`
	Text string `json:"text"`
}

func apiSetTemplate(s *API, c *gin.Context, in templateIn) (apiTemplate, error) {
	kind := letter.Kind(in.Kind)
	if !kind.Known() {
		return apiTemplate{}, door.ErrNoPage
	}
	if err := act.CheckText(letter.CheckTemplate(kind, in.Text)); err != nil {
		return apiTemplate{}, err
	}
	version, err := s.Store.AddTemplate(c.Request.Context(), door.Actor(c), in.Kind, in.Text)
	return apiTemplate{in.Kind, version, in.Text}, err
}
