package view

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// What was done is told in plain sentences, put together here from the rows of
// the store. Who, when and why are never left out.

// WearTrail is everything that was done about one wear, newest first.
func (s *View) WearTrail(ctx context.Context, v store.Review) ([]web.Entry, error) {
	var out []web.Entry
	for _, o := range v.Outcomes {
		out = append(out, s.outcomeEntries(o)...)
	}
	for _, x := range v.Contacts {
		if x.RecallID == 0 {
			out = append(out, s.contactEntry(x))
		}
	}
	for _, h := range v.Handovers {
		out = append(out, web.Entry{At: h.At, By: h.By.Name, Text: because("handed the wear over to a "+string(h.To)+", to be taken by "+s.Day(h.DueAt), h.Reason)})
	}
	for _, x := range v.Calls {
		out = append(out, s.callEntry(x))
	}
	for _, e := range v.Events {
		if e.CallID == 0 {
			out = append(out, web.Entry{At: e.At, By: e.By.Name, Text: "added to the wear: " + EventWords(e.Event, s.Zone)})
		}
	}
	for _, o := range v.Overrides {
		out = append(out, s.overrideEntry(o))
	}
	for _, n := range v.Notes {
		out = append(out, noteEntry(n))
	}
	for _, l := range v.Letters {
		if l.WearID == v.WearID {
			out = append(out, letterEntries(l)...)
		}
	}
	for _, r := range v.Recalls {
		if r.WearID == v.WearID {
			out = append(out, s.recallEntries(r)...)
		}
	}
	for _, r := range v.Results {
		if r.WearID == v.WearID {
			out = append(out, s.resultEntry(r))
		}
	}
	log, err := s.Store.LogRows(ctx, store.LogQuery{Object: "wear", ObjectID: v.WearID, Limit: 200})
	if err != nil {
		return nil, err
	}
	return newestFirst(append(out, logEntries(log)...)), nil
}

// PatientTrail is everything that was ever decided about a patient.
func (s *View) PatientTrail(ctx context.Context, id int64) ([]web.Entry, error) {
	var out []web.Entry
	outcomes, err := s.Store.Outcomes(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, o := range outcomes {
		out = append(out, s.outcomeEntries(o)...)
	}
	notes, err := s.Store.Notes(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, n := range notes {
		out = append(out, noteEntry(n))
	}
	letters, err := s.Store.Letters(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, l := range letters {
		out = append(out, letterEntries(l)...)
	}
	recalls, err := s.Store.Recalls(ctx, store.RecallQuery{PatientID: id, Closed: true, Limit: 200})
	if err != nil {
		return nil, err
	}
	for _, r := range recalls.Rows {
		out = append(out, s.recallEntries(r)...)
	}
	results, err := s.Store.Results(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, r := range results {
		out = append(out, s.resultEntry(r))
	}
	log, err := s.Store.LogRows(ctx, store.LogQuery{PatientID: id, Limit: 200})
	if err != nil {
		return nil, err
	}
	return newestFirst(append(out, logEntries(log)...)), nil
}

func newestFirst(list []web.Entry) []web.Entry {
	slices.SortStableFunc(list, func(a, b web.Entry) int { return b.At.Compare(a.At) })
	return list
}

func (s *View) outcomeEntries(o store.WearOutcome) []web.Entry {
	text := "recorded the outcome: " + OutcomeWords(o.Kind)
	if o.Corrects != 0 {
		text = "put the outcome right: " + OutcomeWords(o.Kind)
	}
	out := []web.Entry{{At: o.At, By: o.By.Name, Text: because(text, o.Reason)}}
	if !o.UndoneAt.IsZero() {
		out = append(out, web.Entry{At: o.UndoneAt, By: o.By.Name, Text: "took the outcome back: " + OutcomeWords(o.Kind)})
	}
	return out
}

// because puts a person's own words after a sentence.
func because(text, reason string) string {
	if reason = strings.TrimSpace(reason); reason == "" {
		return text
	}
	return text + ". " + reason
}

// by says by what means.
func by(m store.Means) string {
	if m == store.InPerson {
		return form.MeansWords[string(m)]
	}
	return "by " + form.MeansWords[string(m)]
}

func (s *View) contactEntry(x store.Contact) web.Entry {
	text := "reached the patient " + by(x.Means)
	if !x.Reached {
		text = "tried to reach the patient " + by(x.Means)
		if !x.NextTry.IsZero() {
			text += "; next try " + s.Day(x.NextTry)
		}
	}
	return web.Entry{At: x.At, By: x.By.Name, Text: because(text, x.Note)}
}

func (s *View) callEntry(x store.Call) web.Entry {
	var said []string
	for _, a := range x.Answers {
		words := AnswerWords(a, s.Zone)
		if at := x.TakenBack(a.Asked); !at.IsZero() {
			words += " (taken back " + s.Day(at) + ")"
		}
		said = append(said, words+".")
	}
	return web.Entry{At: x.At, By: x.By.Name, Text: "asked the patient. " + strings.Join(said, " ")}
}

// AnswerWords is an answer of a call in a line.
func AnswerWords(a store.CallAnswer, zone *time.Location) string {
	text := "At the episode of " + time.Unix(a.Asked, 0).In(zone).Format("2 Jan 2006 15:04") + ": "
	switch a.Felt {
	case store.FeltNo:
		return text + "felt nothing"
	case store.FeltUnsure:
		return text + "does not remember"
	}
	text += a.Words
	switch a.Relieved {
	case store.FeltYes:
		text += ", better after food"
	case store.FeltNo:
		text += ", not better after food"
	}
	return text
}

// EventWords is an event in a line.
func EventWords(e wear.Event, zone *time.Location) string {
	what := string(e.Kind)
	switch {
	case e.Kind == wear.Fingerstick:
		what += " " + wear.FormatHalfUp(e.Value.Native(), int(e.Value.Scale)) + " " + e.Value.Unit.String()
	case e.Label != "":
		what += ", " + e.Label
	}
	return what + ", " + time.Unix(e.At, 0).In(zone).Format("2 Jan 2006 15:04")
}

func (s *View) overrideEntry(o store.Override) web.Entry {
	word := "not to be believed"
	if o.Believe {
		word = "to be believed"
	}
	text := fmt.Sprintf("said that the readings from %s to %s are %s", s.Moment(o.From), s.Moment(o.To), word)
	if !o.Withdrawn.IsZero() {
		text += " (taken back " + s.Day(o.Withdrawn) + ")"
	}
	return web.Entry{At: o.At, By: o.By.Name, Text: because(text, o.Reason)}
}

func noteEntry(n store.Note) web.Entry {
	text := "wrote: "
	if n.Corrects != 0 {
		text = "wrote in place of an earlier note: "
	}
	return web.Entry{At: n.At, By: n.By.Name, Text: text + n.Text}
}

func letterEntries(l store.Letter) []web.Entry {
	if l.SentAt.IsZero() {
		return nil
	}
	return []web.Entry{{At: l.SentAt, By: l.SentBy.Name, Text: "sent a letter " + by(l.How) + ". " + letter.Kind(l.Kind).Title()}}
}

// RecallWords is a recall as what follows from an outcome.
func (s *View) RecallWords(r store.Recall) string {
	text := form.RecallWords[string(r.Kind)] + " by " + s.Day(r.DueAt)
	if !r.ClosedAt.IsZero() {
		text += ": " + string(r.State)
	}
	return text
}

func (s *View) recallEntries(r store.Recall) []web.Entry {
	out := []web.Entry{{At: r.MadeAt, By: r.By.Name, Text: "set a recall: " + form.RecallWords[string(r.Kind)] + " by " + s.Day(r.DueAt)}}
	if !r.ClosedAt.IsZero() {
		out = append(out, web.Entry{At: r.ClosedAt, By: r.ClosedBy.Name, Text: closedWords(r)})
	}
	return out
}

// closedWords says what closed a recall.
func closedWords(r store.Recall) string {
	switch {
	case r.State == store.RecallCancelled:
		return because("cancelled the recall for "+form.RecallWords[string(r.Kind)], r.Reason)
	case r.ResultID != 0:
		return "closed the recall: the result has come"
	case r.NewWearID != 0:
		return "closed the recall: another wear was filed"
	}
	return because("closed the recall for "+form.RecallWords[string(r.Kind)], r.Reason)
}

func (s *View) resultEntry(r store.Result) web.Entry {
	text := fmt.Sprintf("entered a result: %s %s %s, taken %s", form.TestWords[string(r.Kind)], r.Value, r.Unit, s.Day(r.TakenAt))
	if w := classWords[wear.Class(r.Class)]; w != "" {
		text += "; " + w
	}
	if !r.Withdrawn.IsZero() {
		text += " (taken back " + s.Day(r.Withdrawn) + ")"
	}
	return web.Entry{At: r.At, By: r.By.Name, Text: because(text, r.Note)}
}

// told are the lines of the log that say something the rows above do
// not, in words.
var told = map[string]string{
	"claim a wear": "claimed the wear", "take a wear over": "took the wear over", "release a wear": "gave the wear back",
	"reopen a wear": "put the wear back on the round", "make a report anew": "the place was worked out anew", "set the zone of a wear": "set the zone of the wearer’s clock",
	string(store.ComesBack): "more is known than was decided on, so the wear is on the round again", string(store.CorrectsFirstTier): "put the first place right",
	"edit a patient": "changed the entry", "merge two patients": "joined two entries", "undo a merge": "took the joining of two entries apart",
}

func logEntries(rows []store.LogRow) []web.Entry {
	var out []web.Entry
	for _, r := range rows {
		words := told[r.Action]
		if words == "" || r.Ended != "done" || r.Action == "make a report anew" && r.Reason == "" {
			continue
		}
		out = append(out, web.Entry{At: r.At, By: r.Actor.Name, Text: because(words, tierChange(r.Reason))})
	}
	return out
}

// tierChange puts "this_month to today", as the log has it, in words.
func tierChange(reason string) string {
	before, after, ok := strings.Cut(reason, " to ")
	a, b := wear.Tier(before), wear.Tier(after)
	if !ok || max(a.Rank(), b.Rank()) == len(wear.Tiers()) {
		return reason
	}
	return cmp.Or(a.Words(), before) + " before, " + b.Words() + " now"
}

// OutcomeWords is an outcome as its button says it.
func OutcomeWords(kind store.OutcomeKind) string {
	rule, ok := store.RuleOf(kind)
	if !ok {
		return string(kind)
	}
	return rule.Words
}
